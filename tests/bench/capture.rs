//! Live capture from a simulated bridge: in this process, over a pseudo-terminal, and with faults.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::card::{InspectionCard, Role, Stage};
use heelclear::error::{Code, Result};
use heelclear::gauge::serial::SerialInstrument;
use heelclear::gauge::{Instrument, Port};
use heelclear::inspection::capture::{
    CaptureSettings, Captured, End, Made, Notice, Wanted, capture, rebuild,
};
use heelclear::inspection::{Folder, Taken};
use heelclear::quantity::{Angle, Length, Time};
use heelclear::sample::{Mark, Sample};
use heelclear::simulator::{InProcess, Scenario, built_in};
use heelclear::trace::csv::{self, Rows};
use std::future::{Future, pending};
use std::path::Path;

/// A short inspection: the shank, then the seat, a little over a turn each.
fn short() -> Scenario {
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.hand.turns = 1.2;
    scenario.hand.speed_deg_per_s = 90.0;
    scenario.bench.rate_hz = 500.0;
    scenario.reference[0].turns = None;
    scenario
}

fn wanted(scenario: &Scenario) -> Vec<Wanted> {
    let trace = |role, z| Wanted {
        role,
        z: Some(Length::from_mm(z)),
        diameter: None,
        rezeroed: false,
    };
    vec![
        trace(Role::Reference, scenario.reference[0].z_mm),
        trace(Role::Feature("seat".to_owned()), 2.0),
    ]
}

pub fn settings(scenario: &Scenario, folder: &Path) -> CaptureSettings {
    CaptureSettings {
        folder: folder.to_owned(),
        tool_card: Some(scenario.tool_card()),
        gauge_card: scenario.gauge_card(None),
        grinder_card: None,
        setup: None,
        simulated: true,
        operator: "bench 2".to_owned(),
        customer: None,
        temperature_c: None,
        stage: Stage::AfterGrind,
        traces: wanted(scenario),
        end: End {
            covered: Some(1),
            still: Some(Time::from_s(0.5)),
            after: None,
        },
        spacing: Angle::from_deg(1.0),
        rest: None,
    }
}

/// What verifying a folder does before anything else.
fn remake(folder: &Path) -> Result<Vec<Made>> {
    let folder = Folder::open(folder)?;
    rebuild(&folder.dir, &folder.inspection, &folder.gauge)
}

/// Captures in this process and gives what was told, a line each, progress left out.
fn run(
    settings: &CaptureSettings,
    instrument: impl Instrument + 'static,
    stop: impl Future<Output = ()>,
) -> (Result<Captured>, Vec<String>) {
    watched(settings, instrument, stop, |_| {})
}

