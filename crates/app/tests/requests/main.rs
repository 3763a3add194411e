//! Requests drawn at random over everything that can be sent: every form of the desk as its pages have it, tables, and
//! messages of phones. Whatever comes, nothing panics and nothing is answered 500, and the record is whole afterwards.
//!
//! `BELLWETHER_REQUESTS` says how many; a few hundred if it doesn't.

mod dice;
mod served;

use std::collections::{BTreeMap, BTreeSet};

use dice::{Dice, batch, encoded, filled};
use served::{Form, Served, forms_of, links_of, template};

/// How many requests are sent unless the environment says otherwise.
const REQUESTS: usize = 400;
/// How many forms of a kind are held ready.
const FORMS_OF_A_KIND: usize = 12;

/// Every address that takes what is sent.
const ROUTES: [&str; 21] = [
    "/floor/{}/messages",
    "/import",
    "/import/{}",
    "/lifter/{}/calendar",
    "/lifter/{}/calendar/{}/revoke",
    "/lifter/{}/lift/{}",
    "/lifter/{}/links",
    "/lifter/{}/links/{}/revoke",
    "/lifter/{}/programme/changes",
    "/lifter/{}/programme/changes/{}/withdraw",
    "/lifter/{}/programme/copy",
    "/lifter/{}/programme/draft",
    "/lifter/{}/programme/draft/{}",
    "/lifter/{}/programme/edit",
    "/lifter/{}/programme/file",
    "/lifter/{}/programme/withdraw",
    "/lifter/{}/set/{}",
    "/lifter/{}/set/{}/withdraw",
    "/lifter/{}/settings",
    "/look",
    "/new-lifter",
];

/// What is ready to be sent.
struct Ready {
    dice: Dice,
    forms: BTreeMap<String, Vec<Form>>,
    tokens: Vec<String>,
    known: Vec<String>,
}

impl Ready {
    /// Takes in the forms of a page, and the links from it that lead to more forms.
    fn learn(&mut self, page: &str, at: &str) -> Vec<String> {
        for form in forms_of(page, at) {
            let kind = self.forms.entry(template(&form.action)).or_default();
            let place =
                if kind.len() < FORMS_OF_A_KIND { kind.len() } else { self.dice.below(kind.len()) };
            kind.truncate(FORMS_OF_A_KIND);
            kind.insert(place, form);
        }
        if let Some((_, after)) = page.split_once("/floor/") {
            let token: String = after
                .chars()
                .take_while(|c| c.is_ascii_alphanumeric() || *c == '-' || *c == '_')
                .collect();
            if token.len() > 16 {
                self.tokens.push(token);
            }
        }
        links_of(page)
    }
}

#[test]
fn whatever_is_sent_is_answered_and_nothing_panics() {
    let n: usize = std::env::var("BELLWETHER_REQUESTS").map_or(REQUESTS, |n| n.parse().unwrap());
    let seed = std::env::var("BELLWETHER_SEED").map_or(20_310_504, |seed| seed.parse().unwrap());
    let served = Served::start();
    let mut ready =
        Ready { dice: Dice(seed), forms: BTreeMap::new(), tokens: Vec::new(), known: Vec::new() };
    begin(&served, &mut ready);
    let (mut sent, mut statuses) = (BTreeSet::new(), BTreeMap::<u16, usize>::new());
    for request in 0..n {
        let route = ROUTES[request % ROUTES.len()];
        let (status, path) = send(&served, &mut ready, route);
        *statuses.entry(status).or_default() += 1;
        sent.insert(template(&path));
        assert!(
            (200..500).contains(&status),
            "request {request} of seed {seed}: {path} was answered {status}\n{}",
            served.errors()
        );
        if request % 500 == 499 {
            println!("{} of {n} requests: {statuses:?}", request + 1);
            begin(&served, &mut ready);
        }
    }
    assert_eq!(served.errors(), "", "something panicked");
    let missed: Vec<_> = ROUTES.iter().filter(|route| !sent.contains(**route)).collect();
    assert!(missed.is_empty(), "never sent: {missed:?}");
    assert!(
        statuses.get(&200).is_some_and(|n| *n > 0) && statuses.get(&303).is_some_and(|n| *n > 0),
        "{statuses:?}"
    );
    // Every day is open, and the record is whole.
    for token in ready.tokens.iter().take(20) {
        let status = served.get(&format!("/floor/{token}/day.json")).0;
        assert!([200, 404, 410].contains(&status), "{status}");
    }
    served.is_whole();
}

