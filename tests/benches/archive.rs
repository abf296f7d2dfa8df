//! What the archive costs: to add and have on the disk, to find, to keep a sample, to judge again.
//!
//! What was wanted is printed beside each figure, and fails nothing: on a busy machine it says
//! little. Searches are in 100,000 records, with `-- --quick` too.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use heelclear::inspection::{Folder, rejudge, simulated::write_folder, verify};
use heelclear::record::archive::{
    Archive, Contents, Digest, Filter, Place, StoredFile, Wanted, pack, unpack,
};
use heelclear::report;
use heelclear::simulator::built_in;
use heelclear::trace::csv::{self, Rows};
use rayon::prelude::*;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Inspections of so many samples each, a second, on the disk: wanted.
const WANTED_A_SECOND: f64 = 200.0;
const SAMPLES: usize = 3_000;

/// What an inspection takes for each of its samples: wanted.
const WANTED_BYTES: f64 = 4.0;

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
    let start = Instant::now();
    for folder in &folders {
        let files = StoredFile::all_of(folder).unwrap();
        files.iter().for_each(|file| {
            black_box(Digest::of(&file.bytes));
        });
    }
    let hashing = start.elapsed().as_secs_f64();
    let mut archive = Archive::create(&Place::File(root.join("added.db")), report::svg_by).unwrap();
    let start = Instant::now();
    let mut sizes = (0, 0);
    for batch in folders.chunks(BATCH) {
        let read: Vec<Contents> = batch
            .par_iter()
            .map(|it| Contents::read(it, report::svg_by).unwrap())
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
    drop(archive);
    let a_sample = |bytes: u64| bytes as f64 / (count * SAMPLES) as f64;
    println!(
        "  {:.2} bytes a sample (at most {WANTED_BYTES} wanted), {:.2} with the database's tables; the files have {:.0}",
        a_sample(sizes.1),
        a_sample(fs::metadata(root.join("added.db")).unwrap().len()),
        a_sample(sizes.0)
    );
    let mut archive = Archive::open(&Place::File(root.join("added.db")), report::svg_by).unwrap();
    let one = inspection_alone(root);
    let start = Instant::now();
    archive.add(&one).unwrap();
    println!("  one alone: {:.1} ms", start.elapsed().as_secs_f64() * 1e3);
    let start = Instant::now();
    let checked = archive.check(&mut |_, _| {}).unwrap();
    assert!(checked.faults.is_empty());
    let checking = start.elapsed().as_secs_f64();
    println!(
        "  checking all: {:.0} a second on {} cores, {:.1} times as long as one reads and hashes the files",
        checked.records as f64 / checking,
        rayon::current_num_threads(),
        checking / hashing
    );
}

fn inspection_alone(root: &Path) -> [Contents; 1] {
    let folder = root.join("alone");
    inspection(&folder, 1_000_000);
    [Contents::read(&folder, report::svg_by).unwrap()]
}

/// What a sample takes, beside zstd of the same file and the lists of a Parquet table.
fn size(root: &Path) {
    println!("bytes a sample of angle, reading and time:      in CSV  with zstd  in Parquet  here");
    let simulated = Path::new("sample-data/counterbore-no-reference");
    for (what, folder) in [
        ("as capture writes it", root.join("i0").as_path()),
        ("with as many decimals in each row", simulated),
    ] {
        let csv = fs::read(folder.join("traces/seat.csv")).unwrap();
        let rows = csv.iter().filter(|byte| **byte == b'\n').count() - 1;
        let a_sample = |bytes: usize| bytes as f64 / rows as f64;
        let zstd = zstd::bulk::compress(&csv, 3).unwrap().len();
        let here = pack("seat.csv", &csv);
        assert_eq!(unpack(&here).unwrap(), csv);
        println!(
            "  {what:<44}{:>8.2}{:>11.2}{:>12}{:>6.2}",
            a_sample(csv.len()),
            a_sample(zstd),
            in_parquet(folder, rows),
            a_sample(here.len())
        );
    }
}

