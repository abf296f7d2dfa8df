//! What a capture keeps when the program is killed, the disk is full, or the wire goes bad.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::card::{InspectionCard, Source};
use heelclear::error::Result;
use heelclear::gauge::frame::{Line, decode};
use heelclear::gauge::raw_log::{ArrivalEvent, RawLog, arrivals};
use heelclear::gauge::serial_reader::{Delivery, Reader, What};
use heelclear::gauge::{Instrument, Port};
use heelclear::inspection::capture::{CaptureSettings, Captured, End, Notice, Wanted, capture};
use heelclear::inspection::{Folder, Taken};
use heelclear::quantity::{Length, Time};
use heelclear::sample::Mark;
use heelclear::simulator::{InProcess, built_in};
use std::future::pending;
use std::io::{self, ErrorKind};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

const PROGRAM: &str = env!("CARGO_BIN_EXE_heelclear");

fn verify(folder: &Path) -> (Option<i32>, String) {
    let ran = Command::new(PROGRAM).arg("verify").arg(folder).output();
    let Output { status, stderr, .. } = ran.unwrap();
    (status.code(), String::from_utf8_lossy(&stderr).into_owned())
}

fn card(folder: &Path) -> InspectionCard {
    let text = std::fs::read_to_string(folder.join("inspection.toml")).unwrap();
    InspectionCard::parse(&text, "inspection.toml").unwrap()
}

/// Readings in whole lines of a raw log, from where the tool began to turn.
fn readings_on_the_wire(folder: &Path, name: &str) -> usize {
    let bytes = std::fs::read(folder.join(format!("raw/{name}.log"))).unwrap();
    let times = std::fs::read(folder.join(format!("raw/{name}.times.csv"))).unwrap();
    let noted = arrivals(&times);
    let start = noted
        .iter()
        .find(|noted| noted.event == ArrivalEvent::Start);
    let start = start.map_or(0, |start| start.offset as usize);
    // The line that the beginning falls into ends after it, and counts.
    let whole_before = bytes[..start].iter().rposition(|byte| *byte == b'\n');
    let from = whole_before.map_or(0, |end| end + 1);
    let end = bytes.iter().rposition(|byte| *byte == b'\n').unwrap_or(0);
    let lines = bytes[from..end.max(from)].split(|byte| *byte == b'\n');
    let reading = |line: &&[u8]| matches!(decode(line), Ok(Line::Sample(s)) if s.reading.is_some());
    lines.filter(reading).count()
}

/// Every reading that is on disk is in a trace of the folder.
#[track_caller]
fn nothing_is_lost(folder: &Path, when: &str) {
    let opened = Folder::open(folder).unwrap();
    for entry in &opened.inspection.traces {
        let Source::One(file) = &entry.source else {
            panic!("one bridge gives one file");
        };
        let name = Path::new(file).file_stem().unwrap().to_string_lossy();
        let on_the_wire = readings_on_the_wire(folder, &name);
        match opened.trace(entry, &mut Vec::new()) {
            Ok(Taken::Turning(trace)) => {
                assert_eq!(trace.samples.len(), on_the_wire, "{name}, {when}");
            }
            // A trace that had only just begun.
            _ => assert_eq!(on_the_wire, 0, "{name}, {when}"),
        }
    }
}

/// Captures a simulated inspection in another process and kills it after a while.
fn killed_after(milliseconds: u64) {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("inspection");
    let mut program = Command::new(PROGRAM)
        .arg("capture")
        .arg(&inside)
        .args(["--simulate", "counterbore-pass", "--faster", "30"])
        .stderr(Stdio::null())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(milliseconds));
    program.kill().unwrap();
    program.wait().unwrap();
    let when = format!("killed after {milliseconds} ms");
    if !inside.join("inspection.toml").exists() {
        return;
    }
    let (status, told) = verify(&inside);
    assert!(matches!(status, Some(0..=3)), "{when}: {status:?}, {told}");
    assert_ne!((status, told.as_str()), (Some(2), ""), "{when}");
    nothing_is_lost(&inside, &when);
}

