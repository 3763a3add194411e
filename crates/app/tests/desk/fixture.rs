//! An invented squad for tests: plausible views, made up whole, with no store or engine
//! behind them. Every person here is invented.

#![expect(clippy::unwrap_used, clippy::panic, reason = "values written here; one panic on purpose")]

use bellwether::web::{
    Calendars, Desk, DeskError, DraftPage, DraftPlace, Drafts, Floor, FormTaken, PlanChanges,
    Programmes, Records,
};
use domain::{LiftName, LifterName, Load, Unit};
use jiff::civil::{Date, date};
use jiff::{SignedDuration, Span};
use service::backup::BackupView;
use service::dose::record::DoseRecordView;
use service::floor::{FloorDay, FloorLine, FloorRemark, LinkLine, Opened, PhoneLink, Taken};
use service::forms::Fields;
use service::joints::record::JointsView;
use service::programme::calendar::CalendarView;
use service::programme::{PlanChangesView, ProgrammeFormView, ProgrammePageView, WishesFormView};
use service::view::*;

/// The day on which the fixture plays.
pub(crate) const TODAY: Date = date(2031, 5, 28);

/// Answers from invented views.
#[derive(Default)]
pub(crate) struct InventedDesk {
    /// Another squad than the usual one.
    pub(crate) squad: Option<SquadView>,
    /// What is said of backups.
    pub(crate) backups: Option<BackupView>,
}

impl Desk for InventedDesk {
    fn squad(&self) -> Result<SquadView, DeskError> {
        Ok(self.squad.clone().unwrap_or_else(squad))
    }

    fn backups(&self) -> Option<BackupView> {
        self.backups.clone()
    }

    fn lifter(&self, name: &LifterName, _: Extent) -> Result<LifterView, DeskError> {
        match name.as_str() {
            "Ottoline Varkas" => Ok(ottoline()),
            "Ruben Maplethwaite" => Ok(ruben()),
            "Isaura Penhallow" => Ok(newcomer("Isaura Penhallow")),
            "<b>Bold & Brash</b>" | "A/B 50%" => Ok(newcomer(name.as_str())),
            "Only Named" => Ok(nothing_yet(name.as_str())),
            "Broken Store" => Err(DeskError::Failed(
                "the store is locked by another program; close it and try again".to_owned(),
            )),
            "Falls Over" => panic!("the fixture falls over on purpose"),
            _ => Err(DeskError::UnknownLifter(name.clone())),
        }
    }

    fn lift(
        &self,
        name: &LifterName,
        lift: &LiftName,
        costs: &Fields,
    ) -> Result<LiftPageView, DeskError> {
        crate::changing::lift(name, lift, costs)
    }

    fn card(&self, name: &LifterName, day: Option<Date>) -> Result<CardView, DeskError> {
        self.lifter(name, Extent::Lately)?;
        let day = day.unwrap_or(TODAY);
        if day < date(2031, 1, 1) {
            return Err(DeskError::Refused(format!(
                "`{day}` is past; a card is for today or later"
            )));
        }
        Ok(if name.as_str() == "Ruben Maplethwaite" {
            short_card(name.as_str(), day)
        } else {
            full_card(name.as_str(), day)
        })
    }
}

/// No calendars: they have tests of their own.
impl Calendars for InventedDesk {
    fn open_calendar(&self, _: &str) -> Result<Opened, DeskError> {
        Ok(Opened::Unknown)
    }

    fn calendar(&self, _: &PhoneLink) -> Result<CalendarView, DeskError> {
        Err(DeskError::Refused("no calendar here".to_owned()))
    }

    fn make_calendar_link(&self, _: &LifterName) -> Result<String, DeskError> {
        Ok("0123456789abcdef0123456789abcdef01234567".to_owned())
    }

    fn calendar_links(&self, _: &LifterName) -> Result<Vec<LinkLine>, DeskError> {
        Ok(Vec::new())
    }
}

/// No joints and no dose: they have tests of their own.
impl Records for InventedDesk {
    fn joints(&self, _: &LifterName) -> Result<JointsView, DeskError> {
        Err(DeskError::Refused("no joints here".to_owned()))
    }

