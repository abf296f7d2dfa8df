//! `new inspection`: an inspection card to start from, and the traces of one clamping in their order.

use super::kept::{Made, Where};
use super::quantities::{self, Steps};
use crate::card::starter::NewInspection;
use crate::card::{Engaged, InspectionCard, Role, Surface, ToolCard};
use crate::cli::capture::{self, When};
use crate::cli::style::Units;
use crate::cli::{Out, Status};
use crate::error::Result;
use crate::inspection::capture::{GRINDER_FILE, Wanted};
use crate::inspection::clamping;
use crate::quantity::{Length, stated};
use crate::record::SETUP_FILE;
use clap::Args;
use jiff::Timestamp;
use serde_json::{Map, json};
use std::path::{Path, PathBuf};

/// An inspection card, and the order in which to trace a tool in one clamping
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear new inspection
  heelclear new inspection --tool tool.toml --reference 40:20 --trace seat:2
  heelclear new inspection --tool VB-31.toml --gauge bench.toml --reference 90:20 --step-length 8
  heelclear new inspection --tool VB-31.toml --reference 90 --step-length '6 8 8' --units in --out -

With --tool it also prints the `heelclear capture` command that takes the traces, references first,
then in the order that moves the indicator least along the axis. `capture` writes an inspection card
of its own: this one is for traces that come from elsewhere. Ground edges cut: wheel stopped, and
spindle turned by hand only.")]
pub(super) struct Inspection {
    #[command(flatten)]
    to: Where,
    /// The tool card, for the traces of its features
    #[arg(long, value_name = "FILE")]
    tool: Option<PathBuf>,
    /// The gauge card, for the printed command
    #[arg(long, value_name = "FILE", default_value = "gauge.toml")]
    gauge: PathBuf,
    /// A round of the clamping: its distance from the tool's front, and its diameter
    #[arg(
        long,
        value_name = "Z[:DIAMETER]",
        requires = "tool",
        allow_hyphen_values = true
    )]
    reference: Vec<String>,
    /// A trace as `capture` has it, in any order; one for each feature when absent
    #[arg(
        long = "trace",
        value_name = "ROLE[@THROW][:Z][:rezeroed]",
        requires = "tool"
    )]
    traces: Vec<String>,
    /// Length of the steps of a step tool along its axis, shoulder and all: one for all, or each
    #[arg(long, value_name = "LENGTH …", value_parser = quantities::lengths, requires = "tool", conflicts_with = "traces", allow_hyphen_values = true)]
    step_length: Option<Steps>,
    /// The folder in the printed command; named after the tool when absent
    #[arg(long, value_name = "DIR", requires = "tool")]
    folder: Option<PathBuf>,
    /// The port in the printed command
    #[arg(long, value_name = "PORT", default_value = "PORT", requires = "tool")]
    port: String,
    /// When it is taken, with its offset from UTC; now when absent
    #[arg(long, value_name = "MOMENT", value_parser = moment)]
    taken: Option<Timestamp>,
    /// Who takes it
    #[arg(long, value_name = "NAME")]
    operator: Option<String>,
    /// Before or after the grind
    #[arg(long, value_enum, default_value_t = When::AfterGrind)]
    stage: When,
    /// The grinder's card
    #[arg(long, value_name = "FILE")]
    grinder: Option<PathBuf>,
    /// The set-up that the tool was ground from
    #[arg(long, value_name = "FILE")]
    setup: Option<PathBuf>,
}

