//! Whatever a folder holds, the program says what is wrong with it, and leaves nothing half written.
#![allow(clippy::unwrap_used, clippy::panic)]

use crate::folders::copy;
use heelclear::inspection::simulated::write_folder;
use heelclear::simulator::built_in;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;

/// A good inspection, made once and copied for each test.
fn good() -> &'static Path {
    static GOOD: OnceLock<TempDir> = OnceLock::new();
    let made = GOOD.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        write_folder(&built_in("counterbore-pass").unwrap(), folder.path()).unwrap();
        folder
    });
    made.path()
}

/// A copy of the good inspection, to be spoilt.
fn folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    copy(good(), folder.path());
    folder
}

/// Every file below a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else {
            found.push(path);
        }
    }
    found.sort();
    found
}

struct Answer {
    status: i32,
    stdout: String,
    stderr: String,
}

fn verify(folders: &[&Path]) -> Answer {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = command.arg("verify").args(folders).output().unwrap();
    Answer {
        status: output.status.code().unwrap(),
        stdout: String::from_utf8(output.stdout).unwrap(),
        stderr: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Spoils a good folder, and expects status 2, these words, and not one file more than before.
#[track_caller]
fn check(spoil: impl FnOnce(&Path), words: &[&str]) {
    let folder = folder();
    spoil(folder.path());
    let before = files(folder.path());
    let answer = verify(&[folder.path()]);
    let said = &answer.stderr;
    assert_eq!(answer.status, 2, "{said}{}", answer.stdout);
    assert_eq!(answer.stdout, "");
    assert!(!said.contains("panicked"), "{said}");
    for word in words {
        assert!(said.contains(word), "`{word}` is not in\n{said}");
    }
    assert_eq!(files(folder.path()), before, "something was left behind");
}

/// Writes a file of the folder anew.
fn put(file: &str, text: impl AsRef<[u8]>) -> impl FnOnce(&Path) {
    move |folder: &Path| fs::write(folder.join(file), text).unwrap()
}

/// Changes the text of a file of the folder.
fn edit(file: &str, change: impl FnOnce(String) -> String) -> impl FnOnce(&Path) {
    move |folder: &Path| {
        let path = folder.join(file);
        let text = fs::read_to_string(&path).unwrap();
        let changed = change(text.clone());
        assert_ne!(text, changed, "nothing was changed in {file}");
        fs::write(path, changed).unwrap();
    }
}

/// Sets a key of a card to something else.
fn set(file: &'static str, key: &'static str, value: &'static str) -> impl FnOnce(&Path) {
    edit(file, move |text| {
        let lines = text.lines().map(|line| {
            if line.split('=').next().unwrap().trim() == key {
                format!("{key} = {value}\n")
            } else {
                format!("{line}\n")
            }
        });
        lines.collect()
    })
}

const CARDS: [&str; 3] = ["inspection.toml", "tool.toml", "gauge.toml"];

/// The trace of the lands, whatever the recipe calls it.
fn trace() -> &'static str {
    static NAME: OnceLock<String> = OnceLock::new();
    NAME.get_or_init(|| {
        let card = fs::read_to_string(good().join("inspection.toml")).unwrap();
        let card = heelclear::card::InspectionCard::parse(&card, "inspection.toml").unwrap();
        let entry = card
            .traces
            .iter()
            .find(|entry| matches!(entry.role, heelclear::card::Role::Feature(_)))
            .unwrap();
        match &entry.source {
            heelclear::card::Source::One(file) => file.clone(),
            heelclear::card::Source::Two { .. } => panic!("the recipe has two clocks"),
        }
    })
}

/// Changes the rows below the header of the trace of the lands.
fn rows(change: impl Fn(usize, Vec<&str>) -> String) -> impl FnOnce(&Path) {
    edit(trace(), move |text| {
        let mut lines = text.lines();
        let header = lines.next().unwrap().to_owned();
        let changed = lines
            .enumerate()
            .map(|(at, line)| change(at, line.split(',').collect()));
        std::iter::once(header)
            .chain(changed)
            .collect::<Vec<_>>()
            .join("\n")
    })
}

/// Bytes that look random, the same on every run.
fn noise(length: usize) -> Vec<u8> {
    let mut state = 0x9e37_79b9_7f4a_7c15u64;
    let next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 32) as u8
    };
    std::iter::repeat_with(next).take(length).collect()
}

