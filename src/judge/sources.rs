//! What is uncertain about the clamping, the stylus and the timing, and by how much.

use super::bench::Bench;
use super::clamped::clamped;
use super::drift::drift_source;
use super::source::{DIAMETER_TOLERANCE, LEVER_TOLERANCE, Source};
use super::standard::rectangular;
use super::{Input, Spread};
use crate::card::{Feature, Surface};
use crate::quantity::{Angle, Length, Time};
use crate::shape::{Clamping, EdgeRounding, Tip};
use crate::trace::Delay;

/// A stylus is trusted to this part of its radius when nothing else is stated (common practice,
/// no source).
const STYLUS_TOLERANCE: f64 = 0.01;

/// Everything that moves the clamping, at one feature.
pub(super) fn sources(
    bench: &Bench,
    feature: &Feature,
    stated: &Clamping,
    delay: &Delay,
) -> Vec<Source> {
    let mut sources = Vec::new();
    sources.extend(clamped(bench, feature, stated));
    if feature.surface == Surface::Radial {
        sources.extend(probe_offset(bench, stated));
        sources.extend(lobes(bench, stated));
    }
    sources.extend(stylus(stated));
    sources.extend(rounding(stated));
    sources.push(diameter(stated));
    sources.extend(lever(stated));
    sources.extend(scale(bench, stated));
    sources.extend(hysteresis(stated));
    sources.extend(timing(stated, delay));
    sources.extend(drift_source(&bench.gauge, stated));
    sources
}

fn probe_offset(bench: &Bench, stated: &Clamping) -> Option<Source> {
    let tolerance = bench.gauge.setup.probe_offset_tolerance;
    let step = rectangular(tolerance);
    (step > Length::ZERO).then(|| Source {
        input: Input::ProbeOffset,
        estimate: Some(stated.probe_offset.mm()),
        standard_uncertainty: step.mm(),
        spread: Spread::Rectangular,
        moved: Clamping {
            probe_offset: stated.probe_offset + step,
            ..*stated
        },
    })
}

/// Waves of the reference are the round's own, which say nothing of the feature, or the spindle's,
/// which moves the feature as well: their standard uncertainty is this share of them, so that 1.65
/// of it, the guard band, holds all of them.
const LOBES_SHARE: f64 = 0.61;

fn lobes(bench: &Bench, stated: &Clamping) -> Option<Source> {
    let swing = bench.lobes.swing();
    (!bench.lobes.is_none()).then(|| Source {
        input: Input::Lobes,
        estimate: Some(0.0),
        standard_uncertainty: swing.mm() * LOBES_SHARE,
        spread: Spread::Normal,
        moved: Clamping {
            lobes: bench.lobes.scaled(LOBES_SHARE),
            ..*stated
        },
    })
}

fn stylus(stated: &Clamping) -> Option<Source> {
    let size = stated.tip.size();
    let tolerance = size * STYLUS_TOLERANCE;
    let step = rectangular(tolerance);
    let tip = match stated.tip {
        Tip::Ball(radius) => Tip::Ball(radius + step),
        Tip::Flat(half_width) => Tip::Flat(half_width + step),
        Tip::Point => return None,
    };
    Some(Source {
        input: Input::Stylus,
        estimate: Some(size.mm()),
        standard_uncertainty: step.mm(),
        spread: Spread::Rectangular,
        moved: Clamping { tip, ..*stated },
    })
}

/// How round the edges are where their readings leave it open: what they leave of it is moved.
fn rounding(stated: &Clamping) -> Option<Source> {
    let usual = EdgeRounding::usual();
    matches!(stated.tip, Tip::Ball(_)).then(|| Source {
        input: Input::Rounding,
        estimate: Some(usual.radius),
        standard_uncertainty: usual.deviation,
        spread: Spread::Normal,
        moved: Clamping {
            rounder: stated.rounder + 1.0,
            ..*stated
        },
    })
}

fn diameter(stated: &Clamping) -> Source {
    let tolerance = stated.radius * 2.0 * DIAMETER_TOLERANCE;
    let step = rectangular(tolerance);
    Source {
        input: Input::Diameter,
        estimate: Some(stated.radius.mm() * 2.0),
        standard_uncertainty: step.mm(),
        spread: Spread::Rectangular,
        moved: Clamping {
            radius: stated.radius + step / 2.0,
            ..*stated
        },
    }
}

fn lever(stated: &Clamping) -> Option<Source> {
    // A plunger's own cosine error is of second order and far below the indicator's.
    if stated.lever_angle.rad() == 0.0 {
        return None;
    }
    let tolerance = crate::quantity::Angle::from_rad(LEVER_TOLERANCE);
    let step = rectangular(tolerance);
    Some(Source {
        input: Input::LeverAngle,
        estimate: Some(stated.lever_angle.deg()),
        standard_uncertainty: step.deg(),
        spread: Spread::Rectangular,
        moved: Clamping {
            lever_angle: stated.lever_angle + step,
            ..*stated
        },
    })
}

/// What a study of known steps left open of the indicator's scale: readings grow with it as they do
/// with the cosine of a lever's angle.
fn scale(bench: &Bench, stated: &Clamping) -> Option<Source> {
    let study = bench.gauge.studies.step?;
    let gain = study.correction(bench.gauge.indicator.max_error);
    let step = study.standard_uncertainty;
    let smaller = stated.lever_angle.rad().cos() * (1.0 - step);
    (step > 0.0).then(|| Source {
        input: Input::Scale,
        estimate: Some(gain.unwrap_or(1.0)),
        standard_uncertainty: step,
        spread: Spread::Normal,
        moved: Clamping {
            lever_angle: Angle::from_rad(smaller.acos()),
            ..*stated
        },
    })
}

fn hysteresis(stated: &Clamping) -> Option<Source> {
    let step = rectangular(stated.play);
    (step > Length::ZERO).then(|| Source {
        input: Input::Hysteresis,
        estimate: Some(stated.play.mm()),
        standard_uncertainty: step.mm(),
        spread: Spread::Rectangular,
        moved: Clamping {
            play: stated.play + step,
            ..*stated
        },
    })
}

fn timing(stated: &Clamping, delay: &Delay) -> Option<Source> {
    let step = delay.estimate.standard_uncertainty;
    (step > Time::ZERO).then(|| Source {
        input: Input::Delay,
        estimate: Some(delay.estimate.value.ms()),
        standard_uncertainty: step.ms(),
        spread: Spread::Normal,
        moved: Clamping {
            delay: stated.delay + step,
            ..*stated
        },
    })
}
