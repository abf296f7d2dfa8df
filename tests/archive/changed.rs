//! Whatever is changed by hand is found, and named.

use crate::bench::{Bench, PROGRAM, Said, files};
use rusqlite::Connection;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::LazyLock;

/// An archive of four records: the last corrects the first.
fn kept() -> Bench {
    static MADE: LazyLock<Vec<u8>> = LazyLock::new(|| {
        let bench = Bench::new();
        for seed in 1..=3 {
            bench.judged(&format!("i{seed}"), seed);
        }
        bench.inspection("i4", 4);
        bench.archive(&["add", "i1", "i2", "i3"]).ended(0);
        bench
            .archive(&["add", "i4", "--replaces", "1", "--why", "clamped anew"])
            .ended(0);
        bench.archive(&["check"]).ended(0);
        fs::read(bench.db()).unwrap()
    });
    let bench = Bench::new();
    fs::write(bench.db(), &*MADE).unwrap();
    bench
}

/// An archive that others can write to may name any path as a record's file.
#[test]
fn an_export_of_paths_that_lead_out_is_refused_and_writes_nothing() {
    #[track_caller]
    fn check(path: &str) {
        let bench = kept();
        let db = Connection::open(bench.db()).unwrap();
        let change = "update file set path = ?1 where number = 2 and path = 'tool.toml'";
        assert_eq!(db.execute(change, [path]).unwrap(), 1);
        drop(db);
        let before = files(&bench.path(""));
        let export: &[&str] = &["export", "2", "--out", "a/b"];
        for command in [export, &["rejudge", "2"]] {
            bench
                .archive(command)
                .ended(2)
                .says("error[archive-broken]")
                .says("leads out of its folder");
        }
        let after = files(&bench.path(""));
        let names = |all: &[(String, Vec<u8>)]| -> Vec<String> {
            let named = all.iter().map(|(name, _)| name.clone());
            named
                .filter(|name| !name.starts_with("archive.db-"))
                .collect()
        };
        assert_eq!(names(&before), names(&after), "{path}");
    }
    check("../tool.toml");
    check("traces/../../../tool.toml");
    check("/tmp/heelclear-tool.toml");
    check("..");
    check("");
}

fn check_of(archive: &Path) -> Said {
    let mut command = Command::new(PROGRAM);
    command.args(["archive", "check", "--json", "--archive"]);
    Said::of(command.arg(archive).output().unwrap())
}

#[test]
fn a_byte_broken_by_hand_is_found_and_its_record_is_named() {
    let bench = kept();
    let db = Connection::open(bench.db()).unwrap();
    let query = "select packed from content join file using (digest)
        where number = 2 and path = 'traces/seat.csv'";
    let packed: Vec<u8> = db.query_row(query, [], |row| row.get(0)).unwrap();
    // Everything into the one file, so that the byte is not only in the log.
    db.query_row("pragma wal_checkpoint(truncate)", [], |_| Ok(()))
        .unwrap();
    drop(db);
    let mut bytes = fs::read(bench.db()).unwrap();
    let inside = &packed[packed.len() / 2..][..24];
    let at = bytes
        .windows(24)
        .position(|window| window == inside)
        .unwrap();
    bytes[at] ^= 0x10;
    fs::write(bench.db(), bytes).unwrap();
    let said = bench.archive(&["check"]).ended(2);
    let named = said
        .stdout
        .lines()
        .filter(|line| line.contains("record "))
        .count();
    assert_eq!(named, 1, "{}", said.stdout);
    said.says("/2: file `traces/seat.csv`: ")
        .says("1 fault in 4 records");
    // The record tells so too; the others are as good as ever.
    bench
        .archive(&["show", "2"])
        .ended(2)
        .says("error[archive-broken]");
    bench.archive(&["show", "3"]).ended(0);
}