#[test]
fn the_good_folder_is_good() {
    let folder = folder();
    let answer = verify(&[folder.path()]);
    assert_eq!(answer.status, 0, "{}{}", answer.stderr, answer.stdout);
    assert!(folder.path().join("verdict.json").is_file());
    assert!(folder.path().join("report.svg").is_file());
}

#[test]
fn what_is_not_there_is_named() {
    check(
        |folder| fs::remove_file(folder.join("tool.toml")).unwrap(),
        &["tool.toml", "missing-file"],
    );
    check(
        |folder| fs::remove_file(folder.join("gauge.toml")).unwrap(),
        &["gauge.toml"],
    );
    check(
        |folder| fs::remove_file(folder.join("inspection.toml")).unwrap(),
        &["inspection.toml"],
    );
    check(
        |folder| fs::remove_file(folder.join(trace())).unwrap(),
        &[trace(), "missing-file"],
    );
    check(
        |folder| {
            CARDS
                .iter()
                .for_each(|card| fs::remove_file(folder.join(card)).unwrap())
        },
        &["inspection.toml"],
    );
    check(
        |folder| fs::remove_file(folder.join(trace())).unwrap(),
        &["expected one", "help: "],
    );
    let nowhere = Path::new("no/such/folder");
    let answer = verify(&[nowhere]);
    assert_eq!(answer.status, 2);
    assert!(
        answer.stderr.contains("no/such/folder"),
        "{}",
        answer.stderr
    );
}

#[test]
fn a_file_where_a_folder_should_be_and_the_other_way_round() {
    let folder = folder();
    let answer = verify(&[&folder.path().join("tool.toml")]);
    assert_eq!(answer.status, 2, "{}", answer.stderr);
    check(
        |folder| {
            fs::remove_file(folder.join(trace())).unwrap();
            fs::create_dir(folder.join(trace())).unwrap();
        },
        &[trace()],
    );
}

#[test]
fn an_empty_file_is_told() {
    for card in CARDS {
        check(put(card, ""), &[card, "missing-key", "schema"]);
    }
    check(put(trace(), ""), &[trace(), "trace-header"]);
}

#[test]
fn a_header_alone_is_told() {
    check(
        put(trace(), "time_s,angle_deg,reading_mm\n"),
        &[trace(), "trace-short"],
    );
    check(
        put(trace(), "time_s,angle_deg\n0.0,1.0\n0.1,2.0\n"),
        &[trace(), "reading_mm"],
    );
    check(
        put(trace(), "0.0,1.0,2.0\n0.1,1.1,2.0\n"),
        &[trace(), "trace-header"],
    );
}

#[test]
fn random_bytes_are_told() {
    for card in CARDS {
        check(put(card, noise(3000)), &[card, "card-syntax"]);
    }
    check(put(trace(), noise(3000)), &[trace()]);
    let mut spoilt = b"time_s,angle_deg,reading_mm\n".to_vec();
    spoilt.extend(noise(20_000));
    check(put(trace(), spoilt), &[trace()]);
}

#[test]
fn a_value_that_makes_no_sense_is_told_with_its_line() {
    check(
        set("tool.toml", "flutes", "0"),
        &["tool.toml, line ", "read `0`", "from 1 to 24"],
    );
    check(
        set("tool.toml", "diameter_mm", "-20.0"),
        &["tool.toml, line ", "`-20.0`", "above 0"],
    );
    check(set("tool.toml", "diameter_mm", "nan"), &["`nan`"]);
    check(set("tool.toml", "check_distance_mm", "inf"), &["`inf`"]);
    check(
        set("tool.toml", "diameter_mm", "1e300"),
        &["`1e300`", "2000 mm"],
    );
    check(
        set("gauge.toml", "counts_per_rev", "0"),
        &["gauge.toml, line ", "from 4"],
    );
    check(
        set("tool.toml", "relief_angle_deg", "{ min = 9.0, max = 6.0 }"),
        &["tool.toml, line ", "a `min` that is not above `max`"],
    );
}

