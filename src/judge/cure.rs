//! What would settle a figure that its guard band leaves open, and how wide it would then be.

use super::budget::{Budget, Line};
use super::decide::{Guard, Outcome, decide_guarded};
use super::{Known, combined};
use crate::card::Limit;

/// Something to do at the bench that makes contributions smaller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cure {
    /// What to do, so that "would narrow" can follow it.
    pub what: &'static str,
    /// The part of each contribution that it leaves.
    leaves: f64,
}

/// What one cure, or two of them, would make of a figure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Prospect {
    pub cure: Cure,
    /// Half the width of the 95 % interval then, in the figure's unit.
    pub half_width: f64,
    /// Whether the figure would be settled if its value stayed as it is.
    pub settles: bool,
}

/// What is known of settling a figure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Outlook {
    /// Half the width of the 95 % interval as it is.
    pub half_width: f64,
    /// The cure of the heaviest contribution that has one.
    pub first: Option<Prospect>,
    /// The best other one on top of it, where the first alone does not settle it.
    pub second: Option<Prospect>,
}

const MORE_TURNS: Cure = Cure {
    what: "four times the turns, turned no faster,",
    // What chance leaves goes down with the root of the number of turns.
    leaves: 0.5,
};
const SLOWER: Cure = Cure {
    what: "turning at half the speed",
    leaves: 0.5,
};
/// A centre found on a round repeats to some part of a micrometre; what the rest of the tool's
/// length adds goes down with the distance (common practice, no source).
const REFERENCE: Cure = Cure {
    what: "a reference trace next to the feature, or one on either side of it,",
    leaves: 0.3,
};

/// What makes a contribution smaller; `None` where nothing at the bench does.
pub(super) fn cure(quantity: &str) -> Option<Cure> {
    let cure = |what, leaves| Some(Cure { what, leaves });
    match quantity {
        "scatter of the readings"
        | "scatter of the readings and fit"
        | "scatter of the land's ends"
        | "scatter of the two edges"
        | "choice of the extreme edges" => Some(MORE_TURNS),
        "delay" | "land before the first readings" | "margin too narrow to be told" => Some(SLOWER),
        "indicator error" => cure(
            "an indicator with half the limit of error over this travel",
            0.5,
        ),
        "resolution" => cure("an indicator with a tenth of the least count", 0.1),
        "hysteresis" => cure("an indicator with half the hysteresis", 0.5),
        "encoder resolution" => cure("an encoder with four times the counts", 0.25),
        "scale of the indicator" => cure("`study step --keep` over a step twice as high", 0.5),
        "stylus radius" => cure("a ball of half the radius", 0.5),
        "probe offset" => cure(
            "the probe's line set on the axis, and proven, to a third of its tolerance",
            1.0 / 3.0,
        ),
        "drift of the indicator" => cure(
            "a gauge left to warm up until `study rest --keep` finds half the drift, or a trace of half the time,",
            0.5,
        ),
        "lever angle" => cure("the lever set square to the surface", 0.0),
        "choice of curve" => cure("the family of the land set on the card with `curve`", 0.0),
        "scale of the travel" => cure("a face traced over twice the length", 0.5),
        "angle of the face" => cure(
            "the angle of the face stated on the tool card (`face_deg`)",
            0.1,
        ),
        "distance z" => cure("traces taken twice as far apart", 0.5),
        quantity if quantity.starts_with("lean ") => {
            cure("reference traces at two distances along the tool", 0.3)
        }
        quantity if quantity.starts_with("runout left") || quantity.starts_with("swash") => {
            Some(REFERENCE)
        }
        _ => None,
    }
}

