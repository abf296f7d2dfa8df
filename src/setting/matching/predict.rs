//! The figures of a new surface, and whether they are what is wanted.

use super::Face;
use super::draws::Spreads;
use super::search::{At, Search};
use crate::card::{Limit, Name};
use crate::judge::{COVERAGE_95, Draws, Outcome, guard_factor};
use crate::quantity::{Angle, Length};
use std::f64::consts::TAU;

/// A figure of the surface that a setting leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct Predicted {
    /// Which of the faces.
    pub face: usize,
    /// Which of its lands; nothing for the whole feature.
    pub land: Option<usize>,
    /// What it is; nothing for the diameter that is left, in mm.
    pub name: Option<Name>,
    /// In the unit of results.
    pub value: f64,
    /// Standard uncertainty, in the same unit.
    pub standard_uncertainty: f64,
    /// The interval that holds it 95 times in 100.
    pub interval: [f64; 2],
    /// The card's limit.
    pub limit: Option<Limit>,
    /// Against that limit, as a measured figure would be judged.
    pub outcome: Option<Outcome>,
    /// What it does for 1 of the throw's gain, for a degree of the cam angle, and for 1 of the stock
    /// that comes off over what is fed in.
    pub by: [f64; 3],
}

/// A figure as computed for one setting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    pub face: usize,
    pub land: Option<usize>,
    pub name: Option<Name>,
    pub value: f64,
}

/// Limits that a new surface is to keep.
pub(super) struct Wanted {
    each: Vec<(usize, Option<usize>, Name, Limit)>,
    /// By how much above each least and below each most, in the unit of results.
    guards: Vec<[f64; 2]>,
    /// Whether they are judged after the grind, by figures with an uncertainty of their own.
    judged: bool,
    /// Where the scales may really stand beside what is set: parts of the gain, radians of the cam angle.
    astray: Vec<(f64, f64)>,
}

/// Figures that the setting of a throw and of a cam angle moves.
const MOVED: [Name; 5] = [
    Name::HeelClearance,
    Name::ReliefAngle,
    Name::Drop,
    Name::TotalRelief,
    Name::EdgeSpread,
];

impl Wanted {
    /// The card's limits on what a setting moves.
    pub fn of_card(faces: &[Face]) -> Self {
        let mut each = Vec::new();
        for (face, of) in faces.iter().enumerate().filter(|(_, of)| of.predicts) {
            for name in MOVED {
                let Some(limit) = of.feature.limits.get(name) else {
                    continue;
                };
                match name {
                    Name::EdgeSpread => each.push((face, None, name, limit)),
                    _ => {
                        each.extend((0..of.lands.len()).map(|land| (face, Some(land), name, limit)))
                    }
                }
            }
        }
        Self {
            judged: true,
            ..Self::unguarded(each)
        }
    }

    /// The drop of each land as it was: that of the cam where it comes nearest to the old lands, since
    /// the drop of a worn land was read from a worn edge. And nothing may drag, whatever it was.
    pub fn as_it_was(search: &Search, nearest: At, band: f64) -> Self {
        let mut each = Vec::new();
        for figure in figures(search, nearest, 0.0) {
            let Some(name) = figure.name else { continue };
            let limit = match name {
                Name::Drop => Limit {
                    min: Some(figure.value * (1.0 - band)),
                    max: Some(figure.value * (1.0 + band)),
                },
                Name::HeelClearance => Limit {
                    min: Some(0.0),
                    max: None,
                },
                _ => continue,
            };
            each.push((figure.face, figure.land, name, limit));
        }
        Self::unguarded(each)
    }

    fn unguarded(each: Vec<(usize, Option<usize>, Name, Limit)>) -> Self {
        Self {
            guards: vec![[0.0; 2]; each.len()],
            each,
            judged: false,
            astray: Vec::new(),
        }
    }

