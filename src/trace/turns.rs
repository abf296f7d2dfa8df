//! What one turn of a trace says otherwise than another: counts lost, play, drift, something moved.

use super::within::{self, CAUSES, Visit};
use super::{Cell, Delay, DelaySource, Merged, Trace, Turning, passes};
use crate::quantity::{Angle, Estimate, Length, Speed, Time};
use crate::sample::{Mark, Sample};
use std::f64::consts::TAU;

/// What the turns of a trace say of each other; nothing where they do not tell.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Agreement {
    /// From some moment on the same places stand at other angles.
    pub turned: Option<Step<Angle>>,
    /// How far the same places walk on over the whole trace, where no one moment stands out.
    pub walked: Option<Estimate<Angle>>,
    /// From some moment on the same places read otherwise.
    pub moved: Option<Step<Length>>,
    /// What a reading is higher while the plunger comes out than going in.
    pub play: Option<Estimate<Length>>,
    /// How fast the readings of the same places grow.
    pub drift: Option<Estimate<Speed>>,
    /// Turns of the tool after the first one, whole or in part; without any of them no place was
    /// seen twice.
    pub again: f64,
}

/// From some moment on something is another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step<Q> {
    /// Since the trace began.
    pub after: Time,
    /// By how much.
    pub size: Estimate<Q>,
}

/// The turn is looked at in so many arcs.
const ARCS: usize = 36;
/// Turns are held against each other where places lie no further apart than this (common practice,
/// no source).
const COARSEST: Angle = Angle::from_rad(1.2 / 180.0 * std::f64::consts::PI);
/// The same for a step from one moment on, which chance makes sooner.
const COARSEST_STEP: Angle = Angle::from_rad(0.6 / 180.0 * std::f64::consts::PI);
/// The same for where flanks lie, of which a step's whole height tells.
const COARSEST_FLANKS: Angle = Angle::from_rad(2.0 / 180.0 * std::f64::consts::PI);
/// Readings that an arc needs in a visit.
const READINGS: usize = 3;

/// Where the trace does not tell: a delay may be so wrong in s, the ways so far apart in radians, a
/// play so large in mm, a drift so fast in mm/s. Wide, so that they decide nothing.
const DELAY: f64 = 0.2;
const WAYS: f64 = 0.05;
const PLAY: f64 = 0.05;
const DRIFT: f64 = 0.01;
/// Places may walk so fast in radians a second where that is looked for, and else do not.
const WALK: f64 = 0.05;
const NO_WALK: f64 = 1e-9;
/// An estimate says something where it is known better than by this part of what was taken before.
const TELLS: f64 = 0.2;

/// From one place to the next a flank climbs by so many times what a reading scatters (common
/// practice, no source).
const FLANK_OVER_NOISE: f64 = 20.0;

/// So many turns see most places twice.
const TWICE: f64 = 1.75;

/// Of a trace that was turned one way less than this part went the other way.
const ONE_WAY: f64 = 0.1;

/// A delay on one clock is known to this, in s.
const ONE_CLOCK: f64 = 1e-4;

