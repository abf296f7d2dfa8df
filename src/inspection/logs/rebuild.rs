//! Trace files from raw logs: at the end of a capture, and after one that was killed.

use super::replay::{Logged, log_of, logged, readings_file};
use crate::card::{GaugeCard, InspectionCard, Source, TraceEntry};
use crate::error::{Result, unwritable};
use crate::inspection::whole_file::WholeFile;
use crate::sample::{Height, Position};
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
pub(in crate::inspection) fn make(
    folder: &Path,
    entry: &TraceEntry,
    gauge: &GaugeCard,
) -> Result<Made> {
    let mut warnings = Vec::new();
    let readings = match (&entry.source, logged(folder, entry, gauge, &mut warnings)?) {
        (Source::One(file), Logged::One(samples)) => {
            write_file(folder, file, |out| csv::write(out, &samples))?;
            samples.len()
        }
        (Source::One(file), Logged::Alone(heights)) => {
            write_file(folder, file, |out| write_heights(out, &heights))?;
            heights.len()
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

fn write_file(
    folder: &Path,
    file: &str,
    fill: impl FnOnce(&mut WholeFile) -> std::io::Result<()>,
) -> Result<()> {
    let path = folder.join(file);
    let mut whole = WholeFile::new(&path)?;
    fill(&mut whole).map_err(|fault| unwritable(&path, fault))?;
    whole.finish()
}

fn write_positions(out: &mut WholeFile, positions: &[Position]) -> std::io::Result<()> {
    writeln!(out, "time_s,angle_deg")?;
    for position in positions {
        writeln!(out, "{},{}", position.time.s(), position.angle.deg())?;
    }
    Ok(())
}

fn write_heights(out: &mut WholeFile, heights: &[Height]) -> std::io::Result<()> {
    writeln!(out, "time_s,reading_mm")?;
    for height in heights {
        writeln!(out, "{},{}", height.time.s(), height.reading.mm())?;
    }
    Ok(())
}
