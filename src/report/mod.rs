//! A record as a picture and as text: functions of the record alone.

mod canvas;
mod certificate;
mod clip;
mod compare;
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
mod trend;
mod trend_page;
mod trend_plot;
mod typeface;
mod words;
mod would_show;

pub use crate::quantity::Units;
pub use certificate::{Kept, certificate};
pub use compare::{compare_svg, compare_text};
pub use figures::{allowed, in_words};
pub use page::{is_drawn_from, svg, svg_by, svg_in};
pub use rank::{by_flute, deciding};
pub use text::{TextStyle, line, text};
pub use trend::trend_text;
pub use trend_page::trend_svg;
pub use typeface::{Weight, width as text_width};
pub use words::harmless;
pub use words::headline;
