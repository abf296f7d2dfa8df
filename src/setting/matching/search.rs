//! The search over throw and cam angle.

use super::predict::Wanted;
use super::{Cut, DrawnLand, End, Face, Goal, OldPlace, Spot};
use crate::card::Name;
use crate::numeric::golden;
use crate::quantity::{Angle, Length};
use crate::setting::envelope::Ground;
use crate::setting::rounding::Rounding;
use std::f64::consts::TAU;

/// A setting: gain of the throw and cam angle in radians, as they really stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct At {
    pub gain: f64,
    pub cam: f64,
    /// What the motion was read too high by in the middle of its swing, mm at the throw of its trace.
    pub bow: f64,
}

impl At {
    pub fn new(gain: f64, cam: f64) -> Self {
        Self {
            gain,
            cam,
            bow: 0.0,
        }
    }
}

/// Everything that stays the same while settings are tried.
pub(super) struct Search<'c, 'a> {
    pub cut: &'c Cut<'a>,
    /// Gains that surfaces were worked out for, growing.
    gains: Vec<f64>,
    /// Whether the last of them is the greatest that the throw opens to.
    whole_range: bool,
    /// For each face, the surface at each of the gains.
    grounds: Vec<Vec<Ground>>,
    /// How far the motion moves the tool in all, at its throw.
    swing: f64,
    /// Every place of every land.
    pub places: Vec<Placed>,
}

/// A place with what it belongs to; mm and radians.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    pub spot: Spot,
    pub angle: f64,
    pub height: f64,
    pub scatter: f64,
    pub damaged: bool,
    /// Behind what is to come clean: the wheel may touch it, and that is all.
    pub beyond: bool,
    /// Rounding of the edge that is here; nothing behind it.
    pub rounding: Option<Rounding>,
}

/// Between two gains a surface is read in a straight line: over a range of 24 steps the wheel's share,
/// which grows with the square, is off by less than a 2000th of itself. A wide range has more steps.
const GAINS: usize = 25;
const MOST_GAINS: usize = 61;
/// The range of gains that the fewest steps are for.
const RANGE: f64 = 2.5;
/// No land is relieved by more of its radius (common practice, no source): what a throw does beyond
/// that need not be looked through.
const DEEPEST: f64 = 0.5;
/// Cam angles of the first scan, a degree apart.
const SCAN: usize = 360;

impl<'c, 'a> Search<'c, 'a> {
    pub fn of(cut: &'c Cut<'a>) -> Self {
        let edge_at_rest = vec![0.0; cut.faces.len()];
        let mut search = Self::lifted_by(cut, &edge_at_rest);
        search.places = placed(&cut.faces, cut.doubts.rounding.mm());
        search
    }

    /// The same with every surface worked out where its edges stand at a setting: an edge of radius `R`
    /// is ground by a wheel that stands off an unmoved round of `R` and what the fixture moves the
    /// tool by there.
    pub fn lifted(self, at: At) -> Self {
        let lifts: Vec<f64> = (0..self.cut.faces.len())
            .map(|face| {
                let lands = self.cut.faces.get(face).map_or(&[][..], |face| &face.lands);
                let first = lands.first().map_or(0.0, |land| land.edge.rad());
                self.below(face, at, first)
            })
            .collect();
        let places = self.places;
        Self {
            places,
            ..Self::lifted_by(self.cut, &lifts)
        }
    }

    fn lifted_by(cut: &'c Cut<'a>, lifts: &[f64]) -> Self {
        let at_throw = |throw: Length| throw / cut.motion.throw * cut.throw_gain;
        let (least, greatest) = (at_throw(cut.fixture.least), at_throw(cut.fixture.greatest));
        let radius = cut.faces.iter().map(|face| face.radius.mm());
        let radius = radius.fold(f64::INFINITY, f64::min);
        let deepest = DEEPEST * radius / cut.motion.swing().mm().max(1e-3);
        let most = greatest.min(deepest.max(least + 0.1));
        let count = (GAINS as f64 * (most - least) / RANGE).ceil() as usize;
        let count = count.clamp(GAINS, MOST_GAINS);
        let step = (most - least) / (count - 1) as f64;
        let gains: Vec<f64> = (0..count).map(|at| least + step * at as f64).collect();
        let ground = |(face, lift): (&Face, &f64)| {
            let drawn = face.drawn.lifted(Length::from_mm(*lift));
            let each = gains.iter();
            let each = each.map(|gain| Ground::of(cut.motion, *gain, face.section, drawn));
            each.collect()
        };
        Self {
            grounds: cut.faces.iter().zip(lifts).map(ground).collect(),
            swing: cut.motion.swing().mm(),
            gains,
            whole_range: most >= greatest,
            places: Vec::new(),
            cut,
        }
    }

