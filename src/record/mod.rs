//! What is kept of an inspection; the only serde types of results.

pub mod archive;
mod assemble;
mod characteristic;
mod print;
mod schema;

pub use assemble::{Beyond, Judged, JudgedFeature, Reference, assemble};
pub use schema::*;
