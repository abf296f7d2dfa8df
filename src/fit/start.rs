//! Where to begin: a first guess of a curve, good enough for the solver to find the rest.

use super::cam::Law;
use super::curve::CamFigures;
use super::land::Data;
use super::{Curve, Family, hinge};
use crate::card::Surface;
use crate::numeric::linear::least_squares;
use crate::numeric::robust::median;
use crate::quantity::{Angle, Length};
use nalgebra::{DMatrix, DVector};

/// First guesses of a family on a land, best first; the solver decides between them.
pub(super) fn guesses(data: &Data, surface: Surface, family: Family) -> Vec<Curve> {
    let radius = Length::from_mm(data.radius);
    let (tan, c) = bow(data);
    let relief = Angle::from_rad(tan.atan());
    match family {
        Family::Flat => vec![
            Curve::flat(surface, radius, relief),
            // Reaches further round, should the first not reach the last point.
            Curve::flat(surface, radius, Angle::from_rad(1.0)),
        ],
        Family::Spiral => vec![Curve::spiral(surface, radius, relief)],
        Family::LogSpiral => vec![Curve::log_spiral(surface, radius, relief)],
        Family::Arc => {
            // Curvature of a curve in polar (radial) or plain (axial) coordinates, times the radius.
            let (round, bent) = match surface {
                Surface::Radial => (1.0, 1.0 + 2.0 * tan * tan + 2.0 * c),
                Surface::Axial => (0.0, 2.0 * c),
            };
            let bend = bent / (1.0 + tan * tan).powf(1.5);
            vec![
                Curve::arc(surface, radius, relief, bend),
                Curve::arc(surface, radius, relief, round),
            ]
        }
        Family::Facets => facets(data, surface),
        Family::Cam => cams(data, surface),
        // A spline finds itself.
        Family::Free => Vec::new(),
    }
}

/// First guesses of a family behind a margin.
pub(super) fn guesses_behind_margin(data: &Data, surface: Surface, family: Family) -> Vec<Curve> {
    hinge::margins(data)
        .into_iter()
        .flat_map(|width| {
            let behind = data.behind(width);
            let whole = (Length::from_mm(data.radius), Angle::from_rad(data.end));
            guesses(&behind, surface, family)
                .into_iter()
                .map(move |guess| guess.moved_to(whole.0, whole.1))
                .map(move |guess| guess.behind_margin(Angle::from_rad(width)))
        })
        .collect()
}

/// Two flats that meet where two straight lines do best.
fn facets(data: &Data, surface: Surface) -> Vec<Curve> {
    hinge::breaks(data, surface)
        .into_iter()
        .map(|found| {
            let radius = Length::from_mm(data.radius);
            let curve = Curve::facets(
                surface,
                radius,
                Angle::from_rad(found.primary),
                Angle::from_rad(found.at),
                Angle::from_rad(found.secondary),
            );
            curve.moved_to(radius, Angle::from_rad(data.end))
        })
        .collect()
}

/// `tan a` and `c` of `d / R = tan a phi + c phi²` through the land.
fn bow(data: &Data) -> (f64, f64) {
    let columns = if data.arcs.len() > 4 { 3 } else { 2 };
    let design = DMatrix::from_fn(data.arcs.len(), columns, |i, j| data.arcs[i].powi(j as i32));
    let observed = DVector::from_column_slice(&data.drops) / data.radius;
    match least_squares(&design, &observed) {
        Some(line) => (
            line.values[1].clamp(-1.0, 1.0),
            line.values.get(2).copied().unwrap_or(0.0),
        ),
        None => (0.1, 0.0),
    }
}

/// Cams that end their fall where the land first comes near its depth, and start to return where
/// it is last so deep.
fn cams(data: &Data, surface: Surface) -> Vec<Curve> {
    /// Share of the depth that counts as being in the dwell.
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
    let radius = Length::from_mm(data.radius);
    let mut found = Vec::new();
    for lead in [0.1, 0.4] {
        found.push(Curve::cam(surface, radius, figures(lead, true)));
        // Without a return there is nothing to say where it starts.
        if heel > 0.9 * depth {
            found.push(Curve::cam(surface, radius, figures(lead, false)));
        }
    }
    found
}
