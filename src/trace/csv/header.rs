//! The columns of a trace file: which there are, in which unit, and what may stand in them.

use crate::error::{Code, Error, Result};

/// What may stand in a column, with its name for people.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// `a time within ± 10000000000 s`
    pub name: &'static str,
    /// The greatest distance from 0, in the unit that the program keeps: s, degrees, mm.
    pub most: f64,
}

/// Any clock that counts seconds fits, also one that counts from 1970.
pub const TIME: Range = Range {
    name: "a time within ± 10000000000 s",
    most: 1e10,
};
/// Ten million turns.
pub const ANGLE: Range = Range {
    name: "an angle within ± 3600000000 deg",
    most: 3.6e9,
};
/// No indicator travels further than a metre, and few slides do.
pub const LENGTH: Range = Range {
    name: "a length within ± 1000 mm",
    most: 1000.0,
};

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Time,
    Angle,
    Travel,
    Reading,
}

/// Every column that is understood: its name, what it holds, its unit in the program's own.
const KNOWN: &[(&str, Kind, f64)] = &[
    ("time_s", Kind::Time, 1.0),
    ("time_ms", Kind::Time, 1e-3),
    ("angle_deg", Kind::Angle, 1.0),
    ("travel_mm", Kind::Travel, 1.0),
    ("travel_in", Kind::Travel, 25.4),
    ("travel_um", Kind::Travel, 1e-3),
    ("reading_mm", Kind::Reading, 1.0),
    ("reading_in", Kind::Reading, 25.4),
    ("reading_um", Kind::Reading, 1e-3),
];

const FORMS: &str = "the header is `time_s,angle_deg,reading_mm`; a linear trace has `travel_mm` \
     instead of `angle_deg`, and two instruments give `time_s,angle_deg` and `time_s,reading_mm`";

/// A numeric column of one file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    pub field: usize,
    pub name: &'static str,
    pub unit: f64,
    pub range: Range,
}

/// Where the columns of one file are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Header {
    pub time: Column,
    pub angle: Option<Column>,
    pub travel: Option<Column>,
    pub reading: Option<Column>,
    pub marks: Option<usize>,
    pub fields: usize,
}

impl Header {
    /// Understands the first line; also gives a warning for each column that is ignored.
    pub fn parse(fields: &[&str], file: &str) -> Result<(Self, Vec<String>)> {
        let mut found: [Option<Column>; 4] = [None; 4];
        let mut marks = None;
        let mut warnings = Vec::new();
        for (field, name) in fields.iter().enumerate() {
            if *name == "marks" {
                marks = Some(field);
            } else if let Some(&(name, kind, unit)) = KNOWN.iter().find(|known| known.0 == *name) {
                let range = match kind {
                    Kind::Time => TIME,
                    Kind::Angle => ANGLE,
                    Kind::Travel | Kind::Reading => LENGTH,
                };
                let column = Column {
                    field,
                    name,
                    unit,
                    range,
                };
                if let Some(first) = found[kind as usize].replace(column) {
                    let first = first.name;
                    let message = format!("read the columns `{first}` and `{name}`, expected one");
                    return Err(refused(file, message));
                }
            } else {
                let shown: String = name.chars().take(40).collect();
                warnings.push(format!(
                    "{file}: the column `{shown}` is not known and ignored"
                ));
            }
        }
        let [time, angle, travel, reading] = found;
        let shown: String = fields.join(",").chars().take(60).collect();
        let missing = |what: &str| refused(file, format!("read `{shown}`, expected {what}"));
        let time = time.ok_or_else(|| missing("a header with a column `time_s`"))?;
        if angle.is_some() && travel.is_some() {
            return Err(missing("`angle_deg` or `travel_mm`, not both"));
        }
        if travel.is_some() && reading.is_none() {
            return Err(missing("a column `reading_mm` beside `travel_mm`"));
        }
        if angle.is_none() && reading.is_none() {
            return Err(missing("a column `angle_deg`, `reading_mm` or both"));
        }
        let header = Self {
            time,
            angle,
            travel,
            reading,
            marks,
            fields: fields.len(),
        };
        Ok((header, warnings))
    }
}

fn refused(file: &str, message: String) -> Error {
    Error::new(Code::TraceHeader, message)
        .in_file(file)
        .at_line(1)
        .help(FORMS)
}
