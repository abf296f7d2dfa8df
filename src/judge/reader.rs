//! What the figures of one tooth are read with.

use super::bench::Bench;
use super::budget::{Budget, Line};
use super::figures::{Plan, ToothPlan, ToothValues, beyond_steps, slope_of_carried_edge};
use super::least::{Extreme, Measured, Reading};
use super::lines::{encoder_line, moved_line};
use super::part::{EdgeReading, Fitted, Move, Part};
use crate::fit::{Averaged, Fit};
use crate::quantity::{Angle, Length};
use crate::shape::Tooth;
use std::cell::OnceCell;

/// Reads all figures of one tooth.
pub(super) struct Reader<'a> {
    pub part: &'a Part<'a>,
    pub bench: &'a Bench,
    pub moves: &'a [Move],
    pub index: usize,
    pub tooth: &'a Tooth,
    pub fitted: &'a Fitted,
    pub plan: &'a ToothPlan,
    /// Worked out once, for the budget and the trials.
    pub relief: OnceCell<Option<Curved>>,
    pub drop: OnceCell<Option<Curved>>,
}

/// What a figure of the fit hangs on, in its unit. The budget words it as lines, trials draw it.
pub(super) struct Answer {
    /// Of what the fit leaves open of the figure, by chance: the edge's play and steps, with which
    /// the fit weighs the edge, are told apart.
    pub chance: f64,
    /// Degrees of freedom that this rests on.
    pub free: f64,
    /// The readings that the land hangs on: where the indicator stands, and by how much the figure
    /// grows with each, per mm.
    pub land: Vec<(Length, f64)>,
    /// Growth with the edge's height, per mm: all drops grow together when the edge is read too high.
    pub edge: f64,
    /// Growth with the edge's arc, per radian.
    pub by_arc: f64,
}

/// A figure of the fitted curve.
pub(super) struct Curved {
    /// As the fit has it, in the figure's unit.
    pub value: f64,
    /// What the fit leaves open of it.
    pub own: f64,
    /// Nothing where the fit does not answer.
    pub answer: Option<Answer>,
    /// Of the families that the land may be of.
    pub families: Averaged,
}

impl Curved {
    /// With how it answers.
    pub fn answered(&self) -> Option<(&Self, &Answer)> {
        self.answer.as_ref().map(|answer| (self, answer))
    }
}

impl<'a> Reader<'a> {
    /// What reads one tooth's figures; nothing where no land was found.
    pub fn of(
        part: &'a Part<'a>,
        bench: &'a Bench,
        moves: &'a [Move],
        plan: &'a Plan,
        index: usize,
    ) -> Option<Self> {
        Some(Self {
            part,
            bench,
            moves,
            index,
            tooth: part.profile.teeth[index].as_ref()?,
            fitted: part.fitted[index].as_ref()?,
            plan: plan.teeth[index].as_ref()?,
            relief: OnceCell::new(),
            drop: OnceCell::new(),
        })
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

    pub fn measured(&self) -> Measured<'_> {
        let radius = self.part.feature.diameter / 2.0;
        Measured::new(&self.tooth.land, radius, self.tooth.end)
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

    pub fn fit(&self) -> Option<&Fit> {
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
}
