//! `archive rejudge`: what would today's program say of the old traces?

use super::super::{Out, Status, names};
use super::filter::FilterArguments;
use crate::error::Result;
use crate::inspection::{Moved, Read, Rejudged, rejudge};
use crate::record::Verdict;
use crate::record::archive::{Place, RecordId, Stored, Wanted};
use clap::Args;
use rayon::prelude::*;
use std::time::Instant;

/// Judge old traces with today's program, and show what moved and why
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive rejudge                        every record, on all cores
  heelclear archive rejudge 12                     this one
  heelclear archive rejudge --since 2026-01-01 --json

Nothing in the archive is touched. A figure has moved when it did so by more than a tenth of its
standard uncertainty. The exit status is that of today's verdicts, as verify has it.")]
pub(super) struct Arguments {
    /// Records, by number or digest; those that the flags below want where none is named
    #[arg(add = names::records())]
    records: Vec<Wanted>,

    #[command(flatten)]
    filter: FilterArguments,
}

/// Twice so many records are in memory at once.
const BATCH: usize = 16;

/// How often each change of verdict was seen.
#[derive(Default)]
struct Tally {
    judged: usize,
    moved: usize,
    turned: usize,
    refused: usize,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let wanted = super::wanted(&mut archive, &arguments.records, &arguments.filter)?;
    let several = archive.benches()?.len() > 1;
    let bar = super::bar(wanted.len(), "records", out);
    let start = Instant::now();
    let mut tally = Tally::default();
    let mut worst = Status::Clear;
    let mut batches = wanted.chunks(BATCH);
    let mut load = || -> Vec<(&RecordId, Result<Stored>)> {
        let batch = batches.next().unwrap_or_default().iter();
        batch
            .map(|it| (&it.id, archive.load_undrawn(&it.id)))
            .collect()
    };
    let mut loaded = load();
    while !loaded.is_empty() && !out.closed() {
        let again = |(id, stored): (_, Result<Stored>)| (id, stored.and_then(|it| rejudge(&it)));
        // The next ones are read while these are judged.
        let (judged, following): (Vec<(&RecordId, Result<Rejudged>)>, _) =
            rayon::join(|| loaded.into_par_iter().map(again).collect(), &mut load);
        loaded = following;
        for (id, judged) in judged {
            bar.inc(1);
            let status = bar.suspend(|| tell(id, judged, several, &mut tally, out))?;
            worst = worst.worst(status);
        }
    }
    bar.finish_and_clear();
    let Tally {
        judged,
        moved,
        turned,
        refused,
    } = tally;
    let rate = wanted.len() as f64 / start.elapsed().as_secs_f64().max(1e-9);
    out.note(&format!(
        "{judged} judged again, {rate:.0} a second: {turned} with another verdict, {moved} with figures that moved, {refused} could not be judged"
    ));
    Ok(worst)
}

fn tell(
    id: &RecordId,
    judged: Result<Rejudged>,
    several: bool,
    tally: &mut Tally,
    out: &mut Out,
) -> Result<Status> {
    let judged = match judged {
        Ok(judged) => judged,
        Err(error) => {
            tally.refused += 1;
            out.note(&format!("record {}:", id.short(several)));
            return Ok(out.fail(&error));
        }
    };
    tally.judged += 1;
    tally.moved += usize::from(!judged.moved.is_empty());
    tally.turned += usize::from(judged.then_by.is_some() && judged.then != judged.now);
    let status = Status::from(judged.now);
    if out.json() {
        out.object(&judged)?;
    } else {
        out.text(&words(&judged, several))?;
    }
    Ok(status)
}

fn words(judged: &Rejudged, several: bool) -> String {
    let then = match &judged.then_by {
        Some(_) => verdict(judged.then),
        None => "not judged",
    };
    let now = verdict(judged.now);
    let record = judged.id.short(several);
    let tool = &judged.tool;
    if judged.then_by.is_some() && judged.moved.is_empty() && judged.then == judged.now {
        return format!("record {record}  {tool}  {now}, as it was\n");
    }
    let mut text = format!("record {record}  {tool}  {then} → {now}\n");
    for moved in &judged.moved {
        text += &format!("  {}\n", figure(moved));
        for why in &moved.why {
            text += &format!("      {why}\n");
        }
    }
    text
}

fn figure(moved: &Moved) -> String {
    let figure = &moved.of;
    let mut of = figure.feature.clone().unwrap_or_else(|| "tool".to_owned());
    if let Some(flute) = figure.flute {
        of += &format!(", flute {flute}");
    }
    if let Some(z) = figure.z_mm {
        of += &format!(", {z} mm from the front");
    }
    let read = |read: &Option<Read>| {
        read.as_ref()
            .map_or("none".to_owned(), |it| reading(it, &figure.unit))
    };
    format!(
        "{of}: {} {} → {}",
        figure.name,
        read(&moved.then),
        read(&moved.now)
    )
}

/// `0.01230 (u = 0.00110) mm, fail`
fn reading(read: &Read, unit: &str) -> String {
    let value = match (read.value, read.standard_uncertainty) {
        (Some(value), Some(u)) => format!("{value:.5} (u = {u:.5}) {unit}"),
        (Some(value), None) => format!("{value:.5} {unit}"),
        (None, _) => "no value".to_owned(),
    };
    match read.verdict {
        Some(verdict) => format!("{value}, {}", verdict.as_str()),
        None => value,
    }
}

fn verdict(verdict: Option<Verdict>) -> &'static str {
    verdict.map_or("no verdict", Verdict::as_str)
}