#[test]
fn a_program_killed_at_any_instant_loses_nothing_that_was_on_disk() {
    // Spread over the whole capture, a few at a time.
    let instants: Vec<u64> = (0..36).map(|at| 40 + at * 83 % 2400).collect();
    std::thread::scope(|scope| {
        for some in instants.chunks(6) {
            scope.spawn(|| some.iter().copied().for_each(killed_after));
        }
    });
}

#[test]
fn a_full_disk_ends_the_capture_with_what_to_do_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("inspection");
    // No file may grow beyond this, as if the disk were full: 40 blocks, of 512 or 1024 bytes.
    let limited = "trap '' XFSZ; ulimit -f 40; exec \"$0\" capture \"$1\" --simulate counterbore-pass --faster 20";
    let ran = Command::new("sh")
        .args(["-c", limited, PROGRAM])
        .arg(&inside)
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&ran.stderr);
    assert_eq!(ran.status.code(), Some(2), "{told}");
    for words in ["error[disk]", "the raw log cannot be written", "room"] {
        assert!(told.contains(words), "{words}: {told}");
    }
    assert!(card(&inside).interrupted);
    let logged = std::fs::metadata(inside.join("raw/reference.log"))
        .unwrap()
        .len();
    assert!((40 * 512..=40 * 1024).contains(&logged), "{logged}");
    assert!(readings_on_the_wire(&inside, "reference") > 100);
    nothing_is_lost(&inside, "on a full disk");
    let (status, told) = verify(&inside);
    assert!(matches!(status, Some(0..=3)), "{told}");
}

#[test]
fn a_folder_that_cannot_be_made_is_told_before_anything_is_captured() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let inside = file.path().join("inspection");
    let ran = Command::new(PROGRAM)
        .arg("capture")
        .arg(&inside)
        .args(["--simulate", "counterbore-pass", "--faster", "30"])
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&ran.stderr);
    assert_eq!(ran.status.code(), Some(2), "{told}");
    assert!(
        told.contains("error[disk]") && told.contains("inspection"),
        "{told}"
    );
}

/// What becomes of what a port gives.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Wire {
    Good,
    Silent,
    Garbage,
}

/// A simulated bridge behind a wire that is good, then bad, then good again.
#[derive(Clone)]
struct Spoiled {
    bridge: InProcess,
    bad: Wire,
}

struct SpoiledPort {
    port: Box<dyn Port>,
    opened: Instant,
    bad: Wire,
}

impl Instrument for Spoiled {
    fn name(&self) -> String {
        "a bad wire".to_owned()
    }
    fn open(&mut self) -> Result<Box<dyn Port>> {
        Ok(Box::new(SpoiledPort {
            port: self.bridge.open()?,
            opened: Instant::now(),
            bad: self.bad,
        }))
    }
    fn find_again(&mut self) -> Option<Box<dyn Port>> {
        None
    }
}

impl Port for SpoiledPort {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let bad = (1.0..3.6).contains(&self.opened.elapsed().as_secs_f64());
        let read = self.port.read(buffer);
        match (if bad { self.bad } else { Wire::Good }, read) {
            (Wire::Silent, Ok(_)) => Err(ErrorKind::TimedOut.into()),
            (Wire::Garbage, Ok(count)) => {
                // As from a loose plug: every byte has lost a bit.
                buffer[..count].iter_mut().for_each(|byte| *byte >>= 1);
                Ok(count)
            }
            (_, read) => read,
        }
    }
    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.port.write_all(bytes)
    }
}

