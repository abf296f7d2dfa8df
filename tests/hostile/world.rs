//! A whole inspection: the true tool and bench, and, apart from them, what the cards say.

use super::bench::{Bench, Readings, ScaleError};
use super::brute::{Heights, Point, Tip};
use super::hand::{Hand, Path};
use super::land::{Extra, Ground, Tooth, made};
use super::truth::{Asked, FeatureTruth, of};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

/// The true tool's judged feature.
#[derive(Clone, Debug)]
pub struct Tool {
    pub teeth: Vec<Tooth>,
    /// Of the edge circle, or of the probe's circle on a face.
    pub radius_mm: f64,
    pub axial: bool,
    pub gap_mm: f64,
    /// An end face's own slope: it rises by its tangent away from the axis.
    pub cone_deg: f64,
    /// How far the feature gets smaller towards the shank.
    pub taper_deg: f64,
}

/// A round of the same clamping.
#[derive(Clone, Debug)]
pub struct Reference {
    pub radius_mm: f64,
    pub z_mm: f64,
    /// Driving flats, as `(where in degrees, how deep)`.
    pub flats: Vec<(f64, f64)>,
    /// Its lobes, as `(waves a turn, size, phase)`.
    pub lobes: Vec<(f64, f64, f64)>,
    /// Its own centre beside the tool's axis.
    pub beside: Point,
    pub hand: Hand,
}

/// What the cards say, whatever is true.
#[derive(Clone, Debug)]
pub struct Stated {
    pub hand: &'static str,
    pub flutes: usize,
    pub diameter_mm: f64,
    pub check_mm: f64,
    pub land_deg: Option<f64>,
    pub feed_mm: Option<f64>,
    pub curve: Option<&'static str>,
    /// As `(key of the card, name in results, least, most)`.
    pub limits: Vec<(&'static str, &'static str, Option<f64>, Option<f64>)>,
    pub resolution_mm: f64,
    /// What a count is worth, where the card says.
    pub count_mm: Option<f64>,
    pub travel_mm: Option<f64>,
    pub max_error_mm: f64,
    pub hysteresis_mm: f64,
    pub lever_deg: f64,
    pub tip: Tip,
    pub counts_per_rev: f64,
    pub sense: Sense,
    pub offset_mm: f64,
    pub offset_tolerance_mm: f64,
    /// Growth of the eccentricity over a length, proven with a test bar.
    pub lean: Option<(f64, f64)>,
    pub runout_mm: Option<f64>,
    pub delay_ms: Option<f64>,
    /// Lengths of cards and traces in inches.
    pub inches: bool,
    /// Further lines of cards, as `(card, table, line)`, written where the reader knows them.
    pub more: Vec<(&'static str, &'static str, String)>,
}

/// What the gauge card says of the turning sense.
#[derive(Clone, Copy, Debug)]
pub enum Sense {
    /// In the words of older cards: whether the angle grows as the tool cuts.
    Relative { cutting: bool },
    /// As the encoder stands, seen from the driven end, and whether it was proven.
    Physical { clockwise: bool, proven: bool },
}

/// One inspection.
#[derive(Clone, Debug)]
pub struct Inspection {
    pub tool: Tool,
    pub bench: Bench,
    pub stated: Stated,
    /// The tool's axis beside the spindle's at its front, turning with the tool.
    pub off_axis: Point,
    /// How much that grows a millimetre towards the shank.
    pub lean: Point,
    pub references: Vec<Reference>,
    /// Where the feature is traced.
    pub z_mm: Vec<f64>,
    pub hand: Hand,
}

impl Inspection {
    pub fn ground(&self) -> Ground {
        Ground {
            radius_mm: self.tool.radius_mm,
            axial: self.tool.axial,
            gap_mm: self.tool.gap_mm,
        }
    }

    pub fn truth(&self) -> FeatureTruth {
        let asked = Asked {
            check_mm: self.stated.check_mm,
            feed_mm: self.stated.feed_mm.unwrap_or(0.0),
        };
        of(&self.tool.teeth, &self.ground(), asked)
    }

