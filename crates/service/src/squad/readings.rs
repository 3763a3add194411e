//! Lifters as they were last read, held in memory until something changes that the reading rests on.
//!
//! A new fact about one lifter makes that lifter's reading stale and nobody else's; a lift file or other
//! pooled values make all of them stale. Nothing is ever answered from a reading that is older than what
//! was on record when the question came. A stale one is only kept for the next to go on from, and one lifter
//! is read by one thread at a time: others who ask for the same wait for what it reads.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use domain::LifterName;
use jiff::civil::Date;
use store::{PooledId, Store, StoreError, Touched};

use crate::record::person::Person;
use crate::view::LifterLine;

/// What a reading was made from, or something newer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct AsOf {
    /// The newest fact.
    pub(crate) newest_fact: u64,
    /// The pooled values in force.
    pooled: PooledId,
}

/// The lifters read so far.
#[derive(Debug, Default)]
pub(crate) struct People {
    known: Mutex<Known>,
}

#[derive(Debug, Default)]
struct Known {
    /// Up to where stale readings have been forgotten.
    upto: Option<AsOf>,
    read: BTreeMap<String, Entry>,
    /// The last readings of those whose reading is stale.
    earlier: BTreeMap<String, Arc<Person>>,
    /// Of those who are being read, whose turn it is.
    turns: BTreeMap<String, Arc<Mutex<()>>>,
    /// The newest fact when a lifter's reading was last found stale, and everybody's. A reading that was
    /// begun before that is not kept.
    stale: BTreeMap<String, u64>,
    all_stale: u64,
}

#[derive(Debug)]
struct Entry {
    person: Arc<Person>,
    /// The line among all lifters, as it was on a day.
    line: Option<(Date, (u8, LifterLine))>,
}

impl People {
    /// Forgets what has become stale, and says what is current now.
    pub(crate) fn up_to_date(&self, store: &Store) -> Result<AsOf, StoreError> {
        let now = AsOf { newest_fact: store.newest_fact()?, pooled: store.pooled_id_in_force()? };
        let mut known = self.known();
        let Some(upto) = known.upto else {
            known.upto = Some(now);
            return Ok(now);
        };
        if now == upto || now.newest_fact < upto.newest_fact {
            return Ok(upto); // somebody else has seen more
        }
        let touched = match now.pooled == upto.pooled {
            true => store.touched_since(upto.newest_fact)?,
            false => Touched::Everybody,
        };
        match touched {
            Touched::These(keys) => {
                for key in keys {
                    if let Some(entry) = known.read.remove(&key) {
                        known.earlier.insert(key.clone(), entry.person);
                    }
                    known.stale.insert(key, now.newest_fact);
                }
            }
            Touched::Everybody => {
                known.read.clear();
                known.earlier.clear();
                known.stale.clear();
                known.all_stale = now.newest_fact;
            }
        }
        known.upto = Some(now);
        Ok(now)
    }

    /// The lifter as last read, if that still holds.
    pub(crate) fn get(&self, name: &LifterName) -> Option<Arc<Person>> {
        self.known().read.get(&name.key()).map(|entry| Arc::clone(&entry.person))
    }

    /// Keeps a reading that was begun when `as_of` was current; if it is stale by now, for the next to go on from.
    pub(crate) fn put(&self, name: &LifterName, as_of: AsOf, person: &Arc<Person>) {
        let mut known = self.known();
        if known.still_holds(name, as_of) {
            let entry = Entry { person: Arc::clone(person), line: None };
            known.read.insert(name.key(), entry);
            known.earlier.remove(&name.key());
        } else {
            known.earlier.insert(name.key(), Arc::clone(person));
        }
    }

    /// The lifter as last read before something changed; for the next reading to go on from.
    pub(crate) fn earlier(&self, name: &LifterName) -> Option<Arc<Person>> {
        self.known().earlier.get(&name.key()).cloned()
    }

    /// Whether the lifter was read before something changed.
    pub(crate) fn was_read(&self, name: &LifterName) -> bool {
        self.known().earlier.contains_key(&name.key())
    }

    /// A place in the queue of those who would read this lifter.
    pub(crate) fn turn(&self, name: &LifterName) -> Turn<'_> {
        let key = name.key();
        let queue = Arc::clone(self.known().turns.entry(key.clone()).or_default());
        Turn { people: self, key, queue }
    }

    /// The lifter's line among all on a day, from memory or made now.
    pub(crate) fn line(
        &self,
        name: &LifterName,
        as_of: AsOf,
        today: Date,
        make: impl FnOnce() -> (u8, LifterLine),
    ) -> (u8, LifterLine) {
        let held = self.known().read.get(&name.key()).and_then(|entry| entry.line.clone());
        if let Some((_, line)) = held.filter(|(day, _)| *day == today) {
            return line;
        }
        let line = make();
        let mut known = self.known();
        if known.still_holds(name, as_of)
            && let Some(entry) = known.read.get_mut(&name.key())
        {
            entry.line = Some((today, line.clone()));
        }
        line
    }

    /// A panic while this was held can't leave it half changed: entries go in and out whole.
    fn known(&self) -> MutexGuard<'_, Known> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A place in the queue of those who would read one lifter; given up when it is dropped.