/// Looks for what would settle a figure. What shrinks its budget is taken to shrink interval and
/// guard bands alike, whichever way they were had.
pub(super) fn outlook(budget: &Budget, known: &Known, limit: Limit) -> Outlook {
    let lines = budget.lines();
    let half_width = (known.interval[1] - known.interval[0]) / 2.0;
    let prospect = |cures: &[Cure]| {
        let cure = *cures.last()?;
        let u = combined(lines.iter().map(|line| left(line, cures)));
        let share = u / budget.combined();
        let guard = Guard {
            below: known.guard.below * share,
            above: known.guard.above * share,
        };
        Some(Prospect {
            cure,
            half_width: half_width * share,
            settles: decide_guarded(known.value, guard, limit) != Outcome::Undecided,
        })
    };
    let mut cures: Vec<Cure> = Vec::new();
    for cure in lines.iter().filter_map(|line| cure(line.quantity)) {
        if !cures.contains(&cure) {
            cures.push(cure);
        }
    }
    let first = cures.first().and_then(|cure| prospect(&[*cure]));
    let second = first
        .as_ref()
        .filter(|first| !first.settles)
        .and_then(|first| {
            let others = cures.iter().skip(1);
            let both = others.filter_map(|cure| prospect(&[first.cure, *cure]));
            both.min_by(|a, b| a.half_width.total_cmp(&b.half_width))
        });
    Outlook {
        half_width,
        first,
        second,
    }
}

/// What cures leave of a line's contribution.
fn left(line: &Line, cures: &[Cure]) -> f64 {
    match cure(line.quantity) {
        Some(cure) if cures.contains(&cure) => line.contribution * cure.leaves,
        _ => line.contribution,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::Figure;
    use super::super::budget::Spread;
    use super::*;
    use crate::card::Name;

    fn budget(lines: &[(&'static str, f64)]) -> Budget {
        let mut budget = Budget::default();
        for (quantity, contribution) in lines {
            budget.add(Line {
                quantity,
                value: String::new(),
                distribution: String::new(),
                sensitivity: String::new(),
                contribution: *contribution,
                spread: Spread::Normal,
                apart: false,
            });
        }
        budget
    }

    const AT_LEAST: Limit = Limit {
        min: Some(0.020),
        max: None,
    };

    fn outlook(budget: &Budget, value: f64, limit: Limit) -> Outlook {
        let figure = Figure::of(Name::HeelClearance, Some(0), value, budget.clone());
        let known = figure.known(0.95).unwrap().unwrap();
        super::outlook(budget, &known, limit)
    }

    #[test]
    fn more_turns_halve_chance_and_nothing_else() {
        let budget = budget(&[("scatter of the readings", 0.004), ("resolution", 0.0004)]);
        let outlook = outlook(&budget, 0.024, AT_LEAST);
        let first = outlook.first.unwrap();
        assert_eq!(first.cure, MORE_TURNS);
        let u = f64::hypot(0.002, 0.0004);
        assert!((first.half_width - 1.959_964 * u).abs() < 1e-8, "{first:?}");
        assert!(first.settles);
        assert_eq!(outlook.second, None);
    }

    #[test]
    fn one_reference_shrinks_both_directions_of_the_runout() {
        let runout = [
            ("runout left, least known way", 0.003),
            ("runout left, across it", 0.003),
        ];
        let first = outlook(&budget(&runout), 0.022, AT_LEAST).first.unwrap();
        let u = f64::hypot(0.003, 0.003) * REFERENCE.leaves;
        assert!((first.half_width - 1.959_964 * u).abs() < 1e-8, "{first:?}");
    }

    #[test]
    fn where_the_first_does_not_settle_it_the_best_other_comes_on_top() {
        let lines = [
            ("scatter of the readings", 0.004),
            ("indicator error", 0.001),
            ("probe offset", 0.002),
        ];
        let outlook = outlook(&budget(&lines), 0.0226, AT_LEAST);
        assert!(!outlook.first.unwrap().settles);
        let second = outlook.second.unwrap();
        assert!(second.cure.what.starts_with("the probe's line"));
        let u = combined([0.002, 0.001, 0.002 / 3.0]);
        assert!((second.half_width - 1.959_964 * u).abs() < 1e-8);
        assert_eq!(second.settles, 1.645 * u < 0.0026);
    }

    #[test]
    fn what_nothing_mends_is_not_promised_to_be_mended() {
        let nothing = outlook(&budget(&[("diameter", 0.002)]), 0.021, AT_LEAST);
        assert_eq!((nothing.first, nothing.second), (None, None));
        let lines = [("diameter", 0.004), ("resolution", 0.001)];
        let beside = outlook(&budget(&lines), 0.021, AT_LEAST);
        assert!(!beside.first.unwrap().settles);
        assert_eq!(beside.second, None);
    }
}
