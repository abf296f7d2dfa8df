//! A grind by brute force: points of the old lands, and a wheel that visits every angle of the tool.
//!
//! Shares no geometry with the stages that work out what to set. What it does with the recipe is what
//! is true: scales that are off, a wheel smaller than its card, a feed that takes off less.

use super::fixture::Moving;
use super::land::LandPoint;
use super::outline::{self, TrueTooth};
use super::scenario::{Feature, Grinder, Scenario, Surface, Tooth, WheelPart};
use super::work::written;
use super::worn::thinned;
use crate::card;
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

/// What is set on the grinder for one direction of in-feed, on its scales.
#[derive(Clone, Debug, PartialEq)]
pub struct Grind {
    /// Which of the recipe's fixtures.
    pub fixture: usize,
    /// Throw of the fixture.
    pub throw: Length,
    /// How far the tool is turned against the cam's beginning.
    pub cam_angle: Angle,
    /// In-feed after the first touch.
    pub in_feed: Length,
}

/// What a grind left.
#[derive(Clone, Debug)]
pub struct Ground {
    /// Where the wheel touched first.
    pub first_touch: Touched,
    /// What is old surface still, the place that lies deepest of each tooth; empty where every land is
    /// new from its edge to its end.
    pub unclean: Vec<Touched>,
    /// The least in-feed after the first touch that would have left nothing old, on the slide's scale.
    pub least: Length,
    /// The tool as it is now, to be measured again.
    pub tool: Scenario,
}

/// A place on a land.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touched {
    /// The feature's place in the recipe.
    pub feature: usize,
    /// The tooth by growing angle, counted from 0.
    pub tooth: usize,
    /// Behind its edge.
    pub behind: Angle,
    /// How deep: at the first touch what came off, else what would still have to.
    pub depth: Length,
}

/// Angles of a turn at which the wheel's place is looked at. Between two of them a wheel of 150 mm
/// leaves a cusp of 4 nm on a tool of 20 mm.
const VISITS: usize = 3600;
/// Points of a land, in radians.
const APART: f64 = 0.04 / 180.0 * std::f64::consts::PI;
/// Less than this that comes off is not seen.
const SEEN_MM: f64 = 0.001;
/// A visit is half a step off the place that it passes, by far less than this.
const SLACK_MM: f64 = 0.01;
/// A place of the wheel is found to this.
const NEAR_MM: f64 = 1e-6;
/// Lands given by points are true to this.
const TRUE_MM: f64 = 2e-6;

impl Scenario {
    /// The recipe's first fixture that moves the tool along a direction.
    pub fn fixture_along(&self, direction: card::Surface) -> Option<usize> {
        let mut fixtures = self.fixtures().iter();
        fixtures.position(|fixture| fixture.direction.on_card() == direction)
    }

    /// Grinds as [`Scenario::grind`] does with its scales set by a hand: to half a graduation, and
    /// anywhere in the play of the throw.
    ///
    /// # Errors
    /// As [`Scenario::grind`].
    pub fn grind_by_hand(&self, set: &Grind, hand: &mut impl Rng) -> Result<Ground> {
        let mut within = |width: f64| width * hand.random_range(-0.5..0.5);
        let fixture = self.fixtures().get(set.fixture);
        let throw = fixture.map_or(0.0, |it| within(it.graduation_mm) + within(it.play_mm));
        let index = fixture.and_then(|it| it.cam_graduation_deg);
        self.grind(&Grind {
            fixture: set.fixture,
            throw: set.throw + Length::from_mm(throw),
            cam_angle: set.cam_angle + Angle::from_deg(within(index.unwrap_or(0.0))),
            in_feed: set.in_feed,
        })
    }