pub(crate) struct Turn<'a> {
    people: &'a People,
    key: String,
    queue: Arc<Mutex<()>>,
}

impl Turn<'_> {
    /// Waits until nobody else reads this lifter. One who fell over while reading holds up nobody.
    pub(crate) fn wait(&self) -> MutexGuard<'_, ()> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        let mut known = self.people.known();
        // Only the table has it besides: the last one out takes it away.
        if Arc::strong_count(&self.queue) == 2 {
            known.turns.remove(&self.key);
        }
    }
}

impl Known {
    fn still_holds(&self, name: &LifterName, as_of: AsOf) -> bool {
        let stale = self.stale.get(&name.key()).copied().unwrap_or(0).max(self.all_stale);
        self.upto.is_some_and(|upto| upto.pooled == as_of.pooled) && stale <= as_of.newest_fact
    }
}

#[cfg(test)]
mod tests {
    use domain::{LiftName, Lifter, Load, LoggedSet, Note, Reps, SetKind, SetNumber, Unit, When};
    use jiff::Timestamp;
    use store::OnDifference;

    use super::*;

    fn name(text: &str) -> LifterName {
        LifterName::new(text).unwrap()
    }

    fn log(store: &Store, who: &str, number: u8) {
        let set = LoggedSet {
            lifter: name(who),
            when: When::parse("2031-05-04").unwrap(),
            lift: LiftName::new("back squat").unwrap(),
            number: SetNumber::new(number).unwrap(),
            kind: SetKind::Work,
            load: Load::new(100.0, Unit::Kg).unwrap(),
            reps: Reps::new(5).unwrap(),
            rir: None,
            note: Note::default(),
        };
        let mut import = store.begin_import("a log", Timestamp::UNIX_EPOCH).unwrap();
        import.add_set(&set, OnDifference::Keep).unwrap();
        import.commit().unwrap();
    }

    /// Two lifters of one set each, read.
    fn both_read() -> (tempfile::TempDir, Store, People, AsOf) {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.db")).unwrap();
        for who in ["Anna Birk", "Bo Ek"] {
            store.put_lifter(&Lifter::usual(name(who), Unit::Kg), Timestamp::UNIX_EPOCH).unwrap();
            log(&store, who, 1);
        }
        let people = People::default();
        let as_of = people.up_to_date(&store).unwrap();
        for who in ["Anna Birk", "Bo Ek"] {
            read(&people, &store, who, as_of);
        }
        (folder, store, people, as_of)
    }

    fn read(people: &People, store: &Store, who: &str, as_of: AsOf) {
        let person = Person::load(store, &name(who)).unwrap();
        people.put(&name(who), as_of, &Arc::new(person));
    }

    fn held(people: &People) -> [Option<usize>; 2] {
        ["Anna Birk", "Bo Ek"].map(|who| people.get(&name(who)).map(|person| person.n_sets))
    }

    #[test]
    fn a_new_fact_makes_its_own_lifter_stale_and_nobody_else() {
        let (_folder, store, people, _) = both_read();
        assert_eq!(held(&people), [Some(1), Some(1)]);
        log(&store, "Anna Birk", 2);
        people.up_to_date(&store).unwrap();
        assert_eq!(held(&people), [None, Some(1)]);
    }

    #[test]
    fn a_lift_file_and_other_pooled_values_make_everybody_stale() {
        let (_folder, store, people, _) = both_read();
        let mut import = store.begin_import("lifts", Timestamp::UNIX_EPOCH).unwrap();
        import.add_lift_file("[[lift]]").unwrap();
        import.commit().unwrap();
        people.up_to_date(&store).unwrap();
        assert_eq!(held(&people), [None, None]);
    }

    #[test]
    fn a_reading_that_was_overtaken_is_not_kept() {
        let (_folder, store, people, before) = both_read();
        log(&store, "Anna Birk", 2);
        people.up_to_date(&store).unwrap();
        // It was begun before the set came, and ends after that.
        read(&people, &store, "Anna Birk", before);
        read(&people, &store, "Bo Ek", before);
        assert_eq!(held(&people), [None, Some(1)]);
        let now = people.up_to_date(&store).unwrap();
        read(&people, &store, "Anna Birk", now);
        assert_eq!(held(&people), [Some(2), Some(1)]);
    }

    #[test]
    fn a_line_is_made_once_a_day_and_anew_after_a_new_fact() {
        let (_folder, store, people, as_of) = both_read();
        let anna = name("Anna Birk");
        let made = |people: &People, as_of, day, urgency| {
            let line = LifterLine {
                name: "Anna Birk".to_owned(),
                sets: 1,
                lifts: 1,
                last: None,
                reason: String::new(),
                last_calls: Vec::new(),
            };
            people.line(&anna, as_of, day, || (urgency, line)).0
        };
        let (today, tomorrow) = (jiff::civil::date(2031, 5, 5), jiff::civil::date(2031, 5, 6));
        assert_eq!(made(&people, as_of, today, 1), 1);
        assert_eq!(made(&people, as_of, today, 2), 1);
        assert_eq!(made(&people, as_of, tomorrow, 3), 3);
        log(&store, "Anna Birk", 2);
        let now = people.up_to_date(&store).unwrap();
        read(&people, &store, "Anna Birk", now);
        assert_eq!(made(&people, now, tomorrow, 4), 4);
    }
}
