//! What the archive costs: to add and have on the disk, to find, to keep a sample, to judge again.
//!
//! `cargo bench --bench archive` keeps 100,000 records to search in, `-- --quick` 20,000. What was
//! wanted is printed beside each figure, and fails nothing: on a busy machine it says little.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use heelclear::gauge::simulated::built_in;
use heelclear::inspection::{Folder, simulated::write_folder, verify};
use heelclear::record::archive::{
    Archive, Contents, Filter, Place, StoredFile, Wanted, pack, unpack,
};
use heelclear::report;
use heelclear::trace::csv::{self, Rows};
use rayon::prelude::*;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Inspections of so many samples each, a second, on the disk: wanted.
const WANTED_A_SECOND: f64 = 200.0;
const SAMPLES: usize = 3_000;

/// A list or a search, in milliseconds: wanted.
const WANTED_MS: f64 = 50.0;

/// Folders whose adding is synced once, as `archive add` does.
const BATCH: usize = 64;

/// A judged inspection of one trace, written as capture writes it.
fn inspection(folder: &Path, seed: u64) {
    let mut recipe = built_in("counterbore-no-reference").unwrap();
    recipe.seed = seed;
    write_folder(&recipe, folder).unwrap();
    let trace = folder.join("traces/seat.csv");
    let table = csv::read(fs::read(&trace).unwrap().as_slice(), "seat").unwrap();
    let Rows::Turning(samples) = table.rows else {
        unreachable!()
    };
    // The hand goes on, and comes by the same places.
    let more = samples.iter().rev().chain(&samples).copied();
    let mut all: Vec<_> = samples.iter().copied().chain(more).take(SAMPLES).collect();
    let step = samples[1].time - samples[0].time;
    for (number, sample) in all.iter_mut().enumerate() {
        sample.time = step * number as f64;
    }
    let mut written = Vec::new();
    csv::write(&mut written, &all).unwrap();
    fs::write(&trace, written).unwrap();
    let record = verify(&Folder::open(folder).unwrap()).unwrap();
    fs::write(folder.join("verdict.json"), record.to_json().unwrap()).unwrap();
    fs::write(folder.join("report.svg"), report::svg(&record).unwrap()).unwrap();
}

fn adding(root: &Path, count: usize) {
    let folders: Vec<PathBuf> = (0..count).map(|at| root.join(format!("i{at}"))).collect();
    let each = folders.par_iter().enumerate();
    each.for_each(|(seed, folder)| inspection(folder, seed as u64));
    let start = Instant::now();
    for folder in &folders {
        for file in [
            "inspection.toml",
            "tool.toml",
            "gauge.toml",
            "traces/seat.csv",
            "verdict.json",
            "report.svg",
        ] {
            black_box(fs::read(folder.join(file)).unwrap());
        }
    }
    let reading = start.elapsed().as_secs_f64();
    let mut archive = Archive::create(&Place::File(root.join("added.db"))).unwrap();
    let start = Instant::now();
    let mut sizes = (0, 0);
    for batch in folders.chunks(BATCH) {
        let read: Vec<Contents> = batch
            .par_iter()
            .map(|it| Contents::read(it).unwrap())
            .collect();
        for (were, kept) in read.iter().map(Contents::sizes) {
            sizes = (sizes.0 + were, sizes.1 + kept);
        }
        archive.add(&read).unwrap();
    }
    let took = start.elapsed().as_secs_f64();
    let rate = count as f64 / took;
    println!(
        "{count} inspections of {SAMPLES} samples with verdict and report, a batch of {BATCH} synced at once:"
    );
    println!(
        "  {rate:.0} a second on the disk (at least {WANTED_A_SECOND} wanted), {:.0} times as long as reading the files",
        took / reading
    );
    println!(
        "  {:.1} kB each, of {:.1} kB",
        sizes.1 as f64 / 1e3 / count as f64,
        sizes.0 as f64 / 1e3 / count as f64
    );
    let one = inspection_alone(root);
    let start = Instant::now();
    archive.add(&one).unwrap();
    println!("  one alone: {:.1} ms", start.elapsed().as_secs_f64() * 1e3);
    let start = Instant::now();
    let checked = archive.check(&mut |_, _| {}).unwrap();
    assert!(checked.faults.is_empty());
    println!(
        "  checking all: {:.0} a second",
        checked.records as f64 / start.elapsed().as_secs_f64()
    );
}

fn inspection_alone(root: &Path) -> [Contents; 1] {
    let folder = root.join("alone");
    inspection(&folder, 1_000_000);
    [Contents::read(&folder).unwrap()]
}

/// What a sample takes, beside zstd of the same file.
fn size(root: &Path) {
    let captured = fs::read(root.join("i0/traces/seat.csv")).unwrap();
    let simulated = fs::read("sample-data/counterbore-pass/traces/seat.csv").unwrap();
    println!("bytes a sample of angle, reading and time:      in CSV  with zstd  here");
    for (what, csv) in [
        ("as capture writes it", captured),
        ("with as many decimals in each row", simulated),
    ] {
        let rows = csv.iter().filter(|byte| **byte == b'\n').count() - 1;
        let a_sample = |bytes: usize| bytes as f64 / rows as f64;
        let zstd = zstd::bulk::compress(&csv, 3).unwrap().len();
        let here = pack("seat.csv", &csv);
        assert_eq!(unpack(&here).unwrap(), csv);
        println!(
            "  {what:<44}{:>8.2}{:>11.2}{:>6.2}",
            a_sample(csv.len()),
            a_sample(zstd),
            a_sample(here.len())
        );
    }
}

