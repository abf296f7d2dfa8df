//! Help texts, and the answer to a command line that cannot be understood.

use super::{Out, Status};
use crate::error::{Code, Error, Result};
use crate::record::archive::Place;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use std::ffi::OsString;

/// What stands below the list of commands.
pub(super) const PROGRAM: &str = "\
Examples:
  heelclear demo                      the whole job on a simulated gauge
  heelclear verify bench/VB-07        judge a folder, write verdict.json and report.svg
  heelclear verify bench/*/ --json    one verdict a line, for scripts
  heelclear manual tutorial           read the manual
  heelclear manual guard band         look up any words in it

Exit status: 0 every verdict is pass, 1 at least one fail, 2 no verdict, 3 at least one undecided.
Ground edges cut: stop the wheel and lock the tool before a probe goes near it.";

/// Prints help that was asked for; anything else is an error.
pub(super) fn answer(
    refusal: &clap::Error,
    arguments: &[OsString],
    out: &mut Out,
) -> Result<Status> {
    match refusal.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            out.styled(&refusal.render().ansi().to_string())?;
            Ok(Status::Clear)
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            out.styled_note(&refusal.render().ansi().to_string());
            Err(Error::new(
                Code::Usage,
                "read no command, expected one of those above",
            ))
        }
        _ => {
            let rendered = refusal.render().to_string();
            Err(refused(&without_secrets(rendered, arguments)))
        }
    }
}

/// The parser repeats what it did not understand; of a server's address that may be a password.
fn without_secrets(mut rendered: String, arguments: &[OsString]) -> String {
    for argument in arguments.iter().filter_map(|argument| argument.to_str()) {
        let value = argument.split_once('=').map(|(_, value)| value);
        for said in [Some(argument), value].into_iter().flatten() {
            if let place @ Place::Server(_) = Place::named(said) {
                rendered = rendered.replace(said, &place.to_string());
            }
        }
    }
    rendered
}

/// The command line with `--help` in place of the bare word, where that was asked for a command:
/// `help`, `help verify`, `archive help add`.
pub(super) fn help_asked_for(
    refusal: &clap::Error,
    arguments: &[OsString],
) -> Option<Vec<OsString>> {
    const WORD: &str = "help";
    let unknown = refusal.get(ContextKind::InvalidSubcommand);
    if unknown != Some(&ContextValue::String(WORD.to_owned())) {
        return None;
    }
    let at = arguments.iter().position(|argument| argument == WORD)?;
    let mut asked = arguments.to_vec();
    asked.remove(at);
    asked.push("--help".into());
    Some(asked)
}

/// The parser's words as an error of ours: what is wrong first, what to do behind it.
fn refused(rendered: &str) -> Error {
    let words = rendered.replace('\'', "`");
    let mut parts = words.split("\n\n").map(one_line);
    let first = parts.next().unwrap_or_default();
    let message = first.strip_prefix("error: ").unwrap_or(&first).to_owned();
    let advice: Vec<String> = parts
        .filter(|part| !part.is_empty() && !part.starts_with("For more information"))
        .map(|part| {
            part.trim_start_matches("tip: ")
                .replace("Usage: ", "usage: ")
        })
        .collect();
    let help = if advice.is_empty() {
        "`--help` shows what is possible".to_owned()
    } else {
        format!("{}; `--help` shows more", advice.join("; "))
    };
    Error::new(Code::Usage, message).help(help)
}

fn one_line(paragraph: &str) -> String {
    paragraph.split_whitespace().collect::<Vec<_>>().join(" ")
}
