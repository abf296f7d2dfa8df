//! One inspection under way: its cards, its live model, and the capture that feeds it.

use super::beside::Notes;
use super::proving::Proving;
use super::work::whole_path;
use crate::card::{GaugeCard, InspectionCard, Role, Stage, ToolCard};
use crate::error::{Code, Error, Result};
use crate::inspection::GrinderFiles;
use crate::inspection::capture::{Order, Wanted};
use crate::inspection::instruments::{Choice, Simulation, simulated_gauge_card};
use crate::inspection::live::{Live, PLAN_FILE, Phase, Plan, Provisional};
use crate::quantity::Angle;
use crate::record::Record;
use crate::record::archive::regular;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::JoinHandle;
use tokio::sync::mpsc::UnboundedSender;

/// One inspection.
pub(super) struct Job {
    pub number: u64,
    pub folder: PathBuf,
    /// The same for whoever looks for it in another program.
    pub whole_path: String,
    pub tool: ToolCard,
    pub tool_text: String,
    pub gauge_text: String,
    /// The same, read.
    pub gauge: GaugeCard,
    /// Its name in the inspection's folder.
    pub gauge_name: String,
    /// The card of the bench that it is a copy of, where it is known.
    pub gauge_file: Option<String>,
    /// The grinder's card, where one goes with the inspection.
    pub grinder: Option<GrinderFiles>,
    pub operator: String,
    /// Whose tool it is.
    pub customer: Option<String>,
    /// What the thermometer at the bench reads.
    pub temperature_c: Option<f64>,
    pub stage: Stage,
    /// Notes and photographs.
    pub noted: Notes,
    /// The recipe of a tool that does not exist.
    pub pretended: Option<String>,
    /// Whether its gauge is simulated; nothing before one was chosen.
    pub simulated: Option<bool>,
    /// Whether what lies in its folder came from a simulated gauge.
    pub made_up: bool,
    pub choice: Option<Choice>,
    /// Whether the cautions were read.
    pub cautioned: bool,
    /// Watching which way the encoder's angle grows, while it is under way.
    pub proving: Option<Proving>,
    /// Whether that was asked for, at whatever stage.
    pub proof_wanted: bool,
    /// Whether the person goes on without it.
    pub proof_left: bool,
    pub live: Live,
    pub orders: Option<UnboundedSender<Order>>,
    pub thread: Option<JoinHandle<()>>,
    pub simulation: Option<Simulation>,
    /// The step that is to be taken once the one being set up is given up.
    pub wish: Option<usize>,
    /// The step that was taken, or begun, last.
    pub last_taken: Option<usize>,
    pub judging: Judging,
    /// What an archive says of it, once it is kept.
    pub kept: Option<String>,
}

/// How far judging is.
#[derive(Default)]
pub(super) enum Judging {
    #[default]
    NotYet,
    /// Waiting for the card to say that all is taken, or under way.
    UnderWay,
    Done(Arc<Record>),
    Failed(Error),
}

/// What a person chose at the start of an inspection.
pub(super) struct Begin {
    pub tool_text: String,
    pub gauge_text: String,
    /// The card of the bench that it was read from.
    pub gauge_file: Option<String>,
    /// The grinder's card, where one goes with it.
    pub grinder: Option<GrinderFiles>,
    pub operator: String,
    /// Whose tool it is.
    pub customer: Option<String>,
    /// What the thermometer at the bench reads.
    pub temperature_c: Option<f64>,
    pub stage: Stage,
    /// Whether its gauge is to be simulated.
    pub simulated: bool,
    /// The recipe of a tool that does not exist.
    pub recipe: Option<String>,
    pub steps: Vec<Wanted>,
    pub spacing: Angle,
    pub passes: u32,
}

impl Job {
    /// An inspection of this tool in this folder, of which nothing has happened yet: the texts of
    /// both cards, and who measures it at which stage.
    pub(super) fn new(
        folder: PathBuf,
        (tool, gauge): (ToolCard, GaugeCard),
        (tool_text, gauge_text): (String, String),
        (operator, stage): (String, Stage),
        plan: Plan,
    ) -> Self {
        let live = Live::new(plan).of_tool(&tool);
        Self {
            number: 0,
            whole_path: whole_path(&folder),
            folder,
            tool,
            tool_text,
            gauge_text,
            gauge,
            gauge_name: "gauge.toml".to_owned(),
            gauge_file: None,
            grinder: None,
            operator,
            customer: None,
            temperature_c: None,
            stage,
            noted: Notes::default(),
            pretended: None,
            simulated: None,
            made_up: false,
            choice: None,
            cautioned: false,
            proving: None,
            proof_wanted: false,
            proof_left: false,
            live,
            orders: None,
            thread: None,
            simulation: None,
            wish: None,
            last_taken: None,
            judging: Judging::NotYet,
            kept: None,
        }
    }

    /// Readings that were made up never stand beside real ones, nor look like them on a report.
    /// `is_made` says whether there are some.
    pub(super) fn choose(&mut self, choice: &Choice, is_made: bool) -> Result<()> {
        let simulated = matches!(choice, Choice::Simulated { .. });
        if is_made {
            let before = self.is_simulated();
            if before != simulated {
                let found = if before { "made up" } else { "of a real gauge" };
                let message = format!("the readings of this inspection are {found}");
                return Err(Error::new(Code::Usage, message)
                    .help("begin another inspection for the other gauge"));
            }
        } else if simulated {
            // What was proven on it since it was chosen stays.
            if self.simulated != Some(true) {
                let text = simulated_gauge_card(&self.tool, self.pretended.as_deref())?;
                self.gauge = GaugeCard::parse(&text, "gauge.toml")?;
                self.gauge_text = text;
                self.gauge_file = None;
            }
            if !self.operator.starts_with(SIMULATED_BY) {
                let who = std::mem::take(&mut self.operator);
                let colon = if who.is_empty() { "" } else { ": " };
                self.operator = format!("{SIMULATED_BY}{colon}{who}");
            }
        }
        self.simulated = Some(simulated);
        Ok(())
    }

