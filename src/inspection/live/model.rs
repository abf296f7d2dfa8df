//! The live model: what any face shows while a led capture runs.

use super::super::capture::{Captured, Made, Notice, Order, Progress, STANDS, ToGo, Wanted};
use super::dial::Dialled;
use super::motion::{Direction, Motion};
use super::plan::{Plan, Step, StepState, Traced};
use super::round::Round;
use super::told::{ToldList, Weight};
use super::way::{self, Way};
use crate::card::{Hand, Role, Rotation, Source, ToolCard, TraceEntry};
use crate::error::{Error, Result};
use crate::quantity::{Angle, Length};
use crate::sample::{Mark, Seen};
use std::path::Path;
use std::time::Instant;

/// Where a led capture is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Phase {
    /// No instrument is open.
    #[default]
    Closed,
    /// The instruments are being opened.
    Connecting,
    /// They answer, and no trace is under way.
    Between,
    /// A trace is chosen, readings come, and the stylus is being set.
    Setting,
    /// The stylus is set: the trace begins when the tool turns.
    Armed,
    /// The tool turns, and the trace grows.
    Turning,
}

/// How it goes on after the encoder may have begun to count anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Broken {
    /// Somebody has to say whether the tool is still clamped as it was.
    Asks {
        /// Whether an index mark was passed in what is kept. Without one nothing goes with it.
        ties: bool,
    },
    /// It is: the index mark ties each trace to those kept.
    Tied,
    /// It is not: the next whole trace replaces them all.
    Anew,
}

/// What is shown while a capture runs: fed with every [`Notice`] of it, in its thread, and cheap
/// enough for that at thousands of readings a second. Its memory does not grow with the trace.
///
/// A face holds it behind a lock: [`Live::take`] is called in the closure that the capture tells,
/// [`Live::begin`] gives the order that takes a step of the plan, and [`Live::over`] is told how
/// the capture ended.
#[derive(Clone, Debug)]
pub struct Live {
    /// The steps, and how they stand.
    pub plan: Plan,
    /// Where it is.
    pub phase: Phase,
    /// The step that is being taken.
    pub current: Option<usize>,
    /// What was told, faults above all.
    pub told: ToldList,
    /// The newest reading.
    pub reading: Option<Length>,
    /// The newest angle of the tool, growing the way it cuts.
    pub angle: Option<Angle>,
    /// When the newest line was taken in.
    pub newest: Option<Instant>,
    /// How the tool is being turned.
    pub motion: Motion,
    /// The turn as it fills.
    pub round: Round,
    /// Which turn that is: grows with each trace that is begun.
    pub round_number: u64,
    /// What the hand on a fixture's throw is shown.
    pub dial: Dialled,
    /// Counters of the trace under way or the last one.
    pub progress: Progress,
    /// What the card says, or will say, of the trace that grows.
    pub growing: Option<TraceEntry>,
    /// Whether a device went away and is not back.
    pub gone: bool,
    /// Whether and how to go on with the traces that were taken before the encoder may have begun
    /// to count anew; nothing where it did not.
    pub broken: Option<Broken>,
    /// Whether nobody knows yet if the indicator was set anew since the last trace.
    pub zero_in_question: bool,
    /// Lines that were refused or lost, in all traces of this capture.
    pub lines_missing: u64,
    /// How many teeth the tool has: with several of them it is turned heel first.
    pub teeth: u32,
    /// The turning direction that is heel first, seen from the driven end.
    pub heel_turns: Rotation,
    /// Grows whenever something other than readings changed.
    pub version: u64,
    missing_before: u64,
}

impl Live {
    /// Nothing has happened yet.
    pub fn new(plan: Plan) -> Self {
        Self {
            motion: Motion::new(plan.spacing),
            round: Round::new(plan.spacing),
            round_number: 0,
            plan,
            phase: Phase::Closed,
            current: None,
            told: ToldList::default(),
            reading: None,
            angle: None,
            newest: None,
            dial: Dialled::None,
            progress: Progress::default(),
            growing: None,
            gone: false,
            broken: None,
            zero_in_question: false,
            lines_missing: 0,
            teeth: 1,
            heel_turns: Hand::Right.cuts().reversed(),
            version: 0,
            missing_before: 0,
        }
    }

    /// The same for this tool: which way it is to be turned follows from its teeth and its hand.
    #[must_use]
    pub fn of_tool(mut self, tool: &ToolCard) -> Self {
        self.teeth = tool.flutes;
        self.heel_turns = tool.hand.cuts().reversed();
        self
    }

    /// Whether the trace under way, or the next one, is to be turned heel first.
    pub fn heel_first(&self) -> bool {
        let step = self.current.or_else(|| self.next());
        let step = step.and_then(|at| self.plan.steps.get(at));
        way::heel_first(self.teeth, step.map(|step| &step.wanted.role))
    }

    /// Whether the tool turns the way that it should.
    pub fn way(&self) -> Way {
        way::way(self.motion.direction(), self.heel_first())
    }

