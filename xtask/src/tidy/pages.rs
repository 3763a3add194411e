//! Pages in Markdown: links lead somewhere, every page is found and says something.
//!
//! Knows inline links, pictures, reference definitions and headings, and names of pages in comments of
//! Rust files; leaves code alone. Addresses on the web are not visited.

use std::collections::BTreeSet;

use super::rust_text::RustText;
use super::{Report, Tree};

/// The pages from which every page under `docs/` must be linked.
const FRONT: [&str; 3] = ["README.md", "ARCHITECTURE.md", "CONTRIBUTING.md"];

/// Fewer words than this outside headings and code make a stub.
const FEWEST_WORDS: usize = 60;

pub(super) fn check(tree: &Tree, report: &mut Report) {
    let mut found_from_front: BTreeSet<String> = BTreeSet::new();
    for (path, text) in tree.texts().filter(|(path, _)| path.ends_with(".md")) {
        for (line, target) in links(text) {
            let Some(file) = check_link(tree, path, line, &target, report) else { continue };
            if FRONT.contains(&path) {
                found_from_front.insert(file);
            }
        }
    }
    for (path, text) in tree.texts().filter(|(path, _)| path.ends_with(".rs")) {
        check_mentions(tree, path, &RustText::of(text).comments, report);
    }
    for (path, text) in tree.texts() {
        if !path.starts_with("docs/") || !path.ends_with(".md") {
            continue;
        }
        if !found_from_front.contains(path) {
            report.find(path, 0, format!("no page leads here: link it from {}", FRONT.join(", ")));
        }
        let words = prose(text)
            .lines()
            .filter(|line| !line.starts_with('#'))
            .flat_map(str::split_whitespace)
            .count();
        if words < FEWEST_WORDS {
            report.find(
                path,
                0,
                format!(
                    "{words} words, a page has at least {FEWEST_WORDS}: write it or take it out"
                ),
            );
        }
    }
}

/// Checks the pages that comments send a reader to.
fn check_mentions(tree: &Tree, path: &str, comments: &str, report: &mut Report) {
    for (idx, line) in comments.lines().enumerate() {
        for word in line.split(|c: char| c.is_whitespace() || matches!(c, '`' | '(' | ')' | ',')) {
            let page = word.split_once(".md").map(|(name, _)| format!("{name}.md"));
            if let Some(page) = page.filter(|page| page.starts_with("docs/") && !tree.holds(page)) {
                report.find(
                    path,
                    idx + 1,
                    format!("names `{page}`, which isn't there: write it, or name another"),
                );
            }
        }
    }
}

/// Checks one link and gives the file that it leads to, if it is one of ours.
fn check_link(
    tree: &Tree,
    page: &str,
    line: usize,
    target: &str,
    report: &mut Report,
) -> Option<String> {
    if target.contains("://") || target.starts_with("mailto:") {
        return None;
    }
    let (file, anchor) = target.split_once('#').unwrap_or((target, ""));
    let file = if file.is_empty() { Some(page.to_owned()) } else { resolve(page, file) };
    let Some(file) = file else {
        report.find(
            page,
            line,
            format!("link to `{target}` leaves the repository: link to a file in it"),
        );
        return None;
    };
    if !tree.holds(&file) {
        report.find(
            page,
            line,
            format!("link to `{target}`: there is no `{file}`, correct the path or add the file"),
        );
        return None;
    }
    let headings = tree.text(&file).filter(|_| file.ends_with(".md")).map(anchors);
    if !anchor.is_empty() && headings.is_some_and(|known| !known.contains(anchor)) {
        report.find(
            page,
            line,
            format!("link to `{target}`: `{file}` has no heading `{anchor}`, correct the anchor"),
        );
    }
    Some(file)
}

/// The path from the root that a relative link means; nothing if it leaves the repository.
fn resolve(page: &str, link: &str) -> Option<String> {
    let mut parts: Vec<&str> = match link.starts_with('/') {
        true => Vec::new(),
        false => page.split('/').rev().skip(1).collect::<Vec<_>>().into_iter().rev().collect(),
    };
    for part in link.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            part => parts.push(part),
        }
    }
    Some(parts.join("/"))
}

/// Every link of a page with its line: `[text](target)`, `![text](target)` and `[name]: target`.
fn links(page: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (idx, line) in prose(page).lines().enumerate() {
        for (at, _) in line.match_indices("](") {
            let rest = &line[at + 2..];
            if let Some(end) = rest.find(')') {
                found.push((idx + 1, rest[..end].to_owned()));
            }
        }
        let definition = line.strip_prefix('[').and_then(|rest| rest.split_once("]: "));
        if let Some((_, target)) = definition {
            found.push((idx + 1, target.to_owned()));
        }
    }
    // A title may follow the target: `](page.md "title")`.
    for (_, target) in &mut found {
        *target = target.split_whitespace().next().unwrap_or("").to_owned();
    }
    found
}

/// A page without its code: fenced blocks and `quoted code` are blank, the lines stay.
pub(super) fn prose(page: &str) -> String {
    let mut out = String::with_capacity(page.len());
    let mut fenced = false;
    for line in page.lines() {
        let fence = line.trim_start().starts_with("```");
        if !fenced && !fence {
            let even = line.split('`').enumerate().filter(|(idx, _)| idx % 2 == 0);
            out.push_str(&even.map(|(_, words)| words).collect::<Vec<_>>().join("``"));
        }
        fenced ^= fence;
        out.push('\n');
    }
    out
}

/// The anchors of a page's headings: lower case, punctuation dropped, spaces turned into hyphens.
fn anchors(page: &str) -> BTreeSet<String> {
    let mut fenced = false;
    let mut anchors = BTreeSet::new();
    for line in page.lines() {
        fenced ^= line.trim_start().starts_with("```");
        if !fenced && line.starts_with('#') {
            let heading = line.trim_start_matches('#').trim().to_lowercase();
            let kept =
                heading.chars().filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'));
            anchors.insert(kept.map(|c| if c == ' ' { '-' } else { c }).collect());
        }
    }
    anchors
}
