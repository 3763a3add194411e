//! What the desk says of the invented squad: cards, pages and single readings agree with the record.

use std::sync::LazyLock;

use domain::{LiftName, LifterName, Limits, Load, SetKind, Unit};
use jiff::civil::{Date, date};
use serde_json::json;
use service::demo::{self, SEED};
use service::floor::{NewLink, Opened};
use service::session::by_hand::ReadRequest;
use service::view::{CallWord, CardLift, CardView, Interval, OutcomeRow, PointView, SessionView};
use service::{Desk, ServiceError, Store};
use statrs::distribution::{ContinuousCDF, Normal};

const TODAY: Date = date(2031, 5, 6);

/// The desk that tests only look at: read once for all of them.
static LOOKED_AT: LazyLock<(Desk, tempfile::TempDir)> = LazyLock::new(desk);

/// A desk on a store that holds the invented squad.
fn desk() -> (Desk, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("squad.bellwether")).unwrap();
    let now = "2031-05-06T08:00:00Z".parse().unwrap();
    demo::open_demo(&store, SEED, TODAY, now).unwrap();
    (Desk::new(store).with_threads(2), folder)
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
    let (desk, _) = &*LOOKED_AT;
    let squad = desk.squad(TODAY).unwrap();
    assert_eq!(squad.lifters[0].name, "Greta Thornsay");
    assert!(squad.lifters[0].reason.contains("Pain of 6 in the elbow"));
    assert!(squad.lifters[0].last_calls.iter().any(|(_, call)| *call == CallWord::Stop));
    let card = desk.card(&name("Greta Thornsay"), TODAY).unwrap();
    let elbow = ["overhead press", "chin-up", "bench press", "triceps pushdown"];
    assert!(card.lifts.iter().all(|lift| !elbow.contains(&lift.name.as_str())));
    assert!(card.cautions.contains("Pain above 5 of 10") && card.cautions.contains("licensed"));
}

/// However long ago: what stands is asked about and stops what loads the joint until somebody answers.
#[test]
fn a_complaint_stops_and_is_asked_about_however_old_it_is() {
    let (desk, _) = &*LOOKED_AT;
    let (mut cards, mut named) = (0, 0);
    for days in [0, 1, 2, 3, 6, 13, 400] {
        let day = TODAY + jiff::Span::new().days(days);
        let card = desk.card(&name("Greta Thornsay"), day).unwrap();
        let asks =
            |note: &&String| note.starts_with("How is the elbow today? Pain of 6 was reported");
        let asked: Vec<&String> = card.notes.iter().filter(asks).collect();
        let [asked] = asked.as_slice() else { panic!("one joint, one note: {:?}", card.notes) };
        assert!(asked.contains("licensed professional") && !asked.contains("squat"), "{asked}");
        assert!(card.stopped.iter().all(|lift| asked.contains(&lift.name)), "{asked}");
        cards += usize::from(!card.stopped.is_empty());
        for lift in &card.stopped {
            let stop = &lift.stop;
            assert_eq!((stop.joint, stop.rating, stop.limit), ("elbow", 6, 5));
            assert!(
                stop.words.contains("licensed professional") && stop.words.contains("Leave it out")
            );
            named += stop.instead.len();
        }
        assert!(card.lifts.iter().all(|lift| card.stopped.iter().all(|one| one.name != lift.name)));
    }
    assert!(cards >= 2 && named >= 2, "{cards} cards stop lifts, and {named} are named instead");
}

#[test]
fn everybody_on_the_page_is_said_to_be_invented() {
    let (desk, _) = &*LOOKED_AT;
    assert!(desk.squad(TODAY).unwrap().remark.unwrap().contains("invented"));
    assert!(desk.lifter(&name("Maren Tidewell"), TODAY).unwrap().remark.is_some());
    assert!(cards(desk).iter().all(|card| card.notes.iter().any(|n| n.contains("invented"))));
}

/// The first and last number in words such as `6 or 7`, `4 to 7`, `3 or fewer`, `8 or more`.
fn span(words: &str, most: u16) -> (u16, u16) {
    let numbers: Vec<u16> = words.split(' ').filter_map(|word| word.parse().ok()).collect();
    match words {
        "any number" => (1, most),
        _ if words.ends_with("or more") => (numbers[0], most),
        _ if words.ends_with("or fewer") => (1, numbers[0]),
        _ => (numbers[0], *numbers.last().unwrap()),
    }
}

