//! What a coach changes in the browser, with the program itself serving a store of its own: from the first
//! lifter taken on to a table imported, a set corrected and costs kept. The lifters are invented.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};

use domain::LifterName;
use service::Store;

/// The program, serving an empty store.
struct Served {
    folder: tempfile::TempDir,
    server: Child,
    host: String,
}

struct Answer {
    status: u16,
    head: String,
    text: String,
}

impl Answer {
    /// Where it leads.
    fn location(&self) -> &str {
        let line = self.head.lines().find_map(|line| line.strip_prefix("location: "));
        line.unwrap_or_else(|| panic!("{} leads nowhere: {}", self.status, self.text))
    }
}

impl Served {
    fn start() -> Served {
        let folder = tempfile::tempdir().unwrap();
        let mut server = Command::new(env!("CARGO_BIN_EXE_bellwether"))
            .args(["--json", "--today", "2031-05-06", "serve", "--port", "0"])
            .env("BELLWETHER_STORE", folder.path().join("record.bellwether"))
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(server.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let told: serde_json::Value = serde_json::from_str(&line).unwrap();
        let address = told["address"].as_str().unwrap();
        let host = address.trim_start_matches("http://").trim_end_matches('/').to_owned();
        Served { folder, server, host }
    }

    fn send(&self, head: &str, body: &str) -> Answer {
        let mut stream = TcpStream::connect(&self.host).unwrap();
        let length = body.len();
        write!(
            stream,
            "{head}\r\nHost: {}\r\nConnection: close\r\nContent-Length: {length}\r\n\r\n{body}",
            self.host
        )
        .unwrap();
        let mut whole = String::new();
        stream.read_to_string(&mut whole).unwrap();
        let (head, text) = whole.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        Answer { status, head: head.to_owned(), text: text.to_owned() }
    }

    fn get(&self, path: &str) -> Answer {
        self.send(&format!("GET {path} HTTP/1.1"), "")
    }

    /// A form sent from a page of the desk.
    fn post(&self, path: &str, form: &str) -> Answer {
        self.post_from(&format!("http://{}", self.host), path, form)
    }

    fn post_from(&self, origin: &str, path: &str, form: &str) -> Answer {
        let kind = "application/x-www-form-urlencoded";
        self.send(
            &format!("POST {path} HTTP/1.1\r\nOrigin: {origin}\r\nContent-Type: {kind}"),
            form,
        )
    }

    /// A table sent from the page of the import.
    fn upload(&self, table: &str) -> Answer {
        let body = format!(
            "--cut\r\nContent-Disposition: form-data; name=\"file\"; filename=\"\"\r\n\
             Content-Type: application/octet-stream\r\n\r\n\r\n--cut\r\n\
             Content-Disposition: form-data; name=\"text\"\r\n\r\n{table}\r\n--cut--\r\n"
        );
        let kind = "multipart/form-data; boundary=cut";
        let origin = &self.host;
        self.send(
            &format!("POST /import HTTP/1.1\r\nOrigin: http://{origin}\r\nContent-Type: {kind}"),
            &body,
        )
    }

    fn store(&self) -> Store {
        Store::open_read_only(&self.folder.path().join("record.bellwether")).unwrap()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.server.kill().ok();
        self.server.wait().ok();
    }
}

fn wilma() -> LifterName {
    LifterName::new("Wilma Tarn").unwrap()
}

#[test]
fn from_an_empty_desk_to_a_corrected_record() {
    let desk = Served::start();
    let empty = desk.get("/");
    assert!(empty.text.contains("Nobody is on record yet") && empty.text.contains("/new-lifter"));
    assert!(empty.text.contains("href=\"/import\""));
    // A name that can't be, and then one that can.
    let refused = desk.post("/new-lifter", "name=&unit=lb&body_mass=abc");
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("id=\"field-name-problem\""));
    assert!(refused.text.contains("value=\"abc\""), "what was typed stays");
    assert!(refused.text.contains("<option value=\"lb\" selected>"));
    let taken = desk.post("/new-lifter", "name=Wilma+Tarn&unit=kg&joint_1=knee&pain_1=2");
    assert_eq!((taken.status, taken.location()), (303, "/lifter/Wilma%20Tarn?done=taken-on"));
    let page = desk.get(taken.location());
    assert!(
        page.text.contains("The lifter is on record.") && page.text.contains("What to do next")
    );
    assert_eq!(desk.store().check_ins_of(&wilma()).unwrap().len(), 1);
    // A table of hers, pasted; one line can't be read.
    let table = "When;Exercise;Weight;Times\r\n2031-05-01;Back Squat;100;5\r\n\
                 2031-05-01;Back Squat;100;5\r\n2031-05-04;Back Squat;100;lots\r\n";
    let waits = desk.upload(table);
    assert_eq!(waits.status, 303);
    let path = waits.location().to_owned();
    let first = desk.get(&path);
    assert_eq!(first.status, 200);
    assert!(first.text.contains("No column holds the lifter"), "{}", first.text);
    let said = "table=log&column_0=date&column_1=lift&column_2=load&column_3=reps\
                &lifter=Wilma+Tarn&unit=kg";
    let ready = desk.get(&format!("{path}?{said}"));
    assert!(ready.text.contains("Import 2 sets") && ready.text.contains("<td class=\"n\">4</td>"));
    assert!(desk.store().sets_of(&wilma()).unwrap().is_empty(), "looking writes nothing");
    let done = desk.post(&path, said);
    assert!(done.text.contains("2 sets</strong> now on record"), "{}", done.text);
    assert!(done.text.contains("Mend the refused lines"));
    let sets = desk.store().sets_of(&wilma()).unwrap();
    assert_eq!(sets.len(), 2);
    // One of the sets was of six.
    let set = format!("/lifter/Wilma%20Tarn/set/{}", sets[1].id());
    assert!(desk.get("/lifter/Wilma%20Tarn/lift/back%20squat").text.contains(&set));
    let form = "date=2031-05-01&lift=back+squat&number=2&kind=work&load=100&unit=kg&rir=";
    let wrong = desk.post(&set, &format!("{form}&reps=6.5"));
    assert_eq!(wrong.status, 422);
    assert!(wrong.text.contains("id=\"field-reps-problem\"") && wrong.text.contains("6.5"));
    let right = desk.post(&set, &format!("{form}&reps=6&reason=a+miscount"));
    assert_eq!(right.location(), "/lifter/Wilma%20Tarn/lift/back%20squat?done=corrected");
    assert_eq!(desk.store().sets_of(&wilma()).unwrap()[1].reps.get(), 6);
    assert!(desk.get(right.location()).text.contains("a miscount"));
}

