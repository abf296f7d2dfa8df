//! Earlier records of a tool, from the archive.

use crate::error::{Code, Error, Result};
use crate::record::archive::{Archive, Filter, Place, RecordId, Summary};
use serde_json::{Value, json};

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
    let found = Archive::open(place)?.find(&filter)?;
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
    })
}

/// The report of a record, as it was made.
pub(super) fn report(place: &Place, bench: String, number: i64) -> Result<Vec<u8>> {
    let stored = Archive::open(place)?.load(&RecordId { bench, number })?;
    let none = || Error::new(Code::Missing, "the record has no report: it was not judged");
    stored
        .file("report.svg")
        .map(<[u8]>::to_vec)
        .ok_or_else(none)
}
