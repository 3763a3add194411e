//! Each message is understood whole or refused alone, within bounds, and at a time that is clear. Whatever a phone
//! sends, the day stays open and nothing is dropped.

use jiff::civil::date;
use serde_json::{Value, json};
use service::floor::bounds::{
    CLOCKS_APART, DAYS_AFTER, DAYS_BEFORE, DEEPEST, MOST_A_DAY, MOST_BYTES_A_DAY,
    MOST_MESSAGE_BYTES, MOST_MESSAGES, SAID_DAYS_BEFORE,
};
use service::floor::{FloorLine, Taken};
use store::{FloorMessage, Outcome};

use super::{Gym, MINUTE, NOW, at, id, message, name, open_link, set, zone};

const DAY: i64 = 86_400_000;

fn lines(gym: &Gym) -> Vec<FloorLine> {
    let lines = gym.desk.floor_lines(&name("Wilma Tarn"), date(2031, 5, 6), &zone()).unwrap();
    // As the handler writes it.
    serde_json::to_string(&lines).unwrap();
    lines
}

fn send_text(gym: &Gym, messages: &[String]) -> Taken {
    let batch = format!("{{\"sent\":{NOW},\"messages\":[{}]}}", messages.join(","));
    gym.desk.take_from_phone(&gym.link, &batch, at(NOW), &zone()).unwrap()
}

fn note_with(n: u32, odd: &str) -> String {
    let id = id(n);
    format!(
        "{{\"id\":\"{id}\",\"kind\":\"note\",\"day\":\"2031-05-06\",\"logged\":{NOW},\"text\":\"x\",\"odd\":{odd}}}"
    )
}

/// What jammed a day: JSON by its grammar that not every reader can read.
fn odd_values() -> Vec<String> {
    vec![
        "1e999".to_owned(),
        "-1e999".to_owned(),
        "9".repeat(400),
        format!("{}1{}", "[".repeat(200), "]".repeat(200)),
        format!("{}1{}", "{\"a\":".repeat(200), "}".repeat(200)),
        "\"\\ud800\"".to_owned(),
        "\"\\udc00 half\"".to_owned(),
        "{\"\\ud800\":1}".to_owned(),
    ]
}

#[test]
fn an_odd_message_is_refused_alone_and_the_day_stays_open() {
    for odd in odd_values() {
        let gym = Gym::new();
        let good = set(1, NOW, 5).to_string();
        let after = message(3, "note", NOW, &json!({ "text": "warm" })).to_string();
        let batch = [good, note_with(2, &odd), after];
        let taken = send_text(&gym, &batch);
        let refused: Vec<bool> = taken.confirmed.iter().map(|one| one.refused.is_some()).collect();
        assert_eq!(refused, [false, true, false], "{odd:.40}: {taken:?}");
        assert_eq!(send_text(&gym, &batch), taken, "the same answer again");
        assert_eq!(gym.today().len(), 1);
        let lines = lines(&gym);
        assert_eq!(lines.len(), 3);
        assert!(lines[1].refused.as_ref().unwrap().contains("can't be read"), "{:?}", lines[1]);
        assert_eq!(lines[1].body["id"], id(2).as_str());
        // The rest of the day goes on, and the desk tells of it.
        gym.tell(NOW, &[set(4, NOW + 1000, 4)]);
        assert_eq!(gym.desk.floor_remarks(&name("Wilma Tarn"), &zone()).unwrap().len(), 2);
        gym.desk.floor_day(&name("Wilma Tarn"), date(2031, 5, 6), &zone()).unwrap();
    }
}

