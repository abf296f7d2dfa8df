//! Statistics, fits and uncertainty against published values and general libraries.

mod distribution;
mod fits;
mod quantiles;
mod scipy;
mod setting;
mod strd;
mod uncertainty;
mod univariate;

#[path = "../fixtures/traces.rs"]
mod traces;
