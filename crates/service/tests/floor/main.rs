//! What becomes of what phones send: once, in its place in time, by the desk's clock, and kept even where
//! nothing could be made of it. All people are invented.

mod alone;

use domain::{
    Joint, LiftName, Lifter, LifterName, Load, LoggedSet, Note, Reps, SetKind, SetNumber, Unit,
    When,
};
use jiff::Timestamp;
use jiff::tz::{Offset, TimeZone};
use serde_json::{Value, json};
use service::floor::{NewLink, Opened, PhoneLink, Taken};
use service::{Desk, ServiceError, Store, export};
use store::OnDifference;

/// 2031-05-04T18:00 at the gym, whose clock is two hours ahead of the world's.
const EVENING_MS: i64 = 1_935_676_800_000;

fn zone() -> TimeZone {
    TimeZone::fixed(Offset::constant(2))
}

fn at(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(ms).unwrap()
}

fn name(text: &str) -> LifterName {
    LifterName::new(text).unwrap()
}

/// A desk with two invented lifters, one of whom has squatted once, and a link for her.
pub(crate) struct Gym {
    folder: tempfile::TempDir,
    desk: Desk,
    link: PhoneLink,
}

impl Gym {
    fn new() -> Gym {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.bellwether")).unwrap();
        let mut import = store.begin_import("a log", at(0)).unwrap();
        for who in ["Wilma Tarn", "Odd Birk"] {
            import.add_lifter_if_missing(&Lifter::usual(name(who), Unit::Kg)).unwrap();
        }
        for number in 1..=3 {
            import.add_set(&squat("2031-05-01", number), OnDifference::Keep).unwrap();
        }
        import.commit().unwrap();
        let desk = Desk::new(store);
        let link = open_link(&desk, "Wilma Tarn", 1);
        Gym { folder, desk, link }
    }

    /// Sends at a time by the phone's clock, received at a time by the desk's.
    fn send(&self, sent: i64, received: i64, messages: &[Value]) -> Taken {
        let batch = json!({ "sent": sent, "messages": messages }).to_string();
        self.desk.take_from_phone(&self.link, &batch, at(received), &zone()).unwrap()
    }

    /// Sends at once, with a clock that is right; nothing may be refused.
    fn tell(&self, ms: i64, messages: &[Value]) {
        let taken = self.send(ms, ms, messages);
        assert!(taken.confirmed.iter().all(|one| one.refused.is_none()), "{taken:?}");
    }

    /// Today's sets: time, number, load in kg, repetitions.
    fn today(&self) -> Vec<(String, u8, f64, u16)> {
        let sets = self.desk.store().sets_of(&name("Wilma Tarn")).unwrap();
        sets.into_iter()
            .filter(|set| set.when.date().to_string() == "2031-05-06")
            .map(|set| (set.when.to_string(), set.number.get(), set.load.kg(), set.reps.get()))
            .collect()
    }
}

fn open_link(desk: &Desk, who: &str, id: u8) -> PhoneLink {
    let token = format!("token-of-{who}-{id}");
    let new = NewLink { id: [id; 16], token: &token };
    desk.make_phone_link(&name(who), new, at(1)).unwrap();
    let Opened::Page(link) = desk.open_link(&token).unwrap() else { panic!("it opens the page") };
    link
}

fn squat(when: &str, number: u8) -> LoggedSet {
    LoggedSet {
        lifter: name("Wilma Tarn"),
        when: When::parse(when).unwrap(),
        lift: LiftName::new("back squat").unwrap(),
        number: SetNumber::new(number).unwrap(),
        kind: SetKind::Work,
        load: Load::from_kg(100.0).unwrap(),
        reps: Reps::new(5).unwrap(),
        rir: None,
        note: Note::default(),
    }
}

fn id(n: u32) -> String {
    format!("00000000-0000-7000-8000-{n:012}")
}

fn message(n: u32, kind: &str, logged: i64, rest: &Value) -> Value {
    let mut all = json!({ "id": id(n), "kind": kind, "day": "2031-05-06", "logged": logged });
    for (key, value) in rest.as_object().unwrap() {
        all[key] = value.clone();
    }
    all
}

fn set(n: u32, logged: i64, reps: u16) -> Value {
    let rest =
        json!({ "lift": "back squat", "load": 100.0, "unit": "kg", "reps": reps, "rir": 2.0 });
    message(n, "set", logged, &rest)
}

/// 2031-05-06T18:00 at the gym.
const NOW: i64 = EVENING_MS + 2 * 86_400_000;
const MINUTE: i64 = 60_000;

