//! The phone's arithmetic against the engine's: sessions drawn at random, every set computed by the modules of
//! the floor's page in a real browser and by the engine, to 1e-9; and what follows an eased lead set.
//!
//! What a card says is compared by the tests beside this one; here it is only whether both compute alike.

use std::time::Duration;

use chromiumoxide::browser::{Browser, BrowserConfig};
use chromiumoxide::page::Page;
use domain::{Catalogue, Joint, Lifter, LifterName, Load, Pain, Reps, Unit, When};
use engine::complaint::{PainVerdict, Rating, newest, standing, verdict};
use engine::loading::Ladder;
use engine::reading;
use engine::recovery::{Freak, SessionBelief, SessionLift};
use engine::strength::{LoadRepCurve, Reserve};
use engine::target::collapse::{self, DoneLead};
use engine::target::{self, Ease, EaseChoice, EasedLead, Today};
use engine::trend::LeadSet;
use futures::StreamExt;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

/// The modules, as the page loads them.
const SESSION_MODULE: &str = include_str!("../../app/assets/floor/session.js");
const EASE_MODULE: &str = include_str!("../../app/assets/floor/ease.js");
const REMAINING_MODULE: &str = include_str!("../../app/assets/floor/remaining.js");
const PAIN_MODULE: &str = include_str!("../../app/assets/floor/pain.js");

const SESSIONS: usize = 1_500;
const AT_ONCE: usize = 250;
const CLOSE: f64 = 1e-9;

/// Knuth's 64-bit linear congruential generator; the upper bits are taken.
struct Dice(u64);

impl Dice {
    /// Evenly from `low` to `high`.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1_u64 << 53) as f64)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.between(0.0, n as f64) as usize).min(n - 1)
    }
}

/// A set of the session, as both sides are told of it.
#[derive(Clone, Copy, Debug, Serialize)]
struct Done {
    place: usize,
    kg: f64,
    reps: u16,
    rir: Option<f64>,
    learns: bool,
}

/// What comes of it.
#[derive(Clone, Debug, Deserialize)]
struct Said {
    p_mixture: Option<f64>,
    p: Option<f64>,
    capacity: Option<f64>,
    is_readable: Option<bool>,
    low: f64,
    likely: f64,
    high: f64,
    chance: f64,
    #[serde(rename = "isFarBelow")]
    is_far_below: bool,
    mean: Vec<f64>,
    covariance: Vec<Vec<f64>>,
}

struct Drawn {
    belief: SessionBelief,
    reserves: Vec<f64>,
    kgs: Vec<f64>,
    shortfall: f64,
    sets: Vec<Done>,
}

fn draw(dice: &mut Dice) -> Drawn {
    let n = 1 + dice.below(4);
    let root = draw_root(dice, n);
    let covariance = (0..3 * n)
        .map(|i| (0..3 * n).map(|j| (0..3 * n).map(|k| root[i][k] * root[j][k]).sum()).collect())
        .collect();
    let share = if dice.below(5) == 0 { 0.0 } else { dice.between(0.01, 0.12) };
    let (mut mean, mut lifts, mut reserves, mut kgs) = (vec![], vec![], vec![], vec![]);
    for lift in 0..n {
        let one_rm = dice.between(30.0, 260.0);
        mean.extend([one_rm.ln(), dice.between(-0.03, 0.02), dice.between(-0.3, 0.3)]);
        lifts.push(SessionLift {
            lift,
            scatter_variance: dice.between(0.008, 0.05).powi(2),
            usual_shown: one_rm.ln() + dice.between(-0.06, 0.04),
            usual_lean: dice.between(0.02, 0.4),
        });
        reserves.push((dice.between(0.0, 8.0)).round() / 2.0);
        kgs.push((one_rm * dice.between(0.6, 0.97)).round());
    }
    let mut sets = Vec::new();
    for (place, planned) in kgs.iter().enumerate() {
        for set in 0..4 {
            let other = if dice.below(3) == 0 { dice.between(0.7, 1.2) } else { 1.0 };
            let rir = (dice.below(4) > 0).then(|| (dice.between(0.0, 9.0)).round() / 2.0);
            let single = dice.below(12) == 0;
            sets.push(Done {
                place,
                kg: planned * other,
                reps: if single { 1 } else { 1 + dice.below(19) as u16 },
                rir: if single { Some(0.0) } else { rir },
                learns: set == 3,
            });
        }
    }
    let belief = SessionBelief {
        mean,
        covariance,
        lifts,
        curve: LoadRepCurve::new(dice.between(0.02, 0.045)).unwrap(),
        reserve_share: dice.between(0.05, 1.3),
        freak: Freak { share, widening: dice.between(2.0, 5.0), of_day: dice.between(0.0, 1.0) },
    };
    Drawn { belief, reserves, kgs, shortfall: dice.between(0.01, 0.06), sets }
}

