//! Which way an encoder's angle grows, stated physically, and what that is to a tool of either hand.

use super::choices::{Hand, Positive, Rotation};
use super::reader::Reader;
use super::writer::Writer;
use crate::quantity::Angle;
use jiff::civil::Date;
use std::fmt;

/// The turning direction in which an encoder's angle grows, as its card states it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// A fact of the bench, whatever tool is on it.
    Grows(Rotation),
    /// As older cards have it: relative to the hand of the tool, which the card does not know.
    Relative(Positive),
}

/// That somebody turned the spindle and watched the count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SenseProven {
    /// The turning direction in which it grew.
    pub grows: Rotation,
    /// When that was.
    pub on: Date,
}

impl Rotation {
    /// The other way round.
    #[must_use]
    pub const fn reversed(self) -> Self {
        match self {
            Rotation::Clockwise => Rotation::CounterClockwise,
            Rotation::CounterClockwise => Rotation::Clockwise,
        }
    }

    /// The turning direction in which an angle grows that changed by `by` while the spindle was
    /// turned this way; nothing where it did not change.
    pub fn in_which_grows(self, by: Angle) -> Option<Self> {
        if by == Angle::ZERO {
            None
        } else if by > Angle::ZERO {
            Some(self)
        } else {
            Some(self.reversed())
        }
    }
}

impl fmt::Display for Rotation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Hand {
    /// The turning direction in which a tool of this hand cuts.
    ///
    /// A right-hand tool cuts as it turns clockwise, seen from its driven end, which is how a person
    /// behind the spindle sees it; seen from its front the same turns counter-clockwise (common
    /// practice, no source).
    pub const fn cuts(self) -> Rotation {
        match self {
            Hand::Right => Rotation::Clockwise,
            Hand::Left => Rotation::CounterClockwise,
        }
    }
}

impl Sense {
    /// The turning direction in which the angle grows, with a tool of this hand on the bench.
    pub fn grows(self, hand: Hand) -> Rotation {
        match self {
            Sense::Grows(rotation) => rotation,
            Sense::Relative(Positive::Cutting) => hand.cuts(),
            Sense::Relative(Positive::Backing) => hand.cuts().reversed(),
        }
    }

    /// What a growing angle does to a tool of this hand.
    pub fn positive(self, hand: Hand) -> Positive {
        if self.grows(hand) == hand.cuts() {
            Positive::Cutting
        } else {
            Positive::Backing
        }
    }

    /// What an older card says relative to the tool's hand, as it stands there.
    pub fn relative(self) -> Option<&'static str> {
        match self {
            Sense::Grows(_) => None,
            Sense::Relative(positive) => Some(positive.as_str()),
        }
    }

    /// What is written under `[encoder]`.
    pub(super) fn read(table: &Reader<'_>) -> Option<Self> {
        let physical = table.choice("grows").map(Sense::Grows);
        let relative = table.choice("positive").map(Sense::Relative);
        match (table.has("grows"), table.has("positive")) {
            (true, true) => table.object(
                "positive",
                "read `positive` beside `grows`, expected one of them",
                "keep `grows`: it says the same of every tool, and `positive` depends on the tool's hand",
            ),
            (false, false) => table.demand(
                "grows",
                "read no `grows` under `[encoder]`, expected the turning direction in which its angle grows, `clockwise` or `counter-clockwise`, seen from the driven end",
                "turn the spindle clockwise, seen from the driven end, and watch the angle: if it grows, add `grows = \"clockwise\"`",
            ),
            _ => {}
        }
        physical.or(relative)
    }

    pub(super) fn write(self, out: &mut Writer) {
        match self {
            Sense::Grows(rotation) => out.text("grows", rotation.as_str()),
            Sense::Relative(positive) => out.text("positive", positive.as_str()),
        }
    }
}

impl SenseProven {
    /// What is written under `[encoder]`, which may not contradict what the card states.
    pub(super) fn read(table: &Reader<'_>, stated: Option<Sense>) -> Option<Self> {
        let inner = table.table("sense_proven")?;
        let grows = inner.choice("grows");
        let on = inner.day("on");
        let proven = Self {
            grows: grows?,
            on: on?,
        };
        if let Some(Sense::Grows(stated)) = stated
            && stated != proven.grows
        {
            inner.object(
                "grows",
                format!(
                    "read that the angle was seen to grow {} on {}, expected {stated}, as `grows` of the same card says",
                    proven.grows, proven.on
                ),
                "turn the spindle clockwise, seen from the driven end, and watch the angle: keep the one that is right, or prove it again with `heelclear ready --prove-sense`",
            );
        }
        Some(proven)
    }

    pub(super) fn write(self, out: &mut Writer) {
        out.plain("sense_proven", self);
    }
}

impl fmt::Display for SenseProven {
    /// As it stands on a card.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{{ grows = \"{}\", on = {} }}", self.grows, self.on)
    }
}

/// The text of a gauge card that says what was seen, all else as a person wrote it: an older
/// `positive` makes room for `grows`, and an older proof for the new one.
pub(super) fn with_sense_proven(text: &str, proven: SenseProven) -> String {
    let mut kept = String::new();
    let mut heading = String::new();
    let mut written = false;
    for line in text.lines() {
        let start = line.trim();
        if start.starts_with('[') {
            let name: String = start
                .trim_start_matches('[')
                .chars()
                .take_while(|c| *c != ']')
                .filter(|c| !c.is_whitespace())
                .collect();
            heading = name;
        }
        let key = start.split('=').next().unwrap_or_default().trim();
        let of_sense = matches!(key, "grows" | "positive");
        match heading.as_str() {
            "encoder.sense_proven" => continue,
            "encoder" if key == "sense_proven" => continue,
            "encoder" if of_sense && !written => {
                kept.push_str(&format!("grows = \"{}\"\n", proven.grows));
                kept.push_str(&format!("sense_proven = {proven}\n"));
                written = true;
            }
            "encoder" if of_sense => continue,
            _ => {
                kept.push_str(line);
                kept.push('\n');
            }
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(sense: Sense, hand: Hand, grows: Rotation, positive: Positive) {
        assert_eq!((sense.grows(hand), sense.positive(hand)), (grows, positive));
    }

    #[test]
    fn what_a_growing_angle_does_to_a_tool_follows_from_its_hand() {
        use Rotation::{Clockwise, CounterClockwise};
        // A right-hand tool cuts clockwise, seen from the driven end: common practice, no source.
        let clockwise = Sense::Grows(Clockwise);
        check(clockwise, Hand::Right, Clockwise, Positive::Cutting);
        check(clockwise, Hand::Left, Clockwise, Positive::Backing);
        let counter = Sense::Grows(CounterClockwise);
        check(counter, Hand::Right, CounterClockwise, Positive::Backing);
        check(counter, Hand::Left, CounterClockwise, Positive::Cutting);
        let cutting = Sense::Relative(Positive::Cutting);
        check(cutting, Hand::Right, Clockwise, Positive::Cutting);
        check(cutting, Hand::Left, CounterClockwise, Positive::Cutting);
        let backing = Sense::Relative(Positive::Backing);
        check(backing, Hand::Right, CounterClockwise, Positive::Backing);
        check(backing, Hand::Left, Clockwise, Positive::Backing);
    }
}
