//! The extremes of a land in a trial, looked for anew among all its places.

use super::super::figures::standing as standing_per_radian;
use super::super::least::{Extreme, Measured, Reading};
use super::super::reader::Reader;
use super::band::Band;
use super::error_path::ErrorPath;
use super::nodes::Nodes;
use super::{Drawn, Room};
use crate::quantity::Length;

/// One land with what is uncertain about each of its nodes.
pub(super) struct LandTrial {
    /// Drop at each node, in mm.
    drops: Vec<f64>,
    /// How far the work stands up at each node, in mm; infinitely low where no clearance is judged.
    standing: Vec<f64>,
    /// How far it stands up per radian.
    standing_slope: f64,
    /// Nodes that the greatest drop is not looked for at.
    peaks: Vec<bool>,
    /// Change of each node's drop with each source that moves any, by one standard uncertainty, in mm.
    by_source: Vec<(usize, Vec<f64>)>,
    /// Fall of the land at each node, in mm per radian.
    slopes: Vec<f64>,
    /// Which errors of the indicator each node has, and by how much its height changes with each.
    errors: Vec<Vec<(usize, f64)>>,
    /// Scatter of the smooth, which goes along between nodes.
    scatter: Band,
    /// Scatter of the nodes behind those of the smooth, in mm.
    own: Vec<f64>,
    /// Least clearance and greatest drop, but for an end that no stylus rolled over.
    seen: (f64, f64),
    /// Such an end's node: what stands there was carried on from the land.
    unseen: Option<usize>,
    least: f64,
    greatest: f64,
}

/// The readings that the nodes of a land hang on, as travels of the indicator.
pub(super) fn travels(reader: &Reader, nodes: &Nodes) -> Vec<Length> {
    let nodes = nodes.nodes.iter();
    let readings = nodes.flat_map(|node| reader.land_readings(node));
    readings.map(|(travel, _)| travel).collect()
}

impl LandTrial {
    pub fn of(reader: &Reader, land: Nodes, path: &ErrorPath) -> Self {
        let feature = reader.part.feature;
        let is_smooth = |node: &&Extreme| node.kind == Reading::Smooth;
        let Nodes {
            nodes,
            drops,
            standing,
            by_source,
            slopes,
        } = land;
        let smooth = nodes.iter().filter(is_smooth).count();
        let measured = Measured::new(&reader.tooth.land, feature.diameter / 2.0, reader.tooth.end);
        let mut trial = Self {
            by_source: by_source
                .into_iter()
                .enumerate()
                .filter(|(_, changes)| changes.iter().any(|change| *change != 0.0))
                .collect(),
            slopes,
            errors: nodes
                .iter()
                .map(|node| path.gathered(reader.land_readings(node)))
                .collect(),
            scatter: scatter(&measured, &nodes[..smooth]),
            own: nodes[smooth..]
                .iter()
                .map(|node| node.drop.standard_uncertainty.mm())
                .collect(),
            peaks: nodes
                .iter()
                .map(|node| matches!(node.kind, Reading::Narrow(_)))
                .collect(),
            standing,
            standing_slope: standing_per_radian(feature).mm(),
            seen: (0.0, 0.0),
            unseen: nodes
                .iter()
                .position(|node| node.kind == Reading::Heel)
                .filter(|_| reader.tooth.heel_corner.is_empty()),
            least: 0.0,
            greatest: 0.0,
            drops,
        };
        trial.seen = trial.extremes(&trial.drops);
        (trial.least, trial.greatest) = trial.with_unseen(trial.seen, |end| trial.drops[end]);
        trial
    }

    pub fn nodes(&self) -> usize {
        self.drops.len()
    }

    /// What least clearance and total relief are off by in this trial, in mm.
    ///
    /// The extreme of readings with these errors is off from the extreme without them by what the
    /// measured one is taken to be off from the true one: a least of many noisy places lies too
    /// low, and this takes out as much as it puts in. An end that was not seen has no reading that
    /// could be off; it is drawn where it may stand.
    pub fn draw(&self, drawn: &Drawn, room: &mut Room) -> (f64, f64) {
        let (values, normals) = (&mut room.nodes[..self.nodes()], &room.normals);
        let edge = drawn.edge_mm - drawn.land_step_mm;
        let turned = drawn.turned();
        for (node, value) in values.iter_mut().enumerate() {
            let errors = self.errors[node].iter();
            let error: f64 = errors.map(|(at, weight)| weight * room.errors[*at]).sum();
            *value =
                self.drops[node] + edge + self.slopes[node] * turned - drawn.carried_mm - error;
        }
        for (source, changes) in &self.by_source {
            let size = room.sources[*source];
            for (value, change) in values.iter_mut().zip(changes) {
                *value += size * change;
            }
        }
        let smooth = self.nodes() - self.own.len();
        self.scatter.add(normals, &mut values[..smooth]);
        for ((value, own), normal) in values[smooth..]
            .iter_mut()
            .zip(&self.own)
            .zip(&normals[smooth..])
        {
            *value += own * normal;
        }
        let (least, greatest) = self.extremes(values);
        let true_seen = (2.0 * self.seen.0 - least, 2.0 * self.seen.1 - greatest);
        let true_end = |end: usize| 2.0 * self.drops[end] - values[end];
        let (least, greatest) = self.with_unseen(true_seen, true_end);
        (
            least + self.standing_slope * turned - self.least,
            greatest - self.greatest,
        )
    }

    /// Least clearance and greatest drop among these drops of what was seen.
    fn extremes(&self, drops: &[f64]) -> (f64, f64) {
        let mut least = f64::INFINITY;
        let mut greatest = f64::NEG_INFINITY;
        let each = drops.iter().zip(&self.standing).zip(&self.peaks);
        for (node, ((drop, standing), peak)) in each.enumerate() {
            if self.unseen == Some(node) {
                continue;
            }
            least = least.min(drop - standing);
            if !peak {
                greatest = greatest.max(*drop);
            }
        }
        (least, greatest)
    }

    /// The same with an end that was not seen.
    fn with_unseen(&self, seen: (f64, f64), drop: impl Fn(usize) -> f64) -> (f64, f64) {
        let Some(end) = self.unseen else {
            return seen;
        };
        let drop = drop(end);
        (seen.0.min(drop - self.standing[end]), seen.1.max(drop))
    }
}

/// The scatter of the smooth at nodes: those whose windows share places go along.
fn scatter(measured: &Measured, nodes: &[Extreme]) -> Band {
    let brought: Vec<(usize, Vec<f64>)> = nodes
        .iter()
        .map(|node| measured.brought(node.arc).unwrap_or_default())
        .collect();
    let end = |at: usize| brought[at].0 + brought[at].1.len();
    let reach = (0..brought.len())
        .map(|at| {
            let after = brought[at..].iter().take_while(|other| other.0 < end(at));
            after.count().saturating_sub(1)
        })
        .max();
    Band::of(brought.len(), reach.unwrap_or(0), |i, j| {
        let ((i_first, i_brought), (j_first, j_brought)) = (&brought[i], &brought[j]);
        let from = *i_first.max(j_first);
        let i_shared = i_brought.iter().skip(from - i_first);
        let j_shared = j_brought.iter().skip(from - j_first);
        i_shared.zip(j_shared).map(|(a, b)| a * b).sum()
    })
}