#[test]
fn a_day_that_an_older_program_has_jammed_opens_again() {
    let gym = Gym::new();
    let put = |n: u8, kind: &str, body: String, outcome: Outcome| {
        let mut into = gym.desk.store().begin_import("a phone on the gym floor", at(NOW)).unwrap();
        into.add_floor_message(&FloorMessage {
            id: [n; 16],
            lifter: name("Wilma Tarn"),
            link: gym.link.id,
            day: date(2031, 5, 6),
            kind: kind.to_owned(),
            body,
            logged: at(NOW),
            sent: at(NOW),
            outcome,
        })
        .unwrap();
        into.commit().unwrap();
    };
    let uuid = |n: u8| uuid::Uuid::from_bytes([n; 16]);
    let mut n = 0;
    for odd in odd_values() {
        n += 1;
        let body = format!(
            "{{\"id\":\"{}\",\"kind\":\"pain\",\"day\":\"2031-05-06\",\"logged\":{NOW},\"joint\":\"knee\",\
             \"rating\":7,\"odd\":{odd}}}",
            uuid(n)
        );
        put(n, "pain", body, Outcome::Kept);
    }
    put(
        90,
        "decision",
        r#"{"lift":"back squat","call":"flee","instead":"go home"}"#.to_owned(),
        Outcome::Kept,
    );
    put(91, "note", "{\"text\":\"\\ud800\"}".to_owned(), Outcome::Kept);
    put(92, "song", "[[[".to_owned(), Outcome::Refused("unknown".to_owned()));
    // Far from every calendar: the line still comes.
    put(93, "note", "no json".to_owned(), Outcome::Kept);
    let lines = lines(&gym);
    assert_eq!(lines.len(), usize::from(n) + 4, "every line comes");
    for line in &lines[..usize::from(n)] {
        assert_eq!(
            (line.body["kind"].as_str(), line.body["day"].as_str()),
            (Some("pain"), Some("2031-05-06"))
        );
        // What the page needs to stop the lift, past the odd member.
        assert_eq!(
            (&line.body["joint"], &line.body["rating"]),
            (&json!("knee"), &json!(7)),
            "{line:?}"
        );
    }
    gym.tell(NOW, &[set(1, NOW, 5)]);
    gym.desk.floor_day(&name("Wilma Tarn"), date(2031, 5, 6), &zone()).unwrap();
    let told: Vec<String> = (gym.desk.floor_remarks(&name("Wilma Tarn"), &zone()).unwrap())
        .into_iter()
        .map(|remark| remark.words)
        .collect();
    assert!(
        told.contains(
            &"back squat: the call was “flee”, and the lifter decided otherwise: “go home”."
                .to_owned()
        ),
        "{told:?}"
    );
    assert!(
        told.iter().any(|words| words.contains("kind `note` came from an older page")),
        "{told:?}"
    );
}

#[test]
fn a_bad_envelope_is_answered_alone_and_stays_on_the_phone() {
    let gym = Gym::new();
    let wrong = |change: &dyn Fn(&mut Value)| {
        let mut bad = set(50, NOW, 5);
        change(&mut bad);
        bad
    };
    let bad = [
        json!({ "kind": "set" }),
        json!("set"),
        json!(null),
        wrong(&|bad| bad["id"] = json!("x")),
        wrong(&|bad| bad["id"] = json!(7)),
        wrong(&|bad| bad["day"] = json!("yesterday")),
        wrong(&|bad| bad["day"] = json!("1949-12-31")),
        wrong(&|bad| bad["kind"] = json!("")),
        wrong(&|bad| bad["kind"] = json!("k".repeat(41))),
        wrong(&|bad| bad["logged"] = json!(1.5)),
    ];
    for (n, bad) in (0_u32..).zip(bad) {
        let batch = [set(3 * n + 100, NOW, 5), bad, set(3 * n + 101, NOW, 4)];
        let taken = gym.send(NOW, NOW, &batch);
        assert_eq!(taken.confirmed.len(), 2, "{taken:?}");
        assert!(taken.confirmed.iter().all(|one| one.refused.is_none()), "{taken:?}");
        assert_eq!((taken.held[0].place, taken.held[0].again), (1, false), "{taken:?}");
    }
    assert_eq!(gym.today().len(), 20);
}

