//! When backups are made by themselves, what they are called, and which of them are kept.
//!
//! A backup is one file in a folder, by default `backups` beside the store, and its name says when it was
//! made. Those that were made by themselves are `NAME-daily-…`, and of these alone old ones are removed
//! again; a backup that somebody asked for stays. Copying and comparing are the store's.

use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use jiff::civil::{Date, DateTime};
use jiff::{Timestamp, ToSpan};
pub use store::{
    BackedUp, BackupError, Before, Contents, Difference, LifterDifference, Mode, Over, Put,
    PutInPlace, put_in_place,
};
use store::{Store, StoreError, Watch, origin_of, private};

/// The folder beside the store.
const FOLDER: &str = "backups";
const EXTENSION: &str = "bellwether";
const DAILY: &str = "daily-";
/// A moment in a name: `2031-05-04-182005`.
const MOMENT: &str = "%Y-%m-%d-%H%M%S";

/// How many backups are kept of those that were made by themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Keep {
    days: u32,
    weeks: u32,
}

impl Keep {
    /// The most of either.
    pub const MAX: u32 = 1_000;
}

impl Default for Keep {
    /// The last seven days and eight weeks before them (our choice): long enough to notice a mistake at the
    /// review every few weeks, and at most fifteen files.
    fn default() -> Keep {
        Keep { days: 7, weeks: 8 }
    }
}

impl FromStr for Keep {
    type Err = String;

    /// Reads `7,8`: the newest of so many days, then one a week for so many weeks; the weeks may be left out.
    fn from_str(text: &str) -> Result<Keep, String> {
        let (days, weeks) = text.split_once(',').unwrap_or((text, "0"));
        let number = |text: &str| text.trim().parse().ok().filter(|n| *n <= Keep::MAX);
        match (number(days), number(weeks)) {
            (Some(days @ 1..), Some(weeks)) => Ok(Keep { days, weeks }),
            _ => Err(format!(
                "write it as DAYS,WEEKS such as `7,8`, with at least one day and at most {} of each, or `off`",
                Keep::MAX
            )),
        }
    }
}

/// A backup in the folder.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Made {
    /// When, by the clock of the machine that made it.
    pub at: DateTime,
    /// The file.
    pub path: PathBuf,
    /// Whether it was made by itself.
    pub is_daily: bool,
}

/// The folder in which the backups of a store lie.
#[derive(Clone, Debug)]
pub struct BackupFolder {
    folder: PathBuf,
    stem: String,
}

/// What a served desk says of its backups.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BackupView {
    /// The moment for which it was made, by this machine's clock.
    pub now: DateTime,
    /// Whether the desk makes backups by itself.
    pub is_on: bool,
    /// When the newest in the folder was made.
    pub last: Option<DateTime>,
    /// That the newest try failed.
    pub failed: Option<FailedBackup>,
}

/// A backup that couldn't be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FailedBackup {
    /// When it was tried.
    pub at: DateTime,
    /// Why it failed, with the cure.
    pub reason: String,
}

/// What a daily backup came to.
#[derive(Clone, Debug)]
pub struct DailyBackup {
    /// The new file.
    pub backup: BackedUp,
    /// Older ones that were removed.
    pub removed: Vec<PathBuf>,
}

impl BackupFolder {
    /// The folder for the store at `store`: the one that is named, or `backups` beside the store.
    #[must_use]
    pub fn of(store: &Path, named: Option<&Path>) -> BackupFolder {
        let stem = store.file_stem().unwrap_or(OsStr::new("record")).to_string_lossy().into_owned();
        let folder = named.map_or_else(|| store.with_file_name(FOLDER), Path::to_owned);
        BackupFolder { folder, stem }
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.folder
    }

    /// The newest file in it that carries the name of a backup of this store.
    #[must_use]
    pub fn newest_file(&self) -> Option<PathBuf> {
        self.all().into_iter().max().map(|made| made.path)
    }

    /// Where a backup that somebody asks for at this moment belongs.
    #[must_use]
    pub fn place_at(&self, at: DateTime) -> PathBuf {
        self.folder.join(format!("{}-{}.{EXTENSION}", self.stem, at.strftime(MOMENT)))
    }

