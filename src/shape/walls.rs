//! The walls of the gaps beside each tooth: which end of a land has the face of an edge before it.
//!
//! A face falls into its gap nearly as a radius does, or an edge could not cut; the back of a tooth is
//! led down more gently, so that what stands behind the edge is strong and the chip has room (common
//! practice, no source). So where one wall is steep and the other leans, the steep one is the face.
//! Where both lean alike the trace can be read either way.

use super::path::path;
use super::place::{PathPoint, Plane};
use super::{Clamping, Tip};
use crate::quantity::{Angle, Length};
use crate::trace::{Merged, ToothSpan};
use std::ops::Range;

/// How far the walls on both sides of the teeth lean from straight down: 0 for a wall along a radius
/// (axial: along the axis), or one that undercuts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Walls {
    /// Before what is taken for the edges, the middle one of the teeth that show both.
    pub before_edge: Angle,
    /// Behind what is taken for the heels.
    pub behind_heel: Angle,
    /// What they tell.
    pub facing: Facing,
}

/// Which way the teeth face, by their walls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Facing {
    /// The face stands before the edges, as the stated turning sense has it.
    AsStated,
    /// It stands behind what is taken for the heels: the other sense fits better.
    Reversed,
    /// Both ways fit alike, or too little was read of the walls.
    Alike,
}

/// Steeper than this the tip has left the land, whatever its relief: tan 24° (chosen, no source).
const OFF_LAND: f64 = 0.45;
/// The path is that steep over this much, or over the tip's own size where that is less (chosen, no
/// source); mm.
const OVER_MM: f64 = 0.12;
/// A wall is looked at between these shares of its depth: below the ride over the corner, above the
/// round at the bottom of the gap (chosen, no source).
const SHARES: [f64; 2] = [0.2, 0.7];
/// No deeper than this, mm: farther down a gap is as anybody likes it (chosen, no source).
const DEEPEST_MM: f64 = 3.0;
/// A gap that is shallower than this tells nothing (chosen, no source); mm.
const SHALLOWEST_MM: f64 = 0.05;
/// A top is at least this share of the tooth's height above its gaps: what is lower is a gap's
/// floor (chosen, no source).
const TOP_SHARE: f64 = 0.3;
/// No face leans farther than this: tan 17°, a rake of -17° (common practice, no source).
const FACE_LEANS: f64 = 0.3;
/// A wall leans more than the other by this much at least, where the two are told apart for sure
/// (chosen, no source).
const SURELY_MORE: f64 = 0.3;
/// The same where it only confirms what the card states (chosen, no source).
const MORE: f64 = 0.25;
/// Of the place between two points of a wall at least this part is open (chosen, no source).
const LEAST_OPEN: f64 = 0.25;
/// A wall that climbs again by this part of the depth looked at is none (chosen, no source).
const CLIMBS: f64 = 0.1;
/// Of the teeth that show both walls, so many must agree (chosen, no source).
const MOST: f64 = 0.75;

/// The walls of a feature; nothing where no tooth shows both of its own.
pub fn walls(
    merged: &Merged,
    spans: &[ToothSpan],
    datum: Length,
    clamping: &Clamping,
    step_uncertainty: Angle,
) -> Option<Walls> {
    let plane = Plane::of(clamping);
    let teeth: Vec<Sides> = spans
        .iter()
        .filter_map(|&span| {
            let path = path(merged, span, datum, clamping, step_uncertainty);
            sides(&path, span, plane, clamping.tip)
        })
        .collect();
    let count = teeth.len() as f64;
    let share = |facing| {
        let alike = teeth.iter().filter(|sides| sides.facing() == facing);
        alike.count() as f64 / count
    };
    let facing = match () {
        () if share(Facing::AsStated) >= MOST => Facing::AsStated,
        () if share(Facing::Reversed) >= MOST => Facing::Reversed,
        () => Facing::Alike,
    };
    Some(Walls {
        before_edge: middle(teeth.iter().map(|sides| sides.before.lean()))?,
        behind_heel: middle(teeth.iter().map(|sides| sides.behind.lean()))?,
        facing,
    })
}

fn middle(leans: impl Iterator<Item = Angle>) -> Option<Angle> {
    let mut leans: Vec<Angle> = leans.collect();
    leans.sort_by(Angle::total_cmp);
    leans.get(leans.len() / 2).copied()
}

/// Both walls of a tooth.
struct Sides {
    before: Wall,
    behind: Wall,
}

impl Sides {
    fn facing(&self) -> Facing {
        let unseen = self.before.unseen.hypot(self.behind.unseen);
        let more = self.behind.leans() - self.before.leans();
        if more > MORE + unseen && self.before.leans() < FACE_LEANS + self.before.unseen {
            Facing::AsStated
        } else if more < -SURELY_MORE - unseen
            && self.behind.leans() < FACE_LEANS + self.behind.unseen
        {
            Facing::Reversed
        } else {
            Facing::Alike
        }
    }
}

/// One wall, between two depths.
#[derive(Clone, Copy)]
struct Wall {
    /// How far it leads away from the tooth beyond what the tip itself does; mm.
    away: f64,
    /// Over this depth; mm.
    over: f64,
    /// What the spacing of readings leaves open of `away`, as a share of `over`.
    unseen: f64,
}

