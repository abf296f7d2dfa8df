//! The firmware behind a pseudo-terminal, read by `heelclear capture`: what it writes is what was driven.
//!
//! The emulator waits for whoever reads, so it may run slower than this computer's clock, or faster.

use super::drive::{self, BEGUN, Drive, Frame, HOLD, MS, RESET, S, US, Uneven};
use super::emulated::records;
use super::indicators::{Indicator, TWO26};
use super::made;
use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use tempfile::TempDir;

/// The bridge on a pseudo-terminal, and what it is driven by; it ends with this.
struct Served {
    emulator: Child,
    port: String,
    place: TempDir,
}

impl Served {
    /// Begins with nothing moving; each part behind it begins as `capture` begins a trace.
    fn start(indicator: Indicator, parts: &[&Drive]) -> Option<Self> {
        let (emulator, firmware) = (made::emulator()?, made::firmware(indicator.name, 500_000)?);
        let place = tempfile::tempdir().unwrap();
        let events = place.path().join("events");
        let mut at_rest = Drive::new(indicator.clock, 0);
        at_rest.ends(1);
        let mut bytes = at_rest.written();
        for part in parts {
            bytes.extend(part.written());
        }
        fs::write(&events, bytes).unwrap();
        let mut emulator = Command::new(emulator)
            .arg(firmware)
            .arg(&events)
            .arg(place.path().join("kept"))
            .arg("--pty")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut said = BufReader::new(emulator.stdout.take().unwrap());
        let mut port = String::new();
        // Behind what simavr says of the firmware that it loads.
        while !port.starts_with("/dev/") {
            port.clear();
            assert!(said.read_line(&mut port).unwrap() > 0, "no port");
        }
        Some(Self {
            emulator,
            port: port.trim().to_owned(),
            place,
        })
    }

    /// The cycles at which the parts began.
    fn ended(mut self) -> Vec<u64> {
        drop(self.emulator.stdin.take());
        assert!(self.emulator.wait().unwrap().success());
        let kept = records(&self.place.path().join("kept")).into_iter();
        kept.filter(|record| record.what == BEGUN)
            .map(|record| record.cycle)
            .collect()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // Closing its standard input ends it; one that ended already is no fault.
        drop(self.emulator.stdin.take());
        let _ = self.emulator.wait();
    }
}

/// Runs `heelclear` in this folder; gives its status, stdout and stderr.
fn heelclear(place: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = command.args(arguments).current_dir(place).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    let status = output.status.code().unwrap();
    (status, text(output.stdout), text(output.stderr))
}

/// What `capture` says where something went wrong on the wire.
const WRONG: [&str; 7] = [
    "damaged",
    "torn",
    "never came",
    "dropped",
    "cannot be",
    "to be lost",
    "anew",
];

/// A row of a trace file, in counts of encoder and indicator.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Row {
    time_us: f64,
    count: i64,
    reading: i32,
}

fn rows(file: &Path, counts_per_turn: f64) -> Vec<Row> {
    let text = fs::read_to_string(file).unwrap();
    let row = |line: &str| {
        let fields: Vec<f64> = line
            .split(',')
            .take(3)
            .map(|field| field.parse().unwrap())
            .collect();
        let count = fields[1] / 360.0 * counts_per_turn;
        let reading = fields[2] / 0.001;
        // Whole to what a file's digits leave.
        assert!((count - count.round()).abs() < 0.01 && (reading - reading.round()).abs() < 1e-6);
        Row {
            time_us: fields[0] * 1e6,
            count: count.round() as i64,
            reading: reading.round() as i32,
        }
    };
    text.lines().skip(1).map(row).collect()
}

/// The rows are the last of those frames, one by one: the value, the count at the first edge, the time.
#[track_caller]
fn check(rows: &[Row], drive: &Drive, least: usize) {
    assert!(
        rows.len() >= least,
        "{} rows of {}",
        rows.len(),
        drive.frames.len()
    );
    let from = drive.frames.len() - rows.len();
    let frames: &[Frame] = &drive.frames[from..];
    // The encoder's counts of a part begin wherever they stood.
    let zero =
        |row: &Row, frame: &Frame| row.count - drive.counts(frame.cycle, frame.cycle).start();
    let first = (rows[0].time_us, frames[0].cycle, zero(&rows[0], &frames[0]));
    for (row, frame) in rows.iter().zip(frames) {
        assert_eq!(row.reading, frame.value, "{row:?} {frame:?}");
        let since = row.time_us - first.0 - (frame.cycle - first.1) as f64 / drive::US as f64;
        assert!(since.abs() <= 10.0, "{row:?} is off by {since} us");
        let counts = drive.counts(frame.cycle - 10 * drive::US, frame.cycle + 10 * drive::US);
        let near = (counts.start() + first.2 - 1)..=(counts.end() + first.2 + 1);
        assert!(near.contains(&row.count), "{row:?} stood at {near:?}");
    }
}

