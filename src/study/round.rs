//! A check on a master round: what the gauge makes of something whose form is known.

use super::finding::about;
use super::{Finding, Study};
use crate::card::GaugeCard;
use crate::error::Result;
use crate::numeric::moments;
use crate::quantity::Length;
use crate::shape::{self, Runout};
use crate::trace::Merged;

/// What the master's certificate says, and how it is touched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Master {
    /// Its roundness, peak to valley.
    pub form: Length,
    /// Distance of the stylus' centre from its axis, where its diameter is known.
    pub path_radius: Option<Length>,
}

/// Form and error about the round, held to the card's limit of error and the master's own form,
/// and the runout, held to the card's bound where it states one.
///
/// # Errors
/// `reference` when the trace shows no round.
pub fn round(merged: &Merged, master: &Master, gauge: &GaugeCard) -> Result<Study> {
    let indicator = &gauge.indicator;
    let found = shape::runout(merged, master.path_radius, indicator.resolution)?
        .scaled(indicator.lever_angle.rad().cos());
    let scatter: Vec<f64> = merged
        .cells
        .iter()
        .map(|cell| cell.standard_error.mm())
        .collect();
    let scatter = moments::mean(&scatter).unwrap_or(0.0);
    let step = indicator.resolution.mm() / 12f64.sqrt();
    let u = Length::from_mm(scatter.hypot(step) * 2f64.sqrt());
    // An error within ± its limit spans twice the limit at most.
    let mut findings = vec![
        Finding::length(
            "form about the round",
            found.form,
            about(found.form, u),
            indicator.max_error * 2.0 + master.form,
            "clean the master and the stylus and repeat; if it stays, the indicator errs by more \
             than its card says, or the spindle wobbles: have them checked",
        ),
        Finding::length(
            "error, root mean square",
            found.rms,
            about(found.rms, u / 2.0),
            Length::from_mm((indicator.max_error.mm() / 3f64.sqrt()).hypot(master.form.mm() / 2.0)),
            "state the larger error in the gauge card, or keep this study with `--keep`, until the indicator is repaired",
        ),
    ];
    findings.extend(runout(&found, gauge));
    let mut notes = vec![format!(
        "{:.0}° of the turn lie on the round, off centre by {:.2} µm",
        found.round_arc.deg(),
        found.eccentricity().value.um()
    )];
    if !found.left_out.is_empty() {
        notes.push(format!(
            "{} arcs do not lie on the round and were left out: a master has none",
            found.left_out.len()
        ));
    }
    Ok(Study {
        name: "round",
        findings,
        // A rectangular error of this half-width scatters by as much.
        kept: Some(found.rms * 3f64.sqrt()),
        lasted: None,
        notes,
    })
}

fn runout(found: &Runout, gauge: &GaugeCard) -> Option<Finding> {
    let bound = gauge.setup.runout?;
    let off = found.eccentricity();
    Some(Finding::length(
        "runout, eccentricity",
        off.value,
        about(off.value, off.standard_uncertainty),
        bound,
        "clean collet and shank and clamp again; if it stays, state a larger `runout_mm` in the \
         gauge card, or take a reference trace with every inspection",
    ))
}
