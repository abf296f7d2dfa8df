//! Checks against SciPy and NumPy, general-purpose libraries that share nothing with this program.
//!
//! `reference.py` computes the same figures anew. The tests run where `HEELCLEAR_PYTHON` names an
//! interpreter that has both libraries, as `.ci/run` sees to; elsewhere they say that they did not.
#![allow(missing_docs, clippy::unwrap_used)]

mod lands;
mod learn;
mod matching;
mod statistics;

use serde::de::DeserializeOwned;
use serde_json::Value;
use std::io::Write;
use std::process::{Command, Stdio};

/// What the reference answers; `None`, and told, where there is no reference to ask.
fn ask<T: DeserializeOwned>(task: &str, input: &Value) -> Option<T> {
    let Ok(python) = std::env::var("HEELCLEAR_PYTHON") else {
        // Straight to the stream, so that it is seen of a test that passes too.
        let told = b"skipped: HEELCLEAR_PYTHON names no Python with NumPy and SciPy\n";
        std::io::stderr().write_all(told).unwrap();
        return None;
    };
    let script = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/numbers/scipy/reference.py"
    );
    let mut child = Command::new(&python)
        .args([script, task])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(input.to_string().as_bytes()).unwrap();
    drop(stdin);
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{python} failed at `{task}`");
    Some(serde_json::from_slice(&output.stdout).unwrap())
}

/// Holds our figure to the reference's.
#[track_caller]
fn close(what: &str, ours: f64, theirs: f64, within: f64) {
    assert!(
        (ours - theirs).abs() <= within,
        "{what}: ours is {ours}, the reference's {theirs}, expected within {within:.1e}"
    );
}
