//! `setting learn`: what finished grinds teach of the settings of a grinder.

use super::{Out, Status, wildcards};
use crate::error::{Code, Error, Result};
use crate::inspection::Folder;
use crate::inspection::grind::{self, Lesson};
use crate::setting::Part;
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

/// What finished grinds teach of throw, cam angle, in-feed, wheel and swivels
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting learn bench/VB-31-after bench/VB-07-after
  heelclear setting learn bench/*-after --keep grinder.toml
  heelclear setting learn --forget grinder.toml

Each folder is an inspection after the grind that names the set-up it was ground from
(`setup = \"setup.json\"`). Nothing is kept unless you say so, and `--forget` takes it back.")]
pub(super) struct Learn {
    /// Folders of inspections after the grind
    #[arg(value_name = "DIR", required_unless_present = "forget")]
    folders: Vec<PathBuf>,
    /// Keep what is told from zero on this grinder's card
    #[arg(long, value_name = "FILE")]
    keep: Option<PathBuf>,
    /// Take everything that was learnt off this grinder's card
    #[arg(long, value_name = "FILE", conflicts_with_all = ["keep", "folders"])]
    forget: Option<PathBuf>,
}

impl Learn {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        if let Some(file) = &self.forget {
            let count = grind::forget_lessons(file)?;
            out.note(&format!("took {count} off {}", file.display()));
            return Ok(Status::Clear);
        }
        let folders = wildcards::folders(&self.folders)?;
        let folders = folders.iter().map(|dir| Folder::open(dir));
        let folders = folders.collect::<Result<Vec<_>>>()?;
        learn_from(&folders, self.keep.as_deref(), out)?;
        Ok(Status::Clear)
    }
}

/// Tells what finished grinds teach, and keeps it on a card where one is named.
pub(super) fn learn_from(folders: &[Folder], keep: Option<&Path>, out: &mut Out) -> Result<()> {
    let lessons = grind::learn(folders, today()?)?;
    for lesson in &lessons {
        told(out, lesson)?;
    }
    if let Some(file) = keep {
        let count = grind::keep_lessons(file, &lessons)?;
        out.note(&format!("kept {count} on {}", file.display()));
    }
    Ok(())
}

fn as_json(lesson: &Lesson) -> serde_json::Value {
    let each = lesson.errors.iter().map(|it| {
        json!({
            "of": it.of.as_str(),
            "error": it.value,
            "standard_uncertainty": it.standard_uncertainty,
            "told": it.told,
        })
    });
    let together = |part| lesson.errors.iter().any(|it| it.part == Some(part));
    json!({
        "setting": "learn",
        "fixture": lesson.fixture,
        "direction": lesson.direction.as_str(),
        "records": lesson.grinds.len(),
        "errors": each.collect::<Vec<_>>(),
        "together": together(Part::All),
        "stock_together": together(Part::Stock),
        "strange": lesson.strange,
    })
}

fn told(out: &mut Out, lesson: &Lesson) -> Result<()> {
    if out.json() {
        return out.object(&as_json(lesson));
    }
    let count = lesson.grinds.len();
    out.line(&format!(
        "{}: {count} finished grind{}",
        lesson.whose(),
        if count == 1 { "" } else { "s" }
    ))?;
    for each in lesson.told() {
        let (error, u) = (each.error, each.uncertainty);
        out.line(&format!("  {error}, u {u}: {}", each.known))?;
    }
    if let Some(strange) = lesson.strange() {
        out.line(&format!("  {strange}"))?;
    }
    Ok(())
}

/// The day that it is, as UTC has it.
fn today() -> Result<jiff::civil::Date> {
    let now = jiff::Timestamp::now().to_string();
    let day = now.get(..10).and_then(|day| day.parse().ok());
    day.ok_or_else(|| Error::new(Code::Internal, "the clock gave no date"))
}
