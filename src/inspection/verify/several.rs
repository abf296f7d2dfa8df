//! What takes several traces of a feature, or another kind of trace: back taper and faces.

use super::bench::bench;
use super::lands::{JudgedTrace, unknown};
use super::merged::{MergedTrace, zero_of};
use super::read::Slid;
use crate::card::{Feature, Name, Surface};
use crate::error::{Error, Result};
use crate::inspection::folder::Folder;
use crate::judge::{self, Bench, Doubt, Effort, Figure, Plane};
use crate::quantity::{Length, Time};
use crate::record::{Beyond, Reference};

/// From the end of one trace to the start of the next (common practice, no source).
const BETWEEN_TRACES: Time = Time::from_s(180.0);

/// What takes more than one turning trace of a feature, or another kind of trace.
pub(super) fn beyond<'a>(
    folder: &'a Folder,
    judged: &[JudgedTrace<'a, '_>],
    merged: &[MergedTrace],
    slides: &[Slid],
    references: &[Reference],
    effort: Effort,
) -> Result<Vec<Beyond<'a>>> {
    let errors = slides
        .iter()
        .filter_map(|slid| unknown(folder, slid.feature));
    if let Some(error) = Error::all(errors) {
        return Err(error);
    }
    let features = folder.tool.features.iter();
    Ok(features
        .flat_map(|feature| {
            let faces = faces(folder, feature, slides, references, effort);
            taper(folder, feature, judged, merged, effort)
                .into_iter()
                .chain(faces)
        })
        .collect())
}

/// The angle of a face from every trace of it over table travel.
fn faces<'a>(
    folder: &Folder,
    feature: &'a Feature,
    slides: &[Slid],
    references: &[Reference],
    effort: Effort,
) -> Option<Beyond<'a>> {
    let of_feature = slides.iter().filter(|slid| slid.feature == feature.name);
    let mut assumptions = Vec::new();
    let mut doubts = Vec::new();
    let mut figures: Vec<(Option<Length>, Figure)> = of_feature
        .map(|slid| {
            let (bench, taken) = bench(folder, feature, slid.entry.z, references);
            assumptions.extend(taken);
            let mut figure = judge::face_angle(&slid.rows, feature, &bench, effort);
            doubts.extend(lean_in_doubt(std::slice::from_mut(&mut figure), &bench));
            (slid.entry.z, figure)
        })
        .collect();
    if figures.is_empty() && feature.asks_for_travel() {
        figures.push((None, judge::no_face_trace()));
    } else if figures.is_empty() {
        return None;
    } else {
        assumptions.extend(judge::face_assumptions());
    }
    Some(Beyond {
        feature,
        figures,
        doubts,
        assumptions,
    })
}

/// What an unproven lean leaves in doubt, taken from the figures.
fn lean_in_doubt(figures: &mut [Figure], bench: &Bench) -> Option<Doubt> {
    let doubt = judge::unproven_lean(figures, bench)?;
    doubt.apply(figures);
    Some(doubt)
}

/// The back taper of a feature; nothing where it was neither asked for nor traced for.
fn taper<'a>(
    folder: &Folder,
    feature: &'a Feature,
    judged: &[JudgedTrace<'a, '_>],
    merged: &[MergedTrace],
    effort: Effort,
) -> Option<Beyond<'a>> {
    let planes: Vec<Plane> = judged
        .iter()
        .filter(|each| each.judged.feature.name == feature.name)
        .filter_map(|each| {
            let (trace, bench) = each.from.as_ref()?;
            Some(Plane {
                z: trace.entry.z?,
                began: began(merged, trace),
                zero: zero_of(folder, trace.entry),
                merged: &trace.merged,
                judgement: each.judged.judgement.as_ref()?,
                bench,
            })
        })
        .collect();
    let asked = feature.limits.get(Name::BackTaper).is_some();
    let radial = feature.surface == Surface::Radial;
    if !asked && (planes.len() < 2 || !radial) {
        return None;
    }
    let mut figures = judge::back_taper(feature, &planes, effort);
    let bench = planes.first().map(|plane| plane.bench);
    let doubts = bench.and_then(|bench| lean_in_doubt(&mut figures, bench));
    for doubt in planes.iter().flat_map(|plane| &plane.judgement.doubts) {
        doubt.apply_to_taper(&mut figures);
    }
    let valued = figures.iter().any(|figure| figure.value.is_some());
    Some(Beyond {
        feature,
        figures: figures.into_iter().map(|figure| (None, figure)).collect(),
        doubts: doubts.into_iter().collect(),
        assumptions: if valued {
            let studied = folder.gauge.studies.rest.is_some();
            let paused = studied.then(|| {
                format!(
                    "for `back-taper`, {:.0} minutes are taken to pass between the end of one trace and the start of the next, in which the indicator may drift",
                    BETWEEN_TRACES.s() / 60.0
                )
            });
            judge::taper_assumptions()
                .into_iter()
                .chain(paused)
                .collect()
        } else {
            Vec::new()
        },
    })
}

/// When a trace began, since the first one did. A trace has no date of its own, so the time to carry
/// the probe from one to the next is a usual one.
fn began(merged: &[MergedTrace], trace: &MergedTrace) -> Time {
    let lasted = |each: &MergedTrace| {
        let mut times = each.trace.samples.iter().map(|sample| sample.time);
        match (times.clone().next(), times.next_back()) {
            (Some(first), Some(last)) => last - first,
            _ => Time::ZERO,
        }
    };
    let before = merged
        .iter()
        .take_while(|each| !std::ptr::eq(each.entry, trace.entry));
    before.map(|each| lasted(each) + BETWEEN_TRACES).sum()
}
