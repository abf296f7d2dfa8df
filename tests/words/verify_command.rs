//! `verify` as a script meets it: statuses, streams, files, several folders.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::simulator::built_in;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use tempfile::TempDir;

/// Inspections of these recipes, side by side in one folder.
fn bench(recipes: &[&str]) -> (TempDir, Vec<PathBuf>) {
    let bench = tempfile::tempdir().unwrap();
    let folders = recipes.iter().map(|recipe| {
        let folder = bench.path().join(recipe);
        write_folder(&built_in(recipe).unwrap(), &folder).unwrap();
        folder
    });
    let folders = folders.collect();
    (bench, folders)
}

fn verify(folders: &[PathBuf], flags: &[&str]) -> Output {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    command.arg("verify").args(folders).args(flags);
    command.output().unwrap()
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

fn json(path: &Path) -> serde_json::Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn the_status_tells_the_verdict_and_the_worst_of_several_wins() {
    #[track_caller]
    fn check(recipes: &[&str], status: i32) {
        let (_bench, folders) = bench(recipes);
        let output = verify(&folders, &[]);
        assert_eq!(
            output.status.code(),
            Some(status),
            "{}",
            text(&output.stdout)
        );
    }
    check(&["counterbore-pass"], 0);
    check(&["counterbore-heel-drag"], 1);
    check(&["counterbore-no-reference"], 3);
    check(&["counterbore-pass", "counterbore-no-reference"], 3);
    check(&["counterbore-heel-drag", "counterbore-no-reference"], 1);
}

#[test]
fn json_is_the_verdict_alone_one_a_line_and_the_same_as_in_the_file() {
    let (_bench, folders) = bench(&["counterbore-pass", "counterbore-heel-drag"]);
    let output = verify(&folders, &["--json", "--units", "in"]);
    let lines: Vec<&str> = text(&output.stdout).lines().collect();
    assert_eq!(lines.len(), 2);
    for (line, folder) in lines.iter().zip(&folders) {
        let printed: serde_json::Value = serde_json::from_str(line).unwrap();
        assert_eq!(printed["schema"], "heelclear.verdict/1");
        assert_eq!(printed, json(&folder.join("verdict.json")));
    }
}

#[test]
fn json_has_an_error_in_the_place_of_a_folder_that_could_not_be_judged() {
    let (bench, folders) = bench(&["counterbore-pass"]);
    let folders = [bench.path().join("nowhere"), folders[0].clone()];
    let output = verify(&folders, &["--json"]);
    assert_eq!(output.status.code(), Some(2));
    let lines: Vec<serde_json::Value> = text(&output.stdout)
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(lines[0]["error"]["code"], "missing-file");
    assert_eq!(lines[1]["verdict"], "pass");
}

#[test]
fn a_record_that_is_read_back_is_the_same() {
    use heelclear::record::Record;
    let (_bench, folders) = bench(&["counterbore-heel-drag"]);
    verify(&folders, &[]);
    let written = fs::read_to_string(folders[0].join("verdict.json")).unwrap();
    let record = Record::from_json(&written, "verdict.json").unwrap();
    assert_eq!(record.to_json().unwrap(), written);
}

#[test]
fn judging_twice_gives_the_same_bytes() {
    let (_bench, folders) = bench(&["counterbore-pass"]);
    let results =
        || ["verdict.json", "report.svg"].map(|file| fs::read(folders[0].join(file)).unwrap());
    verify(&folders, &[]);
    let first = results();
    verify(&folders, &[]);
    assert!(first == results());
}

#[test]
fn the_budget_and_inches_are_printed_where_they_are_asked_for() {
    let (_bench, folders) = bench(&["counterbore-pass"]);
    let plain = verify(&folders, &[]);
    let more = verify(&folders, &["--budget", "--units", "in"]);
    assert!(text(&more.stdout).lines().count() > 2 * text(&plain.stdout).lines().count());
    assert!(text(&more.stdout).contains(" in"), "{}", text(&more.stdout));
    assert!(text(&plain.stdout).contains(" mm"));
}

#[test]
fn the_report_is_named_on_stderr_and_a_pipe_gets_no_colour() {
    let (_bench, folders) = bench(&["counterbore-pass"]);
    let output = verify(&folders, &[]);
    assert!(text(&output.stderr).contains("report.svg"));
    assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b));
}

#[test]
fn a_reader_that_has_seen_enough_does_not_stop_the_judging() {
    let (_bench, folders) = bench(&["counterbore-heel-drag"]);
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("heelclear"))
        .arg("verify")
        .args(&folders)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    assert!(folders[0].join("verdict.json").is_file());
}

#[test]
fn several_folders_are_answered_for_first_and_have_a_line_each() {
    let (bench, mut folders) = bench(&["counterbore-pass", "counterbore-heel-drag"]);
    folders.push(bench.path().join("nowhere"));
    let output = verify(&folders, &[]);
    assert_eq!(output.status.code(), Some(2));
    let lines: Vec<&str> = text(&output.stdout).lines().collect();
    let answer = "all 3 folders: 1 without a verdict, 1 fail, 1 pass";
    assert_eq!(lines[0], answer);
    let summary = &lines[1..];
    let expected = [
        "PASS       VB-07, simulated",
        "FAIL       VB-08, simulated  seat, flute",
        "NO VERDICT missing-file",
    ];
    assert_eq!(summary.len(), expected.len());
    for ((line, folder), expected) in summary.iter().zip(&folders).zip(expected) {
        assert!(
            line.contains(&folder.display().to_string()) && line.contains(expected),
            "{line}"
        );
    }
    let alone = verify(&folders[..1], &[]);
    assert!(!text(&alone.stdout).contains("all 1 folders"));
    // With details each has its figures, and the answer stands at the end, where a terminal stops.
    let whole = verify(&folders, &["--details"]);
    let whole = text(&whole.stdout);
    assert_eq!(whole.matches("heel clearance  ").count(), 4, "{whole}");
    let end = whole.find(answer).unwrap();
    assert!(whole.rfind("taken for granted").unwrap() < end);
    let quiet = verify(&folders, &["--quiet"]);
    assert_eq!((quiet.status.code(), quiet.stdout.len()), (Some(2), 0));
    assert!(text(&quiet.stderr).contains("missing-file"));
    let quiet = verify(&folders[..2], &["-q"]);
    assert_eq!(quiet.status.code(), Some(1));
    assert!(quiet.stdout.is_empty() && quiet.stderr.is_empty());
}

