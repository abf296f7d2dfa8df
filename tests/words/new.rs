//! Cards to start from, as a person at a terminal gets them.
#![allow(clippy::unwrap_used, clippy::panic)]

use assert_cmd::Command;
use heelclear::card::{GaugeCard, GrinderCard, InspectionCard, ToolCard};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Runs it in a folder and gives status, stdout and stderr.
fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::cargo_bin("heelclear").unwrap();
    let output = command
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

#[test]
fn nothing_is_asked_and_nothing_is_written_over() {
    let folder = tempfile::tempdir().unwrap();
    for kind in ["tool", "gauge", "grinder", "inspection"] {
        let file = format!("{kind}.toml");
        let (status, stdout, stderr) = run(folder.path(), &["new", kind]);
        assert_eq!((status, stdout), (0, format!("{file}\n")), "{stderr}");
        fs::write(folder.path().join(&file), "mine").unwrap();
        let (status, stdout, stderr) = run(folder.path(), &["new", kind]);
        assert_eq!((status, stdout.as_str()), (2, ""));
        assert!(stderr.contains("--force"), "{stderr}");
        assert_eq!(
            fs::read_to_string(folder.path().join(&file)).unwrap(),
            "mine"
        );
        let (status, ..) = run(folder.path(), &["new", kind, "--force"]);
        assert_eq!(status, 0);
        assert_ne!(
            fs::read_to_string(folder.path().join(&file)).unwrap(),
            "mine"
        );
    }
    // Nothing half-written is left beside them.
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 4);
    let (status, _, stderr) = run(folder.path(), &["new", "tool", "--out", "no/where.toml"]);
    assert_eq!(status, 2);
    assert!(stderr.contains("make the folder"), "{stderr}");
}

#[cfg(unix)]
#[test]
fn a_link_to_nowhere_is_there_too() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("tool.toml");
    std::os::unix::fs::symlink("elsewhere.toml", &link).unwrap();
    let (status, _, stderr) = run(folder.path(), &["new", "tool"]);
    assert_eq!(status, 2, "{stderr}");
    assert!(!folder.path().join("elsewhere.toml").exists());
}

#[test]
fn stdout_has_the_card_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let out = |arguments: &[&str]| {
        let arguments: Vec<&str> = ["new"]
            .iter()
            .chain(arguments)
            .chain(&["--out", "-"])
            .copied()
            .collect();
        let (status, stdout, _) = run(folder.path(), &arguments);
        assert_eq!(status, 0, "{arguments:?}");
        stdout
    };
    let tool = out(&[
        "tool",
        "--id",
        "VB-52",
        "--diameter",
        "3/4in",
        "--units",
        "in",
    ]);
    assert!(tool.contains("\ndiameter_in = 0.75\n"), "{tool}");
    ToolCard::parse(&tool, "-").unwrap();
    GaugeCard::parse(&out(&["gauge"]), "-").unwrap();
    GrinderCard::parse(&out(&["grinder", "--motor", "2850"]), "-").unwrap();
    InspectionCard::parse(&out(&["inspection"]), "-").unwrap();
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    fs::write(folder.path().join("tool.toml"), tool).unwrap();
    let inspection = out(&["inspection", "--tool", "tool.toml", "--reference", "40"]);
    assert_eq!(
        InspectionCard::parse(&inspection, "-")
            .unwrap()
            .traces
            .len(),
        2
    );
}

#[test]
fn json_has_the_text_and_what_is_still_to_be_filled_in() {
    let folder = tempfile::tempdir().unwrap();
    let line = [
        "new",
        "tool",
        "--id",
        "VB-31",
        "--material",
        "brass",
        "--work",
        "drill",
        "--surface",
        "axial",
        "--json",
    ];
    let (status, stdout, _) = run(folder.path(), &line);
    assert_eq!(status, 0);
    let answer: Value = serde_json::from_str(&stdout).unwrap();
    assert_eq!(
        (&answer["new"], &answer["file"]),
        (&"tool".into(), &"tool.toml".into())
    );
    assert_eq!(
        answer["from_sources"][0],
        "[feature.limits] relief_angle_deg"
    );
    let to_fill_in = answer["to_fill_in"].to_string();
    assert!(
        to_fill_in.contains("diameter_mm") && !to_fill_in.contains("\"id\""),
        "{to_fill_in}"
    );
    let written = fs::read_to_string(folder.path().join("tool.toml")).unwrap();
    assert_eq!(answer["text"], written);
}

/// The cards as they were started measure a simulated tool, and the folder is judged.
#[test]
fn capture_and_verify_take_the_cards_as_they_stand() {
    let folder = tempfile::tempdir().unwrap();
    let ok = |line: &str| {
        let arguments: Vec<&str> = line.split(' ').collect();
        let (status, stdout, stderr) = run(folder.path(), &arguments);
        assert_eq!(status, 0, "{line}: {stderr}");
        stdout
    };
    ok("new tool");
    ok("new gauge");
    ok(
        "capture bench --simulate counterbore-pass --faster 50 --plain --tool tool.toml --gauge gauge.toml --trace reference:40 --trace land:2",
    );
    let (status, stdout, stderr) = run(folder.path(), &["verify", "bench"]);
    // An example of a gauge proves nothing, but everything can be read.
    assert!([0, 1, 3].contains(&status), "{stdout}{stderr}");
    ok(
        "new inspection --tool tool.toml --reference 40 --trace land:2 --out bench/inspection.toml --force",
    );
    let (status, stdout, stderr) = run(folder.path(), &["verify", "bench"]);
    assert!([0, 1, 3].contains(&status), "{stdout}{stderr}");
}

