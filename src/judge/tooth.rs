//! The figures of one tooth, each with its budget and with what it cannot see.

use super::answer::Answer;
use super::bench::Bench;
use super::figures::{
    Bound, Figure, ToothPlan, ToothValues, beyond_steps, flat_equivalent, own_edge_scatter,
    slope_of_carried_edge, standing,
};
use super::least::{Extreme, Measured, Reading};
use super::lines::{
    edge_apart_line, encoder_line, family_line, indicator_lines, moved_line, off_curve_line,
};
use super::part::{EdgeReading, Fitted, Move, Part};
use super::standard::indicator_error;
use super::{Budget, Input, Line};
use crate::card::Name;
use crate::fit::{Choice, Fit, Laid};
use crate::quantity::{Angle, Length, told};
use crate::shape::Tooth;

/// Reads all figures of one tooth.
pub(super) struct Reader<'a> {
    pub part: &'a Part<'a>,
    pub bench: &'a Bench,
    pub moves: &'a [Move],
    pub index: usize,
    pub tooth: &'a Tooth,
    pub fitted: &'a Fitted,
}

/// A heel that nobody saw is taken to rise no more steeply than this from the readings beside it
/// (tan 20°; common practice, no source).
const STEEPEST_RISE: f64 = 0.364;
/// A hole wider than this may hide anything.
const WIDE_HOLE: Length = Length::from_mm(1.5);
/// So may one that takes more than this part of the land.
const WIDE_SHARE: f64 = 0.1;
/// A card's land counts as seen when readings reach this part of it.
const SEEN_SHARE: f64 = 0.98;

impl<'a> Reader<'a> {
    /// What reads one tooth's figures; nothing where no land was found.
    pub fn of(
        part: &'a Part<'a>,
        bench: &'a Bench,
        moves: &'a [Move],
        index: usize,
    ) -> Option<Self> {
        Some(Self {
            part,
            bench,
            moves,
            index,
            tooth: part.profile.teeth[index].as_ref()?,
            fitted: part.fitted[index].as_ref()?,
        })
    }

    pub fn figures(&self, plan: &ToothPlan, values: &ToothValues) -> Vec<Figure> {
        let mut figures = vec![self.clearance(plan, values)];
        figures.extend(self.of_the_curve(plan, values));
        let total = self.total(plan, values);
        figures.push(self.wear(plan, values, &total));
        figures.push(total);
        figures.push(self.edge_radius(values));
        figures
    }

    /// Heel clearance, from the land as measured.
    fn clearance(&self, plan: &ToothPlan, values: &ToothValues) -> Figure {
        let name = Name::HeelClearance;
        let Some(least) = plan.least else {
            return Figure::missing(
                name,
                Some(self.index),
                format!(
                    "the land ends {} behind the edge, before the check distance of {}",
                    told::mm(self.along(plan.end), 2),
                    told::mm(self.part.feature.check_distance, 2)
                ),
            );
        };
        let mut budget = self.extreme_budget(&least, &|values| values.clearance_mm);
        budget.add(self.encoder(self.slope_at(least.arc) - standing(self.part.feature)));
        let blind = self.blind(plan, values, &least);
        Figure {
            at: Some((self.tooth.edge.angle.value + least.arc).in_turn()),
            bound: blind.as_ref().map(|_| Bound::AtMost),
            blind,
            ..Figure::of(name, Some(self.index), values.clearance_mm, budget)
        }
    }

