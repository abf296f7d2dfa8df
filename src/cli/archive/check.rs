//! `archive check`: is every record as it was made?

use super::super::{Out, Status};
use super::vouch::vouch;
use crate::error::{Code, Error, Result, reason};
use crate::record::archive::{
    Archive, Checked, Digest, Fault, Filter, Found, Held, HeldAs, KEPT_AS_JUDGED, Place, RecordId,
    Stored, regular,
};
use clap::Args;
use rayon::prelude::*;
use serde_json::json;

/// Check every record, file, digest and link of the chain; name what is broken, missing or out of order
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive check                      the exit status is 0 where all is whole, else 2
  heelclear archive check --archive copy.db    is the backup good?
  heelclear archive check --rejudge            does every verdict follow from its cards and traces?
  heelclear archive check --held book.txt      is every digest in my book still in it?
  heelclear archive check --held 12.svg        is the record of this certificate still as it was?
  heelclear archive check --json               one object, for scripts

A chain shows what was changed before its end. It cannot show by itself that the last records were
taken out, or that the whole of it was worked out anew: write down the digest that it ends in, or
keep the certificates, and hold them against it with --held.")]
pub(super) struct Arguments {
    /// Judge the cards and traces of every record again, and name each verdict that does not follow
    /// from them: it was edited, or this program judges otherwise than the one that made it
    #[arg(long)]
    rejudge: bool,

    /// A digest that you hold, 64 hexadecimal digits, or a file with some, as a certificate or a book
    /// has them: each has to be in the archive. May be given several times
    #[arg(long, value_name = "DIGEST|FILE")]
    held: Vec<String>,
}

/// So many records are in memory at once.
const BATCH: usize = 32;

/// A record whose verdict does not follow from its cards and traces, and why.
type Unfounded = (RecordId, Error);

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let held = digests(&arguments.held)?;
    let mut archive = super::open(place, out).map_err(beyond_checking)?;
    let checked = all_of(&mut archive, out)?;
    let unfounded = match arguments.rejudge {
        true => Some(unfounded(&mut archive, out)?),
        false => None,
    };
    let held = archive.held(&held)?;
    let several = archive.benches()?.len() > 1;
    if out.json() {
        out.object(&object(&checked, unfounded.as_deref(), &held))?;
    } else {
        out.text(&words(&checked, several))?;
        if let Some(unfounded) = &unfounded {
            out.text(&words_of(unfounded, several))?;
        }
        out.text(&words_of_held(&held, &checked))?;
    }
    let held = held.iter().all(|it| it.found.is_some());
    let sound =
        held && checked.faults.is_empty() && unfounded.is_none_or(|unfounded| unfounded.is_empty());
    Ok(match sound {
        true => Status::Clear,
        false => Status::NoVerdict,
    })
}

/// Checks everything, and shows a person how far it is.
pub(super) fn all_of(archive: &mut Archive, out: &Out) -> Result<Checked> {
    let bar = super::bar(0, "records", out);
    let checked = archive.check(&mut |done, all| {
        bar.set_length(all);
        bar.set_position(done);
    });
    bar.finish_and_clear();
    checked.map_err(beyond_checking)
}

/// The digests that a person holds, as they are given or in files.
fn digests(held: &[String]) -> Result<Vec<Digest>> {
    let mut digests = Vec::new();
    for named in held {
        if let [digest] = Digest::all_in(named)[..] {
            digests.push(digest);
            continue;
        }
        let text = regular::text(named.as_ref()).map_err(|fault| {
            let message = format!("no digest, and no file to read: {}", reason(&fault));
            Error::new(Code::Usage, message)
                .in_file(named)
                .help("give 64 hexadecimal digits as `archive check` prints them, or a file that holds such")
        })?;
        let found = match text.contains("<svg") {
            true => on_certificate(&text),
            false => Digest::all_in(&text),
        };
        if found.is_empty() {
            return Err(Error::new(Code::Usage, "found no digest in it")
                .in_file(named)
                .help("expected 64 hexadecimal digits, unbroken, as `archive check` and certificates print them"));
        }
        digests.extend(found);
    }
    let mut seen = std::collections::HashSet::new();
    digests.retain(|digest| seen.insert(*digest));
    Ok(digests)
}

/// The digests of a certificate that are of its record: it has that of what was judged, too, which
/// stands in the verdict.
fn on_certificate(svg: &str) -> Vec<Digest> {
    let behind = |word: &str| {
        let parts = svg.split(word).skip(1);
        let digests = parts.filter_map(|part| Digest::all_in(part.get(..64)?).pop());
        digests.collect::<Vec<Digest>>()
    };
    [behind("Content "), behind("chain ")].concat()
}

