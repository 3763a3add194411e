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
    assert!(desk.get("/lifter/Wilma%20Tarn/back%20squat").text.contains(&set));
    let form = "date=2031-05-01&lift=back+squat&number=2&kind=work&load=100&unit=kg&rir=";
    let wrong = desk.post(&set, &format!("{form}&reps=6.5"));
    assert_eq!(wrong.status, 422);
    assert!(wrong.text.contains("id=\"field-reps-problem\"") && wrong.text.contains("6.5"));
    let right = desk.post(&set, &format!("{form}&reps=6&reason=a+miscount"));
    assert_eq!(right.location(), "/lifter/Wilma%20Tarn/back%20squat?done=corrected");
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
    let lift = "/lifter/Wilma%20Tarn/back%20squat";
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
    let gone = desk.post(&format!("{set}/withdraw"), "reason=never+done");
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
