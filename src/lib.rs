//! Proves, with numbers that can be trusted, that a reground cutting tool will cut and not rub.
//!
//! Data flows one way. A [`card`] says what is wanted, a [`gauge`] gives bytes (the
//! [`simulator`] where there is no bench), a [`sample`] is one
//! reading on one time line, a [`trace`] is many of them merged over the turn, a [`shape`] is the
//! part without the stylus and the clamping, a [`fit`] is the curve of the land, and [`judge`]
//! says pass, fail or undecided. [`record`] keeps the answer and [`report`] draws it;
//! [`inspection`] is the only code that joins the stages, and [`kept`] says what records of many
//! inspections come to.
//!
//! [`page`] and [`cli`] are its faces. The library neither prints nor exits; `cli` does.

// Modules in reading order: each may use those before it, as the table in DEVELOPERS.md says.
pub mod numeric;

pub mod quantity;

pub mod error;

pub mod card;

pub mod gauge;

pub mod simulator;

pub mod sample;

pub mod trace;

pub mod shape;

pub mod fit;

pub mod judge;

pub mod study;

pub mod setting;

pub mod record;

pub mod report;

pub mod inspection;

pub mod kept;

pub mod manual;

pub mod page;

pub mod cli;
