//! Everyday use: keep, find, show, take out, take in, copy.

use crate::bench::{Bench, PROGRAM, Said, files};
use std::fs;
use std::process::Command;

#[test]
fn every_file_comes_back_byte_for_byte() {
    let bench = Bench::new();
    let folder = bench.judged("VB-07", 1);
    fs::create_dir(folder.join("raw")).unwrap();
    fs::write(folder.join("raw/seat.log"), b"S,1,2,3\xff\x00\r\n").unwrap();
    fs::write(folder.join("notes.txt"), "the wheel was dressed before").unwrap();
    fs::write(folder.join("empty"), "").unwrap();
    bench
        .archive(&["add", "VB-07"])
        .ended(0)
        .says("kept as record");
    let said = bench.archive(&["export", "1", "--out", "out"]).ended(0);
    let mut back = files(&bench.path(said.stdout.trim()));
    back.retain(|(name, _)| name != "archive-record.json");
    assert_eq!(back, files(&folder));
    // A trace alone, too.
    let trace = fs::read(folder.join("traces/seat.csv")).unwrap();
    let shown = Command::new(PROGRAM)
        .args([
            "archive",
            "show",
            "1",
            "--file",
            "traces/seat.csv",
            "--archive",
        ])
        .arg(bench.db())
        .output()
        .unwrap();
    assert_eq!(shown.stdout, trace);
}

#[test]
fn the_same_files_twice_are_one_record() {
    let bench = Bench::new();
    bench.judged("first", 1);
    bench.judged("again", 1);
    bench.archive(&["add", "first"]).ended(0);
    let said = bench.archive(&["add", "again", "first", "--json"]).ended(0);
    for object in said.json() {
        assert_eq!(
            (&object["new"], &object["number"]),
            (&false.into(), &1.into())
        );
    }
    assert_eq!(bench.archive(&["list", "--json"]).json().len(), 1);
}

#[test]
fn judged_again_is_a_new_record_in_place_of_the_earlier_one() {
    let bench = Bench::new();
    let folder = bench.inspection("VB-07", 1);
    bench.archive(&["add", "VB-07"]).ended(0).says("not judged");
    let verified = Command::new(PROGRAM)
        .arg("verify")
        .arg(&folder)
        .arg("--archive")
        .arg(bench.db())
        .output()
        .unwrap();
    Said::of(verified)
        .ended(0)
        .says("in place of an earlier one: judged again");
    let listed = bench.archive(&["list", "--json"]).json();
    assert_eq!(listed.len(), 1);
    assert_eq!(
        (&listed[0]["number"], &listed[0]["verdict"]),
        (&2.into(), &"pass".into())
    );
    let all = bench.archive(&["list", "--json", "--replaced"]).json();
    assert_eq!(all.len(), 2);
    let earlier = all.iter().find(|record| record["number"] == 1).unwrap();
    assert_eq!(earlier["replaced_by"]["number"], 2);
    bench.archive(&["show", "1"]).ended(0).says("replaced by");
    bench.archive(&["check"]).ended(0).says("whole: 2 records");
}

#[test]
fn a_correction_names_the_record_and_the_reason_and_is_kept_for_ever() {
    let bench = Bench::new();
    bench.judged("wrong", 1);
    bench.judged("mended", 2);
    bench.archive(&["add", "wrong"]).ended(0);
    let why = "the gauge card was that of bench 1";
    bench
        .archive(&["add", "mended", "--replaces", "1"])
        .ended(2)
        .says("--why");
    bench
        .archive(&["add", "mended", "--replaces", "7", "--why", why])
        .ended(2)
        .says("error[no-record]");
    bench
        .archive(&["add", "mended", "--replaces", "1", "--why", why])
        .ended(0)
        .says(why);
    bench.archive(&["list"]).ended(0).says(why);
    let found = bench
        .archive(&["list", "--text", "CARD was that", "--json"])
        .json();
    assert_eq!(found[0]["number"], 2);
}

