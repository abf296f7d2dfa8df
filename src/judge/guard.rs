//! The last guard before a pass: single readings that stand above an edge.
//!
//! Figures come from places that many readings share, from smooths and from curves, each of which
//! may hide something narrow. So before anything passes, every reading by itself is held against
//! its edge. One that stands above it is a speck that was under the tip if readings of other turns
//! show that nothing stands there; else nothing passes.

use super::above::{Above, same_turn};
use super::bench::Bench;
use super::doubt::Doubt;
use super::figures::{Figure, Plan, ToothPlan, edge_height, edge_scatter, standing};
use super::part::Part;
use super::specks;
use crate::card::Name;
use crate::numeric::quantile;
use crate::quantity::{Angle, Length};
use crate::shape::{self, Clamping, Standing, Tip, Tooth};
use crate::trace::{Merged, Single};
use std::cell::OnceCell;

/// Of good traces this part may be held up by chance, over all of their readings together (chosen,
/// no source).
const FALSE_ALARMS: f64 = 0.01;

/// An edge stands no farther from where it was found than so many standard uncertainties (chosen,
/// no source).
pub(super) const OWN_MOST: f64 = 2.5;

/// No edge is looked for farther below where it was found than this (chosen, no source).
const FOUND_TOO_HIGH: Length = Length::from_mm(0.1);

/// Places to either side of a reading at which a burr is looked for that it may be the side of.
const PLACES: i32 = 16;
/// No tip touches a burr farther from its middle than this part of its radius: the sides of a burr
/// are not steeper (60°) (common practice, no source).
pub(super) const FARTHEST_TOUCH: f64 = 0.87;

/// What stands above the edges of a part.
#[derive(Debug, Default)]
pub(super) struct StandsAbove {
    /// What is not explained; one doubt a tooth, of its highest reading.
    pub doubts: Vec<Doubt>,
    /// What is explained by other turns, a line for each tooth that passes all the same.
    pub notes: Vec<String>,
}

/// Holds every reading against its edge.
pub(super) fn stands_above(
    guard: &Guard,
    part: &Part,
    plan: &Plan,
    figures: &[Figure],
) -> StandsAbove {
    let mut all = StandsAbove::default();
    for (index, tooth_plan) in plan.teeth.iter().enumerate() {
        let of_tooth = |plan| above_edge(guard, part, plan, index, figures);
        let above = tooth_plan.as_ref().and_then(of_tooth);
        let Some((mut above, highest)) = above else {
            continue;
        };
        if let Some(highest) = highest {
            all.doubts.push(highest.doubt(index));
            continue;
        }
        let near = Angle::from_rad(2.0 * (guard.reach() / guard.clamping.radius)).max(guard.count);
        above.sort_by_key(|above| above.standing.single);
        let specks = specks::specks(guard.merged, &above, near);
        let name = &part.feature.name;
        match specks::of_two_turns(&specks) {
            Some((one, other)) => all.doubts.push(specks::doubt(index, one, other)),
            None => all.notes.extend(specks::note(name, index, &specks)),
        }
    }
    all
}

/// The readings above a tooth's line, and the highest of them that no other turn explains; nothing
/// where the tooth does not pass anyway.
fn above_edge(
    guard: &Guard,
    part: &Part,
    plan: &ToothPlan,
    index: usize,
    figures: &[Figure],
) -> Option<(Vec<Above>, Option<Above>)> {
    let line = Line::of(part, plan, index, guard.reach())?;
    let of_tooth =
        |figure: &&Figure| figure.name == Name::HeelClearance && figure.tooth == Some(index);
    let figure = figures.iter().find(of_tooth)?;
    // What is read as standing that high already does not pass. Without a budget nothing is
    // known of the clamping that heights are free of.
    let may_pass = figure.budget.is_some() && figure.value? > line.limit.mm();
    if !may_pass {
        return None;
    }
    let above = guard.above(&line);
    let unexplained = |above: &&Above| !guard.explained(&above.standing);
    let highest = above.iter().find(unexplained).copied();
    Some((above, highest))
}

/// The single readings of a part, and what they are good for.
pub(super) struct Guard<'a> {
    merged: &'a Merged,
    datum: Length,
    clamping: &'a Clamping,
    /// Arc that an encoder's count and the delay leave open between two readings.
    pub count: Angle,
    /// How far one reading may stand off by chance.
    bound: Bound,
    /// All of them by growing angle, once one of them has to be explained.
    around: OnceCell<Vec<Standing>>,
}

/// How far a reading may stand above a height by chance.
#[derive(Clone, Copy)]
struct Bound {
    /// In standard deviations.
    factor: f64,
    /// Standard deviation of one reading about what all turns together show.
    scatter: Length,
}

