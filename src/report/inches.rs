//! A record's sentences with their lengths in inches. The record itself stays metric.

use super::figures::trimmed;
use crate::quantity::{Length, Units};
use crate::record::Record;
use regex::{Captures, Regex};
use std::borrow::Cow;
use std::sync::LazyLock;

impl Units {
    /// The record as it is told in these units: what people wrote and what is read by programs
    /// stays as it is.
    pub fn told(self, record: &Record) -> Cow<'_, Record> {
        if self == Units::Metric {
            return Cow::Borrowed(record);
        }
        let mut record = record.clone();
        let figures = record.characteristics.iter_mut();
        let figures =
            figures.flat_map(|figure| [&mut figure.why].into_iter().chain(&mut figure.remedy));
        let about = &mut record.about;
        let whole = about.gauge.iter_mut().chain(&mut about.assumptions);
        let whole = whole.chain(&mut about.history).chain(&mut record.warnings);
        let doubts = record
            .doubts
            .iter_mut()
            .flat_map(|d| [&mut d.seen, &mut d.cure]);
        for sentence in figures.chain(whole).chain(doubts) {
            *sentence = in_inches(sentence);
        }
        Cow::Owned(record)
    }
}

/// Numbers that share a unit, `12.3 ± 1.1 µm` or `0.045 … 0.075 mm`; what follows tells a ratio.
static LENGTHS: LazyLock<Option<Regex>> = LazyLock::new(|| {
    Regex::new(r"((?:[-+]?\d+(?:\.\d+)?(?: ± | … | to ))*[-+]?\d+(?:\.\d+)?) (mm|µm)\b(/[mµ]m)?")
        .ok()
});
static NUMBER: LazyLock<Option<Regex>> = LazyLock::new(|| Regex::new(r"\d+(\.\d+)?").ok());

/// A sentence with its lengths in inches. A ratio of two lengths is the same in any unit.
fn in_inches(sentence: &str) -> String {
    let (Some(lengths), Some(number)) = (LENGTHS.as_ref(), NUMBER.as_ref()) else {
        return sentence.to_owned();
    };
    let replaced = lengths.replace_all(sentence, |found: &Captures| {
        if found.get(3).is_some() {
            return found[0].to_owned();
        }
        let unit = match &found[2] {
            "µm" => Length::from_um(1.0),
            _ => Length::from_mm(1.0),
        };
        let rounded = found[1].contains('±');
        let inches = number.replace_all(&found[1], |one: &Captures| {
            let decimals = one.get(1).map_or(0, |fraction| fraction.len() - 1);
            converted(&one[0], decimals, unit, rounded)
        });
        format!("{inches} in")
    });
    replaced.into_owned()
}

/// One number: as many digits as it had where it is rounded to its uncertainty, else as many as a
/// stated length needs.
fn converted(number: &str, decimals: usize, unit: Length, rounded: bool) -> String {
    let value = number.parse().unwrap_or(f64::NAN) * unit.inches();
    if !rounded {
        return trimmed(value);
    }
    let step = unit.inches() * 0.1_f64.powi(decimals as i32);
    let decimals = -step.log10().floor();
    format!("{value:.0$}", decimals.clamp(0.0, 9.0) as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_told_in_inches_and_nothing_else_is() {
        #[track_caller]
        fn check(metric: &str, inches: &str) {
            assert_eq!(in_inches(metric), inches);
        }
        check(
            "17.6 ± 5.8 µm is within the guard band of 9.5 µm at the least allowed of 20.32 µm",
            "0.000693 ± 0.000228 in is within the guard band of 0.000374 in at the least allowed of 0.0008 in",
        );
        check(
            "would narrow the 95 % interval from ± 4.1 µm to ± 1.9 µm, enough",
            "would narrow the 95 % interval from ± 0.000161 in to ± 0.000075 in, enough",
        );
        check("a ball of radius 1 mm", "a ball of radius 0.03937 in");
        check("+1.23 µm for 0.029 mm", "+0.000048 in for 0.001142 in");
        check("0.045 … 0.075 mm", "0.001772 … 0.002953 in");
        check("23.85 µm/°", "0.000939 in/°");
        for same in [
            "1.000 µm/µm",
            "6 … 9°",
            "state `runout_mm`",
            "2 mmol",
            "40 %",
        ] {
            check(same, same);
        }
    }
}
