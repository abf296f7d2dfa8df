//! The page's own files, compiled into the program.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

/// Declares each file once: its name and its kind.
macro_rules! assets {
    ($($name:literal: $kind:literal,)+) => {
        const ASSETS: &[(&str, &str, &str)] =
            &[$(($name, $kind, include_str!(concat!("assets/", $name)))),+];
    };
}

assets! {
    "index.html": "text/html; charset=utf-8",
    "look.css": "text/css; charset=utf-8",
    "icon.svg": "image/svg+xml",
    "again.js": "text/javascript; charset=utf-8",
    "main.js": "text/javascript; charset=utf-8",
    "ask.js": "text/javascript; charset=utf-8",
    "back.js": "text/javascript; charset=utf-8",
    "draft.js": "text/javascript; charset=utf-8",
    "dom.js": "text/javascript; charset=utf-8",
    "units.js": "text/javascript; charset=utf-8",
    "start.js": "text/javascript; charset=utf-8",
    "form.js": "text/javascript; charset=utf-8",
    "svg.js": "text/javascript; charset=utf-8",
    "sketches.js": "text/javascript; charset=utf-8",
    "sketch-values.js": "text/javascript; charset=utf-8",
    "sketch-parts.js": "text/javascript; charset=utf-8",
    "sketch-tool.js": "text/javascript; charset=utf-8",
    "sketch-gauge.js": "text/javascript; charset=utf-8",
    "sketch-grinder.js": "text/javascript; charset=utf-8",
    "noted.js": "text/javascript; charset=utf-8",
    "set-up.js": "text/javascript; charset=utf-8",
    "learnt.js": "text/javascript; charset=utf-8",
    "cams.js": "text/javascript; charset=utf-8",
    "card-words.js": "text/javascript; charset=utf-8",
    "plan.js": "text/javascript; charset=utf-8",
    "before.js": "text/javascript; charset=utf-8",
    "sense.js": "text/javascript; charset=utf-8",
    "steps.js": "text/javascript; charset=utf-8",
    "guide.js": "text/javascript; charset=utf-8",
    "way.js": "text/javascript; charset=utf-8",
    "far.js": "text/javascript; charset=utf-8",
    "sound.js": "text/javascript; charset=utf-8",
    "awake.js": "text/javascript; charset=utf-8",
    "pace.js": "text/javascript; charset=utf-8",
    "so-far.js": "text/javascript; charset=utf-8",
    "trace.js": "text/javascript; charset=utf-8",
    "section.js": "text/javascript; charset=utf-8",
    "drop.js": "text/javascript; charset=utf-8",
    "dial.js": "text/javascript; charset=utf-8",
    "verdict.js": "text/javascript; charset=utf-8",
    "archive.js": "text/javascript; charset=utf-8",
    "archive-lines.js": "text/javascript; charset=utf-8",
    "archive-tool.js": "text/javascript; charset=utf-8",
    "archive-pages.js": "text/javascript; charset=utf-8",
}

/// The page itself.
pub(super) async fn index() -> Response {
    asset("index.html")
}

/// One of its files.
pub(super) async fn file(Path(name): Path<String>) -> Response {
    asset(&name)
}

fn asset(name: &str) -> Response {
    match ASSETS.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, text)) => ([(header::CONTENT_TYPE, *kind)], *text).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
