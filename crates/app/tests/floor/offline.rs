//! Without a signal: the server stopped, the tab closed, two phones, a wrong clock, a revoked link. Nothing is
//! lost and nothing comes twice.

use crate::browser::gym::Gym;
use crate::browser::phone::Phone;
use crate::session::{log_words, make_link, sets_at_desk};

/// Logs one set as it is drafted.
async fn log(phone: &Phone) {
    let n: u32 = phone.ask("document.querySelectorAll('.done li').length").await;
    let words = log_words(phone).await;
    phone.tap(&words).await;
    phone.until(&format!("document.querySelectorAll('.done li').length > {n}")).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn twenty_sets_from_a_cold_start_without_a_server() {
    let mut gym = Gym::open();
    let mut phone = Phone::new().await;
    let link = make_link(&gym, &phone).await;
    phone.open(&link).await;
    phone.until("document.body.dataset.kept === 'yes'").await;
    gym.stop();
    // The tab is closed and the page opened cold, with nobody there.
    phone.new_tab().await;
    phone.open(&link).await;
    phone.sees("Wilma Tarn").await;
    log(&phone).await;
    phone.sees("1 set on this phone only, last tried").await;
    phone.sees("go on").await;
    for _ in 0..9 {
        phone.tap("Add a set").await;
        log(&phone).await;
    }
    phone.sees("10 sets and 9 other entries on this phone only").await;
    // Once more closed and opened again: what was said to be there is there.
    phone.new_tab().await;
    phone.open(&link).await;
    phone.sees("10 sets and 9 other entries on this phone only").await;
    phone.until("document.querySelectorAll('.done li').length === 10").await;
    for _ in 0..10 {
        phone.tap("Add a set").await;
        log(&phone).await;
    }
    phone.sees("20 sets and 19 other entries on this phone only").await;
    phone.picture("offline").await;
    gym.serve();
    phone.sees("Everything logged has reached the desk").await;
    let sets = sets_at_desk(&gym);
    assert_eq!(sets.len(), 20);
    let numbers: Vec<u8> = sets.iter().map(|set| set.3).collect();
    assert_eq!(numbers, (1..=20).collect::<Vec<u8>>());
    // The desk goes down again: what it has is still shown, though it is kept there now.
    gym.stop();
    phone.new_tab().await;
    phone.open(&link).await;
    phone.until("document.querySelectorAll('.done li').length === 20").await;
    phone.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_phones_and_a_desk_that_goes_down_in_between() {
    let mut gym = Gym::open();
    let (one, other) = (Phone::new().await, Phone::new().await);
    let link = make_link(&gym, &one).await;
    one.open(&link).await;
    other.open(&link).await;
    one.sees("the desk is reached").await;
    other.sees("the desk is reached").await;
    // Both are without a signal and log the same lift; one has a clock that is two hours fast.
    gym.stop();
    other
        .run("(() => { const now = Date.now; Date.now = () => now.call(Date) + 7200000; })()")
        .await;
    log(&one).await;
    tokio::time::sleep(std::time::Duration::from_millis(1100)).await;
    log(&other).await;
    tokio::time::sleep(std::time::Duration::from_millis(1100)).await;
    log(&one).await;
    gym.serve();
    one.sees("Everything logged has reached the desk").await;
    other.sees("Everything logged has reached the desk").await;
    let sets = sets_at_desk(&gym);
    assert_eq!(sets.len(), 3);
    let mut numbers: Vec<u8> = sets.iter().map(|set| set.3).collect();
    assert_eq!(numbers, [1, 2, 3], "in the order in which they were done");
    numbers.dedup();
    assert_eq!(numbers.len(), 3);
    // An answer that was lost: the same batch again changes nothing.
    let again = "(async () => {
        const day = JSON.parse(document.body.dataset.day);
        const messages = (await (await fetch(`${location.pathname}/day.json`)).json()).messages.map((m) => m.body);
        const send = () => fetch(`${location.pathname}/messages?date=${day.date}`, {
            method: 'POST', body: JSON.stringify({ sent: Date.now(), messages }) }).then((a) => a.json());
        const [a, b] = [await send(), await send()];
        return a.confirmed.length === messages.length
            && JSON.stringify(a.confirmed) === JSON.stringify(b.confirmed)
            && a.confirmed.every((one) => one.refused === null);
    })()";
    assert!(one.ask::<bool>(again).await);
    assert_eq!(sets_at_desk(&gym), sets);
    one.close().await;
    other.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_revoked_link_opens_nothing_and_loses_nothing() {
    let gym = Gym::open();
    let desk = Phone::of_size(1280, 800).await;
    let phone = Phone::new().await;
    let link = make_link(&gym, &desk).await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    desk.open(&gym.lifter_path()).await;
    desk.tap("Revoke").await;
    desk.sees("revoked on").await;
    log(&phone).await;
    phone
        .sees("This link was revoked; ask your coach for a new one. 1 set on this phone only.")
        .await;
    assert_eq!(sets_at_desk(&gym), []);
    phone.open(&link).await;
    phone.sees("This link was revoked").await;
    // A new link in the same browser sends what the old one couldn't.
    let new = make_link(&gym, &desk).await;
    phone.open(&new).await;
    phone.sees("Everything logged has reached the desk").await;
    assert_eq!(sets_at_desk(&gym).len(), 1);
    phone.close().await;
    desk.close().await;
}
