//! What a page asks about the notes and photographs of the inspection under way.

use super::asked::Bench;
use super::beside::{Beside, is_made};
use super::job::Judging;
use super::judged;
use super::reply::{Answer, Refusal};
use super::session::Session;
use crate::error::Result;
use crate::inspection::live::PLAN_FILE;
use crate::inspection::noted::{LONGEST_PHOTOGRAPH, photograph_bytes, too_large};
use crate::inspection::write_whole;
use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use std::path::Path as FilePath;
use std::sync::{Arc, PoisonError};

/// What changes of notes touch, in words.
const NOTES: &str = "notes and photographs of the inspection";

/// The body of a photograph; one that is larger is refused in words before it is read whole.
pub(super) const LONGEST_BODY: usize = LONGEST_PHOTOGRAPH + 1;

impl Session {
    /// Changes what is noted of the inspection under way. A verdict that is there lists it, and what was
    /// archived lacks it.
    fn note(&self, change: impl FnOnce(&mut Beside, &FilePath) -> Result<()>) -> Result<()> {
        let (number, folder, notes) = {
            let mut state = self.state();
            let job = state.job()?;
            (job.number, job.folder.clone(), job.noted.clone())
        };
        let mut held = notes.hold();
        change(&mut held, &folder)?;
        held.tell();
        let judged = {
            let mut state = self.state();
            state.changes += 1;
            match state.numbered(number).map(|job| &job.judging) {
                Some(Judging::Done(record)) => record.clone(),
                _ => return Ok(()),
            }
        };
        let record = judged::noted_anew(&folder, &judged)?;
        let mut state = self.state();
        state.changes += 1;
        if let Some(job) = state.numbered(number)
            && matches!(job.judging, Judging::Done(_))
        {
            job.judging = Judging::Done(Arc::new(record));
            job.kept = None;
        }
        Ok(())
    }

    /// Keeps the plan in the folder, once there is one, and what was noted before. The capture does not
    /// wait for notes: whoever changes them may wait for a disk.
    pub(super) fn keep_plan(&self, number: u64) {
        let planning = self.planning.lock();
        let _one = planning.unwrap_or_else(PoisonError::into_inner);
        let (folder, plan, notes) = {
            let mut state = self.state();
            let Some(job) = state.numbered(number) else {
                return;
            };
            (
                job.folder.clone(),
                job.live.plan.to_toml(),
                job.noted.clone(),
            )
        };
        if !is_made(&folder) {
            return;
        }
        let path = folder.join(PLAN_FILE);
        let written = plan.and_then(|text| write_whole(&path, text.as_bytes()));
        self.complain(number, written);
        if notes.wait() {
            let this = self.clone();
            let work = move || {
                let kept = notes.hold().keep(&folder);
                this.complain(number, kept);
            };
            let thread = std::thread::Builder::new().name("notes".to_owned());
            // Without a thread they are kept when the inspection is judged or left.
            let _ = thread.spawn(work);
        }
    }

    fn complain(&self, number: u64, done: Result<()>) {
        let mut state = self.state();
        state.changes += 1;
        if let (Err(error), Some(job)) = (done, state.numbered(number)) {
            job.live.fault(error.to_string());
        }
    }
}

#[derive(Deserialize)]
pub(super) struct NoteAsked {
    text: String,
}

pub(super) async fn write(State(bench): State<Bench>, Json(asked): Json<NoteAsked>) -> Answer {
    let write = move |session: &Session, _: &_| {
        session.note(|beside, folder| beside.write(folder, &asked.text))
    };
    bench.change(NOTES, write).await
}

pub(super) async fn add(
    State(bench): State<Bench>,
    body: std::result::Result<Bytes, BytesRejection>,
) -> Answer {
    let bytes = body.map_err(|_| too_large())?;
    let add = move |session: &Session, _: &_| {
        session.note(|beside, folder| beside.add(folder, bytes.to_vec()))
    };
    bench.change(NOTES, add).await
}

pub(super) async fn remove(State(bench): State<Bench>, Path(name): Path<String>) -> Answer {
    let remove = move |session: &Session, _: &_| {
        session.note(|beside, folder| beside.take_out(folder, &name))
    };
    bench.change(NOTES, remove).await
}

/// A photograph as it lies in the folder.
pub(super) async fn photograph(
    State(bench): State<Bench>,
    Path(name): Path<String>,
) -> std::result::Result<Response, Refusal> {
    let folder = bench.session.folder()?;
    let what = format!("the photograph {}", name.escape_debug());
    let read = move |_: &_| photograph_bytes(&folder, &name);
    let (bytes, kind) = bench.disk.ask(what, read).await?;
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
