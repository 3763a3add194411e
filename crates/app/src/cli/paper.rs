//! Text laid out for a terminal of 80 columns: paragraphs, lists and tables.
//!
//! Widths are counted in characters: names with wide or combining characters may stand off by a
//! column, which costs nothing but looks.

use std::fmt::Write;

/// How wide text may be.
pub(crate) const WIDTH: usize = 80;

/// A page of text in the making.
#[derive(Debug, Default)]
pub(crate) struct Paper {
    text: String,
}

/// How a column of a table is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Column {
    /// Words, set to the left.
    Left,
    /// Numbers, set to the right.
    Right,
}

impl Paper {
    /// A line as it is.
    pub(crate) fn line(&mut self, text: &str) -> &mut Paper {
        self.text.push_str(text.trim_end());
        self.text.push('\n');
        self
    }

    /// An empty line, unless there is one already.
    pub(crate) fn gap(&mut self) -> &mut Paper {
        if !self.text.is_empty() && !self.text.ends_with("\n\n") {
            self.text.push('\n');
        }
        self
    }

    /// A paragraph, broken at spaces; lines of the text stay lines.
    pub(crate) fn paragraph(&mut self, text: &str) -> &mut Paper {
        self.indented("", "", text)
    }

    /// A paragraph with `first` before its first line and as many spaces before the others.
    pub(crate) fn item(&mut self, first: &str, text: &str) -> &mut Paper {
        let rest = " ".repeat(first.chars().count());
        self.indented(first, &rest, text)
    }

    /// A table with two spaces between columns, `margin` spaces before it.
    pub(crate) fn table(
        &mut self,
        margin: usize,
        columns: &[Column],
        rows: &[Vec<String>],
    ) -> &mut Paper {
        let width_of = |idx: usize| {
            rows.iter().filter_map(|row| row.get(idx)).map(|c| c.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..columns.len()).map(width_of).collect();
        for row in rows {
            let mut line = " ".repeat(margin);
            for (idx, cell) in row.iter().enumerate() {
                let (width, gap) = (widths[idx], if idx == 0 { "" } else { "  " });
                // Writing to a string doesn't fail.
                let _ = match columns[idx] {
                    Column::Left => write!(line, "{gap}{cell:<width$}"),
                    Column::Right => write!(line, "{gap}{cell:>width$}"),
                };
            }
            self.line(&line);
        }
        self
    }

    /// The text.
    pub(crate) fn finish(self) -> String {
        self.text
    }

    fn indented(&mut self, first: &str, rest: &str, text: &str) -> &mut Paper {
        let mut margin = first;
        for paragraph in text.lines() {
            let mut line = margin.to_owned();
            let mut is_empty = true;
            for word in paragraph.split(' ').filter(|word| !word.is_empty()) {
                let fits = line.chars().count() + 1 + word.chars().count() <= WIDTH;
                if !is_empty && !fits {
                    self.line(&line);
                    line = rest.to_owned();
                    is_empty = true;
                }
                if !is_empty {
                    line.push(' ');
                }
                line.push_str(word);
                is_empty = false;
            }
            self.line(&line);
            margin = rest;
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_paragraphs_are_broken_and_hang() {
        let mut paper = Paper::default();
        paper.item("- ", &"word ".repeat(30));
        let text = paper.finish();
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
        assert!(text.starts_with("- word") && text.lines().nth(1).unwrap().starts_with("  word"));
    }

    #[test]
    fn columns_line_up() {
        let mut paper = Paper::default();
        let rows =
            [vec!["a".to_owned(), "1.5".to_owned()], vec!["long".to_owned(), "10".to_owned()]];
        paper.table(2, &[Column::Left, Column::Right], &rows);
        assert_eq!(paper.finish(), "  a     1.5\n  long   10\n");
    }
}
