//! A Rust file with its code, comments and strings apart.
//!
//! Each of the three keeps the lines of the file, with spaces where the others stand, so that a word
//! can be looked for in one of them and the line number holds. Knows comments (nested ones too),
//! strings, raw strings and characters; nothing else of the language.

/// The three texts of a Rust file.
#[derive(Clone, Debug)]
pub(crate) struct RustText {
    /// What the compiler acts on; strings are left as empty quotes.
    pub(crate) code: String,
    /// Comments and documentation, with their slashes.
    pub(crate) comments: String,
    /// What stands between quotes.
    pub(crate) strings: String,
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Code,
    Comment,
    Text,
}

impl RustText {
    /// Takes a file apart.
    pub(crate) fn of(source: &str) -> RustText {
        let chars: Vec<char> = source.chars().collect();
        let kinds = kinds_of(&chars);
        let only = |wanted: Kind| -> String {
            let kept = |(c, kind): (&char, &Kind)| match *c {
                '\n' => '\n',
                c if *kind == wanted => c,
                _ => ' ',
            };
            chars.iter().zip(&kinds).map(kept).collect()
        };
        RustText {
            code: only(Kind::Code),
            comments: only(Kind::Comment),
            strings: only(Kind::Text),
        }
    }

    /// Takes a file apart and leaves out what is compiled for tests only (`#[cfg(test)]`).
    pub(crate) fn without_tests(source: &str) -> RustText {
        let whole = RustText::of(source);
        let spans = test_spans(&whole.code);
        let blank = |text: &str| -> String {
            let inside = |idx: usize| spans.iter().any(|(from, to)| (*from..*to).contains(&idx));
            let keep = |(idx, c): (usize, char)| if c != '\n' && inside(idx) { ' ' } else { c };
            text.chars().enumerate().map(keep).collect()
        };
        RustText {
            code: blank(&whole.code),
            comments: blank(&whole.comments),
            strings: blank(&whole.strings),
        }
    }
}

/// Where `#[cfg(test)]` items stand, as ranges of character positions.
fn test_spans(code: &str) -> Vec<(usize, usize)> {
    let chars: Vec<char> = code.chars().collect();
    let mark: Vec<char> = "#[cfg(test)]".chars().collect();
    let mut spans: Vec<(usize, usize)> = Vec::new();
    let mut at = 0;
    while at + mark.len() <= chars.len() {
        if chars[at..at + mark.len()] == mark[..] {
            let end = end_of_item(&chars, at + mark.len());
            spans.push((at, end));
            at = end;
        } else {
            at += 1;
        }
    }
    spans
}

/// The end of an item: its first `;` outside brackets, or the brace that closes its first brace.
fn end_of_item(chars: &[char], from: usize) -> usize {
    let (mut braces, mut others) = (0_usize, 0_usize);
    for (idx, c) in chars.iter().enumerate().skip(from) {
        match c {
            '(' | '[' => others += 1,
            ')' | ']' => others = others.saturating_sub(1),
            '{' => braces += 1,
            '}' => {
                braces = braces.saturating_sub(1);
                if braces == 0 {
                    return idx + 1;
                }
            }
            ';' if braces == 0 && others == 0 => return idx + 1,
            _ => {}
        }
    }
    chars.len()
}

fn kinds_of(chars: &[char]) -> Vec<Kind> {
    let mut kinds = vec![Kind::Code; chars.len()];
    let mut at = 0;
    while at < chars.len() {
        let next = chars.get(at + 1).copied();
        let (kind, from, to, resume) = match chars[at] {
            '/' if next == Some('/') => {
                let end = line_end(chars, at);
                (Kind::Comment, at, end, end)
            }
            '/' if next == Some('*') => {
                let end = block_end(chars, at);
                (Kind::Comment, at, end, end)
            }
            '"' => {
                let end = string_end(chars, at + 1);
                (Kind::Text, at + 1, end, end + 1)
            }
            'r' if starts_word(chars, at) && raw_hashes(chars, at).is_some() => {
                let hashes = raw_hashes(chars, at).unwrap_or(0);
                let end = raw_end(chars, at + 2 + hashes, hashes);
                (Kind::Text, at + 2 + hashes, end, end + 1 + hashes)
            }
            '\'' => {
                let end = char_end(chars, at);
                (Kind::Text, at + 1, end.saturating_sub(1).max(at + 1), end)
            }
            _ => (Kind::Code, at, at, at + 1),
        };
        if from < to {
            kinds[from..to].fill(kind);
        }
        at = resume;
    }
    kinds
}

fn line_end(chars: &[char], at: usize) -> usize {
    (at..chars.len()).find(|idx| chars[*idx] == '\n').unwrap_or(chars.len())
}

fn block_end(chars: &[char], at: usize) -> usize {
    let mut depth = 0;
    let mut idx = at;
    while idx + 1 < chars.len() {
        match (chars[idx], chars[idx + 1]) {
            ('/', '*') => {
                depth += 1;
                idx += 2;
            }
            ('*', '/') => {
                depth -= 1;
                idx += 2;
                if depth == 0 {
                    return idx;
                }
            }
            _ => idx += 1,
        }
    }
    chars.len()
}

/// The closing quote of a string that may hold escapes.
fn string_end(chars: &[char], from: usize) -> usize {
    let mut idx = from;
    while idx < chars.len() {
        match chars[idx] {
            '\\' => idx += 2,
            '"' => return idx,
            _ => idx += 1,
        }
    }
    chars.len()
}

/// Whether a word may start here: the `r` of a raw string does, also after the `b` or `c` before it.
fn starts_word(chars: &[char], at: usize) -> bool {
    let in_word = |idx: usize| chars[idx].is_alphanumeric() || chars[idx] == '_';
    match at.checked_sub(1) {
        Some(before) if matches!(chars[before], 'b' | 'c') => {
            before.checked_sub(1).is_none_or(|idx| !in_word(idx))
        }
        Some(before) => !in_word(before),
        None => true,
    }
}

/// The number of `#` between an `r` and its quote; none if this is no raw string.
fn raw_hashes(chars: &[char], at: usize) -> Option<usize> {
    let hashes = chars[at + 1..].iter().take_while(|c| **c == '#').count();
    (chars.get(at + 1 + hashes) == Some(&'"')).then_some(hashes)
}

fn raw_end(chars: &[char], from: usize, hashes: usize) -> usize {
    let closes = |idx: &usize| {
        chars[*idx] == '"'
            && chars[*idx + 1..].iter().take(hashes).filter(|c| **c == '#').count() == hashes
    };
    (from..chars.len()).find(closes).unwrap_or(chars.len())
}

/// Past a character literal; past the quote alone if it is a lifetime's.
fn char_end(chars: &[char], at: usize) -> usize {
    match (chars.get(at + 1), chars.get(at + 2)) {
        (Some('\\'), _) => {
            let close = (at + 3..chars.len()).find(|idx| chars[*idx] == '\'');
            close.map_or(chars.len(), |idx| idx + 1)
        }
        (Some(_), Some('\'')) => at + 3,
        _ => at + 1,
    }
}