    /// How far the new surface lies below the unmoved one, at an angle of the tool.
    pub fn below(&self, face: usize, at: At, angle: f64) -> f64 {
        let least = self.gains.first().copied().unwrap_or(0.0);
        let step = self.step();
        let last = self.gains.len().saturating_sub(1);
        let place = ((at.gain - least) / step).clamp(0.0, last as f64);
        let lower = (place.floor() as usize).min(last.saturating_sub(1));
        let share = place - lower as f64;
        let angle = angle - at.cam;
        let Some(grounds) = self.grounds.get(face) else {
            return 0.0;
        };
        match (grounds.get(lower), grounds.get(lower + 1)) {
            (Some(low), Some(high)) => {
                let low = low.at(angle);
                let below = low + (high.at(angle) - low) * share;
                let risen = below / (at.gain * self.swing).max(1e-9);
                below + at.bow * at.gain * 4.0 * risen * (1.0 - risen)
            }
            _ => 0.0,
        }
    }

    fn step(&self) -> f64 {
        match (self.gains.first(), self.gains.get(1)) {
            (Some(first), Some(second)) => second - first,
            _ => 1.0,
        }
    }

    /// How far the old surface stands above the new one at a place, for an in-feed of 0: the greater,
    /// the sooner it is touched.
    pub fn proud(&self, at: At, place: &Placed) -> f64 {
        place.height + self.below(place.spot.face, at, place.angle)
    }

    /// Greatest less least of what stands above the new surface.
    pub fn range(&self, at: At, counts: impl Fn(&Placed) -> bool) -> f64 {
        let mut least = f64::INFINITY;
        let mut most = f64::NEG_INFINITY;
        for place in self.places.iter().filter(|place| counts(place)) {
            let proud = self.proud(at, place);
            if !place.beyond {
                least = least.min(proud);
            }
            most = most.max(proud);
        }
        (most - least).max(0.0)
    }

    /// The place that is touched first with the in-feed there, and the one that is clean last.
    pub fn ends(&self, at: At) -> ((Spot, f64), (Spot, f64)) {
        let none = Spot {
            face: 0,
            land: 0,
            behind: Angle::ZERO,
        };
        let mut first = (none, f64::INFINITY);
        let mut last = (none, f64::NEG_INFINITY);
        for place in &self.places {
            let stock = -self.proud(at, place);
            if stock < first.1 {
                first = (place.spot, stock);
            }
            if stock > last.1 && !place.beyond {
                last = (place.spot, stock);
            }
        }
        (first, last)
    }

    /// The setting that comes nearest to the old lands where they are not damaged. Wear that no curve of
    /// a land told is told by it: the mean of absolute deviations hardly heeds the few places that lie
    /// deep; those are marked, and the rest is matched again by its range.
    pub fn nearest(&mut self) -> At {
        let start = At::new(1.0, 0.0);
        let near = self.best(|at, _| Some(self.deviation(at))).unwrap_or(start);
        self.mark_wear(near);
        self.least_range()
    }

