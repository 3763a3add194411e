//! Cards that follow a programme: which session is next, how each lift moves on, and what a lift begins with.
//! The lifter and her log are invented.

use domain::{
    LiftName, Lifter, LifterName, Load, LoggedSet, Note, Reps, Rir, SetKind, SetNumber, Unit, When,
};
use jiff::Timestamp;
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use service::programme::ProgrammeError;
use service::view::{CardLift, CardSet, CardView};
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

struct Gym {
    desk: Desk,
    _folder: tempfile::TempDir,
}

impl Gym {
    /// Wilma's record before the programme: squats and bench presses for five, twice a week, repeating.
    fn new() -> Gym {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
        store.put_lifter(&Lifter::usual(wilma(), Unit::Kg), now()).unwrap();
        let gym = Gym { desk: Desk::new(store), _folder: folder };
        for day in ["2031-04-22", "2031-04-25", "2031-04-29", "2031-05-02"] {
            gym.log(day, "back squat", 100.0, &[5, 5, 5]);
            gym.log(day, "bench press", 80.0, &[5, 5, 5]);
        }
        gym
    }

    fn log(&self, day: &str, lift: &str, kg: f64, reps: &[u16]) {
        self.log_of(&wilma(), day, lift, kg, reps);
    }

    fn log_of(&self, lifter: &LifterName, day: &str, lift: &str, kg: f64, reps: &[u16]) {
        let mut import = self.desk.store().begin_import("a log", now()).unwrap();
        for (idx, count) in reps.iter().enumerate() {
            let set = LoggedSet {
                lifter: lifter.clone(),
                when: When::parse(day).unwrap(),
                lift: LiftName::new(lift).unwrap(),
                number: SetNumber::new(idx as u8 + 1).unwrap(),
                kind: SetKind::Work,
                load: Load::from_kg(kg).unwrap(),
                reps: Reps::new(*count).unwrap(),
                rir: Some(Rir::new(2.0).unwrap()),
                note: Note::default(),
            };
            import.add_set(&set, OnDifference::Keep).unwrap();
        }
        import.commit().unwrap();
    }

    fn follow(&self, days: &str) {
        let text = format!("name = \"By the quay\"\n{days}");
        self.desk.set_programme(&wilma(), &text, Some(FIRST), (FIRST, now())).unwrap();
    }

    fn card(&self, day: Date) -> CardView {
        self.desk.card(&wilma(), day).unwrap()
    }
}

/// A day of a programme with lifts, each as name, sets, reps and rule.
fn day(weekday: &str, lifts: &[(&str, &str)]) -> String {
    let mut text = format!("[[day]]\nweekday = \"{weekday}\"\n");
    for (lift, rest) in lifts {
        text.push_str(&format!("[[day.lift]]\nlift = \"{lift}\"\n{rest}\n"));
    }
    text
}

const DOUBLE: &str =
    "sets = 3\nreps = [5, 8]\nrir = 2\nprogression = { rule = \"double progression\" }";

fn on(days: i64) -> Date {
    FIRST + jiff::Span::new().days(days)
}

fn lift<'a>(card: &'a CardView, name: &str) -> &'a CardLift {
    card.lifts.iter().find(|lift| lift.name == name).unwrap_or_else(|| panic!("{card:?}"))
}

/// A set as `100 × 5`, in kg.
fn told(set: &CardSet) -> String {
    let load = set.load.map_or("?".to_owned(), |load| format!("{}", load.kg()));
    format!("{load} × {}", set.reps)
}

