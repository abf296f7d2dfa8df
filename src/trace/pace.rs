//! How fast a tool was turned, and how many readings a second were taken of it.

use crate::numeric::robust;
use crate::quantity::{Angle, AngularSpeed};
use crate::sample::{Mark, Marks, Sample};

/// So many samples suffice to know a usual one.
const SAMPLES: usize = 10_000;

/// The usual pace of a trace.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pace {
    /// How fast the tool was turned while it was not at rest, whichever way.
    pub speed: AngularSpeed,
    /// Readings a second; 0 where times do not tell.
    pub readings_per_s: f64,
}

impl Pace {
    /// Of samples with their marks and speeds.
    pub(super) fn of(samples: &[Sample], marks: &[Marks], speeds: &[AngularSpeed]) -> Self {
        let turning = |at: &usize| marks[*at].usable() && !marks[*at].has(Mark::Pause);
        let stride = 1 + samples.len() / SAMPLES;
        let at = || (0..samples.len()).filter(turning).step_by(stride);
        let mut speeds: Vec<f64> = at().map(|at| speeds[at].rad_per_s().abs()).collect();
        let intervals = at().filter_map(|at| {
            let next = samples.get(at + 1)?;
            let apart = (next.time - samples[at].time).s();
            (apart > 0.0).then_some(apart)
        });
        let mut intervals: Vec<f64> = intervals.collect();
        let apart = robust::median(&mut intervals);
        Self {
            speed: AngularSpeed::from_rad_per_s(robust::median(&mut speeds).unwrap_or(0.0)),
            readings_per_s: apart.map_or(0.0, f64::recip),
        }
    }

    /// The speed at which readings of one pass lie no further apart than this.
    pub fn speed_for(self, apart: Angle) -> AngularSpeed {
        AngularSpeed::from_rad_per_s(apart.rad() * self.readings_per_s)
    }
}
