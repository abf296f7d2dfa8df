//! Lands of every family as dense points, built by ruler and compass rather than by fit formulas.

use super::scenario::{Land, Law, Relief, Surface};

/// A point of a land: arc behind the edge in radians, drop under the edge in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct LandPoint {
    pub phi: f64,
    pub drop: f64,
}

/// Where a land lies: the radius of its edge (axial: of the probe's circle) and the direction.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seat {
    pub radius_mm: f64,
    pub surface: Surface,
}

/// The points of a land from its edge to its end, about `step_mm` apart, by growing arc.
pub(super) fn points(land: &Land, seat: Seat, step_mm: f64) -> Vec<LandPoint> {
    let end = land.arc_deg.to_radians();
    let margin = (land.margin_mm / seat.radius_mm).min(end);
    let step = step_mm / seat.radius_mm;
    let mut points: Vec<_> = even(0.0, margin, step)
        .map(|phi| LandPoint { phi, drop: 0.0 })
        .collect();
    let behind = relief(&land.relief, seat, end - margin, step);
    points.extend(behind.into_iter().map(|point| LandPoint {
        phi: point.phi + margin,
        ..point
    }));
    points
}

/// Relief angle that a land has at its edge, in radians: 0 where a margin comes first.
pub(super) fn relief_at_edge(land: &Land, seat: Seat) -> f64 {
    if land.margin_mm > 0.0 {
        return 0.0;
    }
    match land.relief {
        Relief::None {} => 0.0,
        Relief::Flat { relief_deg }
        | Relief::Arc { relief_deg, .. }
        | Relief::Spiral { relief_deg }
        | Relief::LogSpiral { relief_deg }
        | Relief::Waved { relief_deg, .. } => relief_deg.to_radians(),
        Relief::Facets { primary_deg, .. } => primary_deg.to_radians(),
        Relief::Cam {
            law,
            depth_mm,
            fall_deg,
            before_edge_deg,
            ..
        } => {
            let fall = fall_deg.to_radians();
            let per_radian = depth_mm / fall * slope(law, before_edge_deg / fall_deg);
            (per_radian / seat.radius_mm).atan()
        }
    }
}

/// The same land with its relief angle at the edge changed.
pub(super) fn tilted(land: Land, by_deg: f64) -> Land {
    let relief = match land.relief {
        Relief::Flat { relief_deg } => Relief::Flat {
            relief_deg: relief_deg + by_deg,
        },
        Relief::Arc {
            relief_deg,
            radius_mm,
        } => Relief::Arc {
            relief_deg: relief_deg + by_deg,
            radius_mm,
        },
        Relief::Spiral { relief_deg } => Relief::Spiral {
            relief_deg: relief_deg + by_deg,
        },
        Relief::LogSpiral { relief_deg } => Relief::LogSpiral {
            relief_deg: relief_deg + by_deg,
        },
        Relief::Waved {
            relief_deg,
            wave_mm,
            waves,
        } => Relief::Waved {
            relief_deg: relief_deg + by_deg,
            wave_mm,
            waves,
        },
        Relief::Facets {
            primary_deg,
            primary_mm,
            secondary_deg,
        } => Relief::Facets {
            primary_deg: primary_deg + by_deg,
            primary_mm,
            secondary_deg: secondary_deg + by_deg,
        },
        unchanged @ (Relief::None {} | Relief::Cam { .. }) => unchanged,
    };
    Land { relief, ..land }
}