/// What is damaged so far that it cannot be checked is not mended by checking it.
fn beyond_checking(error: Error) -> Error {
    match error.code() {
        Code::ArchiveBroken => error.help(
            "put a backup in its place, or take exported folders into a new archive: `heelclear archive import DIR --archive NEW`; keep this file, something may be had from it yet",
        ),
        _ => error,
    }
}

/// The records whose verdicts do not follow from their cards and traces, judged on all cores.
fn unfounded(archive: &mut Archive, out: &Out) -> Result<Vec<Unfounded>> {
    let all = archive.names(&Filter {
        replaced: true,
        ..Filter::default()
    })?;
    let bar = super::bar(all.len(), "records judged again", out);
    let mut unfounded = Vec::new();
    for batch in all.chunks(BATCH) {
        // What cannot be loaded is among the faults already.
        let loaded: Vec<Stored> = batch
            .iter()
            .filter_map(|it| archive.load(&it.id).ok())
            .collect();
        let held: Vec<Option<Unfounded>> = loaded
            .into_par_iter()
            .map(|stored| {
                let error = vouch(&stored.files, "").err()?;
                Some((stored.summary.id, error))
            })
            .collect();
        unfounded.extend(held.into_iter().flatten());
        bar.inc(batch.len() as u64);
    }
    bar.finish_and_clear();
    Ok(unfounded)
}

fn object(checked: &Checked, unfounded: Option<&[Unfounded]>, held: &[Held]) -> serde_json::Value {
    let mut object = json!(checked);
    if !held.is_empty() {
        object["held"] = json!(held);
    }
    if let Some(unfounded) = unfounded {
        let each = unfounded.iter().map(|(id, error)| {
            json!({ "bench": id.bench, "number": id.number, "found": error.message() })
        });
        object["unfounded"] = each.collect();
    }
    object
}

fn words_of_held(held: &[Held], checked: &Checked) -> String {
    let mut text = String::new();
    // A digest that stands there proves nothing of what is not tied to it any more.
    let sound = |id: &RecordId| {
        let mut faults = checked.faults.iter();
        !faults.any(|fault| {
            fault.bench.as_ref().is_none_or(|bench| *bench == id.bench)
                && fault.number.is_none_or(|number| number <= id.number)
        })
    };
    for Held { digest, found } in held {
        let said = match found {
            None => "NOT IN THE ARCHIVE: its record was taken out or changed, the chain was worked out anew, or it is of another archive".to_owned(),
            Some(Found { id, held_as }) => match held_as {
                HeldAs::Chain if !sound(id) => {
                    format!("stands at record {id}; what is broken up to there is named above")
                }
                HeldAs::Chain => format!("record {id} and all before it are as they were"),
                HeldAs::Content => format!("the files of record {id}; of those before it this says nothing"),
                HeldAs::Beginning => format!("the beginning of {}: it says nothing of a record", id.bench),
            },
        };
        text += &format!("  held {}: {said}\n", digest.short());
    }
    text
}

fn words_of(unfounded: &[Unfounded], several: bool) -> String {
    let mut text = match unfounded.len() {
        0 => "judged again: every verdict follows from its cards and traces\n".to_owned(),
        1 => "judged again: 1 verdict does not follow from its cards and traces\n".to_owned(),
        more => {
            format!("judged again: {more} verdicts do not follow from their cards and traces\n")
        }
    };
    for (id, error) in unfounded {
        text += &format!("  record {}: {}\n", id.short(several), error.message());
    }
    if !unfounded.is_empty() {
        text += "  `heelclear archive rejudge` shows which figures moved, and why; to keep a new verdict, export the record, judge the folder, and add it\n";
    }
    text
}

/// What a check came to, as a person reads it.
pub(super) fn words(checked: &Checked, several: bool) -> String {
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
    let marked = [
        (
            "not tied to its evidence by the program that judged it",
            &checked.not_tied,
        ),
        (KEPT_AS_JUDGED, &checked.as_judged),
    ];
    for (said, records) in marked {
        if !records.is_empty() {
            let names: Vec<String> = records.iter().map(|id| id.short(several)).collect();
            text += &format!("  {said}: the verdict of {}\n", listed(&names));
        }
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

/// The first few names, and how many more there are.
fn listed(names: &[String]) -> String {
    const NAMED: usize = 12;
    let shown = names.iter().take(NAMED).cloned().collect::<Vec<_>>();
    match names.len().saturating_sub(NAMED) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}
