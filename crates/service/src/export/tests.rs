//! There and back through the files of an export, and files that are damaged.

use std::path::Path;

use domain::{
    CheckIn, Joint, LiftName, Lifter, LifterName, Limits, Load, LoggedSet, Mass, Note, Pain, Reps,
    Rir, SetKind, SetNumber, Unit, When,
};
use jiff::Timestamp;
use store::{Fact, OnDifference, Store, StoreError};

use super::*;

fn at(minute: i64) -> Timestamp {
    Timestamp::from_microsecond(1_940_000_000_123_456 + 60_000_000 * minute).unwrap()
}

fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

fn set(who: &str, when: &str, lift: &str, number: u8, load: f64, unit: Unit) -> LoggedSet {
    LoggedSet {
        lifter: name(who),
        when: When::parse(when).unwrap(),
        lift: LiftName::new(lift).unwrap(),
        number: SetNumber::new(number).unwrap(),
        kind: SetKind::Work,
        load: Load::new(load, unit).unwrap(),
        reps: Reps::new(5).unwrap(),
        rir: Some(Rir::new(1.5).unwrap()),
        note: Note::new("grip slipped, \"again\";\nsecond line").unwrap(),
    }
}

fn check_in(who: &str, when: &str) -> CheckIn {
    CheckIn {
        lifter: name(who),
        when: When::parse(when).unwrap(),
        sleep_h: Some(0.1 + 0.2 + 6.0),
        stress: Some(3.3),
        soreness: None,
        body_mass: Some(Mass::try_from_grams(81_437).unwrap()),
        pain: Some(Pain::new(Joint::LowerBack, 4).unwrap()),
    }
}

/// A programme file as somebody may write it, ends of lines and remarks included.
const PROGRAMME: &str = "name = \"Two days by the quay\" # ünïcode\r\n[[day]]\nweekday = \"Mon\"\n\
    [[day.lift]]\nlift = \"back squat\"\nsets = 3\nreps = [5, 8]\n\
    progression = { rule = \"double progression\" }\n";

/// An invented record with corrections, withdrawals, odd numbers and two lift files.
fn record(path: &Path) -> Store {
    let store = Store::open(path).unwrap();
    let mut anna = Lifter::usual(name("Anna Birk"), Unit::Kg);
    anna.limits = Limits::new(4, 1.7, 1.0 / 3.0, 2.5).unwrap();
    let mut import = store.begin_import("a log, \"first\"", at(0)).unwrap();
    import.add_lifter_if_missing(&anna).unwrap();
    import.add_lifter_if_missing(&Lifter::usual(name("Bo Ek"), Unit::Lb)).unwrap();
    for (who, unit) in [("Bo Ek", Unit::Lb), ("Anna Birk", Unit::Kg)] {
        for (idx, day) in
            ["2031-05-04T18:20:05", "2031-05-04T18:20:05", "2031-05-06"].iter().enumerate()
        {
            let load = 33.3 + 0.125 * idx as f64;
            let set = set(who, day, ["squat", "Chin-Up"][idx % 2], 1 + idx as u8, load, unit);
            import.add_set(&set, OnDifference::Keep).unwrap();
        }
    }
    import.add_check_in(&check_in("Anna Birk", "2031-05-04"), OnDifference::Keep).unwrap();
    import
        .add_lift_file("[[lift]]\nname = \"belt squat\"\nlike = \"squat\"\n# ünïcode\r\n")
        .unwrap();
    import.add_lift_file("[[lift]]\nname = \"sled push\"\nlike = \"squat\"").unwrap();
    import.commit().unwrap();
    let first = set("Anna Birk", "2031-05-06", "squat", 3, 33.55, Unit::Kg);
    let moved = LoggedSet { when: When::parse("2031-05-07").unwrap(), ..first.clone() };
    store.correct_set(first.id(), &moved, "it was a day later", at(1)).unwrap();
    let gone = set("Bo Ek", "2031-05-06", "squat", 3, 33.55, Unit::Lb);
    store.withdraw_set(gone.id(), "somebody else's", at(2)).unwrap();
    anna.unit = Unit::Lb;
    store.put_lifter(&anna, at(3)).unwrap();
    let programme = store::LifterProgramme {
        lifter: anna.name,
        begins: jiff::civil::date(2031, 5, 5),
        text: PROGRAMME.to_owned(),
    };
    store.put_programme(&programme, "", at(4)).unwrap();
    store.withdraw_programme(&programme.lifter, "on \"holiday\"", at(5)).unwrap();
    let days = (jiff::civil::date(2031, 5, 5), jiff::civil::date(2031, 5, 11));
    let light = crate::programme::PlanChange::Light {
        days,
        sets_pct: 50,
        muscles: vec![domain::Muscle::Chest],
    };
    for id in [1, 2] {
        let change = store::PlanChange {
            id: [id; 16],
            lifter: programme.lifter.clone(),
            from: days.0,
            until: days.1,
            text: light.write(),
        };
        store.put_plan_change(&change, "a “regatta”", at(5)).unwrap();
    }
    store.withdraw_plan_change(&programme.lifter, &[2; 16], "", at(5)).unwrap();
    store
}

