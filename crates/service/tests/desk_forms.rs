//! Forms of the desk: settings, taking on a lifter, and importing a table with its columns matched by hand.
//! The lifters are invented.

use domain::{Joint, LifterName, SetKind, Unit};
use jiff::Timestamp;
use jiff::civil::{Date, date};
use service::forms::{Fields, FormError, Problems};
use service::import::form::{TableView, Waiting};
use service::{Desk, Store};

const TODAY: Date = date(2031, 5, 6);

fn now() -> Timestamp {
    "2031-05-06T08:00:00Z".parse().unwrap()
}

fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

fn desk() -> (Desk, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    (Desk::new(store), folder)
}

fn problems<T: std::fmt::Debug>(answer: Result<T, FormError>) -> Problems {
    match answer {
        Err(FormError::Problems(problems)) => problems,
        other => panic!("{other:?}"),
    }
}

fn take_on(desk: &Desk, fields: &Fields) -> Result<LifterName, FormError> {
    desk.take_on(fields, (TODAY, now()))
}

#[test]
fn a_name_is_enough_to_take_a_lifter_on() {
    let (desk, _folder) = desk();
    let fields = desk.intake(TODAY).unwrap().fields.with("name", "  Wilma   Tarn ");
    assert_eq!(take_on(&desk, &fields).unwrap(), name("Wilma Tarn"));
    let lifter = desk.store().lifter(&name("wilma tarn")).unwrap().unwrap();
    assert_eq!(lifter, domain::Lifter::usual(name("Wilma Tarn"), Unit::Kg));
    assert_eq!(desk.store().n_facts().unwrap(), 1);
    let view = desk.lifter(&name("Wilma Tarn"), TODAY).unwrap();
    assert!(view.lifts.is_empty() && view.check_ins.is_empty());
    assert_eq!(desk.squad(TODAY).unwrap().lifters.len(), 1);
    let twice = problems(take_on(&desk, &fields.with("name", "WILMA TARN")));
    assert!(twice.of("name").unwrap().contains("on record"), "{twice:?}");
}

#[test]
fn bests_are_tests_and_joints_are_todays_check_in() {
    let (desk, _folder) = desk();
    let fields = Fields::default()
        .with("name", "Otmar Pell")
        .with("unit", "lb")
        .with("body_mass", "200")
        .with("bar", "20 kg")
        .with("plates", "45 x 8\n\n25 x 2\r\n10 kg x 1")
        .with("best_lift_1", "Bench Press")
        .with("best_load_1", "225")
        .with("best_reps_1", "3")
        .with("best_date_1", "2031-03-01")
        .with("best_lift_4", "bench press")
        .with("best_load_4", "245")
        .with("best_reps_4", "1")
        .with("best_date_4", "2031-03-01")
        .with("joint_2", "elbow")
        .with("pain_2", "4")
        .with("joint_3", "knee")
        .with("pain_3", "2");
    take_on(&desk, &fields).unwrap();
    let otmar = name("Otmar Pell");
    let lifter = desk.store().lifter(&otmar).unwrap().unwrap();
    assert_eq!((lifter.unit, lifter.bar.mass.grams()), (Unit::Lb, 20_000));
    let plates: Vec<_> =
        lifter.plates.pairs().iter().map(|(mass, pairs)| (mass.grams(), *pairs)).collect();
    // 45 and 25 lb in grams by the international pound.
    assert_eq!(plates, [(20_412, 8), (11_340, 2), (10_000, 1)]);
    let sets = desk.store().sets_of(&otmar).unwrap();
    let told: Vec<_> = sets
        .iter()
        .map(|set| (set.kind, set.number.get(), set.load.to_string(), set.reps.get()))
        .collect();
    let test = SetKind::Test;
    assert_eq!(told, [(test, 1, "225 lb".to_owned(), 3), (test, 2, "245 lb".to_owned(), 1)]);
    assert_eq!(sets[0].lift.as_str(), "bench press", "by its name in the catalogue");
    let check_ins = desk.store().check_ins_of(&otmar).unwrap();
    let pains: Vec<_> = check_ins
        .iter()
        .filter_map(|one| one.pain.map(|pain| (pain.joint, pain.rating())))
        .collect();
    assert_eq!(pains, [(Joint::Elbow, 4), (Joint::Knee, 2)]);
    // Told once, with the first of the day's check-ins; 200 lb in grams.
    let masses: Vec<_> = check_ins.iter().map(|one| one.body_mass.map(|m| m.grams())).collect();
    assert_eq!(masses, [Some(90_718), None]);
    assert!(check_ins.iter().all(|one| one.when.date() == TODAY));
}

