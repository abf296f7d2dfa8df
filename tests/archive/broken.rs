//! Whatever is damaged in an archive: nothing of it comes out as if it were whole, nothing panics or
//! goes on for ever, and one fault hides no other.

use crate::bench::{Bench, Said};
use rusqlite::Connection;
use std::fs;
use std::path::Path;

fn kept(of: u64) -> Bench {
    let bench = Bench::new();
    let names: Vec<String> = (1..=of).map(|seed| format!("i{seed}")).collect();
    for (name, seed) in names.iter().zip(1..) {
        bench.judged(name, seed);
    }
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    bench.archive(&[&["add"], &names[..]].concat()).ended(0);
    bench
}

fn change(bench: &Bench, statements: &str) {
    let db = Connection::open(bench.db()).unwrap();
    db.execute_batch("pragma foreign_keys = off").unwrap();
    db.execute_batch(statements).unwrap();
}

/// Every command that gives something of a record, and where it puts it.
fn ways_out(bench: &Bench, record: &str) -> Vec<Said> {
    let paper = bench.path("paper.svg").display().to_string();
    let mut ways = vec![
        vec!["show", record],
        vec!["show", record, "--json"],
        vec!["show", record, "--file", "tool.toml"],
        vec!["export", record, "--out", "out"],
        vec!["export", record, "--as", "csv"],
        vec!["export", record, "--as", "json"],
        vec!["certificate", record, "--out", &paper],
        vec!["certificate", record, "--as-judged", "--out", &paper],
        vec!["compare", record, record],
        vec!["trend", "VB-07"],
    ];
    if cfg!(feature = "parquet") {
        ways.push(vec!["export", record, "--as", "parquet", "--out", "tables"]);
    }
    ways.iter().map(|way| bench.archive(way)).collect()
}

/// What was changed is named by `check`, and comes out of no command.
#[track_caller]
fn check(statements: &str, named: &str) {
    let bench = kept(2);
    change(&bench, statements);
    bench.archive(&["check"]).ended(2).says(named);
    for said in ways_out(&bench, "1") {
        let said = said.ended(2).says("error[archive-broken]");
        assert!(!said.stdout.contains("Mallory"), "{}", said.stdout);
    }
    assert!(!bench.path("out").join("1").exists());
    let out = fs::read_dir(bench.path("out"));
    assert_eq!(out.map_or(0, Iterator::count), 0, "{statements}");
    assert!(!bench.path("paper.svg").exists(), "{statements}");
}

#[test]
fn what_was_changed_comes_out_of_no_command() {
    check(
        "delete from file where number = 1 and path = 'traces/seat.csv'",
        "its files are not those that it was made with",
    );
    check(
        "update record set operator = 'Mallory' where number = 1",
        "it was changed",
    );
    check(
        "update file set path = '../../escaped' where number = 1 and path = 'tool.toml'",
        "leads out of its folder",
    );
    check(
        "update content set packed = zeroblob(40) where digest =
            (select digest from file where number = 1 and path = 'traces/seat.csv')",
        "it does not begin with `hclr`",
    );
    check(
        "update file set size = 7 where number = 1 and path = 'inspection.toml'",
        "listed are 7",
    );
    check(
        "update record set previous = zeroblob(32) where number = 1",
        "it was changed",
    );
}

/// A search goes by what is said of records: what was changed may be hidden by that, and is told.
#[test]
fn what_a_changed_line_hides_is_told() {
    let bench = kept(3);
    let mended = bench.judged("mended", 9);
    let mended = mended.to_str().unwrap();
    bench
        .archive(&["add", mended, "--replaces", "1", "--why", "wrong card"])
        .ended(0);
    let paper = bench.path("paper.svg").display().to_string();
    change(&bench, "pragma wal_checkpoint(truncate)");
    let whole = fs::read(bench.db()).unwrap();
    for statements in [
        "update record set verdict = 'fail' where number = 2",
        "update record set tool = 'VB-99' where number = 2",
        "update record set replaces = null where number = 4",
        "delete from file where number = 4; delete from record where number = 4",
    ] {
        fs::write(bench.db(), &whole).unwrap();
        for log in ["archive.db-wal", "archive.db-shm"] {
            let _ = fs::remove_file(bench.path(log));
        }
        change(&bench, statements);
        for line in [
            &["list", "--tool", "VB-07"][..],
            &["list", "--verdict", "fail"],
            &["list", "--json", "--tool", "VB-07"],
            &["export", "--as", "csv", "--verdict", "fail"],
            &["export", "--as", "json", "--tool", "VB-07"],
            &["show", "3"],
            &["compare", "1", "3"],
            &["certificate", "1", "--out", &paper],
        ] {
            let said = bench.archive(line);
            assert_eq!(said.status, 2, "{statements}: {line:?}\n{}", said.stdout);
            said.says("error[archive-broken]");
        }
        assert!(!Path::new(&paper).exists(), "{statements}");
    }
}

#[test]
fn one_fault_hides_no_other() {
    let bench = kept(3);
    // A bench whose chain is no digest, numbers that nothing was counted to, a line that is none.
    change(
        &bench,
        "update bench set chain = x'0102', head = 4611686018427387904;
        insert into bench (id, head, chain) values ('other', 9223372036854775807, zeroblob(32));
        update record set operator = 'Mallory' where number = 2",
    );
    bench
        .archive(&["check"])
        .ended(2)
        .says("is no digest")
        .says("/2: what is said of it does not belong to its digest")
        .says("other/1: it is missing, and ");
    bench.archive(&["list"]).ended(2);
    bench.archive(&["due"]).ended(2);
}

#[test]
fn a_digest_that_is_held_elsewhere_shows_what_a_chain_cannot() {
    let bench = kept(3);
    let heads = bench.archive(&["check", "--json"]).ended(0).json();
    let chain = heads[0]["heads"][0]["chain"].as_str().unwrap().to_owned();
    bench
        .archive(&["check", "--held", &chain])
        .ended(0)
        .says("/3 and all before it are as they were");
    let paper = bench.path("paper.svg").display().to_string();
    bench
        .archive(&["certificate", "2", "--out", &paper])
        .ended(0);
    let second = bench.path("paper-2.svg").display().to_string();
    let both = bench.archive(&["check", "--held", &second, "--held", &chain, "--json"]);
    let held = both.ended(0).json()[0]["held"].clone();
    let held = held.as_array().unwrap();
    assert!(held.iter().any(|it| it["found"]["as"] == "content"));
    assert!(held.iter().all(|it| !it["found"].is_null()));
    fs::write(
        bench.path("book.txt"),
        format!("30 Nov, all whole: {chain}.\n"),
    )
    .unwrap();
    bench.archive(&["check", "--held", "book.txt"]).ended(0);
    // The last record is taken out, and the end of the chain put back to where it was before.
    change(
        &bench,
        "update bench set head = 2, chain = (select chain from record where number = 2);
        delete from file where number = 3; delete from record where number = 3",
    );
    bench.archive(&["check"]).ended(0);
    bench
        .archive(&["check", "--held", "book.txt"])
        .ended(2)
        .says("NOT IN THE ARCHIVE");
    let found = bench.archive(&["check", "--held", &chain, "--json"]);
    assert!(found.ended(2).json()[0]["held"][0]["found"].is_null());
    for (held, why) in [
        ("nowhere.txt", "no digest, and no file to read"),
        ("i1/tool.toml", "found no digest in it"),
    ] {
        bench.archive(&["check", "--held", held]).ended(2).says(why);
    }
}
