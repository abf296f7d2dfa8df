//! Why a verdict is what it is, in plain words.

use super::decide::Outcome;
use super::figures::Figure;
use super::known::Known;
use super::outlook::outlook;
use crate::card::{Limit, Name};
use crate::fit::Trust;
use crate::quantity::{Length, expanded, rounded, told, with_uncertainty};

/// The doubts about a fit as one clause.
pub(super) fn doubts(trust: &Trust) -> String {
    let doubts: Vec<String> = trust.doubts.iter().map(ToString::to_string).collect();
    doubts.join("; ")
}

/// A value in the unit that people read it in: lengths below a tenth of a millimetre in µm.
fn shown(name: Name, value: f64, uncertainty: f64) -> String {
    match name.unit() {
        "mm" => told::with_uncertainty_um(Length::from_mm(value), Length::from_mm(uncertainty)),
        _ => format!("{}°", with_uncertainty(value, uncertainty)),
    }
}

fn amount(name: Name, value: f64, uncertainty: f64) -> String {
    match name.unit() {
        "mm" => told::rounded_um(Length::from_mm(value), Length::from_mm(uncertainty)).to_string(),
        _ => format!("{}°", rounded(value, uncertainty)),
    }
}

/// A limit to the digits that the card has.
fn bound(name: Name, value: f64) -> String {
    match name.unit() {
        "mm" => told::exact_um(Length::from_mm(value)).to_string(),
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
        return match figure.value {
            Some(value) if value.is_finite() => {
                "nothing is known of its uncertainty, so that it proves nothing".to_owned()
            }
            _ => "there is no value".to_owned(),
        };
    };
    let (value, u) = (known.value, expanded(known.value, known.interval));
    let name = figure.name;
    let value_text = shown(name, value, u);
    // What was not seen makes a value a bound, whatever is said of it.
    let besides = figure.blind.as_ref();
    let besides = besides.map_or_else(String::new, |blind| format!("; besides, {blind}"));
    let (Some(limit), Some(outcome)) = (limit, outcome) else {
        return format!("{value_text}; the card sets no limit{besides}");
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
            "{value_text} is outside {bound_text} by {}, more than the guard band of {guard_text}{besides}",
            amount(name, (value - nearest).abs(), u)
        ),
        Outcome::Undecided => match &figure.blind {
            Some(blind) => format!("{value_text}, but {blind}"),
            None => format!(
                "{value_text} is within the guard band of {guard_text} at {bound_text}{}",
                settling(figure, known, limit)
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

/// What weighs most, and what would settle it, if its value stayed as it is.
fn settling(figure: &Figure, known: &Known, limit: Limit) -> String {
    let Some(budget) = &figure.budget else {
        return String::new();
    };
    let Some((line, share)) = budget.heaviest() else {
        return String::new();
    };
    let weighs = format!(
        "; most of the uncertainty ({:.0} %) is {}",
        share * 100.0,
        line.input.name()
    );
    let outlook = outlook(budget, known, limit);
    let width = |half_width: f64| format!("± {}", amount(figure.name, half_width, half_width));
    let Some(first) = outlook.first else {
        return format!("{weighs}, which nothing at the bench makes smaller");
    };
    let weighs = match line.input.cure() {
        Some(_) => format!("{weighs}:"),
        None => format!("{weighs}, which nothing at the bench makes smaller; beside it"),
    };
    let narrowed = format!(
        "{weighs} {} would narrow the 95 % interval from {} to {}",
        first.cure.what(),
        width(outlook.half_width),
        width(first.half_width)
    );
    let Some(second) = outlook.second else {
        let not = if first.settles { "" } else { "not " };
        return format!("{narrowed}, {not}enough to settle it");
    };
    let enough = if second.settles {
        "enough"
    } else {
        "even then not enough: the value lies too near the limit"
    };
    format!(
        "{narrowed}, not enough to settle it; with {} as well it would be {}, {enough}",
        second.cure.what().trim_end_matches(','),
        width(second.half_width)
    )
}
