//! How far two clocks stand apart: whole seconds, before their channels are joined.
//!
//! A card may state a delay of up to ten seconds, and clocks that were started one after the other
//! are as far apart. Joined as they stand, readings would get angles of another place of the turn,
//! and those at both ends none at all. So the delay is first looked for coarsely, on few readings and
//! wide cells, and taken out of the times; the merge then finds what is left of it.

use super::scatter::{Cells, Moment};
use crate::numeric::robust;
use crate::quantity::Time;
use crate::sample::{Height, Mark, Position};
use rayon::prelude::*;
use std::f64::consts::TAU;

/// As far apart as a card may say.
const FARTHEST_S: f64 = 10.0;
/// What the merge finds by itself is left to it: as far from none as this, later and earlier
/// (chosen, no source).
const LEFT_TO_MERGE_S: std::ops::Range<f64> = -0.2..0.5;

/// So many readings and positions are enough to see where the valley is.
const READINGS: usize = 1_000;
const POSITIONS: usize = 4_000;
/// Cells of 3°: in each of them the surface is taken to be a straight line (chosen, no source).
const CELLS: usize = 120;
/// Two visits of a cell may be this part of it off each other when a delay is tried (chosen, no
/// source).
const OFF: f64 = 0.5;
/// The finest step: finer than this the merge looks (chosen, no source).
const FINEST_S: f64 = 0.02;

/// Below this no surface is looked at: neighbouring teeth differ by more (chosen, no source).
const FLOOR_MM: f64 = 0.002;
/// A valley is one when it lies this much below most delays, in the logarithm of the variance
/// (chosen, no source) ...
const CLEAR_VALLEY: f64 = 0.8;
/// ... and its rivals this much above it: equal teeth make a valley for each of them (chosen, no
/// source).
const RIVAL: f64 = 0.4;
/// So many of the deepest are looked at closely (chosen, no source) ...
const LOOKED_AT: usize = 3;
/// ... no two of them nearer than this (chosen, no source).
const BESIDE_S: f64 = 0.4;
/// A delay is looked at where this part of all readings find an angle and another visit (chosen, no
/// source).
const COMPARED: f64 = 0.4;

/// How far apart the clocks stand, positive where the readings' is later.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Apart {
    /// To some hundredths of a second; nothing where the merge can find it.
    pub found: Time,
    /// Whether it showed as a clear valley.
    pub clear: bool,
}

/// Looks for the delay at which one place reads the same whenever it passes. What another trace of the
/// same clocks has `shown` counts unless this one shows clearly otherwise: a round that runs true
/// shows no delay at all, and the play of an indicator looks like one.
pub fn apart(positions: &[Position], heights: &[Height], shown: Option<Time>) -> Apart {
    let none = Apart {
        found: shown.unwrap_or(Time::ZERO),
        clear: false,
    };
    Search::of(positions, heights)
        .and_then(|search| search.valley(shown.map(Time::s)))
        .unwrap_or(none)
}

struct Search {
    path: Vec<(f64, f64)>,
    moments: Vec<Moment>,
    step_s: f64,
}

