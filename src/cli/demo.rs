//! `demo`: the whole job with no hardware, over a real pseudo-terminal.

use super::archive::Keeper;
use super::capture::{StatusLine, ctrl_c};
use super::progress::patiently;
use super::style::style;
use super::{Out, Status, verify, whole_job};
use crate::card::Stage;
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
#[cfg(unix)]
use crate::gauge::serial::SerialInstrument;
use crate::inspection::capture::{CaptureSettings, End, capture};
use crate::inspection::instruments::traces;
use crate::judge::Effort;
use crate::quantity::{Angle, Time};
use crate::report::Units;
#[cfg(unix)]
use crate::simulator::Served;
use crate::simulator::{InProcess, Scenario, built_in};
use clap::Args;
use std::path::{Path, PathBuf};

/// Do the whole job on a simulated gauge: capture, judge, report, archive
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear demo                       into a new folder, heelclear-demo
  heelclear demo --out bench/first     into a folder of this name
  heelclear demo --seed 7              another hand, another noise, the same tool
  heelclear demo --whole-job           from a worn tool to the archive, ground twice

Nothing can be broken: no port is opened but a pseudo-terminal of the program's own, and the archive
lies in the new folder, apart from yours.")]
pub(super) struct Arguments {
    /// The folder to make [default: heelclear-demo, or a free name after it]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// Another hand and another noise; the same seed gives the same bench
    #[arg(long, value_name = "N")]
    seed: Option<u64>,

    /// The archive that keeps it [default: archive.db in the new folder]
    #[arg(long, value_name = "PLACE")]
    archive: Option<String>,

    /// Begin with a worn tool: match, set-up sheet, grind, check, learn, and grind it again
    #[arg(long)]
    whole_job: bool,
}

/// The tool that is shown: an ordinary good regrind.
const RECIPE: &str = "counterbore-pass";

/// The bench runs so many times faster than a hand would turn, or nobody would wait for it.
const FASTER: f64 = 16.0;

/// A trace ends when the hand has let go for so long, by the clock on the wall.
const STILL: Time = Time::from_s(0.4);

/// A hand that shows how it is done turns so much slower than most: some readings then lie on every
/// edge, wherever it stands.
const SLOWER: f64 = 0.7;

/// A pseudo-terminal has no speed of its own; this is the bridge's usual one.
#[cfg(unix)]
const BAUD: u32 = 115_200;

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let folder = choose(arguments.out.as_deref(), out)?;
    if arguments.whole_job {
        let shown = folder.display().to_string();
        let place = arguments.archive.as_deref().unwrap_or(&shown);
        return whole_job::run(&folder, arguments.seed, place, out);
    }
    let mut scenario = built_in(RECIPE)?.practised();
    scenario.hand.speed_deg_per_s *= SLOWER;
    if let Some(seed) = arguments.seed {
        scenario.seed = seed;
    }

    out.note("1  a simulated bench, and a tool that does not exist");
    out.note(&format!("   {}: {}", scenario.tool.id, scenario.about));
    let gauge = Gauge::serve(&scenario, out);

    out.note(&format!(
        "2  capture, {FASTER} times faster than a hand would turn"
    ));
    take(&scenario, &gauge, &folder, out)?;
    drop(gauge);

    out.note("3  judge what was captured\n");
    let record = patiently("judging", || {
        verify::judge(&folder, Units::default(), Effort::default())
    })?;
    verify::tell(&folder, &record, style(out), out)?;

    out.note("4  keep it in an archive");
    let shown = folder.display().to_string();
    let place = arguments.archive.as_deref().unwrap_or(&shown);
    let mut keeper = Keeper::named(Some(place), out)?;
    let status = verify::keep(&mut keeper, &folder, &record, out);
    out.note(&format!("folder: {shown}"));
    out.note(&format!("again:  heelclear verify {shown}"));
    out.note(&format!(
        "record: heelclear archive show 1 --archive {place}"
    ));
    Ok(Status::from(record.verdict).worst(status))
}

/// The folder that was asked for, which must be new, or a free one.
fn choose(asked: Option<&Path>, out: &mut Out) -> Result<PathBuf> {
    const USUAL: &str = "heelclear-demo";
    if let Some(folder) = asked {
        if folder.exists() {
            let message = "found it there already, expected the name of a new folder";
            return Err(Error::new(Code::Usage, message)
                .in_path(folder)
                .help("name another with `--out`; nothing was touched"));
        }
        return Ok(folder.to_owned());
    }
    let numbered = (2..).map(|number| format!("{USUAL}-{number}"));
    let names = std::iter::once(USUAL.to_owned()).chain(numbered);
    let free = names.map(PathBuf::from).find(|name| !name.exists());
    let folder = free.unwrap_or_else(|| PathBuf::from(USUAL));
    if folder != Path::new(USUAL) {
        let free = folder.display();
        out.note(&format!(
            "{USUAL} is there already and is left alone; this is {free}"
        ));
    }
    Ok(folder)
}

/// Captures every trace of the recipe into the folder.
fn take(scenario: &Scenario, gauge: &Gauge, folder: &Path, out: &mut Out) -> Result<()> {
    let settings = CaptureSettings {
        folder: folder.to_owned(),
        tool_card: Some(scenario.tool_card()),
        gauge_card: scenario.gauge_card(None),
        grinder_card: None,
        setup: None,
        simulated: true,
        operator: scenario.operator.clone(),
        customer: None,
        temperature_c: None,
        stage: Stage::AfterGrind,
        traces: traces(scenario),
        // The simulated hand lets go when it has turned far enough.
        end: End {
            still: Some(STILL),
            ..End::default()
        },
        spacing: Angle::from_deg(1.0),
        rest: None,
    };
    let mut line = StatusLine::new(out.watched());
    let captured = capture(
        &settings,
        gauge.instrument(),
        None,
        &mut |notice| line.show(&notice, out),
        ctrl_c(),
    );
    line.clear();
    let captured = captured?;
    match captured.fault {
        Some(fault) => Err(fault),
        None if captured.interrupted => Err(Error::new(Code::Interrupted, "the demo was stopped")
            .in_path(folder)
            .help("what was read is kept there")),
        None => Ok(()),
    }
}

/// The simulated gauge while it is served.
enum Gauge {
    #[cfg(unix)]
    Terminal(Served),
    /// Where the system has no pseudo-terminals, or gives none.
    Here(InProcess),
}

impl Gauge {
    fn serve(scenario: &Scenario, out: &mut Out) -> Self {
        #[cfg(unix)]
        match Served::start(scenario.clone(), FASTER) {
            Ok(served) => {
                let path = served.path();
                out.note(&format!(
                    "   its gauge is served on the pseudo-terminal {path}"
                ));
                return Gauge::Terminal(served);
            }
            Err(fault) => out.note(&format!("   no pseudo-terminal can be had: {fault}")),
        }
        out.note("   its gauge is served within the program");
        Gauge::Here(InProcess::new(scenario.clone(), FASTER))
    }

    fn instrument(&self) -> Box<dyn Instrument> {
        match self {
            #[cfg(unix)]
            Gauge::Terminal(served) => Box::new(SerialInstrument::new(served.path(), BAUD)),
            Gauge::Here(here) => Box::new(here.clone()),
        }
    }
}