/// A root of a covariance: capacity known within some percent, what is missing of usual within less, the
/// curve hardly; all of them share something.
fn draw_root(dice: &mut Dice, n: usize) -> Vec<Vec<f64>> {
    let mut root = vec![vec![0.0; 3 * n]; 3 * n];
    for (row, line) in root.iter_mut().enumerate() {
        let scale = [0.02, 0.012, 0.12][row % 3];
        for cell in &mut line[..=row] {
            *cell = scale * dice.between(-0.4, 0.6);
        }
        line[row] = scale * dice.between(0.5, 1.5);
    }
    root
}

impl Drawn {
    fn for_the_page(&self) -> Value {
        let belief = &self.belief;
        let lifts: Vec<Value> = (belief.lifts.iter().zip(&self.reserves).zip(&self.kgs))
            .map(|((lift, reserve), kg)| {
                json!({
                    "place": lift.lift, "moved_kg": kg, "reserve": reserve,
                    "luck_variance": lift.scatter_variance, "usual_shown": lift.usual_shown,
                    "usual_lean": lift.usual_lean,
                })
            })
            .collect();
        json!({
            "session": {
                "mean": belief.mean, "covariance": belief.covariance, "shortfall": self.shortfall,
                "reserve_share": belief.reserve_share, "curve_b": belief.curve.b(),
                "freak_share": belief.freak.share, "freak_widening": belief.freak.widening,
                "freak_of_day": belief.freak.of_day,
                "lifts": lifts,
            },
            "sets": self.sets,
        })
    }

    /// What the engine says of every set; none for sets of which nothing can be expected.
    fn by_the_engine(&self) -> Vec<Option<Said>> {
        let mut belief = self.belief.clone();
        self.sets
            .iter()
            .map(|done| {
                let reserve = match done.rir {
                    Some(rir) => Reserve::Reported(rir),
                    None => Reserve::unreported(self.reserves[done.place]),
                };
                let set = LeadSet { days: 0.0, moved_kg: done.kg, reps: done.reps, reserve };
                let expected = belief.expectation(done.place, &set)?;
                let shown = set.measure(belief.curve).ok().map(|seen| seen.log_one_rm);
                let (low, likely, high) = expected.reps_interval();
                let said =
                    shown.map(|shown| reading::hold_against(expected, shown, self.shortfall));
                if done.learns {
                    belief.learn(done.place, &set);
                }
                Some(Said {
                    p_mixture: shown.map(|shown| expected.p_shortfall(shown, self.shortfall)),
                    p: said.map(|said| said.p_shortfall),
                    capacity: shown.map(|shown| expected.capacity_given(shown)),
                    is_readable: shown.map(|_| reading::why_load_unread(&expected).is_none()),
                    low,
                    likely,
                    high,
                    chance: expected.chance_of_at_least(done.reps),
                    is_far_below: expected.is_far_below(done.reps),
                    mean: belief.mean.clone(),
                    covariance: belief.covariance.clone(),
                })
            })
            .collect()
    }
}

