//! A face under the probe while the table moves and the tool is locked.

use super::indicator::Indicator;
use super::scenario::{Face, Scenario, Surface};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// One reading over travel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlideReading {
    /// Since the start of the trace, in seconds.
    pub time_s: f64,
    /// What the table's scale shows, in mm.
    pub travel_mm: f64,
    /// The indicator in steps of its least count.
    pub steps: i64,
}

/// How long the table rests at either end.
const REST_S: f64 = 0.4;
/// The table's scale shows steps of this.
const SCALE_STEP_MM: f64 = 0.001;
/// Reading where the trace begins.
const SET_AT_MM: f64 = 0.2;

impl Face {
    /// Growth of the height under the probe per travel of the table, from the directions of face,
    /// travel and probe: a probe that leans by `b` meets the face at `sin(a) / cos(a + b)`.
    /// `leaning` is what tool and table together lean, in radians.
    fn rise(&self, surface: Surface, leaning: f64) -> f64 {
        let to_axis = self.angle_deg.to_radians() + leaning;
        let to_travel = match surface {
            Surface::Radial => to_axis,
            Surface::Axial => std::f64::consts::FRAC_PI_2 - to_axis,
        };
        to_travel.sin() / (to_travel + self.lean_deg.to_radians()).cos()
    }
}

impl Scenario {
    /// The faces, each with the name of its trace.
    pub fn face_traces(&self) -> impl Iterator<Item = (String, &Face)> {
        self.face.iter().enumerate().map(|(at, face)| {
            let name = match at {
                0 => format!("{}-face", face.feature),
                _ => format!("{}-face-{}", face.feature, at + 1),
            };
            (name, face)
        })
    }

    /// The trace over one of the recipe's faces; a straight face lifts a ball by the same amount
    /// everywhere, so that its radius does not show.
    pub fn slide(&self, face: &Face, number: usize) -> Vec<SlideReading> {
        let surface = self
            .feature
            .iter()
            .find(|feature| feature.name == face.feature)
            .map_or(Surface::Radial, |feature| feature.surface);
        let stream = |n: u64| Pcg64::seed_from_u64(self.seed.wrapping_mul(1000).wrapping_add(n));
        let number = number as u64;
        let mut indicator = Indicator::new(&self.gauge, &self.bench, stream(0))
            .with_noise_from(stream(300 + number));
        let mut hand = stream(400 + number);
        // The tool is locked with angle 0 under the probe.
        let (tilt, towards) = self.clamping.tilt();
        let leaning = tilt.atan() * towards.cos() + self.bench.table_lean_deg.to_radians();
        let rise = face.rise(surface, leaning);
        let dt_s = 1.0 / self.bench.rate_hz;
        let resting = (REST_S / dt_s).ceil() as usize;
        let mut path = vec![0.0; resting];
        let mut at = 0.0;
        let mut run = |to: f64, path: &mut Vec<f64>| {
            while (to - at).abs() > 1e-9 {
                let step = face.speed_mm_per_s * dt_s * hand.random_range(0.5..1.5);
                at += (to - at).clamp(-step, step);
                path.push(at);
            }
            path.extend(std::iter::repeat_n(at, resting));
        };
        run(face.travel_mm, &mut path);
        if face.back {
            run(0.0, &mut path);
        }
        path.into_iter()
            .enumerate()
            .map(|(tick, at)| {
                let time_s = tick as f64 * dt_s;
                let drifted = self.bench.drift_mm_per_s * time_s;
                indicator.follow(SET_AT_MM + at * rise + drifted);
                let scale = at * (1.0 + face.scale_error);
                SlideReading {
                    time_s,
                    travel_mm: (scale / SCALE_STEP_MM).round() * SCALE_STEP_MM,
                    steps: indicator.read(),
                }
            })
            .collect()
    }
}
