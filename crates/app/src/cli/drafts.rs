//! Drafts under way at the desk: each on a thread of its own, few at once, and given up when nobody looks.
//!
//! A draft lives in memory only. What it finds is kept step by step, so that the week that a coach takes is
//! the one that was on the page.

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use domain::{LifterName, Programme};
use service::forms::Fields;
use service::programme::{
    DraftOrder, DraftProgress, DraftView, DraftWatch, read_programme, write_wishes,
};

use super::entropy;
use super::exit::Failure;
use crate::server::step_back;
use crate::web::{DraftPage, DraftPlace, DraftStatus, EndedWhy};

/// Weeks side by side.
const WEEKS: usize = 3;
/// How long the first week is looked for, and each other one.
const FIRST: Duration = Duration::from_secs(10);
const OTHERS: Duration = Duration::from_secs(5);
/// Within so many % of the best possible a week is good enough.
const WITHIN_PCT: f64 = 1.0;
/// How often a better week is shown.
const SHOWN_EVERY: Duration = Duration::from_millis(900);
/// A draft that nobody has looked at for so long is given up; one that is held still, later.
const LEFT: Duration = Duration::from_secs(20);
const HELD: Duration = Duration::from_secs(180);
/// The most drafts that run at once, and that wait to be read.
const RUNNING: usize = 2;
const WAITING: usize = 8;
/// The most states of one draft that are kept.
const STATES: usize = 64;
/// Where chance begins: the same wishes are looked through in the same order.
const SEED: u64 = 1;

/// The drafts of a desk, the latest first.
#[derive(Debug)]
pub(crate) struct Drafts {
    jobs: Mutex<VecDeque<Arc<Job>>>,
    /// How long a draft goes on without anybody looking at it.
    left: Duration,
}

impl Default for Drafts {
    fn default() -> Drafts {
        Drafts { jobs: Mutex::default(), left: LEFT }
    }
}

/// One draft.
#[derive(Debug)]
struct Job {
    id: String,
    lifter: LifterName,
    /// The form as it was sent.
    typed: Fields,
    /// The wishes as a file.
    wishes: String,
    begun: Instant,
    is_told_to_end: AtomicBool,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    /// The weeks as they stood, each better than the one before.
    stood: Vec<Arc<DraftView>>,
    progress: Option<DraftProgress>,
    /// Until when somebody is thought to look at it.
    looked_at_until: Instant,
    ended: Option<(EndedWhy, Duration)>,
}

impl Drafts {
    /// Begins a draft and gives the name by which it is found. One of the same lifter that still runs is
    /// ended, and so is the oldest if too many run.
    pub(crate) fn begin(&self, order: DraftOrder, typed: Fields) -> Result<String, Failure> {
        let id = entropy::token()?;
        let now = Instant::now();
        let job = Arc::new(Job {
            id: id.clone(),
            lifter: order.lifter().clone(),
            typed,
            wishes: write_wishes(order.file()),
            begun: now,
            is_told_to_end: AtomicBool::new(false),
            state: Mutex::new(State {
                stood: Vec::new(),
                progress: None,
                looked_at_until: now + self.left,
                ended: None,
            }),
        });
        let mut jobs = self.jobs();
        let mut running = 0;
        for other in jobs.iter().filter(|job| job.is_running()) {
            running += 1;
            if running >= RUNNING || other.lifter.key() == job.lifter.key() {
                other.end(EndedWhy::AnotherBegan);
            }
        }
        jobs.truncate(WAITING - 1);
        jobs.push_front(Arc::clone(&job));
        drop(jobs);
        let worker = Arc::clone(&job);
        let started = std::thread::Builder::new().name("draft".to_owned()).spawn(move || {
            step_back();
            worker.run(&order);
        });
        started.map_err(|error| Failure::Files(format!("can't begin a draft: {error}")))?;
        Ok(id)
    }

    /// How a lifter's draft stands; none if it waits no more. Whoever asks is thought to look at it for a
    /// while, and for longer if the page is held still.
    pub(crate) fn look(&self, name: &LifterName, id: &str, is_still: bool) -> Option<DraftPage> {
        let job = self.find(name, id)?;
        let mut state = job.state();
        state.looked_at_until = Instant::now() + if is_still { HELD } else { self.left };
        let status = match (&state.ended, state.progress) {
            (Some((why, took)), _) => {
                DraftStatus::Ended { why: why.clone(), seconds: took.as_secs() }
            }
            (None, progress) => DraftStatus::Looking {
                week: progress.map_or(1, |progress| progress.week),
                found: progress.is_some_and(|progress| progress.found),
                gap_pct: progress.and_then(|progress| progress.gap_pct),
                seconds: job.begun.elapsed().as_secs(),
            },
        };
        Some(DraftPage {
            lifter: job.lifter.to_string(),
            id: job.id.clone(),
            stood: state.stood.len(),
            view: state.stood.last().cloned(),
            status,
            is_still,
            wishes: job.wishes.clone(),
        })
    }

