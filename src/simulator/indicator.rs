//! The indicator: a lever, play, an error along its scale, noise, spikes, and steps of its least
//! count.

use super::scenario::{Bench, ErrorCurve, Gauge};
use super::wander::Wander;
use crate::numeric::random::gauss;
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
    error: ScaleError,
    spike_share: f64,
    spike: Option<(u32, f64)>,
    needle_mm: Option<f64>,
}

/// By how much it shows too much at each place of its travel.
#[derive(Clone, Debug)]
enum ScaleError {
    Wave {
        size_mm: f64,
        period_mm: f64,
        phase: f64,
    },
    Wander(Wander),
    None,
}

impl ScaleError {
    fn at(&self, needle_mm: f64) -> f64 {
        match self {
            ScaleError::Wave {
                size_mm,
                period_mm,
                phase,
            } => size_mm * (TAU * needle_mm / period_mm + phase).sin(),
            ScaleError::Wander(path) => path.at(needle_mm),
            ScaleError::None => 0.0,
        }
    }
}

impl Indicator {
    pub(super) fn new(gauge: &Gauge, bench: &Bench, mut rng: Pcg64) -> Self {
        let error = match bench.error {
            ErrorCurve::Wave => ScaleError::Wave {
                size_mm: gauge.max_error_mm * rng.random_range(0.3..1.0),
                period_mm: rng.random_range(0.5..2.0),
                phase: rng.random_range(0.0..TAU),
            },
            ErrorCurve::None => ScaleError::None,
            ErrorCurve::Wander => ScaleError::Wander(Wander::new(gauge.max_error_mm, &mut rng)),
        };
        let lever_deg = gauge.lever_angle_deg + bench.lever_error_deg;
        Self {
            resolution_mm: gauge.resolution_mm,
            noise_mm: bench.noise_mm,
            half_play_mm: bench.hysteresis_mm.unwrap_or(gauge.hysteresis_mm) / 2.0,
            lever_cos: lever_deg.to_radians().cos(),
            error,
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
        let noise = self.noise_mm * gauss(&mut self.rng);
        let shown = needle + self.error.at(needle) + noise + self.bump();
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
}
