//! Which part of a tooth's path rode on the edge, on the land, and on the heel.

use super::contact::contact;
use super::corner::{Corner, fit_corner};
use super::path::{PathPoint, Place, Plane};
use super::{Clamping, Tip};
use crate::trace::ToothSpan;
use std::ops::Range;

/// The parts of one tooth's path, as ranges of its points.
///
/// It is found once a tooth. Figures are then computed again and again with a moved clamping but
/// the same anatomy, so that they are smooth in everything that is uncertain.
#[derive(Clone, Debug, PartialEq)]
pub struct Anatomy {
    pub(super) span: ToothSpan,
    /// Points taken while the stylus rode on the edge; empty when too few did to find it by them.
    pub(super) edge: Range<usize>,
    /// The points about the edge when `edge` is empty.
    pub(super) edge_bracket: Bracket,
    /// Points taken on the land itself.
    pub(super) land: Range<usize>,
    /// Points taken while the stylus rode on the heel; may be empty.
    pub(super) heel: Range<usize>,
    /// The first point that is surely off the land behind its heel.
    pub(super) first_off_land: usize,
    /// Whether the land is followed by a fall, and not just by the end of what was read.
    pub(super) heel_seen: bool,
}

/// Steeper than this the stylus rides on a face or falls into a gap. A corner this steep under a
/// ball is still well clear of the ball's equator.
const STEEP: f64 = 1.19; // tan 50°
/// No relief is as steep as this: a land that falls faster has ended.
const END_OF_LAND: f64 = 0.70; // tan 35°
/// No land rises as steeply as this behind its edge: what does belongs to the corner.
const SURELY_CORNER: f64 = 0.21; // tan 12°
/// How far past its corner, in radians on the ball, a point may still be taken for the corner's.
const PAST_CORNER: f64 = 0.017; // 1°
/// A point belongs to a corner while it stands off by no more than this many of its scatters …
const CORNER_SCATTERS: f64 = 4.0;
/// … and this much more, mm: a real corner is not sharper than a few tenths of a micrometre.
const CORNER_ROUNDNESS: f64 = 0.0003;
/// Steeper than the land by this much, the stylus has left it (tan 4°).
const CLEARLY_STEEPER: f64 = 0.07;
/// A corner is found by rolling over it only where points lie no further apart than this part of
/// the tip's size: some four of them are then on the corner.
const COARSEST: f64 = 0.22;
/// Steeper than the land by this much, and to the end of what was read, it rolls over a corner
/// (tan 12°).
const CLEARLY_ROLLING: f64 = 0.21;
/// A run shorter than this is not shortened any more.
const FEWEST_ON_CORNER: usize = 4;
/// Points that stand off by more than this part of the ball's radius on average are on no corner.
const CORNER_MISFIT: f64 = 0.02;
/// Of the height of the tooth over its gap, what is surely near the top.
const NEAR_TOP: f64 = 0.75;

/// What anatomy needs to know beside the path.
pub(super) struct Context<'a> {
    pub path: &'a [PathPoint],
    pub slopes: &'a [f64],
    pub plane: Plane,
    pub clamping: &'a Clamping,
    pub angle_uncertainty: f64,
}