/// The same, stopped as soon as what was told is enough.
fn run_until(
    settings: &CaptureSettings,
    instrument: impl Instrument + 'static,
    mut enough: impl FnMut(&Notice<'_>) -> bool,
) -> (Result<Captured>, Vec<String>) {
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let mut stop = Some(stop);
    let stopped = async { stopped.await.unwrap() };
    watched(settings, instrument, stopped, |notice| {
        if enough(notice) {
            stop.take().map(|stop| stop.send(()));
        }
    })
}

fn watched(
    settings: &CaptureSettings,
    instrument: impl Instrument + 'static,
    stop: impl Future<Output = ()>,
    mut watch: impl FnMut(&Notice<'_>),
) -> (Result<Captured>, Vec<String>) {
    let mut told = Vec::new();
    let captured = capture(
        settings,
        Box::new(instrument),
        None,
        &mut |notice| {
            watch(&notice);
            if !matches!(notice, Notice::Progress(_)) {
                told.push(notice.to_string());
            }
        },
        stop,
    );
    (captured, told)
}

fn card(folder: &Path) -> InspectionCard {
    let text = std::fs::read_to_string(folder.join("inspection.toml")).unwrap();
    InspectionCard::parse(&text, "inspection.toml").unwrap()
}

fn samples(folder: &Path, file: &str) -> Vec<Sample> {
    let opened = std::fs::File::open(folder.join(file)).unwrap();
    let table = csv::read(opened, file).unwrap();
    assert_eq!(table.bad_lines, 0);
    match table.rows {
        Rows::Turning(samples) => samples,
        other => panic!("{other:?}"),
    }
}

/// Every sample that went over the wire, as the simulated bench itself gives it.
fn expected(scenario: &Scenario, number: usize) -> Vec<(f64, f64)> {
    let pose = &scenario.poses()[number];
    let counts = f64::from(scenario.gauge.counts_per_rev);
    let row = |r: heelclear::simulator::Reading| {
        let reading = r.steps.unwrap() as f64 * scenario.gauge.resolution_mm;
        (r.count as f64 * 360.0 / counts, reading)
    };
    scenario.run(pose, number).map(row).collect()
}

/// The captured samples are a run of those that the bench gave, to the last digit.
#[track_caller]
fn is_run_of(samples: &[Sample], bench: &[(f64, f64)]) {
    let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let same = |s: &Sample, b: &(f64, f64)| near(s.angle.deg(), b.0) && near(s.reading.mm(), b.1);
    let moved = bench.len().min(samples.len());
    let found = (0..=bench.len() - moved.min(bench.len()))
        .any(|start| samples.iter().zip(&bench[start..]).all(|(s, b)| same(s, b)));
    assert!(
        found,
        "{} samples are not in {} of the bench",
        samples.len(),
        bench.len()
    );
}

#[test]
fn a_capture_keeps_every_sample_of_every_trace() {
    let scenario = short();
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(&scenario, folder.path());
    let instrument = InProcess::new(scenario.clone(), 8.0);
    let (captured, told) = run(&settings, instrument, pending());
    let captured = captured.unwrap();
    assert!(
        !captured.interrupted && captured.fault.is_none(),
        "{told:?}"
    );
    let card = card(folder.path());
    assert!(!card.interrupted);
    assert_eq!(card.traces.len(), 2);
    for (number, file) in ["traces/reference.csv", "traces/seat.csv"]
        .iter()
        .enumerate()
    {
        let samples = samples(folder.path(), file);
        assert!(samples.len() > 1500, "{}", samples.len());
        assert!(samples.iter().all(|sample| sample.marks.is_empty()));
        is_run_of(&samples, &expected(&scenario, number));
    }
}

#[test]
fn a_hand_that_goes_on_turning_begins_no_second_trace() {
    let mut scenario = short();
    // Never at rest: the stylus cannot have been set anew.
    scenario.hand.rest_s = 0.0;
    scenario.hand.turns = 30.0;
    scenario.hand.unevenness = 0.0;
    scenario.hand.pauses_per_turn = 0.0;
    scenario.hand.nudges_per_turn = 0.0;
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(&scenario, folder.path());
    // It turns once more all the way round where the seat is next.
    let mut from = None;
    let once_more = |notice: &Notice<'_>| match notice {
        Notice::Progress(progress) if progress.trace == "seat" => {
            let now = progress.angle.unwrap_or_default();
            (now - *from.get_or_insert(now)).abs() > Angle::TURN
        }
        _ => false,
    };
    let (captured, told) = run_until(&settings, InProcess::new(scenario, 8.0), once_more);
    let captured = captured.unwrap();
    assert_eq!(captured.traces.len(), 1, "{told:?}");
    assert!(
        told.iter().any(|line| line.contains("next: seat")),
        "{told:?}"
    );
    assert_eq!(card(folder.path()).traces.len(), 1);
}

#[test]
fn an_encoder_that_counts_backwards_is_kept_as_it_counts() {
    let mut scenario = short();
    scenario.gauge.grows = heelclear::simulator::Grows::CounterClockwise;
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(&scenario, folder.path());
    let (captured, _) = run(&settings, InProcess::new(scenario.clone(), 8.0), pending());
    captured.unwrap();
    is_run_of(
        &samples(folder.path(), "traces/seat.csv"),
        &expected(&scenario, 1),
    );
}

#[test]
fn a_stop_keeps_what_was_read_and_marks_it_interrupted() {
    let scenario = short();
    let folder = tempfile::tempdir().unwrap();
    let mut settings = settings(&scenario, folder.path());
    settings.end = End::default();
    settings.operator = String::new();
    let instrument = InProcess::new(scenario, 2.0);
    let (captured, _) = run_until(
        &settings,
        instrument,
        |notice| matches!(notice, Notice::Progress(progress) if progress.readings > 100),
    );
    let captured = captured.unwrap();
    assert!(captured.interrupted && captured.fault.is_none());
    assert!(card(folder.path()).interrupted);
    assert!(samples(folder.path(), "traces/reference.csv").len() > 50);
    // Nobody said who took it, and the seat was never reached: that can be judged all the same.
    let opened = heelclear::inspection::Folder::open(folder.path()).unwrap();
    assert_eq!(opened.inspection.operator, "");
    let record = heelclear::inspection::verify(&opened).unwrap();
    assert_eq!(record.verdict, Some(heelclear::record::Verdict::Undecided));
}

#[test]
fn after_a_kill_the_trace_is_made_from_the_raw_log() {
    let scenario = short();
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(&scenario, folder.path());
    let (captured, _) = run(&settings, InProcess::new(scenario, 8.0), pending());
    captured.unwrap();
    let path = folder.path().join("traces/seat.csv");
    let whole = std::fs::read(&path).unwrap();
    // As it is when the power fails: no trace yet, and the log cut in the middle of a line.
    std::fs::remove_file(&path).unwrap();
    let made = remake(folder.path()).unwrap();
    assert_eq!(made.len(), 1);
    assert_eq!(std::fs::read(&path).unwrap(), whole);
    assert!(
        remake(folder.path()).unwrap().is_empty(),
        "nothing is left to do"
    );
    std::fs::remove_file(&path).unwrap();
    let log = folder.path().join("raw/seat.log");
    let bytes = std::fs::read(&log).unwrap();
    let half = bytes.len() / 2;
    let end = bytes[half..]
        .iter()
        .position(|byte| *byte == b'\n')
        .unwrap();
    // Anywhere else the cut might by chance be the end of a line.
    std::fs::write(&log, &bytes[..half + end - 7]).unwrap();
    let made = remake(folder.path()).unwrap();
    assert!(
        made[0].warnings.iter().any(|w| w.contains("torn")),
        "{made:?}"
    );
    assert!(samples(folder.path(), "traces/seat.csv").len() > 500);
    // Even without the host's times nothing is lost.
    std::fs::remove_file(&path).unwrap();
    std::fs::remove_file(folder.path().join("raw/seat.times.csv")).unwrap();
    assert_eq!(remake(folder.path()).unwrap().len(), 1);
}

#[test]
fn damaged_and_lost_lines_are_counted_told_and_marked() {
    let mut scenario = short();
    scenario.faults.bad_crc_per_1000 = 5.0;
    scenario.faults.lost_per_1000 = 5.0;
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(&scenario, folder.path());
    let (captured, _) = run(&settings, InProcess::new(scenario, 8.0), pending());
    let captured = captured.unwrap();
    let warnings = &captured.traces[1].warnings;
    assert!(
        warnings.iter().any(|w| w.contains("damaged")),
        "{warnings:?}"
    );
    assert!(
        warnings.iter().any(|w| w.contains("never came")),
        "{warnings:?}"
    );
    let samples = samples(folder.path(), "traces/seat.csv");
    let marked = samples
        .iter()
        .filter(|s| s.marks.has(Mark::AfterLoss))
        .count();
    assert!((3..100).contains(&marked), "{marked}");
}

#[test]
fn a_restart_is_told_and_angles_after_it_are_not_trusted() {
    let mut scenario = short();
    scenario.faults.restart_after_s = Some(6.0);
    scenario.hand.turns = 1.9;
    let folder = tempfile::tempdir().unwrap();
    let mut settings = settings(&scenario, folder.path());
    settings.traces.truncate(1);
    settings.end.covered = Some(2);
    let (captured, told) = run(&settings, InProcess::new(scenario, 8.0), pending());
    captured.unwrap();
    assert!(
        told.iter().any(|line| line.contains("started anew")),
        "{told:?}"
    );
    let samples = samples(folder.path(), "traces/reference.csv");
    let first = samples
        .iter()
        .position(|s| s.marks.has(Mark::AfterRestart))
        .unwrap();
    assert!(first > 100);
    assert!(samples[..first].iter().all(|s| s.marks.usable()));
    assert!(
        samples[first..]
            .iter()
            .all(|s| !s.marks.usable() || !s.marks.has(Mark::AfterRestart))
    );
}

#[test]
fn after_a_restart_no_further_trace_is_taken_on_another_zero() {
    let mut scenario = short();
    scenario.faults.restart_after_s = Some(2.0);
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(&scenario, folder.path());
    let (captured, _) = run(&settings, InProcess::new(scenario, 4.0), pending());
    let captured = captured.unwrap();
    assert!(captured.interrupted);
    assert_eq!(captured.traces.len(), 1);
    assert_eq!(captured.fault.unwrap().code(), Code::Protocol);
}

#[test]
fn an_unplugged_device_is_told_and_the_capture_goes_on_when_it_is_back() {
    let mut scenario = short();
    scenario.faults.unplug_after_s = Some(2.0);
    scenario.faults.replug_after_s = Some(1.5);
    scenario.hand.turns = 2.5;
    let folder = tempfile::tempdir().unwrap();
    let mut settings = settings(&scenario, folder.path());
    settings.traces.truncate(1);
    let (captured, told) = run(&settings, InProcess::new(scenario, 4.0), pending());
    captured.unwrap();
    for word in ["went away", "is back"] {
        assert!(
            told.iter().any(|line| line.contains(word)),
            "{word}: {told:?}"
        );
    }
    let samples = samples(folder.path(), "traces/reference.csv");
    let back = samples
        .iter()
        .filter(|s| s.marks.has(Mark::AfterReplug))
        .count();
    assert_eq!(back, 1);
}

#[test]
fn an_existing_inspection_is_never_overwritten() {
    let scenario = short();
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("inspection.toml"), "schema = 1\n").unwrap();
    let settings = settings(&scenario, folder.path());
    let (captured, _) = run(&settings, InProcess::new(scenario, 8.0), pending());
    assert_eq!(captured.unwrap_err().code(), Code::Usage);
}

