//! All files of an inspection folder, byte for byte, and what they say of themselves.

use super::digest::{Digest, Sum};
use super::half;
use super::inside::Inside;
use super::packed::{self, LONGEST};
use super::standing::standing;
use crate::card::{GaugeCard, InspectionCard, ToolCard};
use crate::error::{Code, Error, Result, reason};
use crate::record::Standing;
use crate::record::assemble::gauge_lines;
use jiff::Timestamp;
use serde::Deserialize;
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

/// Files that judging writes: they are content, but no evidence of what was measured.
const JUDGED: [&str; 2] = [VERDICT, REPORT_FILE];

/// One file of an inspection.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredFile {
    /// Below the folder, with forward slashes.
    pub path: String,
    /// As they were.
    pub bytes: Vec<u8>,
}

/// What the cards and the verdict of an inspection say.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Said {
    pub taken: Timestamp,
    pub operator: String,
    pub stage: String,
    pub tool: String,
    pub tool_name: String,
    pub gauge: String,
    pub features: Vec<String>,
    pub verdict: Option<String>,
}

/// An inspection ready to be kept: read, understood, packed and digested.
#[derive(Clone, Debug)]
pub struct Contents {
    pub(super) said: Said,
    pub(super) files: Vec<PackedFile>,
    pub(super) content: Digest,
    pub(super) evidence: Digest,
    pub(super) correction: Option<Correction>,
    pub(super) origin: Option<String>,
    /// Whether its verdict is kept as it is, although it was not held against its evidence.
    pub(super) as_judged: bool,
    pub(super) standing: Option<Standing>,
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
                .in_file(folder.display().to_string())
                .help("wait until what writes into the folder has ended, then try again"));
        }
        Ok(files)
    }
}

/// The record that an inspection is put in the place of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correction {
    /// Its content; it stays in the archive, and is not to be used any more.
    pub replaces: Digest,
    /// Why, in the person's words.
    pub why: String,
}

/// One file as it is kept.
#[derive(Clone, Debug)]
pub(super) struct PackedFile {
    pub path: String,
    pub size: i64,
    pub digest: Digest,
    pub packed: Vec<u8>,
}

impl Contents {
    /// Reads a folder whole.
    ///
    /// # Errors
    /// `missing-file` or `disk` where something cannot be read or is being written just now, and
    /// the errors of the cards.
    pub fn read(folder: &Path) -> Result<Self> {
        Self::of(StoredFile::all_of(folder)?, &folder.display().to_string())
    }

    /// Takes files that were read elsewhere; `folder` names them in messages.
    ///
    /// # Errors
    /// Those of the cards.
    pub fn of(mut files: Vec<StoredFile>, folder: &str) -> Result<Self> {
        files.sort_by(|one, other| one.path.cmp(&other.path));
        let said = said(&files, folder)?;
        let standing = standing(&files);
        if standing == Some(Standing::Other) {
            return Err(Error::new(
                Code::Evidence,
                "its verdict was judged from other cards or traces than lie here",
            )
            .in_file(named(folder, VERDICT))
            .help("judge the folder anew with `heelclear verify`; without its `verdict.json` it can be kept as one that was not judged"));
        }
        let packed: Vec<PackedFile> = files
            .into_iter()
            .map(|file| PackedFile {
                size: file.bytes.len() as i64,
                digest: Digest::of(&file.bytes),
                packed: packed::pack(&file.path, &file.bytes),
                path: file.path,
            })
            .collect();
        let digests = || packed.iter().map(|file| (file.path.as_str(), file.digest));
        Ok(Self {
            content: content(digests()),
            evidence: evidence(digests()),
            as_judged: false,
            standing,
            said,
            files: packed,
            correction: None,
            origin: None,
        })
    }

    /// Puts it in the place of a record.
    pub fn in_place_of(self, correction: Correction) -> Self {
        Self {
            correction: Some(correction),
            ..self
        }
    }

    /// Says which record it was in the archive that it comes from.
    pub(super) fn once_record(self, origin: String) -> Self {
        Self {
            origin: Some(origin),
            ..self
        }
    }

    /// Says in the record that nobody held its verdict against its cards and traces.
    pub fn as_judged(self) -> Self {
        Self {
            as_judged: true,
            ..self
        }
    }

    /// Whether a verdict is among the files.
    pub fn judged(&self) -> bool {
        self.standing.is_some()
    }

    /// The digest of all its files.
    pub fn digest(&self) -> Digest {
        self.content
    }

    /// Bytes of its files, as they were and as they are kept.
    pub fn sizes(&self) -> (u64, u64) {
        let as_were = self.files.iter().map(|file| file.size.unsigned_abs()).sum();
        let kept = self.files.iter().map(|file| file.packed.len() as u64).sum();
        (as_were, kept)
    }
}

/// The digest of files, by path in order.
pub(super) fn content<'a>(files: impl Iterator<Item = (&'a str, Digest)>) -> Digest {
    let sum = Sum::of("heelclear content");
    let sum = files.fold(sum, |sum, (path, digest)| {
        sum.text(path).bytes(digest.as_bytes())
    });
    sum.finish()
}

