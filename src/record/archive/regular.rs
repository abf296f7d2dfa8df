//! Regular files, read whole: a pipe or a device may have no end, and a file more bytes than there is
//! memory for. Whatever a person names, or a folder holds, is read through here.

use super::packed::LONGEST;
use std::fs::File;
use std::io::{Error, ErrorKind, Read, Result};
use std::path::Path;

/// What a person writes is shorter: cards, plans, recipes, the sheet of an exported record.
pub const LONGEST_TEXT: u64 = 4 * 1024 * 1024;

/// A regular file, to be read.
///
/// # Errors
/// Those of the system, and `InvalidInput` where it is none.
pub fn opened(path: &Path) -> Result<File> {
    // To open a pipe would wait for somebody to write into it.
    regular(&std::fs::metadata(path)?)?;
    let file = File::open(path)?;
    // It may have been put in the place of the one that was looked at.
    regular(&file.metadata()?)?;
    Ok(file)
}

/// The bytes of a regular file.
///
/// # Errors
/// Those of [`opened`], and `InvalidData` where it is longer than an archive takes.
pub fn contents(path: &Path) -> Result<Vec<u8>> {
    up_to(path, LONGEST)
}

/// The text of a regular file that a person wrote.
///
/// # Errors
/// Those of [`opened`], and `InvalidData` where it is longer than such a file, or no text.
pub fn text(path: &Path) -> Result<String> {
    let none = |_| Error::new(ErrorKind::InvalidData, "it is not UTF-8 text");
    String::from_utf8(written(path)?).map_err(none)
}

/// The bytes of such a file, whatever they are.
///
/// # Errors
/// Those of [`opened`], and `InvalidData` where it is longer.
pub fn written(path: &Path) -> Result<Vec<u8>> {
    up_to(path, LONGEST_TEXT)
}

fn regular(about: &std::fs::Metadata) -> Result<()> {
    if about.is_file() {
        return Ok(());
    }
    let found = if about.is_dir() {
        "it is a folder, expected a file"
    } else {
        "it is a pipe or a device, expected a regular file"
    };
    Err(Error::new(ErrorKind::InvalidInput, found))
}

fn up_to(path: &Path, most: u64) -> Result<Vec<u8>> {
    let file = opened(path)?;
    let long = file.metadata()?.len();
    let mut bytes = Vec::with_capacity(usize::try_from(long.min(most)).unwrap_or(0));
    // It may grow while it is read.
    file.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 <= most {
        return Ok(bytes);
    }
    let message = format!("it has more than {most} bytes");
    Err(Error::new(ErrorKind::InvalidData, message))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_is_no_regular_file_is_refused_and_not_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("card.toml");
        std::fs::write(&file, "schema = 1\n").unwrap();
        assert_eq!(text(&file).unwrap(), "schema = 1\n");
        assert_eq!(contents(&file).unwrap(), b"schema = 1\n");
        let refused = contents(folder.path()).unwrap_err();
        assert_eq!(refused.kind(), ErrorKind::InvalidInput);
        for device in ["/dev/zero", "/dev/tty"] {
            if Path::new(device).exists() {
                assert!(contents(Path::new(device)).is_err(), "{device}");
            }
        }
    }

    #[test]
    fn what_is_longer_than_a_person_writes_is_no_text() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("card.toml");
        File::create(&file)
            .unwrap()
            .set_len(LONGEST_TEXT + 1)
            .unwrap();
        assert_eq!(text(&file).unwrap_err().kind(), ErrorKind::InvalidData);
        std::fs::write(&file, b"\xff").unwrap();
        assert_eq!(text(&file).unwrap_err().kind(), ErrorKind::InvalidData);
    }
}
