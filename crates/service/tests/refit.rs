//! Fits kept, pooled values estimated and put in force, on a store of virtual lifters.
//!
//! Everybody is invented by the engine's generator, whose body is not the engine's model.

use std::path::Path;
use std::sync::LazyLock;

use domain::{Lifter, LifterName, Load, LoggedSet, Unit};
use engine::recovery::{MODEL_VERSION, Pooled};
use engine::virtual_lifters::{VirtualLifter, World, draw};
use jiff::Timestamp;
use jiff::civil::{Date, date};
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use service::population::pool::{PoolError, back_to_shipped, propose};
use service::population::refit::{FitVerdict, Refit, RefitReport};
use service::record::inputs::{Grounds, PooledTextError, pooled_as_text};
use service::{Desk, Store};
use store::{KeptFit, OnDifference};

const TODAY: Date = date(2031, 5, 6);
const WEEKS: u16 = 10;

static LIFTERS: LazyLock<Vec<VirtualLifter>> = LazyLock::new(|| {
    draw(&World::named("brisk").unwrap(), 5, 3, WEEKS, date(2031, 5, 4)).unwrap().lifters
});

fn now() -> Timestamp {
    "2031-05-06T03:00:00Z".parse().unwrap()
}

/// A store with the lifters; `change` may alter a set before it is logged.
fn store_with(folder: &Path, mut change: impl FnMut(&mut LoggedSet)) -> Store {
    let store = Store::open(&folder.join("record.bellwether")).unwrap();
    let mut import = store.begin_import("a log", now()).unwrap();
    for one in LIFTERS.iter() {
        import.add_lifter_if_missing(&Lifter::usual(name_of(one), Unit::Kg)).unwrap();
        for set in &one.sets {
            let mut set = set.clone();
            change(&mut set);
            import.add_set(&set, OnDifference::Keep).unwrap();
        }
        for check_in in &one.check_ins {
            import.add_check_in(check_in, OnDifference::Keep).unwrap();
        }
    }
    import.commit().unwrap();
    store
}

fn store() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = store_with(folder.path(), |_| ());
    (folder, store)
}

fn name_of(one: &VirtualLifter) -> LifterName {
    one.sets[0].lifter.clone()
}

fn first() -> LifterName {
    name_of(&LIFTERS[0])
}

fn refit(store: &Store, threads: usize) -> RefitReport {
    let refit = Refit { store, lifter: None, all: false, threads, now: now() };
    refit.run(&mut |_, _, _| ()).unwrap()
}

fn kept(store: &Store) -> Vec<Vec<KeptFit>> {
    LIFTERS.iter().map(|one| store.kept_fits(&name_of(one), MODEL_VERSION).unwrap()).collect()
}

fn made(report: &RefitReport) -> Vec<u64> {
    report.lifters.iter().map(|line| line.made).collect()
}

/// Everything that the pages and cards of all lifters say, but for where the fits are from.
fn pages(desk: &Desk) -> String {
    let page = |one: &VirtualLifter| {
        let name = name_of(one);
        (desk.lifter(&name, TODAY).unwrap(), desk.card(&name, TODAY).unwrap())
    };
    serde_json::to_string(&LIFTERS.iter().map(page).collect::<Vec<_>>()).unwrap()
}

#[test]
fn a_record_reads_the_same_to_the_bit_whatever_is_kept_of_it() {
    let (folder, store) = store();
    let fresh = Desk::new(store);
    let before = pages(&fresh);
    assert_eq!(kept(fresh.store()), vec![vec![]; 3], "a desk without a clock keeps nothing");

    let report = refit(fresh.store(), 2);
    assert!(report.lifters.iter().all(|line| line.renewed && line.can_be_pooled), "{report:?}");
    assert!(made(&report).iter().all(|made| *made >= 2), "{report:?}");
    assert_eq!(report.general_values, "come with the program");

    // After a restart nothing is fitted, and every word is the same.
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    let restarted = Desk::new(store);
    assert_eq!(pages(&restarted), before);
    let again = refit(restarted.store(), 1);
    assert_eq!((again.renewed(), made(&again)), (0, vec![0; 3]));
}

#[test]
fn fits_are_the_same_to_the_bit_in_any_order() {
    let (_one, alone) = store();
    let (_other, together) = store();
    refit(&alone, 1);
    let mut told = Vec::new();
    let run = Refit { store: &together, lifter: None, all: true, threads: 3, now: now() };
    let report = run.run(&mut |done, whole, n| told.push((done, whole, n))).unwrap();
    assert_eq!(kept(&alone), kept(&together));
    let n_sets: u64 = LIFTERS.iter().map(|one| one.sets.len() as u64).sum();
    assert_eq!(told.first(), Some(&(0, n_sets, 0)));
    assert_eq!(told.last(), Some(&(n_sets, n_sets, 3)));
    let names: Vec<_> = report.lifters.iter().map(|line| line.name.clone()).collect();
    assert_eq!(names, LIFTERS.iter().map(|one| name_of(one).to_string()).collect::<Vec<_>>());
}

