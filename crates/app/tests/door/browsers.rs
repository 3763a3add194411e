//! The coach's browsers: let in by the key or a link that works once, listed, ended, and shut out by a new key.

use std::time::Instant;

use bellwether::web::door::{Browsers, IDLE, Key, LONGEST, in_groups};
use jiff::SignedDuration;

use crate::desk::{FROM_HERE, HERE, KEY, LAN, NETWORK, OWN, TheDesk};

/// Whether a cookie opens the squad.
async fn opens(desk: &TheDesk, cookie: &str) -> bool {
    desk.get(NETWORK, "/", &[LAN, ("cookie", cookie)]).await == 200
}

#[tokio::test]
async fn the_key_lets_a_browser_in_and_nothing_like_it_does() {
    let desk = TheDesk::by_key(None);
    let spaced = format!("key={}", in_groups(KEY).to_uppercase().replace(' ', "+"));
    assert_eq!(desk.send("/coach", "", &spaced).await.status, 303);
    let cookie = desk.let_in(KEY).await;
    assert!(opens(&desk, &cookie).await);
    assert!(opens(&desk, &format!("theme=dark;{cookie}; other=1")).await);
    let (name, token) = cookie.split_once('=').unwrap();
    assert!(!token.contains(KEY) && !KEY.contains(token));
    for wrong in [
        format!("{name}={KEY}"),
        format!("{name}="),
        format!("{name}={}", &token[..39]),
        format!("{name}={token}0"),
        format!("{name}={}", token.to_uppercase()),
        format!("other={token}"),
        format!("x{name}={token}"),
    ] {
        assert!(!opens(&desk, &wrong).await, "{wrong}");
    }
    for wrong in ["", &KEY[..1], &KEY[..39], &format!("{KEY}0"), &KEY.replace('0', "1"), token] {
        // Of another network each time, so that nothing here waits.
        let peer = format!("10.0.0.{}:50000", wrong.len());
        let headers = [LAN, FROM_HERE];
        let answer = desk.ask(&peer, ("POST", "/coach"), &headers, &format!("key={wrong}")).await;
        assert_eq!(answer.status, 403, "{wrong}");
        assert!(
            answer.text.contains("That isn&#39;t the") || answer.text.contains("That isn't the")
        );
        assert!(answer.headers.get("set-cookie").is_none());
    }
}

#[tokio::test]
async fn the_cookie_is_one_that_scripts_and_other_sites_cannot_use() {
    let desk = TheDesk::by_key(Some("https://gym.example"));
    let form = format!("key={KEY}");
    let plain = desk.send("/coach", "", &form).await;
    let set = plain.header("set-cookie");
    assert!(set.starts_with("bellwether_coach_8734="), "{set}");
    for part in ["HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=31536000"] {
        assert!(set.contains(part), "{set}");
    }
    assert!(!set.contains("Secure"), "a browser without HTTPS wouldn't send it back: {set}");
    for headers in [
        vec![("host", "gym.example"), FROM_HERE],
        vec![("host", "gym.example:443"), FROM_HERE],
        vec![OWN, FROM_HERE, ("x-forwarded-proto", "https")],
        vec![OWN, FROM_HERE, ("origin", "https://gym.example")],
    ] {
        let answer = desk.ask(HERE, ("POST", "/coach"), &headers, &form).await;
        let set = answer.header("set-cookie");
        assert!(set.starts_with("__Host-bellwether_coach"), "{headers:?}: {set}");
        // What browsers ask of such a name (RFC 6265bis, 4.1.3.2).
        assert!(
            set.contains("; Secure") && set.contains("Path=/;") && !set.contains("Domain"),
            "{set}"
        );
    }
    // Under HTTPS a cookie that another site of the same domain could have set opens nothing.
    let answer =
        desk.ask(HERE, ("POST", "/coach"), &[("host", "gym.example"), FROM_HERE], &form).await;
    let cookie = answer.cookie();
    let host = ("host", "gym.example");
    assert_eq!(desk.get(HERE, "/", &[host, ("cookie", &cookie)]).await, 200);
    let bare = cookie.replace("__Host-", "");
    assert_eq!(desk.get(HERE, "/", &[host, ("cookie", &bare)]).await, 403);
}

