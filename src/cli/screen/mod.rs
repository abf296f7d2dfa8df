//! The full-screen terminal view of a capture: what to do, what is read, what it comes to.
//!
//! [`draw()`] is a function of [`Shown`] alone, so that a screen can be tested without a terminal.

mod dial;
mod draw;
mod keys;
mod lands;
mod leading;
mod run;
mod terminal;
mod turn;
mod words;

pub use draw::draw;
pub use keys::{Act, act};
pub(super) use run::{Watched, watch};
pub(super) use terminal::fits;

use crate::inspection::live::{Live, Phase, SoFar, StepState};
use crate::quantity::Time;
use crate::report::Units;

/// Everything that is drawn.
pub struct Shown<'a> {
    /// The tool's id and name.
    pub tool: &'a str,
    /// The inspection's folder.
    pub folder: &'a str,
    /// Where the capture is.
    pub live: &'a Live,
    /// What the trace under way, or the last one, comes to so far.
    pub so_far: Option<&'a SoFar>,
    /// What is asked of the person, besides what the capture waits for.
    pub asks: Asks,
    /// The unit that lengths are shown in.
    pub units: Units,
    /// How long nothing has come from the instruments, while something should.
    pub quiet: Option<Time>,
}

/// What is asked of the person, besides what the capture waits for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Asks {
    /// Nothing.
    #[default]
    Nothing,
    /// The same key again, if the capture is to be stopped.
    StopAgain,
    /// The same key again, if the trace under way is to be dropped.
    DropAgain,
    /// Everything is taken: it ends by itself in so many seconds.
    Ending(u64),
    /// Whether the tool is still clamped as it was; and whether anything more would go with what is
    /// kept if it is.
    Clamping(bool),
}

impl Shown<'_> {
    /// Whether every trace of the plan is taken and none is under way.
    fn is_done(&self) -> bool {
        self.live.phase == Phase::Between && self.live.next().is_none()
    }

    /// The step that is under way, or the last that was taken.
    fn step(&self) -> Option<usize> {
        let taken = |state: &StepState| *state != StepState::Open;
        let steps = &self.live.plan.steps;
        self.live
            .current
            .or_else(|| self.live.next())
            .or_else(|| steps.iter().rposition(|step| taken(&step.state)))
    }
}
