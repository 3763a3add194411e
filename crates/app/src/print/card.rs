//! The card of one session on paper: [`CardView`] as PDF.
//!
//! Up to seven lifts stand on one sheet, always: the type shrinks in steps, never below [`SMALLEST`], then the
//! reasons that only explain go, then warm-ups run across, and only then are texts cut short, notes first, each
//! with a mark. More lifts go on to further sheets, shared out evenly, each with the lifter and the day at its head
//! and the cautions at its foot.

use service::view::CardView;

use super::Paper;
use super::block::{ALL_LINES, Block, Part, Role, Setting, Side};
use super::card_lift::{LiftSetter, Most, Step};
use super::document::{self, PrintError, Sheet};
use super::faces::{Face, Faces, STAND_IN};
use super::text::{Style, Words};
use crate::wording;

/// The smallest type that words are printed in, in points. These faces stand high above their line: their small
/// letters are as high here as those of a book face at 8 points.
pub const SMALLEST: f32 = 6.5;

/// The most lifts of one sheet; fewer only if there is no other way to lose nothing, which no card within the
/// program's own bounds comes to.
const FULLEST: [usize; 3] = [7, 3, 1];
/// Margins at the sides, the head and the foot: 11 and 10 mm, more than any printer needs.
const SIDE: f32 = 31.2;
const END: f32 = 28.4;
/// The room that lifts have between them at most beyond what they need.
const LOOSEST: f32 = 14.0;

/// Makes a card as PDF.
///
/// # Errors
///
/// A fault of this program: no card that it makes is refused.
pub fn card_pdf(view: &CardView, paper: Paper) -> Result<Vec<u8>, PrintError> {
    let faces = Faces::load();
    let title = format!("Card for {}, {}", view.lifter, wording::date(view.date));
    let has_stand_ins = !faces.has_all(&serde_json::to_string(view).unwrap_or_default());
    let steps = steps();
    let tries = FULLEST.into_iter().flat_map(|n| steps.iter().map(move |step| (n, *step)));
    let set = |(most_lifts, step): (usize, Step)| {
        CardSetter { faces: &faces, view, paper, step, most_lifts, has_stand_ins }.sheets()
    };
    let mut last = None;
    let fitting = tries.map(set).find_map(|sheets| match sheets.fit {
        true => Some(sheets.sheets),
        false => {
            last = Some(sheets.sheets);
            None
        }
    });
    let sheets = fitting.or(last).unwrap_or_default();
    document::write(&faces, &title, paper, &sheets)
}

/// Nothing cut short.
const WHOLE: Most = Most {
    notes: ALL_LINES,
    note_lines: ALL_LINES,
    asides: ALL_LINES,
    reasons: ALL_LINES,
    names: ALL_LINES,
    warm_ups: ALL_LINES,
    sets: ALL_LINES,
    box_rows: ALL_LINES,
};
/// What a card that is too long even in the smallest type loses, step by step.
const CUTS: [Most; 6] = [
    Most { note_lines: 2, ..WHOLE },
    Most { notes: 8, note_lines: 2, reasons: 3, ..WHOLE },
    Most { notes: 6, note_lines: 2, asides: 1, reasons: 2, names: 2, ..WHOLE },
    Most { notes: 4, warm_ups: 3, sets: 2, ..CLOSEST },
    Most { warm_ups: 2, ..CLOSEST },
    CLOSEST,
];
/// One line of each.
const CLOSEST: Most = Most {
    notes: 2,
    note_lines: 1,
    asides: 1,
    reasons: 1,
    names: 1,
    warm_ups: 1,
    sets: 1,
    box_rows: 1,
};

/// The steps from the roomiest card to the closest.
fn steps() -> Vec<Step> {
    let at = |size, reasons, across| Step { size, leading: 1.2, reasons, across, most: WHOLE };
    let roomy = [10.0, 9.5, 9.0, 8.5].map(|size| at(size, true, false));
    let plain = [9.0, 8.5, 8.0, 7.75, 7.5].map(|size| at(size, false, false));
    let close = [7.75, 7.5, 7.25, 7.0, 6.75, SMALLEST].map(|size| at(size, false, true));
    let cut = CUTS.map(|most| Step { most, leading: 1.12, ..at(SMALLEST, false, true) });
    [&roomy[..], &plain[..], &close[..], &cut[..]].concat()
}

struct CardSetter<'a> {
    faces: &'a Faces,
    view: &'a CardView,
    paper: Paper,
    step: Step,
    /// The most lifts of one sheet.
    most_lifts: usize,
    /// Whether letters had to be replaced that no face has.
    has_stand_ins: bool,
}

/// Sheets of a card, and whether everything lies within their margins.
struct Sheets {
    sheets: Vec<Sheet>,
    fit: bool,
}

