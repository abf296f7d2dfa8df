//! From an inspection folder to its record, one call a stage.

use super::capture;
use super::folder::{Folder, Taken};
use crate::card::{Feature, Role, StylusShape, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::judge::{self, Axis, Bench, axis_from_references};
use crate::quantity::{Angle, Length};
use crate::record::{self, Judged, JudgedFeature, Record, Reference};
use crate::shape::{self, Runout};
use crate::trace::{MergeSettings, Merged, Trace, merge};

/// A feature's trace must cover this much of the turn, or a whole tooth may be missing.
const WHOLE_TURN: Angle = Angle::from_rad(350.0 / 180.0 * std::f64::consts::PI);

/// Judges an inspection.
///
/// # Errors
/// When cards or traces cannot be read, or a trace does not show what its card says.
pub fn verify(folder: &Folder) -> Result<Record> {
    let mut warnings = Vec::new();
    let traces = read(folder, &mut warnings)?;
    let merged = merge_all(folder, traces)?;
    let references = references(folder, &merged, &mut warnings);
    let features = judge_all(folder, &merged, &references, &mut warnings)?;
    record::assemble(&Judged {
        tool: &folder.tool,
        gauge: &folder.gauge,
        inspection: &folder.inspection,
        features,
        references,
        history: merged.iter().flat_map(MergedTrace::history).collect(),
        warnings,
    })
}

/// A trace with what its merge gave.
struct MergedTrace<'a> {
    entry: &'a TraceEntry,
    trace: Trace,
    merged: Merged,
}

impl MergedTrace<'_> {
    fn history(&self) -> Vec<String> {
        let steps = self.trace.history.iter().chain(&self.merged.history);
        steps
            .map(|step| format!("{}: {step}", self.trace.name))
            .collect()
    }
}

/// Reads every trace; all that cannot be read are told together.
fn read<'a>(
    folder: &'a Folder,
    warnings: &mut Vec<String>,
) -> Result<Vec<(&'a TraceEntry, Trace)>> {
    for made in capture::rebuild(&folder.dir, &folder.inspection, &folder.gauge)? {
        warnings.push(format!(
            "{}: made now from the raw log, since the capture ended before it could be written",
            made.file
        ));
        let seen = made.warnings.iter();
        warnings.extend(seen.map(|warning| format!("{}: {warning}", made.file)));
    }
    let mut traces = Vec::new();
    let mut errors = Vec::new();
    for entry in &folder.inspection.traces {
        match folder.trace(entry, warnings) {
            Ok(Taken::Turning(trace)) => traces.push((entry, trace)),
            Ok(Taken::Sliding(_)) => warnings.push(format!(
                "a trace over table travel was read for {}, but only turning traces are judged so far: `face-angle` stays open",
                subject(&entry.role)
            )),
            Err(error) => errors.push(error),
        }
    }
    match Error::all(errors) {
        Some(error) => Err(error),
        None => Ok(traces),
    }
}

fn subject(role: &Role) -> String {
    match role {
        Role::Reference => "the reference".to_owned(),
        Role::Feature(name) => format!("feature `{name}`"),
    }
}

fn merge_all<'a>(
    folder: &Folder,
    traces: Vec<(&'a TraceEntry, Trace)>,
) -> Result<Vec<MergedTrace<'a>>> {
    let settings = MergeSettings::of(&folder.gauge);
    let mut merged_traces = Vec::new();
    let mut errors = Vec::new();
    for (entry, trace) in traces {
        match merge(&trace, &settings) {
            Ok(merged) => merged_traces.push(MergedTrace {
                entry,
                trace,
                merged,
            }),
            Err(error) => errors.push(placed(folder, error, &trace)),
        }
    }
    match Error::all(errors) {
        Some(error) => Err(error),
        None => Ok(merged_traces),
    }
}

/// The error with the trace's file, unless it already names one.
fn placed(folder: &Folder, error: Error, trace: &Trace) -> Error {
    if error.place().file.is_some() {
        error
    } else {
        error.in_file(folder.dir.join(&trace.name).display().to_string())
    }
}