#[test]
fn a_message_sent_again_is_confirmed_again_and_recorded_once() {
    let gym = Gym::new();
    let batch = [set(1, NOW, 5), message(2, "note", NOW, &json!({ "text": "knees warm" }))];
    let first = gym.send(NOW, NOW, &batch);
    let facts = gym.desk.store().n_facts().unwrap();
    assert_eq!(gym.send(NOW + MINUTE, NOW + MINUTE, &batch).confirmed, first.confirmed);
    assert_eq!(first.confirmed.len(), 2);
    assert_eq!(gym.desk.store().n_facts().unwrap(), facts);
    assert_eq!(gym.today(), [("2031-05-06T18:00".to_owned(), 1, 100.0, 5)]);
    // Twice in one batch too.
    gym.tell(NOW, &[set(3, NOW + 1, 4), set(3, NOW + 1, 4)]);
    assert_eq!(gym.today().len(), 2);
}

#[test]
fn sets_get_their_numbers_by_time_however_late_they_come() {
    let gym = Gym::new();
    gym.tell(NOW, &[set(1, NOW - 10 * MINUTE, 6), set(2, NOW - 4 * MINUTE, 5)]);
    // From a phone that had no signal: before, between, and in the same second as the last.
    gym.tell(NOW, &[set(3, NOW - 15 * MINUTE, 8), set(4, NOW - 7 * MINUTE, 7)]);
    gym.tell(NOW, &[set(5, NOW - 4 * MINUTE, 3)]);
    let got: Vec<(u8, u16)> = gym.today().iter().map(|set| (set.1, set.3)).collect();
    assert_eq!(got, [(1, 8), (2, 6), (3, 7), (4, 5), (5, 3)]);
    // Many hours later it is another session of that day.
    gym.tell(NOW + 240 * MINUTE, &[set(6, NOW + 230 * MINUTE, 2)]);
    assert_eq!(gym.today().last().map(|set| (set.1, set.3)), Some((1, 2)));
}

#[test]
fn a_phones_clock_may_be_hours_off() {
    let gym = Gym::new();
    let hours = 23 * 60 * MINUTE;
    // Logged twenty minutes before it was sent, by a clock that is almost a day behind.
    gym.send(NOW - hours, NOW, &[set(1, NOW - hours - 20 * MINUTE, 5)]);
    // Logged after it was sent, says a clock that was put back in between: now.
    gym.send(NOW, NOW, &[set(2, NOW + 90 * MINUTE, 4)]);
    let times: Vec<String> = gym.today().into_iter().map(|set| set.0).collect();
    assert_eq!(times, ["2031-05-06T17:40", "2031-05-06T18:00"]);
    let kept =
        gym.desk.store().floor_messages_on(&name("Wilma Tarn"), jiff::civil::date(2031, 5, 6));
    let kept = kept.unwrap();
    assert_eq!(kept[0].message.logged, at(NOW - hours - 20 * MINUTE), "both clocks are kept");
    assert_eq!((kept[0].message.sent, kept[0].recorded), (at(NOW - hours), at(NOW)));
}

#[test]
fn undoing_withdraws_and_correcting_supersedes() {
    let gym = Gym::new();
    gym.tell(NOW, &[set(1, NOW, 5), set(2, NOW + 1, 5)]);
    let rest = json!({ "of": id(1), "load": 102.5, "unit": "kg", "reps": 4, "rir": null });
    gym.tell(NOW, &[message(3, "correct", NOW, &rest)]);
    assert_eq!((gym.today()[0].2, gym.today()[0].3), (102.5, 4));
    gym.tell(NOW, &[message(4, "undo", NOW, &json!({ "of": id(1) }))]);
    gym.tell(NOW, &[message(5, "undo", NOW, &json!({ "of": id(1) }))]);
    assert_eq!(gym.today().len(), 1);
    // What was taken back can be logged again, in the same second.
    gym.tell(NOW, &[set(6, NOW, 5)]);
    assert_eq!(gym.today().len(), 2);
    // A lead set that was taken back and logged anew at once is the first set of its lift again.
    let later = NOW + MINUTE;
    let back = json!({ "of": id(8) });
    let press = |n, logged, reps| {
        let mut press = set(n, logged, reps);
        press["lift"] = json!("bench press");
        press
    };
    gym.tell(later, &[press(8, later, 5), message(9, "undo", later + 300, &back)]);
    gym.tell(later + MINUTE, &[press(10, later + 600, 2), press(11, later + MINUTE, 3)]);
    let pressed: Vec<(u8, u16)> = gym.today().iter().skip(2).map(|set| (set.1, set.3)).collect();
    assert_eq!(pressed, [(1, 2), (2, 3)], "{:?}", gym.today());
    // In the last second of a day, or where the next second is another set's, it is the next in number instead.
    let midnight = NOW + 6 * 60 * MINUTE - 1000;
    let undo = |n, of, logged| message(n, "undo", logged, &json!({ "of": id(of) }));
    gym.tell(midnight, &[press(12, midnight, 5), undo(13, 12, midnight), press(14, midnight, 4)]);
    let last = gym.today().pop().unwrap();
    assert_eq!((last.0.as_str(), last.1, last.3), ("2031-05-06T23:59:59", 2, 4));
    let busy = NOW + 240 * MINUTE;
    gym.tell(busy + 2000, &[press(15, busy, 5), press(16, busy + 1000, 6)]);
    gym.tell(busy + 2000, &[undo(17, 15, busy), press(18, busy, 3)]);
    let busy: Vec<_> = gym.today().into_iter().filter(|set| set.0.contains("T22:00")).collect();
    let numbers: Vec<(u8, u16)> = busy.iter().map(|set| (set.1, set.3)).collect();
    assert_eq!(numbers, [(2, 3), (3, 6)], "in order of time: {busy:?}");
    let taken = gym.send(NOW, NOW, &[message(7, "undo", NOW, &json!({ "of": id(99) }))]);
    let refused = taken.confirmed[0].refused.clone().unwrap();
    assert_eq!(refused, "what this takes back never came here");
}

