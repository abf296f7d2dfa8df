//! `completions`: a script that lets a shell complete the command line.

use super::{Out, Status, command};
use crate::error::Result;
use clap::Args;
use clap_complete::Shell;
use serde_json::json;

/// Print a script that lets a shell complete commands and flags
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear completions bash > ~/.local/share/bash-completion/completions/heelclear
  heelclear completions zsh > ~/.zfunc/_heelclear
  heelclear completions fish > ~/.config/fish/completions/heelclear.fish")]
pub(super) struct Arguments {
    /// The shell
    shell: Shell,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut command(), "heelclear", &mut script);
    let script = String::from_utf8_lossy(&script);
    if out.json() {
        let shell = arguments.shell.to_string();
        out.object(&json!({ "shell": shell, "script": script }))?;
    } else {
        out.text(&script)?;
    }
    Ok(Status::Clear)
}