fn relief(relief: &Relief, seat: Seat, end: f64, step: f64) -> Vec<LandPoint> {
    let radius = seat.radius_mm;
    let along = |drop: &dyn Fn(f64) -> f64| {
        even(0.0, end, step)
            .map(|phi| LandPoint {
                phi,
                drop: drop(phi),
            })
            .collect()
    };
    match *relief {
        Relief::None {} => along(&|_| 0.0),
        Relief::Flat { relief_deg } => {
            Walk::from_edge(seat, step).straight(relief_deg.to_radians(), end)
        }
        Relief::Arc {
            relief_deg,
            radius_mm,
        } => Walk::from_edge(seat, step).bent(relief_deg.to_radians(), 1.0 / radius_mm, end),
        Relief::Spiral { relief_deg } => {
            let per_radian = radius * relief_deg.to_radians().tan();
            along(&|phi| per_radian * phi)
        }
        Relief::LogSpiral { relief_deg } => {
            let tan = relief_deg.to_radians().tan();
            along(&|phi| radius * (1.0 - (-phi * tan).exp()))
        }
        Relief::Waved {
            relief_deg,
            wave_mm,
            waves,
        } => {
            let per_radian = radius * relief_deg.to_radians().tan();
            let per_wave = std::f64::consts::TAU * waves / end;
            // A wave begins level with the spiral and along it, so that the edge keeps its angle.
            along(&|phi| per_radian * phi + wave_mm / 2.0 * (1.0 - (per_wave * phi).cos()))
        }
        Relief::Facets {
            primary_deg,
            primary_mm,
            secondary_deg,
        } => {
            let corner = (primary_mm / radius).min(end);
            let mut walk = Walk::from_edge(seat, step);
            let mut points = walk.straight(primary_deg.to_radians(), corner);
            // The secondary's angle is to the motion where it starts, which has turned by then.
            points.extend(walk.straight(secondary_deg.to_radians() + walk.turned(), end));
            points
        }
        Relief::Cam {
            law,
            depth_mm,
            fall_deg,
            before_edge_deg,
            return_from_deg,
            heel_drop_mm,
        } => {
            let fall = fall_deg.to_radians();
            let before = before_edge_deg.to_radians();
            let lost = share(law, before / fall);
            let floor = depth_mm * (1.0 - lost);
            let back = return_from_deg.map(f64::to_radians).filter(|&at| at < end);
            let heel = heel_drop_mm.unwrap_or(floor);
            along(&|phi| match back {
                Some(at) if phi > at => {
                    floor - (floor - heel) * share(law, (phi - at) / (end - at))
                }
                _ => depth_mm * (share(law, (phi + before) / fall) - lost),
            })
        }
    }
}

/// A walk over the part's surface from the edge on, in the plane of the section.
///
/// Radial: the edge lies at `(0, radius)` and the motion behind it runs along `+x`; axial: the
/// section is unrolled, `x` is arc and `y` is height.
struct Walk {
    seat: Seat,
    step_mm: f64,
    x: f64,
    y: f64,
}

impl Walk {
    fn from_edge(seat: Seat, step: f64) -> Self {
        Self {
            seat,
            step_mm: step * seat.radius_mm,
            x: 0.0,
            y: seat.radius_mm,
        }
    }

    /// How far the direction of motion has turned at this place, in radians.
    fn turned(&self) -> f64 {
        match self.seat.surface {
            Surface::Radial => self.x.atan2(self.y),
            Surface::Axial => 0.0,
        }
    }

    /// Goes straight on, downwards by `below` from the edge's own tangent, until arc `end`.
    fn straight(&mut self, below: f64, end: f64) -> Vec<LandPoint> {
        self.bent(below, 0.0, end)
    }

    /// Goes along a circle of this curvature (1/mm, positive bends towards the axis).
    fn bent(&mut self, below: f64, curvature: f64, end: f64) -> Vec<LandPoint> {
        let (x0, y0) = (self.x, self.y);
        let mut points = Vec::new();
        // No land is longer than a few times its circle; a hollow one may never come round to
        // its end, and then stops at half its own circle.
        let longest = 4.0 * self.seat.radius_mm * end.max(0.1);
        let half_circle = std::f64::consts::PI / curvature.abs();
        let mut s = 0.0;
        while s <= longest.min(half_circle) {
            let turn = curvature * s;
            // Chord of the circle from its start: exact, and a straight line for no curvature.
            let half = turn / 2.0;
            let chord = if half.abs() < 1e-12 {
                s
            } else {
                s * half.sin() / half
            };
            let direction = below + half;
            self.x = x0 + chord * direction.cos();
            self.y = y0 - chord * direction.sin();
            let point = self.seen_from_axis();
            if point.phi > end {
                break;
            }
            points.push(point);
            s += self.step_mm;
        }
        points
    }

    fn seen_from_axis(&self) -> LandPoint {
        let radius = self.seat.radius_mm;
        match self.seat.surface {
            Surface::Radial => LandPoint {
                phi: self.x.atan2(self.y),
                drop: radius - self.x.hypot(self.y),
            },
            Surface::Axial => LandPoint {
                phi: self.x / radius,
                drop: radius - self.y,
            },
        }
    }
}

/// Even steps from `from` to `to`, both ends included; none where the span is empty.
fn even(from: f64, to: f64, step: f64) -> impl Iterator<Item = f64> {
    let count = if to > from {
        ((to - from) / step).ceil().max(1.0) as usize + 1
    } else {
        0
    };
    (0..count).map(move |i| from + (to - from) * i as f64 / (count - 1) as f64)
}