#[test]
fn a_pattern_in_quotes_is_the_folders_that_match_it() {
    let (bench, folders) = bench(&["counterbore-pass", "counterbore-heel-drag"]);
    fs::write(bench.path().join("notes.txt"), "no folder").unwrap();
    let all = verify(&[bench.path().join("*")], &[]);
    let mut named = folders.clone();
    named.sort();
    assert_eq!(text(&all.stdout), text(&verify(&named, &[]).stdout));
    let one = verify(&[bench.path().join("counterbore-[p]???")], &["-q"]);
    assert_eq!(one.status.code(), Some(0), "{}", text(&one.stderr));
    let none = verify(&[bench.path().join("reamer-*")], &[]);
    assert_eq!(none.status.code(), Some(2));
    assert!(text(&none.stderr).contains("which matches no folder"));
    // A folder that is called like a pattern is that folder.
    let odd = bench.path().join("odd[1]");
    fs::rename(&folders[0], &odd).unwrap();
    let odd = verify(&[odd], &[]);
    assert!(text(&odd.stdout).starts_with("PASS"));
}

#[test]
fn what_a_terminal_would_obey_is_shown_and_reaches_none() {
    let (bench, folders) = bench(&["counterbore-pass", "counterbore-heel-drag"]);
    // Hidden letters from here on, and a line that is wiped.
    let odd = bench.path().join("odd\u{1b}[8m\u{1b}[2K");
    fs::rename(&folders[0], &odd).unwrap();
    let card = odd.join("tool.toml");
    let text_of = fs::read_to_string(&card).unwrap();
    let named = text_of.replace("id = \"VB-07\"", "id = \"VB-07\\u001b[31m\"");
    assert_ne!(named, text_of);
    fs::write(&card, named).unwrap();
    let gone = bench.path().join("gone\u{9b}31m");
    for options in [&[][..], &["--details"], &["--json"]] {
        let output = verify(&[odd.clone(), folders[1].clone(), gone.clone()], options);
        for stream in [&output.stdout, &output.stderr] {
            let told = text(stream);
            assert!(!told.contains(['\u{1b}', '\u{9b}']), "{told}");
        }
        // Not merely taken out for want of a terminal: it is shown that something stood there.
        assert!(text(&output.stderr).contains("gone\u{fffd}31m"));
        if options.is_empty() {
            assert!(text(&output.stdout).contains("odd\u{fffd}[8m\u{fffd}[2K"));
        }
    }
}

#[test]
fn the_report_has_the_unit_that_was_asked_for() {
    let (_bench, folders) = bench(&["counterbore-pass"]);
    let page = || fs::read_to_string(folders[0].join("report.svg")).unwrap();
    verify(&folders, &[]);
    assert!(page().contains("drop behind the edge, mm"));
    verify(&folders, &["--units", "in"]);
    assert!(page().contains("drop behind the edge, in"));
    assert_eq!(
        json(&folders[0].join("verdict.json"))["characteristics"][0]["unit"],
        "mm"
    );
}

#[test]
fn a_capture_that_was_cut_short_says_so_wherever_its_verdict_is_read() {
    let (_bench, folders) = bench(&["counterbore-pass"]);
    let card = folders[0].join("inspection.toml");
    let whole = fs::read_to_string(&card).unwrap();
    fs::write(&card, format!("interrupted = true\n{whole}")).unwrap();
    let output = verify(&folders, &[]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(text(&output.stdout).contains("THE CAPTURE WAS CUT SHORT."));
    let record = json(&folders[0].join("verdict.json"));
    assert!(
        record["warnings"][0]
            .as_str()
            .unwrap()
            .contains("cut short")
    );
    let page = fs::read_to_string(folders[0].join("report.svg")).unwrap();
    assert!(page.contains("THE CAPTURE WAS CUT SHORT."));
}

#[test]
fn what_is_left_of_an_earlier_judging_is_said_to_be_old() {
    let (_bench, folders) = bench(&["counterbore-pass"]);
    verify(&folders, &[]);
    fs::write(folders[0].join("tool.toml"), "").unwrap();
    let output = verify(&folders, &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        text(&output.stderr).contains("of an earlier judging"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn a_record_names_its_files_from_the_folder_on_wherever_that_stands() {
    let (_bench, folders) = bench(&["counterbore-pass"]);
    let trace = folders[0].join("traces/seat.csv");
    let rows = fs::read_to_string(&trace).unwrap() + "x,y,z\n";
    fs::write(&trace, rows).unwrap();
    verify(&folders, &[]);
    let record = json(&folders[0].join("verdict.json"));
    let warning = record["warnings"][0].as_str().unwrap();
    assert!(warning.starts_with("traces/seat.csv, line "), "{warning}");
}
