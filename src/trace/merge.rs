//! Merges the samples of a trace over its passes: one height a place.

use super::combine::Sides;
use super::grid::{self, ByCell, Grid, Look};
use super::passes::Motion;
use super::scatter::{self, Moment};
use super::{
    Delay, Hole, Merged, Pace, Pass, Single, Trace, Turning, combine, delay, history, noise,
    passes, spikes,
};
use crate::card::GaugeCard;
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, AngularSpeed, Estimate, Length, Time};
use crate::sample::{Mark, Marks, Sample};
use std::f64::consts::TAU;

/// Fewer samples than this say nothing about a tool.
const SAMPLES_LEAST: usize = 20;

/// A gap is a hole when it is wider than this many cells: a hand leaves gaps of up to two.
const HOLE_CELLS: f64 = 2.0;

/// An encoder may tremble by this many counts without the tool turning back.
const JITTER_COUNTS: f64 = 2.5;
/// The same where the counts in a turn are not known.
const JITTER: Angle = Angle::from_rad(0.1 / 180.0 * std::f64::consts::PI);

/// The delay is searched in so many samples at most; more would only cost time.
const MOMENTS_MOST: usize = 20_000;

/// Places of several passes lie anywhere in their cells, and no nearer than this part of one.
const CLOSEST: f64 = 0.4;

/// A sample that is part of no look.
const NO_LOOK: u32 = u32::MAX;

/// What a merge must know about the gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MergeSettings {
    /// How much later than the encoder the indicator is read; absent = found from the trace.
    pub delay: Option<Time>,
    /// The delay that another trace of the same two clocks showed, where one did.
    pub shown: Option<Estimate<Time>>,
    /// Least count of the indicator.
    pub resolution: Length,
    /// Counts of the encoder in one turn; 0 where it has none.
    pub counts_per_turn: u32,
    /// Width of the grid; absent = as fine as the samples allow, from 0.05 to 5 degrees.
    pub cell_width: Option<Angle>,
    /// Cells need be no finer than this to show what the tip can touch; with it all passes together
    /// decide how fine they are, without it one pass by itself.
    pub resolve: Option<Angle>,
    /// Repeatability between passes that a study of the gauge found; a trace of few passes is not
    /// believed to repeat better.
    pub studied_repeatability: Option<Length>,
}

impl MergeSettings {
    /// As the gauge card says.
    pub fn of(gauge: &GaugeCard) -> Self {
        Self {
            delay: gauge.setup.delay,
            shown: None,
            resolution: gauge.indicator.resolution,
            counts_per_turn: gauge.encoder.counts_per_turn,
            cell_width: None,
            resolve: None,
            studied_repeatability: gauge.studies.repeat.map(|study| study.found),
        }
    }

    fn jitter(&self) -> Angle {
        match self.counts_per_turn {
            0 => JITTER,
            counts => Angle::TURN * (JITTER_COUNTS / f64::from(counts)),
        }
    }
}

