//! Every rule of the tidy check, broken once in a tree that is sound otherwise.

use std::fs;

use super::rust_text::RustText;
use super::{Tree, check};

const MANIFEST: &str = "[package]\nname = \"x\"\n\n[dependencies]\n";

/// A small tree in which nothing is found.
fn sound() -> Tree {
    let with = |rooms: &[&str]| -> String {
        let lines: Vec<String> =
            rooms.iter().map(|room| format!("{room}.workspace = true\n")).collect();
        format!("{MANIFEST}{}", lines.concat())
    };
    let words = "A page says something. ".repeat(20);
    Tree::default()
        .with("crates/app/Cargo.toml", &with(&["service", "domain", "clap"]))
        .with("crates/service/Cargo.toml", &with(&["store", "engine", "domain"]))
        .with("crates/store/Cargo.toml", &with(&["domain", "rusqlite"]))
        .with("crates/engine/Cargo.toml", &with(&["domain"]))
        .with("crates/domain/Cargo.toml", &with(&["jiff"]))
        .with(
            "crates/app/src/main.rs",
            "//! The binary.\nfn main() {\n    println!(\"{}\", jiff::Zoned::now());\n}\n",
        )
        .with("crates/engine/src/lib.rs", "//! Mathematics, without a HashMap.\n")
        .with(
            "crates/store/src/read.rs",
            "//! Reads.\nconst ALL: &str = \"SELECT name FROM lifter\";\n",
        )
        .with(
            "README.md",
            "# It\n\nSee [words](docs/words.md#our-words) and [there](https://example.org).\n",
        )
        .with("docs/words.md", &format!("# Our words!\n\n{words}\n"))
        .with("docs/picture.png", "not really")
}

/// Puts one file in and expects one finding, at a line and with these words.
fn found(path: &str, text: &str, line: usize, words: &str) {
    let report = check(&sound().with(path, text));
    let [only] = &report.findings[..] else {
        panic!("one finding expected: {:#?}", report.findings)
    };
    assert_eq!((only.path.as_str(), only.line), (path, line), "{only}");
    assert!(only.message.contains(words), "{only}");
}

/// Puts one file in and expects nothing.
fn passes(path: &str, text: &str) {
    assert_eq!(check(&sound().with(path, text)).findings, []);
}

fn source(room: &str, line: &str) -> (String, String) {
    (format!("crates/{room}/src/new.rs"), format!("//! New.\n{line}\n"))
}

fn found_in(room: &str, line: &str, words: &str) {
    let (path, text) = source(room, line);
    found(&path, &text, 2, words);
}

fn passes_in(room: &str, line: &str) {
    let (path, text) = source(room, line);
    passes(&path, &text);
}

#[test]
fn a_sound_tree_passes() {
    assert_eq!(check(&sound()).findings, []);
}

#[test]
fn a_file_opens_with_its_header() {
    found("crates/engine/src/new.rs", "// New.\n", 1, "`//!`");
    found("crates/engine/tests/new.rs", "use engine::x;\n", 1, "`//!`");
    found("crates/engine/src/new.rs", "", 1, "`//!`");
}

#[test]
fn a_long_file_is_refused_and_a_longish_one_remarked_on() {
    let lines = |n: usize, head: &str| format!("//! New.{head}\n{}", "//\n".repeat(n - 1));
    found("crates/engine/src/new.rs", &lines(1_001, ""), 0, "1001 lines, at most 1000");
    let remarks = |text: &str| check(&sound().with("crates/engine/src/new.rs", text)).remarks.len();
    assert_eq!(check(&sound().with("crates/engine/src/new.rs", &lines(1_000, ""))).findings, []);
    assert_eq!(remarks(&lines(601, "")), 1);
    assert_eq!(remarks(&lines(600, "")), 0);
    assert_eq!(remarks(&lines(601, "\n//! Long because it is one table.")), 0);
    found("crates/app/assets/page.css", &"\n".repeat(1_001), 0, "lines");
    passes("docs/data.csv", &"1\n".repeat(2_000));
}

