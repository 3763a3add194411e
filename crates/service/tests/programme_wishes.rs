//! Wishes as a form: filled in from what is known, every mistake beside its field, and the same week as from
//! the file. Everybody here is invented.

use domain::{
    CheckIn, Joint, Lifter, LifterName, Load, LoggedSet, Note, Pain, Priority, Reps, SetKind,
    SetNumber, Unit, When,
};
use engine::programme::draft::Keep;
use jiff::civil::{Date, date};
use jiff::{Timestamp, ToSpan};
use service::forms::{Fields, FormError, Problems};
use service::programme::{
    DraftOrder, DraftProgress, DraftView, DraftWatch, read_programme, read_wishes, write_wishes,
};
use service::{Desk, Store};
use store::OnDifference;

const TODAY: Date = date(2031, 5, 6);

fn now() -> Timestamp {
    "2031-05-06T08:00:00Z".parse().unwrap()
}

fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

/// A desk with one invented lifter who has no programme, trains on Tuesdays and Fridays, was there once on a
/// Sunday, has told of a knee, and has tested the bench press.
fn desk() -> (Desk, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    let wilma = name("Wilma Tarn");
    store.put_lifter(&Lifter::usual(wilma.clone(), Unit::Kg), now()).unwrap();
    let mut into = store.begin_import("a log", now()).unwrap();
    let mut add = |day: Date, lift: &str, kind: SetKind, n: u8, reps: u16| {
        let set = LoggedSet {
            lifter: wilma.clone(),
            when: When::new(day, None).unwrap(),
            lift: domain::LiftName::new(lift).unwrap(),
            number: SetNumber::new(n).unwrap(),
            kind,
            load: Load::parse("60", Unit::Kg).unwrap(),
            reps: Reps::new(reps).unwrap(),
            rir: None,
            note: Note::default(),
        };
        into.add_set(&set, OnDifference::Keep).unwrap();
    };
    for weeks in 0..4 {
        let tuesday = date(2031, 5, 6).saturating_sub((7 * weeks).days());
        for n in 1..=3 {
            add(tuesday, "back squat", SetKind::Work, n, 6);
            add(tuesday.saturating_sub(4.days()), "bench press", SetKind::Work, n, 8);
        }
    }
    add(date(2031, 4, 27), "chin-up", SetKind::Work, 1, 8);
    add(date(2031, 3, 1), "bench press", SetKind::Test, 1, 2);
    for (day, joint, rating) in
        [(date(2031, 4, 30), Joint::Knee, 4), (date(2031, 4, 30), Joint::Wrist, 1)]
    {
        let check_in = CheckIn {
            lifter: wilma.clone(),
            when: When::new(day, None).unwrap(),
            sleep_h: None,
            stress: None,
            soreness: None,
            body_mass: None,
            pain: Some(Pain::new(joint, rating).unwrap()),
        };
        into.add_check_in(&check_in, OnDifference::Keep).unwrap();
    }
    into.commit().unwrap();
    (Desk::new(store), folder)
}

fn problems(answer: Result<DraftOrder, FormError>) -> Problems {
    match answer {
        Err(FormError::Problems(problems)) => problems,
        other => panic!("{other:?}"),
    }
}

/// Goes so many steps for each week, and counts what it is shown.
struct Steps(u64, usize);

impl DraftWatch for Steps {
    fn go_on(&mut self, progress: &DraftProgress) -> bool {
        progress.steps < self.0
    }

    fn wants_to_see(&mut self) -> bool {
        true
    }

    fn see(&mut self, view: &DraftView) {
        assert!(!view.weeks.is_empty());
        self.1 += 1;
    }
}

#[test]
fn the_form_is_filled_in_from_the_log_and_the_check_ins() {
    let (desk, _folder) = desk();
    let form = desk.wishes_form(&name("Wilma Tarn"), None, TODAY).unwrap();
    let ticked: Vec<&str> =
        form.fields.iter().filter(|(_, text)| *text == "on").map(|(field, _)| field).collect();
    // One Sunday in four weeks is no habit, and a wrist at 1 of 10 no reason to spare it.
    assert_eq!(ticked, ["day_Friday", "day_Tuesday", "spare_knee"]);
    // It was tested within a year; a day begins with the back squat, but that loads the knee.
    assert_eq!(form.fields.get("raise"), "bench press");
    assert_eq!(form.fields.get("minutes_Tuesday"), "30");
    let present = form.present.unwrap();
    assert_eq!(present.followed, None);
    let days: Vec<(&str, &str, &str)> = present
        .days
        .iter()
        .map(|day| (day.weekday, day.lifts[0].lift.as_str(), day.lifts[0].sets.as_str()))
        .collect();
    assert_eq!(days, [("Tuesday", "back squat", "3 × 6–9"), ("Friday", "bench press", "3 × 8–11")]);
    let wrist = form.joints.iter().find(|joint| joint.key == "wrist").unwrap();
    assert_eq!(wrist.told.as_deref(), Some("pain of 1 in 10 told on Wed 30 Apr"));
}

