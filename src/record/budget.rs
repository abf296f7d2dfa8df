//! A line of an uncertainty budget: its numbers, and how people read them.

use super::schema::{BudgetLine, BudgetNumbers};
use crate::judge::Line;
use crate::quantity::{Units, rounded};

/// A line of a figure in `unit`.
pub(super) fn line(line: &Line, unit: &str) -> BudgetLine {
    let mut told = BudgetLine {
        quantity: line.input.name().to_owned(),
        value: String::new(),
        distribution: String::new(),
        sensitivity: String::new(),
        contribution: line.contribution(),
        numbers: Some(BudgetNumbers {
            estimate: line.estimate,
            unit: line.input.unit().as_str(unit).to_owned(),
            standard_uncertainty: line.standard_uncertainty,
            spread: line.spread.as_str().to_owned(),
            sensitivity: line.sensitivity,
        }),
    };
    [told.value, told.distribution, told.sensitivity] = told.words(unit, Units::Metric);
    told
}

impl BudgetLine {
    /// Its estimate, its distribution and the characteristic's sensitivity to it, as people read
    /// them; `unit` is the characteristic's. A record without numbers keeps its own words.
    pub fn words(&self, unit: &str, units: Units) -> [String; 3] {
        match &self.numbers {
            Some(numbers) => numbers.words(unit, units),
            None => [
                self.value.clone(),
                self.distribution.clone(),
                self.sensitivity.clone(),
            ],
        }
    }
}

impl BudgetNumbers {
    fn words(&self, figure: &str, units: Units) -> [String; 3] {
        let amount = |value: f64, u: f64| self.amount(value, u, units);
        let u = self.standard_uncertainty;
        let half = |factor: f64| amount(u * factor, u * factor);
        let value = self
            .estimate
            .map_or("0".to_owned(), |value| amount(value, u));
        // The standard uncertainties of these are their half-widths over the root of 3 and over 2
        // (JCGM 100, 4.3.7).
        let root = 3f64.sqrt();
        let distribution = match self.spread.as_str() {
            "rectangular" => format!("rectangular ± {}", half(root)),
            "upwards" => format!("rectangular from 0 to {}", half(root)),
            "disc" => format!("within a disc of {}", half(2.0)),
            "path" => format!("within ± {}, alike at travels nearby", half(root)),
            "odds" => format!("families by their odds, s = {}", half(1.0)),
            "offset" => format!("the readings ask for {}", half(1.0)),
            _ => format!("normal, s = {}", half(1.0)),
        };
        let sensitivity = match self.spread.as_str() {
            // A departure of the characteristic itself has no estimate, and a sensitivity of 1.
            _ if self.estimate.is_none() && self.sensitivity == 1.0 => "1".to_owned(),
            "path" => "by all readings that it uses".to_owned(),
            _ => self.per(figure, units),
        };
        [value, distribution, sensitivity]
    }

    /// A value of what is uncertain, to the digits that `u` leaves of it.
    fn amount(&self, value: f64, u: f64, units: Units) -> String {
        /// Lengths below this are told in micrometres.
        const SMALL_MM: f64 = 0.1;
        let (scale, sign) = match (self.unit.as_str(), units) {
            ("mm", Units::Inch) => (Units::Inch.shown(1.0, "mm"), " in"),
            ("mm", Units::Metric) if value.abs().max(u) < SMALL_MM => (1000.0, " µm"),
            ("mm", Units::Metric) => (1.0, " mm"),
            ("deg", _) => (1.0, "°"),
            ("ms", _) => (1.0, " ms"),
            ("um/min", Units::Inch) => (Units::Inch.shown(0.001, "mm"), " in/min"),
            ("um/min", Units::Metric) => (1.0, " µm/min"),
            // A slope is the same in any unit.
            ("um/m", _) => (1.0, " µm/m"),
            _ => (1.0, ""),
        };
        format!("{}{sign}", rounded(value * scale, u * scale))
    }

