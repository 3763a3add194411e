//! What a coach changes at the desk: costs tried and kept, sets corrected, withdrawn and put back, with
//! what stood before. The lifters are invented.

use domain::{LiftName, LifterName, SetId};
use jiff::Timestamp;
use jiff::civil::{Date, date};
use service::forms::{Fields, FormError, Problems};
use service::import::{Import, ImportPlan, IntoStore, import_log};
use service::view::{CallWord, LiftPageView};
use service::{Desk, ServiceError, Store, StoreError};

const TODAY: Date = date(2031, 5, 6);

fn now() -> Timestamp {
    "2031-05-06T08:00:00Z".parse().unwrap()
}

fn name() -> LifterName {
    LifterName::new("Wilma Tarn").unwrap()
}

fn lift(text: &str) -> LiftName {
    LiftName::new(text).unwrap()
}

/// A desk on twenty sessions of two lifts, and another lifter with one set.
fn desk() -> (Desk, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    let mut log = String::from("lifter,date,lift,set,load,unit,reps,rir\n");
    for session in 0..20_i32 {
        let day = TODAY - jiff::Span::new().days(2 + 4 * (19 - session));
        for (lift, start) in [("back squat", 100.0), ("bench press", 70.0)] {
            for set in 1..=3 {
                let reps = 6 + (session * 5) % 2 - set / 3;
                let load = start + 0.5 * f64::from(session);
                log.push_str(&format!("Wilma Tarn,{day},{lift},{set},{load},kg,{reps},2\n"));
            }
        }
    }
    log.push_str("Otmar Pell,2031-05-01,back squat,1,60,kg,5,\n");
    let catalogue = service::catalogue(&store).unwrap();
    let with = Import {
        catalogue: &catalogue,
        plan: &ImportPlan::default(),
        today: TODAY,
        rejects: &mut std::io::sink(),
        progress: &mut |_| {},
    };
    let how = IntoStore { source: "log.csv", now: now(), correct: false, dry_run: false };
    assert_eq!(import_log(&store, log.as_bytes(), with, how).unwrap().new, 121);
    (Desk::new(store), folder)
}

fn page(desk: &Desk, costs: &Fields) -> LiftPageView {
    desk.lift(&name(), &lift("back squat"), costs, TODAY).unwrap()
}

fn costs(cut: &str, through: &str) -> Fields {
    Fields::default().with("cut_for_nothing", cut).with("trained_through", through)
}

fn problems<T: std::fmt::Debug>(answer: Result<T, FormError>) -> Problems {
    match answer {
        Err(FormError::Problems(problems)) => problems,
        other => panic!("{other:?}"),
    }
}

#[test]
fn costs_that_are_tried_change_nothing_and_those_kept_change_every_lift() {
    let (desk, _folder) = desk();
    let before = desk.store().n_facts().unwrap();
    let plain = page(&desk, &Fields::default());
    assert!(plain.costs.chosen.is_none() && plain.costs.problems.is_empty());
    assert_eq!(plain.costs.fields.get("trained_through"), "3");
    assert_eq!(plain.costs.in_force.threshold, 0.25);
    assert_eq!(plain.costs.in_force.chances, plain.lift.chances);
    let tried = page(&desk, &costs("1", "1")).costs;
    let (now_there, chosen) = (tried.in_force, tried.chosen.unwrap());
    assert_eq!((now_there.threshold, chosen.threshold), (0.25, 0.5));
    let (a, b) = (now_there.chances.unwrap(), chosen.chances.unwrap());
    assert!(b.false_alarm < a.false_alarm && b.caught[0] < a.caught[0], "{a:?} {b:?}");
    assert_eq!((a.plain_false_alarm, a.plain_caught), (b.plain_false_alarm, b.plain_caught));
    assert!(chosen.eased <= now_there.eased && chosen.read == now_there.read);
    // What the page counts as eased is what the calls say.
    let eased = plain.lift.points.iter().filter(|point| point.call == CallWord::Ease).count();
    assert_eq!(now_there.eased, eased);
    assert_eq!(desk.store().n_facts().unwrap(), before, "looking writes nothing");
    desk.set_costs(&name(), &costs("1", "1"), now()).unwrap();
    assert_eq!(desk.store().n_facts().unwrap(), before + 1);
    let kept = page(&desk, &Fields::default()).costs.in_force;
    assert_eq!(kept, chosen, "what was shown is what came");
    let other = desk.lift(&name(), &lift("bench press"), &Fields::default(), TODAY).unwrap();
    assert_eq!(other.costs.in_force.threshold, 0.5);
}

