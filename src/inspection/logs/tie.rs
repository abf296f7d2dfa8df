//! Ties a trace to those taken before the encoder began to count anew, by its index mark.

use super::device::Duty;
use super::replay::{log_of, readings_file, replay};
use crate::card::{GaugeCard, Source, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::sample::IndexPlace;
use std::path::Path;

/// Where the index stands in the counts that the traces of a card share. Unknown where none of them
/// has a raw log in which it was passed.
pub(in crate::inspection) fn index_of(
    folder: &Path,
    traces: &[TraceEntry],
    gauge: &GaugeCard,
) -> IndexPlace {
    let places = traces.iter().filter_map(|entry| {
        // A trace without a raw log, or with one that cannot be read, tells nothing.
        place_in(folder, entry, gauge).ok()
    });
    places.fold(IndexPlace::default(), |known, more| known.or(&more))
}

/// The trace with the counts added that make it go with the others.
///
/// # Errors
/// Where no index mark tells: it has not been passed, or not in the same direction.
pub(in crate::inspection) fn tied(
    folder: &Path,
    others: &[TraceEntry],
    entry: &TraceEntry,
    gauge: &GaugeCard,
) -> Result<TraceEntry> {
    let known = index_of(folder, others, gauge);
    let own = TraceEntry {
        count_shift: 0,
        ..entry.clone()
    };
    let own = place_in(folder, &own, gauge)?;
    let shift = own.shift_onto(&known, gauge.encoder.counts_per_turn);
    let untied = || {
        let message = "the encoder's index mark has not passed yet as in the kept traces, and it ties \
                       this one to them";
        Error::new(Code::Protocol, message)
            .in_file(readings_file(entry))
            .help("turn whole turns, the way that the kept traces were turned")
    };
    Ok(TraceEntry {
        count_shift: shift.ok_or_else(untied)?,
        ..entry.clone()
    })
}

fn place_in(folder: &Path, entry: &TraceEntry, gauge: &GaugeCard) -> Result<IndexPlace> {
    let (file, duty) = match &entry.source {
        Source::One(file) => (file, Duty::Both),
        Source::Two { angle, .. } => (angle, Duty::Angle),
    };
    if !folder.join(log_of(file)).exists() {
        return Ok(IndexPlace::default());
    }
    let log = replay(folder, file, gauge, duty, &mut Vec::new())?;
    Ok(log.device.index_place().moved(entry.count_shift))
}
