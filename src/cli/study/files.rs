//! The files of a study: traces, gauge cards, and the card that keeps what was found.

use super::super::Out;
use crate::card::{GaugeCard, Hand, Role, Studies};
use crate::error::{Code, Error, Result, as_text, reason};
use crate::inspection::write_whole;
use crate::quantity::{Length, Time};
use crate::record::archive::regular;
use crate::sample::Sample;
use crate::trace::csv::{self, Rows, Table};
use crate::trace::{MergeSettings, Merged, Trace, align, merge};
use jiff::Timestamp;
use std::path::Path;

/// Keeps a study in its gauge card, all else in it as a person wrote it.
pub(super) fn keep(path: &Path, change: impl FnOnce(&mut Studies, Timestamp)) -> Result<()> {
    let now = Timestamp::now();
    let now = Timestamp::from_second(now.as_second()).unwrap_or(now);
    let text = text(path)?;
    let file = path.display().to_string();
    let mut card = GaugeCard::parse(&text, &file)?;
    change(&mut card.studies, now);
    let written = GaugeCard::with_studies(&text, &card.studies);
    // A card laid out in a way that hides where its tables end is left as it is.
    if GaugeCard::parse(&written, &file) != Ok(card) {
        return Err(Error::new(
            Code::CardSyntax,
            "found no place to keep the study, expected each table of the card under a heading of its own",
        )
        .in_file(file)
        .help("write the tables as `[study.repeat]` and the like, not in braces"));
    }
    write_whole(path, written.as_bytes())
}

pub(super) fn read(path: &Path) -> Result<Vec<u8>> {
    regular::contents(path).map_err(|fault| {
        let (code, message) = if fault.kind() == std::io::ErrorKind::NotFound {
            (Code::Missing, "found no such file".to_owned())
        } else {
            (Code::Disk, format!("could not be read: {}", reason(&fault)))
        };
        Error::new(code, message).in_path(path).because(fault)
    })
}

pub(super) fn placed(error: Error, path: &Path) -> Error {
    if error.place().file.is_some() {
        error
    } else {
        error.in_path(path)
    }
}

pub(super) fn gauge(path: &Path) -> Result<GaugeCard> {
    GaugeCard::parse(&text(path)?, &path.display().to_string())
}

fn text(path: &Path) -> Result<String> {
    as_text(&read(path)?, path.display().to_string()).map(str::to_owned)
}

fn table(path: &Path, out: &mut Out) -> Result<Table> {
    let file = path.display().to_string();
    let table = csv::read(read(path)?.as_slice(), &file)?.in_order()?;
    for warning in &table.warnings {
        out.note(warning);
    }
    for bad in &table.bad {
        out.note(&format!("{bad}; the line was left out"));
    }
    Ok(table)
}

/// The readings of any trace over time.
pub(super) fn readings(path: &Path, out: &mut Out) -> Result<Vec<(Time, Length)>> {
    let usable = |sample: &&Sample| sample.marks.usable();
    Ok(match table(path, out)?.rows {
        Rows::Turning(rows) => rows
            .iter()
            .filter(usable)
            .map(|row| (row.time, row.reading))
            .collect(),
        Rows::Sliding(rows) => rows.iter().map(|row| (row.time, row.reading)).collect(),
        Rows::Heights(rows) => rows.iter().map(|row| (row.time, row.reading)).collect(),
        Rows::Positions(_) => return Err(lacks(path, "reading_mm")),
    })
}

pub(super) fn merged(path: &Path, gauge: &GaugeCard, out: &mut Out) -> Result<Merged> {
    let Rows::Turning(samples) = table(path, out)?.rows else {
        return Err(lacks(path, "angle_deg` and `reading_mm"));
    };
    let trace = Trace {
        name: path.display().to_string(),
        role: Role::Reference,
        z: None,
        rezeroed: false,
        two_clocks: false,
        apart: Time::ZERO,
        // A round has no hand; that of most tools will do.
        samples: align::one_clock(samples, gauge.encoder.positive(Hand::Right)),
        history: Vec::new(),
    };
    // What an earlier study found is not what this trace shows.
    let settings = MergeSettings {
        studied_repeatability: None,
        ..MergeSettings::of(gauge)
    };
    merge(&trace, &settings).map_err(|error| placed(error, path))
}

fn lacks(path: &Path, column: &str) -> Error {
    Error::new(
        Code::TraceHeader,
        format!("found no column that fits, expected `{column}`"),
    )
    .in_path(path)
}