impl Context<'_> {
    /// Rise over run at a point, without unit.
    fn steepness(&self, i: usize) -> f64 {
        self.slopes[i] / self.plane.arm(self.path[i].place.height)
    }

    /// The same from this point to the next one alone, for tips that show a step as a step.
    fn step(&self, i: usize) -> f64 {
        match (self.path.get(i), self.path.get(i + 1)) {
            (Some(here), Some(next)) => {
                let run = (next.place.arc - here.place.arc) * self.plane.arm(here.place.height);
                (next.place.height - here.place.height) / run.max(1e-12)
            }
            _ => 0.0,
        }
    }

    fn touched(&self, i: usize) -> Place {
        contact(
            self.clamping.tip,
            self.plane,
            self.path[i].place,
            self.slopes[i],
        )
    }

    /// Whether a corner can be found by rolling over it with this tip, at this spacing.
    fn rolls(&self) -> bool {
        let rounds = match (self.clamping.tip, self.plane) {
            (Tip::Ball(_), _) | (Tip::Flat(_), Plane::Polar) => true,
            (Tip::Flat(_), Plane::Unrolled { .. }) | (Tip::Point, _) => false,
        };
        rounds && self.spacing() < self.clamping.tip.size().mm() * COARSEST
    }

    /// Usual distance between neighbouring points; mm.
    fn spacing(&self) -> f64 {
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

    fn corner(&self, points: Range<usize>) -> Option<Corner> {
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
            self.angle_uncertainty,
        )
    }

    /// How far a point's centre stands off the path over a corner; mm, positive when held higher.
    fn stands_off(&self, i: usize, corner: Place) -> f64 {
        let centre = self.path[i].place;
        let across = centre.arc - corner.arc;
        match (self.clamping.tip, self.plane) {
            (Tip::Ball(radius), Plane::Polar) => {
                let x = centre.height * across.sin();
                let y = centre.height * across.cos() - corner.height;
                x.hypot(y) - radius.mm()
            }
            (Tip::Ball(ball), Plane::Unrolled { radius }) => {
                (across * radius).hypot(centre.height - corner.height) - ball.mm()
            }
            (Tip::Flat(_), _) => centre.height - corner.height * across.cos(),
            (Tip::Point, _) => centre.height - corner.height,
        }
    }

    fn fits_corner(&self, i: usize, corner: Place) -> bool {
        let tolerance = self.path[i].scatter * CORNER_SCATTERS
            + CORNER_ROUNDNESS
            + self.angle_uncertainty * self.slopes[i].abs() * CORNER_SCATTERS;
        self.stands_off(i, corner).abs() <= tolerance
    }
}

/// Finds the parts of one tooth; `None` when it shows no land at all.
pub(super) fn anatomy(context: &Context, span: ToothSpan) -> Option<Anatomy> {
    let count = context.path.len();
    let top = first_near_top(context, span);
    let (edge, bracket, edge_place) = find_edge(context, span, top)?;

    let tip = context.clamping.tip.size().mm();
    let margin = (0.03 * tip).max(0.02);
    let arm = context.plane.arm(edge_place.height);
    let begin_at = edge_place.arc + margin / arm;
    let after_edge = edge.end.max(bracket.first);
    let begin = (after_edge..count).find(|&i| context.touched(i).arc >= begin_at)?;

    let ending = Ending::of(context);
    let fall = (begin..count)
        .find(|&i| i >= begin + ending.settled_after() && ending.falls(context, i))
        .or_else(|| shallow_fall(context, span, begin));
    // A step is seen from the point before it, which is still on the land. Of a round tip that
    // passes the corner in a step or two, the slopes of the last points are already the corner's.
    let last_on_land = match (fall, ending) {
        (Some(i), Ending::Rolls) => i,
        (Some(i), Ending::Steps) => i + 1,
        (Some(i), Ending::Bends) => i.saturating_sub(1).max(begin),
        (None, _) => count,
    };
    let (land_end, heel) = find_heel(context, begin, last_on_land, margin);
    (land_end > begin + 2).then_some(Anatomy {
        span,
        edge,
        edge_bracket: bracket,
        land: begin..land_end,
        first_off_land: fall.map_or(count, |i| i + 1),
        heel,
        heel_seen: fall.is_some(),
    })
}

/// How the end of a land shows in a path.
#[derive(Clone, Copy, PartialEq)]
enum Ending {
    /// The tip rolls over the corner in many points.
    Rolls,
    /// A point falls off in one step.
    Steps,
    /// A round tip passes the corner in a point or two: a bend, then a fall.
    Bends,
}

impl Ending {
    fn of(context: &Context) -> Self {
        match context.clamping.tip {
            _ if context.rolls() => Ending::Rolls,
            Tip::Point => Ending::Steps,
            Tip::Ball(_) | Tip::Flat(_) => Ending::Bends,
        }
    }

    /// Points behind the edge before a fall can be told from the edge's own bend.
    fn settled_after(self) -> usize {
        match self {
            Ending::Rolls | Ending::Steps => 0,
            Ending::Bends => 3,
        }
    }

