//! The archive in the browser: tools, their records, and what is made of them.

use super::asked::{Bench, shown_in};
use super::disk::Errand;
use super::form::FormUnit;
use super::judged;
use super::lines::{self, tool_line};
use super::noted::picture;
use super::problem::for_page;
use super::reads::each;
use super::reply::{Answer, Refusal};
use super::sources::{Source, with_archive};
use super::work::{SHOP_FILE, Work, whole_path};
use crate::error::{Code, Error, Result};
use crate::inspection::noted::{NOTES_FILE, PHOTOGRAPHS, picture_kind};
use crate::kept::{self, Issue, Regrinds};
use crate::record::archive::{
    Archive, Digest, StoredFile, ToolsWanted, Wanted, evidence_of, regular, searched,
};
use crate::report::{self, Issuer};
use axum::Json;
use axum::extract::{Query, State};
use axum::response::Response;
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::HashSet;

/// So many tools are listed at once.
const TOOLS: usize = 50;
/// So many records of a tool, if not more are asked for.
const RECORDS: usize = 25;
/// More are not listed at all.
const MOST_RECORDS: usize = 1000;
/// So many missing records are named.
const MISSING: usize = 20;
/// So many inspections of the folder are looked at, the last ones.
const INSPECTIONS: usize = 100;

pub(super) async fn sources(State(bench): State<Bench>) -> Answer {
    let session = bench.session;
    let look = move |_: &Errand| session.sources();
    Ok(Json(bench.disk.ask("the bench's own archive", look).await?))
}

#[derive(Deserialize)]
pub(super) struct ToolsAsked {
    source: Source,
    #[serde(default)]
    text: String,
    #[serde(default)]
    due: bool,
    #[serde(default)]
    from: usize,
}

pub(super) async fn tools(State(bench): State<Bench>, Query(asked): Query<ToolsAsked>) -> Answer {
    let wanted = ToolsWanted {
        with: searched(&asked.text),
        due: asked.due,
        from: asked.from,
        most: Some(TOOLS),
    };
    let find = move |archive: &mut Archive| {
        let found = archive.tools(&wanted)?;
        let mut listed = Vec::with_capacity(found.lines.len());
        for line in &found.lines {
            listed.push(tool_line(archive, line)?);
        }
        let missing = archive.missing(MISSING)?;
        Ok(json!({
            "tools": listed,
            "all": found.all,
            "unread": found.unread.iter().map(for_page).collect::<Vec<_>>(),
            "missing": missing.iter().map(ToString::to_string).collect::<Vec<_>>(),
        }))
    };
    let nothing = || json!({ "tools": [], "all": 0, "unread": [], "missing": [] });
    let found = with_archive(&bench, asked.source, find).await?;
    Ok(Json(found.unwrap_or_else(nothing)))
}

#[derive(Deserialize)]
pub(super) struct ToolAsked {
    source: Source,
    tool: String,
    most: Option<usize>,
    units: Option<FormUnit>,
}

pub(super) async fn tool(State(bench): State<Bench>, Query(asked): Query<ToolAsked>) -> Answer {
    let most = asked.most.unwrap_or(RECORDS).clamp(1, MOST_RECORDS);
    let units = shown_in(asked.units);
    let id = asked.tool;
    let find = move |archive: &mut Archive| {
        let (all, simulated) = archive.count(&id)?;
        let mut listed = Vec::new();
        for found in archive.of_tool(&id, most)? {
            listed.push(match found {
                Ok(summary) => lines::record_line(archive, &summary, Some(units))?,
                Err(error) => json!({ "unread": for_page(&error) }),
            });
        }
        if listed.is_empty() {
            return Err(
                Error::new(Code::NoRecord, format!("no record is of `{id}`"))
                    .help("go back to the list: it may be old"),
            );
        }
        Ok(json!({ "records": listed, "all": all, "simulated": simulated }))
    };
    there(with_archive(&bench, asked.source, find).await?)
}

/// An archive that is not there yet has no records either.
fn there(found: Option<Value>) -> Answer {
    let none = || Error::new(Code::NoRecord, "there is no such archive yet");
    Ok(Json(found.ok_or_else(none)?))
}

