//! The browsers that the coach's pages are open in: one small file for each, in a folder beside the record.
//!
//! A file's name is the hash of the browser's token, what stands in it never changes, and its time is that
//! of the last use. To end a browser is to remove its file, so that two desks of one record can't bring
//! back what either ended, and none of it is part of the record or its backups. A file that is cut off, or was made under
//! another key, lets nobody in. Where nothing can be written they live in memory.

use std::collections::BTreeMap;
use std::fs::{self, File, FileTimes};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, UNIX_EPOCH};

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::key::hex;
use super::private_file;

/// A browser that isn't used for so long is ended.
pub const IDLE: SignedDuration = SignedDuration::from_hours(30 * 24);
/// No browser stays longer than that.
pub const LONGEST: SignedDuration = SignedDuration::from_hours(365 * 24);
/// How exactly the last use is remembered, so that not every page writes.
const GRAIN: SignedDuration = SignedDuration::from_mins(1);
/// How many there may be; one more ends the one that wasn't used for longest.
const MOST: usize = 50;

/// Where browsers are remembered.
#[derive(Debug)]
pub struct Browsers {
    folder: Option<PathBuf>,
    memory: Mutex<BTreeMap<String, (Kept, Timestamp)>>,
}

/// A browser that is let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Browser {
    /// Names it; the hash of its token, which lets nobody in.
    pub id: String,
    /// When it was let in.
    pub began: Timestamp,
    /// When it was last used, to the minute.
    pub used: Timestamp,
    /// Which it is, in plain words.
    pub name: String,
}

/// What stands in a file.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Kept {
    /// The mark of the key under which it was let in.
    key: String,
    /// When it was let in, in seconds since 1970.
    began: i64,
    browser: String,
}

impl Browsers {
    /// Those of a record, in a folder beside it, which is made once there is one.
    #[must_use]
    pub fn beside(record: &Path) -> Browsers {
        let mut folder = record.as_os_str().to_owned();
        folder.push(".coach-browsers");
        Browsers { folder: Some(PathBuf::from(folder)), ..Browsers::in_memory() }
    }

    /// Those of this run alone.
    #[must_use]
    pub fn in_memory() -> Browsers {
        Browsers { folder: None, memory: Mutex::default() }
    }

    /// Lets a browser in by this token, which the caller drew; gives its id.
    pub fn begin(&self, token: &str, key: &str, name: &str, now: Timestamp) -> String {
        let id = id_of(token);
        let kept = Kept { key: key.to_owned(), began: now.as_second(), browser: name.to_owned() };
        for one in self.list(key, now).into_iter().skip(MOST - 1) {
            self.end(&one.id).ok(); // it stays one too many, and ends by itself
        }
        let written = self.folder.as_deref().is_some_and(|folder| {
            let text = serde_json::to_string(&kept).unwrap_or_default();
            let made = private_file::make_folder(folder)
                .and_then(|()| private_file::write(&folder.join(&id), &text))
                .and_then(|()| set_used(&folder.join(&id), now));
            made.is_ok()
        });
        if !written {
            self.memory().insert(id.clone(), (kept, now));
        }
        id
    }

    /// The browser that has this token, if it is let in; notes that it was used.
    pub fn find(&self, token: &str, key: &str, now: Timestamp) -> Option<Browser> {
        let browser = self.living(&id_of(token), key, now)?;
        if now.duration_since(browser.used) >= GRAIN {
            if let Some((_, used)) = self.memory().get_mut(&browser.id) {
                *used = now;
            } else if let Some(path) = self.path(&browser.id) {
                set_used(&path, now).ok(); // it then ends a little early
            }
        }
        Some(browser)
    }

    /// All that are let in under this key, the last used first.
    pub fn list(&self, key: &str, now: Timestamp) -> Vec<Browser> {
        let mut ids: Vec<String> = self.memory().keys().cloned().collect();
        let files = self.folder.as_deref().and_then(|folder| fs::read_dir(folder).ok());
        let names = files.into_iter().flatten().flatten();
        ids.extend(names.filter_map(|file| file.file_name().into_string().ok()));
        let mut found: Vec<Browser> =
            ids.iter().filter_map(|id| self.living(id, key, now)).collect();
        found.sort_by(|a, b| b.used.cmp(&a.used).then_with(|| a.id.cmp(&b.id)));
        found
    }

    /// Ends a browser; whether there was one.
    ///
    /// # Errors
    /// Its file can't be removed.
    pub fn end(&self, id: &str) -> io::Result<bool> {
        if self.memory().remove(id).is_some() {
            return Ok(true);
        }
        let Some(path) = self.path(id) else { return Ok(false) };
        match fs::remove_file(&path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
            removed => removed.and_then(|()| private_file::sync_folder(&path)).map(|()| true),
        }
    }

