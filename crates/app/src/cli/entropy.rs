//! What must not be guessed, drawn from the system: tokens, ids and the coach's key.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::exit::Failure;

/// Random bits of a token.
const TOKEN_BYTES: usize = 20;

/// A token of 160 random bits in hexadecimal digits.
pub(crate) fn token() -> Result<String, Failure> {
    let bytes: [u8; TOKEN_BYTES] = random()?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Random bytes from the system.
pub(crate) fn random<const N: usize>() -> Result<[u8; N], Failure> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes)
        .map_err(|error| Failure::Files(format!("the system gives no random numbers: {error}")))?;
    Ok(bytes)
}

/// The coach's key, which lies beside the store; made at the first start. Whoever can read the store's
/// folder can read the store itself, so the key needs no more protection than that.
pub(crate) fn coach_key(store: &Path) -> Result<String, Failure> {
    let path = key_file(store);
    let trouble = |error: io::Error| {
        Failure::Files(format!(
            "the coach's key `{}` can't be kept: {error}; allow writing beside the store",
            path.display()
        ))
    };
    match fs::read_to_string(&path) {
        Ok(text) if text.trim().len() >= 2 * TOKEN_BYTES => return Ok(text.trim().to_owned()),
        Ok(_) => fs::remove_file(&path).map_err(trouble)?, // cut off while it was written
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        Err(error) => return Err(trouble(error)),
    }
    let key = token()?;
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&path).map_err(trouble)?;
    writeln!(file, "{key}").and_then(|()| file.sync_all()).map_err(trouble)?;
    Ok(key)
}

fn key_file(store: &Path) -> PathBuf {
    let mut name = store.as_os_str().to_owned();
    name.push(".coach-key");
    PathBuf::from(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_made_once_and_for_its_owner_only() {
        let folder = tempfile::tempdir().unwrap();
        let store = folder.path().join("record.bellwether");
        let key = coach_key(&store).unwrap();
        assert_eq!(key.len(), 2 * TOKEN_BYTES);
        assert_eq!(coach_key(&store).unwrap(), key);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = fs::metadata(key_file(&store)).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        fs::write(key_file(&store), "cut of").unwrap();
        assert_ne!(coach_key(&store).unwrap(), key);
    }
}
