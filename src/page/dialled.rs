//! The dial for the hand on a fixture's throw, as JSON for a page.

use super::problem::for_page;
use crate::inspection::grind::{Standing, ToDo, WantedBy};
use crate::inspection::live::{Dial, Dialled};
use crate::quantity::{Angle, Length};
use serde_json::{Value, json};

/// How the dial stands; null where no fixture is set.
pub(super) fn dial(dialled: &Dialled) -> Value {
    match dialled {
        Dialled::None => Value::Null,
        Dialled::WorkingOut(_) => json!({ "state": "working-out" }),
        Dialled::Without(error) => json!({ "state": "without", "problem": for_page(error) }),
        Dialled::Shown(dial) => shown(dial),
    }
}

fn shown(dial: &Dial) -> Value {
    let aim = &dial.aim;
    json!({
        "state": "shown",
        "feature": aim.feature,
        "fixture": aim.fixture,
        "cam": aim.cam,
        "wanted": match aim.wanted {
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
    let by = |to_do: ToDo<Length>| match to_do {
        ToDo::By(by) => Some(by.mm()),
        ToDo::Leave | ToDo::MoreLand => None,
    };
    let turned_by = |to_do: ToDo<Angle>| match to_do {
        ToDo::By(by) => Some(by.deg()),
        ToDo::Leave | ToDo::MoreLand => None,
    };
    json!({
        "throw_mm": standing.throw.value.mm(),
        "throw_u_mm": standing.throw.standard_uncertainty.mm(),
        "throw_by_mm": by(standing.throw_to_do),
        "cam_deg": standing.cam_angle.map(|cam| cam.value.in_turn().deg()),
        "cam_u_deg": standing.cam_angle.map(|cam| cam.standard_uncertainty.deg()),
        "cam_by_deg": turned_by(standing.cam_to_do),
        "more_land": standing.throw_to_do == ToDo::MoreLand || standing.cam_to_do == ToDo::MoreLand,
        "left_mm": standing.misfit.mm(),
        "steady": standing.steady,
        "strange": standing.strange,
        "right": standing.is_right(),
    })
}
