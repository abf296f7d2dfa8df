//! `setting match` and `setting sheet`: what to set on the grinder for a tool that was measured.

use super::style::Units;
use super::{Out, Status};
use crate::card::GrinderCard;
use crate::error::{Code, Error, Result, unwritable};
use crate::inspection::grind::{self, Asked};
use crate::inspection::{Folder, write_whole};
use crate::record::archive::regular;
use crate::record::{SETUP_FILE, Setup};
use crate::report;
use crate::setting::matching::Goal;
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};

/// The throw, the cam angle and the skim that grind a worn tool anew
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting match bench/VB-07
  heelclear setting match bench/VB-07 --grinder grinder.toml --wheel white
  heelclear setting match bench/VB-07 --goal as-it-was --band 5 --json

The folder is an inspection of the worn tool: its lands traced with the fixture locked, and the
fixture's motion traced on a round, or on the grinder's card. See `heelclear manual before-the-grind`.")]
pub(super) struct Match {
    #[command(flatten)]
    of: Wanted,
}

/// The sheet to take to the machine: every setting in the order of the work
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting sheet bench/VB-07
  heelclear setting sheet bench/VB-07 --grinder grinder.toml --units in")]
pub(super) struct Sheet {
    #[command(flatten)]
    of: Wanted,
}

/// The picture of a match in an inspection folder.
pub(super) const MATCH_FILE: &str = "match.svg";

#[derive(Args)]
struct Wanted {
    /// Folder of the inspection before the grind
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The grinder's card; that of the inspection card when absent
    #[arg(long, value_name = "FILE")]
    grinder: Option<PathBuf>,
    /// What relief is wanted
    #[arg(long, value_enum, default_value = "as-the-card-wants")]
    goal: GoalWord,
    /// By how many percent of the old drop a new one may differ, for `as-it-was`
    #[arg(long, value_name = "PERCENT", default_value = "10", value_parser = percent)]
    band: f64,
    /// The fixture, where the card has several
    #[arg(long, value_name = "NAME")]
    fixture: Option<String>,
    /// The cam, where not the best of all is wanted
    #[arg(long, value_name = "NAME")]
    cam: Option<String>,
    /// The wheel; the card's first when absent
    #[arg(long, value_name = "NAME")]
    wheel: Option<String>,
    /// Unit that lengths are shown in; JSON stays in mm
    #[arg(long, value_enum, default_value = "mm")]
    units: Units,
}

#[derive(Clone, Copy, ValueEnum)]
enum GoalWord {
    /// Least skim with the drop as it was, within `--band`
    AsItWas,
    /// Least skim inside the limits of the tool card
    AsTheCardWants,
}

impl Match {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        let folder = Folder::open(&self.of.folder)?;
        let setup = self.of.set_up(&folder, out, grind::set_up)?;
        let folder = folder.dir;
        let drawing = report::match_svg(&setup, self.of.units.into())?;
        match setup.why.is_empty() {
            true => kept(out, &folder, MATCH_FILE, drawing.as_bytes())?,
            false => gone(out, &folder, MATCH_FILE)?,
        }
        told(out, &setup, self.of.units)?;
        Ok(Status::from(setup.verdict))
    }
}

impl Sheet {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        let folder = Folder::open(&self.of.folder)?;
        is_free(&folder)?;
        let setup = self.of.set_up(&folder, out, grind::set_up_sheet)?;
        let folder = folder.dir;
        if setup.lines.is_empty() {
            // Never a sheet on what was not shown, nor yesterday's in its place.
            match earlier(&folder, &setup)? {
                Earlier::OfTheSame => out.note(&format!(
                    "{} stays as it is: it was worked out from the same traces and cards",
                    folder.join(SETUP_FILE).display()
                )),
                Earlier::None | Earlier::OfOthers => forget(out, &folder)?,
            }
            told(out, &setup, self.of.units)?;
            return Ok(Status::from(setup.verdict));
        }
        earlier(&folder, &setup)?;
        write_sheet(out, &folder, &setup, self.of.units)?;
        told(out, &setup, self.of.units)?;
        Ok(Status::from(setup.verdict))
    }
}

/// Writes the set-up and its pages into a folder; the names of the pages.
pub(super) fn write_sheet(
    out: &mut Out,
    folder: &Path,
    setup: &Setup,
    units: Units,
) -> Result<Vec<String>> {
    kept(out, folder, SETUP_FILE, setup.to_json()?.as_bytes())?;
    let pages = report::sheet_svg(setup, units.into());
    let mut names = Vec::new();
    for (at, page) in pages.iter().enumerate() {
        let name = page_name(at);
        kept(out, folder, &name, page.as_bytes())?;
        names.push(name);
    }
    Ok(names)
}

