//! What to set on the grinder.
//!
//! Pure functions: the offset for a relief angle ([`relief_offset`]), the rise of a relieving cam
//! ([`cam_rise`]), the swing of the table ([`table_swing`]), the least stock that cleans a tool up
//! ([`least_skim`]), the speed of a wheel and the most that is marked on it ([`surface_speed`],
//! [`Marking`]), what an error of the height of centre does ([`turned_by_height`]), a grind on the face
//! of the tooth ([`grind_face`]); and [`remedy()`], which puts them to use for a figure that fails.

mod cam;
mod envelope;
mod face;
mod face_remedy;
mod face_stock;
mod height;
mod learn;
pub mod matching;
mod measured;
mod motion;
mod relief;
mod remedy;
mod rounding;
mod skim;
mod speed;
mod stands;
mod taper;
mod worn;

pub use cam::{CamRise, cam_relief, cam_rise, cam_throw};
pub use envelope::{Drawn, Section};
pub use face::{FaceGround, FaceStock, face_grinds_left, face_stock_turns, grind_face};
pub use face_stock::{FacedTooth, MeasuredFace, NewEdge, measured_face, new_edge};
pub use height::turned_by_height;
pub use learn::{
    BEFORE, Learnt, LearntZero, Part, SWIVEL_BEFORE, Scales, TAUGHT, Taught, generalised, learn,
    learn_zero,
};
pub use measured::{MeasuredSkim, Relieved, Unsure, measured_skim};
pub use motion::{Motion, NoMotion};
pub use relief::{relief_offset, relief_within, widest_flat};
pub use remedy::{Measured, remedy};
pub use skim::{Skim, Worn, least_skim, stock_for_wear};
pub use speed::{
    Allowed, Marking, Pulleys, Unlimited, motor_pulley, spindle_pulley, surface_speed, turning_for,
};
pub use stands::{Stands, between, is_misplaced, swept};
pub use taper::{Swing, sine_bar_height, swivel_setting, table_swing, taper_over};