const BY_THE_PAGE: &str = "(async (url, sessions) => {
    const { beliefOf, forecast, learn, read, setOf } = await import(url);
    return sessions.map(({ session, sets }) => {
        const belief = beliefOf(session);
        return sets.map(({ place, kg, reps, rir, learns }) => {
            const lift = session.lifts[place];
            const set = setOf(lift, kg, reps, rir);
            const reading = read(session, belief, lift, set);
            const expected = forecast(session, belief, lift, set);
            if (learns) learn(session, belief, lift, set);
            return {
                p_mixture: reading?.pMixture ?? null, p: reading?.p ?? null,
                capacity: reading?.capacity ?? null, is_readable: reading?.isReadable ?? null,
                ...expected, mean: [...belief.mean], covariance: belief.covariance.map((row) => [...row]),
            };
        });
    });
})";

fn close(page: f64, engine: f64, scale: f64) -> bool {
    (page - engine).abs() <= CLOSE * scale.max(engine.abs())
}

fn alike(page: &Said, engine: &Said) -> bool {
    let some = |page: Option<f64>, engine: Option<f64>| match (page, engine) {
        (Some(page), Some(engine)) => close(page, engine, 1.0),
        (page, engine) => page == engine,
    };
    let all = |page: &[f64], engine: &[f64]| {
        page.len() == engine.len() && page.iter().zip(engine).all(|(p, e)| close(*p, *e, 1e-3))
    };
    some(page.p_mixture, engine.p_mixture)
        && some(page.p, engine.p)
        && some(page.capacity, engine.capacity)
        && page.is_readable == engine.is_readable
        && close(page.low, engine.low, 1.0)
        && close(page.likely, engine.likely, 1.0)
        && close(page.high, engine.high, 1.0)
        && close(page.chance, engine.chance, 1.0)
        && page.is_far_below == engine.is_far_below
        && all(&page.mean, &engine.mean)
        && page.covariance.iter().zip(&engine.covariance).all(|(p, e)| all(p, e))
}

/// A browser with an empty page.
struct Empty {
    browser: Browser,
    page: Page,
    _folder: tempfile::TempDir,
}

impl Empty {
    async fn new() -> Empty {
        let folder = tempfile::tempdir().unwrap();
        let config = BrowserConfig::builder()
            .chrome_executable("/usr/bin/chromium")
            .no_sandbox()
            .user_data_dir(folder.path())
            .launch_timeout(Duration::from_secs(60))
            .args(["--disable-gpu", "--disable-background-networking"])
            .build()
            .unwrap();
        let (browser, mut handler) = Browser::launch(config).await.unwrap();
        tokio::spawn(async move { while handler.next().await.is_some() {} });
        let page = browser.new_page("about:blank").await.unwrap();
        Empty { browser, page, _folder: folder }
    }

    /// Runs a function of a module's address and of data.
    async fn ask<T: DeserializeOwned>(&self, function: &str, module: &str, data: &Value) -> T {
        let address = json!(format!("data:text/javascript,{}", escaped(module)));
        let answer = self.page.evaluate(format!("{function}({address}, {data})")).await.unwrap();
        answer.into_value().unwrap()
    }

    async fn close(mut self) {
        self.browser.close().await.ok();
        self.browser.wait().await.ok();
    }
}

