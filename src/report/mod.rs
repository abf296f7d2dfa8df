//! A record as a picture and as text: functions of the record alone.

mod canvas;
mod clip;
mod figures;
mod inches;
mod lettering;
mod notes;
mod page;
mod panel;
mod plots;
mod rank;
mod scale;
mod section;
mod sheet;
mod table;
mod text;
mod typeface;
mod words;

pub use figures::Units;
pub use page::{svg, svg_in};
pub use text::{TextStyle, line, text};
pub use typeface::{Weight, width as text_width};
