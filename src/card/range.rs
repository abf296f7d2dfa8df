//! What a number in a card may be: declared once, used by checks, messages, tests and the manual.

use std::fmt;

/// The numbers that make sense, with their unit; what is not finite never does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The lower end.
    pub least: f64,
    /// The upper end.
    pub most: f64,
    /// Whether the ends themselves are outside.
    pub open: bool,
    /// The unit of both ends; empty for a count or a ratio.
    pub unit: &'static str,
}

impl Range {
    /// Both ends are inside.
    pub const fn from_to(least: f64, most: f64, unit: &'static str) -> Self {
        Self {
            least,
            most,
            open: false,
            unit,
        }
    }

    /// Both ends are outside.
    pub const fn between(least: f64, most: f64, unit: &'static str) -> Self {
        Self {
            least,
            most,
            open: true,
            unit,
        }
    }

    /// Whether a value lies in it.
    pub fn holds(&self, value: f64) -> bool {
        if self.open {
            self.least < value && value < self.most
        } else {
            self.least <= value && value <= self.most
        }
    }

    /// The same range in another unit, of which `size` in the old one make one.
    pub fn in_unit(&self, unit: &'static str, size: f64) -> Self {
        Self {
            least: self.least / size,
            most: self.most / size,
            unit,
            ..*self
        }
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (least, most) = (short(self.least), short(self.most));
        if least == most {
            write!(f, "that is {least}")?;
        } else if self.open {
            write!(f, "above {least} and below {most}")?;
        } else {
            write!(f, "from {least} to {most}")?;
        }
        if !self.unit.is_empty() {
            write!(f, " {}", self.unit)?;
        }
        Ok(())
    }
}

/// An end of a range as people write it: inches need not show all their digits.
fn short(value: f64) -> String {
    let rounded = (value * 1e4).round() / 1e4;
    rounded.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_open_range_leaves_its_ends_out() {
        let range = Range::between(0.0, 2000.0, "mm");
        assert!(range.holds(0.001) && !range.holds(0.0) && !range.holds(2000.0));
        assert_eq!(range.to_string(), "above 0 and below 2000 mm");
    }

    #[test]
    fn a_range_can_be_told_in_inches() {
        let range = Range::from_to(0.0, 254.0, "mm").in_unit("in", 25.4);
        assert_eq!(range.to_string(), "from 0 to 10 in");
    }

    #[test]
    fn what_is_not_finite_is_in_no_range() {
        let range = Range::from_to(0.0, 1.0, "");
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(!range.holds(value));
        }
    }
}
