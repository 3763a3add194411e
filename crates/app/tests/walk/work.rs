//! Whole pieces of work at the desk, in both sizes, by finger or with keys alone: from the first start to the
//! first logged session, an import with bad lines, a correction.

use domain::LifterName;

use crate::browser::gym::{Gym, NAME, log_text};
use crate::browser::phone::Phone;

/// What works the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum By {
    Finger,
    Keys,
}

/// Somebody at a page.
struct Somebody {
    phone: Phone,
    by: By,
}

impl Somebody {
    async fn of(by: By) -> Somebody {
        let (width, height) = match by {
            By::Finger => (360, 740),
            By::Keys => (1280, 800),
        };
        Somebody { phone: Phone::of_size(width, height).await, by }
    }

    /// Presses what is called so.
    async fn press(&self, name: &str) {
        self.phone.sees(name).await;
        match self.by {
            By::Finger => self.phone.touch(name).await,
            By::Keys => {
                self.tab_to(name, "a, button, summary").await;
                self.phone.press("Enter").await;
            }
        }
    }

    /// Types into the field with this label, in the place of what is there.
    async fn fill(&self, label: &str, text: &str) {
        self.phone.sees(label).await;
        match self.by {
            By::Finger => self.phone.touch(label).await,
            By::Keys => self.tab_to(label, "input, textarea, select").await,
        }
        self.phone.run("document.activeElement.select()").await;
        self.phone.types(text).await;
    }

