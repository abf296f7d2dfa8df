//! Reads a trace file: good lines come back with the list of bad ones.

use super::dialect::{is_foreign, plain};
use super::header::{Column, Header};
use super::order::Order;
use super::{Rows, Slide, Table};
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length, Time};
use crate::sample::{Height, Mark, Marks, Position, Sample};
use csv::{ByteRecord, Reader};
use std::io::{self, Read};

/// How many bad lines are named one by one; the rest are only counted.
const BAD_LINES_NAMED: usize = 10;

/// Reads a trace; `file` is its name in messages.
///
/// Fails when the file cannot be read, has no usable header, or has no usable row, and where a comma may
/// part decimals or thousands.
pub fn read(mut input: impl Read, file: &str) -> Result<Table> {
    let mut beginning = Vec::with_capacity(BEGINNING);
    let unread = |error: io::Error| {
        Error::new(Code::Disk, format!("cannot read on: {error}"))
            .because(error)
            .in_file(file)
    };
    input
        .by_ref()
        .take(BEGINNING as u64)
        .read_to_end(&mut beginning)
        .map_err(unread)?;
    if !is_foreign(two_lines(&beginning)) {
        return read_plain(beginning.as_slice().chain(input), file, b',');
    }
    input.read_to_end(&mut beginning).map_err(unread)?;
    let foreign = plain(&beginning, file)?;
    let mut table = read_plain(foreign.text.as_slice(), file, foreign.delimiter)?;
    table.warnings.extend(foreign.said);
    Ok(table)
}

/// How a file is written shows in its first two lines, and those in so many bytes.
const BEGINNING: usize = 4096;

fn two_lines(text: &[u8]) -> &[u8] {
    let mut ends = text.iter().enumerate().filter(|(_, byte)| **byte == b'\n');
    let end = ends.nth(1).map_or(text.len(), |(at, _)| at);
    &text[..end]
}

fn read_plain(input: impl Read, file: &str, delimiter: u8) -> Result<Table> {
    let input = Watched { input, last: 0 };
    // Quotes mean nothing here: a stray one must not swallow the rest of the file.
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .quoting(false)
        .delimiter(delimiter)
        .buffer_capacity(1 << 16)
        .from_reader(input);
    let mut record = ByteRecord::new();
    if !next(&mut reader, &mut record, file)? {
        let message = "read an empty file, expected a header and rows";
        let error = Error::new(Code::TraceHeader, message).in_file(file);
        return Err(error.help("capture the trace again"));
    }
    let (header, warnings) = parse_header(&record, file)?;
    let mut table = Collector::new(header, file, warnings);

    // Only the last line may be torn, and which one that is shows when there is no next one.
    let mut waiting: Option<Line> = None;
    let mut tail_before = 0;
    while next(&mut reader, &mut record, file)? {
        let line = Line {
            number: record.position().map_or(0, csv::Position::line),
            row: Row::parse(&record, &header),
            tail: record.iter().next_back().map_or(0, <[u8]>::len),
        };
        if let Some(line) = waiting.replace(line) {
            tail_before = line.tail;
            table.take(line);
        }
    }
    if let Some(line) = waiting {
        let ended = matches!(reader.get_ref().last, b'\n' | b'\r');
        // A number cut short is still a number, so a shorter tail counts as torn too.
        let torn = !ended && (line.row.is_err() || line.tail < tail_before);
        if torn {
            table.torn(line.number);
        } else {
            table.take(line);
        }
    }
    table.finish()
}

fn next<R: Read>(reader: &mut Reader<R>, record: &mut ByteRecord, file: &str) -> Result<bool> {
    reader.read_byte_record(record).map_err(|error| {
        Error::new(Code::Disk, format!("cannot read on: {error}"))
            .because(error)
            .in_file(file)
    })
}

fn parse_header(record: &ByteRecord, file: &str) -> Result<(Header, Vec<String>)> {
    let texts: Vec<String> = record
        .iter()
        .map(|field| String::from_utf8_lossy(field))
        .map(|text| text.trim_start_matches('\u{feff}').trim().to_owned())
        .collect();
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    Header::parse(&texts, file)
}

/// Remembers the last byte, to tell a whole last line from a torn one.
struct Watched<R> {
    input: R,
    last: u8,
}

impl<R: Read> Read for Watched<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let count = self.input.read(buffer)?;
        if let Some(&last) = buffer[..count].last() {
            self.last = last;
        }
        Ok(count)
    }
}