impl Bound {
    fn chance(self) -> Length {
        self.scatter * self.factor
    }
}

impl<'a> Guard<'a> {
    pub fn of(part: &'a Part, bench: &Bench) -> Self {
        let merged = part.merged;
        let clamping = &part.clamping;
        let counts = bench.gauge.encoder.counts_per_turn;
        Self {
            merged,
            datum: part.datum,
            clamping,
            count: Angle::TURN / f64::from(counts.max(1)),
            bound: Bound {
                factor: factor(merged.singles.len()),
                scatter: scatter(merged, bench.gauge.indicator.resolution)
                    * clamping.lever_angle.rad().cos(),
            },
            around: OnceCell::new(),
        }
    }

    /// Standard deviation of one reading.
    pub fn scatter(&self) -> Length {
        self.bound.scatter
    }

    /// How far a reading may stand off by chance.
    pub fn chance(&self) -> Length {
        self.bound.chance()
    }

    /// How high above its line a burr stands that no reading upon it is taken for chance.
    pub fn threshold(&self, line: &Line) -> Length {
        self.bound.chance() + line.own * OWN_MOST
    }

    /// The readings above a tooth's line, the highest first.
    fn above(&self, line: &Line) -> Vec<Above> {
        let standing = shape::standing(self.merged, self.datum, self.clamping, line.lowest());
        let seen = self.edge_as_seen(line);
        let above = standing.into_iter().filter_map(|standing| {
            let behind = (standing.angle - line.edge).in_turn();
            if behind > line.reach {
                return None;
            }
            let at_edge = behind <= line.zone;
            let own = if at_edge { line.own * OWN_MOST } else { seen };
            let (allowed, by_limit) = line.allowed(behind, self.clamping);
            let (nearer, _) = line.allowed(behind - self.count, self.clamping);
            let allowed = allowed.max(nearer);
            let higher = standing.height - allowed - own;
            (higher > self.bound.chance()).then_some(Above {
                standing,
                behind,
                higher,
                by_limit,
            })
        });
        let mut above: Vec<Above> = above.collect();
        above.sort_by(|a, b| b.higher.total_cmp(&a.higher));
        above
    }

    /// How much higher than it was found an edge stands, by the readings beside it; negative where it
    /// was found too high.
    ///
    /// Where few readings were taken an edge is only carried back to. It stands as high as the
    /// highest of them, which may be higher than that, and no higher than a tip may stand on that
    /// is held up at one place and read as low as those around.
    fn edge_as_seen(&self, line: &Line) -> Length {
        let most = line.height + line.own * OWN_MOST;
        let near = self.within(line.edge, line.zone);
        let mut beside: Vec<Standing> = near.clone();
        beside.retain(|standing| standing.height <= most + self.bound.chance());
        beside.sort_by(|a, b| b.height.total_cmp(&a.height));
        let Some(highest) = beside.iter().find(|standing| !self.explained(standing)) else {
            return Length::ZERO;
        };
        let held = (-PLACES..=PLACES).map(|step| {
            let at = line.edge + line.zone * (f64::from(step) / f64::from(PLACES));
            self.highest_at(at, &near)
        });
        let held = held.fold(highest.height - self.bound.chance(), Length::max);
        let seen = line.height.max(highest.height).min(most).min(held);
        seen - line.height
    }

    /// How high a corner may stand at an angle under readings as low as these. The lowest may be a
    /// nick's, or chance's, so the second counts.
    fn highest_at(&self, at: Angle, near: &[Standing]) -> Length {
        let (mut lowest, mut second) = (f64::INFINITY, f64::INFINITY);
        for standing in near {
            let across = (standing.angle - at).shortest();
            if let Some(below) = shape::below_point(self.clamping, self.clamping.radius, across) {
                let top = (standing.height + below).mm();
                if top < lowest {
                    (lowest, second) = (top, lowest);
                } else {
                    second = second.min(top);
                }
            }
        }
        Length::from_mm(second)
    }

