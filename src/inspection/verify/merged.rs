//! Every trace merged over the turn.

use super::read::Turned;
use crate::card::{Role, TraceEntry};
use crate::error::{Error, Result};
use crate::inspection::folder::Folder;
use crate::quantity::{Angle, Estimate, Length, Time};
use crate::trace::{DelaySource, MergeSettings, Merged, Trace, merge};

/// Two traces whose clocks stand apart by as much but for this are taken to have one delay.
const SAME_CLOCKS: Time = Time::from_s(0.6);

/// A trace with what its merge gave.
pub(super) struct MergedTrace<'a> {
    pub entry: &'a TraceEntry,
    pub trace: Trace,
    pub merged: Merged,
}

impl MergedTrace<'_> {
    pub fn history(&self) -> Vec<String> {
        let steps = self.trace.history.iter().chain(&self.merged.history);
        steps
            .map(|step| format!("{}: {step}", self.trace.name))
            .collect()
    }
}

/// Merges every trace, those of features first: a round takes their delay.
pub(super) fn merge_all<'a>(
    folder: &Folder,
    traces: Vec<Turned<'a>>,
) -> Result<Vec<MergedTrace<'a>>> {
    let usual = MergeSettings::of(&folder.gauge);
    let mut shown: Option<Estimate<Time>> = None;
    let mut merged_traces = Vec::new();
    let mut errors = Vec::new();
    let mut placed_traces: Vec<(usize, Turned)> = traces.into_iter().enumerate().collect();
    placed_traces.sort_by_key(|(_, (entry, _))| entry.role == Role::Reference);
    for (place, (entry, trace)) in placed_traces {
        let of_feature = entry.role != Role::Reference;
        // Clocks that were started anew in between stand apart otherwise.
        let alike = |shown: &Estimate<Time>| (shown.value - trace.apart).abs() < SAME_CLOCKS;
        let settings = MergeSettings {
            shown: shown.filter(|shown| !of_feature && alike(shown)),
            resolve: resolve(folder, entry),
            ..usual
        };
        match merge(&trace, &settings) {
            Ok(merged) => {
                if of_feature && trace.two_clocks && merged.delay.source == DelaySource::Found {
                    shown = shown.or(Some(merged.delay.estimate));
                }
                let each = MergedTrace {
                    entry,
                    trace,
                    merged,
                };
                merged_traces.push((place, each));
            }
            Err(error) => errors.push((place, placed(folder, error, &trace))),
        }
    }
    errors.sort_by_key(|(place, _)| *place);
    match Error::all(errors.into_iter().map(|(_, error)| error)) {
        Some(error) => Err(error),
        None => {
            merged_traces.sort_by_key(|(place, _)| *place);
            Ok(merged_traces.into_iter().map(|(_, each)| each).collect())
        }
    }
}

/// How fine the places of a feature's trace are to be: a ball shows nothing narrower than it rolls
/// over a few places of. A round has nothing narrow, nor does a trace show more than it was read at.
fn resolve(folder: &Folder, entry: &TraceEntry) -> Option<Angle> {
    /// This part of a tip's size: a ride over an edge then has six places or more.
    const OF_TIP: f64 = 0.1;
    let Role::Feature(name) = &entry.role else {
        return None;
    };
    let features = &folder.tool.features;
    let feature = features.iter().find(|feature| feature.name == *name)?;
    let tip = folder.gauge.stylus.radius;
    let circle = feature.diameter / 2.0;
    (tip > Length::ZERO && circle > Length::ZERO).then(|| Angle::from_rad(tip * OF_TIP / circle))
}

/// The error with the trace's file, unless it already names one.
pub(super) fn placed(folder: &Folder, error: Error, trace: &Trace) -> Error {
    if error.place().file.is_some() {
        error
    } else {
        error.in_path(folder.dir.join(&trace.name))
    }
}

/// Which setting of the indicator's zero a trace was taken with, counted from 0.
pub(super) fn zero_of(folder: &Folder, entry: &TraceEntry) -> usize {
    let traces = &folder.inspection.traces;
    let at = traces.iter().position(|each| each == entry);
    let up_to = traces.iter().take(at.map_or(0, |at| at + 1));
    up_to.filter(|each| each.rezeroed).count()
}
