//! What to set on the grinder.
//!
//! Pure functions: the offset for a relief angle ([`relief_offset`]), the rise of a relieving cam
//! ([`cam_rise`]), the swing of the table ([`table_swing`]), the least stock that cleans a tool up
//! ([`least_skim`]); and [`remedy()`], which puts them to use for a figure that fails.

mod cam;
mod envelope;
pub mod matching;
mod motion;
mod relief;
mod remedy;
mod skim;
mod taper;
mod worn;

pub use cam::{CamRise, cam_rise};
pub use envelope::{Drawn, Section, contact_leads};
pub use motion::{Motion, NoMotion};
pub use relief::{relief_offset, widest_flat};
pub use remedy::{Measured, remedy};
pub use skim::{Skim, Worn, least_skim, stock_for_wear};
pub use taper::{Swing, table_swing};
