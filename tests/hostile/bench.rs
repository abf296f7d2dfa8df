//! The true indicator, encoder and clocks, whatever the cards say of them.

use super::brute::Tip;
use super::hand::Path;
use rand::Rng;
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

/// What the bench really is.
#[derive(Clone, Debug)]
pub struct Bench {
    pub tip: Tip,
    /// The probe passes the axis by this, towards where the surface moves to.
    pub aside_mm: f64,
    pub lever_deg: f64,
    /// The indicator's steps.
    pub step_mm: f64,
    /// Written in a row for a true millimetre: 1, or 25.4 where counts of inches are taken for mm.
    pub written_per_mm: f64,
    /// Shows so much too much, as a share.
    pub gain_error: f64,
    /// Its error wanders within this.
    pub wander_mm: f64,
    /// The whole of its play.
    pub play_mm: f64,
    /// Where the plunger stops: lowest and highest reading, above the start of travel.
    pub stops_mm: Option<[f64; 2]>,
    pub noise_mm: f64,
    pub spikes_per_1000: f64,
    pub drift_mm_per_s: f64,
    /// Later than the encoder.
    pub delay_s: f64,
    /// The reading's clock shows this much more than the encoder's, in two files.
    pub two_clocks_s: Option<f64>,
    pub readings_per_s: f64,
    pub positions_per_s: f64,
    pub counts_per_rev: f64,
    /// Whether the encoder's angle grows as the tool turns the way it cuts.
    pub grows_cutting: bool,
    /// Counts lost at these moments, as `(share of the trace, counts)`.
    pub lost_counts: Vec<(f64, f64)>,
    /// The spindle moves along the probe by this, so many waves a turn, with this phase.
    pub spindle: (f64, f64, f64),
    /// After falling this fast the plunger hops by up to this.
    pub bounce_mm: f64,
    /// The angle is written wrapped at 360.
    pub wrapped: bool,
    /// No rows come while these places of the tool pass the probe, as `(from, to)` in degrees.
    pub deaf_deg: Vec<(f64, f64)>,
}

/// What a trace's files hold: `(time, angle)` and `(time, reading)`, the same times on one clock.
pub struct Readings {
    pub angles: Vec<(f64, f64)>,
    pub readings: Vec<(f64, f64)>,
    /// Where the tool truly stood when each reading was taken, in radians.
    pub places: Vec<f64>,
}

/// An indicator's error along its travel: the same in every trace of an inspection.
#[derive(Clone, Debug)]
pub struct ScaleError(Vec<(f64, f64, f64)>);

impl ScaleError {
    pub fn within(size_mm: f64, rng: &mut Pcg64) -> Self {
        let mut waves: Vec<(f64, f64, f64)> = (0..5)
            .map(|_| {
                (
                    rng.random_range(0.2..1.0),
                    rng.random_range(0.25..2.5),
                    rng.random_range(0.0..TAU),
                )
            })
            .collect();
        let whole: f64 = waves.iter().map(|wave| wave.0).sum();
        for wave in &mut waves {
            wave.0 *= size_mm / whole;
        }
        Self(waves)
    }

    fn at(&self, place_mm: f64) -> f64 {
        self.0
            .iter()
            .map(|(size, length, phase)| size * (TAU * place_mm / length + phase).sin())
            .sum()
    }
}

impl Bench {
    /// What is read while the tool goes along `path`, with the tip at `height` for an angle.
    pub fn read(
        &self,
        path: &Path,
        height: impl Fn(f64) -> f64,
        error: &ScaleError,
        rng: &mut Pcg64,
    ) -> Readings {
        let lever = self.lever_deg.to_radians().cos();
        // Where the play leaves the needle at every tick.
        let mut needles = Vec::with_capacity(path.ticks().len());
        let mut needle: Option<f64> = None;
        let (mut hop, mut before) = (0.0f64, f64::NAN);
        for (tick, angle) in path.ticks().iter().enumerate() {
            let surface =
                height(*angle) + self.spindle.0 * (self.spindle.1 * angle + self.spindle.2).sin();
            if self.bounce_mm > 0.0 {
                let fell = before - surface;
                hop = (hop * 0.97).max(if fell > 0.003 { self.bounce_mm } else { 0.0 });
                before = surface;
            }
            let mut moved = (surface + hop) / lever;
            if let Some([low, high]) = self.stops_mm {
                moved = moved.clamp(low, high);
            }
            let shown = needle
                .unwrap_or(moved)
                .clamp(moved - self.play_mm / 2.0, moved + self.play_mm / 2.0);
            needle = Some(shown);
            needles.push(shown + self.drift_mm_per_s * tick as f64 * Path::TICK_S);
        }
        let needle_at = |time: f64| {
            let tick = (time / Path::TICK_S).clamp(0.0, (needles.len() - 1) as f64);
            needles[tick.round() as usize]
        };
        let mut spike: Option<(u32, f64)> = None;
        let mut shown = |time: f64, rng: &mut Pcg64| {
            if spike.is_none() && rng.random::<f64>() < self.spikes_per_1000 / 1000.0 {
                spike = Some((rng.random_range(1..=2), rng.random_range(0.02..0.12)));
            }
            let bump = spike.map_or(0.0, |(_, size)| size);
            spike = spike.and_then(|(left, size)| (left > 1).then_some((left - 1, size)));
            let needle = needle_at(time);
            let value = needle * (1.0 + self.gain_error)
                + error.at(needle)
                + self.noise_mm * gauss(rng)
                + bump;
            (value / self.step_mm).round() * self.step_mm * self.written_per_mm
        };
        let lasts = path.lasts_s();
        let count = |time: f64| {
            let lost: f64 = self
                .lost_counts
                .iter()
                .filter(|(share, _)| time > share * lasts)
                .map(|(_, counts)| *counts)
                .sum();
            let way = if self.grows_cutting { 1.0 } else { -1.0 };
            let counted = (way * path.at(time) / TAU * self.counts_per_rev).floor() - lost;
            let angle = counted * 360.0 / self.counts_per_rev;
            if self.wrapped {
                angle.rem_euclid(360.0)
            } else {
                angle
            }
        };
        let period = 1.0 / self.readings_per_s;
        let phase = rng.random_range(0.0..period);
        let heard = |time: &f64| {
            let place = path.at(time - self.delay_s).to_degrees();
            let within = |(from, to): &(f64, f64)| (place - from).rem_euclid(360.0) < to - from;
            !self.deaf_deg.iter().any(within)
        };
        let times = |period: f64| {
            (0..((lasts - phase) / period) as usize).map(move |n| phase + n as f64 * period)
        };
        let taken: Vec<f64> = times(period).filter(heard).collect();
        let clock = self.two_clocks_s.unwrap_or(0.0);
        let readings = taken.iter();
        let readings =
            readings.map(|time| (time + clock.max(0.0), shown(time - self.delay_s, rng)));
        let apart = 1.0 / self.positions_per_s;
        Readings {
            readings: readings.collect(),
            places: taken
                .iter()
                .map(|time| path.at(time - self.delay_s))
                .collect(),
            angles: match self.two_clocks_s {
                Some(_) => times(apart)
                    .map(|time| (time - clock.min(0.0), count(time)))
                    .collect(),
                None => taken.iter().map(|time| (*time, count(*time))).collect(),
            },
        }
    }
}

/// A number from the normal distribution (Box and Muller 1958).
pub fn gauss(rng: &mut Pcg64) -> f64 {
    let radius = (-2.0 * (1.0 - rng.random::<f64>()).ln()).sqrt();
    radius * (TAU * rng.random::<f64>()).cos()
}
