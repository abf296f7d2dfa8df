//! How much of the turn has been read, how often, and whether the hand goes too fast.

use crate::quantity::Angle;
use std::f64::consts::TAU;

/// A turn back by less is a nudge and not a new pass.
const REVERSAL: f64 = 5.0 * TAU / 360.0;

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

    /// Whether every place was passed at least so often.
    pub fn is_enough(&self, passes: u32) -> bool {
        self.places.iter().all(|place| place.passes >= passes)
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