#[test]
fn records_are_found_by_whatever_is_known_of_them() {
    let bench = Bench::new();
    let recipes = [
        ("a", "counterbore-pass"),
        ("b", "six-flute-reamer"),
        ("c", "counterbore-heel-drag"),
    ];
    for (name, recipe) in recipes {
        let args = ["simulate", recipe, "--out"];
        let made = Command::new(PROGRAM)
            .args(args)
            .arg(bench.path(name))
            .output();
        Said::of(made.unwrap()).ended(0);
        let mut verify = Command::new(PROGRAM);
        verify
            .arg("verify")
            .arg(bench.path(name))
            .arg("--archive")
            .arg(bench.db());
        let output = verify.output().unwrap();
        assert_ne!(output.status.code(), Some(2));
    }
    let card = bench.path("b").join("inspection.toml");
    let text = fs::read_to_string(&card).unwrap();
    let text = text.replace("2026-03-02T09:14:00Z", "2026-04-05T23:30:00Z");
    fs::write(&card, text.replace("bench 2", "Ada 100%_")).unwrap();
    bench.judge("b");
    bench
        .archive(&["add", "b", "--replaces", "2", "--why", "wrong day"])
        .ended(0);
    let check = |flags: &[&str], expected: &[i64]| {
        let mut line = vec!["list", "--json"];
        line.extend(flags);
        let found = bench.archive(&line).ended(0).json();
        let mut numbers: Vec<i64> = found
            .iter()
            .map(|it| it["number"].as_i64().unwrap())
            .collect();
        numbers.sort_unstable();
        assert_eq!(numbers, expected, "{flags:?}");
    };
    check(&[], &[1, 3, 4]);
    check(&["--replaced"], &[1, 2, 3, 4]);
    check(&["--tool", "VB-07"], &[1]);
    check(&["--tool", "vb"], &[]);
    check(&["--feature", "seat"], &[1, 3]);
    check(&["--feature", "sea"], &[]);
    check(&["--verdict", "fail"], &[3]);
    check(&["--since", "2026-04-05"], &[4]);
    check(&["--since", "2026-04-06"], &[]);
    check(&["--until", "2026-04-05"], &[1, 3, 4]);
    check(&["--until", "2026-04-04"], &[1, 3]);
    check(&["--until", "2026-04-05T23:30:00Z"], &[1, 3]);
    check(&["--operator", "Ada 100%_"], &[4]);
    check(&["--text", "ada 100%_"], &[4]);
    check(&["--text", "a_100"], &[]);
    check(&["--text", "REAMER"], &[4]);
    check(&["--gauge", "ball stylus"], &[1, 3, 4]);
    check(&["--gauge", "flat stylus"], &[]);
    check(&["--tool", "VB-07", "--verdict", "fail"], &[]);
    check(&["--limit", "1"], &[4]);
    bench
        .archive(&["list", "--limit", "1"])
        .ended(0)
        .says("there are more than these 1");
    bench
        .archive(&["list", "--tool", "x"])
        .ended(0)
        .says("found no record like that");
    bench
        .archive(&["list", "--since", "yesterday"])
        .ended(2)
        .says("expected a date like 2026-03-02");
}

#[test]
fn a_folder_that_cannot_be_read_does_not_stop_the_others() {
    let bench = Bench::new();
    bench.judged("good", 1);
    let bad = bench.judged("bad", 2);
    fs::write(bad.join("tool.toml"), "schema = 1\nid = 7\n").unwrap();
    let half = bench.judged("half", 3);
    fs::write(half.join("verdict.json"), "{\"schema\":").unwrap();
    let said = bench
        .archive(&["add", "bad", "half", "nowhere", "good", "--json"])
        .ended(2);
    let codes: Vec<_> = said
        .json()
        .iter()
        .map(|line| line["error"]["code"].clone())
        .collect();
    assert_eq!(codes[1], "card-syntax");
    assert_eq!(codes[2], "missing-file");
    assert_eq!(said.json()[3]["new"], true);
    said.says("1 kept, 0 there already, 3 refused");
    bench.archive(&["check"]).ended(0).says("whole: 1 records");
}