/// A run that was broken off has kept whole lifters: the next one does the others only.
#[test]
fn a_run_goes_on_where_another_stopped() {
    let (_folder, store) = store();
    let one = Refit { store: &store, lifter: Some(first()), all: false, threads: 1, now: now() };
    let report = one.run(&mut |_, _, _| ()).unwrap();
    assert_eq!(report.lifters.len(), 1);
    let [own, none, no_other] = kept(&store).try_into().unwrap();
    assert!(!own.is_empty() && none.is_empty() && no_other.is_empty());
    let rest = refit(&store, 2);
    let renewed: Vec<_> = rest.lifters.iter().map(|line| line.renewed).collect();
    assert_eq!(renewed, [false, true, true]);
    assert_eq!(kept(&store)[0], own);
    let nobody = LifterName::new("Nobody Atall").unwrap();
    let unknown = Refit { lifter: Some(nobody), ..one };
    assert!(unknown.run(&mut |_, _, _| ()).unwrap_err().to_string().contains("no lifter"));
}

#[test]
fn a_correction_makes_stale_exactly_the_fits_that_read_the_set() {
    let (_folder, store) = store();
    let before = made(&refit(&store, 2));
    let correct = |set: &LoggedSet| {
        let mut other = set.clone();
        other.load = Load::from_kg(set.load.kg() + 2.5).unwrap();
        store.correct_set(set.id(), &other, "it was more", now()).unwrap();
    };
    let sets = &LIFTERS[0].sets;
    let last_read = kept(&store)[0].last().unwrap().n_lead_sets;
    assert!(last_read > 20);
    // The last set of all is after every fit, or read by none but the last.
    correct(sets.last().unwrap());
    let after_last = made(&refit(&store, 1));
    assert!(after_last[0] <= 1 && after_last[1..] == [0, 0], "{after_last:?}");
    // The first lead set was read by all.
    let lead = sets.iter().find(|set| set.kind.can_lead()).unwrap();
    correct(lead);
    let after_first = made(&refit(&store, 1));
    assert_eq!((after_first[0], &after_first[1..]), (before[0], &[0, 0][..]));
}

#[test]
fn the_desk_keeps_the_fits_that_it_makes() {
    let (folder, store) = store();
    let desk = Desk::new(store).with_threads(2).keeping_fits(now);
    desk.squad(TODAY).unwrap();
    assert!(kept(desk.store()).iter().all(|fits| fits.len() >= 2));
    assert!(kept(desk.store()).iter().flatten().all(|fit| fit.estimate.is_none()));
    let report = refit(desk.store(), 1);
    assert_eq!(made(&report), [0; 3], "all that is missing are the estimates for pooling");
    assert!(report.lifters.iter().all(|line| line.renewed && line.can_be_pooled));
    let page = desk.lifter(&first(), TODAY).unwrap();
    assert!(page.fit.contains("values of lifters in general that come with the program"));

    drop(desk);
    let path = folder.path().join("record.bellwether");
    let read_only = Store::open_read_only(&path).unwrap();
    let desk = Desk::new(read_only).keeping_fits(now);
    desk.lifter(&first(), TODAY).unwrap();
}

#[test]
fn values_come_into_force_on_request_and_go_again() {
    let (_folder, store) = store();
    let error = propose(&store, false, &mut |_, _| ()).unwrap_err();
    assert!(matches!(error, PoolError::NoEstimates { lifters: 3 }), "{error}");
    refit(&store, 2);
    let first_fits = kept(&store);
    let proposal = propose(&store, false, &mut |_, _| ()).unwrap();
    assert!(proposal.is_sound && proposal.n_lifters == 3 && proposal.n_without == 0);
    assert_eq!(proposal.before, "come with the program");
    let same = propose(&store, false, &mut |_, _| ()).unwrap();
    assert_eq!(same.changes, proposal.changes);
    assert_eq!(kept(&store), first_fits, "a proposal changes nothing");

    let desk = Desk::new(store);
    let shipped = pages(&desk);
    proposal.adopt(desk.store(), now()).unwrap();
    let own = pages(&desk);
    assert!(own != shipped, "what was held in memory counts no more");
    assert!(own.contains("were estimated from 3 lifters of this record on 6 May 2031"));
    assert_eq!(kept(desk.store()), vec![vec![]; 3]);
    let error = propose(desk.store(), false, &mut |_, _| ()).unwrap_err();
    assert!(matches!(error, PoolError::NoEstimates { .. }));

    // Fits made with the new values, pooled again: nearly what was found before.
    refit(desk.store(), 2);
    assert_eq!(pages(&desk), own);
    let second = propose(desk.store(), false, &mut |_, _| ()).unwrap();
    let moved = |changes: &[service::population::pool::PooledChange]| -> f64 {
        changes
            .iter()
            .map(|c| (c.after.middle - c.before.middle).abs() / c.before.middle.abs())
            .sum()
    };
    let (once, twice) = (moved(&proposal.changes), moved(&second.changes));
    assert!(twice < 0.5 * once, "{twice} after {once}");

    let changes = back_to_shipped(desk.store(), now()).unwrap();
    assert_eq!(changes[1].after.middle, 1.0);
    assert_eq!(pages(&desk), shipped);
    assert_eq!(kept(desk.store()), first_fits, "fits made with these values count again");
}

