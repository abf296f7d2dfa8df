//! Parquet tables: written by the program, read back by engines that share nothing with it.
//!
//! DuckDB and Apache Arrow (pyarrow) read them where `HEELCLEAR_PYTHON` names an interpreter that
//! has them, as `.ci/run` sees to; elsewhere those tests say that they did not run.

use crate::bench::{Bench, PROGRAM, Said, files};
use heelclear::record::archive::Digest;
use serde_json::{Value, json};
use std::fs;
use std::io::Write;
use std::process::Command;

/// The samples, each with the day that it is said to be measured on.
const SAMPLES: [(&str, &str); 4] = [
    ("counterbore-pass", "2026-03-02"),
    ("chamfer-face", "2026-03-31"),
    ("two-clocks", "2026-04-01"),
    ("single-flute-long-land", "2025-12-31"),
];

/// Judged samples in an archive, in months of two years.
fn kept() -> Bench {
    let bench = Bench::new();
    for (name, day) in SAMPLES {
        let folder = bench.path(name);
        for (file, bytes) in files(&std::path::Path::new("sample-data").join(name)) {
            let path = folder.join(&file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        }
        let card = folder.join("inspection.toml");
        let text = fs::read_to_string(&card).unwrap();
        fs::write(&card, text.replace("2026-03-02T", &format!("{day}T"))).unwrap();
        let mut verify = Command::new(PROGRAM);
        verify.arg("verify").arg(&folder);
        let said = Said::of(verify.arg("--archive").arg(bench.db()).output().unwrap());
        assert!(said.status != 2, "{}", said.stderr);
    }
    bench
}

fn export(bench: &Bench, flags: &[&str]) -> Said {
    let line = [&["export", "--as", "parquet", "--out", "tables"], flags].concat();
    bench.archive(&line)
}

/// The paths of the tables' files, the bench's name left out.
fn paths(bench: &Bench) -> Vec<String> {
    let all = files(&bench.path("tables")).into_iter();
    all.map(|(path, _)| {
        let parts: Vec<&str> = path.split('/').collect();
        assert!(parts[1].starts_with("bench="), "{path}");
        [parts[0], parts[2], parts[3], parts[4]].join("/")
    })
    .collect()
}

/// The tables as this engine reads them; `None`, and told, where it is not there.
fn read(bench: &Bench, engine: &str) -> Option<Value> {
    let told = |why: &str| {
        let line = format!("skipped: {why}\n");
        std::io::stderr().write_all(line.as_bytes()).unwrap();
        None
    };
    let Ok(python) = std::env::var("HEELCLEAR_PYTHON") else {
        return told("HEELCLEAR_PYTHON names no Python with DuckDB and pyarrow");
    };
    let there = Command::new(&python)
        .args(["-c", &format!("import {engine}")])
        .output();
    if !there.unwrap().status.success() {
        return told(&format!("{python} has no {engine}"));
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/archive/read_tables.py");
    let mut command = Command::new(&python);
    command.arg(script).arg(bench.path("tables")).arg(engine);
    let output = command.output().unwrap();
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{complaint}");
    Some(serde_json::from_slice(&output.stdout).unwrap())
}

/// The rows of a table that an engine read of this record.
fn of_record<'a>(read: &'a Value, table: &str, number: u64) -> Vec<&'a Value> {
    let rows = read[table]["rows"].as_array().unwrap().iter();
    rows.filter(|row| row["number"] == number).collect()
}

fn figures_are_those_of_the_verdicts(bench: &Bench, read: &Value) {
    for (number, (name, day)) in (1..).zip(SAMPLES) {
        let verdict = fs::read(bench.path(name).join("verdict.json")).unwrap();
        let verdict: Value = serde_json::from_slice(&verdict).unwrap();
        let rows = of_record(read, "characteristics", number);
        if day.starts_with("2025") {
            assert!(rows.is_empty(), "asked for 2026 alone");
            continue;
        }
        let figures = verdict["characteristics"].as_array().unwrap();
        assert_eq!(rows.len(), figures.len(), "{name}");
        for figure in figures {
            // Rows have no order in a table.
            let same = |row: &&&Value| {
                let keys = ["name", "feature", "flute", "z_mm"];
                keys.iter().all(|key| row[key] == figure[key])
            };
            let row = rows.iter().find(same).unwrap();
            let unit = figure["unit"].as_str().unwrap();
            let other = if unit == "mm" { "deg" } else { "mm" };
            let end = |at: usize| figure["interval"].get(at).cloned().unwrap_or_default();
            for (column, expected) in [
                ("value", figure["value"].clone()),
                (
                    "standard_uncertainty",
                    figure["standard_uncertainty"].clone(),
                ),
                ("interval_low", end(0)),
                ("interval_high", end(1)),
                ("limit_min", figure["limit"]["min"].clone()),
                ("limit_max", figure["limit"]["max"].clone()),
            ] {
                let read = &row[format!("{column}_{unit}")];
                assert_eq!(read.as_f64(), expected.as_f64(), "{name}: {column}");
                assert_eq!(row[format!("{column}_{other}")], Value::Null);
            }
            for column in ["name", "feature", "flute", "verdict", "why", "remedy"] {
                assert_eq!(row[column], figure[column], "{name}: {column}");
            }
            assert_eq!(row["tool"], verdict["tool"]);
            let taken = row["taken"].as_str().unwrap();
            assert!(
                taken.starts_with(day) && taken.ends_with("+00:00"),
                "{taken}"
            );
        }
    }
}