#[test]
fn what_is_exported_can_be_imported_elsewhere_and_a_changed_file_is_refused() {
    let bench = Bench::new();
    let other = Bench::new();
    bench.judged("a", 1);
    bench.judged("b", 2);
    bench.archive(&["add", "a"]).ended(0);
    bench
        .archive(&["add", "b", "--replaces", "1", "--why", "clamped anew"])
        .ended(0);
    let out = other.path("out");
    let out = out.to_str().unwrap();
    bench
        .archive(&["export", "--replaced", "--out", out])
        .ended(0);
    bench
        .archive(&["export", "1", "--out", out])
        .ended(2)
        .says("found it there already");
    other.archive(&["import", "out"]).ended(0).says("2 kept");
    other
        .archive(&["import", "out"])
        .ended(0)
        .says("0 kept, 2 there already");
    // An exported folder is an inspection like any other.
    bench
        .archive(&["add", out_folder(out, 2).as_str()])
        .ended(0)
        .says("there already");
    let listed = other.archive(&["list", "--json"]).json();
    assert_eq!(
        (listed.len(), &listed[0]["why"]),
        (1, &"clamped anew".into())
    );
    fs::write(format!("{}/tool.toml", out_folder(out, 1)), "changed").unwrap();
    let third = Bench::new();
    third.archive(&["import", out]).ended(2);
    other.archive(&["check"]).ended(0);
}

/// The folder of the record of this number below an export.
fn out_folder(out: &str, number: u32) -> String {
    let folders = fs::read_dir(out)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let mut folders = folders.map(|path| path.to_str().unwrap().to_owned());
    folders
        .find(|path| path.ends_with(&format!("-{number}")))
        .unwrap()
}

#[test]
fn figures_come_out_as_csv_and_as_json() {
    let bench = Bench::new();
    let folder = bench.judged("a", 1);
    bench.archive(&["add", "a"]).ended(0);
    let csv = bench.archive(&["export", "--as", "csv"]).ended(0).stdout;
    let verdict: serde_json::Value =
        serde_json::from_slice(&fs::read(folder.join("verdict.json")).unwrap()).unwrap();
    let figures = verdict["characteristics"].as_array().unwrap();
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let headers = reader.headers().unwrap().clone();
    let at = |name: &str| headers.iter().position(|header| header == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), figures.len());
    for (row, figure) in rows.iter().zip(figures) {
        assert_eq!(row[at("name")], *figure["name"].as_str().unwrap());
        let value = row[at("value")].parse::<f64>().ok();
        assert_eq!(value, figure["value"].as_f64());
        let low = row[at("interval_low")].parse::<f64>().ok();
        assert_eq!(low, figure["interval"][0].as_f64());
        assert_eq!(&row[at("tool")], "VB-07");
    }
    let json = bench.archive(&["export", "--as", "json"]).ended(0).json();
    assert_eq!(json[0]["verdict"], verdict);
    bench
        .archive(&["export", "--as", "csv", "--out", "all.csv"])
        .ended(0);
    assert_eq!(fs::read_to_string(bench.path("all.csv")).unwrap(), csv);
}

#[test]
fn a_copy_made_while_others_write_is_whole() {
    let bench = Bench::new();
    let folders: Vec<String> = (0..8).map(|seed| format!("i{seed}")).collect();
    for (seed, name) in folders.iter().enumerate() {
        bench.inspection(name, seed as u64);
    }
    bench.archive(&["add", "i0"]).ended(0);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for name in &folders {
                bench.archive(&["add", name]).ended(0);
            }
        });
        for copy in 0..4 {
            bench
                .archive(&["backup", &format!("copy{copy}.db")])
                .ended(0);
        }
    });
    for copy in 0..4 {
        let mut command = Command::new(PROGRAM);
        command.args(["archive", "check", "--archive"]);
        let output = command.arg(bench.path(&format!("copy{copy}.db"))).output();
        Said::of(output.unwrap()).ended(0).says("whole: ");
    }
    bench
        .archive(&["backup", "copy0.db"])
        .ended(2)
        .says("copy0.db");
    bench.archive(&["check"]).ended(0).says("whole: 8 records");
}