    fn falls(self, context: &Context, i: usize) -> bool {
        match self {
            Ending::Rolls => context.steepness(i) < -END_OF_LAND,
            Ending::Steps => context.step(i) < -END_OF_LAND,
            Ending::Bends => {
                let before = if i > 0 { context.step(i - 1) } else { 0.0 };
                context.step(i) < (before - CLEARLY_ROLLING).max(-END_OF_LAND)
            }
        }
    }
}

/// Where the stylus left the land when it never fell steeply: a ball that is large beside a gap
/// rolls from the heel of one tooth straight onto the edge of the next.
fn shallow_fall(context: &Context, span: ToothSpan, begin: usize) -> Option<usize> {
    let count = context.path.len();
    if !context.rolls() || span.ends_in_hole {
        return None;
    }
    let land = slope_before(context, begin, count.checked_sub(1)?);
    let steeper = |i: &usize| context.steepness(*i) < land - CLEARLY_ROLLING;
    let rolling = (begin..count).rev().take_while(steeper).count();
    (rolling >= FEWEST_ON_CORNER).then(|| count - rolling)
}

/// The first point that is surely above the gap and near the height of the tooth.
fn first_near_top(context: &Context, span: ToothSpan) -> usize {
    if span.begins_in_hole {
        return 0;
    }
    let heights = || context.path.iter().map(|point| point.place.height);
    let top = heights().fold(f64::NEG_INFINITY, f64::max);
    let bottom = context.path[0].place.height;
    let enough = bottom + NEAR_TOP * (top - bottom);
    heights().position(|height| height >= enough).unwrap_or(0)
}

