//! Arcs in which the readings stand still at the trace's highest or lowest: as on a round, or as with
//! the plunger at an end of its travel.

use super::{Cell, Merged};
use crate::quantity::{Angle, Length};

/// Fewer places than this do not stand still, they turn round (chosen, no source).
const FEWEST: usize = 5;
/// So many places beside an arc show which way the surface comes to it (chosen, no source).
const BESIDE: usize = 4;
/// Places stand on one level within so many of their standard errors (chosen, no source).
const ALIKE: f64 = 3.0;
/// Beside the arc a surface is straight where its steps differ by no more than this part of
/// them; one that levels off comes with steps that shrink by a third and more (chosen, no source).
const STRAIGHT: f64 = 0.2;
/// A break of slope is clear where the surface changes by so many scatters from place to place
/// (chosen, no source).
const CLEAR: f64 = 6.0;

/// An arc in which the readings stand still at an extreme.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Whether they stand at the highest reading and not at the lowest.
    pub highest: bool,
    /// The reading that they stand at.
    pub level: Length,
    /// Where the arc begins.
    pub from: Angle,
    /// How far it goes, growing.
    pub width: Angle,
    /// The surface's slope before the arc where it breaks off there, in lengths per radian.
    pub breaks_before: Option<Length>,
    /// The same behind it.
    pub breaks_behind: Option<Length>,
    /// Index of its first cell, and how many they are.
    pub cells: (usize, usize),
}

/// Arcs that stand still at the highest or the lowest reading of a trace. `resolution` is the
/// indicator's step.
pub fn standing(merged: &Merged, resolution: Length) -> Vec<Standing> {
    [true, false]
        .into_iter()
        .flat_map(|highest| at_extreme(merged, resolution.mm(), highest))
        .collect()
}

fn at_extreme(merged: &Merged, resolution: f64, highest: bool) -> Vec<Standing> {
    let cells = &merged.cells;
    let count = cells.len();
    let side = if highest { 1.0 } else { -1.0 };
    let height = |at: usize| side * cells[at % count].reading.mm();
    let Some(top) = (0..count).map(height).reduce(f64::max) else {
        return Vec::new();
    };
    let scatter = merged.noise.mm().max(resolution / 12f64.sqrt()).max(1e-6);
    let near = |cell: &Cell| ALIKE * cell.standard_error.mm().max(scatter / 4.0) + resolution * 0.6;
    let stands = |at: usize| top - height(at) <= near(&cells[at % count]);
    let starts = (0..count).filter(|&at| stands(at) && !stands(at + count - 1));
    let starts: Vec<usize> = starts.collect();
    let arc = |first: usize| {
        let length = (0..count).take_while(|by| stands(first + by)).count();
        if length < FEWEST || length + 2 * BESIDE > count {
            return None;
        }
        let breaks = |at: &dyn Fn(usize) -> usize, way: f64| {
            let places: Vec<usize> = (1..=BESIDE).map(at).collect();
            slope(cells, &places, scatter, side).map(|slope| Length::from_mm(slope * way))
        };
        let last = first + length - 1;
        let mean = (0..length).map(|by| height(first + by)).sum::<f64>() / length as f64;
        Some(Standing {
            highest,
            level: Length::from_mm(side * mean),
            from: cells[first].angle,
            width: (cells[last % count].angle - cells[first].angle).in_turn(),
            breaks_before: breaks(&|by| (first + count - by) % count, -1.0),
            breaks_behind: breaks(&|by| (last + by) % count, 1.0),
            cells: (first, length),
        })
    };
    starts.into_iter().filter_map(arc).collect()
}

/// The slope away from an arc over the places beside it, where it is clear and straight from the
/// first of them on.
fn slope(cells: &[Cell], places: &[usize], scatter: f64, side: f64) -> Option<f64> {
    let reading = |at: usize| cells[at].reading.mm();
    let steps: Vec<(f64, f64)> = places
        .windows(2)
        .map(|pair| {
            let arc = (cells[pair[1]].angle - cells[pair[0]].angle)
                .shortest()
                .rad();
            (arc.abs(), reading(pair[1]) - reading(pair[0]))
        })
        .collect();
    let along: f64 = steps.iter().map(|step| step.0).sum();
    let fall: f64 = steps.iter().map(|step| step.1).sum();
    if along <= 0.0 {
        return None;
    }
    let slope = fall / along;
    let mean = along / steps.len() as f64;
    let clear = -side * slope * mean > CLEAR * scatter;
    let straight = steps.iter().all(|(arc, step)| {
        (step / arc - slope).abs() * arc <= STRAIGHT * slope.abs() * mean + 2.0 * scatter
    });
    (clear && straight).then_some(slope)
}
