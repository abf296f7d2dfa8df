//! A look at single records: what a check of the whole archive says of each.

use super::add::head;
use super::check::{CHAIN_ENDS_ELSEWHERE, NOT_TIED_TO_THE_ONE_BEFORE, Read, STANDS_BEYOND};
use super::entry::{RecordId, Summary, beginning};
use super::find::one;
use super::open::Archive;
use super::store::Store;
use crate::error::{Code, Error, Result};
use crate::record::Standing;

/// What a look at a record found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Look {
    /// What is broken in it, a sentence each; empty where it is as it was made.
    pub faults: Vec<String>,
    /// How its verdict stands to its cards and traces, where it was judged and all its files are
    /// whole.
    pub standing: Option<Standing>,
}

impl Archive {
    /// Opens every file of a record, and holds it against the one before it and the end of its
    /// chain: what [`Archive::check`] would say of it, without looking at the others.
    pub fn look_at(&mut self, summary: &Summary) -> Look {
        let store = self.store.as_mut();
        let looked = Read::of(store, summary.clone()).looked_at();
        let mut look = Look {
            faults: looked.faults,
            standing: looked.standing,
        };
        let tied = tied(store, summary, &mut look.faults);
        look.faults
            .extend(tied.err().map(|error| error.message().to_owned()));
        look
    }

    /// Refuses a record that is not as it was made.
    ///
    /// # Errors
    /// `archive-broken`, with all that is broken in it.
    pub fn sound(&mut self, summary: &Summary) -> Result<()> {
        let faults = self.look_at(summary).faults;
        if faults.is_empty() {
            return Ok(());
        }
        let message = format!("record {} is damaged: {}", summary.id, faults.join("; "));
        Err(Error::new(Code::ArchiveBroken, message)
            .in_file(self.place().to_string())
            .help("`heelclear archive check` names all that is broken; a backup brings it back"))
    }
}

/// Whether a record is tied to the one before it, and its bench's chain ends in the last one.
fn tied(store: &mut dyn Store, summary: &Summary, faults: &mut Vec<String>) -> Result<()> {
    let RecordId { bench, number } = &summary.id;
    let before = RecordId {
        bench: bench.clone(),
        number: number - 1,
    };
    let before = match *number {
        1 => Some(beginning(bench)),
        // What is missing is told by itself, and hides nothing of this one.
        _ => one(store, &before).ok().map(|it| it.chain),
    };
    if before.is_some_and(|before| before != summary.previous) {
        faults.push(NOT_TIED_TO_THE_ONE_BEFORE.to_owned());
    }
    let (last, chain) = head(store, bench)?;
    if *number > last || *number < 1 {
        faults.push(STANDS_BEYOND.to_owned());
    }
    if *number == last && chain != summary.chain {
        faults.push(CHAIN_ENDS_ELSEWHERE.to_owned());
    }
    Ok(())
}
