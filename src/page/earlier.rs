//! Earlier records of a tool, from the archive.

use super::judged;
use crate::error::{Code, Error, Result};
use crate::record::Standing;
use crate::record::archive::{Archive, Filter, Place, REPORT_FILE, RecordId, StoredFile, Summary};
use crate::report::{self, Units};
use serde_json::{Value, json};
use std::path::Path;

/// More than this are not listed at once.
const LISTED: usize = 100;

/// The records of a tool, or all that say a text; the last measured first.
pub(super) fn find(
    place: &Place,
    tool: Option<String>,
    text: Option<String>,
) -> Result<Vec<Value>> {
    if let Place::File(path) = place
        && !path.exists()
    {
        return Ok(Vec::new());
    }
    let filter = Filter {
        tool,
        text,
        limit: Some(LISTED),
        ..Filter::default()
    };
    let found = Archive::open(place, report::svg_by)?.find(&filter)?;
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
        "verdict": record.verdict,
        "as_judged": record.as_judged,
    })
}

/// The report of a record, as it was made.
pub(super) fn report(place: &Place, bench: String, number: i64) -> Result<Vec<u8>> {
    let stored = Archive::open(place, report::svg_by)?.load(&RecordId { bench, number })?;
    let none = || Error::new(Code::Missing, "the record has no report: it was not judged");
    // One that nobody judged again is, before it is shown.
    if stored.summary.as_judged {
        judged::founded(&stored.files, "verdict.json")?;
    }
    let report = || stored.file(REPORT_FILE).map(<[u8]>::to_vec);
    match stored.standing() {
        None => Err(none()),
        Some(Standing::Tied) => report().ok_or_else(none),
        // Drawn anew it says that nothing ties it to its cards and traces; a verdict of a form that
        // is not read any more keeps the report that it had.
        Some(Standing::NotTied) => match stored.record() {
            Ok(Some(record)) => Ok(report::svg_in(&record, Units::Metric)?.into_bytes()),
            _ => report().ok_or_else(none),
        },
        Some(Standing::Other) => Err(Error::new(
            Code::Evidence,
            "the verdict of this record was judged from other cards or traces than it has",
        )
        .help("`heelclear archive check` names all such records")),
    }
}

/// The report in an inspection's folder, drawn from a verdict that follows from what lies there.
pub(super) fn folder_report(folder: &Path) -> Result<Vec<u8>> {
    let none = || {
        Error::new(
            Code::Missing,
            "this inspection has no report: it was not judged",
        )
    };
    let files = StoredFile::all_of(folder)?;
    let record = judged::founded(&files, "verdict.json")?.ok_or_else(none)?;
    Ok(report::svg_in(&record, Units::Metric)?.into_bytes())
}