#[test]
fn settings_and_costs_are_kept_and_withdrawn_sets_are_gone() {
    let desk = Served::start();
    let log = "lifter,date,lift,load,unit,reps\nWilma Tarn,2031-05-01,back squat,100,kg,5\n";
    let path = desk.upload(log).location().to_owned();
    let said = "table=log&column_0=lifter&column_1=date&column_2=lift&column_3=load\
                &column_4=unit&column_5=reps";
    assert_eq!(desk.post(&path, said).status, 200);
    let settings = "/lifter/Wilma%20Tarn/settings";
    assert!(desk.get(settings).text.contains("20 kg x 10\n15 kg x 2"));
    let bad = desk.post(settings, "unit=kg&bar=17.5&collars=0&plates=20&pain=5&shortfall=2");
    assert_eq!(bad.status, 422);
    assert!(bad.text.contains("field-plates-problem"));
    assert!(bad.text.contains("value=\"17.5\""), "what was typed stays: {}", bad.text);
    let good = "unit=kg&bar=15&collars=0&plates=20+x+2&pain=4&shortfall=2\
                &cut_for_nothing=1&trained_through=3";
    assert_eq!(desk.post(settings, good).location(), "/lifter/Wilma%20Tarn?done=settings");
    let lift = "/lifter/Wilma%20Tarn/lift/back%20squat";
    let tried = desk.get(&format!("{lift}?cut_for_nothing=1&trained_through=zero"));
    assert_eq!(tried.status, 422);
    assert!(tried.text.contains("field-trained_through-problem"));
    assert_eq!(desk.post(lift, "cut_for_nothing=1&trained_through=zero").status, 422);
    let kept = desk.post(lift, "cut_for_nothing=2&trained_through=2");
    assert_eq!(kept.location(), format!("{lift}?done=costs"));
    let lifter = desk.store().lifter(&wilma()).unwrap().unwrap();
    assert_eq!((lifter.limits.threshold(), lifter.limits.pain()), (0.5, 4));
    assert_eq!(lifter.bar.mass.grams(), 15_000);
    let id = desk.store().sets_of(&wilma()).unwrap()[0].id();
    let set = format!("/lifter/Wilma%20Tarn/set/{id}");
    let gone = desk.post(&format!("{set}/withdraw"), "withdraw_reason=never+done");
    assert_eq!(gone.status, 303);
    assert!(desk.store().sets_of(&wilma()).unwrap().is_empty());
    assert!(desk.get(&set).text.contains("Put the set back"));
}

