//! What is known of the gauge and of how the tool was held.

use super::lines::indicator_error;
use super::source::rectangular;
use crate::card::{Encoder, Feature, GaugeCard, Indicator, Surface};
use crate::quantity::{Angle, Length};
use crate::shape::{Clamping, Covariance, Eccentricity, RoundReading, Runout, along_axis};

/// Everything beside the trace that a figure depends on.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// The gauge card.
    pub gauge: GaugeCard,
    /// Where the tool's axis lies in the spindle at this feature.
    pub axis: Axis,
}

/// What is known of the tool's axis in the turning spindle, at one feature.
#[derive(Clone, Debug, PartialEq)]
pub enum Axis {
    /// From a reference trace on a round of the same clamping.
    Measured {
        /// Eccentricity at the feature.
        at_feature: Eccentricity,
        /// How well that is known.
        uncertainty: Covariance,
        /// Swing of a square face over the turn, for axial surfaces.
        swash: Eccentricity,
        /// How well that is known.
        swash_uncertainty: Covariance,
        /// Lean of the axis against the spindle's, as a size.
        lean: Angle,
        /// Standard uncertainty of each of the lean's components.
        lean_uncertainty: Angle,
        /// What had to be taken for granted, a sentence each.
        assumptions: Vec<String>,
    },
    /// Only a bound is stated on the gauge card.
    Stated(Length),
    /// Nothing is known.
    Unknown,
}

/// Over this length a tool that is held off centre is taken to lean by as much again as it is off
/// centre, at the most, when only one reference trace was taken (common practice, no source).
const LEAN_LENGTH: Length = Length::from_mm(300.0);

/// Taken between a reference and a feature when the cards do not say how far apart they are.
const UNSTATED_DISTANCE: Length = Length::from_mm(50.0);

/// A uniform distribution over a disc of radius 1 has this standard deviation along any diameter.
pub(super) const DISC: f64 = 0.5;

/// What reference traces, each with its distance from the tool's front, tell about the axis at a
/// feature; `None` when there are none.
///
/// Two or more at different distances give the lean of the axis as well.
pub fn axis_from_references(
    references: &[(Option<Length>, Runout)],
    feature: &Feature,
    z: Option<Length>,
) -> Option<Axis> {
    let known: Vec<(Length, Runout)> = references
        .iter()
        .filter_map(|(at, runout)| Some(((*at)?, runout.clone())))
        .collect();
    let leaning = z.and_then(|z| along_several(&known, feature, z));
    leaning.or_else(|| one_reference(references, feature, z))
}

/// The runout, in what the indicator reads, with what the indicator leaves open of it beside the play
/// that was looked at.
///
/// Its error goes with the travel, and so is the same on both sides of where a round stands highest:
/// it reads as more or less swing, and says little across it as far as both sides were read. Of a
/// swing that is no larger than the play, little or nothing shows.
pub fn as_read(runout: Runout, indicator: &Indicator) -> Runout {
    let error = |weight: &dyn Fn(&RoundReading) -> f64| {
        let readings = runout.readings.iter();
        let weighed: Vec<(Length, f64)> = readings
            .map(|reading| (reading.travel, weight(reading)))
            .collect();
        indicator_error(indicator, &weighed).powi(2)
    };
    let (x, y) = (error(&|reading| reading.x), error(&|reading| reading.y));
    let both = error(&|reading| reading.x + reading.y);
    let size = runout.axis.size();
    let play = indicator.play();
    let hidden = if play < size { play / size } else { 1.0 };
    let covariance = runout
        .covariance
        .and(Covariance::of(x, (both - x - y) / 2.0, y))
        .and(Covariance::alike(
            rectangular(play) * DISC * hidden * hidden,
        ));
    Runout {
        covariance,
        ..runout
    }
}

