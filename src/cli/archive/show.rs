//! `archive show`: one record, what is said of it and its verdict.

use super::super::style::style;
use super::super::{Out, Status, names};
use crate::error::{Code, Error, Result};
use crate::kept::AS_JUDGED;
use crate::record::Standing;
use crate::record::archive::{KEPT_AS_JUDGED, Place, REPORT_FILE, Stored, Summary, Wanted};
use crate::report;
use clap::Args;
use serde_json::json;

/// Show a record with its verdict, or print one of its files
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive show 12                            by its number
  heelclear archive show grindroom-3f9a2c/12           in an archive of several benches
  heelclear archive show 5b0c9e41                      by the first digits of its digest
  heelclear archive show 12 --file report.svg > r.svg  one file, byte for byte
  heelclear archive show 12 --json                     the record, its files and its verdict")]
pub(super) struct Arguments {
    /// Its number, `bench/number`, or eight or more digits of its digest
    #[arg(add = names::records())]
    record: Wanted,

    /// Print this file of it alone
    #[arg(long, value_name = "PATH")]
    file: Option<String>,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let summary = archive.wanted(&arguments.record)?;
    let stored = archive.load(&summary.id)?;
    if let Some(path) = &arguments.file {
        if path == REPORT_FILE {
            tell_redrawn(&stored, out);
        }
        let bytes = stored.file(path).ok_or_else(|| no_file(&stored, path))?;
        out.bytes(bytes)?;
        return Ok(Status::Clear);
    }
    let record = stored.record();
    if out.json() {
        let files = stored.files.iter();
        let files: Vec<_> = files
            .map(|file| json!({ "path": file.path, "bytes": file.bytes.len() }))
            .collect();
        out.object(&json!({
            "record": stored.summary,
            "standing": stored.standing(),
            "files": files,
            "verdict": record?,
        }))?;
        return Ok(super::tell_doubtful(&mut archive, out));
    }
    out.text(&said(&stored))?;
    match record {
        Ok(Some(record)) => {
            out.line("")?;
            if stored.summary.as_judged {
                out.line(AS_JUDGED)?;
            }
            out.styled(&report::text(&record, style(out)))?;
        }
        Ok(None) => out.line("  not judged")?,
        // The files can still be taken out; that a verdict is of another form loses nothing.
        Err(error) => out.note(&format!("its verdict cannot be shown: {error}")),
    }
    Ok(super::tell_doubtful(&mut archive, out))
}

/// A report that comes out otherwise than it went in is told of.
pub(super) fn tell_redrawn(stored: &Stored, out: &mut Out) {
    if let Some(then) = &stored.redrawn {
        out.note(&format!(
            "record {}: its report is drawn anew; {} drew it otherwise from the same verdict, with the digest {}",
            stored.summary.id, then.program, then.digest
        ));
    }
}

fn no_file(stored: &Stored, path: &str) -> Error {
    let names: Vec<&str> = stored.files.iter().map(|file| file.path.as_str()).collect();
    let message = format!("record {} has no file `{path}`", stored.summary.id);
    Error::new(Code::NoRecord, message).help(format!("it has {}", names.join(", ")))
}

fn said(stored: &Stored) -> String {
    let Summary {
        id,
        archived,
        program,
        host,
        taken,
        operator,
        gauge,
        replaces,
        why,
        origin,
        replaced_by,
        content,
        previous,
        chain,
        ..
    } = &stored.summary;
    let mut text = format!("record {id}\n");
    let mut line = |name: &str, value: &str| text += &format!("  {name:<14}{value}\n");
    line("taken", &taken.to_string());
    if !operator.is_empty() {
        line("operator", operator);
    }
    line("gauge", gauge);
    line("archived", &format!("{archived} on {host} by {program}"));
    if let Some(origin) = origin {
        line("comes from", origin);
    }
    if stored.summary.as_judged {
        line("verdict", KEPT_AS_JUDGED);
    }
    match stored.standing() {
        Some(Standing::Tied) => line("verdict", "tied to its cards and traces"),
        Some(standing) => line("verdict", standing.remark().unwrap_or_default()),
        None => {}
    }
    if let Some(replaces) = replaces {
        let why = why.as_deref().unwrap_or_default();
        line("replaces", &format!("{}: {why}", replaces.short()));
    }
    if let Some(later) = replaced_by {
        line("replaced by", &later.to_string());
    }
    line("content", &content.to_string());
    line("record before", &previous.to_string());
    line("chain", &chain.to_string());
    let bytes: usize = stored.files.iter().map(|file| file.bytes.len()).sum();
    line(
        "files",
        &format!("{} of {bytes} bytes in all", stored.files.len()),
    );
    for file in &stored.files {
        line("", &format!("{:>10}  {}", file.bytes.len(), file.path));
    }
    text
}
