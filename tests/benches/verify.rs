//! What `verify` costs: against only reading the same files, as a whole process, and as traces grow.
//!
//! Where `HEELCLEAR_PYTHON` names a Python with NumPy and SciPy, the whole process is timed beside
//! `script.py`, which does the same job by their means.
//!
//! `cargo bench --bench verify` goes up to ten million samples, with `-- --quick` to one. Costs that
//! grow and a whole process that takes longer than it may are told, and fail nothing: on a busy
//! machine they say little.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic
)]

use heelclear::inspection::{self, Folder, simulated::write_folder};
use heelclear::judge::Effort;
use heelclear::report;
use heelclear::simulator::{Scenario, built_in};
use rayon::prelude::*;
use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;
use tempfile::TempDir;

/// The whole process, on two traces of 3,000 samples, its report and as many trials as the verdict
/// needs included.
const PROCESS_MOST_MS: f64 = 100.0;

/// How many times as long the script takes.
const SCRIPT_LEAST: f64 = 30.0;

/// Judging four flutes of 3,000 samples each with 20,000 trials.
const TRIALS_MOST_MS: f64 = 1000.0;

/// The cost a sample of the longest traces over that of the shortest.
const GROWTH_MOST: f64 = 2.0;

fn main() {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let folder = short();
    against_reading(folder.path());
    whole_process(folder.path());
    trials();
    let sizes: &[usize] = if quick {
        &[100_000, 1_000_000]
    } else {
        &[100_000, 1_000_000, 10_000_000]
    };
    growth(folder.path(), sizes);
}

/// Two traces of a counterbore, of 3,000 samples each.
fn short() -> TempDir {
    let mut scenario: Scenario = built_in("counterbore-pass").unwrap();
    scenario
        .reference
        .iter_mut()
        .for_each(|round| round.turns = None);
    let folder = tempfile::tempdir().unwrap();
    write_folder(&scenario, folder.path()).unwrap();
    for trace in traces(folder.path()) {
        lengthen(&trace, 3_000);
    }
    folder
}

fn traces(folder: &Path) -> Vec<std::path::PathBuf> {
    let files = std::fs::read_dir(folder.join("traces")).unwrap();
    files.map(|file| file.unwrap().path()).collect()
}

/// Makes a trace this long: the hand that took it turns back over it, and forth again.
fn lengthen(trace: &Path, wanted: usize) {
    let text = std::fs::read_to_string(trace).unwrap();
    let (header, rows) = text.split_once('\n').unwrap();
    let (times, rest): (Vec<f64>, Vec<&str>) = rows
        .lines()
        .map(|row| row.split_once(',').unwrap())
        .map(|(time, rest)| (time.parse::<f64>().unwrap(), rest))
        .unzip();
    let interval = (times.last().unwrap() - times[0]) / (times.len() - 1) as f64;
    let there_and_back = rest.iter().chain(rest.iter().rev());
    let mut made = format!("{header}\n");
    for (number, rest) in there_and_back.cycle().take(wanted).enumerate() {
        writeln!(made, "{:.6},{rest}", number as f64 * interval).unwrap();
    }
    std::fs::write(trace, made).unwrap();
}

/// The least of several times, in milliseconds.
fn best(times: usize, mut work: impl FnMut()) -> f64 {
    let once = |_| {
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64() * 1e3
    };
    (0..times).map(once).fold(f64::MAX, f64::min)
}

fn read_all(folder: &Path) {
    for card in ["inspection.toml", "tool.toml", "gauge.toml"] {
        black_box(std::fs::read(folder.join(card)).unwrap());
    }
    for trace in traces(folder) {
        black_box(std::fs::read(trace).unwrap());
    }
}

fn judge(folder: &Path, with_report: bool) {
    let record = inspection::verify(&Folder::open(folder).unwrap()).unwrap();
    black_box(record.to_json().unwrap());
    if with_report {
        black_box(report::svg(&record).unwrap());
    }
}

fn against_reading(folder: &Path) {
    let reading = best(50, || read_all(folder));
    let judging = best(20, || judge(folder, false));
    let reporting = best(20, || judge(folder, true));
    println!("two traces of 3000 samples:");
    println!("  only reading the files: {reading:.2} ms");
    for (what, took) in [("the verdict", judging), ("and the report", reporting)] {
        println!("  {what}: {took:.2} ms, {:.0} times that", took / reading);
    }
}