#[test]
fn messages_and_batches_are_bounded_and_nothing_is_dropped() {
    let gym = Gym::new();
    // The size of a message: at the bound it is read, past it stays on the phone.
    let sized = |n: u32, bytes: usize| {
        let bare = note_with(n, "\"\"").len();
        note_with(n, &format!("\"{}\"", "x".repeat(bytes - bare)))
    };
    let taken = send_text(&gym, &[sized(1, MOST_MESSAGE_BYTES), sized(2, MOST_MESSAGE_BYTES + 1)]);
    assert_eq!((taken.confirmed.len(), taken.held.len()), (1, 1), "{taken:?}");
    assert_eq!(taken.confirmed[0].refused, None);
    assert!(taken.held[0].reason.contains("make it shorter") && !taken.held[0].again);
    // How deep it nests; the message itself is the first level.
    let deep =
        |n, deep| note_with(n, &format!("{}1{}", "[".repeat(deep - 1), "]".repeat(deep - 1)));
    let taken = send_text(&gym, &[deep(3, DEEPEST), deep(4, DEEPEST + 1)]);
    let refused: Vec<bool> = taken.confirmed.iter().map(|one| one.refused.is_some()).collect();
    assert_eq!(refused, [false, true]);
    // The number in a batch.
    let many = |n: usize| vec![note_with(5, "0"); n];
    assert_eq!(send_text(&gym, &many(MOST_MESSAGES)).confirmed.len(), MOST_MESSAGES);
    let batch = format!("{{\"sent\":{NOW},\"messages\":[{}]}}", many(MOST_MESSAGES + 1).join(","));
    let error = gym.desk.take_from_phone(&gym.link, &batch, at(NOW), &zone()).unwrap_err();
    assert!(error.to_string().contains("send it in parts"), "{error}");
}

#[test]
fn a_link_brings_so_many_messages_a_day_and_the_rest_tomorrow() {
    let gym = Gym::new();
    let most = u32::try_from(MOST_A_DAY).unwrap();
    let notes = |from: u32, to: u32| (from..to).map(|n| note_with(n, "0")).collect::<Vec<_>>();
    let mut from = 0;
    while from < most {
        let to = most.min(from + 400);
        assert_eq!(send_text(&gym, &notes(from, to)).held, []);
        from = to;
    }
    let last = send_text(&gym, &notes(most, most + 1));
    assert!(last.confirmed.is_empty() && last.held[0].again, "{last:?}");
    assert!(last.held[0].reason.contains("the rest goes tomorrow"), "{last:?}");
    // What is on record is confirmed again all the same; another link goes on; so does the next day, and a desk
    // that was started anew counts the same.
    assert_eq!(send_text(&gym, &notes(0, 1)).confirmed.len(), 1);
    let other = open_link(&gym.desk, "Wilma Tarn", 3);
    let batch = format!("{{\"sent\":{NOW},\"messages\":[{}]}}", note_with(most, "0"));
    let anew = service::Desk::new(
        service::Store::open(&gym.folder.path().join("record.bellwether")).unwrap(),
    );
    assert_eq!(anew.take_from_phone(&gym.link, &batch, at(NOW), &zone()).unwrap().held.len(), 1);
    assert_eq!(anew.take_from_phone(&other, &batch, at(NOW), &zone()).unwrap().held, []);
    let tomorrow = gym.send(NOW + DAY, NOW + DAY, &[set(most + 1, NOW + DAY, 5)]);
    assert_eq!(tomorrow.held, []);
}

#[test]
fn a_link_brings_so_many_bytes_a_day() {
    let gym = Gym::new();
    let large = |n: u32| {
        let bare = note_with(n, "\"\"").len();
        note_with(n, &format!("\"{}\"", "x".repeat(MOST_MESSAGE_BYTES - bare)))
    };
    let most =
        u32::try_from(MOST_BYTES_A_DAY).unwrap() / u32::try_from(MOST_MESSAGE_BYTES).unwrap();
    for n in 0..most {
        assert_eq!(send_text(&gym, &[large(n)]).held, [], "{n}");
    }
    assert!(send_text(&gym, &[large(most)]).held[0].again);
}

#[test]
fn an_id_that_is_taken_confirms_nothing_else() {
    let gym = Gym::new();
    gym.tell(NOW, &[set(1, NOW, 5)]);
    let other = gym.send(NOW, NOW, &[set(1, NOW, 8), set(2, NOW, 3)]);
    assert_eq!((other.held.len(), other.confirmed.len()), (1, 1), "{other:?}");
    assert!(!other.held[0].again);
    let as_note = message(1, "note", NOW, &json!({ "text": "x" }));
    assert_eq!(gym.send(NOW, NOW, &[as_note]).held.len(), 1);
    // The same in other words is the same.
    let mut same = set(1, NOW, 5);
    (same["load"], same["more"]) = (json!(100), json!(null));
    assert_eq!(gym.send(NOW, NOW, &[same]).confirmed[0].refused, None);
}

