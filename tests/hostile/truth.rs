//! What is true of a feature, read off its points.

use super::land::{Ground, Made, Tooth, made};
use std::collections::BTreeMap;

/// A tooth's truths.
#[derive(Clone, Debug)]
pub struct ToothTruth {
    /// Against the motion, in degrees.
    pub edge_deg: f64,
    pub edge_mm: f64,
    /// Characteristics by name, in mm and degrees.
    pub figures: BTreeMap<&'static str, f64>,
}

/// A feature's truths.
#[derive(Clone, Debug)]
pub struct FeatureTruth {
    pub teeth: Vec<ToothTruth>,
    pub whole: BTreeMap<&'static str, f64>,
}

/// What the card asks for.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    pub check_mm: f64,
    pub feed_mm: f64,
}

pub fn of(teeth: &[Tooth], ground: &Ground, asked: Asked) -> FeatureTruth {
    let each: Vec<ToothTruth> = teeth
        .iter()
        .map(|tooth| tooth_truth(&made(tooth, ground), tooth, ground, asked))
        .collect();
    let heights = || each.iter().map(|tooth| tooth.edge_mm);
    let spread = heights().fold(f64::MIN, f64::max) - heights().fold(f64::MAX, f64::min);
    let mut places: Vec<f64> = each
        .iter()
        .map(|tooth| tooth.edge_deg.rem_euclid(360.0))
        .collect();
    places.sort_by(f64::total_cmp);
    let even = 360.0 / places.len() as f64;
    let steps = (0..places.len()).map(|at| {
        let next = places.get(at + 1).map_or(places[0] + 360.0, |next| *next);
        ((next - places[at]) - even).abs()
    });
    let spacing = steps.fold(0.0, f64::max);
    FeatureTruth {
        teeth: each,
        whole: BTreeMap::from([("edge-spread", spread), ("flute-spacing", spacing)]),
    }
}

fn tooth_truth(made: &Made, tooth: &Tooth, ground: &Ground, asked: Asked) -> ToothTruth {
    let [edge, edge_at] = made.points[made.edge];
    let circle = if ground.axial { ground.radius_mm } else { edge };
    let from = made.edge.min(made.land.start);
    let land = || {
        let points = made.points[from..made.land.end].iter();
        points.map(move |[height, at]| (at - edge_at, edge - height))
    };
    let after = |angle: f64| land().filter(move |(behind, _)| *behind >= angle);
    let check = asked.check_mm / circle;
    let end = land().map(|(behind, _)| behind).fold(0.0, f64::max);
    let rise = |behind: f64| asked.feed_mm * behind / std::f64::consts::TAU;
    let mut figures = BTreeMap::new();
    if check < end {
        let drop = after(check).next().map_or(f64::NAN, |(_, drop)| drop);
        figures.insert("drop", drop);
        let clearances = after(check).map(|(behind, drop)| drop - rise(behind));
        figures.insert("heel-clearance", clearances.fold(f64::MAX, f64::min));
        let (sin, cos) = check.sin_cos();
        if !ground.axial {
            let slope = (circle / (circle - drop) - cos) / sin;
            figures.insert("flat-equivalent-relief", slope.atan().to_degrees());
        }
    }
    figures.insert(
        "total-relief",
        land().map(|(_, drop)| drop).fold(f64::MIN, f64::max),
    );
    if tooth.extras.is_empty() {
        let land = &made.points[made.land.clone()];
        let slopes = [
            slope(land, circle),
            slope(&land[8.min(land.len())..], circle),
        ];
        if let [Some(near), Some(next)] = slopes {
            // Behind a rounding the land is carried on to where its edge is.
            let by = (near.1 - next.1) / (near.0 - next.0);
            let ahead = if tooth.rounding_mm > 0.0 {
                near.0 - edge_at
            } else {
                0.0
            };
            figures.insert("relief-angle", (near.1 - by * ahead).to_degrees());
        }
    }
    // Half a nanometre is no relief.
    let level = land().take_while(|(_, drop)| *drop < 5e-7);
    let level = level.map(|(behind, _)| behind).fold(0.0, f64::max) * circle;
    figures.insert("wear-land", if level < 0.01 { 0.0 } else { level });
    if tooth.rounding_mm > 0.0 {
        figures.insert("edge-radius", tooth.rounding_mm);
    }
    ToothTruth {
        edge_deg: edge_at.to_degrees(),
        edge_mm: edge,
        figures,
    }
}

/// Where the first few micrometres of a land lie, against the motion, and their angle to it.
fn slope(land: &[[f64; 2]], circle: f64) -> Option<(f64, f64)> {
    let (first, last) = (land.first()?, land.get(8)?);
    let fall = (first[0] - last[0]) / ((last[1] - first[1]) * circle);
    Some(((first[1] + last[1]) / 2.0, fall.atan()))
}
