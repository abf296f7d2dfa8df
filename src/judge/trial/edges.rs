//! The figures of all edges together in a trial.

use super::super::figures::{Plan, ToothValues};
use super::super::part::{Move, Part};
use crate::quantity::Angle;

/// The edges of a feature with what is uncertain about them beside their own scatter.
pub(super) struct EdgesTrial {
    /// In mm; empty where an edge is missing or there is but one.
    heights: Vec<f64>,
    /// By source, by tooth.
    heights_by_source: Vec<Vec<f64>>,
    spread: f64,
    /// By how much the angle to the next edge is too wide, in radians.
    deviations: Vec<f64>,
    arcs_by_source: Vec<Vec<f64>>,
    worst: f64,
}

impl EdgesTrial {
    pub fn of(part: &Part, plan: &Plan, base: &[Option<ToothValues>], moves: &[Move]) -> Self {
        let values = |pick: fn(&ToothValues) -> f64| -> Option<Vec<f64>> {
            base.iter().map(|tooth| tooth.as_ref().map(pick)).collect()
        };
        let by_source = |pick: fn(&ToothValues) -> f64| -> Vec<Vec<f64>> {
            let of_move = |each: &Move| {
                let teeth = each.change.iter();
                teeth
                    .map(|change| change.as_ref().map_or(0.0, pick))
                    .collect()
            };
            moves.iter().map(of_move).collect()
        };
        let heights = plan
            .spread
            .and_then(|_| values(|values| values.edge_height_mm))
            .unwrap_or_default();
        let deviations = part.spacing_deviations().map_or_else(Vec::new, |spacing| {
            spacing.deviations.iter().map(|off| off.rad()).collect()
        });
        Self {
            spread: range(heights.iter().copied()),
            heights,
            heights_by_source: by_source(|values| values.edge_height_mm),
            worst: greatest(deviations.iter().copied()),
            deviations,
            // An edge that is moved over angle 0 has not gone round.
            arcs_by_source: by_source(|values| {
                Angle::from_rad(values.edge_arc_rad).shortest().rad()
            }),
        }
    }

    /// Edge spread in mm, where `own` is what each edge's height is off by for reasons of its own.
    pub fn spread(&self, own: impl Fn(usize) -> f64, sources: &[f64]) -> f64 {
        let moved = self.heights.iter().enumerate().map(|(tooth, height)| {
            let by_source = self.heights_by_source.iter().zip(sources);
            let moved: f64 = by_source.map(|(each, size)| each[tooth] * size).sum();
            height + own(tooth) + moved
        });
        range(moved)
    }

    /// Flute spacing in degrees; `own` in radians, as for [`Self::spread`].
    pub fn spacing(&self, own: impl Fn(usize) -> f64, sources: &[f64]) -> f64 {
        let count = self.deviations.len();
        let off = |tooth: usize| {
            let by_source = self.arcs_by_source.iter().zip(sources);
            own(tooth)
                + by_source
                    .map(|(each, size)| each[tooth] * size)
                    .sum::<f64>()
        };
        let moved = self.deviations.iter().enumerate();
        let moved =
            moved.map(|(tooth, deviation)| deviation + off((tooth + 1) % count) - off(tooth));
        Angle::from_rad(greatest(moved)).deg()
    }

    /// As found, in mm.
    pub fn found_spread(&self) -> f64 {
        self.spread
    }

    /// As found, in degrees.
    pub fn found_spacing(&self) -> f64 {
        Angle::from_rad(self.worst).deg()
    }

    pub fn has_spread(&self) -> bool {
        !self.heights.is_empty()
    }

    pub fn has_spacing(&self) -> bool {
        !self.deviations.is_empty()
    }
}

fn range(values: impl Iterator<Item = f64>) -> f64 {
    let ends = (f64::INFINITY, f64::NEG_INFINITY);
    let (least, greatest) = values.fold(ends, |(least, greatest), value| {
        (least.min(value), greatest.max(value))
    });
    greatest - least
}

fn greatest(deviations: impl Iterator<Item = f64>) -> f64 {
    deviations.map(f64::abs).fold(0.0, f64::max)
}
