//! Back taper: how a feature gets smaller from trace to trace along the tool.

use super::bench::{Axis, Bench};
use super::drift::drift_line;
use super::figures::edge_scatter;
use super::lean::Lean;
use super::lines::indicator_lines;
use super::source::LEVER_TOLERANCE;
use super::standard::{DISC, indicator_error, rectangular, resolution_step};
use super::trial::Effort;
use super::{Budget, FeatureJudgement, Figure, Input, Line, Spread};
use crate::card::{Feature, Name, Surface};
use crate::quantity::{Angle, Length, Time, told};
use crate::trace::Merged;

/// One trace of a feature, at its place along the tool.
pub struct Plane<'a> {
    /// Distance from the tool's front.
    pub z: Length,
    /// Which setting of the indicator's zero it was taken with.
    pub zero: usize,
    /// When the trace began, since the first one of the inspection did.
    pub began: Time,
    /// The trace.
    pub merged: &'a Merged,
    /// What it told.
    pub judgement: &'a FeatureJudgement,
    /// What it was taken with.
    pub bench: &'a Bench,
}

/// A distance along the tool is set with a scale or a rule to this (common practice, no source).
const Z_TOLERANCE: Length = Length::from_mm(0.1);
/// The table travels parallel to the spindle's axis, or square to it, within so much (common practice,
/// no source) ...
const TABLE_OFF: Length = Length::from_mm(0.02);
/// ... over so much.
const TABLE_OVER: Length = Length::from_mm(300.0);
/// The same as an angle.
pub(super) const TABLE_TOLERANCE: Angle = Angle::from_rad(TABLE_OFF.mm() / TABLE_OVER.mm());
/// Traces nearer to each other than this are at the same place (chosen, no source).
const APART_LEAST: Length = Length::from_mm(0.5);
/// Flutes that turn by more than this part of a pitch between two traces could be mistaken
/// (chosen, no source).
const TURNED_MOST: f64 = 0.25;

/// The tolerance of the table as it is stated.
pub(super) fn table_shown() -> String {
    format!(
        "{} over {}",
        told::exact_mm(TABLE_OFF),
        told::exact_mm(TABLE_OVER)
    )
}

/// What a back taper takes for granted, a sentence each.
pub fn taper_assumptions() -> [String; 2] {
    [
        format!(
            "for `back-taper`, every `z_mm` is taken as right within ± {}",
            told::mm(Z_TOLERANCE, 1)
        ),
        format!(
            "for `back-taper`, the table is taken to carry the probe parallel to the spindle's axis within {}",
            table_shown()
        ),
    ]
}

/// The back taper of every flute, from traces at two or more distances; positive where the feature
/// gets smaller towards the shank. Flutes are numbered as in the trace nearest to the front.
///
/// Heights are compared only between traces that share the indicator's zero. Where that leaves
/// fewer than two distances there is one figure without a value that says why.
pub fn back_taper(feature: &Feature, planes: &[Plane], effort: Effort) -> Vec<Figure> {
    let mut figures = of_flutes(feature, planes);
    effort.of_lines(&mut figures, &feature.limits);
    figures
}

fn of_flutes(feature: &Feature, planes: &[Plane]) -> Vec<Figure> {
    let open = |why: String| vec![Figure::missing(Name::BackTaper, None, why)];
    if feature.surface == Surface::Axial {
        return open("a back taper is read along a radius, and this surface is axial".to_owned());
    }
    if planes.len() < 2 || reach(planes.iter()) < APART_LEAST {
        return open(
            "a back taper needs traces at two or more distances `z_mm` from the front, and there is only one"
                .to_owned(),
        );
    }
    let comparable = same_zero(planes);
    let [front, others @ ..] = comparable.as_slice() else {
        return open("no trace of the feature says its distance `z_mm`".to_owned());
    };
    if reach(comparable.iter().copied()) < APART_LEAST {
        return open(
            "the indicator was set anew (`rezeroed`) between the distances, and heights are not compared across that: take both traces with one setting"
                .to_owned(),
        );
    }
    let mut turned = vec![0; comparable.len()];
    for (rotation, other) in turned.iter_mut().skip(1).zip(others) {
        match same_flutes(front, other) {
            Some(found) => *rotation = found,
            None => {
                return open(format!(
                    "the flutes lie so differently at z = {} and at z = {} that one could be mistaken for its neighbour: take the traces nearer together",
                    told::mm(front.z, 1),
                    told::mm(other.z, 1)
                ));
            }
        }
    }
    let flutes = front.judgement.teeth.len();
    (0..flutes)
        .map(|flute| {
            let edges: Option<Vec<Edge>> = comparable
                .iter()
                .zip(&turned)
                .map(|(plane, rotation)| Edge::read(plane, (flute + rotation) % flutes))
                .collect();
            match edges {
                Some(edges) => of_flute(flute, &comparable, &edges),
                None => Figure::missing(
                    Name::BackTaper,
                    Some(flute),
                    "the edge was not found at every distance".to_owned(),
                ),
            }
        })
        .collect()
}

