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

#[test]
fn the_whole_job_ends_with_a_tool_that_passes_and_the_pictures_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let output = demo(folder.path(), &["--whole-job", "--out", "job"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    let told = String::from_utf8(output.stdout).unwrap();
    assert!(
        told.trim_end()
            .lines()
            .any(|line| line.starts_with("   PASS  "))
    );
    assert!(told.contains("throw opens"), "{told}");
    let job = folder.path().join("job");
    let (_, pictures) = said.split_once("pictures, for a browser:\n").unwrap();
    let listed = pictures.lines().take_while(|line| line.starts_with("  "));
    let listed: Vec<_> = listed.map(|line| folder.path().join(line.trim())).collect();
    assert!(listed.len() >= 6, "{pictures}");
    for picture in &listed {
        let drawn = fs::read_to_string(picture).unwrap();
        assert!(drawn.contains("<svg"), "{}", picture.display());
    }
    // What was learnt stands on the shop's card, and the second sheet used it.
    let card = fs::read_to_string(job.join("grinder.toml")).unwrap();
    assert!(card.contains("[[correction]]"), "{card}");
    let setup = fs::read(job.join("3-worn-again/setup.json")).unwrap();
    let setup: serde_json::Value = serde_json::from_slice(&setup).unwrap();
    assert_ne!(
        setup["cuts"][0]["corrected"],
        serde_json::json!([1.0, 0.0, 1.0])
    );
    let mut list = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    list.args(["archive", "list", "--json", "--archive"])
        .arg(&job);
    let listed = String::from_utf8(list.output().unwrap().stdout).unwrap();
    assert_eq!(listed.lines().count(), 2, "{listed}");
}