#[test]
fn a_cards_outcomes_name_every_number_of_repetitions_once_and_ease_the_few() {
    let (desk, _) = &*LOOKED_AT;
    let mut read = 0;
    for lift in cards(desk).iter().flat_map(|card| &card.lifts) {
        let mut next = 30;
        for row in &lift.outcomes {
            let (from, to) = span(&row.reps, 30);
            assert_eq!(to, next, "{}: {:?}", lift.name, lift.outcomes);
            assert!(row.p_shortfall.0 <= row.p_shortfall.1);
            next = from - 1;
        }
        if !lift.outcomes.is_empty() {
            read += 1;
            let all_eased = lift.outcomes.len() == 1 && lift.outcomes[0].call == CallWord::Ease;
            assert_eq!(all_eased, lift.outcomes[0].reps == "any number", "{}", lift.name);
            assert!(all_eased || lift.outcomes[0].call == CallWord::GoOn, "{}", lift.name);
            assert!(next == 0 || lift.outcomes.iter().all(|row| row.call == CallWord::GoOn));
        }
    }
    assert!(read >= 10, "{read} lifts are read");
}

/// So few repetitions that scatter explains them as little as want of recovery aren't waved through.
#[test]
fn a_card_asks_for_another_reason_where_scatter_is_none() {
    let (desk, _) = &*LOOKED_AT;
    let mut asked = 0;
    for lift in cards(desk).iter().flat_map(|card| &card.lifts) {
        let asks = |row: &OutcomeRow| row.then.contains("look for another reason before going on");
        let Some(place) = lift.outcomes.iter().position(asks) else { continue };
        asked += 1;
        let row = &lift.outcomes[place];
        assert_eq!(row.call, CallWord::GoOn);
        assert!(place > 0 && span(&row.reps, 30).1 < lift.lead.reps, "{:?}", lift.outcomes);
        let below = &lift.outcomes[place + 1..];
        assert!(below.iter().all(|row| row.call == CallWord::Ease), "{:?}", lift.outcomes);
    }
    assert!(asked >= 3, "{asked} lifts ask");
}

#[test]
fn a_card_rises_through_its_warm_ups_and_names_its_chances() {
    let (desk, _) = &*LOOKED_AT;
    for card in cards(desk) {
        assert!(!card.lifts.is_empty(), "{}", card.lifter);
        for lift in &card.lifts {
            let loads: Vec<i32> =
                lift.warm_ups.iter().map(|set| set.load.unwrap().grams()).collect();
            assert!(loads.windows(2).all(|two| two[0] < two[1]), "{} {loads:?}", lift.name);
            assert!(
                loads.iter().all(|grams| *grams < lift.lead.load.unwrap().grams()),
                "{}",
                lift.name
            );
            assert!(lift.chance.is_none_or(|chance| (0.0..=1.0).contains(&chance)));
            assert!(lift.why.ends_with('.'), "{}", lift.why);
        }
    }
}

#[test]
fn after_weeks_away_nothing_is_read() {
    let (desk, _) = &*LOOKED_AT;
    let later = date(2031, 6, 10);
    let card = desk.card(&name("Maren Tidewell"), later).unwrap();
    assert!(card.notes.iter().any(|note| note.starts_with("Back after")), "{:?}", card.notes);
    assert!(card.lifts.iter().all(|lift| lift.outcomes.is_empty()));
    // After whoever has pain that stands.
    let lifters = desk.squad(later).unwrap().lifters;
    assert!(lifters[0].reason.starts_with("Pain of 6"), "{}", lifters[0].reason);
    assert!(lifters[1].reason.starts_with("Away for"), "{}", lifters[1].reason);
}

/// The first lift of a card, because what the card says of later ones counts the sets planned before.
#[test]
fn a_single_reading_says_what_the_card_promised() {
    let (desk, _) = &*LOOKED_AT;
    let mut found = 0;
    for card in cards(desk) {
        let lift = &card.lifts[0];
        let eased = |row: &&service::view::OutcomeRow| row.call == CallWord::Ease;
        let Some(ease) = lift.outcomes.iter().find(eased).filter(|_| lift.outcomes.len() > 1)
        else {
            continue;
        };
        found += 1;
        let (_, most) = span(&ease.reps, 30);
        for (reps, call) in [(most, CallWord::Ease), (most + 1, CallWord::GoOn)] {
            let reading = desk.read(&name(&card.lifter), &request(lift, reps)).unwrap();
            assert_eq!(reading.point.call, call, "{reps} reps: {}", reading.point.reason);
        }
    }
    assert!(found >= 2, "{found} cards begin with a lift that some number of repetitions eases");
}

