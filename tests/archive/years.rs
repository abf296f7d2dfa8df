//! Archives written by other versions of the program, older and newer.
//!
//! `samples/schema-N.db` was written by the program that first had the tables of that version, from
//! `sample-data/counterbore-no-reference` and `sample-data/end-face-feed`. They stay for ever.

use crate::bench::{Bench, PROGRAM, Said};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// The chain that the sample's records end in; it must not change with the tables.
const HEAD: &str = "b43306de67e08a1c105e03d9c8c4dcfc41a8fef1813ca037b9b3adc101c53499";

fn with_sample(name: &str) -> Bench {
    let bench = Bench::new();
    let sample = Path::new("tests/archive/samples").join(name);
    fs::copy(sample, bench.db()).unwrap();
    bench
}

#[test]
fn an_archive_of_the_first_schema_is_brought_up_and_its_records_stay_as_they_were() {
    let bench = with_sample("schema-1.db");
    let before = fs::read(bench.db()).unwrap();
    bench
        .archive(&["check"])
        .ended(0)
        .says("whole: 3 records")
        .says(HEAD)
        .says("brought up");
    bench
        .archive(&["list"])
        .ended(0)
        .says("undecided")
        .says("judged again by heelclear 0.1.0");
    bench.archive(&["export", "1", "--out", "out"]).ended(0);
    let folder = fs::read_dir(bench.path("out"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    for file in [
        "tool.toml",
        "gauge.toml",
        "inspection.toml",
        "traces/seat.csv",
    ] {
        let kept = Path::new("tests/archive/samples/schema-1").join(file);
        let sample = match kept.exists() {
            true => kept,
            false => Path::new("sample-data/counterbore-no-reference").join(file),
        };
        assert_eq!(
            fs::read(folder.join(file)).unwrap(),
            fs::read(sample).unwrap(),
            "{file}"
        );
    }
    // New ones go behind the old ones.
    bench.judged("new", 9);
    bench.archive(&["add", "new"]).ended(0).says("/4");
    bench.archive(&["check"]).ended(0).says("whole: 4 records");
    // What it was before lies beside it, and is still an archive of the first schema.
    let copy = bench.path("archive.db.schema-1");
    let kept = rusqlite::Connection::open(&copy).unwrap();
    let schema: String = kept
        .query_row("select value from about where key = 'schema'", [], |row| {
            row.get(0)
        })
        .unwrap();
    assert_eq!(schema, "1");
    drop(kept);
    // Bytes of free pages may differ from the sample, records may not.
    assert!(fs::metadata(&copy).unwrap().len() >= before.len() as u64 / 2);
}

/// The chain that the second sample's records end in.
const SECOND_HEAD: &str = "69fd4f8cdb9ecb816eb299ce34442087451590e16090b9711f0068064c8da10f";

#[test]
fn reports_that_were_kept_before_they_were_drawn_again_stay_as_they_were() {
    let bench = with_sample("schema-2.db");
    let reports = |bench: &Bench| -> Vec<(String, Vec<u8>)> {
        let db = rusqlite::Connection::open(bench.db()).unwrap();
        let query = "select hex(digest), packed from content join file using (digest)
            where path in ('report.svg', 'verdict.json') order by 1";
        let mut statement = db.prepare(query).unwrap();
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)));
        rows.unwrap().map(Result::unwrap).collect()
    };
    let before = reports(&bench);
    bench
        .archive(&["check"])
        .ended(0)
        .says("whole: 4 records, 20 files")
        .says(SECOND_HEAD)
        .says("brought up");
    bench.archive(&["export", "--out", "out"]).ended(0);
    assert_eq!(reports(&bench), before);
    let mut exported = 0;
    for folder in fs::read_dir(bench.path("out")).unwrap() {
        let report = fs::read(folder.unwrap().path().join("report.svg")).unwrap();
        let digest = heelclear::record::archive::Digest::of(&report).to_string();
        let digest = digest.to_uppercase();
        assert!(before.iter().any(|(kept, _)| *kept == digest));
        exported += 1;
    }
    assert_eq!(exported, 2);
}

#[test]
fn an_upgrade_that_is_interrupted_leaves_the_archive_as_it_was() {
    let bench = with_sample("schema-1.db");
    let held = rusqlite::Connection::open(bench.db()).unwrap();
    // Something of this name stands in the way of the step, as a full disk would.
    held.execute_batch("alter table record add column origin text")
        .unwrap();
    drop(held);
    bench.archive(&["list"]).ended(2).says("duplicate column");
    let held = rusqlite::Connection::open(bench.db()).unwrap();
    let schema: String = held
        .query_row("select value from about where key = 'schema'", [], |row| {
            row.get(0)
        })
        .unwrap();
    assert_eq!(schema, "1");
    held.execute_batch("alter table record drop column origin")
        .unwrap();
    drop(held);
    bench
        .archive(&["check"])
        .ended(0)
        .says("whole: 3 records")
        .says(HEAD);
}

