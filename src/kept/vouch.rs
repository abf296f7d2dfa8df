//! Whether a verdict and the report beside it follow from the cards and traces among some files.

use crate::error::{Code, Error, Result};
use crate::inspection::Vouched;
use crate::record::archive::{REPORT_FILE, StoredFile};
use crate::report;

/// Refuses a verdict that does not follow from the cards and traces among these files, or a report
/// among them that is not its own; `place` names it in messages.
///
/// # Errors
/// `evidence`.
pub fn held(vouched: Vouched, files: &[StoredFile], place: &str) -> Result<Vouched> {
    let vouched = vouched.or_refused(place)?;
    let report = files.iter().find(|file| file.path == REPORT_FILE);
    if let Some(report) = report
        && vouched.same_program
        && !report::is_drawn_from(&report.bytes, &vouched.record)?
    {
        let message = format!("`{REPORT_FILE}` is not the report of the verdict beside it");
        return Err(Error::new(Code::Evidence, message).in_file(place));
    }
    Ok(vouched)
}
