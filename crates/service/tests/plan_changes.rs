//! Changes of plan: what cards, floor, calendar and dose make of a session moved or left out, of light days, and
//! of days away. The lifter and her log are invented.

use domain::{
    EquipmentClass, LiftName, Lifter, LifterName, Load, LoggedSet, Muscle, Note, Reps, Rir,
    SetKind, SetNumber, Unit, When,
};
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use service::forms::{Fields, FormError};
use service::programme::PlanChange;
use service::view::CardView;
use service::{Desk, ServiceError, Store};
use store::OnDifference;

/// A Monday.
const FIRST: Date = date(2031, 5, 5);

fn now() -> Timestamp {
    "2031-05-05T06:00:00Z".parse().unwrap()
}

fn wilma() -> LifterName {
    LifterName::new("Wilma Tarn").unwrap()
}

fn on(days: i64) -> Date {
    FIRST + days.days()
}

/// Squats on Monday and Thursday by load steps, presses and pulls beside them.
const PROGRAMME: &str = "name = \"By the quay\"\n\
    [[day]]\nweekday = \"Mon\"\n\
    [[day.lift]]\nlift = \"back squat\"\nsets = 4\nreps = 5\nrir = 2\n\
    progression = { rule = \"load steps\", misses = 2 }\n\
    [[day.lift]]\nlift = \"bench press\"\nsets = 4\nreps = [5, 8]\nrir = 2\n\
    progression = { rule = \"double progression\" }\n\
    [[day]]\nweekday = \"Thu\"\n\
    [[day.lift]]\nlift = \"back squat\"\nsets = 4\nreps = 5\nrir = 2\n\
    progression = { rule = \"load steps\", misses = 2 }\n\
    [[day.lift]]\nlift = \"barbell row\"\nsets = 3\nreps = [6, 10]\nrir = 2\n\
    progression = { rule = \"double progression\" }\n";

struct Gym {
    desk: Desk,
    _folder: tempfile::TempDir,
}

impl Gym {
    fn new() -> Gym {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
        store.put_lifter(&Lifter::usual(wilma(), Unit::Kg), now()).unwrap();
        let gym = Gym { desk: Desk::new(store), _folder: folder };
        for week in 1..=2 {
            for (day, other) in [(0, "bench press"), (3, "barbell row")] {
                gym.log(on(day - 7 * week), "back squat", 100.0, 4);
                gym.log(on(day - 7 * week), other, 70.0, 4);
            }
        }
        gym.desk.set_programme(&wilma(), PROGRAMME, Some(FIRST), (FIRST, now())).unwrap();
        gym
    }

    fn log(&self, day: Date, lift: &str, kg: f64, sets: u8) {
        let mut import = self.desk.store().begin_import("a log", now()).unwrap();
        for n in 1..=sets {
            let set = LoggedSet {
                lifter: wilma(),
                when: When::new(day, None).unwrap(),
                lift: LiftName::new(lift).unwrap(),
                number: SetNumber::new(n).unwrap(),
                kind: SetKind::Work,
                load: Load::from_kg(kg).unwrap(),
                reps: Reps::new(5).unwrap(),
                rir: Some(Rir::new(2.0).unwrap()),
                note: Note::default(),
            };
            import.add_set(&set, OnDifference::Keep).unwrap();
        }
        import.commit().unwrap();
    }

    fn change(&self, change: PlanChange) -> Result<String, ServiceError> {
        self.desk.change_plan(&wilma(), &change, "", (FIRST, now())).map(|line| line.id)
    }

    fn card(&self, day: Date) -> CardView {
        self.desk.card(&wilma(), day).unwrap()
    }

    /// Each lift of a card with its number of work sets.
    fn sets(&self, day: Date) -> Vec<(String, usize)> {
        let card = self.card(day);
        card.lifts.into_iter().map(|lift| (lift.name, 1 + lift.remaining.len())).collect()
    }

    /// The days of the first fortnight that the calendar has.
    fn days(&self) -> Vec<i8> {
        let calendar = self.desk.calendar(&wilma(), FIRST).unwrap();
        let fortnight = calendar.sessions.iter().filter(|session| session.date < on(14));
        fortnight.map(|session| session.date.day()).collect()
    }

