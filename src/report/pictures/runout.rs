//! A relieved land and a plain cylinder off centre: the same reading over the land, and another one on
//! a reference.

use super::super::sheet::Anchor;
use super::drawing::{Drawing, steps};

const SIZE: (i32, i32) = (14_000, 9_000);
const LEFT: f64 = 1_700.0;
const RIGHT: f64 = 13_500.0;
/// Twice the eccentricity, and what the land falls by, in micrometres.
const SWING_UM: f64 = 60.0;
/// Where the land of the single tooth ends.
const HEEL_DEG: f64 = 170.0;

/// What a round of this eccentricity reads, less its highest reading.
fn off_centre_um(deg: f64) -> f64 {
    SWING_UM / 2.0 * (deg.to_radians().cos() - 1.0)
}

/// A cam relief of the same fall, and a gap behind it.
fn relieved_um(deg: f64) -> Option<f64> {
    // A cycloid falls as slowly at first and a little faster later.
    let share = deg / 180.0;
    let turn = std::f64::consts::TAU * share;
    (deg <= HEEL_DEG).then(|| -SWING_UM * (share - turn.sin() / std::f64::consts::TAU))
}

pub(super) fn draw(on: &mut Drawing<'_>) -> (i32, i32) {
    on.name(
        (LEFT, 600.0),
        Anchor::Start,
        "on the seat: the two look alike",
    );
    let seat = Plot {
        top: 900.0,
        foot: 4_300.0,
    };
    seat.axes(on);
    on.line(
        "before",
        steps(0.0, 360.0, 120).map(|deg| seat.at(deg, off_centre_um(deg))),
    );
    let land = steps(0.0, HEEL_DEG, 80).filter_map(|deg| Some(seat.at(deg, relieved_um(deg)?)));
    on.line("fitted", land);
    let (x, y) = seat.at(232.0, off_centre_um(232.0));
    let (_, above) = seat.at(0.0, -15.0);
    on.leader((x - 500.0, above + 120.0), (x, y));
    on.say(
        (x - 500.0, above),
        Anchor::Middle,
        "cylinder without relief, off centre",
    );
    let (x, y) = seat.at(62.0, relieved_um(62.0).unwrap_or(0.0));
    let (_, below) = seat.at(0.0, -55.0);
    on.leader((x - 600.0, below - 300.0), (x, y));
    on.say(
        (LEFT + 200.0, below),
        Anchor::Start,
        "land with relief, running true",
    );
    let (x, y) = seat.at(HEEL_DEG, relieved_um(HEEL_DEG).unwrap_or(0.0));
    on.line("gap", [(x, y), (x + 60.0, seat.foot)]);
    on.name(
        (LEFT, 5_200.0),
        Anchor::Start,
        "on a reference of the same clamping: they do not",
    );
    let reference = Plot {
        top: 5_500.0,
        foot: 8_300.0,
    };
    reference.axes(on);
    on.line(
        "before",
        steps(0.0, 360.0, 120).map(|deg| reference.at(deg, off_centre_um(deg))),
    );
    on.line("fitted", [reference.at(0.0, 0.0), reference.at(360.0, 0.0)]);
    let (x, y) = reference.at(180.0, -30.0);
    on.say((x, y), Anchor::Middle, "off centre");
    let (x, y) = reference.at(180.0, 0.0);
    on.say((x, y + 380.0), Anchor::Middle, "running true");
    on.small((RIGHT, 8_850.0), Anchor::End, "angle of the spindle");
    SIZE
}

/// One of the two: readings in micrometres over a turn.
struct Plot {
    top: f64,
    foot: f64,
}

impl Plot {
    fn at(&self, deg: f64, um: f64) -> (f64, f64) {
        let x = LEFT + (RIGHT - LEFT) * deg / 360.0;
        (
            x,
            self.top + (self.foot - self.top) * (8.0 - um) / (SWING_UM + 16.0),
        )
    }

    fn axes(&self, on: &mut Drawing<'_>) {
        for um in [0.0, -20.0, -40.0, -60.0] {
            let (_, y) = self.at(0.0, um);
            on.line("grid", [(LEFT, y), (RIGHT, y)]);
            on.small(
                (LEFT - 130.0, y + 80.0),
                Anchor::End,
                &format!("{um} µm").replace('-', "−"),
            );
        }
        on.line(
            "axis",
            [(LEFT, self.top), (LEFT, self.foot), (RIGHT, self.foot)],
        );
        for deg in [0.0, 90.0, 180.0, 270.0, 360.0] {
            let (x, _) = self.at(deg, 0.0);
            on.small((x, self.foot + 300.0), Anchor::Middle, &format!("{deg}°"));
        }
    }
}
