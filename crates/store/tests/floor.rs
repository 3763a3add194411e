//! The gym floor's facts on disk: links by their hash, messages once, and all of it there and back.

#[expect(dead_code, reason = "each test file uses a part of it")]
mod support;

use domain::CheckInId;
use store::{FloorMessage, Opens, Outcome, PhoneLink, Store, StoreError};
use support::{assert_there_and_back, at, lifter, name, set};

fn link(token: u8) -> PhoneLink {
    let opens = if token == 2 { Opens::Calendar } else { Opens::Session };
    PhoneLink { id: [token; 16], lifter: name("Anna Birk"), token_hash: [token; 32], opens }
}

fn message(id: u8, outcome: Outcome) -> FloorMessage {
    FloorMessage {
        id: [id; 16],
        lifter: name("Anna Birk"),
        link: [1; 16],
        day: jiff::civil::date(2031, 5, 4),
        kind: "note".to_owned(),
        body: "{\"kind\":\"note\",\"text\":\"“knees” & all\"}".to_owned(),
        logged: at(10),
        sent: at(20),
        outcome,
    }
}

fn opened(folder: &tempfile::TempDir) -> Store {
    let store = Store::open(&folder.path().join("record.db")).unwrap();
    store.put_lifter(&lifter("Anna Birk"), at(0)).unwrap();
    store
}

/// A link, revoked or not, messages of every outcome, and a set.
fn filled(folder: &tempfile::TempDir) -> Store {
    let store = opened(folder);
    let mut import = store.begin_import("a phone", at(30)).unwrap();
    import.add_phone_link(&link(1)).unwrap();
    import.add_phone_link(&link(2)).unwrap();
    let done = set("Anna Birk", "2031-05-04T18:20", "squat", 1, 100.0, 5);
    import.add_set(&done, store::OnDifference::Keep).unwrap();
    import.add_floor_message(&message(1, Outcome::Kept)).unwrap();
    import.add_floor_message(&message(2, Outcome::Set(done.id()))).unwrap();
    let check_in = CheckInId::from_bytes([9; 16]);
    import.add_floor_message(&message(3, Outcome::CheckIn(check_in))).unwrap();
    import.add_floor_message(&message(4, Outcome::Refused("no such lift".to_owned()))).unwrap();
    import.commit().unwrap();
    let mut import = store.begin_import("a phone's link", at(40)).unwrap();
    import.revoke_phone_link(&[2; 16], "lost").unwrap();
    import.commit().unwrap();
    store
}

#[test]
fn a_link_is_found_by_its_hash_until_it_is_revoked_and_after() {
    let folder = tempfile::tempdir().unwrap();
    let store = filled(&folder);
    let found = store.phone_link(&[1; 32]).unwrap().unwrap();
    assert_eq!((found.link, found.made, found.revoked), (link(1), at(30), None));
    let revoked = store.phone_link(&[2; 32]).unwrap().unwrap();
    assert_eq!((revoked.made, revoked.revoked), (at(30), Some(at(40))));
    assert_eq!(store.phone_link(&[3; 32]).unwrap(), None);
    let all = store.phone_links_of(&name("anna birk")).unwrap();
    assert_eq!(all.iter().map(|one| one.link.id[0]).collect::<Vec<_>>(), [2, 1]);
    assert_eq!(store.phone_links_of(&name("Nobody")).unwrap(), []);
    let facts = store.n_facts().unwrap();
    let mut again = store.begin_import("a phone's link", at(50)).unwrap();
    again.revoke_phone_link(&[2; 16], "lost").unwrap();
    let missing = again.revoke_phone_link(&[7; 16], "lost").unwrap_err();
    assert!(matches!(missing, StoreError::NoSuchFact { what: "link", .. }), "{missing}");
    again.commit().unwrap();
    assert_eq!(store.n_facts().unwrap(), facts, "revoked once");
}

#[test]
fn messages_come_back_as_they_came() {
    let folder = tempfile::tempdir().unwrap();
    let store = filled(&folder);
    let anna = name("Anna Birk");
    let on = store.floor_messages_on(&anna, jiff::civil::date(2031, 5, 4)).unwrap();
    assert_eq!(on.len(), 4);
    assert_eq!(on[0].message, message(1, Outcome::Kept));
    assert_eq!(on[3].message, message(4, Outcome::Refused("no such lift".to_owned())));
    assert!(on.iter().all(|one| one.recorded == at(30)));
    assert_eq!(store.floor_messages_on(&anna, jiff::civil::date(2031, 5, 5)).unwrap(), []);
    let latest = store.latest_floor_messages(&anna, 2).unwrap();
    assert_eq!(latest.iter().map(|one| one.message.id[0]).collect::<Vec<_>>(), [4, 3]);
    let mut import = store.begin_import("a phone", at(60)).unwrap();
    assert_eq!(import.floor_message(&[1; 16]).unwrap(), Some(message(1, Outcome::Kept)));
    assert_eq!(import.floor_message(&[8; 16]).unwrap(), None);
}

#[test]
fn there_and_back_gives_the_same_record() {
    let folder = tempfile::tempdir().unwrap();
    let store = filled(&folder);
    assert_there_and_back(&folder, store);
}

#[test]
fn the_floors_facts_are_never_changed_and_the_file_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    drop(filled(&folder));
    let path = folder.path().join("record.db");
    let found = store::examine(&path);
    assert_eq!(found.on("integrity").unwrap().words, "every page and index is whole");
    let connection = rusqlite::Connection::open(&path).unwrap();
    for statement in [
        "UPDATE floor_message SET body = ''",
        "DELETE FROM floor_message",
        "UPDATE phone_link SET lifter = 2",
        "DELETE FROM phone_link",
    ] {
        let refused = connection.execute(statement, []).unwrap_err().to_string();
        assert!(refused.contains("a fact is never"), "{statement}: {refused}");
    }
}