/// The printed command is one that `capture` takes, names of features and all.
#[test]
fn the_printed_command_takes_the_traces_in_their_order() {
    let folder = tempfile::tempdir().unwrap();
    let line = [
        "new",
        "tool",
        "--id",
        "VB-31",
        "--steps",
        "6 to 10 by 2",
        "--chamfer",
        "45",
        "--flutes",
        "1",
    ];
    assert_eq!(run(folder.path(), &line).0, 0);
    assert_eq!(run(folder.path(), &["new", "gauge"]).0, 0);
    let line = [
        "new",
        "inspection",
        "--tool",
        "tool.toml",
        "--reference",
        "40:20",
        "--step-length",
        "8",
        "--json",
    ];
    let (status, stdout, _) = run(folder.path(), &line);
    assert_eq!(status, 0);
    let answer: Value = serde_json::from_str(&stdout).unwrap();
    let traces: Vec<&str> = answer["traces"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it.as_str().unwrap())
        .collect();
    assert_eq!(traces[..2], ["reference:40:20", "step-10:20.5:rezeroed"]);
    assert_eq!(traces.len(), 7);
    let command = answer["command"].as_str().unwrap();
    assert!(
        command
            .starts_with("heelclear capture VB-31 --port PORT --tool tool.toml --gauge gauge.toml"),
        "{command}"
    );
    // There is no such port, which is looked for last: all else was understood.
    let arguments: Vec<&str> = command.split(' ').skip(1).collect();
    let (status, _, stderr) = run(folder.path(), &arguments);
    assert_eq!(status, 2);
    assert!(stderr.contains("error[port-absent]"), "{stderr}");
}

#[test]
fn what_makes_no_card_is_refused_with_what_would() {
    let folder = tempfile::tempdir().unwrap();
    #[track_caller]
    fn check(folder: &Path, arguments: &[&str], words: &str) {
        let line: Vec<&str> = ["new"].iter().chain(arguments).copied().collect();
        let (status, stdout, stderr) = run(folder, &line);
        assert_eq!((status, stdout.as_str()), (2, ""), "{line:?}");
        let said = stderr.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(words), "`{words}` is not in {stderr}");
        assert!(fs::read_dir(folder).unwrap().next().is_none(), "{line:?}");
    }
    let check = |arguments: &[&str], words: &str| check(folder.path(), arguments, words);
    let steps = |steps: &str, words: &str| check(&["tool", "--steps", steps], words);
    steps("6 to 20 by 3", "no whole number of steps");
    steps("20 to 6 by 2", "no whole number of steps");
    steps("6 to 20", "such as `6 to 20 by 2`");
    steps("6 by 2 to 20", "such as `6 to 20 by 2`");
    steps("6 to 20 by 0", "above 0");
    steps("6 to 20 by -2", "above 0");
    steps("6 to nan by 2", "nan");
    steps("1/4in to 1in by 2", "all three have their unit");
    steps("6 to 1000 by 0.001", "at most");
    steps("9 6 14", "grow from the front on");
    steps("6", "two or more");
    steps("6,5 to 20 by 2", "no comma");
    check(
        &["tool", "--steps", "6 to 20 by 2", "--diameter", "3"],
        "cannot be used with",
    );
    check(
        &["tool", "--steps", "6 to 20 by 2", "--chamfer", "10"],
        "from 20 to 90",
    );
    check(&["tool", "--chamfer", "45"], "--steps");
    check(&["tool", "--diameter", "0"], "above 0");
    check(
        &["tool", "--diameter", "20", "--check-distance", "40"],
        "next edge",
    );
    check(&["tool", "--feed", "0.1"], "feed on a radial surface");
    check(&["tool", "--id", " "], "id");
    check(
        &["tool", "--relief", "9 to 6"],
        "the least and the greatest",
    );
    check(&["tool", "--material", "cheese"], "stainless-steel");
    check(&["gauge", "--resolution", "20cm"], "`cm`");
    check(
        &["gauge", "--stylus", "point", "--tip-radius", "1"],
        "a radius on a point",
    );
    check(&["grinder", "--marked", "35m/s"], "--wheel-diameter");
    check(
        &[
            "grinder",
            "--wheel-diameter",
            "150",
            "--full-diameter",
            "140",
        ],
        "smaller than it is now",
    );
    check(&["inspection", "--tool", "tool.toml"], "no such file");
    check(&["inspection", "--reference", "40"], "--tool");
    check(&["inspection", "--taken", "yesterday"], "such as 2026");
    check(&["tool", "--force", "--out", "."], "no regular file");
}

#[test]
fn every_flag_of_every_kind_is_in_the_reference_and_its_help_has_examples() {
    let page = heelclear::manual::page("commands").unwrap().text;
    let (_, text) = page.split_once("\n## `new`\n").unwrap();
    let (text, _) = text.split_once("\n## ").unwrap();
    let command = heelclear::cli::command();
    let new = command.find_subcommand("new").unwrap();
    let folder = tempfile::tempdir().unwrap();
    for kind in new.get_subcommands() {
        for flag in kind.get_arguments().filter_map(|it| it.get_long()) {
            let common = ["json", "help"].contains(&flag);
            assert!(
                common || text.contains(&format!("`--{flag}")),
                "{} --{flag}",
                kind.get_name()
            );
        }
        let (status, stdout, _) = run(folder.path(), &["new", kind.get_name(), "--help"]);
        assert_eq!(status, 0);
        assert!(stdout.contains("Examples:"), "{stdout}");
    }
}
