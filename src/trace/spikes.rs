//! Chips under the stylus and bumps of the table: marked, never removed.

use super::Pass;
use super::grid::{ByCell, Grid, Look, mergeable};
use crate::numeric::robust;
use crate::quantity::{Angle, Length};
use crate::sample::{Mark, Marks, Sample};

/// A spike stands out by this many standard deviations of a reading (chosen, no source) ...
const BEYOND_NOISE: f64 = 7.0;
/// ... and by this many steps of the indicator (chosen, no source).
const BEYOND_STEPS: f64 = 4.0;

/// A chip lifts the stylus for a few samples; a short fall may also be a groove in the tool, so
/// less is believed of it (chosen, no source).
const MOST_SAMPLES_UP: usize = 8;
const MOST_SAMPLES_DOWN: usize = 2;

/// What leaves and comes back over a wider arc than this is taken for the tool's shape (chosen, no
/// source).
const WIDEST: Angle = Angle::from_rad(1.5 / 180.0 * std::f64::consts::PI);

/// A pass of which more than this share disagrees with the others was set up otherwise: that is no
/// spike, and must show in the repeatability (chosen, no source).
const MOST_OF_A_PASS: f64 = 0.15;

/// Marks short excursions within a pass; gives how many samples it marked.
///
/// A reading is marked when it leaves what its neighbours lead to, on both sides, and comes back.
/// An edge is safe: it does not come back. So is the peak of a ball that rolls over a corner: it
/// is convex, and so lies below the lines through its neighbours on either side.
pub(super) fn mark_excursions(
    samples: &[Sample],
    passes: &[Pass],
    marks: &mut [Marks],
    noise: Length,
    resolution: Length,
) -> usize {
    let threshold = threshold(noise, resolution);
    let mut marked = 0;
    for pass in passes {
        let usable: Vec<usize> = pass
            .samples
            .clone()
            .filter(|at| mergeable(marks[*at]))
            .collect();
        let mut at = LEAD;
        while at + LEAD < usable.len() {
            let length = excursion(&usable, at, samples, threshold).unwrap_or(0);
            for spike in &usable[at..at + length] {
                marks[*spike].add(Mark::Spike);
            }
            marked += length;
            at += length.max(1);
        }
    }
    marked
}

fn threshold(noise: Length, resolution: Length) -> f64 {
    // Below a nanometre only the rounding of numbers stands out.
    let least = Length::from_mm(1e-6);
    let threshold = (noise * BEYOND_NOISE).max(resolution * BEYOND_STEPS);
    threshold.max(least).mm()
}

/// Samples before and after an excursion that show where the surface leads (chosen, no source).
const LEAD: usize = 4;

/// How many samples from `at` on leave the surface and come back to it.
fn excursion(usable: &[usize], at: usize, samples: &[Sample], threshold: f64) -> Option<usize> {
    let reading = |place: usize| samples[usable[place]].reading.mm();
    let time = |place: usize| samples[usable[place]].time.s();
    // What the line through `first` and `last` leads to at `place`, and how much more than one
    // reading that scatters: the more, the further it is drawn out.
    let led_to = |place: usize, first: usize, last: usize| {
        let lever = (time(place) - time(last)) / (time(last) - time(first));
        let line = reading(last) + lever * (reading(last) - reading(first));
        let scatter = ((1.0 + (1.0 + lever).powi(2) + lever * lever) / 2.0).sqrt();
        (line, scatter)
    };
    let off = |place: usize, first: usize, last: usize, side: f64| {
        let (line, scatter) = led_to(place, first, last);
        let off = side * (reading(place) - line);
        (off > threshold * scatter).then_some(off)
    };
    let sides = [1.0, -1.0];
    let out = |side: &f64| off(at, at - LEAD, at - 1, *side).is_some();
    let side = sides.into_iter().find(out)?;
    let leaves = |place: usize| off(place, at - LEAD, at - 1, side);
    let most = if side > 0.0 {
        MOST_SAMPLES_UP
    } else {
        MOST_SAMPLES_DOWN
    };
    let back =
        (at + 1..=at + most).find(|place| *place < usable.len() && leaves(*place).is_none())?;
    let end = back + LEAD - 1;
    usable.get(end)?;
    let arc = samples[usable[back]].angle - samples[usable[at - 1]].angle;
    // Where the lines from before and after disagree by more than the excursion, the surface itself
    // turns a corner here, and nothing can be said.
    let stands_out = |place: usize| {
        let (before, after) = (leaves(place)?, off(place, end, back, side)?);
        Some((before - after).abs() < before.min(after))
    };
    let all = (at..back).all(|place| stands_out(place) == Some(true));
    (all && arc.abs() <= WIDEST).then_some(back - at)
}

/// Takes the marks back where nearly every look shows an excursion: that is the tool's shape. `all`
/// are the looks with spikes and without, `spikes` those of spikes alone.
pub(super) fn unmark_repeated(
    grid: &Grid,
    all: &[Look],
    spikes: &[Look],
    angles: &[f64],
    marks: &mut [Marks],
) {
    let mut counts = vec![(0_u32, 0_u32); grid.cells];
    for look in all {
        counts[look.cell as usize].0 += 1;
    }
    for look in spikes {
        counts[look.cell as usize].1 += 1;
    }
    let repeated = |(all, spikes): (u32, u32)| spikes >= 2 && spikes * 4 >= all * 3;
    for (mark, angle) in marks.iter_mut().zip(angles) {
        if mark.has(Mark::Spike) && angle.is_finite() && repeated(counts[grid.place(*angle).1]) {
            mark.remove(Mark::Spike);
        }
    }
}

/// Finds looks that disagree with the other passes at their place; gives one flag a look.
///
/// Only three looks or more can tell which of them is wrong. What all passes show is the tool.
pub(super) fn odd_looks(
    grid: &Grid,
    looks: &[Look],
    by_cell: &ByCell,
    slopes: &[f64],
    scatter: f64,
    least: f64,
) -> Vec<bool> {
    let mut odd = vec![false; looks.len()];
    let mut values = Vec::new();
    let mut sizes = Vec::new();
    for (cell, slope) in slopes.iter().enumerate() {
        let here = by_cell.at(cell);
        if here.len() < 3 {
            continue;
        }
        let level = |at: u32| {
            let look = &looks[at as usize];
            look.reading - slope * look.angle
        };
        values.clear();
        values.extend(here.iter().map(|at| level(*at)));
        let middle = robust::median(&mut values).unwrap_or(0.0);
        sizes.clear();
        sizes.extend(here.iter().map(|at| level(*at) - middle));
        let local = robust::scale(&mut sizes).unwrap_or(0.0);
        // On a slope a count of the encoder is worth a height, and a corner is no straight line.
        let bound = (BEYOND_NOISE * scatter.max(local)).max(least) + slope.abs() * grid.width;
        for at in here {
            odd[*at as usize] = (level(*at) - middle).abs() > bound;
        }
    }
    let passes = looks.iter().map(|look| look.pass + 1).max().unwrap_or(0);
    let mut counts = vec![(0_u32, 0_u32); passes as usize];
    for (look, odd) in looks.iter().zip(&odd) {
        let (all, odd_ones) = &mut counts[look.pass as usize];
        *all += 1;
        *odd_ones += u32::from(*odd);
    }
    for (look, odd) in looks.iter().zip(&mut odd) {
        let (all, odd_ones) = counts[look.pass as usize];
        *odd &= f64::from(odd_ones) <= f64::from(all) * MOST_OF_A_PASS;
    }
    odd
}