/// The axis as the straight line through its places at two or more references.
fn along_several(planes: &[(Length, Runout)], feature: &Feature, z: Length) -> Option<Axis> {
    let step = Length::from_mm(1.0);
    let nearest = planes.iter().map(|(at, _)| *at).reduce(Length::min)?;
    let farthest = planes.iter().map(|(at, _)| *at).reduce(Length::max)?;
    if farthest - nearest < step {
        return None;
    }
    let here = along_axis(planes, z)?;
    let further = along_axis(planes, z + step)?;
    let arm = feature.diameter / 2.0;
    let leaning = Eccentricity {
        x: further.axis.x - here.axis.x,
        y: further.axis.y - here.axis.y,
    };
    // The lean between the two outermost planes is as uncertain as both of them together.
    let end = |at: Length| planes.iter().find(|(plane, _)| *plane == at);
    let ends = end(nearest)?.1.covariance.and(end(farthest)?.1.covariance);
    Some(Axis::Measured {
        at_feature: here.axis,
        uncertainty: here.covariance,
        // A face square to a leaning axis stands up on the side that the axis leans to.
        swash: Eccentricity {
            x: arm * (leaning.x / step),
            y: arm * (leaning.y / step),
        },
        swash_uncertainty: ends.scaled(arm / (farthest - nearest)),
        lean: Angle::from_rad(leaning.size() / step),
        lean_uncertainty: Angle::from_rad(ends.largest() / (farthest - nearest)),
        assumptions: Vec::new(),
    })
}

/// Standard uncertainty of the lean of a tool that is held off centre by this at the most.
pub(super) fn lean_of(off_centre: Length) -> Angle {
    Angle::from_rad(off_centre / LEAN_LENGTH * DISC)
}

/// The axis from one reference: parallel to the spindle's but for a lean that nothing rules out.
fn one_reference(
    references: &[(Option<Length>, Runout)],
    feature: &Feature,
    z: Option<Length>,
) -> Option<Axis> {
    let (at, runout) = references.first()?;
    let own = runout.covariance;
    let size = runout.axis.size() + own.largest() * 2.0;
    let apart = match (at, z) {
        (Some(at), Some(z)) => (*at - z).abs(),
        _ => UNSTATED_DISTANCE,
    };
    let lean = size / LEAN_LENGTH;
    let leaning = apart * lean * DISC;
    let swash = feature.diameter / 2.0 * lean * DISC;
    let assumption = format!(
        "one reference trace gives no lean of the tool: it is taken as at most {:.1} µm over 300 mm; a second reference at another distance would measure it",
        size.um()
    );
    Some(Axis::Measured {
        at_feature: runout.axis,
        uncertainty: own.and(Covariance::alike(leaning)),
        swash: Eccentricity::default(),
        swash_uncertainty: own.and(Covariance::alike(swash)),
        lean: Angle::ZERO,
        lean_uncertainty: lean_of(size),
        assumptions: vec![assumption],
    })
}

impl Bench {
    /// The clamping of a feature with everything at its best estimate.
    pub(super) fn clamping(&self, feature: &Feature) -> Clamping {
        let mut clamping = Clamping::stated(feature, &self.gauge);
        if let Axis::Measured {
            at_feature, swash, ..
        } = &self.axis
        {
            clamping.eccentricity = *at_feature;
            clamping.swash = *swash;
        }
        clamping
    }

    /// How well the once-per-turn motion is known; `None` when nothing is known of it.
    pub(super) fn runout_left(&self, surface: Surface) -> Option<Covariance> {
        match (&self.axis, surface) {
            (Axis::Measured { uncertainty, .. }, Surface::Radial) => Some(*uncertainty),
            (
                Axis::Measured {
                    swash_uncertainty, ..
                },
                Surface::Axial,
            ) => Some(*swash_uncertainty),
            (Axis::Stated(bound), _) => Some(Covariance::alike(*bound * DISC)),
            (Axis::Unknown, _) => None,
        }
    }
}

/// Standard uncertainty of an angle from the encoder's steps: rectangular over one count.
pub(super) fn encoder_step(encoder: Encoder) -> Angle {
    Angle::TURN / f64::from(encoder.counts_per_turn.max(1)) / 12f64.sqrt()
}
