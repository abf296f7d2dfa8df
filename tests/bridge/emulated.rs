//! The firmware run on the emulated controller to the end of what was written down.

use super::drive::{Drive, LOCKED, OUTPUT, Record, SENT, US};
use super::indicators::Indicator;
use super::made;
use heelclear::gauge::frame::{Counters, Flags, Line, SampleLine, decode};
use std::path::Path;
use std::process::Command;

/// What it sent, and when.
pub struct Ran {
    /// Each line with the cycle at which its first byte began.
    pub lines: Vec<(u64, String)>,
    /// Changes of the line that asks the indicator.
    pub asked: Vec<(u64, bool)>,
    /// The longest time without interrupts, in cycles.
    pub locked: u32,
}

/// Runs it, on the firmware for this indicator at 500,000 baud; nothing where something is missing.
pub fn run(indicator: Indicator, drive: &Drive) -> Option<Ran> {
    run_at(indicator, 500_000, drive)
}

/// The same at another speed of the line.
pub fn run_at(indicator: Indicator, baud: u32, drive: &Drive) -> Option<Ran> {
    let (emulator, firmware) = (made::emulator()?, made::firmware(indicator.name, baud)?);
    let place = tempfile::tempdir().unwrap();
    let (events, kept) = (place.path().join("events"), place.path().join("kept"));
    std::fs::write(&events, drive.written()).unwrap();
    let mut command = Command::new(emulator);
    let ran = command.arg(firmware).arg(&events).arg(&kept).output();
    let ran = ran.unwrap();
    let said = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert!(ran.status.success(), "{said}");
    Some(read(&kept))
}

/// What the emulator kept.
pub fn records(kept: &Path) -> Vec<Record> {
    let bytes = std::fs::read(kept).unwrap();
    bytes.chunks_exact(16).map(Record::of).collect()
}

fn read(kept: &Path) -> Ran {
    let mut ran = Ran {
        lines: Vec::new(),
        asked: Vec::new(),
        locked: 0,
    };
    let mut begun: Option<(u64, String)> = None;
    for record in records(kept) {
        match record.what {
            // An empty line says nothing.
            SENT if record.value == u32::from(b'\n') => ran.lines.extend(begun.take()),
            SENT => {
                let (_, line) = begun.get_or_insert_with(|| (record.cycle, String::new()));
                line.push(char::from(record.value as u8));
            }
            OUTPUT => ran.asked.push((record.cycle, record.value == 1)),
            LOCKED => ran.locked = record.value,
            _ => {}
        }
    }
    ran
}

/// The controller's clock begins this much behind the emulator's, give or take its own tick. Its first
/// frame tells, and all others are held to it.
pub fn clock_behind(frame_cycle: u64, t: u32) -> i64 {
    (frame_cycle / US) as i64 - i64::from(t)
}

impl Ran {
    /// Every line, which the codec must take as it is.
    pub fn decoded(&self) -> Vec<Line<'_>> {
        let decoded = self.lines.iter().map(|(_, line)| {
            decode(line.as_bytes()).unwrap_or_else(|why| panic!("{line}: {why:?}"))
        });
        decoded.collect()
    }

    /// The samples, in the order sent.
    pub fn samples(&self) -> Vec<SampleLine> {
        let samples = self.decoded().into_iter().filter_map(|line| match line {
            Line::Sample(sample) => Some(sample),
            _ => None,
        });
        samples.collect()
    }

    /// The samples with a reading.
    pub fn readings(&self) -> Vec<SampleLine> {
        let all = self.samples().into_iter();
        all.filter(|sample| sample.reading.is_some()).collect()
    }

    /// The last line of counters.
    pub fn counters(&self) -> Counters {
        let all = self.decoded().into_iter().rev();
        let mut counters = all.filter_map(|line| match line {
            Line::Counters(counters) => Some(counters),
            _ => None,
        });
        counters.next().expect("a line of counters")
    }

    /// Samples that have any of these flags.
    pub fn flagged(&self, flags: Flags) -> usize {
        let all = self.samples();
        all.iter()
            .filter(|sample| sample.flags.0 & flags.0 != 0)
            .count()
    }

    /// Lines that were made and not sent, by the gaps in the sequence from its start on.
    pub fn missing(&self) -> u32 {
        let seqs = self.decoded().into_iter().map(|line| line.seq());
        let mut missing = 0;
        let mut expected = 0_u16;
        for seq in seqs {
            missing += u32::from(seq.wrapping_sub(expected));
            expected = seq.wrapping_add(1);
        }
        missing
    }
}
