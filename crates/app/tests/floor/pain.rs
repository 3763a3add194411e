//! Pain on the phone: what stands from before is asked about, an answer opens or closes a lift at once and without a
//! signal, and the stop is in sight on every screen. And a lead set that collapses.

use crate::browser::gym::Gym;
use crate::browser::phone::Phone;
use crate::session::{log_words, make_link};

/// Whether the first element of a selector is wholly in sight: inside the window, and not under the bar or the stops.
fn in_sight(selector: &str) -> String {
    format!(
        "(() => {{
          const box = document.querySelector('{selector}')?.getBoundingClientRect();
          if (!box || box.height === 0) return false;
          const [stops, bar] = ['#stops', '#bar'].map((one) => document.querySelector(one).getBoundingClientRect());
          const free = (y) => document.elementFromPoint(box.left + box.width / 2, y)?.closest('{selector}');
          const above = document.querySelector('#stops').contains(document.querySelector('{selector}')) ? 0 : stops.bottom;
          return box.top >= Math.max(0, above) - 0.5 && box.bottom <= (bar.height > 0 ? bar.top : innerHeight) + 0.5
            && Boolean(free(box.top + 1)) && Boolean(free(box.bottom - 1));
        }})()"
    )
}

/// The text of one lift's item as it is shown.
async fn lift_text(phone: &Phone, lift: &str) -> String {
    let text = format!(
        "document.querySelector('[data-lift=\"{lift}\"]').innerText.replaceAll('\\u00a0', ' ')"
    );
    phone.ask(&text).await
}

