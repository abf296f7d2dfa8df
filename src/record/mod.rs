//! What is kept of an inspection; the only serde types of results.

mod print;
mod schema;

pub use schema::*;
