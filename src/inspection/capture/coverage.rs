//! How much of the turn has been read, how often, and whether the hand goes too fast.

use crate::quantity::Angle;
use std::f64::consts::TAU;

/// A turn back by less is a nudge and not a new pass.
const REVERSAL: f64 = 5.0 * TAU / 360.0;

/// From this share of the turn on it is told what is missing, and what is insignificant is taken as
/// done (chosen, no source).
pub const NEARLY: f64 = 0.98;
/// Where nothing at all was read, a single place is insignificant: readings beside it lie less than
/// three places apart, and judging reckons with every hole that there is (chosen, no source).
const UNREAD_LET_OFF: usize = 1;
/// Where it was read, though less often than wanted, two places beside each other are.
const READ_LET_OFF: usize = 2;
/// Neither is where it is wider than this, however far apart readings are wanted (one degree;
/// chosen, no source).
const WIDEST_LET_OFF: f64 = 1.001 * TAU / 360.0;

/// An arc of the turn that was not passed as often as is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Missing {
    /// Where it begins, 0 to a whole turn.
    pub from: Angle,
    /// How far it goes on from there, the way angles grow.
    pub width: Angle,
}

impl Missing {
    /// How far the tool is to be turned until the arc begins under the stylus, and until it has
    /// passed, from this angle on; the way angles grow, or the other.
    pub fn ahead(&self, angle: Angle, growing: bool) -> (Angle, Angle) {
        let past = (angle - self.from).in_turn();
        let whole = Angle::from_rad(TAU);
        let (begins, left) = match (past.rad() < self.width.rad(), growing) {
            (true, true) => (Angle::ZERO, self.width - past),
            (true, false) => (Angle::ZERO, past),
            (false, true) => (whole - past, self.width),
            (false, false) => (past - self.width, self.width),
        };
        (begins, begins + left)
    }
}

/// Counts the passes over each place of the turn.
#[derive(Clone, Debug)]
pub struct Coverage {
    places: Vec<Place>,
    spacing: f64,
    last: Option<f64>,
    /// Farthest reached in the present direction.
    farthest: f64,
    direction: f64,
    run: u32,
    too_fast: bool,
}

/// The little that is missing at the end of a trace.
#[derive(Clone, Debug, PartialEq)]
pub struct ToGo {
    /// The arcs that are to be passed yet.
    pub arcs: Vec<Missing>,
    /// What they come to together.
    pub missing: Angle,
    /// How far the tool is to be turned until the first of them comes; 0 where it is there.
    pub next: Angle,
    /// The same until all of them were passed.
    pub all: Angle,
}

/// Places beside each other that were passed less often than wanted.
struct ShortRun {
    from: usize,
    places: usize,
    /// How many of them were never read.
    unread: usize,
}

#[derive(Clone, Copy, Debug, Default)]
struct Place {
    passes: u32,
    last: Option<(u32, i64)>,
}

impl Coverage {
    /// Nothing read yet, with this angle between readings wanted.
    pub fn new(spacing: Angle) -> Self {
        let count = (TAU / spacing.rad().abs().max(1e-5)).round().max(1.0);
        Self {
            places: vec![Place::default(); count as usize],
            spacing: TAU / count,
            last: None,
            farthest: 0.0,
            direction: 0.0,
            run: 0,
            too_fast: false,
        }
    }

    /// A reading was taken at this angle.
    pub fn take(&mut self, angle: Angle) {
        let angle = angle.rad();
        if !angle.is_finite() {
            return;
        }
        let last = self.last.replace(angle).unwrap_or(angle);
        self.too_fast = (angle - last).abs() > self.spacing;
        self.follow_direction(angle);
        let turn = (angle / TAU).floor() as i64;
        let within = (angle / TAU).rem_euclid(1.0);
        let count = self.places.len();
        let place = &mut self.places[(within * count as f64) as usize % count];
        if place.last != Some((self.run, turn)) {
            place.last = Some((self.run, turn));
            place.passes += 1;
        }
    }

    fn follow_direction(&mut self, angle: f64) {
        let ahead = (angle - self.farthest) * self.direction;
        if self.direction == 0.0 {
            self.farthest = angle;
            self.direction = 1.0;
        } else if ahead >= 0.0 {
            self.farthest = angle;
        } else if ahead < -REVERSAL {
            self.direction = -self.direction;
            self.farthest = angle;
            self.run += 1;
        }
    }

