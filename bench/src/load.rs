//! Many at once: clients who each in turn tell a set by their phone's link, ask for the day's session as a phone
//! does, and look at a page of the desk, with a second's thought between. Beside it, in the same run, the same
//! clients tell as many sets a second and ask for nothing.
//!
//! It ends in an error if any answer is one, if a set isn't on record exactly once, or if the program doesn't
//! give back what it held. How long things take is printed and judged by whoever reads it.

use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use domain::LifterName;
use store::Store;
use ureq::Agent;

use crate::desk::{Desk, Held, Trouble, millis, plain, record, share_of};

/// What a client thinks between two requests.
const THOUGHT: Duration = Duration::from_secs(1);
/// Requests of a round.
const ROUND: u32 = 3;
/// Below so many clients it is the short form, on short records.
const MANY: usize = 100;
/// How long the program gets to give back what it held.
const CALM: Duration = Duration::from_secs(30);
/// A session has at most 99 sets of a lift.
const MOST_SETS: u32 = 99;

/// One client: a lifter's phone, and a browser of the coach who looks at that lifter.
struct Client<'a> {
    number: usize,
    desk: &'a Desk,
    agent: &'a Agent,
    /// The address of the floor's page.
    floor: String,
    /// The address of the lifter's page.
    page: String,
    day: String,
    lift: String,
    told: AtomicU64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ask {
    Set,
    Day,
    Page,
}

/// What came of one phase.
#[derive(Debug, Default)]
struct Tally {
    times: Mutex<Vec<(Ask, Duration)>>,
    errors: Mutex<Vec<String>>,
}

/// Runs so many clients for so many seconds.
pub(crate) fn run(
    program: &str,
    folder: &str,
    clients: &str,
    seconds: &str,
) -> Result<(), Trouble> {
    let (n, seconds): (usize, u32) = (clients.parse()?, seconds.parse()?);
    let is_short = n < MANY;
    let (lifters, weeks) = if is_short { (n.div_ceil(3), 20) } else { (n, 104) };
    let record = record(folder, program, lifters, weeks)?;
    let names = Store::open_read_only(&record)?.lifter_names()?;
    let before = n_sets(&record)?;
    let desk = Desk::serve(program, &record)?;
    let agent = many_at_once(n);
    eprintln!("reading the records");
    desk.until_all_are_read(&agent)?;
    let clients = begin(&desk, &agent, &names, n)?;
    let held = desk.holds()?;
    println!("load_clients {n}");
    println!("load_lifters {lifters}");
    println!("load_seconds {seconds}");
    println!("load_cores {}", std::thread::available_parallelism()?);
    // Alone as many sets a second are told as with everything else between.
    let alone =
        phase(&clients, &[Ask::Set], THOUGHT * ROUND, (seconds / 4).max(ROUND + 1), "alone")?;
    let mixed = phase(&clients, &[Ask::Set, Ask::Day, Ask::Page], THOUGHT, seconds, "mixed")?;
    print_times("alone", &alone);
    print_times("mixed", &mixed);
    let mut told = 0;
    for client in &clients {
        told += client.check()?;
    }
    drop(clients);
    drop(agent);
    given_back(&desk, held)?;
    drop(desk);
    let on_record = n_sets(&record)? - before;
    if on_record != told {
        return Err(format!("{told} sets were told and {on_record} are on record").into());
    }
    println!("load_told {told}");
    Ok(())
}

fn n_sets(record: &Path) -> Result<u64, Trouble> {
    Ok(Store::open_read_only(record)?.lifters()?.iter().map(|one| one.n_sets).sum())
}

/// One client for all, with a connection for each who asks at the same time.
fn many_at_once(n: usize) -> Agent {
    Agent::config_builder()
        .http_status_as_error(false)
        .max_idle_connections(n)
        .max_idle_connections_per_host(n)
        .timeout_global(Some(Duration::from_secs(60)))
        .build()
        .into()
}

fn begin<'a>(
    desk: &'a Desk,
    agent: &'a Agent,
    names: &[LifterName],
    n: usize,
) -> Result<Vec<Client<'a>>, Trouble> {
    let mut clients = Vec::new();
    for number in 0..n {
        let name = &names[number % names.len()];
        let floor = desk.phone_link(agent, name)?;
        let page = String::from_utf8(plain(agent, &floor)?)?;
        let after = |start: &str, end: char| {
            let rest = page.split(start).nth(1).and_then(|rest| rest.split(end).next());
            rest.map(str::to_owned).ok_or_else(|| format!("the floor's page has no `{start}`"))
        };
        clients.push(Client {
            number,
            desk,
            agent,
            day: after("&quot;date&quot;:&quot;", '&')?,
            lift: after("data-lift=\"", '"')?,
            page: desk.lifter(name),
            floor,
            told: AtomicU64::new(0),
        });
    }
    Ok(clients)
}

