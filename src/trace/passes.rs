//! How the tool was turned: direction, passes, pauses, nudges, speed.

use super::{Pass, Turning};
use crate::numeric::robust;
use crate::quantity::{Angle, AngularSpeed, Time};
use crate::sample::{Mark, Marks, Sample};
use std::ops::Range;

/// A move against the run of a pass is a nudge up to this arc; a longer one is a pass of its own
/// (chosen, no source).
const NUDGE_MOST: Angle = Angle::from_rad(15.0 / 180.0 * std::f64::consts::PI);

/// A hand that rests for so long pauses; below it the tool is merely turned slowly (chosen, no source).
const PAUSE_LEAST: Time = Time::from_s(0.5);

/// Speed is taken over so long before and after a sample: a hand does not change it faster (chosen,
/// no source).
const SPEED_REACH: Time = Time::from_s(0.025);
/// ... and over at least so many samples each way, against the steps of the encoder (chosen, no
/// source).
const SPEED_SAMPLES: f64 = 4.0;

/// How the tool was turned during a trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// Runs in one direction, nudges included.
    pub passes: Vec<Pass>,
    /// One a sample.
    pub speed: Vec<AngularSpeed>,
    /// One a sample: what it had, and pauses and nudges.
    pub marks: Vec<Marks>,
}

/// Finds how the tool was turned. `jitter` is what the angle may move back without the tool turning
/// back: a count or two of the encoder.
pub fn motion(samples: &[Sample], jitter: Angle) -> Motion {
    let mut marks: Vec<Marks> = samples.iter().map(|sample| sample.marks).collect();
    mark_before_and_after_restart(&mut marks);
    let mut passes = Vec::new();
    for stretch in stretches(&marks) {
        let runs = runs(samples, &marks, stretch, jitter);
        for run in joined_over_nudges(runs, &mut marks) {
            passes.push(Pass {
                samples: run.samples,
                turning: run.turning,
                arc: run.arc,
            });
        }
    }
    mark_pauses(samples, &mut marks, jitter);
    let speed = speeds(samples, &marks);
    Motion {
        passes,
        speed,
        marks,
    }
}

/// Whether the angle of a sample can be relied on.
pub(super) fn angle_known(marks: Marks) -> bool {
    !marks.has(Mark::Unusable) && !marks.has(Mark::AngleInDoubt) && !marks.has(Mark::AfterReplug)
}

/// A controller that starts anew counts from 0: only the longest stretch keeps a common angle.
fn mark_before_and_after_restart(marks: &mut [Marks]) {
    let restarts = (1..marks.len()).filter(|at| marks[*at].has(Mark::AfterRestart));
    let mut bounds: Vec<usize> = std::iter::once(0).chain(restarts).collect();
    bounds.push(marks.len());
    let longest = bounds
        .windows(2)
        .map(|pair| pair[0]..pair[1])
        .max_by_key(Range::len);
    for (at, mark) in marks.iter_mut().enumerate() {
        if longest.as_ref().is_some_and(|kept| !kept.contains(&at)) {
            mark.add(Mark::AngleInDoubt);
        }
    }
}

/// Ranges over which the angle is one story: they end where the encoder was dark or started anew.
fn stretches(marks: &[Marks]) -> Vec<Range<usize>> {
    let breaks = |mark: Marks| mark.has(Mark::AfterReplug) || mark.has(Mark::AfterRestart);
    let inner = (1..marks.len()).filter(|at| breaks(marks[*at]));
    let mut bounds: Vec<usize> = std::iter::once(0).chain(inner).collect();
    bounds.push(marks.len());
    bounds.windows(2).map(|pair| pair[0]..pair[1]).collect()
}

/// A stretch of samples between two reversals.
#[derive(Clone, Debug)]
struct Run {
    samples: Range<usize>,
    turning: Turning,
    arc: Angle,
}