/// An instrument that says this over and over.
struct Says(&'static [u8]);

impl Instrument for Says {
    fn name(&self) -> String {
        "a port".to_owned()
    }
    fn open(&mut self) -> Result<Box<dyn Port>> {
        Ok(Box::new(Says(self.0)))
    }
    fn find_again(&mut self) -> Option<Box<dyn Port>> {
        None
    }
}

impl Port for Says {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        std::thread::sleep(std::time::Duration::from_millis(10));
        if self.0.is_empty() {
            return Err(std::io::ErrorKind::TimedOut.into());
        }
        buffer[..self.0.len()].copy_from_slice(self.0);
        Ok(self.0.len())
    }
    fn write_all(&mut self, _: &[u8]) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn silence_and_a_foreign_tongue_are_told_apart() {
    let scenario = short();
    let folder = tempfile::tempdir().unwrap();
    let settings = settings(&scenario, &folder.path().join("new"));
    let (captured, _) = run(&settings, Says(b""), pending());
    assert_eq!(captured.unwrap_err().code(), Code::Silence);
    let (captured, _) = run(&settings, Says(b"+0.123 mm\r\n"), pending());
    assert_eq!(captured.unwrap_err().code(), Code::Protocol);
    let other = b"H,0,proto=2*E8F8\n";
    let (captured, _) = run(&settings, Says(other), pending());
    assert_eq!(captured.unwrap_err().code(), Code::Protocol);
    assert!(
        !settings.folder.exists(),
        "nothing is left where nothing was captured"
    );
}

#[test]
fn a_port_that_is_not_there_and_a_file_that_is_no_port_are_told_apart() {
    let open = |path: &str| SerialInstrument::new(path, 115_200).open().err().unwrap();
    let absent = open("/dev/no-such-port");
    assert_eq!(absent.code(), Code::PortAbsent);
    assert!(absent.advice().unwrap().contains("heelclear ports"));
    let file = tempfile::NamedTempFile::new().unwrap();
    assert_eq!(
        open(&file.path().display().to_string()).code(),
        Code::Protocol
    );
}

#[cfg(unix)]
mod terminal {
    use super::*;
    use heelclear::simulator::Served;

    #[test]
    fn a_capture_through_a_pseudo_terminal_loses_nothing() {
        let scenario = short();
        let folder = tempfile::tempdir().unwrap();
        let settings = settings(&scenario, folder.path());
        let served = Served::start(scenario.clone(), 8.0).unwrap();
        let port = SerialInstrument::new(served.path(), 115_200);
        let (captured, told) = run(&settings, port, pending());
        assert!(!captured.unwrap().interrupted, "{told:?}");
        for (number, file) in ["traces/reference.csv", "traces/seat.csv"]
            .iter()
            .enumerate()
        {
            let samples = samples(folder.path(), file);
            assert!(samples.len() > 1500);
            is_run_of(&samples, &expected(&scenario, number));
        }
    }

    #[test]
    fn a_port_in_use_is_told_as_in_use() {
        let served = Served::start(short(), 1.0).unwrap();
        let mut first = SerialInstrument::new(served.path(), 115_200);
        let _open = first.open().unwrap();
        let mut second = SerialInstrument::new(served.path(), 115_200);
        let fault = second.open().err().unwrap();
        assert_eq!(fault.code(), Code::PortBusy);
        assert!(fault.message().contains("in use by another program"));
    }
}

/// A text instrument that makes a line of its number every few milliseconds.
#[derive(Clone, Copy)]
struct Speaks {
    line: fn(u32) -> String,
    /// Only when asked with this.
    asked_with: Option<&'static [u8]>,
    number: u32,
    due: bool,
}

impl Speaks {
    fn new(line: fn(u32) -> String) -> Self {
        Self {
            line,
            asked_with: None,
            number: 0,
            due: true,
        }
    }
}

impl Instrument for Speaks {
    fn name(&self) -> String {
        "a text port".to_owned()
    }
    fn open(&mut self) -> Result<Box<dyn Port>> {
        Ok(Box::new(*self))
    }
    fn find_again(&mut self) -> Option<Box<dyn Port>> {
        None
    }
}

impl Port for Speaks {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        std::thread::sleep(std::time::Duration::from_millis(3));
        if !self.due {
            return Err(std::io::ErrorKind::TimedOut.into());
        }
        self.due = self.asked_with.is_none();
        self.number += 1;
        let line = (self.line)(self.number);
        buffer[..line.len()].copy_from_slice(line.as_bytes());
        Ok(line.len())
    }
    fn write_all(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.due |= self.asked_with == Some(bytes);
        Ok(())
    }
}

