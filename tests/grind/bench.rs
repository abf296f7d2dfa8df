//! A worn tool, a fixture, an indicator and a wheel as tables of heights over the turn, by brute force.
//!
//! Nothing here knows a formula of an envelope or of a ball: what a wheel leaves and where a ball rests
//! is the least or greatest over all places of two discs.

use std::f64::consts::TAU;
use std::fmt::Write;
use std::path::Path;

/// Places of a turn.
pub const PLACES: usize = 7200;

/// The law that a cam rises by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    Constant,
    Harmonic,
    Cycloidal,
}

/// A cam by its figures, in degrees and mm, at a throw of 1 mm.
#[derive(Clone, Copy, Debug)]
pub struct Cam {
    pub law: Law,
    pub rise_mm: f64,
    pub rise_deg: f64,
    pub back_deg: f64,
    pub lobes: u32,
}

/// Angle of a place, radians.
pub fn angle(at: usize) -> f64 {
    at as f64 * TAU / PLACES as f64
}

/// The place nearest to an angle in degrees.
pub fn place(deg: f64) -> usize {
    ((deg / 360.0).rem_euclid(1.0) * PLACES as f64).round() as usize % PLACES
}

impl Cam {
    /// Towards the wheel at an angle of the cam in degrees.
    pub fn at(&self, deg: f64) -> f64 {
        let within = deg.rem_euclid(360.0 / f64::from(self.lobes));
        let law = |x: f64| match self.law {
            Law::Constant => x,
            Law::Harmonic => {
                (std::f64::consts::PI * x).sin().mul_add(0.0, 0.5)
                    - 0.5 * (std::f64::consts::PI * x).cos()
            }
            Law::Cycloidal => x - (TAU * x).sin() / TAU,
        };
        let share = if within < self.rise_deg {
            law(within / self.rise_deg)
        } else if within < self.rise_deg + self.back_deg {
            1.0 - law((within - self.rise_deg) / self.back_deg)
        } else {
            0.0
        };
        self.rise_mm * share
    }

    /// Over the tool's turn, for a throw and a cam angle.
    pub fn over(&self, throw_mm: f64, cam_deg: f64) -> Vec<f64> {
        let each = 0..PLACES;
        each.map(|at| throw_mm * self.at(angle(at).to_degrees() - cam_deg))
            .collect()
    }
}

/// What a disc of radius `wheel` leaves of a round of `radius` that is moved towards it so far.
pub fn ground(moved: &[f64], radius: f64, wheel: f64) -> Vec<f64> {
    let reach = place(40.0).min((wheel / (radius + wheel) / TAU * PLACES as f64) as usize);
    let offsets: Vec<(f64, f64)> = (0..=reach).map(|at| angle(at).sin_cos()).collect();
    let left = |at: usize| {
        let mut least = f64::INFINITY;
        for (by, (sin, cos)) in offsets.iter().enumerate() {
            for there in [(at + by) % PLACES, (at + PLACES - by) % PLACES] {
                let centre = radius + wheel - moved[there];
                let under = wheel * wheel - (centre * sin).powi(2);
                if under > 0.0 {
                    least = least.min(centre * cos - under.sqrt());
                }
            }
        }
        least
    };
    (0..PLACES).map(left).collect()
}

/// How high the end of a ball stands over each place, for a ball that moves along the radius.
pub fn rests(heights: &[f64], ball: f64) -> Vec<f64> {
    let highest = heights.iter().copied().fold(0.0, f64::max);
    let reach = (ball / (highest - 1.0) / TAU * PLACES as f64).ceil() as usize;
    let offsets: Vec<(f64, f64)> = (0..=reach).map(|at| angle(at).sin_cos()).collect();
    let rest = |at: usize| {
        let mut most = f64::NEG_INFINITY;
        for (by, (sin, cos)) in offsets.iter().enumerate() {
            for there in [(at + by) % PLACES, (at + PLACES - by) % PLACES] {
                let height = heights[there];
                let under = ball * ball - (height * sin).powi(2);
                if under > 0.0 {
                    most = most.max(height * cos + under.sqrt());
                }
            }
        }
        most - ball
    };
    (0..PLACES).map(rest).collect()
}

/// A small random number generator of our own, so that a seed means the same for ever.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(
            seed.wrapping_mul(0x9E37_79B9_7F4A_7C15)
                .wrapping_add(0x1234_5678_9ABC_DEF1),
        )
    }

    /// Evenly from 0 to 1 (xorshift64*, Vigna 2016).
    pub fn even(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    pub fn either(&mut self, half: f64) -> f64 {
        self.within(-half, half)
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (TAU * self.even()).cos()
    }
}

/// Limits of the indicator's error, its least count, its noise: mm.
pub const MAX_ERROR: f64 = 0.002;
pub const LEAST_COUNT: f64 = 0.0005;
const NOISE: f64 = 0.0003;

/// The same indicator for all traces of an inspection: its error over its readings.
pub struct Indicator {
    slope: f64,
    bow: f64,
    /// The tool off the spindle's axis.
    off: (f64, f64),
}

impl Indicator {
    pub fn new(dice: &mut Dice) -> Self {
        // Over the 2 mm of a trace no reading is off by more than the limit.
        Self {
            slope: dice.either(MAX_ERROR / 2.0),
            bow: dice.either(MAX_ERROR / 4.0),
            off: (dice.either(0.006), dice.either(0.006)),
        }
    }

    /// Writes a trace over more than two turns, one way and back.
    pub fn trace(&self, heights: &[f64], set_at: f64, file: &Path, dice: &mut Dice) {
        let mut text = "time_s,angle_deg,reading_mm\n".to_owned();
        let (per_deg, turns) = (10.0, 1.1);
        let steps = (turns * 360.0 * per_deg) as i64;
        for at in 0..2 * steps {
            let turned = if at < steps { at } else { 2 * steps - at };
            let deg = turned as f64 / per_deg + 0.013;
            let counted = (deg / 360.0 * 40_000.0).floor() / 40_000.0 * 360.0;
            let exact = (deg / 360.0).rem_euclid(1.0) * PLACES as f64;
            let (low, part) = (exact.floor() as usize % PLACES, exact.fract());
            let height = heights[low] * (1.0 - part) + heights[(low + 1) % PLACES] * part;
            let (sin, cos) = deg.to_radians().sin_cos();
            let read = height + self.off.0 * cos + self.off.1 * sin - set_at;
            let wrong = self.slope * read + self.bow * read * read + NOISE * dice.normal();
            let shown = ((read + wrong) / LEAST_COUNT).round() * LEAST_COUNT;
            let _ = writeln!(text, "{:.4},{counted:.4},{shown:.4}", at as f64 / 400.0);
        }
        std::fs::write(file, text).unwrap();
    }
}
