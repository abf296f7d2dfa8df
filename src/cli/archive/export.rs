//! `archive export` and `archive import`: records out as folders or tables, folders back in.

use super::super::{Out, Status, names, wildcards};
use super::add::take_in;
use super::filter::FilterArguments;
use super::keep::Keeper;
use super::replace::may_replace;
use super::show::tell_redrawn;
use super::vouch;
use crate::error::{Code, Error, Result};
use crate::inspection::WholeFile;
use crate::record::archive::{
    Archive, Dated, Place, RecordId, StoredFile, Wanted, clear_left_over, csv_header, csv_rows,
    exported_folders, read_exported, write_folder,
};
use clap::{Args, ValueEnum};
use serde_json::json;
use std::path::{Path, PathBuf};

/// Take records out: as the folders that they were, as CSV, JSON or Parquet
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive export --out here 12                    record 12 as a folder in here
  heelclear archive export --out here --tool VB-07          everything of a tool
  heelclear archive export --as csv --out all.csv           a row for each figure of each record
  heelclear archive export --as json --verdict fail         a line for each record that fails
  heelclear archive export --as parquet --out tables        for engines that analyse many records

Folders hold every file as it was, and archive-record.json; import takes them back in. Parquet
tables lie by bench, year and month; written again, they hold what was asked for last.")]
pub(super) struct Arguments {
    /// Records, by number or digest; those that the flags below want where none is named
    #[arg(add = names::records())]
    records: Vec<Wanted>,

    /// Where to: a folder for folders and Parquet, a file for CSV and JSON [default: stdout for those]
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
    /// Two tables: a row for each trace with its samples, and a row for each figure
    Parquet,
}