    /// Leaves a draft at the weeks that stand.
    pub(crate) fn end(&self, name: &LifterName, id: &str) -> Option<()> {
        self.find(name, id).map(|job| job.end(EndedWhy::Stopped))
    }

    /// Leaves all drafts at the weeks that stand.
    pub(crate) fn end_all(&self) {
        for job in self.jobs().iter() {
            job.end(EndedWhy::Stopped);
        }
    }

    /// The form from which a draft was begun.
    pub(crate) fn typed(&self, name: &LifterName, id: &str) -> Option<Fields> {
        self.find(name, id).map(|job| job.typed.clone())
    }

    /// A week that stood.
    pub(crate) fn week(&self, name: &LifterName, place: &DraftPlace) -> Option<Programme> {
        let job = self.find(name, &place.id)?;
        let state = job.state();
        let view = state.stood.get(place.stood.checked_sub(1)?)?;
        read_programme(&view.weeks.get(place.week.checked_sub(1)?)?.text).ok()
    }

    fn find(&self, name: &LifterName, id: &str) -> Option<Arc<Job>> {
        let is_it = |job: &&Arc<Job>| job.id == id && job.lifter.key() == name.key();
        self.jobs().iter().find(is_it).cloned()
    }

    /// A panic while this was held can't leave it half changed: drafts go in whole.
    fn jobs(&self) -> MutexGuard<'_, VecDeque<Arc<Job>>> {
        self.jobs.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Job {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn is_running(&self) -> bool {
        self.state().ended.is_none()
    }

    /// Ends it at what stands; the first reason stays.
    fn end(&self, why: EndedWhy) {
        self.is_told_to_end.store(true, Ordering::Relaxed);
        let took = self.begun.elapsed();
        self.state().ended.get_or_insert((why, took));
    }

    fn run(&self, order: &DraftOrder) {
        let mut watch = Watch { job: self, week: 0, week_begun: self.begun, shown: None };
        let drafted = catch_unwind(AssertUnwindSafe(|| order.draft((WEEKS, SEED), &mut watch)));
        match drafted {
            Ok(Ok(view)) => {
                // What was ended meanwhile stays as it was read.
                if self.is_running() {
                    self.keep(view);
                }
                self.end(EndedWhy::Done);
            }
            Ok(Err(error)) => self.end(EndedWhy::Failed(error.to_string())),
            Err(_) => {
                let reason = "the search stopped unexpectedly; draft again, and please report this";
                self.end(EndedWhy::Failed(reason.to_owned()));
            }
        }
    }

    fn keep(&self, view: DraftView) {
        let mut state = self.state();
        if state.ended.is_none() && state.stood.len() < STATES {
            state.stood.push(Arc::new(view));
        }
    }
}

/// Looks at the clock for a draft, and at whether anybody still looks.
struct Watch<'a> {
    job: &'a Job,
    week: usize,
    week_begun: Instant,
    shown: Option<Instant>,
}

impl DraftWatch for Watch<'_> {
    fn go_on(&mut self, progress: &DraftProgress) -> bool {
        if progress.week != self.week {
            (self.week, self.week_begun) = (progress.week, Instant::now());
        }
        let is_left = {
            let mut state = self.job.state();
            state.progress = Some(*progress);
            Instant::now() > state.looked_at_until
        };
        if is_left {
            self.job.end(EndedWhy::Left);
        }
        let time = if progress.week > 1 { OTHERS } else { FIRST };
        let late = self.week_begun.elapsed() >= time;
        let good = progress.steps > 0 && progress.gap_pct.is_some_and(|gap| gap <= WITHIN_PCT);
        !(late || good || self.ends())
    }

    fn ends(&self) -> bool {
        self.job.is_told_to_end.load(Ordering::Relaxed)
    }

    fn wants_to_see(&mut self) -> bool {
        let due = self.shown.is_none_or(|shown| shown.elapsed() >= SHOWN_EVERY);
        if due {
            self.shown = Some(Instant::now());
        }
        due
    }

    fn see(&mut self, view: &DraftView) {
        self.job.keep(view.clone());
    }
}

#[cfg(test)]
mod tests {
    use domain::{Lifter, Unit};
    use jiff::Timestamp;
    use jiff::civil::date;
    use service::{Desk, Store};

    use super::*;

    const NAMES: [&str; 3] = ["Wilma Tarn", "Otmar Pell", "Hedda Brokk"];