    /// Whether readings of other turns show that nothing stood under the tip but a speck.
    ///
    /// Wherever a burr may stand that held the tip this high, it is to hold up the readings of other
    /// turns within the tip's reach as well. Where those of its own turn leave no room for a burr at
    /// all, what held it was as narrow as the reading is, and another turn has to have read there.
    pub fn explained(&self, above: &Standing) -> bool {
        let own = &self.merged.singles[above.single];
        let reach = self.reach();
        let steps = if reach > Length::ZERO { PLACES } else { 0 };
        let arm = self.clamping.radius;
        let places = -steps..=steps;
        let mut burrs = places.filter_map(|step| {
            let off = Angle::from_rad(reach / arm) * (f64::from(step) / f64::from(PLACES));
            let below = shape::below_point(self.clamping, above.height, off)?;
            Some(Burr {
                off,
                top: above.height + below,
            })
        });
        let near = self.near(above.angle, reach);
        let refuted = |burr: &Burr, by: &dyn Fn(&Single) -> bool| {
            near.clone().any(|other| {
                let single = &self.merged.singles[other.single];
                by(single) && self.is_below(burr, above, own, other, single)
            })
        };
        let others = |single: &Single| !same_turn(own, single);
        if burrs.clone().any(|burr| !refuted(&burr, &|_| true)) {
            return false;
        }
        let here = Burr {
            off: Angle::ZERO,
            top: above.height,
        };
        burrs.any(|burr| !refuted(&burr, &|single| same_turn(own, single)))
            || refuted(&here, &others)
    }

    /// Whether a reading stands lower than the burr would have held it.
    fn is_below(
        &self,
        burr: &Burr,
        above: &Standing,
        own: &Single,
        other: &Standing,
        single: &Single,
    ) -> bool {
        let blurred = self.merged.delay.estimate.standard_uncertainty.s()
            * (own.speed - single.speed).rad_per_s().abs();
        let apart = (other.angle - above.angle).shortest();
        let across = (apart - burr.off).abs();
        // Both angles may be off by a part of a count. A tip that is a point meets nothing but what
        // is under it, so that readings of one count are taken to be of one place.
        let across = match self.clamping.tip {
            Tip::Point if across <= self.count => Angle::ZERO,
            _ => across + self.count + Angle::from_rad(blurred),
        };
        let below = shape::below_point(self.clamping, burr.top, across);
        below.is_some_and(|below| other.height < burr.top - below - self.bound.chance())
    }

    /// How far to either side of a burr the tip may touch it.
    pub fn reach(&self) -> Length {
        let size = self.clamping.tip.size();
        match self.clamping.tip {
            Tip::Ball(_) => size * FARTHEST_TOUCH,
            Tip::Flat(_) => size,
            Tip::Point => Length::ZERO,
        }
    }

    /// The readings within twice the tip's reach of an angle, and within a count; the nearest of
    /// either side first, since who looks for one that says something finds it there.
    fn near(&self, angle: Angle, reach: Length) -> impl Iterator<Item = &Standing> + Clone {
        let half = Angle::from_rad(2.0 * (reach / self.clamping.radius)).max(self.count);
        let all = self.around();
        let count = all.len();
        let after = all.partition_point(|standing| standing.angle < angle);
        let beside =
            move |by: usize| [after + by, after + count - 1 - by].map(|at| &all[at % count]);
        let is_near = move |it: &&Standing| (it.angle - angle).shortest().abs() <= half;
        (0..count.div_ceil(2))
            .map(beside)
            .take_while(move |pair| pair.iter().any(is_near))
            .flatten()
            .filter(is_near)
    }

    /// All readings by growing angle.
    fn around(&self) -> &[Standing] {
        self.around.get_or_init(|| {
            let lowest = Length::from_mm(f64::NEG_INFINITY);
            let mut all = shape::standing(self.merged, self.datum, self.clamping, lowest);
            all.sort_by(|a, b| a.angle.total_cmp(&b.angle));
            all
        })
    }

    /// The readings within an arc to either side of an angle.
    pub fn within(&self, angle: Angle, half: Angle) -> Vec<Standing> {
        let all = self.around();
        let between = |from: Angle, to: Angle| {
            let first = all.partition_point(|standing| standing.angle < from);
            let last = all.partition_point(|standing| standing.angle <= to);
            all[first..last.max(first)].iter().copied()
        };
        // An arc that passes the end of the turn goes on at its beginning.
        let (from, to) = (angle - half, angle + half);
        between(from, to)
            .chain(between(from + Angle::TURN, Angle::TURN))
            .chain(between(Angle::ZERO, to - Angle::TURN))
            .collect()
    }
}

/// A burr that may have held the tip up.
struct Burr {
    /// From the reading that it held up.
    off: Angle,
    top: Length,
}

/// How many standard deviations none of so many readings exceeds but by the chance that is allowed.
fn factor(readings: usize) -> f64 {
    let each = 1.0 - (1.0 - FALSE_ALARMS).powf(1.0 / readings.max(1) as f64);
    // Of more readings than anybody takes the farthest that a quantile is known.
    quantile::normal(1.0 - each.max(1e-9)).unwrap_or(6.0)
}

