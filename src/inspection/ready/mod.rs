//! Checks a bench before work: the instruments, the clock, the disk, the archive, a line each.
//!
//! Nothing is kept and nothing is changed but the port's own state: opening one may reset the
//! controller behind it. So only a port that was named is opened.

mod archive;
mod bench;
mod clock;
mod disk;
mod index;
mod ports;
mod scale;
mod sense;

use crate::card::{GaugeCard, Rotation};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::inspection::capture::{Hearing, Listening, Step, listen};
use crate::record::archive::Place;
use clock::Clock;
use jiff::Timestamp;
use std::future::Future;
use std::path::PathBuf;

/// What is looked at, and how.
pub struct ReadySettings {
    /// `gauge.toml` as it was read, where there is one.
    pub gauge: Option<GaugeCard>,
    /// Where inspections go.
    pub folder: PathBuf,
    /// Where the archive is.
    pub archive: Place,
    /// How long at rest, and whether over a turn.
    pub listening: Listening,
}

/// The instruments to be listened to. Each is made when it is wanted, at a speed of the line.
pub struct Instruments<'a> {
    /// The port of the bridge, or of the indicator.
    pub indicator: &'a dyn Fn(u32) -> Box<dyn Instrument>,
    /// The port of a second instrument that gives the angle.
    pub encoder: Option<&'a dyn Fn(u32) -> Box<dyn Instrument>>,
    /// Whether they are ports of this computer, not a simulated gauge in the program.
    pub are_ports: bool,
}

/// One line of the answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// What was looked at.
    pub what: What,
    /// How it stands.
    pub state: State,
    /// What was seen, in words.
    pub found: String,
    /// What to do, where it is not fine.
    pub advice: Option<String>,
    /// The error behind it, where it could not be looked at.
    pub code: Option<Code>,
    /// The turning direction in which the angle was seen to grow, where that is what the card says:
    /// to be kept there.
    pub seen: Option<Rotation>,
    /// The figures behind the words: name with its unit, and value.
    pub figures: Vec<(&'static str, f64)>,
}

/// What is looked at, in the order told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// The serial ports of this computer.
    Ports,
    /// Whether what is behind the port answers.
    Bridge,
    /// Readings a second.
    Indicator,
    /// Positions a second.
    Encoder,
    /// Scatter of the readings at rest.
    Noise,
    /// How far they run at rest.
    Drift,
    /// Counts from one index mark to the next.
    Index,
    /// Which way the encoder's angle grows.
    Sense,
    /// When a known step last proved the indicator's scale.
    Scale,
    /// This computer's clock.
    Clock,
    /// Room for inspections and the archive.
    Disk,
    /// The archive.
    Archive,
}

impl What {
    /// The word for it.
    pub const fn as_str(self) -> &'static str {
        match self {
            What::Ports => "ports",
            What::Bridge => "bridge",
            What::Indicator => "indicator",
            What::Encoder => "encoder",
            What::Noise => "noise",
            What::Drift => "drift",
            What::Index => "index",
            What::Sense => "sense",
            What::Scale => "scale",
            What::Clock => "clock",
            What::Disk => "disk",
            What::Archive => "archive",
        }
    }
}

/// How something stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Nothing to do.
    Fine,
    /// Something to do before work.
    Mend,
    /// It could be either: the figure's interval holds its limit.
    Unsettled,
    /// It was not asked for, or could not be reached for what stands above it.
    Left,
}

impl State {
    /// The word for it.
    pub const fn as_str(self) -> &'static str {
        match self {
            State::Fine => "fine",
            State::Mend => "mend",
            State::Unsettled => "not settled",
            State::Left => "not checked",
        }
    }
}

impl Check {
    fn fine(what: What, found: impl Into<String>) -> Self {
        Self {
            what,
            state: State::Fine,
            found: found.into(),
            advice: None,
            code: None,
            seen: None,
            figures: Vec::new(),
        }
    }

    fn mend(what: What, found: impl Into<String>, advice: impl Into<String>) -> Self {
        Self {
            state: State::Mend,
            advice: Some(advice.into()),
            ..Self::fine(what, found)
        }
    }

    /// Not looked at, and why.
    fn left(what: What, why: impl Into<String>) -> Self {
        Self {
            state: State::Left,
            ..Self::fine(what, why)
        }
    }

    /// What an error says, and what it says to do.
    fn fault(what: What, error: &Error) -> Self {
        let place = error.place().to_string();
        let colon = if place.is_empty() { "" } else { ": " };
        Self {
            state: State::Mend,
            advice: error.advice().map(str::to_owned),
            code: Some(error.code()),
            ..Self::fine(what, format!("{place}{colon}{}", error.message()))
        }
    }

    fn with(mut self, name: &'static str, value: f64) -> Self {
        self.figures.push((name, value));
        self
    }
}

/// Looks at everything, and gives each line as soon as it stands.
///
/// # Errors
/// `interrupted` when it was stopped. What is not as it should be is no error, but a line.
pub fn ready<F: Future<Output = ()>>(
    settings: &ReadySettings,
    instruments: Option<&Instruments<'_>>,
    hear: &mut dyn FnMut(Hearing<'_>),
    told: &mut dyn FnMut(Check) -> Result<()>,
    stop: impl Fn() -> F,
) -> Result<()> {
    let clock = Clock::start();
    match instruments {
        Some(instruments) => of_the_bench(settings, instruments, hear, told, stop)?,
        None => {
            told(ports::seen())?;
            for what in bench::CHECKS {
                told(Check::left(what, "name the port with `--port`"))?;
            }
        }
    }
    let archive = archive::Looked::at(&settings.archive);
    told(scale::check(settings.gauge.as_ref(), Timestamp::now()))?;
    told(clock.check(archive.last()))?;
    told(disk::check(&settings.folder, &settings.archive))?;
    told(archive.check())
}

fn of_the_bench<F: Future<Output = ()>>(
    settings: &ReadySettings,
    instruments: &Instruments<'_>,
    hear: &mut dyn FnMut(Hearing<'_>),
    told: &mut dyn FnMut(Check) -> Result<()>,
    stop: impl Fn() -> F,
) -> Result<()> {
    let card = bench::card_or_usual(settings.gauge.as_ref());
    let indicator = (instruments.indicator)(bench::baud(&card));
    let encoder = instruments
        .encoder
        .map(|made| made(bench::angle_baud(&card)));
    let heard = listen(&card, indicator, encoder, settings.listening, hear, stop())?;
    told(ports::opened(instruments.are_ports, &heard))?;
    if let Some((Step::Open, _)) = heard.fault {
        for what in bench::CHECKS {
            told(Check::left(what, "the port could not be opened"))?;
        }
        return Ok(());
    }
    let one_bridge =
        instruments.are_ports && instruments.encoder.is_none() && bench::speaks_bridge(&card);
    let other_speed = match &heard.fault {
        Some((Step::Answer, error)) if one_bridge => {
            let silent = error.code() == Code::Silence;
            bench::answers_at(&card, instruments, hear, &stop, silent)?
        }
        _ => None,
    };
    for check in bench::checks(settings, &heard, other_speed) {
        told(check)?;
    }
    Ok(())
}
