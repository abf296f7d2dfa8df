//! How a person wants a result shown: in which unit, and as wide as the terminal.

use super::Out;
use crate::report::{self, TextStyle};
use clap::ValueEnum;

/// The unit that a person wants to see lengths in.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum Units {
    /// Millimetres and micrometres
    Mm,
    /// Inches
    In,
}

impl From<Units> for report::Units {
    fn from(units: Units) -> Self {
        match units {
            Units::Mm => report::Units::Metric,
            Units::In => report::Units::Inch,
        }
    }
}

/// How text is set on this stdout.
pub(super) fn style(out: &Out) -> TextStyle {
    let usual = TextStyle::default();
    TextStyle {
        colour: out.dressed(),
        // A paragraph narrower than this reads worse than one that the terminal wraps.
        columns: out
            .columns()
            .unwrap_or(usual.columns)
            .clamp(40, usual.columns),
        ..usual
    }
}
