//! The figures of one tooth, each with its budget and with what it cannot see.

use super::figures::{Bound, Figure, ToothValues, flat_equivalent, own_edge_scatter, standing};
use super::least::Extreme;
use super::lines::{edge_apart_line, family_line, indicator_lines, off_curve_line};
use super::reader::{Curved, Reader};
use super::standard::indicator_error;
use super::{Budget, Input, Line};
use crate::card::Name;
use crate::fit::Fit;
use crate::quantity::{Angle, Length, told};

/// A heel that nobody saw is taken to rise no more steeply than this from the readings beside it
/// (tan 20°; common practice, no source).
const STEEPEST_RISE: f64 = 0.364;
/// A hole wider than this may hide anything (chosen, no source).
const WIDE_HOLE: Length = Length::from_mm(1.5);
/// So may one that takes more than this part of the land (chosen, no source).
const WIDE_SHARE: f64 = 0.1;
/// A card's land counts as seen when readings reach this part of it (chosen, no source).
const SEEN_SHARE: f64 = 0.98;

impl Reader<'_> {
    pub fn figures(&self, values: &ToothValues) -> Vec<Figure> {
        let mut figures = vec![self.clearance(values)];
        figures.extend(self.of_the_curve(values));
        let total = self.total(values);
        figures.push(self.wear(values, &total));
        figures.push(total);
        figures.extend(self.facets(values));
        figures.push(self.edge_radius(values));
        figures
    }

    /// Heel clearance, from the land as measured.
    fn clearance(&self, values: &ToothValues) -> Figure {
        let name = Name::HeelClearance;
        let Some(least) = self.plan.least else {
            return Figure::missing(
                name,
                Some(self.index),
                format!(
                    "the land ends {} behind the edge, before the check distance of {}",
                    told::mm(self.along(self.plan.end), 2),
                    told::mm(self.part.feature.check_distance, 2)
                ),
            );
        };
        let mut budget = self.extreme_budget(&least, &|values| values.clearance_mm);
        budget.add(self.encoder(self.slope_at(least.arc) - standing(self.part.feature)));
        let blind = self.blind(values, &least);
        Figure {
            at: Some((self.tooth.edge.angle.value + least.arc).in_turn()),
            bound: blind.as_ref().map(|_| Bound::AtMost),
            blind,
            ..Figure::of(name, Some(self.index), values.clearance_mm, budget)
        }
    }

    fn total(&self, values: &ToothValues) -> Figure {
        let name = Name::TotalRelief;
        let Some(greatest) = self.plan.greatest else {
            return Figure::missing(
                name,
                Some(self.index),
                "the land shows no readings".to_owned(),
            );
        };
        let budget = self.extreme_budget(&greatest, &|values| values.total_mm);
        // The edge belongs to its land, and lies at no drop: a land that only rises has none greater.
        let (arc, value) = if values.total_mm < 0.0 {
            (Angle::ZERO, 0.0)
        } else {
            (greatest.arc, values.total_mm)
        };
        let unproven = (!self.read_to_its_end()).then(|| {
            format!(
                "the land falls by no less than this over the {:.1}° that were read of it, and may fall further; turn on until the stylus falls into the gap",
                self.plan.end.deg()
            )
        });
        Figure {
            bound: unproven.as_ref().map(|_| Bound::AtLeast),
            unproven,
            at: Some((self.tooth.edge.angle.value + arc).in_turn()),
            ..Figure::of(name, Some(self.index), value, budget)
        }
    }

    /// The budget of a drop read from the smooth land at one place.
    fn extreme_budget(&self, extreme: &Extreme, pick: &dyn Fn(&ToothValues) -> f64) -> Budget {
        let mut budget = Budget::default();
        let slope = self.slope_at(extreme.arc) - self.slope_of_carried_edge();
        let scatter = [
            extreme.drop.standard_uncertainty.mm(),
            own_edge_scatter(self.tooth, self.fit()).mm(),
            slope.mm() * self.edge_angle_scatter().rad(),
        ];
        let scatter = scatter.iter().map(|u| u * u).sum::<f64>().sqrt();
        budget.add(Line::departure(Input::Readings, scatter));
        let error = self.error_against_edge(extreme, slope);
        let steps = self
            .edge_rounding()
            .mm()
            .hypot(self.land_rounding(extreme).mm());
        for line in indicator_lines(self.bench, error.mm(), Length::from_mm(steps), 1.0) {
            budget.add(line);
        }
        self.add_moves(&mut budget, pick);
        budget
    }

    /// What the indicator's error within limits brings to the drop of an extreme where the land falls
    /// by `slope`. Neither the edge nor the extreme is one reading: each is the answer of a corner or
    /// of a smooth to all readings that it was drawn through.
    fn error_against_edge(&self, extreme: &Extreme, slope: Length) -> Length {
        let on_land = self.land_readings(extreme).into_iter();
        let on_land = on_land.map(|(travel, weight)| (travel, -weight));
        let readings: Vec<(Length, f64)> =
            self.edge_answers(1.0, slope.mm()).chain(on_land).collect();
        Length::from_mm(indicator_error(&self.bench.gauge.indicator, &readings))
    }

    /// Relief angle, drop and its flat equivalent, from the fitted curve.
    fn of_the_curve(&self, values: &ToothValues) -> Vec<Figure> {
        let names = [Name::ReliefAngle, Name::Drop, Name::FlatEquivalentRelief];
        let choice = match &self.fitted.choice {
            Ok(choice) => choice,
            Err(why) => {
                return names
                    .map(|name| Figure::missing(name, Some(self.index), format!("no curve: {why}")))
                    .into();
            }
        };
        let unproven = distrust(&choice.best);
        let unread_margin = self
            .plan
            .margin
            .and_then(|margin| self.unread_margin(margin));
        let figure = |name, value: f64, budget| Figure {
            unproven: unproven.clone(),
            ..Figure::of(name, Some(self.index), value, budget)
        };
        let (relief_deg, relief_budget) = match self.plan.margin {
            Some(margin) => (
                values.relief_deg,
                self.margin_lean_budget(&choice.best, margin),
            ),
            None => (
                values.relief_deg + shift(self.relief()),
                self.relief_budget(),
            ),
        };
        let mut relief = figure(Name::ReliefAngle, relief_deg, relief_budget);
        relief.unproven = relief.unproven.or(unread_margin);
        if self.plan.check > self.plan.end {
            let why = format!(
                "the land ends {} behind the edge, before the check distance",
                told::mm(self.along(self.plan.end), 2)
            );
            return vec![
                relief,
                Figure::missing(Name::Drop, Some(self.index), why.clone()),
                Figure::missing(Name::FlatEquivalentRelief, Some(self.index), why),
            ];
        }
        let drop_budget = self.drop_budget(&choice.best);
        let drop_mm = values.drop_mm + shift(self.drop());
        let flat_deg = self.flat_of(drop_mm);
        let flat_budget = self.flat_budget(&drop_budget, drop_mm);
        vec![
            relief,
            figure(Name::Drop, drop_mm, drop_budget),
            figure(Name::FlatEquivalentRelief, flat_deg, flat_budget),
        ]
    }

    /// Why the relief of a margin is not told that too few places were read on.
    fn unread_margin(&self, margin: Angle) -> Option<String> {
        /// Places that tell how a margin leans (chosen, no source).
        const FEWEST: usize = 3;
        let points = &self.fitted.points;
        let seen = points.partition_point(|point| point.arc <= margin);
        (seen < FEWEST).then(|| {
            format!(
                "the edge stands lower than where the curve of its land begins, as if a margin of {} came first, on which {seen} places were read; turn slower, and look at the edge for wear",
                told::mm(self.along(margin), 2))
        })
    }

    pub fn relief_budget(&self) -> Budget {
        let relief = self.relief();
        let Some((relief, answer)) = relief.and_then(Curved::answered) else {
            return Budget::unknown();
        };
        let mut budget = self.budget_of(answer);
        self.add_moves(&mut budget, &|values| values.relief_deg);
        budget.add(family_line(relief.families.deviation()));
        budget
    }

    fn drop_budget(&self, fit: &Fit) -> Budget {
        let drop = self.drop();
        let Some((drop, answer)) = drop.and_then(Curved::answered) else {
            return Budget::unknown();
        };
        let mut budget = self.budget_of(answer);
        self.add_moves(&mut budget, &|values| values.drop_mm);
        budget.add(family_line(drop.families.deviation()));
        budget.add(edge_apart_line(fit, self.plan.trust));
        budget.add(off_curve_line(fit, self.waves_of_indicator()));
        budget
    }

    /// How far the indicator's error may make a true land wave: half of what it may differ by over
    /// all of the land's travel, in mm.
    fn waves_of_indicator(&self) -> f64 {
        let travels = || self.fit_travels();
        let least = travels().reduce(Length::min);
        let greatest = travels().reduce(Length::max);
        let ends = least.zip(greatest);
        let ends = ends.map(|(least, greatest)| [(least, -0.5), (greatest, 0.5)]);
        ends.map_or(0.0, |ends| {
            indicator_error(&self.bench.gauge.indicator, &ends)
        })
    }

    /// The drop's budget carried over to the angle that the drop stands for.
    fn flat_budget(&self, drop: &Budget, drop_mm: f64) -> Budget {
        let step = 1e-5;
        let either_side = self.flat_of(drop_mm + step) - self.flat_of(drop_mm - step);
        let per_mm = either_side / (2.0 * step);
        drop.scaled(per_mm)
    }

    /// The angle of the flat land with the same drop, in degrees.
    fn flat_of(&self, drop_mm: f64) -> f64 {
        let surface = self.part.feature.surface;
        flat_equivalent(
            Length::from_mm(drop_mm),
            self.plan.check,
            self.plan.circle,
            surface,
        )
    }

    /// Whether the land was read to where it falls off, or as far as the card asks.
    fn read_to_its_end(&self) -> bool {
        let asked = self.part.feature.land;
        self.tooth.heel_seen || asked.is_some_and(|land| self.plan.end >= land * SEEN_SHARE)
    }

    /// What was not seen of the land and could stand higher than all that was.
    fn blind(&self, values: &ToothValues, least: &Extreme) -> Option<String> {
        let feature = self.part.feature;
        if !self.read_to_its_end() {
            return Some(format!(
                "readings stop {:.1}° behind the edge and no end of the land was seen: its heel may stand in what is missing; turn on until the stylus falls into the gap",
                self.plan.end.deg()
            ));
        }
        let limit = feature
            .limits
            .get(Name::HeelClearance)
            .and_then(|limit| limit.min)
            .unwrap_or(0.0);
        let measured = self.measured();
        self.tooth
            .holes
            .iter()
            .filter(|(from, to)| *to > self.plan.check && *from < self.plan.end)
            .find_map(|&(from, to)| {
                let width = self.along(to - from);
                let beside = [from, to]
                    .into_iter()
                    .filter_map(|arc| measured.drop(arc.min(self.plan.end)))
                    .map(|drop| drop.value)
                    .fold(Length::from_mm(f64::INFINITY), Length::min);
                let lowest = beside - width * (STEEPEST_RISE / 2.0) - standing(feature) * to.rad();
                let wide = width > WIDE_HOLE || to - from > self.plan.end * WIDE_SHARE;
                let hides = lowest.mm() < limit.max(0.0) && lowest.mm() < values.clearance_mm;
                (wide || hides).then(|| {
                    format!(
                        "nothing was read from {:.1}° to {:.1}° behind the edge, where the land could stand higher than the least that was read ({:.1}°); turn over it again",
                        from.deg(),
                        to.deg(),
                        least.arc.deg()
                    )
                })
            })
    }
}

/// From the figure of the chosen family to the mean of those that the land may be of.
fn shift(curved: Option<&Curved>) -> f64 {
    curved.map_or(0.0, |curved| curved.families.shift())
}

/// Why figures from a fit prove nothing; `None` where nothing speaks against it.
pub(super) fn distrust(fit: &Fit) -> Option<String> {
    (!fit.trust.is_full()).then(|| {
        format!(
            "the `{}` curve fitted to this land is not to be trusted: {}",
            fit.curve.family().as_str(),
            super::words::doubts(&fit.trust)
        )
    })
}
