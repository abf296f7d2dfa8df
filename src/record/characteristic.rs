//! One characteristic of the record, from a figure and its limit.

use super::finite::numbers_alone;
use super::reference::Reference;
use super::schema::*;
use crate::card::{Limit, Name};
use crate::error::Result;
use crate::judge::{self, COVERAGE_95, Figure, Known, Method, Outcome, Way};
use crate::quantity::{Angle, Length, told};
use crate::setting::{self, Measured};

/// The figure as the record has it, judged with this probability of conformity.
pub(super) fn characteristic(
    figure: &Figure,
    of: Measured,
    z: Option<Length>,
    confidence: f64,
) -> Result<Characteristic> {
    let feature = of.feature;
    let limit = feature.limits.get(figure.name);
    let known = figure.known(confidence)?;
    let known = known.as_ref();
    let read = figure.value.filter(|value| value.is_finite());
    let value = known.map(|known| known.value).or(read);
    // A tool with one flute has neither spread nor spacing: a limit on them is met by nothing.
    let applies = value.is_some() || limit.is_none() || figure.applies;
    let outcome = limit.filter(|_| applies).map(|limit| match known {
        _ if figure.unproven.is_some() => Outcome::Undecided,
        Some(known) => match judge::decide_guarded(known.value, known.guard, limit) {
            Outcome::Pass if figure.blind.is_some() => Outcome::Undecided,
            outcome => outcome,
        },
        None => Outcome::Undecided,
    });
    let flute = figure.tooth.map(flute_number);
    let remedy = match (outcome, limit) {
        (Some(Outcome::Fail), Some(limit)) => setting::remedy(figure, limit, of),
        _ => None,
    };
    Ok(numbers_alone(Characteristic {
        feature: Some(feature.name.clone()),
        flute,
        name: figure.name.as_str().to_owned(),
        value,
        unit: figure.name.unit().to_owned(),
        standard_uncertainty: known.map(|known| known.standard_uncertainty),
        interval: known.map(|known| known.interval),
        bound: figure.bound.map(|bound| match bound {
            judge::Bound::AtMost => Bound::AtMost,
            judge::Bound::AtLeast => Bound::AtLeast,
        }),
        guard_band: known.map(|known| GuardBand {
            below: known.guard.below,
            above: known.guard.above,
        }),
        limit: limit.map(bounds),
        verdict: outcome.map(Verdict::from),
        at_deg: figure.at.map(Angle::deg),
        z_mm: z.map(Length::mm),
        why: judge::why(figure, limit, outcome, known),
        remedy,
        budget: budget(figure),
        conformity: known
            .zip(limit)
            .and_then(|(known, limit)| figure.conformity(known, limit)),
        propagation: known.and_then(|known| propagation(known, figure.unsettled)),
    }))
}

/// Both answers were taken as one where their ends lie within this share of the standard uncertainty;
/// few trials may be further off by chance.
const AS_ONE: f64 = 20.0;

/// Both answers side by side, and why one of them was taken.
fn propagation(known: &Known, unsettled: bool) -> Option<Propagation> {
    let (drawn, trials) = known.distributions?;
    let apart = (0..2)
        .map(|end| (drawn.interval[end] - known.first_order.interval[end]).abs())
        .fold(0.0, f64::max);
    let share = 100.0 * apart / drawn.standard_uncertainty;
    let why = match known.method {
        Method::FirstOrder if share > AS_ONE => format!(
            "the ends of both intervals lie up to {share:.0} % of the standard uncertainty apart, and it is the wider one: how far below none the readings ask is chance"
        ),
        Method::FirstOrder => format!(
            "the ends of both intervals lie within {share:.1} % of the standard uncertainty of each other"
        ),
        Method::Distributions => format!(
            "the ends of both intervals lie up to {share:.0} % of the standard uncertainty apart"
        ),
    };
    let way = |way: Way| PropagatedWay {
        value: way.value,
        standard_uncertainty: way.standard_uncertainty,
        interval: way.interval,
    };
    Some(Propagation {
        used: known.method.as_str().to_owned(),
        why,
        trials: trials as u64,
        unsettled,
        first_order: way(known.first_order),
        distributions: way(drawn),
    })
}

/// The limit as the record has it.
pub(super) fn bounds(limit: Limit) -> Bounds {
    Bounds {
        min: limit.min,
        max: limit.max,
    }
}

fn budget(figure: &Figure) -> Vec<BudgetLine> {
    let lines = figure.budget.iter().flat_map(|budget| budget.lines());
    lines
        .map(|line| super::budget::line(line, figure.name.unit()))
        .collect()
}

/// The runout that a reference trace showed.
pub(super) fn runout(reference: &Reference) -> Characteristic {
    let estimate = reference.runout.eccentricity();
    let (value, u) = (estimate.value.mm(), estimate.standard_uncertainty.mm());
    numbers_alone(Characteristic {
        bound: None,
        feature: None,
        flute: None,
        name: Name::Runout.as_str().to_owned(),
        value: Some(value),
        unit: Name::Runout.unit().to_owned(),
        standard_uncertainty: Some(u),
        interval: Some([(value - COVERAGE_95 * u).max(0.0), value + COVERAGE_95 * u]),
        guard_band: None,
        limit: None,
        verdict: None,
        at_deg: Some(reference.runout.direction().deg()),
        z_mm: reference.z.map(Length::mm),
        why: format!(
            "eccentricity {}, total indicator reading {}; taken out of every figure",
            told::um(Length::from_mm(value), 1),
            told::um(Length::from_mm(value * 2.0), 1)
        ),
        remedy: None,
        budget: Vec::new(),
        conformity: None,
        propagation: None,
    })
}

/// Counted from 1, as people do.
pub(super) fn flute_number(index: usize) -> u32 {
    u32::try_from(index + 1).unwrap_or(u32::MAX)
}
