//! Imports into a real store: what is new, what is there already, what differs, and dry runs.

use domain::{Catalogue, LifterName};
use jiff::Timestamp;
use jiff::civil::date;
use service::import::{
    Import, ImportError, ImportPlan, ImportReport, IntoStore, RefusalClass, import_check_ins,
    import_lift_file, import_log,
};
use store::Store;
use tempfile::TempDir;

const HEADER: &str = "lifter,date,lift,set,kind,load,unit,reps,rir,note\n";
const LINE: &str = "Ada,2031-05-04,back squat,1,,100,kg,5,,\n";
const HOW: IntoStore<'_> =
    IntoStore { source: "log.csv", now: Timestamp::UNIX_EPOCH, correct: false, dry_run: false };

fn new_store() -> (TempDir, Store) {
    let folder = TempDir::new().expect("a folder");
    let store = Store::open(&folder.path().join("record")).expect("a store");
    (folder, store)
}

fn with<T>(run: impl FnOnce(Import<'_>) -> T) -> T {
    run(Import {
        catalogue: &Catalogue::built_in(),
        plan: &ImportPlan::default(),
        today: date(2031, 6, 1),
        rejects: &mut Vec::new(),
        progress: &mut |_| (),
    })
}

fn import(store: &Store, text: &str, how: IntoStore<'_>) -> ImportReport {
    with(|with| import_log(store, text.as_bytes(), with, how)).expect("imported")
}

fn loads(store: &Store) -> Vec<f64> {
    let sets = store.sets_of(&LifterName::new("Ada").expect("name")).expect("sets");
    sets.iter().map(|set| set.load.kg()).collect()
}

#[test]
fn the_same_file_twice_adds_nothing() {
    let (_folder, store) = new_store();
    let log = include_str!("../../../examples/log.csv");
    let first = import(&store, log, HOW);
    assert_eq!((first.new, first.already_there), (84, 0));
    let facts = store.n_facts().expect("a count");
    let second = import(&store, log, HOW);
    assert_eq!((second.new, second.already_there, second.refused), (0, 84, 0));
    assert_eq!(store.n_facts().expect("a count"), facts);
}

#[test]
fn what_differs_is_refused_unless_it_is_to_correct() {
    let (_folder, store) = new_store();
    import(&store, &format!("{HEADER}{LINE}"), HOW);
    let other = format!("{HEADER}{}", LINE.replace("100", "105"));
    let refused = import(&store, &other, HOW);
    assert_eq!(refused.refused_by[&RefusalClass::OnRecord], 1);
    let reason = &refused.first_refusals[0].reason;
    assert!(reason.contains("work, 100 kg × 5") && reason.contains("--correct"), "{reason}");
    assert_eq!(loads(&store), [100.0]);
    let corrected = import(&store, &other, IntoStore { correct: true, ..HOW });
    assert_eq!((corrected.superseded, corrected.refused), (1, 0));
    assert_eq!(loads(&store), [105.0]);
}

#[test]
fn good_lines_are_kept_beside_refused_ones() {
    let (_folder, store) = new_store();
    let report = import(&store, &format!("{HEADER}{LINE}Ada,2031-05-04,qqqq,1,,1,kg,5,,\n"), HOW);
    assert_eq!((report.new, report.refused), (1, 1));
    assert_eq!(loads(&store), [100.0]);
}

#[test]
fn a_dry_run_reports_the_same_and_keeps_nothing() {
    let (_folder, store) = new_store();
    let dry = import(&store, &format!("{HEADER}{LINE}"), IntoStore { dry_run: true, ..HOW });
    assert!(store.lifters().expect("lifters").is_empty());
    let wet = import(&store, &format!("{HEADER}{LINE}"), HOW);
    assert_eq!(ImportReport { dry_run: false, ..dry }, wet);
}

#[test]
fn a_file_that_breaks_off_leaves_nothing() {
    struct Broken;
    impl std::io::Read for Broken {
        fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
            Err(std::io::Error::other("the disk was pulled out"))
        }
    }
    use std::io::Read;
    let (_folder, store) = new_store();
    let mut text = HEADER.to_owned();
    let note = "x".repeat(1_900); // long enough to get beyond the part that is looked at first
    for n in 1..=900 {
        let (day, set) = (n % 28 + 1, n / 28 + 1);
        text.push_str(&format!(
            "Ada,2031-05-{day:02},back squat,{set},,100,kg,5,,{note}
"
        ));
    }
    let reader = text.as_bytes().chain(Broken);
    let error = with(|with| import_log(&store, reader, with, HOW)).expect_err("breaks off");
    assert!(matches!(error, ImportError::Read { .. }), "{error}");
    assert!(store.lifters().expect("lifters").is_empty());
}

#[test]
fn check_ins_and_lift_files_are_kept() {
    let (_folder, store) = new_store();
    let check_ins: &[u8] = include_bytes!("../../../examples/check-ins.csv");
    let report = with(|with| import_check_ins(&store, check_ins, with, HOW)).expect("imported");
    assert_eq!((report.new, report.refused), (14, 0));
    let again = with(|with| import_check_ins(&store, check_ins, with, HOW)).expect("imported");
    assert_eq!((again.new, again.already_there), (0, 14));
    let lifts = include_str!("../../../examples/lifts.toml");
    let known = Catalogue::built_in();
    let report = import_lift_file(&store, lifts, &known, HOW).expect("imported");
    assert_eq!(report.added, ["pin squat", "log press"]);
    assert!(import_lift_file(&store, lifts, &known, HOW).expect("imported").already_there);
    let error = import_lift_file(&store, "[[lift]]\nname = 3\n", &known, HOW);
    assert!(matches!(error, Err(ImportError::LiftFile(_))));
    assert_eq!(store.lift_files().expect("files"), [lifts]);
}
