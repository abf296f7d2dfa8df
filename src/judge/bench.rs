//! What is known of the gauge and of how the tool was held.

use crate::card::{Encoder, Feature, GaugeCard, Surface};
use crate::quantity::{Angle, Length};
use crate::shape::{Clamping, Eccentricity, Runout};

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
        /// Standard uncertainty of each of its components.
        uncertainty: Length,
        /// Swing of a square face over the turn, for axial surfaces.
        swash: Eccentricity,
        /// Standard uncertainty of each of its components.
        swash_uncertainty: Length,
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
const DISC: f64 = 0.5;

/// What reference traces, each with its distance from the tool's front, tell about the axis at a
/// feature; `None` when there are none.
pub fn axis_from_references(
    references: &[(Option<Length>, Runout)],
    feature: &Feature,
    z: Option<Length>,
) -> Option<Axis> {
    let known: Vec<(Length, &Runout)> = references
        .iter()
        .filter_map(|(at, runout)| Some(((*at)?, runout)))
        .collect();
    match (widest_pair(&known), z) {
        (Some((near, far)), Some(z)) => Some(along_two(near, far, feature, z)),
        _ => one_reference(references, feature, z),
    }
}

/// The two references farthest apart, when any two differ in z.
fn widest_pair<'a>(
    known: &[(Length, &'a Runout)],
) -> Option<((Length, &'a Runout), (Length, &'a Runout))> {
    let near = known.iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
    let far = known.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    (far.0 - near.0 > Length::from_mm(1.0)).then_some((*near, *far))
}

/// The axis as the straight line through its places at two references.
fn along_two(
    (z1, near): (Length, &Runout),
    (z2, far): (Length, &Runout),
    feature: &Feature,
    z: Length,
) -> Axis {
    let share = (z - z1) / (z2 - z1);
    let line = |a: Length, b: Length| a + (b - a) * share;
    let (u1, u2) = (either(near), either(far));
    let lean = |a: Length, b: Length| (b - a) / (z2 - z1);
    let arm = feature.diameter / 2.0;
    Axis::Measured {
        at_feature: Eccentricity {
            x: line(near.x, far.x),
            y: line(near.y, far.y),
        },
        uncertainty: Length::from_mm((u1.mm() * (1.0 - share)).hypot(u2.mm() * share)),
        // A face square to a leaning axis stands up on the side that the axis leans to.
        swash: Eccentricity {
            x: arm * lean(near.x, far.x),
            y: arm * lean(near.y, far.y),
        },
        swash_uncertainty: arm * (u1.mm().hypot(u2.mm()) / (z2 - z1).mm()),
        assumptions: Vec::new(),
    }
}

/// The axis from one reference: parallel to the spindle's but for a lean that nothing rules out.
fn one_reference(
    references: &[(Option<Length>, Runout)],
    feature: &Feature,
    z: Option<Length>,
) -> Option<Axis> {
    let (at, runout) = references.first()?;
    let own = either(runout);
    let size = runout.eccentricity().value + own * 2.0;
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
        at_feature: Eccentricity {
            x: runout.x,
            y: runout.y,
        },
        uncertainty: Length::from_mm(own.mm().hypot(leaning.mm())),
        swash: Eccentricity::default(),
        swash_uncertainty: Length::from_mm(own.mm().hypot(swash.mm())),
        assumptions: vec![assumption],
    })
}

/// The larger standard uncertainty of the two components, taken for both.
fn either(runout: &Runout) -> Length {
    runout.x_uncertainty.max(runout.y_uncertainty)
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

    /// Standard uncertainty of each component of the once-per-turn motion that is left; `None`
    /// when nothing is known of it.
    pub(super) fn runout_left(&self, surface: Surface) -> Option<Length> {
        match (&self.axis, surface) {
            (Axis::Measured { uncertainty, .. }, Surface::Radial) => Some(*uncertainty),
            (
                Axis::Measured {
                    swash_uncertainty, ..
                },
                Surface::Axial,
            ) => Some(*swash_uncertainty),
            (Axis::Stated(bound), _) => Some(*bound * DISC),
            (Axis::Unknown, _) => None,
        }
    }
}

/// Standard uncertainty of an angle from the encoder's steps: rectangular over one count.
pub(super) fn encoder_step(encoder: Encoder) -> Angle {
    Angle::TURN / f64::from(encoder.counts_per_turn.max(1)) / 12f64.sqrt()
}
