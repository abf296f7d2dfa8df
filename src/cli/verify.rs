//! `verify`: judges folders, writes what came of it into each, and says it.

use super::progress::patiently;
use super::{Out, Status};
use crate::error::Result;
use crate::inspection::{self, Folder, write_whole};
use crate::record::Record;
use crate::report::{self, TextStyle};
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};

/// Judge inspection folders: write verdict.json and report.svg into each
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear verify bench/VB-07              the verdict, and what would mend a failing tool
  heelclear verify bench/VB-07 --budget     what the uncertainty of each figure is made of
  heelclear verify bench/VB-07 --units in   lengths in inches, in the report too
  heelclear verify bench/*/                 all folders in bench, a summary at the end
  heelclear verify bench/*/ --json          one verdict a line, for scripts

A folder that cannot be judged does not stop the others. The worst decides the exit status:
2 no verdict, else 1 fail, else 3 undecided, else 0.")]
pub(super) struct Arguments {
    /// Inspection folders, each with an inspection.toml
    #[arg(required = true, value_name = "DIR")]
    folders: Vec<PathBuf>,

    /// Print each uncertainty line by line
    #[arg(long)]
    budget: bool,

    /// Unit of the lengths printed and drawn; verdict.json stays in mm
    #[arg(long, value_enum, default_value = "mm")]
    units: Units,
}

/// The unit that a person wants to see lengths in.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum Units {
    /// Millimetres and micrometres
    Mm,
    /// Inches
    In,
}

impl From<Units> for report::Units {
    fn from(units: Units) -> Self {
        match units {
            Units::Mm => report::Units::Metric,
            Units::In => report::Units::Inch,
        }
    }
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let style = TextStyle {
        budget: arguments.budget,
        units: arguments.units.into(),
        ..style(out)
    };
    let mut worst = Status::Clear;
    let mut lines = Vec::new();
    let of = arguments.folders.len();
    for (at, folder) in arguments.folders.iter().enumerate() {
        let shown = folder.display();
        if of > 1 && !out.json() {
            out.line(&format!("{TITLE}{shown}{TITLE:#}"))?;
        }
        let what = format!("{} of {of}: judging {shown}", at + 1);
        let (status, line) = match patiently(&what, || judge(folder, style.units)) {
            Ok(record) => {
                tell(folder, &record, style, out)?;
                (Status::from(record.verdict), report::line(&record, style))
            }
            Err(error) => {
                let status = out.fail(&error);
                if folder.join("verdict.json").exists() {
                    out.note(&format!(
                        "{shown}: verdict.json and report.svg there are of an earlier judging"
                    ));
                }
                (
                    status,
                    format!("{:11}{}", "NO VERDICT", error.code().as_str()),
                )
            }
        };
        worst = worst.worst(status);
        lines.push((shown.to_string(), line));
        if of > 1 && !out.json() {
            out.line("")?;
        }
    }
    if of > 1 && !out.json() {
        sum_up(&lines, out)?;
    }
    Ok(worst)
}

const TITLE: anstyle::Style = anstyle::Style::new().bold();

/// How text is set on this stdout.
pub(super) fn style(out: &Out) -> TextStyle {
    let usual = TextStyle::default();
    TextStyle {
        colour: out.colour(),
        // A paragraph narrower than this reads worse than one that the terminal wraps.
        columns: out
            .columns()
            .unwrap_or(usual.columns)
            .clamp(40, usual.columns),
        ..usual
    }
}

/// One line a folder, in the order in which they were named.
fn sum_up(lines: &[(String, String)], out: &mut Out) -> Result<()> {
    out.line(&format!("{TITLE}all {} folders{TITLE:#}", lines.len()))?;
    let widest = lines.iter().map(|(folder, _)| folder.chars().count()).max();
    let width = widest.unwrap_or(0);
    for (folder, line) in lines {
        out.line(&format!("  {folder:<width$}  {line}"))?;
    }
    Ok(())
}

/// Judges one folder and writes the verdict and the report into it, each whole or not at all.
pub(super) fn judge(folder: &Path, units: report::Units) -> Result<Record> {
    let record = inspection::verify(&Folder::open(folder)?)?;
    // Both are made before either is written, so that they never belong to different verdicts.
    let verdict = record.to_json()?;
    let page = report::svg_in(&record, units)?;
    write_whole(&folder.join("verdict.json"), verdict.as_bytes())?;
    write_whole(&folder.join("report.svg"), page.as_bytes())?;
    Ok(record)
}

/// Prints the verdict: for scripts as it is in verdict.json, on one line.
pub(super) fn tell(folder: &Path, record: &Record, style: TextStyle, out: &mut Out) -> Result<()> {
    if out.json() {
        return out.object(record);
    }
    out.text(&report::text(record, style))?;
    out.note(&format!("report: {}", folder.join("report.svg").display()));
    Ok(())
}