pub(super) async fn trend(State(bench): State<Bench>, Query(asked): Query<ToolAsked>) -> Answer {
    let units = shown_in(asked.units);
    let id = asked.tool;
    let draw = move |archive: &mut Archive| {
        let Regrinds {
            trends,
            mut notes,
            unread,
        } = kept::regrinds(archive, &id, None)?;
        notes.extend(doubts(archive));
        let features = trends.iter().map(|trend| {
            Ok(json!({
                "feature": trend.feature,
                "left": report::regrinds_left(trend, units),
                "svg": report::trend_svg(trend, units)?,
                "text": report::trend_text(std::slice::from_ref(trend), units),
            }))
        });
        Ok(json!({
            "features": features.collect::<Result<Vec<_>>>()?,
            "notes": notes,
            "unread": unread.iter().map(for_page).collect::<Vec<_>>(),
        }))
    };
    there(with_archive(&bench, asked.source, draw).await?)
}

/// What is to be known where a record was changed or is missing: it may belong here.
fn doubts(archive: &mut Archive) -> Option<String> {
    let error = archive.certain().err()?;
    Some(error.message().to_owned())
}

#[derive(Deserialize)]
pub(super) struct TwoAsked {
    source: Source,
    before: String,
    after: String,
    units: Option<FormUnit>,
}

pub(super) async fn compare(State(bench): State<Bench>, Query(asked): Query<TwoAsked>) -> Answer {
    let units = shown_in(asked.units);
    let (before, after) = (named(&asked.before)?, named(&asked.after)?);
    let draw = move |archive: &mut Archive| {
        let both = kept::compare(archive, &before, &after)?;
        let notes = [&both.before, &both.after];
        let notes = notes.iter().filter_map(|judged| judged.remark.clone());
        Ok(json!({
            "svg": both.svg(units)?,
            "text": both.text(units),
            "notes": notes.chain(doubts(archive)).collect::<Vec<_>>(),
        }))
    };
    there(with_archive(&bench, asked.source, draw).await?)
}

#[derive(Deserialize)]
pub(super) struct RecordAsked {
    source: Source,
    record: String,
    units: Option<FormUnit>,
}

/// A record as a page names it: bench and number.
fn named(text: &str) -> Result<Wanted> {
    match text.parse()? {
        wanted @ Wanted::Id(_) => Ok(wanted),
        _ => Err(Error::new(
            Code::Usage,
            "read another name, expected `bench/number`",
        )),
    }
}

pub(super) async fn certificate(
    State(bench): State<Bench>,
    Query(asked): Query<RecordAsked>,
) -> Answer {
    let units = shown_in(asked.units);
    let record = named(&asked.record)?;
    let work = bench.session.work.clone();
    let draw = move |archive: &mut Archive| {
        // Paper that goes to a customer must not hide that it holds no more.
        archive.certain()?;
        let judged = kept::judged(archive, &record)?;
        judged::founded(&judged.stored.files, &format!("record {record}"))?;
        let today = jiff::Timestamp::now().to_string();
        let issue = Issue {
            issuer: issuer(&work)?,
            issued: today.get(..10).unwrap_or_default().to_owned(),
            judged_again: true,
        };
        let issued_by = issue.issuer.as_ref().map(|issuer| issuer.name.clone());
        Ok(json!({
            "pages": kept::certificate(&judged, issue, units)?,
            "issuer": issued_by,
            "notes": judged.remark,
        }))
    };
    there(with_archive(&bench, asked.source, draw).await?)
}

/// Who issues, by the card of the shop in the bench's folder, or else where the program runs.
fn issuer(work: &Work) -> Result<Option<Issuer>> {
    let places = [work.dir().join(SHOP_FILE), SHOP_FILE.into()];
    let Some(file) = places.iter().find(|file| file.is_file()) else {
        return Ok(None);
    };
    let text = work
        .reads
        .of(file, regular::text)?
        .map_err(|fault| Error::new(Code::Disk, fault.to_string()).in_path(file))?;
    kept::issuer(&text, &file.display().to_string()).map(Some)
}

/// A record for the view of a verdict, as it was when it was taken.
pub(super) async fn record(State(bench): State<Bench>, Query(asked): Query<RecordAsked>) -> Answer {
    let units = shown_in(asked.units);
    let record = named(&asked.record)?;
    let load = move |archive: &mut Archive| {
        let judged = kept::judged(archive, &record)?;
        let summary = &judged.stored.summary;
        // One that nobody judged again is, before it is shown.
        if summary.as_judged {
            judged::founded(&judged.stored.files, &format!("record {record}"))?;
        }
        Ok(json!({
            "record": lines::record_line(archive, summary, None)?,
            "verdict": judged::told(&judged.record, units),
            "remark": judged.remark,
            "noted": noted_of(&judged.stored.files),
            "redrawn": judged.stored.redrawn.as_ref().map(|then| &then.program),
        }))
    };
    there(with_archive(&bench, asked.source, load).await?)
}

