//! Trace files: a header, then a sample a row, oldest first.
//!
//! ```
//! use heelclear::trace::csv::{self, Rows};
//! let file = "time_s,angle_deg,reading_mm\n0.00,0.0,0.100\n0.01,0.5,0.0x9\n0.02,1.0,0.098\n";
//! let table = csv::read(file.as_bytes(), "traces/seat.csv").unwrap();
//! let Rows::Turning(samples) = &table.rows else { unreachable!() };
//! assert_eq!(samples.len(), 2); // one bad line never loses a trace
//! assert_eq!(
//!     table.bad[0].to_string(),
//!     "traces/seat.csv, line 3: read `0.0x9` as `reading_mm`, expected a number"
//! );
//! ```

mod dialect;
mod header;
mod order;
mod read;
mod write;

pub use dialect::{Plain, is_foreign, plain};
pub use header::{ANGLE, LENGTH, Range, TIME};
pub use read::read;
pub use write::{Columns, write, write_header, write_rows};

use crate::error::{Error, Result};
use crate::quantity::{Length, Time};
use crate::sample::{Height, Marks, Position, Sample};

/// What a trace file held.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// The good lines, oldest first, angles and times as they stood there.
    pub rows: Rows,
    /// The first few of the lines that could not be read.
    pub bad: Vec<Error>,
    /// How many lines could not be read.
    pub bad_lines: usize,
    /// What was seen that does no harm, a sentence each.
    pub warnings: Vec<String>,
    /// Why the rows are no trace, where time runs backwards in too many of them.
    pub disorder: Option<Error>,
}

impl Table {
    /// The table, where its rows stand in the order in which they were taken.
    ///
    /// # Errors
    /// `trace-order`.
    pub fn in_order(self) -> Result<Self> {
        match self.disorder {
            Some(disorder) => Err(disorder),
            None => Ok(self),
        }
    }
}

/// The rows of a trace file, by which columns it has.
#[derive(Clone, Debug, PartialEq)]
pub enum Rows {
    /// `time_s,angle_deg,reading_mm`
    Turning(Vec<Sample>),
    /// `time_s,travel_mm,reading_mm`
    Sliding(Vec<Slide>),
    /// `time_s,angle_deg`
    Positions(Vec<Position>),
    /// `time_s,reading_mm`
    Heights(Vec<Height>),
}

impl Rows {
    /// How many there are.
    pub fn len(&self) -> usize {
        match self {
            Rows::Turning(rows) => rows.len(),
            Rows::Sliding(rows) => rows.len(),
            Rows::Positions(rows) => rows.len(),
            Rows::Heights(rows) => rows.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// One sample of a trace taken over table travel instead of rotation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slide {
    /// Since the start of the trace.
    pub time: Time,
    /// Along the slide, as its scale counts.
    pub travel: Length,
    /// Height under the probe, growing as the plunger is pushed in.
    pub reading: Length,
    /// What was noticed about it.
    pub marks: Marks,
}
