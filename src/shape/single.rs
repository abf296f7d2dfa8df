//! Where the tip stood at each reading by itself, and where it would stand over a point.

use super::path::Mount;
use super::place::Plane;
use super::{Clamping, Tip};
use crate::quantity::{Angle, Length};
use crate::trace::{Merged, Single};

/// One reading, free of the clamping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Of the tip about the tool's axis, in one turn.
    pub angle: Angle,
    /// Of the tip's end, on the scale of edges: the surface stands at least as high where the tip
    /// touches it.
    pub height: Length,
    /// Its place in the list of singles.
    pub single: usize,
}

/// Where the tip's end stood at every single reading that puts it at `least` or above.
pub fn standing(
    merged: &Merged,
    datum: Length,
    clamping: &Clamping,
    least: Length,
) -> Vec<Standing> {
    let mount = Mount::new(datum, clamping);
    let ball = match clamping.tip {
        Tip::Ball(radius) => radius.mm(),
        Tip::Flat(_) | Tip::Point => 0.0,
    };
    // Heights over a slanted face are told along the probe, and its path across the edge.
    let across_edge = clamping.across_edge();
    let lowest = mount.reading_below(least.mm() * across_edge + ball, clamping);
    let each = merged.singles.iter().enumerate();
    each.filter(|(_, single)| single.reading >= lowest)
        .map(|(at, single)| {
            let Single {
                angle,
                reading,
                speed,
                time,
                ..
            } = *single;
            let place = mount.place(angle.rad(), reading, (speed, time), clamping);
            Standing {
                angle: Angle::from_rad(place.arc).in_turn(),
                height: Length::from_mm((place.height - ball) / across_edge),
                single: at,
            }
        })
        .filter(|standing| standing.height >= least)
        .collect()
}

/// How much lower than a point at `height` the tip's end stands when it touches that point from
/// `across` away; `None` where it does not reach it.
pub fn below_point(clamping: &Clamping, height: Length, across: Angle) -> Option<Length> {
    let (height, across) = (height.mm(), across.rad());
    let (along, beside) = match Plane::of(clamping) {
        Plane::Polar => (height * across.cos(), height * across.sin()),
        Plane::Unrolled { radius } => (height, across * radius),
    };
    let reach = clamping.tip.size().mm();
    let end = match clamping.tip {
        Tip::Ball(_) => {
            let square = reach * reach - beside * beside;
            if square < 0.0 {
                return None;
            }
            along + square.sqrt() - reach
        }
        Tip::Flat(_) | Tip::Point => {
            if beside.abs() > reach {
                return None;
            }
            along
        }
    };
    Some(Length::from_mm((height - end) / clamping.across_edge()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::card::Surface;
    use crate::quantity::{Speed, Time};
    use crate::shape::{Eccentricity, Lobes};

    fn clamping(surface: Surface, tip: Tip) -> Clamping {
        Clamping {
            surface,
            radius: Length::from_mm(10.0),
            tip,
            probe_offset: Length::ZERO,
            lever_angle: Angle::ZERO,
            eccentricity: Eccentricity::default(),
            swash: Eccentricity::default(),
            face_fall: 0.0,
            lobes: Lobes::default(),
            face_told: 0.0,
            delay: Time::ZERO,
            drift: Speed::ZERO,
            play: Length::ZERO,
            rounder: 0.0,
        }
    }

    #[track_caller]
    fn check(clamping: &Clamping, height: f64, across: f64, expected: Option<f64>) {
        let across = Angle::from_rad(across / 10.0);
        let below = below_point(clamping, Length::from_mm(height), across);
        match (below, expected) {
            (Some(below), Some(expected)) => assert!((below.mm() - expected).abs() < 1e-5),
            (below, expected) => assert_eq!(below.map(Length::mm), expected),
        }
    }

    #[test]
    fn a_ball_sinks_beside_a_point_with_the_square_of_the_way() {
        let ball = Tip::Ball(Length::from_mm(0.5));
        let over_an_end = clamping(Surface::Axial, ball);
        check(&over_an_end, 0.0, 0.0, Some(0.0));
        check(&over_an_end, 0.0, 0.3, Some(0.1));
        check(&over_an_end, 0.0, 0.6, None);
        // Round a tool the point itself turns away as well: 0.3^2 / 20.
        let round = clamping(Surface::Radial, ball);
        check(&round, 10.0, 0.3, Some(0.10446));
    }

    #[test]
    fn a_flat_stands_on_a_point_as_far_as_it_reaches() {
        let flat = clamping(Surface::Axial, Tip::Flat(Length::from_mm(0.5)));
        check(&flat, 0.0, 0.4, Some(0.0));
        check(&flat, 0.0, 0.6, None);
    }
}