    /// Where the tool's axis is at this distance from its front.
    pub fn axis_at(&self, z_mm: f64) -> Point {
        [0, 1].map(|way| self.off_axis[way] + self.lean[way] * z_mm)
    }

    /// The encoder's angle at which the probe meets what stands at this place of the tool.
    pub fn shown_deg(&self, place_deg: f64) -> f64 {
        let way = if self.bench.grows_cutting { 1.0 } else { -1.0 };
        (way * place_deg).rem_euclid(360.0)
    }

    /// Readings of a burr or a ridge that stand above their own edge by half of what it does, and of a
    /// heel that curls up those within 8 µm of the edge; `None` where there is none on the tool.
    pub fn shown(&self, traces: &[Readings]) -> Option<usize> {
        let stands = |extra: &Extra| match extra {
            Extra::Burr { above_edge_mm, .. } | Extra::Ridge { above_edge_mm, .. } => {
                Some(0.5 * above_edge_mm).filter(|above| *above > 0.0)
            }
            Extra::Curl { above_edge_mm, .. } => Some(-0.008).filter(|_| *above_edge_mm > 0.0),
            _ => None,
        };
        let burred: Vec<(&Tooth, f64)> = self
            .tool
            .teeth
            .iter()
            .filter_map(|tooth| Some((tooth, tooth.extras.iter().find_map(stands)?)))
            .collect();
        if burred.is_empty() {
            return None;
        }
        // As it would be without runout, with and without what stands there.
        let still = Self {
            off_axis: [0.0; 2],
            lean: [0.0; 2],
            ..self.clone()
        };
        let mut bare = still.clone();
        for tooth in &mut bare.tool.teeth {
            tooth.extras.retain(|extra| stands(extra).is_none());
        }
        let (with, without) = (
            still.feature_heights(self.z_mm[0]),
            bare.feature_heights(self.z_mm[0]),
        );
        let base = if self.tool.axial {
            0.0
        } else {
            self.tool.radius_mm
        };
        let shows = |place: &&f64| {
            let (high, low) = (with.at(**place), without.at(**place));
            let behind = |tooth: &Tooth| (place.to_degrees() - tooth.at_deg).rem_euclid(360.0);
            burred.iter().any(|(tooth, least)| {
                let on_land = behind(tooth) < tooth.land_deg + 5.0;
                on_land && high - low > 0.001 && high > base + tooth.raised_mm + least
            })
        };
        let of_feature = traces.iter().skip(self.references.len());
        Some(
            of_feature
                .flat_map(|trace| &trace.places)
                .filter(shows)
                .count(),
        )
    }

    /// Every trace in the order of the inspection card: the references, then the feature.
    pub fn traces(&self, seed: u64) -> Vec<Readings> {
        let mut rng = Pcg64::seed_from_u64(seed ^ 0x5eed);
        let error = ScaleError::within(self.bench.wander_mm, &mut rng);
        let start = rng.random_range(0.0..360.0);
        let mut traces = Vec::new();
        for reference in &self.references {
            let heights = self.reference_heights(reference);
            let path = Path::of(&reference.hand, start, &mut rng);
            // All traces share the indicator's zero; a face has one of its own.
            let over = if self.tool.axial {
                reference.radius_mm
            } else {
                self.tool.radius_mm
            };
            let zero = over - 0.5;
            traces.push(
                self.bench
                    .read(&path, |angle| heights.at(angle) - zero, &error, &mut rng),
            );
        }
        for z in &self.z_mm {
            let heights = self.feature_heights(*z);
            let path = Path::of(&self.hand, start, &mut rng);
            let zero = if self.tool.axial {
                -0.5
            } else {
                self.tool.radius_mm - 0.5
            };
            traces.push(
                self.bench
                    .read(&path, |angle| heights.at(angle) - zero, &error, &mut rng),
            );
        }
        traces
    }

