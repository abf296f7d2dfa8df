//! The one inspection that all pages share: what is under way, and what they may ask of it.

use super::beside::is_made;
use super::disk::Errand;
use super::job::{Begin, Job, Judging, MOST_STEPS, along, check_step, check_steps, plan_of};
use super::judged;
use super::work::Work;
use crate::card::{GaugeCard, ToolCard};
use crate::error::{Code, Error, Result};
use crate::inspection::Folder;
use crate::inspection::capture::{CaptureSettings, End, Notice, Order, Wanted, capture_led};
use crate::inspection::instruments::{self, Choice};
use crate::inspection::live::{Phase, Plan, Provisional, SoFar};
use crate::record::archive::{Place, SIMULATED_FILE, StoredFile, regular};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError};

/// What the page keeps of simulated inspections, apart from the real ones.
const TRY_OUT_ARCHIVE: &str = "try-out.db";

/// Shared by every page and by the thread that captures.
#[derive(Clone)]
pub(super) struct Session {
    pub work: Work,
    archive: Place,
    state: Arc<Mutex<State>>,
    /// Held by whoever writes the plan, so that the newest one stays.
    pub planning: Arc<Mutex<()>>,
    pub provisional: Provisional,
}

/// What is under way.
#[derive(Default)]
pub(super) struct State {
    pub job: Option<Job>,
    /// Grows with each change that a page has to be told, but for those of the live model.
    pub changes: u64,
    jobs: u64,
}

impl State {
    /// Differs whenever a page has to be told anew how things stand.
    pub(super) fn revision(&self) -> (u64, u64) {
        let live = self.job.as_ref().map_or(0, |job| job.live.version);
        (self.changes, live)
    }

    pub(super) fn job(&mut self) -> Result<&mut Job> {
        self.changes += 1;
        self.job.as_mut().ok_or_else(nothing_under_way)
    }

    /// The inspection with this number, where that is still the one under way.
    pub(super) fn numbered(&mut self, number: u64) -> Option<&mut Job> {
        self.job.as_mut().filter(|job| job.number == number)
    }
}

fn nothing_under_way() -> Error {
    Error::new(Code::Usage, "no inspection is under way").help("begin one, or go on with one")
}

impl Session {
    pub(super) fn new(work: Work, archive: Place) -> Self {
        Self {
            work,
            archive,
            state: Arc::default(),
            planning: Arc::default(),
            provisional: Provisional::default(),
        }
    }

    /// How things stand. Held for a moment only, and never while a disk is asked: the capture waits
    /// meanwhile, and so do all others.
    pub(super) fn state(&self) -> MutexGuard<'_, State> {
        // What a thread left behind when it failed is still whole.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The same for who may not wait at all: nothing where somebody else holds it just now.
    pub(super) fn state_at_once(&self) -> Option<MutexGuard<'_, State>> {
        match self.state.try_lock() {
            Ok(state) => Some(state),
            Err(TryLockError::Poisoned(left)) => Some(left.into_inner()),
            Err(TryLockError::WouldBlock) => None,
        }
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
    pub(super) fn begin(&self, begin: Begin, errand: &Errand) -> Result<()> {
        let tool = ToolCard::parse(&begin.tool_text, "tool.toml")?;
        let gauge = GaugeCard::parse(&begin.gauge_text, "gauge.toml")?;
        check_steps(&tool, &begin)?;
        errand.is_wanted()?;
        self.leave();
        let steps = begin.steps.into_iter().map(|wanted| along(&tool, wanted));
        let plan = Plan::of(steps, begin.spacing, begin.passes);
        let folder = self.work.new_inspection(&tool.id);
        let who = (begin.operator, begin.stage);
        let texts = (begin.tool_text, begin.gauge_text);
        let mut job = Job::new(folder, (tool, gauge), texts, who, plan);
        job.simulated = begin.simulated.then_some(true);
        job.pretended = begin.recipe;
        job.gauge_file = begin.gauge_file;
        job.grinder = begin.grinder;
        job.customer = begin.customer;
        job.temperature_c = begin.temperature_c;
        errand.is_wanted()?;
        self.put(job);
        Ok(())
    }

    /// Goes on with an inspection that is there, whoever began it.
    pub(super) fn resume(&self, name: &str, errand: &Errand) -> Result<()> {
        let dir = self.work.inspection(name)?;
        if self.folder().is_ok_and(|now| now == dir) {
            // What it reads is written out first.
            self.leave();
        }
        let job = self.job_of(&dir, errand)?;
        errand.is_wanted()?;
        self.leave();
        self.put(job);
        Ok(())
    }

