//! Going on from an earlier reading of the same record.
//!
//! A set of today changes nothing of what was read of the days before. So the model as it stood before the last
//! day with sets is held, and a record that says the same up to there is read on from it: with every set of a
//! session one day is read, and not years. Anything that differs earlier has the whole record read again.

use std::sync::OnceLock;

use domain::{CheckIn, Limits, LoggedSet};
use jiff::civil::Date;

use super::{History, LastSession, LiftHistory, last_days, ratings};
use crate::cache::Memo;
use crate::record::inputs::Grounds;
use crate::record::tracker::{Follower, Model};

/// How it stood before the last day with sets: from here a reading goes on when only that day has changed, as
/// it does with every set of a session.
#[derive(Clone, Debug)]
pub(super) struct BeforeLastDay {
    /// The model, its session not yet settled.
    pub(super) follower: Follower,
    pub(super) session: LastSession,
}

impl History {
    pub(super) fn is_read_by(&self, model: Model, limits: &Limits, grounds: &Grounds) -> bool {
        self.follower.model() == model && self.limits == *limits && self.grounds.reads_as(grounds)
    }

    /// This reading up to its last day, if that is where a record of these `lifts`, `sets` and `check_ins`
    /// begins to differ or to go on.
    pub(super) fn before_last_day(
        &self,
        (lifts, sets): (&[LiftHistory], &[(usize, LoggedSet)]),
        check_ins: &[CheckIn],
    ) -> Option<History> {
        let last = self.days.last()?.date;
        let upto = sets.partition_point(|(_, set)| set.when.date() < last);
        let by_place = self.by_place();
        let same_lifts = by_place.iter().map(|lift| &lift.lift).eq(lifts.iter().map(|l| &l.lift));
        if upto == sets.len() || !same_lifts {
            return None;
        }
        let told = |check_ins: &[CheckIn]| {
            check_ins.partition_point(|check_in| check_in.when.date() < last)
        };
        if self.check_ins[..told(&self.check_ins)] != check_ins[..told(check_ins)] {
            return None;
        }
        let mut read: Vec<_> = by_place.iter().map(|lift| lift.sets.iter()).collect();
        let mut earlier = self.order.iter().map_while(|place| {
            let set = read.get_mut(*place)?.next()?;
            (set.when.date() < last).then_some((*place, set))
        });
        let same = sets[..upto].iter().all(|(place, set)| earlier.next() == Some((*place, set)));
        if !same || earlier.next().is_some() {
            return None;
        }
        self.without_last_day()
    }

    /// The same record without the sets of the last day, as it was read then. None if nothing came before, or
    /// if a lift was done on that day for the first time: then it was read otherwise.
    fn without_last_day(&self) -> Option<History> {
        let (before, last) = (self.before_last_day.as_ref()?, self.days.last()?.date);
        let mut lifts = Vec::with_capacity(self.lifts.len());
        for lift in self.by_place() {
            let sets = lift.sets.partition_point(|set| set.when.date() < last);
            let points = lift.points.partition_point(|point| point.set.when.date() < last);
            if sets == 0 {
                return None;
            }
            lifts.push(LiftHistory {
                lift: lift.lift.clone(),
                points: lift.points[..points].to_vec(),
                sets: lift.sets[..sets].to_vec(),
                place: lift.place,
                chances: Memo::default(),
            });
        }
        let n_sets = lifts.iter().map(|lift| lift.sets.len()).sum();
        Some(History {
            lifts,
            days: self.days[..self.days.len() - 1].to_vec(),
            check_ins: self.check_ins.clone(),
            ratings: self.ratings.clone(),
            follower: before.follower.clone(),
            settled: OnceLock::new(),
            why: Default::default(),
            session: before.session,
            grounds: self.grounds.clone(),
            limits: self.limits,
            order: self.order[..n_sets].to_vec(),
            before_last_day: None,
        })
    }

    /// The record as it stood before the sets of its last day, with the check-ins of that day; none if `date` is
    /// another day, or if that can't be told from this reading.
    pub(crate) fn before(&self, date: Date) -> Option<History> {
        self.days.last().filter(|last| last.date == date)?;
        let mut before = self.without_last_day()?;
        before.lifts.sort_by(|a, b| last_days(b).total_cmp(&last_days(a)));
        Some(before)
    }

