//! The only code that joins the stages.

mod agree;
pub mod capture;
pub mod clamping;
mod corrected;
mod finished;
mod folder;
pub mod grind;
mod grinder_files;
pub mod instruments;
mod invented;
pub mod live;
mod logs;
pub mod noted;
mod proof;
pub mod ready;
mod rejudge;
mod row;
pub mod simulated;
mod verify;
mod vouched;
mod whole_file;

pub use folder::{Folder, Taken};
pub use grinder_files::GrinderFiles;
pub use proof::{seen_to_grow, seen_today, with_proof};
pub use rejudge::{Moved, Read, Rejudged, rejudge};
pub use row::{JUDGED_SCHEMA, JudgedRow, Row, RowError, RowTrace};
pub use verify::{verify, verify_growing, verify_with};
pub use vouched::{Vouched, standing_in, vouched};
pub use whole_file::{WholeFile, write_new, write_whole};
