//! What the desk says of the invented squad: cards, pages and single readings agree with the record.

use domain::{LiftName, LifterName, Limits, SetKind};
use jiff::civil::{Date, date};
use service::demo::{self, SEED};
use service::read::ReadRequest;
use service::view::{CallWord, CardView};
use service::{Desk, ServiceError, Store};

const TODAY: Date = date(2031, 5, 6);

/// A desk on a store that holds the invented squad.
fn desk() -> (Desk, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("squad.bellwether")).unwrap();
    let now = "2031-05-06T08:00:00Z".parse().unwrap();
    demo::open_demo(&store, SEED, TODAY, now).unwrap();
    (Desk::new(store), folder)
}

fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

fn cards(desk: &Desk) -> Vec<CardView> {
    let squad = desk.squad(TODAY).unwrap();
    squad.lifters.iter().map(|line| desk.card(&name(&line.name), TODAY).unwrap()).collect()
}

#[test]
fn pain_above_the_limit_comes_first_and_stops_lifts_that_load_the_joint() {
    let (desk, _folder) = desk();
    let squad = desk.squad(TODAY).unwrap();
    assert_eq!(squad.lifters[0].name, "Greta Thornsay");
    assert!(squad.lifters[0].reason.contains("Pain of 6 in the elbow"));
    assert!(squad.lifters[0].last_calls.iter().any(|(_, call)| *call == CallWord::Stop));
    let card = desk.card(&name("Greta Thornsay"), TODAY).unwrap();
    let elbow = ["overhead press", "chin-up", "bench press", "triceps pushdown"];
    assert!(card.lifts.iter().all(|lift| !elbow.contains(&lift.name.as_str())));
    assert!(card.cautions.contains("Pain above 5 of 10") && card.cautions.contains("licensed"));
}

#[test]
fn everybody_on_the_page_is_said_to_be_invented() {
    let (desk, _folder) = desk();
    assert!(desk.squad(TODAY).unwrap().remark.unwrap().contains("invented"));
    assert!(desk.lifter(&name("Maren Tidewell"), TODAY).unwrap().remark.is_some());
    assert!(cards(&desk).iter().all(|card| card.notes.iter().any(|n| n.contains("invented"))));
}

/// The first and last number in words such as `6 or 7`, `4 to 7`, `3 or fewer`, `8 or more`.
fn span(words: &str, most: u16) -> (u16, u16) {
    let numbers: Vec<u16> = words.split(' ').filter_map(|word| word.parse().ok()).collect();
    match words {
        _ if words.ends_with("or more") => (numbers[0], most),
        _ if words.ends_with("or fewer") => (1, numbers[0]),
        _ => (numbers[0], *numbers.last().unwrap()),
    }
}

#[test]
fn a_cards_outcomes_name_every_number_of_repetitions_once_and_ease_the_few() {
    let (desk, _folder) = desk();
    let mut read = 0;
    for lift in cards(&desk).iter().flat_map(|card| &card.lifts) {
        let mut next = 30;
        for row in &lift.outcomes {
            let (from, to) = span(&row.reps, 30);
            assert_eq!(to, next, "{}: {:?}", lift.name, lift.outcomes);
            assert!(row.p_shortfall.0 <= row.p_shortfall.1);
            next = from - 1;
        }
        if !lift.outcomes.is_empty() {
            read += 1;
            assert_eq!(lift.outcomes[0].call, CallWord::GoOn, "{}", lift.name);
            assert!(next == 0 || lift.outcomes.iter().all(|row| row.call == CallWord::GoOn));
        }
    }
    assert!(read >= 10, "{read} lifts are read");
}

#[test]
fn a_card_rises_through_its_warm_ups_and_names_its_chances() {
    let (desk, _folder) = desk();
    for card in cards(&desk) {
        assert!(!card.lifts.is_empty(), "{}", card.lifter);
        for lift in &card.lifts {
            let loads: Vec<i32> = lift.warm_ups.iter().map(|set| set.load.grams()).collect();
            assert!(loads.windows(2).all(|two| two[0] < two[1]), "{} {loads:?}", lift.name);
            assert!(loads.iter().all(|grams| *grams < lift.lead.load.grams()), "{}", lift.name);
            assert!(lift.chance.is_none_or(|chance| (0.0..=1.0).contains(&chance)));
            assert!(lift.why.ends_with('.'), "{}", lift.why);
        }
    }
}

#[test]
fn after_weeks_away_nothing_is_read() {
    let (desk, _folder) = desk();
    let later = date(2031, 6, 10);
    let card = desk.card(&name("Maren Tidewell"), later).unwrap();
    assert!(card.notes.iter().any(|note| note.starts_with("Back after")), "{:?}", card.notes);
    assert!(card.lifts.iter().all(|lift| lift.outcomes.is_empty()));
    let reason = &desk.squad(later).unwrap().lifters[0].reason;
    assert!(reason.starts_with("Away for"), "{reason}");
}

#[test]
fn a_single_reading_says_what_the_card_promised() {
    let (desk, _folder) = desk();
    let maren = name("Maren Tidewell");
    let card = desk.card(&maren, TODAY).unwrap();
    let lift = card.lifts.iter().find(|lift| !lift.outcomes.is_empty()).unwrap();
    let ease = lift.outcomes.iter().find(|row| row.call == CallWord::Ease).unwrap();
    let (_, most) = span(&ease.reps, 30);
    for (reps, call) in [(most, CallWord::Ease), (most + 1, CallWord::GoOn)] {
        let request = ReadRequest {
            lift: LiftName::new(&lift.name).unwrap(),
            when: domain::When::new(TODAY, None).unwrap(),
            load: lift.lead.load,
            reps: domain::Reps::new(reps).unwrap(),
            rir: lift.lead_rir.map(|rir| domain::Rir::new(rir).unwrap()),
            kind: SetKind::Work,
        };
        let reading = desk.read(&maren, &request).unwrap();
        assert_eq!(reading.point.call, call, "{reps} reps: {}", reading.point.reason);
    }
}

#[test]
fn a_new_fact_is_seen_at_once() {
    let (desk, _folder) = desk();
    let maren = name("Maren Tidewell");
    let before = desk.squad(TODAY).unwrap();
    let mut strict = desk.store().lifter(&maren).unwrap().unwrap();
    strict.limits = Limits::new(5, 2.0, 0.01, 100.0).unwrap(); // ease at the least suspicion
    desk.store().put_lifter(&strict, "2031-05-06T09:00:00Z".parse().unwrap()).unwrap();
    let eased = |view: &service::view::SquadView| {
        let line = view.lifters.iter().find(|line| line.name == "Maren Tidewell").unwrap();
        line.last_calls.iter().filter(|(_, call)| *call == CallWord::Ease).count()
    };
    assert!(eased(&desk.squad(TODAY).unwrap()) > eased(&before));
}

#[test]
fn unknown_names_are_answered_with_near_ones() {
    let (desk, _folder) = desk();
    for asked in ["Maren Tidewel", "maren"] {
        let error = desk.lifter(&name(asked), TODAY).unwrap_err();
        assert!(matches!(error, ServiceError::NoSuchLifter { .. }));
        assert!(error.to_string().contains("did you mean Maren Tidewell"), "{error}");
    }
}
