//! Where a tooth's edge shows in its path: as a corner that was ridden over, between points, or as
//! the plateau that it is under a flat.

use super::Tip;
use super::between::{self, Heights};
use super::corner::{Corner, Rounding};
use super::likely::EdgeRounding;
use super::place::{PathPoint, Place, Plane};
use super::ride::{FEWEST_ON_CORNER, FEWEST_ON_ROUNDING, settle_on_corner};
use super::view::{CORNER_ROUNDNESS, STEEP, SURELY_CORNER, View};
use crate::trace::ToothSpan;
use std::ops::Range;

/// A place that has this part of the step behind it holds readings from behind the edge (chosen, no
/// source).
const PART_WAY: f64 = 0.02;
/// How far past its corner, in radians on the ball, a point may still be taken for the corner's
/// (chosen, no source).
const PAST_CORNER: f64 = 0.017; // 1°
/// Points further apart than this part of a ball's radius may have none but one on the corner
/// (chosen, no source).
const COARSEST_CHORD: f64 = 0.45;
/// A ball that climbs less steeply than this may as well ride on a land (chosen, no source).
const LEVEL: f64 = 0.05;
/// A rounding is believed that is so many times its standard uncertainty (chosen, no source).
const SURELY_ROUND: f64 = 3.0;
/// No edge is rounder than this part of the ball: what seems so is no edge that was rolled over
/// (chosen, no source).
const ROUNDEST: f64 = 0.5;
/// A ridden corner may stand this many scatters of its points outside what they allow (chosen, no
/// source).
const BOUND_SCATTERS: f64 = 4.0;

/// What was found of a tooth's edge.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FoundEdge {
    /// Points that rode on the edge; empty when too few did to find it by them.
    pub ridden: Range<usize>,
    /// Whether they rode over a point or over a rounding.
    pub rounding: Rounding,
    /// Points by which the edge's radius shows; empty where too few do.
    pub rounded: Range<usize>,
    /// Points that stand on the plateau of an edge under a flat.
    pub level: Range<usize>,
    /// The points about the edge when it was not ridden over.
    pub bracket: Bracket,
    /// Where it is at first sight.
    pub place: Place,
}

