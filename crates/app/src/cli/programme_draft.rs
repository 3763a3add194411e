//! `programme draft`: a week from wishes, with progress, written as programme files.

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use clap::Args;
use domain::Unit;
use service::programme::{
    DraftOf, DraftProgress, DraftView, DraftWatch, DraftedWeek, MuscleLine, Planning,
    draft_programme, read_programme, read_wishes,
};
use service::{Desk, ServiceError, catalogue, private};

use super::Everywhere;
use super::exit::{Exit, Failure};
use super::lifts::lifter_name;
use super::paper::{Column, Paper};
use super::programme::{known_lifts, text_of};
use super::said::Said;
use crate::wording::{count, decimal, from_lifts};

/// Draft a week from wishes: goals, days, equipment, joints, fixed parts
///
/// `docs/programme-draft.md` describes the wish file and what a draft keeps to and weighs. Nothing is
/// recorded: read the week as you would read anybody's, change what you would change, and set it with
/// `programme set`. With a terminal, Enter takes the week that stands.
#[derive(Args, Debug)]
pub(crate) struct DraftArgs {
    /// The wish file
    file: PathBuf,
    /// Draft for this lifter: own recovery and gauge lifts, and the programme that is followed now
    #[arg(long, value_name = "NAME")]
    lifter: Option<String>,
    /// What the lifter does now, as a programme file
    #[arg(long, value_name = "FILE")]
    present: Option<PathBuf>,
    /// Write the weeks here: FILE, and the others beside it as FILE with -2 and -3
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// How many weeks to draft side by side, the best first
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u8).range(1..=5))]
    weeks: u8,
    /// Seconds for the first week; each other one gets half as many
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u64).range(1..=86_400))]
    seconds: u64,
    /// Stop as soon as the week is within so many % of the best possible
    #[arg(long, value_name = "PCT", default_value_t = 1.0)]
    within: f64,
    /// Go so many steps for each week whatever the time: the same weeks on every machine
    #[arg(long, value_name = "N", conflicts_with_all = ["seconds", "within"])]
    steps: Option<u64>,
    /// Where chance begins
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

pub(crate) fn draft(args: &DraftArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let text = text_of(&args.file)?;
    let mut file =
        read_wishes(&text).map_err(|error| Failure::Data(error.to_string()).about(&args.file))?;
    let mut present = None;
    let mut spared = Vec::new();
    let (lifts, planning, unit) = match &args.lifter {
        None => (known_lifts(everywhere)?, Planning::for_anybody(), Unit::Kg),
        Some(name) => {
            let name = lifter_name(name)?;
            let store = everywhere.open()?;
            let planning = Planning::for_lifter(&store, &name, everywhere.today())?;
            let lifts = catalogue(&store)?;
            let unit =
                store.lifter(&name).map_err(ServiceError::from)?.map_or(Unit::Kg, |one| one.unit);
            let desk = Desk::new(store);
            spared = desk.spare_complaints(&name, &mut file.wishes, everywhere.today())?;
            present = desk.programme(&name, everywhere.today())?.now.map(|now| now.programme);
            (lifts, planning, unit)
        }
    };
    if let Some(path) = &args.present {
        let programme = read_programme(&text_of(path)?);
        present = Some(programme.map_err(|error| Failure::Data(error.to_string()).about(path))?);
    }
    file.wishes = file.wishes.keeping(present);
    let of = DraftOf {
        file: &file,
        catalogue: &lifts,
        planning: &planning,
        seed: args.seed,
        weeks: args.weeks.into(),
        unit,
    };
    let mut watch = Watch::new(args);
    let told =
        draft_programme(&of, &mut watch).map_err(|error| Failure::from(error).about(&args.file))?;
    let mut written = Vec::new();
    if let Some(path) = &args.out {
        for (idx, week) in told.weeks.iter().enumerate() {
            let path = numbered(path, idx);
            private::write(&path, &week.text)
                .map_err(|error| Failure::cannot_write(&path, &error))?;
            written.push(path);
        }
    }
    let exit = if told.weeks.is_empty() { Exit::NothingDone } else { Exit::Done };
    Said::ended(words(&told, &spared, &written), &told, exit)
}

