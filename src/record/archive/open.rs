//! An archive: opened where it is, made where it is not.

use super::address::{self, HOW_TO_WRITE};
use super::digest::Sum;
use super::drawing::Draw;
use super::entry::beginning;
use super::postgres::{LET_IN, Postgres};
use super::schema;
use super::sqlite::Sqlite;
use super::store::{Store, Value, within};
use super::stored_file::ARCHIVE_FILE;
use crate::error::{Code, Error, Result};
use jiff::Timestamp;
use std::fmt;
use std::path::PathBuf;

/// The records of every tool.
pub struct Archive {
    pub(super) store: Box<dyn Store>,
    pub(super) draw: Draw,
    place: Place,
    copied_to: Option<String>,
}

/// Where an archive is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A file of its own.
    File(PathBuf),
    /// A server that benches copy their records to; its address.
    Server(String),
}

impl Place {
    /// Where a person says it is: a file, a folder that holds one, or a server's address.
    pub fn named(name: &str) -> Self {
        if address::is_one(name) {
            return Place::Server(name.to_owned());
        }
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
            Place::Server(address) => write!(f, "{}", address::shown(address)),
        }
    }
}

impl Archive {
    /// Opens an archive to add to it, and makes it where there is none. `draw` makes the reports
    /// again that it does not keep.
    ///
    /// # Errors
    /// `disk`, `archive-busy`, `archive-broken` where it is none, `archive-version` where it is
    /// newer than this program.
    pub fn create(place: &Place, draw: Draw) -> Result<Self> {
        match place {
            Place::File(path) => Self::over(Box::new(Sqlite::create(path)?), place, draw),
            Place::Server(_) => {
                let message = "records go into a file of their bench, and from there to a server";
                Err(Error::new(Code::Usage, message)
                    .in_file(place.to_string())
                    .help("keep them without `--archive` or in a file, then copy them with `heelclear archive push`"))
            }
        }
    }

    /// Opens a server's archive to copy records to, and makes it where there is none.
    ///
    /// # Errors
    /// `usage` where it is none, `archive-server` where it cannot be reached or refuses, and
    /// `archive-version` where it is newer than this program.
    pub fn shared(place: &Place, draw: Draw) -> Result<Self> {
        match place {
            Place::Server(address) => {
                let mut store = Postgres::connect(address)?;
                let found = schema::version(&mut store).map_err(|error| at(error, place))?;
                if (1..schema::VERSION).contains(&found) && store.is_set_up()? {
                    let message = format!(
                        "its tables are of schema {found}, expected {}",
                        schema::VERSION
                    );
                    return Err(Error::new(Code::ArchiveServer, message)
                        .in_file(place.to_string())
                        .help(LET_IN));
                }
                let archive = Self::over(Box::new(store), place, draw);
                archive.map_err(|error| match error.advice() == Some(LET_IN) {
                    true => may_not_make_them(found, place, &error),
                    false => error,
                })
            }
            Place::File(_) => Err(no_server()),
        }
    }

    /// Opens an archive that is there.
    ///
    /// # Errors
    /// `missing-file` where there is none, and those of [`Archive::create`] and
    /// [`Archive::shared`].
    pub fn open(place: &Place, draw: Draw) -> Result<Self> {
        match place {
            Place::File(path) if path.exists() => {
                Self::over(Box::new(Sqlite::open(path)?), place, draw)
            }
            Place::File(_) => Err(Error::new(Code::Missing, "found no archive there")
                .in_file(place.to_string())
                .help("`heelclear archive add DIR` makes one; `--archive` names another place")),
            Place::Server(address) => {
                let mut store = Postgres::connect(address)?;
                let found = schema::version(&mut store).map_err(|error| at(error, place))?;
                if found < schema::VERSION {
                    // Whoever only reads leaves the tables of a whole shop alone.
                    let message = match found {
                        0 => "found no archive there".to_owned(),
                        _ => format!(
                            "its tables are of schema {found}, expected {}",
                            schema::VERSION
                        ),
                    };
                    return Err(Error::new(Code::Missing, message)
                        .in_file(place.to_string())
                        .help(
                            "`heelclear archive server-setup` makes one there, and brings it up to today; so does `heelclear archive push` where its user may",
                        ));
                }
                Self::over(Box::new(store), place, draw)
            }
        }
    }

    fn over(mut store: Box<dyn Store>, place: &Place, draw: Draw) -> Result<Self> {
        let copied_to = schema::bring_up(store.as_mut()).map_err(|error| at(error, place))?;
        Ok(Self {
            store,
            draw,
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

    /// The server that what is kept here is copied to each time, where one was named.
    ///
    /// # Errors
    /// `disk` or `archive-broken` where the archive cannot be read.
    pub fn pushes_to(&mut self) -> Result<Option<Place>> {
        let address = schema::recall(self.store.as_mut(), PUSH)?;
        Ok(address.filter(|it| !it.is_empty()).map(Place::Server))
    }

    /// Has what is kept here copied to a server each time, or no more.
    ///
    /// # Errors
    /// `usage` for an address with a password, which would lie readable in the archive, and those
    /// of writing.
    pub fn push_always(&mut self, to: Option<&Place>) -> Result<()> {
        let address = match to {
            Some(Place::Server(address)) => address::storable(address)?,
            Some(Place::File(_)) => return Err(no_server()),
            None => String::new(),
        };
        within(self.store.as_mut(), |store| {
            schema::remember(store, PUSH, &address)
        })
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

/// What was read instead is not told: it may be an address with a password that lacks its
/// beginning.
pub(super) fn no_server() -> Error {
    Error::new(
        Code::Usage,
        "read the name of a file, expected the address of a server",
    )
    .help(HOW_TO_WRITE)
}

/// The refusal of a server that lets this role make nothing.
fn may_not_make_them(found: i64, place: &Place, refusal: &Error) -> Error {
    let tables = match found {
        0 => "no tables are there yet".to_owned(),
        of if of < schema::VERSION => format!("its tables are of schema {of}"),
        _ => return refusal.clone(),
    };
    let message = format!(
        "{tables}, and this role may not make those of schema {}: {}",
        schema::VERSION,
        refusal.message()
    );
    Error::new(Code::ArchiveServer, message)
        .in_file(place.to_string())
        .help(LET_IN)
}

const BENCH: &str = "bench";
const PUSH: &str = "push";

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