#[test]
fn the_session_of_the_day_comes_first_then_what_was_missed_then_what_comes() {
    let gym = Gym::new();
    gym.follow(
        &[
            day("Mon", &[("back squat", DOUBLE), ("leg press", DOUBLE)]),
            day("Wed", &[("bench press", DOUBLE), ("chin-up", DOUBLE)]),
            day("Fri", &[("deadlift", DOUBLE), ("overhead press", DOUBLE)]),
        ]
        .concat(),
    );
    let basis = |days: i64| gym.card(on(days)).basis;
    let (its_day, missed) =
        ("of “By the quay”.", "of “By the quay”, which wasn't done on its day.");
    let comes = "of “By the quay”: nothing is planned before it, so it comes next.";
    assert_eq!(basis(0), format!("Monday {its_day}"));
    assert_eq!(basis(1), format!("Monday {missed}"));
    assert_eq!(basis(2), format!("Wednesday {its_day}"));
    // Monday's is done on Tuesday; a lift more and one less are no matter.
    gym.log("2031-05-06", "back squat", 100.0, &[5, 5, 5]);
    gym.log("2031-05-06", "hip thrust", 90.0, &[8]);
    assert_eq!(basis(2), format!("Wednesday {its_day}"));
    assert_eq!(basis(3), format!("Wednesday {missed}"));
    // Friday's is done on Wednesday already, so Wednesday's is what is left on Friday.
    gym.log("2031-05-07", "deadlift", 120.0, &[5]);
    gym.log("2031-05-07", "overhead press", 50.0, &[5]);
    assert_eq!(basis(4), format!("Wednesday {missed}"));
    gym.log("2031-05-08", "chin-up", 0.0, &[8]);
    assert_eq!(basis(4), format!("Monday {comes}"), "the week is done");
    assert_eq!(basis(7), format!("Monday {its_day}"));
    // Before it begins the log says what is next.
    let before = gym.card(on(-1)).basis;
    assert!(before.starts_with("The lifts of "), "{before}");
    // A day of the first week that lies before the begin wasn't missed.
    gym.desk
        .set_programme(
            &wilma(),
            &format!(
                "name = \"Another\"\n{}{}",
                day("Mon", &[("dip", DOUBLE)]),
                day("Fri", &[("dip", DOUBLE)])
            ),
            Some(on(2)),
            (FIRST, now()),
        )
        .unwrap();
    let comes = gym.card(on(3)).basis;
    assert!(comes.starts_with("Friday of “Another”: nothing is planned before it"), "{comes}");
}

/// A programme that begins when all its weekdays of that week are past has its first week after that.
#[test]
fn a_week_without_a_session_ahead_is_not_the_first() {
    let gym = Gym::new();
    let wave = "progression = { rule = \"wave\", weeks = [{ sets = 3, reps = 8, pct = 70 }, \
                { sets = 4, reps = 6, pct = 75 }] }";
    let sunday = FIRST.saturating_add(jiff::Span::new().days(6));
    let text = format!("name = \"Late\"\n{}", day("Mon", &[("back squat", wave)]));
    gym.desk.set_programme(&wilma(), &text, Some(sunday), (FIRST, now())).unwrap();
    let basis = |days: i64| gym.card(sunday.saturating_add(jiff::Span::new().days(days))).basis;
    assert_eq!(
        basis(0),
        "Monday of “Late”, week 1 of 2: nothing is planned before it, so it comes next."
    );
    assert_eq!(basis(1), "Monday of “Late”, week 1 of 2.");
    assert_eq!(basis(8), "Monday of “Late”, week 2 of 2.");
    let view = gym.desk.programme(&wilma(), sunday).unwrap();
    assert_eq!(view.week, None, "before the first week");
}

#[test]
fn a_lift_moves_on_by_its_rule_and_a_new_range_begins_by_todays_1rm() {
    let gym = Gym::new();
    let eights =
        "sets = 4\nreps = [8, 12]\nrir = 2\nprogression = { rule = \"double progression\" }";
    let steps = "sets = 3\nreps = 5\nrir = 2\nprogression = { rule = \"load steps\", step_kg = 5 }";
    gym.follow(&day("Mon", &[("back squat", steps), ("bench press", eights)]));
    let card = gym.card(FIRST);
    let squat = lift(&card, "back squat");
    assert_eq!(told(&squat.lead), "105 × 5", "{}", squat.why);
    assert_eq!(squat.remaining.len(), 2);
    // 80 kg for 5 with 2 left is about 98.7 kg by Epley's curve, and 98.7 / (1 + 10/30) = 74.
    let bench = lift(&card, "bench press");
    let load = bench.lead.load.unwrap().kg();
    assert!((70.0..=75.0).contains(&load), "{load}: {}", bench.why);
    assert_eq!((bench.lead.reps, bench.lead_rir, bench.remaining.len()), (8, Some(2.0), 3));
    assert!(bench.why.contains("8–12 reps wanted, and the last lead set had 5"), "{}", bench.why);
    // Done as planned, it goes on from there.
    gym.log("2031-05-05", "bench press", load, &[8, 8, 8, 8]);
    let card = gym.card(on(7));
    assert_eq!(told(&lift(&card, "bench press").lead), format!("{load} × 9"));
    // The page of the lifter says the same.
    let view = gym.desk.lifter(&wilma(), on(7)).unwrap();
    let target = view.lifts.iter().find(|lift| lift.name == "bench press").unwrap();
    let target = target.target.as_ref().unwrap();
    assert_eq!((target.load.kg(), target.reps, target.sets), (load, 9, 4));
}

