//! Where a path of an inspection's folder really leads: a link must not take a reader, or a writer,
//! out of it.

use crate::card::objection;
use crate::error::{Code, Error, Result};
use std::path::{Path, PathBuf};

/// What is wrong with a path that a record's file is kept under, or with a bench's name: written into
/// a folder it must lie there, on any system.
pub(super) fn objection_to_kept(path: &str) -> Option<String> {
    let leads_out = |part: &str| matches!(part, "" | "." | "..");
    let on_a_drive = path.as_bytes().get(1) == Some(&b':');
    if on_a_drive || path.split(['/', '\\']).any(leads_out) {
        return Some("it leads out of its folder".to_owned());
    }
    let unwritable = |c: char| c.is_control();
    path.contains(unwritable)
        .then(|| "its name holds control characters".to_owned())
}

/// A folder, as it is called without links.
#[derive(Clone, Debug)]
pub struct Inside {
    named: PathBuf,
    real: PathBuf,
}

impl Inside {
    /// Of this folder. One that is not there yet has nothing in it that could lead out.
    pub fn of(folder: &Path) -> Self {
        Self {
            named: folder.to_owned(),
            real: folder.canonicalize().unwrap_or_else(|_| folder.to_owned()),
        }
    }

    /// What is wrong with a path that a card in it names, where `cards` are the others that are no
    /// traces; nothing where it may be named. What is not there yet may be.
    pub fn objection(&self, path: &str, cards: &[&str]) -> Option<String> {
        if let Some(objection) = objection(path, cards) {
            return Some(objection);
        }
        let full = self.named.join(path);
        let Some(below) = self.below(&full) else {
            return Some("it leads out of the folder through a link".to_owned());
        };
        // A card may be called by a link as well.
        let cards = cards.iter().filter_map(|card| {
            let below = self.below(&self.named.join(card))?;
            Some(below.to_string_lossy().into_owned())
        });
        let cards: Vec<String> = cards.collect();
        let cards: Vec<&str> = cards.iter().map(String::as_str).collect();
        if let Some(objection) = objection(&below.to_string_lossy(), &cards) {
            return Some(format!("it is a link, and {objection}"));
        }
        match std::fs::metadata(&full) {
            Ok(about) if about.is_dir() => Some("it is a folder".to_owned()),
            Ok(about) if !about.is_file() => Some("it is no regular file".to_owned()),
            _ => None,
        }
    }

    /// Refuses what lies in the folder by name and elsewhere in truth.
    ///
    /// # Errors
    /// `disk`.
    pub fn stays(&self, full: &Path) -> Result<()> {
        match self.below(full) {
            Some(_) => Ok(()),
            None => Err(
                Error::new(Code::Disk, "it is a link that leads out of the folder")
                    .in_path(full)
                    .help("put the file itself there: an inspection is self-contained"),
            ),
        }
    }

    /// Refuses a link to a folder that it lies in itself: there would be no end to it.
    ///
    /// # Errors
    /// `disk`.
    pub(super) fn goes_on(&self, folder: &Path, link: &Path) -> Result<()> {
        let around = match (folder.canonicalize(), link.canonicalize()) {
            (Ok(folder), Ok(link)) => folder.starts_with(link),
            _ => false,
        };
        match around {
            false => Ok(()),
            true => Err(Error::new(
                Code::Disk,
                "it is a link to a folder that it lies in itself",
            )
            .in_path(link)
            .help("take the link out of the folder")),
        }
    }

    /// Where a path really lies below the folder; nothing where that is elsewhere.
    fn below(&self, full: &Path) -> Option<PathBuf> {
        let mut rest = PathBuf::new();
        let mut there = full;
        loop {
            if let Ok(real) = there.canonicalize() {
                let below = real.strip_prefix(&self.real).ok()?;
                return Some(if rest.as_os_str().is_empty() {
                    below.to_owned()
                } else {
                    below.join(rest)
                });
            }
            // A link to what is not there cannot be followed, and may lead anywhere.
            if there.is_symlink() {
                let to = std::fs::read_link(there).ok()?;
                let plain = objection(&to.to_string_lossy(), &[]);
                if plain.is_some() {
                    return None;
                }
            }
            let name = there.file_name()?;
            rest = match rest.as_os_str().is_empty() {
                true => PathBuf::from(name),
                false => Path::new(name).join(rest),
            };
            there = there.parent()?;
        }
    }
}
