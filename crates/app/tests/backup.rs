//! Backups and restoring as a coach does both, with the program itself: by hand, while the desk is served, by itself
//! once a day, and after the worst that can happen to a store. All people are invented.

#![cfg(unix)]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

const HEADER: &str = "lifter,date,lift,set,kind,load,unit,reps,rir,note\n";
/// How long a busy machine may take for anything here.
const PATIENCE: Duration = Duration::from_secs(120);

struct Gym {
    folder: tempfile::TempDir,
}

struct Told {
    code: i32,
    out: String,
    err: String,
}

impl Gym {
    /// Nothing on record yet.
    fn empty() -> Gym {
        Gym { folder: tempfile::tempdir().unwrap() }
    }

    /// Three sets of one lifter.
    fn new() -> Gym {
        let gym = Gym::empty();
        gym.import("Ada Quill", &[1, 2, 3]);
        gym
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        self.path(name).to_str().unwrap().to_owned()
    }

    fn import(&self, who: &str, numbers: &[u8]) {
        let line = |n: &u8| format!("{who},2031-05-04,back squat,{n},work,100,kg,5,2,\n");
        let log: String = numbers.iter().map(line).collect();
        fs::write(self.path("log.csv"), format!("{HEADER}{log}")).unwrap();
        self.check(&["--today", "2031-05-04", "import", &self.text("log.csv")], 0);
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_bellwether"));
        command.args(arguments).stdin(Stdio::null()).current_dir(self.folder.path());
        for variable in ["BELLWETHER_BACKUP_FOLDER", "BELLWETHER_KEEP_BACKUPS"] {
            command.env_remove(variable);
        }
        command.env("BELLWETHER_STORE", self.path("record.bellwether"));
        command
    }

    fn check(&self, arguments: &[&str], code: i32) -> String {
        let told = told(self.command(arguments).output().unwrap());
        let both = format!("{}{}", told.out, told.err);
        assert_eq!(told.code, code, "{arguments:?}\n{both}");
        let may_be_long = |line: &str| line.contains(std::path::MAIN_SEPARATOR);
        let long = told.out.lines().find(|line| line.chars().count() > 80 && !may_be_long(line));
        assert!(long.is_none(), "over 80 columns: {long:?}");
        both
    }

    fn json(&self, arguments: &[&str], code: i32) -> Value {
        let told = told(self.command(&[arguments, &["--json"]].concat()).output().unwrap());
        assert_eq!(told.code, code, "{arguments:?}\n{}{}", told.out, told.err);
        let text = if told.out.is_empty() { told.err } else { told.out };
        serde_json::from_str(&text).unwrap_or_else(|error| panic!("{error}\n{text}"))
    }

    /// The current sets, as the export has them.
    fn sets(&self) -> Vec<String> {
        self.check(&["export", "--force", &self.text("export")], 0);
        let table = fs::read_to_string(self.path("export/sets.csv")).unwrap();
        table.lines().skip(1).map(str::to_owned).collect()
    }

