//! The program itself behind its door: what it prints, whom it lets in, and what it leaves behind.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, ChildStdout, Command, Output, Stdio};

/// A record of nobody's in a folder of its own, and the program serving it.
struct Served {
    folder: tempfile::TempDir,
    server: Option<Child>,
    lines: Option<BufReader<ChildStdout>>,
    port: u16,
    /// What it printed first.
    opening: String,
}

struct Got {
    status: u16,
    head: Vec<(String, String)>,
    body: String,
}

impl Served {
    fn start(options: &[&str]) -> Served {
        Served::in_folder(tempfile::tempdir().unwrap(), options)
    }

    fn in_folder(folder: tempfile::TempDir, options: &[&str]) -> Served {
        let mut served =
            Served { folder, server: None, lines: None, port: 0, opening: String::new() };
        let mut command = served.command(&["serve", "--port", "0"]);
        let mut server =
            command.args(options).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(server.stdout.take().unwrap());
        let n_lines = if options.is_empty() { 1 } else { 4 };
        for _ in 0..n_lines {
            lines.read_line(&mut served.opening).unwrap();
        }
        let address = served.opening.split("http://").nth(1).unwrap();
        let port = address.split(':').nth(1).unwrap().split('/').next().unwrap();
        served.port = port.parse().unwrap();
        (served.server, served.lines) = (Some(server), Some(lines));
        served
    }

    fn record(&self) -> PathBuf {
        self.folder.path().join("record.bellwether")
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_bellwether"));
        command.args(arguments).env("BELLWETHER_STORE", self.record());
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    fn key(&self, arguments: &[&str]) -> serde_json::Value {
        let output = self.run(&[&["--json", "key"], arguments].concat());
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    }

    /// The path of the link that was printed, `nth` of them.
    fn link(&self, nth: usize) -> String {
        let link = self.opening.split("/coach/").nth(nth + 1).unwrap();
        format!("/coach/{}", link.split_whitespace().next().unwrap())
    }

    fn ask(&self, method: &str, path: &str, headers: &str, form: &str) -> Got {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let host = if headers.contains("Host: ") {
            String::new()
        } else {
            format!("Host: 127.0.0.1:{}\r\n", self.port)
        };
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\n{host}{headers}Connection: close\r\nContent-Length: {}\r\n\
             Content-Type: application/x-www-form-urlencoded\r\n\r\n{form}",
            form.len()
        )
        .unwrap();
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).unwrap();
        let text = String::from_utf8_lossy(&bytes);
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        let mut lines = head.lines();
        let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
        let head = lines.filter_map(|line| line.split_once(": "));
        let head = head.map(|(name, value)| (name.to_lowercase(), value.to_owned())).collect();
        Got { status, head, body: body.to_owned() }
    }

    fn get(&self, path: &str, headers: &str) -> Got {
        self.ask("GET", path, headers, "")
    }

    fn send(&self, path: &str, headers: &str, form: &str) -> Got {
        self.ask("POST", path, &format!("Sec-Fetch-Site: same-origin\r\n{headers}"), form)
    }

    /// Ends it; gives all that it said.
    fn end(mut self) -> String {
        let mut server = self.server.take().unwrap();
        server.kill().unwrap();
        let mut said = self.opening.clone();
        self.lines.take().unwrap().read_to_string(&mut said).unwrap();
        server.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        server.wait().unwrap();
        said
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        if let Some(mut server) = self.server.take() {
            server.kill().ok();
            server.wait().ok();
        }
    }
}

impl Got {
    fn header(&self, name: &str) -> &str {
        let found = self.head.iter().find(|(found, _)| found == name);
        found.map_or("", |(_, value)| value.as_str())
    }

    fn cookie(&self) -> String {
        format!("Cookie: {}\r\n", self.header("set-cookie").split(';').next().unwrap())
    }
}