/// Looks at what the turns of a trace say of each other. `count` is one count of the encoder.
pub fn agreement(trace: &Trace, merged: &Merged, count: Angle) -> Agreement {
    let arc: f64 = merged.passes.iter().map(|pass| pass.arc.rad()).sum();
    let again = (arc / TAU - 1.0).max(0.0);
    let ways = Ways::of(merged);
    let surface = Surface::of(merged);
    // Between readings far apart a surface is not known to what turns differ by, nor is the place of
    // a reading whose delay was found and not stated.
    let coarse = merged.pass_width > COARSEST_FLANKS;
    let apart = !matches!(
        merged.delay.source,
        DelaySource::OneClock | DelaySource::Stated
    );
    if again <= 0.0 || surface.cells.len() < 2 * ARCS || coarse || apart {
        return Agreement {
            again,
            ..Agreement::default()
        };
    }
    let readings = readings(trace, merged);
    let known = delay_known(&merged.delay);
    let began = trace.samples.first().map_or(0.0, |first| first.time.s());
    let crossings = crossings(&readings, &surface, count.rad(), merged.noise.mm());
    let flanks = surface.flanks().len();
    let lasted = readings.last().map_or(began, |last| last.time) - began;
    let walks = within::moved(crossings.clone(), flanks, [known, WAYS, WALK]);
    let turned = within::moved(crossings, flanks, [known, WAYS, NO_WALK]);
    let turned = turned.and_then(|moved| moved.step);
    let walked = walks.filter(|_| turned.is_none()).map(|walks| {
        let (rate, own) = walks.causes[2];
        Estimate::new(
            Angle::from_rad(rate * lasted),
            Angle::from_rad(own * lasted),
        )
    });
    let turned = turned.map(|step| Step {
        after: Time::from_s(step.time - began),
        size: Estimate::new(
            Angle::from_rad(step.size),
            Angle::from_rad(step.uncertainty),
        ),
    });
    let (close, exact) = (
        merged.pass_width <= COARSEST,
        merged.pass_width <= COARSEST_STEP,
    );
    let visits = || visits(&readings, &surface, count.rad(), merged.noise.mm());
    let heights = close.then(|| within::moved(visits(), ARCS, [PLAY, known, DRIFT]));
    let heights = heights.flatten();
    let cause = |at: usize, usual: f64| {
        let (value, own) = heights.as_ref()?.causes[at];
        (own < TELLS * usual).then_some((value, own))
    };
    // A step shows where heights are known closely, a drift over the whole trace also elsewhere.
    let moved = heights
        .as_ref()
        .filter(|_| exact && !ways.both && !ways.turned_once)
        .and_then(|heights| heights.step);
    Agreement {
        turned,
        walked,
        moved: moved.map(|step| Step {
            after: Time::from_s(step.time - began),
            size: Estimate::new(
                Length::from_mm(step.size),
                Length::from_mm(step.uncertainty),
            ),
        }),
        play: cause(0, PLAY)
            .filter(|_| !ways.turned_once || ways.each_twice)
            .map(|(value, own)| Estimate::new(Length::from_mm(value), Length::from_mm(own))),
        drift: cause(2, DRIFT)
            .filter(|_| !ways.both && !ways.turned_once)
            .map(|(value, own)| {
                Estimate::new(Speed::from_mm_per_s(value), Speed::from_mm_per_s(own))
            }),
        again,
    }
}

/// Which ways the tool was turned, and what that leaves open of the cause of what turns differ by.
struct Ways {
    /// A good part of the trace was turned each way: from a turning round on both the way and the
    /// time are others, and play and a delay look like a step or a drift.
    both: bool,
    /// The tool turned round but once: a play, a drift and something that moved just then look the
    /// same. Where the way changes twice, later turns go the way of earlier ones again.
    turned_once: bool,
    /// Each way was turned about twice: what goes on in time shows within a way, and a play between
    /// them.
    each_twice: bool,
}

impl Ways {
    fn of(merged: &Merged) -> Self {
        let passes = || merged.passes.iter();
        let arc: f64 = passes().map(|pass| pass.arc.rad()).sum();
        let backing = passes().filter(|pass| pass.turning == Turning::Backing);
        let back: f64 = backing.map(|pass| pass.arc.rad()).sum();
        let long = passes().filter(|pass| pass.arc.rad() > TAU / 2.0);
        let ways: Vec<Turning> = long.map(|pass| pass.turning).collect();
        let changes = ways.windows(2).filter(|pair| pair[0] != pair[1]).count();
        Self {
            both: (ONE_WAY * arc..(1.0 - ONE_WAY) * arc).contains(&back),
            turned_once: changes == 1,
            each_twice: back.min(arc - back) > TWICE * TAU,
        }
    }
}

fn delay_known(delay: &Delay) -> f64 {
    let own = delay.estimate.standard_uncertainty.s();
    match delay.source {
        DelaySource::OneClock | DelaySource::Stated => own.max(ONE_CLOCK),
        DelaySource::Found | DelaySource::Shown => own.max(ONE_CLOCK) * 3.0,
        DelaySource::Unknown => DELAY,
    }
}

/// A reading that tells: angle with the delay taken out, how fast the tool turned, where it lies.
#[derive(Clone, Copy)]
struct Read {
    time: f64,
    /// Continuous.
    angle: f64,
    reading: f64,
    /// Signed.
    speed: f64,
    pass: usize,
    backing: bool,
}

