//! How far the tool's axis leans against the spindle's, how that is known, and what it leaves open.

use super::decide::USUAL_GUARD;
use super::{Input, Line};
use crate::card::{LeanBound, Setup};
use crate::quantity::{Angle, Length, told};
use crate::shape::{Covariance, Eccentricity};

/// The lean of a tool's axis, as the growth of its eccentricity along the tool.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lean {
    /// Growth over a millimetre towards the shank, at its best estimate.
    pub growth: Eccentricity,
    /// How well that is known.
    pub uncertainty: Covariance,
    /// What says so.
    pub proof: Proof,
}

/// What the knowledge of a lean rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Proof {
    /// Two or more references at different distances.
    References,
    /// A bound on the gauge card.
    Card,
    /// Nothing: only what nobody could overlook is ruled out.
    Nothing,
}

/// A tool that leans by more than this wobbles by a millimetre a decimetre from where it is held, which
/// nobody overlooks who turns it by hand. Less than that a chip under a collet, a worn chuck or a bent
/// shank brings, however true the tool runs at the holder's mouth (common practice, no source).
const UNPROVEN: f64 = 0.5 / 100.0;

/// The same as a card would state it.
pub(super) const UNPROVEN_BOUND: LeanBound = LeanBound {
    growth: Length::from_mm(UNPROVEN * 100.0),
    over: Length::from_mm(100.0),
};

/// The standard uncertainty that a bound on a lean stands for, along any one direction, as a part of
/// it: the usual guard band of 1.645 of them is then the bound itself. Of a lean that lies anywhere
/// within the bound it would be a half, and of one that is always as large as it, which is what the
/// same holder does to every tool, 0.71.
pub(super) const OF_BOUND: f64 = 1.0 / USUAL_GUARD;

/// A feature and a reference whose distance is not on the cards may lie so far apart: few tools that
/// are ground by hand are longer (common practice, no source).
pub(super) const UNSTATED_DISTANCE: Length = Length::from_mm(200.0);

/// Over so short a length a lean of as much as nobody overlooks counts as a bound like any other: a
/// chip or a worn collet moves the tool there by no more than that (common practice, no source).
pub(super) const NEXT_TO: Length = Length::from_mm(5.0);

/// What an unproven lean is in a budget.
pub(super) const NOT_KNOWN: [Input; 2] = [Input::UnknownLean, Input::UnknownLeanAcross];

impl Lean {
    /// As the gauge card bounds it; where it does not, as far as nobody would overlook.
    pub(super) fn of_card(setup: &Setup) -> Self {
        let (slope, proof) = match setup.lean {
            Some(bound) => (bound.slope(), Proof::Card),
            None => (UNPROVEN, Proof::Nothing),
        };
        Self {
            growth: Eccentricity::default(),
            uncertainty: Covariance::alike(Length::from_mm(slope * OF_BOUND)),
            proof,
        }
    }

    /// What is taken for granted of a lean that nothing tells, over a length so short that its doubt is
    /// in the budget.
    pub(super) fn taken_next_to(&self, apart: Option<Length>) -> Option<String> {
        let near = apart.filter(|apart| apart.abs() <= NEXT_TO)?;
        (self.proof == Proof::Nothing).then(|| {
            format!(
                "over the {} from its one reference the tool is taken to lean by no more than {}, which nobody overlooks",
                told::mm(near.abs(), 1),
                bound_shown(UNPROVEN_BOUND))
        })
    }

    /// What it makes of the eccentricity over a length.
    pub(super) fn over(&self, length: Length) -> Covariance {
        self.uncertainty.scaled(length.mm())
    }

    /// Standard uncertainty of the axis' direction, whichever way is known least.
    pub(super) fn angle_uncertainty(&self) -> Angle {
        Angle::from_rad(self.uncertainty.largest().mm())
    }

    /// What it brings to an angle that is off by `each`.
    pub(super) fn line(&self, each: Angle) -> Line {
        /// A lean of a micrometre a metre, in degrees.
        const PER_UM_A_METRE: f64 = 1e-6 * 180.0 / std::f64::consts::PI;
        let input = match self.proof {
            Proof::References | Proof::Card => Input::Lean,
            Proof::Nothing => Input::UnknownLean,
        };
        Line::of(input, each.rad() * 1e6, PER_UM_A_METRE).at(0.0)
    }

    /// The lean itself.
    pub(super) fn angle(&self) -> Angle {
        Angle::from_rad(self.growth.size().mm())
    }
}

/// A bound as it is stated: so much over so much.
pub(super) fn bound_shown(bound: LeanBound) -> String {
    let (growth, over) = (told::exact_mm(bound.growth), told::exact_mm(bound.over));
    format!("{growth} over {over}")
}
