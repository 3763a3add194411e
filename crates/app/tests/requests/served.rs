//! The program itself serving a store of an invented lifter, and what is to be sent to it.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A form of a page.
#[derive(Clone, Debug)]
pub(crate) struct Form {
    pub(crate) action: String,
    pub(crate) fields: Vec<(String, String)>,
}

/// The program, its store and what it complained of.
pub(crate) struct Served {
    folder: tempfile::TempDir,
    server: Child,
    host: String,
    pub(crate) today: String,
}

impl Served {
    pub(crate) fn start() -> Served {
        let folder = tempfile::tempdir().unwrap();
        let today = jiff::ZonedDateTime::now().date();
        let store = folder.path().join("record.bellwether");
        let log = folder.path().join("log.csv");
        std::fs::write(&log, log_text(today)).unwrap();
        let program = || {
            let mut program = Command::new(env!("CARGO_BIN_EXE_bellwether"));
            program.env("BELLWETHER_STORE", &store);
            program
        };
        assert!(program().arg("import").arg(&log).output().unwrap().status.success());
        let errors = std::fs::File::create(folder.path().join("errors")).unwrap();
        let mut server = program()
            .args(["--json", "serve", "--port", "0"])
            .stdout(Stdio::piped())
            .stderr(errors)
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(server.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let told: serde_json::Value = serde_json::from_str(&line).unwrap();
        let address = told["address"].as_str().unwrap();
        let host = address.trim_start_matches("http://").trim_end_matches('/').to_owned();
        Served { folder, server, host, today: today.to_string() }
    }

    /// The clock that phones send.
    pub(crate) fn now(&self) -> i64 {
        jiff::Timestamp::now().as_millisecond()
    }

    /// What the program wrote of panics.
    pub(crate) fn errors(&self) -> String {
        let all = std::fs::read_to_string(self.folder.path().join("errors")).unwrap();
        if all.contains("panicked") { all } else { String::new() }
    }

    pub(crate) fn get(&self, path: &str) -> (u16, String) {
        let (status, _, text) = self.ask("GET", path, "", &[]);
        (status, text)
    }

    pub(crate) fn post_form(&self, path: &str, body: &[u8]) -> (u16, String) {
        self.post(path, "application/x-www-form-urlencoded", body)
    }

    pub(crate) fn post(&self, path: &str, kind: &str, body: &[u8]) -> (u16, String) {
        let (status, _, text) = self.ask("POST", path, kind, body);
        (status, text)
    }

    /// Sends a table as the page does; gives where it leads too.
    pub(crate) fn post_table(&self, table: &str) -> (u16, Option<String>) {
        let body = format!(
            "--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"log.csv\"\r\n\
             Content-Type: text/csv\r\n\r\n{table}\r\n--edge--\r\n"
        );
        let kind = "multipart/form-data; boundary=edge";
        let (status, head, _) = self.ask("POST", "/import", kind, body.as_bytes());
        let place = head.lines().find_map(|line| line.strip_prefix("location: "));
        (status, place.map(|place| place.trim().to_owned()))
    }

    /// One request on a connection of its own. Without an answer the status is 0.
    fn ask(&self, method: &str, path: &str, kind: &str, body: &[u8]) -> (u16, String, String) {
        let mut stream = TcpStream::connect(&self.host).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(120))).unwrap();
        let host = &self.host;
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nSec-Fetch-Site: same-origin\r\n\
             Connection: close\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
            body.len()
        );
        // What is refused before it is read may be cut off while it is sent.
        stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(body)).ok();
        let mut whole = Vec::new();
        stream.read_to_end(&mut whole).ok();
        let whole = String::from_utf8_lossy(&whole);
        let (head, text) = whole.split_once("\r\n\r\n").unwrap_or((&whole, ""));
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        (status, head.to_owned(), text.to_owned())
    }

    fn store(&self) -> PathBuf {
        self.folder.path().join("record.bellwether")
    }

    /// Fails unless the doctor finds the store well and everything can be written out.
    pub(crate) fn is_whole(&self) {
        let out = self.folder.path().join("export");
        for arguments in [vec!["doctor"], vec!["export", out.to_str().unwrap()]] {
            let mut program = Command::new(env!("CARGO_BIN_EXE_bellwether"));
            let told =
                program.args(&arguments).env("BELLWETHER_STORE", self.store()).output().unwrap();
            assert!(
                told.status.success(),
                "{arguments:?}: {}{}",
                String::from_utf8_lossy(&told.stdout),
                String::from_utf8_lossy(&told.stderr)
            );
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.server.kill().ok();
        self.server.wait().ok();
    }
}

/// A record of two lifts over some weeks.
fn log_text(today: jiff::civil::Date) -> String {
    let mut text = String::from("lifter,date,lift,set,load,unit,reps,rir\n");
    for session in 0..12_i32 {
        let date = today.saturating_sub(jiff::Span::new().days(3 + 3 * (11 - session)));
        for (lift, load) in [("back squat", 100), ("leg press", 180)] {
            for set in 1..=2 {
                text.push_str(&format!(
                    "Wilma Tarn,{date},{lift},{set},{},kg,6,2\n",
                    load + session
                ));
            }
        }
    }
    text
}

/// The forms of a page that send something.
pub(crate) fn forms_of(page: &str, at: &str) -> Vec<Form> {
    let mut forms = Vec::new();
    for part in page.split("<form").skip(1) {
        let part = part.split("</form>").next().unwrap_or("");
        let (head, inside) = part.split_once('>').unwrap_or((part, ""));
        if !head.contains("method=\"post\"") || head.contains("multipart") {
            continue;
        }
        let here = at.split('?').next().unwrap_or(at);
        let action = attribute(head, "action").unwrap_or_else(|| here.to_owned());
        let mut fields = Vec::new();
        for tag in inside.split('<').skip(1) {
            let Some(name) = attribute(tag, "name") else { continue };
            let is_text = tag.starts_with("textarea");
            let value = if is_text {
                tag.split_once('>').map(|(_, text)| text.to_owned())
            } else {
                attribute(tag, "value")
            };
            fields.push((name, plain(&value.unwrap_or_default())));
        }
        forms.push(Form { action: plain(&action), fields });
    }
    forms
}

/// Where a page leads.
pub(crate) fn links_of(page: &str) -> Vec<String> {
    page.split("href=\"").skip(1).filter_map(|part| part.split('"').next()).map(plain).collect()
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let tag = tag.split('>').next().unwrap_or(tag);
    let (_, after) = tag.split_once(&format!(" {name}=\""))?;
    after.split('"').next().map(str::to_owned)
}

fn plain(text: &str) -> String {
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}

/// An address without the names and ids in it.
pub(crate) fn template(path: &str) -> String {
    let path = path.split('?').next().unwrap_or(path);
    let parts: Vec<&str> = path.split('/').skip(1).collect();
    let mut open = Vec::new();
    for (place, part) in parts.iter().enumerate() {
        let before = if place == 0 { "" } else { parts[place - 1] };
        let is_name = matches!(before, "lifter" | "lift" | "set" | "links" | "floor")
            || (before == "import" && place == 1)
            || (matches!(before, "calendar" | "changes" | "draft") && place > 2);
        open.push(if is_name { "{}" } else { *part });
    }
    format!("/{}", open.join("/"))
}
