//! `new`: cards to start from, what is known of them filled in.

mod gauge;
mod grinder;
mod inspection;
mod quantities;
mod tool;

use super::style::Units;
use super::{Out, Status};
use crate::card::starter::Starter;
use crate::error::{Code, Error, Result};
use crate::inspection::{write_new, write_whole};
use clap::{Args, Subcommand};
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

/// Write a card to start from: of a tool, a gauge, a grinder or an inspection
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear new tool                                  a template, every key explained
  heelclear new tool --id VB-07 --name 'seat counterbore' --diameter 20 --flutes 2 --material steel
  heelclear new tool --id VB-31 --steps '6 to 20 by 2' --chamfer 45 --flutes 1
  heelclear new gauge --resolution 0.001 --tip-radius 1 --counts 4000
  heelclear new grinder --name 'grinder by the window' --wheel-diameter 150 --marked 35m/s
  heelclear new inspection --tool tool.toml --reference 90:20 --step-length 8

Nothing is asked, and no file is written over without --force. Every key that a card may have is in
it, with what it means; those that nobody stated are left out by a `#`, or hold an example that is
marked TO FILL IN. A figure of the trade has its source beside it.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    wanted: Wanted,
}

#[derive(Subcommand)]
enum Wanted {
    Tool(Box<tool::Tool>),
    Gauge(Box<gauge::Gauge>),
    Grinder(Box<grinder::Grinder>),
    Inspection(Box<inspection::Inspection>),
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    match &arguments.wanted {
        Wanted::Tool(wanted) => wanted.run(out),
        Wanted::Gauge(wanted) => wanted.run(out),
        Wanted::Grinder(wanted) => wanted.run(out),
        Wanted::Inspection(wanted) => wanted.run(out),
    }
}

/// Where a card goes, and how.
#[derive(Args)]
struct Where {
    /// The file to write, `-` for stdout; in the current folder, named after the kind, when absent
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write over a file that is there
    #[arg(long)]
    force: bool,
    /// Unit of the lengths on the card
    #[arg(long, value_enum, default_value_t = Units::Mm)]
    units: Units,
}

/// A card that is ready to be written.
struct Made<'a> {
    /// `tool`, as the command has it.
    kind: &'static str,
    starter: Starter,
    /// Reads the card back as every command does.
    read: &'a dyn Fn(&str, &str) -> Result<()>,
    /// Lines of the result behind the file's name.
    lines: Vec<String>,
    /// What else its JSON has.
    object: Map<String, Value>,
}

impl Where {
    fn keep(&self, made: Made<'_>, out: &mut Out) -> Result<Status> {
        let usual = format!("{}.toml", made.kind);
        // What the reader refuses is never written, whatever the flags made of it.
        (made.read)(&made.starter.text, &format!("{usual}, as it would be"))?;
        let file = self.out.clone().unwrap_or_else(|| PathBuf::from(&usual));
        let to_stdout = file == Path::new("-");
        if !to_stdout {
            self.write(&file, made.starter.text.as_bytes())?;
        }
        if out.json() {
            let mut object = made.object;
            let name = (!to_stdout).then(|| file.display().to_string());
            object.insert("new".to_owned(), json!(made.kind));
            object.insert("file".to_owned(), json!(name));
            object.insert("text".to_owned(), json!(made.starter.text));
            object.insert("to_fill_in".to_owned(), json!(made.starter.to_fill_in));
            object.insert("from_sources".to_owned(), json!(made.starter.from_sources));
            out.object(&object)?;
        } else if to_stdout {
            out.text(&made.starter.text)?;
            // What stands on stdout is the card and nothing else, so that it can go into a file.
            made.lines.iter().for_each(|line| out.note(line));
        } else {
            out.line(&file.display().to_string())?;
            for line in &made.lines {
                out.line(line)?;
            }
        }
        tell(&made.starter, out);
        Ok(Status::Clear)
    }

    fn write(&self, file: &Path, bytes: &[u8]) -> Result<()> {
        if self.force {
            return write_whole(file, bytes);
        }
        if write_new(file, bytes)? {
            return Ok(());
        }
        let message = "found it there already, expected the name of a new file";
        Err(Error::new(Code::Usage, message)
            .in_file(file.display().to_string())
            .help("name another with `--out FILE`, or write over it with `--force`"))
    }
}

/// What a person has to look at before the card holds for anything.
fn tell(starter: &Starter, out: &mut Out) {
    let mut note = |beginning: &str, keys: &[String]| {
        if !keys.is_empty() {
            let text = format!("{beginning}: {}", told(keys));
            let columns = out.columns().unwrap_or(100).clamp(40, 100);
            out.note(&textwrap::fill(&text, columns));
        }
    };
    note(
        "to fill in, since only examples stand there",
        &starter.to_fill_in,
    );
    note(
        "from a published source that the line names; the drawing and the certificate go before it",
        &starter.from_sources,
    );
}

/// Keys in backticks, with how often each stands there.
fn told(keys: &[String]) -> String {
    let mut counted: Vec<(&str, usize)> = Vec::new();
    for key in keys {
        match counted.iter_mut().find(|(known, _)| known == key) {
            Some((_, times)) => *times += 1,
            None => counted.push((key, 1)),
        }
    }
    let told = counted.iter().map(|(key, times)| match times {
        1 => format!("`{key}`"),
        _ => format!("`{key}` ({times} times)"),
    });
    told.collect::<Vec<_>>().join(", ")
}