/// Walks over the desk's pages for their forms, and makes a link for a phone.
fn begin(served: &Served, ready: &mut Ready) {
    let name = "/lifter/Wilma%20Tarn";
    served.post_form(&format!("{name}/links"), b"");
    served.post_form(&format!("{name}/calendar"), b"");
    let made = served.post_form(&format!("{name}/links"), b"");
    ready.learn(&made.1, "/");
    let mut pages: Vec<String> = [
        "",
        "/settings",
        "/lift/back%20squat?record=whole",
        "/programme",
        "/programme/edit",
        "/programme/draft",
        "/programme/changes",
    ]
    .iter()
    .map(|page| format!("{name}{page}"))
    .collect();
    pages.extend(["/", "/new-lifter", "/import", "/look"].map(str::to_owned));
    let mut more = Vec::new();
    for page in pages {
        let (status, text) = served.get(&page);
        assert!(status < 500, "{page}: {status}\n{}", served.errors());
        more.extend(ready.learn(&text, &page));
    }
    more.retain(|link| link.contains("/set/"));
    for link in more.iter().rev().take(3) {
        let (_, text) = served.get(link);
        ready.learn(&text, link);
    }
}

/// Draws a request for a route and sends it: the status, and where it went.
fn send(served: &Served, ready: &mut Ready, route: &str) -> (u16, String) {
    let dice = &mut ready.dice;
    if route == "/floor/{}/messages" {
        let token = if dice.once_in(30) {
            "nobody".to_owned()
        } else {
            ready.tokens.last().unwrap().clone()
        };
        let path = format!("/floor/{token}/messages?date={}", served.today);
        let body = batch(dice, &mut ready.known, &served.today, served.now());
        let (status, _) = served.post(&path, "application/json", body.as_bytes());
        return (status, path);
    }
    if route == "/import" {
        let (status, location) = served.post_table(&table(dice));
        if let Some(place) = location {
            let (_, page) = served.get(&place);
            ready.learn(&page, &place);
        }
        return (status, route.to_owned());
    }
    let form = ready
        .forms
        .get(route)
        .filter(|forms| !forms.is_empty())
        .map(|forms| dice.of(forms).clone());
    let form = form.unwrap_or_else(|| Form {
        action: route.replace("{}", "Wilma%20Tarn"),
        fields: Vec::new(),
    });
    let action = match dice.below(25) {
        0 => form.action.replace("Wilma%20Tarn", "Nobody"),
        1 => form.action.replace("Wilma%20Tarn", "%ff"),
        2 => format!("{}x", form.action),
        _ => form.action.clone(),
    };
    let fields = filled(dice, &form.fields);
    let body = encoded(dice, &fields);
    let (status, page) = served.post_form(&action, &body);
    if status == 200 || status == 422 {
        ready.learn(&page, &action);
    }
    (status, form.action)
}

/// A table as somebody might send it, seldom a good one.
fn table(dice: &mut Dice) -> String {
    let mut text = (*dice.of(&[
        "lifter,date,lift,set,load,unit,reps,rir\n",
        "lifter;date;lift;load;reps\n",
        "who\twhat\tkg\n",
        "",
        "\u{feff}Lifter,Date,Lift,Set,Load,Unit,Reps\n",
    ]))
    .to_owned();
    for _ in 0..dice.below(6) {
        let cell = |dice: &mut Dice, usual: &str| {
            if dice.once_in(6) { dice.odd() } else { usual.to_owned() }
        };
        let cells: Vec<String> =
            ["Odd Birk", "2031-05-04", "back squat", "1", "100", "kg", "5", "2"]
                .map(|usual| cell(dice, usual))
                .to_vec();
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    text
}