#[test]
fn damage_to_an_index_is_not_laid_on_the_records_and_a_backup_leaves_it_out() {
    for index in [
        "sqlite_autoindex_file_1",
        "record_by_content",
        "file_by_digest",
    ] {
        let bench = kept();
        let db = Connection::open(bench.db()).unwrap();
        db.query_row("pragma journal_mode = delete", [], |_| Ok(()))
            .unwrap();
        let query = "select rootpage from sqlite_schema where name = ?1";
        let page: i64 = db.query_row(query, [index], |row| row.get(0)).unwrap();
        let size: i64 = db
            .query_row("pragma page_size", [], |row| row.get(0))
            .unwrap();
        drop(db);
        let mut bytes = fs::read(bench.db()).unwrap();
        bytes[usize::try_from((page - 1) * size).unwrap()] = b'x';
        fs::write(bench.db(), bytes).unwrap();
        let said = bench.archive(&["check"]).ended(2);
        assert!(
            !said.stdout.contains("  record "),
            "{index}: {}",
            said.stdout
        );
        said.says("the file itself: ")
            .says("every record is whole")
            .says("archive backup FILE");
        bench.archive(&["backup", "sound.db"]).ended(0);
        let sound = check_of(&bench.path("sound.db")).ended(0).json();
        assert_eq!(sound[0]["records"], 4, "{index}");
    }
}

#[test]
fn every_byte_of_the_file_is_guarded() {
    let bench = kept();
    let db = Connection::open(bench.db()).unwrap();
    db.query_row("pragma journal_mode = delete", [], |_| Ok(()))
        .unwrap();
    drop(db);
    let whole = fs::read(bench.db()).unwrap();
    let truth = exported(&bench, &bench.db(), "truth");
    let (mut found, mut harmless) = (0, 0);
    let tried = 60;
    for number in 0..tried {
        // Spread over the file, and not at the same place of every page.
        let at = number * (whole.len() / tried) + number * 37 % 512;
        let mut broken = whole.clone();
        broken[at] ^= 0x41;
        let copy = bench.path(&format!("broken{number}.db"));
        fs::write(&copy, broken).unwrap();
        if check_of(&copy).status != 0 {
            found += 1;
        } else {
            // What nobody reads may be anything: then every record is as it was.
            let out = exported(&bench, &copy, &format!("out{number}"));
            assert_eq!(out, truth, "byte {at} was changed unseen");
            harmless += 1;
        }
    }
    // Records of a few kilobytes leave much of their pages empty, and there a byte may be anything.
    assert!(2 * found > harmless, "{found} found, {harmless} harmless");
}

/// Every file of every record, and what is said of it.
fn exported(bench: &Bench, archive: &Path, name: &str) -> Vec<(String, Vec<u8>)> {
    let out = bench.path(name);
    let mut command = Command::new(PROGRAM);
    command
        .args(["archive", "export", "--replaced", "--out"])
        .arg(&out);
    let output = command.arg("--archive").arg(archive).output().unwrap();
    Said::of(output).ended(0);
    files(&out)
}