#[test]
fn forms_from_elsewhere_change_nothing() {
    let desk = Served::start();
    for origin in ["http://evil.example", "null", "http://127.0.0.1:1"] {
        let answer = desk.post_from(origin, "/new-lifter", "name=Wilma+Tarn&unit=kg");
        assert_eq!(answer.status, 403, "{origin}");
    }
    assert_eq!(desk.store().n_facts().unwrap(), 0);
    assert_eq!(desk.get("/import/4b976d40-134f-5883-bb20-a60d964dbb9d").status, 404);
    let nothing = desk.upload("");
    assert_eq!(nothing.status, 422);
    assert!(nothing.text.contains("Nothing was sent"));
}

/// A form with a week in it.
const WEEK: &str = "do=keep&name=By+the+quay&begins=2031-05-05&d1_weekday=Monday&d1_minutes=60\
    &d1_l1_lift=back+squat&d1_l1_sets=3&d1_l1_reps=5-8&d1_l1_rir=2&d1_l1_rule=double+progression\
    &d2_weekday=Thursday&d2_l1_lift=bench+press&d2_l1_sets=4&d2_l1_reps=5&d2_l1_rule=load+steps";

#[test]
fn a_programme_is_kept_and_the_card_and_the_calendar_follow_it_until_the_link_is_revoked() {
    let served = Served::start();
    let lifter = "/lifter/Wilma%20Tarn";
    let done = served.post("/new-lifter", "name=Wilma+Tarn&unit=kg");
    assert_eq!(done.status, 303, "{}", done.text);
    let page = served.get(&format!("{lifter}/programme"));
    assert!(page.text.contains("No programme yet"), "{}", page.text);
    let edit = format!("{lifter}/programme/edit");
    let checked = served.post(&edit, &WEEK.replace("do=keep", "do=check"));
    assert_eq!(checked.status, 200);
    assert!(checked.text.contains("What a coach would remark"), "{}", checked.text);
    let refused = served.post(&edit, &WEEK.replace("back+squat", "bakc+squat"));
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("did you mean back squat"), "{}", refused.text);
    assert!(served.get(&format!("{lifter}/programme")).text.contains("No programme yet"));
    let kept = served.post(&edit, WEEK);
    assert_eq!(kept.status, 303, "{}", kept.text);
    let page = served.get(kept.location());
    assert!(
        page.text.contains("The programme is kept") && page.text.contains("3 × 5–8, 2 in reserve")
    );
    let card = served.get(&format!("{lifter}/card?date=2031-05-05"));
    assert!(card.text.contains("Monday of “By the quay”"), "{}", card.text);
    assert!(card.text.contains("load to be found"), "{}", card.text);

    let made = served.post(&format!("{lifter}/calendar"), "");
    assert_eq!(made.status, 201);
    let start = made.text.find("/calendar/").unwrap();
    let address: String =
        made.text[start..].chars().take_while(|c| *c != '"' && *c != '<').collect();
    let feed = served.get(&address);
    assert_eq!(feed.status, 200);
    assert!(feed.head.contains("text/calendar; charset=utf-8"), "{}", feed.head);
    // Read by another library than the one that wrote it.
    let calendars: Vec<_> = ical::IcalParser::new(feed.text.as_bytes()).collect();
    let [Ok(calendar)] = calendars.as_slice() else { panic!("{calendars:?}") };
    let of = |event: &ical::parser::ical::component::IcalEvent, name: &str| {
        let found = event.properties.iter().find(|property| property.name == name);
        found.and_then(|property| property.value.clone()).unwrap_or_default()
    };
    let days: Vec<String> = calendar.events.iter().map(|event| of(event, "DTSTART")).collect();
    // Nine weeks from that of Tuesday, 6 May 2031, with two days each; the week's Monday is past and there.
    assert_eq!(days.len(), 18);
    assert_eq!(days[..4], ["20310505", "20310508", "20310512", "20310515"]);
    let first = &calendar.events[0];
    assert_eq!(of(first, "SUMMARY"), "By the quay: Monday\\, 60 min");
    assert_eq!(of(first, "DESCRIPTION"), "back squat: 3 × 5–8\\, 2 in reserve");
    assert!(calendar.events.iter().all(|event| !of(event, "UID").is_empty()));
    // A calendar's link opens no session, and a session's no calendar.
    assert_eq!(
        served.get(&address.replace("/calendar/", "/floor/").replace(".ics", "")).status,
        404
    );
    let phone = served.post(&format!("{lifter}/links"), "");
    let start = phone.text.find("/floor/").unwrap();
    let session: String =
        phone.text[start..].chars().take_while(|c| *c != '"' && *c != '<').collect();
    assert_eq!(served.get(&session).status, 200);
    assert_eq!(
        served.get(&format!("{}.ics", session.replace("/floor/", "/calendar/"))).status,
        404
    );

    let page = served.get(&format!("{lifter}/programme"));
    let start = page.text.find(&format!("{lifter}/calendar/")).unwrap();
    let revoke: String = page.text[start..].chars().take_while(|c| *c != '"').collect();
    assert_eq!(served.post(&revoke, "").status, 303);
    assert_eq!(served.get(&address).status, 410);
    assert!(served.get(&format!("{lifter}/programme")).text.contains("revoked on"));

    // A lift may be called what a page is called.
    let lift = served.get(&format!("{lifter}/lift/card"));
    assert!(lift.status == 404 && lift.text.contains("no lift"), "{}", lift.text);

    let away = served.post(&format!("{lifter}/programme/withdraw"), "reason=holiday");
    assert_eq!(away.status, 303);
    let page = served.get(away.location());
    assert!(page.text.contains("No programme yet") && page.text.contains(": holiday"));
}