    /// Ends all browsers but one, or all; those of another key and what was cut off go too. Gives how many.
    ///
    /// # Errors
    /// A file can't be removed.
    pub fn end_all_but(&self, stays: Option<&str>) -> io::Result<usize> {
        let mut ids: Vec<String> = self.memory().keys().cloned().collect();
        if let Some(folder) = self.folder.as_deref().filter(|folder| folder.is_dir()) {
            for file in fs::read_dir(folder)? {
                ids.extend(file?.file_name().into_string().ok());
            }
        }
        let mut ended = 0;
        for id in ids.iter().filter(|id| stays != Some(id.as_str())) {
            ended += usize::from(self.end(id)?);
        }
        Ok(ended)
    }

    /// A browser that may come in; one whose time is over is ended.
    fn living(&self, id: &str, key: &str, now: Timestamp) -> Option<Browser> {
        let (kept, used) = self.read(id)?;
        let began = Timestamp::from_second(kept.began).ok()?;
        let is_over = now.duration_since(used) >= IDLE || now.duration_since(began) >= LONGEST;
        if is_over {
            self.end(id).ok(); // asked again, it is over again
        }
        (!is_over && kept.key == key).then(|| Browser {
            id: id.to_owned(),
            began,
            used: used.max(began).min(now.max(began)),
            name: kept.browser,
        })
    }

    fn read(&self, id: &str) -> Option<(Kept, Timestamp)> {
        if let Some(found) = self.memory().get(id) {
            return Some(found.clone());
        }
        let path = self.path(id)?;
        let kept = serde_json::from_str(&fs::read_to_string(&path).ok()?).ok()?;
        let used = fs::metadata(&path).ok()?.modified().ok()?;
        let used = used.duration_since(UNIX_EPOCH).ok()?.as_secs();
        Some((kept, Timestamp::from_second(i64::try_from(used).ok()?).ok()?))
    }

    /// The file of an id; none if that is no id, whatever else it may be.
    fn path(&self, id: &str) -> Option<PathBuf> {
        let is_id = id.len() == 64 && id.bytes().all(|byte| byte.is_ascii_hexdigit());
        self.folder.as_deref().filter(|_| is_id).map(|folder| folder.join(id))
    }

    fn memory(&self) -> MutexGuard<'_, BTreeMap<String, (Kept, Timestamp)>> {
        self.memory.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// SHA-256 of a token (FIPS 180-4). Tokens are long and random, so that a hash without salt or stretching
/// gives nothing away.
fn id_of(token: &str) -> String {
    hex(&Sha256::digest(token))
}

fn set_used(path: &Path, now: Timestamp) -> io::Result<()> {
    let file = File::options().write(true).open(path)?;
    let since_1970 = Duration::from_secs(now.as_second().max(0).unsigned_abs());
    file.set_times(FileTimes::new().set_modified(UNIX_EPOCH + since_1970))
}

#[cfg(test)]
mod tests {
    use super::*;

    const KEY: &str = "mark of the key";

    fn after(hours: i64) -> Timestamp {
        Timestamp::from_second(1_900_000_000 + hours * 3600).unwrap()
    }

    /// Runs a check on browsers in a folder and on browsers in memory.
    fn both(check: impl Fn(&Browsers)) {
        let folder = tempfile::tempdir().unwrap();
        check(&Browsers::beside(&folder.path().join("record")));
        check(&Browsers::in_memory());
        check(&Browsers::beside(Path::new("/no/such/folder/record")));
    }

    #[test]
    fn a_browser_is_found_by_its_token_and_by_nothing_else() {
        both(|browsers| {
            let id = browsers.begin("token", KEY, "Firefox on Linux", after(0));
            let found = browsers.find("token", KEY, after(1)).unwrap();
            assert_eq!((found.id.as_str(), found.name.as_str()), (id.as_str(), "Firefox on Linux"));
            assert!(browsers.find("another token", KEY, after(1)).is_none());
            assert!(browsers.find(&id, KEY, after(1)).is_none(), "the id lets somebody in");
            assert!(browsers.find("token", "mark of another key", after(1)).is_none());
            assert!(browsers.list("mark of another key", after(1)).is_empty());
            assert_eq!(browsers.list(KEY, after(2))[0].used, after(1));
        });
    }