impl Wanted {
    fn set_up(
        &self,
        folder: &Folder,
        out: &mut Out,
        work_out: impl Fn(&Folder, &GrinderCard, &Asked) -> Result<Setup>,
    ) -> Result<Setup> {
        let file = folder.grinder_file(self.grinder.as_deref())?;
        let grinder = grind::read_grinder(&file)?;
        let goal = match self.goal {
            GoalWord::AsItWas => Goal::AsItWas {
                band: self.band / 100.0,
            },
            GoalWord::AsTheCardWants => Goal::AsTheCardWants,
        };
        let asked = Asked {
            goal,
            fixture: self.fixture.clone(),
            cam: self.cam.clone(),
            wheel: self.wheel.clone(),
            beside: Some(grind::folder_of(&file)),
        };
        if folder.inspection.stage == crate::card::Stage::AfterGrind {
            out.note("the inspection card says `after-grind`: the set-up is for a further grind of this tool");
        }
        work_out(folder, &grinder, &asked)
    }
}

/// Refuses a folder whose set-up is what its tool was ground from.
fn is_free(folder: &Folder) -> Result<()> {
    if folder.inspection.setup.as_deref() != Some(SETUP_FILE) {
        return Ok(());
    }
    let message = format!(
        "the `{SETUP_FILE}` here is what the tool was ground from, expected a folder that a sheet can be written into"
    );
    Err(Error::new(Code::Usage, message)
        .in_path(&folder.dir)
        .help("take an inspection before the next grind in a folder of its own"))
}

/// What of a set-up lies in a folder already.
enum Earlier {
    None,
    /// From the same traces and cards: it holds as much as it did.
    OfTheSame,
    OfOthers,
}

/// # Errors
/// Where the file is none that this program writes: it is left alone.
fn earlier(folder: &Path, setup: &Setup) -> Result<Earlier> {
    let file = folder.join(SETUP_FILE);
    if !file.exists() {
        return Ok(Earlier::None);
    }
    let bytes = regular::contents(&file).map_err(|fault| unwritable(&file, fault))?;
    let name = file.display().to_string();
    let there = Setup::parse(&bytes, &name, &setup.tool).map_err(|error| {
        error.help("no file that this program did not write is written over: take it away first")
    })?;
    Ok(match there.worked_out_from == setup.worked_out_from {
        true => Earlier::OfTheSame,
        false => Earlier::OfOthers,
    })
}

/// Takes away the sheet of an earlier set-up.
fn forget(out: &mut Out, folder: &Path) -> Result<()> {
    gone(out, folder, SETUP_FILE)?;
    gone(out, folder, MATCH_FILE)?;
    gone(out, folder, &page_name(0))?;
    let more = (1..).map(page_name);
    for page in more.take_while(|page| folder.join(page).is_file()) {
        gone(out, folder, &page)?;
    }
    Ok(())
}

/// Takes one file away, where it is there.
fn gone(out: &mut Out, folder: &Path, name: &str) -> Result<()> {
    let file = folder.join(name);
    if !file.is_file() {
        return Ok(());
    }
    std::fs::remove_file(&file).map_err(|error| crate::error::unwritable(&file, error))?;
    out.note(&format!(
        "took {} away: it is of another set-up",
        file.display()
    ));
    Ok(())
}

/// The file of a sheet's page, counted from 0.
fn page_name(at: usize) -> String {
    match at {
        0 => "setup.svg".to_owned(),
        _ => format!("setup-{}.svg", at + 1),
    }
}

pub(super) fn kept(out: &mut Out, folder: &Path, name: &str, bytes: &[u8]) -> Result<()> {
    let file = folder.join(name);
    write_whole(&file, bytes)?;
    out.note(&format!("wrote {}", file.display()));
    Ok(())
}

pub(super) fn told(out: &mut Out, setup: &Setup, units: Units) -> Result<()> {
    if out.json() {
        return out.object(setup);
    }
    for line in report::setup_text(setup, units.into()) {
        out.line(&line)?;
    }
    out.note(super::care::CARE);
    Ok(())
}

fn percent(text: &str) -> std::result::Result<f64, String> {
    let number = text.trim_end_matches('%').trim().parse::<f64>().ok();
    let within = number.filter(|percent| (0.5..=50.0).contains(percent));
    within.ok_or_else(|| "expected 0.5 to 50 percent".to_owned())
}