    /// Asks for the limits to be kept wherever the scales may stand. A figure that bends sharply near a
    /// setting, as where a cam begins to rise, has no guard band that would tell.
    pub fn wherever_scales_stand(&mut self, search: &Search, confidence: f64) {
        let doubts = &search.cut.doubts;
        /// All limits are to be kept at once: by a fifth more than each alone would ask for.
        const MORE: f64 = 1.2;
        let factor = MORE * guard_factor(confidence).unwrap_or(1.645);
        let index = search.cut.fixture.cam_graduation.map_or(0.0, Angle::rad) / 12f64.sqrt();
        let gain = factor * doubts.gain;
        let cam = factor * doubts.cam_angle.rad().hypot(index);
        self.astray = vec![(-gain, 0.0), (gain, 0.0), (0.0, -cam), (0.0, cam)];
    }

    /// Keeps away from each limit by the guard band that a judgement would ask for: of what is predicted,
    /// and of what will be measured.
    pub fn guard(&mut self, search: &Search, at: At, spreads: &Spreads, confidence: f64) {
        let factor = guard_factor(confidence).unwrap_or(1.645);
        let nominal = figures(search, at, 0.0);
        for ((face, land, name, limit), guard) in self.each.iter().zip(&mut self.guards) {
            let key = (*face, *land, Some(*name));
            let face = search.cut.faces.get(*face).filter(|_| self.judged);
            let mut measured = face.iter().flat_map(|face| &face.measured);
            let measured = measured.find(|(measured, _)| measured == name);
            let measured = factor * measured.map_or(0.0, |(_, u)| *u);
            let of_it = |it: &&Figure| (it.face, it.land, it.name) == key;
            let spread = spreads.of(key.0, key.1, key.2);
            let (more, reach) = match (nominal.iter().find(of_it), spread) {
                (Some(figure), Some(spread)) => (
                    on_average(figure, spread) - figure.value,
                    [1.0 - confidence, confidence]
                        .map(|share| (spread.quantile(share) - spread.mean()).abs()),
                ),
                _ => (0.0, [0.0; 2]),
            };
            // Between two limits there is no more room than half of what is between them.
            let room = match (limit.min, limit.max) {
                (Some(min), Some(max)) => (max - min) * 0.45,
                _ => f64::INFINITY,
            };
            *guard = reach.map(|reach| (more.abs() + reach.hypot(measured)).min(room));
        }
    }

    /// How far inside the limit that is nearest; below 0 outside of it. Each is told in parts of its own
    /// limits' width or size, so that mm and degrees compare.
    pub fn inside(&self, search: &Search, at: At) -> f64 {
        self.inside_by(search, at, 1.0)
    }

    /// The same with so much of each guard band.
    fn inside_by(&self, search: &Search, at: At, share: f64) -> f64 {
        let figures = figures(search, at, 0.0);
        let each = self.each.iter().zip(&self.guards);
        let inside = each.filter_map(|((face, land, name, limit), guard)| {
            let [above, below] = guard.map(|guard| guard * share);
            let of_it = |figure: &&Figure| {
                (figure.face, figure.land, figure.name) == (*face, *land, Some(*name))
            };
            let value = figures.iter().find(of_it)?.value;
            let scale = match (limit.min, limit.max) {
                (Some(min), Some(max)) => max - min,
                (Some(only), None) | (None, Some(only)) => only.abs().max(0.01),
                (None, None) => 1.0,
            };
            let low = limit.min.map_or(f64::INFINITY, |min| value - min - above);
            let high = limit.max.map_or(f64::INFINITY, |max| max - value - below);
            Some(low.min(high) / scale.max(1e-9))
        });
        inside.fold(f64::INFINITY, f64::min)
    }

    /// Whether all are kept.
    pub fn is_kept(&self, search: &Search, at: At) -> bool {
        let mut astray = self.astray.iter().map(|(gain, cam)| At {
            gain: at.gain * (1.0 + gain),
            cam: at.cam + cam,
            ..at
        });
        self.inside(search, at) >= 0.0 && astray.all(|at| self.inside_by(search, at, 0.0) >= 0.0)
    }

    /// By how much the worst is missed, 0 where all are kept.
    pub fn short(&self, search: &Search, at: At) -> f64 {
        -self.inside(search, at).min(0.0)
    }

