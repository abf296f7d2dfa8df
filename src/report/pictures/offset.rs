//! The probe's line beside the axis, and which side counts as positive.

use super::super::sheet::Anchor;
use super::drawing::{At, Drawing, along, steps};

const SIZE: (i32, i32) = (14_000, 6_900);
const RADIUS: f64 = 1_900.0;
const LEVEL: f64 = 4_100.0;
const OFFSET: f64 = 700.0;

pub(super) fn draw(on: &mut Drawing<'_>) -> (i32, i32) {
    let sides = [
        (2_500.0, 1.0, "right-hand tool: positive", 1.0),
        (7_000.0, 1.0, "right-hand tool: negative", -1.0),
        (11_500.0, -1.0, "left-hand tool: positive", -1.0),
    ];
    for (x, hand, said, side) in sides {
        one(on, (x, LEVEL), hand, side);
        on.name((x, 6_450.0), Anchor::Middle, said);
    }
    on.small((300.0, 380.0), Anchor::Start, "seen from the cutting end");
    SIZE
}

/// A tool from its cutting end; `turns` is the way that its surface moves at the top, to the left
/// where it is 1, as a right-hand tool turns counter-clockwise there; the probe stands to that side
/// where `side` is 1.
fn one(on: &mut Drawing<'_>, centre: At, turns: f64, side: f64) {
    let (x, y) = centre;
    on.surface(
        "band",
        steps(0.0, 360.0, 90).map(|deg| along(centre, RADIUS, deg.to_radians())),
    );
    on.circle("gap", centre, RADIUS);
    on.line("axis", [(x - 140.0, y), (x + 140.0, y)]);
    on.line("axis", [(x, y - 140.0), (x, y + 140.0)]);
    on.line("round", [(x, y - RADIUS - 1_700.0), (x, y)]);
    let line = x + side * -OFFSET;
    let top = y - (RADIUS * RADIUS - OFFSET * OFFSET).sqrt();
    on.line("fitted", [(line, y), (line, top - 320.0)]);
    on.circle("gap", (line, top - 160.0), 160.0);
    on.line("axis", [(line, top - 320.0), (line, y - RADIUS - 1_700.0)]);
    on.between([(x, y + 520.0), (line, y + 520.0)]);
    on.line("grid", [(line, y), (line, y + 650.0)]);
    on.line("grid", [(x, y + 140.0), (x, y + 650.0)]);
    on.small(((x + line) / 2.0, y + 900.0), Anchor::Middle, "offset");
    // How it cuts.
    let from = -turns * -1.0f64.to_radians();
    let turn = steps(28.0, -28.0, 20)
        .map(|deg| along(centre, RADIUS + 950.0, from + turns * deg.to_radians()));
    on.arrow(turn);
    on.small(
        (x + turns * 1_350.0, y - RADIUS - 950.0),
        if turns > 0.0 {
            Anchor::Start
        } else {
            Anchor::End
        },
        "cuts",
    );
}