/// How much a single reading scatters, from reading to reading and from turn to turn. Whether it
/// stands above an edge is a matter of its height: where within a count of the encoder it was taken
/// makes no difference.
fn scatter(merged: &Merged, resolution: Length) -> Length {
    let each = merged.filled_by_each();
    let sums = each.iter().fold((0.0, 0.0), |(samples, passes), cell| {
        (
            samples + f64::from(cell.samples),
            passes + f64::from(cell.passes),
        )
    });
    // Of what turns differ by, the noise that is left of the mean of a visit.
    let left = if sums.0 > 0.0 {
        (sums.1 / sums.0).min(1.0)
    } else {
        1.0
    };
    let noise = merged.noise.mm();
    let both = merged.upright.mm().powi(2) + noise * noise * (1.0 - left);
    let rounding = resolution.mm() / 12f64.sqrt();
    Length::from_mm(both.sqrt().max(noise).hypot(rounding))
}

/// What nothing behind one edge may stand above.
pub(super) struct Line<'a> {
    pub tooth: &'a Tooth,
    pub edge: Angle,
    /// From the edge to the bottom of the gap behind its land.
    pub reach: Angle,
    pub height: Length,
    /// How far the work stands up behind the edge, per radian.
    pub standing: Length,
    pub check: Angle,
    /// Limit of the clearance from `check` on.
    pub limit: Length,
    /// Standard uncertainty of `height` from what it was read with and from its rounding.
    own: Length,
    /// How far from where it was found the tip may stand on the edge.
    pub zone: Angle,
}

impl<'a> Line<'a> {
    pub fn of(part: &'a Part, plan: &ToothPlan, index: usize, tip: Length) -> Option<Self> {
        let tooth = part.profile.teeth[index].as_ref()?;
        let fit = part.fit_of(index);
        let laid = fit.map(crate::fit::Fit::laid);
        let limits = &part.feature.limits;
        let limit = limits.get(Name::HeelClearance).and_then(|limit| limit.min);
        let edge = tooth.edge.angle.value;
        Some(Self {
            tooth,
            edge,
            reach: (tooth.outline.last()?.angle - edge).in_turn(),
            height: edge_height(tooth, laid.as_ref()),
            standing: standing(part.feature),
            check: plan.check,
            limit: Length::from_mm(limit.unwrap_or(0.0)),
            own: Length::from_mm(
                edge_scatter(tooth, fit)
                    .mm()
                    .hypot(tooth.edge.height_by_rounding.mm()),
            ),
            zone: Angle::from_rad(tip / part.clamping.radius)
                + tooth.edge.angle.standard_uncertainty * OWN_MOST,
        })
    }

    /// Nothing lower is looked at.
    fn lowest(&self) -> Length {
        let work = self.limit.max(Length::ZERO) + self.standing * self.reach.rad();
        self.height - work - FOUND_TOO_HIGH
    }

    /// The height that the tip's end may stand at, and whether the limit of the clearance sets it.
    fn allowed(&self, behind: Angle, clamping: &Clamping) -> (Length, bool) {
        let edge = self.height - self.standing * behind.rad();
        if behind < self.check || self.limit == Length::ZERO {
            return (edge, false);
        }
        let allowed = edge - self.limit;
        if self.limit < Length::ZERO {
            return (allowed, true);
        }
        // What lies before the check distance may stand higher, and hold the tip up beyond it.
        let held_by = |arc: Angle, height: Length| {
            let below = shape::below_point(clamping, height, behind - arc)?;
            Some(height - below)
        };
        let before = self.tooth.land.iter();
        let before = before.take_while(|place| place.arc < self.check);
        let by_land = before.filter_map(|place| held_by(place.arc, self.height - place.drop));
        let held = by_land
            .chain(held_by(Angle::ZERO, self.height))
            .chain(self.under_its_end(behind, clamping))
            .fold(allowed, Length::max);
        (held, true)
    }

    /// How high the land stands, between its places, under the end of a flat that lags behind: where
    /// that is still before the check distance.
    fn under_its_end(&self, behind: Angle, clamping: &Clamping) -> Option<Length> {
        let Tip::Flat(half_width) = clamping.tip else {
            return None;
        };
        let arc = behind - Angle::from_rad(half_width / clamping.radius);
        if !(Angle::ZERO..self.check).contains(&arc) {
            return None;
        }
        let land = &self.tooth.land;
        let next = land.partition_point(|place| place.arc <= arc);
        let (from, drop) = match next.checked_sub(1) {
            Some(before) => (land[before].arc, land[before].drop),
            None => (Angle::ZERO, Length::ZERO),
        };
        let after = land.get(next)?;
        let share = (arc - from) / (after.arc - from);
        Some(self.height - drop - (after.drop - drop) * share)
    }
}
