//! How one figure of a fitted curve answers everything that its fit was made from.

use super::lines::{encoder_line, indicator_lines};
use super::reader::{Answer, Curved, Reader};
use super::standard::indicator_error;
use super::{Budget, Input, Line};
use crate::fit::{Laid, Response};
use crate::quantity::Length;

impl Reader<'_> {
    /// The relief angle, in degrees; nothing where the land has no curve.
    pub fn relief(&self) -> Option<&Curved> {
        let of = || {
            let choice = self.fitted.choice.as_ref().ok()?;
            let relief = choice.best.relief_angle();
            let own = relief.standard_uncertainty.deg();
            Some(Curved {
                value: relief.value.deg(),
                own,
                answer: self.answering(|laid| laid.curve.relief_angle().deg(), own),
                families: choice.relief_averaged(),
            })
        };
        self.relief.get_or_init(of).as_ref()
    }

    /// The drop, in mm; nothing where the land has no curve.
    pub fn drop(&self) -> Option<&Curved> {
        let (check, trust) = (self.plan.check, self.plan.trust);
        let of = || {
            let choice = self.fitted.choice.as_ref().ok()?;
            let drop = choice.best.drop_below_edge(check, trust);
            let own = drop.standard_uncertainty.mm();
            let figure = |laid: &Laid| laid.drop_below_edge(check, trust).mm();
            Some(Curved {
                value: drop.value.mm(),
                own,
                answer: self.answering(figure, own),
                families: choice.drop_averaged(check, trust),
            })
        };
        self.drop.get_or_init(of).as_ref()
    }

    fn answering(&self, figure: impl Fn(&Laid) -> f64, own: f64) -> Option<Answer> {
        let response = self.fitted.response.as_ref()?;
        Some(self.answer(response, figure, own))
    }

    /// How `figure` answers, of which the fit leaves open `own`.
    pub fn answer(&self, response: &Response, figure: impl Fn(&Laid) -> f64, own: f64) -> Answer {
        self.answer_by(&response.weights(figure), own)
    }

    /// The same of a figure that grows with the drop of each point by these weights, per mm.
    pub fn answer_by(&self, weights: &[f64], own: f64) -> Answer {
        let edge: f64 = match self.tooth.edge.height_uncertainty {
            Some(_) => weights.iter().sum(),
            None => 0.0,
        };
        let shared = edge * self.part.edge_prior(self.tooth).mm();
        let land = self.fit_travels().zip(weights);
        Answer {
            free: self
                .fitted
                .fit()
                .map_or(f64::INFINITY, |fit| fit.degrees_of_freedom),
            chance: (own * own - shared * shared).max(0.0).sqrt(),
            land: land.map(|(travel, weight)| (travel, -weight)).collect(),
            edge,
            by_arc: self.by_arc(weights),
        }
    }

    /// Where the indicator stands on the readings that a fit was made of.
    pub fn fit_travels(&self) -> impl Iterator<Item = Length> + '_ {
        let (edge, height) = (self.tooth.edge.angle.value, self.tooth.edge.height);
        let points = self.fitted.points.iter();
        points.map(move |point| height - point.drop + self.part.swing(edge + point.arc))
    }

    /// A budget with what chance, the indicator and the encoder bring.
    pub fn budget_of(&self, answer: &Answer) -> Budget {
        let mut budget = Budget::default();
        let turned = answer.by_arc * self.edge_angle_scatter().rad();
        let chance = answer.chance.hypot(turned);
        budget.add(Line::departure(Input::ReadingsAndFit, chance).resting_on(answer.free));
        let on_edge = self.edge_answers(answer.edge, answer.by_arc);
        let readings: Vec<(Length, f64)> = answer.land.iter().copied().chain(on_edge).collect();
        let error = indicator_error(&self.bench.gauge.indicator, &readings);
        for line in indicator_lines(self.bench, error, self.edge_rounding(), answer.edge) {
            budget.add(line);
        }
        let steps = self.tooth.edge.steps.deg();
        let per_deg = answer.by_arc * 1f64.to_radians();
        budget.add(encoder_line(self.bench, per_deg, steps));
        budget
    }

    /// Change of a figure of the fit with the edge's arc, in its unit per radian: found further back,
    /// every place has what lies deeper behind it, and a carried edge is placed lower itself.
    fn by_arc(&self, weights: &[f64]) -> f64 {
        let Some(fit) = self.fitted.fit() else {
            return 0.0;
        };
        let carried = self.slope_of_carried_edge();
        let points = self.fitted.points.iter().zip(weights);
        points
            .map(|(point, weight)| weight * (fit.curve.slope(point.arc) - carried).mm())
            .sum()
    }
}