    /// The sensitivity of a characteristic in `figure`.
    fn per(&self, figure: &str, units: Units) -> String {
        let inch = units == Units::Inch;
        let of_length = |metric: (f64, &'static str), inches: (f64, &'static str)| {
            if inch { inches } else { metric }
        };
        let per_inch = 1.0 / Units::Inch.shown(1.0, "mm");
        let (up, over) = match figure {
            "mm" => of_length((1000.0, "µm"), (Units::Inch.shown(1.0, "mm"), "in")),
            _ => (1.0, "°"),
        };
        let (down, under) = match self.unit.as_str() {
            // A ratio of two lengths is the same in any unit.
            "mm" if figure == "mm" => return signed(self.sensitivity, ""),
            "mm" => of_length((1000.0, "µm"), (1.0 / per_inch, "in")),
            "deg" => (1.0, "°"),
            "ms" => (1.0, "ms"),
            "um/min" => of_length(
                (1.0, "(µm/min)"),
                (Units::Inch.shown(0.001, "mm"), "(in/min)"),
            ),
            "um/m" => (1.0, "(µm/m)"),
            _ => (100.0, "%"),
        };
        signed(self.sensitivity * up / down, &format!(" {over}/{under}"))
    }
}

/// A number with its sign, to three digits.
fn signed(value: f64, unit: &str) -> String {
    let text = rounded(value, value.abs() / 10.0);
    let sign = if value > 0.0 { "+" } else { "" };
    format!("{sign}{text}{unit}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::{Input, Spread};

    #[track_caller]
    fn check(
        of: (Input, Option<f64>, f64, Spread, f64),
        figure: &str,
        units: Units,
        words: [&str; 3],
    ) {
        let (input, estimate, standard_uncertainty, spread, sensitivity) = of;
        let told = line(
            &Line {
                input,
                estimate,
                standard_uncertainty,
                spread,
                sensitivity,
                degrees_of_freedom: None,
                apart: false,
            },
            figure,
        );
        assert_eq!(told.words(figure, units), words);
        if units == Units::Metric {
            assert_eq!([told.value, told.distribution, told.sensitivity], words);
        }
    }

    #[test]
    fn a_line_is_told_in_the_units_that_a_person_chose() {
        let (mm, inch) = (Units::Metric, Units::Inch);
        let ball = (
            Input::Stylus,
            Some(1.0),
            0.005_773_5,
            Spread::Rectangular,
            0.050_1,
        );
        check(
            ball,
            "mm",
            mm,
            ["1.0000 mm", "rectangular ± 10 µm", "+0.0501"],
        );
        check(
            ball,
            "mm",
            inch,
            ["0.03937 in", "rectangular ± 0.00039 in", "+0.0501"],
        );
        check(
            ball,
            "deg",
            mm,
            ["1.0000 mm", "rectangular ± 10 µm", "+0.0000501 °/µm"],
        );
        let step = (
            Input::Encoder,
            Some(0.09),
            0.008_4,
            Spread::Rectangular,
            0.0155,
        );
        check(
            step,
            "mm",
            mm,
            ["0.0900°", "rectangular ± 0.015°", "+15.5 µm/°"],
        );
        check(
            step,
            "mm",
            inch,
            ["0.0900°", "rectangular ± 0.015°", "+0.000610 in/°"],
        );
        let lean = (Input::Lean, Some(0.0), 30.4, Spread::Normal, -2e-6);
        check(
            lean,
            "mm",
            mm,
            ["0 µm/m", "normal, s = 30 µm/m", "-0.00200 µm/(µm/m)"],
        );
        let chance = (Input::Readings, None, 0.000_467, Spread::Normal, 1.0);
        check(chance, "mm", mm, ["0", "normal, s = 0.47 µm", "1"]);
        check(chance, "mm", inch, ["0", "normal, s = 0.000018 in", "1"]);
        let error = (
            Input::IndicatorError,
            Some(0.0),
            0.002 / 3f64.sqrt(),
            Spread::Path,
            0.8,
        );
        check(
            error,
            "mm",
            mm,
            [
                "0.0 µm",
                "within ± 2.0 µm, alike at travels nearby",
                "by all readings that it uses",
            ],
        );
    }
}
