//! The nodes of a land that can be its least clearance or its greatest drop in a trial.
//!
//! Drawing a node costs normal numbers, errors of the indicator and their products. Most nodes lie so
//! far from either extreme that no draw brings them there: what a trial may move a node by against the
//! extreme as measured is bounded, strictly where the distribution is, and by [`FAR`] standard
//! uncertainties where it is normal. A node beyond that bound is never drawn, which changes no figure.

use super::super::Spread;
use super::super::figures::{beyond_steps, standing as standing_per_radian};
use super::super::least::{Extreme, Measured, Reading};
use super::super::reader::Reader;
use super::error_path::by_place;
use crate::quantity::Length;

/// A normal number farther from zero than this many standard deviations comes once in 4e11 draws.
const FAR: f64 = 7.0;

/// Some nodes of a land, with what is known of each.
pub(super) struct Nodes {
    /// Those read from the smooth first.
    pub nodes: Vec<Extreme>,
    /// Drop at each, in mm.
    pub drops: Vec<f64>,
    /// How far the work stands up at each, in mm; infinitely low where no clearance is judged.
    pub standing: Vec<f64>,
    /// Change of each node's drop with each source, by one standard uncertainty, in mm.
    pub by_source: Vec<Vec<f64>>,
    /// Fall of the land at each node, in mm per radian.
    pub slopes: Vec<f64>,
}

impl Nodes {
    /// Those of a plan that may be an extreme in a trial; `None` where no node can be drawn. `moved`
    /// has the drops at all nodes under each source, `limit` is the indicator's limit of error.
    pub fn of(
        reader: &Reader,
        drops: &[f64],
        moved: &[(&[f64], Spread)],
        limit: Length,
    ) -> Option<Self> {
        let plan = reader.plan;
        if plan.nodes.is_empty() || drops.iter().any(|drop| !drop.is_finite()) {
            return None;
        }
        let stands = standing_per_radian(reader.part.feature).mm();
        let judged = |node: &Extreme| node.arc >= plan.check && node.arc <= plan.end;
        let standing = |node: &Extreme| match judged(node) {
            true => stands * node.arc.rad(),
            false => f64::NEG_INFINITY,
        };
        let by_source = moved.iter().map(|(moved, _)| {
            let change = moved.iter().zip(drops).map(|(moved, drop)| moved - drop);
            // A place that another clamping does not show is taken not to move.
            change
                .map(|mm| if mm.is_finite() { mm } else { 0.0 })
                .collect()
        });
        let all = Self {
            standing: plan.nodes.iter().map(standing).collect(),
            by_source: by_source.collect(),
            slopes: plan
                .nodes
                .iter()
                .map(|node| reader.slope_at(node.arc).mm())
                .collect(),
            nodes: plan.nodes.clone(),
            drops: drops.to_vec(),
        };
        let spreads: Vec<Spread> = moved.iter().map(|(_, spread)| *spread).collect();
        let kept = all.in_reach(reader, &spreads, limit.mm());
        Some(all.only(&kept))
    }

