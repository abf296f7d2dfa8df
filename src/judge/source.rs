//! What is uncertain about the clamping, the stylus and the timing, and by how much.

use super::Spread;
use super::bench::Bench;
use super::clamped::clamped;
use super::drift::drift_source;
use crate::card::{Feature, Surface};
use crate::quantity::{Angle, Length, Time};
use crate::shape::{Clamping, Tip};
use crate::trace::{Delay, DelaySource};

/// One input of the measurement model: how it spreads, and how to move it by one standard
/// uncertainty.
pub(super) struct Source {
    pub quantity: &'static str,
    pub value: String,
    pub distribution: String,
    /// The standard uncertainty as people read it.
    pub step: String,
    /// How it is drawn in a trial.
    pub spread: Spread,
    /// The clamping with this input one standard uncertainty up.
    pub moved: Clamping,
}

/// The standard deviation of a rectangular distribution over its half-width (JCGM 100, 4.3.7).
pub(super) fn rectangular<Q: std::ops::Div<f64, Output = Q>>(half_width: Q) -> Q {
    half_width / 3f64.sqrt()
}

/// A stylus is trusted to this part of its radius when nothing else is stated (common practice,
/// no source).
const STYLUS_TOLERANCE: f64 = 0.01;

/// The diameter of a reground tool may be off the card's by this part: it enters only as the lever
/// arm of the arc and as the curvature under the stylus.
pub(super) const DIAMETER_TOLERANCE: f64 = 0.005;

/// By how much the diameter of a reground tool may be off the card's.
pub fn diameter_tolerance(diameter: Length) -> Length {
    diameter * DIAMETER_TOLERANCE
}

/// A lever that is set by eye stands within this many radians of where it was meant (2°; common
/// practice, no source).
pub(super) const LEVER_TOLERANCE: f64 = 0.035;

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
        quantity: "probe offset",
        value: format!("{:.3} mm", stated.probe_offset.mm()),
        distribution: format!("rectangular ± {:.3} mm", tolerance.mm()),
        step: format!("{:.3} mm", step.mm()),
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
        quantity: "waves of the reference",
        value: format!("none of {:.2} µm", swing.um()),
        distribution: format!("normal, s = {LOBES_SHARE} of them"),
        step: format!("{:.2} µm", swing.um() * LOBES_SHARE),
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
        quantity: "stylus radius",
        value: format!("{:.3} mm", size.mm()),
        distribution: format!("rectangular ± {:.3} mm", tolerance.mm()),
        step: format!("{:.4} mm", step.mm()),
        spread: Spread::Rectangular,
        moved: Clamping { tip, ..*stated },
    })
}

fn diameter(stated: &Clamping) -> Source {
    let tolerance = stated.radius * 2.0 * DIAMETER_TOLERANCE;
    let step = rectangular(tolerance);
    Source {
        quantity: "diameter",
        value: format!("{:.3} mm", stated.radius.mm() * 2.0),
        distribution: format!("rectangular ± {:.3} mm", tolerance.mm()),
        step: format!("{:.4} mm", step.mm()),
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
        quantity: "lever angle",
        value: format!("{:.1}°", stated.lever_angle.deg()),
        distribution: format!("rectangular ± {:.1}°", tolerance.deg()),
        step: format!("{:.2}°", step.deg()),
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
        quantity: "scale of the indicator",
        value: format!("{:.4}", gain.unwrap_or(1.0)),
        distribution: format!("normal, s = {:.3} %, by study", step * 100.0),
        step: format!("{:.3} %", step * 100.0),
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
        quantity: "hysteresis",
        value: format!("{:.2} µm while coming out", stated.play.um()),
        distribution: format!("rectangular ± {:.2} µm", stated.play.um()),
        step: format!("{:.2} µm", step.um()),
        spread: Spread::Rectangular,
        moved: Clamping {
            play: stated.play + step,
            ..*stated
        },
    })
}

fn timing(stated: &Clamping, delay: &Delay) -> Option<Source> {
    let step = delay.estimate.standard_uncertainty;
    let how = match delay.source {
        DelaySource::Stated => "stated",
        DelaySource::OneClock => "one clock",
        DelaySource::Found => "found from reversals and changes of speed",
        DelaySource::Shown => "found from the trace of a feature",
        DelaySource::Unknown => "not known, bounded",
    };
    (step > Time::ZERO).then(|| Source {
        quantity: "delay",
        value: format!("{:.2} ms", delay.estimate.value.ms()),
        distribution: format!("normal, s = {:.2} ms ({how})", step.ms()),
        step: format!("{:.2} ms", step.ms()),
        spread: Spread::Normal,
        moved: Clamping {
            delay: stated.delay + step,
            ..*stated
        },
    })
}
