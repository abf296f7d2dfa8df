//! The figures of all edges of a feature together: how even they stand, and how evenly spaced.

use super::bench::Bench;
use super::figures::{Figure, Plan, ToothValues, beyond_steps, edge_scatter};
use super::lines::{encoder_line, error_line, indicator_lines, moved_line, range_line};
use super::part::{EdgeReading, Move, Part};
use super::standard::indicator_error;
use super::{Budget, Input, Line};
use crate::card::Name;
use crate::quantity::{Angle, Length};

impl Part<'_> {
    pub fn spread(
        &self,
        bench: &Bench,
        plan: &Plan,
        base: &[Option<ToothValues>],
        moves: &[Move],
    ) -> Figure {
        let name = Name::EdgeSpread;
        let pair = plan
            .spread
            .and_then(|(high, low)| Some((high, low, base[high].as_ref()?, base[low].as_ref()?)));
        let Some((high, low, top, bottom)) = pair else {
            return if plan.teeth.len() < 2 {
                Figure::of_nothing(name, "a tool with one flute has one edge")
            } else {
                Figure::missing(name, None, "not every edge was found".to_owned())
            };
        };
        let value = top.edge_height_mm - bottom.edge_height_mm;
        let mut budget = Budget::default();
        let own = |i: usize| {
            self.profile.teeth[i]
                .as_ref()
                .map_or(0.0, |tooth| edge_scatter(tooth, self.fit_of(i)).mm())
        };
        let scatter = own(high).hypot(own(low));
        budget.add(Line::departure(Input::TwoEdges, scatter));
        let rounding = |i: usize| {
            let tooth = self.profile.teeth[i].as_ref();
            tooth.map_or(0.0, |tooth| self.edge_rounding(tooth, bench).mm())
        };
        let steps = rounding(high).hypot(rounding(low));
        budget.add(range_line(
            plan.teeth.len(),
            scatter.hypot(steps) / 2f64.sqrt(),
            value,
        ));
        let error = self.error_between(bench, [(high, 1.0), (low, -1.0)], |reading| reading.height);
        for line in indicator_lines(bench, error, Length::from_mm(steps), 1.0) {
            budget.add(line);
        }
        for each in moves {
            let change = each.change[high]
                .zip(each.change[low])
                .map(|(a, b)| a.edge_height_mm - b.edge_height_mm);
            budget.add(moved_line(&each.source, change));
        }
        Figure::of(name, None, value, budget)
    }

    /// What the indicator's error within limits brings to the difference of two edges.
    fn error_between(
        &self,
        bench: &Bench,
        edges: [(usize, f64); 2],
        answer: impl Fn(&EdgeReading) -> f64,
    ) -> f64 {
        let mut readings: Vec<(Length, f64)> = Vec::new();
        for (index, sign) in edges {
            let tooth = self.profile.teeth[index].as_ref();
            let of_edge = tooth
                .into_iter()
                .flat_map(|tooth| self.edge_readings(tooth));
            readings.extend(of_edge.map(|reading| (reading.travel, sign * answer(&reading))));
        }
        indicator_error(&bench.gauge.indicator, &readings)
    }

    pub fn spacing(&self, bench: &Bench, plan: &Plan, moves: &[Move]) -> Figure {
        let name = Name::FluteSpacing;
        let found = self.spacing_deviations();
        let worst = plan.spacing.zip(found);
        let Some((worst, found)) = worst else {
            return if plan.teeth.len() < 2 {
                Figure::of_nothing(name, "a tool with one flute has no spacing")
            } else {
                Figure::missing(name, None, "not every edge was found".to_owned())
            };
        };
        let next = (worst + 1) % plan.teeth.len();
        let value = found.deviations[worst].deg();
        let mut budget = Budget::default();
        let own = |i: usize| {
            let tooth = self.profile.teeth[i].as_ref();
            tooth.map_or(0.0, |tooth| beyond_steps(tooth).deg())
        };
        let scatter = own(worst).hypot(own(next));
        budget.add(Line::departure(Input::TwoEdges, scatter));
        let error = self.error_between(bench, [(next, 1.0), (worst, -1.0)], |reading| {
            reading.angle.to_degrees()
        });
        budget.add(error_line(bench, error));
        let steps = |i: usize| {
            let tooth = self.profile.teeth[i].as_ref();
            tooth.map_or(0.0, |tooth| tooth.edge.steps.deg())
        };
        let step = steps(worst).hypot(steps(next));
        budget.add(encoder_line(bench, 1.0, step));
        for each in moves {
            let change = each.change[next].zip(each.change[worst]).map(|(a, b)| {
                Angle::from_rad(a.edge_arc_rad - b.edge_arc_rad)
                    .shortest()
                    .deg()
            });
            budget.add(moved_line(&each.source, change));
        }
        Figure::of(name, None, value.abs(), budget)
    }
}