fn request(lift: &CardLift, reps: u16) -> ReadRequest {
    ReadRequest {
        lift: LiftName::new(&lift.name).unwrap(),
        when: domain::When::new(TODAY, None).unwrap(),
        load: lift.lead.load.unwrap(),
        reps: domain::Reps::new(reps).unwrap(),
        rir: lift.lead_rir.map(|rir| domain::Rir::new(rir).unwrap()),
        kind: SetKind::Work,
    }
}

/// The card's data say of its first lift what a single reading says, at the planned load and at others,
/// by their own arithmetic: the standard normal distribution and sums, with everything taken from the
/// card. A call is made from them where one is made from the whole record, and nowhere else.
#[test]
fn a_cards_data_are_enough_to_read_its_first_lead_set() {
    let (desk, _) = &*LOOKED_AT;
    let (mut read, mut unread) = (0, 0);
    for card in cards(desk) {
        let session = card.session.as_ref().unwrap();
        let names: Vec<&str> = session.lifts.iter().map(|lift| lift.name.as_str()).collect();
        let on_card: Vec<&str> = card.lifts.iter().map(|lift| lift.name.as_str()).collect();
        assert_eq!(names, on_card, "{}", card.lifter);
        assert_eq!(session.mean.len(), 3 * names.len());
        let Some(lift) = card.lifts.first().filter(|lift| lift.lead_rir.is_some()) else {
            continue;
        };
        for lighter_kg in [0, 5, 30] {
            let load =
                Load::from_grams(lift.lead.load.unwrap().grams() - 1000 * lighter_kg, Unit::Kg)
                    .unwrap();
            let moved_kg = session.lifts[0].moved_kg - f64::from(lighter_kg);
            let asked = |reps| {
                let request = ReadRequest { load, ..request(lift, reps) };
                desk.read(&name(&card.lifter), &request).unwrap().point
            };
            // About as many as expected: farther off readings are kept in step.
            let likely = asked(lift.lead.reps).reps_expected.unwrap().mid.round();
            if !(2.0..=16.0).contains(&likely) {
                continue;
            }
            let reps = likely as u16; // 2 to 16
            let (p, is_near) = read_by_hand(session, moved_kg, reps);
            let said = asked(reps);
            let gap = (p - said.p_shortfall.unwrap()).abs();
            assert!(gap < 1e-9, "{}: {p} by hand, {said:?}", card.lifter);
            let call = match session.lifts[0].is_read && is_near {
                false => CallWord::NoReading,
                true if p > session.threshold => CallWord::Ease,
                true => CallWord::GoOn,
            };
            assert_eq!(said.call, call, "{}: {said:?}", card.lifter);
            *(if is_near { &mut read } else { &mut unread }) += 1;
        }
    }
    assert!(read >= 4 && unread >= 2, "{read} near the loads on record, {unread} far from them");
}

