//! Which part of a tooth's path rode on the edge, on the land, and on the heel.

use super::Tip;
use super::edge::{FoundEdge, find_edge};
use super::heel::{Ending, falls_in_hole, find_heel, land_before_hole, land_behind, shallow_fall};
use super::held::unheld;
use super::view::View;
use crate::trace::ToothSpan;
use std::ops::Range;

/// The parts of one tooth's path, as ranges of its points.
///
/// It is found once a tooth. Figures are then computed again and again with a moved clamping but
/// the same anatomy, so that they are smooth in everything that is uncertain.
#[derive(Clone, Debug, PartialEq)]
pub struct Anatomy {
    pub(super) span: ToothSpan,
    /// The points that tell where the edge is.
    pub(super) edge: FoundEdge,
    /// Points taken on the land itself.
    pub(super) land: Range<usize>,
    /// Points taken while the stylus rode on the heel; may be empty.
    pub(super) heel: Range<usize>,
    /// The first point that is surely off the land behind its heel.
    pub(super) first_off_land: usize,
    /// Places at the end of the land that hold readings from before and behind it.
    pub(super) mixed: usize,
    /// Places at the end of the land that stand where none can.
    pub(super) unheld: usize,
    /// Whether the land is followed by a fall, and not just by the end of what was read.
    pub(super) heel_seen: bool,
}

/// Of the height of the tooth over its gap, what is surely near the top (chosen, no source).
const NEAR_TOP: f64 = 0.75;

/// Finds the parts of one tooth; `None` when it shows no land at all.
pub(super) fn anatomy(view: &View, span: ToothSpan) -> Option<Anatomy> {
    let count = view.path.len();
    let top = first_near_top(view, span);
    let edge = find_edge(view, span, top)?;

    let tip = view.clamping.tip.size().mm();
    let margin = (0.03 * tip).max(0.02);
    let arm = view.plane.arm(edge.place.height);
    let begin_at = edge.place.arc + margin / arm;
    let after_edge = edge.ridden.end.max(edge.bracket.first);
    // A flat stands on its edge until it has gone over it, wherever its slope says that it touches.
    let over_edge = match view.clamping.tip {
        Tip::Flat(half_width) => begin_at + half_width.mm() / arm,
        Tip::Ball(_) | Tip::Point => f64::NEG_INFINITY,
    };
    let off_edge = |i: usize| view.path[i].place.arc >= over_edge;
    let begin = (after_edge..count).find(|&i| view.touched(i).arc >= begin_at && off_edge(i))?;

    let ending = Ending::of(view);
    let next_fall = |from: usize| (from..count).find(|&i| ending.falls(view, i));
    let mut fall = next_fall(begin + ending.settled_after());
    while let Some(behind) = fall.and_then(|i| land_behind(view, begin, i)) {
        fall = next_fall(behind);
    }
    let fall = fall.or_else(|| shallow_fall(view, span, begin));
    // A step is seen from the point before it, which is still on the land. Of a round tip that
    // passes the corner in a step or two, the slopes of the last points are already the corner's.
    let last_on_land = match (fall, ending) {
        (Some(i), Ending::Rolls) => i,
        (Some(i), Ending::Steps) => i + 1,
        (Some(i), Ending::Bends) => i.saturating_sub(1).max(begin),
        (None, _) => count,
    };
    let (land_end, heel) = find_heel(view, begin, last_on_land, margin);
    // An end that nothing was read of may stand as high as it likes.
    let rides_on = if heel.is_empty() {
        fall.unwrap_or(land_end)
    } else {
        heel.start
    };
    let unread_end = || {
        (land_end.saturating_sub(1)..rides_on).find_map(|i| view.hole_behind(i).then_some(i + 1))
    };
    let in_hole = falls_in_hole(view, begin, fall).or_else(unread_end);
    let fall = fall.filter(|_| in_hole.is_none());
    let (land_end, heel) = match in_hole {
        Some(hole) => (land_before_hole(view, begin, hole), hole..hole),
        None => (land_end, heel),
    };
    let begin = (begin..land_end).find(|&i| {
        let touched = view.touched_at_start(i..land_end).arc;
        touched >= begin_at && off_edge(i)
    })?;
    let first_off_land = fall.map_or(in_hole.unwrap_or(count), |i| i + 1);
    let unheld = unheld(
        view,
        begin..land_end,
        land_end..heel.end.max(first_off_land).max(land_end),
    );
    let mixed = if heel.is_empty() {
        mixed_at_end(view, begin..land_end)
    } else {
        0
    };
    (land_end > begin + 2).then_some(Anatomy {
        span,
        edge,
        land: begin..land_end,
        mixed,
        unheld,
        first_off_land,
        heel,
        heel_seen: fall.is_some(),
    })
}

/// How many places at the end of a land hold readings from before and behind its end: they scatter
/// far more than the others.
fn mixed_at_end(view: &View, land: Range<usize>) -> usize {
    /// In what the land usually scatters (chosen, no source).
    const FAR_MORE: f64 = 5.0;
    /// A land must keep so many places (chosen, no source).
    const KEPT: usize = 8;
    let of_land = &view.path[land];
    let mut scatters: Vec<f64> = of_land.iter().map(|point| point.scatter).collect();
    scatters.sort_unstable_by(f64::total_cmp);
    let Some(usual) = scatters.get(scatters.len() / 2) else {
        return 0;
    };
    let from_end = of_land.iter().skip(KEPT).rev();
    from_end
        .take_while(|point| point.scatter > usual * FAR_MORE)
        .count()
}

/// The first point that is surely above the gap and near the height of the tooth.
fn first_near_top(view: &View, span: ToothSpan) -> usize {
    if span.begins_in_hole {
        return 0;
    }
    let heights = || view.path.iter().map(|point| point.place.height);
    let top = heights().fold(f64::NEG_INFINITY, f64::max);
    let bottom = view.path[0].place.height;
    let enough = bottom + NEAR_TOP * (top - bottom);
    heights().position(|height| height >= enough).unwrap_or(0)
}