    fn dose_record(&self, _: &LifterName) -> Result<DoseRecordView, DeskError> {
        Err(DeskError::Refused("no dose here".to_owned()))
    }
}

/// No programmes: they have tests of their own.
impl Programmes for InventedDesk {
    fn programme_page(&self, _: &LifterName) -> Result<ProgrammePageView, DeskError> {
        Err(DeskError::Refused("no programme here".to_owned()))
    }

    fn programme_form(
        &self,
        _: &LifterName,
        _: Option<&Fields>,
    ) -> Result<ProgrammeFormView, DeskError> {
        Err(DeskError::Refused("no programme here".to_owned()))
    }

    fn keep_programme(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<()>, DeskError> {
        Ok(FormTaken::Done(()))
    }

    fn keep_programme_text(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<()>, DeskError> {
        Ok(FormTaken::Done(()))
    }

    fn copy_programme(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<()>, DeskError> {
        Ok(FormTaken::Done(()))
    }

    fn withdraw_programme(&self, _: &LifterName, _: &str) -> Result<(), DeskError> {
        Ok(())
    }
}

/// No changes of plan: they have tests of their own.
impl PlanChanges for InventedDesk {
    fn plan_changes(
        &self,
        _: &LifterName,
        _: Option<&Fields>,
    ) -> Result<PlanChangesView, DeskError> {
        Err(DeskError::Refused("no change of plan here".to_owned()))
    }

    fn change_plan(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<()>, DeskError> {
        Ok(FormTaken::Done(()))
    }

    fn withdraw_plan_change(&self, _: &LifterName, _: &str, _: &str) -> Result<(), DeskError> {
        Ok(())
    }
}

/// No drafts: they have tests of their own.
impl Drafts for InventedDesk {
    fn wishes_form(
        &self,
        _: &LifterName,
        _: Option<&Fields>,
        _: Option<&DraftPlace>,
    ) -> Result<WishesFormView, DeskError> {
        Err(DeskError::Refused("no draft here".to_owned()))
    }

    fn begin_draft(&self, _: &LifterName, _: &Fields) -> Result<FormTaken<String>, DeskError> {
        Err(DeskError::Refused("no draft here".to_owned()))
    }

    fn draft(&self, _: &LifterName, _: &str, _: bool) -> Result<DraftPage, DeskError> {
        Err(DeskError::Refused("no draft here".to_owned()))
    }

    fn end_draft(&self, _: &LifterName, _: &str) -> Result<(), DeskError> {
        Err(DeskError::Refused("no draft here".to_owned()))
    }

    fn drafted_form(&self, _: &LifterName, _: &DraftPlace) -> Result<ProgrammeFormView, DeskError> {
        Err(DeskError::Refused("no draft here".to_owned()))
    }
}

/// No phones: they have tests of their own.
impl Floor for InventedDesk {
    fn open_link(&self, _: &str) -> Result<Opened, DeskError> {
        Ok(Opened::Unknown)
    }

    fn floor_day(&self, _: &PhoneLink, _: Option<Date>) -> Result<FloorDay, DeskError> {
        Err(DeskError::Refused("no session here".to_owned()))
    }

    fn floor_lines(&self, _: &PhoneLink, _: Date) -> Result<Vec<FloorLine>, DeskError> {
        Ok(Vec::new())
    }

    fn take_from_phone(&self, _: &PhoneLink, _: &str) -> Result<Taken, DeskError> {
        Err(DeskError::Refused("nothing is taken here".to_owned()))
    }

    fn phone_links(&self, _: &LifterName) -> Result<Vec<LinkLine>, DeskError> {
        Ok(Vec::new())
    }

    fn floor_remarks(&self, _: &LifterName) -> Result<Vec<FloorRemark>, DeskError> {
        Ok(Vec::new())
    }

    fn make_phone_link(&self, _: &LifterName) -> Result<String, DeskError> {
        Ok("0123456789abcdef0123456789abcdef01234567".to_owned())
    }

    fn revoke_phone_link(&self, _: &LifterName, _: &str) -> Result<(), DeskError> {
        Ok(())
    }

    fn address_for_phones(&self) -> Option<String> {
        None
    }
}

/// Everybody.
pub(crate) fn squad() -> SquadView {
    let line =
        |name: &str, sets, lifts, last: Option<Date>, reason: &str, calls: &[(&str, CallWord)]| {
            LifterLine {
                name: name.to_owned(),
                sets,
                lifts,
                last,
                reason: reason.to_owned(),
                last_calls: calls.iter().map(|(lift, call)| ((*lift).to_owned(), *call)).collect(),
            }
        };
    use CallWord::*;
    SquadView {
        remark: None,
        today: TODAY,
        unread: Vec::new(),
        lifters: vec![
            line(
                "Ruben Maplethwaite",
                412,
                2,
                Some(date(2031, 5, 27)),
                "Pain in the elbow, 6 of 10, was above the limit yesterday: the bench press was stopped.",
                &[("bench press", Stop), ("dip", NoReading)],
            ),
            line(
                "Ottoline Varkas",
                1_894,
                7,
                Some(date(2031, 5, 26)),
                "The squat was eased in three of the last four sessions, while its dose rose by a third.",
                &[
                    ("squat", Ease),
                    ("romanian deadlift", GoOn),
                    ("bench press", GoOn),
                    ("chin-up", GoOn),
                    ("cable lateral raise", NoReading),
                ],
            ),
            line(
                "Isaura Penhallow",
                9,
                1,
                Some(date(2031, 5, 24)),
                "Two sessions on record: too short to read. Nothing asks for a change.",
                &[("front squat", NoReading)],
            ),
            line("<b>Bold & Brash</b>", 0, 0, None, "Nothing on record yet.", &[]),
        ],
    }
}

/// A lifter in kilograms with seven lifts over 34 weeks.
pub(crate) fn ottoline() -> LifterView {
    let make = |name: &str, start, seed| lift(name, Unit::Kg, start, 0.0021, 1.7, seed);
    let mut squat = make("squat", 128.0, 3);
    squat.target.as_mut().unwrap().why =
        "One rep more than last time at the same load, after an eased session.".to_owned();
    let mut raise = make("cable lateral raise", 14.0, 8);
    not_a_gauge(&mut raise);
    let mut curl = make("incline curl", 22.0, 21);
    curl.load_meaning = Some("per hand");
    let mut lifts = vec![
        squat,
        make("romanian deadlift", 142.0, 5),
        make("bench press", 86.0, 7),
        make("chin-up", 31.0, 11),
        raise,
        make("leg press", 245.0, 13),
        curl,
    ];
    lifts[3].load_meaning = Some("added to body mass");
    lifts[2].why = Some(why());
    LifterView {
        programme: None,
        next: Vec::new(),
        dose: Vec::new(),
        muscles: Some(muscles()),
        fit: "The estimates converged in 14 steps.".to_owned(),
        remark: None,
        name: "Ottoline Varkas".to_owned(),
        unit: Unit::Kg,
        today: TODAY,
        reason: squad().lifters[1].reason.clone(),
        complaints: Vec::new(),
        body_mass: Some(71.4),
        lifts,
        check_ins: vec![
            check_in(
                "2031-05-26T07:10",
                &["slept 5.5 h", "stress 5 of 7", "soreness 4 of 7"],
                false,
            ),
            check_in("2031-05-22", &["slept 7 h", "stress 3 of 7", "body mass 71.4 kg"], false),
            check_in("2031-05-19T06:55", &["slept 6.5 h", "pain in the knee 2 of 10"], false),
        ],
    }
}

/// A lifter in pounds whose last session was stopped for pain.
pub(crate) fn ruben() -> LifterView {
    let mut bench = lift("bench press", Unit::Lb, 262.0, 0.0012, 1.9, 17);
    let last = bench.points.last_mut().unwrap();
    last.call = CallWord::Stop;
    last.reason =
        "Pain in the elbow, 6 of 10, is above the limit of 3. Leave the lift and see a licensed \
         professional."
            .to_owned();
    (bench.stop, bench.target) = (Some(stopped_by_the_elbow()), None);
    let mut dip = lift("dip", Unit::Lb, 96.0, 0.0008, 3.9, 19);
    not_a_gauge(&mut dip);
    dip.load_meaning = Some("added to body mass");
    LifterView {
        programme: None,
        next: Vec::new(),
        dose: Vec::new(),
        muscles: None,
        fit: "The estimates did not converge: take the calls with doubt.".to_owned(),
        remark: None,
        name: "Ruben Maplethwaite".to_owned(),
        unit: Unit::Lb,
        today: TODAY,
        reason: squad().lifters[0].reason.clone(),
        complaints: vec![elbow()],
        body_mass: None,
        lifts: vec![bench, dip],
        check_ins: vec![check_in("2031-05-27T17:40", &["pain in the elbow 6 of 10"], true)],
    }
}

/// A complaint that stands.
fn elbow() -> ComplaintView {
    ComplaintView {
        key: "elbow",
        joint: "elbow",
        rating: 6,
        reported: date(2031, 5, 27),
        limit: 3,
        stops: vec!["bench press".to_owned()],
        words: "How is the elbow today? Pain of 6 was reported on Tue 27 May, above the limit of 3, and \
            no newer rating is at or below it. Until one is, bench press is not done."
            .to_owned(),
    }
}

fn stopped_by_the_elbow() -> StopView {
    StopView {
        joint: "elbow",
        rating: 6,
        reported: date(2031, 5, 27),
        limit: 3,
        instead: vec!["pec deck".to_owned()],
        words: "Pain of 6 in the elbow, reported on Tue 27 May, above the limit of 3. Leave it out, or \
            take pec deck, which doesn't plainly load the elbow. See a licensed professional."
            .to_owned(),
    }
}

/// A lifter with two sessions of one lift: nothing can be said yet.
pub(crate) fn newcomer(name: &str) -> LifterView {
    let mut only = lift("front squat", Unit::Kg, 84.0, 0.0, 1.5, 23);
    only.points.drain(..only.points.len() - 2);
    for point in &mut only.points {
        point.one_rm_expected = None;
        point.reps_expected = None;
        point.p_shortfall = None;
        point.call = CallWord::NoReading;
        point.reason = "The record is too short to read: 2 lead sets, 8 needed.".to_owned();
    }
    only.one_rm = None;
    only.trend_pct_per_week = None;
    only.chances = None;
    only.is_gauge = false;
    only.gauge_reason =
        "Two lead sets are on record; eight are needed before one is read.".to_owned();
    let target = only.target.as_mut().unwrap();
    target.chance = None;
    target.why_no_chance = Some("The record is too short to give a chance.");
    LifterView {
        programme: None,
        next: Vec::new(),
        dose: Vec::new(),
        muscles: None,
        fit: "Too short a record: the values of lifters in general stand.".to_owned(),
        remark: None,
        name: name.to_owned(),
        unit: Unit::Kg,
        today: TODAY,
        reason: "Two sessions on record: too short to read. Nothing asks for a change.".to_owned(),
        complaints: Vec::new(),
        body_mass: None,
        lifts: vec![only],
        check_ins: vec![],
    }
}

/// A lifter of whom only the name is known.
pub(crate) fn nothing_yet(name: &str) -> LifterView {
    LifterView { lifts: vec![], ..newcomer(name) }
}

/// Eight muscles, two of them short now, over the seven days before and five days.
pub(crate) fn muscles() -> MusclesView {
    let day = |mid| MuscleDay {
        shortfall_pct: Interval { low: mid - 1.6, mid, high: mid + 1.6 },
        p_short: 1.0 / (1.0 + (1.6 * (2.0 - mid)).exp()),
    };
    let muscle = |muscle, hours_until_usual, shortfalls: [f64; 5]| MuscleView {
        muscle,
        hours_until_usual,
        past: (0..7).map(|ago| day(1.2 * shortfalls[ago % 3] - 0.2)).collect(),
        days: shortfalls.map(day).to_vec(),
    };
    MusclesView {
        short_from_pct: 2.0,
        past: (1..8).rev().map(|ago| TODAY - Span::new().days(ago)).collect(),
        days: (0..5).map(|day| TODAY + Span::new().days(day)).collect(),
        muscles: vec![
            muscle("quadriceps", Some(52.0), [4.1, 2.4, 1.2, 0.3, -0.2]),
            muscle("spinal erectors", Some(38.0), [2.9, 1.7, 0.8, 0.2, 0.0]),
            muscle("glutes", Some(29.0), [1.9, 1.0, 0.4, 0.0, -0.3]),
            muscle("hamstrings", Some(12.0), [1.2, 0.6, 0.2, -0.1, -0.2]),
            muscle("chest", Some(0.0), [0.4, 0.1, -0.2, -0.3, -0.4]),
            muscle("triceps", Some(0.0), [0.1, -0.2, -0.4, -0.4, -0.4]),
            muscle("side delts", None, [-0.3, -0.3, -0.3, -0.3, -0.3]),
            muscle("biceps", Some(0.0), [-0.9, -1.0, -1.0, -1.0, -1.0]),
        ],
    }
}

fn why() -> WhyView {
    let cause =
        |cause, odds, evidence: &str| CauseView { cause, odds, evidence: evidence.to_owned() };
    WhyView {
        change_pct: -0.7,
        causes: vec![
            cause("under-dosed", 0.52, "Its prime movers got 4.5 hard sets a week."),
            cause("ordinary scatter", 0.27, "This lift scatters by 1.9 % for no reason."),
            cause("under-recovered", 0.21, "Its muscles take about 0.4 % off."),
        ],
    }
}

/// One lift over 34 weeks with 24 days away, eased lead sets and a test.
pub(crate) fn lift(
    name: &str,
    unit: Unit,
    start: f64,
    per_week: f64,
    scatter: f64,
    seed: u64,
) -> LiftView {
    let mut chance = Chance(seed);
    let first = TODAY.checked_sub(Span::new().weeks(34)).unwrap();
    let mut points: Vec<PointView> = Vec::new();
    let mut last_seen = None;
    for place in 0..64i64 {
        let away = if place >= 30 { 20 } else { 0 };
        let day = first + SignedDuration::from_hours((place * 7 / 2 - place % 2 + away) * 24);
        if day > TODAY {
            break;
        }
        let weeks = place as f64 / 2.0;
        let level = start * (1.0 + per_week * weeks) * if place >= 30 { 0.985 } else { 1.0 };
        let short = if matches!(place, 13 | 27 | 47 | 52 | 55) { 0.035 } else { 0.0 };
        let seen = level * (1.0 - short + chance.normal() * scatter / 100.0);
        points.push(point(day, place, level, seen, scatter, unit, last_seen));
        last_seen = Some(seen);
    }
    let latest = start * (1.0 + per_week * 32.0) * 0.985;
    LiftView {
        earlier_points: 0,
        name: name.to_owned(),
        equipment: "barbell".to_owned(),
        prime_movers: "quadriceps, glutes".to_owned(),
        load_meaning: None,
        unit,
        points,
        one_rm: Some(around(latest, 0.012)),
        trend_pct_per_week: Some(Interval { low: 0.06, mid: per_week * 100.0, high: 0.35 }),
        scatter_pct: Interval { low: scatter * 0.83, mid: scatter, high: scatter * 1.27 },
        class_scatter_pct: 2.3,
        is_gauge: true,
        gauge_reason: format!(
            "58 lead sets over 34 weeks, and a scatter of {scatter} % against 4 % allowed: its lead \
             set can be read."
        ),
        chances: Some(ChanceView {
            threshold: 0.33,
            false_alarm: 0.08,
            caught: [0.41, 0.63, 0.93],
            plain_false_alarm: 0.52,
            plain_caught: [0.8, 0.88, 0.97],
        }),
        stop: None,
        target: Some(TargetView {
            load: load(latest * 0.8, unit),
            reps: 6,
            rir: Some(2.0),
            sets: 4,
            chance: Some(0.71),
            why_no_chance: None,
            why: "One rep more than last time at the same load.".to_owned(),
        }),
        why: None,
    }
}

fn point(
    day: Date,
    place: i64,
    level: f64,
    seen: f64,
    scatter: f64,
    unit: Unit,
    last_seen: Option<f64>,
) -> PointView {
    let known = place >= 4;
    let width = scatter / 100.0 * 1.28 * (1.0 + 2.0 / (place as f64 + 1.0));
    let p = 1.0 / (1.0 + ((seen / level - 0.968) * 140.0).exp());
    let call = match (known, p) {
        (false, _) => CallWord::NoReading,
        (true, p) if p > 0.33 => CallWord::Ease,
        _ => CallWord::GoOn,
    };
    let away = place == 30;
    PointView {
        when: if place % 3 == 0 { format!("{day}T18:10") } else { day.to_string() },
        days: (day.duration_since(date(1970, 1, 1)).as_hours() / 24) as f64 + 0.5,
        kind: if place == 40 { "test" } else { "work" },
        load: load(level * 0.8, unit),
        reps: 6,
        rir: if place == 40 { Some(0.0) } else { Some(2.0) },
        one_rm_seen: Some(seen),
        one_rm_usual: Some(level),
        one_rm_expected: (known && !away).then(|| around(level, width)),
        reps_expected: (known && !away).then_some(Interval { low: 5.0, mid: 6.0, high: 7.0 }),
        p_shortfall: (known && !away).then_some(p),
        call: if away { CallWord::NoReading } else { call },
        plain_rule: last_seen.map(|last| seen <= last),
        reason: match (away, call) {
            (true, _) => "24 days away: a lead set after more than 14 isn't read.".to_owned(),
            (_, CallWord::Ease) => format!(
                "{:.1} % below what was expected; a shortfall of 2 % or more is {:.0} % probable.",
                (1.0 - seen / level) * 100.0,
                p * 100.0
            ),
            (_, CallWord::NoReading) => "The record was too short to read.".to_owned(),
            _ => "Within what was expected.".to_owned(),
        },
    }
}

fn not_a_gauge(lift: &mut LiftView) {
    for point in &mut lift.points {
        point.call = CallWord::NoReading;
        point.p_shortfall = None;
        point.reason = "This lift is no gauge: do the session as planned.".to_owned();
    }
    lift.equipment = "cable".to_owned();
    lift.is_gauge = false;
    lift.scatter_pct = Interval { low: 4.9, mid: 5.8, high: 7.1 };
    lift.class_scatter_pct = 6.0;
    lift.gauge_reason =
        "Its scatter of 5.8 % is above the 4 % up to which a lead set says anything of recovery."
            .to_owned();
    lift.chances = None;
}

fn check_in(when: &str, items: &[&str], over_limit: bool) -> CheckInLine {
    CheckInLine {
        when: when.to_owned(),
        items: items.iter().map(|item| (*item).to_owned()).collect(),
        over_limit,
    }
}

/// A card with seven lifts, each as long as a card's lift gets.
pub(crate) fn full_card(name: &str, day: Date) -> CardView {
    let mut lifts: Vec<CardLift> = [
        ("squat", 112.5, true, None),
        ("romanian deadlift", 125.0, false, None),
        ("bench press", 77.5, true, None),
        ("chin-up", 17.5, false, Some("added to body mass")),
        ("cable lateral raise", 11.25, false, None),
        ("leg press", 210.0, false, None),
        ("incline dumbbell curl", 16.0, false, Some("per hand")),
    ]
    .into_iter()
    .map(|(name, kg, spotter, meaning)| card_lift(name, kg, Unit::Kg, spotter, meaning))
    .collect();
    lifts[4].outcomes.clear();
    lifts[4].warm_ups.clear();
    lifts[4].gauge_reason =
        "Not read: its scatter of 5.8 % is above the 4 % up to which a lead set says anything of \
         recovery. Do the session as planned."
            .to_owned();
    CardView {
        lifter: name.to_owned(),
        date: day,
        unit: Unit::Kg,
        basis: "The lifts of the last session on a Wednesday, 21 May 2031.".to_owned(),
        notes: vec![
            "Invented lifter, invented numbers: a demonstration, no advice.".to_owned(),
            "Pain above 3 of 10 in any joint: stop that lift and see a licensed professional."
                .to_owned(),
            "Slept 5.5 h: what is expected of every lift is about 1 % lower today.".to_owned(),
        ],
        stopped: Vec::new(),
        lifts,
        session: Some(SessionView {
            mean: vec![4.905_274_778_438_43, -0.003, 0.1],
            covariance: vec![
                vec![2.1e-4, 9e-5, 0.0],
                vec![9e-5, 1.2e-4, 0.0],
                vec![0.0, 0.0, 0.02],
            ],
            shortfall: 0.02,
            threshold: 0.25,
            reserve_share: 0.33,
            curve_b: 1.0 / 30.0,
            freak_share: 0.04,
            freak_widening: 3.0,
            freak_of_day: 0.25,
            lifts: vec![SessionLift {
                name: "squat".to_owned(),
                place: 0,
                moved_kg: 112.5,
                reserve: 2.0,
                luck_variance: 2e-4,
                usual_shown: 4.91,
                usual_lean: 0.2,
                is_read: true,
            }],
        }),
        cautions: CARD_CAUTIONS.to_owned(),
    }
}

/// A card with two lifts in pounds, and a third that the elbow stops.
pub(crate) fn short_card(name: &str, day: Date) -> CardView {
    CardView {
        unit: Unit::Lb,
        stopped: vec![StoppedLift {
            name: "triceps pushdown".to_owned(),
            prime_movers: "triceps".to_owned(),
            stop: stopped_by_the_elbow(),
        }],
        lifts: vec![
            card_lift("bench press", 215.0, Unit::Lb, true, None),
            card_lift("dip", 60.0, Unit::Lb, false, Some("added to body mass")),
        ],
        notes: vec!["Pain above 3 of 10 in any joint: stop that lift.".to_owned()],
        ..full_card(name, day)
    }
}

const CARD_CAUTIONS: &str = "Stop at pain, dizziness or pressure in the chest, and see a licensed \
    professional. Use a spotter or safety bars when a lift can pin you. This card diagnoses nothing \
    and clears nobody to train.";

fn card_lift(
    name: &str,
    target: f64,
    unit: Unit,
    spotter: bool,
    meaning: Option<&'static str>,
) -> CardLift {
    let set = |share: f64, reps, plates: &str| CardSet {
        load: Some(load(target * share, unit)),
        reps,
        plates: Some(plates.to_owned()),
    };
    let row = |reps: &str, call, p_shortfall, then: String| OutcomeRow {
        reps: reps.to_owned(),
        call,
        p_shortfall,
        then,
    };
    let speed = load(target * 0.8, unit);
    CardLift {
        name: name.to_owned(),
        prime_movers: "quadriceps, glutes, adductors".to_owned(),
        load_meaning: meaning,
        spotter,
        warm_ups: vec![
            set(0.2, 10, "bar only"),
            set(0.45, 5, "10 + 5"),
            set(0.6, 4, "20 + 2.5"),
            set(0.75, 3, "20 + 10 + 1.25"),
            set(0.9, 1, "20 + 15 + 5 + 1.25"),
        ],
        lead: set(1.0, 7, "20 + 20 + 5 + 1.25"),
        lead_rir: Some(2.0),
        chance: Some(0.68),
        why_no_chance: None,
        expected: Some("7 likely, 6 to 8 eight times in ten".to_owned()),
        gauge_reason: "Read: 58 lead sets and a scatter of 1.7 %.".to_owned(),
        outcomes: vec![
            row(
                "8 or more",
                CallWord::GoOn,
                (0.01, 0.03),
                "the 3 remaining sets; more load next time".to_owned(),
            ),
            row(
                "6 or 7",
                CallWord::GoOn,
                (0.07, 0.21),
                "the 3 remaining sets as planned".to_owned(),
            ),
            row(
                "5 or fewer",
                CallWord::Ease,
                (0.46, 0.95),
                format!("instead speed work: 3 × 3 with {speed}, fast, stop when the bar slows"),
            ),
        ],
        remaining: vec![
            set(0.95, 7, "20 + 20 + 2.5"),
            set(0.95, 7, "20 + 20 + 2.5"),
            set(0.95, 7, "20 + 20 + 2.5"),
        ],
        why: "One rep more than last time at the same load.".to_owned(),
    }
}

fn around(mid: f64, share: f64) -> Interval {
    Interval { low: mid * (1.0 - share), mid, high: mid * (1.0 + share) }
}

fn load(value: f64, unit: Unit) -> Load {
    let step = if unit == Unit::Kg { 2.5 } else { 5.0 };
    Load::new((value / step).round() * step, unit).unwrap()
}

/// A small generator with a fixed seed, so that the fixture is the same everywhere.
struct Chance(u64);

impl Chance {
    /// About normal, with mean 0 and sd 1: twelve uniform numbers less six.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }

    fn uniform(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}
