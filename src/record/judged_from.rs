//! What a verdict was judged from, as one digest that anybody can work out again.

use super::archive::Digest;
use crate::card::{InspectionCard, Source};
use serde::Serialize;

/// The card that says what was done; every inspection folder has it under this name.
pub const INSPECTION_FILE: &str = "inspection.toml";

/// The files that a verdict is judged from, read one after the other.
///
/// The digest is the SHA-256 of a list: of each file the SHA-256 of its bytes in lower-case
/// hexadecimal, a line each, every line ended by a line feed. Each file's digest stands alone, so a
/// byte that moves from one file into the next changes two lines.
///
/// ```
/// use heelclear::record::JudgedFrom;
/// let digest = |files: &[&str]| {
///     let mut from = JudgedFrom::default();
///     files.iter().for_each(|file| from.file(file.as_bytes()));
///     from.digest()
/// };
/// assert_ne!(digest(&["ab", "c"]), digest(&["a", "bc"]));
/// assert_ne!(digest(&["a", "b"]), digest(&["b", "a"]));
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct JudgedFrom {
    list: String,
}

impl JudgedFrom {
    /// Adds the next file.
    pub fn file(&mut self, bytes: &[u8]) {
        self.file_of(Digest::of(bytes));
    }

    /// Adds the next file by the digest of its bytes.
    pub fn file_of(&mut self, digest: Digest) {
        self.list += &format!("{digest}\n");
    }

    /// Adds files that were read apart.
    pub fn and(&mut self, next: &Self) {
        self.list += &next.list;
    }

    /// The digest of all that were added.
    pub fn digest(&self) -> Digest {
        Digest::of(self.list.as_bytes())
    }

    /// The files of an inspection in the order in which they are added: tool, gauge and inspection
    /// card, then the traces as the inspection card lists them, the angles of two instruments
    /// before their readings.
    pub fn names(inspection: &InspectionCard) -> Vec<&str> {
        let mut names = vec![
            inspection.tool.as_str(),
            inspection.gauge.as_str(),
            INSPECTION_FILE,
        ];
        for entry in &inspection.traces {
            match &entry.source {
                Source::One(file) => names.push(file),
                Source::Two { angle, reading } => names.extend([angle.as_str(), reading]),
            }
        }
        names
    }
}

/// How a verdict stands to the cards and traces that lie beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// It was judged from these.
    Tied,
    /// It does not say what it was judged from, as those of earlier programs do not.
    NotTied,
    /// It was judged from others: it is no verdict on these.
    Other,
}

impl Standing {
    /// What is to be said of it to a person; nothing where all is as it should be.
    pub fn remark(self) -> Option<&'static str> {
        match self {
            Standing::Tied => None,
            Standing::NotTied => Some(
                "not tied to its evidence: the program that judged it did not write down from what",
            ),
            Standing::Other => Some(
                "of other evidence: it was judged from other cards or traces than lie beside it, and is no verdict on these",
            ),
        }
    }
}
