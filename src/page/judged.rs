//! Judging a folder, keeping it, and telling a verdict to a page.

use super::disk::Errand;
use crate::error::Result;
use crate::inspection::noted::noted;
use crate::inspection::{Folder, verify, vouched, write_whole};
use crate::kept;
use crate::record::archive::{Added, Archive, Contents, Place, StoredFile};
use crate::record::{Characteristic, Flute, Record, SettingsAdvice, Verdict};
use crate::report::{self, Units};
use serde_json::{Value, json};
use std::path::Path;

/// Judges a folder and writes the verdict and the report into it, each whole or not at all.
pub(super) fn judge(folder: &Path) -> Result<Record> {
    written(folder, verify(&Folder::open(folder)?)?)
}

fn written(folder: &Path, record: Record) -> Result<Record> {
    let verdict = record.to_json()?;
    let page = report::svg_in(&record, Units::Metric)?;
    write_whole(&folder.join("verdict.json"), verdict.as_bytes())?;
    write_whole(&folder.join("report.svg"), page.as_bytes())?;
    Ok(record)
}

/// The record with what is noted and photographed by now, verdict and report written anew.
pub(super) fn noted_anew(folder: &Path, record: &Record) -> Result<Record> {
    let record = Record {
        noted: noted(folder)?,
        ..record.clone()
    };
    written(folder, record)
}

/// Keeps a judged folder, and says as which record.
pub(super) fn keep(folder: &Path, place: &Place, errand: &Errand) -> Result<String> {
    let files = StoredFile::all_of(folder)?;
    errand.answered();
    let name = folder.display().to_string();
    founded(&files, "verdict.json")?;
    let contents = [Contents::of(files, &name, report::svg_by)?];
    let added = Archive::create(place, report::svg_by)?.add(&contents)?;
    Ok(match added.first() {
        Some(Added::Already(id)) => format!("it was there already, as record {}", id.number),
        Some(Added::New(new)) => format!("kept as record {}", new.id.number),
        None => "kept".to_owned(),
    })
}

/// The verdict among these files, where it follows from the cards and traces among them, and the
/// report among them is its own; nothing where they were not judged.
pub(super) fn founded(files: &[StoredFile], place: &str) -> Result<Option<Record>> {
    const HELP: &str = "judge the inspection again";
    let Some(vouched) = vouched(files)? else {
        return Ok(None);
    };
    let vouched = kept::held(vouched, files, place).map_err(|error| error.help(HELP))?;
    Ok(Some(vouched.record))
}

/// A verdict for a person, lengths in the units that they chose.
pub(super) fn told(record: &Record, units: Units) -> Value {
    let record = units.told(record);
    let judged = || {
        let all = record.characteristics.iter();
        all.filter_map(|one| one.verdict)
    };
    let count = |wanted: Verdict| judged().filter(|verdict| *verdict == wanted).count();
    let figures = report::by_flute(&record).into_iter();
    json!({
        "verdict": record.verdict.map(Verdict::as_str),
        "tool": record.tool,
        "tool_name": record.about.tool_name,
        "taken": record.about.taken,
        "simulated": record.about.simulated,
        "interrupted": record.about.interrupted,
        "judged": judged().count(),
        "fail": count(Verdict::Fail),
        "undecided": count(Verdict::Undecided),
        "deciding": report::deciding(&record).map(|one| figure(one, units)),
        "figures": figures.map(|one| figure(one, units)).collect::<Vec<_>>(),
        "settings": record.settings.iter().map(settings).collect::<Vec<_>>(),
        "warnings": record.warnings,
    })
}

/// What to set otherwise on the grinder, in words.
fn settings(of: &SettingsAdvice) -> Value {
    json!({
        "figures": [{ "subject": format!("settings of {}, {}", of.fixture, of.direction) }],
        "kind": of.verdict.as_str(),
        "explains": of.explains,
        "why": of.why,
        "remedy": of.remedy,
    })
}

/// One figure in words.
pub(super) fn figure(of: &Characteristic, units: Units) -> Value {
    json!({
        "feature": of.feature,
        "flute": of.flute,
        "z_mm": of.z_mm,
        "name": of.name,
        "shown": report::in_words(of, units),
        "allowed": of.limit.map(|limit| report::allowed(Some(limit), &of.unit, units)),
        "proven": report::proven(of, units),
        "verdict": of.verdict.map(Verdict::as_str),
        "value": of.value,
        "interval": of.interval,
        "limit": of.limit,
        "unit": of.unit,
        "why": of.why,
        "remedy": of.remedy,
    })
}

/// What a growing trace comes to: its worst figures, and its lands for drawing.
pub(super) fn so_far(record: &Record, units: Units) -> Value {
    let record = units.told(record);
    let with_limits = report::by_flute(&record).into_iter();
    let with_limits = with_limits.filter(|one| one.limit.is_some());
    let flutes = record.flutes.iter().map(|flute| land(&record, flute));
    json!({
        "verdict": record.verdict.map(Verdict::as_str),
        "deciding": report::deciding(&record).map(|one| figure(one, units)),
        "figures": with_limits.map(|one| figure(one, units)).collect::<Vec<_>>(),
        "flutes": flutes.collect::<Vec<_>>(),
    })
}

/// One land for drawing: how it stands, what it is held to, and how far its heel is from the edge.
fn land(record: &Record, flute: &Flute) -> Value {
    let facts = (record.features.iter()).find(|facts| facts.feature == flute.feature);
    // What the figure says of its uncertainty holds for the height that is drawn as well.
    let figure = record.characteristics.iter().find(|one| {
        one.name == "heel-clearance"
            && (one.feature.as_ref(), one.flute, one.z_mm)
                == (Some(&flute.feature), Some(flute.flute), flute.z_mm)
    });
    let judged = figure
        .and_then(|one| one.standard_uncertainty)
        .unwrap_or(0.0);
    let heel = flute.land.last();
    let heel = heel.map(|heel| [heel.drop_mm, heel.u_mm.max(judged)]);
    let least = facts.map(|facts| {
        let ends = [facts.check_deg, flute.land_deg.max(facts.check_deg)];
        ends.map(|arc| [arc, facts.least_drop_mm(arc)])
    });
    let (measured, fitted) = (flute.land.iter(), flute.fitted.iter());
    json!({
        "flute": flute.flute,
        "edge_deg": flute.edge_deg,
        "land_deg": flute.land_deg,
        "verdict": report::of_flute(record, flute).map(Verdict::as_str),
        // Drop at the heel and its standard uncertainty: below 0 the heel stands above the edge.
        "heel": heel,
        // The least that it has to fall, from the check distance to the heel.
        "least": least,
        "land": measured.map(|at| [at.arc_deg, at.drop_mm, at.u_mm]).collect::<Vec<_>>(),
        "fitted": fitted.map(|at| [at.arc_deg, at.drop_mm]).collect::<Vec<_>>(),
    })
}
