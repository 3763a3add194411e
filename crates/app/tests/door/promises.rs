//! `docs/security.md` names the test that holds each of its lines; those tests must be there.

use std::path::Path;

#[test]
fn every_test_that_the_page_on_security_names_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let page = std::fs::read_to_string(root.join("docs/security.md")).unwrap();
    let mut tests = String::new();
    let mut folders = vec![root.join("crates"), root.join("xtask")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                tests.push_str(&std::fs::read_to_string(path).unwrap());
            }
        }
    }
    let rows = page.lines().filter(|line| line.starts_with("| ") && line.ends_with("` |"));
    let mut n_named = 0;
    for row in rows {
        let held_by = row.trim_end_matches(" |").rsplit(" | ").next().unwrap();
        for name in held_by.split('`').skip(1).step_by(2) {
            n_named += 1;
            let there = [format!("fn {name}("), format!("fn {name}<")];
            assert!(there.iter().any(|test| tests.contains(test)), "no test is called `{name}`");
        }
    }
    assert!(n_named > 20, "only {n_named} tests are named");
    // A line of a table without a test is a promise that nobody holds.
    let bare = page.lines().find(|line| {
        line.starts_with("| ")
            && !line.ends_with("` |")
            && !line.contains("held by")
            && !line.contains("---")
    });
    assert_eq!(bare, None, "no test is named");
}