/// Merges a trace over its passes.
///
/// Fails when there are too few usable samples or the tool was not turned.
pub fn merge(trace: &Trace, settings: &MergeSettings) -> Result<Merged> {
    let mut told = trace.history.clone();
    let samples = trace.samples.as_slice();
    let mut motion = passes::motion(samples, settings.jitter());
    check_enough(trace, &motion)?;
    told.push(history::motion(&motion));

    let pace = Pace::of(samples, &motion.marks, &motion.speed);
    let noise = noise::noise(samples, &motion.marks, settings.resolution);
    let (passes, marks) = (motion.passes, &mut motion.marks);
    spikes::mark_excursions(samples, &passes, marks, noise, settings.resolution);
    let steps = grid::steps(samples, marks, &passes);
    let grid = Grid::new(settings.cell_width, settings.counts_per_turn, &steps);

    let moments = moments(samples, marks, &passes);
    // Rounding to a step is off by a rectangular share of it (JCGM 100, F.2.2.1).
    let rounding = settings.resolution / 12_f64.sqrt();
    // Readings that stand on one step scatter by nothing, and a few that do not would decide. Two
    // clocks are never taken to show no delay at all, so for them less will do.
    let scatter = if trace.two_clocks {
        noise
    } else {
        noise.max(rounding)
    };
    let left = match settings.shown.filter(|_| trace.two_clocks) {
        Some(shown) if settings.delay.is_none() => Delay::shown(shown, trace.apart),
        _ => {
            let stated = settings.delay.map(|delay| delay - trace.apart);
            delay::delay(stated, trace.two_clocks, &moments, &grid, scatter)
        }
    };
    let delay = left.beside(trace.apart);
    told.push(history::delay(&delay));
    let angles = angles(trace, marks, left.estimate.value);
    let began = samples.first().map_or(Time::ZERO, |first| first.time);
    let seen_at = |at: usize, marks: Marks| {
        let (reading, speed) = (samples[at].reading.mm(), motion.speed[at].rad_per_s());
        let time = (samples[at].time - began).s();
        let turning = !marks.has(Mark::Pause);
        ([angles[at], reading, speed, time], turning)
    };
    let look_at = |wanted: &dyn Fn(Marks) -> bool, marks: &[Marks]| {
        let each = |at: usize| {
            let counts = wanted(marks[at]) && angles[at].is_finite();
            counts.then(|| seen_at(at, marks[at]))
        };
        grid::looks(&grid, &passes, each, |_, _| ())
    };
    if marks.iter().any(|marks| marks.has(Mark::Spike)) {
        let spikes = look_at(&|marks| marks.has(Mark::Spike), marks);
        let all = look_at(
            &|marks| marks.has(Mark::Spike) || grid::mergeable(marks),
            marks,
        );
        spikes::unmark_repeated(&grid, &all, &spikes, &angles, marks);
    }
    let counts = |at: usize| grid::mergeable(marks[at]) && angles[at].is_finite();
    let mut look_of = vec![NO_LOOK; samples.len()];
    let looks = grid::looks(
        &grid,
        &passes,
        |at| counts(at).then(|| seen_at(at, marks[at])),
        |at, look| look_of[at] = look as u32,
    );
    let by_cell = ByCell::new(&grid, &looks);
    let slopes = combine::slopes(&grid, &looks, &by_cell);

    let resolution = settings.resolution.mm();
    let seen = combine::repeatability(&looks, &by_cell, &slopes, resolution);
    // Where no place was looked at twice, one look is taken to be no better than one reading.
    let repeatability = seen.unwrap_or(noise.mm());
    let sigma = repeatability.max(rounding.mm());
    let least = resolution * 4.0;
    let odd = spikes::odd_looks(
        &grid,
        &looks,
        &by_cell,
        &slopes,
        sigma.max(noise.mm()),
        least,
    );
    let upright = combine::repeatability_upright(
        &grid,
        &looks,
        &by_cell,
        &slopes,
        (sigma, noise.mm().max(rounding.mm())),
    );
    // What stands out is taken by the trace's own scatter, what is uncertain by the larger one.
    let studied = settings.studied_repeatability.map_or(0.0, Length::mm);
    let (repeatability, sigma) = (repeatability.max(studied), sigma.max(studied));
    let sides = Sides::of(&grid, &looks, &by_cell, &slopes, &odd, sigma);
    let hysteresis = sides.hysteresis(&slopes);
    // What only several passes together tell was taken on cells that each of them filled; what they
    // show is drawn as finely as they do together.
    let taken = |at: usize| counts(at) && !odd.get(look_of[at] as usize).copied().unwrap_or(false);
    let finer = settings.resolve.and_then(|finest| {
        let turning = |at: usize| taken(at) && !marks[at].has(Mark::Pause);
        let gaps = grid::gaps(&passes, |at| turning(at).then(|| angles[at]));
        grid.finer(finest, &gaps)
    });
    let by_pass = sides.cells(&grid, hysteresis, 0.0);
    let (cells, by_pass, (cell_width, of)) = match finer {
        Some(fine) => {
            let each = |at: usize| taken(at).then(|| seen_at(at, marks[at]));
            let looks = grid::looks(&fine, &passes, each, |_, _| ());
            let by_cell = ByCell::new(&fine, &looks);
            let slopes = combine::carried(&slopes, &grid, &fine);
            let none_odd = vec![false; looks.len()];
            let sides = Sides::of(&fine, &looks, &by_cell, &slopes, &none_odd, sigma);
            let cells = sides.cells(&fine, hysteresis, CLOSEST);
            (cells, Some(by_pass), (fine.width, fine.cells))
        }
        None => (by_pass, None, (grid.width, grid.cells)),
    };
    let holes = holes(&grid, &looks, &by_cell);
    let singles = singles(samples, &passes, &angles, |at| {
        let speed = motion.speed[at];
        passes::angle_known(marks[at]).then_some((speed, samples[at].time - began))
    });
    told.push(history::doubts(marks, &looks, &odd));
    told.extend(history::grid(
        &cells,
        (of, Angle::from_rad(cell_width)),
        seen.is_some(),
        &holes,
    ));
    Ok(Merged {
        cells,
        cell_width: Angle::from_rad(cell_width),
        pass_width: Angle::from_rad(grid.width),
        by_pass,
        noise,
        repeatability: Length::from_mm(repeatability),
        upright: Length::from_mm(upright.max(studied)),
        hysteresis,
        delay,
        passes,
        holes,
        pace,
        singles,
        history: told,
    })
}

