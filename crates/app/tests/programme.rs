//! `bellwether programme`: the example checked and counted, and complaints that name file, place and cure.
//!
//! The example is invented.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

fn example() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/programme.toml")
}

/// Runs with an expected exit code, without a store unless one is made; both streams.
fn check(folder: &Path, arguments: &[&str], code: i32) -> String {
    check_on("2025-06-02", folder, arguments, code)
}

/// [`check`] on another day.
fn check_on(today: &str, folder: &Path, arguments: &[&str], code: i32) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bellwether"));
    command.stdin(Stdio::null()).args(["--today", today]).args(arguments);
    let output = command.env("BELLWETHER_STORE", folder.join("record")).output().unwrap();
    let out = String::from_utf8(output.stdout).unwrap();
    let both = format!("{out}{}", String::from_utf8(output.stderr).unwrap());
    assert_eq!(output.status.code(), Some(code), "{arguments:?}\n{both}");
    let is_text = !arguments.iter().any(|argument| ["--json", "--file", "mend"].contains(argument));
    let long = out.lines().find(|line| is_text && line.chars().count() > 80);
    assert!(long.is_none(), "over 80 columns: {long:?}");
    // Progress goes to the other stream, and on a busy machine there is some.
    if code == 0 && arguments.contains(&"--json") { out } else { both }
}

#[test]
fn the_example_is_checked_and_counted() {
    let folder = tempfile::tempdir().unwrap();
    let file = example();
    let file = file.to_str().unwrap();
    let told = check(folder.path(), &["programme", "check", file], 0);
    for needed in [
        "Oars in, bars out, week 1 of 3",
        "the knee is to be spared, and `box squat` loads it",
        "With a spotter or safety bars: bench press",
        "Monday",
        "clears nobody to train",
    ]
    .map(|text| text.split_whitespace().collect::<Vec<_>>().join(" "))
    {
        let flat = told.split_whitespace().collect::<Vec<_>>().join(" ");
        let found = flat.to_lowercase().contains(&needed.to_lowercase());
        assert!(found, "{told}\nlacks {needed}");
    }
    let dose = check(folder.path(), &["programme", "dose", file, "--week", "3"], 0);
    assert!(dose.contains("week 3 of 3") && dose.contains("4–8–14*"), "{dose}");
    let json = check(folder.path(), &["programme", "dose", file, "--json"], 0);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let chest =
        json["muscles"].as_array().unwrap().iter().find(|m| m["muscle"] == "chest").unwrap();
    assert_eq!(chest["total"], 7.0, "four and three sets of bench press");
    assert!(!folder.path().join("record").exists(), "no store is made");
}

#[test]
fn complaints_name_the_file_the_place_and_the_cure() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(example()).unwrap();
    let path = folder.path().join("mine.toml");
    let file = path.to_str().unwrap();
    let write = |text: String| std::fs::write(&path, text).unwrap();
    write(text.replace("lift = \"box squat\"", "lift = \"bax squat\""));
    let told = check(folder.path(), &["programme", "check", file], 3);
    assert!(told.contains("mine.toml") && told.contains("did you mean box squat"), "{told}");
    write(text.replacen("sets = 5\n", "sets = 0\n", 1));
    let told = check(folder.path(), &["programme", "check", file], 3);
    assert!(told.contains("Wednesday, lift 3: sets `0` is out of range"), "{told}");
    write(text);
    let told = check(folder.path(), &["programme", "dose", file, "--week", "4"], 2);
    assert!(told.contains("there is no week 4") && told.contains("from 1 to 3"), "{told}");
    check(folder.path(), &["programme", "check", "nowhere.toml"], 5);
}

