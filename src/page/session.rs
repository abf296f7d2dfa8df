//! The one inspection that all pages share: what is under way, and what they may ask of it.

use super::judged;
use super::work::Work;
use crate::card::{GaugeCard, InspectionCard, Role, Stage, ToolCard};
use crate::error::{Code, Error, Result};
use crate::inspection::capture::{
    CaptureSettings, Captured, End, Notice, Order, Wanted, capture_led,
};
use crate::inspection::instruments::{self, Choice, Simulation};
use crate::inspection::live::{Live, PLAN_FILE, Phase, Plan, Provisional, SoFar, file_of};
use crate::inspection::{Folder, write_whole};
use crate::quantity::Angle;
use crate::record::Record;
use crate::record::archive::Place;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use tokio::sync::mpsc::UnboundedSender;

/// What the page keeps of simulated inspections, apart from the real ones.
const TRY_OUT_ARCHIVE: &str = "try-out.db";

/// Shared by every page and by the thread that captures.
#[derive(Clone)]
pub(super) struct Session {
    pub work: Work,
    archive: Place,
    state: Arc<Mutex<State>>,
    provisional: Provisional,
}

/// What is under way.
#[derive(Default)]
pub(super) struct State {
    pub job: Option<Job>,
    /// Grows with each change that a page has to be told, but for those of the live model.
    pub changes: u64,
    jobs: u64,
}

/// One inspection.
pub(super) struct Job {
    number: u64,
    pub folder: PathBuf,
    pub tool: ToolCard,
    tool_text: String,
    gauge_text: String,
    pub operator: String,
    pub stage: Stage,
    /// The recipe of a tool that does not exist.
    pub pretended: Option<String>,
    /// Whether its gauge is simulated; nothing before one was chosen.
    pub simulated: Option<bool>,
    pub choice: Option<Choice>,
    /// Whether the cautions were read.
    pub cautioned: bool,
    pub live: Live,
    orders: Option<UnboundedSender<Order>>,
    thread: Option<JoinHandle<()>>,
    pub simulation: Option<Simulation>,
    /// The step that is to be taken once the one being set up is given up.
    wish: Option<usize>,
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
    pub operator: String,
    pub stage: Stage,
    /// Whether its gauge is to be simulated.
    pub simulated: bool,
    /// The recipe of a tool that does not exist.
    pub recipe: Option<String>,
    pub steps: Vec<Wanted>,
    pub spacing: Angle,
    pub passes: u32,
}

impl State {
    /// Differs whenever a page has to be told anew how things stand.
    pub(super) fn revision(&self) -> (u64, u64) {
        let live = self.job.as_ref().map_or(0, |job| job.live.version);
        (self.changes, live)
    }

    fn job(&mut self) -> Result<&mut Job> {
        self.changes += 1;
        self.job.as_mut().ok_or_else(|| {
            Error::new(Code::Usage, "no inspection is under way")
                .help("begin one, or go on with one")
        })
    }
}

impl Session {
    pub(super) fn new(work: Work, archive: Place) -> Self {
        Self {
            work,
            archive,
            state: Arc::default(),
            provisional: Provisional::default(),
        }
    }

    /// How things stand. Held for a moment only: the capture waits meanwhile.
    pub(super) fn state(&self) -> MutexGuard<'_, State> {
        // What a thread left behind when it failed is still whole.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What the growing trace comes to so far.
    pub(super) fn so_far(&self) -> Option<Arc<SoFar>> {
        self.provisional.latest()
    }

    /// The archive that an inspection belongs into: simulated ones stay apart from real ones.
    pub(super) fn archive(&self, simulated: bool) -> Place {
        if simulated {
            Place::File(self.work.dir().join(TRY_OUT_ARCHIVE))
        } else {
            self.archive.clone()
        }
    }

    /// Begins an inspection. Its folder is made once the instruments answer.
    pub(super) fn begin(&self, begin: Begin) -> Result<()> {
        let tool = ToolCard::parse(&begin.tool_text, "tool.toml")?;
        GaugeCard::parse(&begin.gauge_text, "gauge.toml")?;
        check_steps(&tool, &begin)?;
        self.leave();
        let plan = Plan::of(begin.steps, begin.spacing, begin.passes);
        let folder = self.work.new_inspection(&tool.id);
        self.put(Job {
            number: 0,
            folder,
            tool,
            tool_text: begin.tool_text,
            gauge_text: begin.gauge_text,
            operator: begin.operator,
            stage: begin.stage,
            simulated: begin.simulated.then_some(true),
            pretended: begin.recipe,
            choice: None,
            cautioned: false,
            live: Live::new(plan),
            orders: None,
            thread: None,
            simulation: None,
            wish: None,
            judging: Judging::NotYet,
            kept: None,
        });
        Ok(())
    }