/// What was noted of a record, as it was kept with it.
fn noted_of(files: &[StoredFile]) -> Value {
    let note = files.iter().find(|file| file.path == NOTES_FILE);
    let note = note.map(|file| String::from_utf8_lossy(&file.bytes));
    let names = files.iter().filter_map(|file| photograph_name(&file.path));
    json!({
        "text": note.unwrap_or_default(),
        "photographs": names.collect::<Vec<_>>(),
    })
}

fn photograph_name(path: &str) -> Option<&str> {
    path.strip_prefix(PHOTOGRAPHS)?.strip_prefix('/')
}

#[derive(Deserialize)]
pub(super) struct PhotographAsked {
    source: Source,
    record: String,
    name: String,
}

/// A photograph of a record: its name is only ever compared with those of the record.
pub(super) async fn photograph(
    State(bench): State<Bench>,
    Query(asked): Query<PhotographAsked>,
) -> std::result::Result<Response, Refusal> {
    let record = named(&asked.record)?;
    let none = || Error::new(Code::Missing, "there is no such photograph");
    let load = move |archive: &mut Archive| {
        // Its own bytes are checked; what stands in the verdict is no matter of a picture.
        let summary = archive.wanted(&record)?;
        let stored = archive.load(&summary.id)?;
        let mut files = stored.files.into_iter();
        let file = files.find(|file| photograph_name(&file.path) == Some(&asked.name));
        let bytes = file.ok_or_else(none)?.bytes;
        let kind = picture_kind(&bytes).ok_or_else(none)?;
        Ok((bytes, kind))
    };
    let found = with_archive(&bench, asked.source, load).await?;
    let (bytes, kind) = found.ok_or_else(none)?;
    Ok(picture(bytes, kind))
}

/// An inspection of the folder, by what is evidence in it.
struct Measured {
    evidence: Digest,
    simulated: bool,
    told: Value,
}

/// The last inspections of the folder, how many there are, and what is waited for.
fn measured(work: &Work, errand: &Errand) -> Result<(Vec<Measured>, usize, Vec<Value>)> {
    // What is late from here on is left out by itself.
    errand.answered();
    let mut taken = work.taken()?;
    let mut late: Vec<Value> = taken.late.iter().map(|(_, why)| for_page(why)).collect();
    let all = taken.listed.len();
    taken.listed.truncate(INSPECTIONS);
    let looked = each(&taken.listed, |(name, card)| -> Result<_> {
        let folder = work.inspection(name)?;
        // One that is being written just now is not measured yet.
        let files = work.reads.of(&folder, StoredFile::all_of)?;
        let told = work.told(name, card)?;
        Ok(files.ok().map(|files| Measured {
            evidence: evidence_of(&files),
            simulated: told["simulated"] == true,
            told,
        }))
    });
    let mut found = Vec::new();
    for one in looked {
        match one {
            Ok(measured) => found.extend(measured),
            Err(why) => late.push(for_page(&why)),
        }
    }
    Ok((found, all, late))
}

/// The inspections of the bench's folder that are in no archive.
pub(super) async fn unkept(State(bench): State<Bench>) -> Answer {
    let work = bench.session.work.clone();
    let what = format!("the folder {}", whole_path(work.dir()));
    let look = move |errand: &Errand| measured(&work, errand);
    let (measured, all, late) = bench.disk.ask(what, look).await?;
    let mut there = HashSet::new();
    for (source, simulated) in [(Source::Bench, false), (Source::Simulated, true)] {
        let of_it = measured.iter().filter(|it| it.simulated == simulated);
        let digests: Vec<Digest> = of_it.map(|it| it.evidence).collect();
        let find = move |archive: &mut Archive| -> Result<Vec<Digest>> {
            let mut there = Vec::new();
            for evidence in digests {
                if archive.has_evidence(evidence)? {
                    there.push(evidence);
                }
            }
            Ok(there)
        };
        there.extend(
            with_archive(&bench, source, find)
                .await?
                .unwrap_or_default(),
        );
    }
    let unkept = measured.into_iter();
    let unkept = unkept.filter(|it| !there.contains(&it.evidence));
    let unkept: Vec<Value> = unkept.map(|it| it.told).collect();
    Ok(Json(json!({
        "inspections": unkept,
        "late": late,
        "looked_at": all.min(INSPECTIONS),
        "all": all,
    })))
}
