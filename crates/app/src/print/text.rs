//! Text broken into lines of a given width.
//!
//! Lines break at spaces, or inside a word that is wider than a line; a number and its unit stay
//! together. What runs
//! from the right is set so (Unicode's bidirectional algorithm, UAX #9). Hyphenates nothing and justifies nothing.

use std::ops::Range;

use unicode_bidi::{Level, ParagraphBidiInfo};

use super::faces::{Face, Faces, Glyphs};

/// How dark text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tone {
    /// Black.
    Plain,
    /// What may stand back: a dark grey.
    Soft,
    /// What is written over: a middle grey.
    Faint,
}

/// How text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Style {
    pub(super) face: Face,
    /// The type size in points.
    pub(super) size: f32,
    pub(super) tone: Tone,
}

impl Style {
    pub(super) fn new(face: Face, size: f32) -> Style {
        Style { face, size, tone: Tone::Plain }
    }

    pub(super) fn soft(self) -> Style {
        Style { tone: Tone::Soft, ..self }
    }

    pub(super) fn strong(self) -> Style {
        Style { face: Face::Strong, ..self }
    }
}

/// One line of text. Its letters are shaped only where it is drawn, since most layouts are tried and dropped.
#[derive(Clone, Debug)]
pub(super) struct Line {
    words: Words,
    pub(super) width: f32,
}

impl Line {
    /// The letters of the line, as they stand from the left.
    pub(super) fn runs(&self, faces: &Faces) -> Vec<Run> {
        let (mut runs, mut x) = (Vec::new(), 0.0);
        for (part, from_right) in self.words.visual() {
            let mut styled: Vec<(Range<usize>, Style)> = self.words.styled(part).collect();
            if from_right {
                styled.reverse();
            }
            for (part, style) in styled {
                for glyphs in faces.shape(style.face, &self.words.text[part], from_right) {
                    let width = glyphs.width * style.size;
                    runs.push(Run { x, style, glyphs });
                    x += width;
                }
            }
        }
        runs
    }
}

/// A part of a line in one style, at its place from the line's left end.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub(super) x: f32,
    pub(super) style: Style,
    pub(super) glyphs: Glyphs,
}

/// Text in one or several styles, to be broken into lines.
#[derive(Clone, Debug, Default)]
pub(super) struct Words {
    text: String,
    styles: Vec<(usize, Style)>,
}

impl Words {
    /// Text in one style.
    pub(super) fn new(text: &str, style: Style) -> Words {
        Words::default().and(text, style)
    }

    /// Adds text in another style.
    pub(super) fn and(mut self, text: &str, style: Style) -> Words {
        let mut tidy: String = text
            .chars()
            .filter(|letter| !is_unseen(*letter))
            .map(|letter| if letter.is_control() { ' ' } else { letter })
            .collect();
        for held in ["kg", "lb", "%"] {
            tidy = tidy.replace(&format!(" {held}"), &format!("\u{a0}{held}"));
        }
        self.text.push_str(&tidy);
        self.styles.push((self.text.len(), style));
        self
    }

    /// How wide the text is on one line.
    pub(super) fn width(&self, faces: &Faces) -> f32 {
        self.measure(faces, 0..self.text.len())
    }

    /// Breaks the text into lines no wider than `width`, at most `most` of them. The second part says whether
    /// something was left out, which the last line then shows by `…`.
    pub(super) fn lines(&self, faces: &Faces, width: f32, most: usize) -> (Vec<Line>, bool) {
        let ranges = self.break_up(faces, width);
        let is_cut = ranges.len() > most;
        let whole = if is_cut { most.saturating_sub(1) } else { ranges.len() };
        let line = |(range, width): &(Range<usize>, f32)| Line {
            words: self.part(range.clone()),
            width: *width,
        };
        let mut lines: Vec<Line> = ranges[..whole].iter().map(line).collect();
        if is_cut && most > 0 {
            lines.push(self.cut_line(faces, ranges[whole].0.start, width));
        }
        (lines, is_cut)
    }

