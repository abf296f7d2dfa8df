//! Each tooth's edge and land, free of stylus and clamping.

use super::anatomy::{Anatomy, anatomy};
use super::between::{self, Heights};
use super::contact::contact;
use super::corner::{Corner, Rounding, fit_corner};
use super::likely::EdgeRounding;
use super::path::{arc, path};
use super::place::{LandPlace, PathPoint, Place, Plane};
use super::ride::FEWEST_ON_ROUNDING;
use super::scatter::scatter_as_seen;
use super::slope::{self, slopes};
use super::view::{View, Window};
use super::{Clamping, Tip};
use crate::quantity::{Angle, Estimate, Length};
use crate::trace::{Merged, ToothSpan};

/// A feature's teeth as the part has them.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// In the order of growing angle; `None` where a tooth shows no land.
    pub teeth: Vec<Option<Tooth>>,
}

/// One tooth.
#[derive(Clone, Debug, PartialEq)]
pub struct Tooth {
    /// Its cutting edge.
    pub edge: Edge,
    /// How the edge answers to each reading that it was fitted to; nothing where it was not.
    pub corner: Vec<CornerReading>,
    /// How the radius of the edge's rounding answers to each reading that it was fitted to; nothing
    /// where it was not.
    pub rounding: Vec<RoundingReading>,
    /// Its land by growing arc.
    pub land: Vec<LandPlace>,
    /// The corner where the land ends, when the stylus rolled over it.
    pub heel: Option<LandPlace>,
    /// How the height of `heel` answers to each reading that it was fitted to; nothing where it was
    /// not.
    pub heel_corner: Vec<CornerReading>,
    /// Arc where the land ends, or where what was read of it ends.
    pub end: Angle,
    /// Whether a fall into a gap was seen behind `end`.
    pub heel_seen: bool,
    /// Arcs of the land, from and to, in which nothing was read.
    pub holes: Vec<(Angle, Angle)>,
    /// How wide the arc is that the edge lies in and nothing was read in; no such arc where it was
    /// read on both sides of it.
    pub edge_unread: Option<Angle>,
    /// The whole tooth with the gaps beside it, for drawing: in the gaps, where the stylus touches
    /// faces and bottoms at any slope, only the ball's radius is taken off.
    pub outline: Vec<OutlinePlace>,
}

/// One place of a tooth's outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutlinePlace {
    /// On the encoder, continuous over the tooth.
    pub angle: Angle,
    /// On the scale of the edge's height.
    pub height: Length,
}

/// A cutting edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// On the encoder, in one turn, with its standard uncertainty from scatter and steps.
    pub angle: Estimate<Angle>,
    /// The part of that which the encoder's steps bring.
    pub steps: Angle,
    /// Distance from the tool's axis (radial), or height along it (axial), on the datum's scale.
    pub height: Length,
    /// Standard uncertainty of `height` from scatter; `None` when it was not measured by itself
    /// but only carried back from the land.
    pub height_uncertainty: Option<Length>,
    /// What is left open of its rounding brings to `height`; nothing where the ride tells it or there
    /// was none.
    pub height_by_rounding: Length,
    /// Radius of its rounding as the ride of a ball over it shows, with its standard uncertainty from
    /// scatter: below 0 where the ball is smaller than stated. `None` where too few readings were
    /// taken on the corner.
    pub rounding: Option<Estimate<Length>>,
}

/// A reading that an edge, or a heel, was fitted to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CornerReading {
    /// How much lower it is than the edge's own, for a stylus that stands on the edge.
    pub below: Length,
    /// Change of the corner's height with it, mm per mm.
    pub height: f64,
    /// Change of the corner's angle with it, radians per mm.
    pub angle: f64,
}

/// A reading that the radius of an edge's rounding was fitted to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundingReading {
    /// How much lower it is than the edge's own, for a stylus that stands on the edge.
    pub below: Length,
    /// Change of the radius with it, mm per mm.
    pub radius: f64,
}

