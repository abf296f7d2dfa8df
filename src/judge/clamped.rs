//! What is uncertain about how the tool is clamped: off centre, askew, and what that does to a face.

use super::bench::{Axis, Bench};
use super::lean::{Lean, NEXT_TO, NOT_KNOWN, OF_BOUND, Proof, UNSTATED_DISTANCE};
use super::source::Source;
use super::standard::{DISC, rectangular};
use super::{Input, Spread};
use crate::card::{Feature, Surface};
use crate::quantity::Length;
use crate::shape::{Clamping, Covariance, Eccentricity, FaceFall};

const RUNOUT: [Input; 2] = [Input::Runout, Input::RunoutAcross];
const SWASH: [Input; 2] = [Input::Swash, Input::SwashAcross];
const LEAN: [Input; 2] = [Input::Lean, Input::LeanAcross];

/// Everything of the clamping that moves once a turn, at one feature.
pub(super) fn clamped(bench: &Bench, feature: &Feature, stated: &Clamping) -> Vec<Source> {
    let mut known = Known::of(bench);
    let mut sources = Vec::new();
    if feature.surface == Surface::Axial {
        let fall = FaceFall::of(feature);
        let swash = known.swash(bench, feature);
        // Off centre by what nobody knows over a face of an angle that nobody knows is a swash too:
        // to first order neither of them shows where both are taken as nothing.
        let both = known
            .eccentricity
            .map(|own| own.scaled(rectangular(fall.within)));
        let swash = swash.unwrap_or_default().and(both.unwrap_or_default());
        let moved = |step: Eccentricity| Clamping {
            swash: stated.swash.and(step),
            ..*stated
        };
        sources.extend(two_ways(SWASH, swash, stated.swash, moved));
        sources.extend(face(fall, stated));
    }
    if let Some(eccentricity) = known.eccentricity {
        let moved = |step: Eccentricity| Clamping {
            eccentricity: stated.eccentricity.and(step),
            ..*stated
        };
        sources.splice(
            0..0,
            two_ways(RUNOUT, eccentricity, stated.eccentricity, moved),
        );
    }
    sources.extend(known.lean.iter().flat_map(|lean| lean.sources(stated)));
    sources
}

/// What is known, with what is told by lines of their own.
struct Known {
    /// Of the axis' place at the feature; nothing where nothing is known.
    eccentricity: Option<Covariance>,
    /// A lean that moves what is not measured.
    lean: Option<Leaning>,
}

/// A lean about a reference, and all that it moves.
struct Leaning {
    lean: Lean,
    /// From the reference to the feature, with the sign of the growth; none where the place is known.
    arm: Length,
    /// Radius at which a face rises and falls with it; none for a radial surface.
    face: Length,
    inputs: [Input; 2],
}

impl Known {
    fn of(bench: &Bench) -> Self {
        match &bench.axis {
            Axis::Unknown => Self {
                eccentricity: None,
                lean: None,
            },
            Axis::Stated(bound) => Self {
                eccentricity: Some(Covariance::alike(*bound * DISC)),
                lean: None,
            },
            Axis::Measured {
                uncertainty,
                apart,
                lean,
                ..
            } => {
                let leaning = |inputs, apart: Length| Leaning {
                    lean: *lean,
                    arm: apart,
                    face: Length::ZERO,
                    inputs,
                };
                let alone = |eccentricity, lean| Self {
                    eccentricity: Some(eccentricity),
                    lean,
                };
                match (lean.proof, apart) {
                    (Proof::References, _) => alone(*uncertainty, None),
                    (Proof::Card, Some(apart)) => alone(*uncertainty, Some(leaning(LEAN, *apart))),
                    (Proof::Card, None) => {
                        alone(*uncertainty, Some(leaning(NOT_KNOWN, -UNSTATED_DISTANCE)))
                    }
                    (Proof::Nothing, apart) => {
                        let apart = apart.unwrap_or(-UNSTATED_DISTANCE);
                        let inputs = if apart.abs() <= NEXT_TO {
                            LEAN
                        } else {
                            NOT_KNOWN
                        };
                        alone(*uncertainty, Some(leaning(inputs, apart)))
                    }
                }
            }
        }
    }

    /// How well the swash of a face is known by itself; nothing where it goes with the lean.
    fn swash(&mut self, bench: &Bench, feature: &Feature) -> Option<Covariance> {
        let lean = bench.lean();
        let arm = feature.diameter / 2.0;
        if lean.proof == Proof::References {
            return Some(lean.over(arm));
        }
        if let Some(bound) = bench.gauge.setup.swash {
            return Some(Covariance::alike(bound * OF_BOUND));
        }
        let inputs = match lean.proof {
            Proof::References | Proof::Card => LEAN,
            Proof::Nothing => NOT_KNOWN,
        };
        let leaning = self.lean.get_or_insert(Leaning {
            lean,
            arm: Length::ZERO,
            face: arm,
            inputs,
        });
        leaning.face = arm;
        if lean.proof == Proof::Nothing {
            // A face swashes however near to it the reference lies.
            leaning.inputs = NOT_KNOWN;
        }
        None
    }
}

impl Leaning {
    fn sources(&self, stated: &Clamping) -> [Source; 2] {
        let moved = |growth: Eccentricity| Clamping {
            eccentricity: stated.eccentricity.and(growth.scaled(self.arm.mm())),
            swash: stated.swash.and(growth.scaled(self.face.mm())),
            ..*stated
        };
        let [one, across] = self.lean.uncertainty.half_axes();
        std::array::from_fn(|way| {
            let growth = [one, across][way];
            Source {
                input: self.inputs[way],
                estimate: Some(0.0),
                standard_uncertainty: growth.size().um() * 1000.0,
                spread: Spread::Normal,
                moved: moved(growth),
            }
        })
    }
}

/// A once-per-turn motion moved along both of its half-axes.
fn two_ways(
    inputs: [Input; 2],
    left: Covariance,
    now: Eccentricity,
    moved: impl Fn(Eccentricity) -> Clamping,
) -> Vec<Source> {
    let steps = inputs.into_iter().zip(left.half_axes());
    let steps = steps.filter(|(_, step)| step.size() > Length::ZERO);
    steps
        .map(|(input, step)| {
            let (sin, cos) = step.direction().rad().sin_cos();
            Source {
                input,
                estimate: Some((now.x * cos + now.y * sin).mm()),
                standard_uncertainty: step.size().mm(),
                spread: Spread::Normal,
                moved: moved(step),
            }
        })
        .collect()
}

/// What the face's angle does with the eccentricity at its best estimate.
fn face(known: FaceFall, stated: &Clamping) -> Option<Source> {
    let step = rectangular(known.within);
    (stated.eccentricity.size() > Length::ZERO).then_some(Source {
        input: Input::FaceAngle,
        estimate: Some(known.fall),
        standard_uncertainty: step,
        spread: Spread::Rectangular,
        moved: Clamping {
            face_fall: stated.face_fall + step,
            ..*stated
        },
    })
}