/// Captures one trace over a wire that is bad for a while.
fn over(bad: Wire, folder: &Path) -> (Captured, Vec<String>) {
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.hand.turns = 1.5;
    scenario.hand.pauses_per_turn = 0.0;
    scenario.hand.speed_deg_per_s = 30.0;
    scenario.bench.rate_hz = 200.0;
    let settings = CaptureSettings {
        traces: vec![Wanted {
            role: heelclear::card::Role::Reference,
            z: Some(Length::from_mm(40.0)),
            diameter: None,
            rezeroed: false,
        }],
        end: End {
            after: Some(Time::from_s(5.0)),
            ..End::default()
        },
        ..crate::capture::settings(&scenario, folder)
    };
    let bridge = InProcess::new(scenario, 1.0);
    let mut told = Vec::new();
    let mut tell = |notice: Notice<'_>| {
        if !matches!(notice, Notice::Progress(_)) {
            told.push(notice.to_string());
        }
    };
    let instrument = Box::new(Spoiled { bridge, bad });
    let captured = capture(&settings, instrument, None, &mut tell, pending());
    (captured.unwrap(), told)
}

/// The capture tells it, goes on, and marks where something is missing.
#[track_caller]
fn survives(bad: Wire, words: &str) {
    let folder = tempfile::tempdir().unwrap();
    let (captured, told) = over(bad, folder.path());
    assert!(
        captured.fault.is_none() && !captured.interrupted,
        "{told:?}"
    );
    assert!(told.iter().any(|line| line.contains(words)), "{told:?}");
    nothing_is_lost(folder.path(), words);
    let opened = Folder::open(folder.path()).unwrap();
    let taken = opened.trace(&opened.inspection.traces[0], &mut Vec::new());
    let Ok(Taken::Turning(trace)) = taken else {
        panic!("no trace: {told:?}");
    };
    let after = trace
        .samples
        .iter()
        .position(|s| s.marks.has(Mark::AfterLoss));
    let after = after.expect("the first sample after the gap is marked");
    assert!(after > 10 && after + 10 < trace.samples.len(), "{after}");
}

#[test]
fn a_wire_that_falls_silent_is_told_and_the_capture_goes_on() {
    survives(Wire::Silent, "nothing has come for");
}

#[test]
fn a_wire_that_brings_garbage_is_told_and_the_capture_goes_on() {
    survives(Wire::Garbage, "could be read");
}

/// A device that sends a little, goes away, comes back, sends a little, and so on.
struct Loose(u32);

impl Instrument for Loose {
    fn name(&self) -> String {
        "a loose plug".to_owned()
    }
    fn open(&mut self) -> Result<Box<dyn Port>> {
        Ok(Box::new(Loose(0)))
    }
    fn find_again(&mut self) -> Option<Box<dyn Port>> {
        Some(Box::new(Loose(0)))
    }
}

impl Port for Loose {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.0 += 1;
        if self.0 > 3 {
            return Err(ErrorKind::BrokenPipe.into());
        }
        buffer[..2].copy_from_slice(b"x\n");
        Ok(2)
    }
    fn write_all(&mut self, _: &[u8]) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_device_that_goes_and_comes_is_told_even_to_who_listens_late() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("raw.log");
    let (sender, mut deliveries) = mpsc::channel::<Delivery>(1);
    let mut device = Loose(0);
    let port = device.open().unwrap();
    let reader = Reader::start(0, Box::new(device), port, sender).unwrap();
    reader
        .log_into(Some(RawLog::create(&path).unwrap()))
        .unwrap();
    // Room for one delivery, which is bytes: all that follows finds none.
    let began = std::time::Instant::now();
    while reader.dropped() == 0 {
        assert!(
            began.elapsed().as_secs() < 60,
            "bytes that nobody takes are not counted"
        );
        std::thread::yield_now();
    }
    let mut heard = Vec::new();
    while heard.len() < 6 {
        match deliveries.blocking_recv().unwrap().what {
            What::Gone => heard.push("gone"),
            What::Back(_) => heard.push("back"),
            What::Bytes(_) | What::LogFailed(_) => {}
        }
    }
    assert_eq!(heard, ["gone", "back", "gone", "back", "gone", "back"]);
    drop(deliveries);
    drop(reader);
    let times = std::fs::read(path.with_extension("times.csv")).unwrap();
    let noted = arrivals(&times);
    let gone = noted
        .iter()
        .filter(|noted| noted.event == ArrivalEvent::Gone);
    // The first may have come before the log did.
    assert!(gone.count() >= 2);
}
