//! `setting keep-motion`: what a trace showed of a cam, kept for every tool after it.

use super::{Out, Status};
use crate::card::{MotionEntry, MotionIs};
use crate::error::{Result, unwritable};
use crate::inspection::grind::{self, Asked, KeptMotion};
use crate::inspection::{Folder, write_whole};
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Keep the motion that an inspection traced on the grinder's card
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting keep-motion bench/VB-31 --grinder grinder.toml --cam 'four lobes'
  heelclear setting keep-motion bench/VB-31 --grinder grinder.toml --fixture head --cam snail
  heelclear setting keep-motion --forget grinder.toml

The motion goes into a file beside the card, and the card names it in place of what it had of this cam.
`--forget` takes it off again and puts back what was there.")]
pub(super) struct KeepMotion {
    /// Folder of an inspection with a trace of the fixture's motion
    #[arg(value_name = "DIR", required_unless_present = "forget")]
    folder: Option<PathBuf>,
    /// The grinder's card; that of the inspection card when absent
    #[arg(long, value_name = "FILE")]
    grinder: Option<PathBuf>,
    /// The fixture that was traced, where the card has several
    #[arg(long, value_name = "NAME")]
    fixture: Option<String>,
    /// What people call the cam; the only one that the card has there when absent
    #[arg(long, value_name = "NAME")]
    cam: Option<String>,
    /// Take motions that were kept off this grinder's card
    #[arg(long, value_name = "FILE", conflicts_with_all = ["grinder", "folder"])]
    forget: Option<PathBuf>,
}

impl KeepMotion {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        let asked = Asked {
            fixture: self.fixture.clone(),
            cam: self.cam.clone(),
            ..Asked::default()
        };
        match (&self.forget, &self.folder) {
            (Some(file), _) => forget(out, file, &asked)?,
            (None, Some(folder)) => self.keep(out, folder, &asked)?,
            // The command line asks for one of them.
            (None, None) => {}
        }
        Ok(Status::Clear)
    }

    fn keep(&self, out: &mut Out, folder: &Path, asked: &Asked) -> Result<()> {
        let folder = Folder::open(folder)?;
        let file = folder.grinder_file(self.grinder.as_deref())?;
        let card = grind::read_grinder(&file)?;
        let dir = grind::folder_of(&file);
        // What the card names lies beside it, wherever the inspection is.
        let asked = &Asked {
            beside: Some(dir.clone()),
            ..asked.clone()
        };
        let motions = grind::motions_to_keep(&folder, &card, asked, &file)?;
        for each in &motions {
            write_whole(&dir.join(&each.file), each.text.as_bytes())?;
        }
        grind::write_grinder(&file, &grind::with_motions(card, &motions))?;
        for each in &motions {
            told(out, each)?;
        }
        out.note(&format!("changed {}", file.display()));
        Ok(())
    }
}

fn forget(out: &mut Out, file: &Path, asked: &Asked) -> Result<()> {
    let card = grind::read_grinder(file)?;
    let (card, forgotten) = grind::without_motions(card, asked, file)?;
    if forgotten.is_empty() {
        out.note(&format!("no kept motion is on {}", file.display()));
        return Ok(());
    }
    // First the card lets go of a file, and then the file goes.
    grind::write_grinder(file, &card)?;
    for each in &forgotten {
        std::fs::remove_file(&each.file).map_err(|fault| unwritable(&each.file, fault))?;
        out.note(&format!(
            "took {} off {}{}",
            called(&each.entry),
            file.display(),
            match &each.restored {
                Some(entry) => format!("; {} stands there again", source(entry)),
                None => String::new(),
            }
        ));
    }
    Ok(())
}

fn told(out: &mut Out, each: &KeptMotion) -> Result<()> {
    if out.json() {
        return out.object(&json!({
            "setting": "keep-motion",
            "fixture": each.entry.fixture,
            "cam": each.entry.cam,
            "direction": each.entry.direction.as_str(),
            "throw_mm": each.entry.throw.mm(),
            "swing_mm": each.swing.mm(),
            "standard_uncertainty_mm": each.scatter.mm(),
            "file": each.file,
            "in_place_of": each.replaced.as_ref().map(source),
        }));
    }
    out.line(&format!(
        "{}: at a throw of {:.3} mm it moves the tool by {:.3} mm, u {:.4} mm, kept in {}",
        called(&each.entry),
        each.entry.throw.mm(),
        each.swing.mm(),
        each.scatter.mm(),
        each.file
    ))?;
    match &each.replaced {
        Some(before) => out.line(&format!("  in place of {}", source(before))),
        None => Ok(()),
    }
}

fn called(entry: &MotionEntry) -> String {
    format!(
        "cam `{}` of `{}`, {}",
        entry.cam,
        entry.fixture,
        entry.direction.as_str()
    )
}

/// How a card knows a motion.
fn source(entry: &MotionEntry) -> String {
    match &entry.is {
        MotionIs::Traced(file) => format!("the motion in {file}"),
        MotionIs::Law(law) => format!(
            "its {} law, {:.3} mm over {:.1}°",
            law.law.as_str(),
            law.rise.mm(),
            law.rise_arc.deg()
        ),
    }
}
