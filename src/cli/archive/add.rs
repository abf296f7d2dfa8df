//! `archive add`: takes folders into the archive.

use super::super::{Out, Status, names, wildcards};
use super::keep::{Keeper, Kept};
use super::push::push_kept;
use super::vouch;
use crate::error::{Code, Error, Result};
use crate::record::archive::{Added, Contents, Correction, Place, Summary, Wanted};
use clap::Args;
use std::path::{Path, PathBuf};

/// Take inspection folders into the archive, each whole or not at all
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive add bench/VB-07               one folder
  heelclear archive add bench/*/ --json           all folders in bench, one object a line
  heelclear archive add mended --replaces 12 --why \"wrong gauge card\"
  heelclear archive add bench/*/ --as-judged      without judging them again: quick, and marked

Every file goes in byte for byte. The same files twice are one record. Cards and traces that are
there under another verdict are kept as a new record in place of the earlier one. A verdict that
does not follow from the cards and traces beside it is refused: it was judged from others, or edited
since. A folder that
cannot be read does not stop the others, and the exit status is 2.")]
pub(super) struct Arguments {
    /// Inspection folders
    #[arg(required = true, value_name = "DIR")]
    folders: Vec<PathBuf>,

    /// The record that this folder is put in the place of; that one stays, and is marked
    #[arg(long, value_name = "RECORD", requires = "why", add = names::records())]
    replaces: Option<Wanted>,

    /// Why it is
    #[arg(long, value_name = "TEXT", requires = "replaces")]
    why: Option<String>,

    #[command(flatten)]
    judging: vouch::Judging,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut keeper = Keeper::open(place, out)?;
    let correction = match (&arguments.replaces, &arguments.why) {
        (Some(wanted), Some(why)) => {
            let replaced = keeper.archive().wanted(wanted)?;
            let correction = Correction {
                replaces: replaced.content,
                why: why.clone(),
            };
            Some((replaced, correction))
        }
        _ => None,
    };
    let read = |folder: &Path| {
        let contents = vouch::read(folder, arguments.judging)?;
        Ok(match &correction {
            Some((replaced, _)) if replaced.tool != contents.tool() => {
                return Err(another_tool(replaced, contents.tool()));
            }
            Some((_, correction)) => contents.in_place_of(correction.clone()),
            None => contents,
        })
    };
    let folders = wildcards::folders(&arguments.folders)?;
    take_in(&mut keeper, &folders, read, out)
}

/// A correction is of the tool that was measured: another's record would be gone from its own.
fn another_tool(replaced: &Summary, tool: &str) -> Error {
    let message = format!(
        "record {} is of `{}`, and this folder is of `{tool}`",
        replaced.id, replaced.tool
    );
    Error::new(Code::Usage, message).help("name a record of the same tool with `--replaces`")
}

/// Keeps the folders and says what became of each, and of all.
pub(super) fn take_in(
    keeper: &mut Keeper,
    folders: &[PathBuf],
    read: impl Fn(&Path) -> Result<Contents> + Sync,
    out: &mut Out,
) -> Result<Status> {
    let bar = super::bar(folders.len(), "folders", out);
    let (mut new, mut refused) = (0_usize, 0_usize);
    let mut told = 0;
    let kept = keeper.keep_all(folders, read, &mut |kept: Kept| {
        told += 1;
        bar.inc(1);
        bar.suspend(|| match &kept.came_to {
            Err(error) => {
                refused += 1;
                out.fail(error);
                Ok(())
            }
            Ok(added) => {
                new += usize::from(matches!(added, Added::New(_)));
                match out.json() {
                    true => out.object(&kept.object(added)),
                    false => out.line(&kept.line()?),
                }
            }
        })
    });
    bar.finish_and_clear();
    if let Err(error) = kept {
        let left = folders.len() - told;
        out.note(&format!(
            "{new} of {} folders were kept; {left} were not looked at or not kept: add them again once this is mended",
            folders.len()
        ));
        return Err(error);
    }
    if folders.len() > 1 {
        let there = told - new - refused;
        out.note(&format!(
            "{new} kept, {there} there already, {refused} refused: {}",
            keeper.archive().place()
        ));
    }
    push_kept(keeper.archive(), out);
    Ok(match refused {
        0 => Status::Clear,
        _ => Status::NoVerdict,
    })
}