/// Lets all clients ask in turn for `round`, until the time is over.
fn phase(
    clients: &[Client<'_>],
    round: &[Ask],
    thought: Duration,
    seconds: u32,
    name: &str,
) -> Result<Vec<(Ask, Duration)>, Trouble> {
    let tally = Tally::default();
    let begun = Instant::now();
    let until = begun + Duration::from_secs(seconds.into());
    std::thread::scope(|scope| {
        for client in clients {
            let tally = &tally;
            scope.spawn(move || {
                // Nobody starts at the same moment as everybody else.
                std::thread::sleep(thought * client.number as u32 / clients.len() as u32);
                for turn in client.number.. {
                    if Instant::now() >= until {
                        return;
                    }
                    tally.ask(client, round[turn % round.len()]);
                    std::thread::sleep(thought);
                }
            });
        }
        while Instant::now() < until {
            let n = tally.times.lock().map_or(0, |times| times.len());
            let ran = begun.elapsed().as_secs();
            eprint!("\r{name}: {ran} of {seconds} s, {n} answers ");
            std::thread::sleep(THOUGHT);
        }
    });
    eprintln!();
    let errors = tally.errors.into_inner().map_err(|_| "a client fell over")?;
    if let Some(first) = errors.first() {
        return Err(format!("{} answers were errors; the first: {first}", errors.len()).into());
    }
    Ok(tally.times.into_inner().map_err(|_| "a client fell over")?)
}

impl Tally {
    fn ask(&self, client: &Client<'_>, what: Ask) {
        let begun = Instant::now();
        let answer = match what {
            Ask::Set => client.tell(),
            Ask::Day => client.look(&format!("{}/day.json", client.floor)),
            Ask::Page if client.told.load(Ordering::Relaxed).is_multiple_of(4) => {
                client.look(&format!("{}/", client.desk.address))
            }
            Ask::Page => client.look(&client.page),
        };
        let took = begun.elapsed();
        match answer {
            Ok(()) => self.times.lock().map(|mut times| times.push((what, took))).unwrap_or(()),
            Err(error) => {
                self.errors
                    .lock()
                    .map(|mut all| all.push(format!("{what:?}: {error}")))
                    .unwrap_or(());
            }
        }
    }
}

impl Client<'_> {
    /// Tells one set more, as the phone does.
    fn tell(&self) -> Result<(), Trouble> {
        let number = self.told.load(Ordering::Relaxed) + 1;
        if number > MOST_SETS.into() {
            return Err("so many sets can't be numbered; run it for a shorter time".into());
        }
        let now = jiff::Timestamp::now().as_millisecond();
        let message = format!(
            "{{\"sent\":{now},\"messages\":[{{\"id\":\"{}\",\"kind\":\"set\",\"day\":\"{}\",\"logged\":{now},\
             \"lift\":\"{}\",\"load\":50,\"unit\":\"kg\",\"reps\":5,\"rir\":2,\"set_kind\":\"work\"}}]}}",
            self.id(number),
            self.day,
            self.lift,
        );
        let to = format!("{}/messages?date={}", self.floor, self.day);
        let sent = self.agent.post(&to).header("origin", &self.desk.address);
        let answer = sent.header("content-type", "application/json").send(&message)?;
        let (status, text) = (answer.status(), answer.into_body().read_to_string()?);
        if !status.is_success() || !text.contains("\"refused\":null") {
            return Err(format!("{status}: {}", start_of(&text)).into());
        }
        self.told.store(number, Ordering::Relaxed);
        Ok(())
    }

    fn look(&self, address: &str) -> Result<(), Trouble> {
        let answer = self.agent.get(address).header("accept-encoding", "gzip").call()?;
        let (status, bytes) = (answer.status(), answer.into_body().read_to_vec()?);
        if status.is_success() {
            Ok(())
        } else {
            let text = String::from_utf8_lossy(&bytes);
            Err(format!("{status}: {}", start_of(&text)).into())
        }
    }

    /// How many sets this client has told, if each is on record once.
    fn check(&self) -> Result<u64, Trouble> {
        let day = format!("{}/day.json?date={}", self.floor, self.day);
        let text = String::from_utf8(plain(self.agent, &day)?)?;
        let told = self.told.load(Ordering::Relaxed);
        for number in 1..=told {
            let n = text.matches(&format!("\"id\":\"{}\"", self.id(number))).count();
            if n != 1 {
                return Err(
                    format!("set {number} of client {} is there {n} times", self.number).into()
                );
            }
        }
        Ok(told)
    }

    /// The id of this client's set of that number.
    fn id(&self, number: u64) -> String {
        format!("00000000-0000-4000-8000-{:04x}{number:08x}", self.number)
    }
}

fn start_of(text: &str) -> String {
    text.chars().take(200).collect()
}

fn print_times(phase: &str, times: &[(Ask, Duration)]) {
    for (ask, name) in [(Ask::Set, "set"), (Ask::Day, "day"), (Ask::Page, "page")] {
        let of_it = times.iter().filter(|(what, _)| *what == ask);
        let mut times: Vec<Duration> = of_it.map(|(_, took)| *took).collect();
        if times.is_empty() {
            continue;
        }
        println!("load_{phase}_{name}s {}", times.len());
        for (share, what) in [(0.5, "median"), (0.99, "p99"), (1.0, "longest")] {
            println!("load_{phase}_{name}_{what}_ms {}", millis(share_of(&mut times, share)));
        }
    }
}

/// Waits until the program holds what it held before, or says what it doesn't give back.
fn given_back(desk: &Desk, before: Held) -> Result<(), Trouble> {
    // What is open or running between two requests anyway: connections to the record, and threads of lanes.
    const DESCRIPTORS: u64 = 24;
    const THREADS: u64 = 10;
    const MEMORY_MB: u64 = 256;
    let begun = Instant::now();
    loop {
        let after = desk.holds()?;
        let is_back = after.descriptors <= before.descriptors + DESCRIPTORS
            && after.threads <= before.threads + THREADS
            && after.memory_mb <= before.memory_mb + MEMORY_MB;
        if is_back {
            for (when, held) in [("before", before), ("after", after)] {
                println!("load_memory_{when}_mb {}", held.memory_mb);
                println!("load_threads_{when} {}", held.threads);
                println!("load_descriptors_{when} {}", held.descriptors);
            }
            return Ok(());
        }
        if begun.elapsed() > CALM {
            return Err(
                format!("it doesn't give back what it held: {before:?}, now {after:?}").into()
            );
        }
        std::thread::sleep(Duration::from_millis(250));
    }
}
