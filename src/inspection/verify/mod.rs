//! From an inspection folder to its record, one call a stage.

mod bench;
mod beyond_cards;
mod engaged;
mod graduated;
mod lands;
mod merged;
mod read;
mod references;
mod sense;
mod several;
mod studied;

pub(super) use engaged::{Engaged, Moved, Read};

use super::Folder;
use super::corrected;
use super::logs::{self, Made};
use super::noted::noted;
use crate::card::{Feature, Role, TraceEntry};
use crate::error::Result;
use crate::judge::{Effort, FeatureJudgement};
use crate::quantity::{Angle, Length};
use crate::record::{self, Judged, JudgedFrom, Record};
use crate::shape::{Eccentricity, Tooth};

/// A capture that ended early may lack traces that nobody can tell were wanted.
const CUT_SHORT: &str = "the capture was cut short before its end: traces that were still to be taken are missing, and the last one may be shorter than was wanted; capture again to be sure";

/// Judges an inspection, with as many trials as its decisions need.
///
/// # Errors
/// When cards or traces cannot be read, or a trace does not show what its card says.
pub fn verify(folder: &Folder) -> Result<Record> {
    verify_with(folder, Effort::default())
}

/// The same with trials as `effort` says.
///
/// # Errors
/// As [`verify`].
pub fn verify_with(folder: &Folder, effort: Effort) -> Result<Record> {
    let mut warnings = Vec::new();
    if folder.inspection.interrupted {
        warnings.push(CUT_SHORT.to_owned());
    }
    sense::hint(folder, &mut warnings);
    let folder = studied::studied(folder, &mut warnings);
    let left = logs::rebuild(&folder.dir, &folder.inspection, &folder.gauge)?;
    warnings.extend(left.iter().flat_map(made_now));
    let mut from = folder.cards.clone();
    let traces = read::read(&folder, None, &mut from, &mut warnings)?;
    let mut record = judged(&folder, traces, effort, warnings, Some(from), false)?.record;
    record.noted = noted(&folder.dir)?;
    Ok(corrected::with_settings(&folder, record))
}

/// What there is before a grind: the tool as it was judged, and what its fixture did.
///
/// # Errors
/// As [`verify`]; and where a trace of an engaged fixture does not show what its card says.
pub(super) fn before_grind(folder: &Folder, effort: Effort) -> Result<Before> {
    let mut warnings = Vec::new();
    let folder = studied::studied(folder, &mut warnings);
    logs::rebuild(&folder.dir, &folder.inspection, &folder.gauge)?;
    let mut from = folder.cards.clone();
    let mut traces = read::read(&folder, None, &mut from, &mut warnings)?;
    let engaged = std::mem::take(&mut traces.engaged);
    let whole = judged(&folder, traces, effort, warnings, Some(from), true)?;
    let engaged = engaged::engaged(&folder, engaged, &whole.seen, whole.runout)?;
    Ok(Before {
        record: whole.record,
        features: whole.seen,
        engaged,
    })
}

/// A worn tool as it was measured.
pub(super) struct Before {
    pub record: Record,
    pub features: Vec<Seen>,
    pub engaged: Vec<Engaged>,
}

/// What one trace of a feature showed.
pub(super) struct Seen {
    pub feature: Feature,
    pub judgement: FeatureJudgement,
    /// How well the tool's axis is known there; nothing where it is not.
    pub axis: Option<Length>,
    /// Where along the tool it was taken.
    pub z: Option<Length>,
    /// As it was read, over the turn.
    pub read: Vec<Read>,
    /// Arcs that stand still at the lowest reading, as from where on and how far: the bottom of a gap, or
    /// the plunger at the end of its travel with the surface anywhere below.
    pub bottoms: Vec<(Angle, Angle)>,
}

impl Seen {
    /// Where a land ends behind its edge: as the card has it, or before.
    pub(super) fn end_of(&self, tooth: &Tooth) -> Angle {
        self.feature.land.unwrap_or(tooth.end).min(tooth.end)
    }
}

/// A folder as it was judged.
struct Whole {
    record: Record,
    seen: Vec<Seen>,
    /// Of the first round that shows one.
    runout: Option<Eccentricity>,
}

/// Judges one trace that is still growing, from its raw log as it stands now, beside the references
/// of its folder. Nothing is written, and what takes several traces of a feature is left out.
///
/// # Errors
/// As [`verify`]; above all `trace-short` before the tool has gone all the way round.
pub fn verify_growing(folder: &Folder, growing: &TraceEntry, effort: Effort) -> Result<Record> {
    let mut warnings = Vec::new();
    let mut folder = studied::studied(folder, &mut warnings);
    folder.inspection.interrupted = false;
    let traces = &mut folder.inspection.traces;
    traces.retain(|entry| entry.role == Role::Reference && entry.source != growing.source);
    traces.push(growing.clone());
    let of_trace = |feature: &Feature| growing.role == Role::Feature(feature.name.clone());
    folder.tool.features.retain(of_trace);
    let unkept = &mut JudgedFrom::default();
    let traces = read::read(&folder, Some(growing), unkept, &mut warnings)?;
    Ok(judged(&folder, traces, effort, warnings, None, false)?.record)
}

/// The record of what was read, and what was seen of each feature where that is kept. It says what it was
/// judged `from`, unless a trace still grows.
fn judged(
    folder: &Folder,
    traces: read::Traces,
    effort: Effort,
    mut warnings: Vec<String>,
    from: Option<JudgedFrom>,
    keeps_seen: bool,
) -> Result<Whole> {
    let read::Traces {
        turned,
        slid: slides,
        ..
    } = traces;
    let graduated = graduated::Graduated::of(folder, turned.iter().map(|(_, trace)| trace));
    let folder = &graduated.folder;
    let merged = merged::merge_all(folder, turned)?;
    let references = references::references(folder, &merged, &mut warnings);
    let mut lands = lands::judge_all(folder, &merged, &references, effort, &mut warnings)?;
    let coarse = graduated.doubt.as_ref();
    beyond_cards::doubt(folder, &merged, &references, &mut lands, coarse);
    let mut beyond = match from {
        Some(_) => several::beyond(folder, &lands, &merged, &slides, &references, effort)?,
        None => Vec::new(),
    };
    // A verdict alone needs none of it.
    let kept = lands.iter().filter(|_| keeps_seen);
    let beside = kept.map(|each| engaged::Beside::of(folder, each));
    let beside = beside.collect();
    let runout = references.first().map(|reference| reference.runout.axis);
    let mut features: Vec<_> = lands.into_iter().map(|each| each.judged).collect();
    sense::settle(folder, &mut features, &mut beyond);
    let seen = engaged::seen(&features, beside);
    let record = record::assemble(&Judged {
        tool: &folder.tool,
        gauge: &folder.gauge,
        inspection: &folder.inspection,
        simulated: folder.simulated,
        features,
        beyond,
        references,
        history: merged.iter().flat_map(|each| each.history()).collect(),
        warnings,
        seed: effort.seed,
        trials: effort.trials,
        from,
    })?;
    Ok(Whole {
        record,
        seen,
        runout,
    })
}

/// What is said of a trace file that a capture left to be made.
fn made_now(made: &Made) -> Vec<String> {
    let file = &made.file;
    let now = format!(
        "{file}: made now from the raw log, since the capture ended before it could be written"
    );
    let seen = made.warnings.iter();
    std::iter::once(now)
        .chain(seen.map(|warning| format!("{file}: {warning}")))
        .collect()
}
