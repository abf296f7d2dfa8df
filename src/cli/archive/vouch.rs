//! Reads a folder for keeping, and holds its verdict against its cards and traces first.

use crate::error::{Code, Error, Result};
use crate::inspection::{Vouched, vouched};
use crate::kept;
use crate::record::Record;
use crate::record::archive::{Contents, StoredFile};
use crate::report;
use std::path::Path;

/// Whether a verdict is judged again before it is kept or printed.
#[derive(clap::Args, Clone, Copy)]
pub(super) struct Judging {
    /// Take verdicts as they were judged, and mark what comes of it: without this their cards and
    /// traces are judged again, and a verdict that does not follow from them is not taken for one
    #[arg(long)]
    pub as_judged: bool,
}

const HELP: &str = "judge it anew with `heelclear verify`; `--as-judged` takes the verdict as it is, and marks it as not judged again";

/// Reads a folder whole; a verdict in it has to follow from what lies beside it, unless it is taken
/// as it was judged.
pub(super) fn read(folder: &Path, judging: Judging) -> Result<Contents> {
    let files = StoredFile::all_of(folder)?;
    let name = folder.display().to_string();
    if judging.as_judged {
        let contents = Contents::of(files, &name, report::svg_by)?;
        return Ok(match contents.judged() {
            true => contents.as_judged(),
            false => contents,
        });
    }
    let vouched = vouch(&files, &verdict_in(folder));
    // What is wrong with a card or a file is said as such.
    let contents = Contents::of(files, &name, report::svg_by)?;
    vouched.map(|_| contents)
}

/// Reads a folder that was judged just now, as this record.
pub(super) fn read_judged(folder: &Path, record: &Record) -> Result<Contents> {
    let files = StoredFile::all_of(folder)?;
    let text = record.to_json()?;
    let verdict = files.iter().find(|file| file.path == VERDICT);
    if verdict.is_none_or(|verdict| verdict.bytes != text.as_bytes()) {
        let message = "its verdict is not the one that it was judged with just now";
        return Err(Error::new(Code::Evidence, message)
            .in_file(verdict_in(folder))
            .help("something else writes into the folder: end that, and judge it anew"));
    }
    Contents::of(files, &folder.display().to_string(), report::svg_by)
}

/// Holds a verdict, and the report beside it, against the cards and traces among these files.
/// Nothing where they were not judged.
pub(super) fn vouch(files: &[StoredFile], place: &str) -> Result<Option<Vouched>> {
    let vouched = vouched(files).map_err(|error| {
        let what = error.message();
        let file = error.place().file.as_deref();
        let file = file.and_then(|file| Path::new(file).file_name());
        let file = file.map(|file| format!("{}: ", file.to_string_lossy()));
        let message = format!(
            "its verdict cannot be held against its cards and traces: {}{what}",
            file.unwrap_or_default()
        );
        refused(Error::new(Code::Evidence, message).in_file(place))
    })?;
    let Some(vouched) = vouched else {
        return Ok(None);
    };
    kept::held(vouched, files, place).map_err(refused).map(Some)
}

fn refused(error: Error) -> Error {
    error.help(HELP)
}

const VERDICT: &str = "verdict.json";

fn verdict_in(folder: &Path) -> String {
    folder.join(VERDICT).display().to_string()
}