#[tokio::test]
async fn a_link_lets_one_browser_in_once() {
    let desk = TheDesk::by_key(None);
    let link = desk.door.one_time_link(SignedDuration::from_hours(24)).unwrap();
    for method in ["GET", "HEAD", "GET"] {
        let answer = desk.ask(NETWORK, (method, &link), &[LAN], "").await;
        assert_eq!(answer.status, 200, "looking at it uses it up");
        assert!(answer.headers.get("set-cookie").is_none());
    }
    let first = desk.send(&link, "", "").await;
    assert_eq!((first.status.as_u16(), first.header("location")), (303, "/"));
    assert!(opens(&desk, &first.cookie()).await);
    let second = desk.send(&link, "", "").await;
    assert_eq!(second.status, 403);
    assert!(second.headers.get("set-cookie").is_none() && second.text.contains("opens nothing"));
    assert_eq!(desk.get(NETWORK, &link, &[LAN]).await, 403);
    // The key is no link.
    assert_eq!(desk.get("10.0.0.1:1", &format!("/coach/{KEY}"), &[LAN]).await, 403);
    let late = desk.door.one_time_link(SignedDuration::from_hours(24)).unwrap();
    desk.wait(SignedDuration::from_hours(24));
    assert_eq!(desk.send(&late, "", "").await.status, 403);
}

#[tokio::test]
async fn browsers_are_listed_and_ended_one_by_one_or_all_others() {
    let desk = TheDesk::by_key(None);
    let here = desk.let_in(KEY).await;
    desk.wait(SignedDuration::from_hours(2));
    let (other, third) = (desk.let_in(KEY).await, desk.let_in(KEY).await);
    let page = desk.browsers(&here).await;
    assert_eq!(page.status, 200);
    assert_eq!(page.text.matches("Firefox on Linux</strong>").count(), 3, "{}", page.text);
    assert_eq!(page.text.matches(", this one").count(), 1);
    assert!(
        page.text.contains("Let in 17 Mar 2030, 17:46 UTC.<br>Last used 17 Mar 2030, 19:46 UTC.")
    );
    for cookie in [&here, &other, &third] {
        assert!(!page.text.contains(cookie.split_once('=').unwrap().1), "a token is shown");
    }
    let list = page.text.split("class=\"browsers\"").nth(1).unwrap();
    let others = list.split("<li>").skip(1).filter(|line| !line.contains(", this one"));
    let end = others.last().unwrap().split("action=\"").nth(1).unwrap().split('"').next().unwrap();
    let done = desk.send(end, &here, "").await;
    assert_eq!((done.status.as_u16(), done.header("location")), (303, "/browsers?done=1"));
    let left = [opens(&desk, &here).await, opens(&desk, &other).await, opens(&desk, &third).await];
    assert_eq!(left.iter().filter(|open| **open).count(), 2, "{left:?}");
    assert!(left[0]);
    assert_eq!(desk.send(end, &here, "").await.header("location"), "/browsers?done=0");
    let done = desk.send("/browsers/end-others", &here, "").await;
    assert_eq!(done.header("location"), "/browsers?done=1");
    assert!(
        opens(&desk, &here).await && !opens(&desk, &other).await && !opens(&desk, &third).await
    );
}

#[tokio::test]
async fn a_browser_ends_by_itself() {
    let desk = TheDesk::by_key(None);
    let idle = desk.let_in(KEY).await;
    let used = desk.let_in(KEY).await;
    desk.wait(IDLE - SignedDuration::from_secs(1));
    assert!(opens(&desk, &used).await);
    desk.wait(SignedDuration::from_secs(1));
    assert!(!opens(&desk, &idle).await);
    let mut age = IDLE;
    while age + IDLE < LONGEST {
        age += IDLE / 2;
        desk.wait(IDLE / 2);
        assert!(opens(&desk, &used).await, "{age:?}");
    }
    desk.wait(LONGEST - age);
    assert!(!opens(&desk, &used).await);
}

#[tokio::test]
async fn a_new_key_ends_all_other_browsers_and_every_link() {
    let desk = TheDesk::by_key(None);
    let (here, other) = (desk.let_in(KEY).await, desk.let_in(KEY).await);
    let link = desk.door.one_time_link(SignedDuration::from_hours(1)).unwrap();
    let page = desk.send("/browsers/key", &here, "").await;
    assert_eq!(page.status, 200, "{}", page.text);
    assert!(page.text.contains("The key is changed. One browser is ended."), "{}", page.text);
    let here_now = page.cookie();
    assert!(opens(&desk, &here_now).await);
    assert!(!opens(&desk, &here).await && !opens(&desk, &other).await);
    assert_eq!(desk.send(&link, "", "").await.status, 403);
    assert_eq!(desk.send("/coach", "", &format!("key={KEY}")).await.status, 403);
    let shown = page.text.split("<code>").nth(1).unwrap().split('<').next().unwrap();
    assert!(opens(&desk, &desk.let_in(&shown.replace(' ', "")).await).await);
    assert!(desk.browsers(&here_now).await.text.contains(", this one"));
}