    /// The setting of least range of undamaged places. For one cam angle a range is convex in the gain, so
    /// that the gain is searched to its end there; its valleys run askew to both scales, and steps along
    /// them would end on their slopes.
    pub fn least_range(&self) -> At {
        let counts = |place: &Placed| !place.damaged && !place.beyond;
        let step = TAU / SCAN as f64;
        let turn = (0..SCAN).map(|turn| self.best_gain(step * turn as f64, counts));
        let mut best = turn
            .min_by(|one, other| one.1.total_cmp(&other.1))
            .unwrap_or((At::new(1.0, 0.0), f64::INFINITY));
        let mut step = step / 2.0;
        for _ in 0..10 {
            for by in [-step, step] {
                let next = self.best_gain(best.0.cam + by, counts);
                if next.1 < best.1 {
                    best = next;
                }
            }
            step /= 2.0;
        }
        At {
            cam: best.0.cam.rem_euclid(TAU),
            ..best.0
        }
    }

    /// The gain of least range for a cam angle, by the golden section, and that range.
    fn best_gain(&self, cam: f64, counts: impl Fn(&Placed) -> bool) -> (At, f64) {
        let ends = (self.within(f64::NEG_INFINITY), self.within(f64::INFINITY));
        // To a ten thousandth of the range of the throw.
        let (gain, range) = golden::least(ends, 20, |gain| self.range(At::new(gain, cam), &counts));
        (At::new(gain, cam), range)
    }

    /// Mean absolute deviation of undamaged places from their middle one.
    fn deviation(&self, at: At) -> f64 {
        let places = self.places.iter().filter(|place| !place.damaged);
        let mut proud: Vec<f64> = places.map(|place| self.proud(at, place)).collect();
        let count = proud.len();
        if count == 0 {
            return 0.0;
        }
        let (_, middle, _) = proud.select_nth_unstable_by(count / 2, f64::total_cmp);
        let middle = *middle;
        proud
            .iter()
            .map(|proud| (proud - middle).abs())
            .sum::<f64>()
            / count as f64
    }

    /// Marks what lies deeper than the land about it: wear behind an edge, and nicks.
    fn mark_wear(&mut self, near: At) {
        /// What lies off by less shows no damage (common practice, no source).
        const LEAST: f64 = 0.003;
        /// Where more of all places lie off, it is the cam that does not match.
        const MOST: f64 = 0.4;
        let places = self.places.iter().filter(|place| !place.damaged);
        let mut proud: Vec<f64> = places.map(|place| self.proud(near, place)).collect();
        let Some(middle) = crate::numeric::robust::median(&mut proud) else {
            return;
        };
        let deep: Vec<bool> = self
            .places
            .iter()
            .map(|place| middle - self.proud(near, place) > LEAST.max(4.0 * place.scatter))
            .collect();
        let count = deep.iter().filter(|deep| **deep).count();
        if count as f64 > MOST * deep.len() as f64 {
            return;
        }
        for (place, deep) in self.places.iter_mut().zip(deep) {
            place.damaged |= deep;
        }
    }

    /// What is wanted of the new surface.
    pub fn wanted(&self, goal: Goal, nearest: At) -> Wanted {
        match goal {
            Goal::AsTheCardWants => Wanted::of_card(&self.cut.faces),
            Goal::AsItWas { band } => Wanted::as_it_was(self, nearest, band),
        }
    }

    /// The setting of least skim that keeps what is wanted.
    pub fn least_skim(&self, wanted: &Wanted) -> Option<At> {
        self.best(|at, bound| {
            // The skim is had sooner than the figures are.
            let skim = self.range(at, |_| true);
            (skim < bound && wanted.is_kept(self, at)).then_some(skim)
        })
    }

    /// The setting that breaks limits least, and those that it breaks.
    pub fn least_broken(&self, wanted: &Wanted) -> (At, Vec<(usize, Name, f64)>) {
        let at = self.best(|at, _| Some(wanted.short(self, at)));
        let at = at.unwrap_or(At::new(1.0, 0.0));
        (at, wanted.broken(self, at))
    }

    /// The setting of least cost among those that have one: a scan over both, then ever smaller steps
    /// about the best of it.
    /// What costs no less than the bound given need not be worked out.
    fn best(&self, cost: impl Fn(At, f64) -> Option<f64>) -> Option<At> {
        let mut best: Option<(At, f64)> = None;
        for turn in 0..SCAN {
            let cam = TAU * turn as f64 / SCAN as f64;
            for gain in &self.gains {
                let at = At::new(*gain, cam);
                let bound = best.map_or(f64::INFINITY, |(_, least)| least);
                if let Some(cost) = cost(at, bound)
                    && cost < bound
                {
                    best = Some((at, cost));
                }
            }
        }
        self.refined(best?.0, &cost)
    }

