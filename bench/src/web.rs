//! The desk under load: the program itself serving a thousand lifters of two years each, asked for pages at a
//! steady rate, and told sets one by one. Beside it, in the same run, a bare axum handler that answers with the
//! very same bytes.
//!
//! Requests are sent when they are due and timed from then, so an answer that comes late makes the ones behind
//! it late too, as it would for people. Pages are asked for compressed, as browsers do.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, mpsc};
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::Bytes;
use axum::http::header::{CONTENT_ENCODING, CONTENT_TYPE};
use axum::routing::any;
use domain::LifterName;
use store::Store;
use ureq::Agent;

use crate::desk::{Desk, Trouble, agent, get, millis, plain, record, share_of};

const WEEKS: u16 = 104;
/// Requests a second.
const RATE: u32 = 50;
/// People who ask at the same time at most.
const WORKERS: usize = 24;
/// Sets told (a session has at most 99 of a lift).
const SETS: usize = 90;
/// Repeats of each page beside the bare handler.
const REPEATS: usize = 200;
const FEWEST_REPEATS: usize = 8;

/// Runs the bench for so many lifters and asks for so many seconds; `folder` keeps the record between runs.
pub(crate) fn run(
    program: &str,
    folder: &str,
    lifters: &str,
    seconds: &str,
) -> Result<(), Trouble> {
    let (n, seconds): (usize, u32) = (lifters.parse()?, seconds.parse()?);
    let record = record(folder, program, n, WEEKS)?;
    let names = Store::open_read_only(&record)?.lifter_names()?;
    println!("web_lifters {n}");
    println!(
        "web_sets {}",
        Store::open_read_only(&record)?.lifters()?.iter().map(|one| one.n_sets).sum::<u64>()
    );
    let desk = Desk::serve(program, &record)?;
    let client = agent();
    let begun = Instant::now();
    plain(&client, &format!("{}/", desk.address))?;
    println!("web_first_squad_ms {}", millis(begun.elapsed()));
    desk.until_all_are_read(&client)?;
    println!("web_all_read_ms {}", millis(begun.elapsed()));
    println!("web_memory_mb {}", desk.holds()?.memory_mb);
    let pages = pages_of(&client, &desk.address, &names)?;
    steady(&desk.address, &pages, seconds)?;
    sets(&desk, &names)?;
    println!("web_memory_after_mb {}", desk.holds()?.memory_mb);
    Ok(())
}

/// The kinds of page with how many of a hundred requests are for it, and the addresses of each.
struct Kind {
    name: &'static str,
    share: u32,
    paths: Vec<String>,
}

fn pages_of(client: &Agent, address: &str, names: &[LifterName]) -> Result<Vec<Kind>, Trouble> {
    let path = |name: &LifterName| format!("/lifter/{}", name.as_str().replace(' ', "%20"));
    let of_each = |end: &str| names.iter().map(|name| format!("{}{end}", path(name))).collect();
    let one = |path: &str| vec![path.to_owned()];
    // A lifter's page names the lifts; one of each of fifty lifters is asked for.
    let lifts = names.iter().step_by(1.max(names.len() / 50)).enumerate().map(|(nth, name)| {
        let page = String::from_utf8(plain(client, &format!("{address}{}", path(name)))?)?;
        let start = format!("href=\"{}/lift/", path(name));
        let lifts = page.split(&start).skip(1).filter_map(|rest| rest.split('"').next());
        let mut lifts: Vec<&str> = lifts.collect();
        lifts.dedup();
        let lift = lifts.get(nth % lifts.len().max(1)).ok_or("a lifter's page names no lift")?;
        Ok::<_, Trouble>(format!("{}/lift/{lift}", path(name)))
    });
    let lifts = lifts.collect::<Result<_, _>>()?;
    Ok(vec![
        Kind { name: "squad", share: 10, paths: one("/") },
        Kind { name: "lifter", share: 35, paths: of_each("") },
        Kind { name: "lift", share: 30, paths: lifts },
        Kind { name: "card", share: 15, paths: of_each("/card") },
        Kind { name: "settings", share: 5, paths: of_each("/settings") },
        Kind { name: "new-lifter", share: 5, paths: one("/new-lifter") },
    ])
}

