//! The arithmetic of uncertainty against the worked examples of the GUM and its supplements.
#![allow(clippy::unwrap_used)]

mod conformity;
mod gum;
mod propagation;

/// Holds a figure to a published one, to the digits printed: within half a unit of the last.
#[track_caller]
fn printed(found: f64, published: f64, half_a_unit: f64) {
    assert!(
        (found - published).abs() <= half_a_unit * (1.0 + 1e-9),
        "found {found}, published {published} ± {half_a_unit}"
    );
}