    fn planned(&self, today: Date, muscle: &str) -> f64 {
        let view = self.desk.lifter(&wilma(), today).unwrap();
        view.dose.iter().find(|line| line.muscle == muscle).map_or(0.0, |line| line.planned)
    }
}

fn sets(lifts: &[(&str, usize)]) -> Vec<(String, usize)> {
    lifts.iter().map(|(lift, sets)| ((*lift).to_owned(), *sets)).collect()
}

#[test]
fn a_moved_session_is_done_on_its_new_day_and_in_the_new_order() {
    let gym = Gym::new();
    assert_eq!(gym.days(), [5, 8, 12, 15]);
    gym.change(PlanChange::Move { day: on(0), to: on(5) }).unwrap();
    assert_eq!(gym.days(), [8, 10, 12, 15], "in the order of the days");
    // On Monday nothing is planned any more, and Thursday's comes next.
    let basis = |day: i64| gym.card(on(day)).basis;
    let comes = "Thursday of “By the quay”: nothing is planned before it, so it comes next.";
    assert_eq!(basis(0), comes);
    assert_eq!(basis(3), "Thursday of “By the quay”.");
    gym.log(on(3), "back squat", 100.0, 4);
    gym.log(on(3), "barbell row", 70.0, 3);
    assert_eq!(basis(5), "Monday of “By the quay”. Moved from Monday.");
    assert_eq!(
        basis(6),
        "Monday of “By the quay”, which wasn't done on its day. Moved from Monday."
    );
    let floor = gym.desk.floor_day(&wilma(), on(5), &TimeZone::UTC).unwrap();
    assert_eq!(floor.lifts[1].card.name, "bench press");
    // It is planned for Saturday now, and can be moved on from there.
    let error = gym.change(PlanChange::Move { day: on(0), to: on(4) }).unwrap_err().to_string();
    assert!(error.contains("nothing is planned for 2031-05-05"), "{error}");
    gym.change(PlanChange::Move { day: on(5), to: on(6) }).unwrap();
    assert_eq!(gym.days(), [8, 11, 12, 15]);
}

#[test]
fn a_session_left_out_is_neither_missed_nor_dosed_and_comes_back_when_taken_back() {
    let gym = Gym::new();
    assert_eq!(gym.planned(on(1), "chest"), 4.0);
    let id = gym.change(PlanChange::Drop { day: on(0) }).unwrap();
    assert_eq!(gym.days(), [8, 12, 15]);
    let basis = gym.card(on(1)).basis;
    assert!(basis.starts_with("Thursday"), "it isn't told as not done: {basis}");
    assert_eq!(gym.planned(on(1), "chest"), 0.0);
    assert_eq!(gym.planned(on(1), "quadriceps"), 4.0, "Thursday's squats");
    let today = (on(1), now());
    gym.desk.withdraw_plan_change(&wilma(), &id, "on after all", today.1).unwrap();
    assert_eq!(gym.days(), [5, 8, 12, 15]);
    assert_eq!(gym.planned(on(1), "chest"), 4.0);
    let view = gym.desk.plan_changes(&wilma(), None, on(1)).unwrap();
    let line = &view.lines[0];
    assert!(line.is_withdrawn && line.reason == "on after all", "{line:?}");
    assert_eq!(line.words, "The session of Mon 5 May is left out.");
    let again = gym.desk.withdraw_plan_change(&wilma(), &id, "", now()).unwrap_err();
    assert!(matches!(again, ServiceError::PlanChange { .. }), "{again}");
}