/// Share of the rise done at share `u` of the arc, for the standard laws of cam motion.
fn share(law: Law, u: f64) -> f64 {
    use std::f64::consts::{PI, TAU};
    let u = u.clamp(0.0, 1.0);
    match law {
        Law::Cycloidal => u - (TAU * u).sin() / TAU,
        Law::Harmonic => (1.0 - (PI * u).cos()) / 2.0,
        Law::Parabolic if u < 0.5 => 2.0 * u * u,
        Law::Parabolic => 1.0 - 2.0 * (1.0 - u) * (1.0 - u),
    }
}

/// Derivative of [`share`].
fn slope(law: Law, u: f64) -> f64 {
    use std::f64::consts::{PI, TAU};
    match law {
        _ if !(0.0..=1.0).contains(&u) => 0.0,
        Law::Cycloidal => 1.0 - (TAU * u).cos(),
        Law::Harmonic => PI / 2.0 * (PI * u).sin(),
        Law::Parabolic if u < 0.5 => 4.0 * u,
        Law::Parabolic => 4.0 * (1.0 - u),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const SEAT: Seat = Seat {
        radius_mm: 10.0,
        surface: Surface::Radial,
    };

    fn land(arc_deg: f64, relief: Relief) -> Land {
        Land {
            arc_deg,
            margin_mm: 0.0,
            relief,
        }
    }

    fn drop_at(land: &Land, phi_deg: f64) -> f64 {
        let phi = phi_deg.to_radians();
        let points = points(land, SEAT, 0.0005);
        points
            .iter()
            .min_by(|a, b| (a.phi - phi).abs().total_cmp(&(b.phi - phi).abs()))
            .unwrap()
            .drop
    }

    #[track_caller]
    fn check(relief: Relief, phi_deg: f64, expected_mm: f64) {
        let drop = drop_at(&land(50.0, relief), phi_deg);
        assert!(
            (drop - expected_mm).abs() < 2e-4,
            "{relief:?} at {phi_deg}: {drop}, expected {expected_mm}"
        );
    }

    #[test]
    fn lands_fall_as_their_families_say() {
        let flat = Relief::Flat { relief_deg: 8.0 };
        // Metrology of a flat: deepest at phi = a with R (1 - cos a), back at edge height at 2a.
        check(flat, 8.0, 10.0 * (1.0 - 8f64.to_radians().cos()));
        check(flat, 16.0, 0.0);
        check(Relief::Spiral { relief_deg: 8.0 }, 30.0, 0.7359);
        check(Relief::LogSpiral { relief_deg: 8.0 }, 30.0, 0.7094);
        check(Relief::None {}, 30.0, 0.0);
    }

    #[test]
    fn a_circle_about_the_axis_has_no_relief() {
        let round = Relief::Arc {
            relief_deg: 0.0,
            radius_mm: 10.0,
        };
        check(round, 20.0, 0.0);
        check(round, 45.0, 0.0);
    }

    #[test]
    fn a_hollow_land_lies_under_the_flat_and_a_convex_one_above() {
        let arc = |radius_mm| Relief::Arc {
            relief_deg: 8.0,
            radius_mm,
        };
        let flat = drop_at(&land(14.0, Relief::Flat { relief_deg: 8.0 }), 10.0);
        assert!(drop_at(&land(14.0, arc(-40.0)), 10.0) < flat);
        assert!(drop_at(&land(14.0, arc(40.0)), 10.0) > flat);
    }

    #[test]
    fn the_slope_at_the_edge_is_the_relief_angle_stated() {
        let cam = Relief::Cam {
            law: Law::Cycloidal,
            depth_mm: 0.6,
            fall_deg: 40.0,
            before_edge_deg: 10.0,
            return_from_deg: Some(45.0),
            heel_drop_mm: Some(0.1),
        };
        let facets = Relief::Facets {
            primary_deg: 6.0,
            primary_mm: 1.0,
            secondary_deg: 15.0,
        };
        for relief in [cam, facets, Relief::Spiral { relief_deg: 8.0 }] {
            let land = land(55.0, relief);
            let points = points(&land, SEAT, 0.0002);
            let measured = (points[5].drop / points[5].phi / 10.0).atan();
            let stated = relief_at_edge(&land, SEAT);
            assert!(
                (measured - stated).abs() < 2e-4,
                "{relief:?}: {measured} {stated}"
            );
        }
    }

    #[test]
    fn a_margin_comes_before_the_relief() {
        let mut land = land(40.0, Relief::Spiral { relief_deg: 8.0 });
        land.margin_mm = 1.0;
        let at = drop_at(&land, 0.1f64.to_degrees());
        assert!(at.abs() < 1e-3, "{at}");
        assert!((drop_at(&land, 0.2f64.to_degrees()) - 0.1405).abs() < 2e-4);
    }
}
