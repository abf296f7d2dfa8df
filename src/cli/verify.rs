//! `verify`: judges folders, writes what came of it into each, and says it.

use super::archive::Keeper;
use super::progress::{patiently, patiently_watching};
use super::style::{Units, style};
use super::{Out, Status, wildcards};
use crate::error::{Code, Error, Result};
use crate::inspection::{self, Folder, write_whole};
use crate::judge::{Effort, Watch};
use crate::record::Record;
use crate::report::{self, TextStyle};
use clap::Args;
use rayon::prelude::*;
use std::path::{Path, PathBuf};

/// Judge inspection folders: write verdict.json and report.svg into each
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear verify bench/VB-07              the verdict, and what would mend a failing tool
  heelclear verify bench/VB-07 --budget     what the uncertainty of each figure is made of
  heelclear verify bench/VB-07 --units in   lengths in inches, in the report too
  heelclear verify bench/*/                 all folders in bench: what came of them, a line each
  heelclear verify bench/*/ --details       with the figures of each
  heelclear verify bench/*/ --quiet         no word: the exit status is the answer
  heelclear verify bench/*/ --json          one verdict a line, for scripts
  heelclear verify bench/VB-07 --archive    keep it in the archive too
  heelclear verify bench/VB-07 --trials 200000
                                            more trials than the verdict needs

A folder that cannot be judged does not stop the others. The worst decides the exit status:
2 no verdict, else 1 fail, else 3 undecided, else 0.")]
pub(super) struct Arguments {
    /// Inspection folders, each with an inspection.toml
    #[arg(required_unless_present = "archive", value_name = "DIR")]
    folders: Vec<PathBuf>,

    /// Print the figures of each folder where there are several
    #[arg(long)]
    details: bool,

    /// Print nothing but errors: the exit status is the answer
    #[arg(long, short, conflicts_with_all = ["details", "budget"])]
    quiet: bool,

    /// Print each uncertainty line by line
    #[arg(long)]
    budget: bool,

    /// Unit of the lengths printed and drawn; verdict.json stays in mm
    #[arg(long, value_enum, default_value = "mm")]
    units: Units,

    /// Keep each judged folder in the archive: the one in your data folder, or this one
    #[arg(long, value_name = "PLACE", num_args = 0..=1, default_missing_value = "")]
    archive: Option<String>,

    #[command(flatten)]
    trials: Trials,
}

impl Arguments {
    /// The folders to judge, and the archive that was asked for.
    ///
    /// In `verify --archive bench/VB-07` the folder stands where a place could: a folder that holds
    /// an inspection is one to be judged, and no archive.
    fn asked(&self) -> Result<(Vec<PathBuf>, Option<Option<&str>>)> {
        let mut folders = self.folders.clone();
        let mut archive = self
            .archive
            .as_deref()
            .map(|name| Some(name).filter(|name| !name.is_empty()));
        if let Some(Some(name)) = archive
            && Path::new(name).join("inspection.toml").exists()
        {
            folders.insert(0, PathBuf::from(name));
            archive = Some(None);
        }
        if folders.is_empty() {
            return Err(Error::new(
                Code::Usage,
                "read no folder to judge, expected at least one",
            )
            .help("name the folders first: `heelclear verify DIR… --archive PLACE`"));
        }
        Ok((wildcards::folders(&folders)?, archive))
    }
}

/// How distributions are propagated.
#[derive(Args, Clone, Copy)]
pub(super) struct Trials {
    /// Make so many trials of each figure; without it, as many as the verdict needs
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1_000..=10_000_000))]
    trials: Option<u32>,

    /// Where the random numbers of the trials start; verdict.json keeps it
    #[arg(long, value_name = "N", default_value_t = Effort::default().seed)]
    seed: u64,
}

impl Trials {
    fn effort(self, watch: &Watch) -> Effort<'_> {
        Effort {
            seed: self.seed,
            trials: self.trials.map(|trials| trials as usize),
            watch: Some(watch),
        }
    }
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let style = TextStyle {
        budget: arguments.budget,
        units: arguments.units.into(),
        ..style(out)
    };
    let (folders, archive) = arguments.asked()?;
    let mut keeper = archive.map(|name| Keeper::named(name, out)).transpose()?;
    let mut seen = Vec::new();
    let of = folders.len();
    let told = match (out.json(), arguments.quiet) {
        (true, false) => Told::Whole,
        (_, true) => Told::Nothing,
        _ if of == 1 || arguments.details || arguments.budget => Told::Whole,
        _ => Told::Line,
    };
    let size = batch();
    let judged = folders.chunks(size).enumerate().flat_map(|(at, batch)| {
        let judged = judge_all(batch, at * size, of, style.units, arguments);
        batch.iter().zip(judged)
    });
    for (folder, judged) in judged {
        let shown = folder.display();
        let titled = of > 1 && told == Told::Whole && !out.json();
        if titled {
            let shown = report::harmless(&shown.to_string());
            out.styled(&format!("{TITLE}{shown}{TITLE:#}\n"))?;
        }
        let (status, line) = match judged {
            Ok(record) => {
                if told == Told::Whole {
                    tell(folder, &record, style, out)?;
                }
                let mut status = Status::from(record.verdict);
                if let Some(keeper) = &mut keeper {
                    let kept = keeper.keep(folder, &record, out);
                    status = status.worst(said(kept, told != Told::Nothing, out));
                }
                (status, report::line(&record, style))
            }
            Err(error) => refused(folder, &error, out),
        };
        seen.push(Seen {
            folder: shown.to_string(),
            status,
            line,
        });
        if titled {
            out.line("")?;
        }
    }
    if of > 1 && told != Told::Nothing && !out.json() {
        sum_up(&seen, style, out)?;
    }
    let worst = |worst: Status, seen: &Seen| worst.worst(seen.status);
    Ok(seen.iter().fold(Status::Clear, worst))
}

