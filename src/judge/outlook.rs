//! What would settle a figure that its guard band leaves open, and how wide it would then be.

use super::budget::{Budget, Line};
use super::combined;
use super::cure::Cure;
use super::decide::{Guard, Outcome, decide_guarded};
use super::known::Known;
use crate::card::Limit;

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
    for cure in lines.iter().filter_map(|line| line.input.cure()) {
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
    match line.input.cure() {
        Some(cure) if cures.contains(&cure) => line.contribution() * cure.leaves(),
        _ => line.contribution(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::Figure;
    use super::super::Input;
    use super::*;
    use crate::card::Name;

    fn budget(lines: &[(Input, f64)]) -> Budget {
        let mut budget = Budget::default();
        for (input, contribution) in lines {
            budget.add(Line::departure(*input, *contribution));
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
        let budget = budget(&[(Input::Readings, 0.004), (Input::Resolution, 0.0004)]);
        let outlook = outlook(&budget, 0.024, AT_LEAST);
        let first = outlook.first.unwrap();
        assert_eq!(first.cure, Cure::MoreTurns);
        let u = f64::hypot(0.002, 0.0004);
        assert!((first.half_width - 1.959_964 * u).abs() < 1e-8, "{first:?}");
        assert!(first.settles);
        assert_eq!(outlook.second, None);
    }

    #[test]
    fn one_reference_shrinks_both_directions_of_the_runout() {
        let runout = [(Input::Runout, 0.003), (Input::RunoutAcross, 0.003)];
        let first = outlook(&budget(&runout), 0.022, AT_LEAST).first.unwrap();
        let u = f64::hypot(0.003, 0.003) * Cure::Reference.leaves();
        assert!((first.half_width - 1.959_964 * u).abs() < 1e-8, "{first:?}");
    }

    #[test]
    fn where_the_first_does_not_settle_it_the_best_other_comes_on_top() {
        let lines = [
            (Input::Readings, 0.004),
            (Input::IndicatorError, 0.001),
            (Input::ProbeOffset, 0.002),
        ];
        let outlook = outlook(&budget(&lines), 0.0226, AT_LEAST);
        assert!(!outlook.first.unwrap().settles);
        let second = outlook.second.unwrap();
        assert!(second.cure == Cure::CentredProbe);
        let u = combined([0.002, 0.001, 0.002 / 3.0]);
        assert!((second.half_width - 1.959_964 * u).abs() < 1e-8);
        assert_eq!(second.settles, 1.645 * u < 0.0026);
    }

    #[test]
    fn what_nothing_mends_is_not_promised_to_be_mended() {
        let nothing = outlook(&budget(&[(Input::Diameter, 0.002)]), 0.021, AT_LEAST);
        assert_eq!((nothing.first, nothing.second), (None, None));
        let lines = [(Input::Diameter, 0.004), (Input::Resolution, 0.001)];
        let beside = outlook(&budget(&lines), 0.021, AT_LEAST);
        assert!(!beside.first.unwrap().settles);
        assert_eq!(beside.second, None);
    }
}