/// An archive of many small records: 500 tools, eight hands, ten years.
fn many(root: &Path, count: usize) -> Archive {
    let card = fs::read_to_string("sample-data/counterbore-pass/inspection.toml").unwrap();
    let tool = fs::read_to_string("sample-data/counterbore-pass/tool.toml").unwrap();
    let gauge = fs::read("sample-data/counterbore-pass/gauge.toml").unwrap();
    let folder = |number: usize| {
        let day = format!(
            "{}-{:02}-{:02}T",
            2016 + number % 10,
            1 + number % 12,
            1 + number % 28
        );
        let time = format!(
            "{:02}:{:02}:{:02}Z",
            number / 3600 % 24,
            number / 60 % 60,
            number % 60
        );
        let card = card
            .replace("2026-03-02T09:14:00Z", &(day + &time))
            .replace("bench 2", &format!("hand {}", number % 8));
        let tool = tool.replace("VB-07", &format!("VB-{}", number % 500));
        let verdict = ["pass", "fail", "undecided"]
            [usize::from(number.is_multiple_of(10)) + usize::from(number.is_multiple_of(20))];
        let verdict =
            format!(r#"{{"schema":"heelclear.verdict/1","n":{number},"verdict":"{verdict}"}}"#);
        let file = |path: &str, bytes: Vec<u8>| StoredFile {
            path: path.to_owned(),
            bytes,
        };
        let files = vec![
            file("inspection.toml", card.into_bytes()),
            file("tool.toml", tool.into_bytes()),
            file("gauge.toml", gauge.clone()),
            file("verdict.json", verdict.into_bytes()),
        ];
        Contents::of(files, "made").unwrap()
    };
    let mut archive = Archive::create(&Place::File(root.join("many.db"))).unwrap();
    let start = Instant::now();
    for from in (0..count).step_by(2_000) {
        let batch: Vec<Contents> = (from..from + 2_000).into_par_iter().map(folder).collect();
        archive.add(&batch).unwrap();
    }
    println!(
        "{count} records without traces added in {:.1} s",
        start.elapsed().as_secs_f64()
    );
    archive
}

fn finding(root: &Path, count: usize) {
    let mut archive = many(root, count);
    let some = |text: &str| Some(text.to_owned());
    let filters = [
        ("the last 50", Filter::default()),
        (
            "of one tool",
            Filter {
                tool: some("VB-77"),
                ..Filter::default()
            },
        ),
        (
            "of one operator",
            Filter {
                operator: some("hand 3"),
                ..Filter::default()
            },
        ),
        (
            "that fail",
            Filter {
                verdict: some("fail"),
                ..Filter::default()
            },
        ),
        (
            "since a day",
            Filter {
                since: Some("2025-06-01T00:00:00Z".parse().unwrap()),
                ..Filter::default()
            },
        ),
        (
            "with a feature",
            Filter {
                feature: some("seat"),
                ..Filter::default()
            },
        ),
        (
            "with a text",
            Filter {
                text: some("vb-123"),
                ..Filter::default()
            },
        ),
        (
            "with a text that none has",
            Filter {
                text: some("nowhere"),
                ..Filter::default()
            },
        ),
        (
            "with a gauge that none has",
            Filter {
                gauge: some("nowhere"),
                ..Filter::default()
            },
        ),
        (
            "of a tool that failed under one hand",
            Filter {
                tool: some("VB-20"),
                verdict: some("fail"),
                operator: some("hand 4"),
                ..Filter::default()
            },
        ),
    ];
    println!("finding in {count} records, at most 50, in ms (under {WANTED_MS} wanted):");
    for (what, filter) in filters {
        let filter = Filter {
            limit: Some(50),
            ..filter
        };
        let found = archive.find(&filter).unwrap().len();
        let took = best(|| drop(black_box(archive.find(&filter).unwrap())));
        println!("  {what:<40}{took:>8.2}  ({found} found)");
    }
    let took = best(|| drop(black_box(archive.wanted(&Wanted::Number(777)).unwrap())));
    println!("  {:<40}{took:>8.2}", "by its number");
    let program = || {
        let mut program = std::process::Command::new(env!("CARGO_BIN_EXE_heelclear"));
        program
            .args(["archive", "list", "--archive"])
            .arg(root.join("many.db"));
        assert!(program.output().unwrap().status.success());
    };
    println!(
        "  {:<40}{:>8.2}",
        "`archive list` as a whole process",
        best(program)
    );
}

/// The least of several times, in milliseconds.
fn best(mut work: impl FnMut()) -> f64 {
    let once = |_| {
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64() * 1e3
    };
    (0..7).map(once).fold(f64::MAX, f64::min)
}

fn bench(criterion: &mut Criterion) {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let root = tempfile::tempdir().unwrap();
    adding(root.path(), if quick { 128 } else { 512 });
    size(root.path());
    let trace = fs::read(root.path().join("i0/traces/seat.csv")).unwrap();
    let packed = pack("seat.csv", &trace);
    let mut group = criterion.benchmark_group("archive");
    group.throughput(Throughput::Elements(SAMPLES as u64));
    group.bench_function("pack a trace", |b| {
        b.iter(|| pack("seat.csv", black_box(&trace)))
    });
    group.bench_function("unpack a trace", |b| {
        b.iter(|| unpack(black_box(&packed)).unwrap())
    });
    group.finish();
    finding(root.path(), if quick { 20_000 } else { 100_000 });
}

criterion_group!(benches, bench);
criterion_main!(benches);