/// Splits at reversals. A reversal is where the angle comes back by more than `jitter` from its
/// furthest point, and it lies at that point.
fn runs(samples: &[Sample], marks: &[Marks], within: Range<usize>, jitter: Angle) -> Vec<Run> {
    let mut known = within.clone().filter(|at| angle_known(marks[*at]));
    let Some(first) = known.next() else {
        return Vec::new();
    };
    let angle = |at: usize| samples[at].angle;
    let mut runs: Vec<Run> = Vec::new();
    let (mut lowest, mut highest) = (first, first);
    let mut way: Option<(Turning, usize)> = None;
    for at in known {
        if angle(at) < angle(lowest) {
            lowest = at;
        }
        if angle(at) > angle(highest) {
            highest = at;
        }
        let back_from_top = angle(highest) - angle(at) > jitter;
        let up_from_bottom = angle(at) - angle(lowest) > jitter;
        match way {
            None if up_from_bottom => way = Some((Turning::Cutting, lowest)),
            None if back_from_top => way = Some((Turning::Backing, highest)),
            Some((Turning::Cutting, from)) if back_from_top => {
                runs.push(run(from..highest + 1, Turning::Cutting, angle));
                way = Some((Turning::Backing, highest));
                lowest = at;
            }
            Some((Turning::Backing, from)) if up_from_bottom => {
                runs.push(run(from..lowest + 1, Turning::Backing, angle));
                way = Some((Turning::Cutting, lowest));
                highest = at;
            }
            _ => {}
        }
    }
    if let Some((turning, from)) = way {
        let end = match turning {
            Turning::Cutting => highest,
            Turning::Backing => lowest,
        };
        runs.push(run(from..end + 1, turning, angle));
    }
    // Samples before the first move and after the last one stand still at its ends.
    if let Some(first) = runs.first_mut() {
        first.samples.start = within.start;
    }
    if let Some(last) = runs.last_mut() {
        last.samples.end = within.end;
    }
    // The sample at a reversal belongs to the run that it ends.
    for at in 1..runs.len() {
        runs[at].samples.start = runs[at - 1].samples.end;
    }
    runs
}

fn run(samples: Range<usize>, turning: Turning, angle: impl Fn(usize) -> Angle) -> Run {
    let arc = (angle(samples.end - 1) - angle(samples.start)).abs();
    Run {
        samples,
        turning,
        arc,
    }
}

/// Joins the runs on both sides of a nudge, whose samples are marked.
fn joined_over_nudges(runs: Vec<Run>, marks: &mut [Marks]) -> Vec<Run> {
    let mut joined: Vec<Run> = Vec::new();
    for run in runs {
        joined.push(run);
        while let [.., before, nudge, after] = joined.as_slice() {
            let least = before.arc.min(after.arc);
            if nudge.arc > NUDGE_MOST || nudge.arc > least * 0.5 {
                break;
            }
            for mark in &mut marks[nudge.samples.clone()] {
                mark.add(Mark::Nudge);
            }
            let whole = Run {
                samples: before.samples.start..after.samples.end,
                turning: before.turning,
                arc: before.arc - nudge.arc + after.arc,
            };
            joined.truncate(joined.len() - 3);
            joined.push(whole);
        }
    }
    joined
}

/// Marks samples during which the angle stays within `jitter` for a while.
fn mark_pauses(samples: &[Sample], marks: &mut [Marks], jitter: Angle) {
    let mut from = 0;
    while from < samples.len() {
        if !angle_known(marks[from]) {
            from += 1;
            continue;
        }
        let stays = |at: &usize| {
            !angle_known(marks[*at]) || (samples[*at].angle - samples[from].angle).abs() <= jitter
        };
        let mut to = from + 1;
        while to < samples.len() && stays(&to) {
            to += 1;
        }
        if samples[to - 1].time - samples[from].time >= PAUSE_LEAST {
            for mark in &mut marks[from..to] {
                mark.add(Mark::Pause);
            }
            from = to;
        } else if to == samples.len() {
            // What begins later lasts even shorter.
            break;
        } else {
            // A pause may begin later within this stretch. Going on at half of it, not at its next
            // sample, keeps the time linear.
            let moved =
                |at: &usize| (samples[*at].angle - samples[from].angle).abs() > jitter * 0.5;
            from = (from + 1..to).find(moved).unwrap_or(to);
        }
    }
}

/// The speed at each sample from its neighbours in time; zero where none are known.
fn speeds(samples: &[Sample], marks: &[Marks]) -> Vec<AngularSpeed> {
    let known: Vec<usize> = (0..samples.len())
        .filter(|at| angle_known(marks[*at]))
        .collect();
    let mut steps: Vec<f64> = known
        .windows(2)
        .step_by(1 + known.len() / 10_000)
        .map(|pair| (samples[pair[1]].time - samples[pair[0]].time).s())
        .collect();
    let step = Time::from_s(robust::median(&mut steps).unwrap_or(0.0));
    let reach = SPEED_REACH.max(step * SPEED_SAMPLES);

    let mut speed = vec![AngularSpeed::ZERO; samples.len()];
    let (mut first, mut last) = (0, 0);
    for &at in &known {
        let now = samples[at].time;
        while now - samples[known[first]].time > reach {
            first += 1;
        }
        while last + 1 < known.len() && samples[known[last + 1]].time - now <= reach {
            last += 1;
        }
        let (from, to) = (&samples[known[first]], &samples[known[last]]);
        if to.time > from.time {
            speed[at] = (to.angle - from.angle) / (to.time - from.time);
        }
    }
    speed
}