    /// Grinds every feature of the fixture's direction at one setting, its first trace's section alone.
    ///
    /// # Errors
    /// Where the recipe has no such fixture, or the wheel never meets a land.
    pub fn grind(&self, set: &Grind) -> Result<Ground> {
        let none = || Error::new(Code::Usage, "the recipe has no such fixture or feature");
        let grinder = self.grinder.as_ref().ok_or_else(none)?;
        let fixture = grinder.fixture.get(set.fixture).ok_or_else(none)?;
        let moving = fixture.engaged(set.throw.mm(), set.cam_angle.deg());
        let bench = Bench::new(self, grinder, moving, fixture.direction);
        if bench.points.is_empty() {
            return Err(none());
        }
        let contact = bench.meets(Ends::First).ok_or_else(never)?;
        let mut hand = Pcg64::seed_from_u64(self.seed.wrapping_mul(1000).wrapping_add(500));
        // The slide's own steps lie anywhere against the tool.
        let step = grinder.touch_step_mm.max(NEAR_MM);
        let mut stop = contact + step * hand.random::<f64>();
        let (touch, deep) = loop {
            let cut = bench.cut(stop);
            let deepest = bench.deepest(&cut);
            match deepest {
                Some((at, depth)) if depth > SEEN_MM => break (at, depth),
                _ => stop -= step,
            }
        };
        let clean_at = bench.meets(Ends::Last).ok_or_else(never)?;
        let feeds = 1.0 + grinder.feed_error;
        let cut = bench.cut(stop - set.in_feed.mm() * feeds);
        Ok(Ground {
            first_touch: bench.place(touch, deep),
            unclean: bench.unclean(&cut),
            least: Length::from_mm(((stop - clean_at) / feeds).max(0.0)),
            tool: bench.left(&cut),
        })
    }
}

fn never() -> Error {
    Error::new(
        Code::Usage,
        "the wheel never meets every land in this direction",
    )
}

/// Which of the two ends of an in-feed.
#[derive(Clone, Copy)]
enum Ends {
    /// Where the first place is met.
    First,
    /// Where the last place is new.
    Last,
}

/// A point of an old land.
#[derive(Clone, Copy)]
struct Point {
    feature: usize,
    tooth: usize,
    phi: f64,
    /// Of the tool, in one turn.
    angle: f64,
    /// Its sine and cosine.
    sin_cos: (f64, f64),
    /// From the axis, or along it.
    height: f64,
}

/// The points of one feature.
struct Around {
    feature: usize,
    /// Their places in the list of all points, by growing angle.
    places: Vec<usize>,
}

/// Tool, wheel and fixture as they really are.
struct Bench<'s> {
    scenario: &'s Scenario,
    direction: Surface,
    teeth: Vec<(usize, Vec<TrueTooth>)>,
    /// In the order of features, teeth, and arc.
    points: Vec<Point>,
    /// The points of each feature once more, by angle.
    rounds: Vec<Around>,
    moving: Moving,
    wheel: WheelPart,
    wheel_radius: f64,
    /// Radius on the cards of the largest feature ground, to which the wheel's steps are dressed.
    largest: f64,
    /// The tool's axis from the fixture's, in the tool's own frame.
    off: (f64, f64),
}

impl<'s> Bench<'s> {
    fn new(scenario: &'s Scenario, grinder: &Grinder, moving: Moving, direction: Surface) -> Self {
        let features = scenario.feature.iter().enumerate();
        let teeth: Vec<(usize, Vec<TrueTooth>)> = features
            .filter(|(_, feature)| feature.surface == direction)
            .map(|(at, feature)| {
                let z_mm = feature.true_z_mm(0);
                (at, outline::teeth(feature, scenario.tool.flutes, z_mm))
            })
            .collect();
        let first_edge = scenario.clamping.first_edge_deg.to_radians();
        let points: Vec<Point> = teeth
            .iter()
            .flat_map(|(feature, teeth)| {
                let each = teeth.iter().enumerate();
                each.flat_map(move |(at, tooth)| of_tooth(*feature, at, tooth, first_edge))
            })
            .collect();
        let rounds = teeth.iter().map(|(feature, _)| {
            let all = points.iter().enumerate();
            let of_it = all.filter(|(_, point)| point.feature == *feature);
            let mut places: Vec<usize> = of_it.map(|(place, _)| place).collect();
            places.sort_by(|a, b| points[*a].angle.total_cmp(&points[*b].angle));
            Around {
                feature: *feature,
                places,
            }
        });
        let rounds = rounds.collect();
        let radii = teeth
            .iter()
            .map(|(at, _)| scenario.feature[*at].diameter_mm / 2.0);
        let at = grinder.eccentric_at_deg.to_radians();
        let wheel = grinder.wheel;
        Self {
            scenario,
            direction,
            rounds,
            largest: radii.fold(0.0, f64::max),
            teeth,
            points,
            moving,
            wheel: wheel.cuts,
            wheel_radius: (wheel.diameter_mm + wheel.diameter_error_mm) / 2.0,
            off: (
                grinder.eccentricity_mm * at.cos(),
                grinder.eccentricity_mm * at.sin(),
            ),
        }
    }

