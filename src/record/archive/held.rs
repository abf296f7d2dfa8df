//! Digests that somebody holds elsewhere, looked for in an archive: what its own chain cannot show.

use super::digest::Digest;
use super::entry::{RecordId, beginning};
use super::open::{Archive, at};
use crate::error::Result;
use serde::Serialize;
use std::collections::HashMap;

/// What of the archive a digest is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum HeldAs {
    /// Of a record and everything before it: none of it was changed since.
    Chain,
    /// Of a record's files alone; what was before it is not told.
    Content,
    /// Of a bench before its first record: it says nothing of any.
    Beginning,
}

/// A digest that is held elsewhere.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Held {
    /// The digest.
    pub digest: Digest,
    /// Where it is in the archive; nothing where it is not there any more, or never was.
    pub found: Option<Found>,
}

/// Where a digest was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Found {
    /// The record; number 0 for the beginning of a bench.
    #[serde(flatten)]
    pub id: RecordId,
    /// What it is of it.
    #[serde(rename = "as")]
    pub held_as: HeldAs,
}

impl Archive {
    /// Looks for digests that are held elsewhere, in the order they are given.
    ///
    /// # Errors
    /// `disk` or `archive-broken` where the archive cannot be read.
    pub fn held(&mut self, digests: &[Digest]) -> Result<Vec<Held>> {
        if digests.is_empty() {
            return Ok(Vec::new());
        }
        let place = self.place().clone();
        let mut found = HashMap::new();
        let mut keep = |digest: Digest, id: &RecordId, held_as: HeldAs| {
            let one = Found {
                id: id.clone(),
                held_as,
            };
            // What says more of it counts.
            found
                .entry(digest)
                .and_modify(|before: &mut Found| {
                    if one.held_as < before.held_as {
                        *before = one.clone();
                    }
                })
                .or_insert(one);
        };
        for bench in self.benches()? {
            let id = RecordId { number: 0, ..bench };
            keep(beginning(&id.bench), &id, HeldAs::Beginning);
        }
        let text = "select bench, number, chain, content from record";
        let read = self.store.each(text, &[], &mut |row| {
            let (bench, number) = (row.text(0)?.to_owned(), row.int(1)?);
            let id = RecordId { bench, number };
            for (at, held_as) in [(2, HeldAs::Chain), (3, HeldAs::Content)] {
                // One that is none is told where its record is looked at.
                let digest = row.bytes(at).ok().and_then(Digest::from_bytes);
                if let Some(digest) = digest.filter(|digest| digests.contains(digest)) {
                    keep(digest, &id, held_as);
                }
            }
            Ok(true)
        });
        read.map_err(|error| at(error, &place))?;
        let held = |digest: &Digest| Held {
            digest: *digest,
            found: found.get(digest).cloned(),
        };
        Ok(digests.iter().map(held).collect())
    }
}
