//! A check on known steps: whether a millimetre of the plunger reads as one.

use super::{Finding, Study};
use crate::card::GaugeCard;
use crate::error::{Code, Error, Result};
use crate::judge::{Outcome, indicator_error};
use crate::numeric::moments;
use crate::quantity::{Length, Time};

/// A height that is known, and what was read while the stylus rested on it.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownHeight {
    /// Over any height that is common to all of them.
    pub nominal: Length,
    /// Taken while nothing moved.
    pub readings: Vec<(Time, Length)>,
}

/// What known heights say of the indicator's scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The gain with its interval, and what to do.
    pub study: Study,
    /// What a millimetre reads, in mm.
    pub gain: f64,
    /// Its standard uncertainty, the indicator's own error left out.
    pub standard_uncertainty: f64,
    /// From the lowest to the highest of the heights.
    pub over: Length,
}

/// Fewer readings at a height say too little of it.
const READINGS_LEAST: usize = 10;
/// Two heights nearer to each other than this are no step.
const STEP_LEAST: Length = Length::from_mm(0.05);
/// A gain that is known no better than this settles nothing: 1 % of a drop is what a stylus brings.
const SETTLED: f64 = 0.005;
/// Two-sided 95 % of a normal distribution.
const TWO_SIDED_95: f64 = 1.96;

/// The gain from two or more heights whose differences are known to `nominal_uncertainty`, a standard
/// uncertainty of each height.
///
/// The gain is the slope of a straight line through the mean readings over the heights. A lever's
/// readings are taken by the cosine of its angle first, so that a wrong angle shows as well.
///
/// # Errors
/// `study` when there are fewer than two heights, or too few readings, or no step.
pub fn step(
    heights: &[KnownHeight],
    nominal_uncertainty: Length,
    gauge: &GaugeCard,
) -> Result<Step> {
    let indicator = &gauge.indicator;
    let cosine = indicator.lever_angle.rad().cos();
    let nominals: Vec<f64> = heights.iter().map(|height| height.nominal.mm()).collect();
    let over = over(&nominals)?;
    let mut levels = Vec::new();
    for height in heights {
        levels.push(Level::of(height, cosine, indicator.resolution)?);
    }
    let middle = moments::mean(&nominals).unwrap_or(0.0);
    let squares: f64 = nominals
        .iter()
        .map(|nominal| (nominal - middle).powi(2))
        .sum();
    let weights: Vec<f64> = nominals
        .iter()
        .map(|nominal| (nominal - middle) / squares)
        .collect();
    let slope = |values: &[f64]| -> f64 { weights.iter().zip(values).map(|(w, v)| w * v).sum() };
    let means: Vec<f64> = levels.iter().map(|level| level.mean).collect();
    let gain = slope(&means);
    // A block that is slid under a raised plunger is met from above, one that is wrung on may lift it:
    // the play is anywhere between nothing and all of it.
    let play = indicator.hysteresis.mm() / 12f64.sqrt();
    let variance: f64 = weights
        .iter()
        .zip(&levels)
        .map(|(weight, level)| {
            let nominal = gain * nominal_uncertainty.mm();
            weight * weight * (level.u * level.u + play * play + nominal * nominal)
        })
        .sum();
    let standard_uncertainty = variance.sqrt();
    let travel: Vec<(Length, f64)> = means
        .iter()
        .zip(&weights)
        .map(|(mean, weight)| (Length::from_mm(*mean), *weight))
        .collect();
    let error = indicator_error(indicator, &travel);
    let whole = standard_uncertainty.hypot(error);
    let interval = [gain - TWO_SIDED_95 * whole, gain + TWO_SIDED_95 * whole];
    let outcome = if !(interval[0]..=interval[1]).contains(&1.0) {
        Outcome::Fail
    } else if whole > SETTLED {
        Outcome::Undecided
    } else {
        Outcome::Pass
    };
    let advice = match outcome {
        Outcome::Undecided => "take a higher step, or blocks that are known better",
        _ => {
            "a gain far from 1 is no error of the indicator: check whether it shows inches, `count_mm`, `resolution_mm` and `lever_angle_deg`; a small one can be kept with `--keep`, and every reading is then divided by it"
        }
    };
    let off = means
        .iter()
        .zip(&nominals)
        .map(|(mean, nominal)| mean - gain * nominal);
    let off: Vec<f64> = off.collect();
    let level = moments::mean(&off).unwrap_or(0.0);
    let farthest = off
        .iter()
        .map(|off| (off - level).abs())
        .fold(0.0, f64::max);
    let mut notes = vec![format!(
        "{} heights over {:.4} mm; the indicator's own limit of error over that travel leaves ± {:.2} % of the gain open",
        heights.len(),
        over.mm(),
        TWO_SIDED_95 * error * 100.0
    )];
    if heights.len() > 2 {
        notes.push(format!(
            "the heights stand within {:.2} µm of a straight line",
            farthest * 1000.0
        ));
    }
    Ok(Step {
        study: Study {
            name: "step",
            findings: vec![Finding {
                quantity: "gain of the indicator",
                value: gain,
                interval: Some(interval),
                unit: "",
                allowed: None,
                outcome: Some(outcome),
                advice,
            }],
            kept: None,
            lasted: None,
            notes,
        },
        gain,
        standard_uncertainty,
        over,
    })
}

/// From the lowest to the highest of the heights.
fn over(nominals: &[f64]) -> Result<Length> {
    let lowest = nominals.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = nominals.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let over = Length::from_mm(highest - lowest);
    if nominals.len() < 2 || over < STEP_LEAST {
        return Err(Error::new(
            Code::Study,
            format!(
                "read {} heights over {:.4} mm, expected two or more over {:.2} mm or more",
                nominals.len(),
                over.mm().max(0.0),
                STEP_LEAST.mm()
            ),
        )
        .help("rest the stylus on two gauge blocks in turn, a trace for each, over as much travel as lands need"));
    }
    Ok(over)
}

/// The mean of what was read at a height.
struct Level {
    mean: f64,
    /// Its standard uncertainty.
    u: f64,
}

impl Level {
    fn of(height: &KnownHeight, cosine: f64, resolution: Length) -> Result<Self> {
        let readings = height
            .readings
            .iter()
            .map(|(_, reading)| reading.mm() * cosine);
        let readings: Vec<f64> = readings.collect();
        let (Some(mean), Some(deviation)) = (
            moments::mean(&readings),
            moments::standard_deviation(&readings),
        ) else {
            return Err(too_few(readings.len()));
        };
        if readings.len() < READINGS_LEAST {
            return Err(too_few(readings.len()));
        }
        let step = resolution.mm() / 12f64.sqrt();
        // Neighbouring readings are correlated as in a Markov process, so that `n (1 - r) / (1 + r)`
        // of them count; those that never leave a step are off by it alike.
        let alike = moments::lag_1(&readings).unwrap_or(0.0).clamp(0.0, 0.999);
        let count = readings.len() as f64 * (1.0 - alike) / (1.0 + alike);
        let chance = deviation / count.max(1.0).sqrt();
        Ok(Self {
            mean,
            u: chance.hypot(if deviation < step * 2.0 { step } else { 0.0 }),
        })
    }
}

fn too_few(readings: usize) -> Error {
    Error::new(
        Code::Study,
        format!("read {readings} readings at a height, expected {READINGS_LEAST} or more"),
    )
    .help("leave the stylus on each block for some seconds, with nothing moving")
}
