//! The least and the greatest of a noisy land, read from a smooth through it.
//!
//! The least of many noisy points lies too low: with a thousand points it is some three standard
//! deviations under the surface. So the land is first smoothed by local quadratics, which follow
//! anything that a stylus can follow, and the extreme is taken of the smooth. Something too narrow
//! for the smooth that yet stands clearly above it (a burr on the heel) is looked for by itself.

use crate::quantity::{Angle, Estimate, Length};
use crate::shape::LandPlace;
use std::cell::OnceCell;
use std::ops::Range;

/// The measured land of one tooth, prepared for being read anywhere.
pub(super) struct Measured<'a> {
    land: &'a [LandPlace],
    half_width: Angle,
    /// How far its places lie apart on average.
    spacing: Angle,
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
    /// From three neighbours alone, since they stand above the smooth; the middle one's place in
    /// the land.
    Narrow(usize),
    /// From the places from one to before another, which lie bunched on something narrow that
    /// stands up: a ball rolls over its top and does not reach what is beside it.
    Crest(usize, usize),
    /// From the corner where the land ends.
    Heel,
}

/// Places lie bunched where none is farther from the next than this part of their usual distance
/// (chosen, no source) ...
const BUNCHED: f64 = 0.3;
/// ... and so many do (chosen, no source).
const BUNCH: usize = 4;
/// A place of a bunch that lies so many standard uncertainties below the second highest weighs half as
/// much or less.
const FAR_BELOW: f64 = 1.5;
/// No place is known better than this (chosen, no source).
const LEAST_SCATTER_MM: f64 = 1e-5;
/// Both places beside a bunch are to lie so many of their standard uncertainties lower (common
/// practice, no source).
const CLEARLY_BESIDE: f64 = 3.0;

