//! Typefaces for a browser under test. They come from crates, so that it sees the same on every machine, also on one
//! that has none.

use std::fs;
use std::path::{Path, PathBuf};

/// A family of faces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Family {
    /// DejaVu: wide, and the only one on many a Debian machine.
    DejaVu,
    /// Noto Sans: narrower, and without a face with serifs.
    NotoSans,
}

impl Family {
    fn name(self) -> &'static str {
        match self {
            Family::DejaVu => "DejaVu",
            Family::NotoSans => "NotoSans",
        }
    }

    fn faces(self) -> Vec<(&'static str, &'static [u8])> {
        match self {
            Family::DejaVu => vec![
                ("DejaVuSans.ttf", dejavu::sans::regular()),
                ("DejaVuSans-Bold.ttf", dejavu::sans::bold()),
                ("DejaVuSerif.ttf", dejavu::serif::regular()),
                ("DejaVuSerif-Bold.ttf", dejavu::serif::bold()),
            ],
            Family::NotoSans => vec![
                ("NotoSans-Regular.ttf", notosans::REGULAR_TTF),
                ("NotoSans-Bold.ttf", notosans::BOLD_TTF),
            ],
        }
    }
}

/// A file for `FONTCONFIG_FILE` with which a program finds this family and no other.
pub(crate) fn only(family: Family) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("faces").join(family.name());
    fs::create_dir_all(&folder).expect("the tests' folder can be written");
    for (name, bytes) in family.faces() {
        put(&folder.join(name), bytes);
    }
    let config = folder.join("fonts.conf");
    let text = format!(
        r#"<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig>
  <dir>{folder}</dir>
  <cachedir>{folder}/cache</cachedir>
  <alias><family>serif</family><prefer><family>DejaVu Serif</family></prefer></alias>
  <alias><family>sans-serif</family><prefer><family>DejaVu Sans</family></prefer></alias>
</fontconfig>
"#,
        folder = folder.display()
    );
    put(&config, text.as_bytes());
    config
}

/// Writes a file whole, whoever else does the same at the same time.
fn put(path: &Path, bytes: &[u8]) {
    if fs::metadata(path).is_ok_and(|known| known.len() == bytes.len() as u64) {
        return;
    }
    let aside =
        path.with_extension(format!("{}.{:?}", std::process::id(), std::thread::current().id()));
    fs::write(&aside, bytes)
        .and_then(|()| fs::rename(&aside, path))
        .expect("the file can be written");
}
