//! Cam relief: fall, dwell, return, each by a smooth law.

use super::shape::{Base, Bound, Point, Search, Shape};
use crate::card::Surface;
use crate::fit::land::Data;
use crate::numeric::robust::median;
use crate::quantity::{Angle, Length};
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
    fn at(self, u: f64) -> (f64, f64) {
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
    const fn most_lead(self) -> f64 {
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

/// The figures of a cam as people measure them, all from the edge backwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CamFigures {
    /// How it moves from one height to the next.
    pub law: Law,
    /// Drop in the dwell.
    pub depth: Length,
    /// Arc behind the edge where the fall ends.
    pub fall: Angle,
    /// Arc of the same fall that lies before the edge: 0 where the fall begins at the edge.
    pub lead: Angle,
    /// Arc where the return starts and drop where the land ends; `None` where the land ends in its
    /// dwell.
    pub heel: Option<(Angle, Length)>,
    /// Arc where the land ends.
    pub end: Angle,
}

/// A cam in the form that the solver varies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct Cam {
    pub law: Law,
    /// Drop in the dwell.
    depth: f64,
    /// Arc behind the edge where the fall ends.
    fall: f64,
    /// Share of the whole fall that has passed before the edge.
    lead: f64,
    /// `None` where the land ends in its dwell.
    back: Option<Return>,
}

/// How a cam comes back.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Return {
    /// Share of the arc from the end of the fall to the end of the land that is dwell.
    dwell: f64,
    /// Drop where the land ends.
    heel: f64,
}

impl Shape for Cam {
    const FEWEST: usize = 12;
    const SEARCH: Search = Search::Best;

    /// Cams that end their fall where the land first comes near its depth, and start to return where
    /// it is last so deep.
    fn guesses(data: &Data, _: Surface) -> Vec<Self> {
        /// Share of the depth that counts as being in the dwell (chosen, no source).
        const NEAR: f64 = 0.96;
        let smooth: Vec<f64> = (0..data.drops.len())
            .map(|i| {
                let from = i.saturating_sub(2);
                let mut near = data.drops[from..data.drops.len().min(i + 3)].to_vec();
                median(&mut near).unwrap_or(0.0)
            })
            .collect();
        let depth = smooth.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let deep = |drop: &f64| *drop >= NEAR * depth;
        let (Some(first), Some(last), Some(&heel)) = (
            smooth.iter().position(deep),
            smooth.iter().rposition(deep),
            smooth.last(),
        ) else {
            return Vec::new();
        };
        if depth <= 0.0 {
            return Vec::new();
        }
        let fall = data.arcs[first].clamp(0.05 * data.end, 0.95 * data.end);
        let turns = data.arcs[last].clamp(fall, 0.97 * data.end);
        let figures = |lead: f64, returns: bool| CamFigures {
            law: Law::Cycloidal,
            depth: Length::from_mm(depth),
            fall: Angle::from_rad(fall),
            lead: Angle::from_rad(fall * lead / (1.0 - lead)),
            heel: returns.then_some((Angle::from_rad(turns), Length::from_mm(heel))),
            end: Angle::from_rad(data.end),
        };
        let mut found = Vec::new();
        for lead in [0.1, 0.4] {
            found.push(Self::of(figures(lead, true)));
            // Without a return there is nothing to say where it starts.
            if heel > 0.9 * depth {
                found.push(Self::of(figures(lead, false)));
            }
        }
        found
    }

    fn map(self, base: &Base, mut next: impl FnMut(f64, Bound) -> f64) -> Self {
        let (radius, end) = (base.radius, base.end);
        // A cam may well start to fall at its edge, or return without a dwell.
        let lead = Bound::new("lead", 0.0, self.law.most_lead()).harmless();
        let dwell = Bound::new("return start", 0.0, 0.95).harmless();
        Self {
            law: self.law,
            depth: next(self.depth, Bound::new("depth", -radius, radius)),
            fall: next(self.fall, Bound::new("fall", 0.01 * end, end)),
            lead: next(self.lead, lead),
            back: self.back.map(|back| Return {
                dwell: next(back.dwell, dwell),
                heel: next(back.heel, Bound::new("heel drop", -radius, radius)),
            }),
        }
    }