/// From the nearest plane to the farthest.
fn reach<'p, 'a: 'p>(planes: impl Iterator<Item = &'p Plane<'a>> + Clone) -> Length {
    let nearest = planes.clone().map(|plane| plane.z).reduce(Length::min);
    let farthest = planes.map(|plane| plane.z).reduce(Length::max);
    farthest.unwrap_or(Length::ZERO) - nearest.unwrap_or(Length::ZERO)
}

/// The planes that share a zero and reach farthest, from the front on.
fn same_zero<'p, 'a>(planes: &'p [Plane<'a>]) -> Vec<&'p Plane<'a>> {
    let alike = |zero: usize| planes.iter().filter(move |plane| plane.zero == zero);
    let farthest = planes
        .iter()
        .map(|plane| plane.zero)
        .max_by(|a, b| reach(alike(*a)).total_cmp(&reach(alike(*b))));
    let mut chosen: Vec<&Plane> = farthest.map_or_else(Vec::new, |zero| alike(zero).collect());
    chosen.sort_by(|a, b| a.z.total_cmp(&b.z));
    chosen
}

/// By how many places the flutes of another trace are numbered on; `None` where flutes that turn
/// along the tool leave it open which is which.
fn same_flutes(front: &Plane, other: &Plane) -> Option<usize> {
    let edge = |plane: &Plane, at: usize| {
        let tooth = plane.judgement.teeth.get(at)?.tooth.as_ref()?;
        Some(tooth.edge.angle.value)
    };
    let flutes = front.judgement.teeth.len();
    let off = |rotation: usize| {
        let apart = (0..flutes).filter_map(|at| {
            let there = edge(other, (at + rotation) % flutes)?;
            Some((there - edge(front, at)?).shortest().abs())
        });
        let (sum, count) = apart.fold((Angle::ZERO, 0), |(sum, count), apart| {
            (sum + apart, count + 1)
        });
        (count > 0).then(|| sum / f64::from(count))
    };
    let pitch = Angle::TURN / flutes as f64;
    (0..flutes)
        .filter_map(|rotation| Some((rotation, off(rotation)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, off)| *off < pitch * TURNED_MOST)
        .map(|(rotation, _)| rotation)
}

/// One edge in one trace.
struct Edge {
    z: Length,
    /// When it was read, since the inspection began.
    read_at: Time,
    /// Its height on the indicator's own scale, the eccentricity at this place taken off.
    height: Length,
    scatter: Length,
}

impl Edge {
    fn read(plane: &Plane, at: usize) -> Option<Self> {
        let judgement = plane.judgement;
        let judged = judgement.teeth.get(at)?;
        let tooth = judged.tooth.as_ref()?;
        let clamping = &judgement.clamping;
        // A profile counts heights from its own highest edge; the readings are what traces share.
        let datum = judgement.datum * clamping.lever_angle.rad().cos();
        let fit = judged.choice.as_ref().map(|choice| &choice.best);
        Some(Self {
            z: plane.z,
            read_at: plane.began + plane.merged.mean_time(),
            height: judged.edge_height? - clamping.radius + datum,
            scatter: edge_scatter(tooth, fit),
        })
    }
}

/// A weighted straight line through the edges of a flute.
struct Straight {
    /// Growth of the radius per length.
    slope: f64,
    /// Change of the slope with each height, per mm.
    weights: Vec<f64>,
    /// By how much more than they should the edges scatter about it, as a share of variance.
    excess: f64,
}

impl Straight {
    fn through(edges: &[Edge], spread: &dyn Fn(&Edge) -> f64) -> Self {
        let weight = |edge: &Edge| spread(edge).max(1e-9).powi(-2);
        let all: f64 = edges.iter().map(weight).sum();
        let mean = |value: &dyn Fn(&Edge) -> f64| {
            edges.iter().map(|e| weight(e) * value(e)).sum::<f64>() / all
        };
        let z_mean = mean(&|edge| edge.z.mm());
        let height_mean = mean(&|edge| edge.height.mm());
        let square: f64 = edges
            .iter()
            .map(|edge| weight(edge) * (edge.z.mm() - z_mean).powi(2))
            .sum();
        let weights: Vec<f64> = edges
            .iter()
            .map(|edge| weight(edge) * (edge.z.mm() - z_mean) / square)
            .collect();
        let slope: f64 = edges
            .iter()
            .zip(&weights)
            .map(|(edge, weight)| weight * edge.height.mm())
            .sum();
        let off = |edge: &Edge| {
            let line = height_mean + slope * (edge.z.mm() - z_mean);
            ((edge.height.mm() - line) / spread(edge).max(1e-9)).powi(2)
        };
        let free = edges.len() as f64 - 2.0;
        let excess = if free > 0.0 {
            (edges.iter().map(off).sum::<f64>() / free - 1.0).max(0.0)
        } else {
            0.0
        };
        Self {
            slope,
            weights,
            excess,
        }
    }
}

fn of_flute(flute: usize, planes: &[&Plane], edges: &[Edge]) -> Figure {
    let bench = planes[0].bench;
    let indicator = &bench.gauge.indicator;
    let step = resolution_step(indicator.resolution).mm();
    let single = rectangular(indicator.max_error).mm();
    let line = Straight::through(edges, &|edge| edge.scatter.mm().hypot(step).hypot(single));
    let taper = -line.slope.atan();
    // From a change of slope to a change of the angle in degrees.
    let per_slope = (1.0 / (1.0 + line.slope * line.slope)).to_degrees();
    let per_mm: Vec<f64> = line.weights.iter().map(|w| w * per_slope).collect();
    let root = |each: &dyn Fn(&Edge) -> f64| {
        let squares = edges.iter().zip(&per_mm);
        squares
            .map(|(edge, weight)| (weight * each(edge)).powi(2))
            .sum::<f64>()
            .sqrt()
    };

    let mut budget = Budget::default();
    let scatter = root(&|edge| edge.scatter.mm());
    budget.add(Line::departure(Input::Edges, scatter));
    let off_line = root(&|edge| edge.scatter.mm().hypot(step).hypot(single)) * line.excess.sqrt();
    budget.add(Line::departure(Input::OffLine, off_line));
    let lever = bench.gauge.indicator.lever_angle.rad();
    let readings: Vec<(Length, f64)> = edges
        .iter()
        .zip(&per_mm)
        .map(|(edge, weight)| (edge.height / lever.cos(), *weight))
        .collect();
    let error = indicator_error(indicator, &readings);
    // Steps are worked out for a difference of two readings; play is the same at every edge.
    let as_difference = root(&|_| 1.0) / 2f64.sqrt();
    let steps = resolution_step(indicator.resolution) * 2f64.sqrt();
    for line in indicator_lines(bench, error, steps, as_difference) {
        budget.add(line);
    }
    let times: Vec<(Time, f64)> = edges
        .iter()
        .zip(&per_mm)
        .map(|(edge, weight)| (edge.read_at, weight * lever.cos()))
        .collect();
    if let Some(drift) = drift_line(&bench.gauge, &times) {
        budget.add(drift);
    }
    let each = rectangular(Z_TOLERANCE).mm();
    budget.add(Line::of(Input::Distance, each, root(&|_| line.slope)));
    let table = Line::of(Input::Table, rectangular(TABLE_TOLERANCE).deg(), 1.0);
    budget.add(table.at(0.0).spread(Spread::Rectangular));
    let angle = Angle::from_rad(rectangular(LEVER_TOLERANCE)).deg();
    let per_deg = taper.abs() * lever.tan().abs();
    let tilt = Line::of(Input::LeverAngle, angle, per_deg).at(lever.to_degrees());
    budget.add(tilt.spread(Spread::Rectangular));
    let runout = left_of_runout(planes, root(&|_| 1.0));
    let unproven = match runout {
        Some(ref line) => {
            budget.add(line.clone());
            None
        }
        None => Some(super::feature::RUNOUT_UNKNOWN.to_owned()),
    };
    Figure {
        budget: runout.map(|_| budget),
        unproven,
        ..Figure::of(
            Name::BackTaper,
            Some(flute),
            taper.to_degrees(),
            Budget::default(),
        )
    }
}

/// What the runout leaves open. An eccentricity that is the same at all distances cancels; a lean
/// of the tool does not, and reads as so much more taper on one side and less on the other.
///
/// `per_mm` is what a millimetre of independent error in every height makes, in degrees.
fn left_of_runout(planes: &[&Plane], per_mm: f64) -> Option<Line> {
    let mut lean: Option<Lean> = None;
    let mut bound = Length::ZERO;
    for plane in planes {
        match &plane.bench.axis {
            Axis::Measured { lean: here, .. } => {
                let known = |lean: &Lean| lean.angle_uncertainty();
                lean = lean
                    .filter(|before| known(before) >= known(here))
                    .or(Some(*here));
            }
            Axis::Stated(stated) => bound = bound.max(*stated),
            Axis::Unknown => return None,
        }
    }
    if bound > Length::ZERO {
        let each = bound * DISC;
        let line = Line::of(Input::RunoutEach, each.mm(), per_mm).at(0.0);
        return Some(line.spread(Spread::Disc));
    }
    let lean = lean?;
    Some(lean.line(lean.angle_uncertainty()))
}
