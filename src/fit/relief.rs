//! Relations of relief that need no fit, from plane geometry.

use crate::quantity::{Angle, Length};

/// Drop of a flat land with this relief angle, `arc` behind the edge, seen along the radius:
/// `R - R cos a / cos(phi - a)`.
pub fn flat_drop(relief: Angle, arc: Angle, radius: Length) -> Length {
    Length::from_mm(super::family::lines::radial_flat(radius.mm(), relief.rad(), arc.rad()).drop)
}

/// The relief angle of the flat land that would give this drop at this arc:
/// `tan a = (R / (R - d) - cos t) / sin t`. It is what handbook tables of drops are made for.
///
/// `None` where no flat land does: at an arc of 0 or from half a turn on, or for a drop as large
/// as the radius.
pub fn flat_equivalent_relief(drop: Length, arc: Angle, radius: Length) -> Option<Angle> {
    let (sin, cos) = arc.rad().sin_cos();
    let reached = radius - drop;
    let within = arc > Angle::ZERO && sin > 0.0 && arc < Angle::from_turns(0.5);
    (within && reached > Length::ZERO && drop.is_finite())
        .then(|| Angle::from_rad(((radius / reached - cos) / sin).atan()))
}

/// Drop of a flat land of an axial surface with this relief angle, `arc` behind the edge on a circle
/// of this radius: `R sin(t) tan a`.
pub fn axial_flat_drop(relief: Angle, arc: Angle, radius: Length) -> Length {
    radius * (arc.rad().sin() * relief.rad().tan())
}

/// The relief angle of the flat land of an axial surface that has this drop at this arc.
pub fn axial_flat_equivalent_relief(drop: Length, arc: Angle, radius: Length) -> Option<Angle> {
    let sin = arc.rad().sin();
    let within = arc > Angle::ZERO && sin > 0.0 && arc < Angle::from_turns(0.5);
    (within && radius > Length::ZERO && drop.is_finite())
        .then(|| Angle::from_rad((drop / (radius * sin)).atan()))
}

/// How a flat land of a given relief stands to its edge circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlatLimit {
    /// Arc where it lies deepest: the relief angle itself.
    pub deepest: Angle,
    /// Drop there, `R (1 - cos a)`.
    pub greatest_drop: Length,
    /// Arc where it is back at edge height: twice the relief angle.
    pub heel_touches: Angle,
    /// Straight width of a land that ends there, `2 R sin a`: a wider one drags its heel.
    pub widest: Length,
}

/// How wide a flat land may be; `None` without relief.
pub fn flat_limit(relief: Angle, radius: Length) -> Option<FlatLimit> {
    let a = relief.rad();
    (a > 0.0 && a < std::f64::consts::FRAC_PI_2).then(|| FlatLimit {
        deepest: relief,
        // 1 - cos a, in the form that keeps its digits for small angles.
        greatest_drop: radius * (2.0 * (0.5 * a).sin().powi(2)),
        heel_touches: relief * 2.0,
        widest: radius * (2.0 * a.sin()),
    })
}

/// Fall of spiral relief over one tooth pitch, `K = (pi D / Z) tan a`: what a relieving cam for this
/// number of teeth must give. `None` for no teeth.
pub fn spiral_rise_per_pitch(relief: Angle, radius: Length, teeth: u32) -> Option<Length> {
    let pitch = std::f64::consts::TAU / f64::from(teeth);
    (teeth > 0).then(|| radius * (pitch * relief.rad().tan()))
}

/// How much higher the work stands, `arc` behind the edge, for a tool fed `feed` a turn.
pub fn feed_rise(feed: Length, arc: Angle) -> Length {
    feed * arc.turns()
}
