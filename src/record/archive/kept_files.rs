//! The files of a record as the database lists and keeps them.

use super::digest::Digest;
use super::drawing::Drawing;
use super::entry::RecordId;
use super::packed;
use super::store::{Row, Store, Value};
use crate::error::{Code, Error, Result};
use std::collections::HashMap;

/// A file as a record lists it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ListedFile {
    pub path: String,
    pub size: i64,
    pub digest: Digest,
}

/// The files of a record, in the order of their paths.
pub(super) fn listed(store: &mut dyn Store, id: &RecordId) -> Result<Vec<ListedFile>> {
    let text = "select path, size, digest from file where bench = $1 and number = $2";
    let values = [Value::Text(&id.bench), Value::Int(id.number)];
    let file = |row: &Row| {
        let digest = Digest::from_bytes(row.bytes(2)?)
            .ok_or_else(|| Error::new(Code::ArchiveBroken, "read a digest of a wrong length"))?;
        Ok(ListedFile {
            path: row.text(0)?.to_owned(),
            size: row.int(1)?,
            digest,
        })
    };
    let mut files: Vec<ListedFile> = store
        .rows(text, &values)?
        .iter()
        .map(file)
        .collect::<Result<_>>()?;
    // Databases differ in how they order text; the digest of the content does not.
    files.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(files)
}

/// The bytes of a kept file as they are kept.
pub(super) fn packed_bytes(store: &mut dyn Store, digest: Digest) -> Result<Option<Vec<u8>>> {
    let text = "select packed from content where digest = $1";
    let rows = store.rows(text, &[Value::Bytes(digest.as_bytes())])?;
    rows.first()
        .map(|row| row.bytes(0).map(<[u8]>::to_vec))
        .transpose()
}

/// What is kept of a record's files, read from the database and not yet looked at: that can be done
/// on another core.
pub(super) struct Kept(HashMap<Digest, std::result::Result<Vec<u8>, String>>);

/// A file as it was, or how it is drawn again.
pub(super) enum Opened {
    File(Vec<u8>),
    Drawing(Drawing),
}

impl Kept {
    /// What is kept of these files, and the verdicts that they are drawn from.
    pub(super) fn of(store: &mut dyn Store, listed: &[ListedFile]) -> Self {
        let mut kept = Self(HashMap::new());
        for file in listed {
            kept.take(store, file.digest);
            let packed = kept.0.get(&file.digest).and_then(|it| it.as_ref().ok());
            if let Some(Ok(Some(drawing))) = packed.map(|packed| packed::drawing(packed)) {
                kept.take(store, drawing.verdict);
            }
        }
        kept
    }

    fn take(&mut self, store: &mut dyn Store, digest: Digest) {
        self.0.entry(digest).or_insert_with(|| {
            let packed = packed_bytes(store, digest).map_err(|error| error.message().to_owned())?;
            packed.ok_or_else(|| "its contents are missing".to_owned())
        });
    }

    /// Bytes that all of it takes.
    pub(super) fn bytes(&self) -> usize {
        let kept = self.0.values().filter_map(|it| it.as_ref().ok());
        kept.map(Vec::len).sum()
    }

    /// A listed file, checked; what is wrong otherwise, as the end of a sentence.
    pub(super) fn open(&self, file: &ListedFile) -> std::result::Result<Opened, String> {
        let packed = self.packed(file.digest)?;
        if let Some(drawing) = packed::drawing(packed)? {
            return Ok(Opened::Drawing(drawing));
        }
        let bytes = whole(packed, file.digest)?;
        if bytes.len() as i64 != file.size {
            return Err(format!(
                "it has {} bytes, listed are {}",
                bytes.len(),
                file.size
            ));
        }
        Ok(Opened::File(bytes))
    }

    /// The verdict that a report is drawn from, checked.
    pub(super) fn verdict(&self, drawing: &Drawing) -> std::result::Result<Vec<u8>, String> {
        self.packed(drawing.verdict)
            .and_then(|packed| whole(packed, drawing.verdict))
            .map_err(|fault| format!("the verdict that it is drawn from: {fault}"))
    }

    /// The bytes that a file is kept in.
    pub(super) fn packed(&self, digest: Digest) -> std::result::Result<&[u8], String> {
        match self.0.get(&digest) {
            Some(Ok(packed)) => Ok(packed),
            Some(Err(fault)) => Err(fault.clone()),
            None => Err("its contents are missing".to_owned()),
        }
    }
}

pub(super) fn whole(packed: &[u8], digest: Digest) -> std::result::Result<Vec<u8>, String> {
    let bytes = packed::unpack(packed)?;
    match Digest::of(&bytes) == digest {
        true => Ok(bytes),
        false => Err("its digest is another".to_owned()),
    }
}