#[test]
fn a_desk_of_ones_own_opens_at_once_and_by_key_if_it_is_asked_for() {
    let served = Served::start(&[]);
    assert_eq!(served.get("/", "").status, 200);
    assert!(!served.opening.contains("/coach/"), "{}", served.opening);
    // A proxy that hands on its own address for the name and says nothing of itself, but listens elsewhere.
    assert_eq!(served.get("/", "Host: localhost\r\n").status, 403);
    drop(served);
    let served = Served::start(&["--by-key"]);
    assert_eq!(served.get("/", "").status, 403);
    assert_eq!(served.send(&served.link(0), "", "").status, 303);
}

#[test]
fn with_an_address_this_machine_is_asked_for_the_key_too_and_opens_by_the_printed_link() {
    let served = Served::start(&["--address", "https://gym.example"]);
    for host in ["", "Host: localhost\r\n", "Host: gym.example\r\n"] {
        assert_eq!(served.get("/", host).status, 403, "{host}");
    }
    assert!(served.opening.contains(&format!("http://127.0.0.1:{}/coach/", served.port)));
    assert!(served.opening.contains("https://gym.example/coach/"), "{}", served.opening);
    assert_eq!(served.get(&served.link(0), "").status, 200);
    let let_in = served.send(&served.link(0), "", "");
    assert_eq!((let_in.status, let_in.header("location")), (303, "/"));
    assert_eq!(served.get("/", &let_in.cookie()).status, 200);
    assert_eq!(served.send(&served.link(0), "", "").status, 403);
    let outside = served.send(&served.link(1), "Host: gym.example\r\n", "");
    assert!(outside.header("set-cookie").starts_with("__Host-bellwether_coach="));
}

#[test]
fn the_key_is_printed_and_changed_by_a_command_while_the_desk_is_served() {
    let served = Served::start(&["--by-key"]);
    let key = served.key(&[])["key"].as_str().unwrap().to_owned();
    assert_eq!(key.len(), 40);
    let text = String::from_utf8(served.run(&["key"]).stdout).unwrap();
    assert!(text.replace(' ', "").contains(&key) && text.contains("key --change"), "{text}");
    let let_in = served.send("/coach", "", &format!("key={key}"));
    assert_eq!(served.get("/", &let_in.cookie()).status, 200);
    let changed = served.key(&["--change"]);
    assert_eq!((&changed["changed"], &changed["ended"]), (&true.into(), &1.into()));
    let new = changed["key"].as_str().unwrap();
    assert_ne!(new, key);
    assert_eq!(served.get("/", &let_in.cookie()).status, 403);
    assert_eq!(served.send("/coach", "", &format!("key={key}")).status, 403);
    assert_eq!(served.send(&served.link(0), "", "").status, 403);
    assert_eq!(served.send("/coach", "", &format!("key={new}")).status, 303);
    let nowhere = served.command(&["--store", "/no/such/record", "key"]).output().unwrap();
    assert_eq!(nowhere.status.code(), Some(4));
}

#[test]
fn where_nothing_can_be_written_beside_the_record_key_and_browsers_last_for_the_run() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("record.bellwether.coach-key")).unwrap();
    std::fs::write(folder.path().join("record.bellwether.coach-browsers"), "").unwrap();
    let served = Served::in_folder(folder, &["--by-key"]);
    let let_in = served.send(&served.link(0), "", "");
    assert_eq!(served.get("/", &let_in.cookie()).status, 200);
    let said = served.end();
    let key = said.split("The key: ").nth(1).unwrap_or_else(|| panic!("{said}"));
    assert!(said.contains("last for this run"), "{said}");
    assert_eq!(key.lines().next().unwrap().replace(' ', "").len(), 40);
}

