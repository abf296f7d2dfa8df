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
    /// Decimals in its metric unit and in inches; nothing where it is exact.
    decimals: Option<[i32; 2]>,
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
        decimals: Some([decimals, in_inches(decimals + 3)]),
        form: Form::Micrometres,
    }
}

/// `0.250 mm`, with so many decimals.
pub fn mm(length: Length, decimals: i32) -> Told {
    Told {
        mm: length.mm(),
        decimals: Some([decimals, in_inches(decimals)]),
        form: Form::Millimetres,
    }
}

/// Decimals of inches that tell no less than so many of millimetres.
fn in_inches(decimals_mm: i32) -> i32 {
    (f64::from(decimals_mm) - Length::from_mm(1.0).inches().log10()).ceil() as i32
}

/// `20 mm`, as it was stated.
pub fn exact_mm(length: Length) -> Told {
    Told {
        mm: length.mm(),
        decimals: None,
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
    let decimals = |u: f64| i32::try_from(decimals_for(u.abs())).unwrap_or(0);
    Told {
        mm: length.mm(),
        decimals: Some([decimals(uncertainty.um()), decimals(uncertainty.inches())]),
        form: Form::Micrometres,
    }
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
    /// Its decimals in inches; nothing where it is exact.
    pub inch_decimals: Option<i32>,
    /// Whether its unit stands with it.
    pub with_unit: bool,
}

impl Place {
    /// The length in inches, to as many digits as it has in the text.
    pub fn in_inches(&self) -> String {
        let inches = Length::from_mm(self.mm).inches();
        let unit = if self.with_unit { " in" } else { "" };
        if let Some(decimals) = self.inch_decimals {
            return format!("{}{unit}", plain(inches, decimals));
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
                inch_decimals: told.decimals.map(|[_, inches]| inches),
                with_unit: told.form != Form::Bare,
            });
        }
    }
    text.push_str(rest);
    (text, places)
}

impl Told {
    fn metric(&self) -> String {
        let (value, unit) = match self.form {
            Form::Millimetres => (self.mm, " mm"),
            Form::Micrometres => (self.mm * 1000.0, " µm"),
            Form::Bare => (self.mm * 1000.0, ""),
        };
        match self.decimals {
            Some([decimals, _]) => format!("{}{unit}", plain(value, decimals)),
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
        let mut decimals = parts.map(str::parse);
        let decimals = match (decimals.next(), decimals.next()) {
            (Some(Ok(metric)), Some(Ok(inches))) => Some([metric, inches]),
            _ => None,
        };
        Some(Self { mm, decimals, form })
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
        write!(f, "{OPEN}{form}|{}", self.mm)?;
        if let Some([metric, inches]) = self.decimals {
            write!(f, "|{metric}|{inches}")?;
        }
        write!(f, "{CLOSE}")
    }
}

/// A number with so many decimals and no minus before a rounded nothing.
fn plain(value: f64, decimals: i32) -> String {
    let decimals = decimals.clamp(0, 9) as usize;
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
            "0.00069 ± 0.00023 in",
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