    /// Makes the folder if it is missing, for its owner only.
    ///
    /// # Errors
    /// It can't be made.
    pub fn make(&self) -> Result<(), BackupError> {
        let path = self.folder.clone();
        private::create_folder(&self.folder).map_err(|reason| match reason.kind() {
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                BackupError::ReadOnly { path }
            }
            io::ErrorKind::StorageFull => BackupError::DiskFull { path },
            io::ErrorKind::AlreadyExists | io::ErrorKind::NotADirectory => {
                let reason = io::Error::other("a file lies there: name another folder");
                BackupError::Io { path, reason }
            }
            _ => BackupError::Io { path, reason },
        })
    }

    /// The backups in the folder, oldest first, by their names.
    fn all(&self) -> Vec<Made> {
        let Ok(entries) = fs::read_dir(&self.folder) else { return Vec::new() };
        let mut all: Vec<_> =
            entries.flatten().filter_map(|entry| self.made(&entry.path())).collect();
        all.sort();
        all
    }

    fn made(&self, path: &Path) -> Option<Made> {
        let stem = path.file_stem()?.to_str()?;
        let rest = stem.strip_prefix(&self.stem)?.strip_prefix('-')?;
        let (is_daily, moment) =
            rest.strip_prefix(DAILY).map_or((false, rest), |moment| (true, moment));
        let at = DateTime::strptime(MOMENT, moment).ok()?;
        (path.extension() == Some(OsStr::new(EXTENSION)) && path.is_file()).then(|| Made {
            at,
            path: path.to_owned(),
            is_daily,
        })
    }

    /// The newest backup of this very record that isn't from the future, which a wrong clock may have written.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn newest(&self, store: &Store, now: DateTime) -> Result<Option<Made>, StoreError> {
        let origin = store.origin()?;
        let mut all = self.all();
        all.retain(|made| made.at <= now);
        Ok(all.into_iter().rev().find(|made| is_of(&made.path, &origin)))
    }

    /// How many facts were recorded since this backup was made; `None` if that can't be told, since it is of an
    /// older version or damaged, or if only other pooled values have come into force.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn recorded_since(&self, made: &Made, store: &Store) -> Result<Option<u64>, StoreError> {
        let Ok(copy) = Store::open_read_only(&made.path) else { return Ok(None) };
        let (Ok(facts), Ok(pooled)) = (copy.n_facts(), copy.pooled_id_in_force()) else {
            return Ok(None);
        };
        let new = store.n_facts()?.checked_sub(facts);
        // Values put in force are no facts, but belong into a backup, too.
        Ok(new.filter(|new| *new > 0 || store.pooled_id_in_force().is_ok_and(|id| id == pooled)))
    }

    /// Whether a daily backup is due: something is on record that the newest backup lacks, and that one is a day
    /// old.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn is_due(&self, store: &Store, now: DateTime) -> Result<bool, StoreError> {
        if store.newest_fact()? == 0 {
            return Ok(false);
        }
        let Some(newest) = self.newest(store, now)? else { return Ok(true) };
        let day_later = newest.at.saturating_add(24.hours());
        Ok(day_later <= now && self.recorded_since(&newest, store)? != Some(0))
    }

    /// Makes a daily backup, and removes those that need not be kept longer.
    ///
    /// # Errors
    /// See [`BackupError`]; nothing is removed then.
    pub fn make_daily(
        &self,
        store: &Store,
        keep: Keep,
        (local, now): (DateTime, Timestamp),
        watch: Watch<'_>,
    ) -> Result<DailyBackup, BackupError> {
        self.make()?;
        let name = format!("{}-{DAILY}{}.{EXTENSION}", self.stem, local.strftime(MOMENT));
        let backup = store.back_up(&self.folder.join(name), Over::Nothing, now, watch)?;
        let origin = store.origin()?;
        let mut removed = Vec::new();
        for path in too_old(self.all(), keep, local) {
            // One that can't be removed today is tried again tomorrow.
            if is_of(&path, &origin) && fs::remove_file(&path).is_ok() {
                removed.push(path);
            }
        }
        Ok(DailyBackup { backup, removed })
    }
}

fn is_of(path: &Path, origin: &Option<store::Origin>) -> bool {
    origin_of(path).is_ok_and(|found| found == *origin)
}

