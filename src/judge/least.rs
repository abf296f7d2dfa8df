//! The least and the greatest of a noisy land, read from a smooth through it.
//!
//! The least of many noisy points lies too low: with a thousand points it is some three standard
//! deviations under the surface. So the land is first smoothed by local quadratics, which follow
//! anything that a stylus can follow, and the extreme is taken of the smooth. Something too narrow
//! for the smooth that yet stands clearly above it (a burr on the heel) is looked for by itself.

use crate::quantity::{Angle, Estimate, Length};
use crate::shape::LandPlace;
use std::cell::OnceCell;

/// The measured land of one tooth, prepared for being read anywhere.
pub(super) struct Measured<'a> {
    land: &'a [LandPlace],
    half_width: Angle,
    /// The smooth at every place of the land, once it was asked for.
    smooth: OnceCell<Vec<Option<Estimate<Length>>>>,
}

/// An extreme of the land.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Extreme {
    /// Where it lies behind the edge.
    pub arc: Angle,
    /// The drop there and its standard uncertainty from scatter, the edge's own left out.
    pub drop: Estimate<Length>,
    /// How it was read.
    pub kind: Reading,
}

/// How a place of the land was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reading {
    /// From the smooth.
    Smooth,
    /// From three neighbours alone, since they stand above the smooth.
    Narrow,
    /// From the corner where the land ends.
    Heel,
}

/// Three neighbours must stand this many standard uncertainties above the smooth to be believed.
const CLEARLY_ABOVE: f64 = 5.0;

impl<'a> Measured<'a> {
    /// The land with a window that holds enough places and stays narrow beside the land.
    pub fn new(land: &'a [LandPlace], radius: Length, end: Angle) -> Self {
        let spacing = match (land.first(), land.last()) {
            (Some(first), Some(last)) if land.len() > 1 => {
                (last.arc - first.arc) / (land.len() - 1) as f64
            }
            _ => Angle::ZERO,
        };
        let wanted = Angle::from_rad(WINDOW / radius);
        let half_width = wanted.min(end / 10.0).max(spacing * 3.5);
        Self {
            land,
            half_width,
            smooth: OnceCell::new(),
        }
    }

    /// The smooth drop at an arc, with its standard uncertainty from scatter.
    pub fn drop(&self, arc: Angle) -> Option<Estimate<Length>> {
        let reach = self.half_width;
        let first = self.land.partition_point(|place| place.arc < arc - reach);
        let last = self.land.partition_point(|place| place.arc <= arc + reach);
        // At the ends, and where readings are thin, the window takes the nearest places it can get.
        let first = first.min(self.land.len().saturating_sub(FEWEST));
        let last = last.max(first + FEWEST).min(self.land.len());
        local_quadratic(&self.land[first..last], arc, reach)
    }

    fn smooth(&self) -> &[Option<Estimate<Length>>] {
        let places = || self.land.iter().map(|place| self.drop(place.arc));
        self.smooth.get_or_init(|| places().collect())
    }

    /// The least of `drop - standing` from arc `from` to arc `to`.
    ///
    /// `standing` is how far the work stands up behind the edge (the feed), per radian of arc.
    pub fn least(
        &self,
        from: Angle,
        to: Angle,
        standing: Length,
        heel: Option<LandPlace>,
    ) -> Option<Extreme> {
        let clear = |extreme: &Extreme| extreme.drop.value - standing * extreme.arc.rad();
        let lower = |a: &Extreme, b: &Extreme| clear(a).total_cmp(&clear(b));
        // Of equal ones the first counts: the smooth before what is read beside it.
        let smooth = self.smooth_places(from, to).into_iter();
        smooth
            .chain(self.narrow_peaks(from, to))
            .chain(heel_within(heel, from, to))
            .min_by(lower)
    }

    /// The greatest drop up to arc `to`.
    pub fn greatest(&self, to: Angle, heel: Option<LandPlace>) -> Option<Extreme> {
        self.smooth_places(Angle::ZERO, to)
            .into_iter()
            .chain(heel_within(heel, Angle::ZERO, to))
            .max_by(|a, b| a.drop.value.total_cmp(&b.drop.value))
    }