fn gauge_card(place: &Path, counts_per_turn: u32) -> PathBuf {
    let card = fs::read_to_string(sample().join("gauge.toml")).unwrap();
    let counts = format!("counts_per_rev = {counts_per_turn}");
    let card = card.replace("counts_per_rev = 4000", &counts) + "\n[link]\nbaud = 500000\n";
    let file = place.join("bench.toml");
    fs::write(&file, card).unwrap();
    file
}

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/counterbore-pass")
}

/// A hand at rest for as long as a trace needs to begin, then 30,000 edges a second with jitter and
/// phase error, 50 readings a second of which no two are alike, and rest.
fn quick(seed: u64, counts_per_turn: i64) -> Drive {
    let mut drive = Drive::new(TWO26.clock, seed);
    drive.index = Some((3, counts_per_turn));
    let uneven = Uneven {
        jitter: 0.1,
        phase: 0.5,
    };
    let done = drive.turn(S, 150_000, 30_000.0, uneven);
    let end = done + S;
    for (number, at) in (20 * MS..end).step_by(20 * MS as usize).enumerate() {
        let value = 1000 * (number as i32 % 50) - 500 * 50 + number as i32;
        let first_edge = at + rand::Rng::random_range(&mut drive.rng, 0..MS);
        let bits = (TWO26.bits)(value, false);
        drive.frame(first_edge, value, &bits, TWO26.clock);
    }
    drive.ends(end);
    drive
}

/// Captures one trace of a round into `made`, and gives what was said.
fn traced(served: &Served, place: &Path, counts_per_turn: u32) -> String {
    let card = gauge_card(place, counts_per_turn);
    let gauge = ["--gauge", card.to_str().unwrap()];
    let trace = ["--trace", "reference", "--still", "3"];
    let capture = ["capture", "made", "--port", &served.port];
    let arguments = [capture.as_slice(), &gauge, &trace].concat();
    let (status, _, stderr) = heelclear(place, &arguments);
    assert_eq!(status, 0, "{stderr}");
    stderr
}

#[test]
fn what_capture_writes_at_thirty_thousand_edges_a_second_is_what_was_driven() {
    let drive = quick(1, 40_000);
    let Some(served) = Served::start(TWO26, &[&drive]) else {
        return;
    };
    let place = tempfile::tempdir().unwrap();
    let stderr = traced(&served, place.path(), 40_000);
    for word in WRONG {
        assert!(!stderr.contains(word), "{stderr}");
    }
    let rows = rows(&place.path().join("made/traces/reference.csv"), 40_000.0);
    println!("{} rows of {} frames", rows.len(), drive.frames.len());
    check(&rows, &drive, 250);
    assert_eq!(served.ended().len(), 1);
}

/// The controller starts anew in mid-turn. `capture` says so, marks what came behind it, and once the
/// index has passed again, the angles are what they were.
#[test]
fn a_reset_in_mid_turn_is_told_and_put_right_by_the_index() {
    let mut drive = quick(2, 20_000);
    drive.event(3200 * MS + 7 * US, RESET, 0, 0, 0);
    // The hand waits for the host, which may be slow.
    drive.event(3200 * MS + 8 * US, HOLD, 0, 0, 0);
    let Some(served) = Served::start(TWO26, &[&drive]) else {
        return;
    };
    let place = tempfile::tempdir().unwrap();
    let stderr = traced(&served, place.path(), 20_000);
    assert!(
        stderr.contains("the controller started anew and its count began at 0"),
        "{stderr}"
    );
    assert!(
        stderr.contains("the controller started anew 1 times"),
        "{stderr}"
    );
    assert!(!stderr.contains("never came"), "{stderr}");
    served.ended();
    let file = place.path().join("made/traces/reference.csv");
    let marks: Vec<String> = (fs::read_to_string(&file).unwrap().lines().skip(1))
        .map(|line| line.split(',').nth(3).unwrap_or_default().to_owned())
        .collect();
    let rows = rows(&file, 20_000.0);
    let first = marks
        .iter()
        .position(|marks| marks.contains("after-restart"))
        .unwrap();
    let behind = marks
        .iter()
        .rposition(|marks| marks.contains("angle-in-doubt"))
        .unwrap()
        + 1;
    println!(
        "{first} rows before the reset, {} in doubt, {} behind",
        behind - first,
        rows.len() - behind
    );
    // Behind it a turn takes 0.7 s, and the mark comes within that.
    assert!(first > 50 && (10..40).contains(&(behind - first)) && rows.len() - behind > 50);
    let zero = |row: &Row| {
        let frame = drive
            .frames
            .iter()
            .find(|frame| frame.value == row.reading)
            .unwrap();
        (row.count - drive.counts(frame.cycle, frame.cycle).start()).rem_euclid(20_000)
    };
    let before = zero(&rows[0]);
    for (row, marks) in rows.iter().zip(&marks) {
        let off = (zero(row) - before + 10_000).rem_euclid(20_000) - 10_000;
        if !marks.contains("angle-in-doubt") {
            assert!(off.abs() <= 1, "{row:?} is off by {off} counts");
        }
    }
}

