//! The curve of a land: families, how they are fitted, which one is chosen, whether to trust it.
//!
//! A fit works on [`LandPoint`]s: arc behind the edge and how far the surface lies below the edge.
//! Every curve goes through the edge; an `edge_offset` is fitted beside it, since the edge's own
//! height is known no better than it was measured. Any family may stand behind a margin, a strip
//! of cylinder about the axis: `relief_angle` is then that of the margin, none, and
//! `relief_behind_margin` is the family's.
//!
//! ```
//! use heelclear::card::Surface;
//! use heelclear::fit::{Curve, Family, FitSettings, Land, LandPoint, choose};
//! use heelclear::quantity::{Angle, Length};
//!
//! let radius = Length::from_mm(10.0);
//! let truth = Curve::flat(Surface::Radial, radius, Angle::from_deg(7.0));
//! let points: Vec<LandPoint> = (1..60)
//!     .map(|i| Angle::from_deg(0.2 * f64::from(i)))
//!     .map(|arc| LandPoint {
//!         arc,
//!         drop: truth.drop(arc),
//!         standard_uncertainty: Length::from_um(1.0),
//!     })
//!     .collect();
//! let land = Land {
//!     points: &points,
//!     radius,
//!     surface: Surface::Radial,
//!     edge: Some(Length::from_um(1.0)),
//!     end: Angle::from_deg(12.0),
//! };
//! let choice = choose(&land, &FitSettings::default())?;
//! assert_eq!(choice.best.family(), Family::Flat);
//! assert!((choice.best.relief_angle().value.deg() - 7.0).abs() < 1e-9);
//! # Ok::<(), heelclear::error::Error>(())
//! ```

mod averaged;
mod choice;
mod choose;
mod contest;
mod curve;
mod diagnose;
mod family;
mod fitted;
mod hinge;
mod kin;
mod laid;
mod land;
mod likely;
mod outlook;
mod problem;
pub mod relief;
mod report;
mod response;
mod run;
mod settle;
mod smooth;
pub mod solve;
mod start;
mod step;
mod yardstick;

pub use averaged::Averaged;
pub use choice::{Choice, Rejected};
pub use choose::choose;
pub use curve::Curve;
pub use diagnose::{Doubt, Trust};
pub use family::{CamFigures, Family, Law};
pub use fitted::Fit;
pub use laid::Laid;
pub use land::{Land, LandPoint};
pub use likely::Likely;
pub use response::Response;
pub use run::{fit, fit_behind_margin};
pub use solve::Stop;

use crate::card::CurveChoice;
use crate::quantity::Length;

/// How to fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitSettings {
    /// Which families the card allows.
    pub curve: CurveChoice,
    /// Where to begin, for the family that it belongs to.
    pub start: Option<Curve>,
    /// A slow departure from a curve of this size says nothing about which family it is.
    pub immaterial: Length,
    /// A slow departure from a curve, or of the edge from it, beyond this size is a doubt.
    pub systematic: Length,
}

impl Default for FitSettings {
    fn default() -> Self {
        Self {
            curve: CurveChoice::Auto,
            start: None,
            // A fifth of the least step that a hand-held indicator shows, and that step (chosen, no
            // source).
            immaterial: Length::from_um(0.2),
            systematic: Length::from_um(1.0),
        }
    }
}
