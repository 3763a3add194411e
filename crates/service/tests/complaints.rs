//! Pain on a record, a card, the pages and a phone's day: one rule everywhere, nothing fades unasked, and no lift that
//! plainly loads a joint with a standing complaint has a target, a chance or a call but *stop*. The lifter is invented.

use domain::{
    Catalogue, CheckIn, Joint, Lift, LiftName, Lifter, LifterName, Limits, Load, LoggedSet, Note,
    Pain, Reps, Rir, SetKind, SetNumber, Unit, When,
};
use engine::reading::Call;
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use serde_json::json;
use service::demo::{self, SEED};
use service::floor::{FloorDay, NewLink, Opened, PhoneLink};
use service::forms::Fields;
use service::record::history::{History, Model};
use service::session::by_hand::ReadRequest;
use service::view::{CallWord, Extent};
use service::{Desk, Store};
use store::OnDifference;

/// A Monday, eight weeks after the first.
const TODAY: Date = date(2031, 5, 5);
const LIFTS: [(&str, f64); 4] =
    [("bench press", 80.0), ("back squat", 110.0), ("lateral raise", 10.0), ("leg press", 180.0)];

fn name() -> LifterName {
    LifterName::new("Wilma Tarn").unwrap()
}

fn when(text: &str) -> When {
    When::parse(text).unwrap()
}

fn set(at: When, lift: &str, number: u8, kg: f64, reps: u16) -> LoggedSet {
    LoggedSet {
        lifter: name(),
        when: at,
        lift: LiftName::new(lift).unwrap(),
        number: SetNumber::new(number).unwrap(),
        kind: SetKind::Work,
        load: Load::from_kg(kg).unwrap(),
        reps: Reps::new(reps).unwrap(),
        rir: Some(Rir::new(2.0).unwrap()),
        note: Note::default(),
    }
}

/// Mondays and Thursdays at six in the evening, the last on the Thursday before [`TODAY`].
fn sets() -> Vec<LoggedSet> {
    let mut sets = Vec::new();
    for session in 0..16_i32 {
        let day = TODAY.checked_sub((56 - 7 * (session / 2) - 3 * (session % 2)).days()).unwrap();
        let at = when(&format!("{day}T18:00"));
        for (lift, kg) in LIFTS {
            let reps = 6 + u16::try_from(session % 2).unwrap();
            sets.extend((1..=3).map(|number| set(at, lift, number, kg, reps)));
        }
    }
    sets
}

fn rated(joint: Joint, rating: u8, at: &str) -> CheckIn {
    CheckIn { pain: Some(Pain::new(joint, rating).unwrap()), ..CheckIn::empty(name(), when(at)) }
}

fn gym(ratings: &[CheckIn]) -> (tempfile::TempDir, Desk) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
    let mut import = store.begin_import("a log", Timestamp::UNIX_EPOCH).unwrap();
    import.add_lifter_if_missing(&Lifter::usual(name(), Unit::Kg)).unwrap();
    for set in sets() {
        import.add_set(&set, OnDifference::Keep).unwrap();
    }
    for rating in ratings {
        import.add_check_in(rating, OnDifference::Keep).unwrap();
    }
    import.commit().unwrap();
    (folder, Desk::new(store))
}

/// The lifts that a card stops, and those that it has a target for.
fn card(desk: &Desk, day: Date) -> (Vec<String>, Vec<String>) {
    let card = desk.card(&name(), day).unwrap();
    let stopped = card.stopped.into_iter().map(|lift| lift.name).collect();
    (stopped, card.lifts.into_iter().map(|lift| lift.name).collect())
}

fn floor(desk: &Desk) -> FloorDay {
    desk.floor_day(&name(), TODAY, &TimeZone::UTC).unwrap()
}

fn answer(desk: &Desk, joint: &str, pain: &str, at: &str) -> bool {
    let fields = Fields::default().with("joint", joint).with("pain", pain);
    desk.rate_joint(&name(), &fields, (when(at), Timestamp::UNIX_EPOCH)).is_ok()
}

