//! Takes out what a mean over a bent surface is off it.

use super::Cell;
use crate::quantity::{Angle, Length};

/// Cells further apart than this many widths say nothing of the bend between them (chosen, no source).
const NEIGHBOURS: f64 = 2.5;

/// The cells with each reading moved from the chord that its mean lies on to the surface itself.
///
/// Readings at several angles of a cell have their mean under a surface that bows out, by half the
/// bend times the mean square of their angles about their mean: a third of a micrometre where a
/// ball of 1 mm rolls over an edge and cells are 0.1 mm wide. The bend is that of the cells around,
/// and counts as far as theirs and its own agree: a step or a kink has none.
pub(super) fn onto_the_surface(cells: &[(Cell, f64)], width: f64) -> Vec<Cell> {
    let bends: Vec<f64> = (0..cells.len()).map(|at| bend(cells, at, width)).collect();
    let count = cells.len();
    let each = cells.iter().enumerate();
    each.map(|(at, (cell, spread))| {
        let around = [0, 1, 2, 3, 4].map(|k| bends[(at + count + k - 2) % count]);
        let off = borne_out(around) * spread / 2.0;
        Cell {
            reading: cell.reading - Length::from_mm(off),
            ..*cell
        }
    })
    .collect()
}

/// Second derivative of the reading at a cell, in mm per square radian; 0 where a neighbour is
/// missing.
fn bend(cells: &[(Cell, f64)], at: usize, width: f64) -> f64 {
    let count = cells.len();
    let (before, here, behind) = (
        cells[(at + count - 1) % count].0,
        cells[at].0,
        cells[(at + 1) % count].0,
    );
    let step = |from: Cell, to: Cell| {
        let arc = (to.angle - from.angle).in_turn();
        let near = arc > Angle::ZERO && arc.rad() < NEIGHBOURS * width;
        near.then(|| (arc.rad(), (to.reading - from.reading).mm()))
    };
    match (step(before, here), step(here, behind)) {
        (Some((arc0, rise0)), Some((arc1, rise1))) => {
            2.0 * (rise1 / arc1 - rise0 / arc0) / (arc0 + arc1)
        }
        _ => 0.0,
    }
}

/// The middle one of five neighbouring bends as far as their median bears it out; 0 where that bends
/// the other way.
fn borne_out(bends: [f64; 5]) -> f64 {
    let [_, _, own, _, _] = bends;
    let mut sorted = bends;
    sorted.sort_unstable_by(f64::total_cmp);
    let [_, _, median, _, _] = sorted;
    if own * median > 0.0 {
        own.abs().min(median.abs()).copysign(own)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AngularSpeed, Time};

    const WIDTH: f64 = 0.01;

    /// Cells over a part of a turn, each the mean of two readings a part of a width apart.
    fn cells(surface: impl Fn(f64) -> f64) -> Vec<(Cell, f64)> {
        let half = WIDTH / 4.0;
        let cell = |at: u32| {
            let angle = 1.0 + f64::from(at) * WIDTH;
            let mean = (surface(angle - half) + surface(angle + half)) / 2.0;
            let cell = Cell {
                angle: Angle::from_rad(angle),
                reading: Length::from_mm(mean),
                standard_error: Length::ZERO,
                speed: AngularSpeed::from_rad_per_s(1.0),
                time: Time::ZERO,
                samples: 2,
                passes: 1,
            };
            (cell, half * half)
        };
        (0..40).map(cell).collect()
    }

    #[test]
    fn a_mean_over_a_rolling_ball_comes_back_onto_its_path() {
        let path = |angle: f64| (1.0 - ((angle - 1.2) * 4.0).powi(2)).sqrt();
        for cell in &onto_the_surface(&cells(path), WIDTH)[3..37] {
            let off = cell.reading.mm() - path(cell.angle.rad());
            assert!(off.abs() < 3e-6, "{off}");
        }
    }

    /// The farthest that a cell was moved.
    fn moved_most(surface: &dyn Fn(f64) -> f64) -> Length {
        let read = cells(surface);
        let moved = onto_the_surface(&read, WIDTH);
        let each = moved[3..37].iter().zip(&read[3..37]);
        let sizes = each.map(|(moved, (read, _))| (moved.reading - read.reading).abs());
        sizes.fold(Length::ZERO, Length::max)
    }

    #[test]
    fn a_step_stays_as_it_was_read() {
        let step = |angle: f64| if angle < 1.2 { 0.0 } else { -3.0 };
        assert!(moved_most(&step) < Length::from_mm(1e-12));
    }

    #[test]
    fn a_kink_moves_by_less_than_a_mean_over_it_is_off() {
        let kink = |angle: f64| -(angle - 1.2).abs();
        assert!(moved_most(&kink) < Length::from_mm(WIDTH / 4.0 / 20.0));
    }
}
