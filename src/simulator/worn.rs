//! Lands as work and a grind leave them: worn, rounded, nicked, or given point by point.

use super::land::{self, LandPoint, Seat};
use super::scenario::{Land, Nick, Tooth};

/// How a tooth differs from its feature's land.
#[derive(Clone, Debug)]
pub(super) struct Profile {
    land: Land,
    seat: Seat,
    wear_land: f64,
    rounding_mm: f64,
    nick: Option<Nick>,
    /// By growing arc; empty where the land is that of its feature.
    ground: Vec<LandPoint>,
}

impl Profile {
    pub(super) fn new(land: Land, seat: Seat, tooth: &Tooth) -> Self {
        let ground = tooth.ground.iter().map(|&[behind_deg, drop]| LandPoint {
            phi: behind_deg.to_radians(),
            drop,
        });
        Self {
            land: land::tilted(land, tooth.relief_deg),
            seat,
            wear_land: tooth.wear_land_mm / seat.radius_mm,
            rounding_mm: tooth.rounding_mm,
            nick: tooth.nick,
            ground: ground.collect(),
        }
    }

    /// Whether it is as its feature says.
    pub(super) fn is_plain(&self) -> bool {
        self.ground.is_empty()
            && self.wear_land <= 0.0
            && self.rounding_mm <= 0.0
            && self.nick.is_none()
    }

    /// Whether it was given point by point.
    pub(super) fn is_ground(&self) -> bool {
        !self.ground.is_empty()
    }

    /// The land as it was before it wore.
    pub(super) fn land(&self) -> &Land {
        &self.land
    }

    /// Width behind the edge that is worn off.
    pub(super) fn wear_land_mm(&self) -> f64 {
        self.wear_land * self.seat.radius_mm
    }

    /// How far behind the edge it is worn or rounded, as an arc.
    pub(super) fn worn_to(&self) -> f64 {
        self.wear_land.max(self.rounding_mm / self.seat.radius_mm)
    }

    /// How far wear has brought the edge down.
    pub(super) fn lost(&self) -> f64 {
        if self.wear_land <= 0.0 {
            return 0.0;
        }
        // Fine enough for the place where the wear ends.
        let unworn = self.unworn(self.seat.radius_mm / 50_000.0);
        drop_at(&unworn, self.wear_land)
    }

    /// The points of the land from its edge to its end, about `step_mm` apart; drops are under the worn
    /// edge as it would be if it were not rounded.
    pub(super) fn points(&self, step_mm: f64) -> Vec<LandPoint> {
        let mut points = self.unworn(step_mm);
        if self.is_plain() {
            return points;
        }
        let lost = self.lost();
        for point in &mut points {
            // What stood above the worn edge is gone, round about the axis.
            let worn = match point.phi < self.wear_land {
                true => (point.drop - lost).max(0.0),
                false => point.drop - lost,
            };
            let behind = point.phi * self.seat.radius_mm;
            point.drop = worn + self.rounded(behind) + self.nicked(behind);
        }
        points
    }

    fn unworn(&self, step_mm: f64) -> Vec<LandPoint> {
        if self.ground.is_empty() {
            return land::points(&self.land, self.seat, step_mm);
        }
        let end = self.ground.last().map_or(0.0, |last| last.phi);
        let count = (end * self.seat.radius_mm / step_mm).ceil().max(1.0) as usize;
        let mut at = 0;
        let each = (0..=count).map(|i| {
            let phi = end * i as f64 / count as f64;
            while self.ground.get(at + 1).is_some_and(|next| next.phi <= phi) {
                at += 1;
            }
            LandPoint {
                phi,
                drop: between(&self.ground, at, phi),
            }
        });
        each.collect()
    }

    /// A quarter of a circle from the face to the land.
    fn rounded(&self, behind_mm: f64) -> f64 {
        let short = self.rounding_mm - behind_mm;
        if short <= 0.0 {
            return 0.0;
        }
        self.rounding_mm - (self.rounding_mm.powi(2) - short.powi(2)).max(0.0).sqrt()
    }

    /// A parabola, deepest in its middle.
    fn nicked(&self, behind_mm: f64) -> f64 {
        self.nick.map_or(0.0, |nick| {
            let off = 2.0 * (behind_mm - nick.at_mm) / nick.width_mm;
            nick.depth_mm * (1.0 - off * off).max(0.0)
        })
    }
}

/// The drop at an arc behind the edge, on straight lines between the points.
pub(super) fn drop_at(points: &[LandPoint], phi: f64) -> f64 {
    let at = points.partition_point(|point| point.phi <= phi);
    between(points, at.saturating_sub(1), phi)
}