#[test]
fn nothing_is_left_unfinished() {
    let to_do = concat!("TO", "DO");
    found_in("engine", &format!("// {to_do}: the rest"), to_do);
    found_in("app", &format!("const X: &str = \"{to_do}\";"), to_do);
    found("scripts/new", &format!("# {}\n", concat!("FIX", "ME")), 1, "do it");
    found_in("engine", "fn f() { todo!() }", "todo!");
    found_in("engine", "fn f() { unimplemented!() }", "unimplemented!");
    found("crates/engine/tests/new.rs", "//! New.\n#[ignore]\n#[test]\nfn f() {}\n", 2, "#[ignore");
    found(
        "crates/engine/tests/new.rs",
        "//! New.\n#[ignore = \"slow\"]\nfn f() {}\n",
        2,
        "#[ignore",
    );
    passes_in("engine", "// `todo!` is refused, and mastodons are welcome");
}

#[test]
fn a_property_writes_nothing_into_the_tree() {
    let path = "crates/engine/tests/new.rs";
    let block = |first: &str| format!("//! New.\nproptest! {{\n{first}\n    #[test]\n}}\n");
    passes(path, &block("    #![proptest_config(properties::config(48))]"));
    passes(path, &block("    // Slow.\n    #![proptest_config(crate::properties::config(64))]"));
    found(path, &block(""), 2, "`#![proptest_config(properties::config(…))]`");
    found(path, &block("    // #![proptest_config(properties::config(48))]"), 2, "without");
    found(path, "//! New.\nuse x::ProptestConfig;\n", 2, "`ProptestConfig`");
    found(path, "//! New.\nx.failure_persistence = None;\n", 2, "`failure_persistence`");
    passes(super::properties::SHARED, "//! How.\nx.failure_persistence = None;\n");
    for written in ["tests/new.proptest-regressions", "proptest-regressions/target/tests.txt"] {
        found(&format!("crates/engine/{written}"), "cc 71\n", 0, "with a name");
    }
}

#[test]
fn rooms_depend_downward_only() {
    let wrong = [
        ("app", "store"),
        ("app", "engine"),
        ("service", "bellwether"),
        ("store", "engine"),
        ("store", "service"),
        ("engine", "store"),
        ("engine", "service"),
        ("domain", "engine"),
        ("domain", "store"),
    ];
    for (room, other) in wrong {
        let path = format!("crates/{room}/Cargo.toml");
        let words = format!("depends on `{other}`");
        found(&path, &format!("{MANIFEST}{other}.workspace = true\n"), 0, &words);
        let renamed = format!("{MANIFEST}friend = {{ package = \"{other}\", path = \"../x\" }}\n");
        found(&path, &renamed, 0, &words);
        found(&path, &format!("[dev-dependencies]\n{other}.workspace = true\n"), 0, &words);
        found(
            &path,
            &format!("[target.'cfg(unix)'.dependencies.{other}]\npath = \"x\"\n"),
            0,
            &words,
        );
    }
    found("xtask/Cargo.toml", &format!("{MANIFEST}domain.workspace = true\n"), 0, "no other room");
    found("crates/helpers/Cargo.toml", MANIFEST, 0, "no room on the allow-list");
    found("crates/engine/Cargo.toml", "[package\n", 0, "is no TOML");
}

#[test]
fn rooms_leave_out_what_is_not_theirs() {
    for package in ["tokio", "axum", "serde", "serde_json"] {
        for room in ["engine", "domain"] {
            let path = format!("crates/{room}/Cargo.toml");
            let words = format!("depends on `{package}`");
            found(&path, &format!("{MANIFEST}{package} = \"1\"\n"), 0, &words);
        }
        passes("crates/service/Cargo.toml", &format!("{MANIFEST}{package} = \"1\"\n"));
    }
    for room in ["app", "service", "engine", "domain"] {
        let path = format!("crates/{room}/Cargo.toml");
        found(&path, &format!("{MANIFEST}rusqlite = \"1\"\n"), 0, "only `store`");
    }
}

#[test]
fn generators_take_a_seed_below_the_app() {
    let manifest = |entry: &str| format!("{MANIFEST}rand = {entry}\n");
    let path = "crates/service/Cargo.toml";
    passes(path, &manifest("{ workspace = true, features = [\"chacha\"] }"));
    passes("crates/app/Cargo.toml", &manifest("\"0.10\""));
    found(path, &manifest("\"0.10\""), 0, "`default`");
    found(path, &manifest("{ workspace = true, features = [\"sys_rng\"] }"), 0, "`sys_rng`");
    found_in("service", "fn f() { rand::rng(); }", "seed");
    found_in("store", "fn f() { uuid::Uuid::new_v4(); }", "seed");
}