    /// Whether the port is open, or being opened, for a capture.
    pub(super) fn is_connected(&self) -> bool {
        let orders = self.orders.as_ref();
        orders.is_some_and(|orders| !orders.is_closed())
    }

    /// Takes a step.
    pub(super) fn take(&mut self, step: usize, provisional: &Provisional) -> Result<()> {
        let asked = self.live.asks_after_break();
        let none = || match asked {
            true => Error::new(
                Code::Usage,
                "it is not known yet how to go on after the break",
            )
            .help("say first whether the tool is still clamped as it was"),
            false => Error::new(Code::Usage, "no step can be taken now"),
        };
        self.tell_new_zero(step);
        let order = self.live.begin(step).ok_or_else(none)?;
        if let (Some(simulation), Order::Take { wanted, .. }) = (&self.simulation, &order) {
            simulation.hold_at(wanted);
        }
        self.live.aim(&self.folder);
        self.judging = Judging::NotYet;
        self.kept = None;
        self.last_taken = Some(step);
        provisional.forget();
        self.give(order)
    }

    /// A simulated hand that sets the indicator to another zero says so, as a person has to.
    fn tell_new_zero(&mut self, step: usize) {
        let steps = &mut self.live.plan.steps;
        let wanted = |at: usize| steps.get(at).map(|step| step.wanted.clone());
        if let (Some(simulation), Some(from), Some(to)) = (
            &self.simulation,
            self.last_taken.and_then(wanted),
            wanted(step),
        ) && simulation.rezeroes(&from, &to)
            && let Some(step) = steps.get_mut(step)
        {
            step.wanted.rezeroed = true;
        }
    }

    /// Goes on by itself: the next step's readings are shown so that the stylus can be set, and
    /// when every step is taken all is judged. What is to be taken anew waits for the person.
    pub(super) fn go_on(&mut self, provisional: &Provisional) -> Result<()> {
        let waits =
            self.live.phase != Phase::Between || !self.cautioned || self.live.asks_after_break();
        match self.live.next() {
            _ if waits => Ok(()),
            Some(step) => self.take(step, provisional),
            None if matches!(self.judging, Judging::NotYet) => {
                self.judging = Judging::UnderWay;
                self.give(Order::Complete)
            }
            None => Ok(()),
        }
    }

    /// The same in the thread that captures, where an error is told as a fault; the step that the
    /// person wished for goes first.
    pub(super) fn led(&mut self, wish: Option<usize>, provisional: &Provisional) {
        let went_on = match wish {
            Some(step) => self.take(step, provisional),
            None => self.go_on(provisional),
        };
        if let Err(error) = went_on {
            self.live.fault(error.to_string());
        }
    }

    pub(super) fn give(&self, order: Order) -> Result<()> {
        let closed = || {
            Error::new(Code::Usage, "the gauge is not connected")
                .help("connect it: what was taken so far is kept")
        };
        let orders = self.orders.as_ref().ok_or_else(closed)?;
        orders.send(order).map_err(|_| closed())
    }

    /// Whether its readings are made up.
    pub(super) fn is_simulated(&self) -> bool {
        self.simulated == Some(true) || self.made_up
    }
}

/// More traces than this are no inspection.
pub(super) const MOST_STEPS: usize = 100;
/// What stands first where a report says who measured.
const SIMULATED_BY: &str = "simulated gauge";

/// The plan that a folder keeps, or what its card has.
pub(super) fn plan_of(folder: &Path, inspection: &InspectionCard) -> Result<Plan> {
    match regular::text(&folder.join(PLAN_FILE)) {
        Ok(text) => Plan::read(&text, PLAN_FILE, inspection),
        Err(_) => Ok(Plan::of_card(inspection, Angle::from_deg(0.5), 2)),
    }
}

/// Refuses a plan that cannot be taken.
pub(super) fn check_steps(tool: &ToolCard, begin: &Begin) -> Result<()> {
    let usage = |message: String| Err(Error::new(Code::Usage, message));
    if begin.steps.is_empty() || begin.steps.len() > MOST_STEPS {
        return usage(format!(
            "read {} steps, expected 1 to {MOST_STEPS}",
            begin.steps.len()
        ));
    }
    if !(0.05..=10.0).contains(&begin.spacing.deg()) {
        return usage("read another spacing, expected 0.05° to 10°".to_owned());
    }
    if !(1..=50).contains(&begin.passes) {
        return usage(format!("read {} passes, expected 1 to 50", begin.passes));
    }
    begin
        .steps
        .iter()
        .try_for_each(|wanted| check_step(tool, wanted))
}

/// A trace of a feature in a fixture, along the direction that the feature is read in.
pub(super) fn along(tool: &ToolCard, mut wanted: Wanted) -> Wanted {
    if let Role::Residual(name, engaged) = &mut wanted.role
        && let Some(feature) = tool.features.iter().find(|feature| feature.name == *name)
    {
        engaged.direction = feature.surface;
    }
    wanted
}

/// Refuses a trace of what the tool does not have.
pub(super) fn check_step(tool: &ToolCard, wanted: &Wanted) -> Result<()> {
    match &wanted.role {
        Role::Feature(name) | Role::Residual(name, _)
            if !tool.features.iter().any(|feature| feature.name == *name) =>
        {
            let message = format!("read a step for `{name}`, which the tool card does not have");
            Err(Error::new(Code::Usage, message))
        }
        _ => Ok(()),
    }
}
