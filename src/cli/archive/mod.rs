//! `archive`: the records of every tool, kept, found, checked, and judged again.

mod add;
mod check;
mod drawn;
mod due;
mod export;
mod filter;
mod keep;
mod list;
mod push;
mod rejudge;
mod replace;
mod server_setup;
mod show;
mod vouch;

pub(super) use keep::Keeper;

use super::{Out, Status};
use crate::error::Result;
use crate::record::archive::{Archive, Dated, Place, Summary, Wanted};
use clap::{Args, Subcommand};
use filter::FilterArguments;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::path::PathBuf;

/// Keep the records of every tool: add, find, check, export
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive add bench/*/                  all folders in bench, whole
  heelclear archive list --tool VB-07             what is there of a tool, the last first
  heelclear archive show 12                       record 12 with its verdict
  heelclear archive due                           which tools ask for a grind
  heelclear archive compare 11 12                 before and after a grind
  heelclear archive trend VB-07                   a tool through its regrinds
  heelclear archive check                         is every record as it was made?
  heelclear archive export --out here 12          its folder, byte for byte
  heelclear archive backup copy.db                while others go on using it
  heelclear archive rejudge --tool VB-07          what would today's program say?

A verdict that does not follow from the cards and traces beside it is not kept.
A record is never changed. A correction is a new record that names the one it replaces, and why.
The archive is a file in your data folder unless --archive names another.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    what: What,

    /// The archive: a file, a folder with an archive.db, or postgres://… [default: in your data folder]
    #[arg(long, value_name = "PLACE", global = true)]
    archive: Option<String>,
}

#[derive(Subcommand)]
enum What {
    Add(add::Arguments),
    List(list::Arguments),
    Show(show::Arguments),
    Due(due::Arguments),
    Check(check::Arguments),
    Compare(drawn::CompareArguments),
    Trend(drawn::TrendArguments),
    Certificate(drawn::CertificateArguments),
    Export(export::Arguments),
    Import(export::ImportArguments),
    Backup(BackupArguments),
    Rejudge(rejudge::Arguments),
    Push(push::Arguments),
    ServerSetup(server_setup::Arguments),
}

/// Copy the whole archive into a new file, while others go on using it
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive backup copy.db          a whole archive, to be read with --archive copy.db

The copy is checked as `archive check` does. What is damaged in the archive is damaged in the copy too: it
is named, and the exit status is 2.")]
struct BackupArguments {
    /// The file to make
    file: PathBuf,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let place = place(arguments.archive.as_deref())?;
    match &arguments.what {
        What::Add(what) => add::run(what, &place, out),
        What::List(what) => list::run(what, &place, out),
        What::Show(what) => show::run(what, &place, out),
        What::Due(what) => due::run(what, &place, out),
        What::Check(what) => check::run(what, &place, out),
        What::Compare(what) => drawn::compare(what, &place, out),
        What::Trend(what) => drawn::trend(what, &place, out),
        What::Certificate(what) => drawn::certificate(what, &place, out),
        What::Export(what) => export::run(what, &place, out),
        What::Import(what) => export::import(what, &place, out),
        What::Backup(what) => back_up(what, &place, out),
        What::Push(what) => push::run(what, &place, out),
        What::ServerSetup(what) => server_setup::run(what, &place, out),
        What::Rejudge(what) => rejudge::run(what, &place, out),
    }
}

/// Where the archive is: as the person said, or in the user's data folder.
pub(super) fn place(named: Option<&str>) -> Result<Place> {
    match named {
        Some(name) => Ok(Place::named(name)),
        None => Place::usual(),
    }
}

/// The records that were named, or those that the flags want, in the order they were made in.
fn wanted(archive: &mut Archive, named: &[Wanted], filter: &FilterArguments) -> Result<Vec<Dated>> {
    if named.is_empty() {
        return archive.names(&filter.filter(None));
    }
    let dated = |record: &Wanted| {
        let Summary { id, taken, .. } = archive.wanted(record)?;
        Ok(Dated { id, taken })
    };
    named.iter().map(dated).collect()
}

/// Shows how far long work is, where a person watches.
fn bar(of: usize, what: &str, out: &Out) -> ProgressBar {
    let target = match out.watched() {
        true => ProgressDrawTarget::stderr(),
        false => ProgressDrawTarget::hidden(),
    };
    let bar = ProgressBar::with_draw_target(Some(of as u64), target);
    let template = format!("{{wide_bar}} {{pos}} of {{len}} {what}, {{eta}} left");
    // A template that cannot be read would be our own mistake, and the plain one does as well.
    if let Ok(style) = ProgressStyle::with_template(&template) {
        bar.set_style(style);
    }
    bar
}

/// Opens an archive that is there, and says so when that brought its tables up to today.
fn open(place: &Place, out: &mut Out) -> Result<Archive> {
    let archive = Archive::open(place, crate::report::svg_by)?;
    tell_upgrade(&archive, out);
    Ok(archive)
}

/// Tells of an archive of which a record was changed or is missing, and no more.
fn tell_doubtful(archive: &mut Archive, out: &mut Out) -> Status {
    match archive.certain() {
        Ok(()) => Status::Clear,
        Err(error) => out.fail(&error),
    }
}

fn tell_upgrade(archive: &Archive, out: &mut Out) {
    if let Some(copy) = archive.copied_to() {
        let place = archive.place();
        out.note(&format!(
            "{place}: brought up to this version; as it was before, it lies in {copy}"
        ));
    }
}

fn back_up(arguments: &BackupArguments, place: &Place, out: &mut Out) -> Result<Status> {
    open(place, out)?.back_up(&arguments.file)?;
    let file = arguments.file.display().to_string();
    // Damage goes along: it is to be known on the day of the copy, and not when the copy is needed.
    let mut copy = Archive::open(&Place::File(arguments.file.clone()), crate::report::svg_by)?;
    let checked = check::all_of(&mut copy, out)?;
    if out.json() {
        out.object(&serde_json::json!({ "backup": file, "checked": checked }))?;
    } else {
        out.line(&format!("copied to {file}"))?;
        let several = copy.benches()?.len() > 1;
        out.text(&check::words(&checked, several))?;
    }
    if !checked.faults.is_empty() {
        return Ok(Status::NoVerdict);
    }
    Ok(Status::Clear)
}
