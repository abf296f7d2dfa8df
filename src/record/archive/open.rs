//! An archive: opened where it is, made where it is not.

use super::contents::ARCHIVE_FILE;
use super::digest::Sum;
use super::entry::beginning;
use super::schema;
use super::sqlite::Sqlite;
use super::store::{Store, Value};
use crate::error::{Code, Error, Result};
use jiff::Timestamp;
use std::fmt;
use std::path::{Path, PathBuf};

/// The records of every tool.
pub struct Archive {
    pub(super) store: Box<dyn Store>,
    place: Place,
    copied_to: Option<String>,
}

/// Where an archive is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A file of its own.
    File(PathBuf),
}

impl Place {
    /// Where a person says it is: a file, or a folder that holds one.
    pub fn named(name: &str) -> Self {
        let path = PathBuf::from(name);
        if path.is_dir() {
            return Place::File(path.join(ARCHIVE_FILE));
        }
        Place::File(path)
    }

    /// In the user's data folder, where nobody says otherwise.
    ///
    /// # Errors
    /// `disk` where the system names no such folder.
    pub fn usual() -> Result<Self> {
        let folders = directories::ProjectDirs::from("", "", "heelclear").ok_or_else(|| {
            Error::new(
                Code::Disk,
                "the system names no home folder to keep an archive in",
            )
            .help("say where it is with `--archive FILE`")
        })?;
        Ok(Place::File(folders.data_dir().join(ARCHIVE_FILE)))
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::File(path) => write!(f, "{}", path.display()),
        }
    }
}

impl Archive {
    /// Opens an archive to add to it, and makes it where there is none.
    ///
    /// # Errors
    /// `disk`, `archive-busy`, `archive-broken` where it is none, `archive-version` where it is
    /// newer than this program.
    pub fn create(place: &Place) -> Result<Self> {
        let Place::File(path) = place;
        Self::over(Box::new(Sqlite::create(path)?), place)
    }

    /// Opens an archive that is there.
    ///
    /// # Errors
    /// `missing-file` where there is none, and those of [`Archive::create`].
    pub fn open(place: &Place) -> Result<Self> {
        let Place::File(path) = place;
        if !path.exists() {
            return Err(Error::new(Code::Missing, "found no archive there")
                .in_file(place.to_string())
                .help("`heelclear archive add DIR` makes one; `--archive` names another place"));
        }
        Self::over(Box::new(Sqlite::open(path)?), place)
    }

    fn over(mut store: Box<dyn Store>, place: &Place) -> Result<Self> {
        let copied_to = schema::bring_up(store.as_mut()).map_err(|error| at(error, place))?;
        Ok(Self {
            store,
            place: place.clone(),
            copied_to,
        })
    }

    /// Where it is.
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// Where the copy lies that was made before its tables were brought up to today, when opening
    /// it did that.
    pub fn copied_to(&self) -> Option<&str> {
        self.copied_to.as_deref()
    }

    /// Copies the whole archive into a new file, while others may go on using it.
    ///
    /// # Errors
    /// `disk` where the file is there already or cannot be written.
    pub fn back_up(&mut self, path: &Path) -> Result<()> {
        self.store.copy_to(path)
    }

    /// The bench that this archive's own records are of; it gets its name with the first.
    pub(super) fn bench(store: &mut dyn Store, host: &str) -> Result<String> {
        if let Some(bench) = schema::recall(store, BENCH)? {
            return Ok(bench);
        }
        let bench = new_bench(host);
        schema::remember(store, BENCH, &bench)?;
        let chain = beginning(&bench);
        let values = [
            Value::Text(&bench),
            Value::Int(0),
            Value::Bytes(chain.as_bytes()),
        ];
        store.run(
            "insert into bench (id, head, chain) values ($1, $2, $3)",
            &values,
        )?;
        Ok(bench)
    }
}

const BENCH: &str = "bench";

/// The host's name, and digits that tell two archives of one host apart.
fn new_bench(host: &str) -> String {
    let plain = |c: char| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    let name: String = host.chars().map(plain).take(24).collect();
    let now = Timestamp::now().as_nanosecond();
    let sum = Sum::of("heelclear bench name")
        .text(host)
        .bytes(&now.to_le_bytes())
        .number(i64::from(std::process::id()));
    let digits: String = sum.finish().to_string().chars().take(6).collect();
    match name.trim_matches('-') {
        "" => format!("bench-{digits}"),
        name => format!("{name}-{digits}"),
    }
}

/// The error with the archive's place, unless it names one already.
pub(super) fn at(error: Error, place: &Place) -> Error {
    if error.place().file.is_some() {
        error
    } else {
        error.in_file(place.to_string())
    }
}
