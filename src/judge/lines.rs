//! Lines of a budget: what the indicator, the encoder and chance bring.

use super::bench::Bench;
use super::source::{Source, rectangular};
use super::{Input, Line, Spread};
use crate::card::Indicator;
use crate::fit::Fit;
use crate::quantity::{Angle, Length};

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

/// Rectangular over one step of the indicator.
pub(super) fn resolution_step(resolution: Length) -> Length {
    resolution / 12f64.sqrt()
}

/// Standard uncertainty of a drop from the indicator's play, half of which is taken out: a drop
/// lacks nothing up to the whole hysteresis, rectangular.
pub(super) fn play(hysteresis: Length) -> Length {
    hysteresis / 12f64.sqrt()
}

/// What the indicator's error within its limits brings to a figure, in its unit.
pub(super) fn error_line(bench: &Bench, error: f64) -> Line {
    let limit = rectangular(bench.gauge.indicator.max_error);
    Line::bringing(Input::IndicatorError, limit.mm(), error)
        .at(0.0)
        .spread(Spread::Path)
}

/// What the indicator brings to a figure, in its unit: `error` from its error within limits, and
/// the `steps` left of its readings, by which the figure moves `per_mm`.
pub(super) fn indicator_lines(bench: &Bench, error: f64, steps: Length, per_mm: f64) -> [Line; 2] {
    let step = bench.gauge.indicator.resolution;
    [
        error_line(bench, error),
        Line::of(Input::Resolution, steps.mm(), per_mm).at(step.mm()),
    ]
}

/// The highest and the lowest of several edges lie further apart by chance than any two of them:
/// `n` edges of one true height and scatter `each` spread by `d2(n)` times it on average. Where
/// they truly differ by much more, as `value` then shows, only the equal ones among them add to it.
pub(super) fn range_line(edges: usize, each: f64, value: f64) -> Line {
    let more = each * (mean_range(edges) - mean_range(2)).max(0.0);
    let left = more * (-(value / (4.0 * each.max(1e-12))).powi(2)).exp().max(0.5);
    Line::departure(Input::ExtremeEdges, rectangular(left)).spread(Spread::Rectangular)
}

/// Mean range of `n` values from a normal distribution, in standard deviations: the control chart
/// constant d2 (ISO 7870-2; from memory, checked by simulation in the tests), interpolated.
fn mean_range(n: usize) -> f64 {
    const D2: [(f64, f64); 9] = [
        (1.0, 0.0),
        (2.0, 1.128),
        (3.0, 1.693),
        (4.0, 2.059),
        (6.0, 2.534),
        (8.0, 2.847),
        (12.0, 3.258),
        (16.0, 3.532),
        (24.0, 3.895),
    ];
    let n = n as f64;
    let after = D2
        .iter()
        .position(|(at, _)| *at >= n)
        .unwrap_or(D2.len() - 1);
    let ((n1, d1), (n2, d2)) = (D2[after.saturating_sub(1)], D2[after]);
    if n2 > n1 {
        d1 + (d2 - d1) * ((n - n1) / (n2 - n1)).clamp(0.0, 1.0)
    } else {
        d2
    }
}

/// The encoder's steps, at a place where the figure changes by `per_deg` of its unit per degree.
pub(super) fn encoder_line(bench: &Bench, per_deg: f64, step_deg: f64) -> Line {
    let count = 360.0 / f64::from(bench.gauge.encoder.counts_per_turn);
    Line::of(Input::Encoder, step_deg, per_deg)
        .at(count)
        .spread(Spread::Rectangular)
}

/// Families that describe the land nearly as well as the chosen one and yet give another figure.
pub(super) fn family_line(deviation: f64) -> Line {
    Line::departure(Input::Family, deviation).spread(Spread::Odds)
}

/// An edge that stands further off where its curve begins than chance brings: what lies between is
/// not told, so that as much as was believed of it is left open.
pub(super) fn edge_apart_line(fit: &Fit, trust: Option<Length>) -> Line {
    let laid = fit.laid();
    let beyond = laid.drop_below_edge(Angle::ZERO, trust) - laid.curve.drop(Angle::ZERO);
    Line::departure(Input::EdgeApart, beyond.mm().abs()).apart()
}

/// A moved input: its contribution is the change that one standard uncertainty of it made.
pub(super) fn moved_line(source: &Source, change: Option<f64>) -> Line {
    // What cannot be had any more once the input is moved hangs on it nobody knows how far.
    let change = change.unwrap_or(f64::NAN);
    Line {
        estimate: source.estimate,
        spread: source.spread,
        ..Line::bringing(source.input, source.standard_uncertainty, change)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use rand::{Rng, SeedableRng};

    #[test]
    fn the_mean_range_is_that_of_normal_draws() {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(1);
        // Twelve uniform draws make a normal one, well enough for a range of few.
        let mut normal = || (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
        for n in [2, 3, 5, 12, 20, 24] {
            let rounds = 20_000;
            let mut sum = 0.0;
            for _ in 0..rounds {
                let draws: Vec<f64> = (0..n).map(|_| normal()).collect();
                let most = draws.iter().copied().fold(f64::MIN, f64::max);
                let least = draws.iter().copied().fold(f64::MAX, f64::min);
                sum += most - least;
            }
            let seen = sum / f64::from(rounds);
            let stated = mean_range(n);
            assert!((seen - stated).abs() < 0.06, "{n}: {seen}, stated {stated}");
        }
    }

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