// What a coach would say of weeks drafted without a word on lifts: dips had taken the place of every bench press,
// and front and back squat were both to go up.
#[test]
fn what_days_are_built_on_is_to_go_up_and_what_is_done_besides_is_preferred() {
    let (desk, _folder) = desk();
    let otto = name("Otto Quay");
    desk.store().put_lifter(&Lifter::usual(otto.clone(), Unit::Kg), now()).unwrap();
    let day = |weekday: &str, lifts: &[&str]| {
        let lift = |lift: &&str| {
            format!(
                "[[day.lift]]\nlift = \"{lift}\"\nsets = 3\nreps = [5, 8]\n\
                 progression = {{ rule = \"double progression\" }}\n"
            )
        };
        let lifts: String = lifts.iter().map(lift).collect();
        format!("[[day]]\nweekday = \"{weekday}\"\n{lifts}")
    };
    let text = format!(
        "name = \"Three days\"\n{}{}{}",
        day("Mon", &["back squat", "bench press", "lying leg curl"]),
        day("Wed", &["deadlift", "overhead press", "chin-up"]),
        day("Fri", &["front squat", "dumbbell bench press", "barbell row"])
    );
    desk.set_programme(&otto, &text, None, (TODAY, now())).unwrap();
    let form = desk.wishes_form(&otto, None, TODAY).unwrap();
    assert_eq!(form.fields.get("raise"), "back squat, deadlift, bench press, overhead press");
    assert_eq!(
        form.fields.get("prefer"),
        "front squat, dumbbell bench press, chin-up, barbell row"
    );
    let order = desk.draft_order(&otto, &form.fields, None, TODAY).unwrap();
    let view = order.draft((1, 1), &mut Steps(60_000, 0)).unwrap();
    let week = &view.weeks[0];
    let lifts = || week.days.iter().flat_map(|day| &day.lifts).map(|lift| lift.lift.as_str());
    for lift in ["back squat", "deadlift", "bench press", "overhead press"] {
        assert!(lifts().any(|other| other == lift), "{lift}: {week:#?}");
    }
    // On two days he trains with all he has; with less, less is taken.
    let two = text[..text.find("[[day]]\nweekday = \"Fri\"").unwrap()].to_owned();
    desk.set_programme(&otto, &two, None, (TODAY, now())).unwrap();
    let form = desk.wishes_form(&otto, None, TODAY).unwrap();
    assert_eq!(form.fields.get("raise"), "back squat, deadlift, bench press");
}

#[test]
fn the_form_is_filled_in_from_the_programme_that_is_followed() {
    let (desk, _folder) = desk();
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/programme.toml");
    let text = std::fs::read_to_string(path).unwrap();
    let wilma = name("Wilma Tarn");
    desk.set_programme(&wilma, &text, None, (TODAY, now())).unwrap();
    let programme = read_programme(&text).unwrap();
    let form = desk.wishes_form(&wilma, None, TODAY).unwrap();
    assert_eq!(form.fields.get("name"), programme.name.as_str());
    assert_eq!(form.present.unwrap().followed.as_deref(), Some(programme.name.as_str()));
    let order = desk.draft_order(&wilma, &form.fields, None, TODAY).unwrap();
    let wishes = &order.file().wishes;
    assert_eq!(wishes.present.as_ref(), Some(&programme));
    assert_eq!(wishes.purpose.raise, programme.purpose.raise);
    assert_eq!(wishes.purpose.dose, programme.purpose.dose);
    assert_eq!(wishes.days.len(), programme.days().len());
    for (wish, day) in wishes.days.iter().zip(programme.days()) {
        assert_eq!(wish.weekday, day.weekday());
        assert!(day.minutes().is_none() || wish.minutes == day.minutes());
    }
}