impl CardSetter<'_> {
    fn sheets(&self) -> Sheets {
        let n_lifts = self.view.lifts.len();
        let n_sheets = n_lifts.div_ceil(self.most_lifts).max(1);
        let setter = LiftSetter { faces: self.faces, step: self.step, width: self.width() };
        let lifts: Vec<Block> = self
            .view
            .lifts
            .iter()
            .enumerate()
            .map(|(place, lift)| setter.lift(place + 1, lift))
            .collect();
        let is_cut = lifts.iter().any(|lift| lift.is_cut);
        let mut all = Sheets { sheets: Vec::new(), fit: true };
        let mut lifts = lifts.into_iter();
        let mut done = 0;
        for place in 0..n_sheets {
            // Shared out evenly, the fuller sheets first.
            let n_here = (n_lifts - done).div_ceil(n_sheets - place);
            let head = match place {
                0 => self.first_head(is_cut, n_sheets),
                _ => self.further_head(place, n_sheets),
            };
            let here: Vec<Block> = lifts.by_ref().take(n_here).collect();
            let (sheet, fits) = self.sheet(head, here, done, place == 0);
            all.sheets.push(sheet);
            all.fit &= fits;
            done += n_here;
        }
        all
    }

    /// Puts a sheet together; false if it runs over its foot.
    fn sheet(&self, head: Block, lifts: Vec<Block>, done: usize, is_first: bool) -> (Sheet, bool) {
        let (_, height) = self.paper.size();
        let foot = self.foot(is_first);
        let rule = self.step.size;
        let needed = lifts.iter().map(|lift| lift.height + rule).sum::<f32>();
        let free = height - 2.0 * END - head.height - foot.height - needed;
        let loose = (free / (lifts.len() + 1) as f32).clamp(0.0, LOOSEST);
        let mut headings = Vec::new();
        if is_first {
            headings.push((self.view.lifter.clone(), END));
        }
        let mut body = head;
        for (place, lift) in lifts.into_iter().enumerate() {
            body.gap(loose * 0.4);
            body.below(Block::rule(self.width(), 0.8, rule));
            body.gap(loose * 0.6);
            let name = self.view.lifts.get(done + place).map(|lift| lift.name.as_str());
            headings.push((name.unwrap_or_default().to_owned(), END + body.height));
            body.below(lift);
        }
        let mut parts: Vec<Part> = body.parts;
        let foot_at = height - 2.0 * END - foot.height;
        parts.extend(foot.moved(0.0, foot_at.max(body.height)).parts);
        let parts = parts.into_iter().map(|part| part.moved(SIDE, END)).collect();
        (Sheet { parts, headings }, free >= 0.0)
    }

    fn first_head(&self, is_cut: bool, n_sheets: usize) -> Block {
        let size = self.step.size;
        let mut head =
            self.name_and_day(Role::Heading { level: 1, title: self.view.lifter.clone() });
        let basis = match n_sheets {
            1 => self.view.basis.clone(),
            n => format!("{} On {n} sheets.", self.view.basis),
        };
        head.below(self.paragraph(&basis, self.plain().soft(), self.step.most.reasons));
        let mut notes: Vec<&str> = self.view.notes.iter().map(String::as_str).collect();
        let n_left_out = notes.len().saturating_sub(self.step.most.notes);
        notes.truncate(self.step.most.notes);
        let stand_ins = format!(
            "Each {STAND_IN} stands for a letter that the typefaces of this print lack. Write it in by hand, or \
             print the card from the browser."
        );
        if self.has_stand_ins {
            notes.insert(0, &stand_ins);
        }
        let mut list = self.notes(&notes);
        let is_short = is_cut || n_left_out > 0 || list.is_cut || head.is_cut;
        list.gap(if self.view.stopped.is_empty() { 0.0 } else { size * 0.6 });
        list.below(self.stopped());
        if self.view.lifts.is_empty() {
            list.gap(size);
            list.below(self.paragraph(self.no_lift_words(), self.plain(), ALL_LINES));
        }
        if !list.parts.is_empty() {
            head.gap(size * 0.3);
            head.below(list);
        }
        if is_short {
            let words = cut_words(n_left_out);
            head.below(self.paragraph(&words, self.plain().strong(), ALL_LINES));
        }
        head
    }

    fn no_lift_words(&self) -> &'static str {
        match self.view.stopped.len() {
            0 => "There is no lift on this card: no earlier session to take them from.",
            _ => "Every lift of this session is stopped.",
        }
    }

    /// The head of a sheet after the first, which repeats whose card it is.
    fn further_head(&self, place: usize, n_sheets: usize) -> Block {
        let mut head = self.name_and_day(Role::Paragraph);
        let words = format!("Sheet {} of {n_sheets}", place + 1);
        head.below(self.paragraph(&words, self.plain().soft(), 1));
        head
    }

    /// The lifter on the left and the day on the right, or under the lifter if the name is long.
    fn name_and_day(&self, role: Role) -> Block {
        let (size, width) = (self.step.size, self.width());
        let name_style = Style::new(Face::Title, size * 1.8);
        let day_style = Style::new(Face::Text, size * 1.3);
        let name = Words::new(&self.view.lifter, name_style);
        let day = Words::new(&wording::date_with_weekday(self.view.date), day_style);
        let beside = day.width(self.faces) + 2.0 * size;
        let fits = name.width(self.faces) + beside <= width;
        let room = if fits { width - beside } else { width };
        let setting = Setting { leading: name_style.size * 1.2, most: self.step.most.names };
        let mut head = Block::paragraph(self.faces, role, &name, room, setting);
        let side = if fits { Side::Right } else { Side::Left };
        let leading = if fits { setting.leading } else { day_style.size * 1.3 };
        let setting = Setting { leading, most: 1 };
        let day = Block::lines(self.faces, &day, width, setting, side).grouped(Role::Paragraph);
        if fits {
            head.beside(day, 0.0)
        } else {
            head.below(day)
        }
        head
    }

    /// Notes as a list, in two columns if there are several.
    fn notes(&self, notes: &[&str]) -> Block {
        let gap = self.step.size * 2.0;
        let half = (self.width() - gap) / 2.0;
        let set = |width: f32| -> Vec<Block> {
            notes.iter().map(|note| self.note(note, width)).collect()
        };
        let columns = if notes.len() < 2 { vec![set(self.width())] } else { split(set(half)) };
        let mut list = Block::default();
        for (place, column) in columns.into_iter().enumerate() {
            let mut set = Block::default();
            column.into_iter().for_each(|note| set.below(note));
            list.beside(set, place as f32 * (half + gap));
        }
        list.grouped(Role::List)
    }

    /// The lifts that are not done, each with what to do instead, in a frame; never cut short.
    fn stopped(&self) -> Block {
        let plain = self.plain();
        let inset = self.step.size * 0.6;
        let setting = Setting { leading: plain.size * self.step.leading, most: ALL_LINES };
        let mut list = Block::default();
        for lift in &self.view.stopped {
            let words = Words::new("stop ", plain.strong())
                .and(&format!("{}. ", lift.name), plain.strong())
                .and(&lift.stop.words, plain);
            let width = self.width() - 2.0 * inset;
            let lines = Block::lines(self.faces, &words, width, setting, Side::Left);
            list.below(lines.grouped(Role::Body).grouped(Role::Item));
        }
        if list.parts.is_empty() {
            return list;
        }
        let mut framed = list.grouped(Role::List).moved(inset, inset * 0.6);
        framed.gap(inset * 0.6);
        let frame = Part::Frame { x: 0.0, y: 0.0, width: self.width(), height: framed.height };
        framed.parts.insert(0, Part::Group(Role::Decoration, vec![frame]));
        framed
    }

    fn note(&self, note: &str, width: f32) -> Block {
        let style = self.plain();
        let indent = self.step.size * 0.9;
        let setting =
            Setting { leading: style.size * self.step.leading, most: self.step.most.note_lines };
        let lines =
            Block::lines(self.faces, &Words::new(note, style), width - indent, setting, Side::Left);
        let dash = Block::lines(self.faces, &Words::new("–", style), indent, setting, Side::Left);
        let mut item = dash.grouped(Role::Decoration);
        item.beside(lines.grouped(Role::Body), indent);
        item.grouped(Role::Item)
    }

    fn foot(&self, is_first: bool) -> Block {
        let mut foot = Block::rule(self.width(), 0.8, self.step.size);
        let cautions = self.paragraph(&self.view.cautions, self.plain(), ALL_LINES);
        // Read once; on further sheets it is repeated for the eye.
        foot.below(if is_first { cautions } else { cautions.only_seen() });
        foot
    }

    fn paragraph(&self, text: &str, style: Style, most: usize) -> Block {
        let setting = Setting { leading: style.size * self.step.leading, most };
        let words = Words::new(text, style);
        Block::paragraph(self.faces, Role::Paragraph, &words, self.width(), setting)
    }

    fn plain(&self) -> Style {
        Style::new(Face::Text, self.step.size)
    }

    fn width(&self) -> f32 {
        self.paper.size().0 - 2.0 * SIDE
    }
}

/// What the mark of text cut short means, and how many notes are left out.
fn cut_words(n_notes: usize) -> String {
    let notes = match n_notes {
        0 => String::new(),
        1 => " One more note is there too.".to_owned(),
        n => format!(" {n} more notes are there too."),
    };
    format!(
        "… marks what was cut short to fit this sheet: the card on the screen has it whole.{notes}"
    )
}

/// Notes shared out over two columns, in order, the first the higher one.
fn split(notes: Vec<Block>) -> Vec<Vec<Block>> {
    let half = notes.iter().map(|note| note.height).sum::<f32>() / 2.0;
    let (mut first, mut second, mut filled) = (Vec::new(), Vec::new(), 0.0);
    for note in notes {
        let column = if filled < half { &mut first } else { &mut second };
        filled += note.height;
        column.push(note);
    }
    vec![first, second]
}
