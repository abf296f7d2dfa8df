//! What a crossed study showed: no figure is better known than hands and trials allow.

use super::{Figure, Input, Line};
use crate::card::Studies;

/// Adds to each figure what its uncertainty lacks to the spread that a study found over operators
/// and trials. What the study saw and what the budget holds partly are the same, so they are not
/// added: the larger one counts.
pub(super) fn no_better_than_studied(figures: &mut [Figure], studies: &Studies) {
    for figure in figures {
        let (Some(budget), Some(spread)) = (&mut figure.budget, studies.spread(figure.name)) else {
            continue;
        };
        let known = budget.combined();
        if spread > known {
            let lacks = (spread * spread - known * known).sqrt();
            budget.add(Line::departure(Input::Study, lacks).apart());
        }
    }
}
