//! Lines held against what was driven: every value, every count, every time.

use super::drive::{Drive, US};
use super::emulated::{Ran, clock_behind};
use heelclear::gauge::frame::{Flags, SampleLine};

/// So far a time may be off, in microseconds.
pub const TIME_US: i64 = 10;

/// How lines went with what was driven.
#[derive(Debug, Default)]
pub struct Compared {
    pub readings: usize,
    pub positions: usize,
    /// The farthest that a reading's time was off, in microseconds.
    pub time_off_us: i64,
}

/// The controller's clock against the emulator's, from the first reading that is one of those driven.
pub fn clock_of(ran: &Ran, drive: &Drive) -> i64 {
    let readings = ran.readings();
    let known = readings.iter().find_map(|sample| {
        let mut frames = drive.frames.iter();
        let frame = frames.find(|frame| Some(frame.value) == sample.reading)?;
        Some(clock_behind(frame.cycle, sample.t))
    });
    known.expect("a reading that was driven")
}

/// The cycles between which a line's time lies.
pub fn cycles(sample: &SampleLine, behind: i64) -> (u64, u64) {
    let at = i64::from(sample.t) + behind;
    let cycle = |us: i64| us.max(0).cast_unsigned() * US;
    (cycle(at - TIME_US), cycle(at + TIME_US))
}

/// Each reading is one that was driven, at the time and the count of its first edge; each position is
/// a count that the encoder stood at then. Readings may be fewer than were driven, never others.
#[track_caller]
pub fn all_true(ran: &Ran, drive: &Drive) -> Compared {
    true_within(ran, drive, TIME_US)
}

/// The same where the time of a reading may be off by more, since noise moved its first edge.
#[track_caller]
pub fn true_within(ran: &Ran, drive: &Drive, time_us: i64) -> Compared {
    let behind = clock_of(ran, drive);
    let mut compared = Compared::default();
    for sample in ran.samples() {
        let (from, to) = cycles(&sample, behind);
        let counts = drive.counts(from, to);
        assert!(
            counts.contains(&i64::from(sample.count)),
            "{sample:?}: the encoder stood at {counts:?}"
        );
        let Some(reading) = sample.reading else {
            compared.positions += 1;
            continue;
        };
        compared.readings += 1;
        let middle = (from + to) / 2;
        let frame = drive.frames.iter().find(|frame| {
            frame.value == reading && frame.cycle.abs_diff(middle) <= time_us.unsigned_abs() * US
        });
        let frame = frame.unwrap_or_else(|| panic!("{sample:?}: no such frame was sent then"));
        let off = clock_behind(frame.cycle, sample.t) - behind;
        compared.time_off_us = compared.time_off_us.max(off.abs());
    }
    compared
}

/// The marks that lines tell are some of those that were passed, in their order, to a count. A pulse
/// that is over before the interrupt looks is not among them.
#[track_caller]
pub fn marks_true(ran: &Ran, drive: &Drive) -> usize {
    let mut driven = drive.marks.iter();
    let mut told = 0;
    let mut before = 0;
    for sample in ran.samples() {
        if std::mem::replace(&mut before, sample.index_edges) == sample.index_edges {
            continue;
        }
        let backwards = sample.flags.has(Flags::INDEX_BACKWARDS);
        let count = i64::from(sample.index_count);
        let passed = driven.any(|mark| (mark.1 - count).abs() <= 1 && mark.2 == backwards);
        assert!(passed, "{sample:?}: no mark was passed there, or not then");
        told += 1;
    }
    told
}
