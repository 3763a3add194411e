//! A phone: one browser with one open page, tapped with a finger's precision. Of another size it is the
//! coach's laptop.

use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use chromiumoxide::browser::{Browser, BrowserConfig};
use chromiumoxide::cdp::browser_protocol::emulation::{
    MediaFeature, SetDeviceMetricsOverrideParams,
};
use chromiumoxide::cdp::browser_protocol::input::{
    DispatchKeyEventParams, DispatchKeyEventType, InsertTextParams,
};
use chromiumoxide::cdp::browser_protocol::log::{EventEntryAdded, LogEntrySource};
use chromiumoxide::cdp::browser_protocol::network::{EnableParams, EventRequestWillBeSent};
use chromiumoxide::cdp::browser_protocol::target::SetAutoAttachParams;
use chromiumoxide::cdp::js_protocol::runtime::{
    ConsoleApiCalledType, EventConsoleApiCalled, EventExceptionThrown,
};
use chromiumoxide::handler::viewport::Viewport;
use chromiumoxide::layout::Point;
use chromiumoxide::page::{Page, ScreenshotParams};
use futures::StreamExt;
use serde::de::DeserializeOwned;

use super::fonts::{self, Family};

/// How long something may take to appear.
const PATIENCE: Duration = Duration::from_secs(60);
const STEP: Duration = Duration::from_millis(40);
/// Other names of this machine, as somebody else's network might give them.
const OTHER_NAMES: &str = "MAP desk.local 127.0.0.1, MAP elsewhere.example 127.0.0.1";
/// What browsers say of a header that they heed under HTTPS and on the very computer only.
const USELESS_BY_PLAIN_HTTP: &str = "Cross-Origin-Opener-Policy header has been ignored";
/// How long the browser may take to answer at all: a machine may be busy.
const SLOWEST: Duration = Duration::from_secs(120);
/// How long a test may have a browser: without fonts, say, one may hang for ever.
const LONGEST: Duration = Duration::from_secs(900);

/// A browser of its own, with what it keeps.
pub(crate) struct Phone {
    browser: Browser,
    folder: tempfile::TempDir,
    heard: Heard,
    page: Page,
    begun: Instant,
}

/// What the browser tells of its pages.
#[derive(Clone, Default)]
struct Heard {
    /// Errors and warnings, broken policies among them.
    complaints: Arc<Mutex<Vec<String>>>,
    /// The address of every request.
    requests: Arc<Mutex<Vec<String>>>,
}

impl Phone {
    /// A phone of 360 × 740 with nothing kept on it.
    pub(crate) async fn new() -> Phone {
        Phone::of_size(360, 740).await
    }

    pub(crate) async fn of_size(width: u32, height: u32) -> Phone {
        let folder = tempfile::tempdir().unwrap();
        let viewport =
            Viewport { width, height, is_landscape: width > height, ..Viewport::default() };
        let config = BrowserConfig::builder()
            .chrome_executable("/usr/bin/chromium")
            .no_sandbox()
            .user_data_dir(folder.path())
            .window_size(width, height)
            .viewport(viewport)
            .request_timeout(SLOWEST)
            .launch_timeout(Duration::from_secs(60))
            .args(["disable-gpu", "disable-background-networking", "disable-component-update"])
            .arg(("host-resolver-rules", OTHER_NAMES))
            .env("FONTCONFIG_FILE", fonts::only(Family::DejaVu).display().to_string())
            .build()
            .unwrap();
        let begun = Instant::now();
        let launched = limited(begun, "the browser's start", Browser::launch(config)).await;
        let (browser, mut handler) = launched.unwrap();
        tokio::spawn(async move { while handler.next().await.is_some() {} });
        let heard = Heard::default();
        let page = limited(begun, "the first tab", new_page(&browser, &heard)).await;
        Phone { browser, folder, heard, page, begun }
    }

    /// Opens an address in the open tab.
    pub(crate) async fn open(&self, address: &str) {
        limited(self.begun, address, self.page.goto(address)).await.unwrap();
    }

    /// Closes the tab and opens another.
    pub(crate) async fn new_tab(&mut self) {
        let new = limited(self.begun, "a tab", new_page(&self.browser, &self.heard)).await;
        let old = std::mem::replace(&mut self.page, new);
        limited(self.begun, "a tab's end", old.close()).await.unwrap();
    }

    /// Runs an expression in the page.
    pub(crate) async fn ask<T: DeserializeOwned>(&self, expression: &str) -> T {
        let answer = limited(self.begun, expression, self.page.evaluate(expression)).await;
        answer.unwrap_or_else(|e| panic!("{expression:.300}: {e}")).into_value().unwrap()
    }

    /// Runs an expression that gives nothing.
    pub(crate) async fn run(&self, expression: &str) {
        let asked = self.page.evaluate(format!("void ({expression})"));
        let answer = limited(self.begun, expression, asked).await;
        answer.unwrap_or_else(|e| panic!("{expression}: {e}"));
    }

