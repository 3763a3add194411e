//! The modules of the floor's page by themselves, in Node's own test runner: arithmetic, state and outbox without
//! a browser. The tests are the files `*.test.mjs` beside this one.

use std::path::{Path, PathBuf};
use std::process::Command;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Copies the files of a folder into another.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for file in std::fs::read_dir(from).unwrap() {
        let file = file.unwrap();
        std::fs::copy(file.path(), to.join(file.file_name())).unwrap();
    }
}

#[test]
fn the_floors_modules_pass_their_own_tests() {
    // Laid out as in the repository, and said to be modules: Node takes files that end in `.js` for scripts.
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("package.json"), r#"{ "type": "module" }"#).unwrap();
    copy(&here("assets/floor"), &folder.path().join("assets/floor"));
    copy(&here("tests/floor_modules"), &folder.path().join("tests/floor_modules"));
    let output = Command::new("node")
        .arg("--test")
        .arg("tests/floor_modules/")
        .current_dir(folder.path())
        .env("SESSION_VECTORS", here("../service/tests/session_vectors/session-vectors.json"))
        .output()
        .expect("`node` is needed for this test: install the package `nodejs`");
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{told}\n{}", String::from_utf8_lossy(&output.stderr));
    assert!(told.contains("# pass"), "no test was run: {told}");
    assert!(!told.contains("# pass 0"), "no test was run: {told}");
}
