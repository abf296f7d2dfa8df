//! Records as Parquet tables that any engine for such reads: `traces`, a row for each trace with
//! its cards and samples and what came of it, and `characteristics`, a row for each figure.
//!
//! Both lie in folders by bench, year and month (`traces/bench=…/year=…/month=…/`), one file each.

mod file;
mod rows;

use super::entry::RecordId;
use super::find::Dated;
use super::half;
use super::kept_files::listed;
use super::open::{Archive, at};
use super::store::Store;
use crate::error::{Error, Result, unwritable};
use file::{Field, File};
use std::collections::BTreeSet;
use std::fs;
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// What an export to Parquet came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tables {
    /// Records that are in the tables.
    pub records: u64,
    /// Rows of `traces`.
    pub traces: u64,
    /// Rows of `characteristics`.
    pub characteristics: u64,
    /// Files that were written.
    pub files: u64,
    /// Damaged records, which are not in the tables, an error each.
    pub refused: Vec<Error>,
    /// Records whose verdicts cannot be read: they are there without what came of them.
    pub unread: Vec<RecordId>,
}

const TRACES: &str = "traces";
const CHARACTERISTICS: &str = "characteristics";

/// The one file in each folder of a table.
const FILE: &str = "records.parquet";

/// Where a record's rows lie: bench, year and month of the measurement.
type Part = (String, i16, i8);

impl Archive {
    /// Writes these records as tables below `out`, of which each file is there whole or not at
    /// all. Afterwards the tables hold these records of these benches and no others, so that
    /// writing them again neither doubles a row nor leaves one that a correction has replaced.
    ///
    /// # Errors
    /// `disk` where a table cannot be written. A record that is damaged is in the answer.
    pub fn write_parquet(
        &mut self,
        wanted: &[Dated],
        benches: &[String],
        out: &Path,
        seen: &mut dyn FnMut(u64),
    ) -> Result<Tables> {
        let mut wanted: Vec<(Part, &RecordId)> =
            wanted.iter().map(|it| (part(it), &it.id)).collect();
        wanted.sort();
        let mut tables = Tables::default();
        let mut written = BTreeSet::new();
        let same = |one: &(Part, &RecordId), other: &(Part, &RecordId)| one.0 == other.0;
        for records in wanted.chunk_by(same) {
            let Some((part, _)) = records.first() else {
                continue;
            };
            let mut traces = Table::new(TRACES, out, part);
            let mut characteristics = Table::new(CHARACTERISTICS, out, part);
            for (_, id) in records {
                match self.rows(id) {
                    Ok(rows) => {
                        tables.records += 1;
                        tables.traces += traces.add(rows.traces)?;
                        tables.characteristics += characteristics.add(rows.characteristics)?;
                        tables.unread.extend(rows.unread.then(|| (*id).clone()));
                    }
                    Err(error) => tables.refused.push(error),
                }
                seen(1);
            }
            for table in [traces, characteristics] {
                if let Some(path) = table.finish()? {
                    tables.files += 1;
                    written.insert(path);
                }
            }
        }
        for table in [TRACES, CHARACTERISTICS] {
            for bench in benches {
                let folder = out.join(table).join(format!("bench={}", plain(bench)));
                clear(&folder, &written).map_err(|fault| unwritable(&folder, fault))?;
            }
        }
        Ok(tables)
    }

    fn rows(&mut self, id: &RecordId) -> Result<RecordRows> {
        let stored = self.load_undrawn(id)?;
        let (record, unread) = match stored.record() {
            Ok(record) => (record, false),
            Err(_) => (None, true),
        };
        let place = self.place().clone();
        let store: &mut dyn Store = self.store.as_mut();
        let files = listed(store, id).map_err(|error| at(error, &place))?;
        let digest = |path: &str| {
            let plain = path.trim_start_matches("./");
            let file = files.iter().find(|file| file.path == plain)?;
            Some(file.digest)
        };
        let traces = rows::traces(&stored, record.as_ref(), &digest);
        let figures = record.map(|record| rows::characteristics(&stored.summary, &record));
        Ok(RecordRows {
            traces,
            characteristics: figures.unwrap_or_default(),
            unread,
        })
    }
}