impl Search {
    fn of(positions: &[Position], heights: &[Height]) -> Option<Self> {
        let stride = 1 + positions.len() / POSITIONS;
        let usable = positions
            .iter()
            .filter(|position| !position.marks.has(Mark::Unusable) && position.time.is_finite());
        let mut path: Vec<(f64, f64)> = Vec::new();
        for position in usable.step_by(stride) {
            let (time, angle) = (position.time.s(), position.angle.rad());
            // A wrapped angle goes on by the shortest way: nobody turns half a turn between two.
            let angle = path.last().map_or(angle, |(_, before)| {
                before + (angle - before + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0
            });
            if path.last().is_none_or(|(before, _)| time > *before) {
                path.push((time, angle));
            }
        }
        let stride = 1 + heights.len() / READINGS;
        let usable = heights
            .iter()
            .filter(|height| height.marks.usable() && height.time.is_finite());
        let mut moments: Vec<Moment> = Vec::new();
        for height in usable.step_by(stride) {
            let time = height.time.s();
            if moments.last().is_none_or(|before| time > before.time) {
                moments.push(Moment {
                    time,
                    angle: 0.0,
                    reading: height.reading.mm(),
                    // What a play adds is far below what a wrong delay does.
                    way: 1.0,
                });
            }
        }
        let speeds = path
            .windows(2)
            .map(|pair| ((pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0)).abs());
        let mut moving: Vec<f64> = speeds.filter(|speed| *speed > 1e-3).collect();
        let speed = robust::median(&mut moving)?;
        let cell = TAU / CELLS as f64;
        Some(Self {
            step_s: (OFF * cell / speed).clamp(FINEST_S, 0.2),
            path,
            moments,
        })
    }

    /// Mean logarithm of the variance at a delay; nothing where too little is compared.
    fn level(&self, delay: f64) -> Option<f64> {
        let cells = Cells::at_delay(&self.moments, &self.path, CELLS, delay);
        let scatter = cells.scatter(FLOOR_MM);
        let (sum, count) = scatter.iter().fold((0.0, 0.0), |(sum, count), part| {
            (sum + part.0, count + part.1)
        });
        (count >= COMPARED * self.moments.len() as f64).then(|| sum / count)
    }

    fn valley(&self, shown: Option<f64>) -> Option<Apart> {
        let reach = (FARTHEST_S / self.step_s).ceil() as i32;
        let tried: Vec<(f64, f64)> = (-reach..=reach)
            .into_par_iter()
            .filter_map(|step| {
                let delay = f64::from(step) * self.step_s;
                Some((delay, self.level(delay)?))
            })
            .collect();
        let mut levels: Vec<f64> = tried.iter().map(|(_, level)| *level).collect();
        let usual = robust::median(&mut levels)?;
        let mut valleys: Vec<(f64, f64)> = tried
            .windows(3)
            .filter(|three| three[1].1 <= three[0].1 && three[1].1 <= three[2].1)
            .map(|three| three[1])
            .collect();
        valleys.sort_by(|a, b| a.1.total_cmp(&b.1));
        // What lies beside a deeper one is the same valley, roughly read.
        let beside = (4.0 * self.step_s).max(BESIDE_S);
        let mut deepest: Vec<(f64, f64)> = Vec::new();
        for valley in valleys {
            let far = |other: &(f64, f64)| (other.0 - valley.0).abs() > beside;
            if deepest.len() < LOOKED_AT && deepest.iter().all(far) {
                deepest.push(valley);
            }
        }
        // Each was looked at up to half a step off its floor.
        let floors = deepest.into_iter().map(|(middle, level)| {
            let beside = [-0.5, -0.25, 0.25, 0.5].map(|part| middle + part * self.step_s);
            let beside = beside
                .into_iter()
                .filter_map(|at| Some((at, self.level(at)?)));
            beside.fold(
                (middle, level),
                |best, one| if one.1 < best.1 { one } else { best },
            )
        });
        let mut floors: Vec<(f64, f64)> = floors.collect();
        floors.sort_by(|a, b| a.1.total_cmp(&b.1));
        let (found, lowest) = *floors.first()?;
        let rival = floors.get(1).is_some_and(|rival| rival.1 - lowest < RIVAL);
        if usual - lowest < CLEAR_VALLEY || rival {
            return None;
        }
        let otherwise = |shown: f64| {
            let there = self.level(shown)?;
            (there - lowest < CLEAR_VALLEY).then_some(shown)
        };
        let found = shown.and_then(otherwise).unwrap_or(found);
        let left = LEFT_TO_MERGE_S.contains(&found);
        Some(Apart {
            found: Time::from_s(if left { 0.0 } else { found }),
            clear: true,
        })
    }
}