    /// Goes on with an inspection that is there, whoever began it.
    pub(super) fn resume(&self, name: &str) -> Result<()> {
        let dir = self.work.inspection(name)?;
        let Folder {
            inspection,
            tool,
            dir: folder,
            ..
        } = Folder::open(&dir)?;
        let text = |file: &str| {
            std::fs::read_to_string(folder.join(file))
                .map_err(|fault| Error::new(Code::Disk, fault.to_string()).in_file(file))
        };
        let plan = plan_of(&folder, &inspection)?;
        self.leave();
        let record = text("verdict.json").ok();
        let record = record.and_then(|text| Record::from_json(&text, "verdict.json").ok());
        self.put(Job {
            number: 0,
            tool_text: text(&inspection.tool)?,
            gauge_text: text(&inspection.gauge)?,
            folder,
            tool,
            operator: inspection.operator,
            stage: inspection.stage,
            pretended: None,
            simulated: None,
            choice: None,
            cautioned: false,
            live: Live::new(plan),
            orders: None,
            thread: None,
            simulation: None,
            wish: None,
            judging: record.map_or(Judging::NotYet, |record| Judging::Done(Arc::new(record))),
            kept: None,
        });
        Ok(())
    }

    fn put(&self, job: Job) {
        let mut state = self.state();
        state.jobs += 1;
        state.changes += 1;
        state.job = Some(Job {
            number: state.jobs,
            ..job
        });
    }

    /// Ends what is under way: the port is closed, and what was read is whole on disk.
    pub(super) fn leave(&self) {
        let job = {
            let mut state = self.state();
            state.changes += 1;
            state.job.take()
        };
        if let Some(mut job) = job {
            job.orders = None;
            if let Some(thread) = job.thread.take() {
                // A thread that ended by a panic has nothing left to tell.
                let _ = thread.join();
            }
        }
        self.provisional.forget();
    }

    /// The recipe of the tool that is simulated, where one was chosen.
    pub(super) fn recipe(&self) -> Option<String> {
        self.state().job.as_ref()?.pretended.clone()
    }