/// Which of the backups that were made by themselves needn't be kept: neither the newest of one of the last days that
/// have one, nor the newest of one of the weeks before. One from the future isn't counted and stays.
fn too_old(all: Vec<Made>, keep: Keep, now: DateTime) -> Vec<PathBuf> {
    let (mut days, mut weeks) = (BTreeSet::new(), BTreeSet::new());
    let mut old = Vec::new();
    for made in all.into_iter().rev().filter(|made| made.is_daily && made.at <= now) {
        let day = made.at.date();
        if days.contains(&day) {
            old.push(made.path);
        } else if days.len() < keep.days as usize {
            days.insert(day);
        } else if weeks.len() >= keep.weeks as usize || !weeks.insert(week_of(day)) {
            old.push(made.path);
        }
    }
    old
}

/// The Monday of a day's week.
fn week_of(day: Date) -> Date {
    let since_monday = i64::from(day.weekday().to_monday_zero_offset());
    day.saturating_sub(since_monday.days())
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, datetime};

    use super::*;

    fn made(at: DateTime) -> Made {
        Made { at, path: PathBuf::from(at.to_string()), is_daily: true }
    }

    /// A backup each evening for a year, and what is left of them each day.
    #[test]
    fn seven_days_and_one_a_week_before_them_are_kept() {
        let mut left: Vec<Made> = Vec::new();
        for n in 0..365 {
            let now = datetime(2031, 1, 1, 21, 0, 0, 0).saturating_add(n.days());
            left.push(made(now));
            let old = too_old(left.clone(), Keep::default(), now);
            left.retain(|made| !old.contains(&made.path));
            assert!(left.len() <= 15);
        }
        let days: Vec<_> = left.iter().map(|made| made.at.date()).collect();
        // 31 December 2031 is a Wednesday: seven days to the 25th, then the Wednesday before, then Sundays.
        let november = [9, 16, 23, 30].map(|day| date(2031, 11, day));
        let december = [7, 14, 21, 24].into_iter().chain(25..=31).map(|day| date(2031, 12, day));
        let expected: Vec<_> = november.into_iter().chain(december).collect();
        assert_eq!(days, expected);
    }

    #[test]
    fn nobody_elses_files_and_none_from_the_future_are_old() {
        let now = datetime(2031, 5, 4, 12, 0, 0, 0);
        let asked_for = Made { is_daily: false, ..made(datetime(2030, 1, 1, 0, 0, 0, 0)) };
        let ahead = made(datetime(2036, 1, 1, 0, 0, 0, 0));
        let today = made(now);
        let keep = Keep { days: 1, weeks: 0 };
        assert_eq!(
            too_old(vec![asked_for, today.clone(), ahead], keep, now),
            Vec::<PathBuf>::new()
        );
        let earlier = made(datetime(2031, 5, 4, 6, 0, 0, 0));
        assert_eq!(too_old(vec![earlier.clone(), today], keep, now), [earlier.path]);
    }

    #[test]
    fn names_tell_when_a_backup_was_made() {
        let folder = tempfile::tempdir().unwrap();
        let folder = BackupFolder::of(&folder.path().join("record.bellwether"), None);
        folder.make().unwrap();
        let at = datetime(2031, 5, 4, 18, 20, 5, 0);
        let place = folder.place_at(at);
        assert!(place.ends_with("backups/record-2031-05-04-182005.bellwether"), "{place:?}");
        for name in [
            "record-2031-05-04-182005.bellwether",
            "record-daily-2031-05-03-061200.bellwether",
            "record-2031-05-04.bellwether",
            "recorded-2031-05-04-182005.bellwether",
            "other-daily-2031-05-03-061200.bellwether",
            "record-daily-2031-05-03-061200.csv",
            ".record-daily-2031-05-03-061200.bellwether.unfinished-12-0",
        ] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        let all: Vec<_> = folder.all().into_iter().map(|made| (made.at, made.is_daily)).collect();
        assert_eq!(all, [(datetime(2031, 5, 3, 6, 12, 0, 0), true), (at, false)]);
    }

    #[test]
    fn how_many_are_kept_is_read() {
        let keep = |days, weeks| Ok(Keep { days, weeks });
        assert_eq!("7,8".parse(), keep(7, 8));
        assert_eq!("3, 0".parse(), keep(3, 0));
        assert_eq!("14".parse(), keep(14, 0));
        for wrong in ["", "0", "0,8", "7,8,9", "-1,2", "1001,2", "a,b", "7,"] {
            assert!(wrong.parse::<Keep>().is_err(), "{wrong}");
        }
    }
}
