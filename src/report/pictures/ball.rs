//! A ball that rides over the corner of an edge, and what it reads.

use super::super::sheet::Anchor;
use super::drawing::{At, Drawing, along, steps};

const SIZE: (i32, i32) = (14_000, 7_600);
/// The example of the page `ball`: radius of the tool, of the ball, relief of a flat land.
const TOOL_MM: f64 = 3.0;
const BALL_MM: f64 = 1.5;
const RELIEF_DEG: f64 = 12.0;
/// Hundredths of a millimetre on the sheet for a millimetre.
const SCALE: f64 = 1_250.0;
const AXIS: At = (1_900.0, 8_300.0);

/// How far the reading has come down from that on the edge when the ball's centre is `t` behind it:
/// on the corner, `(R + p) - (R cos t + sqrt(p^2 - R^2 sin^2 t))`, until `R sin t = p sin(a - t)`;
/// from there on the land, `(R + p) - (R cos a + p) / cos(t - a)` (plane geometry).
fn ball_drop_mm(t: f64) -> f64 {
    let (r, p, a) = (TOOL_MM, BALL_MM, RELIEF_DEG.to_radians());
    let centre = if r * t.sin() < p * (a - t).sin() {
        r * t.cos() + (p * p - (r * t.sin()).powi(2)).sqrt()
    } else {
        (r * a.cos() + p) / (t - a).cos()
    };
    r + p - centre
}

/// The same under a sharp tip: the flat land itself.
fn sharp_drop_mm(t: f64) -> f64 {
    let a = RELIEF_DEG.to_radians();
    TOOL_MM - TOOL_MM * a.cos() / (t - a).cos()
}

/// The angle at which the ball leaves the corner, by halving.
fn leaves() -> f64 {
    let (mut on, mut off) = (0.0, RELIEF_DEG.to_radians());
    for _ in 0..60 {
        let t = f64::midpoint(on, off);
        match TOOL_MM * t.sin() < BALL_MM * (RELIEF_DEG.to_radians() - t).sin() {
            true => on = t,
            false => off = t,
        }
    }
    on
}

fn centre(t: f64) -> At {
    along(AXIS, (TOOL_MM + BALL_MM - ball_drop_mm(t)) * SCALE, t)
}

fn land(t: f64) -> At {
    along(AXIS, (TOOL_MM - sharp_drop_mm(t)) * SCALE, t)
}

pub(super) fn draw(on: &mut Drawing<'_>) -> (i32, i32) {
    section(on);
    readings(on);
    SIZE
}

fn section(on: &mut Drawing<'_>) {
    let edge = land(0.0);
    let heel = 40.0f64.to_radians();
    let mut body = vec![(edge.0, 7_300.0), edge];
    body.extend(steps(0.0, heel, 30).map(land));
    let (x, _) = land(heel);
    body.push((x, 7_300.0));
    on.surface("band", body);
    let circle = steps(-0.1, 0.75, 40).map(|t| along(AXIS, TOOL_MM * SCALE, t));
    on.line("round", circle);
    on.line("land", steps(0.0, heel, 30).map(land));
    on.line("gap", [edge, (edge.0, 7_300.0)]);
    let (corner, flat) = (2.0f64.to_radians(), 24.0f64.to_radians());
    for t in [corner, flat] {
        on.circle("gap", centre(t), BALL_MM * SCALE);
        on.dot("measured", centre(t), 60);
    }
    on.line("fitted", steps(0.0, 0.6, 80).map(centre));
    on.dot("least", edge, 80);
    on.line("grid", [centre(corner), edge]);
    let (x, y) = centre(corner);
    on.name((x - 200.0, y - 350.0), Anchor::Middle, "on the corner");
    let (x, y) = centre(flat);
    on.name((x + 450.0, y + 520.0), Anchor::Middle, "on the land");
    on.say((4_900.0, 800.0), Anchor::Start, "path of the centre");
    on.leader((5_400.0, 900.0), centre(0.5));
    on.name((edge.0 + 350.0, edge.1 + 1_600.0), Anchor::Start, "tool");
    on.name((edge.0 - 900.0, edge.1 + 900.0), Anchor::Middle, "edge");
    on.leader((edge.0 - 800.0, edge.1 + 650.0), edge);
}

fn readings(on: &mut Drawing<'_>) {
    let (left, right, top, foot) = (8_300.0, 13_500.0, 1_500.0, 6_400.0);
    let (most_deg, most_um) = (8.0, 80.0);
    let x = |deg: f64| left + (right - left) * deg / most_deg;
    let y = |um: f64| top + (foot - top) * um / most_um;
    for um in [20.0, 40.0, 60.0, 80.0] {
        on.line("grid", [(left, y(um)), (right, y(um))]);
        on.small((left - 120.0, y(um) + 80.0), Anchor::End, &format!("{um}"));
    }
    on.line("axis", [(left, foot), (left, top), (right, top)]);
    for deg in [0.0, 2.0, 4.0, 6.0, 8.0] {
        on.small((x(deg), top - 140.0), Anchor::Middle, &format!("{deg}°"));
    }
    on.say((right, top - 560.0), Anchor::End, "angle behind the edge");
    on.say(
        (left - 600.0, foot + 450.0),
        Anchor::Start,
        "drop that is read, µm",
    );
    let curve = |drop: fn(f64) -> f64| {
        steps(0.0, most_deg, 60)
            .map(move |deg| (x(deg), y(drop(deg.to_radians()) * 1e3)))
            .filter(move |(_, at)| *at <= foot)
            .collect::<Vec<_>>()
    };
    on.line("before", curve(sharp_drop_mm));
    on.line("fitted", curve(ball_drop_mm));
    on.name((x(2.3), y(46.0)), Anchor::End, "sharp tip");
    on.leader(
        (x(2.35), y(44.0)),
        (x(4.2), y(sharp_drop_mm(4.2f64.to_radians()) * 1e3)),
    );
    on.name((x(6.4), y(31.0)), Anchor::Start, "ball");
    let leaves = leaves();
    let at = (x(leaves.to_degrees()), y(ball_drop_mm(leaves) * 1e3));
    on.leader(
        (x(6.35), y(30.0)),
        (x(5.9), y(ball_drop_mm(5.9f64.to_radians()) * 1e3)),
    );
    on.dot("least", at, 80);
    let text = format!("leaves the corner at {:.1}°", leaves.to_degrees());
    on.say((right, y(8.0)), Anchor::End, &text);
    on.leader((x(4.6), y(9.5)), at);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_of_the_page_is_what_is_drawn() {
        // The first row of `tests/reference/ball_tip.csv`, which a search for the contact checked.
        let two = 2.0f64.to_radians();
        assert!((ball_drop_mm(two) - 0.005_485_904_815).abs() < 1e-11);
        assert!((sharp_drop_mm(two) - 0.020_288_687_59).abs() < 1e-11);
        assert!((leaves().to_degrees() - 3.993_477_7).abs() < 1e-7);
        // Both formulas agree where one takes over from the other.
        let at = leaves();
        let on_land = (TOOL_MM * RELIEF_DEG.to_radians().cos() + BALL_MM)
            / (at - RELIEF_DEG.to_radians()).cos();
        let on_corner =
            TOOL_MM * at.cos() + (BALL_MM.powi(2) - (TOOL_MM * at.sin()).powi(2)).sqrt();
        assert!((on_land - on_corner).abs() < 1e-9);
    }
}
