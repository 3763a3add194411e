//! There and back: whatever was done to a record, its facts put into a new store give the same file
//! content. Beside it a plain model of what is current.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use domain::{CheckIn, LoggedSet, Mass, Note, Pain, Rir, SetKind};
use store::{Added, Fact, OnDifference, Store, StoreError, Thing};
use support::{at, check_in, dump, lifter, name, set};

const LIFTERS: [&str; 2] = ["Anna Birk", "bo ek"];
const LIFTS: [&str; 3] = ["squat", "Chin-Up", "chin up"];

/// Knuth's 64-bit linear congruential generator; the upper bits are taken.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

/// One of few places with one of few contents, so that they meet often.
fn any_set(dice: &mut Dice) -> LoggedSet {
    let day =
        format!("2031-05-{:02}{}", 1 + dice.below(3), ["", "T18:20:05"][dice.below(2) as usize]);
    let who = LIFTERS[dice.below(2) as usize];
    let lift = LIFTS[dice.below(3) as usize];
    let number = 1 + dice.below(2) as u8;
    let mut set = set(who, &day, lift, number, 50.0 + dice.below(2) as f64, 5);
    set.rir = [None, Some(Rir::new(1.5).unwrap())][dice.below(2) as usize];
    set.kind = [SetKind::Work, SetKind::WarmUp][dice.below(2) as usize];
    set.note = Note::new(["", "grip\nslipped, \"again\""][dice.below(2) as usize]).unwrap();
    set
}

fn any_check_in(dice: &mut Dice) -> CheckIn {
    let mut given =
        check_in(LIFTERS[dice.below(2) as usize], "2031-05-02", 5.1 + dice.below(3) as f64);
    given.stress = Some(3.3);
    given.body_mass = Some(Mass::try_from_grams(81_400).unwrap());
    given.pain = [None, Some(Pain::new(domain::Joint::Knee, 4).unwrap())][dice.below(2) as usize];
    given
}

/// What is current of the sets, and which of them were first entered where.
#[derive(Default)]
struct Model {
    /// First natural id, content, whether withdrawn.
    things: Vec<(domain::SetId, LoggedSet, bool)>,
}

impl Model {
    fn meant(&self, id: domain::SetId) -> Option<usize> {
        let there = self.things.iter().position(|(_, set, withdrawn)| !withdrawn && set.id() == id);
        there.or_else(|| self.things.iter().position(|(first, _, _)| *first == id))
    }

    fn add(&mut self, set: &LoggedSet, on_difference: OnDifference) {
        match self.meant(set.id()) {
            None => self.things.push((set.id(), set.clone(), false)),
            Some(idx) if on_difference == OnDifference::Correct => {
                let same =
                    LoggedSet { lift: set.lift.clone(), ..self.things[idx].1.clone() } == *set;
                // Another spelling of the lift alone is no difference.
                let keep = same && !self.things[idx].2 && self.things[idx].1.id() == set.id();
                if !keep {
                    self.things[idx] = (self.things[idx].0, set.clone(), false);
                }
            }
            Some(_) => {}
        }
    }

    fn correct(&mut self, id: domain::SetId, set: &LoggedSet) -> bool {
        let Some(idx) = self.meant(id) else { return false };
        let taken = (0..self.things.len()).any(|other| {
            other != idx && !self.things[other].2 && self.things[other].1.id() == set.id()
        });
        if !taken {
            self.things[idx] = (self.things[idx].0, set.clone(), false);
        }
        !taken
    }

    fn withdraw(&mut self, id: domain::SetId) -> bool {
        let meant = self.meant(id);
        if let Some(idx) = meant {
            self.things[idx].2 = true;
        }
        meant.is_some()
    }

    fn current(&self) -> Vec<String> {
        sorted(self.things.iter().filter(|(_, _, withdrawn)| !withdrawn).map(|(_, set, _)| set))
    }
}

fn sorted<'a>(sets: impl Iterator<Item = &'a LoggedSet>) -> Vec<String> {
    let mut lines: Vec<_> = sets.map(|set| format!("{set:?}")).collect();
    lines.sort();
    lines
}

