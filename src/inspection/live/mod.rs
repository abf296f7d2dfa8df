//! What any face shows while a person turns the tool, kept beside the capture that feeds it.
//!
//! A face holds a [`Live`] behind a lock, starts
//! [`capture_led`](super::capture::capture_led) on a thread of its own, and passes every notice to
//! [`Live::take`]. What is shown is read from `Live` whenever the face draws: the newest reading and
//! angle, [`Motion`] (speed, pace, direction), [`Round`] (what was read at each place of the turn),
//! the [`Plan`] and how its steps stand, and what was told. [`Provisional`] judges the growing trace
//! on its own thread, from the raw log, by the very stages that judge it in the end.
//!
//! ```no_run
//! use heelclear::inspection::capture::{CaptureSettings, Order, capture_led};
//! use heelclear::inspection::live::{Live, Plan};
//! # use heelclear::{card::ToolCard, error::Result, gauge::Instrument, quantity::Angle};
//! # fn run(settings: CaptureSettings, port: Box<dyn Instrument>, tool: &ToolCard) -> Result<()> {
//! let mut live = Live::new(Plan::for_tool(tool, Angle::from_deg(0.5), 2));
//! let (lead, orders) = tokio::sync::mpsc::unbounded_channel();
//! live.connecting();
//! let ended = capture_led(
//!     &settings,
//!     port,
//!     None,
//!     &mut |notice| {
//!         live.take(&notice);
//!         // As soon as nothing is under way, the next step is taken; the stylus is set by then.
//!         if let Some(order) = live.plan.next().and_then(|step| live.begin(step)) {
//!             let _ = lead.send(order);
//!             let _ = lead.send(Order::Set { rezeroed: false });
//!         } else if live.plan.is_done() {
//!             let _ = lead.send(Order::Finish);
//!         }
//!     },
//!     orders,
//! );
//! live.over(&ended);
//! # Ok(())
//! # }
//! ```

mod advice;
mod dial;
mod model;
mod motion;
mod plan;
mod round;
mod so_far;
mod told;
mod way;

pub use advice::settable;
pub use dial::{Dial, Dialled};
pub use model::{Broken, Live, Phase, file_of};
pub use motion::{Direction, Motion, Pace};
pub use plan::{CAUTIONS, PLAN_FILE, Plan, Step, StepState, Traced};
pub use round::{Cell, Round};
pub use so_far::{Provisional, SoFar};
pub use told::{Told, ToldList, Weight};
pub use way::Way;