#[test]
fn a_trace_without_a_single_number_is_told() {
    for value in ["nan", "NaN", "inf", "-inf", "", "abc", "1e999"] {
        check(
            rows(move |_, row| format!("{},{},{value}", row[0], row[1])),
            &[trace()],
        );
    }
}

#[test]
fn huge_numbers_are_told() {
    for value in ["1e300", "-1e300", "1e18"] {
        check(
            rows(move |_, row| format!("{},{value},{}", row[0], row[2])),
            &[trace()],
        );
        check(
            rows(move |_, row| format!("{},{},{value}", row[0], row[1])),
            &[trace()],
        );
    }
}

#[test]
fn a_trace_shorter_than_a_turn_is_told() {
    check(
        edit(trace(), |text| {
            text.lines()
                .take(40)
                .map(|line| format!("{line}\n"))
                .collect()
        }),
        &[trace(), "trace-short"],
    );
    check(
        put(trace(), "time_s,angle_deg,reading_mm\n0.0,1.0,0.5\n"),
        &[trace(), "trace-short"],
    );
}

#[test]
fn a_constant_trace_has_no_teeth() {
    check(
        rows(|_, row| format!("{},{},0.250", row[0], row[1])),
        &[trace(), "teeth"],
    );
}

#[test]
fn a_tool_that_does_not_turn_is_told() {
    check(
        rows(|_, row| format!("{},12.5,{}", row[0], row[2])),
        &[trace(), "trace-short"],
    );
}

#[test]
fn rows_of_which_none_is_in_order_are_told() {
    check(
        rows(|at, row| format!("{},{},{}", 1e6 - at as f64, row[1], row[2])),
        &[trace()],
    );
}

#[test]
fn another_number_of_teeth_than_the_card_says_is_told() {
    check(set("tool.toml", "flutes", "7"), &["teeth", "7"]);
}

#[test]
fn a_trace_of_a_feature_that_no_card_knows_is_told() {
    check(
        set("inspection.toml", "feature", "\"sole\""),
        &["`sole`", "expected `"],
    );
}

#[test]
fn a_path_that_leaves_the_folder_is_told() {
    check(
        set("inspection.toml", "tool", "\"../tool.toml\""),
        &["inspection.toml, line ", "inside the folder"],
    );
}

#[test]
fn a_card_names_neither_what_the_program_writes_nor_a_card() {
    #[track_caller]
    fn refused(path: &str, why: &str) {
        let path = path.to_owned();
        check(
            edit("inspection.toml", move |text| text.replace(trace(), &path)),
            &["inspection.toml, line ", "inside the folder", why],
        );
    }
    refused("verdict.json", "which judging writes");
    refused("./Verdict.JSON", "which judging writes");
    refused("report.svg", "which judging writes");
    refused("inspection.toml", "the inspection card itself");
    refused("tool.toml", "the tool card or the gauge card");
    refused("traces/.././gauge.toml", "leads out of a folder");
    refused("GAUGE.toml", "the tool card or the gauge card");
    refused("raw/seat.log", "a raw log");
    refused("archive.db", "an archive");
    refused("traces/", "names no file");
    refused("/dev/zero", "does not start at the folder");
    refused("traces", "it is a folder");
}