/// Asks for pages at a steady rate.
fn steady(address: &str, kinds: &[Kind], seconds: u32) -> Result<(), Trouble> {
    let (due, waiting) = mpsc::channel::<(Instant, usize, String)>();
    let waiting = Arc::new(Mutex::new(waiting));
    let (done, times) = mpsc::channel();
    let workers: Vec<_> = (0..WORKERS)
        .map(|_| {
            let (waiting, done, address) = (Arc::clone(&waiting), done.clone(), address.to_owned());
            std::thread::spawn(move || {
                let client = agent();
                loop {
                    let next = waiting.lock().map(|waiting| waiting.recv());
                    let Ok(Ok((due, kind, path))) = next else { return };
                    let answer = get(&client, &format!("{address}{path}"));
                    let told = answer.map(|_| due.elapsed()).map_err(|error| error.to_string());
                    if done.send((kind, told)).is_err() {
                        return;
                    }
                }
            })
        })
        .collect();
    drop(done);
    let mut random = 1_u64;
    let mut next = |n: usize| {
        random =
            random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (random >> 33) as usize % n
    };
    let begun = Instant::now();
    for number in 0..RATE * seconds {
        let at = begun + Duration::from_secs(1) * number / RATE;
        std::thread::sleep(at.saturating_duration_since(Instant::now()));
        let mut place = next(100) as u32;
        let kind = kinds.iter().position(|kind| {
            let is_it = place < kind.share;
            place = place.saturating_sub(kind.share);
            is_it
        });
        let kind = kind.ok_or("the shares don't come to a hundred")?;
        let paths = &kinds[kind].paths;
        due.send((at, kind, paths[next(paths.len())].clone()))?;
    }
    drop(due);
    let mut all = Vec::new();
    let mut by_kind: BTreeMap<usize, Vec<Duration>> = BTreeMap::new();
    for (kind, time) in times {
        let time = time?;
        all.push(time);
        by_kind.entry(kind).or_default().push(time);
    }
    for worker in workers {
        worker.join().map_err(|_| "a worker fell over")?;
    }
    println!("web_requests {}", all.len());
    println!("web_median_ms {}", millis(share_of(&mut all, 0.5)));
    println!("web_p99_ms {}", millis(share_of(&mut all, 0.99)));
    for (kind, mut times) in by_kind {
        let name = kinds[kind].name;
        println!("web_{name}_median_ms {}", millis(share_of(&mut times, 0.5)));
        println!("web_{name}_p99_ms {}", millis(share_of(&mut times, 0.99)));
    }
    // In a run of a minute all of them.
    beside_bare(address, kinds, (REPEATS * seconds as usize / 60).clamp(FEWEST_REPEATS, REPEATS))
}

/// Each kind of page, one request after the other, in turn with a bare handler that answers the same bytes.
fn beside_bare(address: &str, kinds: &[Kind], repeats: usize) -> Result<(), Trouble> {
    let client = agent();
    for kind in kinds {
        let path = &kind.paths[kind.paths.len() / 2];
        let ours = format!("{address}{path}");
        let (bytes, kind_of_content) = get(&client, &ours)?;
        println!("web_{}_bytes {}", kind.name, bytes.len());
        let bare = bare(bytes, &kind_of_content)?;
        let (ours, bare) = in_turn(
            || get(&client, &ours).map(drop),
            || get(&client, &format!("http://{bare}/")).map(drop),
            repeats,
        )?;
        println!("web_{}_alone_ms {}", kind.name, millis(ours));
        println!("web_{}_bare_ms {}", kind.name, millis(bare));
    }
    Ok(())
}

