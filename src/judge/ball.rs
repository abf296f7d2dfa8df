//! The ball's size as its climb onto the edges shows it.

use super::climb::{Climb, Ride};
use super::doubt::{Doubt, DoubtKind};
use super::judgement::FeatureJudgement;
use crate::card::{Feature, GaugeCard, StylusShape};
use crate::quantity::{Angle, Length, told};
use crate::shape::FaceFall;
use crate::trace::Merged;
use nalgebra::Vector3;

/// A climb is followed from the top down to this part of the ball's radius (chosen, no source).
const DOWN: f64 = 0.45;
/// So many places of a climb show a radius, and more than this show it no better (chosen, no source).
const PLACES: usize = 5;
const PLACES_MOST: usize = 60;
/// The ball is smaller than its card by this many standard uncertainties of all climbs together,
/// which chance does in one good trace of some thousands ...
const SURELY: f64 = 3.7;
/// ... and by this part of its radius: an edge is never so sharp, nor a face so straight, that less
/// would say something (chosen, no source).
const LEAST: f64 = 0.06;
/// The indicator's error over a climb bends it by so much of its own size (chosen, no source).
const BENT: f64 = 4.0;

/// A face under an indicator along the axis is taken for square while it falls by less a length
/// (chosen, no source).
const SLANTED: f64 = 0.1;

/// The doubt that the ball is smaller than on the card.
///
/// A ball that climbs onto an edge runs on a circle of its radius and the edge's: a larger one may be
/// a worn edge, a smaller one cannot be.
pub fn doubt_of_ball(
    merged: &Merged,
    judgement: &FeatureJudgement,
    feature: &Feature,
    gauge: &GaugeCard,
) -> Option<Doubt> {
    let card = gauge.stylus.radius;
    // Along the axis a ball climbs a slanted edge otherwise than on a circle of its radius.
    let face = FaceFall::of(feature);
    let slanted = face.fall.abs().max(face.within) > SLANTED;
    if gauge.stylus.shape != StylusShape::Ball || card <= Length::ZERO || slanted {
        return None;
    }
    let teeth = judgement
        .teeth
        .iter()
        .filter_map(|each| each.tooth.as_ref());
    let each = teeth.filter_map(|tooth| climbed(merged, tooth.edge.angle.value, feature, gauge));
    let (mut all, mut sum, mut squares, mut count) = (0.0, 0.0, 0.0, 0.0);
    for (radius, own) in each {
        let weight = 1.0 / (own * own);
        all += weight;
        sum += weight * radius;
        squares += weight * radius * radius;
        count += 1.0;
    }
    if count == 0.0 {
        return None;
    }
    let radius = sum / all;
    // Where edges differ by more than their scatter, so does what they say together.
    let excess = ((squares - sum * radius) / f64::max(count - 1.0, 1.0)).max(1.0);
    let own = (excess / all).sqrt();
    let bent = gauge.indicator.max_error.mm() * BENT;
    let smaller = card.mm() - radius;
    (smaller > own * SURELY + bent && smaller > card.mm() * LEAST).then(|| {
        Doubt::about(
            DoubtKind::BallSmaller,
            format!(
                "the climbs onto the edges show a ball of {} radius at the most, and the gauge card states {}",
                told::with_uncertainty_um(Length::from_mm(radius), Length::from_mm(own * 2.0)),
                told::mm(card, 3)
            ),
            "measure the stylus' ball, correct `radius_mm`, and judge again",
        )
    })
}

/// Radius of the circle that the centre ran on while the ball climbed onto an edge, with its standard
/// uncertainty; mm.
fn climbed(
    merged: &Merged,
    edge: Angle,
    feature: &Feature,
    gauge: &GaugeCard,
) -> Option<(f64, f64)> {
    let cells = &merged.cells;
    let count = cells.len();
    let card = gauge.stylus.radius.mm();
    let reach = card / (feature.diameter / 2.0).mm() / 2.0;
    let beside = |at: usize| (cells[at].angle - edge).shortest().rad();
    let near = (0..count).filter(|&at| beside(at).abs() < reach);
    let top = near.max_by(|&a, &b| cells[a].reading.total_cmp(&cells[b].reading))?;
    let end = (cells[top].angle, cells[top].reading);
    let climb = Climb::below(merged, gauge, end, (top, 0), (DOWN * card, PLACES_MOST));
    circle(&climb, Ride::of(feature, card))
}

/// The radius of a climb.
fn circle(climb: &Climb, start: Ride) -> Option<(f64, f64)> {
    let places = &climb.places;
    if places.len() < PLACES {
        return None;
    }
    let (mut beyond, mut above) = (0.0, 0.0);
    let mut ride = start;
    let mut own = f64::INFINITY;
    for _ in 0..30 {
        let row = |slope, angle| Some(Vector3::new(slope, 1.0, ride.by_ball(angle)?));
        let (moved, known) = climb.step(ride, (beyond, above), row)?;
        own = known;
        // Not so far that the ball would leave the corner.
        let most = ride.ball / 5.0;
        let share = (most / moved.z.abs().max(1e-12)).min(1.0);
        beyond += moved.x * share;
        above += moved.y * share;
        ride.ball += moved.z * share;
        if moved.z.abs() < 1e-7 {
            break;
        }
    }
    (own.is_finite() && own < start.ball).then_some((ride.ball, own))
}