    /// Presses Tab until what is called so, and is one of these elements, has the focus.
    async fn tab_to(&self, name: &str, elements: &str) {
        let is_there = format!(
            "(() => {{
                const plain = (text) => (text ?? '').replaceAll('\\u00a0', ' ').replace(/\\s+/g, ' ').trim();
                const one = document.activeElement;
                return one.matches({elements:?}) && [one.getAttribute('aria-label'), one.labels?.[0]?.textContent, one.value === undefined || one.tagName === 'BUTTON' ? one.textContent : null]
                    .some((called) => plain(called).startsWith({name:?}));
            }})()"
        );
        for _ in 0..400 {
            if self.phone.ask::<bool>(&is_there).await {
                return;
            }
            self.phone.press("Tab").await;
        }
        panic!("Tab never came to {name}\n{}", self.phone.text().await);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn from_the_first_start_to_the_first_session_by_finger() {
    first_session(By::Finger).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn from_the_first_start_to_the_first_session_with_keys_alone() {
    first_session(By::Keys).await;
}

async fn first_session(by: By) {
    let gym = Gym::of_nobody();
    let one = Somebody::of(by).await;
    one.phone.open(&gym.address()).await;
    one.phone.sees("Nobody is on record yet").await;
    one.press("Import a log").await;
    one.fill("Or its lines, pasted", &log_text()).await;
    one.press("Look at it").await;
    one.phone.sees("no line refused").await;
    one.press("Import 330 sets").await;
    one.phone.sees("now on record").await;
    one.press("To Wilma Tarn").await;
    one.phone.sees("Gym floor").await;
    one.press("Make a link").await;
    one.phone.sees("Shown only now").await;
    one.press("http://127.0.0.1").await;
    one.phone.sees("the desk is reached").await;
    one.press("Log ").await;
    one.phone.sees("go on").await;
    one.phone.sees("Everything logged has reached the desk").await;
    one.press("Finish the session").await;
    one.phone.sees("Finished: 1 set").await;
    one.phone.sees("Everything logged has reached the desk").await;
    let sets = gym.store().sets_of(&LifterName::new(NAME).unwrap()).unwrap();
    assert_eq!(sets.len(), 331);
    one.phone.close().await;
}

/// Five lines, of which three can't be taken.
const BAD_LINES: &str = "lifter,date,lift,load,unit,reps,rir\n\
    Fenna Loosdrecht,2024-01-08,back squat,80,kg,5,2\n\
    Fenna Loosdrecht,2024-01-08,back squat,heavy,kg,5,2\n\
    Fenna Loosdrecht,2024-01-10,back squat,82.5,kg,500,2\n\
    Fenna Loosdrecht,2024-13-10,back squat,82.5,kg,5,2\n\
    Fenna Loosdrecht,2024-01-15,back squat,85,kg,5,2\n";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_import_with_bad_lines_by_finger() {
    bad_lines(By::Finger).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_import_with_bad_lines_with_keys_alone() {
    bad_lines(By::Keys).await;
}

async fn bad_lines(by: By) {
    let gym = Gym::of_nobody();
    let fenna = LifterName::new("Fenna Loosdrecht").unwrap();
    let one = Somebody::of(by).await;
    one.phone.open(&format!("{}/import", gym.address())).await;
    one.fill("Or its lines, pasted", BAD_LINES).await;
    one.press("Look at it").await;
    one.phone.sees("2 sets new").await;
    one.phone.sees("3 lines refused").await;
    // Each with its line and why, before anything is written.
    let lines = "[...document.querySelectorAll('[aria-label=\"Refused lines\"] tbody td.n')].map((cell) => cell.textContent)";
    assert_eq!(one.phone.ask::<Vec<String>>(lines).await, ["3", "4", "5"]);
    one.phone.sees("heavy").await;
    assert_eq!(gym.store().lifters().unwrap().len(), 0);
    one.press("Import 2 sets").await;
    one.phone.sees("2 sets now on record").await;
    assert_eq!(gym.store().sets_of(&fenna).unwrap().len(), 2);
    // The refused lines are there as a table: mended, they are sent on.
    let rejects: String = one.phone.ask("document.querySelector('#text').value").await;
    let mended = rejects.replace("heavy", "80").replace(",500,", ",5,").replace("-13-", "-01-");
    // Which set it was of a day that nobody could read is for the coach to say.
    let mended = mended.replace("\",,Fenna", "\",2,Fenna");
    one.fill("Refused lines", &mended).await;
    one.press("Look at them").await;
    one.phone.sees("no line refused").await;
    one.press("Import 3 sets").await;
    one.phone.sees("3 sets now on record").await;
    let sets = gym.store().sets_of(&fenna).unwrap();
    let mut loads: Vec<f64> = sets.iter().map(|set| set.load.kg()).collect();
    loads.sort_by(f64::total_cmp);
    assert_eq!(loads, [80.0, 80.0, 82.5, 82.5, 85.0]);
    one.phone.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_correction_by_finger() {
    correction(By::Finger).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_correction_with_keys_alone() {
    correction(By::Keys).await;
}

async fn correction(by: By) {
    let gym = Gym::open();
    let wilma = LifterName::new(NAME).unwrap();
    let n = gym.store().sets_of(&wilma).unwrap().len();
    let one = Somebody::of(by).await;
    one.phone.open(&format!("{}/lift/bench%20press", gym.lifter_path())).await;
    let first = "document.querySelector('.sets a[href*=\"/set/\"]').href";
    let address: String = one.phone.ask(first).await;
    one.phone.open(&address).await;
    // A mistake changes nothing and is told beside its field.
    one.fill("Load", "-5").await;
    one.press("Correct the set").await;
    one.phone.sees("Nothing was changed").await;
    let told = "document.getElementById(document.querySelector('#field-load').getAttribute('aria-describedby')).textContent";
    assert!(!one.phone.ask::<String>(told).await.is_empty());
    one.fill("Load", "77.7").await;
    one.fill("Why it changes", "misread the plates").await;
    one.press("Correct the set").await;
    one.phone.sees("The set was corrected").await;
    one.phone.sees("misread the plates").await;
    let sets = gym.store().sets_of(&wilma).unwrap();
    assert_eq!(sets.len(), n, "a correction supersedes");
    assert_eq!(sets.iter().filter(|set| (set.load.kg() - 77.7).abs() < 1e-9).count(), 1);
    // And is withdrawn again, with what stood before still readable.
    one.phone.open(&address).await;
    one.fill("Why it is withdrawn", "never done").await;
    one.press("Withdraw the set").await;
    one.phone.sees("The set was withdrawn").await;
    one.phone.sees("77.7 kg").await;
    assert_eq!(gym.store().sets_of(&wilma).unwrap().len(), n - 1);
    one.phone.close().await;
}