#[test]
fn a_decision_is_one_of_the_calls() {
    let gym = Gym::new();
    let decide = |n, call: &str, instead: &str| {
        message(
            n,
            "decision",
            NOW,
            &json!({ "lift": "back squat", "call": call, "instead": instead }),
        )
    };
    let calls = ["go on", "ease", "stop", "no reading"];
    let good: Vec<Value> = (1..).zip(calls).map(|(n, call)| decide(n, call, "ease")).collect();
    gym.tell(NOW, &good);
    for (n, call, instead) in
        [(11, "<b>flee</b>", "ease"), (12, "Ease", "ease"), (13, "ease", "run"), (14, "", "")]
    {
        let taken = gym.send(NOW, NOW, &[decide(n, call, instead)]);
        assert!(
            taken.confirmed[0].refused.as_ref().unwrap().contains("is not known: use one of"),
            "{taken:?}"
        );
    }
}

/// Sent at a time by the phone, received at another by the desk: the reason if it asks when it was.
fn asked(gym: &Gym, (sent, received): (i64, i64), message: &Value) -> Option<String> {
    let taken = gym.send(sent, received, std::slice::from_ref(message));
    let one = &taken.confirmed[0];
    assert_eq!(one.asks.is_some(), one.refused.is_some(), "{one:?}");
    assert!(one.asks.is_none_or(|asks| asks == "when"));
    one.refused.clone()
}

#[test]
fn what_two_clocks_cannot_tell_is_asked_about_and_filed_nowhere() {
    let gym = Gym::new();
    // A phone whose clock began in 1970 and was put right before sending: was filed in 1970.
    let reason = asked(&gym, (NOW, NOW), &set(1, 5 * MINUTE, 5)).unwrap();
    assert!(reason.contains("by the phone's clock it was logged at 1970-01-01 02:05"), "{reason}");
    assert!(reason.contains("the session is of 2031-05-06; say on which day it was"), "{reason}");
    // The desk's clock has jumped: was filed in 2036.
    let jump = NOW + 5 * 365 * DAY;
    let mut of_the_jump = set(2, NOW, 5);
    of_the_jump["day"] = json!("2036-05-04");
    let reason = asked(&gym, (NOW, jump), &of_the_jump).unwrap();
    assert!(
        reason.contains(
            "the phone's clock said 2031-05-06 18:00 when the desk's said 2036-05-04 18:00"
        ),
        "{reason}"
    );
    let sets = gym.desk.store().sets_of(&name("Wilma Tarn")).unwrap();
    assert_eq!(sets.len(), 3, "only what was there before: {sets:?}");
    let told = gym.desk.floor_remarks(&name("Wilma Tarn"), &zone()).unwrap();
    assert_eq!(told.len(), 2, "and the desk says so");
    assert!(
        told.iter().all(|remark| remark
            .words
            .starts_with("Not taken: back squat 100 kg × 5; it isn't clear when")),
        "{told:?}"
    );
    assert!(
        told.iter().all(|remark| remark.words.ends_with("It waits for the answer on the phone.")),
        "{told:?}"
    );
    assert_eq!(lines(&gym)[0].asks, Some("when"));
    // The lifter says on which day: taken back, and logged so.
    let mut answer = set(3, NOW, 5);
    answer["when"] = json!("2031-05-06");
    gym.tell(NOW, &[message(4, "undo", NOW, &json!({ "of": id(1) })), answer]);
    assert_eq!(gym.today(), [("2031-05-06".to_owned(), 1, 100.0, 5)]);
}

#[test]
fn clocks_may_be_a_day_apart_and_no_more() {
    let gym = Gym::new();
    let most = i64::try_from(CLOCKS_APART.as_millis()).unwrap();
    for (n, apart, is_asked) in
        [(1, most, false), (2, -most, false), (3, most + 1000, true), (4, -most - 1000, true)]
    {
        let got = asked(&gym, (NOW + apart, NOW), &set(n, NOW + apart, 5));
        assert_eq!(got.is_some(), is_asked, "{apart} ms: {got:?}");
    }
    assert_eq!(gym.today().len(), 2);
}

