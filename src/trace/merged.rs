//! What a merge gives: one height a place, with how well it repeats.

use super::Pace;
use crate::quantity::{Angle, AngularSpeed, Estimate, Length, Speed, Time};

/// A trace over one turn: every place once, with its repeatability, gaps kept as gaps.
#[derive(Clone, Debug, PartialEq)]
pub struct Merged {
    /// By growing angle, from 0 up to one turn; empty places are simply absent.
    pub cells: Vec<Cell>,
    /// Width of the angle grid.
    pub cell_width: Angle,
    /// Width of the grid that one pass by itself fills: holes, and what repeats, are told by it.
    pub pass_width: Angle,
    /// The places on that grid, where `cells` are finer.
    pub by_pass: Option<Vec<Cell>>,
    /// Robust standard deviation of one reading about its neighbours within a pass.
    pub noise: Length,
    /// Robust standard deviation between visits, in one direction, of what one place reads; the
    /// noise where no place was visited twice.
    pub repeatability: Length,
    /// The same without what the encoder's steps bring on steep places: it is how much a height
    /// scatters, wherever it was read.
    pub upright: Length,
    /// What the indicator reads more when the tool turns the cutting way than the backing way, at
    /// the same place; absent when the tool only turned one way.
    pub hysteresis: Option<Estimate<Length>>,
    /// How much later than the encoder the indicator is read.
    pub delay: Delay,
    /// Runs in one direction.
    pub passes: Vec<Pass>,
    /// Arcs wider than two cells that nothing was read in.
    pub holes: Vec<Hole>,
    /// How fast the tool was turned and read.
    pub pace: Pace,
    /// Every reading whose angle is known, by itself: also those that were taken for spikes, and
    /// those of nudges.
    pub singles: Vec<Single>,
    /// What was done, a sentence a step.
    pub history: Vec<String>,
}

impl Merged {
    /// The trace as an indicator would have read it that did not drift by this.
    #[must_use]
    pub fn without_drift(&self, drift: Speed) -> Self {
        let less = |cells: &[Cell]| {
            let each = cells.iter().map(|cell| Cell {
                reading: cell.reading - drift * cell.time,
                ..*cell
            });
            each.collect::<Vec<_>>()
        };
        Self {
            cells: less(&self.cells),
            by_pass: self.by_pass.as_deref().map(less),
            ..self.clone()
        }
    }

    /// The places on the grid that one pass by itself fills: each is the mean of several passes,
    /// which a single reading can be held against.
    pub fn filled_by_each(&self) -> &[Cell] {
        self.by_pass.as_deref().unwrap_or(&self.cells)
    }

    /// When its readings were taken on average, since the trace began.
    pub fn mean_time(&self) -> Time {
        let all: Time = self.cells.iter().map(|cell| cell.time).sum();
        all / self.cells.len().max(1) as f64
    }
}

/// One place of the turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// Mean angle of what was read here, delay taken out, in one turn.
    pub angle: Angle,
    /// The robust mean reading, both directions weighing the same where both are there.
    pub reading: Length,
    /// Standard uncertainty of `reading` from scatter alone.
    pub standard_error: Length,
    /// Mean signed speed behind `reading`: a change of delay by `t` moves `angle` by `-speed * t`.
    pub speed: AngularSpeed,
    /// Mean time behind `reading` since the trace began: a drift of the indicator by `v` adds
    /// `v * time` to it.
    pub time: Time,
    /// Samples used that were taken while the tool turned; at least one for each visit.
    pub samples: u32,
    /// Visits used: a pass that goes round twice visits a place twice.
    pub passes: u32,
}

/// One reading as it was taken: what a merge averages away, it still is evidence of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Single {
    /// Delay taken out, continuous over turns.
    pub angle: Angle,
    /// As read.
    pub reading: Length,
    /// Signed, as in [`Cell`].
    pub speed: AngularSpeed,
    /// Since the trace began.
    pub time: Time,
    /// The pass that it was taken in, as a place in the list of passes.
    pub pass: u32,
}

/// A run in one direction, as a range of samples of the trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Pass {
    /// First sample and one past the last.
    pub samples: std::ops::Range<usize>,
    /// Which way the tool turned.
    pub turning: Turning,
    /// How far it turned.
    pub arc: Angle,
}

/// Which way the tool turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turning {
    /// The way it cuts: edge first.
    Cutting,
    /// The other way: heel first.
    Backing,
}

/// An arc without readings, growing from `from`; it may pass the end of the turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hole {
    /// Where the last reading before it is, in one turn.
    pub from: Angle,
    /// How wide it is.
    pub width: Angle,
}

/// The delay between encoder and indicator.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delay {
    /// Positive where the indicator is later.
    pub estimate: Estimate<Time>,
    /// How it is known.
    pub source: DelaySource,
}

impl Delay {
    /// What is left of one that another trace showed, where so much was taken out.
    pub(super) fn shown(shown: Estimate<Time>, taken_out: Time) -> Self {
        let whole = Self {
            estimate: shown,
            source: DelaySource::Shown,
        };
        whole.beside(-taken_out)
    }

    /// The whole of it, where so much was taken out before the rest was looked for.
    pub(super) fn beside(self, taken_out: Time) -> Self {
        let Estimate {
            value,
            standard_uncertainty,
        } = self.estimate;
        Self {
            estimate: Estimate::new(value + taken_out, standard_uncertainty),
            ..self
        }
    }
}

/// How the delay is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DelaySource {
    /// The card states it.
    Stated,
    /// Both were sampled by one clock at one instant.
    OneClock,
    /// Found from reversals or changes of speed in the trace.
    Found,
    /// Found from another trace of the same clocks.
    Shown,
    /// Neither stated nor to be found: only a bound is carried.
    Unknown,
}
