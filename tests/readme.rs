//! What README.md shows is what the program says.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::gauge::simulated::built_in;
use heelclear::inspection::simulated::write_folder;
use std::collections::BTreeSet;

const README: &str = include_str!("../README.md");

/// A line with its numbers blotted out and its columns drawn together: digits may move a little
/// from one version to the next, words and verdicts may not.
fn blotted(line: &str) -> String {
    let number = regex::Regex::new(r"-?\d+(\.\d+)?").unwrap();
    let line = number.replace_all(line, "#");
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_verdict_shown_is_the_verdict_said() {
    let folder = tempfile::tempdir().unwrap();
    write_folder(&built_in("counterbore-heel-drag").unwrap(), folder.path()).unwrap();
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = command.arg("verify").arg(folder.path()).output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let lines: BTreeSet<String> = said.lines().map(blotted).collect();
    let (_, block) = README.split_once("```text\n").unwrap();
    let (shown, _) = block.split_once("```").unwrap();
    for line in shown.lines() {
        assert!(lines.contains(&blotted(line)), "`{line}` is not in\n{said}");
    }
}

#[test]
fn it_starts_with_the_job_and_then_with_two_commands() {
    let mut parts = README.split("\n\n");
    assert_eq!(parts.next(), Some("# heelclear"));
    assert!(parts.next().unwrap().starts_with("A person who regrinds"));
    let commands = parts.next().unwrap();
    assert_eq!(
        commands,
        "```console\ncargo run --release -- demo\ncargo test\n```"
    );
}
