//! An archive in a file of its own: SQLite, written ahead, synced with every commit.

use super::store::{Cell, Dialect, Row, Store, Value};
use crate::error::{Code, Error, Result, to_write, unwritable};
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Connection, ErrorCode, OpenFlags, ToSql, params_from_iter};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// How long another program's writing is waited for.
pub(super) const PATIENCE: Duration = Duration::from_secs(10);

/// Time between two tries where SQLite itself does not wait.
pub(super) const BEAT: Duration = Duration::from_millis(20);

/// `hclr`, as the kind of database in its header; it tells our file from another program's.
const APPLICATION_ID: i64 = 0x6863_6c72;

/// An open file.
pub(super) struct Sqlite {
    pub connection: Connection,
    pub path: PathBuf,
    /// The folder of a copy that goes away with it.
    pub _lent: Option<TempDir>,
}

impl Sqlite {
    /// Opens the file to write into it, and makes it where it is absent.
    pub(super) fn create(path: &Path) -> Result<Self> {
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        if let Some(folder) = folder {
            std::fs::create_dir_all(folder).map_err(|fault| {
                let cure = to_write(&fault);
                unwritable(folder, fault).help(format!("{cure}; `--archive` names another place"))
            })?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let store = Self::connect(path, path.as_os_str().to_owned(), flags)?;
        store.recognise()?;
        // Of a new file alone: records are short, and on longer pages a fifth of it would be empty.
        store.batch("pragma page_size = 2048")?;
        store.write_ahead()?;
        Ok(store)
    }

    /// Opens a file that is there; one that may only be read is read as it lies.
    pub(super) fn open(path: &Path) -> Result<Self> {
        let writable = Self::connect(
            path,
            path.as_os_str().to_owned(),
            OpenFlags::SQLITE_OPEN_READ_WRITE,
        );
        let opened = writable.and_then(|store| {
            store.recognise()?;
            store.write_ahead()?;
            Ok(store)
        });
        let refused = match opened {
            Ok(store) => return Ok(store),
            Err(error) => error,
        };
        // What was not yet copied from the log would be missing without it.
        let log = PathBuf::from(format!("{}-wal", path.display()));
        let logged = std::fs::metadata(log).is_ok_and(|log| log.len() > 0);
        if refused.code() != Code::Disk || logged {
            return Err(refused);
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
        let store = Self::connect(path, as_lies(path).into(), flags)?;
        // Whether it can be read shows with the first page.
        store.recognise().map_err(|_| refused)?;
        Ok(store)
    }

    pub(super) fn connect(path: &Path, name: std::ffi::OsString, flags: OpenFlags) -> Result<Self> {
        // A pipe would be waited for, and a device has no end.
        if path.metadata().is_ok_and(|about| !about.is_file()) {
            let message = "found what is no regular file, expected an archive";
            return Err(Error::new(Code::Disk, message)
                .in_path(path)
                .help("name the file of an archive with `--archive`, or a new one"));
        }
        let flags = flags | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(PathBuf::from(name), flags);
        let connection = connection.map_err(|fault| told(fault, path))?;
        let store = Self {
            connection,
            path: path.to_owned(),
            _lent: None,
        };
        let set = store.connection.busy_timeout(PATIENCE);
        set.map_err(|fault| store.told(fault))?;
        // A commit is on the disk when it is reported, not when the system finds the time.
        store.batch("pragma synchronous = full; pragma foreign_keys = on")?;
        Ok(store)
    }

    /// Has changes written to a log first: readers go on, and a kill leaves all or nothing.
    fn write_ahead(&self) -> Result<()> {
        let start = Instant::now();
        // Two programs that make the file at once meet here, and SQLite does not wait by itself.
        loop {
            let query = "pragma journal_mode = wal";
            let asked = self.connection.query_row(query, [], |_| Ok(()));
            match asked.map_err(|fault| self.told(fault)) {
                Err(error) if error.code() == Code::ArchiveBusy && start.elapsed() < PATIENCE => {
                    thread::sleep(BEAT);
                }
                done => return done,
            }
        }
    }

    /// Refuses a database of another program.
    fn recognise(&self) -> Result<()> {
        let ours = match self.number("pragma application_id")? {
            APPLICATION_ID => true,
            0 => self.number("select count(*) from sqlite_schema")? == 0,
            _ => false,
        };
        if ours {
            return Ok(());
        }
        Err(
            Error::new(Code::ArchiveBroken, "it is a database of another program")
                .in_path(&self.path)
                .help("name an archive with `--archive`, or a new file to make one"),
        )
    }

    fn number(&self, text: &str) -> Result<i64> {
        let read = self.connection.query_row(text, [], |row| row.get(0));
        read.map_err(|fault| self.told(fault))
    }

    pub(super) fn batch(&self, text: &str) -> Result<()> {
        let ran = self.connection.execute_batch(text);
        ran.map_err(|fault| self.told(fault))
    }

    pub(super) fn told(&self, fault: rusqlite::Error) -> Error {
        told(fault, &self.path)
    }
}

impl Store for Sqlite {
    fn run(&mut self, text: &str, values: &[Value<'_>]) -> Result<u64> {
        let statement = self.connection.prepare_cached(&numbered(text));
        let changed = statement.and_then(|mut it| it.execute(params_from_iter(values)));
        changed
            .map(|rows| rows as u64)
            .map_err(|fault| self.told(fault))
    }

    fn each(
        &mut self,
        text: &str,
        values: &[Value<'_>],
        take: &mut dyn FnMut(Row) -> Result<bool>,
    ) -> Result<()> {
        let told = |fault| self.told(fault);
        let statement = self.connection.prepare_cached(&numbered(text));
        let mut statement = statement.map_err(told)?;
        let width = statement.column_count();
        let mut rows = statement.query(params_from_iter(values)).map_err(told)?;
        while let Some(row) = rows.next().map_err(told)? {
            let cells = (0..width).map(|at| row.get_ref(at).map(cell));
            let cells: rusqlite::Result<Vec<Cell>> = cells.collect();
            if !take(Row(cells.map_err(told)?))? {
                break;
            }
        }
        Ok(())
    }

    fn script(&mut self, text: &str) -> Result<()> {
        self.batch(text)
    }

    fn begin(&mut self) -> Result<()> {
        // The right to write at once, or two that read first would wait for each other for ever.
        self.batch("begin immediate")
    }

    fn commit(&mut self) -> Result<()> {
        self.batch("commit")
    }

    fn roll_back(&mut self) -> Result<()> {
        self.batch("rollback")
    }

    fn alone(&mut self) -> Result<()> {
        // One writes at a time, and has since the transaction began.
        Ok(())
    }

    fn dialect(&self) -> Dialect {
        Dialect {
            int: "integer",
            bytes: "blob",
            table: " strict",
        }
    }

    fn tables(&mut self) -> Result<Vec<String>> {
        let tables = "select name from sqlite_schema where type = 'table'";
        let rows = self.rows(tables, &[])?;
        rows.iter()
            .map(|row| row.text(0).map(str::to_owned))
            .collect()
    }

    fn prepare(&mut self) -> Result<()> {
        self.batch(&format!("pragma application_id = {APPLICATION_ID}"))
    }

    fn keep_copy(&mut self, schema: i64) -> Result<Option<String>> {
        self.copy_before(schema)
    }

    fn copy_to(&mut self, path: &Path) -> Result<bool> {
        Sqlite::copy_to(self, path).map(|()| true)
    }

    fn examine(&mut self) -> Result<Vec<String>> {
        let rows = self.rows("pragma integrity_check(20)", &[])?;
        let said = rows.iter().map(|row| row.text(0).map(str::to_owned));
        let mut said: Vec<String> = said.collect::<Result<_>>()?;
        said.retain(|line| line != "ok");
        Ok(said)
    }

    fn rebuilt(&mut self) -> Option<Box<dyn Store>> {
        let copy = self.rebuilt_copy().ok()?;
        Some(Box::new(copy))
    }
}

/// The text with places as SQLite counts them: to it `$1` is a name, and `?1` a number.
fn numbered(text: &str) -> String {
    text.replace('$', "?")
}

fn cell(value: ValueRef<'_>) -> Cell {
    match value {
        ValueRef::Null => Cell::Null,
        ValueRef::Integer(number) => Cell::Int(number),
        // Text that is none, like a real number, can only be damage: it is found by its type.
        ValueRef::Real(number) => Cell::Bytes(number.to_be_bytes().to_vec()),
        ValueRef::Text(text) => match std::str::from_utf8(text) {
            Ok(text) => Cell::Text(text.to_owned()),
            Err(_) => Cell::Bytes(text.to_owned()),
        },
        ValueRef::Blob(bytes) => Cell::Bytes(bytes.to_owned()),
    }
}

impl ToSql for Value<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Value::Null => ValueRef::Null,
            Value::Int(number) => ValueRef::Integer(*number),
            Value::Text(text) => ValueRef::Text(text.as_bytes()),
            Value::Bytes(bytes) => ValueRef::Blob(bytes),
        }))
    }
}

