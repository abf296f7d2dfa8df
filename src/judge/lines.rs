//! Lines of a budget: what the indicator, the encoder and chance bring.

use super::Line;
use super::bench::Bench;
use super::source::Source;
use crate::card::Indicator;
use crate::quantity::Length;
use crate::trace::Merged;

/// Over this travel two errors of an indicator have little to do with each other. With it, errors
/// within the stated limit differ over a tenth, a half and a whole turn of a pointer about as much
/// as JIS B 7503:2011 allows in its columns for those travels.
const ERROR_TRAVEL: Length = Length::from_mm(0.25);

/// Standard uncertainty that the indicator's error within its limits gives to a figure which takes
/// each reading with a weight: `(travel, weight)`, weights in the figure's unit per mm.
///
/// The error is taken as one function of the travel that is rectangular within the limit at every
/// place and whose correlation falls off as `exp(-travel / 0.25 mm)`: what is the same at two
/// readings cancels in their difference.
pub(super) fn indicator_error(indicator: &Indicator, readings: &[(Length, f64)]) -> f64 {
    let mut readings = readings.to_vec();
    readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    // This correlation is that of a Markov process along the travel, so the double sum over all
    // pairs of readings is one walk along them.
    let (mut variance, mut carried) = (0.0, 0.0);
    let mut before: Option<Length> = None;
    for (travel, weight) in readings {
        if let Some(before) = before {
            carried *= (-((travel - before) / ERROR_TRAVEL)).exp();
        }
        variance += weight * (weight + 2.0 * carried);
        carried += weight;
        before = Some(travel);
    }
    let single = indicator.max_error.mm() / 3f64.sqrt();
    single * variance.max(0.0).sqrt()
}

/// The same for the difference of two readings that lie `travel` apart.
pub(super) fn error_of_difference(indicator: &Indicator, travel: Length) -> Length {
    Length::from_mm(indicator_error(
        indicator,
        &[(Length::ZERO, 1.0), (travel, -1.0)],
    ))
}

/// Rectangular over one step of the indicator.
pub(super) fn resolution_step(resolution: Length) -> Length {
    resolution / 12f64.sqrt()
}

/// Standard uncertainty from play: a drop read while turning the cutting way lacks up to the whole
/// hysteresis, since the plunger turns back at the edge; read both ways the mean lacks half of it.
pub(super) fn play(merged: &Merged, hysteresis: Length) -> Length {
    play_half_width(merged, hysteresis) / 3f64.sqrt()
}

fn play_half_width(merged: &Merged, hysteresis: Length) -> Length {
    if merged.hysteresis.is_some() {
        hysteresis / 2.0
    } else {
        hysteresis
    }
}

/// What the indicator brings to a figure, in its unit: `error` from its error within limits, and
/// steps and play on the edge's reading against the land's, by which it moves `per_mm`.
pub(super) fn indicator_lines(
    bench: &Bench,
    merged: &Merged,
    error: f64,
    per_mm: f64,
    unit: &str,
) -> Vec<Line> {
    let indicator = &bench.gauge.indicator;
    let step = resolution_step(indicator.resolution) * 2f64.sqrt();
    let play = play(merged, indicator.hysteresis);
    let line = |quantity, distribution, contribution: f64| Line {
        quantity,
        value: "0 µm".to_owned(),
        distribution,
        sensitivity: per_micrometre(per_mm, unit),
        contribution: contribution.abs(),
    };
    vec![
        Line {
            quantity: "indicator error",
            value: "0 µm".to_owned(),
            distribution: format!(
                "within ± {:.1} µm, correlated over {:.2} mm of travel",
                indicator.max_error.um(),
                ERROR_TRAVEL.mm()
            ),
            sensitivity: "by all readings that it uses".to_owned(),
            contribution: error.abs(),
        },
        line(
            "resolution",
            format!(
                "rectangular, two readings of {:.1} µm steps",
                indicator.resolution.um()
            ),
            step.mm() * per_mm,
        ),
        line(
            "hysteresis",
            format!(
                "rectangular ± {:.2} µm",
                play_half_width(merged, indicator.hysteresis).um()
            ),
            play.mm() * per_mm,
        ),
    ]
}

fn per_micrometre(per_mm: f64, unit: &str) -> String {
    if unit == "mm" {
        format!("{per_mm:.3} µm/µm")
    } else {
        format!("{:.4} {unit}/µm", per_mm / 1000.0)
    }
}

/// Chance: what differs from reading to reading and from pass to pass.
pub(super) fn scatter_line(of: &'static str, u: f64, unit: &str) -> Line {
    Line {
        quantity: of,
        value: "0".to_owned(),
        distribution: format!("normal, s = {}", in_unit(u, unit)),
        sensitivity: "1".to_owned(),
        contribution: u,
    }
}

/// The encoder's steps, at a place where the figure changes by `per_deg` of its unit per degree.
pub(super) fn encoder_line(bench: &Bench, per_deg: f64, step_deg: f64, unit: &str) -> Line {
    Line {
        quantity: "encoder resolution",
        value: format!(
            "{:.4}°",
            360.0 / f64::from(bench.gauge.encoder.counts_per_turn)
        ),
        distribution: format!("rectangular, s = {step_deg:.4}°"),
        sensitivity: if unit == "mm" {
            format!("{:.2} µm/°", per_deg * 1000.0)
        } else {
            format!("{per_deg:.3} {unit}/°")
        },
        contribution: (per_deg * step_deg).abs(),
    }
}

/// Families that describe the land nearly as well as the chosen one and yet give another figure:
/// rectangular over the farthest of them.
pub(super) fn curve_line(spread: f64, unit: &str) -> Line {
    Line {
        quantity: "choice of curve",
        value: "0".to_owned(),
        distribution: format!("rectangular ± {}", in_unit(spread, unit)),
        sensitivity: "1".to_owned(),
        contribution: spread.abs() / 3f64.sqrt(),
    }
}

/// A moved input: its contribution is the change that one standard uncertainty of it made.
pub(super) fn moved_line(source: &Source, change: Option<f64>, unit: &str) -> Line {
    let change = change.filter(|change| change.is_finite()).unwrap_or(0.0);
    Line {
        quantity: source.quantity,
        value: source.value.clone(),
        distribution: source.distribution.clone(),
        sensitivity: format!("{} for {}", signed(change, unit), source.step),
        contribution: change.abs(),
    }
}

fn in_unit(value: f64, unit: &str) -> String {
    if unit == "mm" {
        format!("{:.2} µm", value * 1000.0)
    } else {
        format!("{value:.4} {unit}")
    }
}

fn signed(value: f64, unit: &str) -> String {
    if unit == "mm" {
        format!("{:+.2} µm", value * 1000.0)
    } else {
        format!("{value:+.4} {unit}")
    }
}