#[test]
fn days_that_plan_a_lift_differently_move_on_apart() {
    let gym = Gym::new();
    let eights =
        "sets = 3\nreps = 8\nrir = 2\nprogression = { rule = \"load steps\", step_kg = 2.5 }";
    let days = [day("Mon", &[("bench press", DOUBLE)]), day("Fri", &[("bench press", eights)])];
    gym.follow(&days.concat());
    // 5 to 8 goes on from the log.
    assert_eq!(told(&lift(&gym.card(FIRST), "bench press").lead), "80 × 6");
    gym.log("2031-05-05", "bench press", 80.0, &[6, 6, 6]);
    let friday = gym.card(on(4));
    let light = lift(&friday, "bench press").lead.load.unwrap().kg();
    assert!((70.0..80.0).contains(&light), "{light}");
    gym.log("2031-05-09", "bench press", light, &[8, 8, 8]);
    let monday = gym.card(on(7));
    assert_eq!(told(&lift(&monday, "bench press").lead), "80 × 7", "Friday's eights don't count");
    gym.log("2031-05-12", "bench press", 80.0, &[7, 7, 7]);
    let friday = gym.card(on(11));
    assert_eq!(told(&lift(&friday, "bench press").lead), format!("{} × 8", light + 2.5));
}

#[test]
fn a_lift_without_a_record_has_no_load_and_says_how_to_find_one() {
    let gym = Gym::new();
    let press =
        "sets = 3\nreps = [10, 12]\nrir = 1\nprogression = { rule = \"double progression\" }";
    let wave = "rir = 2\nprogression = { rule = \"wave\", weeks = [{ sets = 3, reps = 8, pct = 70 }, \
                { sets = 4, reps = 6, pct = 75 }] }";
    gym.follow(&day("Mon", &[("leg press", press), ("front squat", wave), ("back squat", wave)]));
    let card = gym.card(FIRST);
    let names: Vec<&str> = card.lifts.iter().map(|lift| lift.name.as_str()).collect();
    assert_eq!(names, ["leg press", "front squat", "back squat"]);
    let new = lift(&card, "leg press");
    assert_eq!((told(&new.lead), new.lead_rir), ("? × 10".to_owned(), Some(3.0)));
    assert_eq!(new.remaining.iter().map(told).collect::<Vec<_>>(), ["? × 10", "? × 10"]);
    assert!(new.why.contains("3 or more repetitions in reserve"), "{}", new.why);
    assert!((new.chance, new.expected.as_ref(), new.outcomes.len()) == (None, None, 0));
    assert_eq!(lift(&card, "front squat").remaining.len(), 2);
    // The next week of the wave.
    let card = gym.card(on(7));
    assert!(card.basis.contains("week 2 of 2"), "{}", card.basis);
    assert_eq!(told(&lift(&card, "front squat").lead), "? × 6");
    let squat = lift(&card, "back squat");
    assert_eq!((squat.lead.reps, squat.remaining.len()), (6, 3));
    assert!(squat.why.contains("of today's 1RM"), "{}", squat.why);
    // The phone can log it from the lightest load on.
    let day = gym.desk.floor_day(&wilma(), FIRST, &TimeZone::UTC).unwrap();
    let on_phone = day.lifts.iter().find(|lift| lift.card.name == "leg press").unwrap();
    assert_eq!(on_phone.card.lead.load, None);
    assert_eq!((on_phone.sets, on_phone.rungs[0].load), (3, on_phone.load));
    assert!(on_phone.rungs.windows(2).all(|two| two[0].load < two[1].load));
    // Once it is logged it has a record.
    gym.log("2031-05-05", "leg press", 120.0, &[12, 12, 12]);
    assert!(lift(&gym.card(on(7)), "leg press").lead.load.is_some());
}