fn facts_of(store: &Store) -> Vec<Fact> {
    let mut facts = Vec::new();
    store
        .for_each_fact(|fact| {
            facts.push(fact);
            Ok::<(), StoreError>(())
        })
        .unwrap();
    facts
}

fn exported(store: &Store, folder: &Path) -> Exported {
    export(store, folder, Existing::Keep, &mut |_, _| ()).unwrap()
}

fn restored(path: &Path, text: &[u8]) -> Result<(Store, Restored), RestoreError> {
    let store = Store::open(path).unwrap();
    let told = restore(&store, text, at(9), &mut |_| ())?;
    Ok((store, told))
}

#[test]
fn a_record_comes_back_whole() {
    let folder = tempfile::tempdir().unwrap();
    let store = record(&folder.path().join("first.db"));
    let told = exported(&store, &folder.path().join("export"));
    assert_eq!((told.lifters, told.sets, told.check_ins, told.lift_files), (2, 5, 1, 2));
    assert_eq!(told.facts, facts_of(&store).len() as u64);
    let text = std::fs::read(folder.path().join("export").join(RECORD_FILE)).unwrap();
    let (second, put) = restored(&folder.path().join("second.db"), &text).unwrap();
    assert_eq!(put, Restored { new: told.facts, already_there: 0 });
    assert_eq!(facts_of(&second), facts_of(&store));
    let again = restore(&second, &text[..], at(9), &mut |_| ()).unwrap();
    assert_eq!(again, Restored { new: 0, already_there: told.facts });
    // The second export is the first, to the byte.
    exported(&second, &folder.path().join("again"));
    for file in &told.files {
        let read = |export: &str| std::fs::read(folder.path().join(export).join(file)).unwrap();
        assert_eq!(read("export"), read("again"), "{file}");
    }
}

