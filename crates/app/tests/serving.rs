//! Serving when clients don't behave: half-sent requests, bodies without an end, far too much at once, pages
//! that fall over, and the end of the program in the middle of all that.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use axum::Router;
use axum::routing::get;
use bellwether::server::{Limits, raise_descriptor_limit, serve};
use bellwether::web::answered;

/// Much longer than anything here takes on a slow machine.
const PATIENCE: Duration = Duration::from_secs(60);
const MOMENT: Duration = Duration::from_millis(400);

/// An answer: its status, and all that came.
struct Answer {
    status: u16,
    text: String,
}

impl Answer {
    fn is_data(&self, status: u16) -> bool {
        self.status == status
            && self.text.contains("content-type: application/json")
            && self.text.contains("{\"error\":\"")
    }

    fn is_page(&self, status: u16) -> bool {
        self.status == status && self.text.contains("<!DOCTYPE html>") && self.text.contains("<h1>")
    }
}

fn connect(address: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    stream.set_write_timeout(Some(PATIENCE)).unwrap();
    stream
}

/// What comes until the other side closes; nothing if it does so without a word.
fn rest(stream: &mut TcpStream) -> Option<Answer> {
    let mut bytes = Vec::new();
    // A connection that is cut off ends in an error on some systems.
    stream.read_to_end(&mut bytes).ok();
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let status = text.split(' ').nth(1)?.parse().ok()?;
    Some(Answer { status, text })
}

fn head(address: SocketAddr, method: &str, path: &str, headers: &str) -> String {
    format!(
        "{method} {path} HTTP/1.1\r\nhost: {address}\r\norigin: http://{address}\r\n{headers}\r\n"
    )
}

fn ask(address: SocketAddr, method: &str, path: &str) -> Answer {
    let mut stream = connect(address);
    let closing = "connection: close\r\ncontent-length: 0\r\n";
    stream.write_all(head(address, method, path, closing).as_bytes()).unwrap();
    rest(&mut stream).expect("an answer")
}

/// Sends a body before it looks at the answer, as browsers do.
fn send_whole(address: SocketAddr, path: &str, bytes: usize, in_chunks: bool) -> Answer {
    let mut stream = connect(address);
    let length = match in_chunks {
        true => "transfer-encoding: chunked\r\n".to_owned(),
        false => format!("content-length: {bytes}\r\n"),
    };
    stream.write_all(head(address, "POST", path, &length).as_bytes()).unwrap();
    let part = vec![b'x'; 64 * 1024];
    let mut left = bytes;
    while left > 0 {
        let now = left.min(part.len());
        if in_chunks {
            stream.write_all(format!("{now:x}\r\n").as_bytes()).unwrap();
        }
        stream.write_all(&part[..now]).expect("the line was cut before all was sent");
        if in_chunks {
            stream.write_all(b"\r\n").unwrap();
        }
        left -= now;
    }
    if in_chunks {
        stream.write_all(b"0\r\n\r\n").unwrap();
    }
    rest(&mut stream).expect("an answer")
}

/// A server of the pages under test, on threads of its own until the test ends.
fn serving(pages: Router, limits: Limits) -> SocketAddr {
    let (ready, address) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        tokio::runtime::Runtime::new().unwrap().block_on(async {
            let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
            ready.send(listener.local_addr().unwrap()).unwrap();
            serve(listener, pages, limits, std::future::pending()).await;
        });
    });
    address.recv().unwrap()
}

fn pages() -> Router {
    async fn slow() -> &'static str {
        tokio::time::sleep(2 * MOMENT).await;
        "done"
    }
    async fn falls_over() -> &'static str {
        panic!("this page falls over on purpose")
    }
    answered(
        Router::new()
            .route("/", get(|| async { "page" }))
            .route("/slow", get(slow))
            .route("/over", get(falls_over))
            .route("/floor/{token}/day.json", get(falls_over)),
    )
}

/// The program itself.
struct Program {
    process: Child,
    address: SocketAddr,
    _folder: tempfile::TempDir,
}