fn whole_process(folder: &Path) {
    let run = || {
        let mut program = Command::new(env!("CARGO_BIN_EXE_heelclear"));
        let program = program.arg("verify").arg(folder).stderr(Stdio::null());
        let status = program.stdout(Stdio::null()).status().unwrap();
        // Any verdict will do.
        assert_ne!(status.code(), Some(2));
    };
    let took = best(20, run);
    let trials = inspection::verify(&Folder::open(folder).unwrap()).unwrap();
    let trials = trials
        .characteristics
        .iter()
        .filter_map(|each| each.propagation.as_ref());
    let trials = trials.map(|each| each.trials).max().unwrap_or(0);
    println!(
        "  as a whole process, with {trials} trials: {took:.1} ms (under {PROCESS_MOST_MS} wanted)"
    );
    if took >= PROCESS_MOST_MS {
        println!("  missed: `verify` took {took:.1} ms");
    }
    let Ok(python) = std::env::var("HEELCLEAR_PYTHON") else {
        println!("  HEELCLEAR_PYTHON names no Python: not held against a script");
        return;
    };
    let script = || {
        let mut program = Command::new(&python);
        program.arg("tests/benches/script.py").arg(folder);
        let output = program.output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(
            output.status.success() && !output.stdout.is_empty(),
            "{told}"
        );
    };
    let scripted = best(3, script);
    let ratio = scripted / took;
    println!("  a script with NumPy and SciPy: {scripted:.0} ms, {ratio:.0} times that");
    if ratio < SCRIPT_LEAST {
        println!("  missed: the script took less than {SCRIPT_LEAST} times as long");
    }
}

/// Four flutes of 3,000 samples each, with few trials and with many: what one of them costs, beside
/// reading every sample once from memory.
fn trials() {
    const FLUTES: usize = 4;
    const SAMPLES: usize = 3_000 * FLUTES;
    let scenario: Scenario = built_in("reamer-cam-rise").unwrap();
    assert_eq!(scenario.tool.flutes as usize, FLUTES);
    let folder = tempfile::tempdir().unwrap();
    write_folder(&scenario, folder.path()).unwrap();
    for trace in traces(folder.path()) {
        lengthen(&trace, SAMPLES);
    }
    let folder = Folder::open(folder.path()).unwrap();
    let judging = |trials: usize| {
        let effort = Effort {
            trials: Some(trials),
            ..Effort::default()
        };
        best(5, || {
            black_box(inspection::verify_with(&folder, effort).unwrap());
        })
    };
    let (few, many) = (judging(5_000), judging(20_000));
    println!("four flutes of 3000 samples:");
    println!("  with 20,000 trials: {many:.0} ms (under {TRIALS_MOST_MS} wanted)");
    if many >= TRIALS_MOST_MS {
        println!("  missed: 20,000 trials took {many:.0} ms");
    }
    let trial = (many - few) * 1e6 / 15_000.0;
    let sample = read_from_memory();
    println!(
        "  a trial: {:.0} ns, {:.3} ns a sample; reading each sample once from memory takes {sample:.3} ns: {:.2} times that",
        trial,
        trial / SAMPLES as f64,
        trial / SAMPLES as f64 / sample
    );
}

/// Nanoseconds for 8 bytes of a buffer that no cache holds, read by all threads.
fn read_from_memory() -> f64 {
    const NUMBERS: usize = 32 << 20;
    let buffer: Vec<u64> = (0..NUMBERS as u64).collect();
    let took = best(5, || {
        let parts = buffer.par_chunks(1 << 20);
        let sums = parts.map(|part| part.iter().fold(0u64, |sum, each| sum.wrapping_add(*each)));
        black_box(sums.reduce(|| 0, u64::wrapping_add));
    });
    took * 1e6 / NUMBERS as f64
}

fn growth(folder: &Path, sizes: &[usize]) {
    println!("two traces of so many samples: ns a sample");
    let mut costs = Vec::new();
    for &size in sizes {
        for trace in traces(folder) {
            lengthen(&trace, size);
        }
        let times = (300_000 / size).clamp(2, 10);
        let took = best(times, || judge(folder, true));
        let cost = took * 1e6 / (2 * size) as f64;
        println!("{size:>11} {cost:>8.1}");
        costs.push(cost);
    }
    let growth = costs[costs.len() - 1] / costs[0];
    println!("the last over the first: {growth:.2}");
    if growth >= GROWTH_MOST {
        println!("  missed: the cost a sample grows {growth:.1} times");
    }
}