    /// The surface that the wheel leaves of air: the least height that it comes to at each point, with
    /// its slide so that an unmoved tool would become a round of this radius (axial: height), told for
    /// the largest feature. Infinite where it never comes near.
    fn cut(&self, slide: f64) -> Vec<f64> {
        let mut lowest = vec![f64::INFINITY; self.points.len()];
        let line = match (self.direction, self.wheel) {
            (Surface::Radial, _) | (Surface::Axial, WheelPart::Rim) => false,
            // A line of the wheel touches, so that each place is ground as it passes that.
            (Surface::Axial, WheelPart::Corner | WheelPart::Side) => true,
        };
        if line {
            for (point, lowest) in self.points.iter().zip(&mut lowest) {
                *lowest = slide - self.moving.towards(point.angle);
            }
            return lowest;
        }
        for round in &self.rounds {
            let feature = &self.scenario.feature[round.feature];
            // As it passes a place, the wheel comes at least so near to it, since the motion is towards
            // it: a visit that stays above leaves nothing.
            let clear = slide - self.steps_down(feature) + self.off.0.hypot(self.off.1) + SLACK_MM;
            for visit in 0..VISITS {
                let angle = TAU * visit as f64 / VISITS as f64;
                let wheel = self.wheel_at(feature, slide, angle);
                self.visit(&wheel, round, clear, &mut lowest);
            }
        }
        lowest
    }

    /// Takes off what the wheel covers from where it stands, outwards to both sides until it is clear of
    /// the tool.
    fn visit(&self, wheel: &Wheel, round: &Around, clear: f64, lowest: &mut [f64]) {
        let places = &round.places;
        let count = places.len();
        let start = places.partition_point(|place| self.points[*place].angle < wheel.angle);
        let mut walk = |next: &dyn Fn(usize) -> usize| {
            for step in 0..count {
                let place = places[next(step)];
                match wheel.height(&self.points[place]) {
                    Some(height) if height < clear => {
                        lowest[place] = lowest[place].min(height);
                    }
                    _ => break,
                }
            }
        };
        walk(&|step| (start + step) % count);
        walk(&|step| (start + 2 * count - 1 - step) % count);
    }

    /// By how much smaller a feature is on the cards than the largest: the steps of the wheel.
    fn steps_down(&self, feature: &Feature) -> f64 {
        match self.direction {
            Surface::Radial => self.largest - feature.diameter_mm / 2.0,
            Surface::Axial => 0.0,
        }
    }

    fn wheel_at(&self, feature: &Feature, slide: f64, angle: f64) -> Wheel {
        let stands = slide - self.moving.towards(angle);
        match self.direction {
            Surface::Radial => {
                // A wheel dressed to the tool's steps is larger where the tool is smaller.
                let less = self.steps_down(feature);
                let (sin, cos) = angle.sin_cos();
                let rim = match self.wheel {
                    WheelPart::Side => None,
                    WheelPart::Rim | WheelPart::Corner => Some(self.wheel_radius + less),
                };
                let centre = stands - less + rim.unwrap_or(0.0);
                Wheel {
                    angle,
                    rim,
                    round: None,
                    x: centre * cos - self.off.0,
                    y: centre * sin - self.off.1,
                    out: (cos, sin),
                }
            }
            Surface::Axial => Wheel {
                angle,
                rim: Some(self.wheel_radius),
                round: Some(feature.true_diameter_mm() / 2.0),
                x: 0.0,
                y: stands + self.wheel_radius,
                out: (0.0, 1.0),
            },
        }
    }

    /// Where the slide stands when the first place is met, or the last.
    fn meets(&self, ends: Ends) -> Option<f64> {
        let highest = self.points.iter().map(|point| point.height);
        let mut slide = highest.fold(f64::MIN, f64::max) + self.moving.most();
        if self.direction == Surface::Radial {
            slide += self.steps_off();
        }
        // The surface follows the slide nearly one to one, so that a few corrections find it.
        for _ in 0..60 {
            let cut = self.cut(slide);
            let gaps = cut
                .iter()
                .zip(&self.points)
                .map(|(cut, point)| cut - point.height);
            let gap = match ends {
                Ends::First => gaps.fold(f64::INFINITY, f64::min),
                Ends::Last => gaps.fold(f64::NEG_INFINITY, f64::max),
            };
            if gap == f64::INFINITY {
                // Not in reach yet: nearer by what nothing can be missed by.
                slide -= 0.05;
                continue;
            }
            slide -= gap;
            if gap.abs() < NEAR_MM {
                return Some(slide);
            }
        }
        None
    }

