//! The files of the repository, read once.
//!
//! Asks git which files there are (tracked, or new and not ignored); without git it walks the folders
//! and leaves out build folders.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;
use std::process::Command;

/// Folders that a walk doesn't enter.
const LEFT_OUT: [&str; 4] = [".git", "target", ".venv", "node_modules"];

/// Every file by its path from the root, with `/` between folders.
#[derive(Clone, Debug, Default)]
pub(crate) struct Tree {
    /// The text, or nothing for a file that isn't UTF-8, such as a picture.
    files: BTreeMap<String, Option<String>>,
}

/// Why the files could not be read.
#[derive(Debug)]
pub(crate) struct Unreadable {
    path: String,
    error: io::Error,
}

impl std::fmt::Display for Unreadable {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "can't read `{}`: {}", self.path, self.error)
    }
}

impl Tree {
    /// Reads every file below `root`.
    pub(crate) fn read(root: &Path) -> Result<Tree, Unreadable> {
        let paths = match listed_by_git(root) {
            Some(paths) => paths,
            None => {
                let mut paths = Vec::new();
                walk(root, "", &mut paths)?;
                paths
            }
        };
        let mut tree = Tree::default();
        for path in paths {
            match fs::read(root.join(&path)) {
                Ok(bytes) => {
                    tree.files.insert(path, String::from_utf8(bytes).ok());
                }
                // Deleted in the working tree and not yet in the index.
                Err(error) if error.kind() == io::ErrorKind::NotFound => {}
                Err(error) => return Err(Unreadable { path, error }),
            }
        }
        Ok(tree)
    }

    /// How many files there are.
    pub(crate) fn len(&self) -> usize {
        self.files.len()
    }

    /// Path and text of every text file, by path.
    pub(crate) fn texts(&self) -> impl Iterator<Item = (&str, &str)> {
        self.files.iter().filter_map(|(path, text)| Some((path.as_str(), text.as_deref()?)))
    }

    /// The text of one file.
    pub(crate) fn text(&self, path: &str) -> Option<&str> {
        self.files.get(path)?.as_deref()
    }

    /// Whether there is such a file or folder.
    pub(crate) fn holds(&self, path: &str) -> bool {
        let folder = format!("{}/", path.trim_end_matches('/'));
        self.files.contains_key(path)
            || path.is_empty()
            || self
                .files
                .range(folder.clone()..)
                .next()
                .is_some_and(|(p, _)| p.starts_with(&folder))
    }

    /// Puts a file in, as the tests do.
    #[cfg(test)]
    pub(crate) fn with(mut self, path: &str, text: &str) -> Tree {
        self.files.insert(path.to_owned(), Some(text.to_owned()));
        self
    }

    /// Takes a file out, as the tests do.
    #[cfg(test)]
    pub(crate) fn without(mut self, path: &str) -> Tree {
        self.files.remove(path);
        self
    }
}

fn listed_by_git(root: &Path) -> Option<Vec<String>> {
    let output = Command::new("git")
        .current_dir(root)
        .args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"])
        .output()
        .ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let paths: Vec<String> =
        text.split('\0').filter(|p| !p.is_empty()).map(str::to_owned).collect();
    (output.status.success() && !paths.is_empty()).then_some(paths)
}

fn walk(root: &Path, folder: &str, paths: &mut Vec<String>) -> Result<(), Unreadable> {
    let unreadable = |error| Unreadable { path: folder.to_owned(), error };
    for entry in fs::read_dir(root.join(folder)).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let path = if folder.is_empty() { name.clone() } else { format!("{folder}/{name}") };
        let kind = entry.file_type().map_err(unreadable)?;
        if kind.is_file() {
            paths.push(path);
        } else if kind.is_dir() && !LEFT_OUT.contains(&name.as_str()) {
            walk(root, &path, paths)?;
        }
    }
    Ok(())
}
