//! The turn cut into cells, and the looks that passes had at them.

use super::{Pass, Turning};
use crate::quantity::Angle;
use crate::sample::{Mark, Marks, Sample};
use std::f64::consts::TAU;

/// Widths that a grid may have when the data choose, in degrees.
const WIDTHS_DEG: [f64; 14] = [
    0.05, 0.07, 0.1, 0.14, 0.2, 0.28, 0.4, 0.56, 0.8, 1.1, 1.6, 2.2, 3.2, 5.0,
];

/// One pass by itself fills a grid in which so much of the arc is turned in steps within a cell
/// (chosen, no source) ...
const BY_ONE_PASS: f64 = 0.75;
/// ... and all passes together one where gaps within a cell make up so much: readings that fall
/// anywhere then leave a cell in five empty (chosen, no source).
const BY_ALL: f64 = 0.5;
/// A grid is worth its own where its cells are so much narrower (chosen, no source).
const HARDLY_FINER: f64 = 0.8;
/// So many readings tell the gaps between them; where there are more, fewer only make cells wider.
const READINGS_MOST: usize = 200_000;
/// A direction that fewer of all readings than this were taken in does not hold the other back
/// (chosen, no source).
const LEAST_SHARE: f64 = 0.2;

/// The turn cut into equal cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Grid {
    pub cells: usize,
    pub width: f64,
    /// Width of one count of the encoder; 0 where it has none.
    pub count: f64,
    /// How far the first cell begins before angle 0, so that no count lies on a boundary.
    lead: f64,
}

/// One visit of a pass to a cell: any number of samples are one look.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    pub cell: u32,
    pub pass: u32,
    pub samples: u32,
    /// Of those, the ones that were taken while the tool turned.
    pub while_turning: u32,
    pub turning: Turning,
    /// Mean angle from the middle of the cell.
    pub angle: f64,
    /// Sum of the squares of angles about their mean.
    pub squares: f64,
    pub reading: f64,
    pub speed: f64,
    pub time: f64,
    /// The outermost angles from the middle of the cell.
    pub reach: (f32, f32),
}

impl Grid {
    /// A grid of about `width` that holds whole counts of the encoder; the data choose when there
    /// is no width given: one pass is then to reach most cells by itself.
    pub fn new(width: Option<Angle>, counts_per_turn: u32, steps: &[f64]) -> Self {
        let count = match counts_per_turn {
            0 => 0.0,
            counts => TAU / f64::from(counts),
        };
        let width = match width {
            Some(width) => in_counts(width.rad(), count),
            None => width_for(
                steps,
                BY_ONE_PASS,
                &WIDTHS_DEG.map(|width| in_counts(width.to_radians(), count)),
            ),
        };
        Self::of(width, count)
    }

    /// A grid as fine as all passes together allow, but no finer than `finest`; nothing where that is
    /// hardly finer than this one.
    ///
    /// `gaps` are the arcs between neighbouring readings of all passes in one direction.
    pub fn finer(&self, finest: Angle, gaps: &[Vec<f64>]) -> Option<Self> {
        let widths = WIDTHS_DEG.map(|width| in_counts(width.to_radians(), self.count));
        let by_gaps = gaps.iter().map(|gaps| width_for(gaps, BY_ALL, &widths));
        let width = by_gaps.fold(in_counts(finest.rad(), self.count), f64::max);
        (width < HARDLY_FINER * self.width).then(|| Self::of(width, self.count))
    }

    fn of(width: f64, count: f64) -> Self {
        let cells = ((TAU / width).round() as usize).max(8);
        let width = TAU / cells as f64;
        let step = if count > 0.0 { count } else { width };
        let lead = step / 2.0;
        Self {
            cells,
            width,
            count,
            lead,
        }
    }

    /// Which turn and cell an angle lies in, and how far from the cell's middle.
    pub fn place(&self, angle: f64) -> (i64, usize, f64) {
        let turns = (angle + self.lead) / TAU;
        let turn = turns.floor();
        let within = (turns - turn) * TAU;
        let cell = ((within / self.width) as usize).min(self.cells - 1);
        (turn as i64, cell, within - (cell as f64 + 0.5) * self.width)
    }

    /// The angle of the middle of a cell.
    pub fn middle(&self, cell: usize) -> f64 {
        (cell as f64 + 0.5) * self.width - self.lead
    }
}

/// A width that holds whole counts of the encoder.
fn in_counts(width: f64, count: f64) -> f64 {
    if count > 0.0 {
        (width / count - 1e-9).ceil().max(1.0) * count
    } else {
        width
    }
}

/// The finest of some widths at which this share of the arc was turned in steps no longer than a cell.
fn width_for(steps: &[f64], share: f64, widths: &[f64]) -> f64 {
    let widest = widths.last().copied().unwrap_or(TAU);
    // A step longer than the widest cell is a gap, whatever the grid.
    let total: f64 = steps.iter().filter(|step| **step <= widest).sum();
    let fits = |width: &&f64| {
        let within: f64 = steps.iter().filter(|step| **step <= **width * 1.001).sum();
        within >= share * total
    };
    widths.iter().find(fits).copied().unwrap_or(widest)
}