/// A land with neighbours averaged until it has no more than `most` places. Their scatter is taken as
/// independent.
pub fn averaged(land: &[LandPlace], most: usize) -> Vec<LandPlace> {
    land.chunks(land.len().div_ceil(most.max(1)).max(1))
        .map(|chunk| {
            let count = chunk.len() as f64;
            let variance: f64 = chunk.iter().map(|place| place.scatter.mm().powi(2)).sum();
            LandPlace {
                arc: chunk.iter().map(|place| place.arc).sum::<Angle>() / count,
                drop: chunk.iter().map(|place| place.drop).sum::<Length>() / count,
                scatter: Length::from_mm(variance.sqrt() / count),
            }
        })
        .collect()
}

/// The anatomy of every tooth, found once with the clamping as stated.
pub fn anatomies(
    merged: &Merged,
    spans: &[ToothSpan],
    datum: Length,
    clamping: &Clamping,
    step_uncertainty: Angle,
) -> Vec<Option<Anatomy>> {
    spans
        .iter()
        .map(|&span| {
            let plane = Plane::of(clamping);
            let path = path(merged, span, datum, clamping, step_uncertainty);
            let window = Window::of(merged, clamping);
            let slopes = slopes(&path, window.half_width, window.hole);
            let view = View {
                path: &path,
                slopes: &slopes,
                plane,
                clamping,
                window,
            };
            anatomy(&view, span)
        })
        .collect()
}

/// The part under this clamping, with each tooth divided as `anatomies` says.
///
/// `datum` is the reading that stands for the highest edge.
pub fn profile(
    merged: &Merged,
    anatomies: &[Option<Anatomy>],
    datum: Length,
    clamping: &Clamping,
    step_uncertainty: Angle,
) -> Profile {
    let teeth = anatomies
        .iter()
        .map(|anatomy| {
            let across_edge = tooth(merged, anatomy.as_ref()?, datum, clamping, step_uncertainty)?;
            Some(across_edge.stretched(clamping.across_edge().recip()))
        })
        .collect();
    Profile { teeth }
}

impl Tooth {
    /// With every height multiplied: from the section across an edge to heights along the axis.
    fn stretched(mut self, factor: f64) -> Self {
        if factor == 1.0 {
            return self;
        }
        let stretch = |length: &mut Length| *length = *length * factor;
        stretch(&mut self.edge.height);
        self.edge.height_uncertainty.iter_mut().for_each(stretch);
        stretch(&mut self.edge.height_by_rounding);
        for reading in self.corner.iter_mut().chain(&mut self.heel_corner) {
            stretch(&mut reading.below);
            reading.angle /= factor;
        }
        for place in self.land.iter_mut().chain(&mut self.heel) {
            stretch(&mut place.drop);
            stretch(&mut place.scatter);
        }
        for place in &mut self.outline {
            stretch(&mut place.height);
        }
        self
    }
}

impl Window {
    /// It stays well inside the arc that a ball draws over a corner, and holds some five cells.
    fn of(merged: &Merged, clamping: &Clamping) -> Self {
        /// A window this much wider than it should be takes the slope of a corner for a land's
        /// (chosen, no source).
        const MUCH_WIDER: f64 = 1.5;
        let wanted = (0.2 * clamping.tip.size().mm()).clamp(0.04, 0.3) / clamping.radius.mm();
        let five_cells = 2.5 * merged.cell_width.rad();
        Self {
            half_width: wanted.max(five_cells),
            cell: merged.cell_width.rad(),
            hole: hole_width(merged),
            land_alone: five_cells > MUCH_WIDER * wanted,
        }
    }
}

