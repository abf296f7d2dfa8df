//! Reports are drawn again from their verdicts, and kept where that would not give the same bytes.

use crate::bench::{Bench, PROGRAM, Said, files};
use heelclear::error::Result;
use heelclear::record::Record;
use heelclear::record::archive::{
    Archive, Contents, Form, Place, Wanted, form, read_exported, write_folder,
};
use heelclear::report;
use rusqlite::Connection;
use std::fs;
use std::process::Command;

/// How the archive keeps a file of a record, and in how many bytes.
fn kept_as(bench: &Bench, number: i64, path: &str) -> (Form, usize) {
    let db = Connection::open(bench.db()).unwrap();
    let query = "select packed from content join file using (digest)
        where number = ?1 and path = ?2";
    let packed: Vec<u8> = db
        .query_row(query, (number, path), |row| row.get(0))
        .unwrap();
    (form(&packed).unwrap(), packed.len())
}

/// Exported and imported, the record of a folder is the folder with every byte.
#[track_caller]
fn comes_back(bench: &Bench, number: &str, folder: &str, check: &[&str]) {
    bench.archive(&["export", number, "--out", "out"]).ended(0);
    let out = fs::read_dir(bench.path("out")).unwrap().next().unwrap();
    let out = out.unwrap().path();
    let mut exported = files(&out);
    exported.retain(|(path, _)| path != "archive-record.json");
    assert!(exported == files(&bench.path(folder)));
    let mut import = Command::new(PROGRAM);
    import.args(["archive", "import"]).arg(&out);
    import.arg("--archive").arg(bench.path("other.db"));
    Said::of(import.output().unwrap()).ended(0);
    let mut program = Command::new(PROGRAM);
    program.arg("archive").args(check).arg("--archive");
    program.arg(bench.path("other.db"));
    Said::of(program.output().unwrap())
        .ended(0)
        .says("whole: 1 records");
    fs::remove_dir_all(bench.path("out")).unwrap();
    fs::remove_file(bench.path("other.db")).unwrap();
}

#[test]
fn a_report_takes_no_room_and_comes_back_byte_for_byte() {
    let bench = Bench::new();
    bench.judged("i1", 1);
    bench.inspection("i2", 2);
    let mut verify = Command::new(PROGRAM);
    verify.arg("verify").arg(bench.path("i2"));
    verify.args(["--units", "in"]).output().unwrap();
    bench.archive(&["add", "i1", "i2"]).ended(0);
    for (number, folder) in [(1, "i1"), (2, "i2")] {
        let (form, bytes) = kept_as(&bench, number, "report.svg");
        assert_eq!(form, Form::Drawn, "{folder}");
        assert!(bytes < 100, "{bytes}");
        let (form, _) = kept_as(&bench, number, "verdict.json");
        assert_eq!(form, Form::Keyed, "{folder}");
        let judged = ["check", "--rejudge"];
        comes_back(&bench, &number.to_string(), folder, &judged);
        let number = number.to_string();
        let shown = bench.archive(&["show", &number, "--file", "report.svg"]);
        let report = fs::read(bench.path(folder).join("report.svg")).unwrap();
        assert!(shown.ended(0).stdout.into_bytes() == report);
    }
}

#[test]
fn a_report_that_is_no_drawing_of_its_verdict_is_kept_as_it_is() {
    let bench = Bench::new();
    let folder = bench.judged("i1", 1);
    let report = fs::read_to_string(folder.join("report.svg")).unwrap();
    fs::write(folder.join("report.svg"), report + "<!-- signed -->\n").unwrap();
    bench.archive(&["add", "i1", "--as-judged"]).ended(0);
    let (form, bytes) = kept_as(&bench, 1, "report.svg");
    assert_eq!(form, Form::Words);
    assert!(bytes > 1000, "{bytes}");
    comes_back(&bench, "1", "i1", &["check"]);
}

