//! The only code that joins the stages.

mod beyond_cards;
pub mod capture;
mod folder;
mod graduated;
pub mod instruments;
mod invented;
pub mod live;
mod proof;
mod reach;
pub mod ready;
mod rejudge;
mod sense;
pub mod simulated;
mod studied;
mod verify;
mod vouched;

pub use folder::{Folder, Taken, WholeFile, write_whole};
pub use proof::{seen_to_grow, seen_today, with_proof};
pub use rejudge::{Moved, Read, Rejudged, rejudge};
pub use verify::{verify, verify_growing, verify_with};
pub use vouched::{Vouched, standing_in, vouched};
