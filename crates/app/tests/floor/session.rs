//! A session from its link to the last set: logging, all calls, pain, undo, correction, notes, swap, and the
//! desk's side of it.

use domain::{LifterName, SetKind};

use crate::browser::gym::{Gym, NAME};
use crate::browser::phone::Phone;

/// Makes a link at the desk by its own form, and gives its address.
pub(crate) async fn make_link(gym: &Gym, desk: &Phone) -> String {
    desk.open(&gym.lifter_path()).await;
    desk.tap("Make a link").await;
    desk.sees("Shown only now").await;
    // The words come before the link that they are about, and a page may be read while it is still coming.
    desk.until("document.querySelector('.link-text a')").await;
    desk.ask("document.querySelector('.link-text a').href").await
}

/// The lifter's sets of today as the desk has them: lift, load in kg, repetitions, number.
pub(crate) fn sets_at_desk(gym: &Gym) -> Vec<(String, f64, u16, u8)> {
    let today = jiff::ZonedDateTime::now().date();
    let sets = gym.store().sets_of(&LifterName::new(NAME).unwrap()).unwrap();
    sets.into_iter()
        .filter(|set| set.when.date() == today)
        .map(|set| (set.lift.to_string(), set.load.kg(), set.reps.get(), set.number.get()))
        .collect()
}

/// The text of the log button that is shown.
pub(crate) async fn log_words(phone: &Phone) -> String {
    phone.until("document.querySelector('[data-key=log]')").await;
    let log = "document.querySelector('[data-key=log]').textContent.replaceAll('\\u00a0', ' ')";
    phone.ask(log).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_session_from_link_to_finish() {
    let gym = Gym::open();
    let desk = Phone::of_size(1280, 800).await;
    let link = make_link(&gym, &desk).await;
    assert!(desk.ask::<bool>("document.querySelector('.qr svg').clientWidth >= 200").await);
    desk.picture("link").await;
    let phone = Phone::new().await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    assert_eq!(phone.ask::<u32>("innerWidth").await, 360);
    assert!(phone.ask::<bool>("document.documentElement.scrollWidth <= 360").await);
    // All of it over the wire, and nothing from anywhere else.
    let sizes =
        "performance.getEntries().reduce((sum, entry) => sum + (entry.transferSize ?? 0), 0)";
    let weight: f64 = phone.ask(sizes).await;
    assert!(weight > 5_000.0 && weight < 100_000.0, "{weight} bytes");
    let elsewhere = "performance.getEntriesByType('resource').filter((r) => new URL(r.name).origin !== origin).length";
    assert_eq!(phone.ask::<u32>(elsewhere).await, 0);
    phone.picture("start").await;

    // As targeted: one tap, or two with the reserve.
    phone.tap("2").await;
    let words = log_words(&phone).await;
    phone.tap(&words).await;
    phone.sees("go on").await;
    phone.sees("where").await;
    phone.sees("Everything logged has reached the desk").await;
    assert_eq!(sets_at_desk(&gym).len(), 1);
    phone.picture("go-on").await;
    // Undo, always at hand; what was undone is gone here and withdrawn there.
    phone.tap("Undo back squat").await;
    phone.sees("Lead set, 3 to go").await;
    phone.sees("Everything logged has reached the desk").await;
    phone.until("!document.querySelector('.call-box')").await;
    assert_eq!(sets_at_desk(&gym), []);

    // A bad lead set with nothing left: ease, with speed work at a load that exists.
    let more: f64 = phone.ask("Number(document.querySelector('#in-set-reps').value)").await;
    for _ in 0..(more as u32 - 2) {
        phone.tap("One rep less").await;
    }
    phone.tap("0").await;
    let words = log_words(&phone).await;
    phone.tap(&words).await;
    phone.sees("not recovered").await;
    let whole = "(() => { const box = document.querySelector('.call-box').getBoundingClientRect();
        return box.top >= 0 && box.bottom <= innerHeight - document.querySelector('#bar').clientHeight; })()";
    phone.until(whole).await;
    phone.sees("speed work instead: 2 × 3 at").await;
    phone.sees("Speed set, 2 to go").await;
    phone.picture("ease").await;
    // The leg press shares its muscles: what is expected of it has changed.
    phone.tap("leg press").await;
    phone.sees("This has changed with what you did before").await;
    // The lifter decides otherwise, and that is recorded.
    phone.tap("back squat").await;
    phone.tap("I go on all the same").await;
    phone.sees("Your own decision, recorded: go on as planned").await;
    phone.sees("Next set, 2 to go").await;
    phone.tap("Take back").await;
    phone.sees("Speed set, 2 to go").await;
    let words = log_words(&phone).await;
    phone.tap(&words).await;
    phone.sees("fast").await;

    // A correction supersedes.
    phone.tap("Correct 1").await;
    phone.tap("One rep more").await;
    phone.tap("Correct to").await;
    // What has reached the desk is said of the set before until the page has drawn the tap.
    phone.until("!document.querySelector('[data-key=fix]')").await;
    phone.sees("Everything logged has reached the desk").await;
    let at_desk = sets_at_desk(&gym);
    assert_eq!(at_desk.iter().map(|set| set.2).collect::<Vec<_>>(), [3, 3], "{at_desk:?}");
    assert_eq!(at_desk.iter().map(|set| set.3).collect::<Vec<_>>(), [1, 2], "{at_desk:?}");

    // A lift with too short a record isn't read.
    phone.tap("chin-up").await;
    let words = log_words(&phone).await;
    phone.tap(&words).await;
    phone.sees("no reading").await;
    phone.picture("no-reading").await;
    the_rest(&gym, &phone, &desk).await;
    phone.close().await;
    desk.close().await;
}

