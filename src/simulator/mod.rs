//! A simulated gauge: a tool of any family under a real tip, turned by an uneven hand.
//!
//! Its geometry shares no code with the stages that judge what it gives: the tip rests on a dense
//! cloud of points of the tool's outline, so a mistake in a formula there cannot hide here.

mod bridge;
mod built_in;
mod cards;
mod face;
mod fixture;
mod grind;
mod hand;
mod indicator;
mod land;
mod outline;
mod probe;
mod run;
mod scenario;
mod served;
mod sharpen;
mod target;
mod truth;
mod wander;
mod work;
mod worn;

pub use bridge::{Lead, SimulatedBridge};
pub use built_in::{built_in, names};
pub use face::SlideReading;
pub use grind::{Grind, Ground, Touched};
pub use run::{Pose, Reading, Run};
pub use scenario::{
    Bench, Cam, CamRise, Clamping, ErrorCurve, Face, Faults, Feature, Fixture, Gauge, Grinder,
    GrindingWheel, Grows, Hand, Land, Law, Nick, Positive, Relief, Round, Scenario, Surface, Tip,
    Tool, Tooth, Turning, Unit, WheelPart,
};
pub use served::InProcess;
#[cfg(unix)]
pub use served::{Served, ServedInstrument};
pub use sharpen::FacesGround;
pub use target::Target;
pub use truth::{ToothTruth, Truth};