/// No load times repetitions, no chance and no call but *stop*.
fn assert_stopped(text: &str) {
    assert!(text.contains("stop"), "{text}");
    for word in [" × ", "Chance of making it", "likely", "go on", "Log "] {
        assert!(!text.contains(word), "{word}: {text}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_complaint_from_before_is_asked_about_and_an_answer_opens_the_lift_without_a_signal() {
    let mut gym = Gym::open_with_pain("elbow", 6, 9);
    let desk = Phone::of_size(1280, 800).await;
    desk.open(&gym.lifter_path()).await;
    desk.sees("How is the elbow today?").await;
    desk.picture("desk-complaint").await;
    let link = make_link(&gym, &desk).await;
    let phone = Phone::of_size(320, 568).await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    phone.sees("How is the elbow today?").await;
    phone.until(&in_sight("#stops")).await;
    assert!(phone.ask::<bool>("document.documentElement.scrollWidth <= 320").await);
    phone.picture("complaint").await;
    assert_stopped(&lift_text(&phone, "bench press").await);
    phone.tap("bench press").await;
    phone.sees("leave this lift today, and see a licensed professional").await;
    let text = lift_text(&phone, "bench press").await;
    let (stop, instead) = text.split_once("Instead,").expect("something spares the elbow");
    assert_stopped(stop);
    for lift in ["incline", "dip", "close-grip"] {
        assert!(!instead.contains(lift), "{instead}");
    }
    // Without a signal, an answer at the limit opens the lift with its target.
    gym.stop();
    phone.tap("Pain in the elbow, 5 of 10").await;
    phone.sees("The elbow today: 5 of 10.").await;
    phone.until("document.querySelector('#stops').children.length === 0").await;
    let words = log_words(&phone).await;
    assert!(words.starts_with("Log "), "{words}");
    assert!(lift_text(&phone, "bench press").await.contains("Chance of making it"));
    phone.picture("answered").await;
    // One above it closes it again, and so does taking the answer back.
    phone.tap("Take back").await;
    phone.sees("How is the elbow today?").await;
    assert_stopped(lift_text(&phone, "bench press").await.split("Instead,").next().unwrap());
    phone.tap("Pain in the elbow, 6 of 10").await;
    phone.sees("The elbow today: 6 of 10.").await;
    assert_stopped(lift_text(&phone, "bench press").await.split("Instead,").next().unwrap());
    phone.tap("I told that wrongly").await;
    phone.tap("Pain in the elbow, 2 of 10").await;
    gym.serve();
    phone.run("window.dispatchEvent(new Event('online'))").await;
    phone.sees("Everything logged has reached the desk").await;
    // The desk goes by the same answer, and the page opens with it again.
    desk.open(&gym.lifter_path()).await;
    assert!(!desk.text().await.contains("How is the elbow today?"));
    phone.open(&link).await;
    phone.sees("The elbow today: 2 of 10.").await;
    assert!(lift_text(&phone, "bench press").await.contains(" × "));
    phone.close().await;
    desk.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stop_is_in_sight_on_every_screen() {
    let gym = Gym::open();
    let desk = Phone::of_size(1280, 800).await;
    for (width, height) in [(320, 568), (390, 844), (1280, 720)] {
        let link = make_link(&gym, &desk).await;
        let phone = Phone::of_size(width, height).await;
        phone.open(&link).await;
        phone.until("document.querySelector('[data-key=log]')").await;
        // With a set done, the bar with Undo and the rest stands below.
        phone.tap("leg press").await;
        let words = log_words(&phone).await;
        phone.tap(&words).await;
        phone.sees("Lead set: ").await;
        phone.tap("bench press").await;
        phone.tap("elbow").await;
        phone.tap("Pain in the elbow, 5 of 10").await;
        phone.sees("Pain in the elbow today: 5 of 10.").await;
        phone.until("!document.querySelector('.call-box')").await;
        phone.tap("elbow").await;
        phone.tap("Pain in the elbow, 6 of 10").await;
        phone.sees("Pain of 6 in the elbow, above the limit of 5").await;
        phone.until(&in_sight(".call-box .call-word")).await;
        phone.until(&in_sight("#stops")).await;
        let box_fits = "document.querySelector('.call-box').offsetHeight < innerHeight \
            - document.querySelector('#bar').offsetHeight - document.querySelector('#stops').offsetHeight";
        if phone.ask::<bool>(box_fits).await {
            phone.until(&in_sight(".call-box")).await;
        }
        phone.picture(&format!("stop-{width}")).await;
        phone.theme("dark").await;
        phone.picture(&format!("stop-{width}-dark")).await;
        phone.theme("light").await;
        // And it stays in sight wherever one scrolls to.
        phone.run("scrollTo(0, document.body.scrollHeight)").await;
        phone.until(&in_sight("#stops")).await;
        phone.tap("I told that wrongly").await;
        phone.until("!document.querySelector('.call-box')").await;
        phone.tap("Take back").await;
        phone.tap("Undo leg press").await;
        phone.sees("Everything logged has reached the desk").await;
        phone.close().await;
    }
    desk.close().await;
}

/// One repetition where six were planned: the reason is looked for, and what remains is lighter, or nothing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_lead_set_that_collapses_is_not_waved_through() {
    let gym = Gym::open();
    let desk = Phone::of_size(1280, 800).await;
    let link = make_link(&gym, &desk).await;
    // Nothing is ever eased here, so that the call would be *go on*.
    desk.open(&format!(
        "{}/lift/leg%20press?cut_for_nothing=100&trained_through=0.5",
        gym.lifter_path()
    ))
    .await;
    desk.touch("Use these costs for Wilma Tarn").await;
    desk.sees("The new costs are in force").await;
    let phone = Phone::of_size(390, 844).await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    for lift in ["leg press", "chin-up"] {
        phone.tap(lift).await;
        let load: f64 = phone.ask("Number(document.querySelector('#in-set-load').value)").await;
        let reps: f64 = phone.ask("Number(document.querySelector('#in-set-reps').value)").await;
        for _ in 0..(reps as u32 - 1) {
            phone.tap("One rep less").await;
        }
        phone
            .until("document.querySelector('[data-key=log]').textContent.trim().endsWith('× 1')")
            .await;
        let words = log_words(&phone).await;
        phone.tap(&words).await;
        phone.sees("look for another reason before going on").await;
        let text = lift_text(&phone, lift).await;
        assert!(!text.contains("as planned"), "{text}");
        assert!(
            text.contains("Only if nothing is wrong: at most")
                || text.contains("leave out the remaining"),
            "{text}"
        );
        let open = "Boolean(document.querySelector('#in-set-load'))";
        if phone.ask::<bool>(open).await {
            let next: f64 = phone.ask("Number(document.querySelector('#in-set-load').value)").await;
            assert!(next < load, "{next} after {load}");
        }
        phone.picture(&format!("collapse-{}", lift.replace(' ', "-"))).await;
    }
    phone.close().await;
    desk.close().await;
}