/// Pain, swap, note, leaving out, finishing, and what the desk says of it.
async fn the_rest(gym: &Gym, phone: &Phone, desk: &Phone) {
    // Pain in two taps: joint, rating. Above the limit the lift stops.
    phone.tap("bench press").await;
    phone.tap("shoulder").await;
    phone.tap("Pain in the shoulder, 7 of 10").await;
    phone.sees("Pain of 7 in the shoulder, above the limit of 5").await;
    phone.sees("licensed professional").await;
    phone.until("!document.querySelector('[data-key=log]')").await;
    phone.picture("stop").await;
    phone.theme("dark").await;
    phone.picture("stop-dark").await;
    phone.theme("light").await;
    // A taken piece of equipment, a note, a lift left out.
    phone.tap("leg press").await;
    phone.tap("Swap").await;
    phone.picture("swap").await;
    let other: String = phone.ask("document.querySelector('.swaps button').textContent").await;
    phone.tap(&other).await;
    phone.sees("In the place of leg press").await;
    let words = log_words(phone).await;
    phone.tap(&words).await;
    phone.sees("it starts the record of").await;
    phone.tap("Leave out").await;
    phone.sees("Left out today").await;
    phone.run("document.querySelector('#in-session-note').focus()").await;
    phone.press("g").await;
    phone.press("o").await;
    phone.tap("Keep the note").await;
    phone.tap("Finish the session").await;
    phone.sees("Finished: 4 sets").await;
    phone.sees("Everything logged has reached the desk").await;
    assert_eq!(sets_at_desk(gym).len(), 4);
    let sets = gym.store().sets_of(&LifterName::new(NAME).unwrap()).unwrap();
    assert_eq!(sets.iter().filter(|set| set.kind == SetKind::Speed).count(), 1);
    // A reload shows the same session.
    phone.tap(&other).await; // closed, as after a reload
    phone.until("!document.querySelector('.call-box')").await;
    let main = "document.querySelector('main').innerText";
    let before: String = phone.ask(main).await;
    let address: String = phone.ask("location.href").await;
    phone.open(&address).await;
    phone.sees("Finished: 4 sets").await;
    assert_eq!(phone.ask::<String>(main).await, before);
    desk.open(&gym.lifter_path()).await;
    desk.sees("Said on the gym floor").await;
    desk.sees(&format!("{other} in the place of leg press")).await;
    desk.sees("Note: go").await;
    desk.sees("Pain of 7 in the shoulder").await;
    desk.picture("desk").await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_session_with_keys_alone_and_a_check_in() {
    let gym = Gym::open();
    let phone = Phone::of_size(1280, 800).await;
    let link = make_link(&gym, &phone).await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    // What is opened stays open when the page is drawn anew in the same moment, here because a lift is closed.
    phone
        .run(
            "document.querySelector('.check-in summary').click(), \
             document.querySelector('[data-lift] button').click(), \
             setTimeout(() => { window.stays = document.querySelector('.check-in').open; })",
        )
        .await;
    phone.until("window.stays !== undefined").await;
    assert!(phone.ask::<bool>("window.stays").await, "the check-in closed by itself");
    phone.run("document.querySelector('.check-in summary').click()").await;
    phone.until("!document.querySelector('.check-in').open").await;
    phone.run("document.querySelector('.check-in summary').focus()").await;
    phone.press("Enter").await;
    phone.sees("Hours slept").await;
    phone.run("document.querySelector('[data-key=\"stress-4\"]').focus()").await;
    phone.press("ArrowRight").await;
    phone.until("document.querySelector('[data-key=\"stress-5\"]').checked").await;
    phone.run("document.querySelector('[data-key=check-in-tell]').focus()").await;
    phone.press("Enter").await;
    phone.sees("Check-in: stress 5 of 7").await;
    phone.sees("Everything logged has reached the desk").await;
    let check_ins = gym.store().check_ins_of(&LifterName::new(NAME).unwrap()).unwrap();
    assert_eq!(check_ins[0].stress, Some(5.0));
    // With a signal the page takes in what the desk makes of it.
    phone.until("performance.getEntriesByType('navigation')[0].type === 'reload'").await;
    phone.until("document.querySelector('#in-set-load')").await;
    phone.sees("Check-in: stress 5 of 7").await;
    // A page that draws itself anew leaves what is selected selected, or the next key would write before it.
    phone
        .run(
            "import(document.querySelector('script[type=module]').src.replace('page.js', 'elements.js')) \
             .then(({ refill }) => { \
                 const load = document.querySelector('#in-set-load'); \
                 load.setSelectionRange(1, 3); \
                 load.focus(); \
                 refill(load.parentElement, ...[...load.parentElement.childNodes].map((one) => one.cloneNode(true))); \
                 const again = document.activeElement; \
                 window.selected = [again.id, again.selectionStart, again.selectionEnd].join(' '); \
             })",
        )
        .await;
    phone.until("window.selected").await;
    assert_eq!(phone.ask::<String>("window.selected").await, "in-set-load 1 3");
    phone.open(&link).await;
    phone.until("document.querySelector('#in-set-load')").await;
    phone.run("document.querySelector('#in-set-load').focus()").await;
    phone.run("document.querySelector('#in-set-load').select()").await;
    phone.press("9").await;
    phone.press("5").await;
    phone.press("Tab").await;
    phone.sees("Log 95 kg").await;
    assert!(phone.ask::<bool>("document.activeElement !== document.body").await, "focus was lost");
    phone.run("document.querySelector('[data-key=log]').focus()").await;
    phone.press("Enter").await;
    phone.sees("Lead set: 95 kg").await;
    phone.sees("Everything logged has reached the desk").await;
    assert_eq!(sets_at_desk(&gym)[0].1, 95.0);
    phone.close().await;
}

/// A lift with a record that comes in the place of another is read without a signal as well.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_lift_that_is_swapped_in_is_read_by_its_own_record() {
    let mut gym = Gym::with_front_squats();
    let desk = Phone::of_size(1280, 800).await;
    let link = make_link(&gym, &desk).await;
    let phone = Phone::new().await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    let chance = "Number(document.body.innerText.match(/Chance of making it (\\d+)/)[1])";
    phone.tap("leg press").await;
    let before = phone.ask::<f64>(chance).await;
    phone.tap("back squat").await;
    gym.stop();
    phone.tap("Swap").await;
    phone.tap("front squat").await;
    phone.sees("Lead set by its own record").await;
    phone.sees("Chance of making it").await;
    phone.picture("swapped").await;
    for _ in 0..4 {
        phone.tap("One rep less").await;
    }
    phone.tap("0").await;
    let words = log_words(&phone).await;
    phone.tap(&words).await;
    phone.sees("not recovered").await;
    phone.sees("speed work instead").await;
    phone.picture("swapped-ease").await;
    // The leg press learns from it as it would from the squat.
    phone.tap("leg press").await;
    let after = phone.ask::<f64>(chance).await;
    assert!(after < before, "{after} % after {before} %");
    gym.serve();
    phone.run("window.dispatchEvent(new Event('online'))").await;
    phone.sees("Everything logged has reached the desk").await;
    assert_eq!(sets_at_desk(&gym)[0].0, "front squat");
    phone.close().await;
    desk.close().await;
}