#[test]
fn a_set_lies_so_near_to_its_session() {
    let gym = Gym::new();
    let on = |n, day: i32| {
        let mut set = set(n, NOW, 5);
        set["day"] =
            json!(date(2031, 5, 6).saturating_sub(jiff::Span::new().days(day)).to_string());
        asked(&gym, (NOW, NOW), &set).is_some()
    };
    assert!(!on(1, DAYS_AFTER) && on(2, DAYS_AFTER + 1));
    assert!(!on(3, -DAYS_BEFORE) && on(4, -DAYS_BEFORE - 1));
    // What the lifter says is taken within a year of the session, and not later than now.
    let said = |n, days: i32| {
        let mut set = set(n, NOW, 5);
        set["when"] =
            json!(date(2031, 5, 6).saturating_add(jiff::Span::new().days(days)).to_string());
        asked(&gym, (NOW, NOW), &set).is_some()
    };
    assert!(!said(5, -SAID_DAYS_BEFORE) && said(6, -SAID_DAYS_BEFORE - 1));
    assert!(!said(7, 1) && said(8, 2));
}

#[test]
fn pain_never_waits_for_an_answer() {
    let gym = Gym::new();
    let pain = |n, joint: &str, logged| {
        message(n, "pain", logged, &json!({ "joint": joint, "rating": 8 }))
    };
    assert_eq!(asked(&gym, (NOW, NOW), &pain(1, "knee", 5 * MINUTE)), None);
    assert_eq!(asked(&gym, (NOW - 400 * DAY, NOW), &pain(2, "hip", NOW - 400 * DAY)), None);
    let told = gym.desk.store().check_ins_of(&name("Wilma Tarn")).unwrap();
    let days: Vec<String> = told.iter().map(|told| told.when.date().to_string()).collect();
    assert_eq!(days, ["2031-05-06", "2031-05-06"]);
    // Told on the page of a session to come, by whatever clock, it is of the moment at which it came.
    for (n, sent) in [(3, NOW), (4, NOW + 2 * DAY), (5, NOW + 700 * DAY)] {
        let mut ahead = pain(n, "elbow", sent);
        ahead["day"] = json!("2031-05-13");
        assert_eq!(asked(&gym, (sent, NOW + i64::from(n) * MINUTE), &ahead), None);
        let told = gym.desk.store().check_ins_of(&name("Wilma Tarn")).unwrap();
        let newest = told.iter().map(|told| told.when).max().unwrap();
        assert!(newest < domain::When::parse("2031-05-06T18:10").unwrap(), "{newest}");
    }
    let joints = gym.desk.joints(&name("Wilma Tarn"), date(2031, 5, 6)).unwrap();
    assert!(joints.complaints.iter().any(|one| one.key == "elbow"), "it stops at once");
}

#[test]
fn a_clock_beyond_every_calendar_damages_nothing() {
    let gym = Gym::new();
    let far = [
        i64::MAX,
        i64::MIN,
        253_402_300_799_000,
        1_000_000_000_000_000_000,
        -1_000_000_000_000_000,
    ];
    for (n, clock) in (1..).zip(far) {
        assert!(asked(&gym, (NOW, NOW), &set(2 * n, clock, 5)).is_some(), "{clock}");
        assert!(asked(&gym, (clock, NOW), &set(2 * n + 1, NOW, 5)).is_some(), "{clock}");
    }
    assert_eq!(lines(&gym).len(), 10);
    assert_eq!(gym.today(), []);
    // And what an older program has kept so.
    let mut into = gym.desk.store().begin_import("a phone on the gym floor", at(NOW)).unwrap();
    into.add_floor_message(&FloorMessage {
        id: [99; 16],
        lifter: name("Wilma Tarn"),
        link: gym.link.id,
        day: date(2031, 5, 6),
        kind: "note".to_owned(),
        body: "{\"text\":\"x\"}".to_owned(),
        logged: jiff::Timestamp::MAX,
        sent: jiff::Timestamp::MIN,
        outcome: Outcome::Kept,
    })
    .unwrap();
    into.commit().unwrap();
    assert_eq!(lines(&gym).len(), 11);
    assert_eq!(gym.desk.store().doctor().worst(), service::Severity::Fine);
    let folder = tempfile::tempdir().unwrap();
    let how = service::export::Existing::Replace;
    service::export::export(gym.desk.store(), folder.path(), how, &mut |_, _| {}).unwrap();
}

