//! `manual`: prints a page of the manual, or what it says about a command, a key or an error.

use super::{Out, Status};
use crate::error::{Code, Error, Result};
use crate::manual::{self, KINDS, PAGES};
use anstyle::Style;
use clap::Args;
use serde_json::json;

/// Read the manual: a page, or what it says about a command, a key or an error code
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear manual                     list the pages
  heelclear manual tutorial            from nothing to a verdict, on a simulated bench
  heelclear manual check_distance_mm   what a key of a card means
  heelclear manual unknown-key         what an error code means")]
pub(super) struct Arguments {
    /// A page, or a word that has a heading in the reference
    page: Option<String>,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    match &arguments.page {
        Some(word) => print(word, out)?,
        None => list(out)?,
    }
    Ok(Status::Clear)
}

fn print(word: &str, out: &mut Out) -> Result<()> {
    let Some(text) = manual::page(word)
        .map(|page| page.text.to_owned())
        .or_else(|| manual::about(word))
    else {
        let message = format!("read `{word}`, expected a page or a word of the manual");
        return Err(Error::new(Code::Usage, message).help(nearest(word)));
    };
    if out.json() {
        return out.object(&json!({ "page": word, "text": text }));
    }
    for line in text.lines() {
        out.line(&set(line))?;
    }
    Ok(())
}

fn list(out: &mut Out) -> Result<()> {
    if out.json() {
        for page in PAGES {
            out.object(&json!({ "page": page.name, "kind": page.kind, "title": page.title() }))?;
        }
        return Ok(());
    }
    for kind in KINDS {
        out.line(&set(&format!("# {kind}")))?;
        for page in PAGES.iter().filter(|page| page.kind == *kind) {
            out.line(&format!("  {:28}{}", page.name, page.title()))?;
        }
    }
    Ok(())
}

/// Headings stand out where the terminal can; the text stays the Markdown that it is.
fn set(line: &str) -> String {
    const HEADING: Style = Style::new().bold();
    if line.starts_with('#') {
        format!("{HEADING}{line}{HEADING:#}")
    } else {
        line.to_owned()
    }
}

fn nearest(word: &str) -> String {
    let names = PAGES.iter().map(|page| page.name);
    let near = names
        .max_by(|a, b| strsim::jaro_winkler(word, a).total_cmp(&strsim::jaro_winkler(word, b)));
    let page = near.unwrap_or("tutorial");
    format!("the nearest page is `{page}`; `heelclear manual` lists all of them")
}