/// Three neighbours must stand this many of their own standard uncertainties above the smooth to be
/// believed (chosen, no source).
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
            spacing,
            smooth: OnceCell::new(),
        }
    }

    /// The smooth drop at an arc, with its standard uncertainty from scatter.
    pub fn drop(&self, arc: Angle) -> Option<Estimate<Length>> {
        let places = &self.land[self.window(arc)];
        let local = Local::through(places, arc, self.half_width)?;
        let (mut value, mut variance) = (0.0, 0.0);
        for place in places {
            let share = local.share(place);
            value += share * place.drop.mm();
            variance += (share * place.scatter.mm()).powi(2);
        }
        Some(Estimate::new(
            Length::from_mm(value),
            Length::from_mm(variance.sqrt()),
        ))
    }

    /// The places that the smooth at an arc is drawn through.
    fn window(&self, arc: Angle) -> Range<usize> {
        let reach = self.half_width;
        let first = self.land.partition_point(|place| place.arc < arc - reach);
        let last = self.land.partition_point(|place| place.arc <= arc + reach);
        // At the ends, and where readings are thin, the window takes the nearest places it can get.
        let first = first.min(self.land.len().saturating_sub(FEWEST));
        let last = last.max(first + FEWEST).min(self.land.len());
        first..last
    }

    /// From the highest to the lowest place that the smooth at an arc is drawn through.
    pub fn sweep(&self, arc: Angle) -> Length {
        let places = self.land[self.window(arc)].iter();
        let drops = places.map(|place| place.drop);
        let ends = drops.fold(None, |ends: Option<(Length, Length)>, drop| {
            let (least, most) = ends.unwrap_or((drop, drop));
            Some((least.min(drop), most.max(drop)))
        });
        ends.map_or(Length::ZERO, |(least, most)| most - least)
    }

    /// What share of the smooth at an arc each place's drop has.
    pub fn shares(&self, arc: Angle) -> Vec<(&'a LandPlace, f64)> {
        let places = &self.land[self.window(arc)];
        let local = Local::through(places, arc, self.half_width);
        let local = local.iter();
        local
            .flat_map(|local| places.iter().map(|place| (place, local.share(place))))
            .collect()
    }

    /// What the scatter of each place brings to the smooth at an arc: standard uncertainties with
    /// their signs, and which place the first of them is of.
    pub fn brought(&self, arc: Angle) -> Option<(usize, Vec<f64>)> {
        let shares = self.shares(arc);
        let brought = shares
            .iter()
            .map(|(place, share)| share * place.scatter.mm());
        let brought: Vec<f64> = brought.collect();
        (!brought.is_empty()).then(|| (self.window(arc).start, brought))
    }

    /// The smooth all over the land to `end`, at `arcs` and at those of `extremes`; then those of
    /// the extremes that are not read from the smooth, and the heel.
    pub fn nodes(
        &self,
        arcs: &[Angle],
        extremes: &[Option<Extreme>],
        end: Angle,
        heel: Option<LandPlace>,
    ) -> Vec<Extreme> {
        let extremes = || extremes.iter().flatten();
        let smooth = extremes().filter(|extreme| extreme.kind == Reading::Smooth);
        let (Some(first), Some(last)) = (self.land.first(), self.land.last()) else {
            return Vec::new();
        };
        let mut arcs: Vec<Angle> = self
            .grid(end)
            .into_iter()
            .chain(arcs.iter().copied())
            .chain(smooth.map(|extreme| extreme.arc))
            .filter(|arc| *arc >= first.arc && *arc <= last.arc.min(end))
            .collect();
        arcs.sort_by(Angle::total_cmp);
        arcs.dedup();
        let smooth = arcs.into_iter().filter_map(|arc| {
            Some(Extreme {
                arc,
                drop: self.drop(arc)?,
                kind: Reading::Smooth,
            })
        });
        let narrow = extremes()
            .filter(|extreme| matches!(extreme.kind, Reading::Narrow(_) | Reading::Crest(..)));
        smooth
            .chain(narrow.copied())
            .chain(heel_within(heel, Angle::ZERO, end))
            .collect()
    }

    /// Arcs to `end` so close together that the smooth has no room for an extreme between them.
    pub fn grid(&self, end: Angle) -> Vec<Angle> {
        let (Some(first), Some(last)) = (self.land.first(), self.land.last()) else {
            return Vec::new();
        };
        let last = last.arc.min(end);
        let steps = ((last - first.arc) / (self.half_width / 2.0)).ceil();
        if steps.is_nan() || steps < 1.0 {
            return vec![first.arc];
        }
        let step = (last - first.arc) / steps;
        (0..=steps as u32)
            .map(|at| first.arc + step * f64::from(at))
            .collect()
    }

    fn smooth(&self) -> &[Option<Estimate<Length>>] {
        let places = || self.land.iter().map(|place| self.drop(place.arc));
        self.smooth.get_or_init(|| places().collect())
    }

    /// The drop of a place that was chosen once, read again in the way of its kind: here, or on the
    /// same land under another clamping.
    pub fn read(&self, chosen: &Extreme, heel: Option<LandPlace>) -> Option<Length> {
        match chosen.kind {
            Reading::Smooth => Some(self.drop(chosen.arc)?.value),
            // It goes with its places and not with its arc: a step beside a burr there is none.
            Reading::Narrow(middle) => {
                let three = middle.checked_sub(1)?..middle + 2;
                Some(middle_drop(self.land.get(three)?))
            }
            Reading::Crest(first, end) => Some(top(self.land.get(first..end)?)?.value),
            Reading::Heel => Some(heel?.drop),
        }
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
        let crests = self.crests(from, to);
        // A smooth that is drawn over a crest is neither as high as it nor as low as the land.
        let apart = |extreme: &Extreme| !crests.iter().any(|crest| self.is_of(extreme, crest));
        // Of equal ones the first counts: the smooth before what is read beside it.
        let smooth = self.smooth_places(from, to).into_iter().filter(apart);
        let narrow = self.narrow_peaks(from, to).into_iter().filter(apart);
        smooth
            .chain(narrow)
            .chain(crests.iter().copied())
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

    /// Bunches of places that stand clearly above the places to either side.
    ///
    /// The smooth is drawn through the sides as well, and may stand higher than the top as well as
    /// lower. The top is as high as its own places say on average, and as certain as they agree.
    fn crests(&self, from: Angle, to: Angle) -> Vec<Extreme> {
        let near = self.spacing * BUNCHED;
        let mut crests = Vec::new();
        let mut first = 0;
        for next in 1..=self.land.len() {
            let goes_on = self
                .land
                .get(next)
                .is_some_and(|place| place.arc - self.land[next - 1].arc <= near);
            if goes_on {
                continue;
            }
            crests.extend(self.crest(first, next));
            first = next;
        }
        crests.retain(|crest: &Extreme| crest.arc >= from && crest.arc <= to);
        crests
    }

    fn crest(&self, first: usize, end: usize) -> Option<Extreme> {
        let places = &self.land[first..end];
        let before = self.land.get(first.checked_sub(1)?)?;
        if places.len() < BUNCH {
            return None;
        }
        let top = top(places)?;
        let (drop, scatter) = (top.value, top.standard_uncertainty);
        let stands_above = |beside: &LandPlace| {
            let clearly = (beside.scatter * CLEARLY_BESIDE)
                .mm()
                .hypot((scatter * CLEARLY_ABOVE).mm());
            beside.drop - drop > LEAST_PEAK.max(Length::from_mm(clearly))
        };
        let after = self.land.get(end);
        (stands_above(before) && after.is_none_or(stands_above)).then(|| Extreme {
            arc: places.iter().map(|place| place.arc).sum::<Angle>() / places.len() as f64,
            drop: top,
            kind: Reading::Crest(first, end),
        })
    }

    /// Whether what was read at a place is a crest's: no other place that the smooth there is drawn
    /// through stands as high.
    fn is_of(&self, extreme: &Extreme, crest: &Extreme) -> bool {
        let Reading::Crest(first, end) = crest.kind else {
            return false;
        };
        let window = match extreme.kind {
            Reading::Smooth => self.window(extreme.arc),
            Reading::Narrow(middle) => middle.saturating_sub(1)..middle + 2,
            Reading::Crest(..) | Reading::Heel => return false,
        };
        let mut others = window.clone().filter(|at| !(first..end).contains(at));
        window.start < end
            && window.end > first
            && !others.any(|at| {
                self.land
                    .get(at)
                    .is_some_and(|place| place.drop <= crest.drop.value)
            })
    }

    /// Places where three neighbours together stand clearly above the smooth.
    fn narrow_peaks(&self, from: Angle, to: Angle) -> Vec<Extreme> {
        self.land
            .windows(3)
            .zip(self.smooth().iter().skip(1))
            .zip(1..)
            .filter(|((three, _), _)| three[0].arc >= from && three[2].arc <= to)
            .filter_map(|((three, smooth), middle)| {
                let smooth = (*smooth)?;
                let drop = middle_drop(three);
                let scatter = three
                    .iter()
                    .map(|place| place.scatter)
                    .fold(Length::ZERO, Length::max);
                let stands_above = smooth.value - drop;
                // The smooth's own scatter says nothing here: the sides of a burr would make it
                // large enough to hide the burr.
                (stands_above > scatter * CLEARLY_ABOVE && stands_above > LEAST_PEAK).then_some(
                    Extreme {
                        arc: three[1].arc,
                        drop: Estimate::new(drop, scatter),
                        kind: Reading::Narrow(middle),
                    },
                )
            })
            .collect()
    }
}

