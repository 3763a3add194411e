//! A programme by hand: the form there and back without loss, and every mistake beside its field. Invented.

use domain::{Lifter, LifterName, Programme, Unit};
use jiff::Timestamp;
use jiff::civil::{Date, date};
use service::forms::{Fields, FormError, Problems};
use service::programme::{days_in, read_programme};
use service::{Desk, Store};

const TODAY: Date = date(2031, 5, 6);

fn now() -> Timestamp {
    "2031-05-06T08:00:00Z".parse().unwrap()
}

fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

/// A desk with two invented lifters, one of them with loads in pounds.
fn desk() -> (Desk, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    store.put_lifter(&Lifter::usual(name("Wilma Tarn"), Unit::Kg), now()).unwrap();
    store.put_lifter(&Lifter::usual(name("Otmar Pell"), Unit::Lb), now()).unwrap();
    (Desk::new(store), folder)
}

/// Every rule and every key that a file can have.
fn example() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/programme.toml");
    std::fs::read_to_string(path).unwrap()
}

fn problems(answer: Result<(), FormError>) -> Problems {
    match answer {
        Err(FormError::Problems(problems)) => problems,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_form_there_and_back_is_the_same_programme_in_both_units() {
    let (desk, _folder) = desk();
    let written = read_programme(&example()).unwrap();
    for who in ["Wilma Tarn", "Otmar Pell"] {
        let who = name(who);
        desk.set_programme(&who, &example(), Some(date(2031, 5, 5)), (TODAY, now())).unwrap();
        let fields = desk.programme_form(&who, None, TODAY).unwrap().fields;
        desk.keep_programme_form(&who, &fields, now()).unwrap();
        let kept = desk.programme(&who, TODAY).unwrap().now.unwrap();
        assert_eq!(kept.begins, date(2031, 5, 5));
        // Classes of equipment are a set; the form has them in its own order.
        let sorted = |programme: &Programme| {
            let mut sorted = programme.clone();
            sorted.purpose.equipment.as_mut().unwrap().sort();
            sorted
        };
        assert_eq!(sorted(&kept.programme), sorted(&written), "{who}");
    }
}

#[test]
fn a_programme_is_written_row_by_row() {
    let (desk, _folder) = desk();
    let wilma = name("Wilma Tarn");
    let form = desk.programme_form(&wilma, None, TODAY).unwrap();
    assert_eq!(days_in(&form.fields), [(1, vec![1, 2, 3])], "one day with room for three");
    assert!(!form.is_there);
    let typed = form
        .fields
        .with("name", "By the quay")
        .with("d1_l1_lift", "bench press")
        .with("d1_l1_sets", "4")
        .with("d1_l1_reps", "5 to 8")
        .with("d1_l1_rir", "1.5")
        .with("d1_l2_lift", "back squat")
        .with("d1_l2_place", "0.5")
        .with("d1_l2_rule", "wave")
        .with("d1_l2_weeks", "3 × 8 at 70 %; 4x6 at 75");
    // A button adds a lift, another one a day; neither keeps anything.
    let more =
        desk.programme_form(&wilma, Some(&typed.clone().with("do", "lift-1")), TODAY).unwrap();
    assert_eq!(days_in(&more.fields), [(1, vec![1, 2, 3, 4])]);
    assert_eq!(more.fields.get("d1_l1_reps"), "5 to 8");
    let more = desk.programme_form(&wilma, Some(&typed.clone().with("do", "day")), TODAY).unwrap();
    assert_eq!(days_in(&more.fields), [(1, vec![1, 2, 3]), (2, vec![1, 2, 3])]);
    assert_eq!(more.fields.get("d2_weekday"), "Tuesday");
    let checked =
        desk.programme_form(&wilma, Some(&typed.clone().with("do", "check")), TODAY).unwrap();
    assert!(checked.problems.is_empty(), "{:?}", checked.problems);
    let check = checked.check.unwrap();
    assert!(check.findings.iter().any(|finding| finding.words.contains("sets")), "{check:?}");
    assert!(check.findings.is_sorted_by_key(|finding| {
        ["put right", "change", "consider"].iter().position(|word| *word == finding.urgency)
    }));
    assert!(desk.programme(&wilma, TODAY).unwrap().now.is_none());

    desk.keep_programme_form(&wilma, &more.fields, now()).unwrap();
    let kept = desk.programme(&wilma, TODAY).unwrap();
    let words: Vec<(String, String)> =
        kept.days[0].lifts.iter().map(|lift| (lift.lift.clone(), lift.sets.clone())).collect();
    assert_eq!(kept.days.len(), 1, "a day without a lift is left out");
    assert_eq!(words[0], ("back squat".to_owned(), "3 × 8 at 70\u{a0}% of today's 1RM".to_owned()));
    assert_eq!(words[1], ("bench press".to_owned(), "4 × 5–8, 1.5 in reserve".to_owned()));

    // A lift whose name is emptied goes, with the reason beside what stood before.
    let again = desk.programme_form(&wilma, None, TODAY).unwrap().fields;
    let again = again.with("d1_l1_lift", "").with("reason", "a sore back");
    desk.keep_programme_form(&wilma, &again, now()).unwrap();
    let kept = desk.programme(&wilma, TODAY).unwrap();
    assert_eq!(kept.days[0].lifts.len(), 1);
    assert_eq!((kept.versions.len(), kept.versions[0].reason.as_str()), (2, "a sore back"));
}

#[test]
fn every_mistake_is_told_beside_its_field_and_nothing_is_kept() {
    let (desk, _folder) = desk();
    let wilma = name("Wilma Tarn");
    let row = |fields: Fields, row: &str, parts: &[(&str, &str)]| {
        parts
            .iter()
            .fold(fields, |fields, (part, text)| fields.with(&format!("{row}_{part}"), text))
    };
    let fields = Fields::default()
        .with("begins", "someday")
        .with("raise", "bench press, bakc squat")
        .with("dose", "quadriceps: 4 8 14\nchest 4 8 14")
        .with("d1_weekday", "Monday")
        .with("d1_minutes", "soon")
        .with("d2_weekday", "Monday");
    let fields = row(fields, "d1_l1", &[("lift", "bakc squat"), ("sets", ""), ("reps", "8-5")]);
    let fields = row(fields, "d1_l2", &[("lift", "dip"), ("sets", "300"), ("reps", "five")]);
    let fields = row(
        fields,
        "d1_l3",
        &[("lift", "dip"), ("sets", "3"), ("reps", "5"), ("rule", "rep goal"), ("goal", "99")],
    );
    let fields = row(
        fields,
        "d1_l4",
        &[("lift", "dip"), ("sets", "3"), ("reps", "5-8"), ("rule", "load steps"), ("rir", "99")],
    );
    let fields = row(
        fields,
        "d1_l5",
        &[("lift", "dip"), ("rule", "wave"), ("weeks", "3 x 8 at 70; 3 by 6")],
    );
    let fields = row(
        fields,
        "d1_l6",
        &[
            ("lift", "dip"),
            ("sets", "30"),
            ("reps", "5"),
            ("step", "0"),
            ("rest", "5"),
            ("place", "top"),
        ],
    );
    let fields = row(
        fields,
        "d1_l7",
        &[
            ("lift", "dip"),
            ("sets", "3"),
            ("reps", "5"),
            ("rule", "share of today"),
            ("share", "300"),
        ],
    );
    let told = problems(desk.keep_programme_form(&wilma, &fields, now()));
    for (field, words) in [
        ("begins", "someday"),
        ("name", "name"),
        ("raise", "did you mean back squat"),
        ("dose", "line 2: `chest 4 8 14` can't be read"),
        ("d1_minutes", "no whole number"),
        ("d1_l1_lift", "did you mean back squat"),
        ("d1_l1_sets", "how many sets"),
        ("d1_l1_reps", "highest reps"),
        ("d1_l2_sets", "no whole number in range"),
        ("d1_l2_reps", "`five` is no whole number"),
        ("d1_l3_goal", "which make 15 to 15"),
        ("d1_l4_rir", "10"),
        ("d1_l5_weeks", "week 2: `3 by 6` can't be read"),
        ("d1_l6_step", "above 0"),
        ("d1_l6_place", "not a number"),
        ("d1_l7_share", "from 20 to 105"),
    ] {
        let reason = told.of(field).unwrap_or_else(|| panic!("{field}: {told:?}"));
        assert!(reason.contains(words), "{field}: {reason}");
    }
    let fields = Fields::default()
        .with("name", "Twice")
        .with("begins", "2031-05-05")
        .with("d1_weekday", "Monday")
        .with("d2_weekday", "Monday");
    let good: &[(&str, &str)] = &[("lift", "dip"), ("sets", "3"), ("reps", "5")];
    let twice = row(row(fields.clone(), "d1_l1", good), "d2_l1", good);
    let told = problems(desk.keep_programme_form(&wilma, &twice, now()));
    assert!(told.of("d2_weekday").unwrap().contains("Monday comes twice"), "{told:?}");
    let told = problems(desk.keep_programme_form(&wilma, &fields, now()));
    assert!(told.of("d1_l1_lift").unwrap().contains("no lift yet"), "{told:?}");
    assert!(desk.programme(&wilma, TODAY).unwrap().versions.is_empty());
}

#[test]
fn a_file_and_another_lifters_programme_are_taken_whole_or_refused() {
    let (desk, _folder) = desk();
    let (wilma, otmar) = (name("Wilma Tarn"), name("Otmar Pell"));
    let sent = |text: &str| Fields::default().with("text", text).with("file_begins", "2031-05-05");
    let told = problems(desk.keep_programme_text(&wilma, &sent("name = 1"), now()));
    assert!(told.of("text").unwrap().contains("line 1"), "{told:?}");
    let unknown = example().replace("lat pull-down", "lat pull-dwon");
    let told = problems(desk.keep_programme_text(&wilma, &sent(&unknown), now()));
    assert!(told.of("text").unwrap().contains("did you mean lat pull-down"), "{told:?}");
    desk.keep_programme_text(&wilma, &sent(&example()), now()).unwrap();
    let page = desk.programme_page(&wilma, TODAY).unwrap();
    assert_eq!(page.followed.week, Some((1, 3)));
    assert!(page.check.is_some() && page.dose.is_some() && page.others.is_empty());
    // She has no set on record, so nothing can be her own.
    let general = "Hours between sessions are those of lifters in general: Wilma Tarn has no lead set on record yet.";
    assert_eq!(page.check.unwrap().recovery, general);

    let page = desk.programme_page(&otmar, TODAY).unwrap();
    assert_eq!(page.others, [("Wilma Tarn".to_owned(), "Oars in, bars out".to_owned())]);
    let copy = |from: &str| Fields::default().with("from", from).with("copy_begins", "2031-05-05");
    let told = problems(desk.copy_programme_form(&otmar, &copy("Otmar Pell"), (TODAY, now())));
    assert!(told.of("from").unwrap().contains("has no programme"), "{told:?}");
    let told = problems(desk.copy_programme_form(&otmar, &copy("Nobody"), (TODAY, now())));
    assert!(told.of("from").unwrap().contains("no lifter `Nobody`"), "{told:?}");
    desk.copy_programme_form(&otmar, &copy("wilma tarn"), (TODAY, now())).unwrap();
    let kept = desk.programme(&otmar, TODAY).unwrap().now.unwrap();
    assert_eq!(kept.programme, read_programme(&example()).unwrap());
}
