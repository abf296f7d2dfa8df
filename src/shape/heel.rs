//! Where a tooth's land ends in its path, and which points rode on its heel.

use super::Tip;
use super::corner::{Corner, Rounding};
use super::ride::{FEWEST_ON_CORNER, settle_on_corner};
use super::view::{STEEP, SURELY_CORNER, View};
use crate::trace::ToothSpan;
use std::ops::Range;

/// No relief is as steep as this: a land that falls faster has ended (chosen, no source).
const END_OF_LAND: f64 = 0.70; // tan 35°
/// Less steep than this, a ball that has left its land is still on the heel (tan 43°): flanks of gaps
/// are mostly steeper (chosen, no source).
const SURELY_ON_HEEL: f64 = 0.93;
/// Steeper than the land by this much, the stylus has left it (tan 4°; chosen, no source).
const CLEARLY_STEEPER: f64 = 0.07;
/// Steeper than the land by this much, and to the end of what was read, it rolls over a corner
/// (tan 12°; chosen, no source).
const CLEARLY_ROLLING: f64 = 0.21;

/// How the end of a land shows in a path.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Ending {
    /// The tip rolls over the corner in many points.
    Rolls,
    /// A point falls off in one step.
    Steps,
    /// A round tip passes the corner in a point or two: a bend, then a fall.
    Bends,
}

impl Ending {
    pub fn of(view: &View) -> Self {
        match view.clamping.tip {
            _ if view.rolls() => Ending::Rolls,
            // A flat holds on to a falling land with its end, and comes off it as a point does.
            Tip::Point | Tip::Flat(_) => Ending::Steps,
            Tip::Ball(_) => Ending::Bends,
        }
    }

    /// Points behind the edge before a fall can be told from the edge's own bend.
    pub fn settled_after(self) -> usize {
        match self {
            Ending::Rolls | Ending::Steps => 0,
            Ending::Bends => 3,
        }
    }

    pub fn falls(self, view: &View, i: usize) -> bool {
        match self {
            Ending::Rolls => view.steepness(i) < -END_OF_LAND,
            Ending::Steps => view.step(i) < -END_OF_LAND,
            Ending::Bends => {
                let before = if i > 0 { view.step(i - 1) } else { 0.0 };
                // Levelling off after a climb is no fall.
                let before = before.min(0.0);
                view.step(i) < (before - CLEARLY_ROLLING).max(-END_OF_LAND)
            }
        }
    }
}

/// Where the land goes on behind a fall at `i`; `None` where it has ended.
///
/// The back of a burr falls as steeply as a heel does, but only undoes the steep climb before it:
/// behind it lies what a land no steeper than [`STEEPEST_LAND`] comes down to from the burr's foot.
pub(super) fn land_behind(view: &View, begin: usize, i: usize) -> Option<usize> {
    let height = |i: usize| view.path[i].place.height;
    let along = |from: usize, to: usize| view.along(from, to);
    let climb = (begin..i)
        .rev()
        .take_while(|&at| along(at, i) < WIDEST_BURR_MM)
        .find(|&at| view.steepness(at) > SURELY_CORNER)?;
    let climbs = |&at: &usize| view.steepness(at) > 0.0;
    let foot = (begin..climb).rev().take_while(climbs).last()?;
    // Over some points and some way, so that noise does not make a slope.
    let levels = |&from: &usize| {
        let to = (from + LEVEL_POINTS..view.path.len()).find(|&to| along(from, to) >= LEVEL_MM);
        to.is_some_and(|to| height(to) - height(from) > -STEEPEST_LAND * along(from, to))
    };
    let behind = (i + 1..view.path.len()).find(levels)?;
    (height(behind) >= height(foot) - STEEPEST_LAND * along(foot, behind)).then_some(behind)
}

/// Where a land goes into a hole and has fallen off when readings begin again: the first point behind
/// the hole.
pub(super) fn falls_in_hole(view: &View, begin: usize, fall: Option<usize>) -> Option<usize> {
    let height = |i: usize| view.path[i].place.height;
    let last = view.path.len().checked_sub(1)?;
    let falls = |&i: &usize| {
        let steep = height(i) - height(i + 1) > STEEPEST_LAND * view.along(i, i + 1);
        steep && view.hole_behind(i)
    };
    let hole = (begin..fall.unwrap_or(last).min(last)).find(falls)?;
    Some(hole + 1)
}

