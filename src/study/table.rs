//! The table of a crossed study: who read which part how often.

use crate::error::{Code, Error, Result};
use crate::trace::csv::{is_foreign, plain};
use std::io::Read;

/// The unit of the values of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Lengths, kept in millimetres.
    Mm,
    /// Angles, in degrees.
    Deg,
    /// Not stated.
    None,
}

impl Unit {
    /// As results have it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Unit::Mm => "mm",
            Unit::Deg => "deg",
            Unit::None => "",
        }
    }
}

/// Every part read by every operator equally often.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossedTable {
    /// In the order in which the table first names them.
    pub parts: Vec<String>,
    /// In the order in which the table first names them.
    pub operators: Vec<String>,
    /// How often each operator read each part, at least 2.
    pub trials: usize,
    /// By part, then by operator, then by trial, in `unit`.
    pub values: Vec<f64>,
    /// Of the values.
    pub unit: Unit,
}

/// Names of the value's column, what they count in, and how much of it one is.
const VALUES: &[(&str, Unit, f64)] = &[
    ("value_mm", Unit::Mm, 1.0),
    ("value_um", Unit::Mm, 0.001),
    ("value_in", Unit::Mm, 25.4),
    ("value_deg", Unit::Deg, 1.0),
    ("value", Unit::None, 1.0),
];

/// Reads a table with the columns `part`, `operator` (or `appraiser`) and `value_mm`, `value_um`,
/// `value_in`, `value_deg` or `value`; others are ignored, and so are lines that start with `#`. Fields may
/// stand between semicolons or tabs, and decimals have a comma then.
///
/// # Errors
/// `trace-line` where a comma may part decimals or thousands; `study`, for every line that cannot be read, and when the table is not complete: at least two
/// parts, two operators and two trials, and as many trials in every combination.
pub fn read_table(mut input: impl Read, file: &str) -> Result<CrossedTable> {
    let fault = |message: String| Error::new(Code::Study, message).in_file(file);
    let (mut text, mut delimiter) = (Vec::new(), b',');
    let read = input.read_to_end(&mut text);
    read.map_err(|error| fault(format!("cannot read on: {error}")))?;
    if is_foreign(&text) {
        let foreign = plain(&text, file)?;
        (text, delimiter) = (foreign.text, foreign.delimiter);
    }
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .delimiter(delimiter)
        .trim(csv::Trim::All)
        .from_reader(text.as_slice());
    let header = reader.headers().map_err(|error| fault(error.to_string()))?;
    let column = |names: &[&str]| header.iter().position(|name| names.contains(&name));
    let value = VALUES
        .iter()
        .find_map(|(name, unit, size)| Some((column(&[name])?, *unit, *size)));
    let (Some(part), Some(operator), Some((value, unit, size))) =
        (column(&["part"]), column(&["operator", "appraiser"]), value)
    else {
        let read: Vec<&str> = header.iter().collect();
        return Err(fault(format!("read the columns `{}`, expected `part`, `operator` and `value_mm`", read.join("`, `")))
            .at_line(1)
            .help("name the value's column by its unit: `value_mm`, `value_um`, `value_in` or `value_deg`"));
    };
    let (mut rows, mut errors) = (Vec::new(), Vec::new());
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = error.position().map_or(0, csv::Position::line);
                errors.push(fault(error.to_string()).at_line(line));
                continue;
            }
        };
        let line = record.position().map_or(0, csv::Position::line);
        let field = |at: usize| record.get(at).unwrap_or_default();
        let number = field(value)
            .parse()
            .ok()
            .filter(|number: &f64| number.is_finite());
        match number {
            Some(number) => rows.push((
                field(part).to_owned(),
                field(operator).to_owned(),
                number * size,
            )),
            None => errors
                .push(fault(format!("read `{}`, expected a number", field(value))).at_line(line)),
        }
    }
    match Error::all(errors) {
        Some(error) => Err(error),
        None => complete(rows, unit).map_err(|error| error.in_file(file)),
    }
}

fn complete(rows: Vec<(String, String, f64)>, unit: Unit) -> Result<CrossedTable> {
    let mut table = CrossedTable {
        parts: Vec::new(),
        operators: Vec::new(),
        trials: 0,
        values: Vec::new(),
        unit,
    };
    let place = |names: &mut Vec<String>, name: &String| {
        names
            .iter()
            .position(|known| known == name)
            .unwrap_or_else(|| {
                names.push(name.clone());
                names.len() - 1
            })
    };
    let placed: Vec<(usize, usize, f64)> = rows
        .iter()
        .map(|(part, operator, value)| {
            let part = place(&mut table.parts, part);
            (part, place(&mut table.operators, operator), *value)
        })
        .collect();
    let help = "let every operator read every part equally often, twice or more";
    let (parts, operators) = (table.parts.len(), table.operators.len());
    if parts < 2 || operators < 2 {
        let found =
            format!("read {parts} parts and {operators} operators, expected two or more of each");
        return Err(Error::new(Code::Study, found).help(help));
    }
    let mut cells: Vec<Vec<f64>> = vec![Vec::new(); parts * operators];
    for (part, operator, value) in placed {
        cells[part * operators + operator].push(value);
    }
    let trials = cells.iter().map(Vec::len).max().unwrap_or(0).max(2);
    if let Some(short) = cells.iter().position(|cell| cell.len() != trials) {
        return Err(Error::new(
            Code::Study,
            format!(
                "read {} values of part `{}` by operator `{}`, expected {trials} as elsewhere",
                cells[short].len(),
                table.parts[short / operators],
                table.operators[short % operators]
            ),
        )
        .help(help));
    }
    table.trials = trials;
    table.values = cells.concat();
    Ok(table)
}
