//! `completions`: a script that lets a shell complete the command line, and what it is answered.

use super::{Out, Status, command};
use crate::error::{Code, Error, Result};
use clap::Args;
use clap::builder::PossibleValuesParser;
use clap_complete::env::{CompleteEnv, Shells};
use serde_json::json;
use std::ffi::OsString;

/// What the script sets where it asks for completions.
const ASKED: &str = "HEELCLEAR_COMPLETE";
const NAME: &str = "heelclear";

/// Print a script that lets a shell complete commands, flags, and the names of tools and records
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear completions bash > ~/.local/share/bash-completion/completions/heelclear
  heelclear completions zsh > ~/.zfunc/_heelclear
  heelclear completions fish > ~/.config/fish/completions/heelclear.fish

The script asks the program itself, so that what is in your archive is completed too.")]
pub(super) struct Arguments {
    /// The shell
    #[arg(value_parser = PossibleValuesParser::new(Shells::builtins().names()))]
    shell: String,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let shells = Shells::builtins();
    let shell = shells.completer(&arguments.shell);
    let mut script = Vec::new();
    shell
        .ok_or_else(|| Error::new(Code::Usage, "read the name of no shell, expected one"))?
        .write_registration(ASKED, NAME, NAME, NAME, &mut script)
        .map_err(|fault| Error::internal("cannot write the script", fault))?;
    let script = String::from_utf8_lossy(&script);
    if out.json() {
        out.object(&json!({ "shell": arguments.shell, "script": script }))?;
    } else {
        out.text(&script)?;
    }
    Ok(Status::Clear)
}

/// Answers a shell that asks what could stand next; `None` where none does.
pub(super) fn answer(arguments: &[OsString]) -> Option<Status> {
    let here = std::env::current_dir().ok();
    let asked = CompleteEnv::with_factory(command)
        .var(ASKED)
        .bin(NAME)
        .completer(NAME)
        .try_complete(arguments.iter().cloned(), here.as_deref());
    match asked {
        Ok(false) => None,
        Ok(true) => Some(Status::Clear),
        // A shell that asks in another way is told nothing, and completes files.
        Err(_) => Some(Status::NoVerdict),
    }
}
