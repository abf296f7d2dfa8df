//! A tooth in section, with the words for its parts.

use super::super::sheet::Anchor;
use super::drawing::{At, Drawing, along, steps};

const SIZE: (i32, i32) = (14_000, 8_400);
/// The axis lies below the picture.
const AXIS: At = (3_400.0, 18_600.0);
const RADIUS: f64 = 15_600.0;
/// Where the land ends and the next tooth begins, and the check distance, in degrees.
const HEEL: f64 = 26.0;
const NEXT: f64 = 37.0;
const CHECK: f64 = 5.5;
/// A land that a cam left: it falls, levels off, and rises again.
const FALLEN: f64 = 15.0;
const TOTAL: f64 = 1_350.0;
const AT_HEEL: f64 = 620.0;

fn drop(deg: f64) -> f64 {
    if deg <= FALLEN {
        return TOTAL * (1.0 - (1.0 - deg / FALLEN).powi(2));
    }
    let back = (deg - FALLEN) / (HEEL - FALLEN);
    TOTAL - (TOTAL - AT_HEEL) * back * back * (3.0 - 2.0 * back)
}

fn at(deg: f64, below: f64) -> At {
    along(AXIS, RADIUS - below, deg.to_radians())
}

fn outline() -> Vec<At> {
    let mut places = vec![at(-9.0, 3_700.0), at(-4.0, 3_600.0), at(0.0, 2_900.0)];
    places.extend(steps(0.0, HEEL, 60).map(|deg| at(deg, drop(deg))));
    places.push(at(HEEL + 1.5, 2_500.0));
    places.push(at(HEEL + 5.0, 3_400.0));
    places.push(at(NEXT, 2_700.0));
    places.push(at(NEXT, 0.0));
    places.push(at(NEXT + 3.0, 500.0));
    places
}

pub(super) fn draw(on: &mut Drawing<'_>) -> (i32, i32) {
    let mut body = outline();
    body.push(at(NEXT + 3.0, 5_600.0));
    body.extend(steps(NEXT + 3.0, -9.0, 40).map(|deg| at(deg, 5_600.0)));
    on.surface("band", body);
    on.line(
        "round",
        steps(-12.0, NEXT + 4.0, 60).map(|deg| at(deg, 0.0)),
    );
    on.line("gap", outline());
    on.line("land", steps(0.0, HEEL, 60).map(|deg| at(deg, drop(deg))));
    named(on);
    measured(on);
    SIZE
}

fn named(on: &mut Drawing<'_>) {
    let turn = steps(-2.0, -9.0, 12).map(|deg| at(deg, -1_250.0));
    on.arrow(turn);
    on.say((700.0, 1_150.0), Anchor::Start, "cuts this way");
    let (x, y) = at(0.0, 0.0);
    on.leader((x - 500.0, y - 650.0), (x, y));
    on.name((x - 550.0, y - 700.0), Anchor::End, "edge");
    let (x, y) = at(0.0, 1_700.0);
    on.leader((x - 900.0, y + 300.0), (x, y));
    on.name((x - 950.0, y + 380.0), Anchor::End, "face");
    let (x, y) = at(HEEL, drop(HEEL));
    on.leader((x + 480.0, y + 480.0), (x, y));
    on.name((x + 540.0, y + 620.0), Anchor::Start, "heel");
    let (x, y) = at(20.5, 2_450.0);
    on.name((x, y), Anchor::Middle, "land");
    on.leader((x, y - 260.0), at(20.5, drop(20.5)));
    on.name(at(HEEL + 5.5, 2_300.0), Anchor::Middle, "gap");
    let (x, y) = at(NEXT - 4.0, 0.0);
    on.leader((x + 250.0, y - 1_400.0), (x, y));
    on.say((13_850.0, y - 1_500.0), Anchor::End, "circle of the edge");
}

fn measured(on: &mut Drawing<'_>) {
    // The check distance along the circle, and the drop there.
    let above = -420.0;
    on.between(steps(0.1, CHECK, 12).map(|deg| at(deg, above)));
    let (x, y) = at(CHECK / 2.0, above - 260.0);
    on.name((x, y), Anchor::Start, "check distance");
    on.between([at(CHECK, 0.0), at(CHECK, drop(CHECK))]);
    let (x, y) = at(CHECK, drop(CHECK) / 2.0);
    on.name((x + 150.0, y + 60.0), Anchor::Start, "drop");
    on.between([at(FALLEN, 0.0), at(FALLEN, TOTAL)]);
    let (x, y) = at(FALLEN, TOTAL / 2.0);
    on.name((x + 170.0, y + 150.0), Anchor::Start, "total relief");
    on.between([at(HEEL - 0.3, 0.0), at(HEEL - 0.3, drop(HEEL - 0.3))]);
    let (x, y) = at(HEEL - 0.8, 0.0);
    on.leader((x - 250.0, y - 1_300.0), at(HEEL - 0.3, 250.0));
    on.name((x - 300.0, y - 1_380.0), Anchor::Middle, "heel clearance");
    // The direction of motion at the edge, and the land's own.
    let (x, y) = at(0.0, 0.0);
    let slope = (2.0 * TOTAL / FALLEN.to_radians() / RADIUS).atan();
    let long = 3_500.0;
    on.line("grid", [(x, y), (x + long, y)]);
    on.line(
        "limit",
        [(x, y), (x + long * slope.cos(), y + long * slope.sin())],
    );
    let arc = steps(0.0, slope, 16).map(|t| (x + 2_700.0 * t.cos(), y + 2_700.0 * t.sin()));
    on.between(arc);
    let within = 0.86 * slope;
    let to = (x + 2_700.0 * within.cos(), y + 2_700.0 * within.sin());
    on.name((x + 1_500.0, y + 3_300.0), Anchor::Middle, "relief angle");
    on.leader((x + 1_650.0, y + 3_020.0), to);
}
