//! `study`: checks of the gauge itself, from files.

mod files;
mod words;

use super::style::style;
use super::{Out, Status, typed};
use crate::card::{
    GaugeCard, LeanBound, Name, Studied, StudiedDrift, StudiedGain, StudiedLean, StudiedSpread,
    Studies, StylusShape, keys,
};
use crate::error::{Code, Error, Result};
use crate::judge::Outcome;
use crate::quantity::typed::Bare;
use crate::quantity::{Angle, Length};
use crate::record::Verdict;
use crate::study::{self, Bar, KnownHeight, Master, Study};
use crate::trace::Merged;
use clap::builder::PossibleValuesParser;
use clap::{Args, Subcommand};
use files::{gauge, keep, merged, placed, read, readings};
use jiff::Timestamp;
use std::path::PathBuf;

/// Check the gauge itself: at rest, over passes, both ways, on a master round, along a test bar, on known steps, by several hands
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear study rest still.csv --gauge gauge.toml          noise and drift, nothing moving
  heelclear study repeat turns.csv --gauge gauge.toml        five turns or more, the same way
  heelclear study reversal both.csv --gauge gauge.toml       a turn forwards, a turn back
  heelclear study round ring.csv --gauge gauge.toml --diameter 20 --form 0.5
  heelclear study lean near.csv far.csv --apart 80 --gauge gauge.toml --keep
  heelclear study step low.csv high.csv --heights 1,2 --gauge gauge.toml
                                                             a trace at rest on each gauge block
  heelclear study crossed hands.csv --tolerance 0.03         parts by operators by trials
  heelclear study repeat turns.csv --gauge gauge.toml --keep

With --keep the gauge card keeps what was found, and verify uses it: a drift as it is, a gain that is
proven to differ from 1 by dividing every reading by it, all else where it is worse than stated.

The exit status is 0 where all is fine, 1 where something is not, 3 where it is not settled.
Ground edges cut: stop the wheel and lock the spindle before a stylus goes near the tool.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    kind: Kind,
}

#[derive(Subcommand)]
enum Kind {
    /// Noise and drift, from a trace during which nothing moved
    Rest(Kept),
    /// Repeatability over passes, from several turns the same way
    Repeat(Kept),
    /// Hysteresis, from a trace turned both ways
    Reversal(Kept),
    /// Form, error and runout on a master round
    Round(OfRound),
    /// Lean of a test bar in the holder, from traces at two distances along it
    Lean(OfBar),
    /// What a millimetre reads, from traces at rest on two or more known heights
    Step(OfSteps),
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
struct Kept {
    #[command(flatten)]
    of: OfTrace,

    /// Keep what was found in the gauge card
    #[arg(long)]
    keep: bool,
}

#[derive(Args)]
struct OfRound {
    #[command(flatten)]
    of: Kept,

    /// Diameter of the master, in mm or with its unit
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Option<Length>,

    /// Roundness of the master on its certificate, in µm or with its unit
    #[arg(long, value_name = "UM", default_value = "0", value_parser = typed::um_from_zero, allow_negative_numbers = true)]
    form: Length,
}

#[derive(Args)]
struct OfBar {
    /// The trace nearer to the holder
    near: PathBuf,

    /// The trace farther out, of the same clamping
    far: PathBuf,

    /// Distance between the two along the bar, in mm or with its unit
    #[arg(long, value_name = "LENGTH", value_parser = typed::positive, allow_negative_numbers = true)]
    apart: Length,

    /// The gauge card that they were taken with
    #[arg(long, value_name = "FILE")]
    gauge: PathBuf,

    /// Diameter of the bar, in mm or with its unit
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    diameter: Option<Length>,

    /// Keep what was found in the gauge card
    #[arg(long)]
    keep: bool,
}

#[derive(Args)]
struct OfSteps {
    /// Traces during which nothing moved, one on each height
    #[arg(required = true, num_args = 2..)]
    traces: Vec<PathBuf>,

    /// The heights in the order of the traces, over any that is common to all, such as gauge blocks
    #[arg(long, value_name = "HEIGHT,…", allow_hyphen_values = true)]
    heights: String,

    /// The unit of heights that have none behind them
    #[arg(long, value_name = "UNIT", default_value = "mm", value_parser = ["mm", "in"])]
    unit: String,

    /// Standard uncertainty of each height, in µm or with its unit
    #[arg(long, value_name = "UM", default_value = "0.25", value_parser = typed::um_from_zero, allow_negative_numbers = true)]
    uncertainty: Length,

    /// The gauge card that the traces were taken with
    #[arg(long, value_name = "FILE")]
    gauge: PathBuf,

    /// Keep the gain in the gauge card
    #[arg(long)]
    keep: bool,
}

#[derive(Args)]
struct OfTable {
    /// A CSV file with the columns part, operator and value_mm
    table: PathBuf,

