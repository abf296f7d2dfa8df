//! `manual`: a page of the manual, what it says about a word, or where it says something.

mod set;

use super::{Out, Status, names};
use crate::error::{Code, Error, Result};
use crate::inspection::write_whole;
use crate::manual::{self, KINDS, PAGES, Page, Place};
use crate::report;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;

/// So many places are shown of a search, and so many below what was found outright.
const SHOWN: usize = 8;
const BESIDE: usize = 4;
/// How long a quoted piece of a line may be.
const PIECE: usize = 90;

/// Read the manual: a page, what it says about a word, or where it says something
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear manual                     list the pages
  heelclear manual tutorial            from nothing to a verdict, on a simulated bench
  heelclear manual check_distance_mm   what a key of a card means
  heelclear manual unknown-key         what an error code means
  heelclear manual guard band          what a word of the trade means, and where more stands
  heelclear manual restore a backup    any words: the places that say most about them
  heelclear manual uncertainty:20      the section that line 20 of a page is in
  heelclear manual --picture tooth --out tooth.svg")]
pub(super) struct Arguments {
    /// A page, a page and a line, or any words
    #[arg(value_name = "WORDS", add = names::pages())]
    words: Vec<String>,

    /// Print a picture of the manual, as SVG
    #[arg(long, value_name = "NAME", conflicts_with = "words", add = names::pictures())]
    picture: Option<String>,

    /// Where the picture goes; stdout when absent
    #[arg(long, value_name = "FILE", requires = "picture")]
    out: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let words = arguments.words.join(" ");
    match &arguments.picture {
        Some(name) => picture(name, arguments.out.as_deref(), out)?,
        None if words.trim().is_empty() => list(out)?,
        None => answer(words.trim(), out)?,
    }
    Ok(Status::Clear)
}

/// The most that is known: the page of this name, the section of a line, what the reference has
/// under this word, what means the same, or else the places that have these words.
fn answer(words: &str, out: &mut Out) -> Result<()> {
    if let Some(page) = manual::page(words) {
        return print(words, page.text, &beside(words, page.text, &[*page]), out);
    }
    if let Some((page, line)) = page_and_line(words) {
        let (_, text) = manual::section(page, line);
        return print(words, text, &[], out);
    }
    let meant = manual::meant(words);
    if let Some(mut text) = manual::about(words) {
        let more = meant.iter().filter(|place| !text.contains(place.text));
        let more: String = more.map(|place| told(place, meant.len() + 1)).collect();
        text = format!("{}\n\n{more}", text.trim_end());
        return print(words, text.trim_end(), &beside(words, &text, &[]), out);
    }
    if !meant.is_empty() {
        return led(words, &meant, out);
    }
    let found = manual::search(words, SHOWN);
    if found.is_empty() {
        return Err(nothing(words));
    }
    show(words, &found, out)
}

/// Sections that another word leads to.
fn led(words: &str, meant: &[Place], out: &mut Out) -> Result<()> {
    let pages: Vec<Page> = meant.iter().map(|place| *place.page).collect();
    let text: String = meant.iter().map(|place| told(place, meant.len())).collect();
    print(words, text.trim_end(), &beside(words, &text, &pages), out)
}

/// A section with where it stands. A page is told whole where nothing else is told, and else where
/// to read it.
fn told(place: &Place, among: usize) -> String {
    let (line, section) = place.section();
    let name = place.page.name;
    match (line, among) {
        (1, 1) => format!("(page `{name}`)\n{}\n\n", place.page.text.trim_end()),
        (1, _) => format!(
            "# {}\n\nThe page `{name}`: `heelclear manual {name}`\n\n",
            place.page.title()
        ),
        _ => format!("(page `{name}`, line {line})\n{}\n\n", section.trim_end()),
    }
}

/// Other places that say something about these words.
fn beside(words: &str, told: &str, known: &[Page]) -> Vec<Place> {
    let mut found = manual::search(words, SHOWN + BESIDE);
    found.retain(|place| {
        let there = known.contains(place.page) || told.contains(place.section().1.trim_end());
        !there && place.page.kind != "changes"
    });
    found.truncate(BESIDE);
    found
}

fn page_and_line(words: &str) -> Option<(&'static Page, usize)> {
    let (name, line) = words.rsplit_once(':')?;
    Some((manual::page(name)?, line.parse().ok()?))
}

fn print(word: &str, text: &str, beside: &[Place], out: &mut Out) -> Result<()> {
    if out.json() {
        let also: Vec<Value> = beside.iter().map(|place| object(place, word)).collect();
        return out.object(&json!({ "page": word, "text": text, "also": also }));
    }
    out.styled(&set::page(text, out.columns()))?;
    if !beside.is_empty() {
        out.line("")?;
        out.styled(&format!("{}\n", set::heading("See also")))?;
        for place in beside {
            out.styled(&set::place(place, word, PIECE, out.columns()))?;
        }
    }
    Ok(())
}

fn show(words: &str, found: &[Place], out: &mut Out) -> Result<()> {
    if out.json() {
        for place in found {
            out.object(&object(place, words))?;
        }
        return Ok(());
    }
    for place in found {
        out.styled(&set::place(place, words, PIECE, out.columns()))?;
    }
    for word in words.split_whitespace().filter(|word| !manual::has(word)) {
        out.note(&format!("`{word}` is not in the manual{}", alike(word)));
    }
    let first = found.first();
    if let Some(Place { page, line, .. }) = first {
        out.note(&format!(
            "read one with `heelclear manual {}:{line}`, or its whole page without the number",
            page.name
        ));
    }
    Ok(())
}

fn object(place: &Place, words: &str) -> Value {
    json!({
        "page": place.page.name,
        "line": place.line,
        "heading": place.heading,
        "text": place.excerpt(words, PIECE),
    })
}

fn alike(word: &str) -> String {
    let near = manual::spelt_alike(word);
    near.map_or(String::new(), |near| format!("; it has `{near}`"))
}

fn nothing(words: &str) -> Error {
    let message = format!("read `{words}`, which is not in the manual");
    let near = words.split_whitespace().find_map(manual::spelt_alike);
    Error::new(Code::Usage, message).help(match near {
        Some(near) => format!("is it `{near}`? `heelclear manual` lists the pages"),
        None => "try another word for it, or `heelclear manual glossary`; `heelclear manual` \
                 lists the pages"
            .to_owned(),
    })
}

fn list(out: &mut Out) -> Result<()> {
    if out.json() {
        for page in PAGES {
            out.object(&json!({ "page": page.name, "kind": page.kind, "title": page.title() }))?;
        }
        return Ok(());
    }
    for kind in KINDS {
        out.styled(&format!("{}\n", set::heading(kind)))?;
        for page in PAGES.iter().filter(|page| page.kind == *kind) {
            out.line(&format!("  {:28}{}", page.name, page.title()))?;
        }
    }
    out.note("\nread one with `heelclear manual PAGE`, or search with `heelclear manual WORDS`");
    Ok(())
}

fn picture(name: &str, file: Option<&std::path::Path>, out: &mut Out) -> Result<()> {
    let Some(svg) = report::picture(name) else {
        let names: Vec<&str> = report::PICTURES.iter().map(|(name, _)| *name).collect();
        let message = format!("read the picture `{name}`, which the manual does not have");
        return Err(
            Error::new(Code::Usage, message).help(format!("it has `{}`", names.join("`, `")))
        );
    };
    match file {
        None => out.text(&svg),
        Some(file) => {
            write_whole(file, svg.as_bytes())?;
            out.line(&file.display().to_string())
        }
    }
}