    /// Waits until an expression holds.
    pub(crate) async fn until(&self, expression: &str) {
        let begun = Instant::now();
        loop {
            let asked = self.page.evaluate(format!("Boolean({expression})"));
            let answer = limited(self.begun, expression, asked).await;
            if answer.is_ok_and(|value| value.into_value().unwrap_or(false)) {
                return;
            }
            if begun.elapsed() > PATIENCE {
                let text = self.text().await;
                panic!(
                    "never came: {expression}\n{text}\n{:?}",
                    self.heard.complaints.lock().unwrap()
                );
            }
            tokio::time::sleep(STEP).await;
        }
    }

    /// Waits until the page says something.
    pub(crate) async fn sees(&self, words: &str) {
        let words = serde_json::to_string(words).unwrap();
        // Figures and units are held together by spaces that don't break.
        self.until(&format!(
            "document.body.innerText.replaceAll('\\u00a0', ' ').includes({words})"
        ))
        .await;
    }

    /// The page's text.
    pub(crate) async fn text(&self) -> String {
        self.page
            .evaluate("document.body.innerText.replaceAll('\\u00a0', ' ')")
            .await
            .map_or_else(|error| error.to_string(), |value| value.into_value().unwrap_or_default())
    }

    /// Taps what is called so: a button, a link or a choice, by its words or its label. The page must
    /// show it, nothing may lie over it, and it must be as large as a fingertip.
    pub(crate) async fn tap(&self, name: &str) {
        self.hit(name, 43.9).await;
    }

    /// Touches what is called so on a page that is read more than tapped, where links may be as small as
    /// their text.
    pub(crate) async fn touch(&self, name: &str) {
        self.hit(name, 1.0).await;
    }

    async fn hit(&self, name: &str, smallest: f64) {
        let name = serde_json::to_string(name).unwrap();
        let find = format!(
            "(() => {{
              const plain = (text) => (text ?? '').replaceAll('\\u00a0', ' ').replace(/\\s+/g, ' ').trim();
              const all = [...document.querySelectorAll('button, a, summary, label, input[type=radio]')]
                .filter((one) => one.checkVisibility());
              const named = (one) => plain(one.getAttribute('aria-label')) === {name} || plain(one.textContent) === {name};
              let one = all.find(named);
              one ??= all.find((other) => plain(other.getAttribute('aria-label') ?? other.textContent).startsWith({name}));
              if (!one) return null;
              one.scrollIntoView({{ block: 'center', behavior: 'instant' }});
              const box = one.getClientRects()[0]; // a link may be broken over lines
              const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
              const hit = document.elementFromPoint(x, y);
              const free = one.contains(hit) || hit?.contains(one) || one.parentElement === hit?.parentElement;
              return {{ x, y, w: box.width, h: box.height, free }};
            }})()"
        );
        let begun = Instant::now();
        let mut before = None;
        let place: serde_json::Value = loop {
            let found = limited(self.begun, &name, self.page.evaluate(find.as_str())).await;
            let found = found.ok().and_then(|value| value.into_value::<serde_json::Value>().ok());
            // A page that is being drawn anew moves; a finger waits until it stands still.
            if let Some(found) = found.filter(|found| !found.is_null())
                && before.replace(found.clone()) == Some(found.clone())
            {
                break found;
            }
            assert!(begun.elapsed() < PATIENCE, "nothing is called {name}\n{}", self.text().await);
            tokio::time::sleep(STEP).await;
        };
        assert_eq!(place["free"], true, "something lies over {name}");
        let side = |key: &str| place[key].as_f64().unwrap();
        assert!(side("w") >= smallest && side("h") >= smallest, "{name} is too small: {place}");
        let click = self.page.click(Point::new(side("x"), side("y")));
        limited(self.begun, &name, click).await.unwrap();
    }

    /// Saves what is shown, if a folder for pictures is named in the environment.
    pub(crate) async fn picture(&self, name: &str) {
        if let Some(folder) = std::env::var_os("FLOOR_PICTURES") {
            let path = Path::new(&folder).join(format!("{name}.png"));
            let whole = ScreenshotParams::builder().full_page(true).build();
            let saved = self.page.save_screenshot(whole, path);
            limited(self.begun, name, saved).await.unwrap();
        }
    }

    /// Puts the phone into dark or light.
    pub(crate) async fn theme(&self, theme: &str) {
        let feature = MediaFeature::new("prefers-color-scheme", theme);
        self.page.emulate_media_features(vec![feature]).await.unwrap();
    }

    /// Presses a key, the focus being where it is.
    pub(crate) async fn press(&self, key: &str) {
        let (code, text) = match key {
            "Enter" => (13, Some("\r")),
            "Tab" => (9, None),
            "ArrowRight" => (39, None),
            "ArrowDown" => (40, None),
            " " => (32, Some(" ")),
            letter => (i64::from(letter.to_ascii_uppercase().as_bytes()[0]), Some(letter)),
        };
        let mut down = DispatchKeyEventParams::builder()
            .key(key)
            .code(key)
            .windows_virtual_key_code(code)
            .native_virtual_key_code(code);
        let up = down.clone().r#type(DispatchKeyEventType::KeyUp).build().unwrap();
        down = match text {
            Some(text) => down.text(text).r#type(DispatchKeyEventType::KeyDown),
            None => down.r#type(DispatchKeyEventType::RawKeyDown),
        };
        self.page.execute(down.build().unwrap()).await.unwrap();
        self.page.execute(up).await.unwrap();
    }

    /// Types into what has the focus.
    pub(crate) async fn types(&self, text: &str) {
        self.page.execute(InsertTextParams::new(text)).await.unwrap();
    }

    /// Runs a script before the scripts of every page that is opened from now on.
    pub(crate) async fn before_each_page(&self, script: &str) {
        self.page.evaluate_on_new_document(script).await.unwrap();
    }

    /// Gives the page another size, in CSS pixels.
    pub(crate) async fn resize(&self, width: i64, height: i64) {
        let size = SetDeviceMetricsOverrideParams::new(width, height, 1.0, false);
        self.page.execute(size).await.unwrap();
    }

    /// Saves what one sees of the page first as a picture, and the whole page as another. The size is lost
    /// over the second: set it again.
    pub(crate) async fn save(&self, path: &Path) {
        let first = ScreenshotParams::builder().build();
        self.page.save_screenshot(first, path.with_extension("first.png")).await.unwrap();
        let whole = ScreenshotParams::builder().full_page(true).build();
        self.page.save_screenshot(whole, path.with_extension("png")).await.unwrap();
    }

    /// What pages complained of since this was last asked.
    pub(crate) fn complaints(&self) -> Vec<String> {
        std::mem::take(&mut self.heard.complaints.lock().unwrap())
    }

    /// The addresses of all requests since this was last asked.
    pub(crate) fn requests(&self) -> Vec<String> {
        std::mem::take(&mut self.heard.requests.lock().unwrap())
    }

    /// Ends the browser; fails if any page complained.
    pub(crate) async fn close(mut self) {
        tokio::time::sleep(Duration::from_millis(100)).await;
        limited(self.begun, "the browser's end", self.browser.close()).await.ok();
        limited(self.begun, "the browser's end", self.browser.wait()).await.ok();
        let complaints = self.complaints();
        assert!(complaints.is_empty(), "{complaints:#?}");
        drop(self.folder);
    }
}