    /// Whether the tool stands still where the trace needs it to turn.
    pub fn stands(&self) -> bool {
        let turning = self.phase == Phase::Turning && !self.gone;
        turning && self.motion.stands_for().is_some_and(|time| time >= STANDS)
    }

    /// The little that is missing at the end of the trace, ahead of where the tool stands: heel
    /// first where that is wanted, else the way that it turns.
    pub fn to_go(&self) -> Option<ToGo> {
        if self.phase != Phase::Turning || !matches!(self.dial, Dialled::None) {
            return None;
        }
        let growing = !self.heel_first() && self.motion.direction() != Direction::Backing;
        self.round.to_go(self.plan.passes, self.angle?, growing)
    }

    /// The instruments are about to be opened.
    pub fn connecting(&mut self) {
        self.phase = Phase::Connecting;
        // Nobody knows what the encoder did while the port was closed.
        self.broken = None;
        self.gone = false;
        self.version += 1;
    }

    /// Chooses a step to take, for the first time or again. Gives the order for the capture;
    /// nothing while another trace is under way, where there is no such step, or before somebody
    /// [said](Self::after_break) how to go on after a break.
    pub fn begin(&mut self, step: usize) -> Option<Order> {
        if self.phase != Phase::Between || self.asks_after_break() {
            return None;
        }
        let chosen = self.plan.steps.get(step)?;
        let order = Order::Take {
            wanted: chosen.wanted.clone(),
            instead_of: chosen.file().map(str::to_owned).into_iter().collect(),
            anew: self.broken == Some(Broken::Anew),
        };
        self.phase = Phase::Setting;
        self.current = Some(step);
        self.growing = None;
        self.dial = Dialled::None;
        self.motion = Motion::new(self.plan.spacing);
        self.round = Round::new(self.plan.spacing);
        self.round_number += 1;
        self.progress = Progress::default();
        self.missing_before = self.lines_missing;
        self.version += 1;
        Some(order)
    }

    /// Works out, beside the capture into this folder, how a fixture is to stand for the trace that was
    /// begun; nothing where that is taken with it locked.
    pub fn aim(&mut self, folder: &Path) {
        let step = self.current.and_then(|at| self.plan.steps.get(at));
        self.dial = match step {
            None => Dialled::None,
            Some(step) if !matches!(step.wanted.role, Role::Residual(..)) => Dialled::None,
            Some(_) if self.broken.is_some() => Dialled::without_zero(),
            Some(step) => Dialled::begin(folder, &step.wanted),
        };
        self.version += 1;
    }

    /// Adds a trace that turned out to be wanted, behind those of the plan.
    pub fn add(&mut self, wanted: Wanted) {
        self.plan.steps.push(Step {
            wanted,
            state: StepState::Open,
        });
        self.version += 1;
    }

    /// The step that is best taken next; nothing where all are.
    pub fn next(&self) -> Option<usize> {
        match self.broken {
            // All of them are to be taken anew, whatever is kept of the clamping before.
            Some(Broken::Anew) => Some(0),
            _ => self.plan.next(),
        }
    }

    /// Whether somebody has to say first how to go on after a break.
    pub fn asks_after_break(&self) -> bool {
        matches!(self.broken, Some(Broken::Asks { .. }))
    }

    /// How to go on after a break: with what is kept, where the tool is still clamped as it was, or
    /// with everything anew. Whether that can be.
    pub fn after_break(&mut self, clamped_as_it_was: bool) -> bool {
        let Some(Broken::Asks { ties }) = self.broken else {
            return false;
        };
        if clamped_as_it_was && !ties {
            return false;
        }
        let on = if clamped_as_it_was {
            Broken::Tied
        } else {
            Broken::Anew
        };
        self.broken = Some(on);
        self.zero_in_question &= clamped_as_it_was;
        self.version += 1;
        true
    }

    /// Takes in what the capture tells.
    pub fn take(&mut self, notice: &Notice<'_>) {
        match notice {
            Notice::Seen(seen) => return self.look(seen),
            Notice::Progress(progress) => return self.count(progress),
            Notice::Waiting => self.between(),
            Notice::Connected { .. } => {
                self.say(Weight::Plain, notice.to_string());
            }
            Notice::Ready { .. } => self.phase = Phase::Setting,
            Notice::Set { .. } => {
                self.phase = Phase::Armed;
                self.zero_in_question = false;
                self.motion = Motion::new(self.plan.spacing);
            }
            Notice::Turning { entry, .. } => {
                self.phase = Phase::Turning;
                self.growing = Some((*entry).clone());
            }
            Notice::Made(made) => {
                self.say(
                    Weight::Plain,
                    format!("{}: {} readings", made.file, made.readings),
                );
                for warning in &made.warnings {
                    self.say(Weight::Fault, format!("{}: {warning}", made.file));
                }
                self.finish_step(StepState::Taken, made);
            }
            Notice::Cut(made) => {
                self.say(Weight::Fault, notice.to_string());
                self.finish_step(StepState::Short, made);
            }
            Notice::GivenUp | Notice::Completed => self.say(Weight::Plain, notice.to_string()),
            // Nobody leads a trace at rest.
            Notice::AtRest { .. } => {}
            Notice::ZeroLost { ties } => {
                self.lose_zero(*ties);
                self.say(Weight::Fault, notice.to_string());
            }
            Notice::Gone { .. } => {
                self.gone = true;
                self.say(Weight::Fault, notice.to_string());
            }
            Notice::Back { .. } => {
                self.gone = false;
                self.say(Weight::Plain, notice.to_string());
            }
            Notice::Untied(_)
            | Notice::Silent { .. }
            | Notice::Garbled { .. }
            | Notice::Restarted { .. }
            | Notice::Late { .. } => self.say(Weight::Fault, notice.to_string()),
        }
        self.version += 1;
    }

