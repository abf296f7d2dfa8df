//! `study`: checks of the gauge itself, from files.

use super::{Out, Status};
use crate::card::{GaugeCard, Role, StylusShape};
use crate::error::{Code, Error, Result};
use crate::judge::Outcome;
use crate::quantity::{Length, Time};
use crate::record::Verdict;
use crate::sample::Sample;
use crate::study::{self, Anova, Crossed, Finding, Master, Study};
use crate::trace::csv::{self, Rows, Table};
use crate::trace::{MergeSettings, Merged, Trace, align, merge};
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Check the gauge itself: at rest, over passes, both ways, on a master round, by several hands
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear study rest still.csv --gauge gauge.toml          noise and drift, nothing moving
  heelclear study repeat turns.csv --gauge gauge.toml        five turns or more, the same way
  heelclear study reversal both.csv --gauge gauge.toml       a turn forwards, a turn back
  heelclear study round ring.csv --gauge gauge.toml --diameter 20 --form 0.5
  heelclear study crossed hands.csv --tolerance 0.03         parts by operators by trials

The exit status is 0 where all is fine, 1 where something is not, 3 where it is not settled.
Ground edges cut: stop the wheel and lock the spindle before a stylus goes near the tool.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    kind: Kind,
}

#[derive(Subcommand)]
enum Kind {
    /// Noise and drift, from a trace during which nothing moved
    Rest(OfTrace),
    /// Repeatability over passes, from several turns the same way
    Repeat(OfTrace),
    /// Hysteresis, from a trace turned both ways
    Reversal(OfTrace),
    /// Form, error and runout on a master round
    Round(OfRound),
    /// Parts by operators by trials, with an analysis of variance
    Crossed(OfTable),
}

#[derive(Args)]
struct OfTrace {
    /// A trace as in an inspection folder
    trace: PathBuf,

    /// The gauge card that it was taken with
    #[arg(long, value_name = "FILE")]
    gauge: PathBuf,
}

#[derive(Args)]
struct OfRound {
    #[command(flatten)]
    of: OfTrace,

    /// Diameter of the master in mm
    #[arg(long, value_name = "MM", value_parser = positive)]
    diameter: Option<f64>,

    /// Roundness of the master on its certificate, in µm
    #[arg(long, value_name = "UM", default_value = "0", value_parser = size)]
    form: f64,
}

#[derive(Args)]
struct OfTable {
    /// A CSV file with the columns part, operator and value_mm
    table: PathBuf,

    /// Whole width of the tolerance, in the unit of the results: mm or degrees
    #[arg(long, value_name = "WIDTH", value_parser = positive)]
    tolerance: Option<f64>,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let study = match &arguments.kind {
        Kind::Rest(of) => {
            let gauge = gauge(&of.gauge)?;
            study::rest(&readings(&of.trace, out)?, &gauge)
        }
        Kind::Repeat(of) => {
            let gauge = gauge(&of.gauge)?;
            study::repeat(&merged(&of.trace, &gauge, out)?, &gauge)
        }
        Kind::Reversal(of) => {
            let gauge = gauge(&of.gauge)?;
            study::reversal(&merged(&of.trace, &gauge, out)?, &gauge)
        }
        Kind::Round(round) => {
            let gauge = gauge(&round.of.gauge)?;
            let master = master(round, &gauge);
            study::round(&merged(&round.of.trace, &gauge, out)?, &master, &gauge)
        }
        Kind::Crossed(of) => {
            let file = of.table.display().to_string();
            let table = study::read_table(read(&of.table)?.as_slice(), &file)?;
            let crossed = study::crossed(&table, of.tolerance);
            if out.json() {
                out.object(&crossed_for_scripts(&crossed))?;
            } else {
                out.text(&table_for_people(&crossed.anova))?;
                out.text(&for_people(&crossed.study))?;
            }
            return Ok(status(&crossed.study));
        }
    };
    let study = study.map_err(|error| match &arguments.kind {
        Kind::Rest(of) | Kind::Repeat(of) | Kind::Reversal(of) => placed(error, &of.trace),
        Kind::Round(round) => placed(error, &round.of.trace),
        Kind::Crossed(of) => placed(error, &of.table),
    })?;
    if out.json() {
        out.object(&for_scripts(&study))?;
    } else {
        out.text(&for_people(&study))?;
    }
    Ok(status(&study))
}