fn text_settings(folder: &Path, link: &str) -> CaptureSettings {
    let scenario = short();
    CaptureSettings {
        gauge_card: scenario.gauge_card(Some(link)),
        grinder_card: None,
        setup: None,
        traces: vec![wanted(&scenario).remove(1)],
        end: End {
            after: Some(Time::from_s(0.6)),
            ..End::default()
        },
        ..settings(&scenario, folder)
    }
}

#[test]
fn a_text_instrument_that_wants_to_be_asked_is_asked() {
    let folder = tempfile::tempdir().unwrap();
    let link = r"protocol = 'text'
pattern = '^(?<reading>[-+.0-9]+) (?<unit>\w+) @(?<count>-?\d+)'
request = '?\r'
request_every_ms = 5
";
    let settings = text_settings(folder.path(), link);
    let mut instrument = Speaks::new(|n| format!("+0.{:03} mm @{}\r\n", n % 1000, n * 20));
    instrument.asked_with = Some(b"?\r");
    let (captured, told) = run(&settings, instrument, pending());
    captured.unwrap();
    let samples = samples(folder.path(), "traces/seat.csv");
    assert!(samples.len() >= 4, "{told:?}");
    for sample in samples {
        // Count 20 n goes with the reading n thousandths: they are of one line.
        let number = (sample.angle.turns() * 4000.0 / 20.0).round();
        assert!((sample.reading.mm() - number / 1000.0).abs() < 1e-9);
    }
}