#[test]
fn pain_stops_what_loads_the_joint_until_a_newer_rating_answers_it() {
    let (_folder, desk) = gym(&[rated(Joint::Elbow, 6, "2029-01-01")]);
    assert_eq!(card(&desk, TODAY).0, ["bench press"], "two years on, unanswered");
    assert!(
        !answer(&desk, "elbow", "", "2031-05-05T09:00")
            && !answer(&desk, "elbow", "11", "2031-05-05T09:00")
    );
    assert!(!answer(&desk, "heart", "2", "2031-05-05T09:00"));
    // An answer above the limit keeps it, one about another joint says nothing of it.
    assert!(
        answer(&desk, "elbow", "7", "2031-05-05T09:00")
            && answer(&desk, "hip", "0", "2031-05-05T09:01")
    );
    let complaints = desk.lifter(&name(), TODAY).unwrap().complaints;
    let [one] = complaints.as_slice() else { panic!("{complaints:?}") };
    assert_eq!(
        (one.key, one.rating, one.stops.as_slice()),
        ("elbow", 7, &["bench press".to_owned()][..])
    );
    assert!(one.words.contains("Lateral raise loads it lightly"), "{}", one.words);
    assert_eq!(card(&desk, TODAY).0, ["bench press"]);
    // One at the limit answers it; an older high rating beside it counts no more.
    assert!(answer(&desk, "elbow", "5", "2031-05-05T09:02"));
    assert_eq!(card(&desk, TODAY).0, [""; 0]);
    assert!(card(&desk, TODAY).1.contains(&"bench press".to_owned()));
    assert!(desk.lifter(&name(), TODAY).unwrap().complaints.is_empty());
    assert!(desk.card(&name(), TODAY).unwrap().notes.iter().all(|note| !note.contains("elbow")));
}

#[test]
fn pain_counts_on_the_day_two_days_later_and_ever_after_but_not_before() {
    let (_folder, desk) = gym(&[rated(Joint::Knee, 6, "2031-05-05")]);
    assert_eq!(card(&desk, TODAY.yesterday().unwrap()).0, [""; 0]);
    for days in [0, 1, 2, 3, 40] {
        let stopped = card(&desk, TODAY.checked_add(days.days()).unwrap()).0;
        assert_eq!(stopped, ["back squat", "leg press"], "{days} days later");
    }
}

/// A stopped lift leaves the others' numbers as if it weren't there, on the card and on the phone.
#[test]
fn a_stopped_lift_is_named_with_what_to_do_instead_and_nothing_else() {
    let (_folder, desk) = gym(&[rated(Joint::Elbow, 6, "2031-05-03")]);
    let card = desk.card(&name(), TODAY).unwrap();
    let [stopped] = card.stopped.as_slice() else { panic!("{:?}", card.stopped) };
    let catalogue = Catalogue::built_in();
    assert!(!stopped.stop.instead.is_empty());
    for other in &stopped.stop.instead {
        let lift = catalogue.find(&LiftName::new(other).unwrap()).unwrap();
        assert!(!plainly_loads(lift, Joint::Elbow), "{other}");
        assert!(stopped.stop.words.contains(other));
    }
    let session = card.session.unwrap();
    assert!(session.lifts.iter().all(|lift| lift.name != "bench press"));
    let day = floor(&desk);
    assert_eq!(day.lifts[0].card.name, "bench press");
    assert!(day.lifts[0].stop.is_some() && day.lifts[1..].iter().all(|lift| lift.stop.is_none()));
    assert!(day.notes.iter().all(|note| !note.contains("elbow")), "the page asks itself");
    let floor_session = day.session.unwrap();
    let place = |lifts: &[service::view::SessionLift]| {
        lifts.iter().find(|lift| lift.name == "back squat").unwrap().place
    };
    let (here, there) = (place(&session.lifts), place(&floor_session.lifts));
    let gap = (session.mean[3 * here] - floor_session.mean[3 * there]).abs();
    assert!(gap < 1e-12, "{gap}");
}

fn plainly_loads(lift: &Lift, joint: Joint) -> bool {
    lift.joints.iter().any(|load| load.joint == joint && load.get() >= 0.5)
}

