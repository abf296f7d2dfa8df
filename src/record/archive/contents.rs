//! An inspection ready to be kept: its files, and what they say of themselves.

use super::digest::{Digest, Sum};
use super::drawing::{Draw, Drawing, Redrawn};
use super::entry::FORM;
use super::packed;
use super::standing::standing;
use super::stored_file::{INSPECTION, REPORT_FILE, StoredFile, VERDICT, card, find, named};
use crate::card::{GaugeCard, InspectionCard, ToolCard};
use crate::error::{Code, Error, Result};
use crate::record::assemble::gauge_lines;
use crate::record::{Noted, Standing};
use jiff::Timestamp;
use serde::Deserialize;
use std::path::Path;

/// Files that judging writes: they are content, but no evidence of what was measured.
const JUDGED: [&str; 2] = [VERDICT, REPORT_FILE];

/// What the cards and the verdict of an inspection say.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Said {
    pub taken: Timestamp,
    pub operator: String,
    pub customer: Option<String>,
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
    pub fn read(folder: &Path, draw: Draw) -> Result<Self> {
        let files = StoredFile::all_of(folder)?;
        Self::of(files, &folder.display().to_string(), draw)
    }

    /// Takes files that were read elsewhere; `folder` names them in messages. A report whose very
    /// bytes are drawn again from the verdict is not packed.
    ///
    /// # Errors
    /// Those of the cards.
    pub fn of(mut files: Vec<StoredFile>, folder: &str, draw: Draw) -> Result<Self> {
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
        let drawing = drawing(&files, draw);
        let packed = |file: &StoredFile| match &drawing {
            Some(drawing) if file.path == REPORT_FILE => {
                packed::pack_drawing(file.bytes.len() as u64, drawing)
            }
            _ => packed::pack(&file.path, &file.bytes),
        };
        let packed: Vec<PackedFile> = files
            .iter()
            .map(|file| PackedFile {
                size: file.bytes.len() as i64,
                digest: Digest::of(&file.bytes),
                packed: packed(file),
                path: file.path.clone(),
            })
            .collect();
        let digests = || packed.iter().map(|file| (file.path.as_str(), file.digest));
        Ok(Self {
            content: content(digests()),
            evidence: evidence(digests(), FORM),
            as_judged: false,
            standing,
            said,
            files: packed,
            correction: None,
            origin: None,
        })
    }

    /// The id of the tool that was measured.
    pub fn tool(&self) -> &str {
        &self.said.tool
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

    /// Puts in the report that it had where it was first, of which nothing is left but its digest.
    pub(super) fn with_report_then(mut self, then: &Redrawn) -> Self {
        let verdict = self.files.iter().find(|file| file.path == VERDICT);
        let verdict = verdict.map(|file| file.digest);
        let report = self.files.iter_mut().find(|file| file.path == REPORT_FILE);
        if let (Some(report), Some(verdict)) = (report, verdict) {
            let drawing = Drawing {
                way: then.way,
                verdict,
                program: then.program.clone(),
            };
            report.packed = packed::pack_drawing(then.size.unsigned_abs(), &drawing);
            (report.digest, report.size) = (then.digest, then.size);
        }
        let digests = self.files.iter();
        self.content = content(digests.map(|file| (file.path.as_str(), file.digest)));
        self
    }

    /// Says in the record that nobody held its verdict against its cards and traces.
    pub fn as_judged(self) -> Self {
        Self {
            as_judged: true,
            ..self
        }
    }

    /// How its verdict stands to its cards and traces; nothing where it was not judged.
    pub fn standing(&self) -> Option<Standing> {
        self.standing
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

/// How the report among these files comes out of the verdict among them.
fn drawing(files: &[StoredFile], draw: Draw) -> Option<Drawing> {
    let bytes = |path: &str| {
        let file = files.iter().find(|file| file.path == path)?;
        Some(file.bytes.as_slice())
    };
    Drawing::of(bytes(REPORT_FILE)?, bytes(VERDICT)?, draw)
}

/// The digest of files, by path in order.
pub(super) fn content<'a>(files: impl Iterator<Item = (&'a str, Digest)>) -> Digest {
    let sum = Sum::of("heelclear content");
    let sum = files.fold(sum, |sum, (path, digest)| {
        sum.text(path).bytes(digest.as_bytes())
    });
    sum.finish()
}

/// The digest of the files that were measured: of those that judging does not write, and from the
/// third form of a record on neither notes nor photographs.
pub(super) fn evidence<'a>(files: impl Iterator<Item = (&'a str, Digest)>, form: i64) -> Digest {
    let judges = |path: &str| !JUDGED.contains(&path) && (form < 3 || !Noted::is_of(path));
    content(files.filter(|(path, _)| judges(path)))
}

/// The digest of what was measured, as an inspection has it whatever was judged of it.
pub fn evidence_of(files: &[StoredFile]) -> Digest {
    let mut files: Vec<&StoredFile> = files.iter().collect();
    files.sort_by(|one, other| one.path.cmp(&other.path));
    let files = files.into_iter();
    evidence(
        files.map(|file| (file.path.as_str(), Digest::of(&file.bytes))),
        FORM,
    )
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
        customer: inspection.customer,
        stage: inspection.stage.as_str().to_owned(),
        tool: tool.id,
        tool_name: tool.name,
        gauge: crate::quantity::told::read(&gauge_lines(&gauge).join("; ")).0,
        features: tool
            .features
            .into_iter()
            .map(|feature| feature.name)
            .collect(),
        verdict: verdict.transpose()?.flatten(),
    })
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
