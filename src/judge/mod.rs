//! Characteristics, their uncertainty, and the verdict.
//!
//! [`judge`] reads one feature. The measurement model is one plain function from what is uncertain
//! (the clamping, the stylus, the delay, the edge's height) to all figures of the feature; each
//! line of a budget is found by moving one input by its standard uncertainty and computing the
//! figures anew, so that whatever the fit and the stylus do to an error is in its sensitivity
//! (JCGM 100, 5.1.3 note 2). Contributions are taken as independent and the model as linear over
//! one standard uncertainty of each.

mod above;
mod again;
mod answer;
mod ball;
mod behind;
mod bench;
mod budget;
mod checks;
mod clamped;
mod climb;
mod combine;
mod contrary;
mod cure;
mod decide;
mod disagree;
mod doubt;
mod draw;
mod draws;
mod drift;
mod edge_radius;
mod edges;
mod face;
mod facets;
mod feature;
mod few;
mod figures;
mod guard;
mod input;
mod judgement;
mod known;
mod lean;
mod least;
mod lines;
mod outlook;
mod part;
mod propagate;
mod reader;
mod rounding;
mod seen;
mod sign;
mod source;
mod sources;
mod specks;
mod standard;
mod stop;
mod studied;
mod taper;
mod tooth;
mod trial;
mod unproven;
mod visible;
mod wear;
mod words;

pub use ball::doubt_of_ball;
pub use bench::{Axis, Bench, as_read, axis_from_references};
pub use budget::{Budget, Line, Spread};
pub use combine::{
    Contribution, combined, combined_correlated, covariance_of_results,
    effective_degrees_of_freedom,
};
pub use cure::Cure;
pub use decide::{Guard, Outcome, conformity_probability, decide_guarded, guard_factor};
pub use doubt::{Doubt, DoubtKind, Leaves};
pub use draw::{Random, unit_normal};
pub use draws::Draws;
pub use drift::{drift, drift_assumption};
pub use face::{face_angle, face_assumptions, no_face_trace};
pub use feature::judge;
pub use figures::{Bound, Figure, FluteSpacing};
pub use input::{Input, InputUnit};
pub use judgement::{FeatureJudgement, ToothJudgement};
pub use known::{COVERAGE_95, Known, Method, Way};
pub use lean::{Lean, Proof};
pub use propagate::{Propagated, Tolerance, Trials, Watch, first_order_holds, propagate};
pub use seen::{
    KnownSize, beyond_travel, doubt_of_least_count, doubt_of_scale, doubts_of_reference,
    doubts_of_turns,
};
pub use sign::doubt_of_sign;
pub use source::diameter_tolerance;
pub(crate) use standard::indicator_error;
pub use stop::{doubt_of_standing, stopped};
pub use taper::{Plane, back_taper, taper_assumptions};
pub use trial::Effort;
pub use unproven::unproven_lean;
pub use visible::Visible;
pub use words::why;