    /// Whole width of the tolerance, in the unit of the results, mm or degrees, or with its own
    #[arg(long, value_name = "WIDTH", allow_hyphen_values = true)]
    tolerance: Option<String>,

    /// Keep the spread found in the gauge card, for this characteristic
    #[arg(long, value_name = "NAME", requires = "gauge", value_parser = characteristics())]
    keep: Option<String>,

    /// The gauge card that keeps it
    #[arg(long, value_name = "FILE")]
    gauge: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    match &arguments.kind {
        Kind::Rest(of) => rest(of, out),
        Kind::Repeat(of) => turned(of, out, study::repeat, |studies| &mut studies.repeat),
        Kind::Reversal(of) => turned(of, out, study::reversal, |studies| &mut studies.reversal),
        Kind::Round(round) => {
            let on = |merged: &_, gauge: &_| study::round(merged, &master(round, gauge), gauge);
            turned(&round.of, out, on, |studies| &mut studies.round)
        }
        Kind::Lean(of) => lean(of, out),
        Kind::Step(of) => step(of, out),
        Kind::Crossed(of) => crossed(of, out),
    }
}

fn step(of: &OfSteps, out: &mut Out) -> Result<Status> {
    let gauge = gauge(&of.gauge)?;
    let mut heights = Vec::new();
    for (trace, nominal) in of.traces.iter().zip(nominal(of)?) {
        heights.push(KnownHeight {
            nominal,
            readings: readings(trace, out)?,
        });
    }
    let step = study::step(&heights, of.uncertainty, &gauge)?;
    if of.keep {
        if !keys::GAIN.holds(step.gain) {
            return Err(Error::new(
                Code::Study,
                format!(
                    "found a gain of {:.4}, expected one {} to be kept",
                    step.gain,
                    keys::GAIN
                ),
            )
            .help("no indicator errs by that much: check whether it shows inches, `count_mm`, `resolution_mm` and `lever_angle_deg`, and the heights; then take the traces again"));
        }
        keep(&of.gauge, |studies, taken| {
            studies.step = Some(StudiedGain {
                taken,
                gain: step.gain,
                standard_uncertainty: step.standard_uncertainty,
                over: step.over,
            });
        })?;
        out.note(&format!("kept in {}", of.gauge.display()));
    }
    tell(&step.study, out)
}

/// The heights as they were typed, one for each trace.
fn nominal(of: &OfSteps) -> Result<Vec<Length>> {
    let bare = match of.unit.as_str() {
        "in" => Bare::In,
        _ => Bare::Mm,
    };
    let heights = typed::list(&of.heights, bare, Some(of.traces.len())).map_err(|why| {
        let message = format!("read `--heights {}`, expected lengths", of.heights);
        Error::new(Code::Usage, message).help(why)
    })?;
    if heights.len() == of.traces.len() {
        return Ok(heights);
    }
    let message = format!(
        "read {} heights for {} traces, expected one for each",
        heights.len(),
        of.traces.len()
    );
    Err(Error::new(Code::Usage, message)
        .help("name the heights in the order of the traces: `--heights 1,2`"))
}

fn rest(rest: &Kept, out: &mut Out) -> Result<Status> {
    let of = &rest.of;
    let gauge = gauge(&of.gauge)?;
    let study = study::rest(&readings(&of.trace, out)?, &gauge);
    let study = study.map_err(|error| placed(error, &of.trace))?;
    if let Some((drift, lasted)) = study.kept.zip(study.lasted).filter(|_| rest.keep) {
        keep(&of.gauge, |studies, taken| {
            studies.rest = Some(StudiedDrift {
                taken,
                drift,
                lasted,
            });
        })?;
        out.note(&format!("kept in {}", of.gauge.display()));
    }
    tell(&study, out)
}

/// Studies a trace over the turn, and keeps what was found where that was asked for.
fn turned(
    turns: &Kept,
    out: &mut Out,
    make: impl Fn(&Merged, &GaugeCard) -> Result<Study>,
    kept: impl Fn(&mut Studies) -> &mut Option<Studied>,
) -> Result<Status> {
    let of = &turns.of;
    let gauge = gauge(&of.gauge)?;
    let merged = merged(&of.trace, &gauge, out)?;
    let study = make(&merged, &gauge).map_err(|error| placed(error, &of.trace))?;
    if let Some(found) = study.kept.filter(|_| turns.keep) {
        keep(&of.gauge, |studies, taken| {
            *kept(studies) = Some(Studied { taken, found });
        })?;
        out.note(&format!("kept in {}", of.gauge.display()));
    }
    tell(&study, out)
}

fn lean(of: &OfBar, out: &mut Out) -> Result<Status> {
    let gauge = gauge(&of.gauge)?;
    let near = merged(&of.near, &gauge, out)?;
    let far = merged(&of.far, &gauge, out)?;
    let bar = Bar {
        apart: of.apart,
        path_radius: path_radius(of.diameter, &gauge),
    };
    let study = study::lean(&near, &far, &bar, &gauge)?;
    if let Some(growth) = study.kept.filter(|_| of.keep) {
        let bound = LeanBound {
            growth,
            over: bar.apart,
        };
        keep(&of.gauge, |studies, taken| {
            studies.lean = Some(StudiedLean { taken, bound });
        })?;
        out.note(&format!("kept in {}", of.gauge.display()));
    }
    tell(&study, out)
}

fn crossed(of: &OfTable, out: &mut Out) -> Result<Status> {
    let file = of.table.display().to_string();
    let table = study::read_table(read(&of.table)?.as_slice(), &file)?;
    let tolerance = of.tolerance.as_deref();
    let tolerance = tolerance.map(|text| width(text, table.unit)).transpose()?;
    let crossed = study::crossed(&table, tolerance);
    let name = of.keep.as_deref().and_then(named);
    if let (Some(name), Some(gauge)) = (name, &of.gauge) {
        if table.unit.as_str() != name.unit() {
            return Err(Error::new(
                Code::Study,
                format!(
                    "read values without the unit of `{}`, expected a column `value_{}`",
                    name.as_str(),
                    name.unit()
                ),
            )
            .in_file(file)
            .at_line(1));
        }
        keep(gauge, |studies, taken| {
            let earlier = studies.crossed.take();
            studies.crossed = Some(with_spread(earlier, name, crossed.spread(), taken));
        })?;
        out.note(&format!("kept in {}", gauge.display()));
    }
    if out.json() {
        out.object(&words::crossed_for_scripts(&crossed))?;
    } else {
        out.text(&words::table_for_people(&crossed.anova))?;
        out.text(&words::for_people(&crossed.study, style(out).columns))?;
    }
    Ok(status(&crossed.study))
}

/// The width of a tolerance in the unit of the results.
fn width(text: &str, unit: study::Unit) -> Result<f64> {
    let read = match unit {
        study::Unit::Mm => typed::positive(text).map(Length::mm),
        study::Unit::Deg => typed::angle(text, 1e-6, 360.0).map(Angle::deg),
        study::Unit::None => text
            .trim()
            .parse()
            .ok()
            .filter(|number: &f64| number.is_finite() && *number > 0.0)
            .ok_or_else(|| "expected a number above 0, as the table has no unit".to_owned()),
    };
    read.map_err(|why| {
        let message = format!("read `--tolerance {text}`, expected the width of a tolerance");
        Error::new(Code::Usage, message).help(why)
    })
}

/// The spreads kept so far with one replaced. They have one date, that of the oldest.
fn with_spread(
    earlier: Option<StudiedSpread>,
    name: Name,
    spread: f64,
    taken: Timestamp,
) -> StudiedSpread {
    let mut kept = earlier.unwrap_or(StudiedSpread {
        taken,
        found: Vec::new(),
    });
    kept.found.retain(|(other, _)| *other != name);
    if kept.found.is_empty() {
        kept.taken = taken;
    }
    kept.found.push((name, spread));
    let place = |name: Name| {
        Studies::CHARACTERISTICS
            .iter()
            .position(|known| *known == name)
    };
    kept.found.sort_by_key(|(name, _)| place(*name));
    kept
}

fn tell(study: &Study, out: &mut Out) -> Result<Status> {
    if out.json() {
        out.object(&words::for_scripts(study))?;
    } else {
        out.text(&words::for_people(study, style(out).columns))?;
    }
    Ok(status(study))
}

fn characteristics() -> PossibleValuesParser {
    PossibleValuesParser::new(Studies::CHARACTERISTICS.map(Name::as_str))
}

fn named(word: &str) -> Option<Name> {
    let mut names = Studies::CHARACTERISTICS.into_iter();
    names.find(|name| name.as_str() == word)
}

fn master(round: &OfRound, gauge: &GaugeCard) -> Master {
    Master {
        form: round.form,
        path_radius: path_radius(round.diameter, gauge),
    }
}

/// Distance of the stylus' centre from the axis of a round of this diameter.
fn path_radius(diameter: Option<Length>, gauge: &GaugeCard) -> Option<Length> {
    let ball = match gauge.stylus.shape {
        StylusShape::Ball => gauge.stylus.radius,
        StylusShape::Flat | StylusShape::Point => Length::ZERO,
    };
    diameter.map(|diameter| diameter / 2.0 + ball)
}

fn status(study: &Study) -> Status {
    Status::from(study.outcome().map(|outcome| match outcome {
        Outcome::Pass => Verdict::Pass,
        Outcome::Fail => Verdict::Fail,
        Outcome::Undecided => Verdict::Undecided,
    }))
}
