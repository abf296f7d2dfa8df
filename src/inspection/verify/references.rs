//! The runout that reference traces show.

use super::merged::MergedTrace;
use crate::card::{GaugeCard, Role, StylusShape};
use crate::error::Result;
use crate::inspection::folder::Folder;
use crate::judge;
use crate::quantity::Length;
use crate::record::Reference;
use crate::shape::{self, Runout};
use crate::trace::{DelaySource, Merged};

/// Runout from every reference trace; one that shows no round is told and left out, which leaves
/// the runout less known and so can only turn a pass into undecided.
pub(super) fn references(
    folder: &Folder,
    merged: &[MergedTrace],
    warnings: &mut Vec<String>,
) -> Vec<Reference> {
    let ball = match folder.gauge.stylus.shape {
        StylusShape::Ball => folder.gauge.stylus.radius,
        StylusShape::Flat | StylusShape::Point => Length::ZERO,
    };
    let lever = folder.gauge.indicator.lever_angle.rad().cos();
    merged
        .iter()
        .filter(|each| each.entry.role == Role::Reference)
        .filter_map(|each| {
            let path_radius = each.entry.diameter.map(|diameter| diameter / 2.0 + ball);
            if each.merged.delay.source == DelaySource::Unknown {
                warnings.push(format!(
                    "{}: nothing tells how far the two clocks stand apart, and so which way the tool runs out; the runout is not taken from it; turn the tool forwards and back in the trace, or state `delay_ms`",
                    each.trace.name
                ));
                return None;
            }
            match known_runout(&each.merged, path_radius, &folder.gauge) {
                Ok(runout) => Some(Reference {
                    z: each.entry.z,
                    runout: judge::as_read(runout, &folder.gauge.indicator).scaled(lever),
                }),
                Err(error) => {
                    warnings.push(format!(
                        "{}: {}; the runout is not taken from it",
                        each.trace.name,
                        error.message()
                    ));
                    None
                }
            }
        })
        .collect()
}

/// The runout of a reference trace, with what the indicator's play and drift leave open of it.
///
/// Over whole turns a drift is a ramp that begins anew with each of them, so that little of it turns
/// with the tool.
fn known_runout(merged: &Merged, path_radius: Option<Length>, gauge: &GaugeCard) -> Result<Runout> {
    let play = gauge.indicator.play();
    let resolution = gauge.indicator.resolution;
    let without = |play| shape::round_without_play(merged, play);
    let usual = without(play);
    let mut runout = shape::runout(&usual, path_radius, resolution)?;
    let mut others = Vec::new();
    if play > Length::ZERO {
        others.push(without(play + play / 3f64.sqrt()));
    }
    others.extend(judge::drift(gauge).map(|drift| usual.without_drift(drift)));
    for other in others {
        runout = runout.less_known_by(&shape::runout(&other, path_radius, resolution)?);
    }
    Ok(runout)
}