/// P(shortfall) of the first lift of a session near what is expected of it, and whether the load is near
/// enough to those on record.
fn read_by_hand(session: &SessionView, moved_kg: f64, reps: u16) -> (f64, bool) {
    let (lift, b, c) = (&session.lifts[0], session.curve_b, &session.covariance);
    let to_failure = |shown: f64| (shown.exp() / moved_kg - 1.0) / b;
    let n = to_failure(lift.usual_shown).clamp(0.0, 20.0);
    let lean = b * n / (1.0 + b * n);
    let along = |lean: f64| c[0][0] - 2.0 * lean * c[0][2] + lean * lean * c[2][2];
    let doubt = (along(lean) - along(lift.usual_lean)).max(0.0);
    let mean = session.mean[0] - lean * session.mean[2];
    let n =
        (to_failure(mean) - lift.reserve).round().clamp(1.0, 20.0 - lift.reserve) + lift.reserve;
    let (worth, reserve) = (b / (1.0 + b * n), lift.reserve);
    let told = (0.75 + 0.2 * reserve) * (1.0 + 0.19 * (n - 12.0).max(0.0));
    let told = if reserve > 0.0 { told * told } else { 0.0 };
    let noise = lift.luck_variance
        + doubt
        + worth * worth * (1.0 / 12.0 + session.reserve_share * told)
        + (0.029 * (n - 15.0).max(0.0)).powi(2);
    let shown = moved_kg.ln() + (1.0 + b * (f64::from(reps) + reserve)).ln();
    let innovation = shown - mean;
    let (spread, both) = (along(lean) - doubt, c[1][0] - lean * c[1][2]);
    let mut sum = (0.0, 0.0);
    let (freak, day) = (session.freak_share, session.freak_of_day);
    let more = (session.freak_widening.powi(2) - 1.0) * noise;
    for (share, of_set, of_day) in
        [(1.0 - freak, 0.0, 0.0), (freak * (1.0 - day), more, 0.0), (freak * day, 0.0, more)]
    {
        let variance = spread + noise + of_set + of_day;
        let likely = share * (-0.5 * innovation * innovation / variance).exp() / variance.sqrt();
        let both = both + of_day;
        let mean = session.mean[1] + innovation * both / variance;
        let sd = (c[1][1] + of_day - both * both / variance).sqrt();
        let short = (1.0 - session.shortfall).ln();
        sum.0 += likely * Normal::standard().cdf((short - mean) / sd);
        sum.1 += likely;
    }
    (sum.0 / sum.1, doubt <= lift.luck_variance)
}

#[test]
fn a_lifters_page_shows_every_muscle_in_the_next_days() {
    let (desk, _) = &*LOOKED_AT;
    let page = desk.lifter(&name("Maren Tidewell"), TODAY).unwrap();
    let muscles = page.muscles.unwrap();
    assert_eq!(muscles.days.len(), 5);
    assert_eq!(muscles.days[0], TODAY);
    assert_eq!(muscles.past.len(), 7);
    assert_eq!(muscles.past[6], TODAY.yesterday().unwrap());
    assert!(muscles.muscles.len() > 10);
    let doubts: Vec<f64> = muscles.muscles.iter().map(|muscle| muscle.days[0].p_short).collect();
    assert!(doubts.is_sorted_by(|a, b| a >= b), "the one most in doubt comes first: {doubts:?}");
    for muscle in &muscles.muscles {
        assert_eq!(muscle.past.len(), 7);
        for day in muscle.past.iter().chain(&muscle.days) {
            let Interval { low, mid, high } = day.shortfall_pct;
            assert!(low < mid && mid < high && (0.0..=1.0).contains(&day.p_short));
        }
        // back now if and only if short with a probability of 20 % at most
        let is_back = muscle.hours_until_usual == Some(0.0);
        assert_eq!(is_back, muscle.days[0].p_short <= 0.2, "{}", muscle.muscle);
    }
    assert!(page.fit.starts_with("The estimates"), "{}", page.fit);
    let later = desk.lifter(&name("Maren Tidewell"), date(2031, 5, 8)).unwrap().muscles.unwrap();
    assert_ne!(later.muscles[0].days[0].p_short, muscles.muscles[0].days[0].p_short);
}

/// Odds belong to lifts whose last four lead sets showed no more than the four before, and to no
/// others.
#[test]
fn flat_lifts_and_only_they_carry_odds_of_why() {
    let (desk, _) = &*LOOKED_AT;
    let (mut flat, mut rising) = (0, 0);
    for line in desk.squad(TODAY).unwrap().lifters {
        for lift in desk.lifter(&name(&line.name), TODAY).unwrap().lifts {
            let latest = &lift.points[lift.points.len().saturating_sub(8)..];
            let shown: Vec<f64> = latest.iter().filter_map(shown_by_epley).collect();
            if lift.load_meaning == Some("added to body mass") || shown.len() < 8 {
                continue; // body mass is no part of the load, or a reserve was not told
            }
            let mean = |shown: &[f64]| shown.iter().sum::<f64>() / 4.0;
            let change_pct = 100.0 * (mean(&shown[4..]) - mean(&shown[..4]));
            match lift.why {
                Some(why) => {
                    flat += 1;
                    assert!((why.change_pct - change_pct).abs() < 1e-6, "{}", lift.name);
                    assert!(change_pct <= 0.2);
                    let odds: f64 = why.causes.iter().map(|cause| cause.odds).sum();
                    assert!((odds - 1.0).abs() < 1e-6 && why.causes.len() == 5);
                    assert!(why.causes.is_sorted_by(|a, b| a.odds >= b.odds));
                    assert!(why.causes.iter().all(|cause| cause.evidence.ends_with('.')));
                }
                None => {
                    rising += 1;
                    assert!(change_pct > 0.2, "{} of {}: {change_pct}", lift.name, line.name);
                }
            }
        }
    }
    assert!(flat > 5 && rising > 5, "{flat} flat, {rising} rising");
}

