//! `demo` as README's first command runs it.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::fs;
use std::path::Path;
use std::process::Output;
use std::time::{Duration, Instant};

fn demo(folder: &Path, flags: &[&str]) -> Output {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    command.arg("demo").args(flags).current_dir(folder);
    command.output().unwrap()
}

#[test]
fn it_captures_judges_and_reports_in_half_a_minute_and_leaves_what_is_there_alone() {
    let folder = tempfile::tempdir().unwrap();
    let taken = folder.path().join("heelclear-demo");
    fs::create_dir(&taken).unwrap();
    let start = Instant::now();
    let output = demo(folder.path(), &["--seed", "7"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(start.elapsed() < Duration::from_secs(30));
    assert!(output.stdout.starts_with(b"PASS"));
    assert!(
        said.contains("report: heelclear-demo-2/report.svg"),
        "{said}"
    );
    if cfg!(unix) {
        assert!(said.contains("pseudo-terminal"), "{said}");
    }

    let made = folder.path().join("heelclear-demo-2");
    for file in [
        "inspection.toml",
        "tool.toml",
        "gauge.toml",
        "verdict.json",
        "report.svg",
    ] {
        assert!(made.join(file).is_file(), "{file} is missing");
    }
    let raw = fs::read_dir(made.join("raw"))
        .unwrap()
        .map(|entry| entry.unwrap().path());
    assert!(
        raw.filter(|path| path.extension().is_some_and(|e| e == "log"))
            .count()
            > 0
    );
    assert_eq!(fs::read_dir(&taken).unwrap().count(), 0);

    // What was captured can be judged again, and says the same.
    let before = fs::read(made.join("verdict.json")).unwrap();
    let mut again = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = again.arg("verify").arg(&made).output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let after = fs::read(made.join("verdict.json")).unwrap();
    // Messages name files as the person named the folder, so only figures are compared.
    let figures = |bytes: &[u8]| {
        let verdict: serde_json::Value = serde_json::from_slice(bytes).unwrap();
        verdict["characteristics"].clone()
    };
    assert_eq!(figures(&before), figures(&after));
}

#[test]
fn a_folder_that_was_named_and_is_there_is_not_touched() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("mine")).unwrap();
    let output = demo(folder.path(), &["--out", "mine"]);
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("error[usage]: mine: "), "{said}");
    assert_eq!(fs::read_dir(folder.path().join("mine")).unwrap().count(), 0);
}
