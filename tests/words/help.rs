//! The command line as a person or a script meets it: help, streams, statuses, quiet pipes.
#![allow(clippy::unwrap_used, clippy::panic)]

use assert_cmd::Command;
use std::process::Stdio;

fn heelclear(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("heelclear").unwrap();
    command.args(arguments);
    command
}

/// Runs it and gives status, stdout and stderr.
fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = heelclear(arguments).output().unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

#[test]
fn every_command_has_help_with_examples_on_stdout() {
    let mut lines = vec![vec!["--help".to_owned()]];
    for command in heelclear::cli::command().get_subcommands() {
        lines.push(vec![command.get_name().to_owned(), "--help".to_owned()]);
    }
    for line in lines {
        let words: Vec<&str> = line.iter().map(String::as_str).collect();
        let (status, stdout, stderr) = run(&words);
        assert_eq!((status, stderr.as_str()), (0, ""), "{line:?}");
        assert!(stdout.contains("Usage: heelclear"), "{line:?}");
        assert!(stdout.contains("Example"), "{line:?} has no examples");
        let longest = stdout.lines().map(|line| line.chars().count()).max();
        assert!(longest <= Some(110), "{line:?} is {longest:?} wide");
    }
}

#[test]
fn the_bare_word_help_gives_help() {
    #[track_caller]
    fn check(arguments: &[&str], same_as: &[&str]) {
        let (status, stdout, stderr) = run(arguments);
        assert_eq!((status, stderr.as_str()), (0, ""), "{stdout}");
        assert_eq!(stdout, run(same_as).1);
    }
    check(&["help"], &["--help"]);
    check(&["help", "verify"], &["verify", "--help"]);
    check(&["archive", "help"], &["archive", "--help"]);
    check(&["help", "archive", "add"], &["archive", "add", "--help"]);
    check(&["archive", "help", "add"], &["archive", "add", "--help"]);
    let (status, _, stderr) = run(&["help", "verfy"]);
    assert_eq!(status, 2);
    assert!(stderr.contains("verfy"), "{stderr}");
}

#[test]
fn a_command_line_that_cannot_be_understood_ends_with_2_and_says_what_to_do() {
    #[track_caller]
    fn check(arguments: &[&str], word: &str) {
        let (status, stdout, stderr) = run(arguments);
        assert_eq!((status, stdout.as_str()), (2, ""), "{stderr}");
        assert!(stderr.contains("error[usage]: "), "{stderr}");
        assert!(stderr.contains(word), "`{word}` is not in {stderr}");
    }
    check(&[], "expected one of those above");
    check(&["verfy"], "verfy");
    check(&["manual", "--colour"], "--colour");
    check(&["manual", "tutorail"], "`tutorial`");
    check(&["manual", "zebra"], "heelclear manual glossary");
    check(&["completions"], "<SHELL>");
    check(&["completions", "dos"], "bash");
}

#[test]
fn an_error_is_json_on_stdout_where_json_is_asked_for() {
    for arguments in [
        ["manual", "zebra", "--json"],
        ["--json", "completions", "dos"],
    ] {
        let (status, stdout, stderr) = run(&arguments);
        assert_eq!((status, stdout.lines().count()), (2, 1));
        let answer: serde_json::Value = serde_json::from_str(&stdout).unwrap();
        assert_eq!(answer["error"]["code"], "usage");
        assert!(stderr.contains("error[usage]"));
    }
}

#[test]
fn json_is_one_object_a_line() {
    for arguments in [
        ["manual", "--json"].as_slice(),
        &["manual", "flutes", "--json"],
        &["completions", "fish", "--json"],
    ] {
        let (status, stdout, _) = run(arguments);
        assert_eq!(status, 0);
        for line in stdout.lines() {
            let answer: serde_json::Value = serde_json::from_str(line).unwrap();
            assert!(answer.is_object());
        }
    }
}

#[test]
fn a_reader_that_has_seen_enough_is_no_fault() {
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("heelclear"))
        .args(["completions", "bash"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The pipe is closed before anything is read from it.
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told() {
    let full = std::fs::File::options()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let output = std::process::Command::new(assert_cmd::cargo::cargo_bin!("heelclear"))
        .arg("manual")
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(
        String::from_utf8(output.stderr)
            .unwrap()
            .contains("error[disk]: stdout")
    );
}

#[test]
fn no_colour_code_leaves_the_program_where_nobody_could_see_it() {
    for arguments in [
        ["manual", "tutorial"].as_slice(),
        &["--help"],
        &["nonsense"],
    ] {
        let output = heelclear(arguments).env("NO_COLOR", "1").output().unwrap();
        for stream in [output.stdout, output.stderr] {
            assert!(!stream.contains(&0x1b));
        }
    }
}

#[test]
fn any_word_with_a_heading_in_the_reference_can_be_looked_up() {
    for (word, says) in [
        ("flutes", "from 1 to 24"),
        ("card-value", "outside what makes sense"),
        ("3", "undecided"),
        ("manual", "lists the pages"),
        ("help", "heelclear help COMMAND"),
        ("heel-clearance", "Heel drag"),
    ] {
        let (status, stdout, _) = run(&["manual", word]);
        assert_eq!(status, 0);
        assert!(stdout.contains(says), "{word}: {stdout}");
    }
}

#[test]
fn completions_know_every_command_and_the_names_of_what_is_there() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let (status, script, _) = run(&["completions", shell]);
        assert!(
            status == 0 && script.contains("HEELCLEAR_COMPLETE"),
            "{script}"
        );
    }
    let home = tempfile::tempdir().unwrap();
    // What the script for fish asks: the words so far, the last of them begun.
    let asked = |words: &[&str]| {
        let mut arguments = vec!["--", "heelclear"];
        arguments.extend(words);
        let output = heelclear(&arguments)
            .env("HEELCLEAR_COMPLETE", "fish")
            .env("HOME", home.path())
            .env("XDG_DATA_HOME", home.path())
            .output()
            .unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let all = asked(&[""]);
    for command in heelclear::cli::command().get_subcommands() {
        let name = command.get_name();
        assert!(all.lines().any(|line| line.starts_with(name)), "{all}");
    }
    assert!(asked(&["simulate", "six"]).contains("six-flute-reamer"));
    assert!(asked(&["manual", "tut"]).contains("tutorial"));
    // No archive yet, and none is made by asking.
    assert!(!asked(&["archive", "show", ""]).contains("VB-07"));
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0);
    let sample = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-data/counterbore-pass");
    let bench = home.path().join("bench");
    std::fs::create_dir_all(bench.join("traces")).unwrap();
    for file in [
        "tool.toml",
        "gauge.toml",
        "inspection.toml",
        "traces/seat.csv",
        "traces/shank.csv",
    ] {
        std::fs::copy(format!("{sample}/{file}"), bench.join(file)).unwrap();
    }
    let kept = heelclear(&["verify", bench.to_str().unwrap(), "--archive"])
        .env("HOME", home.path())
        .env("XDG_DATA_HOME", home.path())
        .output()
        .unwrap();
    assert!(kept.status.success());
    assert!(asked(&["archive", "show", ""]).contains("1\tVB-07 2026-03-02 pass"));
    assert!(asked(&["archive", "list", "--tool", "V"]).contains("VB-07\tseat counterbore"));
}