/// Text as part of an address.
fn escaped(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => char::from(byte).to_string(),
            other => format!("%{other:02X}"),
        })
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn page_and_engine_compute_alike() {
    let empty = Empty::new().await;
    let mut dice = Dice(20_310_504);
    let (mut compared, mut read, mut eased) = (0, 0, 0);
    for _ in 0..SESSIONS / AT_ONCE {
        let drawn: Vec<Drawn> = (0..AT_ONCE).map(|_| draw(&mut dice)).collect();
        let asked: Vec<Value> = drawn.iter().map(Drawn::for_the_page).collect();
        let by_page: Vec<Vec<Said>> =
            empty.ask(BY_THE_PAGE, SESSION_MODULE, &Value::from(asked)).await;
        for (session, page) in drawn.iter().zip(&by_page) {
            let engine = session.by_the_engine();
            assert_eq!(engine.len(), page.len());
            for ((said, page), done) in engine.iter().zip(page).zip(&session.sets) {
                let Some(said) = said else { continue };
                assert!(alike(page, said), "{done:?}\npage {page:#?}\nengine {said:#?}");
                compared += 1;
                read += usize::from(said.p.is_some());
                eased += usize::from(said.p.is_some_and(|p| p > 0.25));
            }
        }
    }
    assert!(read >= 10_000, "{read} of {compared}");
    // Both sides of the threshold have been there often.
    assert!(eased > read / 10 && eased < read * 9 / 10, "{eased} of {read}");
    empty.close().await;
}

/// What takes the place of the remaining sets: sets, repetitions and load in kg, or nothing.
type Instead = Option<(u8, u16, f64)>;

const EASED_BY_THE_PAGE: &str = "(async (url, cases) => {
    const { ease } = await import(url);
    return cases.map(({ lift, moved, one_rm, remaining }) => {
        const { speed } = ease(lift, { moved, oneRm: one_rm }, remaining);
        return speed ? [speed.sets, speed.reps, speed.rung.kg] : null;
    });
})";

/// The loads that a page has of a ladder around a target.
fn rungs(ladder: &Ladder, target: Load, lightest: f64) -> Vec<Value> {
    let mut loads = vec![target];
    while let Some(load) = ladder.next_below(loads[0]).filter(|_| loads[0].kg() >= lightest) {
        loads.insert(0, load);
    }
    for _ in 0..30 {
        loads.extend(loads.last().and_then(|load| ladder.next_above(*load)));
    }
    loads.into_iter().map(|load| json!({ "load": load.value(), "kg": load.kg() })).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn page_and_engine_ease_alike() {
    const BODY_KG: f64 = 78.0;
    let empty = Empty::new().await;
    let catalogue = Catalogue::built_in();
    let mut dice = Dice(7);
    let (mut cases, mut expected): (Vec<Value>, Vec<Instead>) = (vec![], vec![]);
    for (place, lift) in catalogue.lifts().iter().cycle().take(3_000).enumerate() {
        let unit = if place % 3 == 0 { Unit::Lb } else { Unit::Kg };
        let lifter = Lifter::usual(LifterName::new("Wilma Tarn").unwrap(), unit);
        let ladder = Ladder::new(lift, &lifter);
        let body_kg = lift.moved_kg(0.0, BODY_KG);
        let one_rm = body_kg + dice.between(8.0, 240.0);
        let target = ladder.nearest(one_rm * dice.between(0.6, 0.9) - body_kg);
        let moved = body_kg + target.kg();
        let remaining = dice.below(6) as u8;
        let today =
            Today { lift, ladder: &ladder, days: 0.0, body_mass_kg: Some(BODY_KG), forecast: None };
        let lead = EasedLead { moved_kg: moved, one_rm_kg: one_rm };
        expected.push(match target::ease(&today, lead, remaining, EaseChoice::SpeedWork) {
            Ease::Speed(speed) => Some((speed.sets, speed.reps.get(), speed.load.kg())),
            Ease::LeaveOut { .. } => None,
        });
        let no_speed = (lift.explosive || !lift.speed_ok).then_some("no speed work of it");
        cases.push(json!({
            "lift": {
                "body_kg": body_kg, "no_speed": no_speed,
                "rungs": rungs(&ladder, target, 0.45 * moved - body_kg),
            },
            "moved": moved, "one_rm": one_rm, "remaining": remaining,
        }));
    }
    let by_page: Vec<Instead> =
        empty.ask(EASED_BY_THE_PAGE, EASE_MODULE, &Value::from(cases.clone())).await;
    for ((page, engine), case) in by_page.iter().zip(&expected).zip(&cases) {
        let lift = &case["lift"]["rungs"].as_array().map(Vec::len);
        assert_eq!(page, engine, "1RM {} {} {lift:?}", case["one_rm"], case["remaining"]);
    }
    assert!(expected.iter().filter(|instead| instead.is_some()).count() > 1_000);
    let held = expected.iter().zip(&cases).filter(|(instead, case)| {
        let of = |key: &str| case[key].as_f64().unwrap();
        instead.is_some() && 0.85 * of("moved") < 0.7 * of("one_rm")
    });
    assert!(held.count() > 500, "the work load holds speed work down too seldom to compare");
    empty.close().await;
}

const HELD_BY_THE_PAGE: &str = "(async (url, cases) => {
    const { remaining } = await import(url);
    return cases.map(({ lift, lead, planned }) => remaining(lift, lead, planned).map(({ kg, reps }) => [kg, reps]));
})";