/// The sample with so many files more that bringing it up takes a while.
fn with_long_sample(files: u32) -> Bench {
    let bench = with_sample("schema-1.db");
    let db = rusqlite::Connection::open(bench.db()).unwrap();
    db.execute_batch(&format!(
        "begin;
        with recursive counted (n) as (select 1 union all select n + 1 from counted where n < {files})
        insert into file select bench, number, 'more/' || n, size, digest from counted
            join (select * from file where number = 1 and path = 'tool.toml');
        commit; pragma wal_checkpoint(truncate)"
    ))
    .unwrap();
    bench
}

#[test]
fn killed_while_it_is_brought_up_an_archive_is_of_the_old_schema_or_of_the_new_one() {
    let whole = with_long_sample(40_000);
    let made = fs::read(whole.db()).unwrap();
    let (mut old, mut new) = (0, 0);
    for kill in 0..24_u64 {
        let bench = Bench::new();
        fs::write(bench.db(), &made).unwrap();
        let mut child = Command::new(PROGRAM)
            .args(["archive", "list", "--archive"])
            .arg(bench.db())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_micros(2_000 + kill * 11_003 % 150_000));
        child.kill().unwrap();
        child.wait().unwrap();
        let db = rusqlite::Connection::open(bench.db()).unwrap();
        let text = |query: &str| -> String { db.query_row(query, [], |row| row.get(0)).unwrap() };
        assert_eq!(text("pragma integrity_check"), "ok", "kill {kill}");
        let schema = text("select value from about where key = 'schema'");
        let origin =
            text("select count(*) || '' from pragma_table_info('record') where name = 'origin'");
        match (schema.as_str(), origin.as_str()) {
            ("1", "0") => old += 1,
            ("3", "1") => new += 1,
            other => panic!("kill {kill} left {other:?}"),
        }
        drop(db);
        // Whatever it was, it goes on; and a copy that is there is one of the old schema, whole.
        bench.archive(&["list"]).ended(0).says("VB-");
        let copy = rusqlite::Connection::open(bench.path("archive.db.schema-1")).unwrap();
        let said: (String, String, i64) = copy
            .query_row(
                "select value, (select integrity_check from pragma_integrity_check),
                (select count(*) from file) from about where key = 'schema'",
                [],
                |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
            )
            .unwrap();
        assert_eq!((said.0.as_str(), said.1.as_str()), ("1", "ok"));
        assert!(said.2 > 40_000);
    }
    assert!(old > 0, "every run was through before it was killed");
    println!("{old} kills left the old schema, {new} the new one");
}

#[test]
fn what_an_older_program_kept_after_a_first_try_is_in_a_copy_too() {
    let bench = with_sample("schema-1.db");
    fs::copy(bench.db(), bench.path("archive.db.schema-1")).unwrap();
    let older = rusqlite::Connection::open(bench.db()).unwrap();
    older
        .execute_batch("update bench set head = head - 1")
        .unwrap();
    drop(older);
    bench
        .archive(&["list"])
        .ended(0)
        .says("it lies in")
        .says("archive.db.schema-1-2");
    assert!(bench.path("archive.db.schema-1-2").exists());
}

#[test]
fn several_programs_may_bring_an_archive_up_at_once() {
    let bench = with_long_sample(20_000);
    let list = || {
        let mut command = Command::new(PROGRAM);
        command
            .args(["archive", "list", "--archive"])
            .arg(bench.db());
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        command.spawn().unwrap()
    };
    let running = [list(), list(), list()];
    for child in running {
        Said::of(child.wait_with_output().unwrap()).ended(0);
    }
}

#[test]
fn a_newer_archive_is_refused_with_the_version_that_reads_it() {
    let bench = with_sample("schema-1.db");
    let newer = rusqlite::Connection::open(bench.db()).unwrap();
    newer
        .execute_batch(
            "update about set value = '99' where key = 'schema';
            update about set value = '7.1.0' where key = 'reader'",
        )
        .unwrap();
    drop(newer);
    bench.judged("a", 1);
    for line in [&["list"][..], &["add", "a"], &["check"]] {
        let said = bench.archive(line).ended(2);
        said.says("error[archive-version]")
            .says("use heelclear 7.1.0 or newer");
    }
}

#[test]
fn a_file_that_is_no_archive_is_left_alone() {
    let bench = Bench::new();
    bench.judged("a", 1);
    fs::write(
        bench.db(),
        "a letter to the customer, which is no database at all",
    )
    .unwrap();
    let before = fs::read(bench.db()).unwrap();
    bench
        .archive(&["add", "a"])
        .ended(2)
        .says("error[archive-broken]")
        .says("not an archive");
    assert_eq!(fs::read(bench.db()).unwrap(), before);
    fs::remove_file(bench.db()).unwrap();
    let other = rusqlite::Connection::open(bench.db()).unwrap();
    other.execute_batch("create table about (a text)").unwrap();
    drop(other);
    for line in [&["list"][..], &["add", "a"]] {
        bench
            .archive(line)
            .ended(2)
            .says("a database of another program");
    }
}