fn between(points: &[LandPoint], at: usize, phi: f64) -> f64 {
    match (points.get(at), points.get(at + 1)) {
        (Some(from), Some(to)) if to.phi > from.phi => {
            let share = (phi - from.phi) / (to.phi - from.phi);
            from.drop + (to.drop - from.drop) * share
        }
        (Some(only), _) => only.drop,
        (None, _) => 0.0,
    }
}

/// Leaves out points that lie on the straight line between their neighbours to within a bound, by the
/// method of Ramer (1972) and of Douglas and Peucker (1973).
pub(super) fn thinned(points: &[LandPoint], within_mm: f64) -> Vec<LandPoint> {
    let Some(last) = points.len().checked_sub(1) else {
        return Vec::new();
    };
    let mut kept = vec![false; points.len()];
    kept[0] = true;
    kept[last] = true;
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let line = [points[from], points[to]];
        let inside = points.iter().enumerate().take(to).skip(from + 1);
        let off = inside.map(|(at, point)| (at, (point.drop - between(&line, 0, point.phi)).abs()));
        let farthest = off.max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((at, off)) = farthest
            && off > within_mm
        {
            kept[at] = true;
            spans.push((from, at));
            spans.push((at, to));
        }
    }
    let each = points.iter().zip(kept);
    each.filter_map(|(point, kept)| kept.then_some(*point))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::scenario::{Relief, Surface};

    const SEAT: Seat = Seat {
        radius_mm: 10.0,
        surface: Surface::Radial,
    };
    const LAND: Land = Land {
        arc_deg: 40.0,
        margin_mm: 0.0,
        relief: Relief::Spiral { relief_deg: 8.0 },
    };

    #[track_caller]
    fn check(profile: &Profile, behind_mm: f64, expected_mm: f64) {
        let points = profile.points(0.0005);
        let found = drop_at(&points, behind_mm / SEAT.radius_mm);
        assert!((found - expected_mm).abs() < 2e-5, "{behind_mm}: {found}");
    }

    #[test]
    fn a_wear_land_brings_the_edge_down_to_the_relief_where_it_ends() {
        let tooth = Tooth {
            wear_land_mm: 0.3,
            ..Tooth::default()
        };
        let profile = Profile::new(LAND, SEAT, &tooth);
        let tan = 8f64.to_radians().tan();
        assert!((profile.lost() - 0.3 * tan).abs() < 1e-6);
        check(&profile, 0.0, 0.0);
        check(&profile, 0.29, 0.0);
        check(&profile, 1.0, 0.7 * tan);
    }

    #[test]
    fn a_rounded_edge_is_a_quarter_of_a_circle() {
        let tooth = Tooth {
            rounding_mm: 0.02,
            ..Tooth::default()
        };
        let profile = Profile::new(LAND, SEAT, &tooth);
        let tan = 8f64.to_radians().tan();
        assert_eq!(profile.lost(), 0.0);
        check(&profile, 0.0, 0.02);
        check(&profile, 0.02, 0.02 * tan);
        // At half of the radius the circle lies `1 - cos 30°` of it deep.
        check(
            &profile,
            0.01,
            0.02 * (1.0 - 30f64.to_radians().cos()) + 0.01 * tan,
        );
    }

    #[test]
    fn a_nick_is_deepest_in_its_middle_and_nothing_beside_it() {
        let tooth = Tooth {
            nick: Some(Nick {
                at_mm: 2.0,
                width_mm: 0.4,
                depth_mm: 0.03,
            }),
            ..Tooth::default()
        };
        let profile = Profile::new(LAND, SEAT, &tooth);
        let tan = 8f64.to_radians().tan();
        check(&profile, 1.79, 1.79 * tan);
        check(&profile, 2.0, 2.0 * tan + 0.03);
        check(&profile, 2.1, 2.1 * tan + 0.03 * 0.75);
    }

    #[test]
    fn a_land_given_by_points_is_those_points() {
        let tooth = Tooth {
            ground: vec![[0.0, 0.0], [10.0, 0.2], [30.0, 0.3]],
            ..Tooth::default()
        };
        let profile = Profile::new(LAND, SEAT, &tooth);
        let mm = |deg: f64| deg.to_radians() * 10.0;
        check(&profile, mm(5.0), 0.1);
        check(&profile, mm(20.0), 0.25);
        let end = profile.points(0.01).last().map(|last| last.phi);
        assert!((end.unwrap_or(0.0) - 30f64.to_radians()).abs() < 1e-12);
    }

    #[test]
    fn thinning_keeps_every_point_within_its_bound() {
        let all: Vec<LandPoint> = (0..4000)
            .map(|i| {
                let phi = f64::from(i) * 1e-3;
                LandPoint {
                    phi,
                    drop: phi.sin(),
                }
            })
            .collect();
        let few = thinned(&all, 1e-4);
        assert!(few.len() < 200, "{}", few.len());
        for point in &all {
            assert!((drop_at(&few, point.phi) - point.drop).abs() <= 1e-4 + 1e-12);
        }
    }
}