fn tooth(
    merged: &Merged,
    anatomy: &Anatomy,
    datum: Length,
    clamping: &Clamping,
    step_uncertainty: Angle,
) -> Option<Tooth> {
    let plane = Plane::of(clamping);
    let path = path(merged, anatomy.span, datum, clamping, step_uncertainty);
    let Window {
        half_width,
        land_alone,
        cell,
        hole,
    } = Window::of(merged, clamping);
    let mut slopes = slopes(&path, half_width, hole);
    if land_alone {
        let land = anatomy.land.clone();
        slopes[land.clone()].copy_from_slice(&slope::slopes(&path[land], half_width, hole));
    }
    let touched = |i: usize| contact(clamping.tip, plane, path[i].place, slopes[i]);

    let FittedEdge {
        edge,
        place: edge_place,
        corner,
        rounding,
    } = edge(anatomy, &path, plane, clamping, cell, &touched)?;
    let behind = |place: Place, scatter: f64| LandPlace {
        arc: arc(place.arc - edge_place.arc),
        drop: Length::from_mm(edge_place.height - place.height),
        scatter: Length::from_mm(scatter),
    };
    let mut land: Vec<LandPlace> = anatomy
        .land
        .clone()
        .map(|i| behind(touched(i), path[i].scatter))
        .collect();
    // Noise of the slope can change the order of neighbours that were touched almost together.
    land.sort_by(|a, b| a.arc.total_cmp(&b.arc));
    scatter_as_seen(&mut land);
    land.truncate(land.len() - anatomy.mixed);

    let ridden = heel(anatomy, &path, plane, clamping, &touched);
    let heel_corner = ridden.as_ref().map_or_else(Vec::new, |corner| {
        readings(corner, edge_place, clamping.tip)
    });
    let heel = ridden.map(|corner| behind(corner.place, corner.height_uncertainty));
    let heel = heel.or_else(|| unridden_heel(anatomy, &path, plane, &land, &touched));
    land.truncate(land.len().saturating_sub(anatomy.unheld).max(1));
    let last = land.last()?.arc;
    let end = heel.map_or(last, |heel| heel.arc.max(last));
    let holes = holes(merged, anatomy, &path, edge_place, &touched);
    let outline = outline(anatomy, &path, clamping, edge_place, &touched);
    let edge_unread = edge_unread(merged, anatomy, &path, clamping.tip, edge_place);
    Some(Tooth {
        edge,
        corner,
        rounding,
        land,
        heel,
        heel_corner,
        end,
        heel_seen: anatomy.heel_seen,
        holes,
        edge_unread,
        outline,
    })
}

/// A tooth's edge with what it was fitted to.
struct FittedEdge {
    edge: Edge,
    place: Place,
    corner: Vec<CornerReading>,
    rounding: Vec<RoundingReading>,
}

fn edge(
    anatomy: &Anatomy,
    path: &[PathPoint],
    plane: Plane,
    clamping: &Clamping,
    cell: f64,
    touched: &impl Fn(usize) -> Place,
) -> Option<FittedEdge> {
    if !anatomy.edge.ridden.is_empty() {
        return ridden_edge(anatomy, path, plane, clamping, touched);
    }
    let tip = clamping.tip;
    let bracket = anatomy.edge.bracket;
    let mut arcs = bracket.arcs(path, plane, tip);
    let steps = [bracket.before, bracket.first]
        .map(|i| path[i].steps)
        .into_iter()
        .fold(0.0, f64::max);
    let mut corner = Vec::new();
    let measured = match tip {
        Tip::Ball(ball) => {
            let bounds = heights_between(anatomy, path, plane, ball.mm(), cell);
            let middle = (arcs.0 + arcs.1) / 2.0;
            let told = bounds.filter(|bounds| {
                bounds.width() <= HIDDEN_MOST
                    || !bounds.allow(carried_back(anatomy, middle, touched))
            });
            if let Some(measured) = told.filter(|told| told.width() <= HIDDEN_MOST) {
                let before = path[bracket.before].place;
                arcs = within(arcs, arcs_by_climb(before, plane, ball.mm(), measured));
            }
            heights_as_one(told)
        }
        Tip::Flat(_) => {
            let points = path.get(anatomy.edge.level.clone())?;
            let level = plateau(points, plane, (arcs.0 + arcs.1) / 2.0);
            if let Some((height, _)) = level {
                corner = plateau_readings(points, height);
            }
            level
        }
        Tip::Point => None,
    };
    let (low, high) = arcs;
    let middle = (low + high) / 2.0;
    // Anywhere between the last reading before it and the first one behind it: rectangular.
    let width = (high - low).max(merge_floor(path));
    let carried = || carried_back(anatomy, middle, touched);
    let place = Place {
        arc: middle,
        height: measured.map_or_else(carried, |(height, _)| height),
    };
    let edge = Edge {
        angle: Estimate::new(
            arc(middle).in_turn(),
            arc((width / 12f64.sqrt()).hypot(steps)),
        ),
        steps: arc(steps),
        height: Length::from_mm(place.height),
        height_uncertainty: measured.map(|(_, uncertainty)| Length::from_mm(uncertainty)),
        height_by_rounding: Length::ZERO,
        rounding: None,
    };
    Some(FittedEdge {
        edge,
        place,
        corner,
        rounding: Vec::new(),
    })
}