/// `week.toml`, `week-2.toml`, `week-3.toml`.
fn numbered(path: &Path, idx: usize) -> PathBuf {
    if idx == 0 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let end = path.extension().map_or(String::new(), |end| format!(".{}", end.to_string_lossy()));
    path.with_file_name(format!("{stem}-{}{end}", idx + 1))
}

/// Looks at the clock and at the coach's Enter key, and says how far it is.
struct Watch {
    seconds: u64,
    within: f64,
    steps: Option<u64>,
    week: usize,
    begun: Instant,
    said: Option<(Instant, Option<u64>)>,
    entered: Arc<AtomicBool>,
}

impl Watch {
    fn new(args: &DraftArgs) -> Watch {
        let entered = Arc::new(AtomicBool::new(false));
        if io::stdin().is_terminal() && io::stderr().is_terminal() && args.steps.is_none() {
            let key = Arc::clone(&entered);
            // Ends with the program: it waits for a line that may never come.
            std::thread::spawn(move || {
                let mut line = String::new();
                while io::stdin().read_line(&mut line).is_ok_and(|n| n > 0) {
                    key.store(true, Ordering::Relaxed);
                }
            });
        }
        Watch {
            seconds: args.seconds,
            within: args.within,
            steps: args.steps,
            week: 0,
            begun: Instant::now(),
            said: None,
            entered,
        }
    }

    /// A line on standard error every second in which something changed, and every five anyway.
    fn say(&mut self, progress: &DraftProgress) {
        let tenths = progress.gap_pct.map(|gap| (10.0 * gap) as u64);
        let due = match self.said {
            None => self.begun.elapsed() > Duration::from_millis(900),
            Some((when, before)) => {
                let wait = if before == tenths { 5 } else { 1 };
                when.elapsed() >= Duration::from_secs(wait)
            }
        };
        if !due {
            return;
        }
        self.said = Some((Instant::now(), tenths));
        let at = self.begun.elapsed().as_secs_f64();
        let how = match progress.gap_pct {
            _ if !progress.found => "no week yet that keeps to all wishes".to_owned(),
            Some(gap) => format!("within {} % of the best possible", decimal(gap, 1)),
            None => "a week that keeps to all wishes".to_owned(),
        };
        eprintln!("week {}, {at:>3.0} s: {how}", progress.week);
    }
}

impl DraftWatch for Watch {
    fn go_on(&mut self, progress: &DraftProgress) -> bool {
        if progress.week != self.week {
            (self.week, self.begun, self.said) = (progress.week, Instant::now(), None);
            self.entered.store(false, Ordering::Relaxed);
        }
        if let Some(steps) = self.steps {
            self.say(progress);
            return progress.steps < steps;
        }
        let half = if self.week > 1 { 2 } else { 1 };
        let late = self.begun.elapsed() >= Duration::from_secs(self.seconds) / half;
        let good = progress.gap_pct.is_some_and(|gap| gap <= self.within) && progress.steps > 0;
        let taken = self.entered.load(Ordering::Relaxed) && progress.found;
        self.say(progress);
        !(late || good || taken)
    }
}

fn words(told: &DraftView, spared: &[String], written: &[PathBuf]) -> String {
    let mut paper = Paper::default();
    paper.paragraph(&told.name);
    paper.paragraph(&told.recovery).gap();
    for joint in spared {
        paper.paragraph(joint).gap();
    }
    if !told.contradiction.is_empty() {
        paper.paragraph("No week keeps to all wishes. These can't be kept together:");
        for wish in &told.contradiction {
            paper.item("  – ", &wish.words);
        }
        paper.paragraph("Give up one of them, or change it, and draft again.");
    }
    for (idx, week) in told.weeks.iter().enumerate() {
        week_words(&mut paper, idx, week);
    }
    if told.weeks.len() > 1 {
        side_by_side(&mut paper, &told.weeks);
    }
    for note in &told.notes {
        paper.gap().paragraph(note);
    }
    for path in written {
        paper.gap().paragraph(&format!("Written to `{}`.", path.display()));
    }
    if !told.weeks.is_empty() {
        paper.gap().paragraph(told.cautions);
    }
    paper.finish()
}