fn check_enough(trace: &Trace, motion: &Motion) -> Result<()> {
    let usable = motion.marks.iter().filter(|marks| marks.usable()).count();
    let short = |message: String| {
        let error = Error::new(Code::TraceShort, message).in_file(&trace.name);
        Err(error.help("turn the tool by at least one whole turn while the trace is taken"))
    };
    if usable < SAMPLES_LEAST {
        let all = trace.samples.len();
        return short(format!(
            "read {usable} usable samples of {all}, expected {SAMPLES_LEAST} or more"
        ));
    }
    if motion.passes.is_empty() {
        return short("the angle does not change, expected a tool that is turned".to_owned());
    }
    Ok(())
}

/// Samples for the search of the delay, thinned where there are very many.
fn moments(samples: &[Sample], marks: &[Marks], passes: &[Pass]) -> Vec<Moment> {
    let stride = 1 + samples.len() / MOMENTS_MOST;
    let mut moments = Vec::new();
    for pass in passes {
        let way = match pass.turning {
            Turning::Cutting => 1.0,
            Turning::Backing => -1.0,
        };
        let known = pass.samples.clone().step_by(stride);
        let known = known.filter(|at| passes::angle_known(marks[*at]));
        moments.extend(known.map(|at| Moment {
            time: samples[at].time.s(),
            angle: samples[at].angle.rad(),
            reading: samples[at].reading.mm(),
            way: if grid::mergeable(marks[at]) { way } else { 0.0 },
        }));
    }
    moments
}

/// The angle behind each reading, delay taken out; not a number where it is not known.
fn angles(trace: &Trace, marks: &[Marks], delay: Time) -> Vec<f64> {
    let samples = &trace.samples;
    if delay == Time::ZERO {
        return samples.iter().map(|sample| sample.angle.rad()).collect();
    }
    let known: Vec<usize> = (0..samples.len())
        .filter(|at| passes::angle_known(marks[*at]))
        .collect();
    let mut angles = vec![f64::NAN; samples.len()];
    let path = |at: usize| {
        let sample = &samples[known[at]];
        (sample.time.s(), sample.angle.rad())
    };
    let times = known.iter().map(|at| (samples[*at].time - delay).s());
    scatter::angles_at(path, known.len(), times, |at, angle| {
        angles[known[at]] = angle.unwrap_or(f64::NAN);
    });
    angles
}

/// The readings one by one; `each` gives speed and time of those that count.
fn singles(
    samples: &[Sample],
    passes: &[Pass],
    angles: &[f64],
    each: impl Fn(usize) -> Option<(AngularSpeed, Time)>,
) -> Vec<Single> {
    let mut singles = Vec::with_capacity(samples.len());
    for (number, pass) in passes.iter().enumerate() {
        let known = pass.samples.clone().filter(|at| angles[*at].is_finite());
        singles.extend(known.filter_map(|at| {
            let (speed, time) = each(at)?;
            Some(Single {
                angle: Angle::from_rad(angles[at]),
                reading: samples[at].reading,
                speed,
                time,
                pass: number as u32,
            })
        }));
    }
    singles
}

/// Arcs that nothing was read in, from the outermost angles in the cells beside them.
fn holes(grid: &Grid, looks: &[Look], by_cell: &ByCell) -> Vec<Hole> {
    let reach = |cell: usize| {
        let here = by_cell.at(cell).iter().map(|at| looks[*at as usize].reach);
        let (low, high) = here.fold((f32::MAX, f32::MIN), |(low, high), reach| {
            (low.min(reach.0), high.max(reach.1))
        });
        let middle = grid.middle(cell);
        (low <= high).then_some((middle + f64::from(low), middle + f64::from(high)))
    };
    let reached: Vec<(f64, f64)> = (0..grid.cells).filter_map(reach).collect();
    let Some(&(first, _)) = reached.first() else {
        return Vec::new();
    };
    let starts = reached.iter().skip(1).map(|(low, _)| *low);
    let starts = starts.chain(std::iter::once(first + TAU));
    let gaps = reached.iter().zip(starts);
    gaps.filter(|((_, from), to)| to - from > HOLE_CELLS * grid.width)
        .map(|((_, from), to)| Hole {
            from: Angle::from_rad(*from).in_turn(),
            width: Angle::from_rad(to - from),
        })
        .collect()
}