    /// An inspection as its folder has it.
    fn job_of(&self, dir: &Path, errand: &Errand) -> Result<Job> {
        let Folder {
            inspection,
            tool,
            gauge,
            dir: folder,
            ..
        } = Folder::open(dir)?;
        let text = |file: &str| {
            regular::text(&folder.join(file))
                .map_err(|fault| Error::new(Code::Disk, fault.to_string()).in_file(file))
        };
        let plan = plan_of(&folder, &inspection)?;
        // A verdict on other readings, or an edited one, is none: the person judges again.
        let files = StoredFile::all_of(&folder)?;
        errand.answered();
        let record = judged::founded(&files, "verdict.json").ok().flatten();
        let texts = (text(&inspection.tool)?, text(&inspection.gauge)?);
        let who = (inspection.operator, inspection.stage);
        let mut job = Job::new(folder, (tool, gauge), texts, who, plan);
        job.gauge_file = self.work.gauge_of_text(&job.gauge_text);
        job.gauge_name = inspection.gauge;
        job.judging = record.map_or(Judging::NotYet, |record| Judging::Done(Arc::new(record)));
        job.customer = inspection.customer;
        job.temperature_c = inspection.temperature_c;
        job.made_up = job.folder.join(SIMULATED_FILE).exists();
        job.noted.hold().look(&job.folder)?;
        Ok(job)
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
            if let Some(proving) = job.proving.take() {
                proving.end();
            }
            job.orders = None;
            if let Some(thread) = job.thread.take() {
                // A thread that ended by a panic has nothing left to tell.
                let _ = thread.join();
            }
            // A disk that refuses them has said so already.
            let _ = job.noted.hold().keep(&job.folder);
        }
        self.provisional.forget();
    }

    /// The recipe of the tool that is simulated, where one was chosen.
    pub(super) fn recipe(&self) -> Option<String> {
        self.state().job.as_ref()?.pretended.clone()
    }

    /// The folder of the inspection under way.
    pub(super) fn folder(&self) -> Result<PathBuf> {
        let folder = self.state().job.as_ref().map(|job| job.folder.clone());
        folder.ok_or_else(nothing_under_way)
    }

    /// The person has read the cautions.
    pub(super) fn caution(&self) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        job.cautioned = true;
        job.go_on(&self.provisional)
    }

    /// Opens the instruments: to see which way the encoder counts, where nobody has yet, or to
    /// capture.
    pub(super) fn connect(&self, choice: Choice) -> Result<()> {
        let is_made = is_made(&self.folder()?);
        let mut state = self.state();
        let job = state.job()?;
        if job.is_connected() || job.proving.is_some() {
            return Ok(());
        }
        job.choose(&choice, is_made)?;
        if job.asks_for_proof() {
            self.prove(job, choice)
        } else {
            self.capture(job, choice)
        }
    }

    /// Begins to capture on a thread of its own.
    pub(super) fn capture(&self, job: &mut Job, choice: Choice) -> Result<()> {
        let opened = instruments::open(&choice, &job.tool, &job.gauge, &job.live.plan)?;
        let settings = CaptureSettings {
            folder: job.folder.clone(),
            tool_card: Some(job.tool_text.clone()),
            gauge_card: job.gauge_text.clone(),
            grinder_card: job.grinder.clone(),
            setup: None,
            simulated: matches!(choice, Choice::Simulated { .. }),
            operator: job.operator.clone(),
            customer: job.customer.clone(),
            temperature_c: job.temperature_c,
            stage: job.stage,
            traces: Vec::new(),
            end: End {
                covered: Some(job.live.plan.passes),
                ..End::default()
            },
            spacing: job.live.plan.spacing,
            rest: None,
        };
        let (give, orders) = tokio::sync::mpsc::unbounded_channel();
        job.orders = Some(give);
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
        job.thread =
            Some(thread.map_err(|fault| Error::internal("no thread to capture on", fault))?);
        Ok(())
    }

    /// Closes the port; the inspection stays.
    pub(super) fn disconnect(&self) -> Result<()> {
        let (proving, thread) = {
            let mut state = self.state();
            let job = state.job()?;
            job.orders = None;
            (job.proving.take(), job.thread.take())
        };
        if let Some(proving) = proving {
            proving.end();
        }
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

    /// Adds a trace to the plan, and goes on with it where the gauge is connected.
    pub(super) fn add_step(&self, wanted: Wanted) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        let number = job.number;
        check_step(&job.tool, &wanted)?;
        let wanted = along(&job.tool, wanted);
        if !matches!(job.live.phase, Phase::Between | Phase::Closed) {
            return Err(Error::new(Code::Usage, "a trace is under way")
                .help("end it first, or drop it, and add the other one then"));
        }
        if job.live.plan.steps.len() >= MOST_STEPS {
            let message = format!("the plan has {MOST_STEPS} steps, which is the most");
            return Err(Error::new(Code::Usage, message));
        }
        job.live.add(wanted);
        job.judging = Judging::NotYet;
        job.kept = None;
        let went_on = job.go_on(&self.provisional);
        drop(state);
        self.keep_plan(number);
        went_on
    }

    /// Goes on after a break: with what is kept, or with everything anew.
    pub(super) fn after_break(&self, clamped_as_it_was: bool) -> Result<()> {
        let mut state = self.state();
        let job = state.job()?;
        if !job.live.after_break(clamped_as_it_was) {
            return Err(Error::new(
                Code::Usage,
                "nothing more goes with the traces that are kept",
            )
            .help(
                "take everything again, or judge what there is: no index mark ties new traces \
                     to them",
            ));
        }
        job.go_on(&self.provisional)
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
}
