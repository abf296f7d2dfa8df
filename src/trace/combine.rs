//! Many looks at one place made one height, with how well it repeats.

use super::grid::{ByCell, Grid, Look};
use super::{Cell, Turning, bent};
use crate::numeric::robust;
use crate::quantity::{Angle, AngularSpeed, Estimate, Length, Time};

/// A scatter seen at one place alone is trusted as if this many more looks had shown the pooled one
/// (chosen, no source).
const PRIOR_LOOKS: f64 = 4.0;

/// Looks further off than this many standard deviations weigh less (Huber's proposal; 1.5 keeps
/// 96 % of the efficiency of the mean on normal data).
const HUBER: f64 = 1.5;

/// Places that must have been read both ways before a hysteresis is stated (chosen, no source).
const PLACES_BOTH_WAYS: usize = 8;

/// Neighbouring places err alike, so only one in this many counts as evidence of its own (chosen,
/// no source).
const ALIKE: f64 = 4.0;

/// The slopes at the cells of one grid, carried to those of another.
pub(super) fn carried(slopes: &[f64], grid: &Grid, to: &Grid) -> Vec<f64> {
    let count = slopes.len();
    let slope = |cell: usize| {
        let (_, at, from_middle) = grid.place(to.middle(cell));
        let (beside, part) = if from_middle < 0.0 {
            ((at + count - 1) % count, -from_middle / grid.width)
        } else {
            ((at + 1) % count, from_middle / grid.width)
        };
        slopes[at] + part * (slopes[beside] - slopes[at])
    };
    (0..to.cells).map(slope).collect()
}

/// Slope of the surface at each cell, in mm per radian, from the cells beside it.
pub(super) fn slopes(grid: &Grid, looks: &[Look], by_cell: &ByCell) -> Vec<f64> {
    let mut sorted = Vec::new();
    let levels: Vec<Option<(f64, f64)>> = (0..grid.cells)
        .map(|cell| {
            sorted.clear();
            sorted.extend_from_slice(by_cell.at(cell));
            let reading = |at: &u32| looks[*at as usize].reading;
            let middle = sorted.len() / 2;
            if sorted.is_empty() {
                return None;
            }
            sorted.select_nth_unstable_by(middle, |a, b| reading(a).total_cmp(&reading(b)));
            let look = &looks[sorted[middle] as usize];
            Some((look.angle, look.reading))
        })
        .collect();
    let cells = grid.cells as i64;
    // The nearest place that was read, up to two cells away, in steps of `way`.
    let beside = |cell: i64, way: i64| {
        (1..=2_i64).find_map(|steps| {
            let level = levels[(cell + way * steps).rem_euclid(cells) as usize];
            level.map(|(angle, reading)| ((way * steps) as f64 * grid.width + angle, reading))
        })
    };
    (0..cells)
        .map(|cell| {
            let points = [beside(cell, -1), levels[cell as usize], beside(cell, 1)];
            let mut known = points.into_iter().flatten();
            match (known.next(), known.last()) {
                (Some((a0, y0)), Some((a1, y1))) if a1 > a0 => (y1 - y0) / (a1 - a0),
                _ => 0.0,
            }
        })
        .collect()
}

/// Hands out every look that another of its direction was taken beside, with the slope there and how
/// far it lies off their mean, unbiased for so many.
fn off_their_mean(
    looks: &[Look],
    by_cell: &ByCell,
    slopes: &[f64],
    mut each: impl FnMut(&Look, f64, f64),
) {
    for (cell, slope) in slopes.iter().enumerate() {
        for turning in [Turning::Cutting, Turning::Backing] {
            let same = || {
                let here = by_cell.at(cell).iter().map(|at| &looks[*at as usize]);
                here.filter(move |look| look.turning == turning)
            };
            let count = same().count() as f64;
            if count < 2.0 {
                continue;
            }
            let level = |look: &Look| look.reading - slope * look.angle;
            let mean = same().map(level).sum::<f64>() / count;
            let unbiased = (count / (count - 1.0)).sqrt();
            for look in same() {
                each(look, *slope, (level(look) - mean) * unbiased);
            }
        }
    }
}

/// Robust standard deviation between looks of one direction at one place; nothing when no place
/// was looked at twice.
pub(super) fn repeatability(
    looks: &[Look],
    by_cell: &ByCell,
    slopes: &[f64],
    resolution: f64,
) -> Option<f64> {
    let mut residuals = Vec::new();
    off_their_mean(looks, by_cell, slopes, |_, _, residual| {
        residuals.push(residual);
    });
    let scale = robust::scale(&mut residuals)?;
    if scale < resolution {
        return robust::trimmed_scale(&mut residuals).map(|trimmed| trimmed.max(scale));
    }
    Some(scale)
}

