//! What the hand on a fixture's throw is to do, in words: the same on every face.

use super::dial::Dialled;
use crate::inspection::grind::{Standing, ToDo};
use crate::quantity::{Angle, Length, Units};

const MORE_LAND: &str = "turn over more of the land";

impl Dialled {
    /// What is to be done at the fixture now; nothing where none is set. A face says `loud` how it
    /// writes what has to be seen from across the bench.
    pub fn advice(&self, units: Units, loud: fn(&str) -> String) -> Option<String> {
        Some(match self {
            Dialled::None => return None,
            Dialled::WorkingOut(_) => {
                format!(
                    "{}: it is worked out how the fixture is to stand.",
                    loud("one moment")
                )
            }
            Dialled::Without(_) => format!("{}, for the reason below.", loud("there is no dial")),
            Dialled::Shown(dial) => match &dial.standing {
                None => format!(
                    "{} over a land, and watch the dial.",
                    loud("turn back and forth")
                ),
                Some(standing) => standing.advice(units, loud),
            },
        })
    }
}

impl Standing {
    fn advice(&self, units: Units, loud: fn(&str) -> String) -> String {
        if self.strange {
            let seen = loud("these are not the lands");
            return format!("{seen} that were traced with the fixture locked.");
        }
        let mut said = Vec::new();
        match self.throw_to_do {
            ToDo::Leave => {}
            ToDo::By(by) => {
                let way = if by > Length::ZERO { "open" } else { "close" };
                let way = loud(&format!("{way} the throw"));
                said.push(format!("{way} {}", settable(by.abs(), units)));
            }
            ToDo::MoreLand => said.push(loud(MORE_LAND)),
        }
        match self.cam_to_do {
            ToDo::By(by) => {
                let way = if by > Angle::ZERO {
                    "advance"
                } else {
                    "hold back"
                };
                let way = loud(&format!("{way} the cam"));
                said.push(format!("{way} {:.1}°", by.deg().abs()));
            }
            ToDo::MoreLand if said.is_empty() => said.push(loud(MORE_LAND)),
            ToDo::MoreLand | ToDo::Leave => {}
        }
        if !said.is_empty() {
            return format!("{}.", said.join("; "));
        }
        if !self.steady {
            return format!(
                "{}: {} is left. Look for chips, a loose lock, runout.",
                loud("it does not stand still"),
                settable(self.misfit, units)
            );
        }
        format!(
            "{}. Lock throw and cam, turn once more round, and end the trace.",
            loud("stop: it stands right")
        )
    }

    /// Whether one of the settings cannot be told yet.
    pub fn wants_more_land(&self) -> bool {
        self.throw_to_do == ToDo::MoreLand || self.cam_to_do == ToDo::MoreLand
    }
}

/// A length as a hand can set it, and with no more digits.
pub fn settable(length: Length, units: Units) -> String {
    units.plain(Length::from_mm((length.mm() * 1000.0).round() / 1000.0))
}