    /// How often each place of the turn was passed, from angle 0 on.
    pub fn passes(&self) -> impl ExactSizeIterator<Item = u32> + '_ {
        self.places.iter().map(|place| place.passes)
    }

    /// The place of the turn that an angle falls into, counted from 0.
    pub fn place(&self, angle: Angle) -> usize {
        let count = self.places.len();
        ((angle.turns().rem_euclid(1.0) * count as f64) as usize) % count
    }

    /// Share of the turn, 0 to 1, of which every place was passed at least so often.
    pub fn share(&self, passes: u32) -> f64 {
        let enough = self.places.iter().filter(|place| place.passes >= passes);
        enough.count() as f64 / self.places.len() as f64
    }

    /// Whether every place was passed at least so often, but for what is insignificant.
    pub fn is_enough(&self, passes: u32) -> bool {
        self.share(passes) >= NEARLY && self.runs(passes).all(|run| self.lets_off(&run))
    }

    /// The arcs that were passed less often, without those that are insignificant once nearly all
    /// of the turn is covered; in the order of their angles.
    pub fn missing(&self, passes: u32) -> Vec<Missing> {
        let nearly = self.share(passes) >= NEARLY;
        let runs = self
            .runs(passes)
            .filter(|run| !nearly || !self.lets_off(run));
        let arc = |places: usize| Angle::from_rad(places as f64 * self.spacing);
        let missing = runs.map(|run| Missing {
            from: arc(run.from),
            width: arc(run.places),
        });
        let mut missing: Vec<Missing> = missing.collect();
        missing.sort_by(|one, other| one.from.total_cmp(&other.from));
        missing
    }

    /// What is still to be passed, and how far ahead that is of this angle, the way angles grow or
    /// the other; nothing before [nearly all](NEARLY) is covered, and nothing once all is that
    /// matters.
    pub fn to_go(&self, passes: u32, angle: Angle, growing: bool) -> Option<ToGo> {
        if self.share(passes) < NEARLY {
            return None;
        }
        let arcs = self.missing(passes);
        let ways = arcs.iter().map(|arc| arc.ahead(angle, growing));
        let (next, _) = ways
            .clone()
            .min_by(|one, other| one.0.total_cmp(&other.0))?;
        let all = ways.map(|(_, all)| all).reduce(Angle::max)?;
        Some(ToGo {
            missing: arcs.iter().map(|arc| arc.width).sum(),
            next,
            all,
            arcs,
        })
    }

    fn lets_off(&self, run: &ShortRun) -> bool {
        run.places <= READ_LET_OFF
            && run.unread <= UNREAD_LET_OFF
            && run.places as f64 * self.spacing <= WIDEST_LET_OFF
    }

    /// Places beside each other that were passed less often. One that goes on over angle 0 is one.
    fn runs(&self, passes: u32) -> impl Iterator<Item = ShortRun> + '_ {
        let count = self.places.len();
        let wants = move |at: usize| self.places[at % count].passes < passes;
        // From behind a place that has enough, so that no run is cut in two.
        let begin = (0..count).find(|at| !wants(*at));
        let all = begin.is_none().then_some(ShortRun {
            from: 0,
            places: count,
            unread: 0,
        });
        let mut at = begin.map_or(count, |begin| begin + 1);
        let end = begin.map_or(count, |begin| begin + count);
        let rest = std::iter::from_fn(move || {
            while at < end && !wants(at) {
                at += 1;
            }
            let from = at;
            let mut unread = 0;
            while at < end && wants(at) {
                unread += usize::from(self.places[at % count].passes == 0);
                at += 1;
            }
            (at > from).then(|| ShortRun {
                from: from % count,
                places: at - from,
                unread,
            })
        });
        all.into_iter().chain(rest)
    }

    /// Whether the last step was longer than the spacing that is wanted.
    pub fn too_fast(&self) -> bool {
        self.too_fast
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turned(coverage: &mut Coverage, from: f64, to: f64) {
        let steps = ((to - from).abs() / 0.2) as i32;
        for i in 0..=steps {
            let deg = from + (to - from) * f64::from(i) / f64::from(steps);
            coverage.take(Angle::from_deg(deg));
        }
    }

    #[test]
    fn a_turn_and_a_half_covers_half_of_it_twice() {
        let mut coverage = Coverage::new(Angle::from_deg(0.5));
        turned(&mut coverage, 0.0, 540.0);
        assert!(coverage.is_enough(1) && !coverage.is_enough(2));
        assert!((coverage.share(2) - 0.5).abs() < 0.01);
    }

    #[test]
    fn turning_back_counts_again_but_a_nudge_and_a_pause_do_not() {
        let mut coverage = Coverage::new(Angle::from_deg(0.5));
        turned(&mut coverage, 0.0, 360.0);
        turned(&mut coverage, 360.0, 358.0);
        turned(&mut coverage, 358.0, 360.0);
        assert!(coverage.share(2) < 0.01);
        turned(&mut coverage, 360.0, 0.0);
        assert!(coverage.share(2) > 0.97, "{}", coverage.share(2));
    }

    /// All of the turn passed once, but for these arcs.
    fn without(arcs: &[(f64, f64)]) -> Coverage {
        let mut coverage = Coverage::new(Angle::from_deg(0.5));
        for place in 0..720 {
            let deg = (f64::from(place) + 0.5) * 0.5;
            let left_out = |(from, width): &(f64, f64)| (deg - from).rem_euclid(360.0) < *width;
            if !arcs.iter().any(left_out) {
                coverage.take(Angle::from_deg(deg));
            }
        }
        coverage
    }

    #[test]
    fn what_is_insignificant_is_done_and_what_is_not_is_named() {
        #[track_caller]
        fn check(arcs: &[(f64, f64)], passes: u32, expected: &[(f64, f64)]) {
            let coverage = without(arcs);
            let missing = coverage.missing(passes);
            let found: Vec<_> = missing
                .iter()
                .map(|arc| (arc.from.deg().round(), arc.width.deg().round()))
                .collect();
            assert_eq!(found, expected);
            assert_eq!(coverage.is_enough(passes), expected.is_empty());
        }
        check(&[], 1, &[]);
        // Single places here and there are what a hand leaves.
        check(&[(10.0, 0.5), (100.0, 0.5), (359.5, 0.5)], 1, &[]);
        check(&[(10.0, 0.5), (100.0, 2.0)], 1, &[(100.0, 2.0)]);
        // One that goes on over angle 0 is one.
        check(&[(358.0, 5.0)], 1, &[(358.0, 5.0)]);
        // Before nearly all is covered nothing is let off.
        check(
            &[(0.0, 1.0), (100.0, 20.0)],
            1,
            &[(0.0, 1.0), (100.0, 20.0)],
        );
        check(&[(0.0, 360.0)], 1, &[(0.0, 360.0)]);
        check(&[], 2, &[(0.0, 360.0)]);
    }

    #[test]
    fn an_arc_is_as_far_ahead_as_the_tool_is_to_be_turned() {
        #[track_caller]
        fn check(deg: f64, growing: bool, expected: (f64, f64)) {
            let arc = Missing {
                from: Angle::from_deg(350.0),
                width: Angle::from_deg(20.0),
            };
            let (begins, ends) = arc.ahead(Angle::from_deg(deg), growing);
            let off = (begins.deg() - expected.0).abs() + (ends.deg() - expected.1).abs();
            assert!(off < 1e-9, "{} {}", begins.deg(), ends.deg());
        }
        check(300.0, true, (50.0, 70.0));
        check(300.0, false, (290.0, 310.0));
        check(355.0, true, (0.0, 15.0));
        check(355.0, false, (0.0, 5.0));
        check(40.0, false, (30.0, 50.0));
        check(400.0, false, (30.0, 50.0));
    }

    #[test]
    fn a_step_longer_than_the_spacing_is_too_fast() {
        let mut coverage = Coverage::new(Angle::from_deg(0.5));
        coverage.take(Angle::from_deg(10.0));
        coverage.take(Angle::from_deg(10.4));
        assert!(!coverage.too_fast());
        coverage.take(Angle::from_deg(11.0));
        assert!(coverage.too_fast());
    }
}