    /// Those that are missed, each figure once a face with its worst value.
    pub fn broken(&self, search: &Search, at: At) -> Vec<(usize, Name, f64)> {
        let figures = figures(search, at, 0.0);
        let mut broken: Vec<(usize, Name, f64)> = Vec::new();
        for (face, land, name, limit) in &self.each {
            let of_it = |figure: &&Figure| {
                (figure.face, figure.land, figure.name) == (*face, *land, Some(*name))
            };
            let Some(value) = figures.iter().find(of_it).map(|figure| figure.value) else {
                continue;
            };
            let missed = limit.min.is_some_and(|min| value < min)
                || limit.max.is_some_and(|max| value > max);
            let known = broken.iter().any(|it| (it.0, it.1) == (*face, *name));
            if missed && !known {
                broken.push((*face, *name, value));
            }
        }
        broken
    }
}

/// Every figure of the surface that a setting leaves after an in-feed, counted from where the unmoved
/// surface would have radius 0.
pub(super) fn figures(search: &Search, at: At, fed: f64) -> Vec<Figure> {
    let faces = search.cut.faces.iter().enumerate();
    faces
        .filter(|(_, of)| of.predicts)
        .flat_map(|(face, of)| of_face(search, face, of, at, fed))
        .collect()
}

fn of_face(search: &Search, face: usize, of: &Face, at: At, fed: f64) -> Vec<Figure> {
    let mut figures = Vec::new();
    let mut highest = f64::NEG_INFINITY;
    let mut lowest = f64::INFINITY;
    for (index, land) in of.lands.iter().enumerate() {
        let edge = land.edge.rad();
        let under = |behind: f64| search.below(face, at, edge + behind);
        let level = under(0.0);
        highest = highest.max(-level);
        lowest = lowest.min(-level);
        let radius = of.radius.mm();
        let check = of.feature.check_distance.mm() / radius;
        let fed_rise = of.feature.feed.map_or(0.0, Length::mm) / TAU;
        let end = land.end.rad();
        let steps = (end / STEP).ceil().max(1.0) as usize;
        let arcs = (0..=steps).map(|at| end * at as f64 / steps as f64);
        let (mut total, mut clearance) = (0.0f64, f64::INFINITY);
        for arc in arcs.chain(std::iter::once(check.min(end))) {
            let drop = under(arc) - level;
            total = total.max(drop);
            if arc >= check {
                clearance = clearance.min(drop - fed_rise * arc);
            }
        }
        // A derivative from behind the edge alone, right to second order.
        let slope = (-3.0 * level + 4.0 * under(SLOPE) - under(2.0 * SLOPE)) / (2.0 * SLOPE);
        let of_land = |name, value: f64| Figure {
            face,
            land: Some(index),
            name: Some(name),
            value,
        };
        figures.push(of_land(
            Name::ReliefAngle,
            (slope / radius).atan().to_degrees(),
        ));
        if check <= end {
            figures.push(of_land(Name::Drop, under(check) - level));
            figures.push(of_land(Name::HeelClearance, clearance));
        }
        figures.push(of_land(Name::TotalRelief, total));
    }
    let of_feature = |name, value| Figure {
        face,
        land: None,
        name,
        value,
    };
    figures.push(of_feature(Some(Name::EdgeSpread), highest - lowest));
    if of.feature.surface == crate::card::Surface::Radial {
        figures.push(of_feature(None, 2.0 * (of.level.mm() + highest - fed)));
    }
    figures
}

/// Whether a limit will be kept as surely as a judgement asks: by the draws themselves, since a figure
/// next to where a cam begins to rise is spread to one side far more than to the other. `moved` brings
/// the draws to where the figure is told.
fn outcome(spread: &Draws, moved: f64, limit: Limit, confidence: f64) -> Outcome {
    let least = limit.min.map_or(0.0, |min| spread.share_below(min - moved));
    let most = limit
        .max
        .map_or(0.0, |max| 1.0 - spread.share_up_to(max - moved));
    match least + most {
        outside if outside <= 1.0 - confidence => Outcome::Pass,
        outside if outside >= confidence => Outcome::Fail,
        _ => Outcome::Undecided,
    }
}

