//! The path of one tooth as its parts are looked for: how steep it is, what it touches.

use super::contact::contact;
use super::corner::{Corner, Rounding, fit_corner};
use super::place::{PathPoint, Place, Plane};
use super::slope::first_slope;
use super::{Clamping, Tip};
use std::ops::Range;

/// Steeper than this the stylus rides on a face or falls into a gap. A corner this steep under a
/// ball is still well clear of the ball's equator (chosen, no source).
pub(super) const STEEP: f64 = 1.19; // tan 50°
/// No land rises as steeply as this behind its edge: what does belongs to the corner (chosen, no
/// source).
pub(super) const SURELY_CORNER: f64 = 0.21; // tan 12°
/// A point belongs to a corner while it stands off by no more than this many of its scatters
/// (chosen, no source) …
const CORNER_SCATTERS: f64 = 4.0;
/// … and this much more, mm: a real corner is not sharper than a few tenths of a micrometre
/// (chosen, no source).
pub(super) const CORNER_ROUNDNESS: f64 = 0.0003;
/// A corner is found by rolling over it only where points lie no further apart than this part of
/// the tip's size: some four of them are then on the corner (chosen, no source).
const COARSEST: f64 = 0.22;

/// A tooth's path with its slopes.
pub(super) struct View<'a> {
    pub path: &'a [PathPoint],
    pub slopes: &'a [f64],
    pub plane: Plane,
    pub clamping: &'a Clamping,
    pub window: Window,
}

/// Over how much of a path its slope is taken.
#[derive(Clone, Copy, Debug)]
pub(super) struct Window {
    /// Half of it, in radians.
    pub half_width: f64,
    /// Width of a cell of the merged trace, in radians.
    pub cell: f64,
    /// Neighbours further apart than this have a hole between them, in radians.
    pub hole: f64,
    /// Whether points are so far apart that the slope of a land is taken from its own alone.
    pub land_alone: bool,
}

impl View<'_> {
    /// Rise over run at a point, without unit.
    pub fn steepness(&self, i: usize) -> f64 {
        self.slopes[i] / self.plane.arm(self.path[i].place.height)
    }

    /// The same from this point to the next one alone, for tips that show a step as a step.
    pub fn step(&self, i: usize) -> f64 {
        match (self.path.get(i), self.path.get(i + 1)) {
            (Some(here), Some(next)) => {
                let run = (next.place.arc - here.place.arc) * self.plane.arm(here.place.height);
                (next.place.height - here.place.height) / run.max(1e-12)
            }
            _ => 0.0,
        }
    }

    pub fn touched(&self, i: usize) -> Place {
        contact(
            self.clamping.tip,
            self.plane,
            self.path[i].place,
            self.slopes[i],
        )
    }

    /// What a point at the beginning of a land touches.
    pub fn touched_at_start(&self, land: Range<usize>) -> Place {
        let first = land.start;
        let own = || first_slope(&self.path[land], self.window.half_width);
        let alone = self.window.land_alone.then(own).flatten();
        let slope = alone.unwrap_or(self.slopes[first]);
        contact(self.clamping.tip, self.plane, self.path[first].place, slope)
    }

    /// Distance along the path from one point to another; mm.
    pub fn along(&self, from: usize, to: usize) -> f64 {
        let arc = self.path[to].place.arc - self.path[from].place.arc;
        arc * self.plane.arm(self.path[from].place.height)
    }

    /// Whether nothing was read between a point and the next one.
    pub fn hole_behind(&self, i: usize) -> bool {
        let next = self.path.get(i + 1);
        next.is_some_and(|next| next.place.arc - self.path[i].place.arc > self.window.hole)
    }

    /// Whether a corner can be found by rolling over it with this tip, at this spacing.
    pub fn rolls(&self) -> bool {
        // A flat stands on an edge from one end of it to the other, and comes off a heel in one step.
        let rounds = matches!(self.clamping.tip, Tip::Ball(_));
        rounds && self.spacing() < self.clamping.tip.size().mm() * COARSEST
    }

    /// Usual distance between neighbouring points; mm.
    pub fn spacing(&self) -> f64 {
        let mut gaps: Vec<f64> = self
            .path
            .windows(2)
            .map(|pair| pair[1].place.arc - pair[0].place.arc)
            .collect();
        gaps.sort_by(f64::total_cmp);
        match (gaps.get(gaps.len() / 2), self.path.first()) {
            (Some(gap), Some(first)) => gap * self.plane.arm(first.place.height),
            _ => f64::INFINITY,
        }
    }

    /// How far a mean of readings over a whole cell may lie below a ball's path; mm.
    pub fn bow_of_a_cell(&self) -> f64 {
        let width = self.window.cell * self.clamping.radius.mm();
        // Half the bend, one over the radius, times the variance of an even spread.
        width * width / 24.0 / self.clamping.tip.size().mm().max(1e-6)
    }

    pub fn corner(&self, points: Range<usize>, rounding: Rounding) -> Option<Corner> {
        let touched: Vec<Place> = points.clone().map(|i| self.touched(i)).collect();
        let count = touched.len() as f64;
        let start = Place {
            arc: touched.iter().map(|place| place.arc).sum::<f64>() / count,
            height: touched.iter().map(|place| place.height).sum::<f64>() / count,
        };
        fit_corner(
            self.path.get(points)?,
            self.plane,
            self.clamping.tip,
            start,
            rounding,
        )
    }

    /// How far a point's centre stands off the path over a corner; mm, positive when held higher.
    pub fn stands_off(&self, i: usize, corner: &Corner) -> f64 {
        let centre = self.path[i].place;
        let across = centre.arc - corner.place.arc;
        // A ball rolls over a rounding as over the point that the rounding is drawn about.
        let about = corner.place.height - corner.rounding;
        match (self.clamping.tip, self.plane) {
            (Tip::Ball(radius), Plane::Polar) => {
                let x = centre.height * across.sin();
                let y = centre.height * across.cos() - about;
                x.hypot(y) - radius.mm() - corner.rounding
            }
            (Tip::Ball(ball), Plane::Unrolled { radius }) => {
                (across * radius).hypot(centre.height - about) - ball.mm() - corner.rounding
            }
            (Tip::Flat(_), Plane::Polar) => centre.height - corner.place.height * across.cos(),
            (Tip::Flat(_), Plane::Unrolled { .. }) | (Tip::Point, _) => {
                centre.height - corner.place.height
            }
        }
    }

    pub fn fits_corner(&self, i: usize, corner: &Corner) -> bool {
        let tolerance = self.path[i].scatter * CORNER_SCATTERS
            + CORNER_ROUNDNESS
            + self.path[i].steps * self.slopes[i].abs() * CORNER_SCATTERS;
        self.stands_off(i, corner).abs() <= tolerance
    }
}
