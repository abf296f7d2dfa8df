//! Answers: JSON, or an error as JSON with a status that fits.

use super::problem;
use crate::error::{Code, Error};
use axum::Json;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use serde_json::{Value, json};

/// What a handler gives: a value, or an error told as JSON.
pub(super) type Answer = Result<Json<Value>, Refusal>;

/// An error on its way to a page.
pub(super) struct Refusal(Error);

impl From<Error> for Refusal {
    fn from(error: Error) -> Self {
        Self(error)
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let status = match self.0.code() {
            Code::Missing | Code::NoRecord => StatusCode::NOT_FOUND,
            Code::ArchiveServer => StatusCode::BAD_GATEWAY,
            Code::Internal | Code::Disk => StatusCode::INTERNAL_SERVER_ERROR,
            _ => StatusCode::BAD_REQUEST,
        };
        (status, Json(json!({ "error": problem::for_page(&self.0) }))).into_response()
    }
}

/// Done, with nothing to tell: the stream tells what changed.
pub(super) fn done() -> Answer {
    Ok(Json(json!({})))
}

/// A refusal in plain words.
pub(super) fn refused(status: StatusCode, why: &str) -> Response {
    let error = Error::new(Code::Usage, why);
    (status, Json(json!({ "error": problem::for_page(&error) }))).into_response()
}

/// The token is asked for, in words for a page that is open, or else as a page.
pub(super) fn token_wanted(talks: bool) -> Response {
    const PAGE: &str = include_str!("assets/token.html");
    if !talks {
        return (StatusCode::UNAUTHORIZED, Html(PAGE)).into_response();
    }
    let error = Error::new(
        Code::Usage,
        "this bench was started anew, or the browser has dropped what it knew of it",
    )
    .help(
        "open the address that `heelclear bench` printed, in this same browser: this page goes on then",
    );
    let told = Json(json!({ "error": problem::for_page(&error) }));
    (StatusCode::UNAUTHORIZED, told).into_response()
}
