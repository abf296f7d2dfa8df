//! What is kept of an inspection; the only serde types of results.

pub mod archive;
mod assemble;
mod budget;
mod characteristic;
mod compared;
mod faced;
mod finite;
mod judged_from;
mod lengths;
mod pairs;
mod print;
mod reference;
mod schema;
mod setup;
mod trend;

pub use assemble::{Beyond, Judged, JudgedFeature, assemble};
pub use compared::{Compared, Moved, Side, Stock};
pub use faced::{FaceGround, FaceOutlook, lined_up};
pub use judged_from::{INSPECTION_FILE, JudgedFrom, Standing};
pub use pairs::{FigureOf, Pair, pairs, same_tooth, tooth};
pub use reference::Reference;
pub use schema::*;
pub use setup::{
    CutSetup, GroundLand, PredictedFigure, SETUP_FILE, SETUP_SCHEMA, Setup, SheetLine, SpotFacts,
    StandsFacts, SwivelSetup, WheelFacts,
};
pub use trend::{FOLLOWED, Followed, Outlook, Regrind, Trend};
