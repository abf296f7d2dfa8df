//! What is known of the gauge and of how the tool was held.

use super::lean::{Lean, Proof};
use super::standard::{DISC, indicator_error, rectangular};
use crate::card::{Encoder, Feature, GaugeCard, Indicator, Setup};
use crate::quantity::{Angle, Length, told};
use crate::shape::{Clamping, Covariance, Eccentricity, Lobes, RoundReading, Runout, along_axis};

/// Everything beside the trace that a figure depends on.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// The gauge card.
    pub gauge: GaugeCard,
    /// Where the tool's axis lies in the spindle at this feature.
    pub axis: Axis,
    /// Waves of the reference beside its eccentricity: its own form or the spindle's error.
    pub lobes: Lobes,
}

/// What is known of the tool's axis in the turning spindle, at one feature.
#[derive(Clone, Debug, PartialEq)]
pub enum Axis {
    /// From a reference trace on a round of the same clamping.
    Measured {
        /// Eccentricity at the feature; from one reference, that at the reference.
        at_feature: Eccentricity,
        /// How well that is known, but for what a lean makes of it from one reference to here.
        uncertainty: Covariance,
        /// From the one reference to here, towards the shank; nothing where the cards do not say, or
        /// where several references tell the lean.
        apart: Option<Length>,
        /// How far the axis leans against the spindle's.
        lean: Lean,
        /// What had to be taken for granted, a sentence each.
        assumptions: Vec<String>,
    },
    /// Only a bound is stated on the gauge card.
    Stated(Length),
    /// Nothing is known.
    Unknown,
}

/// References nearer to each other than this are at one place (chosen, no source).
const APART_LEAST: Length = Length::from_mm(1.0);

/// What reference traces, each with its distance from the tool's front, tell about the axis at a
/// feature; `None` when there are none.
///
/// Two or more at different distances give the lean of the axis as well; of one reference the lean is
/// what the gauge card bounds, or not known.
pub fn axis_from_references(
    references: &[(Option<Length>, Runout)],
    setup: &Setup,
    z: Option<Length>,
) -> Option<Axis> {
    let known: Vec<(Length, Runout)> = references
        .iter()
        .filter_map(|(at, runout)| Some(((*at)?, runout.clone())))
        .collect();
    let leaning = z.and_then(|z| along_several(&known, z));
    leaning.or_else(|| nearest_reference(references, setup, z))
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
fn along_several(planes: &[(Length, Runout)], z: Length) -> Option<Axis> {
    let step = Length::from_mm(1.0);
    let nearest = planes.iter().map(|(at, _)| *at).reduce(Length::min)?;
    let farthest = planes.iter().map(|(at, _)| *at).reduce(Length::max)?;
    if farthest - nearest < APART_LEAST {
        return None;
    }
    let here = along_axis(planes, z)?;
    let further = along_axis(planes, z + step)?;
    // The lean between the two outermost planes is as uncertain as both of them together.
    let end = |at: Length| planes.iter().find(|(plane, _)| *plane == at);
    let ends = end(nearest)?.1.covariance.and(end(farthest)?.1.covariance);
    Some(Axis::Measured {
        at_feature: here.axis,
        uncertainty: here.covariance,
        apart: None,
        lean: Lean {
            growth: Eccentricity {
                x: further.axis.x - here.axis.x,
                y: further.axis.y - here.axis.y,
            },
            uncertainty: ends.scaled(step / (farthest - nearest)),
            proof: Proof::References,
        },
        assumptions: Vec::new(),
    })
}

/// The axis from the reference nearest to the feature, which tells nothing of a lean.
fn nearest_reference(
    references: &[(Option<Length>, Runout)],
    setup: &Setup,
    z: Option<Length>,
) -> Option<Axis> {
    let apart = |at: Option<Length>| Some(z? - at?);
    let far = |at: Option<Length>| apart(at).map_or(f64::INFINITY, |apart| apart.mm().abs());
    let (at, runout) = references
        .iter()
        .min_by(|a, b| far(a.0).total_cmp(&far(b.0)))?;
    let lean = Lean::of_card(setup);
    let assumptions = setup.lean.iter().map(|bound| {
        format!(
            "one reference trace gives no lean of the tool: its eccentricity is taken to grow by at most {} over {}, as the gauge card states of the holder; a test bar does not show a bent tool, a second reference at another distance would",
            told::um(bound.growth, 1),
            told::exact_mm(bound.over)
        )
    });
    Some(Axis::Measured {
        at_feature: runout.axis,
        uncertainty: runout.covariance,
        apart: apart(*at),
        lean,
        assumptions: assumptions.chain(lean.taken_next_to(apart(*at))).collect(),
    })
}

impl Bench {
    /// The clamping of a feature with everything at its best estimate.
    pub(super) fn clamping(&self, feature: &Feature) -> Clamping {
        let mut clamping = Clamping::stated(feature, &self.gauge);
        if let Axis::Measured {
            at_feature, lean, ..
        } = &self.axis
        {
            clamping.eccentricity = *at_feature;
            // A face square to a leaning axis stands up on the side that the axis leans to.
            clamping.swash = lean.growth.scaled(clamping.radius.mm());
        }
        clamping
    }

    /// Whether anything is known of the once-per-turn motion.
    pub(super) fn knows_runout(&self) -> bool {
        self.axis != Axis::Unknown
    }

    /// What of a swash is taken for granted: a bound on the gauge card, where no references tell it.
    pub fn stated_swash(&self) -> Option<String> {
        let bound = self.gauge.setup.swash?;
        (self.lean().proof != Proof::References).then(|| {
            format!(
                "the swash of a square face is taken as at most {}, as the gauge card states",
                told::um(bound, 1)
            )
        })
    }

    /// How far the tool leans, as far as references or the gauge card tell.
    pub(super) fn lean(&self) -> Lean {
        match &self.axis {
            Axis::Measured { lean, .. } => *lean,
            Axis::Stated(_) | Axis::Unknown => Lean::of_card(&self.gauge.setup),
        }
    }
}

/// Standard uncertainty of an angle from the encoder's steps: rectangular over one count.
pub(super) fn encoder_step(encoder: Encoder) -> Angle {
    Angle::TURN / f64::from(encoder.counts_per_turn.max(1)) / 12f64.sqrt()
}
