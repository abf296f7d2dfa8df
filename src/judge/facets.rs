//! The second of two facets: where it begins, and how steeply it falls.

use super::figures::{Figure, ToothValues};
use super::reader::Reader;
use super::tooth::distrust;
use super::{Budget, Input, Line};
use crate::card::Name;
use crate::fit::Laid;

impl Reader<'_> {
    /// Width of the primary and angle of the secondary; none of both where the land is of one curve and
    /// no card asks for them.
    pub fn facets(&self, values: &ToothValues) -> Vec<Figure> {
        const NAMES: [Name; 2] = [Name::PrimaryWidth, Name::SecondaryAngle];
        let limits = &self.part.feature.limits;
        let asked = NAMES.map(|name| limits.get(name).is_some());
        let missing = |why: &str| {
            let names = NAMES.into_iter().zip(asked).filter(|(_, asked)| *asked);
            let each =
                names.map(|(name, _)| Figure::missing(name, Some(self.index), why.to_owned()));
            each.collect()
        };
        let choice = match &self.fitted.choice {
            Ok(choice) => choice,
            Err(why) => return missing(&format!("no curve: {why}")),
        };
        let fit = &choice.best;
        let (Some([width, secondary]), Some(response)) = (fit.facets(), &self.fitted.response)
        else {
            return missing("the land shows one curve and no second facet");
        };
        let one_curve = choice.rivals().any(|rival| rival.facets().is_none());
        let unproven = distrust(fit).or_else(|| {
            one_curve.then(|| "one curve explains the land about as well as two facets".to_owned())
        });
        let figure = |name, value, budget| Figure {
            unproven: unproven.clone(),
            ..Figure::of(name, Some(self.index), value, budget)
        };
        let along = |laid: &Laid| {
            laid.curve
                .primary()
                .map_or(f64::NAN, |arc| self.along(arc).mm())
        };
        let steep = |laid: &Laid| laid.curve.secondary().map_or(f64::NAN, |angle| angle.deg());
        let own = self.along(width.standard_uncertainty).mm();
        let mut width_budget = self.budget_of(&self.answer(response, along, own));
        self.add_moves(&mut width_budget, &|values| values.primary_mm);
        self.add_begin(&mut width_budget);
        let own = secondary.standard_uncertainty.deg();
        let mut angle_budget = self.budget_of(&self.answer(response, steep, own));
        self.add_moves(&mut angle_budget, &|values| values.secondary_deg);
        vec![
            figure(Name::PrimaryWidth, values.primary_mm, width_budget),
            figure(Name::SecondaryAngle, values.secondary_deg, angle_budget),
        ]
    }

    /// A width begins at the edge, and is read on the encoder at both ends.
    fn add_begin(&self, budget: &mut Budget) {
        let edge = self.along(self.edge_angle_scatter());
        budget.add(Line::departure(Input::LandEnds, edge.mm()));
        budget.add(self.encoder(self.part.clamping.radius * 2f64.sqrt()));
    }
}