/// What a lead set is called rests on what was on record when it was done.
#[test]
fn a_record_is_read_with_what_was_on_record_at_the_time() {
    let last = sets().last().unwrap().when.date();
    let calls = |ratings: &[CheckIn]| -> Vec<(Date, Call)> {
        let catalogue = Catalogue::built_in();
        let history = History::read(
            &catalogue,
            &Limits::default(),
            Model::default(),
            sets(),
            ratings.to_vec(),
        );
        let bench = history.lift(&LiftName::new("bench press").unwrap()).unwrap();
        bench.points.iter().map(|point| (point.set.when.date(), point.ruling.call)).collect()
    };
    let stops =
        |ratings: &[CheckIn]| calls(ratings).iter().filter(|one| one.1 == Call::Stop).count();
    assert_eq!(stops(&[]), 0);
    // From its day on, as long as nobody answers.
    let old = rated(Joint::Elbow, 9, "2031-03-20T09:00");
    assert_eq!(stops(std::slice::from_ref(&old)), 13, "{:?}", calls(std::slice::from_ref(&old)));
    assert_eq!(stops(&[old.clone(), rated(Joint::Elbow, 5, "2031-03-27T09:00")]), 2);
    // Of the day itself: before the set, at it, after it, and without a time.
    for (at, stopped) in [("T17:00", 1), ("T18:00", 1), ("T18:01", 0), ("", 1)] {
        assert_eq!(stops(&[rated(Joint::Elbow, 6, &format!("{last}{at}"))]), stopped, "{at}");
    }
    // An answer given after the set doesn't undo what was said at it.
    let (before, after) = (format!("{last}T08:00"), format!("{last}T20:00"));
    let answered = [rated(Joint::Elbow, 8, &before), rated(Joint::Elbow, 0, &after)];
    assert_eq!(stops(&answered), 1);
    assert_eq!(stops(&[rated(Joint::Elbow, 5, &before)]), 0, "at the limit");
    assert_eq!(stops(&[rated(Joint::Hip, 9, &before)]), 0, "another joint");
}

#[test]
fn pages_commands_and_the_squad_say_stop_and_nothing_else() {
    let (_folder, desk) = gym(&[rated(Joint::Elbow, 6, "2031-05-03")]);
    let page = desk.lifter_to(&name(), TODAY, Extent::Whole).unwrap();
    for lift in &page.lifts {
        let is_bench = lift.name == "bench press";
        assert_eq!(
            (lift.stop.is_some(), lift.target.is_none()),
            (is_bench, is_bench),
            "{}",
            lift.name
        );
    }
    let lift = LiftName::new("bench press").unwrap();
    let own = desk.lift(&name(), &lift, &Fields::default(), TODAY).unwrap().lift;
    assert!(own.stop.is_some() && own.target.is_none());
    let request = |lift: &str, day: &str| ReadRequest {
        lift: LiftName::new(lift).unwrap(),
        when: when(day),
        load: Load::from_kg(80.0).unwrap(),
        reps: Reps::new(6).unwrap(),
        rir: None,
        kind: SetKind::Work,
    };
    let read = desk.read(&name(), &request("bench press", "2031-05-09")).unwrap();
    assert_eq!(read.point.call, CallWord::Stop);
    assert!(read.point.reason.contains("licensed") && read.then.contains("Leave the rest"));
    let squad = desk.squad(TODAY).unwrap();
    assert!(squad.lifters[0].reason.starts_with("Pain of 6 in the elbow"));
    let calls = &squad.lifters[0].last_calls;
    let is_stop =
        |lift: &str| calls.iter().any(|(name, call)| name == lift && *call == CallWord::Stop);
    assert!(is_stop("bench press") && !is_stop("leg press"), "{calls:?}");
    // Weeks later the desk still says so first, though the lifter has been away since.
    let later = desk.squad(date(2031, 7, 1)).unwrap();
    assert!(later.lifters[0].reason.starts_with("Pain of 6"), "{}", later.lifters[0].reason);
    let joints = desk.joints(&name(), TODAY).unwrap();
    assert_eq!(joints.complaints[0].stops, ["bench press"]);
    let catalogue = Catalogue::built_in();
    for lift in joints.told.iter().flat_map(|joint| &joint.groups).flat_map(|group| &group.lifts) {
        let Some(swap) = &lift.swap else { continue };
        let other = catalogue.find(&LiftName::new(&swap.lift).unwrap()).unwrap();
        assert!(!plainly_loads(other, Joint::Elbow), "{} for {}", swap.lift, lift.lift);
    }
}