/// Runout from every reference trace; one that shows no round is told and left out, which leaves
/// the runout less known and so can only turn a pass into undecided.
fn references(
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
            match shape::runout(&each.merged, path_radius) {
                Ok(runout) => Some(Reference {
                    z: each.entry.z,
                    runout: judge::as_read(&runout.scaled(lever), &folder.gauge.indicator),
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

fn judge_all<'a>(
    folder: &'a Folder,
    merged: &[MergedTrace],
    references: &[Reference],
    warnings: &mut Vec<String>,
) -> Result<Vec<JudgedFeature<'a>>> {
    let mut judged = Vec::new();
    let mut errors = Vec::new();
    for feature in &folder.tool.features {
        let of_feature =
            |each: &&MergedTrace| each.entry.role == Role::Feature(feature.name.clone());
        let mut traced = false;
        for each in merged.iter().filter(of_feature) {
            traced = true;
            match judge_one(folder, feature, each, references) {
                Ok(one) => judged.push(one),
                Err(error) => errors.push(placed(folder, error, &each.trace)),
            }
        }
        if !traced {
            warnings.push(format!(
                "feature `{}` is on the tool card but no trace of it was taken: nothing is proven about it",
                feature.name
            ));
            judged.push(JudgedFeature {
                feature,
                z: None,
                judgement: None,
                assumptions: Vec::new(),
            });
        }
    }
    for each in merged {
        if let Role::Feature(name) = &each.entry.role
            && !folder
                .tool
                .features
                .iter()
                .any(|feature| &feature.name == name)
        {
            errors.push(
                Error::new(
                    Code::CardValue,
                    format!(
                        "read a trace of feature `{name}`, expected a feature of the tool card"
                    ),
                )
                .in_file(folder.dir.join("inspection.toml").display().to_string())
                .help("name it as a `[[feature]]` of the tool card does"),
            );
        }
    }
    match Error::all(errors) {
        Some(error) => Err(error),
        None => Ok(judged),
    }
}

fn judge_one<'a>(
    folder: &Folder,
    feature: &'a Feature,
    each: &MergedTrace,
    references: &[Reference],
) -> Result<JudgedFeature<'a>> {
    whole_turn(&each.trace)?;
    let known: Vec<(Option<Length>, Runout)> = references
        .iter()
        .map(|reference| (reference.z, reference.runout.clone()))
        .collect();
    let axis = axis_from_references(&known, feature, each.entry.z)
        .or(folder.gauge.setup.runout.map(Axis::Stated))
        .unwrap_or(Axis::Unknown);
    let assumptions = match &axis {
        Axis::Measured { assumptions, .. } => assumptions.clone(),
        Axis::Stated(bound) => vec![format!(
            "the runout is taken as at most {:.1} µm, as the gauge card states",
            bound.um()
        )],
        Axis::Unknown => Vec::new(),
    };
    let bench = Bench {
        gauge: folder.gauge.clone(),
        axis,
    };
    let judgement = judge::judge(&each.merged, &folder.tool, feature, &bench)?;
    Ok(JudgedFeature {
        feature,
        z: each.entry.z,
        judgement: Some(judgement),
        assumptions,
    })
}

/// Refuses a trace that does not go all the way round. A turn that was made but lost readings has
/// holes; a turn that was not made has a short arc.
fn whole_turn(trace: &Trace) -> Result<()> {
    let angles = || trace.samples.iter().map(|sample| sample.angle);
    let first = angles().reduce(Angle::min).unwrap_or(Angle::ZERO);
    let last = angles().reduce(Angle::max).unwrap_or(Angle::ZERO);
    if last - first < WHOLE_TURN {
        return Err(Error::new(
            Code::TraceShort,
            format!(
                "the trace covers {:.0}° of the turn, expected a whole one (360°)",
                (last - first).deg()
            ),
        )
        .help("turn the tool through at least one whole turn with the stylus on it"));
    }
    Ok(())
}
