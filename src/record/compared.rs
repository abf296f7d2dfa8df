//! Two records of a tool, before and after a grind: what moved, and what came off each tooth.

use super::faced::{self, FaceGround};
use super::pairs::{FigureOf, Pair, pairs, same_tooth};
use super::schema::{Bounds, Characteristic, Flute, Record, Verdict};
use serde::Serialize;

/// What lies between two records.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// The tool's id.
    pub tool: String,
    /// The stock that each tooth lost.
    pub stock: Vec<Stock>,
    /// What came off each land of a feature that is ground on the face.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub face: Vec<FaceGround>,
    /// Every characteristic that either record has.
    pub moved: Vec<Moved>,
    /// What was taken for granted, a sentence each.
    pub assumptions: Vec<String>,
}

/// What one tooth lost at its edge.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stock {
    /// The feature.
    pub feature: String,
    /// Counted from 1.
    pub flute: u32,
    /// Distance of the trace from the front, where known.
    pub z_mm: Option<f64>,
    /// More (or less) than the mean of the feature's teeth.
    pub beyond_mean_mm: f64,
    /// One standard uncertainty of that; unknown where either record has none of its edge spread.
    pub standard_uncertainty_mm: Option<f64>,
    /// Off the radius, by the diameters that the two cards state; null where they are the same or
    /// the surface is axial.
    pub by_cards_mm: Option<f64>,
}

/// One characteristic in both records.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moved {
    /// Which one.
    #[serde(flatten)]
    pub of: FigureOf,
    /// In the earlier record.
    pub before: Option<Side>,
    /// In the later record.
    pub after: Option<Side>,
}

/// A characteristic in one of the records.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Side {
    /// The value.
    pub value: Option<f64>,
    /// Its standard uncertainty.
    pub standard_uncertainty: Option<f64>,
    /// The 95 % coverage interval.
    pub interval: Option<[f64; 2]>,
    /// What its card allowed.
    pub limit: Option<Bounds>,
    /// Its verdict.
    pub verdict: Option<Verdict>,
}

impl Compared {
    /// The second record held against the first.
    pub fn of(before: &Record, after: &Record) -> Self {
        let stock: Vec<Stock> = after
            .features
            .iter()
            .flat_map(|facts| stock(before, after, &facts.feature))
            .fold(Vec::new(), |mut all, one| {
                // A feature traced at several places is listed once for each.
                if !all.contains(&one) {
                    all.push(one);
                }
                all
            });
        let mut assumptions = Vec::new();
        if before.tool != after.tool {
            assumptions.push(format!(
                "the records are of two tools, {} and {}, which are held against each other all the same",
                before.tool, after.tool
            ));
        }
        assumptions.extend([
            "flute 1 is the same tooth in both: two clampings share no zero, so mark the tooth that is traced first".to_owned(),
            "heights are told from the mean of the edges: what a grind took off all teeth alike is not seen by them".to_owned(),
        ]);
        assumptions.push(match stock.iter().any(|it| it.by_cards_mm.is_some()) {
            true => "stock off the radius takes both cards' diameters for true; they state no uncertainty".to_owned(),
            false => "the cards state the same diameter, or none along the axis: the stock that all teeth lost is not known".to_owned(),
        });
        let on_face = after.features.iter().filter(|it| faced::on_its_face(it));
        let face = on_face.fold(Vec::new(), |mut all: Vec<FaceGround>, facts| {
            let known = |it: &FaceGround| it.feature == facts.feature;
            if !all.iter().any(known) {
                all.extend(faced::all(before, after, &facts.feature));
            }
            all
        });
        if !face.is_empty() {
            assumptions.push(
                "lands of a tool that is ground on the face are lined up by what came off: by the diameters on the cards, and by how much shorter they are"
                    .to_owned(),
            );
        }
        Self {
            tool: after.tool.clone(),
            stock,
            face,
            moved: moved(before, after),
            assumptions,
        }
    }
}

fn stock(before: &Record, after: &Record, feature: &str) -> Vec<Stock> {
    let facts = |record: &Record| {
        let mut all = record.features.iter();
        all.find(|it| it.feature == feature)
            .map(|it| (it.surface.clone(), it.diameter_mm))
    };
    let (Some((_, old)), Some((surface, new))) = (facts(before), facts(after)) else {
        return Vec::new();
    };
    let pairs: Vec<(&Flute, f64)> = after
        .flutes
        .iter()
        .filter(|it| it.feature == feature)
        .filter_map(|it| Some((it, same_tooth(before, it)?.edge_mm - it.edge_mm)))
        .filter(|(_, lost)| lost.is_finite())
        .collect();
    let by_cards = surface == "radial" && old != new;
    let u = |record: &Record, z_mm: Option<f64>| {
        let spread = record.characteristics.iter().find(|it| {
            it.name == "edge-spread"
                && it.feature.as_deref() == Some(feature)
                && (it.z_mm == z_mm || it.z_mm.is_none())
        });
        spread.and_then(|it| it.standard_uncertainty)
    };
    let tooth = |&(flute, lost): &(&Flute, f64)| {
        let beside = pairs.iter().filter(|(it, _)| it.z_mm == flute.z_mm);
        let beside: Vec<f64> = beside.map(|(_, lost)| *lost).collect();
        let mean = beside.iter().sum::<f64>() / beside.len() as f64;
        let both = u(before, flute.z_mm).zip(u(after, flute.z_mm));
        Stock {
            feature: feature.to_owned(),
            flute: flute.flute,
            z_mm: flute.z_mm,
            beyond_mean_mm: lost - mean,
            // The spread is a difference of two edges, so its uncertainty is at least that of one
            // edge about the mean.
            standard_uncertainty_mm: both.map(|(one, other)| one.hypot(other)),
            by_cards_mm: by_cards.then_some(lost),
        }
    };
    pairs.iter().map(tooth).collect()
}

fn moved(before: &Record, after: &Record) -> Vec<Moved> {
    let moved = |pair: Pair| {
        Some(Moved {
            of: pair.either()?.into(),
            before: pair.before.map(side),
            after: pair.after.map(side),
        })
    };
    pairs(before, after).into_iter().filter_map(moved).collect()
}

fn side(of: &Characteristic) -> Side {
    Side {
        value: of.value,
        standard_uncertainty: of.standard_uncertainty,
        interval: of.interval,
        limit: of.limit,
        verdict: of.verdict,
    }
}
