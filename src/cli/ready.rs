//! `ready`: is the bench fit for work? A line each: fine, or what to do.

use super::capture::{CAUTIONS, ctrl_c, read};
use super::{Out, Status, archive, simulate};
use crate::card::GaugeCard;
use crate::error::{Code, Result};
use crate::gauge::Instrument;
use crate::gauge::serial::SerialInstrument;
use crate::inspection::capture::{Hearing, Listening};
use crate::inspection::ready::{Check, Instruments, ReadySettings, State, ready};
use crate::inspection::{seen_today, with_proof, write_whole};
use crate::quantity::Time;
use crate::report::harmless;
use crate::simulator::{InProcess, Scenario};
use anstyle::{AnsiColor, Style};
use clap::Args;
use indicatif::ProgressBar;
use serde_json::json;
use std::path::PathBuf;

/// Where the words begin, behind what was looked at and how it stands.
const INDENT: usize = 24;
/// Lines are no longer than this, on the widest screen too.
const WIDEST: usize = 100;
/// Where nobody says how wide the screen is.
const USUAL: usize = 80;

/// Check the bench before work: a line each, fine or what to do
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear ready --port /dev/ttyUSB0 --gauge bench.toml        before the first tool
  heelclear ready --port /dev/ttyUSB0 --gauge bench.toml --turn   the encoder's index too
  heelclear ready --port /dev/ttyUSB0 --gauge bench.toml --prove-sense   once for each bench
  heelclear ready --port COM4 --gauge bench.toml --seconds 20   a closer look at noise and drift
  heelclear ready                           ports, clock, disk and archive; no port is opened
  heelclear ready --simulate counterbore-pass                   try it without a bench
  heelclear ready --port COM4 --gauge bench.toml --json         an object a line, for scripts

Leave tool and table alone while it listens. It never asks anything: with --turn it says when to
turn the tool, and waits for it.
Exit status: 0 all is fine, 1 something is to be mended, 2 something could not be looked at, 3 a
figure is not settled. What was not asked for does not count.")]
pub(super) struct Arguments {
    /// Port of the bridge, or of the indicator; without it no port is opened
    #[arg(long)]
    port: Option<String>,

    /// Port of a second instrument that gives the angle
    #[arg(long, value_name = "PORT", requires = "port")]
    encoder_port: Option<String>,

    /// The gauge card: what may be expected of the bench
    #[arg(long, value_name = "CARD")]
    gauge: Option<PathBuf>,

    /// How long to listen at rest, 0.5 to 600
    #[arg(long, value_name = "SECONDS", default_value_t = 3.0, value_parser = seconds)]
    seconds: f64,

    /// Check the encoder's index too: you turn the tool by hand, once or twice
    #[arg(long)]
    turn: bool,

    /// Prove which way the encoder's angle grows and keep it on the gauge card: you turn the spindle
    /// clockwise, seen from the driven end, by a quarter of a turn
    #[arg(long)]
    prove_sense: bool,

    /// The folder that inspections go into
    #[arg(long, value_name = "DIR", default_value = ".")]
    folder: PathBuf,

    /// The archive: a file, a folder with an archive.db, or postgres://… [default: in your data folder]
    #[arg(long, value_name = "PLACE")]
    archive: Option<String>,