/// The name of a file that is to be read without a lock or a log, since nobody can write to it.
fn as_lies(path: &Path) -> String {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let plain = path.display().to_string().replace('\\', "/");
    let escaped = plain
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23");
    let slash = if escaped.starts_with('/') { "" } else { "/" };
    format!("file://{slash}{escaped}?immutable=1")
}

pub(super) fn busy() -> Error {
    let seconds = PATIENCE.as_secs();
    let message = format!("another program has been writing to it for more than {seconds} s");
    Error::new(Code::ArchiveBusy, message)
        .help("nothing was changed; wait until the other one has ended, then try again")
}

/// SQLite's refusal in words of ours.
pub(super) fn told(fault: rusqlite::Error, path: &Path) -> Error {
    let said = fault.to_string();
    let error = match fault.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => busy(),
        Some(ErrorCode::DiskFull) => {
            let message = "could not be written: the disk is full";
            Error::new(Code::Disk, message).help("make room, then try again; what was reported as kept is kept")
        }
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
            Error::new(Code::Disk, "may be read but not written")
                .help("check who may write to it and to its folder, or name another with `--archive`")
        }
        Some(ErrorCode::CannotOpen) => Error::new(Code::Disk, "could not be opened")
            .help("check that its folder is there and that you may write to it"),
        Some(ErrorCode::SystemIoFailure) => {
            Error::new(Code::Disk, format!("could not be read or written: {said}"))
                .help("check that the disk is there and has room, then try again; what was reported as kept is kept")
        }
        Some(ErrorCode::NotADatabase) => Error::new(Code::ArchiveBroken, "it is not an archive")
            .help("name an archive with `--archive`, or a new file to make one"),
        Some(ErrorCode::DatabaseCorrupt) => {
            Error::new(Code::ArchiveBroken, format!("it is damaged: {said}"))
                .help("`heelclear archive check` names what is broken; a backup brings it back")
        }
        _ => Error::new(Code::Internal, format!("the database refused: {said}")),
    };
    error.in_path(path)
}