impl Inspection {
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        let tool = self.tool.as_deref().map(read).transpose()?;
        let order = match &tool {
            Some(tool) => self.order(tool)?,
            None => Vec::new(),
        };
        let inspection = NewInspection {
            units: self.to.units.into(),
            taken: self
                .taken
                .unwrap_or_else(|| to_the_second(Timestamp::now())),
            operator: self.operator.clone(),
            stage: self.stage.into(),
            // As `capture` calls them in the folder, wherever they lie now.
            grinder: self.grinder.as_ref().map(|_| GRINDER_FILE.to_owned()),
            setup: self.setup.as_ref().map(|_| SETUP_FILE.to_owned()),
            traces: clamping::entries(&order),
        };
        let flags: Vec<String> = order.iter().map(|it| self.flag(it)).collect();
        let mut made = Made {
            kind: "inspection",
            starter: inspection.card(),
            read: &|text, file| InspectionCard::parse(text, file).map(drop),
            lines: Vec::new(),
            object: Map::new(),
        };
        if let Some(tool) = &tool {
            let command = self.command(tool, &flags);
            made.object.insert("traces".to_owned(), json!(flags));
            made.object
                .insert("command".to_owned(), json!(command.join(" ")));
            made.lines = vec![command.join(" \\\n    ")];
        }
        let status = self.to.keep(made, out)?;
        if let Some(tool) = &tool {
            told(tool, &order, out);
        }
        Ok(status)
    }

    fn order(&self, tool: &ToolCard) -> Result<Vec<Wanted>> {
        let mut wanted: Vec<Wanted> = Vec::new();
        for reference in &self.reference {
            wanted.push(capture::wanted(&format!("reference:{reference}"))?);
        }
        for trace in &self.traces {
            wanted.push(capture::wanted(trace)?);
        }
        let is_reference = |it: &Wanted| it.role == Role::Reference;
        if wanted.iter().all(is_reference) {
            wanted.extend(match &self.step_length {
                Some(lengths) => clamping::of_steps(tool, &lengths.0)?,
                None => clamping::of_card(tool),
            });
        }
        if !wanted.iter().any(is_reference) {
            wanted.push(capture::wanted("reference")?);
        }
        clamping::ordered(tool, wanted)
    }

    /// A trace as `capture` takes it: `seat:2:rezeroed`.
    fn flag(&self, wanted: &Wanted) -> String {
        let length = |length: Length| format!(":{}", self.typed(length));
        let rezeroed = if wanted.rezeroed { ":rezeroed" } else { "" };
        let z = wanted.z.map(length).unwrap_or_default();
        let diameter = wanted.diameter.map(length).unwrap_or_default();
        let role = match &wanted.role {
            Role::Reference => "reference".to_owned(),
            Role::Feature(name) => name.clone(),
            Role::Motion(engaged) => format!("motion{}", self.throw(*engaged)),
            Role::Residual(name, engaged) => format!("{name}{}", self.throw(*engaged)),
        };
        format!("{role}{z}{diameter}{rezeroed}")
    }

    fn throw(&self, engaged: Engaged) -> String {
        let along = match engaged.direction {
            Surface::Radial => "",
            Surface::Axial => "@axial",
        };
        format!("@{}{along}", self.typed(engaged.throw))
    }

    /// A length as a command line takes it.
    fn typed(&self, length: Length) -> String {
        match self.to.units {
            Units::Mm => stated(length.mm()).to_string(),
            Units::In => format!("{}in", stated(length.inches())),
        }
    }

    /// The command that takes the traces, in parts that belong together.
    fn command(&self, tool: &ToolCard, flags: &[String]) -> Vec<String> {
        let shown = |path: &Path| quoted(&path.display().to_string());
        let folder = match &self.folder {
            Some(folder) => shown(folder),
            None => {
                let safe = |c: char| {
                    if c.is_alphanumeric() || c == '-' {
                        c
                    } else {
                        '-'
                    }
                };
                let name: String = tool.id.chars().map(safe).collect();
                name.trim_start_matches('-').to_owned()
            }
        };
        let card = self.tool.as_deref().unwrap_or(Path::new("tool.toml"));
        let mut parts = vec![
            format!("heelclear capture {folder} --port {}", quoted(&self.port)),
            format!("--tool {} --gauge {}", shown(card), shown(&self.gauge)),
        ];
        for (flag, file) in [("--grinder", &self.grinder), ("--setup", &self.setup)] {
            parts.extend(file.iter().map(|file| format!("{flag} {}", shown(file))));
        }
        if matches!(self.stage, When::BeforeGrind) {
            parts.push("--stage before-grind".to_owned());
        }
        if let Some(operator) = &self.operator {
            parts.push(format!("--operator {}", quoted(operator)));
        }
        parts.extend(flags.iter().map(|flag| format!("--trace {}", quoted(flag))));
        parts.push("--until-covered 3".to_owned());
        parts
    }
}

/// What the plan leaves for a person to know.
fn told(tool: &ToolCard, order: &[Wanted], out: &mut Out) {
    if order.iter().any(|it| it.z.is_none()) {
        out.note("distances from the tool's front are not all known: name them, as `--reference 40:20 --trace seat:2` or by `--step-length`, for the order that moves least and for what hangs on lean");
    }
    if order.iter().any(|it| it.rezeroed) {
        out.note("`rezeroed`: the indicator is turned or meets another diameter there, and is set anew; press `z` in place of Space on the full screen");
    }
    if let Some(elsewhere) = capture::taken_elsewhere(tool) {
        out.note(&elsewhere);
    }
    out.note(capture::CAUTIONS);
}

fn read(path: &Path) -> Result<ToolCard> {
    ToolCard::parse(&capture::read(path)?, &path.display().to_string())
}

/// A word of a command line that a shell takes as one.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./:+=,@".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', r"'\''"))
}

fn moment(text: &str) -> std::result::Result<Timestamp, String> {
    let expected = "expected a date and time with its offset, such as 2026-03-02T09:14:00Z";
    text.parse().map_err(|_| expected.to_owned())
}

/// Nobody starts a measurement to the nanosecond.
fn to_the_second(now: Timestamp) -> Timestamp {
    Timestamp::from_second(now.as_second()).unwrap_or(now)
}