impl Wall {
    fn leans(&self) -> f64 {
        (self.away / self.over).max(0.0)
    }

    fn lean(&self) -> Angle {
        Angle::from_rad(self.leans().atan())
    }
}

fn sides(path: &[PathPoint], span: ToothSpan, plane: Plane, tip: Tip) -> Option<Sides> {
    if span.begins_in_hole || span.ends_in_hole {
        return None;
    }
    let top = top(path, plane, tip)?;
    let (first, last) = (top.start, top.end - 1);
    let height = |i: usize| path[i].place.height;
    let down = |from: usize, to: usize| height(from) - height(to);
    let left = 0..first + 1;
    let right = last..path.len();
    let lowest = |range: Range<usize>| range.map(height).fold(f64::INFINITY, f64::min);
    let depth = (height(first) - lowest(left.clone()))
        .min(height(last) - lowest(right.clone()))
        .min(DEEPEST_MM);
    if depth < SHALLOWEST_MM || down(first, 0) <= 0.0 {
        return None;
    }
    let arm = plane.arm(height(first));
    let depths = SHARES.map(|share| share * depth);
    let wall = |points: &mut dyn Iterator<Item = usize>, rim: usize| {
        let along: Vec<(f64, f64)> = points
            .map(|i| {
                let away = (path[i].place.arc - path[rim].place.arc).abs() * arm;
                (away, height(rim) - height(i))
            })
            .collect();
        wall(&along, depths, tip)
    };
    Some(Sides {
        before: wall(&mut left.rev(), first)?,
        behind: wall(&mut right.clone(), last)?,
    })
}

/// The points of the path from where it is no longer steep to where it is steep again, about its
/// highest.
fn top(path: &[PathPoint], plane: Plane, tip: Tip) -> Option<Range<usize>> {
    let height = |i: usize| path[i].place.height;
    let count = path.len();
    let highest = (0..count).max_by(|&a, &b| height(a).total_cmp(&height(b)))?;
    let lowest = (0..count).map(height).fold(f64::INFINITY, f64::min);
    let floor = lowest + TOP_SHARE * (height(highest) - lowest);
    let arm = plane.arm(height(highest));
    let size = tip.size().mm();
    let over = if size > 0.0 {
        OVER_MM.min(size)
    } else {
        OVER_MM
    };
    let away = |a: usize, b: usize| (path[b].place.arc - path[a].place.arc).abs() * arm;
    // Whether the path falls steeply from one point to another farther outwards.
    let falls = |from: usize, to: Option<usize>| {
        to.is_some_and(|to| height(from) - height(to) > OFF_LAND * away(from, to))
    };
    let far = |from: usize| move |to: &usize| away(from, *to) >= over;
    let right = (highest..count).find(|&i| falls(i, (i + 1..count).find(far(i))))?;
    let left = (0..=highest).rev();
    let left = left
        .into_iter()
        .find(|&i| falls(i, (0..i).rev().find(far(i))))?;
    (height(left) > floor && height(right) > floor).then_some(left..right + 1)
}

/// A wall from its points by growing distance from the rim: how far away, how far down.
fn wall(along: &[(f64, f64)], depths: [f64; 2], tip: Tip) -> Option<Wall> {
    let over = depths[1] - depths[0];
    let [upper, lower] = depths.map(|depth| crossing(along, depth, over));
    let ((high, high_unseen), (low, low_unseen)) = (upper?, lower?);
    let ridden = depths.map(|depth| ride(tip, depth));
    // Where the rim lies on the ride is known to a little, which moves both ends of it.
    let away = (low - high) - (ridden[1] - ridden[0]);
    Some(Wall {
        away,
        over,
        unseen: high_unseen.max(low_unseen) / over,
    })
}

/// Where a path first is so deep, and what the spacing of its points leaves open of that; nothing
/// where it climbs again on its way, as over a nick or a chip.
fn crossing(along: &[(f64, f64)], depth: f64, over: f64) -> Option<(f64, f64)> {
    let mut deepest = 0.0;
    for pair in along.windows(2) {
        let ((from, above), (to, below)) = (pair[0], pair[1]);
        deepest = f64::max(deepest, above);
        if above < deepest - over * CLIMBS {
            return None;
        }
        if above < depth && below >= depth {
            let drop = below - above;
            let width = to - from;
            // A path that falls in many points is known between them, one that falls in a single
            // step may do so anywhere in it.
            let open = (drop / over).clamp(LEAST_OPEN, 1.0);
            return Some((from + (depth - above) / drop * width, width * open));
        }
    }
    None
}

/// How far from the rim a tip is so deep under it as it rides over a corner into a gap with straight
/// walls. A ball's rim is where its path is as steep as [`OFF_LAND`].
fn ride(tip: Tip, depth: f64) -> f64 {
    match tip {
        Tip::Ball(radius) => {
            let radius = radius.mm();
            let rim = radius * (1.0 - OFF_LAND.atan().cos());
            let under = (depth + rim).min(radius);
            (2.0 * radius * under - under * under).sqrt() - radius * OFF_LAND.atan().sin()
        }
        Tip::Flat(_) | Tip::Point => 0.0,
    }
}
