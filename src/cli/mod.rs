//! The command line: one file a command.

mod archive;
mod bench;
mod capture;
mod care;
mod completions;
mod demo;
mod emphasis;
mod judge;
mod keep_motion;
mod learn;
mod manual;
mod names;
mod new;
mod out;
mod ports;
mod progress;
mod ready;
pub mod screen;
mod set_up;
mod setting;
mod simulate;
mod status;
mod study;
mod style;
mod typed;
mod usage;
mod verify;
mod whole_job;
mod wildcards;

pub use out::Out;
pub use status::Status;

use crate::error::Result;
use clap::{CommandFactory, Parser, Subcommand};
use std::ffi::OsString;
use std::process::ExitCode;

/// Runs the program with these arguments, the program's name first, and says how it ended.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    if let Some(status) = completions::answer(&arguments) {
        return status.into();
    }
    let arguments = setting::lists_in_one(arguments);
    // A command line that cannot be understood is answered in the form it asked for.
    let json = arguments.iter().any(|argument| argument == "--json");
    let mut out = Out::new(json);
    let parsed = Program::try_parse_from(&arguments).or_else(|refusal| {
        let asked = usage::help_asked_for(&refusal, &arguments);
        Program::try_parse_from(asked.ok_or(refusal)?)
    });
    let ended = match parsed {
        Ok(program) => program.command.run(&mut out),
        Err(refusal) => usage::answer(&refusal, &arguments, &mut out),
    };
    let status = ended.unwrap_or_else(|error| out.fail(&error));
    status.into()
}

/// The program as a description of its command line, for completions and for tests of the manual.
pub fn command() -> clap::Command {
    Program::command()
}

/// Proves, with numbers that can be trusted, that a reground cutting tool will cut and not rub.
#[derive(Parser)]
#[command(
    name = "heelclear",
    version,
    max_term_width = 100,
    after_help = usage::PROGRAM,
    disable_help_subcommand = true
)]
struct Program {
    /// Print results, and errors, as JSON: one object a line on stdout
    #[arg(long, global = true)]
    json: bool,

    #[command(subcommand)]
    command: Command,
}

/// The commands in the order of the help, and the module of each.
macro_rules! commands {
    ($($command:ident: $module:ident),+ $(,)?) => {
        #[derive(Subcommand)]
        enum Command {
            $($command(Box<$module::Arguments>)),+
        }

        impl Command {
            fn run(&self, out: &mut Out) -> Result<Status> {
                match self {
                    $(Command::$command(arguments) => $module::run(arguments, out)),+
                }
            }
        }
    };
}

commands! {
    Demo: demo,
    Bench: bench,
    New: new,
    Capture: capture,
    Verify: verify,
    Judge: judge,
    Archive: archive,
    Ready: ready,
    Ports: ports,
    Simulate: simulate,
    Setting: setting,
    Study: study,
    Completions: completions,
    Manual: manual,
}