/// Every number of the lists stands in the trace's file, whose digest stands beside them.
fn traces_are_those_of_the_files(bench: &Bench, read: &Value) {
    for (number, (name, _)) in (1..).zip(SAMPLES).take(3) {
        let rows = of_record(read, "traces", number);
        let card = fs::read_to_string(bench.path(name).join("inspection.toml")).unwrap();
        assert_eq!(rows.len(), card.matches("[[trace]]").count(), "{name}");
        for row in rows {
            assert_eq!(row["inspection_card"], json!(card));
            let tool = fs::read_to_string(bench.path(name).join("tool.toml")).unwrap();
            assert_eq!(row["tool_card"], json!(tool));
            let own_clock = row["reading_file"].is_string();
            check_file(bench, name, row, "file", "blob_sha256", "time_us");
            if own_clock {
                check_file(
                    bench,
                    name,
                    row,
                    "reading_file",
                    "reading_blob_sha256",
                    "reading_time_us",
                );
            } else {
                assert_eq!(row["reading_time_us"], Value::Null);
            }
        }
    }
}

fn check_file(bench: &Bench, name: &str, row: &Value, file: &str, digest: &str, time: &str) {
    let bytes = fs::read(bench.path(name).join(row[file].as_str().unwrap())).unwrap();
    assert_eq!(row[digest], json!(Digest::of(&bytes).to_string()), "{name}");
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let header = reader.headers().unwrap().clone();
    let lines: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    for (column, of) in header.iter().enumerate() {
        let list = match of {
            "time_s" => time,
            "angle_deg" => "angle_udeg",
            "travel_mm" => "travel_nm",
            "reading_mm" => "reading_nm",
            other => unreachable!("{other}"),
        };
        let list = row[list].as_array().unwrap();
        assert_eq!(list.len(), lines.len(), "{name}: {of}");
        for (whole, line) in list.iter().zip(&lines) {
            let written: f64 = line[column].parse().unwrap();
            let whole = whole.as_i64().unwrap() as f64;
            assert!(
                (whole - written * 1e6).abs() < 0.6,
                "{name}: {of} {written} {whole}"
            );
        }
    }
}

#[track_caller]
fn types_say_what_is_in_them(read: &Value, moment: &str, whole: &str, real: &str, list: &str) {
    for table in ["traces", "characteristics"] {
        for (column, expected) in [("taken", moment), ("archived", moment), ("number", whole)] {
            assert_eq!(read[table]["types"][column], expected, "{table}: {column}");
        }
    }
    assert_eq!(read["characteristics"]["types"]["value_mm"], real);
    assert_eq!(read["traces"]["types"]["relief_angle_least_deg"], real);
    assert_eq!(read["traces"]["types"]["reading_nm"], list);
}

#[test]
#[cfg(feature = "parquet")]
fn duckdb_reads_what_was_measured() {
    let bench = kept();
    export(&bench, &[]).ended(0).says("4 records, ");
    let Some(read) = read(&bench, "duckdb") else {
        return;
    };
    figures_are_those_of_the_verdicts(&bench, &read);
    traces_are_those_of_the_files(&bench, &read);
    types_say_what_is_in_them(
        &read,
        "timestamp with time zone",
        "bigint",
        "double",
        "bigint[]",
    );
    // The engine takes lists apart by itself, over all partitions.
    let unnested = read["traces"]["more"].as_array().unwrap();
    let row = &read["traces"]["rows"][0];
    let readings = row["reading_nm"].as_array().unwrap();
    let whole = |it: &Value| it.as_i64().unwrap();
    let span =
        readings.iter().map(whole).max().unwrap() - readings.iter().map(whole).min().unwrap();
    let expected = json!([row["number"], row["trace"], readings.len(), span]);
    assert!(unnested.contains(&expected), "{expected} in {unnested:?}");
}

#[test]
#[cfg(feature = "parquet")]
fn arrow_reads_what_was_measured() {
    let bench = kept();
    export(&bench, &[]).ended(0);
    let Some(read) = read(&bench, "pyarrow") else {
        return;
    };
    figures_are_those_of_the_verdicts(&bench, &read);
    traces_are_those_of_the_files(&bench, &read);
    types_say_what_is_in_them(
        &read,
        "timestamp[us, tz=UTC]",
        "int64",
        "double",
        "list<element: int64 not null>",
    );
}

