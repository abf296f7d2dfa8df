//! After a capture: reports, and earlier records.

use super::asked::{Bench, UnitsAsked, ended};
use super::earlier;
use super::job::Judging;
use super::reply::{Answer, Refusal};
use crate::error::{Code, Error};
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
    let record = match bench.session.state().job.as_ref().map(|job| &job.judging) {
        Some(Judging::Done(record)) => record.clone(),
        _ => return Err(Error::new(Code::Missing, "nothing is judged yet").into()),
    };
    let draw = tokio::task::spawn_blocking(move || report::svg_in(&record, asked.units()));
    Ok(svg(draw.await.map_err(ended)??.into_bytes()))
}

pub(super) async fn folder_report(
    State(bench): State<Bench>,
    Path(folder): Path<String>,
) -> Result<Response, Refusal> {
    let folder = bench.session.work.inspection(&folder)?;
    let draw = move || earlier::folder_report(&folder);
    let bytes = tokio::task::spawn_blocking(draw).await.map_err(ended)??;
    Ok(svg(bytes))
}

#[derive(Deserialize)]
pub(super) struct RecordsAsked {
    tool: Option<String>,
    text: Option<String>,
    #[serde(default)]
    try_out: bool,
}

pub(super) async fn records(
    State(bench): State<Bench>,
    Query(asked): Query<RecordsAsked>,
) -> Answer {
    let place = bench.session.archive(asked.try_out);
    let filled = |text: Option<String>| text.filter(|text| !text.trim().is_empty());
    let find = move || earlier::find(&place, filled(asked.tool), filled(asked.text));
    let found = tokio::task::spawn_blocking(find).await.map_err(ended)??;
    Ok(Json(json!({ "records": found })))
}

#[derive(Deserialize)]
pub(super) struct TryOut {
    #[serde(default)]
    try_out: bool,
}

pub(super) async fn record_report(
    State(bench): State<Bench>,
    Path((of, number)): Path<(String, i64)>,
    Query(asked): Query<TryOut>,
) -> Result<Response, Refusal> {
    let place = bench.session.archive(asked.try_out);
    let load = move || earlier::report(&place, of, number);
    let bytes = tokio::task::spawn_blocking(load).await.map_err(ended)??;
    Ok(svg(bytes))
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
