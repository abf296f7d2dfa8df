//! `archive server-setup`: prepares the server of the shop, once and with each new version.

use super::super::{Out, Status};
use super::list::set;
use crate::error::Result;
use crate::record::archive::{OfRole, Place, ServerSetup, SetUp};
use clap::Args;
use serde_json::json;

/// Prepare a PostgreSQL server for a shared archive: print what makes its tables and roles, or run it
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive server-setup --bench bench1 --bench bench2 --reader office | psql tools
  heelclear archive server-setup postgres://ada@server/tools --run --bench bench3
  heelclear archive server-setup postgres://ada@server/tools --run            after a new version
  heelclear archive server-setup --bench bench2=grindroom-3f9a2c              whose bench that is

Without --run it prints SQL for any client, and changes nothing. It is run as the server's own user,
or as the owner of the database with the right to make roles, as often as wanted: what is as it
should be stays. A bench's role reads everything and adds records of its own; the server itself
refuses to let it change or remove any, its own ones too. Passwords are set in the server's client.")]
pub(super) struct Arguments {
    /// The server to run it on; --archive names it as well
    #[arg(value_name = "ADDRESS", requires = "run")]
    on: Option<String>,

    /// Run it, in place of printing it
    #[arg(long)]
    run: bool,

    /// The role that a bench logs in as, made where it is absent; with =BENCH, whose that bench is
    #[arg(long = "bench", value_name = "ROLE[=BENCH]")]
    benches: Vec<OfRole>,

    /// A role that reads everything, made where it is absent
    #[arg(long = "reader", value_name = "ROLE")]
    readers: Vec<String>,
}

pub(super) fn run(arguments: &Arguments, place: &Place, out: &mut Out) -> Result<Status> {
    let readers = arguments.readers.iter().map(|role| role.parse());
    let setup = ServerSetup {
        benches: arguments.benches.clone(),
        readers: readers.collect::<Result<_>>()?,
    };
    if arguments.run {
        let on = arguments.on.as_deref().map(Place::named);
        return run_on(&setup, on.as_ref().unwrap_or(place), out);
    }
    if out.json() {
        out.object(&json!({ "sql": setup.sql() }))?;
    } else {
        out.text(&setup.sql())?;
        out.note("nothing was changed: pipe this into a client of the server, or add `--run` and its address");
    }
    Ok(Status::Clear)
}

fn run_on(setup: &ServerSetup, on: &Place, out: &mut Out) -> Result<Status> {
    let set_up = setup.run(on)?;
    for remark in &set_up.remarks {
        out.note(remark);
    }
    if out.json() {
        let mut object = json!(set_up);
        object["server"] = json!(on.to_string());
        out.object(&object)?;
    } else {
        out.text(&words(&set_up, on))?;
    }
    let roles = setup.benches.iter().chain(&setup.readers);
    let commands: Vec<String> = roles
        .map(|of| format!("`{}`", of.password_command()))
        .collect();
    if !commands.is_empty() {
        out.note(&format!(
            "a new role has no password: set one in the server's own client, in psql with {}",
            commands.join(", ")
        ));
    }
    Ok(Status::Clear)
}

fn words(set_up: &SetUp, on: &Place) -> String {
    let mut text = format!("set up, tables of schema {}: {on}\n", set_up.schema);
    if set_up.benches.is_empty() {
        return text + "no bench has pushed yet\n";
    }
    let mut rows = vec![["bench", "records", "role"].map(str::to_owned)];
    rows.extend(set_up.benches.iter().map(|there| {
        let role = there.role.clone().unwrap_or_else(|| "-".to_owned());
        [there.bench.clone(), there.records.to_string(), role]
    }));
    text += &set(&rows);
    text
}
