//! The program serving a record of virtual lifters, and how it is asked: what the benches of the pages share.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use axum::http::header::CONTENT_TYPE;
use domain::{CheckIn, Lifter, LifterName, LoggedSet};
use engine::recovery::MODEL_VERSION;
use engine::virtual_lifters::{World, draw};
use store::{OnDifference, Store};
use ureq::Agent;

pub(crate) type Trouble = Box<dyn std::error::Error + Send + Sync>;

pub(crate) fn agent() -> Agent {
    Agent::config_builder().http_status_as_error(true).build().into()
}

/// An answer as it came over the wire, packed, and what it holds.
pub(crate) fn get(client: &Agent, address: &str) -> Result<(Vec<u8>, String), Trouble> {
    let answer = client.get(address).header("accept-encoding", "gzip").call()?;
    let kind = answer.headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    let kind = kind.unwrap_or_default().to_owned();
    Ok((answer.into_body().into_with_config().limit(1 << 28).read_to_vec()?, kind))
}

/// An answer as text that isn't packed.
pub(crate) fn plain(client: &Agent, address: &str) -> Result<Vec<u8>, Trouble> {
    let answer = client.get(address).header("accept-encoding", "identity").call()?;
    Ok(answer.into_body().into_with_config().limit(1 << 28).read_to_vec()?)
}

/// The program, serving.
pub(crate) struct Desk {
    server: Child,
    pub(crate) address: String,
}

impl Desk {
    pub(crate) fn serve(program: &str, record: &Path) -> Result<Desk, Trouble> {
        let mut server = Command::new(program)
            .args(["--json", "serve", "--port", "0", "--store"])
            .arg(record)
            .stdout(Stdio::piped())
            .spawn()?;
        let mut line = String::new();
        let told = server.stdout.as_mut().ok_or("the program says nothing")?;
        BufReader::new(told).read_line(&mut line)?;
        let address = line.split("\"address\":\"").nth(1).and_then(|rest| rest.split('"').next());
        let address = address.ok_or("the program names no address")?.trim_end_matches('/');
        Ok(Desk { server, address: address.to_owned() })
    }

    /// The address below which a lifter's pages are.
    pub(crate) fn lifter(&self, name: &LifterName) -> String {
        format!("{}/lifter/{}", self.address, name.as_str().replace(' ', "%20"))
    }

    /// Makes a phone's link for a lifter: the address of the floor's page.
    pub(crate) fn phone_link(&self, client: &Agent, name: &LifterName) -> Result<String, Trouble> {
        let links = format!("{}/links", self.lifter(name));
        let page = client.post(&links).header("origin", &self.address).send_empty()?;
        let page = page.into_body().read_to_string()?;
        let start = format!("{}/floor/", self.address);
        let token = page.split(&start).nth(1).and_then(|rest| rest.split('"').next());
        Ok(format!("{start}{}", token.ok_or("the desk made no link")?))
    }

    /// Looks at the page of all lifters until it no longer says that it is reading.
    pub(crate) fn until_all_are_read(&self, client: &Agent) -> Result<(), Trouble> {
        let squad = format!("{}/", self.address);
        while String::from_utf8(plain(client, &squad)?)?.contains("still reading the records") {
            std::thread::sleep(Duration::from_millis(500));
        }
        Ok(())
    }

    /// What the program holds.
    pub(crate) fn holds(&self) -> Result<Held, Trouble> {
        let process = format!("/proc/{}", self.server.id());
        let status = fs::read_to_string(format!("{process}/status"))?;
        let number = |name: &str| -> Result<u64, Trouble> {
            let line = status.lines().find_map(|line| line.strip_prefix(name));
            let number = line.and_then(|line| line.split_whitespace().next());
            Ok(number.ok_or("the system says nothing of the program")?.parse()?)
        };
        Ok(Held {
            memory_mb: number("VmRSS:")? / 1024,
            threads: number("Threads:")?,
            descriptors: fs::read_dir(format!("{process}/fd"))?.count() as u64,
        })
    }
}

/// What a program holds of the system.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Held {
    pub(crate) memory_mb: u64,
    pub(crate) threads: u64,
    pub(crate) descriptors: u64,
}

impl Drop for Desk {
    fn drop(&mut self) {
        self.server.kill().ok();
        self.server.wait().ok();
    }
}

/// The record of `n` lifters of so many weeks in `folder`, made if it isn't there.
pub(crate) fn record(
    folder: &str,
    program: &str,
    n: usize,
    weeks: u16,
) -> Result<PathBuf, Trouble> {
    let path = Path::new(folder).join(format!("{n}-lifters-{weeks}-weeks.bellwether"));
    if !path.exists() {
        make_record(&path, program, n, weeks)?;
    }
    Ok(path)
}

/// Makes the record of `n` lifters up to today: virtual lifters, each with a body of its own, and copies of
/// them under other names beyond so many, since their fits take long. The program makes the fits.
fn make_record(path: &Path, program: &str, n: usize, weeks: u16) -> Result<(), Trouble> {
    const BODIES: usize = 40;
    let today = jiff::tz::Offset::UTC.to_datetime(jiff::Timestamp::now()).date();
    let half = path.with_extension("half");
    fs::remove_file(&half).ok();
    let bodies = draw(&World::brisk(), 1, BODIES.min(n), weeks, today)?.lifters;
    let store = Store::open(&half)?;
    let name = |number: usize| LifterName::new(&format!("Lifter {number:04}"));
    let write = |numbers: std::ops::Range<usize>| {
        let mut import = store.begin_import("the bench", jiff::Timestamp::now())?;
        for number in numbers {
            let (name, body) = (name(number)?, &bodies[number % BODIES]);
            import.add_lifter_if_missing(&Lifter { name: name.clone(), ..body.lifter.clone() })?;
            for set in &body.sets {
                let set = LoggedSet { lifter: name.clone(), ..set.clone() };
                import.add_set(&set, OnDifference::Keep)?;
            }
            for told in &body.check_ins {
                let told = CheckIn { lifter: name.clone(), ..told.clone() };
                import.add_check_in(&told, OnDifference::Keep)?;
            }
        }
        import.commit()?;
        Ok::<_, Trouble>(())
    };
    write(0..bodies.len())?;
    // What it says isn't ours to say: our own lines are read as numbers.
    let refit = &mut Command::new(program);
    let refitted = refit.args(["refit", "--store"]).arg(&half).stdout(Stdio::null()).status()?;
    if !refitted.success() {
        return Err("refit failed".into());
    }
    for first in (bodies.len()..n).step_by(BODIES) {
        eprint!("\rwriting {first} of {n} lifters ");
        write(first..n.min(first + BODIES))?;
        // What was fitted to a body holds for its copies.
        for number in first..n.min(first + BODIES) {
            let fits = store.kept_fits(&name(number % BODIES)?, MODEL_VERSION)?;
            store.keep_fits(&name(number)?, store.pooled_id_in_force()?, &fits)?;
        }
    }
    eprintln!();
    drop(store);
    fs::rename(&half, path)?;
    Ok(())
}

/// The time that this share of all times doesn't pass.
pub(crate) fn share_of(times: &mut [Duration], share: f64) -> Duration {
    times.sort_unstable();
    times[((times.len() - 1) as f64 * share).round() as usize]
}

pub(crate) fn millis(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}
