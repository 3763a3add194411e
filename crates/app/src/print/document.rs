//! Sheets written as tagged PDF: PDF/UA-1 (ISO 14289-1) as far as krilla checks it.
//!
//! The order of parts is the order of reading, in the file as in its tags. There is no date in the file.

use std::num::NonZeroU16;

use krilla::color::luma;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, ListNumbering, Node, SpanTag, TableHeaderScope, Tag,
    TagGroup, TagKind, TagTree,
};
use krilla::{Document, SerializeSettings};
use thiserror::Error;

use super::Paper;
use super::block::{Part, Role};
use super::faces::Faces;
use super::text::{Line, Tone};

/// The language of everything that is printed.
const LANGUAGE: &str = "en";
/// The grey of what stands back, of 255: dark enough for any printer.
const SOFT: u8 = 70;
/// The grey of boxes' labels and fine rules inside a table.
const FINE: u8 = 130;

/// A print that couldn't be made: a fault of the program, never of the data.
#[derive(Debug, Error)]
#[error("the print couldn't be made: {0}")]
pub struct PrintError(String);

/// The parts of each sheet, in order, with the places of what a reader may jump to.
pub(super) struct Sheet {
    pub(super) parts: Vec<Part>,
    /// Headings with the place of each, from the top.
    pub(super) headings: Vec<(String, f32)>,
}

/// Writes sheets as a file.
pub(super) fn write(
    faces: &Faces,
    title: &str,
    paper: Paper,
    sheets: &[Sheet],
) -> Result<Vec<u8>, PrintError> {
    let checked = ConfigurationBuilder::new().with_accessibility_validator(Accessibility::UA1);
    let configuration = checked.finish().map_err(|error| PrintError(format!("{error:?}")))?;
    let settings = SerializeSettings { configuration, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let (width, height) = paper.size();
    let mut tags = TagTree::new().with_lang(Some(LANGUAGE.to_owned()));
    let mut outline = Outline::new();
    for (idx, sheet) in sheets.iter().enumerate() {
        for (heading, y) in &sheet.headings {
            let place = XyzDestination::new(idx, Point::from_xy(0.0, *y));
            outline.push_child(OutlineNode::new(heading.clone(), place));
        }
        let size = PageSettings::from_wh(width, height);
        let mut page = document.start_page_with(size.unwrap_or_default());
        let mut painter = Painter { faces, surface: page.surface() };
        for part in &sheet.parts {
            painter.part(part).into_iter().for_each(|node| tags.push(node));
        }
    }
    document.set_outline(outline);
    document.set_tag_tree(tags);
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .language(LANGUAGE.to_owned())
            .creator("Bellwether".to_owned()),
    );
    document.finish().map_err(|error| PrintError(format!("{error:?}")))
}

struct Painter<'a, 'b> {
    faces: &'a Faces,
    surface: Surface<'b>,
}

impl Painter<'_, '_> {
    /// Draws a part and gives back what it is to a reader; nothing for what isn't read.
    fn part(&mut self, part: &Part) -> Option<Node> {
        match part {
            Part::Group(Role::Decoration, parts) => {
                let artifact = Artifact::with_kind(ArtifactType::Layout);
                self.surface.start_tagged(ContentTag::Artifact(artifact));
                parts.iter().for_each(|part| self.draw(part));
                self.surface.end_tagged();
                None
            }
            Part::Group(role, parts) => {
                let children: Vec<Node> = parts.iter().filter_map(|part| self.part(part)).collect();
                Some(TagGroup::with_children(tag(role), children).into())
            }
            Part::Text { .. } | Part::Rule { .. } | Part::Frame { .. } => {
                let identifier = self.surface.start_tagged(ContentTag::Span(SpanTag::empty()));
                self.draw(part);
                self.surface.end_tagged();
                Some(identifier.into())
            }
        }
    }

    fn draw(&mut self, part: &Part) {
        match part {
            Part::Group(_, parts) => parts.iter().for_each(|part| self.draw(part)),
            Part::Text { x, y, line } => self.line(*x, *y, line),
            Part::Rule { x, y, width, weight } => {
                let tone = if *weight < 0.5 { FINE } else { 0 };
                let mut path = PathBuilder::new();
                path.move_to(*x, *y);
                path.line_to(x + width, *y);
                self.stroke(path, *weight, tone);
            }
            Part::Frame { x, y, width, height } => {
                if let Some(edge) = Rect::from_xywh(*x, *y, *width, *height) {
                    let mut path = PathBuilder::new();
                    path.push_rect(edge);
                    self.stroke(path, 0.5, 0);
                }
            }
        }
    }

    fn stroke(&mut self, path: PathBuilder, width: f32, tone: u8) {
        let Some(path) = path.finish() else { return };
        let paint = luma::Color::new(tone).into();
        self.surface.set_fill(None);
        self.surface.set_stroke(Some(Stroke { paint, width, ..Stroke::default() }));
        self.surface.draw_path(&path);
        self.surface.set_stroke(None);
    }

    fn line(&mut self, x: f32, y: f32, line: &Line) {
        for run in line.runs(self.faces) {
            let tone = match run.style.tone {
                Tone::Plain => 0,
                Tone::Soft => SOFT,
                Tone::Faint => FINE,
            };
            self.surface.set_fill(Some(Fill {
                paint: luma::Color::new(tone).into(),
                opacity: NormalizedF32::ONE,
                ..Fill::default()
            }));
            let (font, glyphs) = (self.faces.font(run.glyphs.face), &run.glyphs);
            let start = Point::from_xy(x + run.x, y);
            self.surface.draw_glyphs(
                start,
                &glyphs.glyphs,
                font,
                &glyphs.text,
                run.style.size,
                false,
            );
        }
    }
}

fn tag(role: &Role) -> TagKind {
    match role {
        Role::Section => Tag::Section.into(),
        Role::Heading { level, title } => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            Tag::Hn(level, Some(title.clone())).into()
        }
        Role::Paragraph => Tag::P.into(),
        Role::List => Tag::L(ListNumbering::None).into(),
        Role::Item => Tag::LI.into(),
        Role::Body => Tag::LBody.into(),
        Role::Table => Tag::Table.into(),
        Role::Row => Tag::TR.into(),
        Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
        Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
        Role::Cell | Role::Decoration => Tag::TD.into(),
    }
}