/// The same without what the encoder's steps bring where the surface is steep: how much the indicator
/// itself reads otherwise. `between` is the standard deviation with them.
///
/// A look's angle is off by anything within a count, which its readings average; a residual that
/// scatters by both is brought back by the share that is the indicator's, until that share is the one
/// that comes out.
pub(super) fn repeatability_upright(
    grid: &Grid,
    looks: &[Look],
    by_cell: &ByCell,
    slopes: &[f64],
    (between, least): (f64, f64),
) -> f64 {
    const ROUNDS: usize = 6;
    let mut residuals = Vec::new();
    off_their_mean(looks, by_cell, slopes, |look, slope, residual| {
        let by_step = slope * grid.count / 12_f64.sqrt();
        let squares = by_step * by_step / f64::from(look.samples.max(1));
        residuals.push((residual, squares));
    });
    let mut upright = between;
    for _ in 0..ROUNDS {
        let own = upright * upright;
        let shares = residuals.iter().map(|(residual, squares)| {
            residual * (own / (own + squares).max(f64::MIN_POSITIVE)).sqrt()
        });
        let mut shares: Vec<f64> = shares.collect();
        let Some(scale) = robust::scale(&mut shares) else {
            break;
        };
        upright = scale.clamp(least.min(between), between);
    }
    upright
}

/// What one direction says about one place.
#[derive(Clone, Copy, Debug)]
struct Side {
    angle: f64,
    reading: f64,
    speed: f64,
    time: f64,
    /// Mean square of the angles of its readings about their mean.
    spread: f64,
    /// Of the mean reading.
    variance: f64,
    samples: u32,
    looks: u32,
}

/// What each direction says about each place of the turn.
pub(super) struct Sides(Vec<(Option<Side>, Option<Side>)>);

impl Sides {
    /// Combines the looks at each cell. `sigma` is what one look is good for at least.
    pub fn of(
        grid: &Grid,
        looks: &[Look],
        by_cell: &ByCell,
        slopes: &[f64],
        odd: &[bool],
        sigma: f64,
    ) -> Self {
        let mut here = Vec::new();
        let mut sides = Vec::with_capacity(grid.cells);
        for (cell, slope) in slopes.iter().enumerate() {
            let side = |turning, here: &mut Vec<Look>| {
                here.clear();
                let all = by_cell.at(cell).iter().map(|at| *at as usize);
                let counted = all.filter(|at| !odd[*at] && looks[*at].turning == turning);
                here.extend(counted.map(|at| looks[at]));
                one_side(here, *slope, sigma, grid.count)
            };
            let cutting = side(Turning::Cutting, &mut here);
            let backing = side(Turning::Backing, &mut here);
            sides.push((cutting, backing));
        }
        Self(sides)
    }

    /// Every place of the turn, read both ways or brought to the mean of both.
    /// Neighbours closer than this part of a cell are made one: between them only noise would climb.
    pub fn cells(
        &self,
        grid: &Grid,
        hysteresis: Option<Estimate<Length>>,
        closest: f64,
    ) -> Vec<Cell> {
        let (lag, lag_u) = hysteresis.map_or((0.0, 0.0), |h: Estimate<Length>| {
            (h.value.mm(), h.standard_uncertainty.mm())
        });
        let mut cells: Vec<(Cell, f64)> = (0..grid.cells)
            .filter_map(|cell| {
                let side = match self.0[cell] {
                    (Some(a), Some(b)) => both(a, b),
                    // Read one way only: half the hysteresis away from the mean of both.
                    (Some(a), None) => moved(a, -lag / 2.0, lag_u / 2.0),
                    (None, Some(b)) => moved(b, lag / 2.0, lag_u / 2.0),
                    (None, None) => return None,
                };
                let merged = Cell {
                    angle: Angle::from_rad(grid.middle(cell) + side.angle).in_turn(),
                    reading: Length::from_mm(side.reading),
                    standard_error: Length::from_mm(side.variance.sqrt()),
                    speed: AngularSpeed::from_rad_per_s(side.speed),
                    time: Time::from_s(side.time),
                    samples: side.samples,
                    passes: side.looks,
                };
                Some((merged, side.spread))
            })
            .collect();
        // The first cell reaches a little below 0, so its mean may lie at the end of the turn.
        cells.sort_by(|a, b| a.0.angle.total_cmp(&b.0.angle));
        let near = Angle::from_rad(closest * grid.width);
        cells.dedup_by(|next, kept| {
            let one = next.0.angle - kept.0.angle < near;
            if one {
                *kept = together(*kept, *next);
            }
            one
        });
        bent::onto_the_surface(&cells, grid.width)
    }