    /// The most that a feature stands above what the wheel's steps allow it.
    fn steps_off(&self) -> f64 {
        let features = self.teeth.iter().map(|(at, _)| &self.scenario.feature[*at]);
        features
            .map(|feature| feature.diameter_error_mm / 2.0)
            .fold(0.0, f64::max)
    }

    /// The point where most comes off.
    fn deepest(&self, cut: &[f64]) -> Option<(usize, f64)> {
        let depths = cut
            .iter()
            .zip(&self.points)
            .map(|(cut, point)| point.height - cut);
        depths.enumerate().max_by(|a, b| a.1.total_cmp(&b.1))
    }

    fn place(&self, at: usize, depth: f64) -> Touched {
        let point = self.points[at];
        Touched {
            feature: point.feature,
            tooth: point.tooth,
            behind: Angle::from_rad(point.phi),
            depth: Length::from_mm(depth),
        }
    }

    fn unclean(&self, cut: &[f64]) -> Vec<Touched> {
        let mut found: Vec<Touched> = Vec::new();
        for (at, (cut, point)) in cut.iter().zip(&self.points).enumerate() {
            let short = cut - point.height;
            if short < 0.0 {
                continue;
            }
            let here = self.place(at, short);
            let same = |it: &&mut Touched| (it.feature, it.tooth) == (here.feature, here.tooth);
            match found.iter_mut().find(same) {
                Some(known) if known.depth < here.depth => *known = here,
                Some(_) => {}
                None => found.push(here),
            }
        }
        found
    }

    /// The recipe of the tool that is left.
    fn left(&self, cut: &[f64]) -> Scenario {
        let mut tool = self.scenario.clone();
        for (feature, teeth) in &self.teeth {
            let lands: Vec<Vec<LandPoint>> = (0..teeth.len())
                .map(|tooth| self.land_left(cut, *feature, tooth))
                .collect();
            leave(&mut tool.feature[*feature], teeth, &lands);
        }
        tool.stage = "after-grind".to_owned();
        tool.seed = tool.seed.wrapping_add(1);
        for fixture in tool.grinder.iter_mut().flat_map(|it| &mut it.fixture) {
            fixture.trace_motion = false;
            fixture.residual.clear();
        }
        tool
    }

    /// Of a tooth the arcs behind its edge with the heights that are left.
    fn land_left(&self, cut: &[f64], feature: usize, tooth: usize) -> Vec<LandPoint> {
        let all = cut.iter().zip(&self.points);
        let of_it = all.filter(|(_, point)| (point.feature, point.tooth) == (feature, tooth));
        of_it
            .map(|(cut, point)| LandPoint {
                phi: point.phi,
                drop: cut.min(point.height),
            })
            .collect()
    }
}

/// The points of a tooth.
fn of_tooth(
    feature: usize,
    tooth: usize,
    of: &TrueTooth,
    first_edge: f64,
) -> impl Iterator<Item = Point> {
    let (edge, height) = (of.edge + first_edge, of.height);
    let points = of.profile.points(APART * of.seat.radius_mm);
    points.into_iter().map(move |point| {
        let angle = (edge + point.phi).rem_euclid(TAU);
        Point {
            feature,
            tooth,
            phi: point.phi,
            angle,
            sin_cos: angle.sin_cos(),
            height: height - point.drop,
        }
    })
}