#[test]
fn only_the_app_reads_clock_and_environment() {
    for room in ["service", "store", "engine", "domain"] {
        found_in(room, "fn f() { jiff::Timestamp::now(); }", "`now`");
        found_in(room, "fn f() { Zoned::now(); }", "`now`");
        found_in(room, "fn f(x: SystemTime) {}", "`now`");
        found_in(room, "fn f() { env::var(\"HOME\"); }", "environment");
        found_in(room, "use std::env;", "environment");
        passes_in(
            room,
            "// Zoned::now() and std::env::var are the app's\nconst X: &str = \"SystemTime\";",
        );
        passes_in(room, "#[cfg(test)]\nmod tests {\n    fn f() { if x { Zoned::now() } }\n}");
        passes(&format!("crates/{room}/tests/new.rs"), "//! New.\nuse std::env;\n");
        passes(&format!("crates/{room}/examples/new.rs"), "//! New.\nuse std::env;\n");
    }
    let after = "//! New.\n#[cfg(test)]\nmod tests {\n    fn f() {}\n}\nuse std::env;\n";
    found("crates/store/src/new.rs", after, 6, "environment");
}

#[test]
fn engine_and_domain_are_pure() {
    for room in ["engine", "domain"] {
        found_in(room, "use std::collections::HashMap;", "BTreeMap");
        found_in(room, "use std::collections::HashSet;", "BTreeMap");
        found_in(room, "fn f() { Instant::now(); }", "clock");
        found_in(room, "use std::fs;", "files");
        found_in(room, "fn f() { println!(\"x\"); }", "terminal");
        found_in(room, "fn f() { eprintln!(\"x\"); }", "terminal");
    }
    passes_in("service", "use std::collections::HashMap;");
}

#[test]
fn only_the_store_writes_sql() {
    for room in ["app", "service", "engine", "domain"] {
        found_in(room, "const X: &str = \"SELECT x FROM y\";", "SQL");
        found_in(room, "const X: &str = r#\"PRAGMA user_version\"#;", "SQL");
        for statement in [
            "INSERT INTO x",
            "INSERT OR IGNORE INTO x",
            "DELETE FROM x",
            "CREATE TABLE x",
            "CREATE INDEX x",
            "ALTER TABLE x",
            "DROP TABLE x",
        ] {
            found_in(room, &format!("const X: &str = \"{statement}\";"), "SQL");
        }
        found_in(room, "fn f(e: rusqlite::Error) {}", "only `store`");
    }
    found("crates/service/x.sql", "create table x(y)", 0, "SQL outside");
    passes("crates/store/migrations/0002_x.sql", "create table x(y)");
}

#[test]
fn pages_carry_no_inline_script_or_style() {
    found_in("app", "fn f() { html! { p style=\"color:red\" { } } }", "inline style");
    found_in("app", "fn f() { html! { p style=(x) { } } }", "inline style");
    found_in("app", "const X: &str = \"<rect style='fill:red'/>\";", "inline style");
    found_in("app", "const X: &str = \"<script>x()</script>\";", "inline script");
    found_in("app", "fn f() { html! { script { (x) } } }", "inline script");
    found_in("app", "fn f() { html! { a onclick=\"x()\" { } } }", "onclick");
    found("crates/app/templates/x.html", "<p style=\"color:red\">\n", 1, "inline style");
    passes_in("app", "const X: &str = \"<script src='/assets/x.js'></script>\";");
    passes_in("app", "fn f() { html! { script src=\"/assets/x.js\" {} } }");
    passes_in("app", "fn f() { let style = 1; let x = line_style == style; }");
}