#[test]
fn body_mass_alone_is_a_check_in_and_a_best_can_be_of_today() {
    let (desk, _folder) = desk();
    let best = |row: u8, reps: &str, date: &str| {
        [("lift", "back squat"), ("load", "100"), ("reps", reps), ("date", date)]
            .map(|(part, text)| (format!("best_{part}_{row}"), text.to_owned()))
    };
    let fields: Fields = [("name", "Nell"), ("unit", "kg"), ("body_mass", "71.5")]
        .map(|(field, text)| (field.to_owned(), text.to_owned()))
        .into_iter()
        .chain(best(1, "5", "2031-05-06"))
        .chain(best(2, "6", "2031-04-01"))
        .collect();
    take_on(&desk, &fields).unwrap();
    let told = desk.store().check_ins_of(&name("Nell")).unwrap();
    let masses: Vec<_> =
        told.iter().map(|one| (one.body_mass.map(|mass| mass.grams()), one.pain)).collect();
    assert_eq!(masses, [(Some(71_500), None)]);
    // Sets are numbered within their day.
    let sets = desk.store().sets_of(&name("Nell")).unwrap();
    let numbers: Vec<_> =
        sets.iter().map(|set| (set.when.date(), set.number.get(), set.reps.get())).collect();
    assert_eq!(numbers, [(date(2031, 4, 1), 1, 6), (TODAY, 1, 5)]);
    let nothing_lifted = fields.with("name", "Odo").with("best_load_2", "0");
    let told = problems(take_on(&desk, &nothing_lifted));
    assert!(told.of("best_load_2").unwrap().contains("must be above 0"), "{told:?}");
}

#[test]
fn an_intake_with_mistakes_tells_them_all_and_changes_nothing() {
    let (desk, _folder) = desk();
    let fields = Fields::default()
        .with("name", "?")
        .with("body_mass", "8")
        .with("bar", "heavy")
        .with("plates", "20 x 4\n15")
        .with("best_lift_1", "bakc squat")
        .with("best_load_1", "100")
        .with("best_reps_1", "")
        .with("best_date_1", "2031-06-01")
        .with("joint_1", "elbow")
        .with("pain_2", "3")
        .with("joint_3", "elbow")
        .with("pain_3", "11");
    let told = problems(take_on(&desk, &fields));
    for (field, words) in [
        ("name", "at least one letter"),
        ("body_mass", "from 20 to 400"),
        ("bar", "not"),
        ("plates", "line 2: `15` has no number of pairs"),
        ("best_lift_1", "did you mean back squat"),
        ("best_reps_1", "is empty: write a number"),
        ("best_date_1", "lies ahead"),
        ("pain_1", "no rating"),
        ("joint_2", "no joint"),
        ("pain_3", "0 to 10"),
    ] {
        let reason = told.of(field).unwrap_or_else(|| panic!("{field}: {told:?}"));
        assert!(reason.contains(words), "{field}: {reason}");
    }
    assert_eq!(desk.store().n_facts().unwrap(), 0);
    let twice = Fields::default()
        .with("name", "Nell")
        .with("joint_1", "elbow")
        .with("pain_1", "3")
        .with("joint_2", "elbow")
        .with("pain_2", "4");
    assert!(problems(take_on(&desk, &twice)).of("joint_2").unwrap().contains("twice"));
}

