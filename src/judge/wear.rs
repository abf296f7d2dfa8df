//! The width behind an edge that has no relief: a margin, a wear land, or a land that rises.

use super::figures::{Figure, ToothValues};
use super::lines::family_line;
use super::reader::Reader;
use super::source::diameter_tolerance;
use super::standard::{play, rectangular};
use super::tooth::distrust;
use super::{Budget, Input, Line, Spread};
use crate::card::Name;
use crate::fit::{Choice, Family, Fit, Laid, Response};
use crate::quantity::{Angle, Estimate, Length};
use crate::shape::Tip;

/// A land that nowhere lies deeper than one with this relief angle at its heel has none (common
/// practice, no source).
const NO_RELIEF: f64 = 0.1; // deg
/// So many standard uncertainties a relief must be above 0 to be told from none (common practice,
/// no source).
const CLEARLY: f64 = 2.0;

impl Reader<'_> {
    /// Width behind the edge without relief. `total` is the tooth's total relief.
    pub fn wear(&self, values: &ToothValues, total: &Figure) -> Figure {
        let name = Name::WearLand;
        let choice = match &self.fitted.choice {
            Ok(choice) => choice,
            Err(why) => {
                return Figure::missing(name, Some(self.index), format!("no curve: {why}"));
            }
        };
        if self.is_level(total) {
            let width = self.along(self.plan.end).mm();
            return self.wear_figure(width, self.whole_land_budget(width), None);
        }
        let fit = &choice.best;
        if fit.family() == Family::Free {
            let why = "no family of curves describes this land, so that nothing tells where its relief begins";
            return Figure::missing(name, Some(self.index), why.to_owned());
        }
        let shallow = self.depth_in_doubt(total);
        let unproven = distrust(fit);
        if !self.fitted.is_bare_of_margin() {
            let mut budget = self.bare_budget(choice);
            if shallow {
                budget.add(self.whole_land_line(values.bare_mm));
            }
            return self.wear_figure(values.bare_mm, budget, unproven);
        }
        let asked = self
            .fitted
            .margin
            .as_ref()
            .filter(|_| self.tooth.edge.height_uncertainty.is_some())
            .and_then(|margin| Some((margin, margin.margin()?)));
        let mut budget = match asked {
            Some((margin, asked)) => self.hidden_budget(margin, asked),
            None => self.unseen_budget(),
        };
        let relief = self.relief_budget().combined();
        let level_in_doubt = shallow || values.relief_deg < CLEARLY * relief;
        if level_in_doubt {
            budget.add(self.whole_land_line(0.0));
        }
        let unproven = unproven.or_else(|| {
            level_in_doubt.then(|| match shallow {
                true => "no place of the land is clearly lower than its edge, so that all of it could be without relief".to_owned(),
                false => format!(
                    "the relief at the edge, {:.2}° ± {:.2}°, is not told from none, so that all of the land could be without",
                    values.relief_deg, relief
                ),
            })
        });
        Figure {
            // Trials draw what the readings ask for: less than no margin is none.
            drawn_about: asked.map(|(_, asked)| self.along(asked.value).mm()),
            ..self.wear_figure(0.0, budget, unproven)
        }
    }

    fn wear_figure(&self, value: f64, budget: Budget, unproven: Option<String>) -> Figure {
        Figure {
            unproven,
            ..Figure::of(Name::WearLand, Some(self.index), value, budget)
        }
    }

    /// Whether the whole land has no relief.
    fn is_level(&self, total: &Figure) -> bool {
        let (Some(deepest), Some(budget)) = (total.value, &total.budget) else {
            return false;
        };
        let relieved = self.along(self.plan.end).mm() * NO_RELIEF.to_radians().tan();
        deepest + CLEARLY * budget.combined() <= relieved
    }

    /// Whether nothing of the land is clearly lower than its edge.
    fn depth_in_doubt(&self, total: &Figure) -> bool {
        let (Some(deepest), Some(budget)) = (total.value, &total.budget) else {
            return false;
        };
        deepest < CLEARLY * budget.combined()
    }

    /// What a relief that is not told from none leaves open beyond a width that was found, in mm: all
    /// of the land may be without.
    fn whole_land_line(&self, found: f64) -> Line {
        /// So far beyond the whole land its distribution reaches that a range of 95 % holds it.
        const BEYOND: f64 = 0.95;
        let rest = (self.along(self.plan.end).mm() - found).max(0.0) / BEYOND;
        Line::departure(Input::NoRelief, rectangular(rest)).spread(Spread::Upwards)
    }

    /// The uncertainty of the width of a whole land, in mm: its arc goes with the diameter.
    fn whole_land_budget(&self, width: f64) -> Budget {
        let mut budget = self.ends_budget();
        let diameter = self.part.clamping.radius * 2.0;
        let within = rectangular(diameter_tolerance(diameter)).mm();
        let line = Line::of(Input::Diameter, within, width / diameter.mm());
        budget.add(line.at(diameter.mm()).spread(Spread::Rectangular));
        if let Tip::Ball(ball) = self.part.clamping.tip {
            budget.add(self.late_end_line(ball));
        }
        budget
    }

    /// What play leaves open of where a land ends: a ball must roll so far over the heel's corner
    /// before it has sunk by the play, and only then the reading moves.
    fn late_end_line(&self, ball: Length) -> Line {
        let hysteresis = self.bench.gauge.indicator.hysteresis;
        let rolled = Length::from_mm((2.0 * ball.mm() * hysteresis.mm()).sqrt());
        // The root of what is anywhere between nothing and one scatters by this.
        let each = rolled / 18f64.sqrt();
        Line::bringing(Input::Hysteresis, play(hysteresis).mm(), each.mm()).at(hysteresis.mm())
    }

    /// The uncertainty of where a land begins and ends.
    fn ends_budget(&self) -> Budget {
        let mut budget = Budget::default();
        let ends = self.along(self.edge_angle_scatter()) * 2f64.sqrt();
        budget.add(Line::departure(Input::LandEnds, ends.mm()));
        budget.add(self.encoder(self.part.clamping.radius * 2f64.sqrt()));
        budget
    }

    /// The uncertainty of a width that the curve shows.
    fn bare_budget(&self, choice: &Choice) -> Budget {
        let width = |angle: Angle| self.along(angle).mm();
        let Some(response) = &self.fitted.response else {
            return Budget::unknown();
        };
        let own = width(
            choice
                .best
                .without_relief(self.plan.end)
                .standard_uncertainty,
        );
        let bare = |laid: &Laid| width(laid.curve.without_relief(self.plan.end));
        let mut budget = self.budget_of(&self.answer(response, bare, own));
        self.add_moves(&mut budget, &|values| values.bare_mm);
        let doubt = choice.without_relief_averaged(self.plan.end).about_chosen();
        budget.add(family_line(width(Angle::from_rad(doubt))));
        budget
    }

    /// How wide a margin could hide behind an edge that shows none: an edge that stands over its
    /// land's curve by a micrometre could do so by a margin of a micrometre over the relief's
    /// tangent.
    fn hidden_budget(&self, margin: &Response, asked: Estimate<Angle>) -> Budget {
        let width = |angle: Angle| self.along(angle).mm();
        let own = width(asked.standard_uncertainty);
        let of = |laid: &Laid| width(laid.curve.margin().unwrap_or(Angle::ZERO));
        let mut budget = self.budget_of(&self.answer(margin, of, own));
        self.add_moves(&mut budget, &|values| values.bare_mm);
        let hidden = width(asked.value).max(0.0);
        budget.add(Line::departure(Input::HiddenMargin, hidden).spread(Spread::Offset));
        budget
    }

    /// The same where the edge was not measured by itself but carried back from the land: nothing
    /// tells what lies before the first places.
    fn unseen_budget(&self) -> Budget {
        /// Places by which a margin would be noticed (chosen, no source).
        const NOTICED: usize = 3;
        let mut budget = self.ends_budget();
        let land = &self.tooth.land;
        let first = land.get(NOTICED).or(land.last()).map(|place| place.arc);
        let unseen = self.along(first.unwrap_or(self.tooth.end));
        let within = rectangular(unseen).mm();
        budget.add(Line::departure(Input::Unread, within).spread(Spread::Upwards));
        budget
    }

    /// The uncertainty of a margin's lean, which its curve takes as none: that of a line from the
    /// edge through what was read of it.
    pub fn margin_lean_budget(&self, fit: &Fit, margin: Angle) -> Budget {
        let points = &self.fitted.points;
        let on_it = |arc: Angle| if arc <= margin { arc.rad() } else { 0.0 };
        let squares: f64 = points.iter().map(|point| on_it(point.arc).powi(2)).sum();
        let per_mm = (squares * self.part.clamping.radius.mm())
            .recip()
            .to_degrees();
        let weights: Vec<f64> = points
            .iter()
            .map(|point| on_it(point.arc) * per_mm)
            .collect();
        let chance: f64 = std::iter::zip(points, &weights)
            .map(|(point, weight)| {
                (weight * point.standard_uncertainty.mm() * fit.inflation).powi(2)
            })
            .sum();
        let edge = self
            .tooth
            .edge
            .height_uncertainty
            .unwrap_or(Length::ZERO)
            .mm();
        let both = edge.hypot(self.part.edge_prior(self.tooth).mm()) * weights.iter().sum::<f64>();
        let own = chance.sqrt().hypot(both);
        let mut budget = self.budget_of(&self.answer_by(&weights, own));
        self.add_moves(&mut budget, &|values| values.margin_lean_deg);
        budget
    }
}
