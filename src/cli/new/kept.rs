//! A card to start from, read back, written where it was asked for, and what is left to do with it.

use crate::card::starter::Starter;
use crate::cli::style::Units;
use crate::cli::{Out, Status};
use crate::error::{Code, Error, Result};
use crate::inspection::{write_new, write_whole};
use clap::Args;
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

/// Where a card goes, and how.
#[derive(Args)]
pub(super) struct Where {
    /// The file to write, `-` for stdout; in the current folder, named after the kind, when absent
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write over a file that is there
    #[arg(long)]
    force: bool,
    /// Unit of the lengths on the card
    #[arg(long, value_enum, default_value_t = Units::Mm)]
    pub(super) units: Units,
}

/// A card that is ready to be written.
pub(super) struct Made<'a> {
    /// `tool`, as the command has it.
    pub(super) kind: &'static str,
    pub(super) starter: Starter,
    /// Reads the card back as every command does.
    pub(super) read: &'a dyn Fn(&str, &str) -> Result<()>,
    /// Lines of the result behind the file's name.
    pub(super) lines: Vec<String>,
    /// What else its JSON has.
    pub(super) object: Map<String, Value>,
}

impl Where {
    pub(super) fn keep(&self, made: Made<'_>, out: &mut Out) -> Result<Status> {
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
            // A device or a pipe would be replaced by a file.
            if file.exists() && !file.is_file() {
                let message = "found no regular file of that name, expected one or none";
                return Err(Error::new(Code::Usage, message)
                    .in_path(file)
                    .help("name another with `--out FILE`; `-` is stdout"));
            }
            return write_whole(file, bytes);
        }
        if write_new(file, bytes)? {
            return Ok(());
        }
        let message = "found it there already, expected the name of a new file";
        Err(Error::new(Code::Usage, message)
            .in_path(file)
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
