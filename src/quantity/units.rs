//! The unit that a person chose to see lengths in.

use super::Length;

/// The unit that lengths are shown in. Records stay in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Units {
    /// Millimetres.
    #[default]
    Metric,
    /// Inches.
    Inch,
}

impl Units {
    /// A value of a record as it is shown; `unit` is the record's.
    pub fn shown(self, value: f64, unit: &str) -> f64 {
        match (self, unit) {
            (Units::Inch, "mm") => Length::from_mm(value).inches(),
            _ => value,
        }
    }

    /// A length with its unit, to four decimals at the most: `0.25 mm`.
    pub fn plain(self, length: Length) -> String {
        let (value, sign) = match self {
            Units::Metric => (length.mm(), "mm"),
            Units::Inch => (length.inches(), "in"),
        };
        let text = format!("{value:.4}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        format!("{text} {sign}")
    }

    /// The sign of the unit that a record's unit is shown in.
    pub fn sign(self, unit: &str) -> &str {
        match (self, unit) {
            (Units::Inch, "mm") => "in",
            (_, "deg") => "°",
            _ => unit,
        }
    }
}