/// An edge that a ball rolled over.
fn ridden_edge(
    anatomy: &Anatomy,
    path: &[PathPoint],
    plane: Plane,
    clamping: &Clamping,
    touched: &impl Fn(usize) -> Place,
) -> Option<FittedEdge> {
    let found = &anatomy.edge;
    let fit = |points: &std::ops::Range<usize>, rounding| {
        let start = touched(points.start);
        let points = path.get(points.clone())?;
        fit_corner(points, plane, clamping.tip, start, rounding)
    };
    let round = (!found.rounded.is_empty())
        .then(|| fit(&found.rounded, Rounding::Fitted))
        .flatten();
    let (corner, rounder) = match found.rounding {
        Rounding::Fitted => (fit(&found.ridden, Rounding::Fitted)?, None),
        // A rounding that does not show is there all the same.
        Rounding::Known(_) => {
            let seen = round.as_ref();
            let seen = seen.map(|round| (round.rounding, round.rounding_uncertainty));
            let likely = EdgeRounding::of(seen);
            let at = |deviations: f64| {
                let radius = likely.radius + deviations * likely.deviation;
                fit(&found.ridden, Rounding::Known(radius))
            };
            (at(clamping.rounder)?, at(clamping.rounder + 1.0))
        }
    };
    let by_rounding = rounder.map_or(0.0, |rounder| rounder.place.height - corner.place.height);
    let off_height = bridged(&found.ridden, path, plane, clamping.tip);
    let readings_of = readings(&corner, corner.place, clamping.tip);
    let rounding = round.as_ref().map_or_else(Vec::new, |round| {
        let readings = readings(round, round.place, clamping.tip).into_iter();
        let answers = readings.zip(&round.answers);
        answers
            .map(|(reading, answer)| RoundingReading {
                below: reading.below,
                radius: answer.rounding,
            })
            .collect()
    });
    let tells = |_: &Corner| found.rounded.len() >= FEWEST_ON_ROUNDING;
    let edge = Edge {
        angle: Estimate::new(arc(corner.place.arc).in_turn(), arc(corner.arc_uncertainty)),
        steps: arc(corner.arc_steps),
        height: Length::from_mm(corner.place.height),
        height_uncertainty: Some(Length::from_mm(corner.height_uncertainty.hypot(off_height))),
        height_by_rounding: Length::from_mm(by_rounding.abs()),
        rounding: round.filter(tells).map(|round| {
            Estimate::new(
                Length::from_mm(round.rounding),
                Length::from_mm(round.rounding_uncertainty),
            )
        }),
    };
    Some(FittedEdge {
        edge,
        place: corner.place,
        corner: readings_of,
        rounding,
    })
}

/// What a ball bridges between places far apart of its ride over an edge: one that already stands on
/// what lies behind makes the corner seem higher by up to the sagitta of their chord. As a standard
/// uncertainty; mm.
fn bridged(ridden: &std::ops::Range<usize>, path: &[PathPoint], plane: Plane, tip: Tip) -> f64 {
    /// Places no further apart than this part of a ball's radius prove a ride by themselves
    /// (chosen, no source).
    const CLOSE: f64 = 0.22;
    let Tip::Ball(ball) = tip else {
        return 0.0;
    };
    let about = ridden.start..(ridden.end + 1).min(path.len());
    let gaps = path
        .get(about)
        .unwrap_or_default()
        .windows(2)
        .map(|pair| (pair[1].place.arc - pair[0].place.arc) * plane.arm(pair[0].place.height));
    let gap = gaps.fold(0.0, f64::max);
    if gap <= CLOSE * ball.mm() {
        return 0.0;
    }
    gap * gap / 8.0 / ball.mm() / 3f64.sqrt()
}

/// Bounds of a height that lie further apart say less than the land carried back to the edge, where
/// they allow that (chosen, no source); mm.
const HIDDEN_MOST: f64 = 0.008;

/// Bounds of an edge's height between the places of a ball beside it.
#[derive(Clone, Copy)]
struct Measured {
    heights: Heights,
    /// Standard uncertainty of those places; mm.
    scatter: f64,
    /// What the encoder's steps leave open of heights where the ball climbs; mm.
    steps: f64,
}