    /// Which nodes a trial can make an extreme.
    fn in_reach(&self, reader: &Reader, spreads: &[Spread], limit_mm: f64) -> Vec<usize> {
        let clearance = |at: usize| self.drops[at] - self.standing[at];
        let deepest = |at: usize| match self.is_peak(at) {
            true => f64::NEG_INFINITY,
            false => self.drops[at],
        };
        let all = 0..self.nodes.len();
        let (Some(least), Some(greatest)) = (
            all.clone()
                .min_by(|a, b| clearance(*a).total_cmp(&clearance(*b))),
            all.clone()
                .max_by(|a, b| deepest(*a).total_cmp(&deepest(*b))),
        ) else {
            return Vec::new();
        };
        let radius = reader.part.feature.diameter / 2.0;
        let measured = Measured::new(&reader.tooth.land, radius, reader.tooth.end);
        let own: Vec<Own> = self
            .nodes
            .iter()
            .zip(1..)
            .map(|(node, number)| Own::of(reader, &measured, node, number))
            .collect();
        let turned = turned(reader, limit_mm);
        let moved_apart = |at: usize, other: usize| {
            let slope = (self.slopes[at] - self.slopes[other]).abs();
            let scatter = apart(&own[at].scatter, &own[other].scatter, f64::hypot);
            let errors = apart(&own[at].errors, &own[other].errors, |sum, one| {
                sum + one.abs()
            });
            let mut variance = scatter.powi(2) + (slope * turned.normal).powi(2);
            let mut bounded = limit_mm * errors + slope * turned.bounded;
            for (change, spread) in self.by_source.iter().zip(spreads) {
                let change = (change[at] - change[other]).abs();
                match spread {
                    Spread::Normal | Spread::Disc | Spread::Path => variance += change.powi(2),
                    Spread::Rectangular | Spread::Upwards | Spread::Odds => {
                        bounded += 3f64.sqrt() * change
                    }
                    Spread::Offset => (),
                }
            }
            FAR * variance.sqrt() + bounded
        };
        let unread = reader.tooth.heel_corner.is_empty();
        let kept = all.filter(|&at| {
            (unread && self.nodes[at].kind == Reading::Heel)
                || clearance(at) - clearance(least) <= moved_apart(at, least)
                || deepest(greatest) - deepest(at) <= moved_apart(at, greatest)
        });
        kept.collect()
    }

    fn is_peak(&self, at: usize) -> bool {
        matches!(self.nodes[at].kind, Reading::Narrow(_))
    }

    fn only(&self, kept: &[usize]) -> Self {
        let of = |values: &[f64]| kept.iter().map(|&at| values[at]).collect();
        Self {
            nodes: kept.iter().map(|&at| self.nodes[at]).collect(),
            drops: of(&self.drops),
            standing: of(&self.standing),
            by_source: self.by_source.iter().map(|source| of(source)).collect(),
            slopes: of(&self.slopes),
        }
    }
}

/// What moves one node by itself: each is a list of independent things by growing number, with what
/// the node's drop changes by.
struct Own {
    /// By one standard deviation of the scatter of each place of the land, in mm.
    scatter: Vec<(i64, f64)>,
    /// With each error of the indicator along its travel, in mm per mm.
    errors: Vec<(i64, f64)>,
}

impl Own {
    fn of(reader: &Reader, measured: &Measured, node: &Extreme, number: i64) -> Self {
        let scatter = match node.kind {
            Reading::Smooth => {
                let (first, brought) = measured.brought(node.arc).unwrap_or_default();
                let numbered = brought.into_iter().zip(first as i64..);
                numbered.map(|(mm, number)| (number, mm)).collect()
            }
            // No place of the land is numbered below 0.
            _ => vec![(-number, node.drop.standard_uncertainty.mm())],
        };
        Self {
            scatter,
            errors: by_place(reader.land_readings(node)),
        }
    }
}

/// What two lists leave of each other, put together.
fn apart(one: &[(i64, f64)], other: &[(i64, f64)], together: impl Fn(f64, f64) -> f64) -> f64 {
    let (mut one, mut other) = (one.iter().peekable(), other.iter().peekable());
    let mut sum = 0.0;
    loop {
        let left = match (one.peek(), other.peek()) {
            (Some(a), Some(b)) if a.0 == b.0 => {
                let left = a.1 - b.1;
                one.next();
                other.next();
                left
            }
            (Some(a), b) if b.is_none_or(|b| a.0 < b.0) => {
                let left = a.1;
                one.next();
                left
            }
            (_, Some(b)) => {
                let left = b.1;
                other.next();
                left
            }
            (_, None) => return sum,
        };
        sum = together(sum, left);
    }
}

/// By how much something may be moved in a trial.
struct Moved {
    /// Standard deviation of what is normal of it.
    normal: f64,
    /// The greatest of the rest.
    bounded: f64,
}

/// By how much an edge may be found off its arc, in radians.
fn turned(reader: &Reader, limit_mm: f64) -> Moved {
    let by_errors: f64 = reader.edge_readings().map(|it| it.angle.abs()).sum();
    Moved {
        normal: beyond_steps(reader.tooth).rad(),
        bounded: 3f64.sqrt() * reader.tooth.edge.steps.rad() + limit_mm * by_errors,
    }
}
