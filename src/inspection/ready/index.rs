//! Whether the encoder's index comes once in as many counts as the card says.

use super::{Check, What};
use crate::inspection::capture::Turned;

/// Counts by which an index edge may come early or late: one period of the encoder's lines, and
/// one count that may be under way (bridge protocol 1).
const INDEX_WIDTH: i64 = 4 + 1;
/// So far a tool has to be turned to pass a mark wherever it starts.
const A_TURN: f64 = 1.05;

/// Holds what was passed to the card.
pub(super) fn check(turned: &Turned, counts_per_turn: Option<u32>) -> Check {
    let what = What::Index;
    let turns = turned.arc.turns();
    let Some(between) = turned.between_marks() else {
        return match turned.marks.is_empty() {
            true if turns >= A_TURN => Check::mend(
                what,
                format!("no index mark in {turns:.1} turns"),
                "check the index wire, and `counts_per_rev` on the gauge card; without an index, \
                 counts that are lost are not noticed",
            ),
            _ => Check {
                state: super::State::Unsettled,
                ..Check::mend(
                    what,
                    format!("{turns:.1} turns, {} marks passed", turned.marks.len()),
                    "start again and turn the same way until the mark has passed twice: two turns \
                     at most",
                )
            },
        };
    };
    let Some(stated) = counts_per_turn.map(i64::from) else {
        let found =
            format!("{between} counts from mark to mark; no card says how many there should be");
        return Check::fine(what, found).with("counts_between_marks", between as f64);
    };
    let found = format!("{between} counts from mark to mark, card {stated}");
    let check = if (between - stated).abs() <= INDEX_WIDTH {
        Check::fine(what, found)
    } else {
        Check::mend(what, found, advice(between, stated))
    };
    check.with("counts_between_marks", between as f64)
}

/// A whole ratio is a mistake on the card; anything else is counts that go missing.
fn advice(between: i64, stated: i64) -> String {
    for factor in [2, 4] {
        if (between * factor - stated).abs() <= INDEX_WIDTH * factor
            || (stated * factor - between).abs() <= INDEX_WIDTH
        {
            return format!(
                "write `counts_per_rev = {between}` on the gauge card: four counts for each line \
                 of the encoder"
            );
        }
    }
    "turn slower and look again; if it stays so, check the encoder's cable and coupling: counts \
     go missing"
        .to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::State;
    use super::*;
    use crate::quantity::Angle;
    use crate::sample::IndexMark;

    #[track_caller]
    fn judged(counts: &[i64], turns: f64, stated: u32, state: State, word: &str) {
        let marks = counts.iter();
        let turned = Turned {
            arc: Angle::from_turns(turns),
            marks: marks
                .map(|&count| IndexMark {
                    count,
                    backwards: false,
                })
                .collect(),
        };
        let check = check(&turned, Some(stated));
        let words = format!("{} {}", check.found, check.advice.unwrap_or_default());
        assert_eq!(check.state, state, "{words}");
        assert!(words.contains(word), "{words}");
    }

    #[test]
    fn marks_as_far_apart_as_the_card_says_are_fine() {
        judged(&[7, 4007], 1.3, 4000, State::Fine, "4000 counts");
        judged(&[7, 4010], 1.3, 4000, State::Fine, "4003 counts");
        judged(&[4007, 7], 1.3, 4000, State::Fine, "4000 counts");
    }

    #[test]
    fn a_card_with_lines_in_place_of_counts_is_told_what_to_write() {
        judged(
            &[7, 4007],
            1.3,
            1000,
            State::Mend,
            "`counts_per_rev = 4000`",
        );
        judged(
            &[7, 1007],
            1.3,
            4000,
            State::Mend,
            "`counts_per_rev = 1000`",
        );
    }

    #[test]
    fn counts_that_go_missing_are_no_matter_of_the_card() {
        judged(&[7, 3980], 1.3, 4000, State::Mend, "go missing");
    }

    #[test]
    fn no_mark_in_a_turn_is_a_fault_and_less_than_a_turn_is_none_yet() {
        judged(&[], 1.3, 4000, State::Mend, "no index mark");
        judged(&[], 0.4, 4000, State::Unsettled, "start again");
        judged(&[7], 1.0, 4000, State::Unsettled, "start again");
    }
}