fn master(round: &OfRound, gauge: &GaugeCard) -> Master {
    let ball = match gauge.stylus.shape {
        StylusShape::Ball => gauge.stylus.radius,
        StylusShape::Flat | StylusShape::Point => Length::ZERO,
    };
    Master {
        form: Length::from_um(round.form),
        path_radius: round
            .diameter
            .map(|diameter| Length::from_mm(diameter) / 2.0 + ball),
    }
}

fn status(study: &Study) -> Status {
    Status::from(study.outcome().map(|outcome| match outcome {
        Outcome::Pass => Verdict::Pass,
        Outcome::Fail => Verdict::Fail,
        Outcome::Undecided => Verdict::Undecided,
    }))
}

fn read(path: &Path) -> Result<Vec<u8>> {
    std::fs::read(path).map_err(|fault| {
        let (code, message) = if fault.kind() == std::io::ErrorKind::NotFound {
            (Code::Missing, "found no such file".to_owned())
        } else {
            (Code::Disk, format!("could not be read: {fault}"))
        };
        Error::new(code, message).in_file(path.display().to_string())
    })
}

fn placed(error: Error, path: &Path) -> Error {
    if error.place().file.is_some() {
        error
    } else {
        error.in_file(path.display().to_string())
    }
}

fn gauge(path: &Path) -> Result<GaugeCard> {
    let text = String::from_utf8(read(path)?).map_err(|_| {
        Error::new(
            Code::CardSyntax,
            "read bytes that are not text, expected UTF-8",
        )
        .in_file(path.display().to_string())
    })?;
    GaugeCard::parse(&text, &path.display().to_string())
}

fn table(path: &Path, out: &mut Out) -> Result<Table> {
    let file = path.display().to_string();
    let table = csv::read(read(path)?.as_slice(), &file)?;
    for warning in &table.warnings {
        out.note(warning);
    }
    for bad in &table.bad {
        out.note(&format!("{bad}; the line was left out"));
    }
    Ok(table)
}

/// The readings of any trace over time.
fn readings(path: &Path, out: &mut Out) -> Result<Vec<(Time, Length)>> {
    let usable = |sample: &&Sample| sample.marks.usable();
    Ok(match table(path, out)?.rows {
        Rows::Turning(rows) => rows
            .iter()
            .filter(usable)
            .map(|row| (row.time, row.reading))
            .collect(),
        Rows::Sliding(rows) => rows.iter().map(|row| (row.time, row.reading)).collect(),
        Rows::Heights(rows) => rows.iter().map(|row| (row.time, row.reading)).collect(),
        Rows::Positions(_) => return Err(lacks(path, "reading_mm")),
    })
}

fn merged(path: &Path, gauge: &GaugeCard, out: &mut Out) -> Result<Merged> {
    let Rows::Turning(samples) = table(path, out)?.rows else {
        return Err(lacks(path, "angle_deg` and `reading_mm"));
    };
    let trace = Trace {
        name: path.display().to_string(),
        role: Role::Reference,
        z: None,
        rezeroed: false,
        two_clocks: false,
        samples: align::one_clock(samples, gauge.encoder.positive),
        history: Vec::new(),
    };
    merge(&trace, &MergeSettings::of(gauge)).map_err(|error| placed(error, path))
}

fn lacks(path: &Path, column: &str) -> Error {
    Error::new(
        Code::TraceHeader,
        format!("found no column that fits, expected `{column}`"),
    )
    .in_file(path.display().to_string())
}

fn positive(text: &str) -> std::result::Result<f64, String> {
    size(text).and_then(|number| {
        if number > 0.0 {
            Ok(number)
        } else {
            Err("expected a number above 0".to_owned())
        }
    })
}

