//! The steps that the readings of a trace come in.

use super::Trace;
use crate::quantity::Length;

/// So fine may two readings differ that were written with the same number of steps; mm.
const ALIKE: f64 = 2.5e-6;
/// Steps may lie off whole numbers of the smallest by this part of it (chosen, no source).
const WHOLE: f64 = 0.1;
/// Fewer readings that differ tell nothing (chosen, no source) ...
const FEWEST: usize = 8;
/// ... and a grid of so many bits less than the readings could have is no chance (one in a million).
const BITS: f64 = 20.0;
/// A step that is coarser than this many least counts is another step (chosen, no source).
const COARSER: f64 = 1.5;

/// The step that all readings of a trace are whole numbers of, where it is surely coarser than
/// `least_count`.
///
/// Readings on a grid of that least count would all lie on a grid `n` times as coarse by chance with
/// a probability of `n` to minus their number.
pub fn coarser_step(trace: &Trace, least_count: Length) -> Option<Length> {
    let usable = trace.samples.iter().filter(|sample| sample.marks.usable());
    let mut levels: Vec<f64> = usable.map(|sample| sample.reading.mm()).collect();
    levels.sort_unstable_by(f64::total_cmp);
    levels.dedup_by(|next, kept| (*next - *kept).abs() < ALIKE);
    if levels.len() < FEWEST || least_count <= Length::ZERO {
        return None;
    }
    let mut gaps: Vec<f64> = levels.windows(2).map(|pair| pair[1] - pair[0]).collect();
    gaps.sort_unstable_by(f64::total_cmp);
    let smallest = gaps.first().copied()?;
    let bits = gaps.len() as f64 * (smallest / least_count.mm()).log2();
    if smallest < COARSER * least_count.mm() || bits < BITS {
        return None;
    }
    // The longer the gaps gone through, the better the step is known.
    let (mut step, mut sum, mut steps) = (smallest, 0.0, 0.0);
    for gap in gaps {
        let whole = (gap / step).round();
        if (gap / step - whole).abs() > WHOLE {
            return None;
        }
        sum += gap;
        steps += whole;
        step = sum / steps;
    }
    Some(Length::from_mm(step))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::Role;
    use crate::quantity::{Angle, Time};
    use crate::sample::{Marks, Sample};

    fn trace(readings: impl Iterator<Item = f64>) -> Trace {
        let samples = readings.enumerate().map(|(at, reading)| Sample {
            time: Time::from_s(at as f64 / 50.0),
            angle: Angle::from_deg(at as f64 / 2.0),
            reading: Length::from_mm(reading),
            marks: Marks::default(),
        });
        Trace {
            name: "seat.csv".to_owned(),
            role: Role::Reference,
            z: None,
            rezeroed: false,
            two_clocks: false,
            apart: Time::ZERO,
            samples: samples.collect(),
            history: Vec::new(),
        }
    }

    #[track_caller]
    fn check(readings: impl Iterator<Item = f64>, expected_um: Option<f64>) {
        let found = coarser_step(&trace(readings), Length::from_mm(0.001));
        let found_um = found.map(|step| (step.um() * 100.0).round() / 100.0);
        assert_eq!(found_um, expected_um);
    }

    fn wave(count: usize) -> impl Iterator<Item = f64> {
        (0..count).map(|at| 0.3 * (at as f64 * 0.37).sin() + 0.1234)
    }

    fn stepped(readings: impl Iterator<Item = f64>, step: f64) -> impl Iterator<Item = f64> {
        // As a file has them.
        readings.map(move |reading| ((reading / step).round() * step * 1e6).round() / 1e6)
    }

    #[test]
    fn readings_in_whole_hundredths_are_told_wherever_their_zero_is() {
        check(stepped(wave(400), 0.01), Some(10.0));
        check(stepped(wave(400), 0.01).map(|at| at + 0.0037), Some(10.0));
        check(stepped(wave(400), 0.02), Some(20.0));
        check(stepped(wave(400), 0.05), Some(50.0));
    }

    #[test]
    fn steps_of_an_inch_are_told_where_millimetres_are_stated() {
        check(stepped(wave(400), 0.00254), Some(2.54));
        check(stepped(wave(400), 0.0127), Some(12.7));
    }

    #[test]
    fn readings_in_steps_of_the_card_are_as_stated() {
        check(stepped(wave(400), 0.001), None);
        check(stepped(wave(60), 0.001), None);
        check(wave(400), None);
    }

    #[test]
    fn few_readings_that_differ_tell_no_step() {
        check(stepped(wave(400), 0.1), None);
        check([0.01, 0.02, 0.05, 0.07].into_iter().cycle().take(400), None);
    }
}
