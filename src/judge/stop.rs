//! A plunger that stood at an end of its travel while a feature was traced.

use super::doubt::{Doubt, DoubtKind, Leaves};
use crate::card::{Feature, GaugeCard, StylusShape, Surface};
use crate::quantity::{Angle, Length};
use crate::trace::{Cell, Merged, Standing};
use nalgebra::{Matrix2, Vector2};

/// A land that falls faster has ended (tan 35°), as where lands are found.
const END_OF_LAND: f64 = 0.70;
/// A ball's climb onto an edge is followed down to this part of its radius.
const CLIMB: f64 = 0.6;
/// So many places of a climb tell where it would end ...
const PLACES: usize = 4;
/// ... and more than this do not tell more.
const PLACES_MOST: usize = 40;
/// A climb must lead above the highest reading by so many standard uncertainties, which chance does
/// in one of a million, and by so many steps and limits of the indicator's error.
const SURELY: f64 = 5.0;
const STEPS: f64 = 2.0;

/// Whether an arc that stands still at an extreme of a feature's trace stands where the plunger
/// stopped. `at_end` knows the ends of the plunger's travel, where the card and the traces tell.
pub fn doubt_of_standing(
    merged: &Merged,
    standing: &[Standing],
    feature: &Feature,
    gauge: &GaugeCard,
    at_end: &dyn Fn(&Standing) -> bool,
) -> Option<Doubt> {
    let radius = feature.diameter / 2.0;
    let low = standing
        .iter()
        .find(|arc| !arc.highest && cuts_a_land(arc, radius));
    let low = low.map(|arc| {
        format!(
            "from {:.0}° on the readings stand still over {:.0}° at the trace's lowest, and a land breaks off there: the plunger stood at the end of its travel",
            arc.from.deg(),
            arc.width.deg()
        )
    });
    let high = || {
        let cut = |arc: &&Standing| {
            arc.highest && (at_end(arc) || cuts_an_edge(arc, merged, feature, gauge))
        };
        standing.iter().find(cut).map(|arc| {
            format!(
                "at {:.0}° the readings stand still over {:.1}° at the trace's highest, below where the ball's climb leads: the plunger stood at the end of its travel",
                arc.from.deg(),
                arc.width.deg()
            )
        })
    };
    low.or_else(high).map(stopped)
}

/// The doubt that readings were no readings.
pub fn stopped(seen: String) -> Doubt {
    Doubt {
        kind: DoubtKind::PlungerStop,
        tooth: None,
        touches: Vec::new(),
        leaves: Leaves::Undecided,
        seen,
        cure: "set the indicator so that the plunger moves freely all the way round, and take the traces again".to_owned(),
    }
}

/// Whether the surface falls to a lowest level, or climbs from it, as gently as a land does.
fn cuts_a_land(arc: &Standing, radius: Length) -> bool {
    let gentle = |slope: Length| slope.abs() / radius < END_OF_LAND;
    arc.breaks_before.is_some_and(gentle) || arc.breaks_behind.is_some_and(gentle)
}

/// Whether a ball's climb leads higher than the readings that stand still behind it.
fn cuts_an_edge(arc: &Standing, merged: &Merged, feature: &Feature, gauge: &GaugeCard) -> bool {
    let ball = gauge.stylus.radius.mm();
    if gauge.stylus.shape != StylusShape::Ball || ball <= 0.0 {
        return false;
    }
    let count = merged.cells.len();
    let (first, _) = arc.cells;
    let lever = gauge.indicator.lever_angle.rad().cos();
    let below = |cell: &Cell| (arc.level - cell.reading).mm() * lever;
    let climb = (1..count.min(PLACES_MOST))
        .map(|by| &merged.cells[(first + count - by) % count])
        .take_while(|cell| below(cell) < CLIMB * ball)
        .map(|cell| (-(cell.angle - arc.from).shortest().rad(), -below(cell)));
    let climb: Vec<(f64, f64)> = climb.collect();
    let step = Angle::TURN.rad() / f64::from(gauge.encoder.counts_per_turn.max(1));
    let scatter = merged
        .noise
        .max(gauge.indicator.resolution / 12f64.sqrt())
        .mm();
    let Some((above, own)) = leads_above(&climb, Ride::of(feature, ball), scatter, step) else {
        return false;
    };
    let indicator = &gauge.indicator;
    above > SURELY * own && above > STEPS * (indicator.resolution + indicator.max_error).mm()
}

