//! Trace files from raw logs: at the end of a capture, and after one that was killed.

use super::live::{Device, Duty};
use crate::card::{GaugeCard, InspectionCard, Source, TraceEntry};
use crate::error::{Error, Result};
use crate::gauge::raw_log::{Arrival, ArrivalEvent, arrivals, times_path};
use crate::inspection::folder::{contents, unreadable, unwritable, write_whole};
use crate::quantity::Time;
use crate::record::archive::Inside;
use crate::sample::{Height, Position, Sample};
use crate::trace::csv;
use std::fmt;
use std::io::Write;
use std::path::Path;

/// A trace file made from raw logs.
#[derive(Clone, Debug, PartialEq)]
pub struct Made {
    /// The file, relative to the folder; the readings' where there are two.
    pub file: String,
    /// Readings in it.
    pub readings: usize,
    /// What was seen on the wire that a person should know, a sentence each.
    pub warnings: Vec<String>,
}

impl fmt::Display for Made {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} readings", self.file, self.readings)?;
        for warning in &self.warnings {
            write!(f, "\n{}: {warning}", self.file)?;
        }
        Ok(())
    }
}

/// Makes every trace file that the inspection card names, that is missing, and whose raw log is
/// there: what a killed capture leaves to be done. Gives nothing where nothing was to be done.
///
/// # Errors
/// When a raw log cannot be read or a file cannot be written.
pub fn rebuild(folder: &Path, inspection: &InspectionCard, gauge: &GaugeCard) -> Result<Vec<Made>> {
    let left_to_do = inspection.traces.iter().filter(|entry| {
        let file = readings_file(entry);
        !folder.join(file).exists() && folder.join(log_of(file)).exists()
    });
    left_to_do.map(|entry| make(folder, entry, gauge)).collect()
}

/// Makes the file or files of one trace from its raw logs.
pub(super) fn make(folder: &Path, entry: &TraceEntry, gauge: &GaugeCard) -> Result<Made> {
    let mut warnings = Vec::new();
    let readings = match (&entry.source, logged(folder, entry, gauge, &mut warnings)?) {
        (Source::One(file), Logged::One(samples)) => {
            write_file(folder, file, |out| csv::write(out, &samples))?;
            samples.len()
        }
        (Source::Two { angle, reading }, Logged::Two(positions, heights)) => {
            write_file(folder, angle, |out| write_positions(out, &positions))?;
            write_file(folder, reading, |out| write_heights(out, &heights))?;
            heights.len()
        }
        // The log of one instrument gives one, and that of two gives two.
        _ => 0,
    };
    Ok(Made {
        file: readings_file(entry).to_owned(),
        readings,
        warnings,
    })
}

/// What the raw logs of a trace hold since the tool began to turn.
pub(in crate::inspection) enum Logged {
    /// Angle and reading on one clock.
    One(Vec<Sample>),
    /// Angle and reading apart.
    Two(Vec<Position>, Vec<Height>),
}

/// Reads the raw logs of a trace, which may still be growing.
pub(in crate::inspection) fn logged(
    folder: &Path,
    entry: &TraceEntry,
    gauge: &GaugeCard,
    warnings: &mut Vec<String>,
) -> Result<Logged> {
    Ok(match &entry.source {
        Source::One(file) => {
            let mut log = replay(folder, file, gauge, Duty::Both, warnings)?;
            log.device.shift_counts(entry.count_shift);
            let mut samples = log.device.samples(log.started);
            rezero_time(&mut samples, |sample| &mut sample.time);
            Logged::One(samples)
        }
        Source::Two { angle, reading } => {
            let indicator = replay(folder, reading, gauge, Duty::Reading, warnings)?;
            let mut encoder = replay(folder, angle, gauge, Duty::Angle, warnings)?;
            encoder.device.shift_counts(entry.count_shift);
            // Both on the host's clock, which began for both at the same instant.
            let mut heights = indicator.device.heights(indicator.started);
            for height in &mut heights {
                height.time += indicator.ahead;
            }
            let mut positions = encoder.device.positions(0);
            for position in &mut positions {
                position.time += encoder.ahead;
            }
            Logged::Two(positions, heights)
        }
    })
}