#[test]
fn light_days_take_sets_and_no_load() {
    let gym = Gym::new();
    let heavy = gym.card(on(0));
    let days = (on(0), on(6));
    gym.change(PlanChange::Light { days, sets_pct: 50, muscles: vec![Muscle::Quadriceps] })
        .unwrap();
    assert_eq!(gym.sets(on(0)), sets(&[("back squat", 2), ("bench press", 4)]));
    let light = gym.card(on(0));
    let lead = |card: &CardView| (card.lifts[0].lead.load, card.lifts[0].lead.reps);
    assert_eq!(lead(&light), lead(&heavy));
    assert_eq!(
        light.basis,
        "Monday of “By the quay”. Light by plan: 50\u{a0}% of the sets for quadriceps."
    );
    assert_eq!(gym.planned(on(1), "quadriceps"), 4.0, "two and two");
    assert_eq!(gym.sets(on(7)), sets(&[("back squat", 4), ("bench press", 4)]), "the week after");
    let id = gym.desk.plan_changes(&wilma(), None, FIRST).unwrap().lines[0].id.clone();
    gym.desk.withdraw_plan_change(&wilma(), &id, "", now()).unwrap();
    gym.change(PlanChange::Light { days, sets_pct: 60, muscles: Vec::new() }).unwrap();
    // 60 % of 4 is 2.4, and of 3 it is 1.8.
    assert_eq!(gym.sets(on(0)), sets(&[("back squat", 2), ("bench press", 2)]));
    assert_eq!(gym.sets(on(3)), sets(&[("back squat", 2), ("barbell row", 2)]));
}

// Two light sessions in a row would be two misses by the rule's own count, and take a tenth off the load.
#[test]
fn sets_left_out_by_plan_are_no_misses() {
    let gym = Gym::new();
    gym.log(on(0), "back squat", 100.0, 4);
    gym.log(on(0), "bench press", 70.0, 4);
    let load = |day: i64| gym.card(on(day)).lifts[0].lead.load.unwrap().kg();
    assert_eq!(load(3), 102.5, "the step after a success");
    gym.log(on(3), "back squat", 102.5, 2);
    gym.log(on(3), "barbell row", 70.0, 2);
    gym.log(on(7), "back squat", 102.5, 2);
    gym.log(on(7), "bench press", 70.0, 2);
    assert!(load(10) < 100.0, "two sets of four are a miss: {}", load(10));
    let days = (on(2), on(8));
    gym.change(PlanChange::Light { days, sets_pct: 50, muscles: Vec::new() }).unwrap();
    assert_eq!(load(10), 102.5);
    assert_eq!(gym.sets(on(10))[0].1, 4);
}

#[test]
fn days_away_swap_lifts_for_what_is_there() {
    let gym = Gym::new();
    let days = (on(0), on(6));
    let equipment = vec![EquipmentClass::Dumbbell];
    gym.change(PlanChange::Away { days, equipment }).unwrap();
    let away = gym.card(on(0));
    let lifts: Vec<&str> = away.lifts.iter().map(|lift| lift.name.as_str()).collect();
    let catalogue = domain::Catalogue::built_in();
    for name in &lifts {
        let lift = catalogue.find(&LiftName::new(name).unwrap()).unwrap();
        let at_hand = [EquipmentClass::Dumbbell, EquipmentClass::Bodyweight];
        assert!(at_hand.contains(&lift.equipment), "{name}");
    }
    assert_eq!(lifts.len(), 2, "{lifts:?}");
    assert!(away.basis.ends_with("Away: lifts are swapped for what is there."), "{}", away.basis);
    // What was done there is that session, and it isn't asked for again.
    gym.log(on(0), lifts[0], 30.0, 4);
    gym.log(on(0), lifts[1], 30.0, 4);
    assert!(gym.card(on(1)).basis.starts_with("Thursday"), "{}", gym.card(on(1)).basis);
    assert_eq!(gym.sets(on(7)), sets(&[("back squat", 4), ("bench press", 4)]), "home again");
    // With nothing but the body, what nothing can stand in for is left out, and said.
    let gym = Gym::new();
    gym.change(PlanChange::Away { days, equipment: Vec::new() }).unwrap();
    let basis = gym.card(on(0)).basis;
    assert!(basis.contains("Away:"), "{basis}");
}

