//! What is on the sheets of a PDF, as the tools of the package poppler-utils tell it, and other programs with a limit to
//! how long they may take.

use std::fs::{self, File};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A word on a sheet, with its edges in points from the top left corner.
#[derive(Clone, Debug)]
pub(crate) struct Word {
    pub(crate) sheet: usize,
    pub(crate) left: f32,
    pub(crate) top: f32,
    pub(crate) right: f32,
    pub(crate) bottom: f32,
    pub(crate) text: String,
}

/// A PDF in a folder of its own.
pub(crate) struct Pdf {
    folder: tempfile::TempDir,
}

impl Pdf {
    pub(crate) fn new(bytes: &[u8]) -> Pdf {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("it.pdf"), bytes).expect("the folder can be written");
        Pdf { folder }
    }

    /// How many sheets it has.
    pub(crate) fn n_sheets(&self) -> usize {
        let told = self.ask("pdfinfo", &[]);
        let pages = told.lines().find_map(|line| line.strip_prefix("Pages:"));
        pages.and_then(|pages| pages.trim().parse().ok()).expect("pdfinfo tells the pages")
    }

    /// Everything that `pdfinfo` tells with these options.
    pub(crate) fn info(&self, options: &[&str]) -> String {
        self.ask("pdfinfo", options)
    }

    /// The lines that `pdffonts` has for each face.
    pub(crate) fn faces(&self) -> Vec<String> {
        self.ask("pdffonts", &[]).lines().skip(2).map(str::to_owned).collect()
    }

    /// The text in the order of the file, white space folded.
    pub(crate) fn text(&self) -> String {
        folded(&self.ask("pdftotext", &["-raw", "-enc", "UTF-8"]))
    }

    /// Every word with its place.
    pub(crate) fn words(&self) -> Vec<Word> {
        let told = self.ask("pdftotext", &["-bbox"]);
        let mut sheet = 0;
        let mut words = Vec::new();
        for line in told.lines().map(str::trim) {
            if line.starts_with("<page ") {
                sheet += 1;
            }
            let Some(rest) = line.strip_prefix("<word ") else { continue };
            let edge = |name: &str| -> f32 {
                let at = rest.find(&format!("{name}=\"")).expect("an edge") + name.len() + 2;
                rest[at..].split('"').next().and_then(|edge| edge.parse().ok()).expect("a number")
            };
            let text = rest.split('>').nth(1).and_then(|text| text.split('<').next());
            words.push(Word {
                sheet,
                left: edge("xMin"),
                top: edge("yMin"),
                right: edge("xMax"),
                bottom: edge("yMax"),
                text: text.unwrap_or_default().to_owned(),
            });
        }
        assert!(!words.is_empty(), "no word was found");
        words
    }

    /// Words that stand out over the edge of a sheet of this size less a margin.
    pub(crate) fn beyond(&self, (width, height): (f32, f32), margin: f32) -> Vec<Word> {
        let is_out = |word: &Word| {
            word.left < margin
                || word.top < margin - 3.0
                || word.right > width - margin
                || word.bottom > height - margin + 3.0
        };
        self.words().into_iter().filter(is_out).collect()
    }

    /// Pairs of words on one line that stand in each other.
    pub(crate) fn collisions(&self) -> Vec<(Word, Word)> {
        let words = self.words();
        let mut found = Vec::new();
        for (idx, a) in words.iter().enumerate() {
            for b in &words[idx + 1..] {
                let on_line = a.sheet == b.sheet && (a.bottom - b.bottom).abs() < 1.0;
                if on_line && a.left < b.right - 0.3 && b.left < a.right - 0.3 {
                    found.push((a.clone(), b.clone()));
                }
            }
        }
        found
    }

    fn ask(&self, program: &str, options: &[&str]) -> String {
        let mut command = Command::new(program);
        command.args(options).arg("it.pdf").current_dir(self.folder.path());
        if program == "pdftotext" {
            command.arg("-");
        }
        let cure = "sheets are read with it: install poppler-utils";
        run(&mut command, self.folder.path(), Duration::from_secs(60), cure)
    }
}

/// Text with each run of white space as one space.
pub(crate) fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Runs a program and gives back what it says. One that isn't there, fails, or takes longer than `limit` fails the
/// test, with the cure.
#[expect(clippy::panic, reason = "a test without its program has failed, and says the cure")]
pub(crate) fn run(command: &mut Command, folder: &Path, limit: Duration, cure: &str) -> String {
    let name = command.get_program().to_string_lossy().into_owned();
    let file = |name: &str| File::create(folder.join(name)).expect("the folder can be written");
    let read = |name: &str| fs::read(folder.join(name)).unwrap_or_default();
    let begun = Instant::now();
    let mut child = command
        .stdin(Stdio::null())
        .stdout(file("said"))
        .stderr(file("complained"))
        .spawn()
        .unwrap_or_else(|error| panic!("`{name}` can't be started ({error}): {cure}"));
    let status = loop {
        if let Some(status) = child.try_wait().expect("a child can be waited for") {
            break status;
        }
        if begun.elapsed() > limit {
            child.kill().ok();
            child.wait().ok();
            let told = read("complained");
            panic!(
                "`{name}` took longer than {} s: {cure}\n{}",
                limit.as_secs(),
                String::from_utf8_lossy(&told)
            );
        }
        std::thread::sleep(Duration::from_millis(20));
    };
    let told = String::from_utf8_lossy(&read("complained")).into_owned();
    assert!(status.success(), "`{name}` ended with {status}: {cure}\n{told}");
    String::from_utf8_lossy(&read("said")).into_owned()
}