#[test]
fn what_was_logged_after_it_was_sent_is_asked_about() {
    let gym = Gym::new();
    for (n, later) in [(1, DAY + MINUTE), (2, 2 * DAY), (3, 365 * DAY)] {
        assert!(asked(&gym, (NOW, NOW), &set(n, NOW + later, 5)).is_some(), "{later}");
    }
    assert_eq!(gym.today(), []);
    // A clock that was put back by less is no matter.
    assert_eq!(asked(&gym, (NOW, NOW), &set(4, NOW + DAY - MINUTE, 5)), None);
    assert_eq!(gym.today(), [("2031-05-06T18:00".to_owned(), 1, 100.0, 5)]);
}

#[test]
fn a_load_that_the_lift_cannot_take_is_refused_also_in_a_correction() {
    let gym = Gym::new();
    let with = |n, load: f64| {
        let mut set = set(n, NOW, 5);
        set["load"] = json!(load);
        set
    };
    gym.tell(NOW, &[set(1, NOW, 5)]);
    let correct = |n, load: f64| {
        message(
            n,
            "correct",
            NOW,
            &json!({ "of": id(1), "load": load, "unit": "kg", "reps": 5, "rir": null }),
        )
    };
    for bad in [with(2, 0.0), with(3, -20.0), correct(4, 0.0), correct(5, -20.0)] {
        let refused = gym.send(NOW, NOW, &[bad]).confirmed[0].refused.clone().unwrap();
        assert!(refused.contains("its load must be above 0"), "{refused}");
    }
    let far = gym.send(NOW, NOW, &[with(6, 2_001.0), correct(7, 1e300)]);
    assert!(
        far.confirmed.iter().all(|one| one.refused.as_ref().unwrap().contains("out of range")),
        "{far:?}"
    );
    assert_eq!(gym.today(), [("2031-05-06T18:00".to_owned(), 1, 100.0, 5)]);
    // A lift that moves the body takes both.
    let chin_up = |n, load: f64| {
        let mut set = with(n, load);
        set["lift"] = json!("chin-up");
        set
    };
    gym.tell(NOW, &[chin_up(8, 0.0), chin_up(9, -20.0)]);
}

#[test]
fn a_correction_is_undone_by_itself_and_the_set_stays() {
    let gym = Gym::new();
    let correct = |n, load: f64| {
        message(
            n,
            "correct",
            NOW,
            &json!({ "of": id(1), "load": load, "unit": "kg", "reps": 4, "rir": null }),
        )
    };
    let undo = |n, of| message(n, "undo", NOW, &json!({ "of": id(of) }));
    gym.tell(NOW, &[set(1, NOW, 5), correct(2, 90.0), correct(3, 80.0)]);
    let loads = || gym.today().iter().map(|set| set.2).collect::<Vec<_>>();
    assert_eq!(loads(), [80.0]);
    gym.tell(NOW, &[undo(4, 3)]);
    assert_eq!(loads(), [90.0], "the correction before counts again");
    gym.tell(NOW, &[undo(5, 3), undo(6, 2)]);
    assert_eq!(loads(), [100.0], "and at last the set as it was");
    // An older one undone changes nothing under a newer; nor does one where the desk has spoken since.
    gym.tell(NOW, &[correct(7, 70.0), correct(8, 60.0), undo(9, 7)]);
    assert_eq!(loads(), [60.0]);
    let store = gym.desk.store();
    let of_today = |set: &domain::LoggedSet| set.when.date() == date(2031, 5, 6);
    let now = store.sets_of(&name("Wilma Tarn")).unwrap().into_iter().find(of_today).unwrap();
    let by_coach = domain::LoggedSet { load: domain::Load::from_kg(65.0).unwrap(), ..now.clone() };
    store.correct_set(now.id(), &by_coach, "weighed", at(NOW)).unwrap();
    gym.tell(NOW, &[undo(10, 8)]);
    assert_eq!(loads(), [65.0]);
    // A correction says nothing of the kind: speed work stays speed work.
    let mut fast = set(20, NOW + MINUTE, 3);
    fast["set_kind"] = json!("speed");
    let fix = json!({ "of": id(20), "load": 55, "unit": "kg", "reps": 3, "rir": null });
    gym.tell(NOW + MINUTE, &[fast, message(21, "correct", NOW + MINUTE, &fix)]);
    let fast = store.sets_of(&name("Wilma Tarn")).unwrap().into_iter().rfind(of_today);
    assert_eq!(fast.map(|set| (set.kind, set.load.kg())), Some((domain::SetKind::Speed, 55.0)));
}