/// Take exported folders into the archive, checked against the digests they went out with
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive import here           every exported record in here
  heelclear archive import here/*/ --archive other.db

Cards and traces are judged again. A verdict that does not follow from them is kept as it was
judged, and marked; it replaces no record unless it did so where it comes from.")]
pub(super) struct ImportArguments {
    /// Folders that export wrote, or folders of such
    #[arg(required = true, value_name = "DIR")]
    folders: Vec<PathBuf>,

    #[command(flatten)]
    judging: vouch::Judging,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let wanted = super::wanted(&mut archive, &arguments.records, &arguments.filter)?;
    // Tables that are written again lose what is no longer wanted, and that may be all.
    if wanted.is_empty() && arguments.form != Form::Parquet {
        out.note("found no record like that, so nothing was written");
        return Ok(super::tell_doubtful(&mut archive, out));
    }
    let status = export(&mut archive, &wanted, arguments, out)?;
    Ok(status.worst(super::tell_doubtful(&mut archive, out)))
}

fn export(
    archive: &mut Archive,
    wanted: &[Dated],
    arguments: &Arguments,
    out: &mut Out,
) -> Result<Status> {
    let to = arguments.out.as_deref();
    match arguments.form {
        Form::Folder => folders(archive, wanted, folder(to)?, out),
        Form::Csv => {
            let mut sink = Sink::to(to)?;
            sink.put(&csv_header()?, out)?;
            let status = each(wanted, out, |id, out| {
                let stored = archive.load_undrawn(id)?;
                match stored.record() {
                    Ok(Some(record)) => sink.put(&csv_rows(&stored.summary, &record)?, out)?,
                    Ok(None) => out.note(&format!("record {id} was not judged, so it has no row")),
                    Err(error) => out.note(&format!("record {id} has no row: {error}")),
                }
                Ok(())
            })?;
            sink.finish()?;
            Ok(status)
        }
        Form::Json => {
            let mut sink = Sink::to(to)?;
            let status = each(wanted, out, |id, out| {
                let stored = archive.load_undrawn(id)?;
                let verdict = stored.record().unwrap_or_else(|error| {
                    out.note(&format!("record {id} goes without its verdict: {error}"));
                    None
                });
                let line = json!({ "record": stored.summary, "verdict": verdict });
                sink.put(format!("{line}\n").as_bytes(), out)
            })?;
            sink.finish()?;
            Ok(status)
        }
        Form::Parquet => parquet(archive, wanted, arguments, folder(to)?, out),
    }
}

pub(super) fn import(arguments: &ImportArguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut folders = Vec::new();
    for folder in wildcards::folders(&arguments.folders)? {
        folders.extend(exported_folders(&folder)?);
    }
    let mut keeper = Keeper::open(place, out)?;
    let read = |folder: &Path| {
        let contents = read_exported(folder, crate::report::svg_by)?;
        // Whoever can edit a verdict can work out its digest anew, so judging again decides. What
        // an earlier program judged otherwise is history, and is not refused for it.
        let held = !arguments.judging.as_judged
            && vouch::vouch(&StoredFile::all_of(folder)?, &folder.display().to_string()).is_ok();
        Ok(match held || !contents.judged() {
            true => contents,
            false => contents.as_judged(),
        })
    };
    take_in(&mut keeper, &folders, read, out)
}

fn folder(to: Option<&Path>) -> Result<&Path> {
    to.ok_or_else(|| {
        Error::new(Code::Usage, "read no folder to write to").help("name one with `--out DIR`")
    })
}

fn folders(archive: &mut Archive, wanted: &[Dated], to: &Path, out: &mut Out) -> Result<Status> {
    clear_left_over(to);
    each(wanted, out, |id, out| {
        let stored = archive.load(id)?;
        tell_redrawn(&stored, out);
        let folder = write_folder(&stored, to)?.display().to_string();
        match out.json() {
            true => {
                out.object(&json!({ "bench": id.bench, "number": id.number, "folder": folder }))
            }
            false => out.line(&folder),
        }
    })
}

/// Takes out one record after the other, so that only one is in memory. One that is damaged is
/// told, and stops none of the others.
fn each(
    wanted: &[Dated],
    out: &mut Out,
    mut take_out: impl FnMut(&RecordId, &mut Out) -> Result<()>,
) -> Result<Status> {
    let bar = super::bar(wanted.len(), "records", out);
    let mut worst = Status::Clear;
    for it in wanted {
        if out.closed() {
            break;
        }
        let done = bar.suspend(|| take_out(&it.id, out));
        bar.inc(1);
        match done {
            Err(error) if error.code() == Code::ArchiveBroken => {
                worst = bar.suspend(|| out.fail(&error));
            }
            done => done?,
        }
    }
    bar.finish_and_clear();
    Ok(worst)
}

/// Where a table or lines go: into a file, whole or not at all, or onto stdout.
enum Sink {
    File(WholeFile),
    Stdout,
}

impl Sink {
    fn to(file: Option<&Path>) -> Result<Self> {
        Ok(match file {
            Some(file) => {
                may_replace(file)?;
                Sink::File(WholeFile::new(file)?)
            }
            None => Sink::Stdout,
        })
    }

    fn put(&mut self, bytes: &[u8], out: &mut Out) -> Result<()> {
        match self {
            Sink::File(file) => file.write(bytes),
            Sink::Stdout => out.bytes(bytes),
        }
    }

    fn finish(self) -> Result<()> {
        match self {
            Sink::File(file) => file.finish(),
            Sink::Stdout => Ok(()),
        }
    }
}

#[cfg(feature = "parquet")]
fn parquet(
    archive: &mut Archive,
    wanted: &[Dated],
    arguments: &Arguments,
    to: &Path,
    out: &mut Out,
) -> Result<Status> {
    let asked = arguments.filter.filter(None).bench;
    let benches = match (&asked, arguments.records.is_empty()) {
        (Some(bench), true) => vec![bench.clone()],
        _ => archive.benches()?.into_iter().map(|it| it.bench).collect(),
    };
    let bar = super::bar(wanted.len(), "records", out);
    let written = archive.write_parquet(wanted, &benches, to, &mut |done| bar.inc(done));
    bar.finish_and_clear();
    let tables = written?;
    let folder = to.display().to_string();
    if out.json() {
        out.object(&json!({
            "folder": folder,
            "records": tables.records,
            "traces": tables.traces,
            "characteristics": tables.characteristics,
            "files": tables.files,
        }))?;
    } else {
        out.line(&format!(
            "{} records, {} rows of traces, {} rows of characteristics, {} files: {folder}",
            tables.records, tables.traces, tables.characteristics, tables.files
        ))?;
    }
    for id in &tables.unread {
        out.note(&format!(
            "record {id} goes without its verdict, which cannot be read"
        ));
    }
    let told = tables.refused.iter().map(|error| out.fail(error));
    Ok(told.last().unwrap_or(Status::Clear))
}

#[cfg(not(feature = "parquet"))]
fn parquet(_: &mut Archive, _: &[Dated], _: &Arguments, _: &Path, _: &mut Out) -> Result<Status> {
    let message = "this program was built without Parquet";
    Err(Error::new(Code::Usage, message).help(
        "build it with `cargo build --release --features parquet`, or export as `csv` or `json`",
    ))
}