    fn at(&self, base: &Base, phi: f64) -> Point {
        if phi <= self.fall {
            return self.falling(phi);
        }
        let (start, end) = (self.return_start(base.end), base.end);
        let back = self.return_or_none();
        if phi <= start || end <= start {
            return Point::new(self.depth, 0.0, [1.0]);
        }
        let span = end - start;
        let v = (phi - start) / span;
        let (done, rate) = self.law.at(v);
        let rise = back.heel - self.depth;
        let (slope, with_start, with_end) = if v < 1.0 {
            (
                rise * rate / span,
                rise * rate * (v - 1.0) / span,
                -rise * rate * (back.dwell + v * (1.0 - back.dwell)) / span,
            )
        } else {
            (0.0, 0.0, 0.0)
        };
        let own = [
            1.0 - done,
            with_start * (1.0 - back.dwell),
            0.0,
            with_start * (end - self.fall),
            done,
        ];
        Point {
            with_end,
            ..Point::new(self.depth + rise * done, slope, own)
        }
    }

    fn figures(&self, base: &Base) -> Vec<(&'static str, f64)> {
        let lead = self.fall * self.lead / (1.0 - self.lead);
        let mut list = vec![
            ("depth_mm", self.depth),
            ("fall_deg", self.fall.to_degrees()),
            ("lead_deg", lead.to_degrees()),
        ];
        if let Some(back) = self.back {
            let start = self.return_start(base.end);
            list.push(("return_start_deg", start.to_degrees()));
            list.push(("heel_drop_mm", back.heel));
        }
        list
    }

    /// The same cam by each of the other laws.
    fn kin(&self) -> Vec<Self> {
        let others = Law::ALL.into_iter().filter(|law| *law != self.law);
        let lead = |law: Law| self.lead.min(law.most_lead());
        others
            .map(|law| Self {
                law,
                lead: lead(law),
                ..*self
            })
            .collect()
    }
}

impl Cam {
    pub fn of(figures: CamFigures) -> Self {
        let (fall, lead) = (figures.fall.rad(), figures.lead.rad());
        let rest = figures.end.rad() - fall;
        Self {
            law: figures.law,
            depth: figures.depth.mm(),
            fall,
            // Without any fall there is no lead either, rather than 0 / 0.
            lead: lead / (fall + lead).max(f64::MIN_POSITIVE),
            back: figures.heel.map(|(start, drop)| Return {
                dwell: if rest > 0.0 {
                    (start.rad() - fall) / rest
                } else {
                    0.0
                },
                heel: drop.mm(),
            }),
        }
    }

    /// How it comes back; where it does not, as if it came back to its depth from the end on.
    fn return_or_none(&self) -> Return {
        self.back.unwrap_or(Return {
            dwell: 1.0,
            heel: self.depth,
        })
    }

    /// Arc where the return starts, on a land that ends at `end`.
    fn return_start(&self, end: f64) -> f64 {
        self.fall + self.return_or_none().dwell * (end - self.fall)
    }

    fn falling(&self, phi: f64) -> Point {
        let (before, rate_at_edge) = self.law.at(self.lead);
        let rest = 1.0 - before;
        let x = phi / self.fall;
        let (done, rate) = self.law.at(self.lead + (1.0 - self.lead) * x);
        let share = (done - before) / rest;
        let slope = self.depth * rate * (1.0 - self.lead) / (self.fall * rest);
        let with_lead = (rate * (1.0 - x) - rate_at_edge) / rest
            + (done - before) * rate_at_edge / (rest * rest);
        Point::new(
            self.depth * share,
            slope,
            [share, -slope * x, self.depth * with_lead],
        )
    }
}