#[test]
fn a_lifter_on_record_brings_their_own_recovery() {
    let folder = tempfile::tempdir().unwrap();
    let file = example();
    let file = file.to_str().unwrap();
    let log = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/log.csv");
    check(folder.path(), &["import", log.to_str().unwrap()], 0);
    let squad = check(folder.path(), &["lifts", "--json"], 0);
    let squad: serde_json::Value = serde_json::from_str(&squad).unwrap();
    let name = squad["lifters"][0]["name"].as_str().unwrap().to_owned();
    let told = check(folder.path(), &["programme", "check", file, "--lifter", &name], 0);
    let flat = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(&format!("Hours between sessions are {name}'s own")), "{told}");
    let nobody = check(folder.path(), &["programme", "check", file, "--lifter", "Nobody"], 3);
    assert!(nobody.contains("there is no lifter `Nobody`"), "{nobody}");
}

/// The text without line breaks, for sentences that were broken.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_lifter_follows_a_programme_until_it_is_taken_away() {
    let folder = tempfile::tempdir().unwrap();
    let file = example();
    let file = file.to_str().unwrap();
    let log = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/log.csv");
    check(folder.path(), &["import", log.to_str().unwrap()], 0);
    let squad = check(folder.path(), &["lifts", "--json"], 0);
    let squad: serde_json::Value = serde_json::from_str(&squad).unwrap();
    let names: Vec<&str> =
        squad["lifters"].as_array().unwrap().iter().map(|l| l["name"].as_str().unwrap()).collect();
    let (first, second) = (names[0], names[1]);

    let none = flat(&check(folder.path(), &["programme", "show", first], 0));
    assert_eq!(none, format!("{first} follows no programme; cards take the lifts from the log."));
    let told = flat(&check(folder.path(), &["programme", "set", first, file], 0));
    let now = format!(
        "{first} now follows `Oars in, bars out`; its first week begins on Monday 2 Jun 2025."
    );
    assert!(told.contains(&now), "{told}");
    // What must be put right is told at once, with its cure.
    assert!(told.contains("put right") && told.contains("The knee is to be spared"), "{told}");
    let again = flat(&check(folder.path(), &["programme", "set", first, file], 0));
    assert!(again.contains("nothing was recorded"), "{again}");

    let later = |arguments: &[&str]| check_on("2025-06-10", folder.path(), arguments, 0);
    let shown = later(&["programme", "show", first]);
    assert!(flat(&shown).contains("Tuesday 10 Jun 2025 lies in week 2 of 3."), "{shown}");
    let text = check(folder.path(), &["programme", "show", first, "--file"], 0);
    assert_eq!(text, std::fs::read_to_string(file).unwrap(), "word for word");

    // Corrected under the same name it goes on counting; a copy begins when it is made.
    let corrected = folder.path().join("corrected.toml");
    std::fs::write(&corrected, text.replacen("sets = 5\n", "sets = 4\n", 1)).unwrap();
    let corrected = corrected.to_str().unwrap();
    let told = later(&["programme", "set", first, corrected]);
    assert!(flat(&told).contains("first week begins on Monday 2 Jun 2025"), "{told}");
    let told = later(&["programme", "copy", first, second]);
    assert!(flat(&told).contains(&format!("{second} now follows")), "{told}");
    assert!(flat(&told).contains("first week begins on Monday 9 Jun 2025"), "{told}");

    let taken = ["programme", "withdraw", first, "--reason", "a new season"];
    let told = flat(&check(folder.path(), &taken, 0));
    assert!(told.contains("follows `Oars in, bars out` no more"), "{told}");
    let shown = flat(&check(folder.path(), &["programme", "show", first], 0));
    assert!(shown.contains("follows no programme"), "{shown}");
    assert!(shown.contains("taken away") && shown.contains(": a new season"), "{shown}");
    let json = check(folder.path(), &["programme", "show", first, "--json"], 0);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["programme"], serde_json::Value::Null);
    assert_eq!(json["versions"].as_array().unwrap().len(), 3);
    assert_eq!(json["versions"][0]["withdrawn"], true);

    let gone = check(folder.path(), &["programme", "withdraw", first], 3);
    assert!(gone.contains("has no programme"), "{gone}");
    let gone = check(folder.path(), &["programme", "copy", first, second], 3);
    assert!(gone.contains(&format!("`{first}` has no programme")), "{gone}");
    let nobody = check(folder.path(), &["programme", "set", "Nobody", file], 3);
    assert!(nobody.contains("there is no lifter `Nobody`"), "{nobody}");
}