impl Measured {
    fn width(&self) -> f64 {
        self.heights.greatest - self.heights.least
    }

    /// Whether an edge may have this height, but for chance.
    fn allow(&self, height: f64) -> bool {
        let chance = 2.0 * self.scatter.hypot(self.steps);
        (self.heights.least - chance..=self.heights.greatest + chance).contains(&height)
    }
}

fn heights_between(
    anatomy: &Anatomy,
    path: &[PathPoint],
    plane: Plane,
    ball: f64,
    cell: f64,
) -> Option<Measured> {
    let bracket = anatomy.edge.bracket;
    let first = bracket.before.saturating_sub(1);
    let near = path.get(first..(bracket.behind + 2).min(path.len()))?;
    let places: Vec<Place> = near.iter().map(|point| point.place).collect();
    let spans = bracket.behind - bracket.before;
    let heights = between::heights(&places, bracket.before - first, spans, plane, ball)?;
    let scatter = path.get(bracket.before..=bracket.behind)?.iter();
    let scatter = scatter.map(|point| point.scatter).fold(0.0, f64::max);
    // The mean of readings over a cell lies below the ball's path by up to this.
    let bow = (cell * plane.arm(path[bracket.first].place.height)).powi(2) / 24.0 / ball;
    let climbs = path.get(bracket.before..=bracket.behind)?.windows(2);
    let steps = climbs.map(|pair| {
        let slope =
            (pair[1].place.height - pair[0].place.height) / (pair[1].place.arc - pair[0].place.arc);
        slope.abs() * pair[0].steps.max(pair[1].steps)
    });
    Some(Measured {
        heights,
        scatter: scatter.hypot(bow / 12f64.sqrt()),
        steps: steps.fold(0.0, f64::max),
    })
}

/// The middle of the bounds, rectangular between them.
fn heights_as_one(measured: Option<Measured>) -> Option<(f64, f64)> {
    measured.map(
        |Measured {
             heights, scatter, ..
         }| {
            let width = heights.greatest - heights.least;
            (
                heights.least + width / 2.0,
                (width / 12f64.sqrt()).hypot(scatter),
            )
        },
    )
}

/// The arcs at which an edge of such a height lies that a ball at `before` touched on its climb.
fn arcs_by_climb(
    before: Place,
    plane: Plane,
    ball: f64,
    Measured {
        heights, scatter, ..
    }: Measured,
) -> Option<(f64, f64)> {
    let arm = plane.arm(before.height);
    let at = |height: f64| Some(before.arc + between::ahead(before.height, height, ball)? / arm);
    // A lower edge is met later by a ball as high.
    let (one, other) = (
        at(heights.least - 2.0 * scatter)?,
        at(heights.greatest + 2.0 * scatter)?,
    );
    Some((one.min(other), one.max(other)))
}

/// What two ranges of arcs have in common; the first where that is nothing.
fn within(arcs: (f64, f64), others: Option<(f64, f64)>) -> (f64, f64) {
    let common = others.map(|others| (arcs.0.max(others.0), arcs.1.min(others.1)));
    common.filter(|(low, high)| low < high).unwrap_or(arcs)
}

/// The height of an edge that is a plateau under a flat, with its standard uncertainty.
fn plateau(points: &[PathPoint], plane: Plane, edge: f64) -> Option<(f64, f64)> {
    let count = points.len() as f64;
    let height = |point: &PathPoint| match plane {
        // What the flat reads is how far the edge stands out along the probe.
        Plane::Polar => point.place.height / (point.place.arc - edge).cos(),
        Plane::Unrolled { .. } => point.place.height,
    };
    let mean = points.iter().map(height).sum::<f64>() / count;
    let stated: f64 = points.iter().map(|point| point.scatter.powi(2)).sum();
    let seen: f64 = points
        .iter()
        .map(|point| (height(point) - mean).powi(2))
        .sum();
    let variance = stated.max(seen * count / (count - 1.0).max(1.0)) / count;
    (count > 0.0).then(|| (mean, (variance / count).sqrt()))
}

/// The narrowest bracket that is believed: the mean spacing of the path.
fn merge_floor(path: &[PathPoint]) -> f64 {
    match (path.first(), path.last()) {
        (Some(first), Some(last)) if path.len() > 1 => {
            (last.place.arc - first.place.arc) / (path.len() - 1) as f64
        }
        _ => 0.0,
    }
}

