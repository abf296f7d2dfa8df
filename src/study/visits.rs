//! Repeatability over passes and hysteresis from both directions, from a trace turned round.

use super::finding::{about, deviation_factors};
use super::{Finding, Study};
use crate::card::GaugeCard;
use crate::error::{Code, Error, Result};
use crate::numeric::moments;
use crate::trace::Merged;

/// How well one place reads the same each time that the stylus comes back to it the same way.
///
/// Held to what the card grants the indicator, as a standard uncertainty: its error over √3. What
/// differs between two visits may be common to all places of a visit, so only the visits are
/// counted, not the places.
///
/// # Errors
/// `study` when fewer than three visits were made.
pub fn repeat(merged: &Merged, gauge: &GaugeCard) -> Result<Study> {
    let visits: Vec<f64> = merged
        .cells
        .iter()
        .map(|cell| f64::from(cell.passes))
        .collect();
    let visits = moments::mean(&visits).unwrap_or(0.0).round();
    // Visits the two ways are not compared, so each way loses one to its mean.
    let ways = if merged.hysteresis.is_some() {
        2.0
    } else {
        1.0
    };
    let free = visits - ways;
    let factors = deviation_factors(free).filter(|_| free >= 2.0);
    let [low, high] = factors.ok_or_else(|| {
        Error::new(
            Code::Study,
            format!("the trace comes to a place {visits} times on average, expected 3 or more the same way"),
        )
        .help("turn the tool five times or more on the same round or tooth, then study that trace")
    })?;
    let found = merged.repeatability;
    Ok(Study {
        name: "repeat",
        findings: vec![Finding::length(
            "repeatability between passes",
            found,
            [found * low, found * high],
            gauge.indicator.max_error / 3f64.sqrt(),
            "clean stylus and tool, look for play in the spindle and the holder, turn slower; then \
             take the trace again",
        )],
        kept: Some(found),
        lasted: None,
        notes: vec![
            format!("{visits:.0} visits a place; the noise of one reading is {:.2} µm", merged.noise.um()),
            "what differs between visits is taken as common to a whole visit, so more turns narrow \
             the interval and more places do not"
                .to_owned(),
        ],
    })
}

/// What the indicator reads more one way than the other, held to the card's hysteresis.
///
/// # Errors
/// `study` when the tool only turned one way.
pub fn reversal(merged: &Merged, gauge: &GaugeCard) -> Result<Study> {
    let found = merged.hysteresis.ok_or_else(|| {
        Error::new(Code::Study, "the tool only turned one way, expected both").help(
            "turn the tool a whole turn forwards and a whole turn back, without lifting the stylus",
        )
    })?;
    let size = found.value.abs();
    Ok(Study {
        name: "reversal",
        findings: vec![Finding::length(
            "hysteresis",
            size,
            about(size, found.standard_uncertainty),
            gauge.indicator.hysteresis,
            "state the hysteresis found in the gauge card, or keep this study with `--keep`; an \
             indicator that grew worse since its certificate wants cleaning or repair",
        )],
        kept: Some(size),
        lasted: None,
        notes: vec![format!(
            "turned the cutting way it reads {:+.2} µm against the backing way",
            found.value.um()
        )],
    })
}