    /// What the cutting way reads more than the backing way, over all places read both ways.
    pub fn hysteresis(&self, slopes: &[f64]) -> Option<Estimate<Length>> {
        let mut more: Vec<f64> = self
            .0
            .iter()
            .zip(slopes)
            .filter_map(|((cutting, backing), slope)| {
                let (a, b) = ((*cutting)?, (*backing)?);
                Some(a.reading - b.reading - slope * (a.angle - b.angle))
            })
            .collect();
        if more.len() < PLACES_BOTH_WAYS {
            return None;
        }
        let independent = (more.len() as f64 / ALIKE).max(1.0);
        let middle = robust::median(&mut more)?;
        let mut sizes: Vec<f64> = more.iter().map(|value| value - middle).collect();
        let scatter = robust::scale(&mut sizes)?;
        // A median scatters by sqrt(pi / 2) more than a mean.
        let uncertainty = scatter * (std::f64::consts::FRAC_PI_2 / independent).sqrt();
        Some(Estimate::new(
            Length::from_mm(middle),
            Length::from_mm(uncertainty),
        ))
    }
}

/// A robust mean of looks in one direction. Angle and reading get the same weights, so that a slope
/// makes no bias.
fn one_side(looks: &[Look], slope: f64, sigma: f64, count_width: f64) -> Option<Side> {
    let level = |look: &Look| look.reading - slope * look.angle;
    let mut levels: Vec<f64> = looks.iter().map(level).collect();
    let mut centre = robust::median(&mut levels)?;
    let count = looks.len() as f64;
    let mut sizes: Vec<f64> = looks.iter().map(|look| level(look) - centre).collect();
    let local = robust::scale(&mut sizes)?.max(sigma).max(f64::MIN_POSITIVE);
    let weight =
        |look: &Look, centre: f64| robust::huber_weight((level(look) - centre) / local, HUBER);
    let mean = |of: &dyn Fn(&Look) -> f64, centre: f64| {
        let total: f64 = looks.iter().map(|look| weight(look, centre)).sum();
        looks
            .iter()
            .map(|look| weight(look, centre) * of(look))
            .sum::<f64>()
            / total
    };
    for _ in 0..5 {
        centre = mean(&level, centre);
    }
    let squares: f64 = looks
        .iter()
        .map(|look| weight(look, centre) * (level(look) - centre).powi(2))
        .sum();
    let variance = (PRIOR_LOOKS * sigma * sigma + squares) / (PRIOR_LOOKS + count - 1.0);
    let angle = mean(&|look| look.angle, centre);
    let spread = mean(
        &|look| (look.angle - angle).powi(2) + look.squares / f64::from(look.samples.max(1)),
        centre,
    );
    Some(Side {
        angle,
        // Where within its count a reading was taken the encoder does not say.
        spread: spread + count_width * count_width / 12.0,
        reading: mean(&|look| look.reading, centre),
        speed: mean(&|look| look.speed, centre),
        time: mean(&|look| look.time, centre),
        variance: variance.max(sigma * sigma) / count,
        samples: looks.iter().map(|look| look.while_turning.max(1)).sum(),
        looks: looks.len() as u32,
    })
}

/// Two neighbouring places as one, each with the weight of its visits.
fn together(one: (Cell, f64), other: (Cell, f64)) -> (Cell, f64) {
    let ((a, a_spread), (b, b_spread)) = (one, other);
    let share = f64::from(b.passes) / f64::from((a.passes + b.passes).max(1));
    let apart = (b.angle - a.angle).rad();
    let own = (1.0 - share) * a.standard_error.mm();
    let cell = Cell {
        angle: a.angle + (b.angle - a.angle) * share,
        reading: a.reading + (b.reading - a.reading) * share,
        standard_error: Length::from_mm(own.hypot(share * b.standard_error.mm())),
        speed: a.speed + (b.speed - a.speed) * share,
        time: a.time + (b.time - a.time) * share,
        samples: a.samples + b.samples,
        passes: a.passes + b.passes,
    };
    let spread = a_spread + (b_spread - a_spread) * share + share * (1.0 - share) * apart * apart;
    (cell, spread)
}

fn both(a: Side, b: Side) -> Side {
    Side {
        angle: (a.angle + b.angle) / 2.0,
        spread: (a.spread + b.spread) / 2.0 + ((a.angle - b.angle) / 2.0).powi(2),
        reading: (a.reading + b.reading) / 2.0,
        speed: (a.speed + b.speed) / 2.0,
        time: (a.time + b.time) / 2.0,
        variance: (a.variance + b.variance) / 4.0,
        samples: a.samples + b.samples,
        looks: a.looks + b.looks,
    }
}

fn moved(side: Side, by: f64, uncertainty: f64) -> Side {
    Side {
        reading: side.reading + by,
        variance: side.variance + uncertainty * uncertainty,
        ..side
    }
}
