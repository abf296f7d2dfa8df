//! What is noted of an inspection and photographed: in its folder, or held until there is one.

use crate::error::Result;
use crate::inspection::noted::{
    MOST_PHOTOGRAPHS, add_photograph, check_note, check_photograph, note, photographs_in, take_out,
    too_many, write_note,
};
use serde_json::{Value, json};
use std::path::Path;

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
    pub changes: u64,
}

/// Whether an inspection's folder is made.
fn is_made(folder: &Path) -> bool {
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
        let notes = !self.text.is_empty() && !self.written;
        if !is_made(folder) || !notes && self.waiting.is_empty() {
            return Ok(());
        }
        if notes {
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
    pub(super) fn told(&self) -> Value {
        json!({
            "text": self.text,
            "photographs": self.photographs,
            "waiting": self.waiting.len(),
            "most": MOST_PHOTOGRAPHS,
        })
    }
}
