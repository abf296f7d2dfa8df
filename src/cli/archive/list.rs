//! `archive list`: one line a record.

use super::super::{Out, Status};
use super::filter::FilterArguments;
use crate::error::Result;
use crate::record::archive::{Filter, KEPT_AS_JUDGED, Place, Summary};
use crate::report::harmless;
use clap::Args;
use serde::Serialize;

/// Find records, the last measured first
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive list                                    the last 50
  heelclear archive list --tool VB-07 --limit 0             everything of a tool
  heelclear archive list --verdict fail --since 2026-03-01  what failed since
  heelclear archive list --text reamer --json               one object a line, for scripts")]
pub(super) struct Arguments {
    #[command(flatten)]
    filter: FilterArguments,

    /// At most so many; 0 for all
    #[arg(long, value_name = "N", default_value = "50")]
    limit: usize,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let all = arguments.limit == 0;
    // One more, to know whether there are more.
    let limit = (!all).then_some(arguments.limit + 1);
    let filter = arguments.filter.filter(limit);
    // A table is as wide as its widest row, so that all are held; rows for scripts are not.
    let mut found = Vec::new();
    let (mut count, mut more, mut as_judged, mut damaged) = (0, false, false, false);
    let listed = archive.find_each(&filter, &mut |summary| {
        if !all && count == arguments.limit {
            more = true;
            return Ok(false);
        }
        count += 1;
        as_judged |= summary.as_judged;
        let changed = !summary.is_as_made();
        damaged |= changed;
        match out.json() {
            true => out.row(&Line::of(summary, changed))?,
            false => found.push(summary),
        }
        Ok(!out.closed())
    });
    // Rows that were read before a fault are good.
    if out.json() {
        out.end_rows()?;
    }
    listed?;
    if !out.json() {
        let several = archive.benches()?.len() > 1;
        out.text(&table(&found, several))?;
    }
    if count == 0 {
        out.note("found no record like that; `--replaced` shows those too that later ones replace");
    }
    if as_judged {
        out.note(&format!("`as judged`: its verdict was {KEPT_AS_JUDGED}"));
    }
    if more {
        out.note(&format!(
            "there are more than these {}; `--limit 0` shows all",
            arguments.limit
        ));
    }
    let narrowed = arguments.filter.filter(None) != Filter::default();
    // All lines are gone through only where one could be hidden by what is said of it.
    if narrowed || damaged || !archive.missing(1)?.is_empty() {
        return Ok(super::tell_doubtful(&mut archive, out));
    }
    Ok(Status::Clear)
}

/// A record for scripts: one that was changed has no verdict that could be used.
#[derive(Serialize)]
struct Line {
    #[serde(flatten)]
    summary: Summary,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    damaged: bool,
}

impl Line {
    fn of(mut summary: Summary, damaged: bool) -> Self {
        if damaged {
            summary.verdict = None;
        }
        Self { summary, damaged }
    }
}

/// `pass`, and what is to be known of it where nobody judged it again.
fn verdict(summary: &Summary) -> String {
    if !summary.is_as_made() {
        return "DAMAGED".to_owned();
    }
    let word = summary.verdict.as_deref().unwrap_or("-");
    let simulated = if summary.simulated { ", simulated" } else { "" };
    match summary.as_judged {
        true => format!("{word}{simulated}, as judged"),
        false => format!("{word}{simulated}"),
    }
}

fn table(found: &[Summary], several: bool) -> String {
    let mut rows = Vec::new();
    if !found.is_empty() {
        rows.push(
            [
                "record", "taken", "verdict", "tool", "stage", "operator", "name",
            ]
            .map(str::to_owned),
        );
    }
    for summary in found {
        let mut tool_name = summary.tool_name.clone();
        if let Some(later) = &summary.replaced_by {
            tool_name += &format!(" (replaced by {})", later.short(several));
        } else if summary.replaces.is_some() {
            tool_name += &format!(" ({})", summary.why.as_deref().unwrap_or("a correction"));
        }
        rows.push([
            summary.id.short(several),
            summary.taken.strftime("%Y-%m-%d %H:%M").to_string(),
            verdict(summary),
            summary.tool.clone(),
            summary.stage.clone(),
            summary.operator.clone(),
            tool_name,
        ]);
    }
    set(&rows)
}

/// A cell has at most so many signs; what is longer is a name for nobody.
const WIDEST: usize = 80;

fn fitting(cell: &str) -> String {
    match cell.char_indices().nth(WIDEST) {
        None => cell.to_owned(),
        Some((end, _)) => format!("{}…", cell.get(..end).unwrap_or_default()),
    }
}

/// Sets rows in columns as wide as they need.
pub(super) fn set<const N: usize>(rows: &[[String; N]]) -> String {
    let rows: Vec<[String; N]> = rows
        .iter()
        .map(|row| row.each_ref().map(|cell| fitting(&harmless(cell))))
        .collect();
    let width = |at: usize| rows.iter().map(|row| row[at].chars().count()).max();
    let widths: [usize; N] = std::array::from_fn(|at| width(at).unwrap_or(0));
    let mut text = String::new();
    for row in &rows {
        let cells = row.iter().zip(widths);
        let cells: Vec<String> = cells
            .map(|(cell, width)| format!("{cell:<width$}"))
            .collect();
        text += cells.join("  ").trim_end();
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_ends_a_line_takes_one_row_all_the_same() {
        let cell = |text: &str| text.to_owned();
        let rows = [
            [cell("A\u{1b}[31mB\n\tC"), cell("pass")],
            [cell("D"), cell("fail")],
        ];
        let text = set(&rows);
        assert_eq!(text.lines().count(), 2);
        let long = [[cell(&"w".repeat(70_000)), cell("pass")]];
        assert!(set(&long).chars().count() < 100);
        assert!(!text.contains(['\u{1b}', '\t']));
    }
}
