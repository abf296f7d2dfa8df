//! Copies of an archive's file: page by page, or row by row where an index is damaged.

use super::half;
use super::schema;
use super::sqlite::{BEAT, PATIENCE, Sqlite, busy, told};
use crate::error::{Code, Error, Result, unwritable};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Instant;

impl Sqlite {
    /// Copies everything into a new file, while others may go on reading and writing.
    pub(super) fn copy_to(&self, path: &Path) -> Result<()> {
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        let beside = || {
            half::written()
                .tempfile_in(folder)
                .map_err(|fault| unwritable(path, fault))
        };
        // Only what a killed program left over is in the way, and not much.
        let _ = half::sweep(folder);
        let mut copied = beside()?;
        if !self.copy_pages(copied.path())? {
            // Damage to an index is not carried along, where the tables can still be read.
            let rebuilt = beside()?;
            if self.copy_rows(rebuilt.path()).is_ok() {
                copied = rebuilt;
            }
        }
        let synced = copied.as_file().sync_all();
        synced.map_err(|fault| unwritable(path, fault))?;
        // A copy that is there already may be the only good one.
        let placed = copied.persist_noclobber(path);
        placed.map_err(|fault| unwritable(path, fault.error))?;
        let _ = std::fs::File::open(folder).and_then(|folder| folder.sync_all());
        Ok(())
    }

    /// Copies page by page, and says whether the pages are sound.
    fn copy_pages(&self, path: &Path) -> Result<bool> {
        let mut copy = Connection::open(path).map_err(|fault| told(fault, path))?;
        {
            let backup = Backup::new(&self.connection, &mut copy);
            let backup = backup.map_err(|fault| told(fault, path))?;
            let start = Instant::now();
            // All pages in one step: a reader of the log is not disturbed by who writes.
            loop {
                match backup.step(-1).map_err(|fault| told(fault, path))? {
                    StepResult::Done => break,
                    StepResult::Busy | StepResult::Locked if start.elapsed() > PATIENCE => {
                        return Err(busy().in_path(&self.path));
                    }
                    _ => thread::sleep(BEAT),
                }
            }
        }
        let alone = copy.query_row("pragma journal_mode = delete", [], |_| Ok(()));
        alone.map_err(|fault| told(fault, path))?;
        let checked = copy.query_row("pragma quick_check(1)", [], |row| row.get(0));
        let sound = checked.is_ok_and(|said: String| said == "ok");
        copy.close().map_err(|(_, fault)| told(fault, path))?;
        Ok(sound)
    }

    /// Copies row by row into a new or empty file, which makes the indexes anew.
    fn copy_rows(&self, path: &Path) -> Result<()> {
        let today = "select count(*) from about where key = 'schema' and value = ?1";
        let version = schema::VERSION.to_string();
        let ours = self
            .connection
            .query_row(today, [version], |row| row.get::<_, i64>(0));
        if ours.map_err(|fault| self.told(fault))? != 1 {
            let message = "only tables of today can be copied row by row";
            return Err(Error::new(Code::ArchiveVersion, message));
        }
        let mut copy = Self::create(path)?;
        schema::bring_up(&mut copy)?;
        let alone = copy
            .connection
            .query_row("pragma journal_mode = delete", [], |_| Ok(()));
        alone.map_err(|fault| told(fault, path))?;
        drop(copy);
        let name = path.display().to_string();
        let attached = self.connection.execute("attach ?1 as copy", [name]);
        attached.map_err(|fault| self.told(fault))?;
        // A condition keeps SQLite from copying pages of indexes instead of rows.
        let copied = schema::TABLES.iter().try_for_each(|table| {
            self.batch(&format!(
                "insert or replace into copy.{table} select * from main.{table} not indexed where true"
            ))
        });
        self.batch("detach copy")?;
        copied
    }

    /// Whether every chain ends in a copy as it does here.
    fn ends_as(&self, copy: &Path) -> bool {
        let ends = |connection: &Connection| -> rusqlite::Result<Vec<(String, i64, Vec<u8>)>> {
            let text = "select id, head, chain from bench order by id";
            let mut statement = connection.prepare(text)?;
            let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)));
            rows?.collect()
        };
        let copy = Connection::open_with_flags(copy, OpenFlags::SQLITE_OPEN_READ_ONLY);
        let copied = copy.and_then(|copy| ends(&copy));
        matches!((copied, ends(&self.connection)), (Ok(copied), Ok(here)) if copied == here)
    }

    /// Keeps a copy of the tables as they are of this schema, beside the file; says where.
    pub(super) fn copy_before(&self, schema: i64) -> Result<Option<String>> {
        let first = format!("{}.schema-{schema}", self.path.display());
        let numbered = (2..).map(|number| format!("{first}-{number}"));
        for name in std::iter::once(first.clone()).chain(numbered) {
            let path = PathBuf::from(&name);
            if !path.exists() {
                match self.copy_to(&path) {
                    // Another program makes the same one at this moment.
                    Err(_) if path.exists() => {}
                    copied => return copied.map(|()| Some(name)),
                }
            }
            // It is there when an upgrade was begun before and did not come through. An older
            // program may have gone on since, and what it kept must be in the copy too.
            if self.ends_as(&path) {
                return Ok(Some(name));
            }
        }
        Ok(None)
    }

    /// A copy that is only looked at, with indexes made anew.
    pub(super) fn rebuilt_copy(&self) -> Result<Self> {
        let folder = tempfile::tempdir().map_err(|fault| unwritable(&self.path, fault))?;
        let path = folder.path().join("rebuilt.db");
        self.copy_rows(&path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY;
        let copy = Self::connect(&path, path.as_os_str().to_owned(), flags)?;
        Ok(Self {
            _lent: Some(folder),
            ..copy
        })
    }
}
