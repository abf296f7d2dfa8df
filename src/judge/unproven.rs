//! The doubt that a lean which nothing tells leaves about figures.

use super::bench::{Axis, Bench};
use super::budget::Budget;
use super::decide::USUAL_GUARD;
use super::doubt::{Doubt, DoubtKind, Leaves};
use super::figures::Figure;
use super::lean::{NOT_KNOWN, OF_BOUND, UNPROVEN_BOUND, bound_shown};
use crate::card::Name;
use crate::quantity::{Length, told};

/// What an unproven lean may do to a figure, as a part of its guard band, before it counts: with the
/// line that it has in the budget, a pass at the limit is then wrong no more often than it says
/// (chosen, no source).
const NEGLIGIBLE: f64 = 0.2;

/// What a budget says of an unproven lean: the most that it would do to the figure, and the standard
/// uncertainty without it. Nothing where no line is of one.
fn of_unproven(budget: &Budget) -> Option<(f64, f64)> {
    let (mut lean, mut other) = (0.0, 0.0);
    for line in budget.lines() {
        let square = line.contribution().powi(2);
        if NOT_KNOWN.contains(&line.input) {
            lean += square;
        } else {
            other += square;
        }
    }
    (lean > 0.0).then(|| (lean.sqrt() / OF_BOUND, other.sqrt()))
}

/// The doubt that an unproven lean leaves about figures: those that it could move by what is not
/// negligible beside their guard bands. Nothing where it touches none.
pub fn unproven_lean(figures: &[Figure], bench: &Bench) -> Option<Doubt> {
    lean_doubt(figures, bench, false)
}

/// The same, about every figure where the part is `lost` under such a lean: nothing that it does to a
/// figure is then known to be negligible.
pub(super) fn lean_doubt(figures: &[Figure], bench: &Bench, lost: bool) -> Option<Doubt> {
    let mut touched: Vec<(Name, f64)> = Vec::new();
    for figure in figures {
        let Some((most, other)) = figure.budget.as_ref().and_then(of_unproven) else {
            continue;
        };
        if most <= NEGLIGIBLE * USUAL_GUARD * other {
            continue;
        }
        match touched.iter_mut().find(|(name, _)| *name == figure.name) {
            Some((_, known)) => *known = known.max(most),
            None => touched.push((figure.name, most)),
        }
    }
    if touched.is_empty() && !lost {
        return None;
    }
    let mut moved: Vec<String> = touched
        .iter()
        .map(|(name, most)| format!("{} by {}", name.as_str(), shown(*name, *most)))
        .collect();
    if lost {
        touched.clear();
        moved = vec!["the tool so far that its lands are not found where they were".to_owned()];
    }
    Some(Doubt {
        touches: touched.iter().map(|(name, _)| *name).collect(),
        leaves: Leaves::NoPass,
        ..Doubt::about(
            DoubtKind::LeanUnknown,
            format!(
                "how far the tool leans is not known: {}; a lean of {}, which a chip under a collet can bring, would move {}",
                why(bench),
                lean_shown(bench),
                moved.join(", ")
            ),
            "take a second reference at another `z_mm`, or prove the holder once with a test bar (`heelclear study lean --keep`), which keeps `lean_mm` on the gauge card",
        )
    })
}

/// Why nothing tells the lean.
fn why(bench: &Bench) -> String {
    let card = match bench.gauge.setup.lean {
        Some(_) => "",
        None => " and the gauge card states no `lean_mm`",
    };
    match &bench.axis {
        Axis::Measured {
            apart: Some(apart), ..
        } => format!(
            "the one reference lies {} from here{card}",
            told::mm(apart.abs(), 1)
        ),
        Axis::Measured { apart: None, .. } => {
            format!("no `z_mm` says how far from here the one reference lies{card}")
        }
        Axis::Stated(_) | Axis::Unknown => {
            format!("there are no two references{card}")
        }
    }
}

fn lean_shown(bench: &Bench) -> String {
    bound_shown(bench.gauge.setup.lean.unwrap_or(UNPROVEN_BOUND))
}

fn shown(name: Name, value: f64) -> String {
    match name.unit() {
        "mm" => told::um(Length::from_mm(value), 1).to_string(),
        _ => format!("{value:.2}°"),
    }
}