    /// A desk with three invented lifters of whom nothing is known.
    fn desk() -> (Desk, tempfile::TempDir) {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
        for name in NAMES {
            let lifter = Lifter::usual(LifterName::new(name).unwrap(), Unit::Kg);
            store.put_lifter(&lifter, Timestamp::UNIX_EPOCH).unwrap();
        }
        (Desk::new(store), folder)
    }

    fn begin(drafts: &Drafts, desk: &Desk, name: &str) -> (LifterName, String) {
        let name = LifterName::new(name).unwrap();
        let fields = Fields::default()
            .with("name", "By the quay")
            .with("present", "none")
            .with("day_Monday", "on")
            .with("day_Thursday", "on");
        let order = desk.draft_order(&name, &fields, None, date(2031, 5, 5)).unwrap();
        let id = drafts.begin(order, fields).unwrap();
        (name, id)
    }

    /// Looks until it holds.
    fn until(
        drafts: &Drafts,
        (name, id): &(LifterName, String),
        holds: impl Fn(&DraftPage) -> bool,
    ) {
        let begun = Instant::now();
        while !holds(&drafts.look(name, id, false).unwrap()) {
            assert!(begun.elapsed() < Duration::from_secs(60), "it never came");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn ended(drafts: &Drafts, (name, id): &(LifterName, String)) -> Option<EndedWhy> {
        match drafts.look(name, id, false)?.status {
            DraftStatus::Ended { why, .. } => Some(why),
            DraftStatus::Looking { .. } => None,
        }
    }

    #[test]
    fn the_week_that_is_taken_is_the_one_that_was_seen() {
        let (desk, _folder) = desk();
        let drafts = Drafts::default();
        let draft = begin(&drafts, &desk, NAMES[0]);
        until(&drafts, &draft, |page| page.view.is_some());
        let (name, id) = &draft;
        let seen = drafts.look(name, id, false).unwrap();
        let place = DraftPlace { id: id.clone(), stood: seen.stood, week: 1 };
        drafts.end(name, id).unwrap();
        assert_eq!(ended(&drafts, &draft), Some(EndedWhy::Stopped));
        let taken = drafts.week(name, &place).unwrap();
        let text = &seen.view.unwrap().weeks[0].text;
        assert_eq!(taken, read_programme(text).unwrap());
        assert_eq!(drafts.typed(name, id).unwrap().get("name"), "By the quay");
        // It is nobody else's, and there are no other weeks.
        let other = LifterName::new(NAMES[1]).unwrap();
        assert!(drafts.look(&other, id, false).is_none());
        assert!(drafts.week(&other, &place).is_none());
        for (stood, week) in [(0, 1), (1, 0), (1, 9), (999, 1)] {
            let nowhere = DraftPlace { id: id.clone(), stood, week };
            assert!(drafts.week(name, &nowhere).is_none(), "{nowhere}");
        }
    }

    #[test]
    fn few_run_at_once_and_one_for_each_lifter() {
        let (desk, _folder) = desk();
        let drafts = Drafts::default();
        let first = begin(&drafts, &desk, NAMES[0]);
        let again = begin(&drafts, &desk, NAMES[0]);
        assert_eq!(ended(&drafts, &first), Some(EndedWhy::AnotherBegan));
        assert_eq!(ended(&drafts, &again), None);
        let second = begin(&drafts, &desk, NAMES[1]);
        assert_eq!(ended(&drafts, &again), None, "two may run");
        let third = begin(&drafts, &desk, NAMES[2]);
        assert_eq!(ended(&drafts, &again), Some(EndedWhy::AnotherBegan));
        for draft in [&second, &third] {
            drafts.end(&draft.0, &draft.1).unwrap();
        }
        for _ in 0..WAITING {
            let (name, id) = begin(&drafts, &desk, NAMES[1]);
            drafts.end(&name, &id).unwrap();
        }
        assert!(drafts.look(&first.0, &first.1, false).is_none(), "it waits no more");
    }

    #[test]
    fn one_that_nobody_looks_at_is_given_up() {
        let (desk, _folder) = desk();
        let drafts = Drafts { left: Duration::from_millis(30), ..Drafts::default() };
        let (name, id) = begin(&drafts, &desk, NAMES[0]);
        std::thread::sleep(Duration::from_millis(100));
        // The search looks at the clock between its strides, and how long one takes depends on the machine.
        let job = drafts.find(&name, &id).unwrap();
        let begun = Instant::now();
        while job.is_running() {
            assert!(begun.elapsed() < FIRST, "it went on");
            std::thread::sleep(Duration::from_millis(20));
        }
        assert_eq!(job.state().ended.as_ref().map(|(why, _)| why), Some(&EndedWhy::Left));
    }
}