/// ln of load × (1 + n/30), n being repetitions and reserve, a single to failure counting as n = 0
/// (Epley's equation as published).
fn shown_by_epley(point: &PointView) -> Option<f64> {
    let (reps, rir) = (f64::from(point.reps), point.rir?);
    let n = if reps + rir == 1.0 { 0.0 } else { reps + rir };
    (n <= 20.0).then(|| f64::from(point.load.grams()).ln() + (n / 30.0).ln_1p())
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

/// One set after the other comes from a phone; whoever has looked all the time sees what somebody sees who has
/// just begun to look.
#[test]
fn a_desk_that_reads_on_shows_the_same_as_one_that_begins() {
    let (desk, _folder) = desk();
    // Fits are made once and kept, as in a desk that is served.
    let desk = desk.keeping_fits(|| "2031-05-06T08:30:00Z".parse().unwrap());
    let (maren, zone) = (name("Maren Tidewell"), jiff::tz::TimeZone::UTC);
    let morning: jiff::Timestamp = "2031-05-06T09:00:00Z".parse().unwrap();
    let new = NewLink { id: [1; 16], token: "a-token-of-maren" };
    desk.make_phone_link(&maren, new, morning).unwrap();
    let Opened::Page(link) = desk.open_link("a-token-of-maren").unwrap() else { panic!("no page") };
    let planned = desk.floor_day(&maren, TODAY, &zone).unwrap().lifts;
    for number in 1..=4_u32 {
        let now = morning + jiff::SignedDuration::from_mins(4 * i64::from(number));
        let ms = now.as_millisecond();
        let lift = &planned[number as usize % 2];
        let batch = json!({ "sent": ms, "messages": [{
            "id": format!("00000000-0000-4000-8000-{number:012x}"), "kind": "set",
            "day": TODAY.to_string(), "logged": ms, "lift": lift.card.name, "load": lift.load,
            "unit": "kg", "reps": 3 + number, "rir": 1, "set_kind": "work",
        }] });
        let taken = desk.take_from_phone(&link, &batch.to_string(), now, &zone).unwrap();
        assert_eq!(taken.confirmed[0].refused, None);
        let fresh = Desk::new(Store::open(desk.store().path()).unwrap());
        let shown = |desk: &Desk, day: Date| {
            let floor =
                serde_json::to_string(&desk.floor_day(&maren, day, &zone).unwrap()).unwrap();
            (floor, format!("{:?}", desk.lifter(&maren, day).unwrap()))
        };
        for day in [TODAY, TODAY.tomorrow().unwrap()] {
            assert!(shown(&desk, day) == shown(&fresh, day), "{number} sets, on {day}");
        }
    }
}

#[test]
fn one_lifter_is_read_once_for_all_who_ask_at_the_same_time() {
    use std::sync::atomic::{AtomicUsize, Ordering};
    /// How often fits were made that are to be kept: once for each reading of a record without any.
    static READINGS: AtomicUsize = AtomicUsize::new(0);
    let (desk, _folder) = desk();
    let desk = desk.keeping_fits(|| {
        READINGS.fetch_add(1, Ordering::SeqCst);
        "2031-05-06T09:00:00Z".parse().unwrap()
    });
    std::thread::scope(|scope| {
        for _ in 0..6 {
            scope.spawn(|| desk.lifter(&name("Maren Tidewell"), TODAY).unwrap());
        }
    });
    assert_eq!(READINGS.load(Ordering::SeqCst), 1);
}

#[test]
fn unknown_names_are_answered_with_near_ones() {
    let (desk, _) = &*LOOKED_AT;
    for asked in ["Maren Tidewel", "maren"] {
        let error = desk.lifter(&name(asked), TODAY).unwrap_err();
        assert!(matches!(error, ServiceError::NoSuchLifter { .. }));
        assert!(error.to_string().contains("did you mean Maren Tidewell"), "{error}");
    }
}
