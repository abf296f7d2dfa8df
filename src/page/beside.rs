//! What is noted of an inspection and photographed: in its folder, or held until there is one.

use crate::error::Result;
use crate::inspection::noted::{
    MOST_PHOTOGRAPHS, add_photograph, check_note, check_photograph, note, photographs_in, take_out,
    too_many, write_note,
};
use serde_json::{Value, json};
use std::ops::{Deref, DerefMut};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What is noted of one inspection.
#[derive(Default)]
pub(super) struct Beside {
    text: String,
    /// Whether the notes lie in the folder.
    written: bool,
    /// Names of the photographs that lie in the folder.
    photographs: Vec<String>,
    /// Photographs that wait for a folder: it is made once the instruments answer.
    waiting: Vec<Vec<u8>>,
    /// Grows with each change.
    changes: u64,
}

/// The same, shared. Whoever changes it may wait for a disk meanwhile; what a page is told of it is at
/// hand all the same.
#[derive(Clone)]
pub(super) struct Notes {
    beside: Arc<Mutex<Beside>>,
    told: Arc<Mutex<Told>>,
}

/// What a page is told.
struct Told {
    page: Value,
    changes: u64,
    wait: bool,
}

/// Held by who changes it; what a page is told follows when it is let go.
pub(super) struct Held<'n> {
    beside: MutexGuard<'n, Beside>,
    told: &'n Mutex<Told>,
}

impl Default for Notes {
    fn default() -> Self {
        let beside = Beside::default();
        Self {
            told: Arc::new(Mutex::new(Told::of(&beside))),
            beside: Arc::new(Mutex::new(beside)),
        }
    }
}

impl Notes {
    /// To change it: never while the session's lock is held.
    pub(super) fn hold(&self) -> Held<'_> {
        Held {
            beside: whole(&self.beside),
            told: &self.told,
        }
    }

    /// For a page.
    pub(super) fn told(&self) -> Value {
        whole(&self.told).page.clone()
    }

    /// Grows with each change.
    pub(super) fn changes(&self) -> u64 {
        whole(&self.told).changes
    }

    /// Whether something waits for a folder.
    pub(super) fn wait(&self) -> bool {
        whole(&self.told).wait
    }
}

impl Told {
    fn of(beside: &Beside) -> Self {
        Self {
            page: beside.told(),
            changes: beside.changes,
            wait: beside.waits(),
        }
    }
}

impl Deref for Held<'_> {
    type Target = Beside;

    fn deref(&self) -> &Beside {
        &self.beside
    }
}

impl DerefMut for Held<'_> {
    fn deref_mut(&mut self) -> &mut Beside {
        &mut self.beside
    }
}

impl Drop for Held<'_> {
    fn drop(&mut self) {
        self.tell();
    }
}

impl Held<'_> {
    /// What a page is told is from now on what there is now.
    pub(super) fn tell(&self) {
        *whole(self.told) = Told::of(&self.beside);
    }
}

/// What a thread left behind when it failed is still whole.
fn whole<T>(locked: &Mutex<T>) -> MutexGuard<'_, T> {
    locked.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Whether an inspection's folder is made.
pub(super) fn is_made(folder: &Path) -> bool {
    folder.join("inspection.toml").exists()
}

impl Beside {
    /// Looks into a folder.
    pub(super) fn look(&mut self, folder: &Path) -> Result<()> {
        self.text = note(folder)?.unwrap_or_default();
        self.photographs = photographs_in(folder)?;
        self.written = true;
        Ok(())
    }

    /// Writes what waited for the folder into it, once that is there.
    pub(super) fn keep(&mut self, folder: &Path) -> Result<()> {
        if !self.waits() || !is_made(folder) {
            return Ok(());
        }
        if self.note_waits() {
            write_note(folder, &self.text)?;
            self.written = true;
        }
        // What a disk refuses goes on waiting.
        while let Some(bytes) = self.waiting.first() {
            add_photograph(folder, bytes)?;
            self.waiting.remove(0);
        }
        self.look(folder)
    }

    fn note_waits(&self) -> bool {
        !self.text.is_empty() && !self.written
    }

    fn waits(&self) -> bool {
        self.note_waits() || !self.waiting.is_empty()
    }

    /// Takes the notes, in place of those before.
    pub(super) fn write(&mut self, folder: &Path, text: &str) -> Result<()> {
        check_note(text)?;
        if is_made(folder) {
            write_note(folder, text)?;
            self.look(folder)?;
        } else {
            self.text = text.trim().to_owned();
            self.written = false;
        }
        self.changes += 1;
        Ok(())
    }

    /// Takes a photograph.
    pub(super) fn add(&mut self, folder: &Path, bytes: Vec<u8>) -> Result<()> {
        check_photograph(&bytes)?;
        if is_made(folder) {
            add_photograph(folder, &bytes)?;
            self.look(folder)?;
        } else if self.waiting.len() >= MOST_PHOTOGRAPHS {
            return Err(too_many());
        } else {
            self.waiting.push(bytes);
        }
        self.changes += 1;
        Ok(())
    }

    /// Takes a photograph out.
    pub(super) fn take_out(&mut self, folder: &Path, name: &str) -> Result<()> {
        take_out(folder, name)?;
        self.changes += 1;
        self.look(folder)
    }

    /// The same for a page.
    fn told(&self) -> Value {
        json!({
            "text": self.text,
            "photographs": self.photographs,
            "waiting": self.waiting.len(),
            "most": MOST_PHOTOGRAPHS,
        })
    }
}