/// One line as read, before it is known whether another follows.
struct Line {
    number: u64,
    row: std::result::Result<Row, Fault>,
    /// Length of its last field.
    tail: usize,
}

/// The numbers of one line, in the program's own units; 0 in columns that are not there.
struct Row {
    time: f64,
    angle: f64,
    travel: f64,
    reading: f64,
    marks: Marks,
}

/// Why a line cannot be read: what stood there, and what should have.
struct Fault {
    found: String,
    expected: String,
    /// Whether it would be a number without what may part thousands.
    separated: bool,
}

impl Row {
    fn parse(record: &ByteRecord, header: &Header) -> std::result::Result<Self, Fault> {
        let value = |column: Option<Column>| column.map_or(Ok(0.0), |c| number(record, &c));
        // A row may leave out the marks at its end, but not a number.
        if record.len() > header.fields {
            let doubled = match record.len() == 2 * header.fields {
                true => "; decimals with a comma need semicolons between the fields",
                false => "",
            };
            return Err(Fault {
                found: shown(record.as_slice()),
                expected: format!("{} fields{doubled}", header.fields),
                separated: false,
            });
        }
        Ok(Self {
            time: number(record, &header.time)?,
            angle: value(header.angle)?,
            travel: value(header.travel)?,
            reading: value(header.reading)?,
            marks: marks(header.marks.and_then(|field| record.get(field)))?,
        })
    }
}

fn number(record: &ByteRecord, column: &Column) -> std::result::Result<f64, Fault> {
    let Some(field) = record.get(column.field) else {
        return Err(Fault {
            found: "a line that ends early".to_owned(),
            expected: format!("a number for `{}`", column.name),
            separated: false,
        });
    };
    let parsed = std::str::from_utf8(field.trim_ascii())
        .ok()
        .and_then(|text| text.parse::<f64>().ok());
    let fault = |expected: &str| Fault {
        found: format!("{} as `{}`", shown(field), column.name),
        expected: expected.to_owned(),
        separated: is_separated(field),
    };
    match parsed {
        None => Err(fault("a number")),
        Some(number) if !number.is_finite() || (number * column.unit).abs() > column.range.most => {
            Err(fault(column.range.name))
        }
        // Dividing by 1000 is exact to the last digit where multiplying by 0.001 is not.
        Some(number) if column.unit == 1e-3 => Ok(number / 1000.0),
        Some(number) => Ok(number * column.unit),
    }
}

/// Whether a field is digits with signs between them that part thousands or decimals: `1,019`, `1'019`,
/// `1.019,5`, with spaces of any kind.
fn is_separated(field: &[u8]) -> bool {
    let text = String::from_utf8_lossy(field.trim_ascii());
    let text = text.strip_prefix(['-', '+', '\u{2212}']).unwrap_or(&text);
    let parts = |c: char| matches!(c, ',' | '.' | '\'' | '’' | '_') || c.is_whitespace();
    let digits = text.chars().filter(char::is_ascii_digit).count();
    let signs = text.chars().filter(|c| parts(*c)).count();
    digits > 0
        && signs > 0
        && text.starts_with(|c: char| c.is_ascii_digit())
        && text.chars().all(|c| c.is_ascii_digit() || parts(c))
        && text.parse::<f64>().is_err()
}

/// So few lines that cannot be read are no fault of a trace, however short it is ...
const FEW_BAD: usize = 2;
/// ... and no more than one in so many (chosen, no source).
const ONE_IN: usize = 100;

fn marks(field: Option<&[u8]>) -> std::result::Result<Marks, Fault> {
    let mut marks = Marks::NONE;
    let words = field.unwrap_or_default().split(|byte| *byte == b'|');
    for word in words.map(<[u8]>::trim_ascii).filter(|w| !w.is_empty()) {
        let known = Mark::ALL.iter().find(|m| m.as_str().as_bytes() == word);
        marks.add(*known.ok_or_else(|| Fault {
            found: format!("{} as `marks`", shown(word)),
            expected: "the words for marks joined by `|`".to_owned(),
            separated: false,
        })?);
    }
    Ok(marks)
}

/// What was read, short and printable.
fn shown(bytes: &[u8]) -> String {
    let text: String = String::from_utf8_lossy(bytes)
        .chars()
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .take(40)
        .collect();
    format!("`{text}`")
}

