//! Waves of a reference beside its eccentricity: a round that is not round, or a spindle that is not
//! true. One clamping cannot tell the two apart.

use super::Eccentricity;
use super::round_arcs::{Place, Round};
use crate::quantity::{Angle, Length};
use nalgebra::{SMatrix, SVector};

/// Of so many waves in a turn each: an oval has two, a round ground between centres or without them
/// two to seven (common practice, no source).
const WAVES: [f64; 6] = [2.0, 3.0, 4.0, 5.0, 6.0, 7.0];
/// The round's mean and eccentricity, and two shares of each wave.
const UNKNOWNS: usize = 3 + 2 * WAVES.len();

/// Where arcs are missing waves and eccentricity look alike; then waves are taken for no larger than
/// some such size, in mm (common practice, no source).
const USUAL: f64 = 0.005;

/// By so much must the waves lessen the mean square of what is left, for each of them against one
/// that chance makes: Fisher's F with 12 and some 60 degrees of freedom is above 4 in one good
/// reference of 10,000, which leaves room for what is left not being quite independent.
const CLEARLY_WAVED: f64 = 4.0;

/// Waves of a round, as an indicator reads them.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lobes {
    waves: [Eccentricity; WAVES.len()],
}

/// A round fitted together with its waves.
pub(super) struct Lobed {
    pub round: Round,
    pub lobes: Lobes,
}

impl Lobes {
    /// What they add to a reading at an angle of the encoder.
    pub fn added(&self, angle: Angle) -> Length {
        let each = self.waves.iter().zip(WAVES);
        each.map(|(wave, number)| {
            let (sin, cos) = (number * angle.rad()).sin_cos();
            wave.x * cos + wave.y * sin
        })
        .sum()
    }

    /// Whether there are none.
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }

    /// From the lowest of them over the turn to the highest.
    pub fn swing(&self) -> Length {
        let places = (0..360).map(|at| self.added(Angle::from_deg(f64::from(at))));
        let (low, high) = places.fold((Length::ZERO, Length::ZERO), |(low, high), at| {
            (low.min(at), high.max(at))
        });
        high - low
    }

    /// How many waves a turn the largest of them has.
    pub fn most(&self) -> u32 {
        let each = self.waves.iter().zip(WAVES);
        let largest = each.max_by(|a, b| a.0.size().total_cmp(&b.0.size()));
        largest.map_or(0, |(_, number)| number as u32)
    }

    /// The same with every length multiplied.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            waves: self.waves.map(|wave| Eccentricity {
                x: wave.x * factor,
                y: wave.y * factor,
            }),
        }
    }
}

/// Fits waves beside the round to the places that lie on it. `off` is what each of them lies off
/// `round`, nothing where it was left out; `least` is what steps of the indicator alone may draw.
///
/// Nothing where the places show no waves beyond chance and steps. `alike` gives over how many
/// neighbours what is left hangs together.
pub(super) fn lobes(
    places: &[Place],
    off: &[Option<f64>],
    round: &Round,
    least: Length,
    alike: impl Fn(&[Option<f64>]) -> f64,
) -> Option<Lobed> {
    let count = off.iter().flatten().count() as f64;
    let before: f64 = off.iter().flatten().map(|off| off * off).sum();
    let scatter = before / (count - 3.0).max(1.0);
    let (found, left) = fitted(places, off, scatter / (USUAL * USUAL))?;
    let after: f64 = left.iter().flatten().map(|off| off * off).sum();
    let independent = count / alike(&left);
    let each = (before - after) / (UNKNOWNS - 3) as f64;
    let chance = after / count * (count / (independent - UNKNOWNS as f64).max(1.0));
    let lobes = Lobes {
        waves: std::array::from_fn(|at| Eccentricity {
            x: Length::from_mm(found[3 + 2 * at]),
            y: Length::from_mm(found[4 + 2 * at]),
        }),
    };
    let seen = each > CLEARLY_WAVED * chance && lobes.swing() > least;
    seen.then(|| Lobed {
        round: Round {
            mean: round.mean + found[0],
            x: round.x + found[1],
            y: round.y + found[2],
        },
        lobes,
    })
}

/// The squares that a round with waves leaves of the places that lie on it.
pub(super) fn left(places: &[Place], off: &[Option<f64>]) -> Option<f64> {
    let (_, left) = fitted(places, off, 0.0)?;
    Some(left.iter().flatten().map(|off| off * off).sum())
}

type Fitted = (SVector<f64, UNKNOWNS>, Vec<Option<f64>>);

/// Round and waves by least squares, and what they leave; `held` holds the waves to nothing.
fn fitted(places: &[Place], off: &[Option<f64>], held: f64) -> Option<Fitted> {
    let mut normal = SMatrix::<f64, UNKNOWNS, UNKNOWNS>::zeros();
    let mut right = SVector::<f64, UNKNOWNS>::zeros();
    for (place, off) in places.iter().zip(off) {
        let Some(off) = off else {
            continue;
        };
        let row = row(place.0);
        normal.syger(1.0, &row, &row, 1.0);
        right += row * *off;
    }
    for at in 3..UNKNOWNS {
        normal[(at, at)] += held;
    }
    normal.fill_upper_triangle_with_lower_triangle();
    let found = normal.cholesky()?.solve(&right);
    let left = places
        .iter()
        .zip(off)
        .map(|(place, off)| off.map(|off| off - row(place.0).dot(&found)))
        .collect();
    Some((found, left))
}

fn row(angle: f64) -> SVector<f64, UNKNOWNS> {
    SVector::from_fn(|at, _| match at {
        0 => 1.0,
        1 => angle.cos(),
        2 => angle.sin(),
        _ => {
            let waved = WAVES[(at - 3) / 2] * angle;
            if at % 2 == 1 {
                waved.cos()
            } else {
                waved.sin()
            }
        }
    })
}