fn size(text: &str) -> std::result::Result<f64, String> {
    let number = text
        .parse()
        .ok()
        .filter(|number: &f64| number.is_finite() && *number >= 0.0);
    number.ok_or_else(|| "expected a number from 0".to_owned())
}

fn for_people(study: &Study) -> String {
    let mut text = format!("{}: {}\n", study.name, word(study.outcome()));
    for finding in &study.findings {
        let allowed = match (finding.allowed, finding.outcome) {
            (Some(most), _) => format!(
                "at most {}, {}",
                shown(finding, most),
                word(finding.outcome)
            ),
            (None, Some(_)) => word(finding.outcome).to_owned(),
            (None, None) => String::new(),
        };
        let line = format!("  {:<33}{:<28}{allowed}", finding.quantity, value(finding));
        text.push_str(line.trim_end());
        text.push('\n');
    }
    for note in &study.notes {
        text.push_str(&format!("  note: {note}\n"));
    }
    for finding in &study.findings {
        if finding
            .outcome
            .is_some_and(|outcome| outcome != Outcome::Pass)
        {
            text.push_str(&format!("  {}: {}\n", finding.quantity, finding.advice));
        }
    }
    text
}

const fn word(outcome: Option<Outcome>) -> &'static str {
    match outcome {
        Some(Outcome::Pass) => "fine",
        Some(Outcome::Fail) => "not fine",
        Some(Outcome::Undecided) => "not settled",
        None => "nothing was asked",
    }
}

/// A value with its interval, lengths in micrometres.
fn value(finding: &Finding) -> String {
    let alone = shown(finding, finding.value);
    match finding.interval {
        Some([low, high]) if finding.unit == "mm" => {
            format!("{alone} ({:.2} to {:.2})", low * 1000.0, high * 1000.0)
        }
        Some([low, high]) => format!("{alone} ({low:.4} to {high:.4})"),
        None => alone,
    }
}

fn shown(finding: &Finding, value: f64) -> String {
    match finding.unit {
        "mm" => format!("{:.2} µm", value * 1000.0),
        "deg" => format!("{value:.4}°"),
        "%" => format!("{value:.1} %"),
        _ if value.fract() == 0.0 => format!("{value}"),
        _ => format!("{value:.5}"),
    }
}

fn table_for_people(anova: &Anova) -> String {
    let mut text = format!(
        "{:<22}{:>6}{:>14}{:>14}\n",
        "source", "free", "sum of squares", "mean square"
    );
    let sources = [
        ("parts", anova.parts),
        ("operators", anova.operators),
        ("operators by parts", anova.interaction),
        ("repeatability", anova.repeatability),
    ];
    for (name, source) in sources {
        text.push_str(&format!(
            "{name:<22}{:>6}{:>14.6}{:>14.6}\n",
            source.degrees_of_freedom,
            source.sum_of_squares,
            source.mean_square()
        ));
    }
    text
}

fn for_scripts(study: &Study) -> Value {
    let findings: Vec<Value> = study
        .findings
        .iter()
        .map(|finding| {
            json!({
                "quantity": finding.quantity,
                "value": finding.value,
                "unit": finding.unit,
                "interval": finding.interval,
                "allowed": finding.allowed,
                "verdict": finding.outcome.map(|outcome| word(Some(outcome))),
                "advice": finding.advice,
            })
        })
        .collect();
    json!({
        "study": study.name,
        "verdict": study.outcome().map(|outcome| word(Some(outcome))),
        "findings": findings,
        "notes": study.notes,
    })
}

fn crossed_for_scripts(crossed: &Crossed) -> Value {
    let anova = &crossed.anova;
    let source = |source: &study::Source| {
        json!({
            "degrees_of_freedom": source.degrees_of_freedom,
            "sum_of_squares": source.sum_of_squares,
            "mean_square": source.mean_square(),
        })
    };
    let mut object = for_scripts(&crossed.study);
    object["anova"] = json!({
        "parts": source(&anova.parts),
        "operators": source(&anova.operators),
        "interaction": source(&anova.interaction),
        "repeatability": source(&anova.repeatability),
        "interaction_chance": anova.interaction_chance(),
        "pooled": anova.is_pooled(),
    });
    object
}
