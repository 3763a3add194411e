//! A gym of invented lifters, with the program serving it.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use jiff::ToSpan;
use serde_json::Value;
use service::Store;

/// The lifter, who is invented.
pub(crate) const NAME: &str = "Wilma Tarn";

/// A store in a folder of its own, and the program serving it.
pub(crate) struct Gym {
    folder: tempfile::TempDir,
    server: Option<Child>,
    port: u16,
}

impl Gym {
    /// A record of four lifts over sixteen weeks, two sessions of a week before today at the latest, served.
    pub(crate) fn open() -> Gym {
        let gym = Gym::closed();
        let log = gym.folder.path().join("log.csv");
        std::fs::write(&log, log_text()).unwrap();
        gym.run(&["import", log.to_str().unwrap()]);
        gym.opened()
    }

    /// [`Gym::open`], the lifter having rated a joint so many days ago.
    pub(crate) fn open_with_pain(joint: &str, rating: u8, days_ago: i32) -> Gym {
        let gym = Gym::closed();
        let log = gym.folder.path().join("log.csv");
        std::fs::write(&log, log_text()).unwrap();
        gym.run(&["import", log.to_str().unwrap()]);
        let day = jiff::ZonedDateTime::now().date().checked_sub(days_ago.days()).unwrap();
        let (day, rating) = (day.to_string(), rating.to_string());
        gym.run(&["joints", NAME, "--joint", joint, "--pain", &rating, "--today", &day]);
        gym.opened()
    }

    /// [`Gym::open`] with front squats on days of their own.
    pub(crate) fn with_front_squats() -> Gym {
        let gym = Gym::closed();
        let log = gym.folder.path().join("log.csv");
        std::fs::write(&log, log_text() + &front_squats()).unwrap();
        gym.run(&["import", log.to_str().unwrap()]);
        gym.opened()
    }

    /// The invented squad of the demonstration, served.
    pub(crate) fn of_squad() -> Gym {
        let gym = Gym::closed();
        gym.run(&["demo", "--to", gym.store_path().to_str().unwrap()]);
        gym.opened()
    }

    /// Nobody on record yet, served.
    pub(crate) fn of_nobody() -> Gym {
        Gym::closed().opened()
    }

    fn closed() -> Gym {
        Gym { folder: tempfile::tempdir().unwrap(), server: None, port: 0 }
    }

    fn opened(mut self) -> Gym {
        self.serve();
        self
    }

    fn run(&self, arguments: &[&str]) {
        let output = self.command(arguments).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_bellwether"));
        command.args(arguments).env("BELLWETHER_STORE", self.store_path());
        command
    }

    fn store_path(&self) -> PathBuf {
        self.folder.path().join("record.bellwether")
    }

    /// The store, read beside the program.
    pub(crate) fn store(&self) -> Store {
        Store::open_read_only(&self.store_path()).unwrap()
    }

    /// Serves again at the same address.
    pub(crate) fn serve(&mut self) {
        let port = self.port.to_string();
        let mut server = self
            .command(&["--json", "serve", "--port", &port])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(server.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let told: Value = serde_json::from_str(&line).unwrap();
        let address = told["address"].as_str().unwrap();
        self.port = address.trim_end_matches('/').rsplit(':').next().unwrap().parse().unwrap();
        self.server = Some(server);
    }

    /// Stops serving, at once and without a farewell.
    pub(crate) fn stop(&mut self) {
        if let Some(mut server) = self.server.take() {
            server.kill().ok();
            server.wait().ok();
        }
    }

    /// The address of the desk, without a slash at the end.
    pub(crate) fn address(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// The lifter's page at the desk.
    pub(crate) fn lifter_path(&self) -> String {
        format!("{}/lifter/Wilma%20Tarn", self.address())
    }
}

impl Drop for Gym {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The lifts with their load at the start and gain a session, in kg.
const LIFTS: [(&str, f64, f64); 4] = [
    ("back squat", 100.0, 0.5),
    ("leg press", 180.0, 1.0),
    ("bench press", 70.0, 0.35),
    ("chin-up", 10.0, 0.1),
];

/// A log in the program's own columns, with dates up to yesterday; the last lift is too new to be read.
pub(crate) fn log_text() -> String {
    let today = jiff::ZonedDateTime::now().date();
    let mut text = String::from("lifter,date,lift,set,load,unit,reps,rir\n");
    for session in 0..36_i32 {
        let ago = 3 + 7 * ((35 - session) / 2) + if session % 2 == 0 { 4 } else { 0 };
        let date = today.checked_sub(ago.days()).unwrap();
        for (place, (lift, start, gain)) in LIFTS.iter().enumerate() {
            if place == 3 && session < 34 {
                continue;
            }
            let load = ((start + gain * f64::from(session)) / 2.5).round() * 2.5;
            for set in 1..=3 {
                let reps = 6 + (session * 5 + place as i32 * 3) % 2 - set / 3;
                text.push_str(&format!("{NAME},{date},{lift},{set},{load},kg,{reps},2\n"));
            }
        }
    }
    text
}

/// Front squats over sixteen weeks, on other days than the sessions of [`log_text`].
fn front_squats() -> String {
    let today = jiff::ZonedDateTime::now().date();
    let line = |(week, set): (i32, i32)| {
        let date = today.checked_sub((5 + 7 * (15 - week)).days()).unwrap();
        format!("{NAME},{date},front squat,{set},{},kg,{},2\n", 80 + week / 4 * 5, 6 - set / 3)
    };
    (0..16).flat_map(|week| (1..=3).map(move |set| (week, set))).map(line).collect()
}
