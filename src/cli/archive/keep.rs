//! Puts folders into an archive, a batch in one transaction, and says what became of each.

use super::super::Out;
use super::push::push_kept;
use super::vouch;
use crate::error::Result;
use crate::record::archive::{Added, Archive, Contents, KEPT_AS_JUDGED, Place};
use crate::record::{Record, Standing};
use crate::report;
use rayon::prelude::*;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// So many folders are on the disk, or none of them: syncing each one alone would take most of the
/// time.
const BATCH: usize = 64;

/// An open archive that folders are put into.
pub(in super::super) struct Keeper {
    archive: Archive,
}

/// What became of one folder.
pub(super) struct Kept {
    pub folder: PathBuf,
    pub came_to: Result<Added>,
    /// Nothing where it was not judged.
    standing: Option<Standing>,
}

impl Keeper {
    /// Opens the archive at this place, and makes it where there is none.
    pub(in super::super) fn open(place: &Place, out: &mut Out) -> Result<Self> {
        let archive = Archive::create(place, report::svg_by)?;
        super::tell_upgrade(&archive, out);
        Ok(Self { archive })
    }

    /// Opens the archive that a person named, or the usual one.
    pub(in super::super) fn named(name: Option<&str>, out: &mut Out) -> Result<Self> {
        Self::open(&super::place(name)?, out)
    }

    /// Keeps one folder that was judged just now, as this record, and says what became of it.
    pub(in super::super) fn keep(
        &mut self,
        folder: &Path,
        record: &Record,
        out: &mut Out,
    ) -> Result<String> {
        let mut line = Ok(String::new());
        let folders = [folder.to_owned()];
        let read = |folder: &Path| vouch::read_judged(folder, record);
        self.keep_all(&folders, read, &mut |kept| {
            line = kept.line();
            Ok(())
        })?;
        push_kept(&mut self.archive, out);
        line
    }

    /// Keeps every folder, and tells of each once it is on the disk. One that cannot be read does
    /// not stop the others; an archive that cannot be written does.
    pub(super) fn keep_all(
        &mut self,
        folders: &[PathBuf],
        read: impl Fn(&Path) -> Result<Contents> + Sync,
        tell: &mut dyn FnMut(Kept) -> Result<()>,
    ) -> Result<()> {
        for batch in folders.chunks(BATCH) {
            let read: Vec<Result<Contents>> = batch.par_iter().map(|folder| read(folder)).collect();
            let mut refused = Vec::new();
            let mut whole = Vec::new();
            for each in read {
                refused.push(each.map(|contents| whole.push(contents)).err());
            }
            let standing: Vec<_> = whole.iter().map(Contents::standing).collect();
            let added = self.archive.add(&whole)?;
            let mut added = added.into_iter().zip(standing);
            for (folder, refused) in batch.iter().zip(refused) {
                let (came_to, standing) = match (refused, &mut added) {
                    (Some(error), _) => (Err(error), None),
                    (None, added) => match added.next() {
                        Some((added, standing)) => (Ok(added), standing),
                        None => break,
                    },
                };
                let folder = folder.clone();
                tell(Kept {
                    folder,
                    came_to,
                    standing,
                })?;
            }
        }
        Ok(())
    }

    pub(super) fn archive(&mut self) -> &mut Archive {
        &mut self.archive
    }
}

impl Kept {
    /// What became of it in a line for people, or why it could not be kept.
    pub(super) fn line(&self) -> Result<String> {
        let folder = self.folder.display();
        Ok(match self.came_to.as_ref().map_err(Clone::clone)? {
            Added::Already(id) => format!("{folder}: there already, as record {id}"),
            Added::New(new) => {
                let mut line = format!("{folder}: kept as record {}", new.id);
                if new.replaces.is_some() {
                    let why = new.why.as_deref().unwrap_or_default();
                    line += &format!(", in place of an earlier one: {why}");
                }
                match self.standing {
                    None => line += ", not judged",
                    Some(standing) => {
                        line += &standing
                            .remark()
                            .map(|it| format!("; {it}"))
                            .unwrap_or_default();
                    }
                }
                if new.as_judged {
                    line += &format!("; {KEPT_AS_JUDGED}");
                    if new.replaces.is_none() {
                        line += ", and in place of no other record";
                    }
                }
                line
            }
        })
    }

    /// The same for scripts.
    pub(super) fn object(&self, added: &Added) -> Value {
        let (new, record) = match added {
            Added::New(summary) => (true, json!(summary)),
            Added::Already(_) => (false, Value::Null),
        };
        json!({
            "folder": self.folder.display().to_string(),
            "bench": added.id().bench,
            "number": added.id().number,
            "new": new,
            "standing": self.standing,
            "record": record,
        })
    }
}