// Goes red if steps and seed don't fix the weeks, if a written week can't be read back, or if it breaks a wish.
#[test]
fn a_drafted_week_is_shown_explained_written_and_the_same_every_time() {
    let folder = tempfile::tempdir().unwrap();
    let wishes = example().with_file_name("wishes.toml");
    let (wishes, present) = (wishes.to_str().unwrap(), example());
    let out = folder.path().join("week.toml");
    let command = |more: &[&str]| {
        let mut all = vec!["programme", "draft", wishes, "--present", present.to_str().unwrap()];
        all.extend(["--steps", "15000", "--weeks", "2", "--out", out.to_str().unwrap()]);
        all.extend(more);
        check(folder.path(), &all, 0)
    };
    let told = command(&[]);
    for needed in [
        "Week 1 (within",
        "Week 2 (within",
        "13 lifts now on their days stay",
        "romanian deadlift 4 × 6, 2 in reserve",
        "of 75 min",
        "Side by side",
        "clears nobody to train",
    ] {
        assert!(flat(&told).contains(needed), "{told}\nlacks {needed}");
    }
    let first = std::fs::read_to_string(&out).unwrap();
    let second = std::fs::read_to_string(folder.path().join("week-2.toml")).unwrap();
    assert_ne!(first, second);
    let json: serde_json::Value = serde_json::from_str(&command(&["--json"])).unwrap();
    assert_eq!(json["weeks"][0]["text"], first.as_str(), "the same steps, the same week");
    let gap = json["weeks"][0]["gap_pct"].as_f64().unwrap();
    assert!(gap > 0.0 && gap < 20.0, "{gap}");
    for file in [out.to_str().unwrap(), folder.path().join("week-2.toml").to_str().unwrap()] {
        let checked = check(folder.path(), &["programme", "check", file], 0);
        assert!(!checked.contains("put right"), "{checked}");
        assert!(!checked.contains("back squat") && !checked.contains("hip thrust"), "{checked}");
    }
}

#[test]
fn wishes_that_contradict_each_other_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("wishes.toml");
    let draft = |text: &str, code: i32| {
        std::fs::write(&file, text).unwrap();
        flat(&check(
            folder.path(),
            &["programme", "draft", file.to_str().unwrap(), "--steps", "1"],
            code,
        ))
    };
    let told = draft(
        "name = \"x\"\nraise = [\"deadlift\"]\nspare = [\"lower_back\"]\n[[day]]\nweekday = \"Monday\"\n",
        3,
    );
    assert!(told.contains("These can't be kept together"), "{told}");
    assert!(
        told.contains("`deadlift` is to go up") && told.contains("the lower back is to be spared")
    );
    let told =
        draft("name = \"x\"\n[priority]\nchest = \"huge\"\n[[day]]\nweekday = \"Monday\"\n", 3);
    assert!(told.contains("line 3") && told.contains("write `low`, `usual` or `high`"), "{told}");
    let told = draft("name = \"x\"\nprefer = [\"quay haul\"]\n[[day]]\nweekday = \"Monday\"\n", 3);
    assert!(told.contains("quay haul"), "{told}");
    let told = draft("name = \"x\"\n", 3);
    assert!(told.contains("write at least one `[[day]]`"), "{told}");
}