#[test]
fn two_text_instruments_give_two_files_on_one_clock() {
    let folder = tempfile::tempdir().unwrap();
    let link = r"protocol = 'text'
pattern = 'r(?<reading>[-+.0-9]+)'
unit = 'um'
angle_pattern = 'a(?<angle>[-+.0-9]+)'
";
    let settings = text_settings(folder.path(), link);
    let indicator = Speaks::new(|n| format!("r{n}\n"));
    let encoder = Speaks::new(|n| format!("a{}.5\n", n * 2));
    let captured = capture(
        &settings,
        Box::new(indicator),
        Some(Box::new(encoder)),
        &mut |_| {},
        pending(),
    );
    assert!(!captured.unwrap().interrupted);
    let inspection = Folder::open(folder.path()).unwrap();
    let mut warnings = Vec::new();
    let entry = &inspection.inspection.traces[0];
    let Taken::Turning(trace) = inspection.trace(entry, &mut warnings).unwrap() else {
        panic!("not a turning trace");
    };
    assert!(
        trace.two_clocks && trace.samples.len() > 20,
        "{}",
        trace.samples.len()
    );
    let read = std::fs::read_to_string(folder.path().join("raw/seat-reading.log")).unwrap();
    assert!(read.starts_with('r') && read.lines().count() >= trace.samples.len());
}
