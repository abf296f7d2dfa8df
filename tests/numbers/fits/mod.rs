//! Fits of lands: what was put in comes out, and no surer than it can be.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

mod doubts;
mod families;
mod honesty;
mod lands;
mod margins;
mod refits;