/// What a record gives to each table.
struct RecordRows {
    traces: Vec<Vec<Field>>,
    characteristics: Vec<Vec<Field>>,
    /// Whether it has a verdict that cannot be read.
    unread: bool,
}

fn part(of: &Dated) -> Part {
    let day = jiff::tz::Offset::UTC.to_datetime(of.taken).date();
    (of.id.bench.clone(), day.year(), day.month())
}

/// A bench's name as part of a folder's; anything odd in it is written as `%2F`.
fn plain(bench: &str) -> String {
    let byte = |byte: u8| match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => {
            char::from(byte).to_string()
        }
        odd => format!("%{odd:02X}"),
    };
    bench.bytes().map(byte).collect()
}

/// One file of a table; nothing is made before its first row.
struct Table {
    name: &'static str,
    folder: PathBuf,
    file: Option<File<BufWriter<NamedTempFile>>>,
}

impl Table {
    fn new(name: &'static str, out: &Path, (bench, year, month): &Part) -> Self {
        let folder = out
            .join(name)
            .join(format!("bench={}", plain(bench)))
            .join(format!("year={year:04}"))
            .join(format!("month={month:02}"));
        let file = None;
        Self { name, folder, file }
    }

    /// Adds rows, and says how many they were.
    fn add(&mut self, rows: Vec<Vec<Field>>) -> Result<u64> {
        let count = rows.len() as u64;
        for row in rows {
            let file = match &mut self.file {
                Some(file) => file,
                none => {
                    let beside = beside(&self.folder);
                    let beside = beside.map_err(|fault| unwritable(&self.folder, fault))?;
                    none.insert(File::new(BufWriter::new(beside), self.name, &row)?)
                }
            };
            let added = file.add(row);
            added.map_err(|error| error.in_path(&self.folder))?;
        }
        Ok(count)
    }

    /// Has the file on the disk under its name, and gives that.
    fn finish(self) -> Result<Option<PathBuf>> {
        let Some(file) = self.file else {
            return Ok(None);
        };
        let path = self.folder.join(FILE);
        let ended = file.finish();
        let ended = ended.map_err(|error| error.in_path(&path))?;
        let persist = || -> io::Result<()> {
            let beside = ended.into_inner().map_err(io::IntoInnerError::into_error)?;
            beside.as_file().sync_all()?;
            beside.persist(&path)?;
            Ok(())
        };
        persist().map_err(|fault| unwritable(&path, fault))?;
        Ok(Some(path))
    }
}

/// A new file of another name, which no engine takes for a part of the table, and which goes away
/// again unless it is renamed.
fn beside(folder: &Path) -> io::Result<NamedTempFile> {
    fs::create_dir_all(folder)?;
    let mut builder = half::written();
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

/// Takes out what earlier exports wrote of a bench, but for the files that are of this one.
fn clear(bench: &Path, written: &BTreeSet<PathBuf>) -> io::Result<()> {
    for year in folders(bench, "year=")? {
        for month in folders(&year, "month=")? {
            let file = month.join(FILE);
            half::sweep(&month)?;
            if !written.contains(&file) && file.is_file() {
                fs::remove_file(&file)?;
            }
            // A folder that something else lies in stays.
            let _ = fs::remove_dir(&month);
        }
        let _ = fs::remove_dir(&year);
    }
    let _ = fs::remove_dir(bench);
    Ok(())
}

fn folders(of: &Path, beginning: &str) -> io::Result<Vec<PathBuf>> {
    let entries = match fs::read_dir(of) {
        Err(fault) if fault.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    let mut found = Vec::new();
    for entry in entries {
        let entry = entry?;
        if entry.file_name().to_string_lossy().starts_with(beginning) {
            found.push(entry.path());
        }
    }
    Ok(found)
}