#[test]
fn what_makes_no_sense_is_refused_and_says_why() {
    let gym = Gym::new();
    let refused = |change: PlanChange, needed: &str| {
        let error = gym.change(change).unwrap_err().to_string();
        assert!(error.contains(needed), "{error}");
    };
    refused(PlanChange::Drop { day: on(1) }, "nothing is planned for 2031-05-06");
    refused(PlanChange::Move { day: on(0), to: on(0) }, "for that day already");
    refused(
        PlanChange::Move { day: on(0), to: on(3) },
        "another session is planned for 2031-05-08",
    );
    refused(PlanChange::Move { day: on(0), to: on(7) }, "lies in another week");
    let early = (on(-9), on(-8));
    refused(PlanChange::Away { days: early, equipment: Vec::new() }, "begins after that");
    refused(PlanChange::Away { days: (on(9), on(8)), equipment: Vec::new() }, "last day");
    let light = |days: (Date, Date), sets_pct: u8| PlanChange::Light {
        days,
        sets_pct,
        muscles: Vec::new(),
    };
    refused(light((on(0), on(63)), 50), "63 days later at most");
    refused(light((on(0), on(6)), 0), "from 10 to 90");
    assert!(gym.desk.store().plan_changes_of(&wilma()).unwrap().is_empty());
    let otto = LifterName::new("Otto Pell").unwrap();
    gym.desk.store().put_lifter(&Lifter::usual(otto.clone(), Unit::Kg), now()).unwrap();
    let change = PlanChange::Drop { day: on(0) };
    let error = gym.desk.change_plan(&otto, &change, "", (FIRST, now())).unwrap_err();
    assert!(matches!(error, ServiceError::NoProgramme { .. }), "{error}");

    let form = |fields: &[(&str, &str)]| {
        let fields: Fields =
            fields.iter().map(|(field, text)| ((*field).to_owned(), (*text).to_owned())).collect();
        gym.desk.change_plan_form(&wilma(), &fields, (FIRST, now()))
    };
    let problem = |fields: &[(&str, &str)], field: &str, needed: &str| match form(fields) {
        Err(FormError::Problems(problems)) => {
            let told = problems.of(field).unwrap_or_else(|| panic!("{field}: {problems:?}"));
            assert!(told.contains(needed), "{told}");
        }
        other => panic!("{other:?}"),
    };
    problem(&[("what", "dance")], "what", "press one of the buttons");
    problem(
        &[("what", "move"), ("move_day", "2031-05-05"), ("move_to", "soon")],
        "move_to",
        "soon",
    );
    problem(
        &[("what", "move"), ("move_day", "2031-05-05"), ("move_to", "2031-05-08")],
        "move_day",
        "another session",
    );
    let light = |until: &'static str, pct: &'static str| {
        [
            ("what", "light"),
            ("light_from", "2031-05-05"),
            ("light_until", until),
            ("light_pct", pct),
        ]
    };
    problem(&light("2031-05-04", "50"), "light_until", "from 2031-05-05 on");
    problem(&light("2031-12-04", "50"), "light_until", "63 days");
    problem(&light("2031-05-11", "95"), "light_pct", "from 10 to 90");
    problem(&light("2031-05-11", "half"), "light_pct", "half");
    let made = form(&[
        ("what", "light"),
        ("light_from", "2031-05-05"),
        ("light_until", "2031-05-11"),
        ("light_pct", "50"),
        ("muscle_chest", "on"),
        ("reason", "exams"),
    ]);
    let made = made.unwrap();
    assert_eq!(made.words, "Light from Mon 5 May to Sun 11 May: 50\u{a0}% of the sets for chest.");
    assert_eq!(made.reason, "exams");
}

#[test]
fn a_change_that_cannot_be_read_keeps_nobody_out_and_can_be_taken_back() {
    let gym = Gym::new();
    let change = store::PlanChange {
        id: [7; 16],
        lifter: wilma(),
        from: on(0),
        until: on(6),
        text: "change = \"light\"\nfrom = \"2031-05-05\"\nuntil = \"2031-05-01\"\n".to_owned(),
    };
    gym.desk.store().put_plan_change(&change, "", now()).unwrap();
    assert_eq!(gym.sets(on(0)), sets(&[("back squat", 4), ("bench press", 4)]));
    let told = gym.desk.programme(&wilma(), on(1)).unwrap().changes;
    assert!(told.len() == 1 && told[0].contains("can't be read any more"), "{told:?}");
    let line = gym.desk.plan_changes(&wilma(), None, on(1)).unwrap().lines.remove(0);
    assert!(line.words.contains("last day"), "{}", line.words);
    gym.desk.withdraw_plan_change(&wilma(), &line.id, "", now()).unwrap();
    assert!(gym.desk.programme(&wilma(), on(1)).unwrap().changes.is_empty());
}