#[test]
fn settings_sent_as_they_were_shown_change_nothing_in_either_unit() {
    let (desk, _folder) = desk();
    for (who, unit, bar) in [("Nell", "kg", ""), ("Odo", "lb", ""), ("Pia", "lb", "20 kg")] {
        let fields = Fields::default().with("name", who).with("unit", unit).with("bar", bar);
        take_on(&desk, &fields).unwrap();
        let before = desk.store().n_facts().unwrap();
        let (_, shown) = desk.settings(&name(who)).unwrap();
        // A browser sends line ends of its own.
        let sent = shown.get("plates").replace('\n', "\r\n");
        desk.set_settings(&name(who), &shown.with("plates", sent), now()).unwrap();
        assert_eq!(desk.store().n_facts().unwrap(), before, "{who}");
    }
    let (_, pia) = desk.settings(&name("Pia")).unwrap();
    assert_eq!((pia.get("bar"), pia.get("collars")), ("44.09 lb", "0 lb"));
    assert!(pia.get("plates").starts_with("45 lb x 10\n35 lb x 2\n"));
}

#[test]
fn settings_supersede_the_old_and_each_mistake_has_its_field() {
    let (desk, _folder) = desk();
    take_on(&desk, &Fields::default().with("name", "Nell").with("unit", "kg")).unwrap();
    let nell = name("Nell");
    let (_, shown) = desk.settings(&nell).unwrap();
    let changed = shown
        .clone()
        .with("unit", "lb")
        .with("collars", "5 lb")
        .with("plates", "25 x 2\n20 x 3")
        .with("pain", "3")
        .with("shortfall", "2.5")
        .with("trained_through", "1");
    desk.set_settings(&nell, &changed, now()).unwrap();
    let lifter = desk.store().lifter(&nell).unwrap().unwrap();
    assert_eq!((lifter.unit, lifter.bar.mass.grams()), (Unit::Lb, 20_000), "20 was in kilograms");
    assert_eq!(lifter.bar.collars.grams(), 2_268);
    assert_eq!(lifter.plates.pairs().len(), 2);
    assert_eq!((lifter.limits.pain(), lifter.limits.shortfall_pct()), (3, 2.5));
    assert_eq!(lifter.limits.threshold(), 0.5);
    let before = desk.store().n_facts().unwrap();
    for (field, text, words) in [
        ("unit", "stone", "use one of"),
        ("bar", "900", "from 0 to"),
        ("collars", "-1", "from 0 to"),
        ("plates", "20 x 3\n20 x 4", "name each mass once"),
        ("plates", "20 x many", "no number of pairs"),
        ("pain", "11", "from 0 to 10"),
        ("pain", "a lot", "0 to 10"),
        ("shortfall", "40", "from 0.5 to 15"),
        ("cut_for_nothing", "0", "from 0.01 to 100"),
        ("trained_through", "", "is empty: write a number"),
    ] {
        let told = problems(desk.set_settings(&nell, &shown.clone().with(field, text), now()));
        let reason = told.of(field).unwrap_or_else(|| panic!("{field} {text}: {told:?}"));
        assert!(reason.contains(words), "{field} {text}: {reason}");
        assert_eq!(told.iter().count(), 1, "{told:?}");
    }
    assert_eq!(desk.store().n_facts().unwrap(), before);
}

/// A table of another make: semicolons, decimal commas, pounds, dates in either order.
const TABLE: &str = "When trained;Exercise;Weight;Times;Felt\n\
    03/04/2031;Back Squat;225,5;5;8\n\
    03/04/2031;Back Squat;225,5;5;9\n\
    05/04/2031;juggling;10;5;9\n\
    05/04/2031;Bench Press;155;zero;9\n";

