//! The files of an inspection folder, byte for byte, and what they are called.

use super::half;
use super::inside::{Inside, objection_to_kept};
use super::packed::LONGEST;
use super::regular;
use crate::card::InspectionCard;
use crate::error::{Code, Error, Result, as_text, reason};
use crate::record::JudgedFrom;
use std::fs;
use std::io;
use std::path::Path;
use std::time::SystemTime;

/// What an archive is called in the folder that it is kept in.
pub const ARCHIVE_FILE: &str = "archive.db";

/// What says, in the folder of an exported record, which record it was.
pub(super) const RECORD_FILE: &str = "archive-record.json";

/// The card that says what was done.
pub(super) const INSPECTION: &str = crate::record::INSPECTION_FILE;

/// The verdict in full.
pub(super) const VERDICT: &str = "verdict.json";

/// The verdict as a page.
pub const REPORT_FILE: &str = "report.svg";

/// An inspection with this file has readings of a simulated gauge: no tool was measured.
pub const SIMULATED_FILE: &str = "simulated.txt";
/// What stands in it.
pub const SIMULATED: &str = "The readings in this folder come from a simulated gauge.\n";

/// One file of an inspection.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredFile {
    /// Below the folder, with forward slashes.
    pub path: String,
    /// As they were.
    pub bytes: Vec<u8>,
}

impl StoredFile {
    /// Reads every file of an inspection folder.
    ///
    /// # Errors
    /// `missing-file` or `disk` where something cannot be read or is being written just now.
    pub fn all_of(folder: &Path) -> Result<Vec<Self>> {
        let before = listing(folder)?;
        let files = before.iter().map(read_file).collect::<Result<_>>()?;
        // A capture that still runs would give a record of half an inspection.
        if listing(folder)? != before {
            let message = "a file in it was changed while it was read";
            return Err(Error::new(Code::Disk, message)
                .in_path(folder)
                .help("wait until what writes into the folder has ended, then try again"));
        }
        Ok(files)
    }

    /// Reads the verdict in an inspection folder and the files that it is judged from, and no logs.
    ///
    /// # Errors
    /// As [`StoredFile::all_of`].
    pub fn judged_of(folder: &Path) -> Result<Vec<Self>> {
        let listed = listing(folder)?;
        let read = |path: &str| {
            let file = listed.iter().find(|file| file.path == path);
            file.map(read_file).transpose()
        };
        let mut files: Vec<Self> = [read(VERDICT)?, read(INSPECTION)?]
            .into_iter()
            .flatten()
            .collect();
        if let Ok(inspection) = card(&files, "", INSPECTION, InspectionCard::parse) {
            for name in JudgedFrom::names(&inspection) {
                let wanted = listed.iter().filter(|file| same_file(&file.path, name));
                for file in wanted.filter(|file| file.path != INSPECTION) {
                    files.push(read_file(file)?);
                }
            }
        }
        Ok(files)
    }
}

/// The file that a card names, which may do so with `./` in it, or on a system for which capitals
/// are no different.
pub(super) fn find<'a>(files: &'a [StoredFile], path: &str) -> Option<&'a StoredFile> {
    let plain = plain(path);
    let exactly = files.iter().find(|file| file.path == plain);
    exactly.or_else(|| {
        files
            .iter()
            .find(|file| file.path.eq_ignore_ascii_case(&plain))
    })
}

/// Whether a card may mean the file by this name.
fn same_file(file: &str, named: &str) -> bool {
    file.eq_ignore_ascii_case(&plain(named))
}

/// A path without what leads nowhere.
pub fn plain(path: &str) -> String {
    let parts = path.split('/').filter(|part| !matches!(*part, "" | "."));
    parts.collect::<Vec<_>>().join("/")
}

pub(super) fn named(folder: &str, path: &str) -> String {
    Path::new(folder).join(path).display().to_string()
}

/// A card among the files.
pub(super) fn card<T>(
    files: &[StoredFile],
    folder: &str,
    path: &str,
    parse: impl FnOnce(&str, &str) -> Result<T>,
) -> Result<T> {
    let name = named(folder, path);
    let Some(file) = find(files, path) else {
        let message = "found no such file, expected a card";
        return Err(Error::new(Code::Missing, message)
            .in_file(name)
            .help("name the folder that holds it; `heelclear manual judge-a-folder` shows one"));
    };
    parse(as_text(&file.bytes, &*name)?, &name)
}

/// A file of a folder before it is read.
#[derive(Debug, PartialEq)]
struct Listed {
    full: std::path::PathBuf,
    path: String,
    size: u64,
    modified: Option<SystemTime>,
}

/// Every file of an inspection folder, in the order of their paths.
fn listing(folder: &Path) -> Result<Vec<Listed>> {
    if !folder.is_dir() {
        let found = if folder.exists() {
            "a file"
        } else {
            "no folder"
        };
        let message = format!("found {found}, expected an inspection folder");
        return Err(Error::new(Code::Missing, message)
            .in_path(folder)
            .help("name a folder that holds an inspection.toml"));
    }
    let mut files = Vec::new();
    list(&Inside::of(folder), folder, "", &mut files)?;
    files.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(files)
}

fn list(inside: &Inside, folder: &Path, below: &str, files: &mut Vec<Listed>) -> Result<()> {
    let entries = fs::read_dir(folder).map_err(|fault| unreadable(folder, fault))?;
    for entry in entries {
        let entry = entry.map_err(|fault| unreadable(folder, fault))?;
        let full = entry.path();
        let name = entry.file_name().into_string().map_err(|_| {
            Error::new(Code::Disk, "its name is not UTF-8 text")
                .in_path(&full)
                .help("give it a plain name")
        })?;
        let top = below.is_empty();
        // An archive may lie in the folder of an inspection, as that of the demo does.
        let of_an_archive = top && (name.starts_with(ARCHIVE_FILE) || name == RECORD_FILE);
        if name.starts_with(half::BEGINNING) || of_an_archive {
            continue;
        }
        let path = format!("{below}{name}");
        if let Some(objection) = objection_to_kept(&path) {
            return Err(Error::new(Code::Disk, objection)
                .in_path(&full)
                .help("give it a plain name"));
        }
        if full.is_symlink() {
            inside.stays(&full)?;
            inside.goes_on(folder, &full)?;
        }
        let about = fs::metadata(&full).map_err(|fault| unreadable(&full, fault))?;
        if about.is_dir() {
            list(inside, &full, &format!("{path}/"), files)?;
            continue;
        }
        if !about.is_file() {
            return Err(
                Error::new(Code::Disk, "it is no regular file, and cannot be kept")
                    .in_path(&full)
                    .help("move it out of the folder"),
            );
        }
        let size = about.len();
        if size > LONGEST {
            let message = format!("it has {size} bytes, expected at most {LONGEST}");
            return Err(Error::new(Code::Disk, message)
                .in_path(&full)
                .help("take the traces of this inspection apart"));
        }
        files.push(Listed {
            modified: about.modified().ok(),
            full,
            path,
            size,
        });
    }
    Ok(())
}

fn read_file(listed: &Listed) -> Result<StoredFile> {
    let bytes = regular::contents(&listed.full).map_err(|fault| unreadable(&listed.full, fault))?;
    Ok(StoredFile {
        path: listed.path.clone(),
        bytes,
    })
}

pub(super) fn unreadable(path: &Path, fault: io::Error) -> Error {
    let message = format!("could not be read: {}", reason(&fault));
    Error::new(Code::Disk, message)
        .in_path(path)
        .help("check that it is there and that you may read it")
        .because(fault)
}
