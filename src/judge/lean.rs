//! How far the tool's axis leans against the spindle's, how that is known, and what it leaves open.

use super::bench::{Axis, Bench};
use super::budget::Budget;
use super::decide::USUAL_GUARD;
use super::doubt::{Doubt, DoubtKind, Leaves};
use super::figures::Figure;
use super::{Input, Line};
use crate::card::{LeanBound, Name, Setup};
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
const UNPROVEN_BOUND: LeanBound = LeanBound {
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

/// What an unproven lean may do to a figure, as a part of its guard band, before it counts: with the
/// line that it has in the budget, a pass at the limit is then wrong no more often than it says.
const NEGLIGIBLE: f64 = 0.2;

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

/// What a budget says of an unproven lean: the most that it would do to the figure, and the standard
/// uncertainty without it. Nothing where no line is of one.
fn of_unproven(budget: &Budget) -> Option<(f64, f64)> {
    let (mut lean, mut other) = (0.0, 0.0);
    for line in budget.lines() {
        let square = line.contribution().powi(2);
        if NOT_KNOWN.contains(&line.input) {
            lean += square;
        } else {
            other += square;
        }
    }
    (lean > 0.0).then(|| (lean.sqrt() / OF_BOUND, other.sqrt()))
}

/// The doubt that an unproven lean leaves about figures: those that it could move by what is not
/// negligible beside their guard bands. Nothing where it touches none.
pub fn unproven_lean(figures: &[Figure], bench: &Bench) -> Option<Doubt> {
    lean_doubt(figures, bench, false)
}

/// The same, about every figure where the part is `lost` under such a lean: nothing that it does to a
/// figure is then known to be negligible.
pub(super) fn lean_doubt(figures: &[Figure], bench: &Bench, lost: bool) -> Option<Doubt> {
    let mut touched: Vec<(Name, f64)> = Vec::new();
    for figure in figures {
        let Some((most, other)) = figure.budget.as_ref().and_then(of_unproven) else {
            continue;
        };
        if most <= NEGLIGIBLE * USUAL_GUARD * other {
            continue;
        }
        match touched.iter_mut().find(|(name, _)| *name == figure.name) {
            Some((_, known)) => *known = known.max(most),
            None => touched.push((figure.name, most)),
        }
    }
    if touched.is_empty() && !lost {
        return None;
    }
    let mut moved: Vec<String> = touched
        .iter()
        .map(|(name, most)| format!("{} by {}", name.as_str(), shown(*name, *most)))
        .collect();
    if lost {
        touched.clear();
        moved = vec!["the tool so far that its lands are not found where they were".to_owned()];
    }
    Some(Doubt {
        kind: DoubtKind::LeanUnknown,
        tooth: None,
        touches: touched.iter().map(|(name, _)| *name).collect(),
        leaves: Leaves::NoPass,
        seen: format!(
            "how far the tool leans is not known: {}; a lean of {}, which a chip under a collet can bring, would move {}",
            why(bench),
            lean_shown(bench),
            moved.join(", ")
        ),
        cure: "take a second reference at another `z_mm`, or prove the holder once with a test bar (`heelclear study lean --keep`), which keeps `lean_mm` on the gauge card".to_owned(),
    })
}

/// Why nothing tells the lean.
fn why(bench: &Bench) -> String {
    let card = match bench.gauge.setup.lean {
        Some(_) => "",
        None => " and the gauge card states no `lean_mm`",
    };
    match &bench.axis {
        Axis::Measured {
            apart: Some(apart), ..
        } => format!(
            "the one reference lies {} from here{card}",
            told::mm(apart.abs(), 1)
        ),
        Axis::Measured { apart: None, .. } => {
            format!("no `z_mm` says how far from here the one reference lies{card}")
        }
        Axis::Stated(_) | Axis::Unknown => {
            format!("there are no two references{card}")
        }
    }
}

fn lean_shown(bench: &Bench) -> String {
    bound_shown(bench.gauge.setup.lean.unwrap_or(UNPROVEN_BOUND))
}

fn bound_shown(bound: LeanBound) -> String {
    let (growth, over) = (told::exact_mm(bound.growth), told::exact_mm(bound.over));
    format!("{growth} over {over}")
}

fn shown(name: Name, value: f64) -> String {
    match name.unit() {
        "mm" => told::um(Length::from_mm(value), 1).to_string(),
        _ => format!("{value:.2}°"),
    }
}