#[test]
fn costs_that_make_no_sense_are_told_beside_their_field() {
    let (desk, _folder) = desk();
    let shown = page(&desk, &costs("much", "0")).costs;
    assert!(shown.chosen.is_none());
    assert_eq!(shown.fields.get("cut_for_nothing"), "much", "what was typed stays");
    assert!(shown.problems.of("cut_for_nothing").unwrap().contains("`much` is not a number"));
    assert!(shown.problems.of("trained_through").unwrap().contains("from 0.01 to 100"));
    let before = desk.store().n_facts().unwrap();
    let told = problems(desk.set_costs(&name(), &costs("much", "3"), now()));
    assert!(told.of("cut_for_nothing").is_some() && told.of("trained_through").is_none());
    assert_eq!(desk.store().n_facts().unwrap(), before);
}

#[test]
fn one_cost_alone_asks_for_the_other() {
    let (desk, _folder) = desk();
    let shown = page(&desk, &Fields::default().with("trained_through", "4")).costs;
    assert!(shown.chosen.is_none());
    assert_eq!(shown.fields.get("trained_through"), "4");
    assert!(shown.problems.of("cut_for_nothing").is_some(), "{:?}", shown.problems);
}

fn latest(desk: &Desk) -> SetId {
    SetId::parse(&page(desk, &Fields::default()).sets[0].id).unwrap()
}

#[test]
fn every_set_is_listed_with_the_call_of_its_lead_set() {
    let (desk, _folder) = desk();
    let view = page(&desk, &Fields::default());
    assert_eq!(view.sets.len(), 60);
    assert_eq!((view.sets[0].number, view.sets[2].number), (3, 1));
    assert!(view.sets.iter().all(|set| set.call.is_some() == (set.number == 1)));
    let nobody = desk.lift(&name(), &lift("bakc squat"), &Fields::default(), TODAY);
    assert!(nobody.unwrap_err().to_string().contains("did you mean back squat?"));
}

#[test]
fn a_correction_supersedes_and_shows_what_stood_before() {
    let (desk, _folder) = desk();
    let id = latest(&desk);
    let form = desk.set(&name(), id).unwrap();
    assert_eq!((form.fields.get("load"), form.fields.get("reps")), ("109.5", "6"));
    // Sent as it is, it corrects nothing.
    let before = desk.store().n_facts().unwrap();
    desk.correct_set(&name(), id, &form.fields, (TODAY, now())).unwrap();
    assert_eq!(desk.store().n_facts().unwrap(), before);
    let fields = form.fields.with("reps", "8").with("reason", "a miscount").with("time", "18:20");
    let under = desk.correct_set(&name(), id, &fields, (TODAY, now())).unwrap();
    assert_eq!(under, lift("back squat"));
    let view = page(&desk, &Fields::default());
    assert_eq!(view.sets.len(), 60);
    let now_there = view.sets.iter().find(|set| set.reps == 8).unwrap();
    assert_eq!(now_there.when, "2031-05-04T18:20");
    let [amended] = view.amended.as_slice() else { panic!("{:?}", view.amended) };
    assert_eq!(amended.id, now_there.id, "it is found where it stands now");
    let told: Vec<_> =
        amended.versions.iter().map(|one| (one.set.reps, one.reason.as_str())).collect();
    assert_eq!(told, [(6, ""), (8, "a miscount")]);
    assert_eq!(amended.versions[0].source, "log.csv");
    assert_eq!(amended.versions[1].recorded, now());
}

#[test]
fn what_cannot_be_taken_is_told_beside_its_field_and_changes_nothing() {
    let (desk, _folder) = desk();
    let id = latest(&desk);
    let good = desk.set(&name(), id).unwrap().fields;
    let before = desk.store().n_facts().unwrap();
    for (field, text, told) in [
        ("reps", "0", "from 1 to 200"),
        ("reps", "5.5", "whole repetitions"),
        ("rir", "2.3", "whole or half"),
        ("load", "heavy", "not a number"),
        ("load", "-20", "must be above 0"),
        ("lift", "bakc squat", "did you mean back squat"),
        ("date", "5/4/2031", "write it as 2031-05-04"),
        ("date", "2031-05-09", "lies ahead"),
        ("date", "2031-05-04T18:20", "the time has a field of its own"),
        ("time", "25:00", "write it as 18:20"),
        ("number", "1", "on record at that time already"),
        ("kind", "heavy", "use one of"),
        ("reason", "a\u{7}", "control characters"),
    ] {
        let fields = good.clone().with(field, text);
        let problems = problems(desk.correct_set(&name(), id, &fields, (TODAY, now())));
        let reason = problems.of(field).unwrap_or_else(|| panic!("{field} {text}: {problems:?}"));
        assert!(reason.contains(told), "{field} {text}: {reason}");
        assert_eq!(problems.iter().count(), 1, "{problems:?}");
    }
    assert_eq!(desk.store().n_facts().unwrap(), before);
    let not_his = desk.set(&LifterName::new("Otmar Pell").unwrap(), id);
    assert!(matches!(not_his, Err(ServiceError::Store(StoreError::NoSuchFact { .. }))));
}

