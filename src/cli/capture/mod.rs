//! `capture`: from live instruments into an inspection folder.

mod plain;

pub(super) use plain::StatusLine;

use super::screen::{self, Watched};
use super::{Out, Status, simulate, typed};
use crate::card::{Engaged, GaugeCard, Role, Stage, Surface, ToolCard};
use crate::error::{Code, Error, Result, reason};
use crate::gauge::Instrument;
use crate::gauge::serial::SerialInstrument;
use crate::inspection::GrinderFiles;
use crate::inspection::capture::{CaptureSettings, Captured, End, Wanted, capture};
use crate::inspection::instruments::traces;
use crate::inspection::live::Weight;
use crate::quantity::{Angle, Time};
use crate::record::archive::regular;
use crate::report::Units;
use crate::simulator::{InProcess, Lead};
use clap::{Args, ValueEnum};
use serde_json::json;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Said before a probe goes near an edge.
pub(super) const CAUTIONS: &str = "\
Ground edges cut. Stop the wheel, lock it out, and turn the spindle by hand only.
A stylus that meets a tooth's face can chip the edge: with several teeth turn backwards, heel first.
Your shop's own safety rules come first.";

/// A simulated hand turns so often where coverage ends its traces: nobody waits for more.
const GOES_ON: f64 = 1000.0;

/// Said of a `--trace` that cannot be read.
const TRACE_HELP: &str = "`--trace seat:2` is the feature `seat`, 2 mm from the front; \
                          `--trace reference:40:20` a round of diameter 20 mm, `--trace motion@1.0:40` \
                          one that moves with a relieving fixture whose throw shows 1.0 mm, \
                          `--trace seat@1.0:2` the feature in it";

/// Capture live from instruments into a new inspection folder
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear capture bench/VB-07 --port /dev/ttyUSB0 --tool VB-07.toml --gauge bench.toml \\
      --trace reference:40 --trace seat:2 --until-covered 3
  heelclear capture bench/VB-07 --port COM4 --tool VB-07.toml --gauge bench.toml --trace seat:2
  heelclear capture bench/VB-07 --port /dev/ttyUSB0 --encoder-port /dev/ttyUSB1 \\
      --tool VB-07.toml --gauge bench.toml --trace seat:2 --seconds 60
  heelclear capture bench/VB-07 --port /dev/ttyUSB0 --tool VB-07.toml --gauge bench.toml \\
      --trace reference:40 --trace seat:2:rezeroed --still 3
  heelclear capture bench/try --simulate counterbore-pass
  heelclear capture checks/rest --port /dev/ttyUSB0 --gauge bench.toml --rest 60
  heelclear capture checks/ring --port /dev/ttyUSB0 --gauge bench.toml --trace reference \\
      --until-covered 5

The last two check the gauge: without a tool card there is no inspection, but a trace for
`heelclear study`. On Windows a port is called COM4 and the like.

On a terminal of 60 by 12 or more the whole screen shows what to do, the reading, what of the turn
is covered, each land against its limits and the verdict so far; Space says that the stylus is set.
With --plain, in a pipe or with TERM=dumb it prints lines and asks for nothing: each
trace begins when the tool turns. A trace ends when the turn is covered, after some seconds, or
when the tool stands still, as asked. Ctrl-C ends the capture, keeps all that was read, and marks
it interrupted. `heelclear ready` checks the bench before, `heelclear ports` lists the ports.")]
pub(super) struct Arguments {
    /// The folder to make
    #[arg(value_name = "DIR")]
    folder: PathBuf,

    /// Port of the bridge, or of the indicator
    #[arg(long, required_unless_present = "simulate")]
    port: Option<String>,

    /// Port of a second instrument that gives the angle
    #[arg(long, value_name = "PORT")]
    encoder_port: Option<String>,

    /// The tool card; needed where a feature of the tool is traced
    #[arg(long, value_name = "FILE")]
    tool: Option<PathBuf>,

