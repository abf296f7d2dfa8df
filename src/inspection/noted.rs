//! Notes and photographs beside an inspection: where they lie, and what a verdict lists of them.
//!
//! They judge nothing. They go with the folder, are archived with it, and a report names them.

use super::whole_file::{write_new, write_whole};
use crate::error::{Code, Error, Result, unwritable};
use crate::record::archive::{Digest, regular};
use crate::record::{Noted, Photograph};
use std::fs;
use std::path::Path;

/// The file of the notes in an inspection's folder.
pub const NOTES_FILE: &str = Noted::NOTES_FILE;
/// The folder of the photographs in it.
pub const PHOTOGRAPHS: &str = Noted::PHOTOGRAPHS;
/// More photographs than this are no help to anybody (chosen, no source).
pub const MOST_PHOTOGRAPHS: usize = 12;
/// What a photograph takes at most, in bytes: more than a telephone's camera makes (chosen, no source).
pub const LONGEST_PHOTOGRAPH: usize = 12_000_000;
/// Characters of notes that are kept, and listed (chosen, no source).
pub const LONGEST_NOTE: usize = 10_000;
/// Larger files are not looked at: no photograph is so large.
const LOOKED_AT: u64 = 100_000_000;

/// The ending of a picture's name by what its bytes are: JPEG (ITU-T T.81, B.1.1.3: it begins with
/// the markers SOI and another one), PNG (ISO/IEC 15948, 5.2) or WebP (RFC 9649, 2.4); nothing where
/// they are none of these.
pub fn picture_kind(bytes: &[u8]) -> Option<&'static str> {
    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Some("jpg"),
        png if png.starts_with(PNG) => Some("png"),
        webp if webp.starts_with(b"RIFF") && webp.get(8..12) == Some(b"WEBP") => Some("webp"),
        _ => None,
    }
}

/// What is noted and photographed in a folder; nothing where neither is there.
///
/// # Errors
/// `disk` where a file that is there cannot be read.
pub fn noted(folder: &Path) -> Result<Option<Noted>> {
    let mut photographs = Vec::new();
    for name in photographs_in(folder)? {
        let path = folder.join(PHOTOGRAPHS).join(&name);
        let bytes = read(&path)?;
        if picture_kind(&bytes).is_some() {
            photographs.push(Photograph {
                file: format!("{PHOTOGRAPHS}/{name}"),
                bytes: bytes.len() as u64,
                sha256: Digest::of(&bytes).to_string(),
            });
        }
    }
    let text = note(folder)?;
    let any = text.is_some() || !photographs.is_empty();
    Ok(any.then_some(Noted { text, photographs }))
}

/// The notes of a folder.
///
/// # Errors
/// `disk` where they are there and cannot be read.
pub fn note(folder: &Path) -> Result<Option<String>> {
    let path = folder.join(NOTES_FILE);
    if !is_plain(&path) {
        return Ok(None);
    }
    let text = tidy(&String::from_utf8_lossy(&read(&path)?));
    Ok((!text.is_empty()).then_some(text))
}

/// Writes the notes of a folder anew; without any the file goes.
///
/// # Errors
/// `usage` where they are too long, `disk` where the system refuses.
pub fn write_note(folder: &Path, text: &str) -> Result<()> {
    check_note(text)?;
    let (path, text) = (folder.join(NOTES_FILE), tidy(text));
    if !text.is_empty() {
        return write_whole(&path, format!("{text}\n").as_bytes());
    }
    match is_plain(&path) {
        true => fs::remove_file(&path).map_err(|fault| unwritable(&path, fault)),
        false => Ok(()),
    }
}

/// Refuses notes that are too long.
///
/// # Errors
/// `usage`.
pub fn check_note(text: &str) -> Result<()> {
    let count = text.chars().count();
    if count <= LONGEST_NOTE {
        return Ok(());
    }
    let message = format!("the notes have {count} characters, expected at most {LONGEST_NOTE}");
    Err(Error::new(Code::Usage, message).help("shorten them, or put a text of its own beside"))
}

/// Refuses what is no photograph, or one too large.
///
/// # Errors
/// `usage`.
pub fn check_photograph(bytes: &[u8]) -> Result<&'static str> {
    if bytes.len() > LONGEST_PHOTOGRAPH {
        return Err(too_large());
    }
    picture_kind(bytes).ok_or_else(|| {
        Error::new(
            Code::Usage,
            "this file is no photograph that can be kept, expected a JPEG, PNG or WebP picture",
        )
        .help("what counts is what the file holds, not its name: save it as a JPEG")
    })
}

/// That a photograph takes too much room.
pub fn too_large() -> Error {
    let most = LONGEST_PHOTOGRAPH / 1_000_000;
    Error::new(
        Code::Usage,
        format!("the photograph is too large, expected at most {most} MB"),
    )
    .help("take it with fewer dots, or make it smaller")
}

/// Puts a photograph into a folder, under a name of our own; gives that.
///
/// # Errors
/// `usage` where it is none, or there are too many, `disk` where the system refuses.
pub fn add_photograph(folder: &Path, bytes: &[u8]) -> Result<String> {
    let kind = check_photograph(bytes)?;
    if photographs_in(folder)?.len() >= MOST_PHOTOGRAPHS {
        return Err(too_many());
    }
    let below = folder.join(PHOTOGRAPHS);
    // A link would lead out of the folder.
    if below.is_symlink() {
        let message = "it is a link, expected a folder";
        return Err(Error::new(Code::Disk, message).in_path(&below));
    }
    fs::create_dir_all(&below).map_err(|fault| unwritable(&below, fault))?;
    for number in 1..=999 {
        let base = format!("photograph-{number:02}");
        let taken = ["jpg", "png", "webp"].map(|kind| below.join(format!("{base}.{kind}")));
        let name = format!("{base}.{kind}");
        if !taken.iter().any(|path| path.exists()) && write_new(&below.join(&name), bytes)? {
            return Ok(name);
        }
    }
    Err(too_many())
}