#[tokio::test]
async fn at_this_machine_the_page_of_browsers_works_without_one() {
    let desk = TheDesk::open_here(Some(true));
    let page = desk.ask(HERE, ("GET", "/browsers"), &[OWN], "").await;
    assert!(page.text.contains("open to you without a key"), "{}", page.text);
    let link = desk.ask(HERE, ("POST", "/browsers/link"), &[OWN, FROM_HERE], "").await;
    assert!(link.text.contains("http://127.0.0.1:8734/coach/"), "{}", link.text);
    assert!(link.text.contains("from this computer only"));
    let changed = desk.ask(HERE, ("POST", "/browsers/key"), &[OWN, FROM_HERE], "").await;
    assert!(changed.text.contains("The key is changed. No browser had to be ended."));
    assert!(changed.headers.get("set-cookie").is_none());
}

#[tokio::test]
async fn browsers_outlast_the_desk_and_a_key_that_is_changed_or_removed_shuts_them_out_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let record = folder.path().join("record");
    let begin = || {
        let key = Key::beside(&record, || Ok(KEY.to_owned())).unwrap();
        TheDesk::with(key, Browsers::beside(&record), None)
    };
    let cookie = begin().let_in(KEY).await;
    let desk = begin();
    assert!(opens(&desk, &cookie).await);
    let key_file = folder.path().join("record.coach-key");
    let other = KEY.replace('0', "f");
    std::fs::write(&key_file, &other).unwrap();
    assert!(!opens(&desk, &cookie).await);
    let cookie = desk.let_in(&other).await;
    assert!(opens(&desk, &cookie).await);
    std::fs::remove_file(&key_file).unwrap();
    assert!(!opens(&desk, &cookie).await);
    let headers = [LAN, FROM_HERE];
    let typed = desk.ask(NETWORK, ("POST", "/coach"), &headers, &format!("key={other}")).await;
    assert_eq!(typed.status, 403);
}

#[tokio::test]
async fn another_visit_by_the_key_leaves_one_browser() {
    let desk = TheDesk::by_key(None);
    let first = desk.let_in(KEY).await;
    let again = desk.send("/coach", &first, &format!("key={KEY}")).await.cookie();
    assert!(!opens(&desk, &first).await && opens(&desk, &again).await);
}

#[tokio::test]
async fn wrong_links_and_keys_wait_longer_and_longer_and_right_ones_open_all_the_same() {
    for (method, path) in [("GET", "/floor/wrong"), ("GET", "/coach/wrong"), ("POST", "/coach")] {
        let desk = TheDesk::by_key(None);
        let link = desk.door.one_time_link(SignedDuration::from_hours(1)).unwrap();
        let begun = Instant::now();
        for _ in 0..5 {
            let answer = desk.ask(NETWORK, (method, path), &[LAN, FROM_HERE], "key=wrong").await;
            assert!([403, 404].contains(&answer.status.as_u16()));
        }
        // The fourth waited a quarter of a second, the fifth half a second.
        assert!(begun.elapsed().as_millis() >= 750, "{path} was answered at once");
        assert_eq!(desk.get(NETWORK, "/floor/token", &[LAN]).await, 200);
        assert_eq!(desk.send(&link, "", "").await.status, 303);
        desk.let_in(KEY).await;
    }
}

#[tokio::test]
async fn when_too_many_wrong_ones_wait_more_are_turned_away_and_right_ones_open_all_the_same() {
    let desk = std::sync::Arc::new(TheDesk::by_key(None));
    let mut waiting = tokio::task::JoinSet::new();
    for _ in 0..200 {
        let desk = std::sync::Arc::clone(&desk);
        waiting.spawn(async move {
            let answer = desk.ask(NETWORK, ("GET", "/floor/wrong"), &[LAN], "").await;
            (answer.status.as_u16(), answer.header("retry-after").to_owned())
        });
    }
    let mut statuses = Vec::new();
    while let Some(answer) = waiting.join_next().await {
        statuses.push(answer.unwrap());
        assert_eq!(desk.get(NETWORK, "/floor/token", &[LAN]).await, 200);
        assert_eq!(desk.get(NETWORK, "/floor/revoked", &[LAN]).await, 410);
    }
    let turned_away = statuses.iter().filter(|one| **one == (429, "5".to_owned())).count();
    let waited = statuses.iter().filter(|one| **one == (404, String::new())).count();
    assert_eq!(turned_away + waited, 200, "{statuses:?}");
    assert!(turned_away >= 50 && waited >= 64, "{turned_away} of 200");
    desk.let_in(KEY).await;
}