#[test]
fn pain_and_check_in_become_check_ins() {
    let gym = Gym::new();
    gym.tell(
        NOW,
        &[
            message(1, "check-in", NOW, &json!({ "sleep_h": 6.5, "stress": 5, "soreness": null })),
            message(2, "pain", NOW, &json!({ "joint": "knee", "rating": 6, "lift": "back squat" })),
        ],
    );
    let told = gym.desk.store().check_ins_of(&name("Wilma Tarn")).unwrap();
    assert_eq!(told.len(), 2);
    assert_eq!((told[0].sleep_h, told[0].stress, told[0].soreness), (Some(6.5), Some(5.0), None));
    let pain = told[1].pain.unwrap();
    assert_eq!((pain.joint, pain.rating()), (Joint::Knee, 6));
    gym.tell(NOW, &[message(3, "undo", NOW, &json!({ "of": id(2) }))]);
    assert_eq!(gym.desk.store().check_ins_of(&name("Wilma Tarn")).unwrap().len(), 1);
}

#[test]
fn what_cannot_be_understood_is_kept_and_said() {
    let gym = Gym::new();
    let bad = [
        (message(1, "song", NOW, &json!({})), "messages of the kind `song` are not known"),
        (set(2, NOW, 0), "reps `0` is out of range"),
        (message(3, "set", NOW, &json!({ "lift": "back squat" })), "this message can't be read"),
        (
            message(
                4,
                "set",
                NOW,
                &json!({ "lift": "moon walk", "load": 1, "unit": "kg", "reps": 1 }),
            ),
            "no lift is called `moon walk`",
        ),
        (message(5, "pain", NOW, &json!({ "joint": "knee", "rating": 11 })), "pain `11`"),
    ];
    for (message, words) in bad {
        let taken = gym.send(NOW, NOW, std::slice::from_ref(&message));
        let refused = taken.confirmed[0].refused.clone().unwrap_or_default();
        assert!(refused.contains(words), "{refused}");
        assert_eq!(gym.send(NOW, NOW, &[message]), taken, "the same answer again");
    }
    assert_eq!(gym.today(), []);
    let day = jiff::civil::date(2031, 5, 6);
    assert_eq!(gym.desk.store().floor_messages_on(&name("Wilma Tarn"), day).unwrap().len(), 5);
    assert_eq!(gym.desk.floor_remarks(&name("Wilma Tarn"), &zone()).unwrap().len(), 5);
    // What is no batch is refused whole.
    let facts = gym.desk.store().n_facts().unwrap();
    for batch in [
        json!({ "messages": [] }).to_string(),
        json!({ "sent": "now", "messages": [] }).to_string(),
        "not json".to_owned(),
    ] {
        let error = gym.desk.take_from_phone(&gym.link, &batch, at(NOW), &zone()).unwrap_err();
        assert!(matches!(error, ServiceError::Floor { .. }), "{error}");
    }
    assert_eq!(gym.desk.store().n_facts().unwrap(), facts);
}