/// Bytes a sample of the lists that an export holds, which any engine reads.
#[cfg(feature = "parquet")]
fn in_parquet(folder: &Path, rows: usize) -> String {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    let root = tempfile::tempdir().unwrap();
    let mut archive =
        Archive::create(&Place::File(root.path().join("one.db")), report::svg_by).unwrap();
    archive
        .add(&[Contents::read(folder, report::svg_by).unwrap()])
        .unwrap();
    let out = root.path().join("tables");
    let wanted = archive.names(&Filter::default()).unwrap();
    let written = archive.write_parquet(&wanted, &[], &out, &mut |_| {});
    assert_eq!(written.unwrap().traces, 1);
    let mut folder = out.join("traces");
    while folder.is_dir() {
        folder = fs::read_dir(&folder)
            .unwrap()
            .next()
            .unwrap()
            .unwrap()
            .path();
    }
    let reader = SerializedFileReader::new(fs::File::open(folder).unwrap()).unwrap();
    let groups = reader.metadata().row_groups().iter();
    let lists = groups.flat_map(|group| group.columns()).filter(|column| {
        let path = column.column_path().string();
        path.ends_with(".list.element")
    });
    let bytes: i64 = lists.map(|column| column.compressed_size()).sum();
    format!("{:.2}", bytes as f64 / rows as f64)
}

#[cfg(not(feature = "parquet"))]
fn in_parquet(_: &Path, _: usize) -> String {
    "—".to_owned()
}

/// Old traces judged again on all cores, as `archive rejudge` does, beside one core that only
/// judges their folders.
fn judging_again(root: &Path, count: usize) {
    let mut archive = Archive::open(&Place::File(root.join("added.db")), report::svg_by).unwrap();
    let names = archive.names(&Filter::default()).unwrap();
    let names = &names[..count.min(names.len())];
    let start = Instant::now();
    for batch in names.chunks(32) {
        let stored: Vec<_> = batch
            .iter()
            .map(|it| archive.load(&it.id).unwrap())
            .collect();
        let judged: Vec<_> = stored.par_iter().map(|it| rejudge(it).unwrap()).collect();
        assert!(judged.iter().all(|it| it.moved.is_empty()));
    }
    let again = names.len() as f64 / start.elapsed().as_secs_f64();
    let few = names.len().min(32);
    let start = Instant::now();
    for at in 0..few {
        let folder = Folder::open(&root.join(format!("i{at}"))).unwrap();
        black_box(verify(&folder).unwrap());
    }
    let alone = few as f64 / start.elapsed().as_secs_f64();
    println!(
        "judging again: {again:.1} inspections of {SAMPLES} samples a second on {} cores, {:.1} times what one core judges of folders",
        rayon::current_num_threads(),
        again / alone
    );
}

/// A table of every figure and one of every trace, from the archive of `adding`.
#[cfg(feature = "parquet")]
fn tables(root: &Path) {
    let mut archive = Archive::open(&Place::File(root.join("added.db")), report::svg_by).unwrap();
    let names = archive.names(&Filter::default()).unwrap();
    let start = Instant::now();
    let out = root.join("tables");
    let written = archive.write_parquet(&names, &[], &out, &mut |_| {});
    let tables = written.unwrap();
    println!(
        "export to Parquet: {:.0} records a second",
        tables.records as f64 / start.elapsed().as_secs_f64()
    );
}

#[cfg(not(feature = "parquet"))]
fn tables(_: &Path) {}

