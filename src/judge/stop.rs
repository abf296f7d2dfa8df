//! A plunger that stood at an end of its travel while a feature was traced.

use super::climb::{Climb, Ride};
use super::doubt::{Doubt, DoubtKind};
use crate::card::{Feature, GaugeCard, StylusShape};
use crate::quantity::Length;
use crate::trace::{Merged, Standing};
use nalgebra::Vector2;

/// A land that falls faster has ended (tan 35°), as where lands are found (chosen, no source).
const END_OF_LAND: f64 = 0.70;
/// A ball's climb onto an edge is followed down to this part of its radius (chosen, no source).
const CLIMB: f64 = 0.6;
/// So many places of a climb tell where it would end (chosen, no source) ...
const PLACES: usize = 4;
/// ... and more than this do not tell more (chosen, no source).
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
    Doubt::about(
        DoubtKind::PlungerStop,
        seen,
        "set the indicator so that the plunger moves freely all the way round, and take the traces again",
    )
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
    let climb = Climb::below(
        merged,
        gauge,
        (arc.from, arc.level),
        (arc.cells.0, 1),
        (CLIMB * ball, PLACES_MOST),
    );
    let Some((above, own)) = leads_above(&climb, Ride::of(feature, ball)) else {
        return false;
    };
    let indicator = &gauge.indicator;
    above > SURELY * own && above > STEPS * (indicator.resolution + indicator.max_error).mm()
}

/// How far above its end a climb leads, with its standard uncertainty.
fn leads_above(climb: &Climb, ride: Ride) -> Option<(f64, f64)> {
    let places = &climb.places;
    if places.len() < PLACES {
        return None;
    }
    // The corner stands `beyond` the end of the climb, `above` it.
    let (before, height) = places.last().copied()?;
    let (mut beyond, mut above) = (ride.angle_at(-height) - before, 0.0);
    let mut own = f64::INFINITY;
    for _ in 0..20 {
        let row = |slope, _| Some(Vector2::new(slope, 1.0));
        let (moved, known) = climb.step(ride, (beyond, above), row)?;
        own = known;
        beyond += moved.x;
        above += moved.y;
        if moved.x.abs() < 1e-9 {
            break;
        }
    }
    Some((above, own))
}