/// What remains after a lead set far below is the same on both sides.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn page_and_engine_hold_the_remaining_sets_alike() {
    const BODY_KG: f64 = 78.0;
    let empty = Empty::new().await;
    let catalogue = Catalogue::built_in();
    let mut dice = Dice(11);
    let (mut cases, mut expected): (Vec<Value>, Vec<Vec<(f64, u16)>>) = (vec![], vec![]);
    for (place, lift) in catalogue.lifts().iter().cycle().take(3_000).enumerate() {
        let unit = if place % 3 == 0 { Unit::Lb } else { Unit::Kg };
        let lifter = Lifter::usual(LifterName::new("Wilma Tarn").unwrap(), unit);
        let ladder = Ladder::new(lift, &lifter);
        let body_kg = lift.moved_kg(0.0, BODY_KG);
        let load = ladder.nearest(dice.between(5.0, 200.0));
        let moved_kg = body_kg + load.kg();
        let reps = 1 + dice.below(6) as u16;
        let reserve = (dice.between(0.0, 4.0)).round();
        let curve_b = dice.between(0.015, 0.06);
        let planned: Vec<(Load, Reps)> = (0..dice.below(5))
            .map(|_| (load, Reps::new(1 + dice.below(12) as u16).unwrap()))
            .collect();
        let today =
            Today { lift, ladder: &ladder, days: 0.0, body_mass_kg: Some(BODY_KG), forecast: None };
        let lead = DoneLead { moved_kg, reps, reserve, curve_b };
        let held = collapse::remaining(&today, lead, &planned);
        expected.push(held.iter().map(|(load, reps)| (load.kg(), reps.get())).collect());
        let planned: Vec<Value> = planned
            .iter()
            .map(
                |(load, reps)| json!({ "load": load.value(), "kg": load.kg(), "reps": reps.get() }),
            )
            .collect();
        cases.push(json!({
            "lift": { "body_kg": body_kg, "rungs": rungs(&ladder, load, 0.3 * moved_kg - body_kg) },
            "lead": { "moved": moved_kg, "reps": reps, "reserve": reserve, "b": curve_b },
            "planned": planned,
        }));
    }
    let by_page: Vec<Vec<(f64, u16)>> =
        empty.ask(HELD_BY_THE_PAGE, REMAINING_MODULE, &Value::from(cases.clone())).await;
    for ((page, engine), case) in by_page.iter().zip(&expected).zip(&cases) {
        assert_eq!(page, engine, "{} {}", case["lead"], case["planned"]);
    }
    let some = expected.iter().filter(|held| !held.is_empty()).count();
    let fewer = expected.iter().zip(&cases);
    let fewer = fewer.filter(|(held, case)| held.len() < case["planned"].as_array().unwrap().len());
    assert!(some > 1_000 && fewer.count() > 20, "{some}");
    empty.close().await;
}

const STOPPED_BY_THE_PAGE: &str = "(async (url, cases) => {
    const { newestRatings, stopOf } = await import(url);
    return cases.map(({ day, messages, lifts }) => {
        const ratings = newestRatings(day, messages);
        return lifts.map((lift) => stopOf(day, ratings, lift)?.rating ?? null);
    });
})";