/// That there are as many photographs as can be.
pub fn too_many() -> Error {
    let message = format!("there are {MOST_PHOTOGRAPHS} photographs, which is the most");
    Error::new(Code::Usage, message).help("take one out first")
}

/// Takes a photograph out of a folder.
///
/// # Errors
/// `missing-file` where there is none of this name, `disk` where the system refuses.
pub fn take_out(folder: &Path, name: &str) -> Result<()> {
    let path = photograph(folder, name)?;
    fs::remove_file(&path).map_err(|fault| unwritable(&path, fault))
}

/// The bytes of a photograph, and the ending that they call for.
///
/// # Errors
/// `missing-file` where there is none of this name, `disk` where it cannot be read.
pub fn photograph_bytes(folder: &Path, name: &str) -> Result<(Vec<u8>, &'static str)> {
    let bytes = read(&photograph(folder, name)?)?;
    let kind = picture_kind(&bytes).ok_or_else(none)?;
    Ok((bytes, kind))
}

/// The path of a photograph that is there: a name is only ever compared with those of the folder.
fn photograph(folder: &Path, name: &str) -> Result<std::path::PathBuf> {
    let known = photographs_in(folder)?.into_iter().find(|it| it == name);
    Ok(folder.join(PHOTOGRAPHS).join(known.ok_or_else(none)?))
}

fn none() -> Error {
    Error::new(Code::Missing, "there is no such photograph")
}

/// Names of the regular files in the folder of the photographs, in their order.
///
/// # Errors
/// `disk` where the folder is there and cannot be read.
pub fn photographs_in(folder: &Path) -> Result<Vec<String>> {
    let below = folder.join(PHOTOGRAPHS);
    if below.is_symlink() || !below.is_dir() {
        return Ok(Vec::new());
    }
    let entries = fs::read_dir(&below).map_err(|fault| unreadable(&below, fault))?;
    let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    let fine = |name: &String| !name.starts_with('.') && is_plain(&below.join(name));
    let mut names: Vec<String> = names.filter(fine).collect();
    names.sort();
    Ok(names)
}

/// Whether a regular file lies there, and no link.
fn is_plain(path: &Path) -> bool {
    let about = fs::symlink_metadata(path);
    about.is_ok_and(|about| about.is_file() && about.len() <= LOOKED_AT)
}

fn read(path: &Path) -> Result<Vec<u8>> {
    regular::contents(path).map_err(|fault| unreadable(path, fault))
}

fn unreadable(path: &Path, fault: std::io::Error) -> Error {
    Error::new(Code::Disk, format!("could not be read: {fault}"))
        .in_path(path)
        .help("check that it is a file and that you may read it")
        .because(fault)
}

/// Text as it is kept: lines ended by a line feed, no signs that steer, no blank ends.
fn tidy(text: &str) -> String {
    let plain = text.replace("\r\n", "\n").replace('\r', "\n");
    let plain = plain.chars().map(|sign| match sign {
        '\n' => sign,
        sign if sign.is_control() => ' ',
        sign => sign,
    });
    let plain: String = plain.take(LONGEST_NOTE).collect();
    plain.trim().to_owned()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_picture_is_told_by_its_bytes() {
        #[track_caller]
        fn check(bytes: &[u8], kind: Option<&str>) {
            assert_eq!(picture_kind(bytes), kind, "{bytes:?}");
        }
        check(b"\xff\xd8\xff\xe0\0\x10JFIF", Some("jpg"));
        check(b"\x89PNG\r\n\x1a\n\0\0", Some("png"));
        check(b"RIFF\x10\0\0\0WEBPVP8 ", Some("webp"));
        check(b"RIFF\x10\0\0\0WAVEfmt ", None);
        check(b"RIFF", None);
        check(b"<svg xmlns='http://www.w3.org/2000/svg'/>", None);
        check(b"\xff\xd8", None);
        check(b"", None);
    }

    #[test]
    fn photographs_get_names_of_our_own_and_are_bounded() {
        let folder = tempfile::tempdir().unwrap();
        let jpeg = b"\xff\xd8\xff\xe0one";
        assert_eq!(
            add_photograph(folder.path(), jpeg).unwrap(),
            "photograph-01.jpg"
        );
        for number in 2..=MOST_PHOTOGRAPHS {
            let name = add_photograph(folder.path(), b"\x89PNG\r\n\x1a\n").unwrap();
            assert_eq!(name, format!("photograph-{number:02}.png"));
        }
        assert!(add_photograph(folder.path(), jpeg).is_err());
        take_out(folder.path(), "photograph-02.png").unwrap();
        assert_eq!(
            add_photograph(folder.path(), jpeg).unwrap(),
            "photograph-02.jpg"
        );
        assert!(take_out(folder.path(), "../notes.txt").is_err());
        assert!(add_photograph(folder.path(), b"GIF89a").is_err());
        assert!(check_photograph(&vec![0xff; LONGEST_PHOTOGRAPH + 1]).is_err());
    }

    #[test]
    fn notes_are_read_back_as_they_were_written() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(noted(folder.path()).unwrap(), None);
        write_note(folder.path(), " heel blue\r\nsecond line\u{7} ").unwrap();
        let text = note(folder.path()).unwrap();
        assert_eq!(text.as_deref(), Some("heel blue\nsecond line"));
        write_note(folder.path(), "  ").unwrap();
        assert!(!folder.path().join(NOTES_FILE).exists());
        assert!(write_note(folder.path(), &"a".repeat(LONGEST_NOTE + 1)).is_err());
    }
}