/// Arcs between neighbouring samples of the passes.
pub(super) fn steps(samples: &[Sample], marks: &[Marks], passes: &[Pass]) -> Vec<f64> {
    // A hundred thousand steps tell the width as well as ten million.
    let stride = 1 + samples.len() / 100_000;
    let mut steps = Vec::new();
    for pass in passes {
        let usable = pass.samples.clone().filter(|at| mergeable(marks[*at]));
        let angles: Vec<f64> = usable.map(|at| samples[at].angle.rad()).collect();
        let pairs = angles.windows(2).step_by(stride);
        steps.extend(pairs.map(|pair| (pair[1] - pair[0]).abs()));
    }
    steps
}

/// Arcs between neighbouring readings of all passes, of each direction that has its share of them.
/// `each` gives the angle of a sample that counts.
pub(super) fn gaps(passes: &[Pass], each: impl Fn(usize) -> Option<f64>) -> Vec<Vec<f64>> {
    let of = |turning: Turning| {
        let ours = passes.iter().filter(|pass| pass.turning == turning);
        let angles = ours.flat_map(|pass| pass.samples.clone()).filter_map(&each);
        let mut angles: Vec<f64> = angles
            .map(|angle| angle.rem_euclid(TAU))
            .take(READINGS_MOST)
            .collect();
        angles.sort_unstable_by(f64::total_cmp);
        angles
    };
    let both = [of(Turning::Cutting), of(Turning::Backing)];
    let all: usize = both.iter().map(Vec::len).sum();
    let told = both
        .iter()
        .filter(|angles| angles.len() as f64 >= LEAST_SHARE * all as f64);
    told.map(|angles| {
        let past_end = angles.first().map(|first| first + TAU);
        let next = angles.iter().copied().skip(1).chain(past_end);
        angles
            .iter()
            .zip(next)
            .map(|(at, next)| next - at)
            .collect()
    })
    .collect()
}

/// Whether a sample enters the merge: a nudge covers what its pass covers anyway.
pub(super) fn mergeable(marks: Marks) -> bool {
    marks.usable() && !marks.has(Mark::Nudge)
}

/// Gathers samples into looks, in the order of their time. `each` gives the angle (delay taken
/// out), reading, speed and time of a sample, and whether the tool was turning; or nothing when it
/// does not count. `told` hears which look each sample became part of.
pub(super) fn looks(
    grid: &Grid,
    passes: &[Pass],
    each: impl Fn(usize) -> Option<([f64; 4], bool)>,
    mut told: impl FnMut(usize, usize),
) -> Vec<Look> {
    const NEVER: u32 = u32::MAX;
    let mut looks: Vec<Look> = Vec::new();
    let mut turns: Vec<i64> = Vec::new();
    // The latest look at each cell, so that an encoder trembling between two cells, or a pass that
    // was nudged back, goes on with the look that it had.
    let mut latest = vec![NEVER; grid.cells];
    for (number, pass) in passes.iter().enumerate() {
        for at in pass.samples.clone() {
            let Some(([angle, reading, speed, time], while_turning)) = each(at) else {
                continue;
            };
            let (turn, cell, from_middle) = grid.place(angle);
            let known = latest[cell] as usize;
            let same =
                latest[cell] != NEVER && looks[known].pass == number as u32 && turns[known] == turn;
            if !same {
                latest[cell] = looks.len() as u32;
                turns.push(turn);
                looks.push(Look {
                    cell: cell as u32,
                    pass: number as u32,
                    samples: 0,
                    while_turning: 0,
                    turning: pass.turning,
                    angle: 0.0,
                    squares: 0.0,
                    reading: 0.0,
                    speed: 0.0,
                    time: 0.0,
                    reach: (f32::MAX, f32::MIN),
                });
            }
            told(at, latest[cell] as usize);
            let look = &mut looks[latest[cell] as usize];
            look.samples += 1;
            look.while_turning += u32::from(while_turning);
            // Running means: sums of a million like readings would lose digits.
            let share = 1.0 / f64::from(look.samples);
            let before = from_middle - look.angle;
            look.angle += before * share;
            look.squares += before * (from_middle - look.angle);
            look.reading += (reading - look.reading) * share;
            look.speed += (speed - look.speed) * share;
            look.time += (time - look.time) * share;
            let place = from_middle as f32;
            look.reach = (look.reach.0.min(place), look.reach.1.max(place));
        }
    }
    looks
}

/// Looks sorted by cell: where each cell's begin, and which they are.
pub(super) struct ByCell {
    starts: Vec<u32>,
    order: Vec<u32>,
}

impl ByCell {
    pub fn new(grid: &Grid, looks: &[Look]) -> Self {
        let mut starts = vec![0_u32; grid.cells + 1];
        for look in looks {
            starts[look.cell as usize + 1] += 1;
        }
        for cell in 0..grid.cells {
            starts[cell + 1] += starts[cell];
        }
        let mut next = starts.clone();
        let mut order = vec![0_u32; looks.len()];
        for (at, look) in looks.iter().enumerate() {
            let slot = &mut next[look.cell as usize];
            order[*slot as usize] = at as u32;
            *slot += 1;
        }
        Self { starts, order }
    }

    /// The looks at one cell, as positions in the list of looks.
    pub fn at(&self, cell: usize) -> &[u32] {
        &self.order[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }
}