/// What an inspection takes: its bound is that of a whole archive, over its samples.
#[test]
fn a_judged_inspection_of_three_thousand_samples_takes_less_than_four_bytes_each() {
    let bench = Bench::new();
    let folder = bench.path("i1");
    let recipe = heelclear::simulator::built_in("counterbore-no-reference").unwrap();
    heelclear::inspection::simulated::write_folder(&recipe, &folder).unwrap();
    bench.judge("i1");
    let trace = fs::read_to_string(folder.join("traces/seat.csv")).unwrap();
    let samples = trace.lines().count() as u64 - 1;
    assert!(samples > 2_000);
    let (_, kept) = Contents::read(&folder, report::svg_by).unwrap().sizes();
    // The verdict does not grow with the trace.
    assert!(kept < 4 * 3_000, "{kept} bytes of {samples} samples");
}

#[test]
fn a_verdict_that_a_report_is_drawn_from_is_missed_by_check() {
    let bench = Bench::new();
    bench.judged("i1", 1);
    bench.archive(&["add", "i1"]).ended(0);
    let db = Connection::open(bench.db()).unwrap();
    let change = "update content set packed = zeroblob(40)
        where digest = (select digest from file where path = 'verdict.json')";
    assert_eq!(db.execute(change, []).unwrap(), 1);
    drop(db);
    bench
        .archive(&["check"])
        .ended(2)
        .says("file `verdict.json`");
    bench
        .archive(&["show", "1", "--file", "report.svg"])
        .ended(2)
        .says("error[archive-broken]");
}

#[test]
fn what_stands_in_the_place_of_a_report_cannot_be_changed_unseen() {
    let bench = Bench::new();
    bench.judged("i1", 1);
    bench.archive(&["add", "i1"]).ended(0);
    let db = Connection::open(bench.db()).unwrap();
    let place = "digest = (select digest from file where path = 'report.svg')";
    let query = format!("select packed from content where {place}");
    let packed: Vec<u8> = db.query_row(&query, [], |row| row.get(0)).unwrap();
    for at in 0..packed.len() {
        let mut damaged = packed.clone();
        damaged[at] ^= 1;
        let change = format!("update content set packed = ?1 where {place}");
        assert_eq!(db.execute(&change, [damaged]).unwrap(), 1);
        if at % 7 == 0 {
            bench
                .archive(&["check"])
                .ended(2)
                .says("/1: file `report.svg`");
        }
    }
}

/// A program of another time, which draws the same verdict otherwise.
fn otherwise(record: &Record, way: usize) -> Option<Result<String>> {
    let drawn = report::svg_by(record, way)?;
    Some(drawn.map(|page| page + "<!-- of another time -->\n"))
}

#[test]
fn a_report_of_another_program_is_drawn_anew_and_its_digest_stays() {
    let bench = Bench::new();
    let folder = bench.judged("i1", 1);
    bench.archive(&["add", "i1"]).ended(0);
    let place = Place::File(bench.db());
    let mut archive = Archive::open(&place, otherwise).unwrap();
    let id = archive.wanted(&Wanted::Number(1)).unwrap().id;
    let stored = archive.load(&id).unwrap();
    let report = fs::read(folder.join("report.svg")).unwrap();
    let drawn = stored.file("report.svg").unwrap();
    assert!(drawn.ends_with(b"of another time -->\n") && drawn.starts_with(&report));
    let then = stored.redrawn.clone().unwrap();
    assert_eq!(then.program, stored.summary.program);
    assert_eq!(then.size as usize, report.len());
    assert!(archive.check(&mut |_, _| {}).unwrap().faults.is_empty());

    // It goes out and in again as the record that it was.
    let out = write_folder(&stored, &bench.path("out")).unwrap();
    let back = read_exported(&out, otherwise).unwrap();
    assert_eq!(back.digest(), stored.summary.content);
    let other = Place::File(bench.path("other.db"));
    let mut other = Archive::create(&other, otherwise).unwrap();
    other.add(&[back]).unwrap();
    assert!(other.check(&mut |_, _| {}).unwrap().faults.is_empty());
    // The program that drew it draws it again.
    drop(other);
    let mut other = Archive::open(&Place::File(bench.path("other.db")), report::svg_by).unwrap();
    let id = other.wanted(&Wanted::Number(1)).unwrap().id;
    let again = other.load(&id).unwrap();
    assert_eq!(again.redrawn, None);
    assert!(again.file("report.svg").unwrap() == report);
}
