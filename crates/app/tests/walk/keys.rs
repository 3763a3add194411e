//! Keys alone: Tab reaches everything that can be used, in sight and with a mark of the focus, and whole
//! pieces of work are done without a pointer.

use crate::browser::gym::Gym;
use crate::browser::phone::Phone;
use crate::pages::PAGES;
use crate::walker::Walker;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn tab_reaches_every_control_on_a_phone() {
    tab_through_all(360, 740).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn tab_reaches_every_control_on_a_screen() {
    tab_through_all(1280, 800).await;
}

async fn tab_through_all(width: u32, height: u32) {
    let walker = Walker::of_size(width, height).await;
    let mut findings = Vec::new();
    for visit in PAGES {
        walker.go(visit).await;
        let found = tab_through(&walker.phone).await;
        findings.extend(found.into_iter().map(|finding| format!("{}: {finding}", visit.name)));
    }
    walker.phone.close().await;
    assert!(findings.is_empty(), "{width} wide:\n{}", findings.join("\n"));
}

/// Presses Tab from the top of the page until the focus leaves it; what wasn't reached, or out of sight.
async fn tab_through(phone: &Phone) -> Vec<String> {
    let n: usize = phone.ask(CONTROLS).await;
    // A field for a day has several stops inside, and its button.
    for _ in 0..n * 5 + 10 {
        phone.press("Tab").await;
        if phone.ask::<bool>(STOP).await {
            break;
        }
    }
    phone.ask(FOUND).await
}

/// Lists what can be used, puts the focus before all of it, and counts.
const CONTROLS: &str = "(() => {
    const all = 'a[href], button, input, select, textarea, summary, [tabindex]';
    const radios = new Set();
    window.controls = [...document.querySelectorAll(all)].filter((one) => {
        if (!one.checkVisibility({ visibilityProperty: true }) || one.disabled || one.tabIndex < 0) return false;
        if (one.type !== 'radio') return true;
        // One stop for the group; arrow keys go on from there.
        return !radios.has(one.name) && radios.add(one.name);
    });
    window.reached = new Set();
    window.faults = [];
    document.activeElement?.blur();
    getSelection().removeAllRanges();
    scrollTo(0, 0);
    const start = document.createElement('span');
    start.tabIndex = -1;
    document.body.prepend(start);
    start.focus({ preventScroll: true });
    start.remove();
    return window.controls.length;
})()";

/// Notes where the focus is; true once it has left the page.
const STOP: &str = "(async () => {
    const one = document.activeElement;
    if (!one || one === document.body) return true;
    if (window.reached.has(one)) return false;
    window.reached.add(one);
    if (one.type === 'radio') {
        const first = window.controls.find((other) => other.type === 'radio' && other.name === one.name);
        window.reached.add(first);
    }
    const called = `${one.tagName.toLowerCase()} ${one.getAttribute('aria-label') ?? one.name ?? ''} ${one.textContent.slice(0, 40)}`;
    const marked = [one, one.nextElementSibling, one.parentElement].some((place) => {
        if (!place) return false;
        const style = getComputedStyle(place);
        return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) > 0;
    });
    if (!marked) window.faults.push(`no mark of the focus: ${called}`);
    const shown = one.type === 'radio' ? one.closest('label') ?? one : one;
    const shares = [0.05, 0.5, 0.95];
    const places = () => [...shown.getClientRects()].flatMap((box) =>
        shares.flatMap((x) => shares.map((y) => [box.x + box.width * x, box.y + box.height * y])));
    const isSeen = () => places().some(([x, y]) => {
        const hit = document.elementFromPoint(x, y);
        return hit && (shown.contains(hit) || hit.parentElement === shown.parentElement && hit.contains(shown));
    });
    // A page that is busy scrolls a moment later.
    if (!isSeen()) await new Promise((resolve) => setTimeout(resolve, 200));
    if (!isSeen()) window.faults.push(`focused out of sight: ${called}`);
    return false;
})()";

/// What is wrong: controls that Tab didn't reach, and what was noted on the way.
const FOUND: &str = "(() => {
    const lost = window.controls.filter((one) => !window.reached.has(one) && one.isConnected);
    return [...window.faults, ...lost.slice(0, 6).map((one) => `not reached: ${one.outerHTML.slice(0, 120)}`)];
})()";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_clicked_on_the_floor_is_a_button_or_a_field() {
    let gym = Gym::open();
    let phone = Phone::new().await;
    phone.before_each_page(NOTE_LISTENERS).await;
    phone.open(&gym.lifter_path()).await;
    phone.run("document.querySelector(\"form[action$='/links'] button\").click()").await;
    phone.sees("Shown only now").await;
    phone.run("document.querySelector('.link-text a').click()").await;
    phone.sees("the desk is reached").await;
    let listening: Vec<String> = phone.ask("[...window.listening]").await;
    assert!(listening.contains(&"button".to_owned()), "nothing was noted: {listening:?}");
    let strange: Vec<&String> = listening
        .iter()
        .filter(|tag| !["button", "input", "textarea", "summary", "select"].contains(&tag.as_str()))
        .collect();
    assert!(strange.is_empty(), "clicks are taken by {strange:?}, which keys can't reach");
    phone.close().await;
}

/// Notes the tag of every element that listens for a pointer.
const NOTE_LISTENERS: &str = "window.listening = new Set();
    const add = EventTarget.prototype.addEventListener;
    EventTarget.prototype.addEventListener = function (kind, ...rest) {
        if (/^(click|mouse|pointer|touch)/.test(kind) && this instanceof Element) listening.add(this.tagName.toLowerCase());
        return add.call(this, kind, ...rest);
    };";
