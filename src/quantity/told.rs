//! Lengths in a text, kept as numbers until it is known in which unit the text is told.
//!
//! A stage that says "stands 8.2 µm higher" does not know who reads it. It writes [`um`] into its
//! text, which leaves a mark with the number; [`read`] turns the marks into micrometres and says
//! where each stands, so that whoever shows the text can put inches there.

use super::{Length, decimals_for};
use std::fmt;

/// A length in a text.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    mm: f64,
    /// What it is rounded to; nothing where it is exact.
    step_mm: Option<f64>,
    form: Form,
}

/// How a length reads in metric texts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Millimetres,
    Micrometres,
    /// Micrometres of which the unit follows with the next length.
    Bare,
}

/// Marks stand between two control characters that no text has.
const OPEN: char = '\u{2}';
const CLOSE: char = '\u{3}';

/// `8.2 µm`, with so many decimals.
pub fn um(length: Length, decimals: i32) -> Told {
    Told {
        mm: length.mm(),
        step_mm: Some(10f64.powi(-decimals - 3)),
        form: Form::Micrometres,
    }
}

/// `0.250 mm`, with so many decimals.
pub fn mm(length: Length, decimals: i32) -> Told {
    Told {
        mm: length.mm(),
        step_mm: Some(10f64.powi(-decimals)),
        form: Form::Millimetres,
    }
}

/// `20 mm`, as it was stated.
pub fn exact_mm(length: Length) -> Told {
    Told {
        mm: length.mm(),
        step_mm: None,
        form: Form::Millimetres,
    }
}

/// `20 µm`, as it was stated.
pub fn exact_um(length: Length) -> Told {
    Told {
        form: Form::Micrometres,
        ..exact_mm(length)
    }
}

/// `8.2 µm`, to two digits of an uncertainty.
pub fn rounded_um(length: Length, uncertainty: Length) -> Told {
    let decimals = decimals_for(uncertainty.um().abs());
    um(length, i32::try_from(decimals).unwrap_or(0))
}

/// `8.2 ± 1.1 µm`.
pub fn with_uncertainty_um(length: Length, uncertainty: Length) -> String {
    let value = Told {
        form: Form::Bare,
        ..rounded_um(length, uncertainty)
    };
    format!("{value} ± {}", rounded_um(uncertainty, uncertainty))
}

/// A length in a text that was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Where it begins in the text, in bytes.
    pub from: usize,
    /// Where it ends.
    pub to: usize,
    /// The length.
    pub mm: f64,
    /// What it is rounded to, 0 where it is exact.
    pub step_mm: f64,
    /// Whether its unit stands with it.
    pub with_unit: bool,
}

impl Place {
    /// The length in inches, to as many digits as it has in the text.
    pub fn in_inches(&self) -> String {
        let inches = Length::from_mm(self.mm).inches();
        let unit = if self.with_unit { " in" } else { "" };
        if self.step_mm > 0.0 {
            let decimals = (-Length::from_mm(self.step_mm).inches().log10()).ceil();
            return format!("{}{unit}", plain(inches, decimals.clamp(0.0, 9.0) as usize));
        }
        // As many as a stated length needs.
        let text = plain(inches, 6);
        format!("{}{unit}", text.trim_end_matches('0').trim_end_matches('.'))
    }
}

/// The text in metric units, and where its lengths stand.
pub fn read(marked: &str) -> (String, Vec<Place>) {
    let mut text = String::with_capacity(marked.len());
    let mut places = Vec::new();
    let mut rest = marked;
    while let Some((before, marked)) = rest.split_once(OPEN) {
        text.push_str(before);
        let Some((mark, after)) = marked.split_once(CLOSE) else {
            rest = marked;
            continue;
        };
        rest = after;
        if let Some(told) = Told::from_mark(mark) {
            let from = text.len();
            text.push_str(&told.metric());
            places.push(Place {
                from,
                to: text.len(),
                mm: told.mm,
                step_mm: told.step_mm.unwrap_or(0.0),
                with_unit: told.form != Form::Bare,
            });
        }
    }
    text.push_str(rest);
    (text, places)
}

impl Told {
    fn metric(&self) -> String {
        let (value, unit, per_mm) = match self.form {
            Form::Millimetres => (self.mm, " mm", 1.0),
            Form::Micrometres => (self.mm * 1000.0, " µm", 1000.0),
            Form::Bare => (self.mm * 1000.0, "", 1000.0),
        };
        match self.step_mm {
            Some(step) => {
                let decimals = (-(step * per_mm).log10()).round().clamp(0.0, 9.0);
                format!("{}{unit}", plain(value, decimals as usize))
            }
            // What was stated in mm or inches has a few digits, and arithmetic leaves more.
            None => {
                let text = plain(value, 6);
                let text = match text.contains('.') {
                    true => text.trim_end_matches('0').trim_end_matches('.'),
                    false => &text,
                };
                format!("{text}{unit}")
            }
        }
    }

    fn from_mark(mark: &str) -> Option<Self> {
        let mut parts = mark.split('|');
        let form = match parts.next()? {
            "mm" => Form::Millimetres,
            "um" => Form::Micrometres,
            _ => Form::Bare,
        };
        let mm = parts.next()?.parse().ok()?;
        let step_mm = parts.next()?.parse().ok();
        Some(Self { mm, step_mm, form })
    }
}

impl fmt::Display for Told {
    /// Leaves the mark that [`read`] reads.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let form = match self.form {
            Form::Millimetres => "mm",
            Form::Micrometres => "um",
            Form::Bare => "bare",
        };
        write!(f, "{OPEN}{form}|{}|", self.mm)?;
        if let Some(step) = self.step_mm {
            write!(f, "{step}")?;
        }
        write!(f, "{CLOSE}")
    }
}

/// A number with so many decimals and no minus before a rounded nothing.
fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(marked: &str, metric: &str, inches: &str) {
        let (text, places) = read(marked);
        assert_eq!(text, metric);
        let mut told = text;
        for place in places.iter().rev() {
            told.replace_range(place.from..place.to, &place.in_inches());
        }
        assert_eq!(told, inches);
    }

    const fn of_um(value: f64) -> Length {
        Length::from_mm(value / 1000.0)
    }

    #[test]
    fn a_text_is_told_in_the_unit_that_a_person_chose() {
        check(
            &format!("stands {} higher", um(of_um(8.24), 1)),
            "stands 8.2 µm higher",
            "stands 0.000324 in higher",
        );
        check(
            &format!("a land of {}", mm(Length::from_mm(2.5), 2)),
            "a land of 2.50 mm",
            "a land of 0.0984 in",
        );
        // What a card states in inches comes back as it was stated.
        check(
            &format!("at {}", exact_um(Length::from_in(0.0008))),
            "at 20.32 µm",
            "at 0.0008 in",
        );
        check(
            &format!("{} or 3 mm", exact_mm(Length::from_mm(20.0))),
            "20 mm or 3 mm",
            "0.787402 in or 3 mm",
        );
        check(
            &with_uncertainty_um(of_um(17.6), of_um(5.8)),
            "17.6 ± 5.8 µm",
            "0.000693 ± 0.000228 in",
        );
        check(&format!("{}", um(of_um(-0.01), 1)), "0.0 µm", "0.000000 in");
    }

    #[test]
    fn a_text_without_lengths_stays_as_it_is() {
        check(
            "40 % of it, 6 … 9°",
            "40 % of it, 6 … 9°",
            "40 % of it, 6 … 9°",
        );
    }
}