/// The second lowest drop of three neighbours, which is no play of chance of a single one.
fn middle_drop(three: &[LandPlace]) -> Length {
    let mut drops: Vec<Length> = three.iter().map(|place| place.drop).collect();
    drops.sort_by(Length::total_cmp);
    drops[drops.len() / 2]
}

/// The height of a top that places lie bunched on, as a drop.
///
/// Places on its sides lie lower than it, and none higher but by chance. So each weighs by its own
/// uncertainty, and the less the farther it lies below the second highest; what that leaves open,
/// half of the way from there, counts beside how they scatter.
fn top(places: &[LandPlace]) -> Option<Estimate<Length>> {
    let mut by_height: Vec<&LandPlace> = places.iter().collect();
    by_height.sort_by(|a, b| a.drop.total_cmp(&b.drop));
    let second = by_height.get(1)?;
    let weight = |place: &LandPlace| {
        let own = place.scatter.mm().max(LEAST_SCATTER_MM);
        let apart = own.hypot(second.scatter.mm());
        let below = (place.drop - second.drop).mm().max(0.0) / apart / FAR_BELOW;
        (-0.5 * below * below).exp() / (own * own)
    };
    let (mut all, mut squares, mut drop, mut least) = (0.0, 0.0, 0.0, 0.0);
    for place in places {
        let weight = weight(place);
        all += weight;
        squares += weight * weight;
        drop += weight * place.drop.mm();
        least += weight * weight * place.scatter.mm().powi(2);
    }
    let drop = drop / all;
    let each = places.iter();
    let about = each.map(|place| weight(place) * (place.drop.mm() - drop).powi(2));
    let about: f64 = about.sum::<f64>() / all;
    let free = (all * all / squares - 1.0).max(1.0);
    let open = (drop - second.drop.mm()) / 2.0;
    let variance = (about / free).max(least / (all * all)) + open * open;
    Some(Estimate::new(
        Length::from_mm(drop),
        Length::from_mm(variance.sqrt()),
    ))
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

/// Half the width over which a land is smoothed: narrow beside any land, wide beside a reading
/// (chosen, no source).
const WINDOW: Length = Length::from_mm(0.3);
/// Places that a local quadratic needs at the least.
const FEWEST: usize = 7;
/// A peak lower than this over the smooth is the smooth's own small error (chosen, no source).
const LEAST_PEAK: Length = Length::from_mm(0.001);

/// A weighted quadratic through places near an arc, read at that arc: what share of its value each
/// place's drop has.
struct Local {
    arc: Angle,
    reach: Angle,
    /// First row of the inverse of the normal equations.
    row: [f64; 3],
}

impl Local {
    fn through(places: &[LandPlace], arc: Angle, reach: Angle) -> Option<Self> {
        let reach = places
            .iter()
            .map(|place| (place.arc - arc).abs())
            .fold(reach, Angle::max)
            * 1.001;
        let mut local = Self {
            arc,
            reach,
            row: [0.0; 3],
        };
        let mut normal = nalgebra::Matrix3::<f64>::zeros();
        for place in places {
            let (row, weight) = local.design(place);
            for (i, a) in row.iter().enumerate() {
                for (j, b) in row.iter().enumerate() {
                    normal[(i, j)] += weight * a * b;
                }
            }
        }
        let inverse = normal.try_inverse()?;
        local.row = [inverse[(0, 0)], inverse[(0, 1)], inverse[(0, 2)]];
        Some(local)
    }

    fn design(&self, place: &LandPlace) -> ([f64; 3], f64) {
        let x = (place.arc - self.arc) / self.reach;
        let weight = (1.0 - x.abs().powi(3)).powi(3);
        ([1.0, x, x * x], weight)
    }

    fn share(&self, place: &LandPlace) -> f64 {
        let (row, weight) = self.design(place);
        weight * (self.row[0] * row[0] + self.row[1] * row[1] + self.row[2] * row[2])
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const RADIUS: Length = Length::from_mm(10.0);

    /// A land that falls by 0.1 mm a mm, a reading every 0.03 mm, with a burr that stands 4 µm
    /// below the edge from 3.0 to 3.2 mm behind it.
    fn land_with_a_burr() -> Vec<LandPlace> {
        let place = |along: f64| LandPlace {
            arc: Angle::from_rad(Length::from_mm(along) / RADIUS),
            drop: Length::from_mm(if (3.0..=3.2).contains(&along) {
                0.004
            } else {
                0.1 * along
            }),
            scatter: Length::from_mm(0.0005),
        };
        (1..200).map(|i| place(f64::from(i) * 0.03)).collect()
    }

    fn behind(along: f64) -> Angle {
        Angle::from_rad(Length::from_mm(along) / RADIUS)
    }

    #[test]
    fn a_burr_narrower_than_the_smooth_counts_as_high_as_it_stands() {
        let land = land_with_a_burr();
        let measured = Measured::new(&land, RADIUS, behind(6.0));
        let least = measured.least(behind(0.5), behind(6.0), Length::ZERO, None);
        let least = least.unwrap();
        assert!(matches!(least.kind, Reading::Narrow(_)), "{least:?}");
        assert_eq!(least.drop.value, Length::from_mm(0.004));
        assert_eq!(measured.read(&least, None), Some(least.drop.value));
        // The smooth there would have it hidden.
        let smooth = measured.drop(least.arc).unwrap().value;
        assert!(smooth > Length::from_mm(0.05), "{smooth:?}");
    }

    /// A burr's top from 3.0 to 3.01 mm, which a ball bunches many readings on, and none to either
    /// side of it that reaches the land; the readings scatter by `scatter_um` to and fro.
    fn land_with_a_crest(scatter_um: f64) -> Vec<LandPlace> {
        let mut land = land_with_a_burr();
        land.retain(|place| (place.arc - behind(3.0)).abs() > behind(0.4));
        for number in 0..8 {
            let to_and_fro = if number % 2 == 0 { 1.0 } else { -1.0 };
            land.push(LandPlace {
                arc: behind(3.0 + 0.001 * f64::from(number)),
                drop: Length::from_mm(0.004 + to_and_fro * scatter_um / 1e3),
                scatter: Length::from_mm(0.0005),
            });
        }
        land.sort_by(|a, b| a.arc.total_cmp(&b.arc));
        land
    }

    #[track_caller]
    fn check_crest(scatter_um: f64, within_um: f64, uncertainty_um: f64) {
        let land = land_with_a_crest(scatter_um);
        let measured = Measured::new(&land, RADIUS, behind(6.0));
        let least = measured.least(behind(0.5), behind(6.0), Length::ZERO, None);
        let least = least.unwrap();
        assert!(matches!(least.kind, Reading::Crest(..)), "{least:?}");
        assert!(
            (least.drop.value.um() - 4.0).abs() < within_um + 1e-9,
            "{least:?}"
        );
        let uncertainty = least.drop.standard_uncertainty.um();
        assert!((uncertainty - uncertainty_um).abs() < 1e-3, "{least:?}");
        assert_eq!(measured.read(&least, None), Some(least.drop.value));
    }

    #[test]
    fn a_burr_that_readings_lie_bunched_on_is_as_high_as_they_say() {
        // The standard error of the mean of eight places (JCGM 100, 4.2.3).
        check_crest(0.0, 0.0, 0.5 / 8f64.sqrt());
    }

    #[test]
    fn places_on_the_sides_of_a_burr_do_not_lower_its_top() {
        let land = land_with_a_crest(0.0);
        let mut sloped = land;
        for place in sloped.iter_mut().filter(|place| place.drop.um() < 4.5) {
            // Some of its places lie on a side that falls away.
            if place.arc > behind(3.0045) {
                place.drop = Length::from_mm(0.009);
            }
        }
        let measured = Measured::new(&sloped, RADIUS, behind(6.0));
        let least = measured.least(behind(0.5), behind(6.0), Length::ZERO, None);
        let drop = least.unwrap().drop;
        assert!((drop.value.um() - 4.0).abs() < 0.1, "{drop:?}");
    }

    #[test]
    fn a_place_beside_a_crest_that_stands_higher_counts() {
        let mut land = land_with_a_crest(0.0);
        for place in &mut land {
            if (place.arc - behind(3.5)).abs() < behind(0.08) {
                place.drop = Length::from_mm(0.002);
            }
        }
        let measured = Measured::new(&land, RADIUS, behind(6.0));
        let least = measured.least(behind(0.5), behind(6.0), Length::ZERO, None);
        assert!(
            least.unwrap().drop.value <= Length::from_mm(0.0021),
            "{least:?}"
        );
    }

    #[test]
    fn an_edge_found_a_step_further_back_does_not_lose_the_burr() {
        let mut land = land_with_a_burr();
        let end = behind(6.0);
        let least = Measured::new(&land, RADIUS, end)
            .least(behind(0.5), end, Length::ZERO, None)
            .unwrap();
        for place in &mut land {
            place.arc += behind(0.2);
        }
        let moved = Measured::new(&land, RADIUS, end);
        assert_eq!(moved.read(&least, None), Some(Length::from_mm(0.004)));
    }

    #[test]
    fn every_kind_of_extreme_reads_the_same_as_when_it_was_chosen() {
        let land = land_with_a_burr();
        let end = behind(6.0);
        let measured = Measured::new(&land, RADIUS, end);
        let heel = LandPlace {
            arc: end,
            drop: Length::from_mm(0.002),
            scatter: Length::from_mm(0.001),
        };
        let least = |to, heel| measured.least(behind(0.5), to, Length::ZERO, heel);
        let extremes = [
            (least(behind(2.0), None), None),
            (least(end, None), None),
            (least(end, Some(heel)), Some(heel)),
            (measured.greatest(end, Some(heel)), Some(heel)),
        ];
        for (extreme, heel) in extremes {
            let extreme = extreme.unwrap();
            assert_eq!(measured.read(&extreme, heel), Some(extreme.drop.value));
        }
    }
}
