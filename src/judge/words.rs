//! Why a verdict is what it is, in plain words.

use super::decide::Outcome;
use super::figures::Figure;
use super::known::Known;
use crate::card::{Limit, Name};
use crate::fit::Trust;
use crate::quantity::{rounded, with_uncertainty};

/// The doubts about a fit as one clause.
pub(super) fn doubts(trust: &Trust) -> String {
    let doubts: Vec<String> = trust.doubts.iter().map(ToString::to_string).collect();
    doubts.join("; ")
}

/// A value in the unit that people read it in: lengths below a tenth of a millimetre in µm.
fn shown(name: Name, value: f64, uncertainty: f64) -> String {
    match name.unit() {
        "mm" => format!(
            "{} µm",
            with_uncertainty(value * 1000.0, uncertainty * 1000.0)
        ),
        _ => format!("{}°", with_uncertainty(value, uncertainty)),
    }
}

fn amount(name: Name, value: f64, uncertainty: f64) -> String {
    match name.unit() {
        "mm" => format!("{} µm", rounded(value * 1000.0, uncertainty * 1000.0)),
        _ => format!("{}°", rounded(value, uncertainty)),
    }
}

/// A limit to the digits that the card has.
fn bound(name: Name, value: f64) -> String {
    match name.unit() {
        "mm" => {
            // A card's 0.045 mm is 45 µm, whatever its binary form.
            let um = (value * 1e9).round() / 1e6;
            format!("{um} µm")
        }
        _ => format!("{value}°"),
    }
}

/// Why a figure with this outcome has it. `outcome` is `None` when the card sets no limit.
pub fn why(
    figure: &Figure,
    limit: Option<Limit>,
    outcome: Option<Outcome>,
    known: Option<&Known>,
) -> String {
    if let Some(unproven) = &figure.unproven {
        return unproven.clone();
    }
    let Some(known) = known else {
        return "there is no value".to_owned();
    };
    let (value, u) = (known.value, known.standard_uncertainty);
    let name = figure.name;
    let value_text = shown(name, value, u);
    let (Some(limit), Some(outcome)) = (limit, outcome) else {
        return format!("{value_text}; the card sets no limit");
    };
    let (side, nearest) = nearest_bound(value, limit);
    // Inside a least bound or outside a greatest one, the truth may lie as far below.
    let guard = if (side == LEAST) == (value >= nearest) {
        known.guard.below
    } else {
        known.guard.above
    };
    let bound_text = format!("the {side} of {}", bound(name, nearest));
    let guard_text = amount(name, guard, u);
    match outcome {
        Outcome::Pass => format!(
            "{value_text} is inside {bound_text} by {}, more than the guard band of {guard_text}",
            amount(name, (value - nearest).abs(), u)
        ),
        Outcome::Fail => format!(
            "{value_text} is outside {bound_text} by {}, more than the guard band of {guard_text}",
            amount(name, (value - nearest).abs(), u)
        ),
        Outcome::Undecided => match &figure.blind {
            Some(blind) => format!("{value_text}, but {blind}"),
            None => format!(
                "{value_text} is within the guard band of {guard_text} at {bound_text}{}",
                heaviest(figure)
            ),
        },
    }
}

const LEAST: &str = "least allowed";

/// The bound that matters: the one the value is farthest outside of, else the one it is nearest to.
fn nearest_bound(value: f64, limit: Limit) -> (&'static str, f64) {
    match (limit.min, limit.max) {
        (Some(min), Some(max)) => {
            if value - min <= max - value {
                (LEAST, min)
            } else {
                ("most allowed", max)
            }
        }
        (Some(min), None) => (LEAST, min),
        (None, Some(max)) => ("most allowed", max),
        (None, None) => ("limit", f64::NAN),
    }
}

fn heaviest(figure: &Figure) -> String {
    let Some((line, share)) = figure.budget.as_ref().and_then(|budget| budget.heaviest()) else {
        return String::new();
    };
    format!(
        "; most of the uncertainty ({:.0} %) is {}: {}",
        share * 100.0,
        line.quantity,
        to_shrink(line.quantity)
    )
}

/// What makes a contribution smaller.
fn to_shrink(quantity: &str) -> &'static str {
    match quantity {
        "indicator error" => {
            "an indicator with a smaller limit of error over this travel would settle it"
        }
        "resolution" => "an indicator with a finer least count would settle it",
        "hysteresis" => "an indicator with less hysteresis would settle it",
        "encoder resolution" => "an encoder with more counts, or more turns, would settle it",
        "stylus radius" => "measure the ball, or use a smaller one",
        "probe offset" => "set the probe's line on the axis more closely, and state the tolerance",
        "diameter" => "measure the diameter and put it on the card",
        "scale of the travel" => {
            "check the table's scale with gauge blocks, or trace a longer face"
        }
        "probe square to the travel" => "set the probe square with a test bar, and trace again",
        "distance z" => "measure the distances more closely, or trace farther apart",
        "table travel" => {
            "prove how parallel the table runs on a straight test bar between centres"
        }
        "lean of the tool" => "reference traces at two distances along the tool would settle it",
        "lever angle" => "set the lever square to the surface",
        "delay" => "turn more slowly, or both ways so that the delay can be found",
        quantity if quantity.starts_with("runout left") || quantity.starts_with("swash") => {
            "a reference trace nearer to the feature, or a second one, would settle it"
        }
        quantity if quantity.starts_with("choice of curve") => {
            "more of the land, or `curve` on the card where the cam is known, would settle it"
        }
        _ => "more turns, turned more slowly, would settle it",
    }
}