/// The text of a page between two marks, tags left out and spaces made one.
fn words_between(page: &str, from: &str, to: &str) -> String {
    let start = page.find(from).unwrap_or_else(|| panic!("no {from}: {page}"));
    let part = page[start..].split(to).next().unwrap();
    let bare: String = part
        .split('<')
        .filter_map(|piece| piece.split_once('>').map(|(_, text)| format!("{text} ")))
        .collect();
    bare.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_programme_s_pages_have_the_minutes_the_joints_and_the_dose_of_the_commands() {
    let served = Served::start();
    let lifter = "/lifter/Wilma%20Tarn";
    served.post("/new-lifter", "name=Wilma+Tarn&unit=kg");
    let edit = format!("{lifter}/programme/edit");
    let checked = served.post(&edit, &format!("{WEEK}&spare_knee=on").replace("=keep", "=check"));
    let kept = served.post(&edit, &format!("{WEEK}&spare_knee=on"));
    let page = served.get(kept.location());
    // What the commands say of the same programme, as data.
    let file = served.folder.path().join("week.toml");
    let path = file.to_str().unwrap();
    let asked = |arguments: &[&str]| -> String {
        let mut command = Command::new(env!("CARGO_BIN_EXE_bellwether"));
        command.args(["--today", "2031-05-06"]).args(arguments);
        command.env("BELLWETHER_STORE", served.folder.path().join("record.bellwether"));
        String::from_utf8(command.output().unwrap().stdout).unwrap()
    };
    std::fs::write(&file, asked(&["programme", "show", "Wilma Tarn", "--file"])).unwrap();
    let data = |arguments: &[&str]| -> serde_json::Value {
        serde_json::from_str(&asked(&[&["--json"], arguments].concat())).unwrap()
    };
    let check = data(&["programme", "check", path, "--lifter", "Wilma Tarn"]);
    let dose = data(&["programme", "dose", path]);
    let number = |value: &serde_json::Value| {
        format!("{:.1}", value.as_f64().unwrap()).trim_end_matches(".0").to_owned()
    };
    let or_dash = |value: &serde_json::Value| {
        if value.as_f64() > Some(0.0) { number(value) } else { "–".to_owned() }
    };

    let days = check["days"].as_array().unwrap();
    assert_eq!(days.len(), 2);
    for (day, there) in days.iter().zip([" of 60", ""]) {
        let weekday = day["weekday"].as_str().unwrap();
        let told = format!("{weekday} about {} min{there}", day["minutes"]);
        assert_eq!(words_between(&page.text, &format!("<h2>{weekday}"), "</h2>"), told);
        assert_eq!(words_between(&checked.text, &format!("<legend>{weekday}"), "</legend>"), told);
    }

    let joints = check["joints"].as_array().unwrap();
    assert!(joints.iter().any(|joint| joint["joint"] == "knee" && joint["spared"] == true));
    let mut rows = vec!["Joint Mon Thu Week".to_owned()];
    for joint in joints {
        let spared = if joint["spared"] == true { " (to be spared)" } else { "" };
        let days: Vec<String> = joint["days"].as_array().unwrap().iter().map(or_dash).collect();
        let name = joint["joint"].as_str().unwrap();
        rows.push(format!("{name}{spared} {} {}", days.join(" "), number(&joint["week"])));
    }
    for text in [&page.text, &checked.text] {
        let table =
            words_between(text, "aria-label=\"Load on joints by day and week\"", "</table>");
        assert_eq!(table, rows.join(" "));
    }

    let table = words_between(&page.text, "aria-label=\"Dose by muscle\"", "</table>");
    assert!(
        table.starts_with("Muscle Week Least–aim–most Verdict Direct Assisting Mon Thu"),
        "{table}"
    );
    let muscles = dose["muscles"].as_array().unwrap();
    for muscle in muscles {
        let [direct, assisting] = ["direct", "assisting"].map(|key| or_dash(&muscle[key]));
        let range: Vec<String> = muscle["range"].as_array().unwrap().iter().map(number).collect();
        let row = format!(
            "{} {} {} {} {direct} {assisting} ",
            muscle["muscle"].as_str().unwrap(),
            number(&muscle["total"]),
            range.join("–"),
            muscle["verdict"].as_str().unwrap()
        );
        assert!(table.contains(&row), "{table}\nlacks {row}");
    }
    assert!(muscles.iter().any(|muscle| muscle["direct"].as_f64() > Some(0.0)));
    assert!(muscles.iter().any(|muscle| muscle["assisting"].as_f64() > Some(0.0)));
}