    /// The same, on grounds with other kept fits, and with other check-ins.
    pub(super) fn on_grounds(self, grounds: Grounds, check_ins: Vec<CheckIn>) -> History {
        let mut begun = History { grounds, ratings: ratings(&check_ins), check_ins, ..self };
        begun.follower.note_kept(&begun.grounds);
        begun
    }

    /// The lifts by their places in the model.
    fn by_place(&self) -> Vec<&LiftHistory> {
        let mut lifts: Vec<_> = self.lifts.iter().collect();
        lifts.sort_by_key(|lift| lift.place);
        lifts
    }
}

#[cfg(test)]
mod tests {
    use domain::{
        Catalogue, LiftName, LifterName, Load, Note, Pain, Reps, SetKind, SetNumber, Unit, When,
    };

    use super::*;

    /// What was reported of a lifter.
    type Told = (Vec<LoggedSet>, Vec<CheckIn>);

    const LIFTS: [&str; 3] = ["back squat", "bench press", "barbell row"];

    /// A record of so many days with sets of three lifts, every other day, each after a check-in.
    fn record(days: u8) -> (Vec<LoggedSet>, Vec<CheckIn>) {
        let (mut sets, mut check_ins) = (Vec::new(), Vec::new());
        for day in 0..days {
            let date = Date::constant(2031, 1, 1)
                .saturating_add(jiff::Span::new().days(2 * i64::from(day)));
            for (place, lift) in LIFTS.into_iter().enumerate() {
                for number in 1..=3 {
                    let kg = 60.0 + 20.0 * place as f64 + 2.5 * f64::from((day * 7 + number) % 5);
                    sets.push(set(&format!("{date}T17:{place}{number}"), lift, number, kg));
                }
            }
            check_ins.push(check_in(&format!("{date}T08:00"), f64::from(5 + day % 4)));
        }
        (sets, check_ins)
    }

    fn set(when: &str, lift: &str, number: u8, kg: f64) -> LoggedSet {
        LoggedSet {
            lifter: LifterName::new("Anna Birk").unwrap(),
            when: When::parse(when).unwrap(),
            lift: LiftName::new(lift).unwrap(),
            number: SetNumber::new(number).unwrap(),
            kind: SetKind::Work,
            load: Load::new(kg, Unit::Kg).unwrap(),
            reps: Reps::new(5 + u16::from(number)).unwrap(),
            rir: None,
            note: Note::default(),
        }
    }

    fn check_in(when: &str, sleep_h: f64) -> CheckIn {
        CheckIn {
            lifter: LifterName::new("Anna Birk").unwrap(),
            when: When::parse(when).unwrap(),
            sleep_h: Some(CheckIn::sleep(sleep_h).unwrap()),
            stress: None,
            soreness: None,
            body_mass: None,
            pain: None,
        }
    }

    /// Reads a record from where `earlier` holds, or whole.
    fn read(
        earlier: Option<&History>,
        (sets, check_ins): &(Vec<LoggedSet>, Vec<CheckIn>),
    ) -> History {
        let limits = Limits::default();
        let on = (Grounds::shipped(), &Catalogue::built_in(), &limits);
        History::read_from(earlier, on, Model::Recovery, sets.clone(), check_ins.clone())
    }

    /// Everything in it, to the last bit.
    fn written(history: &History) -> String {
        format!("{history:?}")
    }

