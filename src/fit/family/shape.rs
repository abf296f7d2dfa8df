//! What a family of curves tells of itself.
//!
//! Here lengths are in mm and angles in radians. Where no surface stands on the ray a drop is not a
//! number, and callers treat that as "there is no such curve".

use crate::card::Surface;
use crate::fit::land::Data;

/// The most parameters of a curve that is not free: those of a cam, and a margin before it.
const MOST_SHAPED: usize = 6;

/// A family's parameters, and what can be said of a curve from them.
pub(in crate::fit) trait Shape: Copy {
    /// Places below which nothing is left to see whether the curve is right: some more than there
    /// are parameters, and where it has parts, enough to see them.
    const FEWEST: usize;
    /// How its first guesses become a fit.
    const SEARCH: Search = Search::First;

    /// First guesses on a land, best first.
    fn guesses(data: &Data, surface: Surface) -> Vec<Self>;

    /// The same with each parameter replaced, in the order in which the solver varies them.
    fn map(self, base: &Base, next: impl FnMut(f64, Bound) -> f64) -> Self;

    /// The curve `phi` behind where it begins.
    fn at(&self, base: &Base, phi: f64) -> Point;

    /// Its figures by name with unit, for records, beside its relief angle.
    fn figures(&self, _: &Base) -> Vec<(&'static str, f64)> {
        Vec::new()
    }

    /// Arc behind where it begins at which it bends sharply.
    fn bends_at(&self) -> Option<f64> {
        None
    }

    /// Curves of the family with the same parameters, and as many, that are not this one.
    fn kin(&self) -> Vec<Self> {
        Vec::new()
    }
}

/// How first guesses become a fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::fit) enum Search {
    /// From the first that exists on the land.
    First,
    /// From the best of them, those with more and those with fewer parameters apart, and its kin.
    Best,
    /// By smoothing, without a guess.
    Smoothing,
}

/// What a curve is laid on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::fit) struct Base {
    pub surface: Surface,
    /// Of the edge circle; on an axial surface that of the circle that the probe follows.
    pub radius: f64,
    /// Arc where the land ends.
    pub end: f64,
}

impl Base {
    pub fn of(data: &Data, surface: Surface) -> Self {
        Self {
            surface,
            radius: data.radius,
            end: data.end,
        }
    }
}

/// A curve at one place.
#[derive(Clone, Copy, Debug)]
pub(in crate::fit) struct Point {
    pub drop: f64,
    /// Per radian.
    pub slope: f64,
    /// Per unit of each parameter; a free curve's are too many, and left to [`super::Free::change`].
    pub change: [f64; MOST_SHAPED],
    /// Per radian that the land is longer.
    pub with_end: f64,
}

impl Point {
    pub const NOWHERE: Point = Point {
        drop: f64::NAN,
        slope: f64::NAN,
        change: [f64::NAN; MOST_SHAPED],
        with_end: 0.0,
    };

    pub fn new<const N: usize>(drop: f64, slope: f64, own: [f64; N]) -> Self {
        let mut change = [0.0; MOST_SHAPED];
        change[..N].copy_from_slice(&own);
        Self {
            drop,
            slope,
            change,
            with_end: 0.0,
        }
    }
}

/// What a parameter is called, and from where to where it goes.
#[derive(Clone, Copy, Debug)]
pub(in crate::fit) struct Bound {
    pub name: &'static str,
    pub least: f64,
    pub greatest: f64,
    /// Whether a good curve may end there.
    pub harmless: bool,
}

impl Bound {
    pub const fn new(name: &'static str, least: f64, greatest: f64) -> Self {
        Self {
            name,
            least,
            greatest,
            harmless: false,
        }
    }

    /// Of a relief angle: wide enough for anything a wheel can leave, narrow enough that tangents
    /// stay finite.
    pub const fn relief(name: &'static str) -> Self {
        Self::new(name, -1.2, 1.2)
    }

    pub const fn harmless(mut self) -> Self {
        self.harmless = true;
        self
    }
}
