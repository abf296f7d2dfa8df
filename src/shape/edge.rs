//! Where a tooth's edge shows in its path: as a corner that was ridden over, or between points.

use super::Tip;
use super::corner::Corner;
use super::path::{PathPoint, Place, Plane};
use super::ride::{FEWEST_ON_CORNER, settle_on_corner};
use super::view::{STEEP, SURELY_CORNER, View};
use crate::trace::ToothSpan;
use std::ops::Range;

/// A place that has this part of the step behind it holds readings from behind the edge.
const PART_WAY: f64 = 0.02;
/// Points further apart than this part of a ball's radius may have none but one on the corner.
const COARSEST_CHORD: f64 = 0.45;
/// How far past its corner, in radians on the ball, a point may still be taken for the corner's.
const PAST_CORNER: f64 = 0.017; // 1°

/// The points that rode on the edge, or those between which it lies, and where it is at first sight.
pub(super) fn find_edge(
    view: &View,
    span: ToothSpan,
    top: usize,
) -> Option<(Range<usize>, Bracket, Place)> {
    let ridden = if view.rolls() {
        ride_over_edge(view, top)
    } else {
        chord_over_edge(view, top)
    };
    if let Some((range, corner)) = ridden {
        let last = range.end.saturating_sub(1);
        let bracket = Bracket {
            before: last,
            first: last,
            behind: last,
        };
        return Some((range, bracket, corner.place));
    }
    // A tip with a round to it climbs the corner before it stands on the edge, a point does not.
    let level = match view.clamping.tip {
        Tip::Point => STEEP,
        Tip::Ball(_) | Tip::Flat(_) => SURELY_CORNER,
    };
    let last = view.path.len() - 1;
    let first = (top..=last).find(|&i| view.step(i) <= level)?;
    let bracket = Bracket {
        before: if span.begins_in_hole {
            first
        } else {
            first.saturating_sub(1)
        },
        first,
        behind: (first + 1).min(last),
    };
    let (low, high) = bracket.arcs(view.path, view.plane, view.clamping.tip);
    let place = Place {
        arc: (low + high) / 2.0,
        height: view.path[first].place.height,
    };
    let behind = match view.clamping.tip {
        Tip::Point => first,
        Tip::Ball(_) | Tip::Flat(_) => bracket.behind,
    };
    Some((behind..behind, bracket, place))
}

/// The points about an edge that was not ridden over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bracket {
    /// The last point before the climb to the edge ends.
    pub before: usize,
    /// The first point at the edge's height.
    pub first: usize,
    /// The point behind that.
    pub behind: usize,
}

impl Bracket {
    /// Between which arcs the edge lies.
    ///
    /// A point stands on the edge somewhere between the last reading off it and the first one on
    /// it. A place part way up the step to it is a mean of readings before and behind the edge, and
    /// the edge may lie anywhere in it. A ball climbs the corner ever less steeply: half-way between
    /// two readings it is as far before the edge as the steepness there says, and `first` is where
    /// that fell below `SURELY_CORNER`. A flat meets the edge with its end.
    pub fn arcs(self, path: &[PathPoint], plane: Plane, tip: Tip) -> (f64, f64) {
        let arc = |i: usize| path[i].place.arc;
        let between = |a: usize, b: usize| (arc(a) + arc(b)) / 2.0;
        let arm = plane.arm(path[self.first].place.height);
        match tip {
            Tip::Point => {
                let (before, first) = (arc(self.before), arc(self.first));
                let part_way = self.before.checked_sub(1).is_some_and(|earlier| {
                    let rise =
                        |from: usize, to: usize| path[to].place.height - path[from].place.height;
                    rise(earlier, self.before) > PART_WAY * rise(earlier, self.first)
                });
                let reach = if part_way {
                    (first - before) / 2.0
                } else {
                    0.0
                };
                (before - reach, first)
            }
            Tip::Ball(radius) => {
                let ahead = radius.mm() * SURELY_CORNER.atan().sin() / arm;
                (
                    between(self.before, self.first) + ahead,
                    between(self.first, self.behind) + ahead,
                )
            }
            Tip::Flat(half_width) => {
                let ahead = half_width.mm() / arm;
                (arc(self.before) + ahead, arc(self.first) + ahead)
            }
        }
    }
}

/// Where points are too far apart for a ride: the two of them that fix the corner, as a ball of known
/// size touches both of its centres' places there, and those beside them that lie on the same path.
///
/// The chord between two points is as steep as the path half-way between them, so one that is surely
/// the corner's and surely no face's has both of its ends on the corner.
fn chord_over_edge(view: &View, top: usize) -> Option<(Range<usize>, Corner)> {
    let Tip::Ball(ball) = view.clamping.tip else {
        return None;
    };
    if view.spacing() > ball.mm() * COARSEST_CHORD {
        return None;
    }
    let first = (top..view.path.len()).find(|&i| view.step(i) <= SURELY_CORNER)?;
    let before = first.checked_sub(1)?;
    if !(SURELY_CORNER..=STEEP).contains(&view.step(before)) {
        return None;
    }
    settle_on_corner(view, before, first + 1, |_, _| true)
}

/// Grows a run of points that all lie on the path over one corner.
fn ride_over_edge(view: &View, top: usize) -> Option<(Range<usize>, Corner)> {
    let count = view.path.len();
    let seed = (top..count).find(|&i| view.steepness(i) <= STEEP)?;
    let mut low = seed;
    while low > 0 && (SURELY_CORNER..=STEEP).contains(&view.steepness(low - 1)) {
        low -= 1;
    }
    let mut high = seed;
    while high < count && view.steepness(high) >= SURELY_CORNER {
        high += 1;
    }
    // A small ball has few points on its corner; those a little past the steep part help it.
    while high < count && high - low < FEWEST_ON_CORNER && view.steepness(high) > 0.0 {
        high += 1;
    }
    // The land begins behind the edge, so a ride over it can only grow towards the land.
    settle_on_corner(view, low, high, |corner, i| {
        let arm = view.plane.arm(corner.place.height);
        let past = (view.path[i].place.arc - corner.place.arc) * arm;
        i >= high && past <= view.clamping.tip.size().mm() * PAST_CORNER
    })
}