#[test]
fn whatever_is_changed_with_another_program_is_named() {
    #[track_caller]
    fn check(change: &str, number: i64, words: &str) {
        let bench = kept();
        let db = Connection::open(bench.db()).unwrap();
        db.execute_batch(&format!("pragma foreign_keys = off; {change}"))
            .unwrap();
        drop(db);
        let said = bench.archive(&["check", "--json"]).ended(2);
        let checked = &said.json()[0];
        let faults = checked["faults"].as_array().unwrap();
        let named = faults.iter().any(|fault| {
            let found = fault["found"].as_str().unwrap();
            fault["number"].as_i64() == Some(number) && found.contains(words)
        });
        assert!(named, "{change}: {checked}");
    }
    let changed = "it was changed";
    check(
        "update record set verdict = 'fail' where number = 2",
        2,
        changed,
    );
    check(
        "update record set operator = 'nobody' where number = 3",
        3,
        changed,
    );
    check(
        "update record set taken = taken + 1 where number = 1",
        1,
        changed,
    );
    check(
        "update record set why = null, replaces = null where number = 4",
        4,
        changed,
    );
    check(
        "update subject set features = char(10) || 'x' || char(10)",
        1,
        changed,
    );
    let misled = "the words that a search finds it by are not those that were said of it";
    check("update subject set words = 'x'", 1, misled);
    check("update subject set words = words || ' more'", 3, misled);
    check("delete from record where number = 2", 2, "it is missing");
    check("delete from record where number = 4", 4, "it is missing");
    check("delete from record where number = 1", 1, "it is missing");
    check(
        "delete from record where number = 4; delete from file where number = 4;
        update bench set head = 3",
        3,
        "ends in another digest",
    );
    check(
        "update record set number = 9 where number = 2; update record set number = 2 where number = 3;
        update record set number = 3 where number = 9",
        2,
        "not tied to the record before it",
    );
    check(
        "delete from file where number = 3 and path = 'report.svg'",
        3,
        "not those that it was made with",
    );
    check(
        "insert into file select bench, number, 'more.txt', size, digest from file
        where number = 2 and path = 'tool.toml'",
        2,
        "not those that it was made with",
    );
    check(
        "delete from content where digest =
            (select digest from file where number = 2 and path = 'verdict.json')",
        2,
        "file `verdict.json`: its contents are missing",
    );
    check(
        "update content set packed =
            (select packed from content join file using (digest) where number = 3 and path = 'verdict.json')
        where digest = (select digest from file where number = 2 and path = 'verdict.json')",
        2,
        "file `verdict.json`: its digest is another",
    );
    check(
        "update record set chain = zeroblob(32) where number = 2",
        3,
        "not tied to the record before it",
    );
    check(
        "insert into record select bench, 5, form, archived, program, host, taken, operator, stage,
            tool, tool_name, gauge, verdict, subject, replaces, why, randomblob(32), evidence,
            previous, chain, origin from record where number = 4",
        5,
        "beyond the end of its chain",
    );
}

#[test]
fn a_view_in_place_of_a_table_is_not_read() {
    let bench = kept();
    let db = Connection::open(bench.db()).unwrap();
    db.execute_batch(
        "pragma foreign_keys = off; alter table subject rename to hidden;
        create view subject as with recursive endless (id) as
            (select 1 union all select id + 1 from endless)
        select id, 'x' as features, 'x' as words from endless",
    )
    .unwrap();
    drop(db);
    for command in ["list", "check", "due"] {
        let said = bench.archive(&[command]).ended(2);
        said.says("its table `subject` is missing");
    }
}

/// Two tools, and the words of one put under the other: a search for it would find nothing.
#[test]
fn a_record_that_is_put_under_the_words_of_another_is_named_and_searches_say_so() {
    let bench = Bench::new();
    bench.judged("i1", 1);
    let card = bench.inspection("i2", 2).join("tool.toml");
    let text = fs::read_to_string(&card).unwrap();
    fs::write(&card, text.replace("VB-07", "VB-08")).unwrap();
    bench.judge("i2");
    bench.archive(&["add", "i1", "i2"]).ended(0);
    let words = ["list", "--text", "vb-08"];
    bench.archive(&words).ended(0).says("VB-08");
    let db = Connection::open(bench.db()).unwrap();
    db.execute_batch(
        "update record set subject = (select subject from record where number = 1) where number = 2",
    )
    .unwrap();
    let found = "the words that a search finds it by are not those that were said of it";
    bench.archive(&["check"]).ended(2).says(found);
    db.execute_batch("update subject set words = 'vb-07'")
        .unwrap();
    drop(db);
    bench.archive(&words).ended(2).says("records were changed");
    bench
        .archive(&["due"])
        .ended(2)
        .says("records were changed");
    // Its files are whole all the same.
    bench.archive(&["show", "2"]).says("VB-08");
    let copy = bench.path("copy.db").display().to_string();
    bench.archive(&["backup", &copy]).ended(2).says(found);
}
