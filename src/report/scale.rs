//! Round numbers for axes and for how much relief is exaggerated.

/// Characters that a number beside an axis may have.
const LONGEST: usize = 6;

/// Places for at most `most` marks between two values, a round step apart, with their labels.
pub(super) fn ticks(range: [f64; 2], most: usize) -> Vec<(f64, String)> {
    let span = range[1] - range[0];
    if !(span.is_finite() && span > 0.0) || most == 0 {
        return Vec::new();
    }
    let step = round_up(span / most as f64);
    let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
    // An end that misses its mark by the last digit of a division has it.
    let first = (range[0] / step - 1e-9).ceil() as i64;
    let last = (range[1] / step + 1e-9).floor() as i64;
    let tick = |number: i64| {
        let value = number as f64 * step;
        let plain = format!("{value:.decimals$}");
        let short = plain.len() <= LONGEST;
        (value, if short { plain } else { format!("{value:.0e}") })
    };
    // Far from 0 the step is lost in the last digit, and marks would have no end.
    (first..=last).take(most + 2).map(tick).collect()
}

/// The next of 1, 2, 5 times a power of ten that is not less.
fn round_up(value: f64) -> f64 {
    let power = 10f64.powf(value.log10().floor());
    let steps = [1.0, 2.0, 5.0].map(|step| step * power);
    // A step may miss by the last digit of a division.
    let enough = |step: &f64| *step >= value * (1.0 - 1e-9);
    steps.into_iter().find(enough).unwrap_or(10.0 * power)
}

/// The greatest of 1, 2, 5, 10, 20 … 1000 that is not more.
pub(super) fn exaggeration(most: f64) -> f64 {
    let factors = [1000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0];
    factors
        .into_iter()
        .find(|factor| *factor <= most)
        .unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(range: [f64; 2], most: usize, expected: &[&str]) {
        let labels: Vec<String> = ticks(range, most)
            .into_iter()
            .map(|(_, label)| label)
            .collect();
        assert_eq!(labels, expected);
    }

    #[test]
    fn ticks_are_round_and_no_more_than_asked_for() {
        check([0.0, 58.0], 4, &["0", "20", "40"]);
        check([0.0, 0.3], 3, &["0.0", "0.1", "0.2", "0.3"]);
        check([-0.01, 0.0131], 4, &["-0.01", "0.00", "0.01"]);
        check([0.0, f64::NAN], 4, &[]);
        check([1.0, 1.0], 4, &[]);
    }

    #[test]
    fn exaggeration_is_a_round_number() {
        assert_eq!(exaggeration(37.0), 20.0);
        assert_eq!(exaggeration(0.3), 1.0);
        assert_eq!(exaggeration(1e9), 1000.0);
    }
}