    /// The gauge card
    #[arg(long, value_name = "FILE", required_unless_present = "simulate")]
    gauge: Option<PathBuf>,

    /// The grinder's card, kept beside the traces
    #[arg(long, value_name = "FILE")]
    grinder: Option<PathBuf>,

    /// The set-up that the tool was ground from, kept beside the traces
    #[arg(long, value_name = "FILE")]
    setup: Option<PathBuf>,

    /// What is traced, in order: `reference` or a feature, its distance from the front in mm or
    /// with its unit, and `rezeroed` where the indicator is set anew before it. With a relieving
    /// fixture engaged: `motion` or a feature, and `@` with what its throw showed
    #[arg(
        long = "trace",
        value_name = "ROLE[@THROW][:Z][:rezeroed]",
        required_unless_present_any = ["simulate", "rest"]
    )]
    traces: Vec<String>,

    /// End a trace when every place of the turn was passed so often
    #[arg(long, value_name = "TIMES", value_parser = clap::value_parser!(u32).range(1..=1000))]
    until_covered: Option<u32>,

    /// End a trace so long after the tool began to turn
    #[arg(long)]
    seconds: Option<f64>,

    /// End a trace when the tool has stood still for so long
    #[arg(long, value_name = "SECONDS")]
    still: Option<f64>,

    /// Take one trace in which nothing moves, for so long: for `study rest` and `study step`
    #[arg(
        long,
        value_name = "SECONDS",
        conflicts_with_all = ["tool", "traces", "until_covered", "seconds", "still", "setup", "grinder"]
    )]
    rest: Option<f64>,

    /// Angle between readings that is wanted, in degrees or with its unit
    #[arg(long, default_value = "0.5", value_name = "ANGLE", value_parser = spacing, allow_negative_numbers = true)]
    spacing: Angle,

    /// Who takes it
    #[arg(
        long,
        value_name = "NAME",
        default_value = "",
        hide_default_value = true
    )]
    operator: String,

    /// Whose tool it is
    #[arg(long, value_name = "NAME")]
    customer: Option<String>,

    /// Temperature at the bench in °C; a report says so where it is not known
    #[arg(long, value_name = "DEGREES", value_parser = temperature, allow_negative_numbers = true)]
    temperature: Option<f64>,

    /// Before or after the grind
    #[arg(long, value_enum, default_value_t = When::AfterGrind)]
    stage: When,

    /// Capture from a simulated bridge in the program instead: a name or a recipe
    #[arg(long, value_name = "NAME", conflicts_with_all = ["port", "encoder_port"])]
    simulate: Option<String>,

    /// Run the simulated bridge so many times faster than real time
    #[arg(
        long,
        default_value_t = 1.0,
        requires = "simulate",
        value_name = "TIMES"
    )]
    faster: f64,

    /// Print lines in place of the full screen, and begin each trace as soon as the tool turns
    #[arg(long)]
    plain: bool,

    /// Unit of the lengths on the full screen
    #[arg(long, value_enum, default_value_t = Unit::Mm)]
    units: Unit,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Unit {
    /// Millimetres
    Mm,
    /// Inches
    In,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum When {
    BeforeGrind,
    AfterGrind,
}

impl From<When> for Stage {
    fn from(when: When) -> Self {
        match when {
            When::BeforeGrind => Stage::BeforeGrind,
            When::AfterGrind => Stage::AfterGrind,
        }
    }
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let mut settings = settings(arguments)?;
    let mut hand = None;
    let indicator: Box<dyn Instrument> = match (&arguments.simulate, &arguments.port) {
        (Some(name), _) => {
            let bridge = simulated(name, arguments.faster, &mut settings)?;
            if settings.rest.is_some() {
                // The hand lets go of the spindle.
                bridge.lead().hold_at(0);
            }
            hand = Some(bridge.lead());
            Box::new(bridge)
        }
        (None, Some(port)) => Box::new(SerialInstrument::new(port, baud(&settings, false)?)),
        (None, None) => return Err(Error::new(Code::Usage, "read no port, expected `--port`")),
    };
    let encoder = arguments.encoder_port.as_ref();
    let encoder = encoder
        .map(|port| Ok(SerialInstrument::new(port, baud(&settings, true)?)))
        .transpose()?
        .map(|port| Box::new(port) as Box<dyn Instrument>);
    let inspects = settings.tool_card.is_some();
    if inspects && !arguments.plain && !out.json() && screen::fits() {
        return on_the_full_screen(arguments.units, settings, indicator, encoder, hand, out);
    }
    if arguments.simulate.is_none() {
        out.note(CAUTIONS);
    }
    let mut line = StatusLine::new(out.watched());
    let captured = capture(
        &settings,
        indicator,
        encoder,
        &mut |notice| line.show(&notice, out),
        ctrl_c(),
    );
    line.clear();
    finish(
        &settings.folder,
        settings.tool_card.as_deref(),
        captured?,
        out,
    )
}

fn on_the_full_screen(
    units: Unit,
    settings: CaptureSettings,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    simulated: Option<Arc<Lead>>,
    out: &mut Out,
) -> Result<Status> {
    settings.check()?;
    let card = settings.tool_card.as_deref().unwrap_or_default();
    let tool = ToolCard::parse(card, "tool.toml")?;
    let (folder, tool_card) = (settings.folder.clone(), settings.tool_card.clone());
    let (captured, told, kept) = screen::watch(Watched {
        settings,
        indicator,
        encoder,
        simulated,
        tool: format!("{} {}", tool.id, tool.name),
        units: match units {
            Unit::Mm => Units::Metric,
            Unit::In => Units::Inch,
        },
    })?;
    // The screen is gone with everything on it: what mattered is said once more, to scroll back to.
    let columns = out.columns().unwrap_or(80).max(40);
    for told in told {
        let text = match told.weight {
            Weight::Plain => told.text,
            Weight::Fault => format!("! {}", told.text),
        };
        out.note(&textwrap::fill(&text, columns));
    }
    if captured.interrupted {
        out.note(&textwrap::fill(&kept, columns));
    }
    finish(&folder, tool_card.as_deref(), captured, out)
}

/// What the bench does not trace, where the tool's card asks for it.
pub(super) fn taken_elsewhere(tool: &ToolCard) -> Option<String> {
    let features = tool.features.iter();
    let names: Vec<_> = features
        .filter(|feature| feature.asks_for_travel())
        .map(|feature| format!("`{}`", feature.name))
        .collect();
    (!names.is_empty()).then(|| {
        format!(
            "the face angle of {} needs a trace over table travel, which is taken beside this: \
             `heelclear manual take-a-trace-over-travel`",
            names.join(" and ")
        )
    })
}

fn finish(
    folder: &Path,
    tool_card: Option<&str>,
    captured: Captured,
    out: &mut Out,
) -> Result<Status> {
    let folder = folder.display().to_string();
    if out.json() {
        let traces: Vec<_> = captured
            .traces
            .iter()
            .map(|made| {
                json!({ "file": made.file, "readings": made.readings, "warnings": made.warnings })
            })
            .collect();
        out.object(&json!({
            "folder": folder,
            "interrupted": captured.interrupted,
            "traces": traces,
        }))?;
    } else {
        out.line(&folder)?;
    }
    match captured.fault {
        Some(fault) => Err(fault),
        None if captured.interrupted => {
            out.note("stopped; what was read is kept, and the inspection is marked interrupted");
            Ok(Status::Clear)
        }
        None => {
            let Some(tool_card) = tool_card else {
                for made in &captured.traces {
                    let file = Path::new(&folder).join(&made.file);
                    out.note(&format!(
                        "a trace for `heelclear study`: {}",
                        file.display()
                    ));
                }
                return Ok(Status::Clear);
            };
            let tool = ToolCard::parse(tool_card, "tool.toml").ok();
            if let Some(text) = tool.as_ref().and_then(taken_elsewhere) {
                out.note(&text);
            }
            out.note(&format!("judge it with `heelclear verify {folder}`"));
            Ok(Status::Clear)
        }
    }
}

fn settings(arguments: &Arguments) -> Result<CaptureSettings> {
    let card = |path: &Option<PathBuf>| path.as_deref().map(read).transpose();
    let positive = |name: &str, value: f64| {
        if value > 0.0 && value < 1e6 {
            Ok(value)
        } else {
            let message = format!("read `{name} {value}`, expected a number above 0");
            Err(Error::new(Code::Usage, message))
        }
    };
    let time = |name: &str, value: Option<f64>| {
        let value = value.map(|seconds| positive(name, seconds));
        value.transpose().map(|seconds| seconds.map(Time::from_s))
    };
    let traces = arguments.traces.iter().map(|text| wanted(text));
    Ok(CaptureSettings {
        folder: arguments.folder.clone(),
        tool_card: card(&arguments.tool)?,
        gauge_card: card(&arguments.gauge)?.unwrap_or_default(),
        grinder_card: arguments
            .grinder
            .as_deref()
            .map(GrinderFiles::read)
            .transpose()?,
        setup: arguments.setup.as_deref().map(read).transpose()?,
        simulated: arguments.simulate.is_some(),
        operator: arguments.operator.clone(),
        customer: arguments.customer.clone(),
        temperature_c: arguments.temperature,
        stage: arguments.stage.into(),
        traces: traces.collect::<Result<_>>()?,
        end: End {
            covered: arguments.until_covered,
            after: time("--seconds", arguments.seconds)?,
            still: time("--still", arguments.still)?,
        },
        spacing: arguments.spacing,
        rest: time("--rest", arguments.rest)?,
    })
}

fn spacing(text: &str) -> typed::Read<Angle> {
    typed::angle(text, 0.001, 90.0)
}

/// `seat:2`, `reference:40` or `reference:40:20`, the last being the round's diameter; each may
/// end in `:rezeroed`.
pub(super) fn wanted(text: &str) -> Result<Wanted> {
    let (said, rezeroed) = match text.strip_suffix(":rezeroed") {
        Some(said) => (said, true),
        None => (text, false),
    };
    let mut parts = said.split(':');
    let role = role(parts.next().unwrap_or_default(), text)?;
    let mut length = || match parts.next() {
        None => Ok(None),
        Some(length) => typed::signed(length).map(Some).map_err(|why| {
            let message = format!("read `{length}` in `--trace {text}`: {why}");
            Error::new(Code::Usage, message).help(TRACE_HELP)
        }),
    };
    let wanted = Wanted {
        role,
        z: length()?,
        diameter: length()?,
        rezeroed,
    };
    match parts.next() {
        None => Ok(wanted),
        Some(more) => {
            let message = format!(
                "read `{more}` at the end of `--trace {text}`, expected nothing or `rezeroed`"
            );
            Err(Error::new(Code::Usage, message).help(TRACE_HELP))
        }
    }
}

/// `reference` or a feature; with a fixture engaged `motion@1.0` or `seat@1.0`, and `@axial` behind it
/// where the fixture moves the tool along its axis.
fn role(said: &str, trace: &str) -> Result<Role> {
    let mut parts = said.split('@');
    let name = parts.next().unwrap_or_default();
    let Some(throw) = parts.next() else {
        return match name {
            "reference" => Ok(Role::Reference),
            "motion" => Err(
                Error::new(Code::Usage, format!("read no throw in `--trace {trace}`"))
                    .help(TRACE_HELP),
            ),
            feature => Ok(Role::Feature(feature.to_owned())),
        };
    };
    let wrong = |what: String| Error::new(Code::Usage, what).help(TRACE_HELP);
    let direction = match parts.next() {
        None | Some("radial") => Surface::Radial,
        Some("axial") => Surface::Axial,
        Some(other) => {
            return Err(wrong(format!(
                "read `@{other}` in `--trace {trace}`, expected `@radial` or `@axial`"
            )));
        }
    };
    let throw = typed::from_zero(throw)
        .map_err(|why| wrong(format!("read `{throw}` in `--trace {trace}`: {why}")))?;
    let engaged = Engaged { direction, throw };
    match (name, parts.next()) {
        ("reference", _) => Err(wrong(format!(
            "read a throw in `--trace {trace}`: a reference is taken with the fixture locked"
        ))),
        (_, Some(more)) => Err(wrong(format!(
            "read `@{more}` at the end of `--trace {trace}`"
        ))),
        ("motion", None) => Ok(Role::Motion(engaged)),
        (feature, None) => Ok(Role::Residual(feature.to_owned(), engaged)),
    }
}

/// The simulated bridge, with cards and traces from its recipe where none were named.
fn simulated(name: &str, faster: f64, settings: &mut CaptureSettings) -> Result<InProcess> {
    let mut scenario = simulate::scenario(name)?;
    // What a recipe in a file says of its hand is meant.
    if !Path::new(name).is_file() {
        scenario = scenario.watched();
    }
    if settings.end.covered.is_some() {
        // What ends a trace is the turn, and not a hand that lets go before.
        scenario.hand.turns = GOES_ON;
        for round in &mut scenario.reference {
            round.turns = None;
        }
    }
    // Rounds alone, and what is at rest, need no tool.
    let rounds = |wanted: &Wanted| wanted.role == Role::Reference;
    let checks = settings.rest.is_some()
        || (!settings.traces.is_empty() && settings.traces.iter().all(rounds));
    if settings.tool_card.is_none() && !checks {
        settings.tool_card = Some(scenario.tool_card());
    }
    if settings.gauge_card.is_empty() {
        settings.gauge_card = scenario.gauge_card(None);
    }
    if settings.traces.is_empty() && !checks {
        settings.traces = traces(&scenario);
    }
    let stated = || scenario.grinder_card().map(GrinderFiles::of_text);
    if !checks {
        settings.grinder_card = settings.grinder_card.take().or_else(stated);
    }
    if settings.operator.is_empty() {
        settings.operator = scenario.operator.clone();
    }
    if settings.end == End::default() {
        // The simulated hand lets go when it has turned far enough.
        settings.end.still = Some(Time::from_s(3.0 / faster.max(1.0)).max(Time::from_s(0.4)));
    }
    if !(0.01..=1000.0).contains(&faster) {
        let message = format!("read `--faster {faster}`, expected 0.01 to 1000");
        return Err(Error::new(Code::Usage, message));
    }
    Ok(InProcess::new(scenario, faster))
}

/// Comes to pass when the person presses Ctrl-C.
pub(super) async fn ctrl_c() {
    // Without a handler for it, Ctrl-C still ends the program, and the folder can be used.
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}

fn baud(settings: &CaptureSettings, encoder: bool) -> Result<u32> {
    let link = GaugeCard::parse(&settings.gauge_card, "gauge.toml")?.link;
    let link = link.unwrap_or_default();
    let baud = if encoder { link.angle_baud } else { link.baud };
    // What the bridge protocol starts with.
    Ok(baud.unwrap_or(115_200))
}

pub(super) fn read(path: &Path) -> Result<String> {
    regular::text(path).map_err(|fault| {
        let code = match fault.kind() {
            std::io::ErrorKind::NotFound => Code::Missing,
            _ => Code::Disk,
        };
        Error::new(code, format!("cannot be read: {}", reason(&fault)))
            .in_path(path)
            .help("name a card: `heelclear manual write-a-tool-card` and `write-a-gauge-card` show how to write one")
    })
}

/// As the inspection card takes it.
fn temperature(text: &str) -> std::result::Result<f64, String> {
    let read = text.parse::<f64>().ok();
    let fits = read.filter(|celsius| (-20.0..=60.0).contains(celsius));
    fits.ok_or_else(|| format!("read `{text}`, expected degrees Celsius from -20 to 60"))
}