#[test]
fn the_text_of_a_change_reads_back_to_the_same() {
    let days = (on(0), on(6));
    let changes = [
        PlanChange::Move { day: on(0), to: on(2) },
        PlanChange::Drop { day: on(3) },
        PlanChange::Light { days, sets_pct: 40, muscles: vec![Muscle::Chest, Muscle::Lats] },
        PlanChange::Light { days, sets_pct: 50, muscles: Vec::new() },
        PlanChange::Away { days, equipment: vec![EquipmentClass::Dumbbell] },
        PlanChange::Away { days, equipment: Vec::new() },
    ];
    for change in changes {
        assert_eq!(PlanChange::read(&change.write()).unwrap(), change);
    }
    for (text, needed) in [
        ("change = \"rest\"", "must be `move`, `drop`, `light` or `away`"),
        ("change = \"drop\"\nday = \"soon\"", "line 2"),
        (
            "change = \"light\"\nfrom = \"2031-05-05\"\nuntil = \"2031-05-06\"\nsets_pct = 5",
            "10 to 90",
        ),
        ("change = \"drop\"\nday = \"2031-05-05\"\nto = \"2031-05-06\"", "`to`"),
    ] {
        let error = PlanChange::read(text).unwrap_err().to_string();
        assert!(error.contains(needed), "{text}: {error}");
    }
}

/// Twelve weeks of squats that don't go up, four sets twice a week, with other sets in the eleventh.
fn a_flat_twelve_weeks(sets_in_the_eleventh: u8) -> Gym {
    let gym = Gym::new();
    for week in 0..12 {
        let sets = if week == 10 { sets_in_the_eleventh } else { 4 };
        for day in [0, 3] {
            gym.log(on(7 * week + day), "back squat", 100.0, sets);
        }
    }
    gym
}

#[test]
fn weeks_that_were_light_by_plan_say_nothing_of_the_usual_dose() {
    let days = (on(7 * 10), on(7 * 10 + 6));
    let light = |muscle: Muscle| PlanChange::Light { days, sets_pct: 50, muscles: vec![muscle] };
    let of = |gym: &Gym| {
        let view = gym.desk.dose_record(&wilma(), on(7 * 12)).unwrap();
        let quadriceps = view.muscles.into_iter().find(|one| one.muscle == "quadriceps").unwrap();
        (quadriceps.mean.unwrap(), quadriceps.proposal.unwrap().words)
    };
    let (mean, words) = of(&a_flat_twelve_weeks(4));
    assert!(mean == 8.0 && words.contains("; 8.0 hard sets a week in a range"), "{words}");
    let gym = a_flat_twelve_weeks(2);
    gym.change(light(Muscle::Chest)).unwrap();
    let (mean, words) = of(&gym);
    assert!(mean == 7.0 && words.contains("; 7.5 hard sets a week in a range"), "{words}");
    gym.change(light(Muscle::Quadriceps)).unwrap();
    let (mean, words) = of(&gym);
    let told = "; 8.0 hard sets a week (without one week that was light by plan) in a range";
    assert!(mean == 7.0 && words.contains(told), "{words}");
}

#[test]
fn whoever_asks_why_a_lift_is_flat_is_told_of_light_days() {
    let gym = a_flat_twelve_weeks(4);
    let squat = LiftName::new("back squat").unwrap();
    let evidence = || {
        let view = gym.desk.lift(&wilma(), &squat, &Fields::default(), on(7 * 12)).unwrap();
        let causes = view.lift.why.unwrap().causes;
        causes.into_iter().find(|one| one.cause == "under-dosed").unwrap().evidence
    };
    assert!(!evidence().contains("by plan"));
    gym.change(PlanChange::Drop { day: on(7 * 11) }).unwrap();
    assert!(evidence().ends_with("left out by plan fall into these weeks."), "{}", evidence());
}