impl Program {
    /// Serves a record with one invented lifter.
    fn serve() -> Program {
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("log.csv");
        let lines = "lifter,date,lift,set,kind,load,unit,reps,rir,note\n\
                     Wilma Tarn,2025-05-30,back squat,1,work,100,kg,5,2,\n";
        std::fs::write(&log, lines).unwrap();
        let command = |arguments: &[&str]| {
            let mut command = Command::new(env!("CARGO_BIN_EXE_bellwether"));
            command.args(arguments).arg("--store").arg(folder.path().join("record.bellwether"));
            command.stdin(Stdio::null()).stdout(Stdio::piped());
            command
        };
        let imported = command(&["import", log.to_str().unwrap()]).output().unwrap();
        assert!(imported.status.success());
        let mut process = command(&["--json", "serve", "--port", "0"]).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(process.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let address = line.split("http://").nth(1).unwrap().split(['/', '"']).next().unwrap();
        let address = address.parse().unwrap();
        Program { process, address, _folder: folder }
    }

    /// The path of a phone's link.
    fn phone(&self) -> String {
        let made = ask(self.address, "POST", "/lifter/Wilma%20Tarn/links");
        let token = made.text.split("/floor/").nth(1).unwrap().split('"').next().unwrap();
        format!("/floor/{token}")
    }

    /// Tells it to end; how long it took.
    fn end(mut self, signal: &str) -> Duration {
        let pid = self.process.id().to_string();
        let begun = Instant::now();
        assert!(Command::new("kill").args([signal, &pid]).status().unwrap().success());
        let ended = self.process.wait().unwrap();
        assert!(ended.success(), "{ended}");
        begun.elapsed()
    }

    fn descriptors(&self) -> Option<usize> {
        let folder = Path::new("/proc").join(self.process.id().to_string()).join("fd");
        Some(std::fs::read_dir(folder).ok()?.count())
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        self.process.kill().ok();
        self.process.wait().ok();
    }
}

#[test]
fn requests_and_connections_that_wait_too_long_are_closed() {
    let limits = Limits { head: MOMENT, idle: 3 * MOMENT, ..Limits::default() };
    let address = serving(pages(), limits);
    let begun = Instant::now();
    let mut half = connect(address);
    half.write_all(b"GET / HTTP/1.1\r\nhost: lo").unwrap();
    // A byte now and then makes it no younger.
    let mut dripping = connect(address);
    let drops = std::thread::spawn(move || {
        for byte in b"GET / HTTP/1.1\r\nx: yyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyy".iter().cycle() {
            if dripping.write_all(&[*byte]).is_err() || begun.elapsed() > PATIENCE {
                return begun.elapsed();
            }
            std::thread::sleep(MOMENT / 10);
        }
        begun.elapsed()
    });
    let mut idle = connect(address);
    idle.write_all(head(address, "GET", "/", "").as_bytes()).unwrap();
    assert!(rest(&mut half).is_none_or(|answer| answer.status == 408));
    assert!(begun.elapsed() >= MOMENT);
    assert!(drops.join().unwrap() < PATIENCE / 2, "it went on dripping");
    // The idle one had its answer first, and was held open for another request.
    let answer = rest(&mut idle).unwrap();
    assert_eq!(answer.status, 200);
    assert!(begun.elapsed() >= 3 * MOMENT);
    assert!(begun.elapsed() < PATIENCE / 2);
    // One that is being answered isn't waiting, however long it takes.
    assert!(ask(address, "GET", "/slow").text.ends_with("done"));
}

#[test]
fn whoever_waits_longest_makes_room_and_whoever_is_being_answered_stays() {
    let limits = Limits { connections: 4, ..Limits::default() };
    let address = serving(pages(), limits);
    let mut slow = connect(address);
    slow.write_all(head(address, "GET", "/slow", "connection: close\r\n").as_bytes()).unwrap();
    let mut half: Vec<TcpStream> = Vec::new();
    for _ in 0..12 {
        let mut stream = connect(address);
        stream.write_all(b"GET / HT").unwrap();
        half.push(stream);
        std::thread::sleep(Duration::from_millis(5));
    }
    assert_eq!(ask(address, "GET", "/").status, 200);
    assert!(rest(&mut slow).expect("it was answered").text.ends_with("done"));
    assert!(rest(&mut half[0]).is_none(), "the first half request made room");
}

#[test]
fn a_handler_that_falls_over_is_answered_in_words_or_as_data() {
    let address = serving(pages(), Limits::default());
    let page = ask(address, "GET", "/over");
    assert!(page.is_page(500) && page.text.contains("content-security-policy"), "{}", page.text);
    assert!(!page.text.contains("on purpose"), "what a panic says is no page's business");
    let data = ask(address, "GET", "/floor/token/day.json");
    assert!(data.is_data(500), "{}", data.text);
    assert_eq!(ask(address, "GET", "/").status, 200);
}

#[test]
fn eleven_hundred_half_sent_requests_shut_nobody_out() {
    let program = Program::serve();
    let phone = program.phone();
    let ours = raise_descriptor_limit().unwrap_or(256);
    let n = 1100.min(ours.saturating_sub(64));
    let half: Vec<TcpStream> = (0..n)
        .map(|nth| {
            let mut stream = connect(program.address);
            let body = "content-length: 500\r\n";
            let whole = head(program.address, "POST", "/floor/x/messages", body) + "{\"sent\"";
            let sent = if nth % 2 == 0 { whole.len() } else { 30 };
            stream.write_all(&whole.as_bytes()[..sent]).unwrap();
            stream
        })
        .collect();
    let begun = Instant::now();
    for _ in 0..5 {
        assert_eq!(ask(program.address, "GET", "/").status, 200);
        let day = ask(program.address, "GET", &format!("{phone}/day.json"));
        assert_eq!(day.status, 200, "{}", day.text);
    }
    assert!(begun.elapsed() < PATIENCE / 2, "{:?}", begun.elapsed());
    drop(half);
    let Some(_) = program.descriptors() else { return };
    while program.descriptors().unwrap() > 64 {
        assert!(begun.elapsed() < PATIENCE, "the descriptors don't come back");
        std::thread::sleep(MOMENT / 4);
    }
}

#[test]
fn who_sends_too_much_gets_to_read_why_even_after_sending_all_of_it() {
    let program = Program::serve();
    let messages = format!("{}/messages", program.phone());
    for in_chunks in [false, true] {
        let told = send_whole(program.address, &messages, 5 << 20, in_chunks);
        assert!(told.is_data(413) && told.text.contains("larger than 1 MB"), "{}", told.text);
        let page = send_whole(program.address, "/import", 40 << 20, in_chunks);
        assert!(page.is_page(413), "{}", page.text);
        assert!(page.text.contains("send it in parts"), "{}", page.text);
    }
    assert!(send_whole(program.address, "/new-lifter", 3 << 20, false).is_page(413));
}

#[test]
fn phones_read_every_error_as_data() {
    let program = Program::serve();
    let phone = program.phone();
    let at = program.address;
    for (method, path, status) in [
        ("GET", format!("{phone}/messages"), 405),
        ("POST", phone.clone(), 405),
        ("GET", format!("{phone}/nothing"), 404),
        ("GET", "/floor/%FF/day.json".to_owned(), 400),
        ("GET", format!("{phone}/day.json?date=2031-99-99"), 422),
        ("GET", format!("{phone}/day.json?date=1&date=2"), 400),
        ("GET", "/floor/nothing/day.json".to_owned(), 404),
        ("POST", format!("{phone}/messages"), 422),
        ("GET", "/floor/app/0/nothing.js".to_owned(), 404),
    ] {
        let answer = ask(at, method, &path);
        assert!(answer.is_data(status), "{method} {path}: {}", answer.text);
    }
    let mut elsewhere = connect(at);
    let head = format!(
        "POST {phone}/messages HTTP/1.1\r\nhost: {at}\r\norigin: http://evil.example\r\n\
         connection: close\r\ncontent-length: 0\r\n\r\n"
    );
    elsewhere.write_all(head.as_bytes()).unwrap();
    let answer = rest(&mut elsewhere).unwrap();
    assert!(answer.is_data(403), "{}", answer.text);
    // A person who opens a link reads a page.
    assert!(ask(at, "GET", "/floor/nothing").is_page(404));
}

#[cfg(unix)]
#[test]
fn it_ends_within_the_grace_whatever_is_open() {
    for signal in ["-TERM", "-INT"] {
        let program = Program::serve();
        let at = program.address;
        let mut open: Vec<TcpStream> = Vec::new();
        let half = head(at, "POST", "/new-lifter", "content-length: 9\r\n") + "1";
        for sent in ["", "GET / HTT", &half] {
            let mut stream = connect(at);
            stream.write_all(sent.as_bytes()).unwrap();
            open.push(stream);
        }
        let mut idle = connect(at);
        idle.write_all(head(at, "GET", "/", "").as_bytes()).unwrap();
        idle.read_exact(&mut [0; 12]).unwrap();
        // A draft that would go on for a while.
        let wishes = "name=By+the+quay&present=none&day_Monday=on&day_Thursday=on&day_Friday=on";
        let mut drafting = connect(at);
        let kind = "content-type: application/x-www-form-urlencoded\r\nconnection: close\r\n";
        let length = format!("{kind}content-length: {}\r\n", wishes.len());
        let begin = head(at, "POST", "/lifter/Wilma%20Tarn/programme/draft", &length) + wishes;
        drafting.write_all(begin.as_bytes()).unwrap();
        let begun = rest(&mut drafting).unwrap();
        assert_eq!(begun.status, 303, "{}", begun.text);
        let took = program.end(signal);
        assert!(took < Duration::from_secs(12), "{took:?}");
        drop(open);
    }
}