    /// Check a simulated bench in the program instead: a name or a recipe
    #[arg(long, value_name = "NAME", conflicts_with_all = ["port", "encoder_port"])]
    simulate: Option<String>,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let scenario = arguments.simulate.as_deref().map(simulate::scenario);
    let scenario = scenario.transpose()?.map(|it| standing(it, arguments));
    let settings = ReadySettings {
        gauge: gauge(arguments, scenario.as_ref())?,
        folder: arguments.folder.clone(),
        archive: archive::place(arguments.archive.as_deref())?,
        listening: Listening {
            rest: Time::from_s(arguments.seconds),
            turn: arguments.turn,
            clockwise: arguments.prove_sense,
            patience: None,
            turn_wait: None,
        },
    };
    let indicator = |baud| instrument(arguments.port.as_deref(), scenario.as_ref(), baud);
    let encoder = |baud| instrument(arguments.encoder_port.as_deref(), None, baud);
    let named = arguments.port.is_some() || scenario.is_some();
    let instruments = named.then_some(Instruments {
        indicator: &indicator,
        encoder: arguments.encoder_port.as_ref().map(|_| &encoder as _),
        are_ports: scenario.is_none(),
    });
    if (arguments.turn || arguments.prove_sense) && scenario.is_none() {
        out.note(CAUTIONS);
    }
    let mut checks: Vec<Check> = Vec::new();
    // Two closures write, one to each stream.
    let mut ears = Out::new(out.json());
    let turned = out.watched().then(ProgressBar::new_spinner);
    ready(
        &settings,
        instruments.as_ref(),
        &mut |hearing| hear(&hearing, turned.as_ref(), &mut ears),
        &mut |check| {
            if let Some(bar) = &turned {
                bar.finish_and_clear();
            }
            tell(&check, out)?;
            checks.push(check);
            Ok(())
        },
        ctrl_c,
    )?;
    keep(arguments, &checks, out)?;
    if !out.json() {
        let columns = out.columns().unwrap_or(USUAL).clamp(INDENT * 2, WIDEST);
        out.line(&textwrap::fill(&summary(&checks), columns))?;
    }
    Ok(checks.iter().map(status).fold(Status::Clear, Status::worst))
}

/// Keeps a sense that was seen on the named card, all else in it as a person wrote it.
fn keep(arguments: &Arguments, checks: &[Check], out: &mut Out) -> Result<()> {
    let seen = checks.iter().find_map(|check| check.seen);
    let (Some(grows), Some(path)) = (seen, &arguments.gauge) else {
        return Ok(());
    };
    let proven = seen_today(grows);
    let file = path.display().to_string();
    let text = with_proof(&read(path)?, &file, proven)?;
    write_whole(path, text.as_bytes())?;
    out.note(&format!("kept in {file}: sense_proven = {proven}"));
    Ok(())
}

/// The named card, or that of the simulated bench.
fn gauge(arguments: &Arguments, scenario: Option<&Scenario>) -> Result<Option<GaugeCard>> {
    let card = match (&arguments.gauge, scenario) {
        (Some(path), _) => (read(path)?, path.display().to_string()),
        (None, Some(scenario)) => (scenario.gauge_card(None), "gauge.toml".to_owned()),
        (None, None) => return Ok(None),
    };
    GaugeCard::parse(&card.0, &card.1).map(Some)
}

/// The recipe with a hand that waits as a person does who was told to, and then turns far enough.
fn standing(mut scenario: Scenario, arguments: &Arguments) -> Scenario {
    scenario.hand.rest_s = match arguments.turn || arguments.prove_sense {
        true => arguments.seconds + 1.0,
        false => 1e6,
    };
    scenario.hand.turns = scenario.hand.turns.max(2.2);
    // Clockwise, as it is asked to.
    scenario.hand.turning = scenario.clockwise();
    scenario.hand.speed_deg_per_s = scenario.hand.speed_deg_per_s.max(90.0);
    for round in &mut scenario.reference {
        round.turns = None;
    }
    scenario
}

fn instrument(port: Option<&str>, scenario: Option<&Scenario>, baud: u32) -> Box<dyn Instrument> {
    match scenario {
        Some(scenario) => Box::new(InProcess::new(scenario.clone(), 1.0)),
        None => Box::new(SerialInstrument::new(port.unwrap_or_default(), baud)),
    }
}

