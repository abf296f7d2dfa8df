//! `archive push`: copies what is new to the server of the shop.

use super::super::{Out, Status};
use crate::error::{Code, Error, Result};
use crate::record::archive::{Archive, Place, Pushed};
use clap::Args;
use serde_json::json;

/// Copy what is new to a shared archive on a PostgreSQL server
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive push postgres://bench2@server/tools            what is not there yet
  heelclear archive push postgres://bench2@server/tools --always   from now on each time
  heelclear archive push                                           to the same server again
  heelclear archive push --never                                   only when asked
  heelclear archive list --archive postgres://bench2@server/tools  of all benches

The bench's own file stays whole, so it works with the network down. Broken off at any moment, it
goes on from there. The password comes from PGPASSWORD. The connection is not encrypted: keep it
within the shop, or put it through a tunnel.")]
pub(super) struct Arguments {
    /// The server; the one that was named with --always when absent
    #[arg(value_name = "ADDRESS")]
    to: Option<String>,

    /// Copy from now on after each inspection that is kept
    #[arg(long, conflicts_with = "never")]
    always: bool,

    /// Copy only when asked
    #[arg(long, conflicts_with = "to")]
    never: bool,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    if arguments.never {
        archive.push_always(None)?;
        out.note(&format!("{place}: copied only when asked from now on"));
        return Ok(Status::Clear);
    }
    let to = match &arguments.to {
        Some(address) => Place::named(address),
        None => archive.pushes_to()?.ok_or_else(|| {
            Error::new(Code::Usage, "read no address, expected that of a server").help(
                "write it as `postgres://user@host/database`; with `--always` it is remembered",
            )
        })?,
    };
    if arguments.always {
        archive.push_always(Some(&to))?;
    }
    let pushed = push(&mut archive, &to, out)?;
    if out.json() {
        let unsure = pushed.unsure.iter();
        let unsure = unsure.map(|(id, standing)| {
            json!({ "bench": id.bench, "number": id.number, "standing": standing })
        });
        out.object(&json!({
            "to": to.to_string(),
            "new": pushed.new,
            "there": pushed.there,
            "unsure": unsure.collect::<Vec<_>>(),
        }))?;
    } else {
        out.line(&words(&pushed, &to))?;
    }
    Ok(Status::Clear)
}

/// After something was kept: copies it on where that was asked for. That a server is away is no
/// fault of what was kept.
pub(super) fn push_kept(archive: &mut Archive, out: &mut Out) {
    let pushed = archive.pushes_to().and_then(|to| match to {
        Some(to) => push(archive, &to, out).map(|pushed| Some(words(&pushed, &to))),
        None => Ok(None),
    });
    match pushed {
        Ok(Some(words)) => out.note(&words),
        Ok(None) => {}
        Err(error) => out.note(&format!(
            "kept here, but not copied to the server: {}; the next push takes it along",
            error.message()
        )),
    }
}

fn push(archive: &mut Archive, to: &Place, out: &mut Out) -> Result<Pushed> {
    let mut shared = Archive::shared(to, crate::report::svg_by)?;
    super::tell_upgrade(&shared, out);
    let bar = super::bar(0, "records", out);
    let pushed = archive.push(&mut shared, &mut |done, all| {
        bar.set_length(all);
        bar.set_position(done);
    });
    bar.finish_and_clear();
    for (id, standing) in pushed.iter().flat_map(|pushed| &pushed.unsure) {
        let remark = standing.remark().unwrap_or_default();
        out.note(&format!(
            "copied all the same: the verdict of record {id} is {remark}"
        ));
    }
    pushed
}

fn words(pushed: &Pushed, to: &Place) -> String {
    format!(
        "{} copied, {} there already: {to}",
        pushed.new, pushed.there
    )
}
