//! Single changed bytes anywhere in a store: no export differs silently, and the doctor never says that all is well
//! where an export fails or differs.

use std::fs;
use std::path::Path;

use domain::{CheckIn, Joint, Lifter, LifterName, Load, LoggedSet, Mass, Pain, Reps, Unit, When};
use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use service::export::{Existing, export};
use service::{Severity, examine};
use store::{
    FloorMessage, LifterProgramme, OnDifference, Opens, Outcome, PhoneLink, PlanChange, Store,
};

/// How many bytes are changed, one at a time.
const N_CHANGES: usize = 200;

fn at(minute: i64) -> Timestamp {
    Timestamp::from_second(1_940_000_000 + 60 * minute).unwrap()
}

fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

fn set(who: &str, day: &str, number: u8, kg: f64) -> LoggedSet {
    LoggedSet {
        lifter: name(who),
        when: When::parse(day).unwrap(),
        lift: domain::LiftName::new(["squat", "bench press"][usize::from(number % 2)]).unwrap(),
        number: domain::SetNumber::new(number).unwrap(),
        kind: domain::SetKind::Work,
        load: Load::from_kg(kg).unwrap(),
        reps: Reps::new(5).unwrap(),
        rir: None,
        note: domain::Note::new("an \"odd\" note").unwrap(),
    }
}

/// A small record of invented people with every kind of fact, corrections and withdrawals among them, and pooled
/// values.
fn make(path: &Path) {
    let store = Store::open(path).unwrap();
    let anna = name("Anna Birk");
    let mut import = store.begin_import("a log", at(0)).unwrap();
    for who in ["Anna Birk", "Bo Ek"] {
        import.put_lifter(&Lifter::usual(name(who), Unit::Kg)).unwrap();
        for day in 1..=9 {
            for number in 1..=6 {
                let set = set(
                    who,
                    &format!("2031-05-0{day}T18:2{number}"),
                    number,
                    60.0 + f64::from(day),
                );
                import.add_set(&set, OnDifference::Keep).unwrap();
            }
        }
    }
    let check_in = CheckIn {
        lifter: anna.clone(),
        when: When::parse("2031-05-04").unwrap(),
        sleep_h: Some(6.5),
        stress: Some(3.0),
        soreness: None,
        body_mass: Some(Mass::try_from_grams(81_400).unwrap()),
        pain: Some(Pain::new(Joint::Knee, 4).unwrap()),
    };
    import.add_check_in(&check_in, OnDifference::Keep).unwrap();
    import.add_lift_file("[[lift]]\nname = \"belt squat\"\nlike = \"squat\"\n").unwrap();
    let link =
        PhoneLink { id: [1; 16], lifter: anna.clone(), token_hash: [7; 32], opens: Opens::Session };
    import.add_phone_link(&link).unwrap();
    for (id, outcome) in [(1, Outcome::Kept), (2, Outcome::Refused("no such lift".to_owned()))] {
        let message = FloorMessage {
            id: [id; 16],
            lifter: anna.clone(),
            link: [1; 16],
            day: jiff::civil::date(2031, 5, 4),
            kind: "note".to_owned(),
            body: "{\"kind\":\"note\",\"text\":\"knees\"}".to_owned(),
            logged: at(1),
            sent: at(2),
            outcome,
        };
        import.add_floor_message(&message).unwrap();
    }
    import.commit().unwrap();
    let wrong = set("Anna Birk", "2031-05-01T18:21", 1, 61.0);
    let moved = LoggedSet { when: When::parse("2031-05-10").unwrap(), ..wrong.clone() };
    store.correct_set(wrong.id(), &moved, "another day", at(3)).unwrap();
    let gone = set("Bo Ek", "2031-05-02T18:22", 2, 62.0);
    store.withdraw_set(gone.id(), "somebody else's", at(4)).unwrap();
    let programme = LifterProgramme {
        lifter: anna.clone(),
        begins: jiff::civil::date(2031, 5, 5),
        text: "name = \"a week\"".to_owned(),
    };
    store.put_programme(&programme, "", at(5)).unwrap();
    let change = PlanChange {
        id: [9; 16],
        lifter: anna,
        from: jiff::civil::date(2031, 5, 5),
        until: jiff::civil::date(2031, 5, 11),
        text: "kind = \"light\"".to_owned(),
    };
    store.put_plan_change(&change, "", at(6)).unwrap();
    let pooled = store.keep_pooled(at(7), 2, "converged", &[("a", 0.5), ("b", 1.5)]).unwrap();
    store.put_in_force(pooled, at(8)).unwrap();
}

/// The files of an export by name; none if it failed.
fn exported(path: &Path, folder: &Path) -> Option<Vec<(String, Vec<u8>)>> {
    let store = Store::open_existing(path).ok()?;
    let done = export(&store, folder, Existing::Replace, &mut |_, _| ()).ok()?;
    let read = |name: String| {
        let content = fs::read(folder.join(&name)).unwrap();
        (name, content)
    };
    Some(done.files.into_iter().map(read).collect())
}

#[test]
fn no_changed_byte_goes_unnoticed_where_it_matters() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.bellwether");
    make(&path);
    let whole = fs::read(&path).unwrap();
    let right = exported(&path, &folder.path().join("right")).unwrap();
    assert_eq!(fs::read(&path).unwrap(), whole, "an export changes nothing");
    assert_eq!(examine(&path).worst(), Severity::Fine, "{:#?}", examine(&path));

    let mut random = rand_chacha(20_311_204);
    let (mut n_noticed, mut n_harmless) = (0, 0);
    for _ in 0..N_CHANGES {
        let (place, bits) = (random.random_range(0..whole.len()), random.random_range(1..=255_u8));
        let mut changed = whole.clone();
        changed[place] ^= bits;
        let own = tempfile::tempdir().unwrap();
        let path = own.path().join("record.bellwether");
        fs::write(&path, &changed).unwrap();
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            fs::set_permissions(&path, fs::Permissions::from_mode(0o600)).unwrap();
        }
        let is_well = examine(&path).worst() == Severity::Fine;
        let export = exported(&path, &own.path().join("export"));
        let about = format!("byte {place} changed by {bits:#04x}");
        if let Some(export) = &export {
            assert!(*export == right, "{about}: the export differs and nobody says so");
        }
        assert!(!is_well || export.is_some(), "{about}: all is well, and the export fails");
        if is_well { n_harmless += 1 } else { n_noticed += 1 }
    }
    // Most of a small store's pages is room that nobody uses yet.
    assert!(n_noticed > 20 && n_harmless > 20, "{n_noticed} noticed, {n_harmless} harmless");
}

fn rand_chacha(seed: u64) -> rand::rngs::ChaCha8Rng {
    rand::rngs::ChaCha8Rng::seed_from_u64(seed)
}
