//! What a recipe may not ask for.

use super::Scenario;
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
            }
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