#[test]
fn links_belong_to_one_lifter_and_can_be_revoked() {
    let gym = Gym::new();
    gym.tell(NOW, &[set(1, NOW, 5)]);
    let odd = open_link(&gym.desk, "Odd Birk", 2);
    let batch = json!({ "sent": NOW, "messages": [
        set(1, NOW, 5), message(2, "undo", NOW, &json!({ "of": id(1) })),
    ] });
    let taken = gym.desk.take_from_phone(&odd, &batch.to_string(), at(NOW), &zone()).unwrap();
    // Another's message with this id is on record: this one isn't, so the phone keeps it.
    assert_eq!((taken.held.len(), taken.held[0].place, taken.held[0].again), (1, 0, false));
    assert_eq!(taken.confirmed[0].refused.as_deref(), Some("what this takes back never came here"));
    assert_eq!(gym.today().len(), 1);
    let links = gym.desk.phone_links(&name("Odd Birk")).unwrap();
    let hers = gym.desk.revoke_phone_link(&name("Wilma Tarn"), &links[0].id, at(NOW));
    assert!(matches!(hers.unwrap_err(), ServiceError::NoSuchLink { .. }));
    gym.desk.revoke_phone_link(&name("Odd Birk"), &links[0].id, at(NOW)).unwrap();
    assert_eq!(gym.desk.open_link("token-of-Odd Birk-2").unwrap(), Opened::Revoked);
    assert_eq!(gym.desk.open_link("token-of-Odd Birk-3").unwrap(), Opened::Unknown);
}

#[test]
fn the_session_stays_the_same_while_it_is_done() {
    let gym = Gym::new();
    let day = jiff::civil::date(2031, 5, 6);
    let view = || gym.desk.floor_day(&name("Wilma Tarn"), day, &zone()).unwrap();
    let before = serde_json::to_value(view()).unwrap();
    assert_eq!(before["lifts"][0]["name"], "back squat");
    assert!(before["lifts"][0]["instead"].as_array().unwrap().len() > 2);
    gym.tell(
        NOW,
        &[
            set(1, NOW, 9),
            message(2, "pain", NOW, &json!({ "joint": "knee", "rating": 9, "lift": "back squat" })),
        ],
    );
    let mut after = serde_json::to_value(view()).unwrap();
    let messages = after["messages"].take();
    assert_eq!(messages[0]["at"], "2031-05-06T18:00");
    assert_eq!(messages[0]["body"]["reps"], 9);
    after["messages"] = json!([]);
    assert_eq!(after, before);
}

#[test]
fn an_export_brings_links_and_messages_back() {
    let gym = Gym::new();
    gym.tell(NOW, &[set(1, NOW, 5), message(2, "skip", NOW, &json!({ "lift": "back squat" }))]);
    gym.send(NOW, NOW, &[message(3, "song", NOW, &json!({}))]);
    let folder = gym.folder.path().join("export");
    export::export(gym.desk.store(), &folder, export::Existing::Keep, &mut |_, _| {}).unwrap();
    let file = std::fs::File::open(folder.join(export::RECORD_FILE)).unwrap();
    let other = Store::open(&gym.folder.path().join("other.bellwether")).unwrap();
    export::restore(&other, file, at(NOW), &mut |_| {}).unwrap();
    let facts = |store: &Store| {
        let mut all = Vec::new();
        store
            .for_each_fact::<store::StoreError>(|fact| {
                all.push(fact);
                Ok(())
            })
            .unwrap();
        all
    };
    assert_eq!(facts(&other), facts(gym.desk.store()));
    assert!(matches!(
        Desk::new(other).open_link("token-of-Wilma Tarn-1").unwrap(),
        Opened::Page(_)
    ));
}

#[test]
fn a_session_that_a_phone_never_finished_is_a_reason_to_look() {
    let gym = Gym::new();
    let reason = |day: &str| {
        let squad = gym.desk.squad(day.parse().unwrap()).unwrap();
        let line = squad.lifters.into_iter().find(|line| line.name == "Wilma Tarn").unwrap();
        line.reason
    };
    gym.tell(NOW, &[set(1, NOW, 5)]);
    assert!(!reason("2031-05-06").contains("unsent"), "the session may be going on");
    let told = reason("2031-05-07");
    assert!(
        told.contains("Tue 6 May") && told.contains("sets may still be on it, unsent"),
        "{told}"
    );
    assert!(!reason("2031-05-14").contains("unsent"), "after a week it is past asking");
    gym.tell(NOW + MINUTE, &[message(2, "finish", NOW + MINUTE, &json!({ "sets": 1 }))]);
    assert!(!reason("2031-05-07").contains("unsent"));
}
