//! Noise and drift, from a trace during which nothing moved.

use super::finding::{about, deviation_factors};
use super::{Finding, Study};
use crate::card::GaugeCard;
use crate::error::{Code, Error, Result};
use crate::judge::combined_correlated;
use crate::numeric::linear::{LinearFit, least_squares};
use crate::numeric::moments;
use crate::quantity::{Length, Time};
use nalgebra::{DMatrix, DVector};

/// Fewer readings say too little about their scatter.
const READINGS_LEAST: usize = 20;
/// A correlation of neighbours above this leaves nothing to count by.
const CORRELATION_MOST: f64 = 0.999;

/// Noise about a straight line over time, and how far that line runs during the trace.
///
/// The noise is held to what the card grants the indicator, as a standard uncertainty: its error
/// over √3. The drift is held to that error; the most that its 95 % interval allows is kept.
/// Neighbouring readings are correlated as in a Markov
/// process, so that `n (1 - r) / (1 + r)` of them count.
///
/// # Errors
/// `study` when there are fewer than 20 readings, or all at one time.
pub fn rest(readings: &[(Time, Length)], gauge: &GaugeCard) -> Result<Study> {
    let indicator = &gauge.indicator;
    let (line, length) = line_over_time(readings)?;
    let left: Vec<f64> = readings
        .iter()
        .map(|(time, reading)| {
            reading.mm() - line.values[0] - line.values[1] * (*time - readings[0].0).s()
        })
        .collect();
    // Readings that never change scatter by no more than their step hides.
    let hidden = indicator.resolution.mm() / 12f64.sqrt();
    // What stays within a step is rounding, of which the correlation says nothing.
    let neighbours = if line.residual_sd > hidden {
        moments::lag_1(&left)
            .unwrap_or(0.0)
            .clamp(0.0, CORRELATION_MOST)
    } else {
        0.0
    };
    let counting = (1.0 - neighbours) / (1.0 + neighbours);
    let noise = Length::from_mm(line.residual_sd.max(hidden));
    let free = line.degrees_of_freedom as f64 * counting;
    let [low, high] = deviation_factors(free).ok_or_else(|| {
        Error::new(
            Code::Study,
            "the readings wander too slowly to tell noise from drift",
        )
        .help("take a longer trace at rest")
    })?;

    let drift = Length::from_mm(line.values[1] * length.s());
    let u = combined_correlated(&[0.0, length.s()], &line.covariance).unwrap_or(0.0);
    let u = Length::from_mm((u / counting.sqrt()).hypot(hidden));
    let drifts = about(drift.abs(), u);
    let (lowest, highest) = readings.iter().fold(
        (readings[0].1, readings[0].1),
        |(low, high), (_, reading)| (low.min(*reading), high.max(*reading)),
    );
    Ok(Study {
        name: "rest",
        findings: vec![
            Finding::length(
                "noise",
                noise,
                [noise * low, noise * high],
                indicator.max_error / 3f64.sqrt(),
                "look for what shakes the bench: a machine or compressor that runs, a loose holder, \
                 a cable that pulls on the plunger; then take the trace again",
            ),
            Finding::length(
                "drift during the trace",
                drift.abs(),
                drifts,
                indicator.max_error,
                "let gauge and tool take the temperature of the room, tighten what holds the \
                 indicator, and keep each inspection shorter than the drift takes",
            ),
        ],
        kept: Some(drifts[1]),
        lasted: Some(length),
        notes: vec![
            format!(
                "{} readings over {:.0} s, {:.2} µm between the lowest and the highest",
                readings.len(),
                length.s(),
                (highest - lowest).um()
            ),
            format!("neighbouring readings correlate by {neighbours:.2}: {free:.0} of them count"),
        ],
    })
}

/// A straight line over the time since the first reading, and the time between first and last.
fn line_over_time(readings: &[(Time, Length)]) -> Result<(LinearFit, Time)> {
    let short = || {
        Error::new(
            Code::Study,
            format!(
                "read {} readings at rest, expected {READINGS_LEAST} or more over some time",
                readings.len()
            ),
        )
        .help("leave the stylus on the tool for a minute, with nothing moving")
    };
    if readings.len() < READINGS_LEAST {
        return Err(short());
    }
    let since = |row: usize| (readings[row].0 - readings[0].0).s();
    let design = DMatrix::from_fn(readings.len(), 2, |row, column| {
        if column == 0 { 1.0 } else { since(row) }
    });
    let observed = DVector::from_fn(readings.len(), |row, _| readings[row].1.mm());
    let line = least_squares(&design, &observed).ok_or_else(short)?;
    Ok((line, Time::from_s(since(readings.len() - 1))))
}