/// The same lifters with loads that swing by 6 % from set to set: their lifts scatter more, and that is
/// where pooling puts it.
#[test]
fn less_steady_lifters_move_the_scatter_up() {
    let scatter = |swing: f64| {
        let mut dice = rand::rngs::ChaCha12Rng::seed_from_u64(8);
        let folder = tempfile::tempdir().unwrap();
        let store = store_with(folder.path(), |set| {
            let by: f64 = StandardNormal.sample(&mut dice);
            let kg = set.load.kg() * (swing * by).exp();
            set.load = Load::from_kg((kg * 100.0).round() / 100.0).unwrap();
        });
        refit(&store, 2);
        let proposal = propose(&store, false, &mut |_, _| ()).unwrap();
        let of_scatter = proposal.changes.iter().find(|change| change.what.starts_with("scatter"));
        of_scatter.unwrap().after.middle
    };
    let (steady, unsteady) = (scatter(0.0), scatter(0.06));
    assert!(unsteady > 1.1 * steady, "{unsteady} against {steady}");
}

#[test]
fn growth_is_estimated_from_the_records_on_request() {
    let (_folder, store) = store();
    refit(&store, 2);
    let mut told = Vec::new();
    let proposal = propose(&store, true, &mut |done, whole| told.push((done, whole))).unwrap();
    assert_eq!(told, [(0, 3), (1, 3), (2, 3)]);
    let gain = proposal.changes.iter().find(|change| change.what.starts_with("gain of a lift"));
    let gain = gain.unwrap();
    assert!(gain.after != gain.before && gain.after.bounds.is_some(), "{gain:?}");
    assert!(proposal.verdict.contains("How lifts grow"), "{}", proposal.verdict);
}

#[test]
fn a_lifter_with_a_short_record_is_said_to_have_one() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    store.put_lifter(&Lifter::usual(first(), Unit::Kg), now()).unwrap();
    let report = refit(&store, 1);
    assert_eq!(report.count(FitVerdict::TooShort), 1);
    let line = &report.lifters[0];
    assert_eq!((line.made, line.renewed, line.fitted_from), (0, false, None));
    let none = Store::open(&folder.path().join("nobody.bellwether")).unwrap();
    assert_eq!(refit(&none, 4).lifters, []);
}

#[test]
fn values_written_as_text_are_read_again() {
    let shipped = Pooled::shipped();
    let text = pooled_as_text(&shipped, "Values.\nTwo lines.");
    assert!(text.starts_with("# Values.\n# Two lines.\n"), "{text}");
    assert!(text.contains("\nslowness = 1.0\n"), "{text}");
    assert_eq!(Grounds::from_text(&text).unwrap().pooled(), &shipped);
    let whole = text.replace("slowness = 1.0", "slowness = 1");
    assert_eq!(Grounds::from_text(&whole).unwrap().pooled(), &shipped);
    let refused = |from: &str, to: &str| {
        let changed = text.replace(from, to);
        assert_ne!(changed, text);
        Grounds::from_text(&changed).unwrap_err()
    };
    let error = refused("slowness = 1.0", "slowness =");
    let line = 1 + text.lines().position(|line| line == "slowness = 1.0").unwrap();
    assert!(matches!(error, PooledTextError::NotToml { line: l, .. } if l == line), "{error}");
    let error = refused("slowness = 1.0", "slowness = \"one\"").to_string();
    assert_eq!(error, "`slowness` is not a number: write each value as `name = number`");
    let error = refused("slowness = 1.0", "slowness = 11.0").to_string();
    assert!(error.starts_with("`slowness` is 11 and must lie from 0.2 to 5"), "{error}");
    assert!(matches!(refused("slowness =", "slow ="), PooledTextError::Pooled(_)));
}

/// Values that an earlier version kept lack the numbers that came later: those are as they come with the program.
#[test]
fn values_of_an_earlier_version_go_on_counting() {
    let (_folder, store) = store();
    let numbers: Vec<(&str, f64)> = Pooled::shipped()
        .to_numbers()
        .into_iter()
        .filter(|(name, _)| *name != "freak-of-day")
        .collect();
    let id = store.keep_pooled(now(), 3, "converged", &numbers).unwrap();
    store.put_in_force(id, now()).unwrap();
    let desk = Desk::new(store);
    assert!(pages(&desk).contains("were estimated from 3 lifters"));
}