    /// The smooth at every place of the land in an arc, and at the ends of the arc.
    fn smooth_places(&self, from: Angle, to: Angle) -> Vec<Extreme> {
        let (Some(first), Some(last)) = (self.land.first(), self.land.last()) else {
            return Vec::new();
        };
        let inside = |arc: Angle| arc >= from && arc <= to;
        let ends = [from, to]
            .into_iter()
            .filter(|&arc| arc >= first.arc && arc <= last.arc);
        let places = self.land.iter().map(|place| place.arc);
        let at_places = places.zip(self.smooth().iter().copied());
        let at_ends = ends.map(|arc| (arc, self.drop(arc)));
        at_places
            .filter(|(arc, _)| inside(*arc))
            .chain(at_ends)
            .filter_map(|(arc, drop)| {
                Some(Extreme {
                    arc,
                    drop: drop?,
                    kind: Reading::Smooth,
                })
            })
            .collect()
    }

    /// Places where three neighbours together stand clearly above the smooth.
    fn narrow_peaks(&self, from: Angle, to: Angle) -> Vec<Extreme> {
        self.land
            .windows(3)
            .zip(self.smooth().iter().skip(1))
            .filter(|(three, _)| three[0].arc >= from && three[2].arc <= to)
            .filter_map(|(three, smooth)| {
                let smooth = (*smooth)?;
                let mut drops = [three[0].drop, three[1].drop, three[2].drop];
                drops.sort_by(Length::total_cmp);
                let scatter = three
                    .iter()
                    .map(|place| place.scatter)
                    .fold(Length::ZERO, Length::max);
                // The second lowest drop of three is no play of chance of a single one.
                let stands_above = smooth.value - drops[1];
                (stands_above > scatter.max(smooth.standard_uncertainty) * CLEARLY_ABOVE
                    && stands_above > LEAST_PEAK)
                    .then_some(Extreme {
                        arc: three[1].arc,
                        drop: Estimate::new(drops[1], scatter),
                        kind: Reading::Narrow,
                    })
            })
            .collect()
    }
}

/// The corner where the land ends, when it lies in an arc.
fn heel_within(heel: Option<LandPlace>, from: Angle, to: Angle) -> Option<Extreme> {
    heel.filter(|heel| heel.arc >= from && heel.arc <= to)
        .map(|heel| Extreme {
            arc: heel.arc,
            drop: Estimate::new(heel.drop, heel.scatter),
            kind: Reading::Heel,
        })
}

/// Half the width over which a land is smoothed: narrow beside any land, wide beside a reading.
const WINDOW: Length = Length::from_mm(0.3);
/// Places that a local quadratic needs at the least.
const FEWEST: usize = 7;
/// A peak lower than this over the smooth is the smooth's own small error.
const LEAST_PEAK: Length = Length::from_mm(0.001);

/// Value and scatter at `arc` of a weighted quadratic through places near it.
fn local_quadratic(places: &[LandPlace], arc: Angle, reach: Angle) -> Option<Estimate<Length>> {
    let reach = places
        .iter()
        .map(|place| (place.arc - arc).abs())
        .fold(reach, Angle::max)
        * 1.001;
    let design = |place: &LandPlace| {
        let x = (place.arc - arc) / reach;
        let weight = (1.0 - x.abs().powi(3)).powi(3);
        ([1.0, x, x * x], weight)
    };
    let mut normal = nalgebra::Matrix3::<f64>::zeros();
    for place in places {
        let (row, weight) = design(place);
        for (i, a) in row.iter().enumerate() {
            for (j, b) in row.iter().enumerate() {
                normal[(i, j)] += weight * a * b;
            }
        }
    }
    let inverse = normal.try_inverse()?;
    let (mut value, mut variance) = (0.0, 0.0);
    for place in places {
        let (row, weight) = design(place);
        let share = weight
            * (inverse[(0, 0)] * row[0] + inverse[(0, 1)] * row[1] + inverse[(0, 2)] * row[2]);
        value += share * place.drop.mm();
        variance += (share * place.scatter.mm()).powi(2);
    }
    Some(Estimate::new(
        Length::from_mm(value),
        Length::from_mm(variance.sqrt()),
    ))
}