#[test]
fn a_lift_that_comes_twice_in_a_session_is_one_line_with_further_sets() {
    let gym = Gym::new();
    let top = "sets = 1\nreps = [3, 5]\nrir = 2\nprogression = { rule = \"double progression\" }";
    let back_off = "sets = 2\nreps = 8\nprogression = { rule = \"share of today\", pct = 70 }";
    gym.follow(&day(
        "Mon",
        &[("back squat", top), ("bench press", DOUBLE), ("back squat", back_off)],
    ));
    let card = gym.card(FIRST);
    assert_eq!(card.lifts.len(), 2);
    let squat = lift(&card, "back squat");
    assert_eq!(squat.remaining.len(), 2);
    assert!(squat.remaining.iter().all(|set| set.reps == 8 && set.load < squat.lead.load));
    let day = gym.desk.floor_day(&wilma(), FIRST, &TimeZone::UTC).unwrap();
    assert_eq!(day.lifts[0].sets, 3);
}

#[test]
fn a_lifter_with_a_programme_and_no_log_has_a_card() {
    let gym = Gym::new();
    let new = LifterName::new("Odd Birk").unwrap();
    gym.desk.store().put_lifter(&Lifter::usual(new.clone(), Unit::Kg), now()).unwrap();
    let none = gym.desk.card(&new, FIRST).unwrap_err();
    assert!(matches!(none, ServiceError::NoSession { .. }), "{none}");
    gym.follow(&day("Mon", &[("back squat", DOUBLE)]));
    gym.desk.copy_programme(&wilma(), &new, None, (FIRST, now())).unwrap();
    let card = gym.desk.card(&new, FIRST).unwrap();
    assert_eq!(told(&card.lifts[0].lead), "? × 5");
    // Taken away, there is nothing again.
    gym.desk.withdraw_programme(&new, "", now()).unwrap();
    assert!(gym.desk.card(&new, FIRST).is_err());
}

#[test]
fn a_programme_with_a_lift_that_nobody_knows_is_refused_and_the_old_one_stays() {
    let gym = Gym::new();
    gym.follow(&day("Mon", &[("back squat", DOUBLE)]));
    let text = format!("name = \"Other\"\n{}", day("Mon", &[("bakc squat", DOUBLE)]));
    let error = gym.desk.set_programme(&wilma(), &text, None, (FIRST, now())).unwrap_err();
    assert!(matches!(error, ProgrammeError::UnknownLifts(_)), "{error}");
    assert!(error.to_string().contains("did you mean back squat"), "{error}");
    let there = gym.desk.programme(&wilma(), FIRST).unwrap();
    assert_eq!(there.now.unwrap().programme.name.as_str(), "By the quay");
    assert_eq!(there.versions.len(), 1);
}

#[test]
fn the_lifters_page_says_what_comes_next_and_what_of_the_plan_is_done() {
    let gym = Gym::new();
    let none = gym.desk.lifter(&wilma(), FIRST).unwrap();
    assert!(none.programme.is_none() && none.next.is_empty() && none.dose.is_empty());
    gym.follow(
        &[
            day("Mon", &[("back squat", DOUBLE), ("bench press", DOUBLE)]),
            day("Thu", &[("back squat", DOUBLE)]),
        ]
        .concat(),
    );
    gym.log("2031-05-05", "back squat", 100.0, &[6, 6, 6]);
    let view = gym.desk.lifter(&wilma(), on(2)).unwrap();
    assert_eq!(view.programme.as_deref(), Some("By the quay"));
    let next: Vec<(Date, usize)> =
        view.next.iter().map(|session| (session.date, session.lifts.len())).collect();
    // On Wednesday Thursday's comes next, then Monday's and Thursday's of the week after.
    assert_eq!(next, [(on(3), 1), (on(7), 2), (on(10), 1)]);
    let quads = view.dose.iter().find(|line| line.muscle == "quadriceps").unwrap();
    assert_eq!((quads.so_far, quads.planned), (3.0, 6.0));
    // The week before had six sets of squats: 29 April and 2 May.
    assert_eq!(quads.last_week, 6.0);
    let chest = view.dose.iter().find(|line| line.muscle == "chest").unwrap();
    assert_eq!((chest.so_far, chest.planned), (0.0, 3.0));
    // What was missed on Monday is for today.
    let gym = Gym::new();
    gym.follow(&day("Mon", &[("back squat", DOUBLE)]));
    let view = gym.desk.lifter(&wilma(), on(2)).unwrap();
    assert_eq!(view.next[0].date, on(2));
    assert!(view.next[0].basis.contains("wasn't done on its day"), "{}", view.next[0].basis);
}