/// Each reading at its angle, so many times quicker than in the sample. The tool is first turned on
/// from where it stands to a whole turn, where the sample's angle is 0, and rests there.
fn replayed(trace: &str, stands_at: i64, quicker: u64) -> Drive {
    let mut drive = Drive::standing_at(stands_at, TWO26.clock, 3);
    drive.index = Some((1234, 4000));
    let rows = rows(&sample().join("traces").join(trace), 4000.0);
    let on = (-stands_at).rem_euclid(4000);
    drive.turn(0, on, 20_000.0, Uneven::default());
    let begins = S;
    for at in (20 * MS..begins).step_by(20 * MS as usize) {
        drive.bits(at, &(TWO26.bits)(rows[0].reading, false), TWO26.clock);
    }
    let zero = drive.count;
    let cycle = |row: &Row| begins + (row.time_us * US as f64) as u64 / quicker;
    let mut before = begins;
    for row in &rows {
        let at = cycle(row);
        let steps = zero + row.count - drive.count;
        let apart = (at - before) / (steps.unsigned_abs() + 1);
        for step in 1..=steps.unsigned_abs() {
            drive.step(before + step * apart, steps < 0);
        }
        let bits = (TWO26.bits)(row.reading, false);
        drive.frame(at, row.reading, &bits, TWO26.clock);
        before = at;
    }
    drive.ends(before + 20 * MS);
    drive
}

/// The figures of a verdict, by what they are of: value and standard uncertainty.
fn figures(told: &str) -> BTreeMap<String, (f64, f64)> {
    let verdict: serde_json::Value = serde_json::from_str(told).unwrap();
    let all = verdict["characteristics"].as_array().unwrap().iter();
    all.map(|figure| {
        let name = format!(
            "{} {} {}",
            figure["feature"], figure["flute"], figure["name"]
        );
        let number = |key: &str| {
            figure[key]
                .as_f64()
                .unwrap_or_else(|| panic!("no {key} of {name}"))
        };
        (
            name.clone(),
            (number("value"), number("standard_uncertainty")),
        )
    })
    .collect()
}

/// A whole inspection: what the simulated tool of the sample showed goes through pins, firmware and line
/// into a folder, and the folder is judged like the sample.
#[test]
fn an_inspection_through_the_firmware_is_judged_like_its_source() {
    let shank = replayed("shank.csv", 0, 2);
    let seat = replayed("seat.csv", shank.count, 2);
    let Some(served) = Served::start(TWO26, &[&shank, &seat]) else {
        return;
    };
    let place = tempfile::tempdir().unwrap();
    let card = gauge_card(place.path(), 4000);
    let (tool, source) = (sample().join("tool.toml"), sample());
    let arguments = [
        "capture",
        "made",
        "--port",
        &served.port,
        "--gauge",
        card.to_str().unwrap(),
        "--tool",
        tool.to_str().unwrap(),
        "--trace",
        "reference:40:20",
        "--trace",
        "seat:2",
        "--still",
        "3",
        "--operator",
        "bench 2",
    ];
    let (status, _, stderr) = heelclear(place.path(), &arguments);
    assert_eq!(status, 0, "{stderr}");
    for word in WRONG {
        assert!(!stderr.contains(word), "{stderr}");
    }
    assert_eq!(served.ended().len(), 2);
    let made = place.path().join("made");
    for (name, drive) in [("reference", &shank), ("seat", &seat)] {
        let rows = rows(&made.join(format!("traces/{name}.csv")), 4000.0);
        println!("{name}: {} of {}", rows.len(), drive.frames.len());
        check(&rows, drive, drive.frames.len() - 30);
    }
    let judged = |folder: &Path| {
        let copy = place.path().join("judged");
        copy_folder(folder, &copy);
        let (status, told, stderr) = heelclear(place.path(), &["verify", "judged", "--json"]);
        fs::remove_dir_all(&copy).unwrap();
        assert_eq!(status, 0, "{told}{stderr}");
        assert!(told.contains("\"verdict\":\"pass\""), "{told}");
        figures(&told)
    };
    let (ours, theirs) = (judged(&made), judged(&source));
    assert!(ours.len() >= 8, "{ours:?}");
    assert_eq!(
        ours.keys().collect::<Vec<_>>(),
        theirs.keys().collect::<Vec<_>>()
    );
    for (name, (value, uncertainty)) in ours {
        let (other, others) = theirs[&name];
        println!(
            "{name}: {value:.5} from the firmware, {other:.5} at its source, u = {uncertainty:.5}"
        );
        assert!(
            (value - other).abs() <= uncertainty.min(others),
            "{name}: {value} {other}"
        );
    }
}

fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap().path();
        let into = to.join(entry.file_name().unwrap());
        match entry.is_dir() {
            true => copy_folder(&entry, &into),
            false => drop(fs::copy(&entry, &into).unwrap()),
        }
    }
}