/// An archive of many small records, 500 tools, eight hands, ten years: one that the program made,
/// and the others put beside it by the database itself, since only finding is measured in it.
fn many(root: &Path, count: usize) -> Archive {
    let place = Place::File(root.join("many.db"));
    let start = Instant::now();
    let folder = Path::new("sample-data/counterbore-no-reference");
    let mut archive = Archive::create(&place, report::svg_by).unwrap();
    archive
        .add(&[Contents::read(folder, report::svg_by).unwrap()])
        .unwrap();
    drop(archive);
    let Place::File(path) = &place else {
        unreachable!()
    };
    let db = rusqlite::Connection::open(path).unwrap();
    db.execute_batch(&format!(
        "begin;
        create temp table made as
        with recursive counted (n) as (select 2 union all select n + 1 from counted where n < {count})
        select n, 'VB-' || (n % 500) as tool, 'hand ' || (n % 8) as hand, 1000 + n % 1000 as subject,
            case when n % 20 = 0 then 'undecided' when n % 10 = 0 then 'fail' else 'pass' end as verdict,
            1451606400000000 + (n % 3650) * 86400000000 + n % 86400 * 1000000 as taken
        from counted;
        insert into subject
            select subject, char(10) || 'seat' || char(10),
                lower(min(tool)) || char(10) || 'seat counterbore' || char(10) || min(hand) || char(10)
                || 'indicator 1 µm, limit of error 3 µm; ball stylus, radius 1 mm' || char(10) || 'vm'
            from made group by subject;
        insert into record
            select record.bench, n, record.form, record.archived, record.program, record.host,
                made.taken, made.hand, record.stage, made.tool, record.tool_name, record.gauge,
                made.verdict, made.subject, null, null, randomblob(32), randomblob(32),
                randomblob(32), randomblob(32), null
            from made join record on record.number = 1 order by n;
        insert into file
            select file.bench, n, file.path, file.size, file.digest
            from made join file on file.number = 1 order by n;
        update bench set head = {count};
        commit; pragma wal_checkpoint(truncate);"
    ))
    .unwrap();
    drop(db);
    let archive = chain(&place);
    println!(
        "{count} records put beside each other and chained in {:.1} s",
        start.elapsed().as_secs_f64()
    );
    archive
}

/// Ties every record to the one before it, as if each had been added.
fn chain(place: &Place) -> Archive {
    let mut archive = Archive::open(place, report::svg_by).unwrap();
    let mut records = archive.find(&Filter::default()).unwrap();
    records.sort_by_key(|record| record.id.number);
    let mut before = records[0].previous;
    drop(archive);
    let Place::File(path) = place else {
        unreachable!()
    };
    let db = rusqlite::Connection::open(path).unwrap();
    db.execute_batch("begin").unwrap();
    let mut update = db
        .prepare("update record set previous = ?1, chain = ?2 where bench = ?3 and number = ?4")
        .unwrap();
    for record in &mut records {
        record.previous = before;
        before = record.chained();
        let (previous, chain) = (record.previous.as_bytes(), before.as_bytes());
        let (bench, number) = (&record.id.bench, record.id.number);
        update
            .execute((previous.as_slice(), chain.as_slice(), bench, number))
            .unwrap();
    }
    drop(update);
    db.execute(
        "update bench set chain = ?1",
        [before.as_bytes().as_slice()],
    )
    .unwrap();
    db.execute_batch("commit; pragma wal_checkpoint(truncate);")
        .unwrap();
    drop(db);
    Archive::open(place, report::svg_by).unwrap()
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
    listing_all(root);
}

/// Every record as a line of JSON, beside the database's own reading of the rows.
fn listing_all(root: &Path) {
    let db = rusqlite::Connection::open(root.join("many.db")).unwrap();
    let bare = || {
        let text = "select * from record order by taken desc, bench, number desc";
        let mut statement = db.prepare(text).unwrap();
        let width = statement.column_count();
        let mut rows = statement.query([]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            for at in 0..width {
                black_box(row.get_ref(at).unwrap());
            }
        }
    };
    let program = || {
        let mut program = std::process::Command::new(env!("CARGO_BIN_EXE_heelclear"));
        program.args(["archive", "list", "--json", "--limit", "0", "--archive"]);
        program.arg(root.join("many.db"));
        let to = fs::File::create(root.join("listed.json")).unwrap();
        assert!(program.stdout(to).status().unwrap().success());
    };
    let (bare, listing) = (best(bare), best(program));
    println!(
        "  {:<40}{listing:>8.0}  ({:.1} times the bare query)",
        "`archive list --json` of all",
        listing / bare
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
    judging_again(root.path(), if quick { 64 } else { 512 });
    tables(root.path());
    finding(root.path(), 100_000);
}

criterion_group!(benches, bench);
criterion_main!(benches);
