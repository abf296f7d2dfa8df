//! After a capture: reports, and earlier records.

use super::asked::{Bench, UnitsAsked};
use super::disk::Errand;
use super::earlier;
use super::job::Judging;
use super::reply::{Answer, Refusal};
use super::sources::{Source, with_archive};
use crate::error::{Code, Error};
use crate::record::archive::{Archive, RecordId};
use crate::report;
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::json;

pub(super) async fn report_svg(
    State(bench): State<Bench>,
    Query(asked): Query<UnitsAsked>,
) -> Result<Response, Refusal> {
    let session = bench.session;
    let draw = move |_: &Errand| {
        let record = match session.state().job.as_ref().map(|job| &job.judging) {
            Some(Judging::Done(record)) => record.clone(),
            _ => return Err(Error::new(Code::Missing, "nothing is judged yet")),
        };
        report::svg_in(&record, asked.units())
    };
    Ok(svg(bench.disk.ask("the report", draw).await?.into_bytes()))
}

pub(super) async fn folder_report(
    State(bench): State<Bench>,
    Path(folder): Path<String>,
) -> Result<Response, Refusal> {
    let what = format!("the inspection {}", folder.escape_debug());
    let work = bench.session.work;
    let draw = move |errand: &Errand| earlier::folder_report(&work.inspection(&folder)?, errand);
    Ok(svg(bench.disk.ask(what, draw).await?))
}

#[derive(Deserialize)]
pub(super) struct RecordsAsked {
    source: Source,
    tool: String,
}

pub(super) async fn records(
    State(bench): State<Bench>,
    Query(asked): Query<RecordsAsked>,
) -> Answer {
    let find = move |archive: &mut Archive| earlier::find(archive, asked.tool);
    let found = with_archive(&bench, asked.source, find).await?;
    Ok(Json(json!({ "records": found.unwrap_or_default() })))
}

#[derive(Deserialize)]
pub(super) struct SourceAsked {
    source: Source,
}

pub(super) async fn record_report(
    State(bench): State<Bench>,
    Path((of, number)): Path<(String, i64)>,
    Query(asked): Query<SourceAsked>,
    Query(shown): Query<UnitsAsked>,
) -> Result<Response, Refusal> {
    let id = RecordId { bench: of, number };
    let draw = move |archive: &mut Archive| earlier::report(archive, &id, shown.units());
    let bytes = with_archive(&bench, asked.source, draw).await?;
    let none = || Error::new(Code::NoRecord, "there is no such archive yet");
    Ok(svg(bytes.ok_or_else(none)?))
}

/// A report has its styles in itself, and may do nothing else.
fn svg(bytes: Vec<u8>) -> Response {
    let headers = [
        (header::CONTENT_TYPE, "image/svg+xml"),
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; sandbox",
        ),
    ];
    (headers, bytes).into_response()
}