/// How a ball's centre runs over a corner, from the corner's top down.
#[derive(Clone, Copy)]
pub(super) struct Ride {
    radius: f64,
    pub ball: f64,
    polar: bool,
}

impl Ride {
    pub fn of(feature: &Feature, ball: f64) -> Self {
        Self {
            radius: (feature.diameter / 2.0).mm(),
            ball,
            polar: feature.surface == Surface::Radial,
        }
    }

    /// Height of the centre against that over the corner, at an angle beside it; nothing where the
    /// ball has left it.
    pub fn height(self, angle: f64) -> Option<f64> {
        let across = self.radius * if self.polar { angle.sin() } else { angle };
        let squared = self.ball * self.ball - across * across;
        // About the tool's axis the corner itself sinks as it turns away.
        let sunk = if self.polar {
            self.radius * (1.0 - angle.cos())
        } else {
            0.0
        };
        (squared > 0.0).then(|| squared.sqrt() - self.ball - sunk)
    }

    /// Change of the height with the ball's radius.
    pub fn by_ball(self, angle: f64) -> Option<f64> {
        const BY: f64 = 1e-6;
        let with = |by: f64| {
            Self {
                ball: self.ball + by,
                ..self
            }
            .height(angle)
        };
        Some((with(BY)? - with(-BY)?) / (2.0 * BY))
    }

    /// About where beside the corner the centre has come down by so much.
    fn angle_at(self, down: f64) -> f64 {
        let left = (self.ball - down).max(0.0);
        let across = (self.ball * self.ball - left * left).max(0.0).sqrt();
        (across / (self.radius + self.ball)).min(1.0)
    }

    /// Slope of the same, per radian.
    pub fn slope(self, angle: f64) -> Option<f64> {
        const BY: f64 = 1e-6;
        Some((self.height(angle + BY)? - self.height(angle - BY)?) / (2.0 * BY))
    }
}

/// How far above 0 a climb leads, with its standard uncertainty: places are an angle before its end
/// and a height, of which the one nearest the end comes first.
fn leads_above(climb: &[(f64, f64)], ride: Ride, scatter: f64, step: f64) -> Option<(f64, f64)> {
    if climb.len() < PLACES {
        return None;
    }
    // The corner stands `beyond` the end of the climb, `above` it.
    let (before, height) = climb.last().copied()?;
    let (mut beyond, mut above) = (ride.angle_at(-height) - before, 0.0);
    let mut own = f64::INFINITY;
    for _ in 0..20 {
        let (mut normal, mut right) = (Matrix2::zeros(), Vector2::zeros());
        let mut squares = 0.0;
        for (before, height) in climb {
            let angle = before + beyond;
            let (expected, slope) = (ride.height(angle)?, ride.slope(angle)?);
            let variance = scatter * scatter + (slope * step).powi(2) / 12.0;
            let row = Vector2::new(slope, 1.0);
            let off = height - above - expected;
            normal += row * row.transpose() / variance;
            right += row * (off / variance);
            squares += off * off / variance;
        }
        let inverse = normal.try_inverse()?;
        let moved = inverse * right;
        let excess = (squares / (climb.len() as f64 - 2.0)).max(1.0);
        own = (inverse[(1, 1)] * excess).sqrt();
        beyond += moved.x;
        above += moved.y;
        if moved.x.abs() < 1e-9 {
            break;
        }
    }
    Some((above, own))
}
