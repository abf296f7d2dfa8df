//! A tip rests on the cloud of points: how high it stands at each angle of the spindle.

use super::outline::Outline;
use super::scenario::{Surface, Tip};
use std::f64::consts::TAU;

/// Places of the spindle's turn for which the rest is worked out; between them it is a straight
/// line, at most a few nanometres off where the surface is smooth.
const PLACES: usize = 36_000;
/// Points looked at or passed over together.
const BLOCK: usize = 64;

/// How tip, tool and spindle stand to each other.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting {
    pub tip: Tip,
    /// Radius of the ball, half the width of the flat.
    pub radius_mm: f64,
    /// The tool's axis from the spindle's, at this section.
    pub eccentricity_mm: f64,
    /// Angle of the spindle at which that reads highest.
    pub eccentric_at: f64,
    /// How far the probe's line misses the spindle's axis, towards where the surface moves to.
    pub offset_mm: f64,
    /// Rise and fall of an axial surface by the tilt of the tool, at the probe's circle.
    pub wobble_mm: f64,
    /// Angle of the spindle at which that reads highest.
    pub wobble_at: f64,
    /// Angle of an axial surface to the tool's axis, in radians: less than a quarter turn where its
    /// rim stands back.
    pub face_to_axis: f64,
    /// Angle of the spindle at which angle 0 of the outline passes under the axis.
    pub outline_at: f64,
}

/// The height of the tip's end over a whole turn of the spindle.
#[derive(Clone, Debug)]
pub(super) struct Rest {
    heights: Vec<f64>,
}

impl Rest {
    /// Works out the table.
    pub(super) fn new(outline: &Outline, setting: &Setting) -> Self {
        let cloud = Cloud::new(outline, setting);
        let height = |i: usize| {
            let theta = i as f64 * TAU / PLACES as f64;
            let wobble = setting.wobble_mm * (theta - setting.wobble_at).cos();
            cloud.rest(theta, setting) + wobble
        };
        Self {
            heights: (0..PLACES).map(height).collect(),
        }
    }

    /// On a face square to the axis that it turns about.
    pub(super) fn level() -> Self {
        Self {
            heights: vec![0.0; PLACES],
        }
    }

    /// The same in a fixture that moves the tool towards the tip as it turns.
    #[must_use]
    pub(super) fn moved(mut self, towards: impl Fn(f64) -> f64) -> Self {
        for (i, height) in self.heights.iter_mut().enumerate() {
            *height += towards(i as f64 * TAU / PLACES as f64);
        }
        self
    }

    /// The height at an angle of the spindle, in radians, of any turn.
    pub(super) fn at(&self, theta: f64) -> f64 {
        let place = (theta / TAU).rem_euclid(1.0) * PLACES as f64;
        let i = place as usize % PLACES;
        let part = place - place.floor();
        let (low, high) = (self.heights[i], self.heights[(i + 1) % PLACES]);
        low + (high - low) * part
    }
}

/// The outline in blocks, each with what is needed to pass it over.
struct Cloud {
    /// Radial: across and along at spindle angle 0. Axial: sine and cosine times the probe's
    /// circle, so that turning is the same for both.
    turned: Vec<(f64, f64)>,
    heights: Vec<f64>,
    blocks: Vec<Block>,
    surface: Surface,
    reach_mm: f64,
    /// Nothing farther round than this can touch the tip, however deep it lies.
    reach_angle: f64,
}

struct Block {
    start: usize,
    end: usize,
    middle: f64,
    half: f64,
    highest: f64,
    /// Least distance from the axis: how little a turn can move it across.
    closest: f64,
}

impl Cloud {
    fn new(outline: &Outline, setting: &Setting) -> Self {
        let radius = |height: f64| match outline.surface {
            Surface::Radial => height,
            Surface::Axial => outline.radius_mm,
        };
        let turned: Vec<_> = outline
            .points
            .iter()
            .map(|p| {
                let angle = p.angle + setting.outline_at;
                (
                    radius(p.height) * angle.sin(),
                    radius(p.height) * angle.cos(),
                )
            })
            .collect();
        let blocks = outline.points.chunks(BLOCK).enumerate().map(|(i, chunk)| {
            let first = chunk.first().map_or(0.0, |p| p.angle);
            let last = chunk.last().map_or(first, |p| p.angle);
            let heights = chunk.iter().map(|p| p.height);
            Block {
                start: i * BLOCK,
                end: i * BLOCK + chunk.len(),
                middle: (first + last) / 2.0 + setting.outline_at,
                half: (last - first).abs() / 2.0,
                highest: heights.clone().fold(f64::MIN, f64::max),
                closest: heights.map(radius).fold(f64::MAX, f64::min),
            }
        });
        // A point is set on the line between two neighbours of the cloud, so it reaches one.
        let reach_mm = match setting.tip {
            Tip::Point => TAU * outline.radius_mm / 10_000.0,
            Tip::Ball | Tip::Flat => setting.radius_mm,
        };
        let lowest = outline.points.iter().map(|p| radius(p.height));
        let lowest = lowest.fold(f64::MAX, f64::min);
        let sideways = reach_mm + setting.offset_mm.abs() + setting.eccentricity_mm;
        Self {
            turned,
            heights: outline.points.iter().map(|p| p.height).collect(),
            blocks: blocks.collect(),
            surface: outline.surface,
            reach_mm,
            reach_angle: (sideways / lowest).clamp(0.0, 1.0).asin(),
        }
    }