fn look(desk: &Desk, waiting: &Waiting, id: &str, fields: &Fields) -> TableView {
    desk.look_at_table(&waiting.find(id).unwrap(), fields, (TODAY, now())).unwrap()
}

#[test]
fn a_table_is_matched_by_hand_told_line_by_line_and_only_then_imported() {
    let (desk, _folder) = desk();
    let waiting = Waiting::default();
    let id = waiting.keep("spring.csv", TABLE.as_bytes().to_vec());
    let first = look(&desk, &waiting, &id, &Fields::default());
    assert_eq!(first.headers, ["When trained", "Exercise", "Weight", "Times", "Felt"]);
    assert_eq!(first.fields.get("column_1"), "lift");
    assert!(first.problems.of("lifter").unwrap().contains("no column holds the lifter"));
    assert!(first.report.is_none());
    let matched = first
        .fields
        .with("column_0", "date")
        .with("column_3", "reps")
        .with("column_4", "rpe")
        .with("lifter", "Wilma Tarn");
    let asked = look(&desk, &waiting, &id, &matched);
    assert!(asked.problems.of("date_order").unwrap().contains("2031-04-03 or 2031-03-04"));
    assert!(asked.problems.of("unit").unwrap().contains("kilograms or pounds"));
    assert!(!asked.problems.iter().any(|(_, reason)| reason.contains("--")), "no options here");
    let said = matched.with("date_order", "day-first").with("unit", "lb");
    let ready = look(&desk, &waiting, &id, &said);
    let report = ready.report.unwrap();
    assert_eq!((report.new, report.refused, report.dry_run), (2, 2, true));
    let lines: Vec<u64> = ready.refusals.iter().map(|(line, _)| *line).collect();
    assert_eq!(lines, [4, 5]);
    assert!(ready.refusals[0].1.contains("`juggling`"), "{:?}", ready.refusals);
    assert_eq!(desk.store().n_facts().unwrap(), 0, "looking writes nothing");
    let table = waiting.find(&id).unwrap();
    let done = desk.import_table(&table, &said, (TODAY, now())).unwrap();
    assert_eq!(done.report.unwrap().new, 2);
    let sets = desk.store().sets_of(&name("Wilma Tarn")).unwrap();
    assert_eq!(sets.len(), 2);
    assert_eq!(sets[0].load.to_string(), "225.5 lb");
    assert_eq!(sets[0].when.date(), date(2031, 4, 3));
    assert_eq!(sets[0].rir.map(domain::Rir::get), Some(2.0));
    // What was refused is there to be mended, with the reason in front.
    assert!(done.rejects.starts_with("line;reason;set;When trained;"), "{}", done.rejects);
    let again = desk.import_table(&table, &said, (TODAY, now())).unwrap().report.unwrap();
    assert_eq!((again.new, again.already_there), (0, 2));
}

#[test]
fn a_column_that_is_not_to_be_read_is_not_read() {
    let (desk, _folder) = desk();
    let waiting = Waiting::default();
    let log = "lifter,date,lift,load,unit,reps,note\nNell,2031-05-01,back squat,100,kg,5,private\n";
    let id = waiting.keep("", log.as_bytes().to_vec());
    let first = look(&desk, &waiting, &id, &Fields::default());
    assert_eq!(first.name, "a table");
    assert_eq!((first.fields.get("column_6"), first.report.unwrap().new), ("note", 1));
    let without = first.fields.with("column_6", "");
    desk.import_table(&waiting.find(&id).unwrap(), &without, (TODAY, now())).unwrap();
    assert!(desk.store().sets_of(&name("Nell")).unwrap()[0].note.is_empty());
    let twice = without.with("column_6", "load");
    let told = look(&desk, &waiting, &id, &twice);
    assert!(told.problems.of("column_6").unwrap().contains("named for `load` already"));
    let both = told.fields.with("column_6", "").with("lifter", "Odo");
    assert!(look(&desk, &waiting, &id, &both).problems.of("lifter").unwrap().contains("leave"));
}

