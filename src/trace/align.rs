//! Brings readings and angles on one time line, with angles that grow the way the tool cuts.

use crate::card::Positive;
use crate::quantity::{Angle, Time};
use crate::sample::{Height, Mark, Position, Sample};

/// A step that no hand makes between two samples, so it shows an angle that wraps (chosen, no source).
const WRAP_STEP: Angle = Angle::from_rad(270.0 / 180.0 * std::f64::consts::PI);

/// An encoder that was silent for so many of its usual intervals had a gap (chosen, no source) ...
const GAP_INTERVALS: f64 = 8.0;
/// ... unless it is one that speaks only when it turns, and it turned no further than this (chosen,
/// no source).
const GAP_ARC: Angle = Angle::from_rad(0.5 / 180.0 * std::f64::consts::PI);

/// Samples of one clock: unwraps the angle, turns it to the cutting direction, and marks as
/// unusable what does not grow in time.
pub fn one_clock(mut samples: Vec<Sample>, positive: Positive) -> Vec<Sample> {
    let doubtful = out_of_order(samples.iter().map(|sample| sample.time));
    for (sample, doubtful) in samples.iter_mut().zip(doubtful) {
        if doubtful {
            sample.marks.add(Mark::Unusable);
        }
    }
    let usable = |sample: &Sample| !sample.marks.has(Mark::Unusable);
    let angles: Vec<_> = samples.iter().map(|s| (s.angle, usable(s))).collect();
    for (sample, angle) in samples.iter_mut().zip(cutting(&angles, positive)) {
        sample.angle = angle;
    }
    samples
}

/// The same where the readings' clock stands `apart` from the encoder's: it is set back by that first,
/// so that no reading is joined to another place of the turn than its own.
pub fn two_clocks_apart(
    positions: &[Position],
    heights: &[Height],
    positive: Positive,
    apart: Time,
) -> Vec<Sample> {
    if apart == Time::ZERO {
        return two_clocks(positions, heights, positive);
    }
    let set_back = heights.iter().map(|height| Height {
        time: height.time - apart,
        ..*height
    });
    two_clocks(positions, &set_back.collect::<Vec<_>>(), positive)
}

/// Joins two channels: every height gets the angle that the encoder had at the height's own time.
///
/// A delay between the clocks is left in, for the merge to take out. Between two positions the
/// angle is interpolated; over a gap of the encoder, and before or after all of its positions,
/// the sample is marked `angle-in-doubt`.
pub fn two_clocks(positions: &[Position], heights: &[Height], positive: Positive) -> Vec<Sample> {
    let doubtful = out_of_order(positions.iter().map(|position| position.time));
    let kept: Vec<Position> = positions
        .iter()
        .zip(doubtful)
        .filter(|(position, doubtful)| !doubtful && !position.marks.has(Mark::Unusable))
        .map(|(position, _)| *position)
        .collect();
    let angles: Vec<_> = kept.iter().map(|position| (position.angle, true)).collect();
    let angles = cutting(&angles, positive);
    let longest = usual_interval(&kept) * GAP_INTERVALS;

    let doubtful = out_of_order(heights.iter().map(|height| height.time));
    let mut after = 0;
    let join = |(height, doubtful): (&Height, bool)| {
        let mut sample = Sample {
            time: height.time,
            angle: Angle::ZERO,
            reading: height.reading,
            marks: height.marks,
        };
        if doubtful {
            sample.marks.add(Mark::Unusable);
        } else {
            while after < kept.len() && kept[after].time < height.time {
                after += 1;
            }
        }
        match (after.checked_sub(1), kept.get(after)) {
            (Some(before), Some(next)) => {
                let (from, to) = (angles[before], angles[after]);
                let span = next.time - kept[before].time;
                sample.angle = from + (to - from) * ((height.time - kept[before].time) / span);
                if span > longest && (to - from).abs() > GAP_ARC {
                    sample.marks.add(Mark::AngleInDoubt);
                }
                for mark in kept[before].marks.iter().chain(next.marks.iter()) {
                    sample.marks.add(mark);
                }
            }
            (None, Some(next)) if next.time == height.time => sample.angle = angles[after],
            (before, _) => {
                let nearest = before.or(Some(0)).and_then(|at| angles.get(at));
                sample.angle = nearest.copied().unwrap_or(Angle::ZERO);
                sample.marks.add(Mark::AngleInDoubt);
            }
        }
        sample
    };
    heights.iter().zip(doubtful).map(join).collect()
}

/// Which times do not grow: those that fall back, and a lone one that leaps ahead of all the rest.
pub(super) fn out_of_order(times: impl Iterator<Item = Time>) -> Vec<bool> {
    let times: Vec<Time> = times.collect();
    let mut last: Option<Time> = None;
    let mut doubtful = Vec::with_capacity(times.len());
    for (at, &time) in times.iter().enumerate() {
        let grows = last.is_none_or(|last| time > last);
        let next = times.get(at + 1);
        let leaps = next.is_some_and(|&next| next < time && last.is_some_and(|last| next > last));
        let keep = time.is_finite() && grows && !leaps;
        if keep {
            last = Some(time);
        }
        doubtful.push(!keep);
    }
    doubtful
}

/// Unwraps where the angle wraps, and turns it so that it grows the way the tool cuts.
fn cutting(angles: &[(Angle, bool)], positive: Positive) -> Vec<Angle> {
    let sign = match positive {
        Positive::Cutting => 1.0,
        Positive::Backing => -1.0,
    };
    let wraps = wraps(angles);
    let mut last: Option<(Angle, Angle)> = None;
    let mut continuous = Vec::with_capacity(angles.len());
    for &(angle, usable) in angles {
        let unwrapped = match last {
            Some((raw, so_far)) if wraps => so_far + (angle - raw).shortest(),
            _ => angle,
        };
        if usable {
            last = Some((angle, unwrapped));
        }
        continuous.push(unwrapped * sign);
    }
    continuous
}

/// Whether angles stay within one turn and leap from one end of it to the other.
fn wraps(angles: &[(Angle, bool)]) -> bool {
    let usable = || angles.iter().filter(|(_, usable)| *usable).map(|(a, _)| *a);
    let Some(first) = usable().next() else {
        return false;
    };
    let (low, high) = usable().fold((first, first), |(low, high), angle| {
        (low.min(angle), high.max(angle))
    });
    let leaps = usable()
        .zip(usable().skip(1))
        .any(|(a, b)| (b - a).abs() > WRAP_STEP);
    high - low <= Angle::TURN * (1.0 + 1e-9) && leaps
}

/// The median time between two positions.
fn usual_interval(positions: &[Position]) -> Time {
    let mut steps: Vec<f64> = positions
        .windows(2)
        .map(|pair| (pair[1].time - pair[0].time).s())
        .collect();
    Time::from_s(crate::numeric::robust::median(&mut steps).unwrap_or(0.0))
}