fn hear(hearing: &Hearing<'_>, turned: Option<&ProgressBar>, out: &mut Out) {
    match hearing {
        Hearing::Notice(notice) => out.note(&notice.to_string()),
        Hearing::Trying(baud) => out.note(&format!("trying it at {baud} baud")),
        Hearing::Rest(time) => out.note(&format!(
            "listening for {:.1} s; leave tool and table alone",
            time.s()
        )),
        Hearing::Turn => {
            out.note("now turn the tool slowly by hand, always the same way, and heel first where the stylus rests on teeth: two turns at most")
        }
        Hearing::TurnClockwise => out.note(
            "lift the stylus off; then turn the spindle clockwise, seen from the driven end (from the shank, along the axis towards the work), by a quarter of a turn",
        ),
        Hearing::WentClockwise(by) => {
            if let Some(bar) = turned {
                bar.set_message(format!("the angle went {:.0}°", by.deg()));
                bar.tick();
            }
        }
        Hearing::Turned(arc, marks) => {
            if let Some(bar) = turned {
                bar.set_message(format!("{:.1} turns, {marks} index marks", arc.turns()));
                bar.tick();
            }
        }
    }
}

fn tell(check: &Check, out: &mut Out) -> Result<()> {
    if out.json() {
        let figures: serde_json::Map<_, _> = (check.figures.iter())
            .map(|(name, value)| ((*name).to_owned(), json!(value)))
            .collect();
        return out.object(&json!({
            "check": check.what.as_str(),
            "state": check.state.as_str(),
            "found": check.found,
            "advice": check.advice,
            "code": check.code.map(Code::as_str),
            "figures": figures,
        }));
    }
    out.styled(&drawn(check, out.columns().unwrap_or(USUAL)))
}

/// The line of a check, and under it what to do.
fn drawn(check: &Check, columns: usize) -> String {
    let style = match check.state {
        State::Fine => AnsiColor::Green.on_default(),
        State::Mend => AnsiColor::Red.on_default().bold(),
        State::Unsettled => AnsiColor::Yellow.on_default().bold(),
        State::Left => Style::new().dimmed(),
    };
    // The word stands out without colour too: only fine is written small.
    let word = match check.state {
        State::Fine | State::Left => check.state.as_str().to_owned(),
        State::Mend | State::Unsettled => check.state.as_str().to_uppercase(),
    };
    let width = columns.clamp(INDENT * 2, WIDEST) - INDENT;
    // A hyphen is part of a flag here, and no place to break it.
    let room = textwrap::Options::new(width).word_splitter(textwrap::WordSplitter::NoHyphenation);
    let hang = room.clone().initial_indent("→ ").subsequent_indent("  ");
    let found = harmless(&check.found);
    let mut lines = textwrap::wrap(&found, room);
    let advice = check.advice.as_deref().map(harmless);
    if let Some(advice) = &advice {
        lines.extend(textwrap::wrap(advice, hang));
    }
    let mut text = format!("{:<11}{style}{word:<13}{style:#}", check.what.as_str());
    for (number, line) in lines.iter().enumerate() {
        if number > 0 {
            text += &" ".repeat(INDENT);
        }
        text += line.trim_end();
        text.push('\n');
    }
    text
}

fn summary(checks: &[Check]) -> String {
    let named = |state| {
        let which = checks.iter().filter(|check| check.state == state);
        which
            .map(|check| check.what.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let (mend, unsettled, left) = (
        named(State::Mend),
        named(State::Unsettled),
        named(State::Left),
    );
    let mut text = match (mend.is_empty(), unsettled.is_empty()) {
        (false, _) => format!("NOT READY: mend {mend} first"),
        (true, false) => format!("NOT SETTLED: {unsettled}"),
        // Nobody said where the instruments are, so nothing is known of them.
        (true, true) if left.contains("bridge") => "FINE as far as was looked".to_owned(),
        (true, true) => "READY".to_owned(),
    };
    if !left.is_empty() {
        text += &format!("; not checked: {left}");
    }
    text
}

/// What could not be looked at is no figure that fails.
fn status(check: &Check) -> Status {
    match (check.state, check.code) {
        (State::Fine | State::Left, _) => Status::Clear,
        (State::Unsettled, _) => Status::Undecided,
        (State::Mend, None) => Status::Fail,
        (State::Mend, Some(_)) => Status::NoVerdict,
    }
}

fn seconds(text: &str) -> std::result::Result<f64, String> {
    let number: Option<f64> = text.parse().ok();
    number
        .filter(|seconds| (0.5..=600.0).contains(seconds))
        .ok_or_else(|| "expected seconds from 0.5 to 600".to_owned())
}