    /// The line from `start` that ends in `…` where the width does.
    fn cut_line(&self, faces: &Faces, start: usize, width: f32) -> Line {
        let rest = &self.text[start..];
        let stops = rest.char_indices().map(|(at, _)| start + at);
        let words_end = stops.clone().filter(|at| self.text[*at..].starts_with(' ')).rev();
        let ends: Vec<usize> = words_end.chain(stops.rev()).collect();
        let cut = |end: usize| {
            let mut words = self.part(start..end);
            let style = self.style_at(end.saturating_sub(1));
            words = words.and("\u{a0}…", style);
            words
        };
        let found = ends.into_iter().map(cut).find(|words| words.width(faces) <= width);
        let words = found.unwrap_or_else(|| Words::new("…", self.style_at(start)));
        Line { width: words.width(faces), words }
    }

    fn part(&self, range: Range<usize>) -> Words {
        self.styled(range)
            .fold(Words::default(), |words, (range, style)| words.and(&self.text[range], style))
    }

    fn style_at(&self, place: usize) -> Style {
        let found = self.styles.iter().find(|(end, _)| place < *end).or(self.styles.last());
        found.map_or(Style::new(Face::Text, 8.0), |(_, style)| *style)
    }

    /// The parts of a range that are in one style.
    fn styled(&self, range: Range<usize>) -> impl Iterator<Item = (Range<usize>, Style)> {
        let mut start = 0;
        self.styles.iter().filter_map(move |(end, style)| {
            let part = start.max(range.start)..(*end).min(range.end);
            start = *end;
            (!part.is_empty()).then_some((part, *style))
        })
    }

    fn measure(&self, faces: &Faces, range: Range<usize>) -> f32 {
        let width = |(part, style): (Range<usize>, Style)| {
            faces.width(style.face, &self.text[part]) * style.size
        };
        self.styled(range).map(width).sum()
    }

    /// The range and the width of each line, without the space at which it breaks.
    fn break_up(&self, faces: &Faces, width: f32) -> Vec<(Range<usize>, f32)> {
        let mut lines: Vec<(Range<usize>, f32)> = Vec::new();
        let (mut line, mut filled) = (0..0, 0.0);
        let mut at = 0;
        for word in self.text.split_inclusive(' ') {
            let bare = word.trim_end_matches(' ');
            let (start, end) = (at, at + bare.len());
            at += word.len();
            let wide = self.measure(faces, start..end);
            let space = if line.is_empty() { 0.0 } else { self.measure(faces, line.end..start) };
            if !line.is_empty() && filled + space + wide > width {
                lines.push((std::mem::replace(&mut line, start..start), filled));
                filled = 0.0;
            } else {
                filled += space;
            }
            if line.is_empty() {
                line.start = start;
            }
            (line, filled) = if wide > width {
                self.break_word(faces, line.start..end, width, &mut lines)
            } else {
                (line.start..end, filled + wide)
            };
        }
        if !line.is_empty() {
            lines.push((line, filled));
        }
        lines
    }

    /// Breaks a word that is wider than a line; gives back the line that its end begins.
    fn break_word(
        &self,
        faces: &Faces,
        word: Range<usize>,
        width: f32,
        lines: &mut Vec<(Range<usize>, f32)>,
    ) -> (Range<usize>, f32) {
        let (mut start, mut filled) = (word.start, 0.0);
        for (at, letter) in self.text[word.clone()].char_indices() {
            let place = word.start + at;
            let wide = self.measure(faces, place..place + letter.len_utf8());
            if filled + wide > width && place > start {
                lines.push((start..place, filled));
                (start, filled) = (place, 0.0);
            }
            filled += wide;
        }
        (start..word.end, filled)
    }

    /// The parts that run in one direction, as they stand on one line from the left.
    fn visual(&self) -> Vec<(Range<usize>, bool)> {
        let bidi = ParagraphBidiInfo::new(&self.text, Some(Level::ltr()));
        if !bidi.has_rtl() {
            return vec![(0..self.text.len(), false)];
        }
        let (levels, runs) = bidi.visual_runs(0..self.text.len());
        runs.into_iter().map(|run| (run.clone(), levels[run.start].is_rtl())).collect()
    }
}

