//! What the desk can't take stays on the phone with its reason and is put right there; and it asks for the day where two
//! clocks can't tell it.

use crate::browser::gym::Gym;
use crate::browser::phone::Phone;
use crate::session::{log_words, make_link, sets_at_desk};

/// Types into a field, as with keys.
async fn fill(phone: &Phone, field: &str, text: &str) {
    phone.until(&format!("document.querySelector('{field}')")).await;
    phone.run(&format!("document.querySelector('{field}').focus()")).await;
    phone.run(&format!("document.querySelector('{field}').select()")).await;
    phone.types(text).await;
    phone.press("Tab").await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refused_set_is_put_right_on_the_phone_and_nothing_waits_for_it() {
    let gym = Gym::open();
    let mut phone = Phone::new().await;
    let link = make_link(&gym, &phone).await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    fill(&phone, "#in-set-load", "0").await;
    phone.tap("Log 0 kg").await;
    phone.sees("The desk could not take this").await;
    phone.sees("so its load must be above 0").await;
    phone.picture("refused").await;
    assert_eq!(sets_at_desk(&gym), []);
    // The next set goes through. Sets are told apart by the second, and nobody does two within one.
    tokio::time::sleep(std::time::Duration::from_millis(1100)).await;
    fill(&phone, "#in-set-load", "100").await;
    phone.tap("Log 100 kg").await;
    phone.sees("Lead set: 0 kg").await;
    phone.until("document.querySelectorAll('.done li').length === 2").await;
    phone.sees("Everything logged has reached the desk").await;
    assert_eq!(sets_at_desk(&gym).len(), 1);
    // It is still there after the tab was closed, and is put right.
    phone.new_tab().await;
    phone.open(&link).await;
    phone.sees("so its load must be above 0").await;
    fill(&phone, ".refused-one input", "95").await;
    phone.tap("Log 95 kg").await;
    phone.until("!document.querySelector('.refused-one')").await;
    phone.sees("Everything logged has reached the desk").await;
    phone.until("document.querySelectorAll('.done li').length === 2").await;
    let loads: Vec<(f64, u8)> = sets_at_desk(&gym).iter().map(|set| (set.1, set.3)).collect();
    assert_eq!(loads, [(95.0, 1), (100.0, 2)], "in the order in which they were done");
    phone.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_clock_that_was_years_off_is_asked_about_once_for_all_sets() {
    let mut gym = Gym::open();
    let phone = Phone::new().await;
    let desk = Phone::of_size(1280, 800).await;
    let link = make_link(&gym, &desk).await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    gym.stop();
    // The clock stands in 1970 while two sets are logged, and is put right before there is a signal again.
    phone.run("(() => { window.right = Date.now; let ms = 600000; Date.now = () => (ms += 60000); })()").await;
    for n in 1..=2 {
        let words = log_words(&phone).await;
        phone.tap(&words).await;
        phone.until(&format!("document.querySelectorAll('.done li').length === {n}")).await;
    }
    phone.run("(() => { Date.now = window.right; })()").await;
    gym.serve();
    phone.run("window.dispatchEvent(new Event('online'))").await;
    phone.sees("On which day was this done?").await;
    phone.until("document.querySelectorAll('.refused-box li').length === 2").await;
    phone.sees("it isn't clear when this was done").await;
    phone.picture("asked").await;
    assert_eq!(sets_at_desk(&gym), []);
    desk.open(&gym.lifter_path()).await;
    desk.sees("It waits for the answer on the phone").await;
    phone.tap("It was on that day").await;
    phone.until("!document.querySelector('.refused-box')").await;
    phone.sees("Everything logged has reached the desk").await;
    let numbers: Vec<u8> = sets_at_desk(&gym).iter().map(|set| set.3).collect();
    assert_eq!(numbers, [1, 2]);
    // A phone whose clock is still off says so.
    phone.run("(() => { Date.now = () => window.right.call(Date) - 3 * 86400000; })()").await;
    phone.run("window.dispatchEvent(new Event('online'))").await;
    phone.sees("put right the one that is wrong").await;
    phone.close().await;
    desk.close().await;
}