#[test]
fn the_plan_is_changed_for_some_days_listed_and_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let log = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/log.csv");
    check(folder.path(), &["import", log.to_str().unwrap()], 0);
    let squad = check(folder.path(), &["lifts", "--json"], 0);
    let squad: serde_json::Value = serde_json::from_str(&squad).unwrap();
    let name = squad["lifters"][0]["name"].as_str().unwrap();
    let change = |arguments: &[&str], code: i32| {
        let all = [&["programme", "change"][..], arguments].concat();
        flat(&check(folder.path(), &all, code))
    };
    let none = change(&["drop", name, "2025-06-02"], 3);
    assert!(none.contains("has no programme"), "{none}");
    let file = example();
    check(folder.path(), &["programme", "set", name, file.to_str().unwrap()], 0);
    // The example trains on Mondays, Wednesdays and Fridays; 2 June 2025 is a Monday.
    let moved = ["move", name, "2025-06-02", "2025-06-03", "--reason", "a funeral"];
    let told = change(&moved, 0);
    assert!(told.starts_with("The session of Mon 2 Jun is done on Tue 3 Jun."), "{told}");
    let card = flat(&check(folder.path(), &["card", name, "--date", "2025-06-03"], 0));
    assert!(card.contains("Moved from Monday."), "{card}");
    let days = ["--from", "2025-06-09", "--until", "2025-06-15"];
    let light = [&["light", name][..], &days, &["--sets", "40", "--muscle", "chest"]].concat();
    assert!(change(&light, 0).contains("40 % of the sets for chest"));
    let away = [&["away", name][..], &days, &["--equipment", "dumbbell"]].concat();
    assert!(change(&away, 0).contains("with dumbbell"));
    let listed = change(&["list", name], 0);
    assert!(listed.contains("3 The session of Mon 2 Jun"), "{listed}");
    assert!(listed.contains("(a funeral)"), "{listed}");
    let shown = flat(&check(folder.path(), &["programme", "show", name], 0));
    assert!(shown.contains("– The session of Mon 2 Jun is done on Tue 3 Jun."), "{shown}");
    let undone = change(&["undo", name, "3", "--reason", "put off"], 0);
    assert!(undone.contains("Taken back: The session of Mon 2 Jun"), "{undone}");
    assert!(change(&["list", name], 0).contains("Taken back"));
    let again = change(&["undo", name, "3"], 3);
    assert!(again.contains("there is no change 3 in force"), "{again}");
    let card = flat(&check(folder.path(), &["card", name], 0));
    assert!(!card.contains("Moved"), "{card}");
    let refused = change(&["move", name, "2025-06-02", "2025-06-04"], 3);
    assert!(refused.contains("another session is planned for 2025-06-04"), "{refused}");
    let wrong = change(&[&["light", name][..], &days, &["--muscle", "wing"]].concat(), 2);
    assert!(wrong.contains("wing"), "{wrong}");
}

// Goes red if the number names another remark than the one that was printed, or if the file that was read changes.
#[test]
fn a_remark_is_cured_by_its_number() {
    let folder = tempfile::tempdir().unwrap();
    let file = example();
    let file = file.to_str().unwrap();
    let before = std::fs::read_to_string(file).unwrap();
    let json = check(folder.path(), &["programme", "check", file, "--json"], 0);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let findings = json["findings"].as_array().unwrap();
    let idx = findings.iter().position(|finding| finding["mend"].is_string()).unwrap();
    let (number, words) = ((idx + 1).to_string(), findings[idx]["words"].as_str().unwrap());
    let shown = flat(&check(folder.path(), &["programme", "check", file], 0));
    assert!(shown.contains(&format!("mend {number} ")), "{shown}");
    let out = folder.path().join("mended.toml");
    let out = out.to_str().unwrap();
    let told = check(folder.path(), &["programme", "mend", file, &number, "--out", out], 0);
    assert!(flat(&told).contains("Written to"), "{told}");
    assert_eq!(std::fs::read_to_string(file).unwrap(), before);
    let after = check(folder.path(), &["programme", "check", out, "--json"], 0);
    let after: serde_json::Value = serde_json::from_str(&after).unwrap();
    let place = findings[idx]["place"].as_str().unwrap();
    let still = after["findings"]
        .as_array()
        .unwrap()
        .iter()
        .any(|finding| finding["words"] == words && finding["place"] == place);
    assert!(!still, "{words}");
    let printed = check(folder.path(), &["programme", "mend", file, &number], 0);
    assert_eq!(printed, std::fs::read_to_string(out).unwrap());
    let none = check(folder.path(), &["programme", "mend", file, "99"], 3);
    assert!(none.contains("there is no remark 99"), "{none}");
}