#[cfg(unix)]
#[test]
fn a_link_may_not_lead_out_of_the_folder_and_may_within() {
    let elsewhere = folder();
    let path = |file: &str| elsewhere.path().join(file);
    let other = path(trace());
    check(
        |folder| {
            fs::remove_file(folder.join(trace())).unwrap();
            symlink(&other, folder.join(trace())).unwrap();
        },
        &["inspection.toml, line ", trace(), "through a link"],
    );
    check(
        |folder| {
            fs::remove_dir_all(folder.join("traces")).unwrap();
            symlink(path("traces"), folder.join("traces")).unwrap();
        },
        &["through a link"],
    );
    check(
        |folder| {
            fs::remove_file(folder.join("tool.toml")).unwrap();
            symlink(path("tool.toml"), folder.join("tool.toml")).unwrap();
        },
        &["`tool.toml`", "through a link"],
    );
    check(
        |folder| {
            fs::remove_file(folder.join("inspection.toml")).unwrap();
            symlink(path("inspection.toml"), folder.join("inspection.toml")).unwrap();
        },
        &["inspection.toml", "a link that leads out"],
    );
    check(
        |folder| {
            fs::remove_file(folder.join(trace())).unwrap();
            fs::write(folder.join("report.svg"), "<svg/>").unwrap();
            symlink("../report.svg", folder.join(trace())).unwrap();
        },
        &["it is a link, and that is the report"],
    );
    check(
        |folder| {
            fs::remove_file(folder.join(trace())).unwrap();
            let made = std::process::Command::new("mkfifo")
                .arg(folder.join(trace()))
                .status();
            assert!(made.unwrap().success());
        },
        &[trace(), "no regular file"],
    );
    let within = folder();
    let (from, to) = (within.path().join(trace()), within.path().join("kept.csv"));
    fs::rename(&from, &to).unwrap();
    symlink("../kept.csv", &from).unwrap();
    let answer = verify(&[within.path()]);
    assert_eq!(answer.status, 0, "{}", answer.stderr);
}

#[test]
fn lines_in_another_order_are_told_as_that_with_their_numbers() {
    // Shuffled, nobody knows which were taken where.
    check(
        edit(trace(), |text| {
            let mut lines: Vec<&str> = text.lines().collect();
            let half = lines.len() / 2;
            lines[1..].rotate_left(half);
            lines.join("\n")
        }),
        &["error[trace-order]", "time ran backwards at line ", "line "],
    );
    check(
        edit(trace(), |text| {
            let mut lines: Vec<&str> = text.lines().collect();
            lines[1..].reverse();
            lines.join("\n")
        }),
        &["error[trace-order]", "lines, first at 3, 4, 5, 6, 7"],
    );
    // Two that changed places are marked, and told.
    let folder = folder();
    edit(trace(), |text| {
        let mut lines: Vec<&str> = text.lines().collect();
        lines.swap(100, 101);
        lines.join("\n") + "\n"
    })(folder.path());
    let answer = verify(&[folder.path()]);
    assert_ne!(answer.status, 2, "{}", answer.stderr);
    let said = format!("{}{}", answer.stdout, answer.stderr);
    assert!(
        said.contains("time ran backwards at line 102; 1 of "),
        "{said}"
    );
}

#[test]
fn a_probe_whose_line_passes_the_tool_by_is_told_with_the_radius() {
    for offset in ["10.5", "-10.5", "10"] {
        check(
            set("gauge.toml", "probe_offset_mm", offset),
            &[
                "gauge.toml, line ",
                offset,
                "less than 10 mm",
                "passes it by",
            ],
        );
    }
}

#[test]
fn a_result_that_cannot_be_written_leaves_nothing_behind_and_is_told_for_its_cause() {
    check(
        |folder| fs::create_dir(folder.join("verdict.json")).unwrap(),
        &["verdict.json", "disk", "a folder of that name is there"],
    );
}

#[test]
fn a_decimal_comma_is_told_for_what_it_is() {
    check(
        set("tool.toml", "check_distance_mm", "0,5"),
        &["tool.toml, line ", "decimals have a point"],
    );
}

#[test]
fn a_column_that_is_missing_is_told_with_those_that_are_there() {
    check(
        edit(trace(), |text| text.replace("angle_deg", "bearing")),
        &[trace(), "`time_s` and `reading_mm`", "expected `angle_deg`"],
    );
}

#[test]
fn one_bad_folder_does_not_stop_the_others() {
    let (bad, good) = (folder(), folder());
    fs::write(bad.path().join("tool.toml"), "").unwrap();
    let answer = verify(&[bad.path(), good.path()]);
    assert_eq!(answer.status, 2, "{}", answer.stderr);
    assert!(answer.stderr.contains("missing-key"));
    assert!(good.path().join("verdict.json").is_file());
    assert!(!bad.path().join("verdict.json").exists());
}

