//! Cam relief: fall, dwell, return, each by a smooth law.

use std::f64::consts::{PI, TAU};
use std::fmt;

/// How a cam moves from one height to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Law {
    /// `u - sin(2 pi u) / (2 pi)`: no jump of acceleration.
    Cycloidal,
    /// `(1 - cos(pi u)) / 2`.
    Harmonic,
    /// Two parabolas that meet halfway: constant acceleration, then constant deceleration.
    Parabolic,
}

impl Law {
    /// Every law.
    pub const ALL: [Law; 3] = [Law::Cycloidal, Law::Harmonic, Law::Parabolic];

    /// Its name.
    pub const fn as_str(self) -> &'static str {
        match self {
            Law::Cycloidal => "cycloidal",
            Law::Harmonic => "harmonic",
            Law::Parabolic => "parabolic",
        }
    }

    /// Share of the way done, and its slope, at the share `u` of the arc.
    pub(super) fn at(self, u: f64) -> (f64, f64) {
        let u = u.clamp(0.0, 1.0);
        match self {
            Law::Cycloidal => (u - (TAU * u).sin() / TAU, 1.0 - (TAU * u).cos()),
            Law::Harmonic => (0.5 * (1.0 - (PI * u).cos()), 0.5 * PI * (PI * u).sin()),
            Law::Parabolic if u < 0.5 => (2.0 * u * u, 4.0 * u),
            Law::Parabolic => (1.0 - 2.0 * (1.0 - u) * (1.0 - u), 4.0 * (1.0 - u)),
        }
    }

    /// Greatest share of the fall that may lie before the edge.
    ///
    /// Past half of it the parabolic law has the same shape whatever the share, and the other two
    /// come close to that, so that the data could not tell one share from another.
    pub(super) const fn most_lead(self) -> f64 {
        match self {
            Law::Parabolic => 0.5,
            Law::Cycloidal | Law::Harmonic => 0.75,
        }
    }
}

impl fmt::Display for Law {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// The figures of a cam, in the form that the solver varies; lengths in mm, angles in radians.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cam {
    pub law: Law,
    /// Arc where the land, and with it the return, ends.
    pub end: f64,
    /// Drop in the dwell.
    pub depth: f64,
    /// Arc behind the edge where the fall ends.
    pub fall: f64,
    /// Share of the whole fall that has passed before the edge.
    pub lead: f64,
    /// Share of the arc from the end of the fall to the end of the land that is dwell.
    pub dwell: f64,
    /// Drop where the land ends.
    pub heel: f64,
}

impl Cam {
    /// Arc where the return starts.
    pub fn return_start(&self) -> f64 {
        self.fall + self.dwell * (self.end - self.fall)
    }

    /// Drop, slope, and change with depth, fall, lead, dwell and heel.
    pub fn at(&self, phi: f64) -> (f64, f64, [f64; 5]) {
        if phi <= self.fall {
            return self.falling(phi);
        }
        let start = self.return_start();
        if phi <= start || self.end <= start {
            return (self.depth, 0.0, [1.0, 0.0, 0.0, 0.0, 0.0]);
        }
        let span = self.end - start;
        let v = (phi - start) / span;
        let (done, rate) = self.law.at(v);
        let rise = self.heel - self.depth;
        let with_start = if v < 1.0 {
            rise * rate * (v - 1.0) / span
        } else {
            0.0
        };
        (
            self.depth + rise * done,
            if v < 1.0 { rise * rate / span } else { 0.0 },
            [
                1.0 - done,
                with_start * (1.0 - self.dwell),
                0.0,
                with_start * (self.end - self.fall),
                done,
            ],
        )
    }

    /// Change of the drop with where the land ends.
    pub fn with_end(&self, phi: f64) -> f64 {
        let start = self.return_start();
        if phi <= start || phi >= self.end {
            return 0.0;
        }
        let span = self.end - start;
        let v = (phi - start) / span;
        let (_, rate) = self.law.at(v);
        (self.depth - self.heel) * rate * (self.dwell + v * (1.0 - self.dwell)) / span
    }

    fn falling(&self, phi: f64) -> (f64, f64, [f64; 5]) {
        let (before, rate_at_edge) = self.law.at(self.lead);
        let rest = 1.0 - before;
        let x = phi / self.fall;
        let (done, rate) = self.law.at(self.lead + (1.0 - self.lead) * x);
        let share = (done - before) / rest;
        let slope = self.depth * rate * (1.0 - self.lead) / (self.fall * rest);
        let with_lead = (rate * (1.0 - x) - rate_at_edge) / rest
            + (done - before) * rate_at_edge / (rest * rest);
        (
            self.depth * share,
            slope,
            [share, -slope * x, self.depth * with_lead, 0.0, 0.0],
        )
    }
}