/// Waits for a step of a test, and fails it where the step or the whole test takes too long.
async fn limited<T>(begun: Instant, what: &str, step: impl Future<Output = T>) -> T {
    let left = LONGEST.saturating_sub(begun.elapsed()).min(SLOWEST);
    let Ok(done) = tokio::time::timeout(left, step).await else {
        panic!("the browser took longer than {left:?}: {what:.300}");
    };
    done
}

async fn new_page(browser: &Browser, heard: &Heard) -> Page {
    let page = browser.new_page("about:blank").await.unwrap();
    // Without this a page's worker waits for a debugger for ever.
    page.execute(SetAutoAttachParams::new(false, false)).await.unwrap();
    page.enable_log().await.unwrap();
    page.enable_runtime().await.unwrap();
    let mut entries = page.event_listener::<EventEntryAdded>().await.unwrap();
    let told = Arc::clone(&heard.complaints);
    tokio::spawn(async move {
        while let Some(event) = entries.next().await {
            let entry = &event.entry;
            // Requests that fail while the server is stopped are what is being tried.
            let is_of_network = entry.source == LogEntrySource::Network;
            if !is_of_network && !entry.text.contains(USELESS_BY_PLAIN_HTTP) {
                told.lock().unwrap().push(format!("{:?}: {}", entry.source, entry.text));
            }
        }
    });
    let mut thrown = page.event_listener::<EventExceptionThrown>().await.unwrap();
    let told = Arc::clone(&heard.complaints);
    tokio::spawn(async move {
        while let Some(event) = thrown.next().await {
            told.lock().unwrap().push(format!("{:?}", event.exception_details));
        }
    });
    let mut written = page.event_listener::<EventConsoleApiCalled>().await.unwrap();
    let told = Arc::clone(&heard.complaints);
    tokio::spawn(async move {
        while let Some(event) = written.next().await {
            if matches!(event.r#type, ConsoleApiCalledType::Error | ConsoleApiCalledType::Warning) {
                told.lock().unwrap().push(format!("{:?}", event.args));
            }
        }
    });
    page.execute(EnableParams::default()).await.unwrap();
    let mut asked = page.event_listener::<EventRequestWillBeSent>().await.unwrap();
    let told = Arc::clone(&heard.requests);
    tokio::spawn(async move {
        while let Some(event) = asked.next().await {
            told.lock().unwrap().push(event.request.url.clone());
        }
    });
    page
}
