//! `archive check`: is every record as it was made?

use super::super::{Out, Status};
use crate::error::Result;
use crate::record::archive::{Checked, Fault, Place};
use clap::Args;

/// Check every record, file, digest and link of the chain; name what is broken, missing or out of order
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive check                      the exit status is 0 where all is whole, else 2
  heelclear archive check --archive copy.db    is the backup good?
  heelclear archive check --json               one object, for scripts

Whoever can write to the file could make a whole new chain. Write down the digest that the chain
ends in, or keep a copy elsewhere: with it, that can be seen too.")]
pub(super) struct Arguments {}

pub(super) fn run(_: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let bar = super::bar(0, "records", out);
    let checked = archive.check(&mut |done, all| {
        bar.set_length(all);
        bar.set_position(done);
    });
    bar.finish_and_clear();
    let checked = checked?;
    if out.json() {
        out.object(&checked)?;
    } else {
        out.text(&words(&checked))?;
    }
    Ok(match checked.faults.is_empty() {
        true => Status::Clear,
        false => Status::NoVerdict,
    })
}

fn words(checked: &Checked) -> String {
    let (records, files) = (checked.records, checked.files);
    let mut text = match checked.faults.len() {
        0 => format!("whole: {records} records, {files} files\n"),
        1 => format!("1 fault in {records} records, {files} files\n"),
        faults => format!("{faults} faults in {records} records, {files} files\n"),
    };
    for Fault {
        bench,
        number,
        found,
    } in &checked.faults
    {
        text += &match (bench, number) {
            (Some(bench), Some(number)) => format!("  record {bench}/{number}: {found}\n"),
            (Some(bench), None) => format!("  bench {bench}: {found}\n"),
            _ => format!("  the file itself: {found}\n"),
        };
    }
    for head in &checked.heads {
        text += &format!("  the chain of {} ends in {}\n", head.id, head.chain);
    }
    let of_records = checked.faults.iter().any(|fault| fault.bench.is_some());
    text += match (checked.faults.is_empty(), of_records) {
        (true, _) => "",
        (false, true) => {
            "  what is not named is whole; a backup or an exported folder brings the rest back\n"
        }
        (false, false) => {
            "  every record is whole: `heelclear archive backup FILE` makes a sound file of them\n"
        }
    };
    text
}