/// Where a land ends that goes into a hole at `hole`: the last points before it may already have been
/// on the way off its heel.
pub(super) fn land_before_hole(view: &View, begin: usize, hole: usize) -> usize {
    let mut end = hole;
    if view.rolls() {
        let land = slope_before(view, begin, hole - 1);
        while end > begin && view.steepness(end - 1) < land - CLEARLY_STEEPER {
            end -= 1;
        }
    }
    end
}

/// A climb this far before a fall has nothing to do with it (chosen, no source).
const WIDEST_BURR_MM: f64 = 1.0;
/// Steeper than this no land goes on behind a burr (tan 20°; common practice, no source).
const STEEPEST_LAND: f64 = 0.364;
/// Over so many points, and so many mm, a path is looked at to be no steeper (chosen, no source).
const LEVEL_POINTS: usize = 3;
const LEVEL_MM: f64 = 0.1;

/// Where the stylus left the land when it never fell steeply: a ball that is large beside a gap
/// rolls from the heel of one tooth straight onto the edge of the next.
pub(super) fn shallow_fall(view: &View, span: ToothSpan, begin: usize) -> Option<usize> {
    let count = view.path.len();
    if !view.rolls() || span.ends_in_hole {
        return None;
    }
    let land = slope_before(view, begin, count.checked_sub(1)?);
    let steeper = |i: &usize| view.steepness(*i) < land - CLEARLY_ROLLING;
    let rolling = (begin..count).rev().take_while(steeper).count();
    (rolling >= FEWEST_ON_CORNER).then(|| count - rolling)
}

/// Where the land ends, and the points behind it that rode on the heel.
pub(super) fn find_heel(
    view: &View,
    begin: usize,
    fall: usize,
    margin: f64,
) -> (usize, Range<usize>) {
    if !view.rolls() || fall >= view.path.len() {
        return (fall.min(view.path.len()), fall..fall);
    }
    let mut end = fall;
    while end < view.path.len() && (-STEEP..-END_OF_LAND).contains(&view.steepness(end)) {
        end += 1;
    }
    // What is still on the land is no steeper than the land; near the heel the stylus stands off
    // its corner by so little there that only this tells the two apart.
    let land = slope_before(view, begin, fall);
    let clearly_off_land = |_: &Corner, i: usize| {
        (begin..fall).contains(&i) && view.steepness(i) < land - CLEARLY_STEEPER
    };
    let mut first = fall;
    while first > begin && view.steepness(first - 1) < land - CLEARLY_STEEPER {
        first -= 1;
    }
    // The last points may already have come off the corner, and then settle on the face behind it:
    // of corners the one nearest the land is the heel.
    let surely_on = (fall..end).find(|&i| view.steepness(i) < -SURELY_ON_HEEL);
    let rides = [end, surely_on.unwrap_or(end), fall].map(|end| {
        let enough = end >= first + FEWEST_ON_CORNER;
        enough.then(|| settle_on_corner(view, first, end, Rounding::SHARP, clearly_off_land))?
    });
    let nearest = rides
        .into_iter()
        .flatten()
        .min_by_key(|(ride, _)| ride.start);
    let Some((ride, corner)) = nearest.filter(|(ride, _)| ride.start < fall) else {
        // On the corner all the same: as places of the land they would lie in the gap.
        return (first.max(begin), fall..fall);
    };
    let arm = view.plane.arm(corner.place.height);
    // All points that touched at the heel are one place; as land points they would weigh too much.
    let mut land_end = ride.start.max(begin);
    while land_end > begin && view.touched(land_end - 1).arc >= corner.place.arc - margin / arm {
        land_end -= 1;
    }
    (land_end, ride)
}

/// The steepness of the land some way before it ends at `fall`, or where it was read last.
fn slope_before(view: &View, begin: usize, fall: usize) -> f64 {
    let arm = view.plane.arm(view.path[fall].place.height);
    let end = view.touched(fall).arc;
    let mut slopes: Vec<f64> = (begin..fall)
        .filter(|&i| (0.15..1.0).contains(&((end - view.touched(i).arc) * arm)))
        .map(|i| view.steepness(i))
        .collect();
    if slopes.is_empty() {
        /// So many places make up for one of them that errs (chosen, no source).
        const SOME: usize = 5;
        let last = fall.saturating_sub(SOME).max(begin)..fall;
        slopes = last.map(|i| view.steepness(i)).collect();
    }
    slopes.sort_by(f64::total_cmp);
    slopes.get(slopes.len() / 2).copied().unwrap_or(0.0)
}
