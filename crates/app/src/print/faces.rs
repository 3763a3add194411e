//! The typefaces of a print, and letters turned into glyphs with them.
//!
//! The faces are DejaVu's condensed ones, as the crate `dejavu` carries them: Latin, Greek, Cyrillic, Arabic, Hebrew
//! and the signs of arithmetic, but no Chinese, Japanese or Korean. A letter that no face has is set as □ and keeps
//! its place in the text of the file, so that nothing vanishes unseen.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Range;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::{Direction, UnicodeBuffer};

/// What stands for a letter that no face has.
pub(super) const STAND_IN: char = '□';

/// A typeface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Face {
    /// Running text and figures.
    Text,
    /// What has to stand out.
    Strong,
    /// Names at the head of a sheet or a part of it.
    Title,
}

/// Letters of one face as they stand beside each other, from the left. Widths are shares of the type size.
#[derive(Clone, Debug)]
pub(super) struct Glyphs {
    pub(super) face: Face,
    pub(super) text: String,
    pub(super) glyphs: Vec<KrillaGlyph>,
    pub(super) width: f32,
}

/// All faces, ready to set type with.
pub(super) struct Faces {
    faces: [Loaded; 3],
    widths: RefCell<BTreeMap<(Face, String), f32>>,
}

struct Loaded {
    shaper: rustybuzz::Face<'static>,
    font: Font,
}

impl Faces {
    /// Reads the faces, which are a part of the program.
    pub(super) fn load() -> Faces {
        let load = |bytes: &'static [u8]| {
            let shaper = rustybuzz::Face::from_slice(bytes, 0);
            let font = Font::new(bytes.into(), 0);
            shaper.zip(font).map(|(shaper, font)| Loaded { shaper, font })
        };
        let bytes = [
            dejavu::sans_condensed::regular(),
            dejavu::sans_condensed::bold(),
            dejavu::serif_condensed::bold(),
        ];
        #[expect(clippy::expect_used, reason = "constants of the program, which every test reads")]
        let faces = bytes.map(|face| load(face).expect("the faces in the program can be read"));
        Faces { faces, widths: RefCell::default() }
    }

    /// The face as the file takes it.
    pub(super) fn font(&self, face: Face) -> Font {
        self.loaded(face).font.clone()
    }

    /// How wide text is, as a share of the type size.
    pub(super) fn width(&self, face: Face, text: &str) -> f32 {
        let key = (face, text.to_owned());
        if let Some(width) = self.widths.borrow().get(&key) {
            return *width;
        }
        let width = self.shape(face, text, false).iter().map(|part| part.width).sum();
        self.widths.borrow_mut().insert(key, width);
        width
    }

    /// The glyphs of text that runs in one direction, in parts of one face each, from the left.
    pub(super) fn shape(&self, face: Face, text: &str, from_right: bool) -> Vec<Glyphs> {
        let mut parts: Vec<Glyphs> = self
            .by_face(face, text)
            .into_iter()
            .map(|(found, range)| match found {
                Some(face) => self.shape_in(face, &text[range], from_right),
                None => self.stand_in(&text[range]),
            })
            .collect();
        if from_right {
            parts.reverse();
        }
        parts
    }

    /// Whether some face has every letter of the text.
    pub(super) fn has_all(&self, text: &str) -> bool {
        text.chars().all(|letter| self.face_with(Face::Text, letter).is_some())
    }

    fn loaded(&self, face: Face) -> &Loaded {
        match face {
            Face::Text => &self.faces[0],
            Face::Strong => &self.faces[1],
            Face::Title => &self.faces[2],
        }
    }

    /// The face that is asked for if it has the letter, or else one that has.
    fn face_with(&self, face: Face, letter: char) -> Option<Face> {
        let instead = if face == Face::Text { Face::Text } else { Face::Strong };
        let has = |face: &Face| self.loaded(*face).shaper.glyph_index(letter).is_some();
        [face, instead, Face::Text].into_iter().find(has)
    }

    fn by_face(&self, face: Face, text: &str) -> Vec<(Option<Face>, Range<usize>)> {
        let mut parts: Vec<(Option<Face>, Range<usize>)> = Vec::new();
        for (start, letter) in text.char_indices() {
            let (found, end) = (self.face_with(face, letter), start + letter.len_utf8());
            match parts.last_mut() {
                Some((last, range)) if *last == found => range.end = end,
                _ => parts.push((found, start..end)),
            }
        }
        parts
    }

    fn shape_in(&self, face: Face, text: &str, from_right: bool) -> Glyphs {
        let shaper = &self.loaded(face).shaper;
        let per_em = shaper.units_per_em() as f32;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        let direction = if from_right { Direction::RightToLeft } else { Direction::LeftToRight };
        buffer.set_direction(direction);
        let shaped = rustybuzz::shape(shaper, &[], buffer);
        let mut starts: Vec<usize> =
            shaped.glyph_infos().iter().map(|info| info.cluster as usize).collect();
        starts.sort_unstable();
        let mut width = 0.0;
        let glyphs =
            shaped.glyph_infos().iter().zip(shaped.glyph_positions()).map(|(info, place)| {
                let start = info.cluster as usize;
                let end = starts.iter().copied().find(|next| *next > start).unwrap_or(text.len());
                let advance = place.x_advance as f32 / per_em;
                width += advance;
                let (x, y) = (place.x_offset as f32 / per_em, place.y_offset as f32 / per_em);
                KrillaGlyph::new(GlyphId::new(info.glyph_id), advance, x, y, 0.0, start..end, None)
            });
        let glyphs = glyphs.collect();
        Glyphs { face, text: text.to_owned(), glyphs, width }
    }

    /// Stand-ins for letters that no face has; what they stand for is the text of the file.
    fn stand_in(&self, text: &str) -> Glyphs {
        let one = self.shape_in(Face::Text, &STAND_IN.to_string(), false);
        let advance = one.width;
        let id = one.glyphs.first().map_or(GlyphId::new(0), |glyph| glyph.glyph_id);
        let glyphs: Vec<KrillaGlyph> = text
            .char_indices()
            .map(|(start, letter)| {
                let range = start..start + letter.len_utf8();
                KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, range, None)
            })
            .collect();
        let width = advance * glyphs.len() as f32;
        Glyphs { face: Face::Text, text: text.to_owned(), glyphs, width }
    }
}
