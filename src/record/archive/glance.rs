//! A quick look at an archive that changes nothing: can it be opened, are its last records whole?

use super::check::Fault;
use super::entry::{RecordId, Summary};
use super::find::{benches, one};
use super::look::Read;
use super::open::{Archive, Place, at};
use super::postgres::{LET_IN, Postgres};
use super::schema;
use super::sqlite::Sqlite;
use super::store::Store;
use crate::error::{Code, Error, Result};
use jiff::Timestamp;

/// So many of the last records of each bench are opened.
const LAST: i64 = 5;
/// A file up to this size has all its pages looked at: some tenths of a second.
const PAGES_MOST: u64 = 128 * 1024 * 1024;

/// What a quick look saw.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Glance {
    /// The version of its tables.
    pub schema: i64,
    /// Whether its tables are brought up to today when it is next used.
    pub outdated: bool,
    /// Records in all.
    pub records: i64,
    /// Records that were opened, the last of each bench.
    pub looked_at: u64,
    /// The latest moment that any record was measured or came in.
    pub newest: Option<Timestamp>,
    /// What is broken in what was looked at.
    pub faults: Vec<Fault>,
}

impl Archive {
    /// Looks at an archive without changing it, not even older tables. [`Archive::check`] looks
    /// at everything.
    ///
    /// # Errors
    /// `missing-file` where there is none, and those of [`Archive::open`].
    pub fn glance(place: &Place) -> Result<Glance> {
        let missing = || {
            let help = match place {
                Place::File(_) => {
                    "`heelclear archive add DIR` makes one; `--archive` names another place"
                }
                Place::Server(_) => LET_IN,
            };
            Error::new(Code::Missing, "found no archive there")
                .in_file(place.to_string())
                .help(help)
        };
        let mut store: Box<dyn Store> = match place {
            Place::File(path) if path.exists() => Box::new(Sqlite::open(path)?),
            Place::File(_) => return Err(missing()),
            Place::Server(address) => Box::new(Postgres::connect(address)?),
        };
        let schema = schema::version(store.as_mut()).map_err(|error| at(error, place))?;
        if schema == 0 {
            return Err(missing());
        }
        look(store.as_mut(), place, schema).map_err(|error| at(error, place))
    }
}

fn look(store: &mut dyn Store, place: &Place, schema: i64) -> Result<Glance> {
    let mut glance = Glance {
        schema,
        outdated: schema < schema::VERSION,
        ..Glance::default()
    };
    if let Place::File(path) = place
        && std::fs::metadata(path).is_ok_and(|file| file.len() <= PAGES_MOST)
    {
        for row in store.rows("pragma quick_check(1)", &[])? {
            let said = row.text(0)?;
            if said != "ok" {
                glance.faults.push(Fault {
                    bench: None,
                    number: None,
                    found: said.to_owned(),
                });
            }
        }
    }
    let rows = store.rows("select count(*) from record", &[])?;
    glance.records = rows.first().map_or(Ok(0), |row| row.int(0))?;
    if !glance.outdated && glance.records > 0 {
        for head in benches(store)? {
            last_of(store, &head, &mut glance);
        }
    }
    Ok(glance)
}

/// The last records of a bench, each tied to the one before.
fn last_of(store: &mut dyn Store, head: &RecordId, glance: &mut Glance) {
    let mut before: Option<Summary> = None;
    for number in head.number.saturating_sub(LAST - 1).max(1)..=head.number {
        let id = RecordId {
            bench: head.bench.clone(),
            number,
        };
        let mut faults = Vec::new();
        match one(store, &id) {
            Ok(summary) => {
                let read = Read::of(store, summary);
                faults = read.looked_at().all_faults();
                let summary = read.summary;
                if before.is_some_and(|before| before.chain != summary.previous) {
                    faults.push("it is not tied to the record before it".to_owned());
                }
                let moments = [Some(summary.taken), Some(summary.archived), glance.newest];
                glance.newest = moments.into_iter().flatten().max();
                glance.looked_at += 1;
                before = Some(summary);
            }
            Err(error) => {
                faults.push(error.message().to_owned());
                before = None;
            }
        }
        glance.faults.extend(faults.into_iter().map(|found| Fault {
            bench: Some(head.bench.clone()),
            number: Some(number),
            found,
        }));
    }
}
