//! A record with its files, as they were when it was made.

use super::digest::Digest;
use super::drawing::{Draw, Redrawn};
use super::entry::{ASK_CHECK, RecordId, Summary};
use super::look::Proven;
use super::open::{Archive, at};
use super::standing::standing;
use super::stored_file::{StoredFile, VERDICT};
use crate::error::{Code, Error, Result};
use crate::record::Record;
use crate::record::Standing;

/// A record with its files.
#[derive(Clone, Debug, PartialEq)]
pub struct Stored {
    /// What the archive says of it.
    pub summary: Summary,
    /// Every file, in the order of their paths.
    pub files: Vec<StoredFile>,
    /// What is known of the report that it was kept with, where this program draws another.
    pub redrawn: Option<Redrawn>,
}

impl Stored {
    /// How its verdict stands to its cards and traces; nothing where it was not judged. It must
    /// have been loaded with all its files.
    pub fn standing(&self) -> Option<Standing> {
        standing(&self.files)
    }

    /// The bytes of a file.
    pub fn file(&self, path: &str) -> Option<&[u8]> {
        let mut files = self.files.iter();
        files
            .find(|file| file.path == path)
            .map(|file| file.bytes.as_slice())
    }

    /// The verdict in full; nothing where it was not judged.
    ///
    /// # Errors
    /// `card-syntax` where its verdict file is of a form that this program does not read.
    pub fn record(&self) -> Result<Option<Record>> {
        let Some(bytes) = self.file(VERDICT) else {
            return Ok(None);
        };
        let name = format!("record {}: verdict.json", self.summary.id);
        let text = std::str::from_utf8(bytes).map_err(|_| {
            Error::new(Code::CardSyntax, "read bytes that are not text").in_file(name.clone())
        })?;
        Record::from_json(text, &name).map(Some)
    }
}

impl Archive {
    /// A record with its files, proven as [`Archive::check`] does: what is said of it, its place in
    /// the chain, and every file by its digest.
    ///
    /// # Errors
    /// `no-record` where there is none, `archive-broken` with all that is damaged.
    pub fn load(&mut self, id: &RecordId) -> Result<Stored> {
        let (draw, place) = (self.draw, self.place().clone());
        let drawn = |proven| with_report(proven, draw);
        let loaded = Proven::of(self.store.as_mut(), id).and_then(drawn);
        loaded.map_err(|error| at(error, &place))
    }

    /// The same without the report, where that would have to be drawn: it takes longer than all
    /// else, and is not needed where the verdict speaks.
    ///
    /// # Errors
    /// As [`Archive::load`].
    pub fn load_undrawn(&mut self, id: &RecordId) -> Result<Stored> {
        let place = self.place().clone();
        let proven = Proven::of(self.store.as_mut(), id).map_err(|error| at(error, &place))?;
        Ok(Stored {
            summary: proven.summary,
            files: proven.files,
            redrawn: None,
        })
    }
}

fn with_report(proven: Proven, draw: Draw) -> Result<Stored> {
    let mut files = proven.files;
    let mut redrawn = None;
    for (file, drawing) in proven.drawn {
        let drawn = proven.kept.verdict(&drawing);
        let drawn = drawn.and_then(|verdict| drawing.again(&verdict, draw));
        let bytes = drawn.map_err(|fault| {
            let id = &proven.summary.id;
            let message = format!("record {id}, file `{}`: {fault}", file.path);
            Error::new(Code::ArchiveBroken, message).help(ASK_CHECK)
        })?;
        if Digest::of(&bytes) != file.digest {
            redrawn = Some(Redrawn {
                digest: file.digest,
                size: file.size,
                way: drawing.way,
                program: drawing.program,
            });
        }
        let path = file.path;
        files.push(StoredFile { path, bytes });
    }
    files.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(Stored {
        summary: proven.summary,
        files,
        redrawn,
    })
}