    /// The feature's points as `(height, angle)`, with the floors of its gaps.
    fn section(&self) -> Vec<[f64; 2]> {
        /// How near the points of a floor lie.
        const FLOOR_RAD: f64 = 0.002;
        let teeth: Vec<Vec<[f64; 2]>> = self
            .tool
            .teeth
            .iter()
            .map(|tooth| made(tooth, &self.ground()).points)
            .collect();
        let mut section = Vec::new();
        for (number, points) in teeth.iter().enumerate() {
            let turns = if number + 1 == teeth.len() { TAU } else { 0.0 };
            let next = teeth[(number + 1) % teeth.len()][0];
            section.extend(points);
            let [height, from] = points[points.len() - 1];
            let room = next[1] + turns - from;
            let steps = (room / FLOOR_RAD).max(0.0) as usize;
            section.extend((1..steps).map(|step| {
                let share = step as f64 / steps as f64;
                [height + share * (next[0] - height), from + share * room]
            }));
        }
        section
    }

    fn reference_heights(&self, reference: &Reference) -> Heights {
        let count = (TAU * reference.radius_mm / 0.004) as usize;
        let section: Vec<[f64; 2]> = (0..count)
            .map(|n| {
                let angle = TAU * n as f64 / count as f64;
                let lobes = reference
                    .lobes
                    .iter()
                    .map(|(waves, size, phase)| size * (waves * angle + phase).cos());
                let round = reference.radius_mm + lobes.sum::<f64>();
                let flats = reference.flats.iter().map(|(at, depth)| {
                    let towards = (angle - at.to_radians()).cos();
                    if towards > 0.01 {
                        (reference.radius_mm - depth) / towards
                    } else {
                        f64::MAX
                    }
                });
                [flats.fold(round, f64::min), angle]
            })
            .collect();
        let axis = self.axis_at(reference.z_mm);
        let axis = [axis[0] + reference.beside[0], axis[1] + reference.beside[1]];
        Heights::radial(&section, axis, self.bench.tip, self.bench.aside_mm)
    }

    fn feature_heights(&self, z_mm: f64) -> Heights {
        let smaller = (z_mm - self.z_mm[0]) * self.tool.taper_deg.to_radians().tan();
        let mut section = self.section();
        let axis = self.axis_at(z_mm);
        if self.tool.axial {
            let face: Vec<[f64; 2]> = section
                .iter()
                .map(|point| self.face_point(*point, axis))
                .collect();
            // A ball is round in the section across an edge, which stands askew to the axis.
            let askew = self.tool.cone_deg.to_radians().cos();
            let across: Vec<[f64; 2]> = face.iter().map(|[h, at]| [h * askew, *at]).collect();
            return Heights::unrolled(&across, self.tool.radius_mm, self.bench.tip)
                .stretched(askew.recip());
        }
        for point in &mut section {
            point[0] -= smaller;
        }
        Heights::radial(&section, axis, self.bench.tip, self.bench.aside_mm)
    }

    /// A point of an end face as the probe's circle about the spindle meets it: moved along the arc
    /// and, on a cone, in height; a tool that leans swashes as well.
    fn face_point(&self, [height, at]: [f64; 2], axis: Point) -> [f64; 2] {
        let circle = self.tool.radius_mm;
        let (sin, cos) = at.sin_cos();
        let along = sin * axis[0] + cos * axis[1];
        let off = axis[0].powi(2) + axis[1].powi(2);
        let out = -along + (along.powi(2) + circle.powi(2) - off).sqrt();
        let place = [out * sin + axis[0], out * cos + axis[1]];
        let cone = (out - circle) * self.tool.cone_deg.to_radians().tan();
        let swash = self.lean[0] * place[0] + self.lean[1] * place[1];
        let turned = place[0].atan2(place[1]);
        let near = at + (turned - at + std::f64::consts::PI).rem_euclid(TAU) - std::f64::consts::PI;
        [height + cone + swash, near]
    }
}
