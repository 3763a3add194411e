//! The program itself, run as a coach runs it: what it says, how it ends, and what it leaves behind.
//!
//! The files are those in `examples/` and small ones made here; all people are invented. Long because every
//! command has its test here, on one set of helpers.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

/// A folder with a store, and the day that counts as today.
struct Gym {
    folder: tempfile::TempDir,
}

/// What a run came to.
struct Told {
    code: i32,
    out: String,
    err: String,
}

impl Gym {
    fn new() -> Gym {
        Gym { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn file(&self, name: &str, content: impl AsRef<[u8]>) -> String {
        fs::write(self.path(name), content).unwrap();
        self.path(name).to_str().unwrap().to_owned()
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = program();
        command.args(["--today", "2025-06-02"]).args(arguments);
        command.env("BELLWETHER_STORE", self.path("record.bellwether"));
        command.env("TMPDIR", self.folder.path());
        command
    }

    fn run(&self, arguments: &[&str]) -> Told {
        told(self.command(arguments).output().unwrap())
    }

    /// Runs with an expected exit code; the text of both streams.
    fn check(&self, arguments: &[&str], code: i32) -> String {
        let told = self.run(arguments);
        let both = format!("{}{}", told.out, told.err);
        assert_eq!(told.code, code, "{arguments:?}\n{both}");
        // A path and a usage line can be longer than a line; words can't.
        let may_be_long =
            |line: &str| line.contains(std::path::MAIN_SEPARATOR) || line.starts_with("Usage:");
        let mut lines = told.out.lines().filter(|line| !may_be_long(line));
        let long = lines.find(|line| line.chars().count() > 80);
        assert!(long.is_none(), "over 80 columns: {long:?}");
        both
    }

    fn json(&self, arguments: &[&str], code: i32) -> Value {
        let told = self.run(&[arguments, &["--json"]].concat());
        assert_eq!(told.code, code, "{arguments:?}\n{}{}", told.out, told.err);
        let text = if told.out.is_empty() { told.err } else { told.out };
        serde_json::from_str(&text).unwrap_or_else(|error| panic!("{error}\n{text}"))
    }
}

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bellwether"));
    command.env_remove("BELLWETHER_STORE").stdin(Stdio::null());
    command
}

fn told(output: Output) -> Told {
    Told {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn example(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    path.canonicalize().unwrap().to_str().unwrap().to_owned()
}

fn assert_says(text: &str, parts: &[&str]) {
    // Paragraphs are broken for the terminal: words are compared, not lines.
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in parts {
        assert!(flat.contains(part), "`{part}` is missing in:\n{text}");
    }
}

const HEADER: &str = "lifter,date,lift,set,kind,load,unit,reps,rir,note\n";

#[test]
fn every_command_explains_itself() {
    let gym = Gym::new();
    let text = gym.check(&["--help"], 0);
    assert_says(&text, &["Exit codes:", "licensed professional", "--store <FILE>", "--json"]);
    let commands = [
        "import",
        "export",
        "lifts",
        "read",
        "card",
        "refit",
        "pool",
        "replay",
        "forecasts",
        "serve",
        "demo",
        "estimate",
        "repeat",
        "week-load",
        "doctor",
        "backup",
        "restore",
    ];
    for command in commands {
        assert!(text.contains(command), "{command}");
        assert!(gym.check(&[command, "--help"], 0).contains("Usage: bellwether"), "{command}");
    }
    assert_says(&gym.check(&[], 2), &["Usage:"]);
    assert_says(&gym.check(&["frobnicate"], 2), &["unrecognized subcommand"]);
    assert!(!gym.path("record.bellwether").exists(), "help makes no store");
}

#[test]
fn the_page_of_commands_names_every_option() {
    let page =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/commands.md"));
    let (page, gym) = (page.unwrap(), Gym::new());
    for command in
        ["import", "export", "lifts", "read", "card", "refit", "pool", "replay", "serve", "demo"]
            .into_iter()
            .chain(["estimate", "forecasts", "backup", "restore", "doctor"])
    {
        let help = gym.check(&[command, "--help"], 0);
        let words = help.split(|c: char| !(c.is_ascii_lowercase() || c == '-'));
        for option in words.filter(|word| word.starts_with("--") && word.len() > 2) {
            if !["--help", "--version"].contains(&option) {
                assert!(page.contains(option), "{command} has {option}");
            }
        }
    }
}

#[test]
fn a_log_goes_in_once() {
    let gym = Gym::new();
    let first = gym.json(&["import", &example("lifts.toml"), &example("log.csv")], 0);
    let n_new = first["files"][1]["report"]["new"].as_u64().unwrap();
    assert!(n_new > 50, "{first:#}");
    let text = gym.check(&["import", &example("log.csv"), &example("check-ins.csv")], 0);
    assert_says(
        &text,
        &[&format!("{n_new} on record already"), "a table of check-ins", "Recorded in"],
    );
    let text = gym.check(&["lifts"], 0);
    assert_says(&text, &["Orla Fennimore"]);
    let text = gym.check(&["lifts", "orla fennimore"], 0);
    assert_says(&text, &["back squat", "scatter", "licensed professional"]);
    let text = gym.check(&["lifts", "Orla Fenimore"], 3);
    assert_says(&text, &["no lifter `Orla Fenimore` on record; did you mean Orla Fennimore?"]);
}

#[test]
fn a_foreign_table_is_read_by_naming_columns() {
    let (gym, table) = (Gym::new(), example("foreign-log.csv"));
    let text = gym.check(&["import", &table], 3);
    assert_says(
        &text,
        &["no column is named for", "--column lift=\"Exercise\"", "--take-proposals"],
    );
    let named = [
        "import",
        &table,
        "--value",
        "lifter=Ines Marrow",
        "--column",
        "date=Training date",
        "--column",
        "lift=Exercise",
        "--column",
        "load=Weight (lb)",
        "--column",
        "reps=Repetitions",
        "--column",
        "rpe=Effort (RPE)",
        "--column",
        "note=Remarks",
    ];
    let text = gym.run(&named);
    assert_says(&text.out, &["Ines Marrow", "lift from `Exercise`", "not read: Gym"]);
    assert_says(&gym.check(&["import", &table, "--column", "lift"], 2), &["write it as"]);
    assert_says(
        &gym.check(&["import", &table, "--unit", "stone"], 2),
        &["unit `stone` is not known"],
    );
}

#[test]
fn files_that_hold_nothing_are_told_apart() {
    let gym = Gym::new();
    let cases: [(&str, &[u8], &str); 4] = [
        ("empty.csv", b"", "the file is empty"),
        ("binary.csv", b"\x89PNG\r\n\x1a\n\0\0\0", "it is a picture"),
        ("header.csv", HEADER.as_bytes(), "There is a header and no line under it"),
        ("words.csv", b"just some words\nand more\n", "no column is named for"),
    ];
    for (name, content, words) in cases {
        let path = gym.file(name, content);
        assert_says(&gym.check(&["import", &path], 3), &[words]);
        let json = gym.json(&["import", &path], 3);
        assert!(json["exit"] == 3 || json["files"].is_array(), "{json}");
    }
    assert_says(&gym.check(&["import", "nowhere.csv"], 5), &["there is no file `nowhere.csv`"]);
    let folder = gym.folder.path().to_str().unwrap().to_owned();
    assert_says(&gym.check(&["import", &folder], 5), &["is a folder"]);
}

#[test]
fn what_is_refused_is_named_and_kept_aside() {
    let gym = Gym::new();
    let log = format!(
        "{HEADER}Ada Quill,2025-05-04,back squat,1,work,100,kg,5,2,\n\
         Ada Quill,2025-05-04,back squat,2,work,90000,kg,5,2,\n\
         Ada Quill,2025-05-04,back sqat,1,work,100,kg,5,2,\n\
         Ada Quill,2025-05-04,back squat,3,work,100,kg,900,2,\n"
    );
    let path = gym.file("log.csv", log);
    let rejects = gym.path("log.csv.rejects.csv");
    let dry = gym.check(&["import", &path, "--dry-run"], 1);
    assert_says(&dry, &["dry run: nothing was kept"]);
    assert!(!rejects.exists() && !gym.path("record.bellwether").exists());
    let text = gym.check(&["import", &path], 1);
    assert_says(
        &text,
        &[
            "4 lines read: 1 set new, 3 refused",
            "line 3: load `90000` is out of range: it must be from -300 to 2000 kg",
            "`back sqat` (1 line, first on line 4): did you mean back squat",
            "line 5: reps `900` is out of range",
            "log.csv.rejects.csv",
        ],
    );
    let mended = fs::read_to_string(&rejects).unwrap();
    assert_eq!(mended.lines().count(), 4, "{mended}");
    let mended = mended.replace("90000", "90").replace("sqat", "squat").replace("900", "9");
    let mended = gym.file("mended.csv", mended.replace(",back squat,1,work", ",back squat,4,work"));
    assert_says(&gym.check(&["import", &mended], 0), &["3 sets new"]);
    // All refused: nothing done.
    let unknown = gym.file("unknown.csv", format!("{HEADER}Ada,2025-05-04,zzz,1,work,1,kg,5,2,\n"));
    assert_says(
        &gym.check(&["import", &unknown], 3),
        &["nothing known is like it", "Nothing was imported"],
    );
}

#[test]
fn what_can_be_read_in_two_ways_is_asked() {
    let gym = Gym::new();
    let log =
        gym.file("log.csv", format!("{HEADER}Ada,04/05/2025,back squat,1,work,100,kg,5,2,\n"));
    let text = gym.check(&["import", &log], 3);
    assert_says(&text, &["can mean 2025-05-04 or 2025-04-05", "--date-order day-first"]);
    gym.check(&["import", &log, "--date-order", "day-first"], 0);
    let out = gym.path("out.csv").to_str().unwrap().to_owned();
    gym.check(&["replay", &log, "--out", &out], 3);
    gym.check(&["replay", &log, "--out", &out, "--date-order", "day-first"], 0);
}

#[test]
fn a_correction_must_be_asked_for() {
    let gym = Gym::new();
    let line = |reps| format!("{HEADER}Ada,2025-05-04,back squat,1,work,100,kg,{reps},2,\n");
    let (first, second) = (gym.file("1.csv", line(5)), gym.file("2.csv", line(6)));
    gym.check(&["import", &first], 0);
    assert_says(&gym.check(&["import", &second], 3), &["100 kg × 5"]);
    assert_says(
        &gym.check(&["import", &second, "--correct"], 0),
        &["1 in place of what was on record"],
    );
}

#[test]
fn a_lift_file_in_a_circle_is_refused() {
    let gym = Gym::new();
    let lifts = gym.file(
        "lifts.toml",
        "[[lift]]\nname = \"a lift\"\nlike = \"b lift\"\n\n[[lift]]\nname = \"b lift\"\nlike = \"a lift\"\n",
    );
    let text = gym.check(&["import", &lifts], 3);
    assert_says(&text, &["line 3, lift `a lift`: these lifts are like each other in a circle"]);
    let out = gym.path("out.csv").to_str().unwrap().to_owned();
    let text = gym.check(&["replay", &example("log.csv"), "--lifts", &lifts, "--out", &out], 3);
    assert_says(&text, &["in a circle"]);
}

#[test]
fn an_export_makes_the_same_record_again() {
    let gym = Gym::new();
    let files = [example("lifts.toml"), example("log.csv"), example("check-ins.csv")];
    gym.check(&["import", &files[0], &files[1], &files[2]], 0);
    let export = gym.path("export").to_str().unwrap().to_owned();
    let text = gym.check(&["export", &export], 0);
    assert_says(&text, &["sets.csv", "record.jsonl", "their whole history"]);
    assert_says(&gym.check(&["export", &export], 5), &["holds an export already", "--force"]);
    gym.check(&["export", &export, "--force"], 0);

    let second = gym.path("second.bellwether").to_str().unwrap().to_owned();
    let record = format!("{export}/record.jsonl");
    assert_says(&gym.check(&["--store", &second, "import", &record], 0), &["put back"]);
    let third = gym.path("third.bellwether").to_str().unwrap().to_owned();
    let tables =
        ["lifts-1.toml", "sets.csv", "check-ins.csv"].map(|name| format!("{export}/{name}"));
    gym.check(&["--store", &third, "import", &tables[0], &tables[1], &tables[2]], 0);
    for (store, files) in [
        (&second, &["sets.csv", "check-ins.csv", "lifts-1.toml", "record.jsonl"][..]),
        (&third, &["sets.csv", "check-ins.csv", "lifts-1.toml"][..]),
    ] {
        let again = format!("{store}.export");
        gym.check(&["--store", store, "export", &again], 0);
        for file in files {
            let read = |folder: &str| fs::read_to_string(format!("{folder}/{file}")).unwrap();
            assert_eq!(read(&again), read(&export), "{store} {file}");
        }
    }
    let damaged = fs::read_to_string(&record).unwrap().replacen("\"reps\":", "\"resp\":", 1);
    let damaged = gym.file("damaged.jsonl", damaged);
    let fresh = gym.path("fresh.bellwether").to_str().unwrap().to_owned();
    let text = gym.check(&["--store", &fresh, "import", &damaged], 3);
    assert_says(&text, &["unknown field `resp`", "nothing was put back"]);
    assert_says(&gym.check(&["import", &record, "--dry-run"], 2), &["whole or not at all"]);
}

/// Killed at any moment, a run has kept whole lifters and harmed nothing: the runs after it end where one that
/// nobody disturbed ends.
#[cfg(unix)]
#[test]
fn a_refit_that_is_killed_again_and_again_comes_to_its_end() {
    let names = ["Ilse Varnholt", "Tove Marrick", "Anders Holm", "Pia Sandvik"];
    let log: String = names.into_iter().map(|name| log_of(name, 40)).collect();
    let gyms = [Gym::new(), Gym::new()];
    for gym in &gyms {
        gym.check(&["import", &gym.file("log.csv", HEADER.to_owned() + &log)], 0);
    }
    let [killed, whole] = &gyms;
    let begun = std::time::Instant::now();
    whole.check(&["refit"], 0);
    // Killed after an eighth of the time that it takes, then after two eighths, until one comes to its end.
    let step = begun.elapsed() / 8;
    let (mut kills, mut patience) = (0, step);
    loop {
        let mut run = killed.command(&["refit"]);
        let mut run = run.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(patience);
        if let Some(status) = run.try_wait().unwrap() {
            assert!(status.success(), "{status}");
            break;
        }
        run.kill().unwrap();
        run.wait().unwrap();
        assert_says(&killed.check(&["doctor"], 0), &["it can be opened and read"]);
        kills += 1;
        patience += step;
    }
    assert!(kills > 0, "the first run ended in an eighth of the time");
    let told = killed.json(&["refit"], 0);
    let renewed = |line: &Value| line["renewed"].as_bool().unwrap();
    assert!(!told["lifters"].as_array().unwrap().iter().any(renewed), "{told:#}");
    for name in names {
        assert_eq!(killed.check(&["lifts", name], 0), whole.check(&["lifts", name], 0));
    }
}

#[test]
fn trouble_with_the_store_has_its_own_code() {
    let gym = Gym::new();
    assert_says(&gym.check(&["lifts"], 4), &["there is no store at", "import a log to make one"]);
    assert_says(&gym.check(&["doctor"], 4), &["there is no store"]);
    let folder = gym.folder.path().to_str().unwrap().to_owned();
    let log = example("log.csv");
    assert_says(
        &gym.check(&["--store", &folder, "import", &log], 4),
        &["not a store but a folder"],
    );
    let other = gym.file("other.bellwether", "no store at all, but a text of some length");
    assert_says(&gym.check(&["--store", &other, "import", &log], 4), &["not a store"]);
    let below = format!("{other}/record.bellwether");
    gym.check(&["--store", &below, "import", &log], 4);
    assert_eq!(gym.json(&["lifts"], 4)["exit"], 4);
    gym.check(&["import", &example("lifts.toml"), &log], 0);
    assert_says(&gym.check(&["doctor"], 0), &["it can be opened and read"]);
    assert_eq!(gym.json(&["doctor"], 0)["findings"][0]["severity"], "fine");
}

#[test]
fn two_imports_at_once_both_arrive() {
    let gym = Gym::new();
    let log = |who: &str| {
        let lines: String = (1..=99)
            .map(|n| format!("{who},2025-05-04,back squat,{n},work,100,kg,5,2,\n"))
            .collect();
        gym.file(&format!("{who}.csv"), format!("{HEADER}{lines}"))
    };
    gym.check(&["import", &example("lifts.toml")], 0);
    let logs = ["Ada", "Bo", "Cy"].map(log);
    let running: Vec<_> = logs
        .iter()
        .map(|log| gym.command(&["import", log]).stdout(Stdio::null()).spawn().unwrap())
        .collect();
    for mut child in running {
        assert_eq!(child.wait().unwrap().code(), Some(0));
    }
    let squad = gym.json(&["lifts"], 0);
    let sets: Vec<_> =
        squad["lifters"].as_array().unwrap().iter().map(|l| l["sets"].as_u64().unwrap()).collect();
    assert_eq!(sets, [99, 99, 99]);
}

#[test]
fn a_replay_needs_no_store_and_names_unknown_lifts() {
    let gym = Gym::new();
    let out = gym.path("out.csv").to_str().unwrap().to_owned();
    let (log, lifts) = (example("log.csv"), example("lifts.toml"));
    let check_ins = example("check-ins.csv");
    let arguments = ["replay", &log, "--lifts", &lifts, "--checkins", &check_ins, "--out", &out];
    let told = gym.json(&arguments, 0);
    let rows = fs::read_to_string(&out).unwrap();
    assert!(rows.starts_with("lifter,date,lift,load_kg,reps"), "{rows}");
    assert_eq!(rows.lines().count() as u64 - 1, told["lead_sets"].as_u64().unwrap());
    assert!(!gym.path("record.bellwether").exists());
    // The model is the one asked for, and the same columns come from each.
    assert_eq!(told["model"], "recovery");
    let head = rows.lines().next().unwrap().to_owned();
    for model in ["one-lift", "plain"] {
        let told = gym.json(&[&arguments[..], &["--model", model]].concat(), 0);
        assert_eq!(told["model"], model);
        let other = fs::read_to_string(&out).unwrap();
        assert_eq!(other.lines().next().unwrap(), head);
        assert!(other != rows && other.lines().count() == rows.lines().count());
    }
    let text = gym.check(&[&arguments[..], &["--model", "guess"]].concat(), 2);
    assert_says(&text, &["guess", "plain, one-lift, recovery"]);
    fs::remove_file(&out).unwrap();
    let log = gym.file(
        "log.csv",
        format!("{HEADER}Ada,2025-05-04,back sqat,1,,100,kg,5,,\nAda,2025-05-04,bench pres,1,,60,kg,5,,\n"),
    );
    let text = gym.check(&["replay", &log, "--out", &out], 3);
    assert_says(&text, &["`back sqat`", "back squat", "`bench pres`", "bench press"]);
    assert!(!Path::new(&out).exists());
    let nowhere = gym.path("none/out.csv").to_str().unwrap().to_owned();
    let log = example("log.csv");
    let text = gym.check(&["replay", &log, "--lifts", &lifts, "--out", &nowhere], 5);
    assert_says(&text, &["there is no such folder"]);
}

#[test]
fn forecasts_stand_beside_plain_rivals() {
    let gym = Gym::new();
    // Invented: lifters who gain a little and scatter by a repetition, and one who tests singles.
    let mut log = HEADER.to_owned();
    for lifter in ["Ada", "Bo", "Cai", "Dov", "Eir", "Fen"] {
        for week in 0..14_u32 {
            let (month, day) = (1 + week / 4, 1 + 7 * (week % 4));
            let reps = 8 + (week * 7 + lifter.len() as u32) % 3;
            log += &format!("{lifter},2031-{month:02}-{day:02},leg press,1,,100,kg,{reps},0,\n");
            if lifter == "Fen" {
                let load = f64::from(60 + week / 2);
                log += &format!(
                    "{lifter},2031-{month:02}-{day:02},bench press,1,test,{load},kg,1,0,\n"
                );
            }
        }
    }
    let log = gym.file("log.csv", log);
    let told = gym.json(&["forecasts", &log], 0);
    let rivals = told["forecasts"]["rivals"].as_array().unwrap();
    let names: Vec<&str> = rivals.iter().map(|one| one["rival"].as_str().unwrap()).collect();
    assert_eq!(names, ["model", "last-value", "smoother"]);
    assert_eq!(told["forecasts"]["forecasts"], 6 * 13 + 13);
    for rival in rivals {
        // The rivals are asked about the same sets.
        assert_eq!((&rival["all"]["sets"], &rival["all"]["singles"]), (&78.into(), &13.into()));
        assert_eq!(rival["settled"]["sets"], 6 * 4);
        let off = |figures: &str| rival[figures]["reps_off"].as_f64().unwrap();
        assert!((0.1..2.0).contains(&off("all")), "{rival}");
    }
    // Repetitions go 8, 9, 10 in turn (in some order): as last time is off by 1, 1 and 2.
    let last = rivals[1]["all"]["reps_off"].as_f64().unwrap();
    assert!((last - 4.0 / 3.0).abs() < 0.1, "{last}");
    let text = gym.check(&["forecasts", &log], 0);
    assert_says(
        &text,
        &[
            "91 forecasts of 6 lifters",
            "Bellwether (recovery)",
            "as last time",
            "smoother",
            "reps",
            "From lead set 11",
        ],
    );
    let few = gym.file("few.csv", format!("{HEADER}Ada,2025-05-04,back squat,1,,100,kg,5,,\n"));
    assert_says(&gym.check(&["forecasts", &few], 0), &["Nothing was forecast"]);
    assert!(!gym.path("record.bellwether").exists());
}

#[test]
fn estimates_carry_their_doubt() {
    let gym = Gym::new();
    let text = gym.check(&["estimate", "--load", "100", "--reps", "5", "--rir", "2"], 0);
    assert_says(&text, &["1RM about 123 kg; eight times in ten between", "Epley 1985", "Mayhew"]);
    let text = gym.check(&["estimate", "--load", "100", "--reps", "5"], 0);
    assert_says(&text, &["The reserve was not given"]);
    let text =
        gym.check(&["estimate", "--load", "315", "--unit", "lb", "--reps", "1", "--rir", "0"], 0);
    assert_says(&text, &["1RM 315 lb", "is the 1RM of that day itself"]);
    let text =
        gym.check(&["estimate", "--speed", "0.45", "--line", "bench-press", "--load", "80"], 0);
    assert_says(&text, &["About 81 % of 1RM", "a 1RM of about 99 kg"]);
    let json = gym.json(&["estimate", "--load", "100", "--reps", "5", "--rir", "2"], 0);
    assert_eq!(json["equations"].as_array().unwrap().len(), 9);
    let refused: [(&[&str], &str); 6] = [
        (&["--load", "-5", "--reps", "5"], "load"),
        (&["--load", "1e9", "--reps", "5"], "load `1000000000` is out of range"),
        (&["--load", "100", "--reps", "30", "--rir", "0"], "so use a heavier set"),
        (&["--load", "100", "--reps", "5", "--rir", "0.3"], "whole or half"),
        (&["--speed", "3", "--line", "bench-press"], "velocity `3` is out of range"),
        (&["--speed", "0.5", "--line", "curl"], "use one of `bench-press`"),
    ];
    for (arguments, words) in refused {
        let text = gym.check(&[&["estimate"], arguments].concat(), 2);
        assert_says(&text, &[words]);
    }
}

/// Bland & Altman 1986 (Lancet 327:307), table of peak flow by two meters, first five people: the
/// differences are hand-checked here, and the engine's own tests hold the whole table.
#[test]
fn a_table_of_trials_is_explained() {
    let gym = Gym::new();
    let table = gym.file(
        "trials.csv",
        "person,first,second\n1,494,490\n2,395,397\n3,516,512\n4,434,401\n5,476,470\n",
    );
    let text = gym.check(&["repeat", &table], 0);
    assert_says(&text, &["typical error", "ICC(2,1)", "Limits of agreement", "rough"]);
    let json = gym.json(&["repeat", &table], 0);
    let bias = json["agreement"]["bias"].as_f64().unwrap();
    assert!((bias - 9.0).abs() < 1e-9, "{bias}"); // (4 − 2 + 4 + 33 + 6)/5
    let bad = gym.file("bad.csv", "a,b\n1,2\n3,x\n");
    assert_says(&gym.check(&["repeat", &bad], 3), &["line 3, column `b`: `x` is not a number"]);
    let ragged = gym.file("ragged.csv", "a,b\n1,2\n3\n");
    assert_says(&gym.check(&["repeat", &ragged], 3), &["person 2 has `1` trials"]);
    let one = gym.file("one.csv", "a,b\n1,2\n");
    gym.check(&["repeat", &one], 3);
    gym.check(&["repeat", "nowhere.csv"], 5);
}

#[test]
fn a_week_is_weighed() {
    let gym = Gym::new();
    let week = ["week-load", "0", "350", "7x50", "700", "350", "350", "5x40+5x30"];
    let text = gym.check(&week, 0);
    assert_says(&text, &["Total 2450", "sample (over 6)", "1.73", "population (over 7)", "1.87"]);
    assert_says(
        &gym.check(&["week-load", "1", "1", "1", "1", "1", "1", "1"], 0),
        &["monotony is not defined"],
    );
    assert_says(&gym.check(&["week-load", "1", "2"], 2), &["7 values required"]);
    let bad = ["week-load", "0", "350", "11x50", "700", "350", "350", "0"];
    assert_says(&gym.check(&bad, 2), &["day 3: session RPE `11` is out of range"]);
}

#[test]
fn the_invented_squad_can_be_looked_at() {
    let gym = Gym::new();
    let store = gym.path("demo.bellwether").to_str().unwrap().to_owned();
    let json = gym.json(&["demo", "--to", &store], 0);
    assert_eq!(json["invented"], true);
    let name = json["lifters"][0].as_str().unwrap().to_owned();
    let text = gym.check(&["--store", &store, "lifts", &name], 0);
    assert_says(&text, &["1RM", "% a week", "next"]);
    let text = gym.check(&["--store", &store, "card", &name], 0);
    assert_says(&text, &["Card of", "lead set", "Monday 2 Jun 2025"]);
    dose_has_the_change_and_the_split(&gym, &store, &name);
    let json = gym.json(&["--store", &store, "lifts", &name], 0);
    let lift = json["lifts"][0].clone();
    let load: String = lift["points"][0]["load"].as_str().unwrap().into();
    let load = load.split(' ').next().unwrap();
    let read = ["--store", &store, "read", &name, "--lift", lift["name"].as_str().unwrap()];
    let text = gym.check(&[&read[..], &["--load", load, "--reps", "5", "--rir", "2"]].concat(), 0);
    assert_says(&text, &["Pain, new or strong"]);
    let html = gym.path("card.html").to_str().unwrap().to_owned();
    gym.check(&["--store", &store, "card", &name, "--html", &html], 0);
    assert!(fs::read_to_string(&html).unwrap().contains(&name));
    assert_says(&gym.check(&["demo", "--to", &store], 2), &["already holds", "new file"]);
}

/// `dose` tells in words what its data has, in lines of 80 columns however many weeks are shown.
fn dose_has_the_change_and_the_split(gym: &Gym, store: &str, name: &str) {
    let json = gym.json(&["--store", store, "dose", name], 0);
    let text = gym.check(&["--store", store, "dose", name, "--weeks", "13"], 0);
    assert_says(
        &text,
        &["its change against the four before", "as a prime mover + while assisting"],
    );
    let told = |value: &Value, sign: &str| {
        let Some(sets) = value.as_f64() else { return "–".to_owned() };
        let shown = format!("{:.1}", sets.abs());
        match shown.trim_end_matches(".0") {
            "0" => "0".to_owned(),
            shown if sets < 0.0 => format!("−{shown}"),
            shown => format!("{sign}{shown}"),
        }
    };
    let of_muscle = |muscle: &str| -> Vec<Vec<&str>> {
        let rests = text.lines().filter_map(|line| line.strip_prefix(muscle));
        let rows = rests.filter(|rest| rest.starts_with("  "));
        rows.map(|rest| rest.split_whitespace().collect()).collect()
    };
    let (mut changed, mut assisted) = (0, 0);
    for record in json["muscles"].as_array().unwrap() {
        let of_it = of_muscle(record["muscle"].as_str().unwrap());
        let summary = [told(&record["mean"], ""), told(&record["change"], "+")];
        assert!(of_it[0].starts_with(&[&*summary[0], &*summary[1]]), "{record}\n{text}");
        let weeks: Vec<&str> = of_it[1..].iter().flatten().copied().collect();
        let expected: Vec<String> = record["weeks"]
            .as_array()
            .unwrap()
            .iter()
            .map(|week| {
                let [direct, assisting] = ["direct", "assisting"].map(|key| told(&week[key], ""));
                let nothing = week["direct"] == 0.0 && week["assisting"] == 0.0;
                assisted += usize::from(week["assisting"].as_f64() > Some(0.0));
                if nothing { "–".to_owned() } else { format!("{direct}+{assisting}") }
            })
            .collect();
        assert!(
            weeks.starts_with(&expected.iter().map(String::as_str).collect::<Vec<_>>()),
            "{text}"
        );
        changed += usize::from(record["change"].is_number());
    }
    assert!(changed > 3 && assisted > 10, "{text}");
    gym.check(&["--store", store, "dose", name], 0);
}

/// Nobody reads to the end, as with `| head`: no message, no failure.
#[test]
fn a_closed_pipe_is_no_error() {
    let gym = Gym::new();
    let mut child = gym
        .command(&["estimate", "--load", "100", "--reps", "5"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    assert_eq!(err, "");
}

/// Serves the invented squad on a free port, answers a page, and ends when it is told to.
#[cfg(unix)]
#[test]
fn serving_ends_cleanly() {
    use std::io::{BufRead, BufReader, Write};
    let gym = Gym::new();
    let mut command = gym.command(&["demo", "--port", "0", "--json"]);
    let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let address = serde_json::from_str::<Value>(&line).unwrap()["address"].clone();
    let address =
        address.as_str().unwrap().trim_start_matches("http://").trim_end_matches('/').to_owned();
    let mut stream = std::net::TcpStream::connect(&address).unwrap();
    write!(stream, "GET / HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").unwrap();
    let mut page = String::new();
    stream.read_to_string(&mut page).unwrap();
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    let taken = gym.run(&["demo", "--port", address.rsplit(':').next().unwrap()]);
    assert_eq!(taken.code, 5, "{}", taken.err);
    assert!(taken.err.contains("name another port"), "{}", taken.err);
    let pid = child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &pid]).status().unwrap().success());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

/// A log of a lifter who squats and benches twice a week: `n` sessions, every load off by a little.
fn log_of(who: &str, n: u32) -> String {
    let mut log = String::new();
    let first = jiff::civil::date(2025, 1, 6);
    for session in 0..n {
        let date = first + jiff::Span::new().days(i64::from(7 * session / 2));
        for (lift, load) in [("back squat", 100), ("bench press", 70)] {
            let reps = 6 + (session * 5 + load) % 3;
            log += &format!("{who},{date},{lift},1,work,{},kg,{reps},2,\n", load + session / 6);
        }
    }
    log
}

/// The card stops what loads a joint until the command has an answer at the limit.
#[test]
fn a_complaint_is_reported_and_answered_by_a_command() {
    let gym = Gym::new();
    gym.check(&["import", &gym.file("log.csv", format!("{HEADER}{}", log_of("Nell Ash", 8)))], 0);
    let rate = |joint, pain, code| {
        gym.check(&["joints", "Nell Ash", "--joint", joint, "--pain", pain], code)
    };
    let asked = rate("elbow", "6", 0);
    assert_says(&asked, &["Recorded: elbow 6 of 10.", "How is the elbow today?"]);
    assert_says(&asked, &["Answer with: bellwether --store", "--joint elbow --pain RATING"]);
    let stopped = || gym.json(&["card", "Nell Ash"], 0)["stopped"].as_array().unwrap().len();
    assert_eq!(stopped(), 1);
    let lifts = gym.check(&["lifts", "Nell Ash"], 0);
    assert_says(&lifts, &["How is the elbow today?", "stop. Pain of 6 in the elbow"]);
    assert_says(&rate("elbow", "11", 2), &["0 to 10"]);
    assert_says(&rate("heart", "2", 2), &["heart"]);
    gym.check(&["joints", "Nell Ash", "--joint", "elbow"], 2);
    assert_eq!(stopped(), 1);
    assert!(!rate("elbow", "5", 0).contains("How is the elbow today?"));
    assert_eq!(stopped(), 0);
}

#[test]
fn fits_are_kept_and_lifters_pooled_on_request() {
    let gym = Gym::new();
    let nobody = gym.check(&["refit"], 4);
    assert_says(&nobody, &["there is no store"]);
    let log = [HEADER, &log_of("Ilse Varnholt", 24), &log_of("Tove Marrick", 6)].concat();
    gym.check(&["import", &gym.file("log.csv", &log)], 0);
    let text = gym.check(&["pool"], 3);
    assert_says(
        &text,
        &["none of 2 lifters has an estimate to pool: run `bellwether refit` first"],
    );

    let told = gym.json(&["refit"], 0);
    assert_eq!(told["lifters"][0]["verdict"], "converged", "{told:#}");
    assert_eq!(told["lifters"][0]["made"], 3, "at 20, 30 and 46 lead sets: {told:#}");
    assert_eq!(told["lifters"][1]["verdict"], "too-short");
    let text = gym.check(&["refit"], 0);
    assert_says(&text, &["0 lifters fitted anew; the fits of 2 lifters were not stale."]);
    assert_says(&text, &["Too short a record: 1 lifter.", "they come with the program"]);
    let text = gym.check(&["refit", "--all", "--lifter", "ilse varnholt"], 0);
    assert_says(
        &text,
        &["Ilse Varnholt: converged; 3 fits made, the newest from 46 of 48 lead sets"],
    );
    assert_says(&gym.check(&["refit", "--lifter", "Ilse Warnholt"], 3), &["did you mean"]);
    let page = gym.check(&["lifts", "Ilse Varnholt"], 0);
    let shipped = "from the first 46 of 48 lead sets read, and from values of lifters in general that \
                   come with the program.";
    assert_says(&page, &[shipped]);

    let out = gym.path("values.toml").to_str().unwrap().to_owned();
    let text = gym.check(&["pool", "--out", &out], 0);
    assert_says(&text, &["from 1 lifter.", "1 lifter had no estimate", "Nothing was changed"]);
    assert_says(&text, &["days to recover, against most people's now 1.00 times (0.681 to 1.47)"]);
    assert_says(&gym.check(&["lifts", "Ilse Varnholt"], 0), &[shipped]);
    let text = gym.check(&["pool", "--adopt"], 0);
    assert_says(&text, &["They are in force now"]);
    let page = gym.check(&["lifts", "Ilse Varnholt"], 0);
    assert_says(&page, &["that were estimated from 1 lifter of this record on"]);
    assert_says(&gym.check(&["doctor"], 0), &["the pooled values 1 are in force"]);
    gym.check(&["pool", "--shipped", "--adopt"], 2);
    let text = gym.check(&["pool", "--shipped"], 0);
    assert_says(&text, &["in force again", "times"]);
    // Values in a file come into force as they were written.
    let text = gym.check(&["pool", "--from", &out], 0);
    assert_says(
        &text,
        &["values.toml`. Those in force until now come with the program", "Nothing was changed"],
    );
    assert_says(&gym.check(&["lifts", "Ilse Varnholt"], 0), &[shipped]);
    gym.check(&["pool", "--from", &out, "--adopt"], 0);
    let page = gym.check(&["lifts", "Ilse Varnholt"], 0);
    assert_says(&page, &["values of lifters in general that were taken from a file on"]);
    let again = gym.path("again.toml").to_str().unwrap().to_owned();
    gym.check(&["pool", "--from", &out, "--out", &again], 2);
    let wrong = gym.file("half.toml", "slowness = 1.0\n");
    assert_says(&gym.check(&["pool", "--from", &wrong, "--adopt"], 3), &["half.toml"]);
    gym.check(&["pool", "--shipped"], 0);
    assert_says(&gym.check(&["lifts", "Ilse Varnholt"], 0), &[shipped]);
    let text = gym.check(&["pool", "--shipped"], 0);
    assert_says(&text, &["The values that come with the program are in force."]);

    // The values as text, read by a replay.
    let log = gym.path("log.csv").to_str().unwrap().to_owned();
    let replay = |name: &str, more: &[&str], code: i32| {
        let table = gym.path(name).to_str().unwrap().to_owned();
        let text = gym.check(&[&["replay", &log, "--out", &table], more].concat(), code);
        (text, fs::read_to_string(&table).unwrap_or_default())
    };
    let (_, by_shipped) = replay("shipped.csv", &[], 0);
    let (_, by_own) = replay("own.csv", &["--pooled", &out], 0);
    assert!(by_own != by_shipped && by_own.lines().count() == by_shipped.lines().count());
    let (text, _) = replay("none.csv", &["--pooled", &out, "--model", "plain"], 2);
    assert_says(&text, &["`--pooled` goes with the model `recovery`"]);
    let values = fs::read_to_string(&out).unwrap();
    let wrong = gym.file("wrong.toml", values.replace("slowness = ", "slowness = 1"));
    let (text, _) = replay("none.csv", &["--pooled", &wrong], 3);
    assert_says(&text, &["wrong.toml", "`slowness` is", "must lie from 0.2 to 5"]);
    let (text, _) = replay("none.csv", &["--pooled", "missing.toml"], 5);
    assert_says(&text, &["there is no file `missing.toml`"]);
}
