//! What a page asks about the notes and photographs of the inspection under way.

use super::asked::{Bench, blocking};
use super::job::{Job, Judging};
use super::judged;
use super::reply::{Answer, Refusal};
use super::session::Session;
use crate::error::Result;
use crate::inspection::noted::{LONGEST_PHOTOGRAPH, photograph_bytes, too_large};
use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use std::sync::Arc;

/// The body of a photograph; one that is larger is refused in words before it is read whole.
pub(super) const LONGEST_BODY: usize = LONGEST_PHOTOGRAPH + 1;

/// Something is noted anew: a verdict that is there lists it, and what was archived lacks it.
fn noted_anew(job: &mut Job) -> Result<()> {
    if let Judging::Done(record) = &job.judging {
        let record = judged::noted_anew(&job.folder, record)?;
        job.judging = Judging::Done(Arc::new(record));
        job.kept = None;
    }
    Ok(())
}

impl Session {
    /// Changes what is noted of the inspection under way.
    fn note(&self, change: impl FnOnce(&mut Job) -> Result<()>) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        change(job)?;
        noted_anew(job)
    }
}

#[derive(Deserialize)]
pub(super) struct NoteAsked {
    text: String,
}

pub(super) async fn write(State(bench): State<Bench>, Json(asked): Json<NoteAsked>) -> Answer {
    blocking(move || {
        bench
            .session
            .note(|job| job.noted.write(&job.folder, &asked.text))
    })
    .await
}

pub(super) async fn add(
    State(bench): State<Bench>,
    body: std::result::Result<Bytes, BytesRejection>,
) -> Answer {
    let bytes = body.map_err(|_| too_large())?;
    blocking(move || {
        bench
            .session
            .note(|job| job.noted.add(&job.folder, bytes.to_vec()))
    })
    .await
}

pub(super) async fn remove(State(bench): State<Bench>, Path(name): Path<String>) -> Answer {
    blocking(move || {
        bench
            .session
            .note(|job| job.noted.take_out(&job.folder, &name))
    })
    .await
}

/// A photograph as it lies in the folder.
pub(super) async fn photograph(
    State(bench): State<Bench>,
    Path(name): Path<String>,
) -> std::result::Result<Response, Refusal> {
    let folder = bench.session.folder()?;
    let read = tokio::task::spawn_blocking(move || photograph_bytes(&folder, &name));
    let (bytes, kind) = read.await.map_err(super::asked::ended)??;
    Ok(picture(bytes, kind))
}

/// A picture that nothing in it can make run.
pub(super) fn picture(bytes: Vec<u8>, kind: &str) -> Response {
    let kind = match kind {
        "png" => "image/png",
        "webp" => "image/webp",
        _ => "image/jpeg",
    };
    let headers = [
        (header::CONTENT_TYPE, kind),
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; sandbox",
        ),
    ];
    (headers, bytes).into_response()
}