    /// The height of the tip's end at one angle of the spindle.
    fn rest(&self, theta: f64, setting: &Setting) -> f64 {
        let to = theta - setting.eccentric_at;
        let e = setting.eccentricity_mm;
        let (ex, outwards) = (e * to.sin(), e * to.cos());
        let ey = match self.surface {
            Surface::Radial => outwards,
            // Moved sideways, the tool brings a part of its face nearer to its axis under the probe,
            // which stands as much higher as the face falls away outwards.
            Surface::Axial => outwards / setting.face_to_axis.tan(),
        };
        let shift = setting.offset_mm - ex;
        let mut best = f64::MIN;
        let count = self.blocks.len();
        let turned = (theta - setting.outline_at).rem_euclid(TAU) + setting.outline_at;
        let under = self.blocks.partition_point(|block| block.middle < turned);
        let mut out_of_reach = 0;
        for k in 0..count {
            // From under the probe outwards, so that the best is met early and most are passed over.
            let away = k.div_ceil(2);
            let i = if k % 2 == 1 {
                (under + away) % count
            } else {
                (under + count - away) % count
            };
            let block = &self.blocks[i];
            match self.bound(block, theta, shift, setting) {
                Some(bound) if bound + ey > best => {
                    best = best.max(self.rest_on(block, theta, shift, setting) + ey);
                }
                Some(_) => {}
                None => out_of_reach += 1,
            }
            // Blocks lie by angle, so what follows on either side is farther still.
            if out_of_reach > 4 && best > f64::MIN {
                break;
            }
        }
        best
    }

    /// What a block could at most hold the tip up to; `None` where it is out of reach.
    fn bound(&self, block: &Block, theta: f64, shift: f64, setting: &Setting) -> Option<f64> {
        let away = ((theta - block.middle + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0).abs();
        let least = (away - block.half).max(0.0);
        if least > self.reach_angle {
            return None;
        }
        let across = (block.closest * least.sin() - shift.abs()).max(0.0);
        let along = match self.surface {
            Surface::Radial => block.highest * least.cos(),
            Surface::Axial => block.highest,
        };
        Some(along + under_tip(setting, across))
    }

    fn rest_on(&self, block: &Block, theta: f64, shift: f64, setting: &Setting) -> f64 {
        let (sin, cos) = theta.sin_cos();
        let place = |i: usize| {
            let (px, py) = self.turned[i];
            let along = cos * py + sin * px;
            let height = match self.surface {
                Surface::Radial => along,
                Surface::Axial => self.heights[i],
            };
            (sin * py - cos * px - shift, height, along)
        };
        if setting.tip == Tip::Point {
            let mut best = f64::MIN;
            for i in block.start..block.end {
                let (x0, y0, along) = place(i);
                let (x1, y1, _) = place((i + 1) % self.turned.len());
                if along > 0.0 && (x0 <= 0.0) != (x1 <= 0.0) {
                    best = best.max(y0 + (y1 - y0) * x0 / (x0 - x1));
                }
            }
            return best;
        }
        (block.start..block.end)
            .map(place)
            .filter(|(x, _, along)| x.abs() <= self.reach_mm && *along > 0.0)
            .map(|(x, y, _)| y + under_tip(setting, x))
            .fold(f64::MIN, f64::max)
    }
}

/// How far the tip's end hangs below its height at distance `x` from its line (never positive).
fn under_tip(setting: &Setting, x: f64) -> f64 {
    match setting.tip {
        Tip::Ball => {
            // Over an edge that falls away outwards, a ball's section across it is as round as ever,
            // but stands askew to the probe.
            let p = setting.radius_mm;
            ((p * p - x * x).max(0.0).sqrt() - p) / setting.face_to_axis.sin()
        }
        Tip::Flat | Tip::Point => 0.0,
    }
}