/// Front squats at 80 % of back squats in lifters who do both: where Wilma, who squats but never did them, begins.
#[test]
fn a_new_lift_begins_where_related_lifts_and_other_lifters_say() {
    let gym = Gym::new();
    gym.follow(&day("Monday", &[("front squat", DOUBLE)]));
    let why = |gym: &Gym| lift(&gym.card(FIRST), "front squat").why.clone();
    assert!(!why(&gym).contains("do both"), "nobody else does: {}", why(&gym));
    let names = ["Odd Birk", "Runa Ost", "Ivo Marsk"];
    for (place, name) in names.into_iter().enumerate() {
        let name = LifterName::new(name).unwrap();
        gym.desk.store().put_lifter(&Lifter::usual(name.clone(), Unit::Kg), now()).unwrap();
        let back = 100.0 + 10.0 * place as f64;
        gym.log_of(&name, "2031-05-01", "back squat", back, &[5]);
        gym.log_of(&name, "2031-05-02", "front squat", 0.8 * back, &[5]);
        // One who does both is too few.
        assert_eq!(why(&gym).contains("do both"), place > 0, "{}", why(&gym));
    }
    let told = why(&gym);
    let both =
        "Of the others on record 3 do both: their front squat is 80\u{a0}% of their back squat";
    assert!(told.contains(both), "{told}");
    // 100 kg for 5 with 2 left is a 1RM near 123 kg on Epley's curve, so 99 kg; by a t-distribution's variance
    // 4·0.15²/6·(4/3)·(6/4) = 0.03, so 0.22 of ln eight times in ten at least; 8 repetitions to failure at the low end.
    let number = |after: &str| -> f64 {
        let rest = &told[told.find(after).unwrap() + after.len()..];
        rest.split([' ', '\u{a0}']).next().unwrap().parse().unwrap()
    };
    let (near, low, first) = (number("lies near "), number("kg ("), number("begin at "));
    assert!((95.0..103.0).contains(&near), "{told}");
    assert!((near * 0.76..near * 0.83).contains(&low), "{told}");
    let most = low / (1.0 + 8.0 / 30.0);
    assert!(first <= most + 0.5 && first > most - 3.0, "{told}");
    let card = gym.card(FIRST);
    let sets = lift(&card, "front squat");
    let loads = std::iter::once(&sets.lead).chain(&sets.remaining).map(|set| set.load.unwrap());
    assert!(loads.map(|load| load.kg()).all(|kg| kg == first), "{sets:?}");
}

#[test]
fn a_new_lift_that_moves_the_body_alone_begins_with_it() {
    let gym = Gym::new();
    gym.follow(&day("Monday", &[("hanging knee raise", DOUBLE), ("front squat", DOUBLE)]));
    let card = gym.card(FIRST);
    let raise = lift(&card, "hanging knee raise");
    assert_eq!(raise.lead.load.map(|load| load.kg()), Some(0.0));
    assert!(raise.why.contains("begin with the body alone"), "{}", raise.why);
    assert_eq!(lift(&card, "front squat").lead.load, None);
}

/// By a share of today's 1RM the reserve is what is expected, so neither a chance nor repetitions are told.
#[test]
fn a_share_of_today_tells_its_reserve_and_no_chance() {
    let gym = Gym::new();
    let share =
        "sets = 3\nreps = 5\nrir = 2\nprogression = { rule = \"share of today\", pct = 70 }";
    gym.follow(&day("Monday", &[("back squat", share)]));
    let card = gym.card(FIRST);
    let squat = lift(&card, "back squat");
    assert!(squat.lead_rir.unwrap() >= 2.0, "{squat:?}");
    assert_eq!((squat.chance, squat.expected.as_deref()), (None, None));
    assert!(squat.why_no_chance.unwrap().contains("leaves about this reserve"));
}