    /// What lies in a folder, hidden files included.
    fn names(&self, folder: &str) -> Vec<String> {
        let Ok(entries) = fs::read_dir(self.path(folder)) else { return Vec::new() };
        let mut names: Vec<_> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

fn told(output: Output) -> Told {
    Told {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn assert_says(text: &str, parts: &[&str]) {
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in parts {
        assert!(flat.contains(part), "`{part}` is missing in:\n{text}");
    }
}

fn mode_of(path: &Path) -> u32 {
    use std::os::unix::fs::PermissionsExt;
    fs::metadata(path).unwrap().permissions().mode() & 0o777
}

/// Tries until it comes to something.
fn until<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let begun = Instant::now();
    loop {
        if let Some(found) = look() {
            return found;
        }
        assert!(begun.elapsed() < PATIENCE, "{what} never came");
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// The program serving a gym; killed at once when it is dropped.
struct Served {
    child: Child,
    host: String,
}

impl Served {
    fn begin(gym: &Gym, arguments: &[&str]) -> Served {
        let arguments = [&["--json", "serve", "--port", "0"], arguments].concat();
        let mut child = gym.command(&arguments).stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let told: Value = serde_json::from_str(&line).unwrap();
        let address = told["address"].as_str().unwrap();
        let host = address.trim_start_matches("http://").trim_end_matches('/').to_owned();
        Served { child, host }
    }

    /// Status and body of an answer; a form or message is said to come from the desk's own page.
    fn ask(&self, method: &str, path: &str, body: &str) -> (u16, String) {
        let mut stream = TcpStream::connect(&self.host).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        let kind = if body.starts_with('{') {
            "application/json"
        } else {
            "application/x-www-form-urlencoded"
        };
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nSec-Fetch-Site: same-origin\r\n\
             Origin: http://{}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\r\n{body}",
            self.host,
            self.host,
            body.len()
        )
        .unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        let status = answer.split(' ').nth(1).unwrap().parse().unwrap();
        let body = answer.split_once("\r\n\r\n").unwrap().1.to_owned();
        (status, body)
    }

    /// The page of all lifters as text.
    fn squad(&self) -> String {
        let (status, page) = self.ask("GET", "/", "");
        assert_eq!(status, 200, "{page}");
        page
    }

    /// A new private link for a lifter's phone: its token.
    fn link(&self, who: &str) -> String {
        let path = format!("/lifter/{}/links", who.replace(' ', "%20"));
        let (status, page) = self.ask("POST", &path, "");
        assert_eq!(status, 201, "{page}");
        let token = page.split("/floor/").nth(1).unwrap();
        token.chars().take_while(char::is_ascii_hexdigit).collect()
    }

    /// Sends messages as a phone does; how many were confirmed.
    fn send(&self, token: &str, messages: &[Value]) -> usize {
        let now = jiff::Timestamp::now().as_millisecond();
        let batch = json!({ "sent": now, "messages": messages }).to_string();
        let (status, answer) = self.ask("POST", &format!("/floor/{token}/messages"), &batch);
        assert_eq!(status, 200, "{answer}");
        let start = answer.find('{').unwrap();
        let end = answer.rfind('}').unwrap();
        let taken: Value = serde_json::from_str(&answer[start..=end]).unwrap();
        let confirmed = taken["confirmed"].as_array().unwrap();
        assert!(confirmed.iter().all(|one| one["refused"].is_null()), "{taken:#}");
        confirmed.len()
    }

    /// Ends it as Ctrl-C does.
    fn end(mut self) {
        let pid = self.child.id().to_string();
        // Again and again: who has only just begun may not listen yet.
        let ended = until("the end", || {
            Command::new("kill").args(["-INT", &pid]).status().unwrap();
            self.child.try_wait().unwrap()
        });
        assert_eq!(ended.code(), Some(0));
    }

    /// Ends it as a power cut does.
    fn kill(mut self) {
        self.child.kill().unwrap(); // SIGKILL
        self.child.wait().unwrap();
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

/// A set as a phone logs it, a minute ago.
fn message(n: usize) -> Value {
    let logged = jiff::Timestamp::now().as_millisecond() - 60_000 + n as i64;
    json!({
        "id": format!("00000000-0000-7000-8000-{n:012}"),
        "kind": "set",
        "day": jiff::ZonedDateTime::now().date().to_string(),
        "logged": logged,
        "lift": "back squat",
        "load": 100.0 + n as f64,
        "unit": "kg",
        "reps": 5,
        "rir": 2.0,
    })
}

fn times(sets: &[String], load: usize) -> usize {
    sets.iter().filter(|line| line.contains(&format!(",{load},kg,5,2,"))).count()
}

/// The drill: everything that was confirmed before the backup is there once, whatever happens to the store.
#[test]
fn what_was_confirmed_before_the_backup_survives_the_loss_of_the_store() {
    let gym = Gym::empty();
    let log = format!("{HEADER}Ada Quill,2025-05-04,back squat,1,work,90,kg,5,2,\n");
    fs::write(gym.path("log.csv"), log).unwrap();
    gym.check(&["import", &gym.text("log.csv")], 0);
    let desk = Served::begin(&gym, &["--keep-backups", "off"]);
    let token = desk.link("Ada Quill");
    let messages: Vec<Value> = (1..=30).map(message).collect();
    assert_eq!(desk.send(&token, &messages[..20]), 20);
    let made = gym.json(&["backup", &gym.text("safe.bellwether")], 0);
    assert_eq!(desk.send(&token, &messages[20..]), 10);
    let busy = gym.check(&["restore", &gym.text("safe.bellwether")], 4);
    assert_says(&busy, &["is in use", "end `bellwether serve`", "nothing was changed"]);
    desk.kill();
    for suffix in ["", "-wal", "-shm"] {
        fs::remove_file(gym.path(&format!("record.bellwether{suffix}"))).ok();
    }
    let told = gym.json(&["restore", &gym.text("safe.bellwether")], 0);
    assert_eq!((&told["before"], &told["old_store"]), (&Value::Null, &Value::Null));
    assert_eq!(told["after"]["facts"], made["facts"]);
    let sets = gym.sets();
    assert_eq!(sets.len(), 21, "{sets:#?}");
    for n in 1..=20 {
        assert_eq!(times(&sets, 100 + n), 1, "{n}: {sets:#?}");
    }
    // The phone's link opens again, and what it sends once more is there once.
    let desk = Served::begin(&gym, &["--keep-backups", "off"]);
    assert_eq!(desk.send(&token, &messages), 30);
    desk.end();
    let sets = gym.sets();
    assert_eq!(sets.len(), 31, "{sets:#?}");
    assert!((1..=30).all(|n| times(&sets, 100 + n) == 1), "{sets:#?}");
}

#[test]
fn a_backup_says_what_it_holds_and_where_it_lies() {
    let gym = Gym::new();
    let text = gym.check(&["backup"], 0);
    assert_says(
        &text,
        &[
            "It holds 4 facts of 1 lifter, training up to Sunday 4 May 2031, the last of it recorded on",
            "every fact in it is the same as in the store",
            "bellwether restore ",
        ],
    );
    let names = gym.names("backups");
    assert_eq!(names.len(), 1);
    assert!(names[0].starts_with("record-20") && names[0].ends_with(".bellwether"), "{names:?}");
    let file = format!("backups/{}", names[0]);
    assert_eq!((mode_of(&gym.path("backups")), mode_of(&gym.path(&file))), (0o700, 0o600));
    assert_eq!(
        fs::metadata(gym.path(&file)).unwrap().len(),
        gym.json(&["backup", &gym.text("2.bellwether")], 0)["bytes"].as_u64().unwrap()
    );

    fs::create_dir(gym.path("stick")).unwrap();
    gym.check(&["backup", &gym.text("stick")], 0);
    assert_eq!(gym.names("stick").len(), 1);
    let text = gym.check(&["backup", &gym.text("2.bellwether")], 5);
    assert_says(&text, &["is there already", "name another file, or replace it with `--force`"]);
    let text = gym.check(&["backup", "--force", &gym.text("2.bellwether")], 0);
    assert_says(&text, &["in place of the file that lay there"]);
    let text = gym.check(&["backup", "--force", &gym.text("log.csv")], 5);
    assert_says(&text, &["is no backup and no store, so it isn't replaced"]);
    let text = gym.check(&["backup", "--force", &gym.text("record.bellwether")], 2);
    assert_says(&text, &["is the store itself or belongs to it"]);
    for missing in ["nowhere/2.bellwether", "nowhere/"] {
        let text = gym.check(&["backup", &gym.text(missing)], 5);
        assert_says(&text, &["there is no folder", "make it, or name another place"]);
    }
    let error = gym.json(&["backup", &gym.text("2.bellwether")], 5);
    assert_eq!(error["exit"], 5);
    assert_says(&Gym::empty().check(&["backup"], 4), &["there is no store"]);
    let left = gym.names(".");
    assert!(!left.iter().any(|name| name.contains("unfinished")), "{left:?}");
}

#[test]
fn a_restore_says_what_has_changed() {
    let gym = Gym::new();
    gym.check(&["backup", &gym.text("safe.bellwether")], 0);
    gym.import("Ada Quill", &[4, 5]);
    gym.import("Bo Ek", &[1]);
    let dry = gym.check(&["restore", "--dry-run", &gym.text("safe.bellwether")], 0);
    let parts = [
        "before 8 facts of 2 lifters, training up to Sunday 4 May 2031",
        "after 4 facts of 1 lifter, training up to Sunday 4 May 2031",
        "Only the old store holds:",
        "Ada Quill: 2 sets (4 May 2031)",
        "Bo Ek: 1 set, 1 setting, link or plan (4 May 2031)",
    ];
    assert_says(&dry, &parts);
    assert_says(&dry, &["Dry run: nothing was changed."]);
    assert_eq!(gym.sets().len(), 6);
    let text = gym.check(&["restore", &gym.text("safe.bellwether")], 0);
    assert_says(&text, &parts);
    assert_says(&text, &["The old store is kept as", "record.bellwether.replaced-20"]);
    assert_eq!(gym.sets().len(), 3);
    // The way that it tells brings over what only the old one holds.
    let aside = gym.names(".").into_iter().find(|name| name.contains(".replaced-20")).unwrap();
    let told: Vec<&str> =
        text.lines().map(str::trim).filter(|l| l.starts_with("bellwether")).collect();
    assert_eq!(told.len(), 2, "{text}");
    for line in told {
        let words: Vec<String> =
            line.split(' ').skip(1).map(|word| word.replace("FOLDER", &gym.text("old"))).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        gym.check(&[&["--today", "2031-05-04"], &words[..]].concat(), 0);
    }
    assert_eq!(gym.sets().len(), 6);
    let back = gym.check(&["restore", &gym.text(&aside)], 0);
    assert_says(&back, &["Restored"]);
    assert_eq!(gym.sets().len(), 6);

    let other = gym.check(&["restore", &gym.text("log.csv")], 4);
    assert_says(&other, &["not a store but a file of another kind"]);
    assert_says(&gym.check(&["restore", "nowhere.bellwether"], 5), &["there is no file"]);
    let itself = gym.check(&["restore", &gym.text("record.bellwether")], 2);
    assert_says(&itself, &["is the store itself"]);
    let mut cut = fs::read(gym.path("safe.bellwether")).unwrap();
    cut.truncate(cut.len() / 2 / 4096 * 4096);
    fs::write(gym.path("cut.bellwether"), cut).unwrap();
    let damaged = gym.check(&["restore", &gym.text("cut.bellwether")], 4);
    assert_says(&damaged, &["is damaged", "take another backup; nothing was changed"]);
}

#[test]
fn a_damaged_store_is_restored_and_kept() {
    let gym = Gym::new();
    gym.check(&["backup", &gym.text("safe.bellwether")], 0);
    fs::write(gym.path("record.bellwether"), "a cup of tea over the keyboard, and then some")
        .unwrap();
    let text = gym.check(&["restore", &gym.text("safe.bellwether")], 0);
    assert_says(
        &text,
        &[
            "before what lay there can't be read as a store: it is a file of another kind",
            "after 4 facts",
        ],
    );
    assert_eq!(gym.sets().len(), 3);
}

/// `serve` makes one by itself soon after its start, says so on the page of all lifters, and none that isn't needed.
#[test]
fn a_served_desk_makes_its_backup_by_itself() {
    let gym = Gym::new();
    let desk = Served::begin(&gym, &[]);
    assert!(desk.squad().contains("There is no backup yet."), "{}", desk.squad());
    let first = until("the backup", || {
        gym.names("backups").into_iter().find(|name| name.starts_with("record-daily-20"))
    });
    until("the word of it", || desk.squad().contains("The last backup was made ").then_some(()));
    desk.end();
    assert_eq!(gym.names("backups"), std::slice::from_ref(&first), "and nothing beside it");
    assert_eq!(mode_of(&gym.path(&format!("backups/{first}"))), 0o600);
    assert_says(&gym.check(&["doctor"], 0), &["backup: the last one was made today at"]);
    // A day later by its name: due again only if something was recorded since.
    let older = "record-daily-2031-01-01-060000.bellwether".replace("2031", "2021");
    fs::rename(gym.path(&format!("backups/{first}")), gym.path(&format!("backups/{older}")))
        .unwrap();
    let desk = Served::begin(&gym, &[]);
    until("a look", || desk.squad().contains("The last backup was made ").then_some(()));
    std::thread::sleep(Duration::from_secs(8)); // it looks after five seconds
    assert_eq!(gym.names("backups"), std::slice::from_ref(&older));
    desk.end();
    gym.import("Bo Ek", &[1]);
    assert_says(
        &gym.check(&["doctor"], 0),
        &["2 facts have been recorded since", "run `bellwether backup`"],
    );
    let desk = Served::begin(&gym, &["--keep-backups", "1"]);
    until("the second", || {
        (gym.names("backups").len() == 1 && gym.names("backups")[0] != older).then_some(())
    });
    desk.end();
    let kept = gym.names("backups");
    assert!(
        kept[0].starts_with("record-daily-20") && kept[0] != older,
        "the old one is gone: {kept:?}"
    );
}

#[test]
fn a_served_desk_says_when_it_makes_none_and_when_one_failed() {
    let gym = Gym::new();
    let desk = Served::begin(&gym, &["--keep-backups", "off"]);
    let page = desk.squad();
    assert!(page.contains("There is no backup yet. This desk makes none by itself"), "{page}");
    desk.end();
    assert_eq!(gym.names("backups"), Vec::<String>::new());
    fs::create_dir(gym.path("no-folder")).unwrap();
    let desk = Served::begin(&gym, &["--backup-folder", &gym.text("no-folder")]);
    fs::remove_dir(gym.path("no-folder")).unwrap();
    fs::write(gym.path("no-folder"), "a file").unwrap();
    let page =
        until("the failure", || Some(desk.squad()).filter(|page| page.contains(" failed: ")));
    assert!(
        page.contains("The backup of today at ") && page.contains("There is no backup yet."),
        "{page}"
    );
    assert!(page.contains("no-folder`: a file lies there: name another folder"), "{page}");
    desk.end();
    assert_says(&gym.check(&["doctor"], 0), &["backup: none lies in", "run `bellwether backup`"]);
    let wrong = gym.check(&["serve", "--keep-backups", "many"], 2);
    assert_says(&wrong, &["write it as DAYS,WEEKS such as `7,8`"]);
}

/// Folder and number by variables; those of somebody else's record in the same folder stay.
#[test]
fn variables_set_the_folder_and_another_record_in_it_is_left_alone() {
    let (gym, other) = (Gym::new(), Gym::empty());
    other.import("Cy Or", &[1, 2]);
    let shared = gym.text("shared");
    let theirs = "record-daily-2021-01-01-060000.bellwether";
    fs::create_dir(gym.path("shared")).unwrap();
    other.check(&["backup", &format!("{shared}/{theirs}")], 0);
    let mut serve = gym.command(&["--json", "serve", "--port", "0"]);
    serve.env("BELLWETHER_BACKUP_FOLDER", &shared).env("BELLWETHER_KEEP_BACKUPS", "1");
    let child = serve.stdout(Stdio::piped()).spawn().unwrap();
    let desk = Served { child, host: String::new() };
    until("the backup", || {
        (gym.names("shared").iter().filter(|n| !n.starts_with('.')).count() == 2).then_some(())
    });
    desk.end();
    assert!(gym.names("shared").contains(&theirs.to_owned()), "{:?}", gym.names("shared"));
    assert!(!gym.path("backups").exists());
    let mut doctor = gym.command(&["doctor"]);
    let told = told(doctor.env("BELLWETHER_BACKUP_FOLDER", &shared).output().unwrap());
    assert_says(&told.out, &["backup: the last one was made today at"]);
}

#[test]
fn the_invented_squad_needs_no_backup() {
    let gym = Gym::empty();
    let mut demo = gym.command(&["--json", "demo", "--port", "0"]);
    let mut child = demo.env("TMPDIR", gym.folder.path()).stdout(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
    let told: Value = serde_json::from_str(&line).unwrap();
    let host =
        told["address"].as_str().unwrap().trim_start_matches("http://").trim_end_matches('/');
    let desk = Served { child, host: host.to_owned() };
    assert!(!desk.squad().contains("backup"), "{}", desk.squad());
    desk.end();
    assert!(!gym.path("backups").exists());
}

/// The lines of code under a heading of a page of the project, without their remarks.
fn lines_under(page: &str, heading: &str) -> Vec<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(page);
    let text = fs::read_to_string(path).unwrap();
    let (_, section) = text.split_once(&format!("\n## {heading}\n")).expect("the heading is there");
    let section = section.split("\n## ").next().unwrap();
    let blocks = section.split("```sh\n").skip(1).map(|rest| rest.split("```").next().unwrap());
    blocks.flat_map(str::lines).map(str::to_owned).collect()
}

/// What README and CONTRIBUTING say about backups is run as it stands there, by a shell, in a folder of its own.
#[test]
fn the_pages_of_the_project_say_what_works() {
    let gym = Gym::new();
    let before = gym.sets();
    let bin = gym.path("bin");
    fs::create_dir(&bin).unwrap();
    let program = env!("CARGO_BIN_EXE_bellwether");
    std::os::unix::fs::symlink(program, bin.join("bellwether")).unwrap();
    // `cargo run --` stands for the build that is being tried; the usual port may be taken here.
    let cargo = format!(
        "#!/bin/sh\n[ \"$1 $2\" = 'run --' ] || exit 9\nshift 2\n[ \"$1\" = serve ] && set -- \"$@\" --port 0\n\
         exec {program} \"$@\"\n"
    );
    fs::write(bin.join("cargo"), cargo).unwrap();
    Command::new("chmod").args(["+x"]).arg(bin.join("cargo")).status().unwrap();
    let path = format!("{}:{}", bin.display(), std::env::var("PATH").unwrap());
    let shell = |line: &str| {
        let mut shell = Command::new("sh");
        shell.args(["-c", line]).current_dir(gym.folder.path()).env("PATH", &path);
        shell.env("BELLWETHER_STORE", gym.path("record.bellwether")).stdin(Stdio::null());
        shell.env_remove("BELLWETHER_BACKUP_FOLDER").env_remove("BELLWETHER_KEEP_BACKUPS");
        shell
    };
    for (page, heading, n_least) in [
        ("README.md", "Where the data lives", 3),
        ("CONTRIBUTING.md", "A development build on a copy of your data", 2),
    ] {
        let lines = lines_under(page, heading);
        assert!(lines.len() >= n_least, "{page}: {lines:?}");
        for line in &lines {
            if line.contains(" serve ") {
                let mut served = shell(&format!("exec {line}"));
                let mut child = served.stdout(Stdio::piped()).spawn().unwrap();
                let mut told = String::new();
                BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut told).unwrap();
                assert!(
                    told.contains("copy.bellwether") && told.contains("http://"),
                    "{line}: {told}"
                );
                Served { child, host: String::new() }.end();
                continue;
            }
            let told = told(shell(line).output().unwrap());
            assert_eq!(told.code, 0, "{page}: {line}\n{}{}", told.out, told.err);
            let restored = line.contains("restore");
            assert!(!restored || told.out.contains("Restored"), "{page}: {line}\n{}", told.out);
        }
        assert!(lines.iter().any(|line| line.contains("backup")), "{page}");
        assert_eq!(gym.sets(), before, "{page}");
    }
    assert_eq!(gym.names("backups").len(), 1, "the first line made one in the folder of backups");
}
