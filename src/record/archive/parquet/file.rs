//! One Parquet file while it is written: rows are gathered by column, and put out in groups.

use crate::error::{Code, Error, Result};
use jiff::Timestamp;
use parquet::basic::{Compression, Encoding, ZstdLevel};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::file::properties::{WriterProperties, WriterPropertiesBuilder};
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::parser::parse_message_type;
use parquet::schema::types::ColumnPath;
use std::fmt::Write as _;
use std::io::Write;
use std::sync::Arc;

/// A value with the name of its column; nothing is null, and null is what is not known.
///
/// Which kind of column it is shows without a value, so that the first row tells the whole schema.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Field {
    pub name: String,
    pub cell: Cell,
}

/// A value by the kind of its column.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Cell {
    Text(Option<String>),
    Whole(Option<i64>),
    Moment(Option<Timestamp>),
    Real(Option<f64>),
    Switch(Option<bool>),
    Wholes(Option<Vec<i64>>),
    Words(Option<Vec<String>>),
}

impl Field {
    pub(super) fn new(name: impl Into<String>, cell: Cell) -> Self {
        let name = name.into();
        Self { name, cell }
    }

    /// Text, where there is some: a card leaves empty what nobody said.
    pub(super) fn text(name: impl Into<String>, text: Option<&str>) -> Self {
        let text = text.filter(|text| !text.is_empty());
        Self::new(name, Cell::Text(text.map(str::to_owned)))
    }

    /// A number, where there is one.
    pub(super) fn real(name: impl Into<String>, value: Option<f64>) -> Self {
        Self::new(name, Cell::Real(value.filter(|value| value.is_finite())))
    }
}

/// Bytes that are gathered before they are put out: what a file takes in memory while it is
/// written, but for a single row that is longer.
const GROUP: usize = 16 << 20;

/// The level that the archive's own blobs have.
const ZSTD_LEVEL: i32 = 3;

/// A file that rows are written to.
pub(super) struct File<W: Write + Send> {
    out: SerializedFileWriter<W>,
    columns: Vec<Column>,
    /// Bytes gathered.
    gathered: usize,
}

/// The values of one column, with the levels that tell which are null and where lists begin.
struct Column {
    values: Values,
    /// 0 is null; a list that is there but empty is 1, and its items are 2.
    defined: Vec<i16>,
    /// 1 for what goes on with a list; empty where there are no lists.
    repeated: Vec<i16>,
}

enum Values {
    Bytes(Vec<ByteArray>),
    Wholes(Vec<i64>),
    Reals(Vec<f64>),
    Switches(Vec<bool>),
}

impl<W: Write + Send> File<W> {
    /// Begins a file with the columns of this row, which is not yet written.
    ///
    /// # Errors
    /// `disk` where it cannot be written.
    pub(super) fn new(out: W, table: &str, row: &[Field]) -> Result<Self> {
        let schema = parse_message_type(&message(table, row)).map_err(refused)?;
        let mut looks = WriterProperties::builder()
            .set_created_by(concat!("heelclear ", env!("CARGO_PKG_VERSION")).to_owned())
            .set_compression(zstd()?);
        for field in row {
            looks = field.look(looks);
        }
        let looks = Arc::new(looks.build());
        Ok(Self {
            out: SerializedFileWriter::new(out, Arc::new(schema), looks).map_err(refused)?,
            columns: row.iter().map(|field| Column::of(&field.cell)).collect(),
            gathered: 0,
        })
    }

    /// Adds a row with the columns of the first.
    ///
    /// # Errors
    /// `disk` where it cannot be written.
    pub(super) fn add(&mut self, row: Vec<Field>) -> Result<()> {
        for (column, field) in self.columns.iter_mut().zip(row) {
            self.gathered += column.add(field.cell);
        }
        match self.gathered > GROUP {
            true => self.put_out(),
            false => Ok(()),
        }
    }

    /// Ends the file, and gives what it was written to.
    ///
    /// # Errors
    /// `disk` where it cannot be written.
    pub(super) fn finish(mut self) -> Result<W> {
        if self.gathered > 0 {
            self.put_out()?;
        }
        self.out.into_inner().map_err(refused)
    }

    fn put_out(&mut self) -> Result<()> {
        let mut group = self.out.next_row_group().map_err(refused)?;
        for column in &mut self.columns {
            let Some(writer) = group.next_column().map_err(refused)? else {
                break;
            };
            column.put_out(writer).map_err(refused)?;
        }
        group.close().map_err(refused)?;
        self.gathered = 0;
        Ok(())
    }
}

impl Column {
    fn of(cell: &Cell) -> Self {
        let values = match cell {
            Cell::Text(_) | Cell::Words(_) => Values::Bytes(Vec::new()),
            Cell::Whole(_) | Cell::Moment(_) | Cell::Wholes(_) => Values::Wholes(Vec::new()),
            Cell::Real(_) => Values::Reals(Vec::new()),
            Cell::Switch(_) => Values::Switches(Vec::new()),
        };
        Self {
            values,
            defined: Vec::new(),
            repeated: Vec::new(),
        }
    }