#[test]
fn a_set_that_was_moved_is_shown_where_it_stood_and_where_it_stands() {
    let (desk, _folder) = desk();
    let id = latest(&desk);
    let fields = desk.set(&name(), id).unwrap().fields;
    // Tomorrow's date is today's further east.
    let moved = fields.clone().with("lift", "bench").with("date", "2031-05-07").with("number", "1");
    let under = desk.correct_set(&name(), id, &moved, (TODAY, now())).unwrap();
    assert_eq!(under, lift("bench press"));
    let squat = page(&desk, &Fields::default());
    let bench = desk.lift(&name(), &lift("bench press"), &Fields::default(), TODAY).unwrap();
    assert_eq!((squat.sets.len(), bench.sets.len()), (59, 61));
    assert_eq!(squat.amended, bench.amended);
    assert_eq!(bench.amended[0].id, bench.sets[0].id, "it goes by its place");
    let now_there = SetId::parse(&bench.sets[0].id).unwrap();
    desk.withdraw_set(&name(), now_there, &Fields::default(), now()).unwrap();
    // Without a place it goes by the id that it was entered under, and is put back by it.
    let gone = page(&desk, &Fields::default()).amended;
    assert_eq!((gone.len(), gone[0].id.clone()), (1, id.to_string()));
    desk.correct_set(&name(), id, &fields, (TODAY, now())).unwrap();
    assert_eq!(page(&desk, &Fields::default()).sets.len(), 60);
}

#[test]
fn the_latest_change_comes_first() {
    let (desk, _folder) = desk();
    let hour = |n: i64| now() + jiff::SignedDuration::from_hours(n);
    let ids: Vec<SetId> = page(&desk, &Fields::default())
        .sets
        .iter()
        .take(4)
        .map(|set| SetId::parse(&set.id).unwrap())
        .collect();
    for (id, n) in ids.iter().zip([2, 4, 1, 3]) {
        desk.withdraw_set(&name(), *id, &Fields::default(), hour(n)).unwrap();
    }
    let amended = page(&desk, &Fields::default()).amended;
    let changed: Vec<_> = amended.iter().map(|one| one.versions[1].recorded).collect();
    assert_eq!(changed, [4, 3, 2, 1].map(hour));
}

#[test]
fn a_withdrawn_set_counts_no_more_and_can_be_put_back() {
    let (desk, _folder) = desk();
    let id = latest(&desk);
    let fields = Fields::default().with("withdraw_reason", "never done");
    let long = Fields::default().with("withdraw_reason", "x".repeat(10_000));
    let refused = desk.withdraw_set(&name(), id, &long, now()).unwrap_err();
    let FormError::Problems(problems) = refused else { panic!("{refused}") };
    assert!(problems.of("withdraw_reason").is_some(), "{problems:?}");
    assert!(!desk.set(&name(), id).unwrap().is_withdrawn);
    assert_eq!(desk.withdraw_set(&name(), id, &fields, now()).unwrap(), lift("back squat"));
    let view = page(&desk, &Fields::default());
    assert_eq!(view.sets.len(), 59);
    assert!(view.amended[0].is_withdrawn);
    assert_eq!(view.amended[0].versions[1].reason, "never done");
    let form = desk.set(&name(), SetId::parse(&view.amended[0].id).unwrap()).unwrap();
    assert!(form.is_withdrawn);
    desk.correct_set(&name(), id, &form.fields, (TODAY, now())).unwrap();
    let back = page(&desk, &Fields::default());
    assert_eq!(back.sets.len(), 60);
    assert!(!back.amended[0].is_withdrawn && back.amended[0].versions.len() == 3);
    assert_eq!(back.amended[0].versions[2].reason, "changed at the desk");
}