fn link(desk: &Desk) -> PhoneLink {
    let token = "0123456789abcdef0123456789abcdef01234567";
    desk.make_phone_link(&name(), NewLink { id: [7; 16], token }, Timestamp::UNIX_EPOCH).unwrap();
    let Opened::Page(link) = desk.open_link(token).unwrap() else { panic!("it opens the page") };
    link
}

/// 2031-05-05T18:00 in UTC.
const EVENING_MS: i64 = 1_935_770_400_000;

#[test]
fn a_phone_carries_what_was_reported_elsewhere_and_its_own_messages_apart() {
    let (_folder, desk) = gym(&[
        rated(Joint::Elbow, 6, "2031-04-20"),
        rated(Joint::Knee, 2, "2031-04-20"),
        rated(Joint::Neck, 3, "2031-05-05T08:00"),
    ]);
    let ratings = |desk: &Desk| -> Vec<(String, u8, String)> {
        let of = |one: service::floor::FloorRating| (one.joint.to_owned(), one.rating, one.at);
        floor(desk).ratings.into_iter().map(of).collect()
    };
    let elbow = ("elbow".to_owned(), 6, "2031-04-20".to_owned());
    let neck = ("neck".to_owned(), 3, "2031-05-05T08:00".to_owned());
    assert_eq!(ratings(&desk), [elbow.clone(), neck.clone()]);
    let link = link(&desk);
    let send = |n: u8, joint: &str, rating: u8| {
        let id = format!("00000000-0000-7000-8000-0000000000{n:02}");
        let message = json!({ "id": id, "kind": "pain", "day": "2031-05-05", "logged": EVENING_MS,
            "joint": joint, "rating": rating, "lift": "bench press" });
        let batch = json!({ "sent": EVENING_MS, "messages": [message] }).to_string();
        let now = Timestamp::from_millisecond(EVENING_MS).unwrap();
        let taken = desk.take_from_phone(&link, &batch, now, &TimeZone::UTC).unwrap();
        assert!(taken.confirmed.iter().all(|one| one.refused.is_none()), "{taken:?}");
    };
    // The session's own answer reaches the desk's pages at once, and its page as a message.
    send(1, "elbow", 2);
    assert_eq!(card(&desk, TODAY).0, [""; 0]);
    assert_eq!(ratings(&desk), [elbow.clone(), neck.clone()]);
    assert_eq!(floor(&desk).messages.len(), 1);
    send(2, "shoulder", 9);
    assert!(card(&desk, TODAY).0.contains(&"bench press".to_owned()));
    assert_eq!(ratings(&desk), [elbow, neck.clone()]);
    // What the coach hears later that day comes as a rating from elsewhere, whatever it says.
    assert!(answer(&desk, "elbow", "1", "2031-05-05T19:00"));
    let answered = ("elbow".to_owned(), 1, "2031-05-05T19:00".to_owned());
    assert_eq!(ratings(&desk), [answered, neck]);
}

/// For whatever joint complains in a session, something that spares it is at hand, and it stands ready on the phone.
#[test]
fn a_phone_can_offer_something_that_spares_the_joint() {
    let (_folder, desk) = gym(&[]);
    let day = floor(&desk);
    for lift in &day.lifts {
        for joint in &lift.plain_joints {
            let spares = |name: &&String| !day.alternatives[*name].plain_joints.contains(joint);
            let all = Catalogue::built_in();
            let own = all.find(&LiftName::new(&lift.card.name).unwrap()).unwrap();
            let any = all.lifts().iter().any(|other| {
                other.name != own.name
                    && day.lifts.iter().all(|one| one.card.name != other.name.as_str())
                    && engine::programme::swap::likeness(own, other) >= 0.4
                    && !other
                        .joints
                        .iter()
                        .any(|load| load.joint.key() == *joint && load.get() >= 0.5)
            });
            assert_eq!(
                lift.instead.iter().any(|name| spares(&name)),
                any,
                "{} {joint}",
                lift.card.name
            );
        }
    }
}

