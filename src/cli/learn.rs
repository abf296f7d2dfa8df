//! `setting learn`: what finished grinds teach of the settings of a grinder.

use super::{Out, Status};
use crate::card::{Correction, GrinderCard, Setting};
use crate::error::{Code, Error, Result};
use crate::inspection::grind::{self, Lesson};
use crate::inspection::{Folder, write_whole};
use crate::setting::TAUGHT;
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

/// What finished grinds teach of throw, cam angle and in-feed
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
            let card = grind::read_grinder(file)?;
            let count = card.corrections.len();
            kept(
                file,
                GrinderCard {
                    corrections: Vec::new(),
                    ..card
                },
            )?;
            out.note(&format!("took {count} off {}", file.display()));
            return Ok(Status::Clear);
        }
        let folders = self.folders.iter().map(|dir| Folder::open(dir));
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
        let corrections: Vec<Correction> = lessons
            .iter()
            .flat_map(|it| it.corrections.clone())
            .collect();
        let card = grind::read_grinder(file)?;
        has_fixtures(&card, &corrections, file)?;
        kept(file, grind::with_corrections(card, &corrections))?;
        out.note(&format!("kept {} on {}", corrections.len(), file.display()));
    }
    Ok(())
}

/// Refuses the card of another grinder.
fn has_fixtures(card: &GrinderCard, corrections: &[Correction], file: &Path) -> Result<()> {
    let unknown = corrections.iter().find(|it| {
        let mut fixtures = card.fixtures.iter();
        !fixtures.any(|known| {
            Some(&known.name) == it.fixture.as_ref() && Some(known.direction) == it.direction
        })
    });
    let Some(unknown) = unknown else {
        return Ok(());
    };
    let names: Vec<&str> = card.fixtures.iter().map(|it| it.name.as_str()).collect();
    let message = format!(
        "read no fixture `{}` on the card, which has `{}`",
        unknown.fixture.as_deref().unwrap_or_default(),
        names.join("`, `")
    );
    Err(Error::new(Code::CardValue, message)
        .in_file(file.display().to_string())
        .help("keep it on the card of the grinder that the tools were ground on"))
}

/// Writes the grinder's card as it is now.
pub(super) fn kept(file: &Path, card: GrinderCard) -> Result<()> {
    // A link stays one: what it leads to is the card.
    let file = &std::fs::canonicalize(file).unwrap_or_else(|_| file.to_owned());
    let text = card.to_toml();
    // What was written is read before it takes the place of the card.
    let again = GrinderCard::parse(&text, &file.display().to_string())?;
    if again != card {
        return Err(Error::new(
            Code::Internal,
            "the card would not read as it was written",
        ));
    }
    write_whole(file, text.as_bytes())
}

fn as_json(lesson: &Lesson) -> serde_json::Value {
    let each = TAUGHT
        .iter()
        .zip(lesson.learnt.each)
        .zip(lesson.learnt.told);
    let each = each.map(|((of, (error, u)), told)| {
        json!({ "of": of.as_str(), "error": error, "standard_uncertainty": u, "told": told })
    });
    json!({
        "setting": "learn",
        "fixture": lesson.fixture,
        "direction": lesson.direction.as_str(),
        "records": lesson.records,
        "errors": each.collect::<Vec<_>>(),
        "together": lesson.learnt.together,
        "strange": lesson.learnt.strange,
    })
}

fn told(out: &mut Out, lesson: &Lesson) -> Result<()> {
    if out.json() {
        return out.object(&as_json(lesson));
    }
    out.line(&format!(
        "{}, {}: {} finished grind{}",
        lesson.fixture,
        lesson.direction.as_str(),
        lesson.records,
        if lesson.records == 1 { "" } else { "s" }
    ))?;
    for ((of, (error, u)), told) in TAUGHT
        .iter()
        .zip(lesson.learnt.each)
        .zip(lesson.learnt.told)
    {
        let what = match of {
            Setting::ThrowGain => format!(
                "throw opens {:+.1} % against its scale, u {:.1} %",
                error * 100.0,
                u * 100.0
            ),
            Setting::CamAngle => format!("cam stands {error:+.2}° ahead of its scale, u {u:.2}°"),
            _ => format!(
                "stock comes off {:+.0} % against the feed, u {:.0} %",
                error * 100.0,
                u * 100.0
            ),
        };
        let known = match (told, lesson.learnt.together) {
            _ if lesson.learnt.strange => "not to be believed",
            (true, _) => "told from zero",
            (false, true) if !lesson.learnt.told.contains(&true) => {
                "part of what all of them come to; which it is is not told yet"
            }
            (false, _) => "not told from zero: not corrected",
        };
        out.line(&format!("  {what}: {known}"))?;
    }
    if lesson.learnt.strange {
        out.line("  scales are not so far off: was the tool ground from this set-up, and measured as it was clamped? Nothing is learnt")?;
    }
    Ok(())
}

/// The day that it is, as UTC has it.
fn today() -> Result<jiff::civil::Date> {
    let now = jiff::Timestamp::now().to_string();
    let day = now.get(..10).and_then(|day| day.parse().ok());
    day.ok_or_else(|| Error::new(Code::Internal, "the clock gave no date"))
}