/// An edge that was not ridden over is carried back from so many places (chosen, no source).
pub(crate) const CARRIED_FROM: usize = 8;

/// The land's height carried back to the edge along a straight line through its first places.
fn carried_back(anatomy: &Anatomy, edge: f64, touched: &impl Fn(usize) -> Place) -> f64 {
    let last = (anatomy.land.start + CARRIED_FROM).min(anatomy.land.end);
    let places: Vec<Place> = (anatomy.land.start..last).map(touched).collect();
    let count = places.len() as f64;
    let mean_arc = places.iter().map(|place| place.arc).sum::<f64>() / count;
    let mean_height = places.iter().map(|place| place.height).sum::<f64>() / count;
    let (mut along, mut squares) = (0.0, 0.0);
    for place in &places {
        along += (place.arc - mean_arc) * (place.height - mean_height);
        squares += (place.arc - mean_arc).powi(2);
    }
    let slope = if squares > 0.0 { along / squares } else { 0.0 };
    mean_height + slope * (edge - mean_arc)
}

/// The readings that such an edge hangs on, each as much as the others.
fn plateau_readings(points: &[PathPoint], height: f64) -> Vec<CornerReading> {
    let share = 1.0 / points.len().max(1) as f64;
    let reading = |point: &PathPoint| CornerReading {
        below: Length::from_mm(height - point.place.height),
        height: share,
        angle: 0.0,
    };
    points.iter().map(reading).collect()
}

fn heel(
    anatomy: &Anatomy,
    path: &[PathPoint],
    plane: Plane,
    clamping: &Clamping,
    touched: &impl Fn(usize) -> Place,
) -> Option<Corner> {
    let points = path.get(anatomy.heel.clone())?;
    let start = touched(anatomy.heel.end.checked_sub(1)?);
    fit_corner(points, plane, clamping.tip, start, Rounding::SHARP)
}

/// The readings that a corner was fitted to, from that of a stylus which stands on the edge.
fn readings(corner: &Corner, edge: Place, tip: Tip) -> Vec<CornerReading> {
    let ball = match tip {
        Tip::Ball(radius) => radius.mm(),
        Tip::Flat(_) | Tip::Point => 0.0,
    };
    let top = edge.height + ball;
    let answers = corner.answers.iter();
    answers
        .map(|answer| CornerReading {
            below: Length::from_mm(top - answer.at),
            height: answer.height,
            angle: answer.arc,
        })
        .collect()
}

fn outline(
    anatomy: &Anatomy,
    path: &[PathPoint],
    clamping: &Clamping,
    edge: Place,
    touched: &impl Fn(usize) -> Place,
) -> Vec<OutlinePlace> {
    let ball = match clamping.tip {
        Tip::Ball(radius) => radius.mm(),
        Tip::Flat(_) | Tip::Point => 0.0,
    };
    let lowered = |i: usize| Place {
        height: path[i].place.height - ball,
        ..path[i].place
    };
    let rides = anatomy
        .edge
        .ridden
        .start
        .min(anatomy.edge.bracket.before + 1);
    let leaves = anatomy.heel.end.max(anatomy.land.end);
    let mut places: Vec<Place> = (0..rides)
        .map(lowered)
        .filter(|place| place.arc < edge.arc)
        .chain([edge])
        .chain(anatomy.land.clone().map(touched))
        .chain((leaves..path.len()).map(lowered))
        .collect();
    places.sort_by(|a, b| a.arc.total_cmp(&b.arc));
    places
        .into_iter()
        .map(|place| OutlinePlace {
            angle: arc(place.arc),
            height: Length::from_mm(place.height),
        })
        .collect()
}