#[test]
fn head_answers_as_get_does_without_the_body() {
    let served = Served::start(&[]);
    let made = served.send("/new-lifter", "", "name=Wilma+Tarn&unit=kg");
    assert_eq!(made.status, 303);
    let link = served.send("/lifter/Wilma%20Tarn/links", "", "").body;
    let token = link.split("/floor/").nth(1).unwrap()[..40].to_owned();
    let style = served.get("/", "").body;
    let style =
        format!("/assets/{}", style.split("/assets/").nth(1).unwrap().split('"').next().unwrap());
    for zip in ["", "Accept-Encoding: gzip\r\n"] {
        for path in [
            "/",
            "/lifter/Wilma%20Tarn",
            "/lifter/Wilma%20Tarn/card",
            "/lifter/Wilma%20Tarn/card.json",
            "/lifter/Wilma%20Tarn/links",
            "/lifter/Nobody",
            "/no/such/page",
            "/import",
            "/look",
            "/browsers",
            "/coach",
            "/coach/wrong",
            &style,
            &format!("/floor/{token}"),
            &format!("/floor/{token}/day.json"),
            &format!("/floor/{token}/messages"),
            "/floor/wrong",
            "/floor/sw.js",
            "/calendar/wrong.ics",
        ] {
            // Wrong links wait longer and longer: they are asked for once.
            let is_wrong = path.contains("wrong");
            let hosts = ["", "Host: elsewhere.example\r\n", "Host: 192.168.1.5:8734\r\n"];
            for host in hosts.into_iter().filter(|host| !is_wrong || zip.len() + host.len() == 0) {
                let headers = format!("{zip}{host}");
                let (get, head) =
                    (served.get(path, &headers), served.ask("HEAD", path, &headers, ""));
                assert_eq!(head.status, get.status, "{path} {headers}");
                assert!(head.body.is_empty() && !get.body.is_empty(), "{path} {headers}");
                let said = |got: &Got| {
                    let mut head = got.head.clone();
                    head.retain(|(name, _)| {
                        !["date", "transfer-encoding"].contains(&name.as_str())
                    });
                    head.sort();
                    head
                };
                assert_eq!(said(&head), said(&get), "{path} {headers}");
            }
        }
    }
}

#[test]
fn no_token_is_written_anywhere_but_where_it_is_shown() {
    let served = Served::start(&["--by-key"]);
    let let_in = served.send(&served.link(0), "", "");
    let cookie = let_in.cookie();
    served.send("/new-lifter", &cookie, "name=Wilma+Tarn&unit=kg");
    let page = served.send("/lifter/Wilma%20Tarn/links", &cookie, "").body;
    let phone = page.split("/floor/").nth(1).unwrap()[..40].to_owned();
    let page = served.send("/lifter/Wilma%20Tarn/calendar", &cookie, "").body;
    let calendar = page.split("/calendar/").nth(1).unwrap()[..40].to_owned();
    let browser = let_in.header("set-cookie").split(['=', ';']).nth(1).unwrap().to_owned();
    // Nothing is on record to be shown, but both open.
    assert_ne!(served.get(&format!("/floor/{phone}"), "").status, 404);
    assert_ne!(served.get(&format!("/calendar/{calendar}.ics"), "").status, 404);
    assert_eq!(served.get("/floor/0123456789", "").status, 404);
    let folder = served.folder.path().to_owned();
    let mut written = Vec::new();
    let mut folders = vec![folder];
    while let Some(folder) = folders.pop() {
        for file in std::fs::read_dir(folder).unwrap() {
            let path = file.unwrap().path();
            written.extend(path.as_os_str().as_encoded_bytes());
            if path.is_dir() {
                folders.push(path)
            } else {
                written.extend(std::fs::read(path).unwrap())
            }
        }
    }
    let link = served.link(0).replace("/coach/", "");
    let said = served.end();
    let opening_has_link = said.matches(&link).count();
    assert_eq!(opening_has_link, 1);
    for token in [&phone, &calendar, &browser, "0123456789"] {
        assert!(!said.contains(token), "{token} was said: {said}");
    }
    for token in [&phone, &calendar, &browser, &link] {
        let is_there = written.windows(token.len()).any(|part| part == token.as_bytes());
        assert!(!is_there, "{token} was stored");
    }
}
