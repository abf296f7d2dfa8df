//! A record as a picture and as text: functions of the record alone.

mod figures;
mod rank;
mod text;
mod words;

pub use figures::Units;
pub use text::{TextStyle, text};
