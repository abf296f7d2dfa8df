//! A verdict belongs to what it was judged from, and is kept for nothing else.

use crate::bench::{Bench, PROGRAM, Said};
use heelclear::inspection::simulated::write_folder;
use heelclear::record::archive::Digest;
use heelclear::simulator::built_in;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn verdict_in(folder: &Path) -> Value {
    let text = fs::read_to_string(folder.join("verdict.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn edit(folder: &Path, change: impl FnOnce(&mut Value)) {
    let mut verdict = verdict_in(folder);
    change(&mut verdict);
    fs::write(folder.join("verdict.json"), verdict.to_string()).unwrap();
}

/// A tool that fails, judged.
fn failing(bench: &Bench, name: &str) -> PathBuf {
    let folder = bench.path(name);
    write_folder(&built_in("counterbore-heel-drag").unwrap(), &folder).unwrap();
    // As if its tool had been measured.
    fs::remove_file(folder.join("simulated.txt")).unwrap();
    let output = Command::new(PROGRAM).arg("verify").arg(&folder).output();
    assert_eq!(output.unwrap().status.code(), Some(1));
    folder
}

#[test]
fn the_digest_is_that_of_the_list_of_digests() {
    #[track_caller]
    fn check(recipe: &str, files: &[&str]) {
        let bench = Bench::new();
        let folder = bench.path("a");
        write_folder(&built_in(recipe).unwrap(), &folder).unwrap();
        let output = Command::new(PROGRAM).arg("verify").arg(&folder).output();
        assert_ne!(output.unwrap().status.code(), Some(2));
        let list: String = files
            .iter()
            .map(|file| format!("{}\n", Digest::of(&fs::read(folder.join(file)).unwrap())))
            .collect();
        let digest = Digest::of(list.as_bytes()).to_string();
        assert_eq!(verdict_in(&folder)["judged_from"], digest.as_str());
        // The line of the manual, where there are such tools.
        let line = format!("sha256sum {} | cut -c 1-64 | sha256sum", files.join(" "));
        let mut shell = Command::new("sh");
        if let Ok(output) = shell.arg("-c").arg(line).current_dir(&folder).output()
            && output.status.success()
            && !output.stdout.is_empty()
        {
            assert!(String::from_utf8_lossy(&output.stdout).starts_with(&digest));
        }
    }
    let cards = ["tool.toml", "gauge.toml", "inspection.toml"];
    check(
        "counterbore-pass",
        &[&cards[..], &["traces/shank.csv", "traces/seat.csv"]].concat(),
    );
    let two = ["traces/shank-angle.csv", "traces/shank-reading.csv"];
    let more = ["traces/seat-angle.csv", "traces/seat-reading.csv"];
    check("two-clocks", &[&cards[..], &two, &more].concat());
}

#[test]
fn a_pass_is_not_kept_with_another_trace_in_its_folder() {
    #[track_caller]
    fn check(file: &str, change: impl Fn(Vec<u8>) -> Vec<u8>) {
        let bench = Bench::new();
        let folder = bench.judged("a", 1);
        let path = folder.join(file);
        fs::write(&path, change(fs::read(&path).unwrap())).unwrap();
        for as_judged in [&[][..], &["--as-judged"]] {
            bench
                .archive(&[&["add", "a"], as_judged].concat())
                .ended(2)
                .says("error[evidence]")
                .says("judged from other cards or traces");
        }
        // Judged anew, it is kept.
        let output = Command::new(PROGRAM).arg("verify").arg(&folder).output();
        assert_ne!(output.unwrap().status.code(), Some(2));
        bench.archive(&["add", "a"]).ended(0).says("kept as record");
    }
    let of_other = Bench::new();
    let other = fs::read(of_other.inspection("b", 2).join("traces/seat.csv")).unwrap();
    check("traces/seat.csv", |_| other.clone());
    for card in ["tool.toml", "gauge.toml", "inspection.toml"] {
        check(card, |bytes| [&bytes[..], b"# mended\n"].concat());
    }
}

#[test]
fn bytes_that_move_from_one_file_into_the_next_are_noticed() {
    let bench = Bench::new();
    let folder = bench.judged("a", 1);
    let (tool, gauge) = (folder.join("tool.toml"), folder.join("gauge.toml"));
    let (first, second) = (fs::read(&tool).unwrap(), fs::read(&gauge).unwrap());
    let end = first.len() - 1;
    fs::write(&tool, &first[..end]).unwrap();
    fs::write(&gauge, [&first[end..], &second].concat()).unwrap();
    bench
        .archive(&["add", "a"])
        .ended(2)
        .says("error[evidence]");
}

#[test]
fn an_edited_verdict_is_refused_however_little_was_changed() {
    #[track_caller]
    fn check(fails: bool, change: impl FnOnce(&mut Value), words: &str) {
        let bench = Bench::new();
        let folder = match fails {
            true => failing(&bench, "a"),
            false => bench.judged("a", 1),
        };
        edit(&folder, change);
        bench
            .archive(&["add", "a"])
            .ended(2)
            .says("error[evidence]")
            .says(words);
        bench
            .archive(&["add", "a", "--as-judged"])
            .ended(0)
            .says("not judged again");
        bench.archive(&["check"]).ended(0);
        bench
            .archive(&["check", "--rejudge"])
            .ended(2)
            .says("1 verdict does not follow")
            .says(words);
        let file = bench.path("paper.svg").display().to_string();
        let certificate = ["certificate", "1", "--out", &file];
        bench.archive(&certificate).ended(2).says("error[evidence]");
        assert!(!bench.path("paper.svg").exists());
        bench
            .archive(&[&certificate[..], &["--as-judged"]].concat())
            .ended(0);
        let page = fs::read_to_string(bench.path("paper.svg")).unwrap();
        assert!(page.contains("AS JUDGED: this verdict"));
    }
    check(
        true,
        |verdict| {
            verdict["verdict"] = "pass".into();
            for figure in verdict["characteristics"].as_array_mut().unwrap() {
                if figure["verdict"] == "fail" {
                    figure["verdict"] = "pass".into();
                }
            }
        },
        "it says pass, they say fail",
    );
    check(
        false,
        |verdict| {
            let figures = verdict["characteristics"].as_array_mut().unwrap();
            figures.retain(|figure| figure["name"] != "drop");
        },
        "it lacks this figure",
    );
    check(
        false,
        |verdict| verdict["about"]["operator"] = "somebody else".into(),
        "`about.operator` is not what",
    );
    check(
        false,
        |verdict| {
            let figure = &mut verdict["characteristics"][0];
            let interval = figure["interval"][0].as_f64().unwrap();
            figure["interval"][0] = (interval * 1.001).into();
        },
        "`characteristics.0.interval.0` is not what",
    );
}

#[test]
fn a_report_of_another_verdict_is_refused() {
    let bench = Bench::new();
    let folder = bench.judged("a", 1);
    let report = folder.join("report.svg");
    let page = fs::read_to_string(&report).unwrap();
    fs::write(&report, page.replace("bench", "Bench")).unwrap();
    bench
        .archive(&["add", "a"])
        .ended(2)
        .says("`report.svg` is not the report");
    // One in inches is as good.
    let mut verify = Command::new(PROGRAM);
    verify.arg("verify").arg(&folder).args(["--units", "in"]);
    Said::of(verify.output().unwrap()).ended(0);
    bench.archive(&["add", "a"]).ended(0);
}

#[test]
fn trials_and_seed_that_a_person_chose_are_made_again() {
    let bench = Bench::new();
    let folder = bench.inspection("a", 1);
    let mut verify = Command::new(PROGRAM);
    verify.arg("verify").arg(&folder);
    verify.args(["--trials", "3000", "--seed", "77"]);
    Said::of(verify.output().unwrap()).ended(0);
    bench.archive(&["add", "a"]).ended(0);
    bench
        .archive(&["check", "--rejudge"])
        .ended(0)
        .says("every verdict follows");
}

#[test]
fn a_verdict_of_an_earlier_program_is_kept_and_said_to_be_not_tied() {
    let bench = Bench::new();
    let folder = bench.judged("a", 1);
    edit(&folder, |verdict| {
        verdict.as_object_mut().unwrap().remove("judged_from");
        verdict["about"]["program"] = "heelclear 0.0.9".into();
    });
    bench
        .archive(&["add", "a"])
        .ended(0)
        .says("not tied to its evidence");
    for line in [&["check"][..], &["check", "--rejudge"]] {
        bench
            .archive(line)
            .ended(0)
            .says("whole: 1 records")
            .says("not tied to its evidence");
    }
    bench
        .archive(&["show", "1"])
        .ended(0)
        .says("not tied to its evidence");
    bench
        .archive(&["trend", "VB-07"])
        .ended(0)
        .says("not tied to its evidence");
    bench
        .archive(&["compare", "1", "1"])
        .ended(0)
        .says("not tied to its evidence");
    let file = bench.path("paper.svg").display().to_string();
    bench
        .archive(&["certificate", "1", "--out", &file])
        .ended(0);
    let page = fs::read_to_string(bench.path("paper.svg")).unwrap();
    assert!(page.contains("not tied to its evidence"));
    // The same by this program lacks what this program writes.
    let other = bench.judged("b", 2);
    edit(&other, |verdict| {
        verdict.as_object_mut().unwrap().remove("judged_from");
    });
    bench
        .archive(&["add", "b"])
        .ended(2)
        .says("`judged_from` is not what");
}

#[test]
fn nothing_is_drawn_from_a_verdict_on_other_traces() {
    let bench = Bench::new();
    for seed in 1..=2 {
        bench.judged(&format!("i{seed}"), seed);
    }
    bench.archive(&["add", "i1", "i2"]).ended(0);
    let db = rusqlite::Connection::open(bench.db()).unwrap();
    let seat = "(select digest from file where number = 2 and path = 'traces/seat.csv')";
    let size = seat.replace("digest", "size");
    db.execute_batch(&format!(
        "update file set size = {size}, digest = {seat} where number = 1 and path = 'traces/seat.csv'"
    ))
    .unwrap();
    drop(db);
    let file = bench.path("paper.svg").display().to_string();
    for line in [
        &["certificate", "1", "--out", &file][..],
        &["certificate", "1", "--as-judged", "--out", &file],
        &["compare", "1", "2"],
        &["show", "1"],
        &["trend", "VB-07"],
    ] {
        bench.archive(line).ended(2).says("error[archive-broken]");
    }
}

/// Edits a failing verdict into a pass.
fn turn_into_pass(folder: &Path) {
    edit(folder, |verdict| {
        verdict["verdict"] = "pass".into();
        for figure in verdict["characteristics"].as_array_mut().unwrap() {
            if figure["verdict"] == "fail" {
                figure["verdict"] = "pass".into();
            }
        }
    });
}

const AS_JUDGED: &str = "kept as it was judged; not judged again";

#[test]
fn a_verdict_that_nobody_judged_again_takes_no_place_unasked_and_is_marked_wherever_it_is_shown() {
    let bench = Bench::new();
    let folder = failing(&bench, "a");
    bench.archive(&["add", "a"]).ended(0);
    turn_into_pass(&folder);
    let said = bench.archive(&["add", "a", "--as-judged"]).ended(0);
    assert!(!said.stdout.contains("judged again by"), "{}", said.stdout);
    said.says(AS_JUDGED).says("in place of no other record");
    // The honest one still stands.
    let listed = bench.archive(&["list"]).ended(0);
    listed
        .says("fail  ")
        .says("pass, as judged")
        .says(AS_JUDGED);
    let listed = bench.archive(&["list", "--json"]).json();
    let marks = |key: &str| listed.iter().map(|it| it[key].clone()).collect::<Vec<_>>();
    assert_eq!(marks("as_judged"), [Value::from(true), false.into()]);
    assert_eq!(marks("replaced_by"), [Value::Null, Value::Null]);
    bench
        .archive(&["show", "2"])
        .ended(0)
        .says(AS_JUDGED)
        .says("AS JUDGED: this verdict");
    let shown = bench.archive(&["show", "2", "--json"]).json();
    assert_eq!(shown[0]["record"]["as_judged"], true);
    bench
        .archive(&["compare", "1", "2"])
        .ended(0)
        .says("(as judged)")
        .says(AS_JUDGED);
    let compared = bench.archive(&["compare", "1", "2", "--json"]).json();
    assert_eq!(compared[0]["after"]["as_judged"], true);
    // One measurement is one regrind, and the one that was held against its evidence counts.
    let tool = verdict_in(&folder)["tool"].as_str().unwrap().to_owned();
    let trend = bench.archive(&["trend", &tool]).ended(0);
    assert!(!trend.stdout.contains("as judged"), "{}", trend.stdout);
    assert_eq!(trend.stdout.matches("  record ").count(), 1);
    bench
        .archive(&["check"])
        .ended(0)
        .says("not judged again: the verdict of 2");
    // Asked for, it takes the place, and is marked there too.
    edit(&folder, |verdict| {
        verdict["warnings"] = Vec::<Value>::new().into()
    });
    edit(&folder, |verdict| {
        verdict["about"]["operator"] = "me".into()
    });
    let why = ["--replaces", "1", "--why", "an older program"];
    bench
        .archive(&[&["add", "a", "--as-judged"], &why[..]].concat())
        .ended(0)
        .says("in place of an earlier one: an older program");
    let trend = bench.archive(&["trend", &tool]).ended(0);
    trend.says("pass, as judged").says(AS_JUDGED);
    let trend = bench.archive(&["trend", &tool, "--json"]).json();
    assert_eq!(trend[0]["regrinds"][0]["as_judged"], true);
    let table = bench.archive(&["export", "--as", "csv"]).ended(0);
    assert!(table.stdout.lines().next().unwrap().ends_with("as_judged"));
    assert!(table.stdout.lines().nth(1).unwrap().ends_with(",true"));
}

#[test]
fn judged_again_takes_the_place_of_the_judged_one_and_not_of_the_marked() {
    let bench = Bench::new();
    let folder = failing(&bench, "a");
    bench.archive(&["add", "a"]).ended(0);
    let honest = fs::read(folder.join("verdict.json")).unwrap();
    turn_into_pass(&folder);
    bench.archive(&["add", "a", "--as-judged"]).ended(0);
    fs::write(folder.join("verdict.json"), honest).unwrap();
    // Another seed moves the figures within their doubt: a verdict of its own.
    let again = ["verify", "--seed", "7"];
    let output = Command::new(PROGRAM).args(again).arg(&folder).output();
    assert_eq!(output.unwrap().status.code(), Some(1));
    bench
        .archive(&["add", "a"])
        .ended(0)
        .says("in place of an earlier one: judged again by");
    let listed = bench.archive(&["list", "--replaced", "--json"]).json();
    let of = |number: i64| listed.iter().find(|it| it["number"] == number).unwrap();
    assert_eq!(of(1)["replaced_by"]["number"], 3);
    assert_eq!(of(2)["replaced_by"], Value::Null);
}

#[test]
fn a_folder_without_its_verdict_takes_no_place_of_one_that_was_judged() {
    let bench = Bench::new();
    let folder = failing(&bench, "a");
    bench.archive(&["add", "a"]).ended(0);
    fs::remove_file(folder.join("verdict.json")).unwrap();
    fs::remove_file(folder.join("report.svg")).unwrap();
    bench.archive(&["add", "a"]).ended(0).says("not judged");
    let listed = bench.archive(&["list", "--json"]).json();
    assert_eq!(listed.len(), 2);
}

#[test]
fn a_mark_is_not_lost_on_the_way_into_another_archive() {
    let bench = Bench::new();
    let folder = failing(&bench, "a");
    turn_into_pass(&folder);
    bench.archive(&["add", "a", "--as-judged"]).ended(0);
    bench.archive(&["export", "--out", "out", "1"]).ended(0);
    let out = bench.path("out").display().to_string();
    let other = Bench::new();
    let again = failing(&other, "a");
    other.archive(&["add", "a"]).ended(0);
    assert!(again.exists());
    other.archive(&["import", &out]).ended(0).says(AS_JUDGED);
    let listed = other.archive(&["list", "--json"]).json();
    assert_eq!(listed.len(), 2);
    assert_eq!(listed[0]["as_judged"], true);
    // What follows from its cards and traces comes in without a mark.
    other.archive(&["export", "--out", "back", "1"]).ended(0);
    let back = other.path("back").display().to_string();
    let third = Bench::new();
    third.archive(&["import", &back]).ended(0);
    let listed = third.archive(&["list", "--json"]).json();
    assert_eq!(listed[0]["as_judged"], false);
}