#[test]
fn lines_that_differ_supersede_only_if_that_is_said() {
    let (desk, _folder) = desk();
    let waiting = Waiting::default();
    let import = |reps: &str, correct: &str| {
        let log = format!("lifter,date,lift,load,unit,reps\nNell,2031-05-01,squat,100,kg,{reps}\n");
        let id = waiting.keep("log.csv", log.into_bytes());
        let fields = look(&desk, &waiting, &id, &Fields::default()).fields;
        let table = waiting.find(&id).unwrap();
        let fields = fields.with("correct", correct);
        let report = desk.import_table(&table, &fields, (TODAY, now())).unwrap().report.unwrap();
        let reps = desk.store().sets_of(&name("Nell")).unwrap()[0].reps.get();
        (report.new, report.refused, report.superseded, reps)
    };
    assert_eq!(import("5", ""), (1, 0, 0, 5));
    assert_eq!(import("6", ""), (0, 1, 0, 5));
    assert_eq!(import("6", "yes"), (0, 0, 1, 6));
}

#[test]
fn check_ins_are_imported_and_a_decimal_mark_is_asked_for() {
    let (desk, _folder) = desk();
    let waiting = Waiting::default();
    let table = "lifter,date,sleep_h,pain_joint,pain\nNell,2031-05-02,6.5,knee,2\n";
    let id = waiting.keep("mornings.csv", table.as_bytes().to_vec());
    let first = look(&desk, &waiting, &id, &Fields::default());
    assert_eq!(first.fields.get("table"), "check-ins");
    assert!(first.known_fields.contains(&"stress") && !first.known_fields.contains(&"reps"));
    let done = desk.import_table(&waiting.find(&id).unwrap(), &first.fields, (TODAY, now()));
    assert_eq!(done.unwrap().report.unwrap().new, 1);
    let told = desk.store().check_ins_of(&name("Nell")).unwrap();
    assert_eq!((told[0].sleep_h, told[0].pain.unwrap().joint), (Some(6.5), Joint::Knee));
    let log = "lifter;date;lift;load;unit;reps\nNell;2031-05-01;back squat;1,125;lb;5\n";
    let id = waiting.keep("log.csv", log.as_bytes().to_vec());
    let first = look(&desk, &waiting, &id, &Fields::default());
    assert!(first.problems.of("decimal").unwrap().contains("1,125"), "{:?}", first.problems);
    let said = first.fields.with("decimal", "comma");
    let done = desk.import_table(&waiting.find(&id).unwrap(), &said, (TODAY, now())).unwrap();
    assert_eq!(done.report.map(|report| report.new), Some(1), "{:?}", done.problems);
    assert_eq!(desk.store().sets_of(&name("Nell")).unwrap()[0].load.grams(), 510, "1.125 lb");
}

#[test]
fn what_is_no_table_says_so_and_what_waits_too_long_goes() {
    let (desk, _folder) = desk();
    let waiting = Waiting::default();
    let id = waiting.keep("x", b"[[lift]]\nname = \"yoke walk\"\n".to_vec());
    let told = look(&desk, &waiting, &id, &Fields::default());
    assert!(told.hopeless.unwrap().contains("a lift file") && told.report.is_none());
    let picture = waiting.keep("x", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec());
    assert!(look(&desk, &waiting, &picture, &Fields::default()).hopeless.is_some());
    let later: Vec<String> = (0..3_u8).map(|n| waiting.keep("later", vec![b'a' + n; 10])).collect();
    assert!(waiting.find(&id).is_none(), "four wait at most");
    assert!(waiting.find(&picture).is_some() && later.iter().all(|id| waiting.find(id).is_some()));
    assert!(waiting.find("../../etc").is_none());
    for _ in 0..5 {
        assert_eq!(waiting.keep("again", vec![b'a'; 10]), later[0]);
    }
    assert!(later.iter().all(|id| waiting.find(id).is_some()), "one table waits once");
}
