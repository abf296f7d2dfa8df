//! What the archive needs of a database; one text of each query serves them all.
//!
//! A text has numbered places, `$1`, and knows whole numbers, text and bytes alone.

use crate::error::{Code, Error, Result};
use std::path::Path;

/// A value on its way into a query.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Value<'a> {
    Null,
    Int(i64),
    Text(&'a str),
    Bytes(&'a [u8]),
}

impl<'a> Value<'a> {
    pub(super) fn text_or_null(text: Option<&'a str>) -> Self {
        text.map_or(Value::Null, Value::Text)
    }
}

/// A value on its way out.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Cell {
    Null,
    Int(i64),
    Text(String),
    Bytes(Vec<u8>),
}

/// One row of an answer.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row(pub Vec<Cell>);

impl Row {
    pub(super) fn int(&self, at: usize) -> Result<i64> {
        match self.0.get(at) {
            Some(Cell::Int(number)) => Ok(*number),
            other => Err(unexpected(other, "a whole number")),
        }
    }

    pub(super) fn text(&self, at: usize) -> Result<&str> {
        match self.0.get(at) {
            Some(Cell::Text(text)) => Ok(text),
            other => Err(unexpected(other, "text")),
        }
    }

    /// The text itself, which is not there any more then.
    pub(super) fn take_text(&mut self, at: usize) -> Result<String> {
        match self.0.get_mut(at) {
            Some(Cell::Text(text)) => Ok(std::mem::take(text)),
            other => Err(unexpected(other.as_deref(), "text")),
        }
    }

    pub(super) fn bytes(&self, at: usize) -> Result<&[u8]> {
        match self.0.get(at) {
            Some(Cell::Bytes(bytes)) => Ok(bytes),
            other => Err(unexpected(other, "bytes")),
        }
    }

    pub(super) fn is_null(&self, at: usize) -> bool {
        matches!(self.0.get(at), Some(Cell::Null))
    }
}

fn unexpected(found: Option<&Cell>, expected: &str) -> Error {
    let found = match found {
        None => "nothing",
        Some(Cell::Null) => "no value",
        Some(Cell::Int(_)) => "a whole number",
        Some(Cell::Text(_)) => "text",
        Some(Cell::Bytes(_)) => "bytes",
    };
    let message = format!("read {found} in a column, expected {expected}");
    Error::new(Code::ArchiveBroken, message)
}

/// How a table is declared in a database's own words.
pub(super) struct Dialect {
    pub int: &'static str,
    pub bytes: &'static str,
    /// What stands behind a table.
    pub table: &'static str,
}

/// A database.
pub(super) trait Store: Send {
    /// Runs a query that changes rows, and says how many.
    fn run(&mut self, text: &str, values: &[Value<'_>]) -> Result<u64>;

    /// Runs a query that reads rows, and gives one after the other for as long as more are wanted:
    /// of however many there are, one is in memory.
    fn each(
        &mut self,
        text: &str,
        values: &[Value<'_>],
        take: &mut dyn FnMut(Row) -> Result<bool>,
    ) -> Result<()>;

    /// Runs a query that reads rows, all at once.
    fn rows(&mut self, text: &str, values: &[Value<'_>]) -> Result<Vec<Row>> {
        let mut rows = Vec::new();
        self.each(text, values, &mut |row| {
            rows.push(row);
            Ok(true)
        })?;
        Ok(rows)
    }

    /// Runs statements without values, one after the other, as the making of tables, which may
    /// take long.
    fn script(&mut self, text: &str) -> Result<()>;

    /// Begins a transaction that will write.
    fn begin(&mut self) -> Result<()>;

    /// Keeps what was done since it began.
    fn commit(&mut self) -> Result<()>;

    /// Undoes it.
    fn roll_back(&mut self) -> Result<()>;

    /// Whether the last refusal was for another's transaction that wanted the same: the work may
    /// be done anew at once.
    fn crossed(&self) -> bool {
        false
    }

    /// Within a transaction: nobody else changes the tables until it ends.
    fn alone(&mut self) -> Result<()>;

    /// Its words for a table.
    fn dialect(&self) -> Dialect;

    /// The tables there are.
    fn tables(&mut self) -> Result<Vec<String>>;

    /// Marks an empty database as an archive, within the transaction that makes its tables.
    fn prepare(&mut self) -> Result<()>;

    /// Copies everything into a new file while it is in use; false where it has no means of its own.
    fn copy_to(&mut self, path: &Path) -> Result<bool>;

    /// Keeps a copy of everything before a change of its tables; says where.
    fn keep_copy(&mut self, schema: i64) -> Result<Option<String>>;

    /// What damage the database itself finds, a sentence each.
    fn examine(&mut self) -> Result<Vec<String>>;

    /// A copy whose indexes are made anew, for as long as it is looked at: damage to an index hides
    /// rows that are whole. Nothing where the tables themselves cannot be read.
    fn rebuilt(&mut self) -> Option<Box<dyn Store>>;
}

/// Does the work in one transaction: all of it is kept, or nothing.
pub(super) fn within<T>(
    store: &mut dyn Store,
    work: impl FnOnce(&mut dyn Store) -> Result<T>,
) -> Result<T> {
    store.begin()?;
    let worked = work(store).and_then(|done| store.commit().map(|()| done));
    if worked.is_err() {
        // Where even this fails, the database undoes what was not committed when it is closed.
        let _ = store.roll_back();
    }
    worked
}