fn week_words(paper: &mut Paper, idx: usize, week: &DraftedWeek) {
    let gap = match week.gap_pct {
        Some(gap) => format!("within {} % of the best possible", decimal(gap, 1)),
        None => "how good a week could be isn't known".to_owned(),
    };
    let behind = match idx {
        0 => String::new(),
        _ if week.behind_pct < 0.05 => ", as good as week 1 by its points".to_owned(),
        _ => format!(", {} % behind week 1", decimal(week.behind_pct, 1)),
    };
    paper.gap().line(&format!("Week {} ({gap}{behind})", idx + 1));
    if let Some((kept, all)) = week.kept {
        let places = count(all as u64, "lift now on its day", "lifts now on their days");
        paper.line(&format!("  {kept} of {places} stay"));
    }
    for (day, looked) in week.days.iter().zip(&week.check.days) {
        let there = looked.minutes_there.map_or(String::new(), |there| format!(" of {there}"));
        paper.gap().line(&format!("  {}, about {}{there} min", day.weekday, looked.minutes));
        let rows: Vec<Vec<String>> =
            day.lifts.iter().map(|lift| vec![lift.lift.clone(), lift.sets.clone()]).collect();
        paper.table(4, &[Column::Left, Column::Left], &rows);
    }
    if idx == 0 {
        paper.gap().line("  Hard sets a week by muscle, of the aim");
        let asked = week.muscles.iter().filter(|muscle| muscle.asked);
        asked.for_each(|muscle| muscle_words(paper, muscle));
        let along = week.muscles.iter().filter(|muscle| !muscle.asked);
        let along: Vec<String> =
            along.map(|muscle| format!("{} {}", muscle.muscle, decimal(muscle.dose, 1))).collect();
        if !along.is_empty() {
            paper.item("    trained along    ", &along.join(", "));
        }
        let findings = &week.check.findings;
        if !findings.is_empty() {
            paper.gap().line("  What the check remarks");
        }
        for finding in findings {
            paper.item(&format!("    {:<10} ", finding.urgency), &finding.words);
        }
    }
}

fn muscle_words(paper: &mut Paper, muscle: &MuscleLine) {
    let (_, aim, _) = muscle.range;
    let head = format!(
        "    {:<16} {:>4} of {:>2}  ",
        muscle.muscle,
        decimal(muscle.dose, 1),
        decimal(aim, 1)
    );
    paper.item(&head, &from_lifts(muscle));
    if let Some(limits) = &muscle.limits {
        paper.item(&" ".repeat(head.chars().count()), limits);
    }
}

/// Each muscle's dose in every week, beside each other.
fn side_by_side(paper: &mut Paper, weeks: &[DraftedWeek]) {
    paper.gap().line("Side by side: hard sets a week");
    let mut first = vec![String::new()];
    first.extend((1..=weeks.len()).map(|week| format!("week {week}")));
    let mut rows = vec![first];
    let mut muscles: Vec<&str> = Vec::new();
    for muscle in weeks.iter().flat_map(|week| &week.muscles) {
        if !muscles.contains(&muscle.muscle) {
            muscles.push(muscle.muscle);
        }
    }
    for muscle in muscles {
        let dose = |week: &DraftedWeek| {
            let line = week.muscles.iter().find(|line| line.muscle == muscle);
            line.map_or("–".to_owned(), |line| decimal(line.dose, 1))
        };
        rows.push(std::iter::once(muscle.to_owned()).chain(weeks.iter().map(dose)).collect());
    }
    let mut columns = vec![Column::Left];
    columns.extend(weeks.iter().map(|_| Column::Right));
    paper.table(2, &columns, &rows);
}