/// The invented squad, as it is and with any joint of theirs complaining: wherever something is shown of a lift that
/// plainly loads it, there is no target, no chance, and no call but *stop*.
#[test]
fn nobody_of_the_squad_is_given_a_lift_that_a_complaint_stops() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("squad.bellwether")).unwrap();
    let now = "2031-05-06T08:00:00Z".parse().unwrap();
    demo::open_demo(&store, SEED, TODAY, now).unwrap();
    let desk = Desk::new(store).with_threads(2);
    let squad = desk.squad(TODAY).unwrap();
    let mut stopped = 0;
    for (place, line) in squad.lifters.iter().enumerate() {
        let who = LifterName::new(&line.name).unwrap();
        stopped += holds_for(&desk, &who);
        // Others complain in turn of the joints that most lifts load.
        let joint = [Joint::Shoulder, Joint::Knee, Joint::Elbow, Joint::LowerBack][place % 4];
        let fields = Fields::default().with("joint", joint.key()).with("pain", "8");
        desk.rate_joint(&who, &fields, (when("2031-05-04T21:00"), now)).unwrap();
        stopped += holds_for(&desk, &who);
    }
    assert!(stopped > 40, "{stopped} lifts were stopped");
}

/// Checks all that is shown of one lifter, and counts the stopped lifts among it.
fn holds_for(desk: &Desk, who: &LifterName) -> usize {
    let mut catalogue = Catalogue::built_in();
    for file in desk.store().lift_files().unwrap() {
        catalogue = catalogue.with_file(&file).unwrap();
    }
    let limit = desk.store().lifter(who).unwrap().unwrap().limits.pain();
    let mut newest: Vec<Pain> = Vec::new();
    for told in desk.store().check_ins_of(who).unwrap().iter().filter_map(|told| told.pain) {
        newest.retain(|known| known.joint != told.joint);
        newest.push(told);
    }
    newest.retain(|pain| pain.rating() > limit);
    let is_stopped = |name: &str| {
        let lift = catalogue.find(&LiftName::new(name).unwrap()).unwrap();
        newest.iter().any(|pain| plainly_loads(lift, pain.joint))
    };
    let mut stopped = 0;
    let page = desk.lifter_to(who, TODAY, Extent::Lately).unwrap();
    for lift in &page.lifts {
        let is = is_stopped(&lift.name);
        assert_eq!(is, lift.stop.is_some(), "{who}: {}", lift.name);
        assert!(!is || lift.target.is_none(), "{who}: {}", lift.name);
        stopped += usize::from(is);
    }
    for days in [0, 2, 30] {
        let day = TODAY.checked_add(days.days()).unwrap();
        let card = desk.card(who, day).unwrap();
        for lift in &card.lifts {
            assert!(!is_stopped(&lift.name), "{who} on {day}: {}", lift.name);
        }
        let session = card.session.iter().flat_map(|session| &session.lifts);
        assert!(session.into_iter().all(|lift| !is_stopped(&lift.name)));
        for lift in &card.stopped {
            assert!(
                is_stopped(&lift.name) && lift.stop.instead.iter().all(|name| !is_stopped(name))
            );
        }
        stopped += card.stopped.len();
    }
    for (lift, call) in &desk
        .squad(TODAY)
        .unwrap()
        .lifters
        .iter()
        .find(|line| line.name == who.as_str())
        .unwrap()
        .last_calls
    {
        assert_eq!(is_stopped(lift), *call == CallWord::Stop, "{who}: {lift}");
    }
    let day = desk.floor_day(who, TODAY, &TimeZone::UTC).unwrap();
    for lift in &day.lifts {
        assert_eq!(is_stopped(&lift.card.name), lift.stop.is_some(), "{who}: {}", lift.card.name);
        let standing = day.ratings.iter().filter(|one| one.rating > day.pain_limit);
        let by_the_page = standing.into_iter().any(|one| lift.plain_joints.contains(&one.joint));
        assert_eq!(by_the_page, lift.stop.is_some(), "{who}: {}", lift.card.name);
    }
    stopped
}
