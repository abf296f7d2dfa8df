//! Live capture: instruments into an inspection folder that is whole at every instant.
//!
//! The cards are written first. Raw bytes are on disk before anything looks at them, and the trace
//! files are made from the raw logs, by [`rebuild()`], whether the capture ended well or was killed.

mod coverage;
mod event;
mod files;
mod listen;
mod one;
mod run;
mod session;
mod slot;
mod taking;

pub use super::logs::{Made, rebuild};
pub use coverage::{Coverage, Missing, NEARLY, ToGo};
pub use event::{Event, Notice, Order, Progress, STANDS};
pub(super) use files::base_name;
pub use listen::{Heard, HeardDevice, Hearing, Listening, Step, Turned, listen};

use crate::card::{GaugeCard, Role, ToolCard};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::inspection::GrinderFiles;
use crate::quantity::{Angle, Length, Time};
use crate::record::{SETUP_FILE, Setup};
use std::future::Future;
use std::path::PathBuf;
use tokio::sync::mpsc::UnboundedReceiver;

/// The grinder's card in an inspection folder.
pub const GRINDER_FILE: &str = "grinder.toml";

/// What is to be captured, and how.
pub struct CaptureSettings {
    /// The inspection folder to make.
    pub folder: PathBuf,
    /// `tool.toml`, word for word. Without one the gauge is checked: rounds are traced, or nothing
    /// moves, and the folder holds traces but no inspection.
    pub tool_card: Option<String>,
    /// `gauge.toml`, word for word.
    pub gauge_card: String,
    /// `grinder.toml`, word for word, and the motions that it names, where the grinder is known.
    pub grinder_card: Option<GrinderFiles>,
    /// `setup.json`, word for word, where the tool was ground from one.
    pub setup: Option<String>,
    /// Whether the gauge is simulated.
    pub simulated: bool,
    /// Who takes it.
    pub operator: String,
    /// Whose tool it is.
    pub customer: Option<String>,
    /// Temperature at the bench, in °C.
    pub temperature_c: Option<f64>,
    /// Before or after the grind.
    pub stage: crate::card::Stage,
    /// The traces, in the order to be taken.
    pub traces: Vec<Wanted>,
    /// When a trace is over.
    pub end: End,
    /// The angle between two readings that is wanted.
    pub spacing: Angle,
    /// One trace of so long in place of `traces`, with nothing moving.
    pub rest: Option<Time>,
}

/// A trace that is to be taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// What it is for.
    pub role: Role,
    /// Distance from the tool's front, where stated.
    pub z: Option<Length>,
    /// Diameter of the round, for a reference, where stated.
    pub diameter: Option<Length>,
    /// Whether the indicator is set anew before it.
    pub rezeroed: bool,
}

/// When a trace is over; whichever comes first. With none, only a stop ends it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct End {
    /// Every place of the turn was passed so often.
    pub covered: Option<u32>,
    /// So long after the tool began to turn.
    pub after: Option<Time>,
    /// The tool has stood still for so long after it began to turn.
    pub still: Option<Time>,
}

/// How a capture ended.
#[derive(Debug)]
pub struct Captured {
    /// The traces that were made, in the order taken.
    pub traces: Vec<Made>,
    /// Whether it was cut short; the card says so too.
    pub interrupted: bool,
    /// What cut it short, where that was a fault. What was read is kept all the same.
    pub fault: Option<Error>,
}