    /// The setting of least skim near one, once the surfaces were worked out anew.
    pub fn settled(&self, near: At, wanted: &Wanted) -> At {
        let cost = |at: At, _| wanted.is_kept(self, at).then(|| self.range(at, |_| true));
        self.refined(near, &cost).unwrap_or(near)
    }

    /// Ever smaller steps about a setting, for as long as they cost less.
    fn refined(&self, from: At, cost: &impl Fn(At, f64) -> Option<f64>) -> Option<At> {
        let mut at = from;
        let mut least = cost(at, f64::INFINITY)?;
        let (mut gain_step, mut cam_step) = (self.step() / 2.0, TAU / SCAN as f64 / 2.0);
        for _ in 0..24 {
            let mut moved = false;
            for (by_gain, by_cam) in NEIGHBOURS {
                let next = At {
                    gain: self.within(at.gain + by_gain * gain_step),
                    cam: at.cam + by_cam * cam_step,
                    ..at
                };
                if let Some(cost) = cost(next, least)
                    && cost < least
                {
                    (at, least, moved) = (next, cost, true);
                }
            }
            if !moved {
                (gain_step, cam_step) = (gain_step / 2.0, cam_step / 2.0);
            }
        }
        at.cam = at.cam.rem_euclid(TAU);
        Some(at)
    }

    fn within(&self, gain: f64) -> f64 {
        match (self.gains.first(), self.gains.last()) {
            (Some(least), Some(greatest)) => gain.clamp(*least, *greatest),
            _ => gain,
        }
    }

    /// The setting on the scales' graduations that lies farthest inside what is wanted, among those as
    /// good as the best to one step of the in-feed.
    pub fn on_the_scale(&self, best: At, wanted: &Wanted) -> At {
        let per_throw = self.cut.throw_gain / self.cut.motion.throw.mm();
        let gain_step = self.cut.fixture.graduation.mm() * per_throw;
        let cam_step = self.cut.fixture.cam_graduation.map(Angle::rad);
        let lead = self.cut.cam_lead.rad();
        let skim = |at: At| self.range(at, |_| true);
        let enough = skim(best) + self.cut.step.mm();
        let on = |value: f64, step: f64, by: i32| ((value / step).round() + f64::from(by)) * step;
        let mut found: Option<(At, f64)> = None;
        for by_gain in -1..=1 {
            for by_cam in -1..=1 {
                let at = At {
                    gain: self.within(on(best.gain, gain_step, by_gain)),
                    cam: match cam_step {
                        Some(step) => on(best.cam - lead, step, by_cam) + lead,
                        None => best.cam,
                    },
                    ..best
                };
                if skim(at) > enough || !wanted.is_kept(self, at) {
                    continue;
                }
                let inside = wanted.inside(self, at);
                if found.is_none_or(|(_, most)| inside > most) {
                    found = Some((at, inside));
                }
            }
        }
        // A graduation too coarse for what is wanted: the nearest mark, and the figures tell.
        found.map_or(
            At {
                gain: self.within(on(best.gain, gain_step, 0)),
                cam: match cam_step {
                    Some(step) => on(best.cam - lead, step, 0) + lead,
                    None => best.cam,
                },
                ..best
            },
            |(at, _)| at,
        )
    }

    /// The same setting a whole number of lobes back, nearest to the cam's beginning.
    pub fn first_lobe(&self, best: At, wanted: &Wanted) -> At {
        let skim = |at: At| self.range(at, |_| true);
        let enough = skim(best) + self.cut.step.mm() / 2.0;
        // A tool has no more teeth than a cam has lobes to grind them with: 24.
        let earlier = (2..=24).rev().map(|lobes| At {
            cam: best.cam.rem_euclid(TAU / f64::from(lobes)),
            ..best
        });
        // The best of all stands on a limit more often than not, and lobes differ by what was read of
        // them: the graduations settle it afterwards.
        let near = |at: &At| skim(*at) <= enough && wanted.inside(self, *at) >= -0.05;
        let mut alike = earlier.filter(near);
        alike.next().unwrap_or(best)
    }