/// The signs: OWASP's page on CSV injection, from memory. No cell of any table begins with one unless it is
/// a number, and an import gives the same texts, those with apostrophes of their own included.
#[test]
fn tables_hold_no_formula_and_say_the_same_again() {
    let names = ["=Anna", "+Bo", "-Cy", "@Di", "'=Eve", "''-Flo", "'Gus", "＝Hal"];
    let notes = ["=1+1", "-5", "@home", "'=1+1", "''", "'slow'", "+", "= -"];
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("first.db")).unwrap();
    let mut import = store.begin_import("a log", at(0)).unwrap();
    import.add_lift_file("[[lift]]\nname = \"-chin\"\nlike = \"chin-up\"\n").unwrap();
    for (who, note) in names.iter().zip(notes) {
        import.add_lifter_if_missing(&Lifter::usual(name(who), Unit::Kg)).unwrap();
        let note = Note::new(note).unwrap();
        let set = LoggedSet { note, ..set(who, "2031-05-04", "-chin", 1, -5.0, Unit::Kg) };
        import.add_set(&set, OnDifference::Keep).unwrap();
        import.add_check_in(&check_in(who, "2031-05-04"), OnDifference::Keep).unwrap();
    }
    import.commit().unwrap();
    exported(&store, &folder.path().join("export"));
    let table = |file: &str| std::fs::read(folder.path().join("export").join(file)).unwrap();
    let catalogue = crate::catalogue(&store).unwrap();
    for file in [SETS_FILE, CHECK_INS_FILE] {
        let cells = cells_of(&table(file));
        assert!(cells.len() > 8 * names.len());
        for cell in cells.iter().filter(|cell| begins_formula(cell)) {
            assert!(cell.parse::<f64>().is_ok(), "{file}: {cell}");
        }
        assert_eq!(
            cells.iter().any(|cell| cell == "-5"),
            file == SETS_FILE,
            "the load is a number"
        );
    }
    let (sets, check_ins) = read_again(&table(SETS_FILE), &table(CHECK_INS_FILE), &catalogue);
    let mut got: Vec<_> = sets
        .iter()
        .map(|set| (set.lifter.as_str(), set.lift.as_str(), set.note.as_str()))
        .collect();
    let mut expected: Vec<_> =
        names.iter().zip(notes).map(|(who, note)| (*who, "-chin", note)).collect();
    got.sort_unstable();
    expected.sort_unstable();
    assert_eq!(got, expected);
    let mut who: Vec<_> = check_ins.iter().map(|check_in| check_in.lifter.as_str()).collect();
    let mut expected = names;
    who.sort_unstable();
    expected.sort_unstable();
    assert_eq!(who, expected);
    replayed_without_formula(sets, &catalogue);
}

/// Reads both tables as an import does.
fn read_again(
    sets_csv: &[u8],
    check_ins_csv: &[u8],
    catalogue: &domain::Catalogue,
) -> (Vec<LoggedSet>, Vec<CheckIn>) {
    use crate::import::{Import, ImportPlan, Progress, Taken, read_check_ins, read_log_whole};
    let plan = &ImportPlan::default();
    let today = jiff::civil::date(2031, 5, 5);
    let (mut rejects, mut progress) = (Vec::new(), |_: Progress| ());
    let with = Import { catalogue, plan, today, rejects: &mut rejects, progress: &mut progress };
    let (sets, _) = read_log_whole(sets_csv, with).unwrap();
    let mut check_ins = Vec::new();
    let mut take = |_: u64, check_in: CheckIn| {
        check_ins.push(check_in);
        Ok(Taken::New)
    };
    let with = Import { catalogue, plan, today, rejects: &mut rejects, progress: &mut progress };
    read_check_ins(check_ins_csv, with, &mut take).unwrap();
    assert!(rejects.is_empty(), "{}", String::from_utf8_lossy(&rejects));
    (sets.into_iter().map(|(_, set)| set).collect(), check_ins)
}

/// The replay's table of the same sets.
fn replayed_without_formula(sets: Vec<LoggedSet>, catalogue: &domain::Catalogue) {
    let replay = crate::replay::Replay {
        catalogue,
        limits: &Limits::default(),
        model: crate::record::history::Model::Plain,
        grounds: &crate::record::inputs::Grounds::shipped(),
        threads: 1,
    };
    let (n_sets, mut out) = (sets.len(), Vec::new());
    let rows = replay.rows(sets, Vec::new(), &mut |_, _| ());
    crate::replay::write_rows(&rows, &mut out).unwrap();
    let cells = cells_of(&out);
    assert_eq!(cells.len(), (1 + n_sets) * crate::replay::COLUMNS.len());
    let numbers: Vec<_> = cells.iter().filter(|cell| begins_formula(cell)).collect();
    assert_eq!(numbers, vec!["-5.000"; n_sets], "loads are numbers, and nothing else begins so");
    assert!(cells.iter().any(|cell| cell == "'=Anna") && cells.iter().any(|cell| cell == "'-chin"));
}

fn cells_of(table: &[u8]) -> Vec<String> {
    let reader = csv::ReaderBuilder::new().has_headers(false).from_reader(table);
    let rows = reader.into_records().map(Result::unwrap);
    rows.flat_map(|row| row.iter().map(str::to_owned).collect::<Vec<_>>()).collect()
}

fn begins_formula(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '\t', '\r'])
}

