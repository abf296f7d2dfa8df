//! Standard uncertainties of what is known by its limits, and of an indicator within its own.

use crate::card::Indicator;
use crate::quantity::Length;

/// The standard deviation of a rectangular distribution over its half-width (JCGM 100, 4.3.7).
pub(super) fn rectangular<Q: std::ops::Div<f64, Output = Q>>(half_width: Q) -> Q {
    half_width / 3f64.sqrt()
}

/// A uniform distribution over a disc of radius 1 has this standard deviation along any diameter.
pub(super) const DISC: f64 = 0.5;

/// Rectangular over one step of the indicator.
pub(super) fn resolution_step(resolution: Length) -> Length {
    resolution / 12f64.sqrt()
}

/// Standard uncertainty of a drop from the indicator's play, half of which is taken out: a drop
/// lacks nothing up to the whole hysteresis, rectangular.
pub(super) fn play(hysteresis: Length) -> Length {
    hysteresis / 12f64.sqrt()
}

/// Over this travel two errors of an indicator have little to do with each other. With it, errors
/// within the stated limit differ over a tenth, a half and a whole turn of a pointer about as much
/// as JIS B 7503:2011 allows in its columns for those travels.
pub(super) const ERROR_TRAVEL: Length = Length::from_mm(0.25);

/// The travel over which what a rectangular error at one place says of the next falls off, near it.
///
/// A normal path that is carried over to the rectangular distribution is correlated less than it
/// was: by `6/pi asin(r/2)` for `r` (Pearson 1907), which falls from 1 by `2 sqrt(3) / pi` as fast.
const RECTANGULAR_TRAVEL: Length = Length::from_mm(0.25 / 1.1027);

/// Standard uncertainty that the indicator's error within its limits gives to a figure which takes
/// each reading with a weight: `(travel, weight)`, weights in the figure's unit per mm.
///
/// The error is taken as one function of the travel that is rectangular within the limit at every
/// place and whose correlation falls off as that of the trials does: what is the same at two
/// readings cancels in their difference.
pub(crate) fn indicator_error(indicator: &Indicator, readings: &[(Length, f64)]) -> f64 {
    let mut readings = readings.to_vec();
    readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    // This correlation is that of a Markov process along the travel, so the double sum over all
    // pairs of readings is one walk along them.
    let (mut variance, mut carried) = (0.0, 0.0);
    let mut before: Option<Length> = None;
    for (travel, weight) in readings {
        if let Some(before) = before {
            carried *= (-((travel - before) / RECTANGULAR_TRAVEL)).exp();
        }
        variance += weight * (weight + 2.0 * carried);
        carried += weight;
        before = Some(travel);
    }
    let single = rectangular(indicator.max_error).mm();
    single * variance.max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// What two readings of an indicator within ± half of its whole error may differ by over a
    /// travel, 95 times in 100, as a share of what the standard allows.
    fn share(whole_um: f64, travel_mm: f64, allowed_um: f64) -> f64 {
        let indicator = Indicator {
            resolution: Length::ZERO,
            travel: None,
            count: None,
            max_error: Length::from_um(whole_um / 2.0),
            hysteresis: Length::ZERO,
            lever_angle: crate::quantity::Angle::ZERO,
        };
        let two = [(Length::ZERO, -1.0), (Length::from_mm(travel_mm), 1.0)];
        let differs = Length::from_mm(indicator_error(&indicator, &two));
        1.96 * differs.um() / allowed_um
    }

    /// JIS B 7503:2011, limits of error of dial indicators; those of 0.01 mm a graduation with a
    /// bezel of 50 mm or more. Their pointer goes round once a millimetre (common practice, no
    /// source).
    #[test]
    fn errors_differ_over_a_part_of_a_turn_as_the_standard_allows() {
        let table = include_str!("../../tests/reference/dial_indicator_mpe_jis_b7503_2011.csv");
        let rows = table
            .lines()
            .filter_map(|line| line.strip_prefix(">=50,0.01,"));
        let mut compared = 0;
        for row in rows {
            let columns: Vec<&str> = row.split(',').collect();
            let number = |at: usize| -> f64 { columns[at].parse().unwrap() };
            let whole = number(6);
            for (travel, allowed) in [(0.1, number(3)), (0.5, number(4)), (1.0, number(5))] {
                let share = share(whole, travel, allowed);
                // A long range hides that its parts are better: there the model is on the safe side.
                let most = if whole <= 12.0 { 1.2 } else { f64::INFINITY };
                assert!((0.7..most).contains(&share), "{row}, {travel} mm: {share}");
                compared += 1;
            }
        }
        assert_eq!(compared, 24);
    }
}