    fn total(&self, plan: &ToothPlan, values: &ToothValues) -> Figure {
        let name = Name::TotalRelief;
        let Some(greatest) = plan.greatest else {
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
        let unproven = (!self.read_to_its_end(plan)).then(|| {
            format!(
                "the land falls by no less than this over the {:.1}° that were read of it, and may fall further; turn on until the stylus falls into the gap",
                plan.end.deg()
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

    /// What the indicator's steps leave open of the edge's height.
    pub fn edge_rounding(&self) -> Length {
        self.part.edge_rounding(self.tooth, self.bench)
    }

    /// The same of a place of the land.
    pub fn land_rounding(&self, extreme: &Extreme) -> Length {
        let sweep = match extreme.kind {
            Reading::Narrow(_) | Reading::Crest(..) => Length::ZERO,
            // An end of a land is read over its corner, which sweeps over more than the land there.
            Reading::Smooth | Reading::Heel => self.measured().sweep(extreme.arc),
        };
        self.part
            .rounding(sweep, self.bench.gauge.indicator.resolution)
    }

    fn measured(&self) -> Measured<'_> {
        let radius = self.part.feature.diameter / 2.0;
        Measured::new(&self.tooth.land, radius, self.tooth.end)
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

    /// The readings that the height of a place of the land hangs on: where the indicator stands, and
    /// by how much the height changes with each.
    pub fn land_readings(&self, extreme: &Extreme) -> Vec<(Length, f64)> {
        let edge = self.tooth.edge.angle.value;
        let at =
            |arc: Angle, drop: Length| self.tooth.edge.height - drop + self.part.swing(edge + arc);
        let heel = &self.tooth.heel_corner;
        match extreme.kind {
            Reading::Smooth => {
                let shares = self.measured().shares(extreme.arc).into_iter();
                shares
                    .map(|(place, share)| (at(place.arc, place.drop), share))
                    .collect()
            }
            Reading::Heel if !heel.is_empty() => {
                let of_heel = heel.iter();
                of_heel
                    .map(|reading| (at(extreme.arc, reading.below), reading.height))
                    .collect()
            }
            Reading::Heel | Reading::Narrow(_) | Reading::Crest(..) => {
                vec![(at(extreme.arc, extreme.drop.value), 1.0)]
            }
        }
    }

    /// The readings that the edge hangs on.
    pub fn edge_readings(&self) -> impl Iterator<Item = EdgeReading> + use<'_> {
        self.part.edge_readings(self.tooth)
    }

    /// The same with weights, for a figure that grows by `height` per mm of the edge's height and by
    /// `angle` per radian of its arc.
    pub fn edge_answers(
        &self,
        height: f64,
        angle: f64,
    ) -> impl Iterator<Item = (Length, f64)> + use<'_> {
        self.edge_readings().map(move |reading| {
            let weight = height * reading.height + angle * reading.angle;
            (reading.travel, weight)
        })
    }

    /// Relief angle, drop and its flat equivalent, from the fitted curve.
    fn of_the_curve(&self, plan: &ToothPlan, values: &ToothValues) -> Vec<Figure> {
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
        let unread_margin = plan.margin.and_then(|margin| self.unread_margin(margin));
        let figure = |name, value: f64, budget| Figure {
            unproven: unproven.clone(),
            ..Figure::of(name, Some(self.index), value, budget)
        };
        let (relief_deg, relief_budget) = match plan.margin {
            Some(margin) => (
                values.relief_deg,
                self.margin_lean_budget(&choice.best, margin),
            ),
            None => (
                values.relief_deg + choice.relief_averaged().shift(),
                self.relief_budget(choice),
            ),
        };
        let mut relief = figure(Name::ReliefAngle, relief_deg, relief_budget);
        relief.unproven = relief.unproven.or(unread_margin);
        if plan.check > plan.end {
            let why = format!(
                "the land ends {} behind the edge, before the check distance",
                told::mm(self.along(plan.end), 2)
            );
            return vec![
                relief,
                Figure::missing(Name::Drop, Some(self.index), why.clone()),
                Figure::missing(Name::FlatEquivalentRelief, Some(self.index), why),
            ];
        }
        let drop_budget = self.drop_budget(choice, plan);
        let averaged = choice.drop_averaged(plan.check, plan.trust);
        let drop_mm = values.drop_mm + averaged.shift();
        let flat_deg = self.flat_of(drop_mm, plan);
        let flat_budget = self.flat_budget(&drop_budget, plan, drop_mm);
        vec![
            relief,
            figure(Name::Drop, drop_mm, drop_budget),
            figure(Name::FlatEquivalentRelief, flat_deg, flat_budget),
        ]
    }

    /// Why the relief of a margin is not told that too few places were read on.
    fn unread_margin(&self, margin: Angle) -> Option<String> {
        /// Places that tell how a margin leans.
        const FEWEST: usize = 3;
        let points = &self.fitted.points;
        let seen = points.partition_point(|point| point.arc <= margin);
        (seen < FEWEST).then(|| {
            format!(
                "the edge stands lower than where the curve of its land begins, as if a margin of {} came first, on which {seen} places were read; turn slower, and look at the edge for wear",
                told::mm(self.along(margin), 2))
        })
    }

    /// How the relief angle answers, in degrees; nothing where the fit does not.
    pub fn relief_answer(&self, fit: &Fit) -> Option<Answer> {
        let response = self.fitted.response.as_ref()?;
        let own = fit.relief_angle().standard_uncertainty.deg();
        let relief = |laid: &Laid| laid.curve.relief_angle().deg();
        Some(self.answer(response, relief, own))
    }

    /// How the drop answers, in mm; nothing where the fit does not.
    pub fn drop_answer(&self, fit: &Fit, plan: &ToothPlan) -> Option<Answer> {
        let response = self.fitted.response.as_ref()?;
        let drop = fit.drop_below_edge(plan.check, plan.trust);
        let of = |laid: &Laid| laid.drop_below_edge(plan.check, plan.trust).mm();
        Some(self.answer(response, of, drop.standard_uncertainty.mm()))
    }

    pub fn relief_budget(&self, choice: &Choice) -> Budget {
        let Some(answer) = self.relief_answer(&choice.best) else {
            return Budget::unknown();
        };
        let mut budget = self.budget_of(&answer);
        self.add_moves(&mut budget, &|values| values.relief_deg);
        budget.add(family_line(choice.relief_averaged().deviation()));
        budget
    }

    fn drop_budget(&self, choice: &Choice, plan: &ToothPlan) -> Budget {
        let fit = &choice.best;
        let Some(answer) = self.drop_answer(fit, plan) else {
            return Budget::unknown();
        };
        let mut budget = self.budget_of(&answer);
        self.add_moves(&mut budget, &|values| values.drop_mm);
        let averaged = choice.drop_averaged(plan.check, plan.trust);
        budget.add(family_line(averaged.deviation()));
        budget.add(edge_apart_line(fit, plan.trust));
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
    fn flat_budget(&self, drop: &Budget, plan: &ToothPlan, drop_mm: f64) -> Budget {
        let step = 1e-5;
        let either_side = self.flat_of(drop_mm + step, plan) - self.flat_of(drop_mm - step, plan);
        let per_mm = either_side / (2.0 * step);
        drop.scaled(per_mm)
    }

    /// The angle of the flat land with the same drop, in degrees.
    fn flat_of(&self, drop_mm: f64, plan: &ToothPlan) -> f64 {
        let surface = self.part.feature.surface;
        flat_equivalent(Length::from_mm(drop_mm), plan.check, plan.circle, surface)
    }

    pub fn add_moves(&self, budget: &mut Budget, pick: &dyn Fn(&ToothValues) -> f64) {
        for each in self.moves {
            let change = each.change[self.index].as_ref().map(pick);
            budget.add(moved_line(&each.source, change));
        }
    }

    pub fn encoder(&self, slope: Length) -> Line {
        let step = self.tooth.edge.steps;
        let per_deg = slope.mm() * 1f64.to_radians();
        encoder_line(self.bench, per_deg, step.deg())
    }

    pub fn slope_of_carried_edge(&self) -> Length {
        slope_of_carried_edge(self.tooth, self.fit())
    }

    fn fit(&self) -> Option<&Fit> {
        self.fitted.fit()
    }

    /// Uncertainty of the edge's angle but for the encoder's steps.
    pub fn edge_angle_scatter(&self) -> Angle {
        beyond_steps(self.tooth)
    }

    /// Fall of the measured land per radian of arc.
    pub fn slope_at(&self, arc: Angle) -> Length {
        let radius = self.part.feature.diameter / 2.0;
        let land = &self.tooth.land;
        let (Some(first), Some(last)) = (land.first(), land.last()) else {
            return Length::ZERO;
        };
        let measured = self.measured();
        let step = Angle::from_rad(Length::from_mm(0.1) / radius);
        // A smooth that is read beyond the places that it was drawn through goes anywhere.
        let (ahead, behind) = ((arc + step).min(last.arc), (arc - step).max(first.arc));
        match (measured.drop(ahead), measured.drop(behind)) {
            (Some(low), Some(high)) if ahead > behind => {
                (low.value - high.value) / (ahead - behind).rad()
            }
            _ => Length::ZERO,
        }
    }

    pub fn along(&self, arc: Angle) -> Length {
        self.part.feature.diameter / 2.0 * arc.rad()
    }

    /// Whether the land was read to where it falls off, or as far as the card asks.
    fn read_to_its_end(&self, plan: &ToothPlan) -> bool {
        let asked = self.part.feature.land;
        self.tooth.heel_seen || asked.is_some_and(|land| plan.end >= land * SEEN_SHARE)
    }

    /// What was not seen of the land and could stand higher than all that was.
    fn blind(&self, plan: &ToothPlan, values: &ToothValues, least: &Extreme) -> Option<String> {
        let feature = self.part.feature;
        if !self.read_to_its_end(plan) {
            return Some(format!(
                "readings stop {:.1}° behind the edge and no end of the land was seen: its heel may stand in what is missing; turn on until the stylus falls into the gap",
                plan.end.deg()
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
            .filter(|(from, to)| *to > plan.check && *from < plan.end)
            .find_map(|&(from, to)| {
                let width = self.along(to - from);
                let beside = [from, to]
                    .into_iter()
                    .filter_map(|arc| measured.drop(arc.min(plan.end)))
                    .map(|drop| drop.value)
                    .fold(Length::from_mm(f64::INFINITY), Length::min);
                let lowest = beside - width * (STEEPEST_RISE / 2.0) - standing(feature) * to.rad();
                let wide = width > WIDE_HOLE || to - from > plan.end * WIDE_SHARE;
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
