//! A lifter's joints and dose by weeks, from a record made by hand: which session a pain belongs to, what loads
//! a joint, what is offered instead, which sets count. Ilse Varnholt and her log are invented.

use domain::{
    CheckIn, Joint, LiftName, Lifter, LifterName, Load, LoggedSet, Note, Pain, Reps, Rir, SetKind,
    SetNumber, Unit, When,
};
use jiff::civil::{Date, date};
use service::joints::record::{JointRecord, JointsView};
use service::programme::{Planning, Remark, check_programme, mend_programme};
use service::{Desk, Store};
use store::OnDifference;

const MONDAY: Date = date(2031, 1, 6);

fn name() -> LifterName {
    LifterName::new("Ilse Varnholt").unwrap()
}

fn set(when: &str, lift: &str, number: u8, kind: SetKind) -> LoggedSet {
    LoggedSet {
        lifter: name(),
        when: When::parse(when).unwrap(),
        lift: LiftName::new(lift).unwrap(),
        number: SetNumber::new(number).unwrap(),
        kind,
        load: Load::new(40.0, Unit::Kg).unwrap(),
        reps: Reps::new(8).unwrap(),
        rir: Some(Rir::new(2.0).unwrap()),
        note: Note::default(),
    }
}

fn pain(when: &str, joint: Joint, rating: u8) -> CheckIn {
    CheckIn {
        lifter: name(),
        when: When::parse(when).unwrap(),
        sleep_h: None,
        stress: None,
        soreness: None,
        body_mass: None,
        pain: Some(Pain::new(joint, rating).unwrap()),
    }
}

fn desk(sets: &[LoggedSet], told: &[CheckIn]) -> (Desk, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("joints.bellwether")).unwrap();
    let now = "2031-05-06T08:00:00Z".parse().unwrap();
    let mut import = store.begin_import("a log", now).unwrap();
    import.put_lifter(&Lifter::usual(name(), Unit::Kg)).unwrap();
    for set in sets {
        import.add_set(set, OnDifference::Keep).unwrap();
    }
    for told in told {
        import.add_check_in(told, OnDifference::Keep).unwrap();
    }
    import.commit().unwrap();
    (Desk::new(store), folder)
}

/// Mondays with overhead press, Thursdays without, ten weeks long.
fn ten_weeks() -> Vec<LoggedSet> {
    let mut sets = Vec::new();
    for week in 0..10 {
        let day = |days: i32| (MONDAY + jiff::Span::new().days(7 * week + days)).to_string();
        let monday = format!("{}T18:00", day(0));
        let thursday = format!("{}T18:00", day(3));
        sets.push(set(&monday, "overhead press", 1, SetKind::WarmUp));
        for number in 2..5 {
            sets.push(set(&monday, "overhead press", number, SetKind::Work));
            sets.push(set(&monday, "back squat", number, SetKind::Work));
            sets.push(set(&thursday, "back squat", number, SetKind::Work));
        }
    }
    sets
}

fn of(view: &JointsView, joint: Joint) -> &JointRecord {
    view.told.iter().find(|one| one.joint == joint.label()).unwrap()
}

#[test]
fn pain_on_the_morning_after_counts_with_the_session_before() {
    let told: Vec<CheckIn> = (0..6)
        .map(|week| {
            let tuesday = MONDAY + jiff::Span::new().days(7 * week + 1);
            pain(&format!("{tuesday}T07:00"), Joint::Elbow, 4)
        })
        .collect();
    let (desk, _folder) = desk(&ten_weeks(), &told);
    let view = desk.joints(&name(), date(2031, 3, 16)).unwrap();
    let elbow = of(&view, Joint::Elbow);
    let [group] = elbow.groups.as_slice() else { panic!("squats don't load it: {elbow:?}") };
    let (press, pain) = (&group.lifts[0], group.pain.as_ref().unwrap());
    assert_eq!((press.lift.as_str(), press.in_use), ("overhead press", true));
    assert_eq!((pain.days_with, pain.days_without), ((10, 6), (10, 0)));
    assert!(pain.points.low > 0.3 && pain.p_more > 0.8, "{pain:?}");
    let swap = press.swap.as_ref().unwrap();
    assert!(swap.load < press.load && swap.alike >= 0.5, "{swap:?}");
    assert!(elbow.summary.starts_with("Told on 6 days since Tue 7 Jan, last 4 of 10"));
    assert_eq!(elbow.too_little, None);
}

#[test]
fn pain_told_when_the_next_session_is_entered_counts_with_the_one_before() {
    let told: Vec<CheckIn> = (0..6)
        .map(|week| {
            let thursday = MONDAY + jiff::Span::new().days(7 * week + 3);
            pain(&format!("{thursday}T17:50"), Joint::Shoulder, 4)
        })
        .collect();
    let (desk, _folder) = desk(&ten_weeks(), &told);
    let view = desk.joints(&name(), date(2031, 3, 16)).unwrap();
    let groups = &of(&view, Joint::Shoulder).groups;
    let press = groups.iter().find(|group| group.lifts[0].lift == "overhead press").unwrap();
    let pain = press.pain.as_ref().unwrap();
    assert_eq!((pain.days_with.1, pain.days_without.1), (6, 0));
}