/// The rule about pain: ratings from elsewhere and from the session, in any order of time, stop the same lifts by the
/// same rating on the phone and at the desk.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn page_and_engine_stop_the_same_lifts() {
    let empty = Empty::new().await;
    let catalogue = Catalogue::built_in();
    let mut dice = Dice(23);
    let (mut cases, mut expected): (Vec<Value>, Vec<Vec<Option<u8>>>) = (vec![], vec![]);
    for _ in 0..2_000 {
        let limit = dice.below(11) as u8;
        let mut all: Vec<Rating> = Vec::new();
        let draw = |dice: &mut Dice, minute: usize, joints: usize| {
            let pain = Pain::new(Joint::ALL[dice.below(joints)], dice.below(11) as u8).unwrap();
            let when =
                When::parse(&format!("2031-05-05T{:02}:{:02}", 8 + minute / 60, minute % 60));
            Rating { pain, when: when.unwrap() }
        };
        // What the desk has is the newest of each joint; what the session says may come before or after it.
        let elsewhere: Vec<Rating> = (0..dice.below(4))
            .map(|_| {
                let minute = dice.below(600);
                draw(&mut dice, minute, 4)
            })
            .collect();
        let elsewhere = newest(elsewhere);
        all.extend(&elsewhere);
        let mut messages: Vec<Value> = Vec::new();
        let mut minute = 0;
        for n in 0..dice.below(5) {
            minute += dice.below(200);
            let rating = draw(&mut dice, minute, 4);
            if elsewhere.iter().any(|known| known.when == rating.when) {
                continue; // of one second nobody knows which came later
            }
            all.push(rating);
            messages.push(json!({
                "kind": "pain", "id": n.to_string(), "joint": rating.pain.joint.key(),
                "rating": rating.pain.rating(), "at": rating.when.to_string(),
            }));
        }
        // The last one may still wait on the phone, and is then the newest.
        if dice.below(2) == 0
            && let (Some(message), Some(rating)) = (messages.last_mut(), all.last_mut())
        {
            message.as_object_mut().unwrap().remove("at");
            rating.when = When::parse("2031-05-05T23:59").unwrap();
        }
        let standing = standing(all.iter().copied(), limit);
        let lifts: Vec<&domain::Lift> =
            (0..4).map(|_| &catalogue.lifts()[dice.below(catalogue.lifts().len())]).collect();
        expected.push(
            lifts
                .iter()
                .map(|lift| match verdict(lift, &standing) {
                    PainVerdict::Stop(by) => Some(by.pain.rating()),
                    PainVerdict::Lightly(_) | PainVerdict::Unaffected => None,
                })
                .collect(),
        );
        let plain = |lift: &domain::Lift| -> Vec<&str> {
            let plain = lift.joints.iter().filter(|load| load.get() >= 0.5);
            plain.map(|load| load.joint.key()).collect()
        };
        let ratings: Vec<Value> = elsewhere
            .iter()
            .map(|one| {
                json!({
                    "joint": one.pain.joint.key(), "rating": one.pain.rating(),
                    "at": one.when.to_string(), "day": "Mon 5 May",
                })
            })
            .collect();
        cases.push(json!({
            "day": { "pain_limit": limit, "ratings": ratings },
            "messages": messages,
            "lifts": lifts.iter().map(|lift| json!({ "name": lift.name.to_string(), "plain_joints": plain(lift) }))
                .collect::<Vec<_>>(),
        }));
    }
    let by_page: Vec<Vec<Option<u8>>> =
        empty.ask(STOPPED_BY_THE_PAGE, PAIN_MODULE, &Value::from(cases.clone())).await;
    for ((page, engine), case) in by_page.iter().zip(&expected).zip(&cases) {
        assert_eq!(page, engine, "{case:#}");
    }
    let stopped = expected.iter().flatten().filter(|by| by.is_some()).count();
    assert!(stopped > 500 && stopped < 6_000, "{stopped}");
    empty.close().await;
}