fn readings(trace: &Trace, merged: &Merged) -> Vec<Read> {
    let delay = merged.delay.estimate.value.s();
    let mut all = Vec::with_capacity(trace.samples.len());
    let tells = |sample: &&Sample| {
        passes::angle_known(sample.marks)
            && sample.marks.usable()
            && !sample.marks.has(Mark::Spike)
            && !sample.marks.has(Mark::Nudge)
    };
    for (pass, run) in merged.passes.iter().enumerate() {
        let Some(samples) = trace.samples.get(run.samples.clone()) else {
            continue;
        };
        let kept: Vec<&Sample> = samples.iter().filter(tells).collect();
        for (at, sample) in kept.iter().enumerate() {
            // Over some samples each way, against the steps of the encoder.
            let (before, after) = (
                kept[at.saturating_sub(4)],
                kept[(at + 4).min(kept.len() - 1)],
            );
            let lasted = (after.time - before.time).s();
            let speed = if lasted > 0.0 {
                (after.angle - before.angle).rad() / lasted
            } else {
                0.0
            };
            all.push(Read {
                time: sample.time.s(),
                angle: sample.angle.rad() - speed * delay,
                reading: sample.reading.mm(),
                speed,
                pass,
                backing: run.turning == Turning::Backing,
            });
        }
    }
    all
}

/// The merged turn, to be read between its cells.
struct Surface<'m> {
    cells: &'m [Cell],
    /// A level that every flank of every tooth crosses; nothing where there are no flanks.
    level: Option<f64>,
    /// From the lowest place to the highest; mm.
    whole: f64,
    width: f64,
}

/// Where the merged turn crosses the level: at which angle, and whether it climbs with the angle.
#[derive(Clone, Copy)]
struct Flank {
    angle: f64,
    climbs: bool,
}

impl<'m> Surface<'m> {
    fn of(merged: &'m Merged) -> Self {
        let cells = merged.filled_by_each();
        let heights = || cells.iter().map(|cell| cell.reading.mm());
        let (low, high) = heights().fold((f64::MAX, f64::MIN), |(low, high), at| {
            (low.min(at), high.max(at))
        });
        // Where flanks are steepest the crossing is sharpest.
        let levels = [0.3, 0.4, 0.5, 0.6, 0.7].map(|share| low + share * (high - low));
        let steps = |level: f64| -> f64 {
            let crossed = cells.windows(2).filter(|pair| {
                (pair[0].reading.mm() - level) * (pair[1].reading.mm() - level) < 0.0
            });
            crossed
                .map(|pair| (pair[1].reading - pair[0].reading).mm().abs())
                .fold(f64::MAX, f64::min)
        };
        // A round that runs out crosses a level too, but so slowly that noise says where.
        let clear = FLANK_OVER_NOISE * merged.noise.mm();
        let usable = |level: &f64| (clear..f64::MAX).contains(&steps(*level));
        let level = levels
            .into_iter()
            .filter(usable)
            .max_by(|a, b| steps(*a).total_cmp(&steps(*b)));
        Self {
            cells,
            level,
            whole: high - low,
            width: merged.pass_width.rad(),
        }
    }

    fn flanks(&self) -> Vec<Flank> {
        let Some(level) = self.level else {
            return Vec::new();
        };
        let next = self.cells.iter().cycle().skip(1);
        let pairs = self.cells.iter().zip(next);
        pairs
            .filter_map(|(here, next)| {
                let (a, b) = (here.reading.mm(), next.reading.mm());
                let crosses = (a < level) != (b < level);
                let apart = (next.angle - here.angle).in_turn().rad();
                let share = (level - a) / (b - a);
                crosses.then(|| Flank {
                    angle: here.angle.rad() + share * apart,
                    climbs: b > a,
                })
            })
            .collect()
    }

    /// Height and slope at an angle, and how much the surface bends there between two cells; nothing
    /// in a hole.
    fn at(&self, angle: f64) -> Option<(f64, f64, f64)> {
        let within = angle.rem_euclid(TAU);
        let count = self.cells.len();
        let next = self
            .cells
            .partition_point(|cell| cell.angle.rad() <= within);
        let cell = |by: usize| &self.cells[(next + count + by - 2) % count];
        let (before, here, after, beyond) = (cell(0), cell(1), cell(2), cell(3));
        let apart = |a: &Cell, b: &Cell| (b.angle - a.angle).in_turn().rad();
        let (own, left, right) = (
            apart(here, after),
            apart(before, here),
            apart(after, beyond),
        );
        if own <= 0.0 || own.max(left).max(right) > 3.0 * self.width || left <= 0.0 || right <= 0.0
        {
            return None;
        }
        let slope = |a: &Cell, b: &Cell, apart: f64| (b.reading - a.reading).mm() / apart;
        let here_slope = slope(here, after, own);
        let bend = (slope(after, beyond, right) - slope(before, here, left)).abs() * own / 8.0;
        let since = (within - here.angle.rad()).rem_euclid(TAU);
        Some((here.reading.mm() + here_slope * since, here_slope, bend))
    }
}

