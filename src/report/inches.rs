//! A record's sentences with their lengths in inches. The record itself stays metric.

use crate::quantity::Units;
use crate::record::Record;
use std::borrow::Cow;

impl Units {
    /// The record as it is told in these units: what people wrote and what is read by programs
    /// stays as it is.
    pub fn told(self, record: &Record) -> Cow<'_, Record> {
        match self {
            Units::Metric => Cow::Borrowed(record),
            Units::Inch => Cow::Owned(record.told_in_inches()),
        }
    }
}