    /// The capture is over. Says what was kept and how to go on, where it did not end as it should.
    pub fn over(&mut self, ended: &Result<Captured>) {
        let fault = match ended {
            Ok(captured) => captured.fault.as_ref(),
            Err(fault) => Some(fault),
        };
        if let Some(fault) = fault {
            if self.plan.has_traces() {
                let kept = self.kept();
                self.say(Weight::Plain, kept);
            }
            self.say(Weight::Fault, told(fault));
        }
        self.between();
        self.phase = Phase::Closed;
        self.gone = false;
        self.version += 1;
    }

    /// A face did something that the person should find again.
    pub fn remark(&mut self, text: String) {
        self.say(Weight::Plain, text);
    }

    /// A face noticed a fault of its own, which the person should know.
    pub fn fault(&mut self, text: String) {
        self.say(Weight::Fault, text);
    }

    /// What of the plan is on disk, in plain words.
    pub fn kept(&self) -> String {
        let (whole, short) = (self.plan.files(true), self.plan.files(false));
        let mut text = match whole.as_slice() {
            [] => "kept: no whole trace yet".to_owned(),
            some => format!("kept whole: {}", some.join(", ")),
        };
        if !short.is_empty() {
            text += &format!("; cut short, and to be taken again: {}", short.join(", "));
        }
        text + ". Every byte that was read is in the folder's raw logs"
    }

    /// How far behind its own instruments the picture is missing lines in this trace.
    pub fn missing_in_trace(&self) -> u64 {
        self.lines_missing - self.missing_before
    }

    fn lose_zero(&mut self, ties: bool) {
        self.broken = Some(Broken::Asks { ties });
        if !matches!(self.dial, Dialled::None) {
            self.dial = Dialled::without_zero();
        }
        self.zero_in_question = true;
    }

    fn say(&mut self, weight: Weight, text: String) {
        self.told.add(weight, text);
        self.version += 1;
    }

    fn look(&mut self, seen: &[Seen]) {
        self.newest = Some(Instant::now());
        let turning = self.phase == Phase::Turning;
        if self.dial.look() {
            self.version += 1;
        }
        for line in seen {
            self.reading = line.reading.or(self.reading);
            self.angle = line.angle.or(self.angle);
            self.motion.take(line);
            // What is in doubt is in the trace, marked; the picture does without it.
            let doubted = line.marks.has(Mark::AngleInDoubt) || line.marks.has(Mark::Unusable);
            if let (true, false, Some(angle), Some(reading)) =
                (turning, doubted, line.angle, line.reading)
            {
                self.round.take(angle, reading);
            }
            if let (false, Some(angle), Some(reading)) = (doubted, line.angle, line.reading)
                && let Some(dial) = self.dial.dial_mut()
            {
                dial.take(angle, reading);
            }
        }
    }

    fn count(&mut self, progress: &Progress) {
        let missing = progress.bad_lines + progress.lost_lines;
        let before = self.progress.bad_lines + self.progress.lost_lines;
        if missing > before {
            self.lines_missing += missing - before;
            self.version += 1;
        }
        self.progress = progress.clone();
    }

    fn finish_step(&mut self, state: impl Fn(Traced) -> StepState, made: &Made) {
        let traced = Traced {
            file: made.file.clone(),
            readings: Some(made.readings),
            warnings: made.warnings.clone(),
        };
        let state = state(traced);
        let whole = matches!(state, StepState::Taken(_));
        if let Some(current) = self.current {
            // It took the place of all that was measured in the clamping before.
            if self.broken == Some(Broken::Anew) && whole {
                self.plan.reopen();
                self.broken = None;
            }
            if let Some(step) = self.plan.steps.get_mut(current)
                // A trace that was taken again and cut short leaves the earlier one in its place.
                && (whole || step.state == StepState::Open)
            {
                step.state = state;
            }
        }
    }

    fn between(&mut self) {
        self.phase = Phase::Between;
        self.current = None;
        self.growing = None;
    }
}

/// The file that a trace's readings are in.
pub fn file_of(entry: &TraceEntry) -> &str {
    match &entry.source {
        Source::One(file) => file,
        Source::Two { reading, .. } => reading,
    }
}

/// An error in a line: where, what, and what to do.
fn told(error: &Error) -> String {
    let place = error.place().to_string();
    let colon = if place.is_empty() { "" } else { ": " };
    let mut text = format!("{place}{colon}{}", error.message());
    if let Some(advice) = error.advice() {
        text += &format!("; {advice}");
    }
    text
}
