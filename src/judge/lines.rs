//! Lines of a budget: what the indicator, the encoder and chance bring.

use super::bench::Bench;
use super::source::Source;
use super::standard::rectangular;
use super::{Input, Line, Spread};
use crate::fit::Fit;
use crate::quantity::{Angle, Length};

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

/// Waves of a land about its curve: what goes on from place to place of them, beyond what the
/// `indicator` may show of a land without any; mm.
///
/// A drop is the surface's own, and the curve runs through the middle of its waves. Of the variance
/// of residuals the part that a first-order autoregression carries over is theirs; as much of it as
/// the correlation of so many independent residuals comes to by chance is not counted.
pub(super) fn off_curve_line(fit: &Fit, indicator: f64) -> Line {
    let rho = fit.lag_correlation;
    let points = fit.effective_points * (1.0 + rho) / (1.0 - rho);
    let share = (rho - points.max(1.0).sqrt().recip()).max(0.0);
    let waves = fit.rms.mm().powi(2) * share;
    let beyond = (waves - indicator * indicator).max(0.0).sqrt();
    Line::departure(Input::OffCurve, beyond).apart()
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
}