/// What a figure is on average. Whatever is not known of edges sets them apart, and never nearer to each
/// other than level; every other figure is off both ways alike.
fn on_average(figure: &Figure, spread: &Draws) -> f64 {
    match figure.name {
        Some(Name::EdgeSpread) => spread.mean(),
        _ => figure.value,
    }
}

/// Lands are looked at this finely.
const STEP: f64 = 0.5 / 180.0 * std::f64::consts::PI;
/// The slope at the edge is taken over this: a degree, over which no cam bends.
const SLOPE: f64 = 1.0 / 180.0 * std::f64::consts::PI;

/// Every figure with each setting moved by a little.
struct Moved {
    gain: (f64, Vec<Figure>),
    cam: (f64, Vec<Figure>),
    fed: (f64, Vec<Figure>),
}

impl Moved {
    /// A feed counts from the first touch, which is elsewhere where the scales are.
    fn of(search: &Search, at: At, skim: f64) -> Self {
        /// A hundredth of the gain, half a degree, a tenth of the feed: what scales may be off by.
        const GAIN: f64 = 0.01;
        const CAM_DEG: f64 = 0.5;
        const FEED: f64 = 0.1;
        let opened = At {
            gain: at.gain * (1.0 + GAIN),
            ..at
        };
        let ahead = At {
            cam: at.cam + CAM_DEG.to_radians(),
            ..at
        };
        let moved = |at: At, share: f64| figures(search, at, fed(search, at, share * skim));
        Self {
            gain: (GAIN, moved(opened, 1.0)),
            cam: (CAM_DEG, moved(ahead, 1.0)),
            fed: (FEED, moved(at, 1.0 + FEED)),
        }
    }

    fn by(&self, index: usize, figure: &Figure) -> [f64; 3] {
        [&self.gain, &self.cam, &self.fed].map(|(step, moved)| {
            let moved = moved.get(index).map_or(figure.value, |it| it.value);
            (moved - figure.value) / step
        })
    }
}

/// Where the wheel stands after a skim, which counts from the first touch. That is found late by half a
/// step on average.
fn fed(search: &Search, at: At, skim: f64) -> f64 {
    let (touch, _) = search.ends(at);
    touch.1 + skim + search.cut.step.mm() / 2.0
}

/// The figures with their doubts, judged.
pub(super) fn told(
    search: &Search,
    at: At,
    skim: Length,
    spreads: &Spreads,
    confidence: f64,
) -> Vec<Predicted> {
    let all = figures(search, at, fed(search, at, skim.mm()));
    let moved = Moved::of(search, at, skim.mm());
    let told = all.into_iter().enumerate().map(|(index, figure)| {
        let feature = search.cut.faces.get(figure.face).map(|face| face.feature);
        let limit = match figure.name {
            Some(name) => feature.and_then(|feature| feature.limits.get(name)),
            None => feature.and_then(|feature| {
                feature.least_diameter.map(|least| Limit {
                    min: Some(least.mm()),
                    max: None,
                })
            }),
        };
        let spread = spreads.of(figure.face, figure.land, figure.name);
        let u = spread.map_or(0.0, Draws::standard_uncertainty);
        let shift = spread.map_or(0.0, Draws::mean);
        let value = spread.map_or(figure.value, |it| on_average(&figure, it));
        let interval = spread.map_or([value; 2], |it| it.symmetric_interval(COVERAGE_95));
        let interval = interval.map(|end| end - shift + value);
        Predicted {
            face: figure.face,
            land: figure.land,
            name: figure.name,
            value,
            standard_uncertainty: u,
            interval,
            limit,
            outcome: limit
                .zip(spread)
                .map(|(limit, spread)| outcome(spread, value - shift, limit, confidence)),
            by: moved.by(index, &figure),
        }
    });
    told.collect()
}