#[test]
fn pain_long_after_a_session_counts_with_none() {
    let late = MONDAY + jiff::Span::new().days(7 * 9 + 3 + 5);
    let (desk, _folder) = desk(&ten_weeks(), &[pain(&late.to_string(), Joint::Shoulder, 6)]);
    let view = desk.joints(&name(), late).unwrap();
    let shoulder = of(&view, Joint::Shoulder);
    assert!(shoulder.too_little.as_ref().unwrap().contains("there are 20 and 0"));
    assert!(
        shoulder.summary.contains("Told once, 6 of 10") && shoulder.summary.contains("once above")
    );
}

#[test]
fn a_joint_is_loaded_by_sets_that_are_not_warm_ups() {
    let (desk, _folder) = desk(&ten_weeks(), &[]);
    let view = desk.joints(&name(), MONDAY).unwrap();
    assert!(view.told.is_empty());
    let shoulder = view.loads.iter().find(|load| load.joint == "shoulder").unwrap();
    let weight = |lift: &str| {
        let catalogue = domain::Catalogue::built_in();
        let lift = catalogue.find(&LiftName::new(lift).unwrap()).unwrap().clone();
        lift.joints.iter().find(|one| one.joint == Joint::Shoulder).map_or(0.0, |one| one.get())
    };
    // Monday alone: three work sets of each; nothing before.
    let needed = 3.0 * (weight("overhead press") + weight("back squat"));
    assert_eq!(shoulder.sets, [needed, 0.0, 0.0, 0.0]);
}

#[test]
fn dose_by_weeks_counts_hard_work_sets_and_compares_four_weeks_with_four() {
    let mut sets = ten_weeks();
    // From the seventh week on one set of squats fewer on Thursdays.
    let fewer = MONDAY + jiff::Span::new().days(42);
    sets.retain(|set| {
        let is_thursday = set.when.date().weekday() == jiff::civil::Weekday::Thursday;
        !(is_thursday && set.when.date() >= fewer && set.number.get() == 4)
    });
    let (desk, _folder) = desk(&sets, &[]);
    let today = date(2031, 3, 17); // the Monday after the ten weeks
    let view = desk.dose_record(&name(), today).unwrap();
    let of = |muscle: &str| view.muscles.iter().find(|one| one.muscle == muscle).unwrap();
    let quadriceps = of("quadriceps");
    let direct: Vec<f64> = quadriceps.weeks.iter().map(|week| week.direct).collect();
    assert_eq!(direct, [0.0, 0.0, 6.0, 6.0, 6.0, 6.0, 6.0, 6.0, 5.0, 5.0, 5.0, 5.0, 0.0]);
    assert_eq!((quadriceps.mean, quadriceps.change), (Some(5.0), Some(-1.0)));
    let proposal = quadriceps.proposal.as_ref().unwrap();
    assert!(
        (proposal.p.iter().sum::<f64>() - 1.0).abs() < 1e-9
            && proposal.words.contains("back squat")
    );
    assert!(of("triceps").proposal.is_none(), "no lift trains them as a prime mover");
    assert!(!view.has_programme && quadriceps.weeks.iter().all(|week| week.planned.is_none()));
}

const SQUATS: &str = r#"
name = "Boathouse"

[[day]]
weekday = "Mon"

[[day.lift]]
lift = "back squat"
sets = 3
reps = 8
rir = 2
progression = { rule = "double progression" }
"#;

#[test]
fn a_check_remarks_on_what_loads_a_joint_that_complains() {
    let check = |rating: u8, today: Date| {
        let told = [pain("2031-03-10", Joint::Knee, rating)];
        let (desk, _folder) = desk(&ten_weeks(), &told);
        let planning = Planning::for_lifter(desk.store(), &name(), today).unwrap();
        let catalogue = domain::Catalogue::built_in();
        let remark = Remark::Number(1);
        let mended = mend_programme(SQUATS, 1, remark, (&catalogue, &planning));
        (check_programme(SQUATS, 1, &catalogue, &planning).unwrap(), mended)
    };
    let next_day = date(2031, 3, 11);
    let (sore, mended) = check(7, next_day);
    assert!(sore.findings[0].words.starts_with("The knee complains, and"), "{sore:#?}");
    assert_eq!(sore.findings[0].urgency, "change");
    assert!(sore.joints.iter().any(|load| load.joint == "knee" && load.complains && !load.spared));
    let grounds = "Complaining, which the programme doesn't say: the knee, with pain of 7 in 10 told on Mon 10 Mar.";
    assert!(sore.recovery.ends_with(grounds), "{}", sore.recovery);
    let (programme, words) = mended.unwrap();
    assert!(programme.purpose.spare.is_empty() && words.contains("back squat"), "{words}");
    // Within the limit it is no reason; however long ago, it is one until somebody answers.
    let (calm, _) = check(5, next_day);
    assert!(!calm.findings.iter().any(|one| one.words.contains("complains")));
    assert!(!calm.recovery.contains("Complaining"));
    let (old, _) = check(7, date(2031, 5, 1));
    assert!(old.findings[0].words.starts_with("The knee complains, and"), "{old:#?}");
}
