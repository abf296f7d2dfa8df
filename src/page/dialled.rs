//! The dial for the hand on a fixture's throw, as JSON for a page.

use super::problem::for_page;
use crate::inspection::grind::{Standing, WantedBy};
use crate::inspection::live::{Dial, Dialled};
use crate::quantity::{Length, Units};
use serde_json::{Value, json};

/// How the dial stands; null where no fixture is set.
pub(super) fn dial(dialled: &Dialled) -> Value {
    let mut dial = match dialled {
        Dialled::None => return Value::Null,
        Dialled::WorkingOut(_) => json!({ "state": "working-out" }),
        Dialled::Without(error) => json!({ "state": "without", "problem": for_page(error) }),
        Dialled::Shown(dial) => shown(dial),
    };
    let said = |units| dialled.advice(units, str::to_owned);
    dial["say"] = json!({ "mm": said(Units::Metric), "in": said(Units::Inch) });
    dial
}

fn shown(dial: &Dial) -> Value {
    let aim = &dial.aim;
    json!({
        "state": "shown",
        "feature": aim.feature,
        "fixture": aim.fixture,
        "cam": aim.cam,
        "wanted": match dial.wanted {
            WantedBy::Sheet => "sheet",
            WantedBy::Card => "card",
            WantedBy::Old => "old",
        },
        "throw_mm": aim.throw.mm(),
        "cam_deg": aim.cam_angle.in_turn().deg(),
        "mismatch_mm": aim.mismatch.mm(),
        "value_mm": dial.value.map(Length::mm),
        "moves_mm": dial.moves.map(Length::mm),
        "enough_mm": aim.still_enough().mm(),
        "standing": dial.standing.as_ref().map(standing),
    })
}

fn standing(standing: &Standing) -> Value {
    json!({
        "throw_mm": standing.throw.value.mm(),
        "throw_u_mm": standing.throw.standard_uncertainty.mm(),
        "cam_deg": standing.cam_angle.map(|cam| cam.value.in_turn().deg()),
        "cam_u_deg": standing.cam_angle.map(|cam| cam.standard_uncertainty.deg()),
        "more_land": standing.wants_more_land(),
    })
}
