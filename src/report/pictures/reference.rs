//! A tool that is clamped askew, from the side: what a reference tells, and where.

use super::super::sheet::Anchor;
use super::drawing::{At, Drawing, steps};

const SIZE: (i32, i32) = (14_000, 7_200);
/// The axis of the spindle.
const LEVEL: f64 = 4_000.0;
/// Where the holder ends and where the tool does.
const HOLDER: f64 = 2_800.0;
const FRONT: f64 = 11_800.0;
/// The axis of the tool there, above that of the spindle.
const OUT_AT_HOLDER: f64 = 120.0;
const OUT_AT_FRONT: f64 = 720.0;
/// Where the traces are taken.
const REFERENCE: f64 = 5_200.0;
const SEAT: f64 = 11_200.0;

fn above(x: f64) -> f64 {
    let share = (x - HOLDER) / (FRONT - HOLDER);
    OUT_AT_HOLDER + (OUT_AT_FRONT - OUT_AT_HOLDER) * share
}

/// A place on the tool: along it, and off its own axis.
fn on_tool(x: f64, off: f64) -> At {
    (x, LEVEL - above(x) - off)
}

pub(super) fn draw(on: &mut Drawing<'_>) -> (i32, i32) {
    on.surface(
        "share",
        [
            (500.0, LEVEL - 1_500.0),
            (HOLDER, LEVEL - 1_500.0),
            (HOLDER, LEVEL + 1_500.0),
            (500.0, LEVEL + 1_500.0),
        ],
    );
    let profile = [
        (HOLDER, 750.0),
        (8_400.0, 750.0),
        (8_400.0, 1_150.0),
        (FRONT, 1_150.0),
    ];
    let upper = profile.map(|(x, off)| on_tool(x, off));
    let lower = profile.map(|(x, off)| on_tool(x, -off));
    on.surface("band", upper.into_iter().chain(lower.into_iter().rev()));
    on.line("gap", upper.into_iter().chain(lower.into_iter().rev()));
    on.line("round", [(200.0, LEVEL), (13_700.0, LEVEL)]);
    on.line(
        "fitted",
        steps(HOLDER, 13_400.0, 2).map(|x| on_tool(x, 0.0)),
    );
    for (x, off, said) in [
        (REFERENCE, 750.0, "reference, z = 40 mm"),
        (SEAT, 1_150.0, "seat, z = 2 mm"),
    ] {
        probe(on, on_tool(x, off), said);
        on.between([(x, LEVEL), on_tool(x, 0.0)]);
    }
    let (x, y) = (REFERENCE, LEVEL);
    on.leader((x - 500.0, y + 1_500.0), (x, y - 150.0));
    on.say(
        (x - 700.0, y + 1_850.0),
        Anchor::Start,
        "the reference tells this",
    );
    on.leader((SEAT - 600.0, LEVEL + 1_500.0), (SEAT, LEVEL - 300.0));
    on.say(
        (SEAT + 500.0, LEVEL + 1_850.0),
        Anchor::End,
        "the lean adds to it here",
    );
    on.small((650.0, LEVEL + 1_900.0), Anchor::Start, "holder");
    on.small(
        (13_800.0, LEVEL + 330.0),
        Anchor::End,
        "axis of the spindle",
    );
    on.small(
        (13_800.0, LEVEL - OUT_AT_FRONT - 330.0),
        Anchor::End,
        "axis of the tool",
    );
    distances(on);
    SIZE
}

/// A probe that stands on this place from above.
fn probe(on: &mut Drawing<'_>, (x, y): At, said: &str) {
    on.circle("gap", (x, y - 160.0), 160.0);
    on.line("axis", [(x, y - 320.0), (x, y - 1_300.0)]);
    on.name((x, y - 1_450.0), Anchor::Middle, said);
}

/// The distances from the tool's front.
fn distances(on: &mut Drawing<'_>) {
    let level = LEVEL + 2_550.0;
    on.line("grid", [(FRONT, LEVEL + 600.0), (FRONT, level + 200.0)]);
    on.line(
        "grid",
        [(REFERENCE, LEVEL + 2_050.0), (REFERENCE, level + 200.0)],
    );
    on.between([(REFERENCE, level), (FRONT, level)]);
    on.say(
        (8_600.0, level + 380.0),
        Anchor::Middle,
        "z counts from the tool's front",
    );
}