/// One random act on both.
fn act(dice: &mut Dice, store: &Store, model: &mut Model, minute: i64) {
    let now = at(minute);
    let on_difference = [OnDifference::Keep, OnDifference::Correct][dice.below(2) as usize];
    match dice.below(7) {
        0..=2 => {
            let mut import = store.begin_import("a log", now).unwrap();
            for _ in 0..dice.below(6) {
                let set = any_set(dice);
                import.add_set(&set, on_difference).unwrap();
                model.add(&set, on_difference);
            }
            import.commit().unwrap();
        }
        3 => {
            let (old, new) = (any_set(dice), any_set(dice));
            let done = store.correct_set(old.id(), &new, "as told by the lifter", now);
            assert_eq!(done.is_ok(), model.correct(old.id(), &new), "{done:?}");
        }
        4 => {
            let set = any_set(dice);
            let done = store.withdraw_set(set.id(), "somebody else's", now);
            assert_eq!(done.is_ok(), model.withdraw(set.id()), "{done:?}");
        }
        5 => {
            let mut import = store.begin_import("a form", now).unwrap();
            import.add_check_in(&any_check_in(dice), on_difference).unwrap();
            import.add_lift_file(["one", "two"][dice.below(2) as usize]).unwrap();
            import.commit().unwrap();
        }
        _ => {
            let mut changed = lifter(LIFTERS[dice.below(2) as usize]);
            let shortfall = 1.7 + dice.below(3) as f64;
            changed.limits = domain::Limits::new(4, shortfall, 1.0, 3.0).unwrap();
            store.put_lifter(&changed, now).unwrap();
        }
    }
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

fn restore(store: &Store, facts: &[Fact]) -> Vec<Added<Fact>> {
    let mut import = store.begin_import("an export", at(9_999)).unwrap();
    let added = facts.iter().map(|fact| import.restore_fact(fact).unwrap()).collect();
    assert_eq!(import.commit().unwrap(), None, "restoring records nothing of its own");
    added
}

#[test]
fn any_record_comes_back_from_its_facts() {
    let mut n_moved = 0;
    for seed in 0..40 {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("first.db")).unwrap();
        LIFTERS.iter().for_each(|who| store.put_lifter(&lifter(who), at(0)).unwrap());
        let (mut dice, mut model) = (Dice(seed), Model::default());
        for minute in 1..40 {
            act(&mut dice, &store, &mut model, minute);
        }
        let sets: Vec<_> =
            LIFTERS.iter().flat_map(|who| store.sets_of(&name(who)).unwrap()).collect();
        assert_eq!(sorted(sets.iter()), model.current(), "seed {seed}");
        let counted: u64 = store.lifters().unwrap().iter().map(|summary| summary.n_sets).sum();
        assert_eq!(counted as usize, sets.len(), "seed {seed}");

        let facts = facts_of(&store);
        n_moved += facts
            .iter()
            .filter(|fact| matches!(&fact.thing, Thing::Set(id, set) if *id != set.id()))
            .count();
        let second = Store::open(&folder.path().join("second.db")).unwrap();
        assert!(restore(&second, &facts).iter().all(|added| *added == Added::New));
        assert_eq!(dump(second.path()), dump(store.path()), "seed {seed}");
        assert!(restore(&second, &facts).iter().all(|added| *added == Added::AlreadyThere));
        assert_eq!(facts_of(&second), facts, "seed {seed}");
        assert!(second.doctor().on("references").is_some_and(|f| f.cure.is_empty()));
    }
    assert!(n_moved > 30, "corrections that move a set must be among them: {n_moved}");
}

#[test]
fn facts_that_do_not_fit_are_refused_by_number() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("first.db")).unwrap();
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
    let set = set("Anna Birk", "2031-05-04", "squat", 1, 100.0, 5);
    let mut import = store.begin_import("a log", at(1)).unwrap();
    import.add_set(&set, OnDifference::Keep).unwrap();
    import.commit().unwrap();
    store.withdraw_set(set.id(), "not done", at(2)).unwrap();
    let facts = facts_of(&store);
    let check = |store: &Store, fact: &Fact, reason: &str| {
        let before = dump(store.path());
        let mut import = store.begin_import("an export", at(3)).unwrap();
        let error = import.restore_fact(fact).unwrap_err().to_string();
        assert!(error.contains(reason), "{error}");
        import.commit().unwrap();
        assert_eq!(dump(store.path()), before);
    };
    let empty = Store::open(&folder.path().join("empty.db")).unwrap();
    check(&empty, &facts[1], "lifter `Anna Birk` is not in the store");
    check(&empty, &facts[2], "fact 3 can't be restored here: the version that it supersedes");
    // Facts come in their order: one that was left out can't be put in behind the others.
    let late = Store::open(&folder.path().join("late.db")).unwrap();
    restore(&late, &[facts[0].clone(), Fact { seq: 5, ..facts[1].clone() }]);
    let between = Fact { seq: 3, supersedes: None, ..facts[0].clone() };
    check(&late, &between, "fact 3 can't be restored here: later facts are there already");
    let other = Fact { reason: "made up".to_owned(), ..facts[1].clone() };
    check(&store, &other, "fact 2 can't be restored here: another fact has this number");
    let fork = Fact { seq: 4, supersedes: Some(2), ..facts[2].clone() };
    check(&store, &fork, "missing or superseded");
    let strange = Fact { seq: 4, supersedes: Some(1), ..facts[2].clone() };
    check(&store, &strange, "it supersedes a version of something else");
}