/// Two readings further apart than this do not show where a flank is; radians.
const WIDEST: f64 = 4.0 / 180.0 * std::f64::consts::PI;

fn crossings(readings: &[Read], surface: &Surface, count: f64, noise: f64) -> Vec<Visit> {
    let Some(level) = surface.level else {
        return Vec::new();
    };
    let flanks = surface.flanks();
    let began = readings.first().map_or(0.0, |read| read.time);
    let near = |angle: f64, climbs: bool| {
        let far = |flank: &Flank| Angle::from_rad(flank.angle - angle).shortest().rad().abs();
        let alike = flanks
            .iter()
            .enumerate()
            .filter(|(_, flank)| flank.climbs == climbs);
        let nearest = alike.min_by(|a, b| far(a.1).total_cmp(&far(b.1)))?;
        let reach = TAU / (4.0 * (flanks.len() as f64 / 2.0).max(1.0));
        (far(nearest.1) < reach.min(0.2)).then_some(nearest)
    };
    let pairs = readings
        .windows(2)
        .filter(|pair| pair[0].pass == pair[1].pass);
    pairs
        .filter_map(|pair| {
            let (a, b) = (pair[0], pair[1]);
            let crosses = (a.reading < level) != (b.reading < level);
            let step = b.angle - a.angle;
            if !crosses || step.abs() > WIDEST {
                return None;
            }
            let climbs = (b.reading > a.reading) == (step > 0.0);
            let angle = a.angle + (level - a.reading) / (b.reading - a.reading) * step;
            let (place, flank) = near(angle, climbs)?;
            let slope = ((b.reading - a.reading) / step).abs().max(1e-6);
            // A flank climbed in one step lies anywhere in it.
            let share = (b.reading - a.reading).abs() / surface.whole;
            let step = step.abs();
            Some(Visit {
                place,
                time: f64::midpoint(a.time, b.time),
                value: Angle::from_rad(angle - flank.angle).shortest().rad(),
                // A reading was taken anywhere in its count, and a flank bends between two.
                variance: count * count / 6.0
                    + (step / 12.0).powi(2)
                    + (step * share).powi(2) / 12.0
                    + (noise / slope).powi(2),
                causes: [
                    f64::midpoint(a.speed, b.speed),
                    if a.backing { -0.5 } else { 0.5 },
                    f64::midpoint(a.time, b.time) - began,
                ],
            })
        })
        .collect()
}

/// How far the readings of each arc lie off the merged turn, each time that it was passed.
fn visits(readings: &[Read], surface: &Surface, count: f64, noise: f64) -> Vec<Visit> {
    #[derive(Default)]
    struct Sum {
        readings: usize,
        weight: f64,
        time: f64,
        value: f64,
        causes: [f64; CAUSES],
    }
    let mut visits = Vec::new();
    let mut sum = Sum::default();
    let mut current = None;
    let place = |read: &Read| (read.angle.rem_euclid(TAU) / TAU * ARCS as f64) as usize % ARCS;
    let finish = |sum: Sum, current: Option<(usize, usize)>| {
        let (_, place) = current.filter(|_| sum.readings >= READINGS)?;
        Some(Visit {
            place,
            time: sum.time / sum.weight,
            value: sum.value / sum.weight,
            variance: 1.0 / sum.weight,
            causes: sum.causes.map(|cause| cause / sum.weight),
        })
    };
    let began = readings.first().map_or(0.0, |read| read.time);
    for read in readings {
        let here = Some((read.pass, place(read)));
        if here != current {
            visits.extend(finish(std::mem::take(&mut sum), current));
            current = here;
        }
        let Some((height, slope, bend)) = surface.at(read.angle) else {
            continue;
        };
        // What the count leaves open of the angle, and the bend of the height, speaks against it.
        let variance = noise * noise + (slope * count).powi(2) / 12.0 + bend * bend + 1e-14;
        let weight = 1.0 / variance;
        let moving = slope * read.speed;
        let coming_out = if moving.abs() * 0.05 < 2.0 * noise {
            0.0
        } else {
            -0.5 * moving.signum()
        };
        sum.readings += 1;
        sum.weight += weight;
        sum.time += weight * read.time;
        sum.value += weight * (read.reading - height);
        let causes = [coming_out, -moving, read.time - began];
        for (sum, cause) in sum.causes.iter_mut().zip(causes) {
            *sum += weight * cause;
        }
    }
    visits.extend(finish(sum, current));
    visits
}