/// A raw log, read again.
pub(super) struct Replayed {
    pub device: Device,
    /// The first line after the tool began to turn.
    started: usize,
    /// What is to be added to the device's time to have the host's.
    ahead: Time,
}

/// Feeds a raw log to what reads the live stream, with the arrivals that the host noted.
pub(super) fn replay(
    folder: &Path,
    trace: &str,
    gauge: &GaugeCard,
    duty: Duty,
    warnings: &mut Vec<String>,
) -> Result<Replayed> {
    let log = folder.join(log_of(trace));
    Inside::of(folder).stays(&log)?;
    let bytes = contents(&log).map_err(|fault| unreadable(&log, &fault))?;
    // Without its times a bridge's log loses nothing but what the host saw.
    let times = contents(&times_path(&log)).unwrap_or_default();
    // A trace file has the encoder's own sense, which the gauge card explains.
    let mut device = Device::new(gauge, duty, None)?;
    let mut started = 0;
    let times = arrivals(&times);
    let ends = times.iter().skip(1).map(|next| next.offset);
    let ends = ends.chain(std::iter::once(bytes.len() as u64));
    let mut at = Time::ZERO;
    let mut done = 0;
    let mut ahead: Option<Time> = None;
    for (
        Arrival {
            offset,
            time_s,
            event,
        },
        end,
    ) in times.iter().copied().zip(ends)
    {
        at = Time::from_s(time_s);
        match event {
            ArrivalEvent::Gone => {}
            ArrivalEvent::Back => device.replugged(),
            ArrivalEvent::Start => started = device.rows(),
            ArrivalEvent::Bytes => {}
        }
        let span = (offset.max(done) as usize).min(bytes.len())..(end as usize).min(bytes.len());
        if let Some(span) = bytes.get(span) {
            device.feed(span, at);
        }
        done = done.max(end);
        // The read that was delayed least tells best how the clocks stand to each other.
        if let Some(newest) = device
            .newest_time()
            .filter(|_| event == ArrivalEvent::Bytes)
        {
            let gap = at - newest;
            ahead = Some(ahead.map_or(gap, |least| least.min(gap)));
        }
    }
    if let Some(rest) = bytes.get(done as usize..) {
        device.feed(rest, at);
    }
    let of_log = |error: Error| error.in_file(log.display().to_string());
    device.right_unit().map_err(of_log)?;
    warnings.extend(device.warnings());
    Ok(Replayed {
        device,
        started,
        ahead: ahead.unwrap_or(Time::ZERO),
    })
}

fn rezero_time<T>(rows: &mut [T], time: impl Fn(&mut T) -> &mut Time) {
    let Some(first) = rows.first_mut().map(|first| *time(first)) else {
        return;
    };
    for row in rows {
        let time = time(row);
        // Whole microseconds on the wire stay whole in the file.
        *time = Time::from_s(((*time - first).s() * 1e6).round() / 1e6);
    }
}

pub(super) fn readings_file(entry: &TraceEntry) -> &str {
    match &entry.source {
        Source::One(file) => file,
        Source::Two { reading, .. } => reading,
    }
}

/// `traces/seat.csv` has its raw bytes in `raw/seat.log`.
pub(super) fn log_of(trace: &str) -> String {
    let name = Path::new(trace).file_stem().unwrap_or_default();
    format!("raw/{}.log", name.to_string_lossy())
}

fn write_file(
    folder: &Path,
    file: &str,
    fill: impl FnOnce(&mut Vec<u8>) -> std::io::Result<()>,
) -> Result<()> {
    let path = folder.join(file);
    let mut bytes = Vec::new();
    fill(&mut bytes).map_err(|fault| unwritable(&path, &fault))?;
    write_whole(&path, &bytes)
}

fn write_positions(out: &mut Vec<u8>, positions: &[Position]) -> std::io::Result<()> {
    writeln!(out, "time_s,angle_deg")?;
    for position in positions {
        writeln!(out, "{},{}", position.time.s(), position.angle.deg())?;
    }
    Ok(())
}

fn write_heights(out: &mut Vec<u8>, heights: &[Height]) -> std::io::Result<()> {
    writeln!(out, "time_s,reading_mm")?;
    for height in heights {
        writeln!(out, "{},{}", height.time.s(), height.reading.mm())?;
    }
    Ok(())
}