#[test]
fn a_few_bad_lines_lose_nothing_but_themselves() {
    let folder = folder();
    rows(|at, row| match at {
        100 => "+00.1x".to_owned(),
        200 => format!("{},{},nan", row[0], row[1]),
        _ => row.join(","),
    })(folder.path());
    let answer = verify(&[folder.path()]);
    assert_eq!(answer.status, 0, "{}{}", answer.stderr, answer.stdout);
    let verdict = fs::read_to_string(folder.path().join("verdict.json")).unwrap();
    let verdict: serde_json::Value = serde_json::from_str(&verdict).unwrap();
    let warnings = verdict["warnings"].to_string();
    assert!(warnings.contains("line 102"), "{warnings}");
}

#[test]
fn wherever_a_file_is_cut_off_the_program_stands() {
    for file in [CARDS[0], CARDS[1], CARDS[2], trace()] {
        let whole = fs::read(good().join(file)).unwrap();
        for part in 0..12 {
            let folder = folder();
            fs::write(folder.path().join(file), &whole[..whole.len() * part / 12]).unwrap();
            let answer = verify(&[folder.path()]);
            assert!(
                (0..=3).contains(&answer.status),
                "{file} at {part}/12: {}",
                answer.stderr
            );
            assert!(!answer.stderr.contains("panicked"), "{}", answer.stderr);
            let written = folder.path().join("verdict.json").exists();
            assert_eq!(written, answer.status != 2, "{file} at {part}/12");
        }
    }
}

fn pipe(at: &Path) {
    let made = std::process::Command::new("mkfifo").arg(at).status();
    assert!(made.unwrap().success());
}

/// Runs the program with these words, and expects an answer with these: it waits for nobody.
#[track_caller]
fn answers(arguments: &[&str], within: &Path, words: &[&str]) {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    command.args(arguments).current_dir(within);
    command.timeout(std::time::Duration::from_secs(120));
    let output = command.output().unwrap();
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {stderr}");
    for word in words {
        assert!(stderr.contains(word), "{arguments:?}: `{word}` in {stderr}");
    }
    assert!(!stderr.contains("panicked"), "{stderr}");
}

#[test]
fn pipes_and_devices_are_refused_wherever_a_file_is_named() {
    for (card, word) in [
        ("inspection.toml", "inspection.toml"),
        ("tool.toml", "tool.toml"),
        ("gauge.toml", "gauge.toml"),
    ] {
        for device in [false, true] {
            let folder = folder();
            let at = folder.path().join(card);
            fs::remove_file(&at).unwrap();
            match device {
                false => pipe(&at),
                true => symlink("/dev/zero", &at).unwrap(),
            }
            answers(&["verify", "."], folder.path(), &[word]);
            answers(
                &["archive", "add", ".", "--archive", "a.db"],
                folder.path(),
                &[word],
            );
            answers(&["setting", "match", "."], folder.path(), &[]);
        }
    }
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    for name in ["p.toml", "report.svg", "notes.txt", "setup.json"] {
        pipe(&at(name));
    }
    let within = folder.path();
    let none = "expected a regular file";
    answers(
        &[
            "capture",
            "out",
            "--port",
            "none",
            "--tool",
            "p.toml",
            "--gauge",
            "gauge.toml",
            "--trace",
            "seat:2",
        ],
        within,
        &[none],
    );
    answers(
        &[
            "capture",
            "out",
            "--port",
            "none",
            "--tool",
            "tool.toml",
            "--gauge",
            "/dev/zero",
            "--trace",
            "seat:2",
        ],
        within,
        &[none],
    );
    answers(
        &["archive", "list", "--archive", "p.toml"],
        within,
        &["no regular file"],
    );
    answers(
        &["archive", "add", ".", "--archive", "/dev/zero"],
        within,
        &["no regular file"],
    );
    answers(&["archive", "check", "--held", "p.toml"], within, &[none]);
    answers(
        &["archive", "add", ".", "--archive", "a.db"],
        within,
        &["no regular file"],
    );
    answers(&["study", "rest", "p.toml"], within, &[]);
}

#[test]
fn a_file_that_is_longer_than_any_card_is_not_read_whole() {
    let folder = folder();
    let card = folder.path().join("tool.toml");
    let file = fs::OpenOptions::new().write(true).open(card).unwrap();
    // Four thousand million bytes that take no room.
    file.set_len(1 << 32).unwrap();
    answers(&["verify", "."], folder.path(), &["tool.toml", "bytes"]);
}