    /// From and to where any cam angle is as good, to one step of the in-feed; nothing where that is
    /// narrower than an index is set by eye.
    pub fn free(&self, best: At, wanted: &Wanted) -> Option<(f64, f64)> {
        /// An index is set to a degree by eye (common practice, no source).
        const BY_EYE: f64 = 3.0 / 180.0 * std::f64::consts::PI;
        const STEP: f64 = 0.5 / 180.0 * std::f64::consts::PI;
        let enough = self.range(best, |_| true) + self.cut.step.mm();
        let does = |cam: f64| {
            let at = At { cam, ..best };
            self.range(at, |_| true) <= enough && wanted.is_kept(self, at)
        };
        let run = |sign: f64| {
            let mut steps = 0;
            while steps < 720 && does(best.cam + sign * STEP * f64::from(steps + 1)) {
                steps += 1;
            }
            best.cam + sign * STEP * f64::from(steps)
        };
        let (from, to) = (run(-1.0), run(1.0));
        (to - from > BY_EYE).then_some((from, to))
    }

    /// Whether a gain stands at an end of the throw.
    pub fn end_of_range(&self, gain: f64) -> Option<End> {
        let near = self.step() * 0.01;
        let least = self.gains.first().copied().unwrap_or(0.0);
        let greatest = self.gains.last().copied().unwrap_or(0.0);
        if gain <= least + near {
            Some(End::Least)
        } else if gain >= greatest - near && self.whole_range {
            Some(End::Greatest)
        } else {
            None
        }
    }

    /// Old and new of every land after an in-feed, under the highest old place of its face.
    pub fn drawn(&self, at: At, fed: f64) -> Vec<DrawnLand> {
        let faces = self.cut.faces.iter().enumerate();
        faces
            .flat_map(|(face, of)| {
                let highest = of.highest();
                let lands = of.lands.iter().enumerate();
                lands.map(move |(land, old)| DrawnLand {
                    face,
                    land,
                    places: old
                        .places
                        .iter()
                        .map(|place| {
                            let angle = old.edge.rad() + place.behind.rad();
                            let new = -fed - self.below(face, at, angle);
                            (
                                place.behind,
                                place.height - highest,
                                Length::from_mm(new) - highest,
                            )
                        })
                        .collect(),
                })
            })
            .collect()
    }
}

impl Face<'_> {
    /// The highest place of all its lands.
    pub(super) fn highest(&self) -> Length {
        let places = self.lands.iter().flat_map(|land| &land.places);
        let heights = places.map(|place| place.height);
        heights.reduce(Length::max).unwrap_or(Length::ZERO)
    }
}

const NEIGHBOURS: [(f64, f64); 8] = [
    (-1.0, 0.0),
    (1.0, 0.0),
    (0.0, -1.0),
    (0.0, 1.0),
    (-1.0, -1.0),
    (-1.0, 1.0),
    (1.0, -1.0),
    (1.0, 1.0),
];

fn placed(faces: &[Face], mean: f64) -> Vec<Placed> {
    let mut all = Vec::new();
    for (face, of) in faces.iter().enumerate() {
        for (land, old) in of.lands.iter().enumerate() {
            for (at, place) in old.places.iter().enumerate() {
                let OldPlace {
                    behind,
                    height,
                    scatter,
                    damaged,
                    beyond,
                } = *place;
                let edge = at == 0;
                // What is left of a rounded edge stands lower by its radius where the face meets it.
                let rounding = edge.then(|| Rounding::of(old.rounding, mean));
                let rounded = rounding.map_or(0.0, |rounding| rounding.likeliest());
                all.push(Placed {
                    spot: Spot { face, land, behind },
                    angle: old.edge.rad() + behind.rad(),
                    height: height.mm() - rounded,
                    scatter: scatter.mm(),
                    damaged: damaged || edge,
                    beyond,
                    rounding,
                });
            }
        }
    }
    all
}