#[test]
fn what_is_typed_becomes_wishes_and_a_file_that_says_the_same() {
    let (desk, _folder) = desk();
    let wilma = name("Wilma Tarn");
    let form = desk.wishes_form(&wilma, None, TODAY).unwrap();
    let typed = form
        .fields
        .with("day_Sunday", "on")
        .with("minutes_Sunday", "45")
        .with("prefer", "chin-up, lateral raise")
        .with("refuse", "deadlift")
        .with("priority_lats", "high")
        .with("priority_calves", "low")
        .with("dose", "chest: 4 8 14")
        .with("most_lifts", "6")
        .with("ignore_hours", "on")
        .with("keep", "all")
        .with("equipment_barbell", "on")
        .with("equipment_bodyweight", "on")
        .with("equipment_dumbbell", "on")
        .with("stay_Friday_1", "bench press")
        .with("fix1_lift", "chin-up")
        .with("fix1_weekday", "Sunday")
        .with("fix1_sets", "4")
        .with("fix1_reps", "5-8");
    let order = desk.draft_order(&wilma, &typed, None, TODAY).unwrap();
    let file = order.file();
    let wishes = &file.wishes;
    let pinned: Vec<(&str, String, u8)> = wishes
        .days
        .iter()
        .flat_map(|day| {
            day.pinned.iter().map(|lift| (day.name(), lift.lift().to_string(), lift.sets()))
        })
        .collect();
    assert_eq!(
        pinned,
        [("Friday", "bench press".to_owned(), 3), ("Sunday", "chin-up".to_owned(), 4)]
    );
    assert_eq!(wishes.keep, Keep::All);
    assert_eq!(wishes.purpose.drafting.priorities.values().copied().collect::<Vec<_>>(), {
        let high_first = wishes.purpose.drafting.priorities.keys().next().unwrap().key() == "lats";
        if high_first { [Priority::High, Priority::Low] } else { [Priority::Low, Priority::High] }
    });
    // The file says the same, but for what the lifter does now.
    let mut read = read_wishes(&write_wishes(file)).unwrap();
    assert!(wishes.present.is_some());
    read.wishes.present.clone_from(&wishes.present);
    assert_eq!(&read, file);

    let mut steps = Steps(20_000, 0);
    let view = order.draft((2, 1), &mut steps).unwrap();
    assert!(view.contradiction.is_empty(), "{:?}", view.contradiction);
    assert!(steps.1 > view.weeks.len(), "a week is shown before it is done: {}", steps.1);
    let sunday = view.weeks[0].days.iter().find(|day| day.weekday == "Sunday").unwrap();
    assert!(
        sunday.lifts.iter().any(|lift| lift.lift == "chin-up" && lift.sets.starts_with("4 × 5–8"))
    );
    assert!(view.weeks[0].gap_pct.is_some_and(|gap| (0.0..100.0).contains(&gap)));

    // A week that is kept, and changed by hand, still knows what was wanted: the next draft begins with it.
    let drafted = read_programme(&view.weeks[0].text).unwrap();
    assert_eq!(drafted.purpose, wishes.purpose);
    let form = desk.drafted_form(&wilma, &drafted, TODAY).unwrap().fields;
    desk.keep_programme_form(&wilma, &form.with("note", "invented"), now()).unwrap();
    let tomorrow = TODAY.tomorrow().unwrap();
    let form = desk.wishes_form(&wilma, None, tomorrow).unwrap().fields;
    for (field, text) in [
        ("refuse", "deadlift"),
        ("priority_lats", "high"),
        ("priority_calves", "low"),
        ("priority_chest", ""),
        ("most_lifts", "6"),
        ("ignore_hours", "on"),
    ] {
        assert_eq!(form.get(field), text, "{field}");
    }
    let order = desk.draft_order(&wilma, &form, None, tomorrow).unwrap();
    assert_eq!(order.file().wishes.purpose, wishes.purpose);
}

#[test]
fn a_lift_that_is_refused_is_proposed_for_nothing() {
    let (desk, _folder) = desk();
    let wilma = name("Wilma Tarn");
    let proposed = |refuse: &str| {
        let lift = |lift: &str| {
            let double = r#"progression = { rule = "double progression" }"#;
            format!("[[day.lift]]\nlift = \"{lift}\"\nsets = 3\nreps = [5, 8]\n{double}\n")
        };
        let lifts = [lift("overhead press"), lift("barbell row")].concat();
        let text = format!(
            "name = \"Invented\"\nrefuse = [{refuse}]\n[[day]]\nweekday = \"Monday\"\n{lifts}"
        );
        let programme = read_programme(&text).unwrap();
        let form = desk.drafted_form(&wilma, &programme, TODAY).unwrap().fields;
        desk.keep_programme_form(&wilma, &form, now()).unwrap();
        let form = desk.wishes_form(&wilma, None, TODAY).unwrap().fields;
        format!("{}, {}", form.get("raise"), form.get("prefer"))
    };
    let all = proposed("");
    for lift in ["bench press", "barbell row"] {
        assert!(all.contains(lift), "{all}");
        let left = proposed(&format!("\"{lift}\""));
        assert!(!left.contains(lift), "{left}");
    }
}