#[test]
fn an_export_is_replaced_only_on_request() {
    let folder = tempfile::tempdir().unwrap();
    let store = record(&folder.path().join("first.db"));
    let into = folder.path().join("export");
    exported(&store, &into);
    let error = export(&store, &into, Existing::Keep, &mut |_, _| ()).unwrap_err();
    assert!(matches!(error, ExportError::AlreadyThere { .. }), "{error}");
    std::fs::write(into.join("lifts-9.toml"), "left over").unwrap();
    std::fs::write(into.join("lifts-mine.toml"), "the coach's own").unwrap();
    export(&store, &into, Existing::Replace, &mut |_, _| ()).unwrap();
    let mut names: Vec<_> = std::fs::read_dir(&into)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let whole = [
        "check-ins.csv",
        "lifts-1.toml",
        "lifts-2.toml",
        "lifts-mine.toml",
        "record.jsonl",
        "sets.csv",
    ];
    assert_eq!(names, whole);
    let file = into.join(SETS_FILE);
    let error = export(&store, &file, Existing::Replace, &mut |_, _| ()).unwrap_err();
    assert!(matches!(error, ExportError::NotAFolder { .. }), "{error}");
}

/// One export with a line changed: what is said, and that nothing of it stays.
#[test]
fn a_damaged_line_is_named_and_nothing_stays() {
    let folder = tempfile::tempdir().unwrap();
    let store = record(&folder.path().join("first.db"));
    exported(&store, &folder.path().join("export"));
    let text = std::fs::read_to_string(folder.path().join("export").join(RECORD_FILE)).unwrap();
    let n_lines = text.lines().count();
    let changed = |idx: usize, change: &dyn Fn(&str) -> String| -> String {
        text.lines()
            .enumerate()
            .map(|(at, line)| if at == idx { change(line) } else { line.to_owned() } + "\n")
            .collect()
    };
    let cases: Vec<(String, &str)> = vec![
        (changed(3, &|line| line[..line.len() / 2].to_owned()), "line 4: this is no whole line"),
        (
            changed(3, &|line| line.replace("\"reps\":5", "\"reps\":900")),
            "line 4: reps `900` is out of range",
        ),
        (
            changed(3, &|line| line.replace("\"reps\":5", "\"reps\":-5")),
            "line 4: its `content` can't be read",
        ),
        (
            changed(3, &|line| line.replace("\"set\",\"content\"", "\"plan\",\"content\"")),
            "line 4: facts of the kind `plan`",
        ),
        (
            changed(3, &|line| line.replace("\"reps\":5", "\"reps\":5,\"tempo\":3")),
            "unknown field `tempo`",
        ),
        (
            text.replacen("sets = 3", "sets = 300", 1),
            "its programme can't be read: line 6, Monday, lift 1: `sets` must be",
        ),
        (changed(0, &|line| line.replace(":1", ":2")), "has version 2"),
        (changed(0, &|_| "{}".to_owned()), "the first line doesn't say"),
        (
            text.replacen("\"supersedes\":", "\"supersedes\":1", 1),
            "can't be restored here: the version that it supersedes is missing",
        ),
        (changed(3, &|_| String::new()), "facts, and there are"),
        (changed(n_lines - 2, &|_| String::new()), "facts, and there are"),
        (changed(n_lines - 1, &|_| String::new()), "it was cut off"),
        (format!("{text}{text}"), "the export ended on an earlier line"),
        (String::new(), "the first line doesn't say"),
    ];
    for (idx, (damaged, expected)) in cases.iter().enumerate() {
        assert_ne!(*damaged, text, "case {idx} changes something");
        let path = folder.path().join(format!("case-{idx}.db"));
        let error = restored(&path, damaged.as_bytes()).unwrap_err().to_string();
        assert!(error.contains(expected), "case {idx}: {error}");
        let store = Store::open(&path).unwrap();
        assert_eq!(store.n_facts().unwrap(), 0, "case {idx}");
    }
    let broken = [text.as_bytes(), b"\xff\xfe\n"].concat();
    let error = restored(&folder.path().join("utf.db"), &broken).unwrap_err().to_string();
    assert!(error.contains("not valid UTF-8"), "{error}");
}