/// Finds the edge; `None` where nothing of the path stands on one.
pub(super) fn find_edge(view: &View, span: ToothSpan, top: usize) -> Option<FoundEdge> {
    let ridden = if view.rolls() {
        ride_over_edge(view, top)
    } else {
        chord_over_edge(view, top)
    };
    if let Some(ride) = ridden.filter(|ride| stands_between_its_readings(view, ride)) {
        let last = ride.range.end.saturating_sub(1);
        return Some(FoundEdge {
            ridden: ride.range,
            rounding: ride.rounding,
            rounded: ride.rounded,
            level: last..last,
            bracket: Bracket {
                before: last,
                first: last,
                behind: last,
            },
            place: ride.corner.place,
        });
    }
    // A tip with a round to it climbs the corner before it stands on the edge, a point does not.
    let level = match view.clamping.tip {
        Tip::Point => STEEP,
        Tip::Ball(_) | Tip::Flat(_) => SURELY_CORNER,
    };
    let last = view.path.len() - 1;
    let first = (top..=last).find(|&i| view.step(i) <= level || view.hole_behind(i))?;
    let bracket = Bracket {
        // A climb into a hole goes on in it.
        before: if span.begins_in_hole || view.hole_behind(first) {
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
    Some(FoundEdge {
        ridden: behind..behind,
        rounding: Rounding::SHARP,
        rounded: behind..behind,
        level: plateau(view, first),
        bracket,
        place,
    })
}

/// The points of the plateau that an edge is under a flat: from the first that stands on it until the
/// flat has gone over the edge.
///
/// The first may be a mean of readings before and behind the edge, and at the end of the flat the
/// land takes over, so that neither counts. A land that rises from its edge on makes no plateau.
fn plateau(view: &View, first: usize) -> Range<usize> {
    let Tip::Flat(half_width) = view.clamping.tip else {
        return first..first;
    };
    let arm = view.plane.arm(view.path[first].place.height);
    let end = view.path[first].place.arc + 2.0 * half_width.mm() / arm;
    let gone = view
        .path
        .partition_point(|point| point.place.arc < end)
        .saturating_sub(1);
    if gone < first + 3 {
        return first..first + 1;
    }
    let points = first + 1..gone;
    let third = points.len().div_ceil(3);
    let mean = |range: Range<usize>| {
        let count = range.len() as f64;
        let of = &view.path[range];
        let height = of.iter().map(|point| point.place.height).sum::<f64>() / count;
        let variance = of.iter().map(|point| point.scatter.powi(2)).sum::<f64>() / count;
        (height, (variance / count).sqrt())
    };
    let (before, behind) = (
        mean(points.start..points.start + third),
        mean(points.end - third..points.end),
    );
    let rises = behind.0 - before.0;
    let allowed = BOUND_SCATTERS * before.1.hypot(behind.1) + CORNER_ROUNDNESS;
    if rises > allowed {
        first..first + 1
    } else {
        points
    }
}

/// A corner that points rode over.
struct Ride {
    range: Range<usize>,
    corner: Corner,
    rounding: Rounding,
    rounded: Range<usize>,
}

/// Whether a corner stands no higher than the readings beside it let it, nor lower than they were
/// held up.
fn stands_between_its_readings(view: &View, ride: &Ride) -> bool {
    let Tip::Ball(ball) = view.clamping.tip else {
        return true;
    };
    let corner = &ride.corner;
    let after = view
        .path
        .partition_point(|point| point.place.arc < corner.place.arc);
    let Some(before) = after.checked_sub(1).filter(|_| after < view.path.len()) else {
        return false;
    };
    let near = before.saturating_sub(1)..(after + 2).min(view.path.len());
    let places: Vec<Place> = view.path[near.clone()]
        .iter()
        .map(|point| point.place)
        .collect();
    let bounds = between::heights(&places, before - near.start, 1, view.plane, ball.mm());
    let scatter = view.path[near]
        .iter()
        .map(|point| point.scatter)
        .fold(0.0, f64::max);
    let tolerance = scatter * BOUND_SCATTERS + CORNER_ROUNDNESS + view.bow_of_a_cell();
    bounds.is_some_and(|Heights { least, greatest }| {
        (least - tolerance..=greatest + tolerance).contains(&corner.place.height)
    })
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
    /// that fell below `SURELY_CORNER`.
    pub fn arcs(self, path: &[PathPoint], plane: Plane, tip: Tip) -> (f64, f64) {
        let arc = |i: usize| path[i].place.arc;
        let between = |a: usize, b: usize| (arc(a) + arc(b)) / 2.0;
        let arm = plane.arm(path[self.first].place.height);
        match tip {
            Tip::Point | Tip::Flat(_) => {
                // A flat meets the edge with its end.
                let ahead = match tip {
                    Tip::Flat(half_width) => half_width.mm() / arm,
                    Tip::Ball(_) | Tip::Point => 0.0,
                };
                let (before, first) = (arc(self.before) + ahead, arc(self.first) + ahead);
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
        }
    }
}

/// Where points are too far apart for a ride: the two of them that fix the corner, as a ball of known
/// size touches both of its centres' places there, and those beside them that lie on the same path.
///
/// The chord between two points is as steep as the path half-way between them, so one that is surely
/// the corner's and surely no face's has both of its ends on the corner, or nearly so.
fn chord_over_edge(view: &View, top: usize) -> Option<Ride> {
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
    let sharp = Rounding::SHARP;
    let (range, corner) = settle_on_corner(view, before, first + 1, sharp, |_, _| true)?;
    Some(Ride {
        range,
        corner,
        rounding: sharp,
        rounded: before..before,
    })
}

/// Grows a run of points that all lie on the path over one corner.
///
/// A sharp corner is the simplest, and taken where a rounding does not show.
fn ride_over_edge(view: &View, top: usize) -> Option<Ride> {
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
    // Behind a hole what rises may as well be the land.
    let after_hole = low.checked_sub(1).is_some_and(|i| view.hole_behind(i));
    if after_hole && high - low < FEWEST_ON_CORNER {
        return None;
    }
    // A small ball has few points on its corner; those a little past the steep part help it.
    while high < count && high - low < FEWEST_ON_CORNER && view.steepness(high) > 0.0 {
        high += 1;
    }
    let ball = view.clamping.tip.size().mm();
    // The land begins behind the edge, so a ride over it can only grow towards the land.
    let may_belong = |corner: &Corner, i: usize| {
        let arm = view.plane.arm(corner.place.height);
        let past = (view.path[i].place.arc - corner.place.arc) * arm;
        i >= high && past <= ball * PAST_CORNER
    };
    let settle = |from: &Range<usize>, rounding| {
        settle_on_corner(view, from.start, from.end, rounding, may_belong)
    };
    // A few readings on the steep part alone are taken for a corner that ends the ride too early.
    let rising = (high..count).find(|&i| view.steepness(i) < LEVEL);
    let (range, corner) = longest_ride(low, [high, rising.unwrap_or(high)], &settle)?;
    let rounded = (range.len() > FEWEST_ON_CORNER)
        .then(|| settle(&range, Rounding::Fitted))
        .flatten()
        .filter(|(_, corner)| corner.rounding.abs() < ROUNDEST * ball);
    let telling = rounded
        .as_ref()
        .map_or(low..low, |(range, _)| range.clone());
    let surely = |(range, corner): &(Range<usize>, Corner)| {
        range.len() >= FEWEST_ON_ROUNDING
            && corner.rounding > SURELY_ROUND * corner.rounding_uncertainty
    };
    let (range, corner, rounding) = match rounded.filter(surely) {
        Some((range, corner)) => (range, corner, Rounding::Fitted),
        None => (range, corner, Rounding::SHARP),
    };
    Some(Ride {
        range,
        corner,
        rounding,
        rounded: telling,
    })
}

/// The longest of the rides that begin at `low`, settled from each of `ends`: a corner that is sharper
/// than the true one lies before it, and ends the ride too early. Of equal ones that over the sharpest.
fn longest_ride(
    low: usize,
    ends: [usize; 2],
    settle: &impl Fn(&Range<usize>, Rounding) -> Option<(Range<usize>, Corner)>,
) -> Option<(Range<usize>, Corner)> {
    let usual = EdgeRounding::usual();
    let radii = [0.0, usual.radius, usual.radius + 2.0 * usual.deviation];
    let rides = ends.into_iter().flat_map(|end| {
        let each = radii.into_iter().map(Rounding::Known);
        each.filter_map(move |rounding| settle(&(low..end), rounding))
    });
    rides.reduce(|longest, ride| {
        if ride.0.len() > longest.0.len() {
            ride
        } else {
            longest
        }
    })
}
