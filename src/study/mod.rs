//! Checks of the gauge itself: at rest, over passes, both ways, on a master round, along a test bar, on
//! known steps, by
//! several hands.
//!
//! Each study gives [`Finding`]s: a figure of the gauge with a 95 % interval, what it is held to,
//! and what to do. A figure is fine when its whole interval is allowed, not fine when none of it
//! is, and not settled between.

mod anova;
mod crossed;
mod finding;
mod lean;
mod rest;
mod round;
mod step;
mod table;
mod visits;

pub use anova::{Anova, Source, Variances};
pub use crossed::{Crossed, crossed};
pub use finding::{Finding, Study};
pub use lean::{Bar, lean};
pub use rest::rest;
pub use round::{Master, round};
pub use step::{KnownHeight, Step, step};
pub use table::{CrossedTable, Unit, read_table};
pub use visits::{repeat, reversal};
