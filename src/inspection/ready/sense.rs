//! Which way the encoder's angle grows, as it was seen while the spindle turned clockwise.

use super::{Check, State, What};
use crate::card::{Encoder, Hand};
use crate::inspection::seen_to_grow;
use crate::quantity::Angle;

/// Holds what was seen to the card; or says whether it was ever seen, where nobody was asked to turn.
pub(super) fn check(clockwise: Option<Angle>, encoder: Option<&Encoder>) -> Check {
    let what = What::Sense;
    match (clockwise, encoder) {
        (None, None) => Check::left(what, "`--gauge` names the card that states it"),
        (None, Some(encoder)) => as_kept(encoder),
        (Some(by), _) if seen_to_grow(by).is_none() => Check {
            state: State::Unsettled,
            ..Check::mend(
                what,
                format!("the angle went {:.0}°: too little to tell", by.deg()),
                "start again, and turn the spindle clockwise by a quarter of a turn when it asks",
            )
        },
        (Some(by), encoder) => as_seen(by, encoder).with("grew_deg", by.deg()),
    }
}

/// Where nobody was asked to turn: whether it was ever proven.
fn as_kept(encoder: &Encoder) -> Check {
    match encoder.sense_proven {
        Some(proven) => Check::fine(
            What::Sense,
            format!("grows {}, seen on {}", proven.grows, proven.on),
        ),
        None => Check {
            state: State::Unsettled,
            ..Check::mend(
                What::Sense,
                "never proven: turned round, edge and heel change places, so that what fits both \
                 senses alike is undecided",
                "prove it once with `--prove-sense`, which keeps it on the gauge card",
            )
        },
    }
}

fn as_seen(by: Angle, encoder: Option<&Encoder>) -> Check {
    let what = What::Sense;
    let grew = if by > Angle::ZERO { "grew" } else { "fell" };
    let found = format!(
        "the angle {grew} by {:.0}° while the spindle turned clockwise",
        by.abs().deg()
    );
    let Some(seen) = seen_to_grow(by) else {
        return Check::left(what, found);
    };
    let Some(encoder) = encoder else {
        return Check::fine(what, format!("{found}: `grows = \"{seen}\"`"));
    };
    // Of an older card it is what it says of right-hand tools, for which most are written.
    let stated = encoder.sense.grows(Hand::Right);
    if stated == seen {
        return Check {
            seen: Some(seen),
            ..Check::fine(what, format!("{found}, as the card says: it grows {seen}"))
        };
    }
    let stated = match encoder.sense.relative() {
        Some(relative) => {
            format!("`positive = \"{relative}\"`, which for a right-hand tool is `{stated}`")
        }
        None => format!("`grows = \"{stated}\"`"),
    };
    Check::mend(
        what,
        format!("{found}: it grows {seen}, and the card says {stated}"),
        format!(
            "do it once more, clockwise as seen from the driven end; if it stays so, write `grows = \
             \"{seen}\"` on the card, take its `sense_proven` out, and judge again what was judged \
             with it: edge and heel were turned round"
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::{Positive, Rotation, Sense, SenseProven};

    #[track_caller]
    fn judged(
        sense: Option<Sense>,
        deg: Option<f64>,
        state: State,
        word: &str,
    ) -> Option<Rotation> {
        let encoder = sense.map(|sense| Encoder {
            counts_per_turn: 4000,
            sense,
            sense_proven: None,
        });
        let check = check(deg.map(Angle::from_deg), encoder.as_ref());
        let words = format!("{} {}", check.found, check.advice.unwrap_or_default());
        assert_eq!(check.state, state, "{words}");
        assert!(words.contains(word), "{words}");
        check.seen
    }

    const UP: Option<Sense> = Some(Sense::Grows(Rotation::Clockwise));
    const DOWN: Option<Sense> = Some(Sense::Grows(Rotation::CounterClockwise));
    const OLD: Option<Sense> = Some(Sense::Relative(Positive::Cutting));

    #[test]
    fn what_was_seen_as_the_card_says_is_to_be_kept() {
        let kept = judged(UP, Some(50.0), State::Fine, "grew by 50°");
        assert_eq!(kept, Some(Rotation::Clockwise));
        let kept = judged(DOWN, Some(-50.0), State::Fine, "fell by 50°");
        assert_eq!(kept, Some(Rotation::CounterClockwise));
        let kept = judged(OLD, Some(50.0), State::Fine, "it grows clockwise");
        assert_eq!(kept, Some(Rotation::Clockwise));
    }

    #[test]
    fn a_contradiction_is_told_and_nothing_is_kept() {
        let word = "write `grows = \"counter-clockwise\"`";
        assert_eq!(judged(UP, Some(-50.0), State::Mend, word), None);
        assert_eq!(judged(OLD, Some(-50.0), State::Mend, word), None);
        assert_eq!(
            judged(UP, Some(10.0), State::Unsettled, "start again"),
            None
        );
    }

    #[test]
    fn a_sense_that_was_never_proven_is_not_settled() {
        judged(UP, None, State::Unsettled, "`--prove-sense`");
        judged(None, None, State::Left, "`--gauge`");
        judged(None, Some(50.0), State::Fine, "`grows = \"clockwise\"`");
        let proven = Encoder {
            counts_per_turn: 4000,
            sense: Sense::Grows(Rotation::Clockwise),
            sense_proven: Some(SenseProven {
                grows: Rotation::Clockwise,
                on: jiff::civil::date(2026, 3, 1),
            }),
        };
        assert_eq!(check(None, Some(&proven)).state, State::Fine);
    }
}