    /// Takes a cell in, and says how many bytes it takes.
    fn add(&mut self, cell: Cell) -> usize {
        match (&mut self.values, cell) {
            (Values::Bytes(all), Cell::Text(text)) => {
                one(&mut self.defined, all, text.map(bytes), ByteArray::len)
            }
            (Values::Bytes(all), Cell::Words(words)) => {
                let words = words.map(|words| words.into_iter().map(bytes));
                list(&mut self.defined, &mut self.repeated, all, words)
            }
            (Values::Wholes(all), Cell::Whole(whole)) => {
                one(&mut self.defined, all, whole, |_| size_of::<i64>())
            }
            (Values::Wholes(all), Cell::Moment(moment)) => {
                let moment = moment.map(Timestamp::as_microsecond);
                one(&mut self.defined, all, moment, |_| size_of::<i64>())
            }
            (Values::Wholes(all), Cell::Wholes(wholes)) => {
                let wholes = wholes.map(Vec::into_iter);
                list(&mut self.defined, &mut self.repeated, all, wholes)
            }
            (Values::Reals(all), Cell::Real(real)) => {
                one(&mut self.defined, all, real, |_| size_of::<f64>())
            }
            (Values::Switches(all), Cell::Switch(switch)) => {
                one(&mut self.defined, all, switch, |_| 1)
            }
            // Every row has the kinds of the first; should one not, its cell is not known.
            _ => {
                self.defined.push(0);
                0
            }
        }
    }

    fn put_out(&mut self, mut to: SerializedColumnWriter<'_>) -> parquet::errors::Result<()> {
        let defined = Some(self.defined.as_slice());
        let repeated = (!self.repeated.is_empty()).then_some(self.repeated.as_slice());
        match &mut self.values {
            Values::Bytes(all) => {
                to.typed::<ByteArrayType>()
                    .write_batch(all, defined, repeated)?;
                all.clear();
            }
            Values::Wholes(all) => {
                to.typed::<Int64Type>()
                    .write_batch(all, defined, repeated)?;
                all.clear();
            }
            Values::Reals(all) => {
                to.typed::<DoubleType>()
                    .write_batch(all, defined, repeated)?;
                all.clear();
            }
            Values::Switches(all) => {
                to.typed::<BoolType>().write_batch(all, defined, repeated)?;
                all.clear();
            }
        }
        self.defined.clear();
        self.repeated.clear();
        to.close()
    }
}

fn bytes(text: String) -> ByteArray {
    ByteArray::from(text.into_bytes())
}

fn one<T>(
    defined: &mut Vec<i16>,
    all: &mut Vec<T>,
    value: Option<T>,
    size: impl Fn(&T) -> usize,
) -> usize {
    defined.push(i16::from(value.is_some()));
    let took = value.as_ref().map_or(0, size);
    all.extend(value);
    took + size_of::<i16>()
}

fn list<T>(
    defined: &mut Vec<i16>,
    repeated: &mut Vec<i16>,
    all: &mut Vec<T>,
    items: Option<impl ExactSizeIterator<Item = T>>,
) -> usize {
    let count = items.as_ref().map_or(0, ExactSizeIterator::len);
    repeated.push(0);
    match items {
        Some(items) if count > 0 => {
            defined.extend(std::iter::repeat_n(2, count));
            repeated.extend(std::iter::repeat_n(1, count - 1));
            all.extend(items);
        }
        Some(_) => defined.push(1),
        None => defined.push(0),
    }
    (count + 1) * (size_of::<T>() + 2 * size_of::<i16>())
}

/// The schema in Parquet's own words.
fn message(table: &str, row: &[Field]) -> String {
    let mut text = format!("message {table} {{\n");
    for Field { name, cell } in row {
        let list = |item: &str| {
            format!("optional group {name} (LIST) {{ repeated group list {{ required {item}; }} }}")
        };
        let column = match cell {
            Cell::Text(_) => format!("optional binary {name} (STRING);"),
            Cell::Whole(_) => format!("optional int64 {name};"),
            Cell::Moment(_) => format!("optional int64 {name} (TIMESTAMP(MICROS,true));"),
            Cell::Real(_) => format!("optional double {name};"),
            Cell::Switch(_) => format!("optional boolean {name};"),
            Cell::Wholes(_) => list("int64 element"),
            Cell::Words(_) => list("binary element (STRING)"),
        };
        let _ = writeln!(text, "{column}");
    }
    text + "}\n"
}

impl Field {
    /// How its column is written. Whole numbers that go on evenly take almost no room as
    /// differences, and ten times as much as words of a dictionary.
    fn look(&self, looks: WriterPropertiesBuilder) -> WriterPropertiesBuilder {
        let name = self.name.clone();
        match &self.cell {
            Cell::Whole(_) | Cell::Moment(_) => differences(looks, vec![name]),
            Cell::Wholes(_) => {
                let path = vec![name, "list".to_owned(), "element".to_owned()];
                differences(looks, path)
            }
            Cell::Text(_) | Cell::Real(_) | Cell::Switch(_) | Cell::Words(_) => looks,
        }
    }
}

fn differences(looks: WriterPropertiesBuilder, path: Vec<String>) -> WriterPropertiesBuilder {
    looks
        .set_column_dictionary_enabled(ColumnPath::new(path.clone()), false)
        .set_column_encoding(ColumnPath::new(path), Encoding::DELTA_BINARY_PACKED)
}

fn zstd() -> Result<Compression> {
    ZstdLevel::try_new(ZSTD_LEVEL)
        .map(Compression::ZSTD)
        .map_err(refused)
}

fn refused(fault: impl std::fmt::Display) -> Error {
    Error::new(
        Code::Disk,
        format!("the table could not be written: {fault}"),
    )
    .help("check that the disk has room and that you may write there")
}
