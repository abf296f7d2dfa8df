//! What a raw log holds, read by the code that reads the live stream.

use super::device::{Device, Duty};
use crate::card::{GaugeCard, Source, TraceEntry};
use crate::error::{Error, Result};
use crate::gauge::raw_log::{Arrival, ArrivalEvent, arrivals, times_path};
use crate::inspection::whole_file::unreadable;
use crate::quantity::Time;
use crate::record::archive::{Inside, regular};
use crate::sample::{Height, Position, Sample};
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

/// What the raw logs of a trace hold since the tool began to turn.
pub(in crate::inspection) enum Logged {
    /// Angle and reading on one clock.
    One(Vec<Sample>),
    /// Angle and reading apart.
    Two(Vec<Position>, Vec<Height>),
    /// Readings of an instrument that tells no angle.
    Alone(Vec<Height>),
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
            let mut alone = match samples.is_empty() {
                true => log.device.heights(log.started),
                false => Vec::new(),
            };
            rezero_time(&mut alone, |height| &mut height.time);
            match alone.is_empty() {
                true => Logged::One(samples),
                false => Logged::Alone(alone),
            }
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
    let of_log = |fault| unreadable(&log, fault);
    let mut bytes = regular::opened(&log).map_err(of_log)?;
    // Without its times a bridge's log loses nothing but what the host saw.
    let times = regular::contents(&times_path(&log)).unwrap_or_default();
    // A trace file has the encoder's own sense, which the gauge card explains.
    let mut device = Device::new(gauge, duty, None)?;
    let mut started = 0;
    let times = arrivals(&times);
    let ends = times.iter().skip(1).map(|next| next.offset);
    let ends = ends.chain(std::iter::once(u64::MAX));
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
        // What lies between two arrivals that do not follow each other belongs to neither.
        pass(&mut bytes, offset.saturating_sub(done), |_| {}).map_err(of_log)?;
        done = done.max(offset);
        let feed = |piece: &[u8]| device.feed(piece, at);
        pass(&mut bytes, end.saturating_sub(done), feed).map_err(of_log)?;
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
    pass(&mut bytes, u64::MAX - done, |piece| device.feed(piece, at)).map_err(of_log)?;
    let of_log = |error: Error| error.in_path(log);
    device.right_unit().map_err(of_log)?;
    warnings.extend(device.warnings());
    Ok(Replayed {
        device,
        started,
        ahead: ahead.unwrap_or(Time::ZERO),
    })
}

/// Gives the next bytes of a log, piece by piece: so many, or those that are left.
fn pass(log: &mut File, most: u64, mut take: impl FnMut(&[u8])) -> std::io::Result<()> {
    const PIECE: usize = 64 * 1024;
    let mut piece = vec![0; PIECE.min(usize::try_from(most).unwrap_or(PIECE))];
    let mut rest = log.take(most);
    loop {
        match rest.read(&mut piece) {
            Ok(0) => return Ok(()),
            Ok(read) => take(&piece[..read]),
            Err(fault) if fault.kind() == ErrorKind::Interrupted => {}
            Err(fault) => return Err(fault),
        }
    }
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

pub(in crate::inspection) fn readings_file(entry: &TraceEntry) -> &str {
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
