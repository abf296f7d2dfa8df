//! The radius of an edge's rounding, as the ride of a ball over it shows.

use super::figures::{Figure, ToothValues};
use super::lines::error_line;
use super::reader::Reader;
use super::standard::indicator_error;
use super::{Budget, Input, Line};
use crate::card::Name;
use crate::quantity::Length;
use crate::shape::Tip;

impl Reader<'_> {
    /// The radius of the edge's rounding.
    ///
    /// A ball rolls over it on a circle whose radius is both together. Its own is the card's, so that
    /// a radius below 0 is that of a ball smaller than stated: the edge is then told as sharp, and
    /// what the readings ask for is what trials draw about.
    pub fn edge_radius(&self, values: &ToothValues) -> Figure {
        let name = Name::EdgeRadius;
        let Some(found) = self.tooth.edge.rounding else {
            return Figure::missing(name, Some(self.index), self.too_few_on_the_edge());
        };
        let mut budget = Budget::default();
        let scatter = found.standard_uncertainty.mm();
        budget.add(Line::departure(Input::ReadingsAndFit, scatter));
        let travel = self.part.edge_travel(self.tooth);
        let readings = self.tooth.rounding.iter();
        let readings: Vec<(Length, f64)> = readings
            .map(|reading| (travel - reading.below, reading.radius))
            .collect();
        let error = indicator_error(&self.bench.gauge.indicator, &readings);
        budget.add(error_line(self.bench, error));
        self.add_moves(&mut budget, &|values| values.edge_radius_mm);
        Figure {
            at: Some(self.tooth.edge.angle.value),
            drawn_about: Some(values.edge_radius_mm),
            ..Figure::of(
                name,
                Some(self.index),
                values.edge_radius_mm.max(0.0),
                budget,
            )
        }
    }

    fn too_few_on_the_edge(&self) -> String {
        match self.part.clamping.tip {
            Tip::Ball(_) => "too few readings were taken while the ball rolled over this edge to tell how round it is; turn slower, or use a larger ball".to_owned(),
            Tip::Flat(_) | Tip::Point => "only the ride of a ball over an edge shows how round it is; trace it with a ball".to_owned(),
        }
    }
}