#[test]
fn a_drafted_week_is_changed_and_stays_as_it_is_where_it_can() {
    let (desk, _folder) = desk();
    let wilma = name("Wilma Tarn");
    let form = desk.wishes_form(&wilma, None, TODAY).unwrap();
    let typed = form.fields.with("day_Sunday", "on").with("minutes_Sunday", "60");
    let order = desk.draft_order(&wilma, &typed, None, TODAY).unwrap();
    let first = order.draft((1, 1), &mut Steps(30_000, 0)).unwrap();
    let drafted = read_programme(&first.weeks[0].text).unwrap();
    // Five minutes less on one day.
    let typed = typed.with("minutes_Sunday", "55").with("present", "draft").with("keep", "all");
    let order = desk.draft_order(&wilma, &typed, Some(drafted.clone()), TODAY).unwrap();
    let again = order.draft((1, 1), &mut Steps(30_000, 0)).unwrap();
    let (kept, all) = again.weeks[0].kept.unwrap();
    assert!(4 * kept >= 3 * all, "{kept} of {all}");
    // The form of the programme holds the week and what is to be said of it, and keeps nothing.
    let form = desk.drafted_form(&wilma, &drafted, TODAY).unwrap();
    assert!(form.is_drafted && form.check.is_some() && form.problems.is_empty());
    assert_eq!(form.fields.get("begins"), "2031-05-06");
    assert!(desk.programme(&wilma, TODAY).unwrap().now.is_none());
    desk.keep_programme_form(&wilma, &form.fields, now()).unwrap();
    let kept = desk.programme(&wilma, TODAY).unwrap().now.unwrap();
    assert_eq!(kept.programme.days(), drafted.days());
}

#[test]
fn wishes_in_each_others_way_lead_to_their_fields() {
    let (desk, _folder) = desk();
    let wilma = name("Wilma Tarn");
    let form = desk.wishes_form(&wilma, None, TODAY).unwrap();
    let typed = form.fields.with("raise", "back squat");
    let order = desk.draft_order(&wilma, &typed, None, TODAY).unwrap();
    let view = order.draft((1, 1), &mut Steps(1_000, 0)).unwrap();
    let fields: Vec<&str> = view.contradiction.iter().map(|wish| wish.field.as_str()).collect();
    assert_eq!(fields, ["raise", "spare_knee"]);
    let typed = Fields::default()
        .with("name", "Neither")
        .with("present", "none")
        .with("day_Monday", "on")
        .with("raise", "deadlift")
        .with("refuse", "deadlift");
    let order = desk.draft_order(&wilma, &typed, None, TODAY).unwrap();
    let view = order.draft((1, 1), &mut Steps(1_000, 0)).unwrap();
    let fields: Vec<&str> = view.contradiction.iter().map(|wish| wish.field.as_str()).collect();
    assert_eq!(fields, ["refuse", "raise"]);
}

#[test]
fn every_mistake_is_told_beside_its_field() {
    let (desk, _folder) = desk();
    let wilma = name("Wilma Tarn");
    let form = desk.wishes_form(&wilma, None, TODAY).unwrap().fields;
    let check = |change: &dyn Fn(Fields) -> Fields, field: &str, needed: &str| {
        let wrong = problems(desk.draft_order(&wilma, &change(form.clone()), None, TODAY));
        let told = wrong.of(field).unwrap_or_else(|| panic!("{field}: {wrong:?}"));
        assert!(told.contains(needed), "{told}");
        assert_eq!(wrong.iter().count(), 1, "{wrong:?}");
    };
    check(&|form| form.with("name", ""), "name", "at least one letter");
    check(&|form| form.with("minutes_Tuesday", "5"), "minutes_Tuesday", "10");
    check(&|form| form.with("minutes_Tuesday", "soon"), "minutes_Tuesday", "soon");
    check(&|form| form.with("raise", "bakc squat"), "raise", "did you mean");
    check(&|form| form.with("refuse", "glue squat"), "refuse", "glue squat");
    check(&|form| form.with("most_lifts", "0"), "most_lifts", "from 1 to 20");
    check(&|form| form.with("dose", "chest 4"), "dose", "line 1");
    check(&|form| form.with("present", "draft"), "present", "waits no more");
    check(&|form| form.with("stay_Friday_1", "deadlift"), "fixed", "has changed");
    let fixed = |form: Fields| {
        form.with("fix1_lift", "chin-up").with("fix1_sets", "3").with("fix1_reps", "5")
    };
    check(&|form| fixed(form).with("fix1_weekday", "Sunday"), "fix1_weekday", "isn't ticked");
    let none = Fields::default().with("name", "None").with("present", "none");
    let wrong = problems(desk.draft_order(&wilma, &none, None, TODAY));
    assert_eq!(wrong.of("day_Monday"), Some("tick at least one day"));
}