#[test]
#[cfg(feature = "parquet")]
fn written_again_the_tables_hold_what_was_asked_for_and_nothing_twice() {
    let bench = kept();
    let said = export(&bench, &["--json"]).ended(0).json().remove(0);
    assert_eq!((&said["records"], &said["files"]), (&json!(4), &json!(6)));
    let first = files(&bench.path("tables"));
    let months = [
        "year=2025/month=12",
        "year=2026/month=03",
        "year=2026/month=04",
    ];
    let of = |table: &str| months.map(|month| format!("{table}/{month}/records.parquet"));
    assert_eq!(
        paths(&bench),
        [of("characteristics"), of("traces")].concat()
    );
    export(&bench, &[]).ended(0);
    assert_eq!(files(&bench.path("tables")), first, "the same bytes again");

    // A correction of another month takes the record that it replaces out of the tables.
    let mended = bench.path("two-clocks");
    let card = mended.join("inspection.toml");
    let text = fs::read_to_string(&card).unwrap();
    fs::write(&card, text.replace("2026-04-01T", "2026-05-01T")).unwrap();
    bench.judge("two-clocks");
    bench
        .archive(&[
            "add",
            "two-clocks",
            "--replaces",
            "3",
            "--why",
            "the wrong day",
        ])
        .ended(0);
    // What lies beside the tables is not ours to take away.
    let other = bench.path("tables/traces/readme.txt");
    fs::write(&other, "ask Ada").unwrap();
    export(&bench, &[]).ended(0).says("4 records, ");
    assert!(other.exists());
    fs::remove_file(other).unwrap();
    let now = paths(&bench);
    assert!(now.contains(&"traces/year=2026/month=05/records.parquet".to_owned()));
    assert!(!now.iter().any(|path| path.contains("month=04")), "{now:?}");

    // Nothing else is left of what was wanted before.
    export(&bench, &["--tool", "nothing like it"]).ended(0);
    assert_eq!(paths(&bench), [""; 0]);
}

#[test]
#[cfg(feature = "parquet")]
fn the_manual_names_every_column() {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    let bench = kept();
    export(&bench, &[]).ended(0);
    let page = heelclear::manual::page("tables").unwrap().text;
    for (path, _) in files(&bench.path("tables")) {
        let file = fs::File::open(bench.path("tables").join(&path)).unwrap();
        let reader = SerializedFileReader::new(file).unwrap();
        let schema = reader.metadata().file_metadata().schema().clone();
        for column in schema.get_fields() {
            let name = column.name();
            // Each characteristic has two; the page shows them for one.
            let of_flutes = name.contains("_least_") || name.contains("_most_");
            let shown = of_flutes || page.contains(&format!("`{name}`"));
            assert!(shown, "{path}: `{name}` is not on the page");
        }
    }
}

#[test]
#[cfg(feature = "parquet")]
fn a_damaged_record_is_told_and_the_others_are_written() {
    let bench = kept();
    let db = rusqlite::Connection::open(bench.db()).unwrap();
    let change = "update content set packed = zeroblob(40)
        where digest = (select digest from file where number = 2 and path like 'traces/%' limit 1)";
    assert_eq!(db.execute(change, []).unwrap(), 1);
    drop(db);
    export(&bench, &[])
        .ended(2)
        .says("3 records, ")
        .says("error[archive-broken]")
        .says("/2 is damaged: file `traces/");
    // A figure of it goes into no table: nobody knows what it was judged from.
    let said = bench.archive(&["export", "--as", "csv"]).ended(2);
    assert!(said.stdout.contains("VB-07"), "{}", said.stdout);
}

#[test]
fn a_damaged_verdict_is_told_and_the_others_come_out() {
    let bench = kept();
    let db = rusqlite::Connection::open(bench.db()).unwrap();
    let change = "update content set packed = zeroblob(40)
        where digest = (select digest from file where number = 2 and path = 'verdict.json')";
    assert_eq!(db.execute(change, []).unwrap(), 1);
    drop(db);
    for form in ["csv", "json"] {
        let said = bench.archive(&["export", "--as", form]).ended(2);
        assert!(said.stdout.contains("VB-07"), "{}", said.stdout);
        said.says("error[archive-broken]")
            .says("/2 is damaged: file `verdict.json`");
    }
}

#[test]
#[cfg(feature = "parquet")]
fn tables_need_a_folder_to_go_to() {
    let bench = kept();
    bench
        .archive(&["export", "--as", "parquet"])
        .ended(2)
        .says("name one with `--out DIR`");
    fs::write(bench.path("tables"), "a file").unwrap();
    export(&bench, &[]).ended(2).says("error[disk]");
}

#[test]
#[cfg(not(feature = "parquet"))]
fn a_program_without_parquet_says_how_to_have_it() {
    let bench = kept();
    export(&bench, &[]).ended(2).says("--features parquet");
}
