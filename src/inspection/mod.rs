//! The only code that joins the stages.

pub mod simulated;
