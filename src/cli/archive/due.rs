//! `archive due`: the tools whose last record asks for a grind.

use super::super::{Out, Status};
use super::list::set;
use crate::error::Result;
use crate::record::archive::{Due, Place, ToolsWanted, searched};
use clap::Args;
use serde_json::json;

/// List the tools that are due for a grind, by the last record of each
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive due                        every tool that is due
  heelclear archive due reamer                 of those with a record like this
  heelclear archive due --json                 one object a line, for scripts

A tool is due when its last record fails, or was measured before a grind and did not pass. What was
simulated, kept as it was judged or undecided after a grind hides no fail before it. How many
regrinds are left of it: `heelclear archive trend TOOL`.")]
pub(super) struct Arguments {
    /// Words that are said of one of its records
    #[arg(value_name = "WORDS")]
    words: Vec<String>,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let found = archive.tools(&ToolsWanted {
        with: searched(&arguments.words.join(" ")),
        due: true,
        ..ToolsWanted::default()
    })?;
    let heads = ["tool", "name", "record", "taken", "verdict", "why"];
    let mut rows = vec![heads.map(str::to_owned)];
    let mut worst = Status::Clear;
    for error in &found.unread {
        worst = out.fail(error);
    }
    for line in &found.lines {
        let (last, why) = (&line.last, line.due.map(Due::why));
        // A tool whose record is damaged is not left out: nobody knows how it stands.
        if let Err(error) = archive.sound(last) {
            worst = out.fail(&error);
        }
        if out.json() {
            out.object(&json!({ "record": last, "records": line.records, "why": why }))?;
        }
        rows.push([
            last.tool.clone(),
            last.tool_name.clone(),
            last.id.to_string(),
            last.taken.strftime("%Y-%m-%d %H:%M").to_string(),
            last.verdict.clone().unwrap_or_else(|| "-".to_owned()),
            why.unwrap_or_default().to_owned(),
        ]);
    }
    // One that was changed may have been the last of any tool.
    if let Err(error) = archive.certain() {
        worst = out.fail(&error);
    }
    if rows.len() == 1 && worst == Status::Clear {
        out.note("no tool is due like that");
    } else if rows.len() == 1 {
        out.note("no tool is due by the records that can be read");
    } else if !out.json() {
        out.text(&set(&rows))?;
    }
    Ok(worst)
}
