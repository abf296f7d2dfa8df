//! `archive export` and `archive import`: records out as folders or tables, folders back in.

use super::super::{Out, Status};
use super::add::take_in;
use super::filter::FilterArguments;
use super::keep::Keeper;
use crate::error::{Code, Error, Result};
use crate::inspection::write_whole;
use crate::record::archive::{
    Archive, CharacteristicRows, Place, RecordId, Wanted, exported_folders, read_exported,
    write_folder,
};
use clap::{Args, ValueEnum};
use serde_json::json;
use std::path::{Path, PathBuf};

/// Take records out: as the folders that they were, as CSV, or as JSON
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive export --out here 12                    record 12 as a folder in here
  heelclear archive export --out here --tool VB-07          everything of a tool
  heelclear archive export --as csv --out all.csv           a row for each figure of each record
  heelclear archive export --as json --verdict fail         a line for each record that fails

Folders hold every file as it was, and archive-record.json; import takes them back in.")]
pub(super) struct Arguments {
    /// Records, by number or digest; those that the flags below want where none is named
    records: Vec<Wanted>,

    /// Where to: a folder for folders, a file for CSV and JSON [default: stdout for those]
    #[arg(long, value_name = "PATH")]
    out: Option<PathBuf>,

    /// In which form
    #[arg(long = "as", value_enum, default_value = "folder")]
    form: Form,

    #[command(flatten)]
    filter: FilterArguments,
}

#[derive(Clone, Copy, Debug, PartialEq, ValueEnum)]
enum Form {
    /// The inspection folder, byte for byte
    Folder,
    /// A row for each figure, lengths in mm and angles in degrees
    Csv,
    /// An object for each record, one a line, with its verdict
    Json,
}

/// Take exported folders into the archive, checked against the digests they went out with
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive import here           every exported record in here
  heelclear archive import here/*/ --archive other.db")]
pub(super) struct ImportArguments {
    /// Folders that export wrote, or folders of such
    #[arg(required = true, value_name = "DIR")]
    folders: Vec<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let wanted = super::wanted(&mut archive, &arguments.records, &arguments.filter)?;
    if wanted.is_empty() {
        out.note("found no record like that, so nothing was written");
        return Ok(Status::Clear);
    }
    match arguments.form {
        Form::Folder => folders(&mut archive, &wanted, arguments.out.as_deref(), out)?,
        Form::Csv => {
            let table = csv(&mut archive, &wanted, out)?;
            put(&table, arguments.out.as_deref(), out)?;
        }
        Form::Json => {
            let lines = json_lines(&mut archive, &wanted, out)?;
            put(lines.as_bytes(), arguments.out.as_deref(), out)?;
        }
    }
    Ok(Status::Clear)
}

pub(super) fn import(arguments: &ImportArguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut folders = Vec::new();
    for folder in &arguments.folders {
        folders.extend(exported_folders(folder)?);
    }
    let mut keeper = Keeper::open(place, out)?;
    take_in(&mut keeper, &folders, read_exported, out)
}

fn folders(
    archive: &mut Archive,
    wanted: &[RecordId],
    to: Option<&Path>,
    out: &mut Out,
) -> Result<()> {
    let to = to.ok_or_else(|| {
        Error::new(Code::Usage, "read no folder to write to").help("name one with `--out DIR`")
    })?;
    for id in wanted {
        let folder = write_folder(&archive.load(id)?, to)?;
        let folder = folder.display().to_string();
        if out.json() {
            out.object(&json!({ "bench": id.bench, "number": id.number, "folder": folder }))?;
        } else {
            out.line(&folder)?;
        }
    }
    Ok(())
}

fn csv(archive: &mut Archive, wanted: &[RecordId], out: &mut Out) -> Result<Vec<u8>> {
    let mut rows = CharacteristicRows::new(Vec::new())?;
    for id in wanted {
        let stored = archive.load(id)?;
        match stored.record() {
            Ok(Some(record)) => rows.add(&stored.summary, &record)?,
            Ok(None) => out.note(&format!("record {id} was not judged, so it has no row")),
            Err(error) => out.note(&format!("record {id} has no row: {error}")),
        }
    }
    rows.finish()
}

fn json_lines(archive: &mut Archive, wanted: &[RecordId], out: &mut Out) -> Result<String> {
    let mut lines = String::new();
    for id in wanted {
        let stored = archive.load(id)?;
        let verdict = stored.record().unwrap_or_else(|error| {
            out.note(&format!("record {id} goes without its verdict: {error}"));
            None
        });
        let line = json!({ "record": stored.summary, "verdict": verdict });
        lines += &line.to_string();
        lines.push('\n');
    }
    Ok(lines)
}

/// Into a file, whole or not at all, or onto stdout.
fn put(bytes: &[u8], to: Option<&Path>, out: &mut Out) -> Result<()> {
    match to {
        Some(file) => write_whole(file, bytes),
        None => out.bytes(bytes),
    }
}