#[test]
fn people_read_our_words() {
    found_in("app", "const X: &str = \"Your athletes\";", "`lifters`");
    found_in("service", "const X: &str = \"today's Workout\";", "`session`");
    found("README.md", "The exercise and [words](docs/words.md).\n", 1, "`lift`");
    found_in("app", "/// Adds a client.\n#[derive(clap::Args)]\nstruct X;", "`lifter`");
    passes_in("app", "/// Holds for any HTTP client.\nstruct X;");
    passes_in("app", "struct Client;");
    let synonym = "//! New.\nconst X: &str = \"athlete\";\n";
    passes("crates/service/src/import/columns.rs", synonym);
    passes("crates/service/src/measure/trials.rs", synonym);
    found("crates/service/src/measure/mod.rs", synonym, 2, "`lifter`");
    passes("README.md", "A column `athlete` and [words](docs/words.md).\n");
}

#[test]
fn links_lead_somewhere() {
    let page = |link: &str| format!("# It\n\n[words](docs/words.md)\n\n{link}\n");
    found("README.md", &page("[x](docs/none.md)"), 5, "there is no `docs/none.md`");
    found("README.md", &page("![x](docs/none.png \"title\")"), 5, "there is no `docs/none.png`");
    found("README.md", &page("[x](docs/words.md#their-words)"), 5, "no heading `their-words`");
    found("README.md", &page("[x](#that)"), 5, "no heading `that`");
    found("README.md", &page("[x](../elsewhere.md)"), 5, "leaves the repository");
    found("README.md", &page("[x]: docs/none.md"), 5, "there is no");
    found_in("engine", "// See `docs/none.md#that`.", "`docs/none.md`");
    passes_in("engine", "// See `docs/words.md`.");
    passes("README.md", &page("[x](#it) [y](docs) ![z](docs/picture.png) `[q](none.md)`"));
    passes("README.md", &page("```text\n[q](none.md)\n```"));
    found("crates/app/NOTES.md", "[x](src/none.rs)\n", 1, "crates/app/src/none.rs");
    passes("crates/app/NOTES.md", "[x](src/main.rs) [y](../../README.md)\n");
}

#[test]
fn every_page_is_found_and_says_something() {
    let words = "word ".repeat(60);
    found("docs/lost.md", &format!("# Lost\n\n{words}\n"), 0, "no page leads here");
    let tree = sound()
        .with("ARCHITECTURE.md", "[x](docs/lost.md)\n")
        .with("docs/lost.md", &format!("# Lost\n\n{words}\n"));
    assert_eq!(check(&tree).findings, []);
    found("docs/words.md", "# Our words!\n\nComing soon.\n", 0, "2 words");
    let gone = check(&sound().without("docs/words.md"));
    assert_eq!(gone.findings.len(), 1, "{:#?}", gone.findings);
}

#[test]
fn code_comments_and_strings_come_apart() {
    let text = "a /* b /* c */ d */ \"e\\\"f\" 'g' '\\'' <'h> r#\"i\"j\"# b\"k\" // l \"m\"\nn";
    let rust = RustText::of(text);
    let squeezed = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(
        squeezed(&rust.code),
        "a \"\" '' '' <'h> r#\"\"# b\"\" n"
            .replace("\"\"#", "\" \"#")
            .replace("\"\"", "\" \"")
            .replace("''", "' '")
    );
    assert_eq!(squeezed(&rust.comments), "/* b /* c */ d */ // l \"m\"");
    assert_eq!(squeezed(&rust.strings), "e\\\"f g \\' i\"j k");
    assert_eq!(rust.code.lines().count(), 2);
}

#[test]
fn a_tree_is_read_from_disk_without_git() {
    let root = std::env::temp_dir().join(format!("tidy-{}", std::process::id()));
    fs::create_dir_all(root.join("crates/engine/src")).unwrap();
    fs::create_dir_all(root.join("target/debug")).unwrap();
    fs::write(root.join("crates/engine/src/lib.rs"), "// No header.\n").unwrap();
    fs::write(root.join("target/debug/built.rs"), "// No header either.\n").unwrap();
    fs::write(root.join("picture.png"), [0xff, 0xd8]).unwrap();
    let tree = Tree::read(&root);
    fs::remove_dir_all(&root).unwrap();
    let tree = tree.unwrap();
    assert_eq!(tree.len(), 2);
    assert!(tree.holds("picture.png") && tree.holds("crates/engine") && !tree.holds("crates/eng"));
    let findings = check(&tree).findings;
    assert_eq!(findings.len(), 1, "{findings:#?}");
    assert_eq!(findings[0].path, "crates/engine/src/lib.rs");
}