    #[test]
    fn what_comes_on_the_last_day_or_later_is_read_on_to_the_same_bit() {
        let start = record(24);
        let earlier = read(None, &start);
        let goes_on = |changed: &(Vec<LoggedSet>, Vec<CheckIn>), what: &str| {
            let (lifts, sets) =
                crate::record::history::in_order(&Catalogue::built_in(), changed.0.clone());
            let begun = earlier.before_last_day((&lifts, &sets), &changed.1);
            assert!(begun.is_some(), "{what} has the whole record read again");
            assert_eq!(
                written(&read(Some(&earlier), changed)),
                written(&read(None, changed)),
                "{what}"
            );
        };
        goes_on(&start, "nothing");
        let last = start.0.last().unwrap().when.date();
        let mut changed = start.clone();
        changed.0.push(set(&format!("{last}T19:00"), LIFTS[0], 4, 72.5));
        changed.0.push(set(&format!("{last}T19:05"), LIFTS[1], 4, 82.5));
        goes_on(&changed, "two sets more");
        let (mut corrected, mut withdrawn) = (start.clone(), start.clone());
        corrected.0.last_mut().unwrap().reps = Reps::new(11).unwrap();
        goes_on(&corrected, "a corrected set");
        withdrawn.0.pop();
        goes_on(&withdrawn, "a set taken back");
        let mut told = start.clone();
        told.1.last_mut().unwrap().sleep_h = Some(3.0);
        goes_on(&told, "another check-in of that day");
        goes_on(&record(27), "three days more");
        let mut twice = read(Some(&earlier), &changed);
        twice = read(Some(&twice), &record(25));
        assert_eq!(written(&twice), written(&read(None, &record(25))));
    }

    #[test]
    fn what_comes_earlier_has_the_whole_record_read_again() {
        let start = record(24);
        let earlier = read(None, &start);
        let first = start.0[0].when.date();
        let mut changes: Vec<(&str, Told)> = Vec::new();
        let mut change = |what, change: &dyn Fn(&mut Told)| {
            let mut changed = start.clone();
            change(&mut changed);
            changes.push((what, changed));
        };
        change("an earlier set more", &|all| {
            all.0.push(set(&format!("{first}T19:00"), LIFTS[0], 4, 70.0))
        });
        change("an earlier set corrected", &|all| all.0[5].reps = Reps::new(3).unwrap());
        change("an earlier set withdrawn", &|all| drop(all.0.remove(7)));
        change("two sets of one moment the other way round", &|all| {
            for place in [0, 3] {
                all.0[place].when = When::parse(&first.to_string()).unwrap();
            }
            all.0.swap(0, 3);
        });
        change("an earlier check-in", &|all| all.1[3].sleep_h = Some(2.0));
        change("a lift that is new", &|all| {
            let last = all.0.last().unwrap().when.date();
            all.0.push(set(&format!("{last}T19:00"), "leg press", 1, 150.0));
        });
        change("the last day taken back", &|all| {
            let last = all.0.last().unwrap().when.date();
            all.0.retain(|set| set.when.date() < last);
        });
        for (what, changed) in &changes {
            assert_eq!(
                written(&read(Some(&earlier), changed)),
                written(&read(None, changed)),
                "{what}"
            );
        }
    }

    #[test]
    fn another_way_of_reading_has_the_whole_record_read_again() {
        let (sets, check_ins) = record(24);
        let earlier = read(None, &(sets.clone(), check_ins.clone()));
        let strict = Limits::new(2, 2.0, 3.0, 1.0).unwrap();
        for (model, limits) in [(Model::Recovery, strict), (Model::OneLift, Limits::default())] {
            let catalogue = Catalogue::built_in();
            let on = || (Grounds::shipped(), &catalogue, &limits);
            let [onward, whole] = [Some(&earlier), None].map(|earlier| {
                History::read_from(earlier, on(), model, sets.clone(), check_ins.clone())
            });
            assert_eq!(written(&onward), written(&whole));
        }
    }

    #[test]
    fn the_record_before_its_last_day_is_as_if_no_set_had_come_since() {
        let (sets, mut check_ins) = record(24);
        let last = sets.last().unwrap().when.date();
        let pain = Some(Pain::new(domain::Joint::ALL[0], 6).unwrap());
        check_ins.push(CheckIn { pain, ..check_in(&format!("{last}T08:10"), 6.0) });
        let history = read(None, &(sets.clone(), check_ins.clone()));
        let earlier = sets.iter().filter(|set| set.when.date() < last).cloned().collect();
        let mut whole = read(None, &(earlier, check_ins));
        let mut before = history.before(last).unwrap();
        // From where the next reading would go on is nothing that anybody is shown.
        (whole.before_last_day, before.before_last_day) = (None, None);
        assert_eq!(written(&before), written(&whole));
        assert!(history.before(last.yesterday().unwrap()).is_none());
        assert!(history.before(last.tomorrow().unwrap()).is_none());
    }
}
