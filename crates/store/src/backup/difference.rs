//! What one record holds and another doesn't, lifter by lifter.

use std::collections::{BTreeMap, HashSet};
use std::hash::{DefaultHasher, Hash, Hasher};

use domain::LifterName;
use jiff::civil::Date;
use rusqlite::Connection;

use super::contents::{FactRows, all_facts};
use crate::error::Trouble;
use crate::{Fact, Standing, Thing};

/// What the old record holds and the new one doesn't.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Difference {
    /// Lifter by lifter, in the order of their names.
    pub lifters: Vec<LifterDifference>,
    /// Facts about nobody in particular: lift files.
    pub lift_files: u64,
    /// How many facts the new record holds that the old one doesn't.
    pub only_in_new: u64,
}

/// What the old record holds of one lifter and the new one doesn't.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LifterDifference {
    /// Who.
    pub name: LifterName,
    /// Sets, corrections and withdrawals of sets included.
    pub sets: u64,
    /// Check-ins, in the same way.
    pub check_ins: u64,
    /// Messages from phones.
    pub messages: u64,
    /// Settings, programmes, changes of plan and private links.
    pub others: u64,
    /// The first and last day of these sets and check-ins.
    pub days: Option<(Date, Date)>,
}

impl Difference {
    /// Goes through both records side by side as long as they say the same, which a copy and its store do up
    /// to the end of the copy; what comes after is told apart by what it says, whatever its number.
    pub(super) fn between(old: &Connection, new: &Connection) -> Result<Difference, Trouble> {
        let (mut of_old, mut of_new) = (all_facts(old)?, all_facts(new)?);
        let mut of_old = FactRows::new(old, &mut of_old)?;
        let mut of_new = FactRows::new(new, &mut of_new)?;
        let (mut left, mut right) = (of_old.next()?, of_new.next()?);
        while left.is_some() && left == right {
            (left, right) = (of_old.next()?, of_new.next()?);
        }
        let mut said = HashSet::new();
        let mut only_in_new = 0_i64;
        while let Some(fact) = right {
            said.insert(what_it_says(&fact));
            only_in_new += 1;
            right = of_new.next()?;
        }
        let mut found = Found::default();
        while let Some(fact) = left {
            if said.contains(&what_it_says(&fact)) {
                only_in_new -= 1;
            } else {
                found.add(&fact);
            }
            left = of_old.next()?;
        }
        Ok(Difference {
            lifters: found.lifters.into_values().collect(),
            lift_files: found.lift_files,
            only_in_new: only_in_new.max(0).unsigned_abs(),
        })
    }

    /// Whether the new record holds all that the old one does.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.lifters.is_empty() && self.lift_files == 0
    }
}

#[derive(Default)]
struct Found {
    lifters: BTreeMap<String, LifterDifference>,
    lift_files: u64,
}

impl Found {
    fn add(&mut self, fact: &Fact) {
        let (name, day) = match &fact.thing {
            Thing::LiftFile(_) => {
                self.lift_files += 1;
                return;
            }
            Thing::Lifter(lifter) => (&lifter.name, None),
            Thing::Set(_, set) => (&set.lifter, Some(set.when.date())),
            Thing::CheckIn(_, check_in) => (&check_in.lifter, Some(check_in.when.date())),
            Thing::PhoneLink(link) => (&link.lifter, None),
            Thing::FloorMessage(message) => (&message.lifter, None),
            Thing::Programme(programme) => (&programme.lifter, None),
            Thing::PlanChange(change) => (&change.lifter, None),
        };
        let lifter = self.lifters.entry(name.key()).or_insert_with(|| LifterDifference {
            name: name.clone(),
            sets: 0,
            check_ins: 0,
            messages: 0,
            others: 0,
            days: None,
        });
        match &fact.thing {
            Thing::Set(..) => lifter.sets += 1,
            Thing::CheckIn(..) => lifter.check_ins += 1,
            Thing::FloorMessage(_) => lifter.messages += 1,
            _ => lifter.others += 1,
        }
        if let Some(day) = day {
            let (first, last) = lifter.days.unwrap_or((day, day));
            lifter.days = Some((first.min(day), last.max(day)));
        }
    }
}

/// A number for what a fact says of its thing.
fn what_it_says(fact: &Fact) -> u64 {
    let mut hasher = DefaultHasher::new();
    let withdrawn = fact.standing == Standing::Withdrawn;
    // Every part of a thing is in its debug text, floating-point numbers to the bit.
    (withdrawn, format!("{:?}", fact.thing)).hash(&mut hasher);
    hasher.finish()
}