/// The end of a land that no stylus rolled over: somewhere between the last point on it and the
/// first one off it, the land carried on there along a straight line.
fn unridden_heel(
    anatomy: &Anatomy,
    path: &[PathPoint],
    plane: Plane,
    land: &[LandPlace],
    touched: &impl Fn(usize) -> Place,
) -> Option<LandPlace> {
    if !anatomy.heel_seen || !anatomy.heel.is_empty() {
        return None;
    }
    let last_on = anatomy.land.end.checked_sub(1 + anatomy.mixed)?;
    let on = path.get(last_on)?.place;
    let off = path.get(anatomy.first_off_land)?.place;
    // Where the path runs back on itself, readings lie so far apart that no end lies between them.
    let apart = Some(off.arc - on.arc).filter(|apart| *apart >= 0.0)?;
    // A ball that is off the land and not yet off the corner stands on the end of the land.
    let rolls = (anatomy.mixed == 0 && anatomy.land.end + 1 < anatomy.first_off_land)
        .then(|| touched(anatomy.land.end).arc - touched(last_on).arc);
    let last = land.last()?;
    let near = |place: &&LandPlace| last.arc - place.arc <= last.arc * CARRIED_SHARE;
    let some = land.iter().rev().take(CARRIED_ON).take_while(near).count();
    let before = land.get(land.len().checked_sub(some.max(2))?)?;
    let slope = (last.drop - before.drop).mm() / (last.arc - before.arc).rad();
    let gap = rolls.map_or(apart, |gap| gap.clamp(0.0, apart));
    let spread = slope.abs().max(STEEPEST_UNSEEN * plane.arm(on.height)) * gap / 12f64.sqrt();
    Some(LandPlace {
        arc: last.arc + arc(gap / 2.0),
        drop: last.drop + Length::from_mm(slope * gap / 2.0),
        scatter: Length::from_mm(spread.hypot(last.scatter.mm())),
    })
}

/// Over so many places a land is carried on to an end that was not seen (chosen, no source) ...
const CARRIED_ON: usize = 5;
/// ... or over as many as lie on this part of it (chosen, no source).
const CARRIED_SHARE: f64 = 0.125;
/// In the last step before its end a land is taken to turn by no more than this (tan 10°; common
/// practice, no source).
const STEEPEST_UNSEEN: f64 = 0.18;

/// The holes of the trace that lie on this land, from and to as arcs behind the edge.
///
/// They are looked for on the path and not between the places touched: where a ball bridges a
/// hollow it touches nothing in between, but nothing can stand up there either.
fn holes(
    merged: &Merged,
    anatomy: &Anatomy,
    path: &[PathPoint],
    edge: Place,
    touched: &impl Fn(usize) -> Place,
) -> Vec<(Angle, Angle)> {
    let wide = hole_width(merged);
    let first = anatomy.edge.ridden.end.max(anatomy.edge.bracket.first + 1) - 1;
    let last = anatomy.heel.end.max(anatomy.land.end).min(path.len() - 1);
    (first..last)
        .filter_map(|i| {
            let width = path[i + 1].place.arc - path[i].place.arc;
            let from = touched(i).arc - edge.arc;
            (width > wide).then(|| (arc(from.max(0.0)), arc(from + width)))
        })
        .collect()
}

/// The arc without a reading that an edge lies in, where it is as wide as a hole is.
fn edge_unread(
    merged: &Merged,
    anatomy: &Anatomy,
    path: &[PathPoint],
    tip: Tip,
    edge: Place,
) -> Option<Angle> {
    // A flat stands on an edge over its whole width, wherever its middle is.
    if matches!(tip, Tip::Flat(_)) {
        return None;
    }
    let wide = hole_width(merged);
    let found = &anatomy.edge;
    if found.ridden.is_empty() {
        let about = path.get(found.bracket.before..(found.bracket.first + 2).min(path.len()))?;
        let widths = about
            .windows(2)
            .map(|pair| pair[1].place.arc - pair[0].place.arc);
        if let Some(width) = widths.filter(|width| *width > wide).reduce(f64::max) {
            return Some(arc(width));
        }
    }
    let behind = path.partition_point(|point| point.place.arc <= edge.arc);
    let next = path.get(behind)?.place.arc;
    match behind.checked_sub(1) {
        Some(before) => {
            let width = next - path[before].place.arc;
            (width > wide).then(|| arc(width))
        }
        None => (anatomy.span.begins_in_hole && next - edge.arc > wide / 2.0)
            .then(|| arc(next - edge.arc)),
    }
}

/// Neighbours of a path that lie further apart than this have a hole between them, in radians.
fn hole_width(merged: &Merged) -> f64 {
    /// More than so many cells of one pass without a reading are a hole (chosen, no source).
    const HOLE_CELLS: f64 = 3.0;
    merged.pass_width.rad() * HOLE_CELLS
}