    /// The person has read the cautions.
    pub(super) fn caution(&self) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        job.cautioned = true;
        job.go_on(&self.provisional)
    }

    /// Opens the instruments and begins to capture from them on a thread of its own.
    pub(super) fn connect(&self, choice: Choice) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        if job.orders.is_some() {
            return Ok(());
        }
        let gauge = GaugeCard::parse(&job.gauge_text, "gauge.toml")?;
        let opened = instruments::open(&choice, &job.tool, &gauge, &job.live.plan)?;
        let settings = CaptureSettings {
            folder: job.folder.clone(),
            tool_card: job.tool_text.clone(),
            gauge_card: job.gauge_text.clone(),
            operator: job.operator.clone(),
            stage: job.stage,
            traces: Vec::new(),
            end: End {
                covered: Some(job.live.plan.passes),
                ..End::default()
            },
            spacing: job.live.plan.spacing,
        };
        let (give, orders) = tokio::sync::mpsc::unbounded_channel();
        job.orders = Some(give);
        job.simulated = Some(matches!(choice, Choice::Simulated { .. }));
        job.choice = Some(choice);
        job.simulation = opened.simulation;
        job.live.connecting();
        let (this, number) = (self.clone(), job.number);
        let (indicator, encoder) = (opened.indicator, opened.encoder);
        let work = move || {
            let mut tell = |notice: Notice<'_>| this.hear(number, &notice);
            let ended = capture_led(&settings, indicator, encoder, &mut tell, orders);
            this.over(number, &ended);
        };
        let thread = std::thread::Builder::new().name("capture".to_owned());
        let thread = thread.spawn(work);
        job.thread = Some(thread.map_err(|fault| {
            Error::new(Code::Internal, format!("no thread to capture on: {fault}"))
        })?);
        Ok(())
    }

    /// Closes the port; the inspection stays.
    pub(super) fn disconnect(&self) -> Result<()> {
        let thread = {
            let mut state = self.state();
            let job = state.job()?;
            job.orders = None;
            job.thread.take()
        };
        if let Some(thread) = thread {
            let _ = thread.join();
        }
        Ok(())
    }

    /// Takes a step, for the first time or again.
    pub(super) fn take(&self, step: usize) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        if !job.cautioned {
            return Err(
                Error::new(Code::Usage, "the cautions were not confirmed yet")
                    .help("read them, and confirm that the wheel stands and the spindle is locked"),
            );
        }
        let out_of_range = step >= job.live.plan.steps.len();
        match job.live.phase {
            Phase::Between if !out_of_range => job.take(step, &self.provisional),
            // Nothing is recorded yet: the stylus goes to another place instead.
            Phase::Setting | Phase::Armed if !out_of_range => {
                job.wish = Some(step);
                job.give(Order::GiveUp)
            }
            _ => Err(Error::new(Code::Usage, "no step can be taken now")
                .help("connect the gauge, or end the trace that is under way")),
        }
    }

    /// Passes a person's order on to the capture.
    pub(super) fn order(&self, order: Order) -> Result<()> {
        self.state().job()?.give(order)
    }

    /// Pulls the plug of a simulated gauge, or puts it back.
    pub(super) fn unplug(&self, away: bool) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        let none = || Error::new(Code::Usage, "this gauge is real: pull its plug by hand");
        job.simulation.as_ref().ok_or_else(none)?.unplug(away);
        Ok(())
    }

    /// Judges what there is, on a thread of its own.
    pub(super) fn judge(&self) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        if matches!(job.judging, Judging::UnderWay) {
            return Ok(());
        }
        if !matches!(job.live.phase, Phase::Between | Phase::Closed) {
            return Err(
                Error::new(Code::Usage, "a trace is under way").help("end it first, or give it up")
            );
        }
        if !job.live.plan.has_traces() {
            return Err(Error::new(
                Code::Usage,
                "nothing is traced yet, so nothing can be judged",
            ));
        }
        job.judging = Judging::UnderWay;
        job.kept = None;
        if job.live.plan.is_done() && job.orders.is_some() {
            // The card says first that all is taken; what is judged then is not marked cut short.
            return job.give(Order::Complete);
        }
        let (number, folder) = (job.number, job.folder.clone());
        drop(state);
        self.judge_on_a_thread(number, folder);
        Ok(())
    }

    fn judge_on_a_thread(&self, number: u64, folder: PathBuf) {
        let this = self.clone();
        let work = move || {
            let judged = judged::judge(&folder);
            let mut state = this.state();
            state.changes += 1;
            if let Some(job) = state.job.as_mut().filter(|job| job.number == number) {
                job.judging = match judged {
                    Ok(record) => Judging::Done(Arc::new(record)),
                    Err(error) => Judging::Failed(error),
                };
            }
        };
        let thread = std::thread::Builder::new().name("judge".to_owned());
        if let Err(fault) = thread.spawn(work)
            && let Some(job) = &mut self.state().job
        {
            let message = format!("no thread to judge on: {fault}");
            job.judging = Judging::Failed(Error::new(Code::Internal, message));
        }
    }

    /// Keeps the judged inspection in the archive it belongs into.
    pub(super) fn keep(&self) -> Result<()> {
        let (folder, simulated) = {
            let mut state = self.state();
            let job = state.job()?;
            if !matches!(job.judging, Judging::Done(_)) {
                return Err(Error::new(Code::Usage, "it is not judged yet"));
            }
            (job.folder.clone(), job.is_simulated())
        };
        let kept = judged::keep(&folder, &self.archive(simulated))?;
        self.state().job()?.kept = Some(kept);
        Ok(())
    }

    /// In the thread that captures.
    fn hear(&self, number: u64, notice: &Notice<'_>) {
        let mut state = self.state();
        let Some(job) = state.job.as_mut().filter(|job| job.number == number) else {
            return;
        };
        job.live.take(notice);
        match notice {
            Notice::Set { .. } => {
                if let Some(simulation) = &job.simulation {
                    simulation.turn();
                }
            }
            Notice::Progress(progress) => {
                if let (Phase::Turning, Some(growing)) = (job.live.phase, &job.live.growing)
                    && growing.role != Role::Reference
                {
                    let file = file_of(growing);
                    self.provisional
                        .refresh(&job.folder, growing, file, progress.readings);
                }
            }
            Notice::Ready { .. } | Notice::Cut(_) | Notice::ZeroLost => job.keep_plan(),
            Notice::Made(_) => job.keep_plan(),
            Notice::Waiting => {
                let wish = job.wish.take();
                job.led(wish, &self.provisional);
            }
            Notice::Completed => {
                let folder = job.folder.clone();
                drop(state);
                self.judge_on_a_thread(number, folder);
            }
            _ => {}
        }
    }

    fn over(&self, number: u64, ended: &Result<Captured>) {
        let mut state = self.state();
        state.changes += 1;
        let Some(job) = state.job.as_mut().filter(|job| job.number == number) else {
            return;
        };
        job.live.over(ended);
        job.orders = None;
        job.simulation = None;
        if matches!(job.judging, Judging::UnderWay) {
            job.judging = Judging::NotYet;
        }
        job.keep_plan();
    }
}

