//! One lift of a printed card: what to load, what to aim at, what each outcome means, and boxes to write in.
//!
//! Three columns (the lift with its warm-ups, the lead set, what follows) over a row of boxes. Where the warm-ups
//! make the first column the longest, they run across the whole width instead.

use service::view::{CardLift, CardSet, OutcomeRow};

use super::block::{Block, Cell, Columns, Part, Role, Setting, Side};
use super::faces::{Face, Faces};
use super::text::{Line, Style, Words};
use crate::wording::{self, percent};

/// How densely a card is set.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    /// The type size of running text, in points.
    pub(super) size: f32,
    /// From one base line to the next, as a share of the type size.
    pub(super) leading: f32,
    /// Whether the reasons that the screen shows beside the numbers are printed too.
    pub(super) reasons: bool,
    /// Whether warm-ups may run across the sheet.
    pub(super) across: bool,
    /// The most lines of each text.
    pub(super) most: Most,
}

/// The most lines of each kind of text, and rows of boxes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Most {
    pub(super) notes: usize,
    pub(super) note_lines: usize,
    pub(super) asides: usize,
    pub(super) reasons: usize,
    pub(super) names: usize,
    pub(super) warm_ups: usize,
    pub(super) sets: usize,
    pub(super) box_rows: usize,
}

/// Sets lifts of one card.
pub(super) struct LiftSetter<'a> {
    pub(super) faces: &'a Faces,
    pub(super) step: Step,
    pub(super) width: f32,
}

/// The share of the first and second column.
const COLUMNS: [f32; 2] = [0.29, 0.26];