#[test]
fn a_record_that_is_not_there_and_an_archive_that_is_not_there_are_told() {
    let bench = Bench::new();
    bench
        .archive(&["list"])
        .ended(2)
        .says("error[missing-file]");
    assert!(!bench.db().exists(), "reading makes nothing");
    bench.judged("a", 1);
    bench.archive(&["add", "a"]).ended(0);
    bench
        .archive(&["show", "2"])
        .ended(2)
        .says("error[no-record]");
    bench
        .archive(&["show", "0123456789"])
        .ended(2)
        .says("error[no-record]");
    bench
        .archive(&["show", "x"])
        .ended(2)
        .says("expected a record");
    bench
        .archive(&["show", "1", "--file", "x"])
        .ended(2)
        .says("it has gauge.toml, ");
    let content = bench.archive(&["list", "--json"]).json()[0]["content"].clone();
    let digits = &content.as_str().unwrap()[..8];
    bench
        .archive(&["show", digits])
        .ended(0)
        .says("PASS, SIMULATED  VB-07");
}

#[test]
fn a_folder_behind_the_flag_is_judged_and_a_place_is_an_archive() {
    let bench = Bench::new();
    let folder = bench.inspection("VB-07", 1);
    let home = bench.path("home");
    let verify = |arguments: &[&str]| {
        let mut command = Command::new(PROGRAM);
        command.arg("verify").args(arguments).env("HOME", &home);
        command.env("XDG_DATA_HOME", home.join("data"));
        Said::of(
            command
                .current_dir(folder.parent().unwrap())
                .output()
                .unwrap(),
        )
    };
    verify(&["VB-07", "--archive", "archive.db"])
        .ended(0)
        .says("kept as record");
    verify(&["VB-07", "--archive"])
        .ended(0)
        .says("kept as record");
    verify(&["--archive", "VB-07"])
        .ended(0)
        .says("there already");
    verify(&["--archive", "archive.db"])
        .ended(2)
        .says("expected at least one");
    if cfg!(target_os = "linux") {
        assert!(home.join("data/heelclear/archive.db").is_file());
    }
}

#[test]
fn a_file_that_cannot_be_checked_is_not_sent_back_to_the_check() {
    let bench = Bench::new();
    bench.judged("a", 1);
    bench.archive(&["add", "a"]).ended(0);
    let file = bench.path("archive.db");
    let bytes = fs::read(&file).unwrap();
    // Its first page is whole, what it points to is not there.
    fs::write(&file, &bytes[..4096]).unwrap();
    let said = bench.archive(&["check"]).ended(2);
    let all = format!("{}{}", said.stdout, said.stderr);
    assert!(!all.contains("`heelclear archive check`"), "{all}");
    assert!(all.contains("backup"), "{all}");
}

#[cfg(unix)]
#[test]
fn a_folder_with_a_link_that_leads_out_of_it_is_not_kept() {
    use std::os::unix::fs::symlink;
    let bench = Bench::new();
    let folder = bench.judged("a", 1);
    fs::write(bench.path("note.txt"), "not of this folder").unwrap();
    symlink(bench.path("note.txt"), folder.join("note.txt")).unwrap();
    bench
        .archive(&["add", "a"])
        .ended(2)
        .says("note.txt: it is a link that leads out of the folder");
    fs::remove_file(folder.join("note.txt")).unwrap();
    symlink("..", folder.join("traces/round")).unwrap();
    bench
        .archive(&["add", "a"])
        .ended(2)
        .says("it is a link to a folder that it lies in itself");
    fs::remove_file(folder.join("traces/round")).unwrap();
    symlink("tool.toml", folder.join("within.toml")).unwrap();
    bench.archive(&["add", "a"]).ended(0).says("kept as record");
}
