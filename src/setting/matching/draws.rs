//! What is not known exactly, drawn: the skim that is enough, and the spread of each figure.

use super::predict::{self, Figure};
use super::search::{At, Placed, Search};
use super::{Cut, Face};
use crate::card::Name;
use crate::judge::Draws;
use crate::numeric::random::gauss;
use crate::quantity::{Angle, Length};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// What of a match is not known exactly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubts {
    /// Limit of the indicator's error.
    pub indicator: Length,
    /// Standard uncertainty of each coordinate of the tool's axis in the spindle.
    pub axis: Length,
    /// Standard uncertainty of the gain of the throw, beside its graduation and play.
    pub gain: f64,
    /// Standard uncertainty of the cam angle, beside its graduation.
    pub cam_angle: Angle,
    /// Standard uncertainty of a diameter, for what the card's diameter is known to.
    pub diameter: Length,
    /// Standard uncertainty of the angle between two edges.
    pub edge: Angle,
    /// Mean radius of an edge's rounding that was not seen.
    pub rounding: Length,
}

/// The in-feed after first touch that cleans up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sure {
    /// Its standard uncertainty.
    pub standard_uncertainty: Length,
    /// Enough in 95 of 100 cases, in whole steps of the in-feed.
    pub enough: Length,
}

/// Spreads of figures over the trials.
pub(super) struct Spreads {
    each: Vec<(Key, Draws)>,
}

/// A figure's face, land and name.
type Key = (usize, Option<usize>, Option<Name>);

impl Spreads {
    pub fn of(&self, face: usize, land: Option<usize>, name: Option<Name>) -> Option<&Draws> {
        let found = self.each.iter().find(|(key, _)| *key == (face, land, name));
        found.map(|(_, draws)| draws)
    }
}

/// Trials for the quantile of a skim: its share above 95 % is known to 0.5 % (`sqrt(p q / n)`).
const TRIALS: usize = 2000;
/// Trials for the spread of figures: a standard deviation is known to 4 % (`1 / sqrt(2 n)`).
const FIGURE_TRIALS: usize = 300;
/// Draws are the same each time, so that a sheet is.
const SEED: u64 = 13;
/// The probability with which a printed skim cleans up.
const CLEANS_UP: f64 = 0.95;

/// One trial: the setting as it may stand, and what the old lands may be.
struct Trial {
    at: At,
    /// Error of the indicator from one end of the heights to the other, and its bow between.
    tilt: f64,
    bow: f64,
    axis: [f64; 2],
    /// How far each face stands off what its card says of it, where several are ground at once.
    steps: Vec<f64>,
}

impl Trial {
    fn draw(search: &Search, at: At, rng: &mut Pcg64) -> Self {
        let doubts = &search.cut.doubts;
        let fixture = search.cut.fixture;
        let per_throw = search.cut.throw_gain / search.cut.motion.throw.mm();
        let mut even = |half: f64| half * (2.0 * rng.random::<f64>() - 1.0);
        let play = fixture.play.map_or(0.0, Length::mm);
        let mut scale = || even(fixture.graduation.mm() / 2.0) + even(play / 2.0);
        let set = scale();
        // The throw of a trace was read on the same scale, and is off as much.
        let traced_at = match search.cut.motion.traced {
            true => scale() / search.cut.motion.throw.mm(),
            false => 0.0,
        };
        let index = even(fixture.cam_graduation.map_or(0.0, Angle::rad) / 2.0);
        let tilt = even(doubts.indicator.mm());
        let bow = even(doubts.indicator.mm());
        // The motion was read by the same indicator, elsewhere on its range.
        let motion_bow = match search.cut.motion.traced {
            true => even(doubts.indicator.mm() / 2.0),
            false => 0.0,
        };
        let gain = at.gain * (1.0 + doubts.gain * gauss(rng) - traced_at) + set * per_throw;
        let axis = [doubts.axis.mm() * gauss(rng), doubts.axis.mm() * gauss(rng)];
        let steps = steps(&search.cut.faces, doubts.diameter.mm() / 2.0, rng);
        Self {
            at: At {
                gain,
                cam: at.cam + index + doubts.cam_angle.rad() * gauss(rng),
                bow: motion_bow,
            },
            tilt,
            bow,
            axis,
            steps,
        }
    }

    /// What the tool's axis adds at an angle.
    fn runs_out(&self, angle: f64) -> f64 {
        let (sin, cos) = angle.sin_cos();
        self.axis[0] * cos + self.axis[1] * sin
    }

    /// What a place may stand above the new surface.
    fn proud(&self, search: &Search, place: &Placed, heights: (f64, f64), rng: &mut Pcg64) -> f64 {
        let (least, span) = heights;
        let share = (place.height - least) / span;
        let read = self.tilt * share + self.bow * 4.0 * share * (1.0 - share);
        let axis = self.runs_out(place.angle);
        let step = self.steps.get(place.spot.face).copied().unwrap_or(0.0);
        let motion = search.cut.motion.scatter.mm() * self.at.gain;
        let scatter = place.scatter.hypot(motion) * gauss(rng);
        // The height has the likeliest rounding in it.
        let rounding = place
            .rounding
            .map_or(0.0, |rounding| rounding.draw(rng) - rounding.likeliest());
        search.proud(self.at, place) + read + axis + step + scatter - rounding
    }

