//! The whole outline of a part as one dense cloud of points, round its own axis.

use super::land::{LandPoint, Seat};
use super::scenario::{Feature, Round, Surface, Tooth};
use super::worn::Profile;
use std::f64::consts::TAU;

/// Points of a turn; fine enough that a 1 mm ball rests within a nanometre of the true surface.
const POINTS_PER_TURN: f64 = 150_000.0;
/// Points on the side of a gap, which only catch a ball that falls in.
const POINTS_PER_WALL: usize = 400;

/// A point of the outline. Angles grow the way in which a fixed stylus meets the part as it turns
/// to cut, so that a land follows its edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Point {
    /// Round the part's own axis, in radians.
    pub angle: f64,
    /// Distance from the axis (axial: height above the highest edge), in mm.
    pub height: f64,
}

/// A closed outline.
#[derive(Clone, Debug)]
pub(super) struct Outline {
    /// By angle; walls have several points at one angle.
    pub points: Vec<Point>,
    /// Which way the probe touches it.
    pub surface: Surface,
    /// Radius of the highest edge; for axial surfaces, of the probe's circle.
    pub radius_mm: f64,
}

/// One tooth as it really is.
#[derive(Clone, Debug)]
pub(super) struct TrueTooth {
    /// Angle of its edge round the part's axis, in radians.
    pub edge: f64,
    /// Height of its edge, as in [`Point`].
    pub height: f64,
    /// Its land.
    pub profile: Profile,
    /// Radius that arcs on it are taken over.
    pub seat: Seat,
}

/// The teeth of a feature at distance `z_mm` from the tool's front.
pub(super) fn teeth(feature: &Feature, flutes: u32, z_mm: f64) -> Vec<TrueTooth> {
    let none = Tooth::default();
    let tooth = |k: u32| feature.tooth.get(k as usize).unwrap_or(&none);
    let front = feature.z_mm.first().copied().unwrap_or(0.0);
    let smaller = match feature.surface {
        Surface::Radial => (z_mm - front) * feature.back_taper_deg.to_radians().tan(),
        Surface::Axial => 0.0,
    };
    let circle = feature.true_diameter_mm() / 2.0 - smaller;
    let seat = |radius_mm| Seat {
        radius_mm,
        surface: feature.surface,
    };
    let lost = |k: u32| Profile::new(feature.land, seat(circle), tooth(k)).lost();
    let left: Vec<f64> = (0..flutes).map(|k| tooth(k).height_mm - lost(k)).collect();
    let highest = left.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (0..flutes)
        .zip(left)
        .map(|(k, left)| {
            let tooth = tooth(k);
            let height = left - highest;
            let (height, radius_mm) = match feature.surface {
                Surface::Radial => (circle + height, circle + tooth.height_mm - highest),
                Surface::Axial => (height, circle),
            };
            TrueTooth {
                edge: TAU * f64::from(k) / f64::from(flutes) + tooth.angle_deg.to_radians(),
                height,
                profile: Profile::new(feature.land, seat(radius_mm), tooth),
                seat: seat(radius_mm),
            }
        })
        .collect()
}

