//! How much a tool may lean in its clamping.

use super::reader::Reader;
use super::writer::Writer;
use crate::quantity::Length;

/// The most that the eccentricity of a clamped tool grows along it, whichever way it leans.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeanBound {
    /// Growth of the eccentricity, half of that of the indicator's swing.
    pub growth: Length,
    /// Over this length, above zero.
    pub over: Length,
}

impl LeanBound {
    /// The length over which a growth is stated when the card does not say.
    pub const OVER: Length = Length::from_mm(100.0);

    /// Growth per length.
    pub fn slope(self) -> f64 {
        self.growth / self.over
    }

    pub(super) fn read(table: &Reader<'_>) -> Option<Self> {
        let over = table.length("lean_over_mm");
        let growth = table.length("lean_mm");
        if over.is_some() && !table.has("lean_mm") {
            table.object(
                "lean_over_mm",
                "read `lean_over_mm` without `lean_mm`, expected both or neither",
                "add `lean_mm`, the growth of the eccentricity over that length",
            );
        }
        Some(Self {
            growth: growth?,
            over: over.unwrap_or(Self::OVER),
        })
    }

    pub(super) fn write(self, out: &mut Writer) {
        out.length("lean_mm", Some(self.growth));
        out.length("lean_over_mm", Some(self.over));
    }
}