/// The points that rode on the edge, or those between which it lies, and where it is at first sight.
fn find_edge(
    context: &Context,
    span: ToothSpan,
    top: usize,
) -> Option<(Range<usize>, Bracket, Place)> {
    if context.rolls()
        && let Some((range, corner)) = ride_over_edge(context, top)
    {
        let last = range.end.saturating_sub(1);
        let bracket = Bracket {
            before: last,
            first: last,
            behind: last,
        };
        return Some((range, bracket, corner.place));
    }
    // A tip with a round to it climbs the corner before it stands on the edge, a point does not.
    let level = match context.clamping.tip {
        Tip::Point => STEEP,
        Tip::Ball(_) | Tip::Flat(_) => SURELY_CORNER,
    };
    let last = context.path.len() - 1;
    let first = (top..=last).find(|&i| context.step(i) <= level)?;
    let bracket = Bracket {
        before: if span.begins_in_hole {
            first
        } else {
            first.saturating_sub(1)
        },
        first,
        behind: (first + 1).min(last),
    };
    let (low, high) = bracket.arcs(context.path, context.plane, context.clamping.tip);
    let place = Place {
        arc: (low + high) / 2.0,
        height: context.path[first].place.height,
    };
    let behind = match context.clamping.tip {
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
    /// it. A ball climbs the corner ever less steeply: half-way between two readings it is as far
    /// before the edge as the steepness there says, and `first` is where that fell below
    /// `SURELY_CORNER`. A flat meets the edge with its end.
    pub fn arcs(self, path: &[PathPoint], plane: Plane, tip: Tip) -> (f64, f64) {
        let arc = |i: usize| path[i].place.arc;
        let between = |a: usize, b: usize| (arc(a) + arc(b)) / 2.0;
        let arm = plane.arm(path[self.first].place.height);
        match tip {
            Tip::Point => (arc(self.before), arc(self.first)),
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

/// Grows a run of points that all lie on the path over one corner.
fn ride_over_edge(context: &Context, top: usize) -> Option<(Range<usize>, Corner)> {
    let count = context.path.len();
    let seed = (top..count).find(|&i| context.steepness(i) <= STEEP)?;
    let mut low = seed;
    while low > 0 && (SURELY_CORNER..=STEEP).contains(&context.steepness(low - 1)) {
        low -= 1;
    }
    let mut high = seed;
    while high < count && context.steepness(high) >= SURELY_CORNER {
        high += 1;
    }
    // A small ball has few points on its corner; those a little past the steep part help it.
    while high < count && high - low < FEWEST_ON_CORNER && context.steepness(high) > 0.0 {
        high += 1;
    }
    // The land begins behind the edge, so a ride over it can only grow towards the land.
    settle_on_corner(context, low, high, |corner, i| {
        let arm = context.plane.arm(corner.place.height);
        let past = (context.path[i].place.arc - corner.place.arc) * arm;
        i >= high && past <= context.clamping.tip.size().mm() * PAST_CORNER
    })
}

/// Fits a corner to a run of points, takes in those beside it that may belong and lie on the path
/// over the same corner, gives up those that do not, and again until the run stays.
fn settle_on_corner(
    context: &Context,
    mut low: usize,
    mut high: usize,
    may_belong: impl Fn(&Corner, usize) -> bool,
) -> Option<(Range<usize>, Corner)> {
    let mut corner = context.corner(low..high)?;
    let ball = context.clamping.tip.size().mm();
    for _ in 0..8 {
        let before = (low, high);
        let belongs = |corner: &Corner, i: usize| {
            may_belong(corner, i) && context.fits_corner(i, corner.place)
        };
        while high < context.path.len() && belongs(&corner, high) {
            high += 1;
        }
        while low > 0 && belongs(&corner, low - 1) {
            low -= 1;
        }
        while high - low > FEWEST_ON_CORNER && !context.fits_corner(high - 1, corner.place) {
            high -= 1;
        }
        while high - low > FEWEST_ON_CORNER && !context.fits_corner(low, corner.place) {
            low += 1;
        }
        corner = context.corner(low..high)?;
        if before == (low, high) {
            break;
        }
    }
    let mean_off = (low..high)
        .map(|i| context.stands_off(i, corner.place).abs())
        .sum::<f64>()
        / (high - low) as f64;
    // A run that does not close up on one point is no ride over a corner.
    (mean_off < CORNER_MISFIT * ball + CORNER_ROUNDNESS).then_some((low..high, corner))
}

/// Where the land ends, and the points behind it that rode on the heel.
fn find_heel(context: &Context, begin: usize, fall: usize, margin: f64) -> (usize, Range<usize>) {
    if !context.rolls() || fall >= context.path.len() {
        return (fall.min(context.path.len()), fall..fall);
    }
    let mut end = fall;
    while end < context.path.len() && (-STEEP..-END_OF_LAND).contains(&context.steepness(end)) {
        end += 1;
    }
    // What is still on the land is no steeper than the land; near the heel the stylus stands off
    // its corner by so little there that only this tells the two apart.
    let land = slope_before(context, begin, fall);
    let clearly_off_land = |_: &Corner, i: usize| {
        (begin..fall).contains(&i) && context.steepness(i) < land - CLEARLY_STEEPER
    };
    let mut first = fall;
    while first > begin && context.steepness(first - 1) < land - CLEARLY_STEEPER {
        first -= 1;
    }
    let Some((ride, corner)) = settle_on_corner(context, first, end, clearly_off_land) else {
        return (fall, fall..fall);
    };
    let arm = context.plane.arm(corner.place.height);
    // All points that touched at the heel are one place; as land points they would weigh too much.
    let mut land_end = ride.start.max(begin);
    while land_end > begin && context.touched(land_end - 1).arc >= corner.place.arc - margin / arm {
        land_end -= 1;
    }
    (land_end, ride)
}

/// The steepness of the land some way before it ends at `fall`.
fn slope_before(context: &Context, begin: usize, fall: usize) -> f64 {
    let arm = context.plane.arm(context.path[fall].place.height);
    let end = context.touched(fall).arc;
    let mut slopes: Vec<f64> = (begin..fall)
        .filter(|&i| (0.15..1.0).contains(&((end - context.touched(i).arc) * arm)))
        .map(|i| context.steepness(i))
        .collect();
    slopes.sort_by(f64::total_cmp);
    slopes.get(slopes.len() / 2).copied().unwrap_or(0.0)
}