/// Writes what is left into a feature; the lands' drops are heights.
pub(super) fn leave(feature: &mut Feature, teeth: &[TrueTooth], lands: &[Vec<LandPoint>]) {
    let edge = |land: &Vec<LandPoint>| land.first().map_or(0.0, |first| first.drop);
    let highest = lands.iter().map(edge).fold(f64::MIN, f64::max);
    let before = teeth
        .iter()
        .map(|tooth| tooth.height)
        .fold(f64::MIN, f64::max);
    feature.gap_depth_mm = (feature.gap_depth_mm - (before - highest)).max(0.0);
    if feature.surface == Surface::Radial {
        let written = written(2.0 * highest);
        feature.diameter_error_mm = 2.0 * highest - written;
        feature.diameter_mm = written;
    }
    let known = std::mem::take(&mut feature.tooth);
    let each = lands.iter().enumerate().map(|(at, land)| {
        let drops: Vec<LandPoint> = land
            .iter()
            .map(|point| LandPoint {
                drop: edge(land) - point.drop,
                ..*point
            })
            .collect();
        let thin = thinned(&drops, TRUE_MM);
        Tooth {
            height_mm: edge(land) - highest,
            angle_deg: known.get(at).map_or(0.0, |tooth| tooth.angle_deg),
            ground: thin
                .iter()
                .map(|it| [it.phi.to_degrees(), it.drop])
                .collect(),
            ..Tooth::default()
        }
    });
    feature.tooth = each.collect();
}

/// The wheel where it stands, in the tool's frame.
struct Wheel {
    /// Angle of the tool that is towards it.
    angle: f64,
    /// Its radius; nothing where it is the face of a cup.
    rim: Option<f64>,
    /// The circle that is unrolled, for an axial surface.
    round: Option<f64>,
    /// Its centre, or a point of its face.
    x: f64,
    y: f64,
    /// From the tool's axis to it.
    out: (f64, f64),
}

