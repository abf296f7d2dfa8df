//! What a recipe may not ask for.

use super::{Grinder, Scenario, Tooth};
use crate::error::{Code, Error, Result};

impl Scenario {
    /// Refuses what no tool can be or no computer can draw.
    pub fn check(&self) -> Result<()> {
        let mut errors = Vec::new();
        let mut range = |what: String, value: f64, low: f64, high: f64| {
            if !(low..=high).contains(&value) {
                let message = format!("{what} is `{value}`, expected {low} to {high}");
                errors.push(Error::new(Code::CardValue, message));
            }
        };
        range("tool.flutes".into(), f64::from(self.tool.flutes), 1.0, 24.0);
        for feature in &self.feature {
            let name = &feature.name;
            let pitch = 360.0 / f64::from(self.tool.flutes.max(1));
            let radius = feature.diameter_mm / 2.0;
            range(
                format!("{name}.diameter_mm"),
                feature.diameter_mm,
                0.5,
                500.0,
            );
            range(
                format!("{name}.land.arc_deg"),
                feature.land.arc_deg,
                0.1,
                pitch,
            );
            range(
                format!("{name}.land.margin_mm"),
                feature.land.margin_mm,
                0.0,
                radius,
            );
            range(
                format!("{name}.heel_wall_deg"),
                feature.heel_wall_deg,
                0.0,
                80.0,
            );
            range(
                format!("{name}.gap_depth_mm"),
                feature.gap_depth_mm,
                0.0,
                radius * 0.9,
            );
            range(format!("{name}.face_deg"), feature.face_deg, 20.0, 160.0);
            for tooth in &feature.tooth {
                range(
                    format!("{name}.tooth.height_mm"),
                    tooth.height_mm,
                    -1.0,
                    1.0,
                );
                range(
                    format!("{name}.tooth.angle_deg"),
                    tooth.angle_deg,
                    -pitch,
                    pitch,
                );
                worn(name, tooth, &mut range);
            }
        }
        if let Some(grinder) = &self.grinder {
            ground_on(grinder, &mut range);
        }
        for face in &self.face {
            let name = &face.feature;
            range(format!("{name}: face.angle_deg"), face.angle_deg, 0.0, 90.0);
            range(format!("{name}: face.travel_mm"), face.travel_mm, 0.1, 50.0);
            let speed = face.speed_mm_per_s;
            range(format!("{name}: face.speed_mm_per_s"), speed, 0.001, 50.0);
            range(format!("{name}: face.lean_deg"), face.lean_deg, -5.0, 5.0);
        }
        for round in &self.reference {
            range(
                "reference.diameter_mm".into(),
                round.diameter_mm,
                0.5,
                500.0,
            );
        }
        range("gauge.radius_mm".into(), self.gauge.radius_mm, 0.0, 10.0);
        range(
            "gauge.resolution_mm".into(),
            self.gauge.resolution_mm,
            1e-6,
            1.0,
        );
        let counts = f64::from(self.gauge.counts_per_rev);
        range("gauge.counts_per_rev".into(), counts, 4.0, 1e8);
        range("bench.rate_hz".into(), self.bench.rate_hz, 0.1, 1e5);
        range("hand.turns".into(), self.hand.turns, 0.01, 1e4);
        range(
            "hand.speed_deg_per_s".into(),
            self.hand.speed_deg_per_s,
            0.01,
            1e5,
        );
        range("hand.unevenness".into(), self.hand.unevenness, 0.0, 0.9);
        range("hand.rest_s".into(), self.hand.rest_s, 0.0, 1e6);
        range(
            "clamping.eccentricity_mm".into(),
            self.clamping.eccentricity_mm,
            0.0,
            1.0,
        );
        Error::all(errors).map_or(Ok(()), Err)
    }
}

/// What is asked of a number: its name, itself, the least and the most.
type Range<'a> = dyn FnMut(String, f64, f64, f64) + 'a;

fn worn(name: &str, tooth: &Tooth, range: &mut Range<'_>) {
    let wear = tooth.wear_land_mm;
    range(format!("{name}.tooth.wear_land_mm"), wear, 0.0, 5.0);
    let rounding = tooth.rounding_mm;
    range(format!("{name}.tooth.rounding_mm"), rounding, 0.0, 1.0);
    if let Some(nick) = tooth.nick {
        let of_nick = |key: &str| format!("{name}.tooth.nick.{key}");
        range(of_nick("at_mm"), nick.at_mm, 0.0, 500.0);
        range(of_nick("width_mm"), nick.width_mm, 0.001, 50.0);
        range(of_nick("depth_mm"), nick.depth_mm, 0.0, 5.0);
    }
    let mut least = 0.0;
    for &[behind_deg, under_mm] in &tooth.ground {
        let place = format!("{name}.tooth.ground: degrees behind the edge");
        range(place, behind_deg, least, 360.0);
        range(
            format!("{name}.tooth.ground: mm under it"),
            under_mm,
            -5.0,
            50.0,
        );
        least = behind_deg;
    }
}

fn ground_on(grinder: &Grinder, range: &mut Range<'_>) {
    let wheel = &grinder.wheel;
    let least = -0.5 * wheel.diameter_mm;
    for (key, value, low, high) in [
        ("wheel.diameter_mm", wheel.diameter_mm, 1.0, 2000.0),
        (
            "wheel.diameter_error_mm",
            wheel.diameter_error_mm,
            least,
            100.0,
        ),
        ("feed_graduation_mm", grinder.feed_graduation_mm, 1e-5, 1.0),
        ("touch_step_mm", grinder.touch_step_mm, 1e-5, 1.0),
        ("feed_error", grinder.feed_error, -0.9, 9.0),
        ("eccentricity_mm", grinder.eccentricity_mm, 0.0, 1.0),
    ] {
        range(format!("grinder.{key}"), value, low, high);
    }
    for fixture in &grinder.fixture {
        let (throw, cam) = (fixture.throw_mm, &fixture.cam);
        let pitch = 360.0 / f64::from(cam.lobes.max(1));
        let arcs = cam.rise_deg + cam.dwell_deg + cam.return_deg;
        for (key, value, low, high) in [
            ("throw_mm", throw, 1e-3, 100.0),
            ("greatest_throw_mm", fixture.greatest_throw_mm, throw, 100.0),
            ("least_throw_mm", fixture.least_throw_mm, 0.0, throw),
            ("graduation_mm", fixture.graduation_mm, 1e-5, 10.0),
            ("play_mm", fixture.play_mm, 0.0, 10.0),
            ("throw_error", fixture.throw_error, -0.9, 9.0),
            ("cam.lobes", f64::from(cam.lobes), 1.0, 360.0),
            ("cam.rise_mm", cam.rise_mm, 1e-3, 100.0),
            ("cam.rise_deg", cam.rise_deg, 0.1, pitch),
            ("arcs of the cam together", arcs, 0.1, pitch),
        ] {
            range(format!("{}: {key}", fixture.name), value, low, high);
        }
    }
}