/// Tells sets one by one, each confirmed on the disk, in turn with the bare handler; and weighs the floor's page.
fn sets(desk: &Desk, names: &[LifterName]) -> Result<(), Trouble> {
    let client = agent();
    let lifter = names.last().ok_or("there is no lifter")?;
    let floor = desk.phone_link(&client, lifter)?;
    let page = String::from_utf8(plain(&client, &floor)?)?;
    println!("web_floor_bytes {}", weight(&client, &desk.address, &floor, &page)?);
    let day = page.split("&quot;date&quot;:&quot;").nth(1).and_then(|rest| rest.get(..10));
    let day = day.ok_or("the floor's page names no day")?;
    let lift = page.split("data-lift=\"").nth(1).and_then(|rest| rest.split('"').next());
    let lift = lift.ok_or("the floor's page has no lift")?;
    let mut number = 0_u32;
    let mut tell = |to: &str| {
        number += 1;
        let now = jiff::Timestamp::now().as_millisecond();
        let message = format!(
            "{{\"sent\":{now},\"messages\":[{{\"id\":\"00000000-0000-4000-8000-{number:012x}\",\"kind\":\"set\",\
             \"day\":\"{day}\",\"logged\":{now},\"lift\":\"{lift}\",\"load\":50,\"unit\":\"kg\",\"reps\":5,\
             \"rir\":2,\"set_kind\":\"work\"}}]}}"
        );
        let answer = client
            .post(to)
            .header("origin", &desk.address)
            .header("content-type", "application/json")
            .send(&message)?;
        let answer = answer.into_body().read_to_string()?;
        if answer.contains("\"refused\":null") || to.ends_with("bare") {
            Ok::<_, Trouble>(answer)
        } else {
            Err(format!("a set was refused: {answer}").into())
        }
    };
    let ours = format!("{floor}/messages");
    let bare = bare(tell(&ours)?.into_bytes(), "application/json")?;
    let bare = format!("http://{bare}/bare");
    let mut times = [Vec::new(), Vec::new()];
    for _ in 0..SETS {
        for (place, to) in [&ours, &bare].into_iter().enumerate() {
            let begun = Instant::now();
            tell(to)?;
            times[place].push(begun.elapsed());
        }
    }
    let [mut ours, mut bare] = times;
    println!("web_told {}", ours.len());
    println!("web_set_ms {}", millis(share_of(&mut ours, 0.5)));
    println!("web_set_p99_ms {}", millis(share_of(&mut ours, 0.99)));
    println!("web_set_bare_ms {}", millis(share_of(&mut bare, 0.5)));
    Ok(())
}

/// Bytes over the wire of the floor's page and all that it loads.
fn weight(client: &Agent, address: &str, floor: &str, page: &str) -> Result<usize, Trouble> {
    let mut bytes = get(client, floor)?.0.len();
    let mut files: Vec<&str> = ["href=\"/", "src=\"/"]
        .into_iter()
        .flat_map(|start| page.split(start).skip(1))
        .filter_map(|rest| rest.split('"').next())
        .collect();
    files.push("floor/sw.js");
    files.sort_unstable();
    files.dedup();
    for file in files {
        bytes += get(client, &format!("{address}/{file}"))?.0.len();
    }
    Ok(bytes)
}

/// Two things in turn; the median of each.
fn in_turn(
    mut one: impl FnMut() -> Result<(), Trouble>,
    mut other: impl FnMut() -> Result<(), Trouble>,
    repeats: usize,
) -> Result<(Duration, Duration), Trouble> {
    let (mut first, mut second) = (Vec::new(), Vec::new());
    for _ in 0..repeats {
        let begun = Instant::now();
        one()?;
        first.push(begun.elapsed());
        let begun = Instant::now();
        other()?;
        second.push(begun.elapsed());
    }
    Ok((share_of(&mut first, 0.5), share_of(&mut second, 0.5)))
}

/// A bare axum server that answers everything with these bytes.
fn bare(bytes: Vec<u8>, kind: &str) -> Result<SocketAddr, Trouble> {
    let listener = std::net::TcpListener::bind("127.0.0.1:0")?;
    listener.set_nonblocking(true)?;
    let address = listener.local_addr()?;
    let (bytes, kind) = (Bytes::from(bytes), kind.to_owned());
    let is_packed = bytes.starts_with(&[0x1f, 0x8b]);
    std::thread::spawn(move || {
        let serving = async move {
            let answer = move || {
                let encoding = if is_packed { "gzip" } else { "identity" };
                let headers =
                    [(CONTENT_TYPE, kind.clone()), (CONTENT_ENCODING, encoding.to_owned())];
                std::future::ready((headers, bytes.clone()))
            };
            let app = Router::new().fallback(any(answer));
            axum::serve(tokio::net::TcpListener::from_std(listener)?, app).await
        };
        // It ends with the bench.
        tokio::runtime::Runtime::new().map(|runtime| runtime.block_on(serving).ok()).ok();
    });
    Ok(address)
}
