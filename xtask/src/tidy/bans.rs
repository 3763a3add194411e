//! What must not stand in a room's sources: clocks, entropy, files, SQL, inline scripts and styles.
//!
//! Tests and examples are left alone, since they may set up what the code under test only receives.

use super::rust_text::RustText;
use super::{Report, Tree, lines_with};

/// Words of code that one or more rooms do without, and what to do instead.
struct Ban {
    rooms: &'static [&'static str],
    words: &'static [&'static str],
    why: &'static str,
}

const BELOW_APP: &[&str] =
    &["crates/service/src/", "crates/store/src/", "crates/engine/src/", "crates/domain/src/"];
const PURE: &[&str] = &["crates/engine/src/", "crates/domain/src/"];
const NOT_STORE: &[&str] =
    &["crates/app/src/", "crates/service/src/", "crates/engine/src/", "crates/domain/src/"];

const BANS: [Ban; 7] = [
    Ban {
        rooms: BELOW_APP,
        words: &["SystemTime", "Timestamp::now", "Zoned::now", "TimeZone::system"],
        why: "only `app` reads the clock: take `now` or `today` as an argument",
    },
    Ban {
        rooms: BELOW_APP,
        words: &["std::env", "env::var", "env::var_os", "env::vars", "env::args", "env::temp_dir"],
        why: "only `app` reads the environment: take the value as an argument",
    },
    Ban {
        rooms: BELOW_APP,
        words: &[
            "thread_rng",
            "rand::rng",
            "rand::random",
            "OsRng",
            "SysRng",
            "from_os_rng",
            "from_entropy",
            "getrandom",
            "new_v4",
        ],
        why: "only `app` draws entropy: take a seed as an argument",
    },
    Ban {
        rooms: PURE,
        words: &["HashMap", "HashSet"],
        why: "its order differs from run to run: use `BTreeMap`, `BTreeSet` or a sorted `Vec`",
    },
    Ban {
        rooms: PURE,
        words: &["Instant::now"],
        why: "nothing there reads a clock: take the time or the limit as an argument",
    },
    Ban {
        rooms: PURE,
        words: &["std::fs", "std::net", "std::process"],
        why: "nothing there touches files or the machine: take the data as an argument",
    },
    Ban {
        rooms: PURE,
        words: &["println!", "eprintln!", "print!", "eprint!"],
        why: "nothing there speaks to a terminal: return what there is to say",
    },
];

/// Beginnings of SQL statements, as they stand in a string.
const SQL: [&str; 9] = [
    "SELECT ",
    "INSERT INTO ",
    "INSERT OR ",
    "DELETE FROM ",
    "CREATE TABLE ",
    "CREATE INDEX ",
    "ALTER TABLE ",
    "DROP TABLE ",
    "PRAGMA ",
];

/// Attributes that hold a script or a style, as they stand in a page.
const EVENTS: [&str; 8] = [
    "onclick=",
    "onload=",
    "onerror=",
    "onsubmit=",
    "onchange=",
    "oninput=",
    "onfocus=",
    "onkeydown=",
];

const INLINE_SCRIPT: &str =
    "inline script: put it in a file under `assets/`, the policy of the pages refuses it";
const INLINE_STYLE: &str =
    "inline style: put the rule in the style sheet, the policy of the pages refuses it";

pub(super) fn check(tree: &Tree, report: &mut Report) {
    for (path, text) in tree.texts() {
        if path.ends_with(".rs") && !is_test(path) {
            let rust = RustText::without_tests(text);
            check_code(path, &rust, report);
            check_sql(path, &rust, report);
            if path.starts_with("crates/app/") {
                check_inline(path, &rust.code, report);
                check_inline(path, &rust.strings, report);
            }
        } else if path.starts_with("crates/app/") && is_page(path) {
            check_inline(path, text, report);
        } else if path.ends_with(".sql") && !path.starts_with("crates/store/") {
            report.find(
                path,
                0,
                "SQL outside `crates/store`: only `store` writes SQL, move it there",
            );
        }
    }
}

/// Whether a file is compiled for tests or examples only.
pub(super) fn is_test(path: &str) -> bool {
    let mut parts = path.split('/');
    parts.any(|part| matches!(part, "tests" | "examples" | "benches"))
        || path.ends_with("/tests.rs")
        || path.ends_with("_tests.rs")
}

fn is_page(path: &str) -> bool {
    !is_test(path) && [".html", ".svg", ".js"].iter().any(|ending| path.ends_with(ending))
}

fn check_code(path: &str, rust: &RustText, report: &mut Report) {
    for ban in BANS.iter().filter(|ban| ban.rooms.iter().any(|room| path.starts_with(room))) {
        for word in ban.words {
            for line in lines_with(&rust.code, word) {
                report.find(path, line, format!("`{word}`: {}", ban.why));
            }
        }
    }
}

fn check_sql(path: &str, rust: &RustText, report: &mut Report) {
    if !NOT_STORE.iter().any(|room| path.starts_with(room)) {
        return;
    }
    for line in lines_with(&rust.code, "rusqlite") {
        report.find(path, line, "`rusqlite`: only `store` speaks to the database, ask it");
    }
    for statement in SQL {
        for line in lines_with(&rust.strings, statement) {
            report.find(
                path,
                line,
                format!("`{}` in a string: only `store` writes SQL, ask it", statement.trim_end()),
            );
        }
    }
}

fn check_inline(path: &str, text: &str, report: &mut Report) {
    for (line, words) in text.lines().enumerate().map(|(idx, words)| (idx + 1, words)) {
        let script = words.find("<script").is_some_and(|at| !words[at..].contains("src="))
            || super::holds_word(words, "script {");
        if script {
            report.find(path, line, INLINE_SCRIPT);
        }
        if super::holds_word(words, "style=") && !words.contains("style==") {
            report.find(path, line, INLINE_STYLE);
        }
        if let Some(event) = EVENTS.iter().find(|event| super::holds_word(words, event)) {
            report.find(path, line, format!("`{event}`: {INLINE_SCRIPT}"));
        }
    }
}
