//! What `verify` costs: against only reading the same files, as a whole process, and as traces grow.
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

use heelclear::gauge::simulated::{Scenario, built_in};
use heelclear::inspection::{self, Folder, simulated::write_folder};
use heelclear::report;
use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;
use tempfile::TempDir;

/// The whole process, on two traces of 3,000 samples, its report included.
const PROCESS_MOST_MS: f64 = 60.0;

/// The cost a sample of the longest traces over that of the shortest.
const GROWTH_MOST: f64 = 2.0;

fn main() {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let folder = short();
    against_reading(folder.path());
    whole_process(folder.path());
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
    println!("  as a whole process: {took:.1} ms (under {PROCESS_MOST_MS} wanted)");
    if took >= PROCESS_MOST_MS {
        println!("  missed: `verify` took {took:.1} ms");
    }
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
