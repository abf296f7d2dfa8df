//! A ball's climb onto an edge: its places, and how its centre should run over the corner.

use crate::card::{Feature, GaugeCard, Surface};
use crate::quantity::{Angle, Length};
use crate::trace::Merged;
use nalgebra::{SMatrix, SVector};

/// The places of a climb, from its end downwards, with what they are uncertain by.
pub(super) struct Climb {
    /// Each an angle before the end and a height against it; radians and mm.
    pub places: Vec<(f64, f64)>,
    /// Of a height; mm.
    scatter: f64,
    /// Of an angle: an encoder's count; radians.
    step: f64,
}

impl Climb {
    /// The climb that ends at `end`, an angle and a reading, over the places from the one `first` cells
    /// before `cell` on, at most `most` of them and none that lies `deep` below or more.
    pub fn below(
        merged: &Merged,
        gauge: &GaugeCard,
        end: (Angle, Length),
        (cell, first): (usize, usize),
        (deep, most): (f64, usize),
    ) -> Self {
        let count = merged.cells.len();
        let lever = gauge.indicator.lever_angle.rad().cos();
        let places = (first..count.min(most))
            .map(|by| &merged.cells[(cell + count - by) % count])
            .map(|cell| {
                let before = -(cell.angle - end.0).shortest().rad();
                (before, (cell.reading - end.1).mm() * lever)
            })
            .take_while(|(_, height)| *height > -deep);
        let rounding = gauge.indicator.resolution / 12f64.sqrt();
        Self {
            places: places.collect(),
            scatter: merged.noise.max(rounding).mm(),
            step: Angle::TURN.rad() / f64::from(gauge.encoder.counts_per_turn.max(1)),
        }
    }

    /// A least-squares step of a ride over the corner that stands `beyond` the climb's end and `above`
    /// it: how its parameters change, and how well the last of them is known. `row` has the height's
    /// change with each, from its slope and the angle.
    pub fn step<const N: usize>(
        &self,
        ride: Ride,
        (beyond, above): (f64, f64),
        row: impl Fn(f64, f64) -> Option<SVector<f64, N>>,
    ) -> Option<(SVector<f64, N>, f64)> {
        let (mut normal, mut right) = (SMatrix::<f64, N, N>::zeros(), SVector::zeros());
        let mut squares = 0.0;
        for (before, height) in &self.places {
            let angle = before + beyond;
            let (expected, slope) = (ride.height(angle)?, ride.slope(angle)?);
            let variance = self.variance(slope);
            let row = row(slope, angle)?;
            let off = height - above - expected;
            normal += row * row.transpose() / variance;
            right += row * (off / variance);
            squares += off * off / variance;
        }
        let inverse = normal.try_inverse()?;
        let free = (self.places.len() as f64 - N as f64).max(1.0);
        let excess = (squares / free).max(1.0);
        Some((inverse * right, (inverse[(N - 1, N - 1)] * excess).sqrt()))
    }

    /// Variance of a place's height where the climb is so steep.
    fn variance(&self, slope: f64) -> f64 {
        self.scatter * self.scatter + (slope * self.step).powi(2) / 12.0
    }
}

/// How a ball's centre runs over a corner, from the corner's top down.
#[derive(Clone, Copy)]
pub(super) struct Ride {
    radius: f64,
    pub ball: f64,
    polar: bool,
}

impl Ride {
    pub fn of(feature: &Feature, ball: f64) -> Self {
        Self {
            radius: (feature.diameter / 2.0).mm(),
            ball,
            polar: feature.surface == Surface::Radial,
        }
    }

    /// Height of the centre against that over the corner, at an angle beside it; nothing where the
    /// ball has left it.
    pub fn height(self, angle: f64) -> Option<f64> {
        let across = self.radius * if self.polar { angle.sin() } else { angle };
        let squared = self.ball * self.ball - across * across;
        // About the tool's axis the corner itself sinks as it turns away.
        let sunk = if self.polar {
            self.radius * (1.0 - angle.cos())
        } else {
            0.0
        };
        (squared > 0.0).then(|| squared.sqrt() - self.ball - sunk)
    }

    /// Change of the height with the ball's radius.
    pub fn by_ball(self, angle: f64) -> Option<f64> {
        const BY: f64 = 1e-6;
        let with = |by: f64| {
            Self {
                ball: self.ball + by,
                ..self
            }
            .height(angle)
        };
        Some((with(BY)? - with(-BY)?) / (2.0 * BY))
    }

    /// About where beside the corner the centre has come down by so much.
    pub fn angle_at(self, down: f64) -> f64 {
        let left = (self.ball - down).max(0.0);
        let across = (self.ball * self.ball - left * left).max(0.0).sqrt();
        (across / (self.radius + self.ball)).min(1.0)
    }

    /// Slope of the same, per radian.
    pub fn slope(self, angle: f64) -> Option<f64> {
        const BY: f64 = 1e-6;
        Some((self.height(angle + BY)? - self.height(angle - BY)?) / (2.0 * BY))
    }
}
