//! The indicator: a lever, play, a wavy scale error, noise, spikes, and steps of its least count.

use super::scenario::{Bench, Gauge};
use rand::Rng;
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

/// An indicator whose plunger follows a surface.
#[derive(Clone, Debug)]
pub(super) struct Indicator {
    rng: Pcg64,
    resolution_mm: f64,
    noise_mm: f64,
    half_play_mm: f64,
    lever_cos: f64,
    error_mm: f64,
    error_period_mm: f64,
    error_phase: f64,
    spike_share: f64,
    spike: Option<(u32, f64)>,
    needle_mm: Option<f64>,
}

impl Indicator {
    pub(super) fn new(gauge: &Gauge, bench: &Bench, mut rng: Pcg64) -> Self {
        Self {
            resolution_mm: gauge.resolution_mm,
            noise_mm: bench.noise_mm,
            half_play_mm: gauge.hysteresis_mm / 2.0,
            lever_cos: gauge.lever_angle_deg.to_radians().cos(),
            error_mm: gauge.max_error_mm * rng.random_range(0.3..1.0),
            error_period_mm: rng.random_range(0.5..2.0),
            error_phase: rng.random_range(0.0..TAU),
            spike_share: bench.spikes_per_1000 / 1000.0,
            spike: None,
            needle_mm: None,
            rng,
        }
    }

    /// The same indicator with its noise started elsewhere.
    pub(super) fn with_noise_from(self, rng: Pcg64) -> Self {
        Self { rng, ..self }
    }

    /// The plunger follows the surface to this height; the needle lags by the play.
    pub(super) fn follow(&mut self, height_mm: f64) {
        // A lever moves farther than the surface does along its normal.
        let moved = height_mm / self.lever_cos;
        let (low, high) = (moved - self.half_play_mm, moved + self.half_play_mm);
        self.needle_mm = Some(self.needle_mm.unwrap_or(moved).clamp(low, high));
    }

    /// What it shows now, in steps of its least count.
    pub(super) fn read(&mut self) -> i64 {
        let needle = self.needle_mm.unwrap_or(0.0);
        let wave = (TAU * needle / self.error_period_mm + self.error_phase).sin();
        let noise = self.noise_mm * self.gauss();
        let shown = needle + self.error_mm * wave + noise + self.bump();
        (shown / self.resolution_mm).round() as i64
    }

    /// A chip under the stylus or a knock against the table, over one to three readings.
    fn bump(&mut self) -> f64 {
        if self.spike.is_none() && self.rng.random::<f64>() < self.spike_share {
            let readings = self.rng.random_range(1..=3);
            let sign = if self.rng.random::<f64>() < 0.8 {
                1.0
            } else {
                -1.0
            };
            self.spike = Some((readings, sign * self.rng.random_range(0.02..0.15)));
        }
        match self.spike {
            Some((left, height)) => {
                self.spike = (left > 1).then_some((left - 1, height));
                height
            }
            None => 0.0,
        }
    }

    /// A number from the normal distribution (Box and Muller 1958).
    fn gauss(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.rng.random::<f64>()).ln()).sqrt();
        radius * (TAU * self.rng.random::<f64>()).cos()
    }
}