impl Job {
    /// Takes a step.
    fn take(&mut self, step: usize, provisional: &Provisional) -> Result<()> {
        let none = || Error::new(Code::Usage, "no step can be taken now");
        let order = self.live.begin(step).ok_or_else(none)?;
        if let Some(simulation) = &self.simulation {
            simulation.hold_at(step);
        }
        self.judging = Judging::NotYet;
        self.kept = None;
        provisional.forget();
        self.give(order)
    }

    /// Goes on by itself: the next step's readings are shown so that the stylus can be set, and
    /// when every step is taken all is judged. What is to be taken anew waits for the person.
    fn go_on(&mut self, provisional: &Provisional) -> Result<()> {
        let waits = self.live.phase != Phase::Between || !self.cautioned || self.live.zero_lost;
        match self.live.plan.next() {
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
    fn led(&mut self, wish: Option<usize>, provisional: &Provisional) {
        let went_on = match wish {
            Some(step) => self.take(step, provisional),
            None => self.go_on(provisional),
        };
        if let Err(error) = went_on {
            self.live.fault(error.to_string());
        }
    }

    fn give(&self, order: Order) -> Result<()> {
        let closed = || {
            Error::new(Code::Usage, "the gauge is not connected")
                .help("connect it: what was taken so far is kept")
        };
        let orders = self.orders.as_ref().ok_or_else(closed)?;
        orders.send(order).map_err(|_| closed())
    }

    /// Whether its readings are made up.
    pub(super) fn is_simulated(&self) -> bool {
        self.simulated == Some(true) || self.folder.join(SIMULATED_MARK).exists()
    }

    /// Keeps the plan in the folder, once there is one.
    fn keep_plan(&mut self) {
        if !self.folder.join("inspection.toml").exists() {
            return;
        }
        let written = self
            .live
            .plan
            .to_toml()
            .and_then(|text| write_whole(&self.folder.join(PLAN_FILE), text.as_bytes()));
        let marked = match self.is_simulated() {
            true => write_whole(&self.folder.join(SIMULATED_MARK), SIMULATED.as_bytes()),
            false => Ok(()),
        };
        if let Err(error) = written.and(marked) {
            self.live.fault(error.to_string());
        }
    }
}

/// A folder with this file holds readings that were made up.
const SIMULATED_MARK: &str = "simulated.txt";
const SIMULATED: &str = "The readings in this folder come from a simulated gauge.\n";

fn plan_of(folder: &Path, inspection: &InspectionCard) -> Result<Plan> {
    match std::fs::read_to_string(folder.join(PLAN_FILE)) {
        Ok(text) => Plan::read(&text, PLAN_FILE, inspection),
        Err(_) => Ok(Plan::of_card(inspection, Angle::from_deg(0.5), 2)),
    }
}

fn check_steps(tool: &ToolCard, begin: &Begin) -> Result<()> {
    let usage = |message: String| Err(Error::new(Code::Usage, message));
    if begin.steps.is_empty() || begin.steps.len() > 100 {
        return usage(format!(
            "read {} steps, expected 1 to 100",
            begin.steps.len()
        ));
    }
    if !(0.05..=10.0).contains(&begin.spacing.deg()) {
        return usage("read another spacing, expected 0.05° to 10°".to_owned());
    }
    if !(1..=50).contains(&begin.passes) {
        return usage(format!("read {} passes, expected 1 to 50", begin.passes));
    }
    for wanted in &begin.steps {
        if let Role::Feature(name) = &wanted.role
            && !tool.features.iter().any(|feature| feature.name == *name)
        {
            return usage(format!(
                "read a step for `{name}`, which the tool card does not have"
            ));
        }
    }
    Ok(())
}