/// Whatever comes in meanwhile, a button isn't drawn anew under a finger that rests on it and has taken the focus from
/// a field: the tap would hit nothing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_button_stays_under_a_finger_until_it_is_lifted() {
    let gym = Gym::open();
    let phone = Phone::new().await;
    let link = make_link(&gym, &phone).await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    phone.until("document.querySelector('[data-key=add]')").await;
    phone
        .run(
            "(() => { \
                 const add = document.querySelector('[data-key=add]'); \
                 const event = (type) => add.dispatchEvent(new PointerEvent(type, { bubbles: true })); \
                 document.querySelector('#in-set-load').focus(); \
                 event('pointerdown'); \
                 add.focus(); \
                 setTimeout(() => window.dispatchEvent(new Event('online')), 150); \
                 setTimeout(() => { window.stays = add.isConnected; event('pointerup'); }, 2000); \
                 setTimeout(() => { window.drawn = !add.isConnected; }, 4000); \
             })()",
        )
        .await;
    phone.until("window.stays !== undefined").await;
    assert!(phone.ask::<bool>("window.stays").await, "it was drawn anew under the finger");
    phone.until("window.drawn").await;
    phone.close().await;
}

/// Light or dark is kept for the next time that the page opens.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_phone_stays_light_or_dark() {
    let gym = Gym::open();
    let desk = Phone::of_size(1280, 800).await;
    let link = make_link(&gym, &desk).await;
    let phone = Phone::new().await;
    phone.open(&link).await;
    phone.sees("the desk is reached").await;
    let dark = "getComputedStyle(document.documentElement).backgroundColor === 'rgb(25, 27, 28)'";
    assert!(!phone.ask::<bool>(dark).await);
    phone.run("document.querySelector('[data-key=\"theme-dark\"]').click()").await;
    phone.until(dark).await;
    phone.open(&link).await;
    phone.until(dark).await;
    phone.sees("the desk is reached").await;
    phone.run("document.querySelector('[data-key=\"theme-as the phone\"]').click()").await;
    phone.until(&format!("!({dark})")).await;
    assert_eq!(phone.complaints(), Vec::<String>::new());
    // The desk has a choice of its own.
    desk.open(&format!("{}/look", gym.address())).await;
    desk.run("document.querySelector('[value=dark]').click()").await;
    desk.tap("Show them so").await;
    desk.until(dark).await;
    desk.open(&gym.lifter_path()).await;
    assert!(desk.ask::<bool>(dark).await);
    phone.close().await;
    desk.close().await;
}