/// How much is said of each folder as it is judged.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Told {
    /// All its figures.
    Whole,
    /// A line, once all are judged.
    Line,
    /// No word but errors.
    Nothing,
}

/// What came of one of several folders.
struct Seen {
    folder: String,
    status: Status,
    line: String,
}

/// Tells why a folder could not be judged.
fn refused(folder: &Path, error: &Error, out: &mut Out) -> (Status, String) {
    let status = out.fail(error);
    if folder.join("verdict.json").exists() {
        out.note(&format!(
            "{}: verdict.json and report.svg there are of an earlier judging",
            folder.display()
        ));
    }
    let line = format!("{:11}{}", "NO VERDICT", error.code().as_str());
    (status, line)
}

/// So many folders are judged at once, on all cores. Verdicts are told in the order in which folders
/// were named, and of however many there are, only these are in memory.
fn batch() -> usize {
    4 * rayon::current_num_threads()
}

/// Judges folders of which some were judged before, out of so many.
fn judge_all(
    folders: &[PathBuf],
    before: usize,
    of: usize,
    units: report::Units,
    arguments: &Arguments,
) -> Vec<Result<Record>> {
    let trials = arguments.trials;
    if let [folder] = folders {
        let what = format!("{} of {of}: judging {}", before + 1, folder.display());
        let watch = Watch::default();
        let work = || judge(folder, units, trials.effort(&watch));
        return vec![patiently_watching(&what, &watch, work)];
    }
    let last = before + folders.len();
    patiently(
        &format!("judging folders {} to {last} of {of}", before + 1),
        || {
            let alone = |folder: &PathBuf| judge(folder, units, trials.effort(&Watch::default()));
            folders.par_iter().map(alone).collect()
        },
    )
}

const TITLE: anstyle::Style = anstyle::Style::new().bold();

/// The answer for all, then a line a folder in the order in which they were named.
fn sum_up(seen: &[Seen], style: TextStyle, out: &mut Out) -> Result<()> {
    let count = |wanted: Status| seen.iter().filter(|seen| seen.status == wanted).count();
    let all = format!("all {} folders", seen.len());
    let parts = [
        (count(Status::NoVerdict), "without a verdict"),
        (count(Status::Fail), "fail"),
        (count(Status::Undecided), "undecided"),
        (count(Status::Clear), "pass"),
    ];
    let parts = parts.iter().filter(|(count, _)| *count > 0);
    let parts: Vec<String> = parts
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
    let answer = format!("{all}: {}", parts.join(", "));
    out.styled(&format!("{TITLE}{answer}{TITLE:#}\n"))?;
    let widest = seen.iter().map(|seen| seen.folder.chars().count()).max();
    // A folder with a long name does not push the verdicts of the others out of sight.
    let width = widest.unwrap_or(0).min(style.columns / 2);
    for Seen { folder, line, .. } in seen {
        let folder = report::harmless(folder);
        out.styled(&format!("  {folder:<width$}  {line}\n"))?;
    }
    Ok(())
}

/// Judges one folder and writes the verdict and the report into it, each whole or not at all.
pub(super) fn judge(folder: &Path, units: report::Units, effort: Effort) -> Result<Record> {
    let record = inspection::verify_with(&Folder::open(folder)?, effort)?;
    // Both are made before either is written, so that they never belong to different verdicts.
    let verdict = record.to_json()?;
    let page = report::svg_in(&record, units)?;
    write_whole(&folder.join("verdict.json"), verdict.as_bytes())?;
    write_whole(&folder.join("report.svg"), page.as_bytes())?;
    Ok(record)
}

/// Keeps a judged folder, and says so on stderr: stdout is the verdict's.
pub(super) fn keep(keeper: &mut Keeper, folder: &Path, record: &Record, out: &mut Out) -> Status {
    let kept = keeper.keep(folder, record, out);
    said(kept, true, out)
}

/// Says what became of a folder in the archive, where that is wanted; a fault in any case.
fn said(kept: Result<String>, wanted: bool, out: &mut Out) -> Status {
    match kept {
        Ok(line) if wanted => out.note(&line),
        Ok(_) => {}
        Err(error) => return out.fail(&error),
    }
    Status::Clear
}

/// Prints the verdict: for scripts as it is in verdict.json, on one line.
pub(super) fn tell(folder: &Path, record: &Record, style: TextStyle, out: &mut Out) -> Result<()> {
    if out.json() {
        return out.object(record);
    }
    out.styled(&report::text(record, style))?;
    out.note(&format!("report: {}", folder.join("report.svg").display()));
    Ok(())
}
