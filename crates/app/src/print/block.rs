//! Blocks: paragraphs, lists and tables set to a width, with what each part is to a reader.
//!
//! A block knows its height and holds its parts at places counted from its own top left corner, in the order in
//! which they are read.

use super::faces::Faces;
use super::text::{Line, Words};

/// No limit to the lines of a paragraph.
pub(super) const ALL_LINES: usize = usize::MAX;

/// What a group of parts is to somebody who hears the sheet read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Section,
    Heading {
        level: u16,
        title: String,
    },
    Paragraph,
    List,
    Item,
    Body,
    Table,
    Row,
    ColumnHead,
    RowHead,
    Cell,
    /// Seen and not read: rules, boxes to write in, what a further sheet repeats.
    Decoration,
}

/// Something on a sheet.
#[derive(Clone, Debug)]
pub(super) enum Part {
    Group(Role, Vec<Part>),
    /// A line of text; `y` is its base line.
    Text {
        x: f32,
        y: f32,
        line: Line,
    },
    /// A fine horizontal rule.
    Rule {
        x: f32,
        y: f32,
        width: f32,
        weight: f32,
    },
    /// A box to write in.
    Frame {
        x: f32,
        y: f32,
        width: f32,
        height: f32,
    },
}

/// Parts that belong together, and how high they are.
#[derive(Clone, Debug, Default)]
pub(super) struct Block {
    pub(super) height: f32,
    pub(super) parts: Vec<Part>,
    /// Whether text was left out.
    pub(super) is_cut: bool,
}

/// How the lines of a paragraph are set.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting {
    /// From one base line to the next.
    pub(super) leading: f32,
    /// The most lines; what is over is left out with a mark.
    pub(super) most: usize,
}

/// Where text stands between the edges of its width.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Right,
}

/// A cell of a table.
pub(super) struct Cell {
    pub(super) role: Role,
    pub(super) words: Words,
}

/// How the columns of a table are set: all but the last as wide as their widest cell.
pub(super) struct Columns<'a> {
    pub(super) sides: &'a [Side],
    /// Between columns.
    pub(super) gap: f32,
    /// Between rows, with a fine rule under each if there is any.
    pub(super) rule_gap: f32,
}

impl Part {
    pub(super) fn moved(self, dx: f32, dy: f32) -> Part {
        match self {
            Part::Group(role, parts) => {
                Part::Group(role, parts.into_iter().map(|part| part.moved(dx, dy)).collect())
            }
            Part::Text { x, y, line } => Part::Text { x: x + dx, y: y + dy, line },
            Part::Rule { x, y, width, weight } => {
                Part::Rule { x: x + dx, y: y + dy, width, weight }
            }
            Part::Frame { x, y, width, height } => {
                Part::Frame { x: x + dx, y: y + dy, width, height }
            }
        }
    }
}

impl Block {
    /// Text in a group of its own.
    pub(super) fn paragraph(
        faces: &Faces,
        role: Role,
        words: &Words,
        width: f32,
        setting: Setting,
    ) -> Block {
        Block::lines(faces, words, width, setting, Side::Left).grouped(role)
    }

    /// Lines of text, in no group yet.
    pub(super) fn lines(
        faces: &Faces,
        words: &Words,
        width: f32,
        setting: Setting,
        side: Side,
    ) -> Block {
        let (lines, is_cut) = words.lines(faces, width, setting.most);
        let height = lines.len() as f32 * setting.leading;
        let parts = lines.into_iter().enumerate().map(|(place, line)| {
            let x = if side == Side::Right { width - line.width } else { 0.0 };
            // Type of these faces stands about three quarters above its base line.
            let y = (place as f32 + 0.76) * setting.leading;
            Part::Text { x, y, line }
        });
        Block { height, parts: parts.collect(), is_cut }
    }

    /// A table.
    pub(super) fn table(
        faces: &Faces,
        rows: &[Vec<Cell>],
        columns: &Columns<'_>,
        width: f32,
        setting: Setting,
    ) -> Block {
        let widths = column_widths(faces, rows, columns, width);
        let mut table = Block::default();
        for row in rows {
            let (mut x, mut set) = (0.0, Block::default());
            for ((cell, wide), side) in row.iter().zip(&widths).zip(columns.sides) {
                let lines = Block::lines(faces, &cell.words, *wide, setting, *side);
                set.beside(lines.grouped(cell.role.clone()), x);
                x += wide + columns.gap;
            }
            table.below(set.grouped(Role::Row));
            if columns.rule_gap > 0.0 {
                table.below(Block::rule(width, 0.4, columns.rule_gap));
            }
        }
        table.grouped(Role::Table)
    }

    /// A rule in a space of `height`, a third of the way down.
    pub(super) fn rule(width: f32, weight: f32, height: f32) -> Block {
        let parts = vec![Part::Rule { x: 0.0, y: height / 3.0, width, weight }];
        Block { height, parts, is_cut: false }.grouped(Role::Decoration)
    }

    /// All parts as one group; none if there is no part.
    pub(super) fn grouped(self, role: Role) -> Block {
        if self.parts.is_empty() {
            return self;
        }
        Block { parts: vec![Part::Group(role, self.parts)], ..self }
    }

    /// The block as something that is seen and not read.
    pub(super) fn only_seen(self) -> Block {
        self.grouped(Role::Decoration)
    }

    /// Adds a block under this one.
    pub(super) fn below(&mut self, block: Block) {
        let top = self.height;
        self.height += block.height;
        self.take(block, 0.0, top);
    }

    /// Adds a block beside this one, its top at this one's.
    pub(super) fn beside(&mut self, block: Block, x: f32) {
        self.height = self.height.max(block.height);
        self.take(block, x, 0.0);
    }

    /// Leaves room under this block.
    pub(super) fn gap(&mut self, height: f32) {
        self.height += height;
    }

    /// The block moved to another place; its height reaches down to its new end.
    pub(super) fn moved(self, dx: f32, dy: f32) -> Block {
        let mut moved = Block { height: dy, ..Block::default() };
        moved.height += self.height;
        moved.take(self, dx, dy);
        moved
    }

    fn take(&mut self, block: Block, dx: f32, dy: f32) {
        self.is_cut |= block.is_cut;
        self.parts.extend(block.parts.into_iter().map(|part| part.moved(dx, dy)));
    }
}

/// All columns but the last as wide as their widest cell, and at most two fifths of the table.
fn column_widths(faces: &Faces, rows: &[Vec<Cell>], columns: &Columns<'_>, width: f32) -> Vec<f32> {
    let n_columns = columns.sides.len();
    let mut left = width;
    let mut widths = Vec::new();
    for place in 0..n_columns {
        let widest = rows
            .iter()
            .filter_map(|row| row.get(place))
            .map(|cell| cell.words.width(faces))
            .fold(0.0, f32::max);
        let wide = if place + 1 == n_columns { left } else { widest.min(width * 0.4) };
        left -= wide + columns.gap;
        // A hair more than measured: letters set beside a space may stand a little apart.
        widths.push(wide + 0.01);
    }
    widths
}