/// Selectors of a letter's form, which no face here has, and marks that no line of ours needs.
fn is_unseen(letter: char) -> bool {
    matches!(letter, '\u{ad}' | '\u{200b}' | '\u{2060}' | '\u{feff}' | '\u{fe00}'..='\u{fe0f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(text: &str, width: f32, most: usize) -> (Vec<String>, bool) {
        let faces = Faces::load();
        let words = Words::new(text, Style::new(Face::Text, 10.0));
        let (lines, is_cut) = words.lines(&faces, width, most);
        for line in &lines {
            assert!(line.width <= width + 0.01, "{} of {width}", line.width);
        }
        for line in &lines {
            let drawn = line.runs(&faces).iter().map(|run| run.glyphs.width * 10.0).sum::<f32>();
            assert!(drawn < line.width + 0.5, "drawn {drawn}, measured {}", line.width);
        }
        (lines.into_iter().map(|line| line.words.text).collect(), is_cut)
    }

    #[test]
    fn lines_break_at_spaces_and_lose_no_word() {
        let text = "the 3 remaining sets as planned: this is ordinary scatter";
        let (lines, is_cut) = set(text, 80.0, 99);
        assert!(!is_cut && lines.len() > 3, "{lines:?}");
        assert_eq!(lines.join(" "), text);
        assert_eq!(set("", 80.0, 99).0.len(), 0);
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        let (lines, _) = set("with 112.5 kg", 56.0, 99);
        assert_eq!(lines, ["with", "112.5\u{a0}kg"]);
    }

    #[test]
    fn a_word_wider_than_the_line_is_broken() {
        let name = "Wolfeschlegelsteinhausenbergerdorff";
        let (lines, _) = set(&format!("of {name} now"), 60.0, 99);
        assert!(lines.len() > 3, "{lines:?}");
        assert_eq!(lines.concat().replace(' ', ""), format!("of{name}now"));
    }

    #[test]
    fn what_is_cut_ends_in_a_mark() {
        let (lines, is_cut) = set("one two three four five six seven eight", 60.0, 2);
        assert!(is_cut && lines.len() == 2, "{lines:?}");
        assert!(lines[1].ends_with("\u{a0}…"), "{lines:?}");
        let (lines, is_cut) = set("Donaudampfschifffahrtsgesellschaft", 60.0, 1);
        assert!(is_cut && lines.len() == 1 && lines[0].ends_with('…'), "{lines:?}");
    }

    #[test]
    fn what_runs_from_the_right_is_set_so() {
        let faces = Faces::load();
        let words = Words::new("squat שלום", Style::new(Face::Text, 10.0));
        let (lines, _) = words.lines(&faces, 500.0, 9);
        let runs = lines[0].runs(&faces);
        let last = runs.last().unwrap();
        let clusters: Vec<usize> =
            last.glyphs.glyphs.iter().map(|glyph| glyph.text_range.start).collect();
        assert_eq!(last.glyphs.text, "שלום");
        assert!(clusters.windows(2).all(|pair| pair[0] > pair[1]), "{clusters:?}");
    }

    #[test]
    fn letters_that_no_face_has_keep_their_place() {
        let faces = Faces::load();
        assert!(faces.has_all("Żółć Ωμέγα Щука − × ½ … 12\u{202f}045 שלום مرحبا"));
        assert!(!faces.has_all("李小龙"));
        let (lines, _) = Words::new("李 ok", Style::new(Face::Title, 10.0)).lines(&faces, 99.0, 9);
        let runs = lines[0].runs(&faces);
        let first = &runs[0].glyphs;
        assert_eq!((first.text.as_str(), first.glyphs.len()), ("李", 1));
        assert!(first.width > 0.3 && first.glyphs[0].glyph_id.to_u32() > 0);
    }
}