    #[test]
    fn a_browser_ends_thirty_days_after_its_last_use_and_after_a_year_at_the_latest() {
        both(|browsers| {
            browsers.begin("token", KEY, "", after(0));
            assert!(browsers.find("token", KEY, after(30 * 24 - 1)).is_some());
            assert!(browsers.find("token", KEY, after(60 * 24 - 2)).is_some());
            assert!(browsers.find("token", KEY, after(90 * 24 - 2)).is_none());
            assert!(browsers.find("token", KEY, after(60 * 24)).is_none(), "it is over for good");
            browsers.begin("token", KEY, "", after(0));
            for day in (1..365).step_by(20) {
                assert!(browsers.find("token", KEY, after(day * 24)).is_some(), "day {day}");
            }
            assert!(browsers.find("token", KEY, after(365 * 24)).is_none());
        });
    }

    #[test]
    fn browsers_are_ended_one_by_one_or_all_others() {
        both(|browsers| {
            let ids = ["one", "two", "three", "four"]
                .map(|token| browsers.begin(token, KEY, token, after(0)));
            assert!(browsers.end(&ids[0]).unwrap());
            assert!(!browsers.end(&ids[0]).unwrap());
            assert!(browsers.find("one", KEY, after(1)).is_none());
            assert_eq!(browsers.end_all_but(Some(&ids[2])).unwrap(), 2);
            let left: Vec<String> =
                browsers.list(KEY, after(1)).into_iter().map(|one| one.name).collect();
            assert_eq!(left, ["three"]);
            assert_eq!(browsers.end_all_but(None).unwrap(), 1);
        });
    }

    #[test]
    fn one_browser_too_many_ends_the_one_that_was_not_used_for_longest() {
        both(|browsers| {
            for number in 0..=MOST {
                browsers.begin(&number.to_string(), KEY, "", after(number as i64));
            }
            assert!(browsers.find("0", KEY, after(51)).is_none());
            assert!(browsers.find("1", KEY, after(51)).is_some());
            assert_eq!(browsers.list(KEY, after(51)).len(), MOST);
        });
    }

    #[test]
    fn files_are_private_hold_no_token_and_outlast_the_desk() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("record");
        let id = Browsers::beside(&record).begin("the secret token", KEY, "Firefox", after(0));
        let again = Browsers::beside(&record);
        assert!(again.find("the secret token", KEY, after(1)).is_some());
        let path = again.path(&id).unwrap();
        let text = fs::read_to_string(&path).unwrap();
        assert!(!text.contains("secret") && !path.display().to_string().contains("secret"));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
            assert_eq!(mode(&path), 0o600);
            assert_eq!(mode(path.parent().unwrap()), 0o700);
        }
        // Ended by one desk, it is ended for every other of the same record.
        assert!(Browsers::beside(&record).end(&id).unwrap());
        assert!(again.find("the secret token", KEY, after(1)).is_none());
        assert_eq!(fs::read_dir(path.parent().unwrap()).unwrap().count(), 0);
    }

    #[test]
    fn what_was_cut_off_or_is_missing_lets_nobody_in_and_disturbs_nobody() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("record");
        let browsers = Browsers::beside(&record);
        let cut = browsers.begin("cut", KEY, "", after(0));
        browsers.begin("whole", KEY, "", after(0));
        let path = browsers.path(&cut).unwrap();
        let text = fs::read_to_string(&path).unwrap();
        for length in 0..text.len() {
            fs::write(&path, &text[..length]).unwrap();
            assert!(browsers.find("cut", KEY, after(0)).is_none(), "{}", &text[..length]);
        }
        fs::write(path.with_file_name(".half.new"), "{").unwrap();
        assert_eq!(browsers.list(KEY, after(1)).len(), 1);
        fs::remove_dir_all(path.parent().unwrap()).unwrap();
        assert!(browsers.find("whole", KEY, after(1)).is_none());
        assert!(browsers.list(KEY, after(1)).is_empty());
        browsers.begin("new", KEY, "", after(1));
        assert!(browsers.find("new", KEY, after(1)).is_some());
    }

    #[test]
    fn an_id_is_never_taken_for_a_path() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("record");
        fs::write(&record, "the record").unwrap();
        let browsers = Browsers::beside(&record);
        browsers.begin("token", KEY, "", after(0));
        for id in ["../record", "..", "", &format!("../{}record", "./".repeat(28))] {
            assert!(!browsers.end(id).unwrap(), "{id}");
        }
        assert!(record.exists());
    }

    #[test]
    fn a_clock_that_is_put_back_ends_nobody_and_shows_no_use_to_come() {
        both(|browsers| {
            browsers.begin("token", KEY, "", after(0));
            assert_eq!(browsers.find("token", KEY, after(100)).unwrap().used, after(0));
            let found = browsers.find("token", KEY, after(50)).unwrap();
            assert_eq!((found.began, found.used), (after(0), after(50)));
            let found = browsers.find("token", KEY, after(-50)).unwrap();
            assert_eq!((found.began, found.used), (after(0), after(0)));
        });
    }
}
