//! A line of the archive as a page shows it: what is damaged is never told as sound.

use super::judged;
use crate::error::Result;
use crate::record::Standing;
use crate::record::archive::{Archive, Due, Stored, Summary, ToolLine};
use crate::report::{self, Units};
use serde_json::{Value, json};

/// A tool by its last record.
pub(super) fn tool_line(archive: &mut Archive, line: &ToolLine) -> Result<Value> {
    let last = record_line(archive, &line.last, None)?;
    let due = line.due.map(Due::why);
    Ok(json!({
        "tool": line.last.tool,
        "tool_name": line.last.tool_name,
        "records": line.records,
        "simulated": line.simulated,
        "due": due,
        "last": last,
    }))
}

/// A record with its marks, and the figure that decides it where units are given for that.
pub(super) fn record_line(
    archive: &mut Archive,
    of: &Summary,
    deciding: Option<Units>,
) -> Result<Value> {
    let (look, files) = archive.look_into(of);
    let sound = look.faults.is_empty();
    let figure = deciding.filter(|_| sound && of.verdict.is_some());
    let figure = figure.and_then(|units| {
        let stored = Stored {
            summary: of.clone(),
            files,
            redrawn: None,
        };
        let record = stored.record().ok()??;
        let told = units.told(&record);
        report::deciding(&told).map(|one| judged::figure(one, units))
    });
    Ok(json!({
        "name": of.id.to_string(),
        "bench": of.id.bench,
        "number": of.id.number,
        "tool": of.tool,
        "tool_name": of.tool_name,
        "taken": of.taken.to_string(),
        "archived": of.archived.to_string(),
        "stage": of.stage,
        "operator": of.operator,
        "verdict": of.verdict.as_ref().filter(|_| sound),
        "faults": look.faults,
        "as_judged": of.as_judged,
        "not_tied": look.standing == Some(Standing::NotTied),
        "replaced_by": of.replaced_by.as_ref().map(ToString::to_string),
        "why": of.why,
        "simulated": of.simulated,
        "deciding": figure,
    }))
}
