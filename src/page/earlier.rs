//! Earlier records of a tool, from the archive.

use super::disk::Errand;
use super::judged;
use crate::error::{Code, Error, Result};
use crate::record::Standing;
use crate::record::archive::{Archive, Filter, REPORT_FILE, RecordId, StoredFile, Summary};
use crate::report::{self, Units};
use serde_json::{Value, json};
use std::path::Path;

/// More than this are not listed at once.
const LISTED: usize = 100;

/// The records of a tool, the last measured first.
pub(super) fn find(archive: &mut Archive, tool: String) -> Result<Vec<Value>> {
    let found = archive.find(&Filter {
        tool: Some(tool),
        limit: Some(LISTED),
        ..Filter::default()
    })?;
    Ok(found.iter().map(line).collect())
}

fn line(record: &Summary) -> Value {
    json!({
        "bench": record.id.bench,
        "number": record.id.number,
        "tool": record.tool,
        "tool_name": record.tool_name,
        "taken": record.taken.to_string(),
        "stage": record.stage,
        "operator": record.operator,
        "verdict": record.verdict.as_ref().filter(|_| record.is_as_made()),
        "damaged": !record.is_as_made(),
        "simulated": record.simulated,
        "as_judged": record.as_judged,
    })
}

/// The report of a record: as it was made in millimetres, and drawn in inches where they are asked
/// for.
pub(super) fn report(archive: &mut Archive, id: &RecordId, units: Units) -> Result<Vec<u8>> {
    let stored = archive.load(id)?;
    let none = || Error::new(Code::Missing, "the record has no report: it was not judged");
    let standing = stored.standing().ok_or_else(none)?;
    if standing == Standing::Other {
        return Err(Error::new(
            Code::Evidence,
            "the verdict of this record was judged from other cards or traces than it has",
        )
        .help("`heelclear archive check` names all such records"));
    }
    // One that nobody judged again is, before it is shown.
    if stored.summary.as_judged {
        judged::founded(&stored.files, "verdict.json")?;
    }
    let kept = stored.file(REPORT_FILE).map(<[u8]>::to_vec);
    match (stored.record(), kept) {
        (_, Some(kept)) if units == Units::Metric && standing == Standing::Tied => Ok(kept),
        // Drawn anew it says that nothing ties it to its cards and traces.
        (Ok(Some(record)), _) => Ok(report::svg_in(&record, units)?.into_bytes()),
        // A verdict of a form that is not read any more keeps the report that it had.
        (_, kept) => kept.ok_or_else(none),
    }
}

/// The report in an inspection's folder, drawn from a verdict that follows from what lies there.
pub(super) fn folder_report(folder: &Path, errand: &Errand) -> Result<Vec<u8>> {
    let none = || {
        Error::new(
            Code::Missing,
            "this inspection has no report: it was not judged",
        )
    };
    let files = StoredFile::all_of(folder)?;
    errand.answered();
    let record = judged::founded(&files, "verdict.json")?.ok_or_else(none)?;
    Ok(report::svg_in(&record, Units::Metric)?.into_bytes())
}