/// The outline of a toothed surface, with a floor of constant height between the lands.
pub(super) fn of_feature(feature: &Feature, flutes: u32, z_mm: f64) -> Outline {
    let teeth = teeth(feature, flutes, z_mm);
    let radius_mm = feature.true_diameter_mm() / 2.0;
    let step_mm = TAU * radius_mm / POINTS_PER_TURN;
    let highest = teeth.iter().map(|t| t.height).fold(f64::MIN, f64::max);
    let floor = highest - feature.gap_depth_mm;
    let mut points = Vec::new();
    for (k, tooth) in teeth.iter().enumerate() {
        let next = match (teeth.get(k + 1), teeth.first()) {
            (Some(next), _) => next.edge,
            (None, first) => first.map_or(0.0, |first| first.edge) + TAU,
        };
        let lands = tooth.profile.points(step_mm);
        // A land that would run into the next tooth ends at its face.
        let room = next - tooth.edge;
        let lands: Vec<LandPoint> = lands.into_iter().filter(|p| p.phi < room).collect();
        let end = lands.last().map_or(0.0, |last| last.phi);
        let heel = tooth.height - lands.last().map_or(0.0, |last| last.drop);
        let edge = tooth.height - lands.first().map_or(0.0, |first| first.drop);
        points.extend(wall(tooth.edge, floor, edge));
        points.extend(lands.iter().map(|p| Point {
            angle: tooth.edge + p.phi,
            height: tooth.height - p.drop,
        }));
        // A back that leans reaches the floor farther on, or not before the next face.
        let lean = feature.heel_wall_deg.to_radians().tan() / tooth.seat.radius_mm;
        let back = wall(tooth.edge + end, heel, floor).map(|point| Point {
            angle: point.angle + lean * (heel - point.height),
            ..point
        });
        points.extend(back.filter(|point| point.angle <= next));
        let foot = tooth.edge + end + lean * (heel - floor);
        points.extend(arc(foot.min(next), next, floor));
    }
    closed(points, feature.surface, radius_mm)
}

/// The outline of a round with its flats and keyway.
pub(super) fn of_round(round: &Round) -> Outline {
    let radius = round.diameter_mm / 2.0;
    let flat = radius - round.flat_depth_mm;
    let half_key = round.keyway_width_mm / 2.0;
    let step = TAU / POINTS_PER_TURN;
    let count = POINTS_PER_TURN as usize;
    let mut points = Vec::with_capacity(count + 2 * POINTS_PER_WALL);
    let mut before = None;
    for i in 0..count {
        let angle = i as f64 * step;
        let on_flat = |k: u32| {
            let off = angle - TAU * (f64::from(k) + 0.25) / f64::from(round.flats);
            flat / off.cos().max(1e-9)
        };
        // A flat is a chord at its own distance from the axis; the lower of all surfaces is left.
        let mut height = (0..round.flats).map(on_flat).fold(radius, f64::min);
        let across = radius * (angle - TAU * 0.6).sin();
        if half_key > 0.0 && across.abs() < half_key && (angle - TAU * 0.6).cos() > 0.0 {
            height = height.min(radius - round.keyway_depth_mm);
        }
        if let Some(last) = before
            && f64::abs(height - last) > 0.01
        {
            points.extend(wall(angle, last, height));
        }
        points.push(Point { angle, height });
        before = Some(height);
    }
    closed(points, Surface::Radial, radius)
}

fn wall(angle: f64, from: f64, to: f64) -> impl Iterator<Item = Point> {
    (0..=POINTS_PER_WALL).map(move |i| Point {
        angle,
        height: from + (to - from) * i as f64 / POINTS_PER_WALL as f64,
    })
}

fn arc(from: f64, to: f64, height: f64) -> impl Iterator<Item = Point> {
    let count = ((to - from) / TAU * POINTS_PER_TURN).ceil().max(0.0) as usize;
    (0..count).map(move |i| Point {
        angle: from + (to - from) * i as f64 / count as f64,
        height,
    })
}

/// Brings all angles into one turn, the order along the outline kept.
fn closed(mut points: Vec<Point>, surface: Surface, radius_mm: f64) -> Outline {
    let start = points.first().map_or(0.0, |first| first.angle);
    // The outline is one turn from its first point on; only where the turn begins is moved.
    let wrap = points.partition_point(|point| point.angle < TAU.max(start));
    for point in &mut points[wrap..] {
        point.angle -= TAU;
    }
    points.rotate_left(wrap);
    let negative = points.partition_point(|point| point.angle < 0.0);
    for point in &mut points[..negative] {
        point.angle += TAU;
    }
    points.rotate_left(negative);
    Outline {
        points,
        surface,
        radius_mm,
    }
}