impl Wheel {
    /// How high it lets a point stand; nothing where it does not reach over it.
    fn height(&self, point: &Point) -> Option<f64> {
        if let (Some(round), Some(rim)) = (self.round, self.rim) {
            let away = (point.angle - self.angle + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
            let along = round * away;
            let under = rim * rim - along * along;
            return (under > 0.0).then(|| self.y - under.sqrt());
        }
        let (sin, cos) = point.sin_cos;
        let Some(rim) = self.rim else {
            // The ray meets a line square to `out`.
            let towards = cos * self.out.0 + sin * self.out.1;
            let far = self.x * self.out.0 + self.y * self.out.1;
            return (towards > 0.1).then(|| far / towards);
        };
        // The nearer of the two places where the ray from the axis meets the circle.
        let along = self.x * cos + self.y * sin;
        let beside = self.x * sin - self.y * cos;
        let under = rim * rim - beside * beside;
        (along > 0.0 && under > 0.0).then(|| along - under.sqrt())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::scenario::{Fixture, GrindingWheel, Nick};
    use super::*;

    /// A four-flute reamer under a harmonic cam of 0.6 mm, and a wheel of 150 mm.
    fn bench() -> Scenario {
        let text = "about = \"a bench\"\n[tool]\nid = \"VB-1\"\nname = \"reamer\"\nflutes = 4\n\
            [[feature]]\nname = \"lead\"\ndiameter_mm = 20.0\ncheck_distance_mm = 0.5\n\
            land = { arc_deg = 40.0, relief = { family = \"spiral\", relief_deg = 6.0 } }\n\
            [clamping]\nfirst_edge_deg = 12.0\n\
            [grinder]\nwheel = { diameter_mm = 150.0 }\n\
            [[grinder.fixture]]\nthrow_mm = 1.0\ngreatest_throw_mm = 2.0\ngraduation_mm = 0.01\n\
            cam = { law = \"harmonic\", rise_mm = 0.6, rise_deg = 60.0, return_deg = 20.0, lobes = 4 }\n";
        Scenario::from_toml(text, "bench.toml").unwrap()
    }

    fn set(throw: f64, cam_angle_deg: f64, in_feed_mm: f64) -> Grind {
        Grind {
            fixture: 0,
            throw: Length::from_mm(throw),
            cam_angle: Angle::from_deg(cam_angle_deg),
            in_feed: Length::from_mm(in_feed_mm),
        }
    }

    fn fixture(scenario: &mut Scenario) -> &mut Fixture {
        &mut scenario.grinder.as_mut().unwrap().fixture[0]
    }

    fn wheel(scenario: &mut Scenario) -> &mut GrindingWheel {
        &mut scenario.grinder.as_mut().unwrap().wheel
    }

    /// The lands left, as drops under the highest edge at degrees behind each edge.
    fn drops(tool: &Scenario, behind_deg: f64) -> Vec<f64> {
        let teeth = outline::teeth(&tool.feature[0], tool.tool.flutes, 0.0);
        let each = teeth.iter().map(|tooth| {
            let points = tooth.profile.points(0.001);
            let drop = super::super::worn::drop_at(&points, behind_deg.to_radians());
            10.0 - (tooth.height - drop)
        });
        each.collect()
    }

    /// First principles: a tool that only turns becomes a round under any wheel.
    #[test]
    fn without_motion_any_wheel_leaves_a_round() {
        for part in [WheelPart::Rim, WheelPart::Side] {
            let mut bench = bench();
            wheel(&mut bench).cuts = part;
            let ground = bench.grind(&set(0.0, 0.0, 0.8)).unwrap();
            assert_eq!(ground.unclean, []);
            for behind in [0.0, 10.0, 25.0, 40.0] {
                for drop in drops(&ground.tool, behind) {
                    assert!((drop - 0.801).abs() < 1.1e-3, "{part:?} {behind}: {drop}");
                }
            }
            let truth = ground.tool.truth(0).unwrap();
            assert!(truth.edge_spread.mm() < 1e-5);
            assert!(truth.teeth[0].relief_angle.deg().abs() < 0.01);
        }
    }

    /// First principles: to second order the drop is `g m + (W / (R + W)) (g m')² / (2 R)`.
    #[test]
    fn a_wheel_leaves_its_envelope_to_second_order() {
        for (wheel_mm, throw) in [(150.0, 0.2), (40.0, 0.2), (150.0, 0.05)] {
            let mut bench = bench();
            wheel(&mut bench).diameter_mm = wheel_mm;
            // The edges stand at 12°, 102° and so on; the cam begins 5° before them.
            let ground = bench.grind(&set(throw, 7.0, 1.5)).unwrap();
            assert_eq!(ground.unclean, []);
            let half = wheel_mm / 2.0;
            // The unmoved surface has shrunk with the in-feed.
            let radius = 10.0 - drops(&ground.tool, 0.0)[0];
            let below = |behind_deg: f64| {
                let u = std::f64::consts::PI * (behind_deg + 5.0) / 60.0;
                let moved = throw * 0.6 * (1.0 - u.cos()) / 2.0;
                let slope = throw * 0.6 * 3.0 * u.sin() / 2.0;
                moved + half / (radius + half) * slope * slope / (2.0 * radius)
            };
            for behind in [10.0, 25.0, 38.0] {
                let drop = drops(&ground.tool, behind)[0] - drops(&ground.tool, 0.0)[0];
                let expected = below(behind) - below(0.0);
                // What is left out is of third order in the slope.
                let third = (throw * 0.9f64).powi(3) / radius.powi(2) * 10.0;
                assert!(
                    (drop - expected).abs() < third.max(5e-5),
                    "{drop} {expected}"
                );
            }
        }
    }

    #[test]
    fn hidden_errors_of_throw_and_cam_are_in_the_surface() {
        let honest = bench().grind(&set(0.22, 8.5, 1.5)).unwrap();
        let mut off = bench();
        fixture(&mut off).throw_error = 0.1;
        fixture(&mut off).cam_error_deg = 1.5;
        let ground = off.grind(&set(0.2, 7.0, 1.5)).unwrap();
        for behind in [0.0, 20.0, 39.0] {
            let both = drops(&honest.tool, behind)
                .into_iter()
                .zip(drops(&ground.tool, behind));
            for (a, b) in both {
                // But for where the hand stopped, which is the same draw.
                assert!((a - b).abs() < 1e-4, "{a} {b}");
            }
        }
    }

    #[test]
    fn a_feed_that_takes_off_less_leaves_a_larger_tool() {
        let mut short = bench();
        short.grinder.as_mut().unwrap().feed_error = -0.1;
        let all = drops(&bench().grind(&set(0.2, 7.0, 1.5)).unwrap().tool, 0.0)[0];
        let less = drops(&short.grind(&set(0.2, 7.0, 1.5)).unwrap().tool, 0.0)[0];
        assert!((all - less - 0.15).abs() < 1e-4, "{all} {less}");
    }

    #[test]
    fn a_nick_deeper_than_the_skim_is_not_clean_and_the_least_skim_is_just_enough() {
        let matched = bench().grind(&set(1.0, 7.0, 1.5)).unwrap().tool;
        let mut nicked = matched.clone();
        let nick = Nick {
            at_mm: 3.0,
            width_mm: 0.5,
            depth_mm: 0.09,
        };
        nicked.feature[0].tooth[1].nick = Some(nick);
        let setting = |in_feed| set(1.0, 7.0, in_feed);
        let least = nicked.grind(&setting(0.1)).unwrap().least;
        // What the first touch took off is less to come.
        assert!((0.087..=0.0901).contains(&least.mm()), "{least:?}");
        assert!(matched.grind(&setting(0.1)).unwrap().least.mm() < 0.002);
        let short = nicked.grind(&setting(least.mm() - 0.002)).unwrap();
        assert_eq!(short.unclean.len(), 1);
        let left = short.unclean[0];
        assert_eq!((left.feature, left.tooth), (0, 1));
        assert!((left.behind.rad() * 9.0 - 3.0).abs() < 0.5);
        // A face that leans follows the slide nearly one to one.
        assert!((left.depth.mm() - 0.002).abs() < 1e-4, "{left:?}");
        let clean = nicked.grind(&setting(least.mm() + 0.0005)).unwrap();
        assert_eq!(clean.unclean, []);
    }

    #[test]
    fn the_highest_edge_is_touched_first_and_a_rounded_one_is_clean_when_its_face_is() {
        let mut bench = bench();
        let edge = |height_mm, rounding_mm| Tooth {
            height_mm,
            rounding_mm,
            ..Tooth::default()
        };
        bench.feature[0].tooth = vec![
            edge(-0.02, 0.0),
            edge(-0.02, 0.03),
            edge(0.0, 0.0),
            edge(-0.02, 0.0),
        ];
        let ground = bench.grind(&set(1.2, 12.0, 0.4)).unwrap();
        assert_eq!(ground.first_touch.tooth, 2);
        assert_eq!(ground.unclean, []);
        let short = bench.grind(&set(1.2, 12.0, 0.0)).unwrap();
        let of_rounded = short.unclean.iter().find(|it| it.tooth == 1).unwrap();
        let of_plain = short.unclean.iter().find(|it| it.tooth == 0).unwrap();
        assert!(of_rounded.depth >= of_plain.depth);
    }

    #[test]
    fn a_ground_tool_is_a_recipe_that_can_be_written_read_and_ground_again() {
        let ground = bench().grind(&set(1.0, 7.0, 1.5)).unwrap();
        let text = toml::to_string(&ground.tool).unwrap();
        let read = Scenario::from_toml(&text, "ground.toml").unwrap();
        assert_eq!(read, ground.tool);
        let truth = read.truth(0).unwrap();
        let height = truth.teeth[0].edge_height.mm();
        assert!((2.0 * height - read.feature[0].true_diameter_mm()).abs() < 1e-9);
        // A second grind of the same setting meets the whole land at once.
        let again = read.grind(&set(1.0, 7.0, 0.01)).unwrap();
        assert_eq!(again.unclean, []);
        assert!(again.least.mm() < 0.002, "{:?}", again.least);
        let after = again.tool.truth(0).unwrap();
        for (a, b) in truth.teeth.iter().zip(&after.teeth) {
            assert!((a.relief_angle.deg() - b.relief_angle.deg()).abs() < 0.03);
            let apart = a.drop.unwrap().mm() - b.drop.unwrap().mm();
            assert!(apart.abs() < 1e-4, "{apart}");
        }
    }

    #[test]
    fn a_face_is_ground_by_the_motion_itself_where_a_line_touches() {
        let mut bench = bench();
        bench.feature[0].surface = Surface::Axial;
        bench.feature[0].feed_mm_per_rev = Some(0.1);
        fixture(&mut bench).direction = Surface::Axial;
        wheel(&mut bench).cuts = WheelPart::Side;
        let ground = bench.grind(&set(1.0, 7.0, 1.5)).unwrap();
        assert_eq!(ground.unclean, []);
        let teeth = outline::teeth(&ground.tool.feature[0], 4, 0.0);
        let points = teeth[0].profile.points(0.001);
        let u = |behind: f64| std::f64::consts::PI * (behind + 5.0) / 60.0;
        let expected = 0.3 * (u(0.0).cos() - u(20.0).cos());
        let found = super::super::worn::drop_at(&points, 20f64.to_radians());
        assert!((found - expected).abs() < 1e-5, "{found} {expected}");
    }
}