/// Puts rows into the kind of table that the header asks for.
struct Collector<'a> {
    file: &'a str,
    table: Table,
    order: Order,
    /// The first number that has separators in it, with its line.
    separated: Option<(u64, String)>,
}

impl<'a> Collector<'a> {
    fn new(header: Header, file: &'a str, warnings: Vec<String>) -> Self {
        let rows = match (header.angle, header.travel, header.reading) {
            (Some(_), _, Some(_)) => Rows::Turning(Vec::new()),
            (_, Some(_), _) => Rows::Sliding(Vec::new()),
            (Some(_), _, None) => Rows::Positions(Vec::new()),
            (None, None, _) => Rows::Heights(Vec::new()),
        };
        let table = Table {
            rows,
            bad: Vec::new(),
            bad_lines: 0,
            warnings,
            disorder: None,
        };
        let order = Order::default();
        Self {
            file,
            table,
            order,
            separated: None,
        }
    }

    fn take(&mut self, line: Line) {
        let row = match line.row {
            Ok(row) => row,
            Err(fault) => return self.refuse(line.number, fault),
        };
        let (time, marks) = (Time::from_s(row.time), row.marks);
        self.order.take(line.number, time, marks);
        let angle = Angle::from_deg(row.angle);
        let travel = Length::from_mm(row.travel);
        let reading = Length::from_mm(row.reading);
        match &mut self.table.rows {
            Rows::Turning(rows) => rows.push(Sample {
                time,
                angle,
                reading,
                marks,
            }),
            Rows::Sliding(rows) => rows.push(Slide {
                time,
                travel,
                reading,
                marks,
            }),
            Rows::Positions(rows) => rows.push(Position { time, angle, marks }),
            Rows::Heights(rows) => rows.push(Height {
                time,
                reading,
                marks,
            }),
        }
    }

    fn refuse(&mut self, number: u64, fault: Fault) {
        self.table.bad_lines += 1;
        if fault.separated && self.separated.is_none() {
            self.separated = Some((number, fault.found.clone()));
        }
        if self.table.bad.len() < BAD_LINES_NAMED {
            let message = format!("read {}, expected {}", fault.found, fault.expected);
            let error = Error::new(Code::TraceLine, message);
            self.table
                .bad
                .push(error.in_file(self.file).at_line(number));
        }
    }

    fn torn(&mut self, number: u64) {
        let file = self.file;
        self.table.warnings.push(format!(
            "{file}, line {number}: the last line is torn and left out; what came before it is whole"
        ));
    }

    /// Whether what could not be read leaves a trace: lines that are left out by what stood in them, as
    /// the highest of a burr may be, prove nothing of what is left.
    fn enough_is_read(&self) -> Result<()> {
        if let Some((number, found)) = &self.separated {
            let message = format!("read {found}, expected a number without separators");
            return Err(Error::new(Code::TraceLine, message)
                .in_file(self.file)
                .at_line(*number)
                .help("write numbers without a sign between thousands, and all of them with the same sign before decimals"));
        }
        let (bad, all) = (
            self.table.bad_lines,
            self.table.bad_lines + self.table.rows.len(),
        );
        if bad > FEW_BAD && bad * ONE_IN > all {
            let message = format!(
                "{bad} of {all} lines could not be read, expected fewer than one in {ONE_IN}"
            );
            let error = Error::new(Code::TraceLine, message).in_file(self.file);
            return Err(error
                .help("mend the lines that are named, or capture the trace again")
                .and(self.table.bad.iter().cloned()));
        }
        Ok(())
    }

    fn finish(mut self) -> Result<Table> {
        if self.table.rows.is_empty() {
            let none = "read no usable row, expected one a sample";
            let error = Error::new(Code::TraceShort, none).in_file(self.file);
            return Err(error.help("capture the trace again").and(self.table.bad));
        }
        self.enough_is_read()?;
        match self.order.seen(self.file, &self.table.rows) {
            Ok(seen) => self.table.warnings.extend(seen),
            Err(disorder) => self.table.disorder = Some(disorder),
        }
        if self.table.bad_lines > self.table.bad.len() {
            let (file, count) = (self.file, self.table.bad_lines);
            self.table.warnings.push(format!(
                "{file}: {count} lines could not be read; the first {BAD_LINES_NAMED} are named"
            ));
        }
        Ok(self.table)
    }
}
