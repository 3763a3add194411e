//! The coach's key: 160 random bits in a file beside the record.
//!
//! It is read anew whenever it is needed, so that a key that was changed or removed is so at once, whoever did
//! it. It lies there as it is: whoever can read that folder can read the record itself.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use sha2::{Digest, Sha256};

use super::private_file;

/// Hexadecimal digits of a key.
const DIGITS: usize = 40;

/// Where the coach's key is.
#[derive(Debug)]
pub struct Key(Place);

#[derive(Debug)]
enum Place {
    File(PathBuf),
    Memory(Mutex<String>),
}

impl Key {
    /// The key beside a record; `draw` makes one if there is none, or one that was cut off.
    ///
    /// # Errors
    /// The file can't be read or written, or `draw` fails; with the file's name.
    pub fn beside(
        record: &Path,
        draw: impl FnOnce() -> Result<String, String>,
    ) -> Result<Key, String> {
        let path = file_beside(record);
        let trouble = |error: io::Error| {
            format!("the coach's key can't be stored in `{}`: {error}", path.display())
        };
        match fs::read_to_string(&path) {
            Ok(text) if whole(&text).is_some() => {}
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(trouble(error)),
            _ => private_file::write(&path, &line(&draw()?)).map_err(trouble)?,
        }
        Ok(Key(Place::File(path)))
    }

    /// A key for this run, where nothing can be written.
    #[must_use]
    pub fn in_memory(key: String) -> Key {
        Key(Place::Memory(Mutex::new(key)))
    }

    /// Whether it ends with this run.
    #[must_use]
    pub fn is_in_memory(&self) -> bool {
        matches!(self.0, Place::Memory(_))
    }

    /// The key, if there is one: its file may have been removed.
    #[must_use]
    pub fn read(&self) -> Option<String> {
        match &self.0 {
            Place::File(path) => fs::read_to_string(path).ok().and_then(|text| whole(&text)),
            Place::Memory(key) => Some(key.lock().unwrap_or_else(PoisonError::into_inner).clone()),
        }
    }

    /// Puts another key in its place.
    ///
    /// # Errors
    /// The file can't be written.
    pub fn change(&self, new: &str) -> io::Result<()> {
        match &self.0 {
            Place::File(path) => private_file::write(path, &line(new)),
            Place::Memory(key) => {
                new.clone_into(&mut key.lock().unwrap_or_else(PoisonError::into_inner));
                Ok(())
            }
        }
    }

    /// Whether this was typed for the key; spaces and capitals don't matter.
    pub(super) fn fits(&self, typed: &str) -> bool {
        let typed = typed.to_ascii_lowercase();
        let typed: String = typed.split_whitespace().collect();
        self.read().is_some_and(|key| same(&typed, &key))
    }

    /// What tells this key from another and doesn't give it away.
    #[must_use]
    pub fn mark(&self) -> Option<String> {
        self.read().map(|key| hex(&Sha256::digest(format!("the coach's key\n{key}"))[..16]))
    }
}

/// A key in groups of four, for typing it.
#[must_use]
pub fn in_groups(key: &str) -> String {
    let letters: Vec<char> = key.chars().collect();
    letters.chunks(4).map(|four| four.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}

/// Bytes as hexadecimal digits.
pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn line(key: &str) -> String {
    format!("{key}\n")
}

fn whole(text: &str) -> Option<String> {
    let key = text.trim();
    (key.len() >= DIGITS).then(|| key.to_owned())
}

fn file_beside(record: &Path) -> PathBuf {
    let mut name = record.as_os_str().to_owned();
    name.push(".coach-key");
    PathBuf::from(name)
}

/// Compares in a time that doesn't tell how much of a guess was right.
fn same(guess: &str, key: &str) -> bool {
    guess.len() == key.len()
        && guess.bytes().zip(key.bytes()).fold(0, |unlike, (a, b)| unlike | (a ^ b)) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONE: &str = "0123456789abcdef0123456789abcdef01234567";
    const OTHER: &str = "76543210fedcba9876543210fedcba9876543210";

    #[test]
    fn a_key_is_made_once_and_for_its_owner_only() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("record.bellwether");
        let key = Key::beside(&record, || Ok(ONE.to_owned())).unwrap();
        assert_eq!(key.read().as_deref(), Some(ONE));
        let again = Key::beside(&record, || Ok(OTHER.to_owned())).unwrap();
        assert_eq!(again.read().as_deref(), Some(ONE));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = fs::metadata(file_beside(&record)).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        fs::write(file_beside(&record), "cut of").unwrap();
        assert_eq!(key.read(), None);
        assert!(!key.fits("cut of"));
        Key::beside(&record, || Ok(OTHER.to_owned())).unwrap();
        assert_eq!(key.read().as_deref(), Some(OTHER));
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "something was left over");
    }

    #[test]
    fn a_key_that_is_changed_or_removed_is_so_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("record.bellwether");
        let key = Key::beside(&record, || Ok(ONE.to_owned())).unwrap();
        let mark = key.mark();
        assert!(key.fits(ONE) && key.fits(&in_groups(ONE)) && key.fits(&ONE.to_uppercase()));
        key.change(OTHER).unwrap();
        assert!(key.fits(OTHER) && !key.fits(ONE));
        assert_ne!(key.mark(), mark);
        fs::remove_file(file_beside(&record)).unwrap();
        assert!(!key.fits(OTHER) && !key.fits("") && key.mark().is_none());
    }

    #[test]
    fn a_folder_that_is_not_there_is_said_and_a_key_for_one_run_works_without() {
        let error = Key::beside(Path::new("/no/such/folder/record"), || Ok(ONE.to_owned()));
        assert!(error.unwrap_err().contains("/no/such/folder/record.coach-key"));
        let key = Key::in_memory(ONE.to_owned());
        assert!(key.fits(ONE) && !key.fits(&ONE[..39]) && !key.fits(&format!("{ONE}0")));
        key.change(OTHER).unwrap();
        assert!(key.fits(OTHER) && !key.fits(ONE));
    }
}