impl LiftSetter<'_> {
    /// The lift on place `place` (from 1), as high as it has to be.
    pub(super) fn lift(&self, place: usize, lift: &CardLift) -> Block {
        let beside = self.arranged(place, lift, false);
        if !self.step.across || lift.warm_ups.is_empty() {
            return beside;
        }
        let across = self.arranged(place, lift, true);
        if across.height < beside.height { across } else { beside }
    }

    fn arranged(&self, place: usize, lift: &CardLift, across: bool) -> Block {
        let gap = self.step.size * 1.3;
        let first = self.width * COLUMNS[0] - gap;
        let second = self.width * COLUMNS[1] - gap;
        let third = self.width - first - second - 2.0 * gap;
        let mut head = self.head(place, lift, first);
        let mut block = Block::default();
        let boxes_from = if across {
            block.beside(head, 0.0);
            0.0
        } else {
            if !lift.warm_ups.is_empty() {
                head.gap(self.step.size * 0.2);
                head.below(self.warm_up_table(&lift.warm_ups, first));
            }
            block.beside(head, 0.0);
            first + gap
        };
        let mut right = Block::default();
        right.beside(self.lead(lift, second), 0.0);
        right.beside(self.after(lift, third), second + gap);
        let boxes = self.boxes(lift, self.width - boxes_from);
        if across {
            let top = block.height.max(right.height);
            block.beside(right, first + gap);
            block.beside(self.warm_up_line(&lift.warm_ups).moved(0.0, top), 0.0);
            block.gap(self.step.size * 0.35);
            block.below(boxes);
        } else {
            // The boxes stand at the foot of the block, however long the warm-ups are.
            right.gap(self.step.size * 0.35);
            let rest = block.height - right.height - boxes.height;
            right.gap(rest.max(0.0));
            right.below(boxes);
            block.beside(right, boxes_from);
        }
        block.grouped(Role::Section)
    }

    fn head(&self, place: usize, lift: &CardLift, width: f32) -> Block {
        let style = Style::new(Face::Title, self.step.size * 1.3);
        let number = Style { face: Face::Text, ..style.soft() };
        let words = Words::new(&format!("{place}.\u{a0}"), number).and(&lift.name, style);
        let title = format!("{place}. {}", lift.name);
        let mut head = Block::paragraph(
            self.faces,
            Role::Heading { level: 2, title },
            &words,
            width,
            Setting { leading: style.size * 1.17, most: self.step.most.names },
        );
        head.below(self.text(&lift.prime_movers, self.plain().soft(), width, self.asides()));
        if let Some(meaning) = lift.load_meaning {
            let words = format!("Loads are {meaning}.");
            head.below(self.text(&words, self.plain().soft(), width, self.asides()));
        }
        if lift.spotter {
            let words = "Spotter or safety bars.";
            head.below(self.text(words, self.plain().strong(), width, self.asides()));
        }
        head
    }

    fn warm_up_table(&self, sets: &[CardSet], width: f32) -> Block {
        let plain = self.plain();
        let cell = |text: &str, style| Cell { role: Role::Cell, words: Words::new(text, style) };
        let rows: Vec<Vec<Cell>> = sets
            .iter()
            .map(|set| {
                let load = set.load.map_or(String::new(), |load| spaced(&load.to_string()));
                let plates = set.plates.as_deref().map_or(String::new(), wording::plates);
                vec![
                    cell(&load, plain),
                    cell(&format!("×\u{a0}{}", set.reps), plain),
                    cell(&plates, plain.soft()),
                ]
            })
            .collect();
        let columns = Columns {
            sides: &[Side::Right, Side::Left, Side::Left],
            gap: self.step.size * 0.6,
            rule_gap: 0.0,
        };
        Block::table(self.faces, &rows, &columns, width, self.sets())
    }

    fn warm_up_line(&self, sets: &[CardSet]) -> Block {
        let plain = self.plain();
        let mut words = Words::new("Warm-up: ", plain.soft());
        for (place, set) in sets.iter().enumerate() {
            if place > 0 {
                words = words.and("; ", plain);
            }
            words = words.and(&wording::card_set(set), plain);
            if let Some(plates) = &set.plates {
                let plates = format!(" ({})", spaced(&wording::plates(plates)));
                words = words.and(&plates, plain.soft());
            }
        }
        let setting = self.setting(self.step.most.warm_ups);
        Block::paragraph(self.faces, Role::Paragraph, &words, self.width, setting)
    }

    fn lead(&self, lift: &CardLift, width: f32) -> Block {
        let plain = self.plain();
        let title = "Lead set".to_owned();
        let words = Words::new(&title, plain.soft());
        let role = Role::Heading { level: 3, title };
        let mut lead = Block::paragraph(self.faces, role, &words, width, self.asides());
        let target = match lift.lead.load {
            Some(load) => wording::set(load, lift.lead.reps),
            None => format!("×\u{a0}{}", lift.lead.reps),
        };
        lead.below(self.target(&target, width));
        if lift.lead.load.is_none() {
            lead.below(self.text("load to be found", plain, width, self.sets()));
        }
        if let Some(rir) = lift.lead_rir {
            lead.below(self.text(&wording::reserve(rir), plain, width, self.sets()));
        }
        if let Some(plates) = &lift.lead.plates {
            lead.below(self.text(&wording::plates(plates), plain, width, self.sets()));
        }
        let why = match lift.chance {
            Some(chance) => format!("Chance of making it {}", percent(chance)),
            None => lift.why_no_chance.unwrap_or(&lift.why).to_owned(),
        };
        lead.below(self.text(&why, plain.soft(), width, self.reasons()));
        if let Some(expected) = &lift.expected {
            let words = format!("Expected: {expected}");
            lead.below(self.text(&words, plain.soft(), width, self.reasons()));
        }
        if self.step.reasons && lift.chance.is_some() {
            lead.below(self.text(&lift.why, plain.soft(), width, self.reasons()));
        }
        lead
    }

    /// The target in the largest type that its column takes, on one line if it can be.
    fn target(&self, target: &str, width: f32) -> Block {
        let large = Style::new(Face::Strong, self.step.size * 2.0);
        let wide = Words::new(target, large).width(self.faces);
        let share = (width / wide).clamp(0.6, 1.0);
        let style = Style { size: large.size * share, ..large };
        let setting = Setting { leading: style.size * 1.18, most: self.step.most.sets };
        let words = Words::new(target, style);
        Block::paragraph(self.faces, Role::Paragraph, &words, width, setting)
    }

    fn after(&self, lift: &CardLift, width: f32) -> Block {
        let plain = self.plain();
        let mut after = if lift.outcomes.is_empty() {
            self.text(&lift.gauge_reason, plain.soft(), width, self.reasons())
        } else {
            self.outcomes(&lift.outcomes, width)
        };
        if self.step.reasons && !lift.outcomes.is_empty() {
            after.gap(self.step.size * 0.2);
            after.below(self.text(&lift.gauge_reason, plain.soft(), width, self.reasons()));
        }
        if let Some(words) = self.remaining(&lift.remaining) {
            after.gap(self.step.size * 0.2);
            let role = Role::Paragraph;
            after.below(Block::paragraph(self.faces, role, &words, width, self.sets()));
        }
        after
    }

    fn outcomes(&self, rows: &[OutcomeRow], width: f32) -> Block {
        let plain = self.plain();
        let head =
            |text: &str| Cell { role: Role::ColumnHead, words: Words::new(text, plain.soft()) };
        let mut all = vec![vec![head("Reps done"), head("Call"), head("What follows")]];
        for row in rows {
            let mut then = Words::new(&row.then, plain);
            if self.step.reasons {
                let odds = format!(". {}", wording::shortfall_odds(row.p_shortfall));
                then = then.and(&odds, plain.soft());
            }
            all.push(vec![
                Cell { role: Role::RowHead, words: Words::new(&row.reps, plain.strong()) },
                Cell {
                    role: Role::Cell,
                    words: Words::new(&spaced(row.call.as_str()), plain.strong()),
                },
                Cell { role: Role::Cell, words: then },
            ]);
        }
        let columns = Columns {
            sides: &[Side::Left; 3],
            gap: self.step.size,
            rule_gap: self.step.size * 0.22,
        };
        Block::table(self.faces, &all, &columns, width, self.sets())
    }

    /// The remaining sets, equal ones together.
    fn remaining(&self, sets: &[CardSet]) -> Option<Words> {
        let plain = self.plain();
        if sets.is_empty() {
            return None;
        }
        let mut words = Words::new("As planned: ", plain.soft());
        for (place, same) in sets.chunk_by(wording::are_alike).enumerate() {
            if place > 0 {
                words = words.and("; ", plain);
            }
            words = words.and(&format!("{} more × {}", same.len(), same[0].reps), plain);
            if let Some(load) = same[0].load {
                words = words.and(" with ", plain).and(&spaced(&load.to_string()), plain.strong());
            }
            if let Some(plates) = &same[0].plates {
                words = words.and(&format!(" ({})", wording::plates(plates)), plain);
            }
        }
        Some(words.and(".", plain))
    }

    /// Boxes to write in by hand: reps and reserve for each work set, the load if it has to be found, pain once.
    fn boxes(&self, lift: &CardLift, width: f32) -> Block {
        let mut inside = vec!["reps", "RIR"];
        if lift.lead.load.is_none() {
            inside.insert(0, "load");
        }
        let high = (self.step.size * 1.9).clamp(14.0, 16.5);
        let gap = self.step.size * 0.8;
        let entries: Vec<(Block, f32)> = (0..=lift.remaining.len())
            .map(|place| match place {
                0 => self.entry("Lead", &inside, high),
                place => self.entry(&(place + 1).to_string(), &inside, high),
            })
            .collect();
        let (pain, pain_wide) = self.entry("Pain", &["0–10"], high);
        let room = width - pain_wide;
        let mut set = Block::default();
        let (mut x, mut y, mut rows) = (0.0, 0.0, 1);
        for (entry, wide) in entries {
            if x + wide > room - gap && x > 0.0 {
                if rows == self.step.most.box_rows {
                    set.is_cut = true;
                    break;
                }
                (x, y, rows) = (0.0, y + high + 3.0, rows + 1);
            }
            set.beside(entry.moved(x, y), 0.0);
            x += wide + gap;
        }
        set.beside(pain.moved(room, y), 0.0);
        set.grouped(Role::Decoration)
    }

    /// A label with its boxes, and how wide they are together.
    fn entry(&self, label: &str, inside: &[&str], high: f32) -> (Block, f32) {
        let wide = high * 1.72;
        let style = self.plain().strong();
        let mut entry = Block { height: high, ..Block::default() };
        let mut x =
            self.place_line(&mut entry, label, style, (0.0, high / 2.0 + style.size * 0.36));
        x += 2.5;
        for word in inside {
            entry.parts.push(Part::Frame { x, y: 0.25, width: wide, height: high - 0.5 });
            let faint = Style { tone: super::text::Tone::Faint, ..Style::new(Face::Text, 5.0) };
            self.place_line(&mut entry, word, faint, (x + 1.5, 5.4));
            x += wide + 2.0;
        }
        (entry, x - 2.0)
    }

    fn place_line(&self, block: &mut Block, text: &str, style: Style, (x, y): (f32, f32)) -> f32 {
        let (lines, _) = Words::new(text, style).lines(self.faces, f32::MAX, 1);
        let wide = lines.first().map_or(0.0, |line: &Line| line.width);
        block.parts.extend(lines.into_iter().map(|line| Part::Text { x, y, line }));
        wide
    }

    fn text(&self, text: &str, style: Style, width: f32, setting: Setting) -> Block {
        Block::paragraph(self.faces, Role::Paragraph, &Words::new(text, style), width, setting)
    }

    fn plain(&self) -> Style {
        Style::new(Face::Text, self.step.size)
    }

    fn setting(&self, most: usize) -> Setting {
        Setting { leading: self.step.size * self.step.leading, most }
    }

    fn asides(&self) -> Setting {
        self.setting(self.step.most.asides)
    }

    fn reasons(&self) -> Setting {
        self.setting(self.step.most.reasons)
    }

    fn sets(&self) -> Setting {
        self.setting(self.step.most.sets)
    }
}

/// Held together by spaces that don't break.
fn spaced(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}
