//! A grinder's card with the traced motions that it names, as they go from folder to folder.

use super::folder::read_text;
use super::whole_file::{unreadable, write_whole};
use crate::card::{GrinderCard, MotionIs};
use crate::error::{Code, Error, Result, unwritable};
use crate::record::SETUP_FILE;
use crate::record::archive::{Inside, regular};
use std::path::{Path, PathBuf};

/// A grinder's card, word for word, and what it names.
#[derive(Clone, Debug, PartialEq)]
pub struct GrinderFiles {
    /// The card's text.
    pub card: String,
    /// Each traced motion: its path from the card's folder on, and what is in it.
    pub motions: Vec<(String, Vec<u8>)>,
}

impl GrinderFiles {
    /// A card that names no motion.
    pub fn of_text(card: String) -> Self {
        Self {
            card,
            motions: Vec::new(),
        }
    }

    /// Reads a card and the motions that lie beside it.
    ///
    /// # Errors
    /// `missing-file`, `disk` and the card errors; `card-value` where a motion has a name that an
    /// inspection has for something else.
    pub fn read(file: &Path) -> Result<Self> {
        let (text, card) = read_card(file)?;
        Self::of(&folder_of(file), text, &card)
    }

    /// The same of a card that was read, from the folder that its motions lie in.
    ///
    /// # Errors
    /// As [`GrinderFiles::read`].
    pub fn of(dir: &Path, text: String, card: &GrinderCard) -> Result<Self> {
        let motions = traced(card).map(|name| {
            is_free(name, dir)?;
            Ok((name.to_owned(), motion(dir, name)?))
        });
        Ok(Self {
            card: text,
            motions: motions.collect::<Result<_>>()?,
        })
    }

    /// Writes the motions into the folder that the card goes to.
    ///
    /// # Errors
    /// `disk`; `card-value` where another file lies there by the same name.
    pub fn write_motions(&self, folder: &Path) -> Result<()> {
        for (name, bytes) in &self.motions {
            let path = folder.join(name);
            if let Some(dir) = path.parent() {
                std::fs::create_dir_all(dir).map_err(|fault| unwritable(dir, fault))?;
            }
            Inside::of(folder).stays(&path)?;
            match regular::contents(&path) {
                Ok(there) if there == *bytes => {}
                Ok(_) => {
                    let message = "another motion lies there by this name already";
                    return Err(Error::new(Code::CardValue, message)
                        .in_path(path)
                        .help("give the file another name, and say so in its `[[motion]]`"));
                }
                Err(_) => write_whole(&path, bytes)?,
            }
        }
        Ok(())
    }
}

/// A grinder's card as its text and as it was understood.
///
/// # Errors
/// `missing-file`, `disk` and the card errors.
pub fn read_card(file: &Path) -> Result<(String, GrinderCard)> {
    let name = file.display().to_string();
    if !file.exists() {
        return Err(Error::new(
            Code::Missing,
            "found no such file, expected the card of a grinder",
        )
        .in_file(name)
        .help("`heelclear manual grinder-card` shows one"));
    }
    let text = read_text(file)?;
    let card = GrinderCard::parse(&text, &name)?;
    Ok((text, card))
}

/// The folder that a card lies in, where the motions that it names lie too: that of what a link leads to.
pub fn folder_of(file: &Path) -> PathBuf {
    let real = file.canonicalize().unwrap_or_else(|_| file.to_owned());
    match real.parent() {
        Some(dir) if !dir.as_os_str().is_empty() => dir.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// The files of the motions that a card names.
pub fn traced(card: &GrinderCard) -> impl Iterator<Item = &str> {
    card.motions.iter().filter_map(|motion| match &motion.is {
        MotionIs::Traced(file) => Some(file.as_str()),
        MotionIs::Law(_) => None,
    })
}

/// What is in the file of a motion, which lies in the card's folder in truth.
pub(super) fn motion(dir: &Path, name: &str) -> Result<Vec<u8>> {
    if let Some(objection) = Inside::of(dir).objection(name, &[]) {
        let message = format!("read the path `{name}`, expected one beside the grinder's card");
        return Err(Error::new(Code::CardValue, message)
            .in_path(dir)
            .help(objection));
    }
    let path = dir.join(name);
    if !path.exists() {
        let message = "found no such file, expected the motion that the grinder's card names";
        return Err(Error::new(Code::Missing, message).in_path(path).help(
            "put it there, or mend the `file` of its `[[motion]]`: paths start at the card",
        ));
    }
    regular::contents(&path).map_err(|error| unreadable(&path, error))
}

/// Refuses a motion that an inspection could not have beside its own files.
fn is_free(name: &str, dir: &Path) -> Result<()> {
    const OF_INSPECTIONS: [&str; 4] = ["tool.toml", "gauge.toml", "grinder.toml", SETUP_FILE];
    let plain = name.trim_start_matches("./").to_lowercase();
    let taken = plain.starts_with("traces/") || OF_INSPECTIONS.contains(&plain.as_str());
    if !taken {
        return Ok(());
    }
    let message = format!(
        "read the motion `{name}`, expected another name: an inspection keeps its own files by this one"
    );
    Err(Error::new(Code::CardValue, message).in_path(dir).help(
        "move the file beside the card, as `relieving-head.csv`, and say so in its `[[motion]]`",
    ))
}
