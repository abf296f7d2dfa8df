//! Crests of a ball's path that no surface makes, since they are sharper than the ball.
//!
//! Wherever a ball's centre passed, the surface touched the ball somewhere, and the centre never came
//! nearer to that place than the ball's radius. So a place of the path is possible where some point
//! lies a radius away from it and no nearer to any other place of the path. A hollow of the surface
//! may turn the path as sharply as it likes; a crest is never sharper than the ball. In readings of
//! reversed sign it is the other way round.

use crate::card::Surface;
use crate::quantity::{Angle, Length};
use crate::trace::Merged;
use std::f64::consts::{FRAC_PI_2, TAU};

/// What carries readings to a ball's path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Track {
    /// Whether the probe moves along a radius or along the axis.
    pub surface: Surface,
    /// Radius of the edge circle, or of the circle that the probe follows.
    pub radius: Length,
    /// The ball's.
    pub ball: Length,
    /// What one unit of reading is along the surface's normal.
    pub lever: f64,
    /// What encoder and delay leave open of an angle.
    pub open: Angle,
}

/// Touching points are tried so far apart about the ball (6°).
const APART: f64 = TAU / 60.0;
/// A place is impossible where the ball would be cut into by this part of its radius at the least
/// (chosen, no source) ...
const CUT: f64 = 0.15;
/// ... and by so many times what a reading scatters, what is open of its angle, and half a place's
/// width, over which readings of a wall are averaged (chosen, no source).
const SCATTERS: f64 = 4.0;
const OPEN: f64 = 1.5;
const HALF: f64 = 0.5;

/// Where the path turns more sharply over a crest than the ball lets it; with `sign` -1 the same
/// where the readings are taken with the other sign.
pub fn sharp_crests(merged: &Merged, track: Track, sign: f64) -> Vec<Angle> {
    let (ball, radius) = (track.ball.mm(), track.radius.mm());
    let cells = &merged.cells;
    let heights = || cells.iter().map(|cell| sign * cell.reading.mm());
    let Some(highest) = heights().reduce(f64::max) else {
        return Vec::new();
    };
    let path: Vec<(f64, f64)> = cells
        .iter()
        .zip(heights())
        .map(|(cell, height)| {
            (
                cell.angle.rad(),
                radius + ball + (height - highest) * track.lever,
            )
        })
        .collect();
    let open = track.open.rad() * OPEN + merged.cell_width.rad() * HALF;
    let allowed = (CUT * ball).max(SCATTERS * merged.noise.mm() + open * radius);
    let all = path.len();
    let around = |at: usize| beside(&path, at, track, 2.0 * ball);
    (0..all)
        .filter(|&at| cut(&around(at), ball, allowed) > allowed)
        .map(|at| cells[at].angle)
        .collect()
}

/// The places of the path within a reach to either side of one, seen from it: across and up.
fn beside(path: &[(f64, f64)], at: usize, track: Track, reach: f64) -> Vec<(f64, f64)> {
    let all = path.len();
    let (angle, height) = path[at];
    let seen = |other: usize| {
        let (far, up) = path[other];
        let apart = Angle::from_rad(far - angle).shortest().rad();
        match track.surface {
            Surface::Radial => (up * apart.sin(), up * apart.cos() - height),
            Surface::Axial => (track.radius.mm() * apart, up - height),
        }
    };
    let near = |place: &(f64, f64)| place.0.abs() < reach;
    let half = all / 2;
    let behind = (1..half).map(|by| seen((at + by) % all)).take_while(near);
    let before = (1..half)
        .map(|by| seen((at + all - by) % all))
        .take_while(near);
    behind.chain(before).collect()
}

/// How far the path cuts into a ball that touches the surface wherever suits it best; no more is
/// looked for once it is less than what is allowed.
fn cut(beside: &[(f64, f64)], ball: f64, allowed: f64) -> f64 {
    let steps = (FRAC_PI_2 / APART).floor() as i32;
    let mut least = f64::INFINITY;
    for step in 0..=2 * steps {
        // From straight below outwards, to either side in turn.
        let turned = f64::from((step + 1) / 2) * if step % 2 == 0 { APART } else { -APART };
        let (sin, cos) = turned.sin_cos();
        let touched = (ball * sin, -ball * cos);
        let nearest = beside
            .iter()
            .map(|place| (place.0 - touched.0).powi(2) + (place.1 - touched.1).powi(2))
            .fold(f64::INFINITY, f64::min);
        least = least.min(ball - nearest.sqrt());
        if least <= allowed {
            break;
        }
    }
    least
}