    /// Greatest less least of the new edges of a face. Each is where its own edge was found, on a place
    /// of the motion that was read for itself.
    fn edge_spread(&self, search: &Search, face: usize, rng: &mut Pcg64) -> f64 {
        let lands = search.cut.faces.get(face);
        let lands = lands.map_or(&[][..], |face| &face.lands);
        let read = read_apart(search, self.at) / 2f64.sqrt();
        let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
        for land in lands {
            let edge = land.edge.rad();
            let found = edge + search.cut.doubts.edge.rad() * gauss(rng);
            let axis = self.runs_out(edge) * self.at.gain;
            let level = axis + read * gauss(rng) - search.below(face, self.at, found);
            ends = [ends[0].min(level), ends[1].max(level)];
        }
        (ends[1] - ends[0]).max(0.0)
    }
}

/// How far each face stands off what its card says: sections of one feature are read with one setting of
/// the indicator, and stand off together. One feature alone is what the wheel touches.
fn steps(faces: &[Face], step: f64, rng: &mut Pcg64) -> Vec<f64> {
    let first = |at: usize| {
        let name = |at: usize| faces.get(at).map(|face| &face.feature.name);
        (0..at)
            .find(|before| name(*before) == name(at))
            .unwrap_or(at)
    };
    let firsts: Vec<usize> = (0..faces.len()).map(first).collect();
    if firsts.iter().all(|first| *first == 0) {
        return vec![0.0; faces.len()];
    }
    let each: Vec<f64> = faces.iter().map(|_| step * gauss(rng)).collect();
    let of = |first: &usize| each.get(*first).copied().unwrap_or(0.0);
    firsts.iter().map(of).collect()
}

/// The in-feed that cleans up, with what is not known.
pub(super) fn skim(search: &Search, at: At, cut: &Cut) -> Sure {
    let mut rng = Pcg64::seed_from_u64(SEED);
    let heights = search.places.iter().map(|place| place.height);
    let least = heights.clone().fold(f64::INFINITY, f64::min);
    let most = heights.fold(f64::NEG_INFINITY, f64::max);
    let span = (most - least).max(1e-6);
    let skims = (0..TRIALS).map(|_| {
        let trial = Trial::draw(search, at, &mut rng);
        let mut low = f64::INFINITY;
        let mut high = f64::NEG_INFINITY;
        for place in &search.places {
            let proud = trial.proud(search, place, (least, span), &mut rng);
            if !place.beyond {
                low = low.min(proud);
            }
            high = high.max(proud);
        }
        high - low
    });
    let draws = Draws::new(skims.collect());
    let (enough, u) = draws.map_or((f64::NAN, f64::NAN), |draws| {
        let sorted = draws.sorted();
        let at = ((sorted.len() as f64 * CLEANS_UP).ceil() as usize).min(sorted.len() - 1);
        (sorted[at], draws.standard_uncertainty())
    });
    // To take that off, so much is fed in.
    let enough = (enough + cut.wear.mm()) / cut.feed;
    let in_steps = match cut.step.mm() {
        step if step > 0.0 => (enough / step - 1e-6).ceil() * step,
        _ => enough,
    };
    Sure {
        standard_uncertainty: Length::from_mm(u),
        enough: Length::from_mm(in_steps),
    }
}

/// The spread of every figure.
pub(super) fn figures(search: &Search, at: At) -> Spreads {
    let mut rng = Pcg64::seed_from_u64(SEED + 1);
    let diameter = search.cut.doubts.diameter.mm();
    let mut values: Vec<(Key, Vec<f64>)> = Vec::new();
    for _ in 0..FIGURE_TRIALS {
        let trial = Trial::draw(search, at, &mut rng);
        for figure in predict::figures(search, trial.at, 0.0) {
            let key = key(&figure);
            let value = match figure.name {
                // Where the wheel stands is told by the first touch on the old lands.
                // That touch is found in steps, anywhere within one.
                None => {
                    let step = search.cut.step.mm() * (2.0 * rng.random::<f64>() - 1.0);
                    figure.value + diameter * gauss(&mut rng) + step
                }
                Some(Name::EdgeSpread) => trial.edge_spread(search, figure.face, &mut rng),
                Some(name) => {
                    figure.value + read_off(search, trial.at, &figure, name) * gauss(&mut rng)
                }
            };
            match values.iter_mut().find(|(known, _)| *known == key) {
                Some((_, list)) => list.push(value),
                None => values.push((key, vec![value])),
            }
        }
    }
    let each = values.into_iter();
    Spreads {
        each: each
            .filter_map(|(key, list)| Some((key, Draws::new(list)?)))
            .collect(),
    }
}

/// What a motion that was traced leaves open of a figure, beside its scale, as a standard uncertainty:
/// any two of its places may be read apart by the limit of the indicator's error, evenly.
fn read_off(search: &Search, at: At, figure: &Figure, name: Name) -> f64 {
    let apart = read_apart(search, at);
    let check = search.cut.faces.get(figure.face);
    let check = check.map_or(1.0, |face| face.feature.check_distance.mm());
    match name {
        // A slope is that of the check distance: over less of it a scale's error turns no more.
        Name::ReliefAngle => (apart / check).to_degrees(),
        Name::Drop | Name::HeelClearance | Name::TotalRelief => apart,
        _ => 0.0,
    }
}

/// Standard uncertainty of how far apart two places of a motion were read, at a gain.
fn read_apart(search: &Search, at: At) -> f64 {
    match search.cut.motion.traced {
        true => search.cut.doubts.indicator.mm() / 3f64.sqrt() * at.gain,
        false => 0.0,
    }
}

fn key(figure: &Figure) -> Key {
    (figure.face, figure.land, figure.name)
}