/// The digest of the files that judging does not write.
pub(super) fn evidence<'a>(files: impl Iterator<Item = (&'a str, Digest)>) -> Digest {
    content(files.filter(|(path, _)| !JUDGED.contains(path)))
}

/// What the cards and the verdict among these files say.
pub(super) fn said(files: &[StoredFile], folder: &str) -> Result<Said> {
    let inspection = card(files, folder, INSPECTION, InspectionCard::parse)?;
    let tool = card(files, folder, &inspection.tool, ToolCard::parse)?;
    let gauge = card(files, folder, &inspection.gauge, GaugeCard::parse)?;
    let verdict = find(files, VERDICT).map(|file| verdict(&file.bytes, &named(folder, VERDICT)));
    Ok(Said {
        taken: inspection.taken,
        operator: inspection.operator,
        stage: inspection.stage.as_str().to_owned(),
        tool: tool.id,
        tool_name: tool.name,
        gauge: gauge_lines(&gauge).join("; "),
        features: tool
            .features
            .into_iter()
            .map(|feature| feature.name)
            .collect(),
        verdict: verdict.transpose()?.flatten(),
    })
}

/// The file that a card names, which may do so with `./` in it, or on a system for which capitals
/// are no different.
pub(super) fn find<'a>(files: &'a [StoredFile], path: &str) -> Option<&'a StoredFile> {
    let parts = path.split('/').filter(|part| !matches!(*part, "" | "."));
    let plain = parts.collect::<Vec<_>>().join("/");
    let exactly = files.iter().find(|file| file.path == plain);
    exactly.or_else(|| {
        files
            .iter()
            .find(|file| file.path.eq_ignore_ascii_case(&plain))
    })
}

fn named(folder: &str, path: &str) -> String {
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
    let text = std::str::from_utf8(&file.bytes).map_err(|_| {
        Error::new(
            Code::CardSyntax,
            "read bytes that are not text, expected UTF-8",
        )
        .in_file(name.clone())
        .help("save the file as UTF-8 text")
    })?;
    parse(text, &name)
}

/// The verdict in a verdict file. Only this is read, so that files of other versions can be kept.
fn verdict(bytes: &[u8], name: &str) -> Result<Option<String>> {
    #[derive(Deserialize)]
    struct Verdict {
        schema: String,
        verdict: Option<crate::record::Verdict>,
    }
    let refused = |message: String| {
        Error::new(Code::CardSyntax, message)
            .in_file(name)
            .help("judge the folder again with `heelclear verify`")
    };
    let read: Verdict = serde_json::from_slice(bytes)
        .map_err(|fault| refused(format!("not a verdict: {fault}")))?;
    if !read.schema.starts_with("heelclear.verdict/") {
        return Err(refused(format!("read schema `{}`", read.schema)));
    }
    Ok(read.verdict.map(|verdict| verdict.as_str().to_owned()))
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
            .in_file(folder.display().to_string())
            .help("name a folder that holds an inspection.toml"));
    }
    let mut files = Vec::new();
    list(&Inside::of(folder), folder, "", &mut files)?;
    files.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(files)
}

fn list(inside: &Inside, folder: &Path, below: &str, files: &mut Vec<Listed>) -> Result<()> {
    let entries = fs::read_dir(folder).map_err(|fault| unreadable(folder, &fault))?;
    for entry in entries {
        let entry = entry.map_err(|fault| unreadable(folder, &fault))?;
        let full = entry.path();
        let name = entry.file_name().into_string().map_err(|_| {
            Error::new(Code::Disk, "its name is not UTF-8 text")
                .in_file(full.display().to_string())
                .help("give it a plain name")
        })?;
        let top = below.is_empty();
        // An archive may lie in the folder of an inspection, as that of the demo does.
        let of_an_archive = top && (name.starts_with(ARCHIVE_FILE) || name == RECORD_FILE);
        if name.starts_with(half::BEGINNING) || of_an_archive {
            continue;
        }
        let path = format!("{below}{name}");
        if full.is_symlink() {
            inside.stays(&full)?;
            inside.goes_on(folder, &full)?;
        }
        let about = fs::metadata(&full).map_err(|fault| unreadable(&full, &fault))?;
        if about.is_dir() {
            list(inside, &full, &format!("{path}/"), files)?;
            continue;
        }
        if !about.is_file() {
            return Err(
                Error::new(Code::Disk, "it is no regular file, and cannot be kept")
                    .in_file(full.display().to_string())
                    .help("move it out of the folder"),
            );
        }
        let size = about.len();
        if size > LONGEST {
            let message = format!("it has {size} bytes, expected at most {LONGEST}");
            return Err(Error::new(Code::Disk, message)
                .in_file(full.display().to_string())
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
    let bytes = fs::read(&listed.full).map_err(|fault| unreadable(&listed.full, &fault))?;
    Ok(StoredFile {
        path: listed.path.clone(),
        bytes,
    })
}

pub(super) fn unreadable(path: &Path, fault: &io::Error) -> Error {
    let message = format!("could not be read: {}", reason(fault));
    Error::new(Code::Disk, message)
        .in_file(path.display().to_string())
        .help("check that it is there and that you may read it")
}