/// Captures from one instrument, or from an indicator and an encoder.
///
/// `tell` gets what happens and how far it is; `stop` ends the capture when it comes to pass.
///
/// # Errors
/// When nothing could be captured at all: a card is wrong, the folder is taken, a port cannot be
/// opened, or nothing that can be understood comes from it.
pub fn capture(
    settings: &CaptureSettings,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    tell: &mut dyn FnMut(Notice<'_>),
    stop: impl Future<Output = ()>,
) -> Result<Captured> {
    settings.check()?;
    wait_for(run::run(settings, indicator, encoder, tell, stop, None))
}

/// Captures as somebody leads: a trace at a time, told by `orders`, until [`Order::Finish`] or until
/// the sender of orders is dropped, which leaves the inspection marked as cut short.
///
/// The traces of `settings` are not looked at. A folder that holds an inspection is gone on with:
/// what it has is kept, and since nobody knows what the encoder did meanwhile ([`Notice::ZeroLost`]),
/// a trace is put beside those kept only where the encoder's index mark ties its angles to theirs
/// ([`Notice::Untied`] where it does not), or replaces them all where it is asked to.
///
/// # Errors
/// As [`capture`]. A fault in the middle of a trace is in what is returned, with all that was taken.
pub fn capture_led(
    settings: &CaptureSettings,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    tell: &mut dyn FnMut(Notice<'_>),
    orders: UnboundedReceiver<Order>,
) -> Result<Captured> {
    // Who leads ends it by an order, or by going away.
    let never = std::future::pending();
    wait_for(run::run(
        settings,
        indicator,
        encoder,
        tell,
        never,
        Some(orders),
    ))
}

/// Waits for bytes, the clock and the person at once.
fn wait_for<T>(work: impl Future<Output = Result<T>>) -> Result<T> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|fault| Error::internal("cannot wait for events", fault))?;
    runtime.block_on(work)
}

impl CaptureSettings {
    /// Looks at everything that can be known to be wrong before a port is opened, which may reset
    /// the controller behind it.
    ///
    /// # Errors
    /// When a card is wrong, a trace is of no feature, or the folder holds an inspection.
    pub fn check(&self) -> Result<()> {
        let tool = self.tool()?;
        GaugeCard::parse(&self.gauge_card, "gauge.toml")?;
        if let (Some(setup), Some(tool)) = (&self.setup, &tool) {
            Setup::parse(setup.as_bytes(), SETUP_FILE, &tool.id)?;
        }
        check(self, tool.as_ref())?;
        files::free(self)
    }

    /// The tool, where one is inspected.
    fn tool(&self) -> Result<Option<ToolCard>> {
        let card = self.tool_card.as_ref();
        card.map(|card| ToolCard::parse(card, "tool.toml"))
            .transpose()
    }

    /// What is taken: the traces, or one at rest.
    fn wanted(&self) -> Vec<Wanted> {
        let at_rest = Wanted {
            role: Role::Reference,
            z: None,
            diameter: None,
            rezeroed: false,
        };
        match self.rest {
            Some(_) => vec![at_rest],
            None => self.traces.clone(),
        }
    }
}

fn check(settings: &CaptureSettings, tool: Option<&ToolCard>) -> Result<()> {
    if settings.wanted().is_empty() {
        return Err(
            Error::new(Code::Usage, "read no trace, expected at least one")
                .help("say what is traced: `--trace reference:40 --trace seat:2`"),
        );
    }
    for wanted in &settings.traces {
        let Some(tool) = tool else {
            rounds_alone(wanted)?;
            continue;
        };
        if let Role::Feature(name) | Role::Residual(name, _) = &wanted.role
            && !tool.features.iter().any(|feature| feature.name == *name)
        {
            let names: Vec<_> = tool.features.iter().map(|f| f.name.as_str()).collect();
            let message = format!("read the trace `{name}`, which is no feature of the tool card");
            return Err(Error::new(Code::Usage, message).help(format!(
                "the card has `{}`; a round of the clamping is called `reference`",
                names.join("`, `")
            )));
        }
    }
    Ok(())
}

/// Without a tool there is nothing but rounds to trace.
fn rounds_alone(wanted: &Wanted) -> Result<()> {
    if wanted.role == Role::Reference {
        return Ok(());
    }
    let message = format!("read the trace `{}` and no tool card", wanted.role.called());
    Err(Error::new(Code::Usage, message).help(
        "name the card with `--tool FILE`; a round alone, `--trace reference`, and a trace at \
         rest, `--rest SECONDS`, need none",
    ))
}
