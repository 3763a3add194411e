//! What a programme refuses and what its waves come to, at their exact bounds.

use domain::programme::{Progression, ShareOfToday, WaveWeek};
use domain::{
    DoseRange, LiftName, Note, PlannedLift, Programme, ProgrammeDay, ProgrammeError, ProgrammeName,
    Purpose, RepRange,
};
use jiff::civil::Weekday::{self, Friday, Monday};

fn name(lift: &str) -> LiftName {
    LiftName::new(lift).unwrap()
}

fn planned(
    sets: u8,
    reps: (u16, u16),
    progression: Progression,
) -> Result<PlannedLift, ProgrammeError> {
    let reps = RepRange::new(reps.0, reps.1).unwrap();
    PlannedLift::new(name("back squat"), sets, reps, None, None, progression)
}

fn of_days(weekdays: &[Weekday]) -> Result<Programme, ProgrammeError> {
    let lift = planned(3, (5, 8), Progression::Double { step: None }).unwrap();
    let day = |weekday: &Weekday| ProgrammeDay::new(*weekday, None, vec![lift.clone()]).unwrap();
    let days = weekdays.iter().map(day).collect();
    let title = ProgrammeName::new("invented").unwrap();
    Programme::new(title, Note::default(), Purpose::default(), days)
}

#[test]
fn days_stand_in_the_order_of_the_week_and_once_each() {
    let order = |weekdays| -> Vec<Weekday> {
        of_days(weekdays).unwrap().days().iter().map(ProgrammeDay::weekday).collect()
    };
    assert_eq!(order(&[Friday, Monday]), [Monday, Friday]);
    assert_eq!(of_days(&[Monday, Friday, Monday]), Err(ProgrammeError::DayTwice(Monday)));
    assert_eq!(of_days(&[]), Err(ProgrammeError::NoDays));
}

#[test]
fn a_goal_over_sets_lies_between_what_the_sets_can_make() {
    let goal = |total| planned(3, (5, 8), Progression::RepGoal { total, step: None }).is_ok();
    assert_eq!([14, 15, 24, 25].map(goal), [false, true, true, false]);
}

/// After its last week a wave begins again; the programme is as long as its longest.
#[test]
fn a_wave_begins_again_when_it_is_over() {
    let week = |sets, reps| WaveWeek::new(sets, reps, ShareOfToday::new(75.0).unwrap()).unwrap();
    let weeks = vec![week(4, 8), week(5, 5), week(3, 3)];
    let wave = PlannedLift::wave(name("back squat"), weeks.clone(), None, None).unwrap();
    let sets: Vec<u8> = (0..7).map(|at| wave.sets_in(at)).collect();
    let reps: Vec<u16> = (0..7).map(|at| wave.reps_in(at).high()).collect();
    assert_eq!(sets, [4, 5, 3, 4, 5, 3, 4]);
    assert_eq!(reps, [8, 5, 3, 8, 5, 3, 8]);
    assert_eq!((wave.sets(), wave.reps()), (5, RepRange::new(3, 8).unwrap()));
    let day = ProgrammeDay::new(Monday, None, vec![wave]).unwrap();
    let title = ProgrammeName::new("invented").unwrap();
    let programme = Programme::new(title, Note::default(), Purpose::default(), vec![day]).unwrap();
    assert_eq!(programme.weeks(), 3);
    assert_eq!(of_days(&[Monday]).unwrap().weeks(), 1);
    for n in [1, 13] {
        let weeks = vec![week(3, 3); n];
        assert!(PlannedLift::wave(name("back squat"), weeks, None, None).is_err(), "{n} weeks");
    }
}

#[test]
fn ranges_and_counts_stop_at_their_bounds() {
    let double = || Progression::Double { step: None };
    assert_eq!(
        [0, 1, 20, 21].map(|sets| planned(sets, (5, 8), double()).is_ok()),
        [false, true, true, false]
    );
    assert!(RepRange::new(8, 8).is_ok() && RepRange::new(8, 7).is_err());
    assert!(RepRange::new(1, 50).is_ok() && RepRange::new(1, 51).is_err());
    assert!(DoseRange::new(4.0, 4.0, 4.0).is_ok() && DoseRange::new(4.0, 3.5, 4.0).is_err());
    assert!(DoseRange::new(0.0, 0.0, 60.0).is_ok() && DoseRange::new(0.0, 0.0, 60.5).is_err());
    let minutes = |minutes| {
        let lift = planned(3, (5, 8), double()).unwrap();
        ProgrammeDay::new(Monday, Some(minutes), vec![lift]).is_ok()
    };
    assert_eq!([9, 10, 300, 301].map(minutes), [false, true, true, false]);
}
