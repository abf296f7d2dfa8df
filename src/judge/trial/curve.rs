//! The figures of a fitted curve in a trial.

use super::super::Random;
use super::super::budget::{FEWEST, MANY};
use super::super::figures::{ToothValues, flat_equivalent};
use super::super::reader::{Curved, Reader};
use super::error_path::ErrorPath;
use super::{Drawn, Room};
use crate::card::Surface;
use crate::fit::{Averaged, Choice, Likely};
use crate::quantity::{Angle, Length};
use rand_distr::{ChiSquared, Distribution as _};

/// A tooth's curve with what is uncertain about its figures.
pub(super) struct CurveTrial {
    likely: Likely,
    /// How many degrees of freedom the fit's scatter rests on, where few.
    free: Option<(f64, ChiSquared<f64>)>,
    surface: Surface,
    circle: Length,
    check: Angle,
    trust: Option<Length>,
    /// The relief of a land that begins with a margin is that of the margin, which no curve has.
    pub draws_relief: bool,
    relief: Weighed,
    drop: Weighed,
}

/// One figure of the curve.
struct Weighed {
    value: f64,
    /// Of the families that the land may be of.
    families: Averaged,
    /// Of what the fit leaves open, the share that is not drawn with the edge already.
    chance: f64,
    /// Change with each source, by one standard uncertainty.
    by_source: Vec<f64>,
    /// Change with each error of the indicator, per mm.
    errors: Vec<(usize, f64)>,
    /// Change with the edge's height, per mm.
    edge: f64,
    /// Change with the arc of the edge, per radian.
    by_arc: f64,
}

/// What the figures of a curve come to in a trial.
pub(super) struct CurveFigures {
    pub relief_deg: f64,
    pub drop_mm: f64,
    pub flat_equivalent_deg: f64,
}

impl CurveTrial {
    pub fn of(reader: &Reader, path: &ErrorPath) -> Option<Self> {
        let choice: &Choice = reader.fitted.choice.as_ref().ok()?;
        let (fit, plan) = (&choice.best, reader.plan);
        let free = Some(fit.degrees_of_freedom.max(FEWEST))
            .filter(|free| *free < MANY)
            .and_then(|free| Some((free, ChiSquared::new(free).ok()?)));
        Some(Self {
            likely: fit.likely(),
            free,
            surface: reader.part.feature.surface,
            circle: plan.circle,
            check: plan.check,
            trust: plan.trust,
            draws_relief: plan.margin.is_none(),
            relief: Weighed::of(reader, reader.relief()?, path, |values| values.relief_deg)?,
            drop: Weighed::of(reader, reader.drop()?, path, |values| values.drop_mm)?,
        })
    }

    /// How many normal numbers a draw takes.
    pub fn normals(&self) -> usize {
        self.likely.normals()
    }

    /// By how much normal numbers are widened for a scatter that rests on few degrees of freedom:
    /// into Student's distribution.
    pub fn wider(&self, random: &mut Random) -> f64 {
        self.free.as_ref().map_or(1.0, |(free, squares)| {
            (free / squares.sample(random)).sqrt()
        })
    }

    pub fn draw(&self, drawn: &Drawn, room: &Room) -> CurveFigures {
        let laid = self.likely.draw(&room.normals, drawn.chance);
        let fitted = laid.drop_below_edge(self.check, self.trust).mm();
        let drop_mm = self.drop.drawn(fitted, drawn, room);
        CurveFigures {
            relief_deg: self
                .relief
                .drawn(laid.curve.relief_angle().deg(), drawn, room),
            flat_equivalent_deg: flat_equivalent(
                Length::from_mm(drop_mm),
                self.check,
                self.circle,
                self.surface,
            ),
            drop_mm,
        }
    }
}

impl Weighed {
    fn of(
        reader: &Reader,
        curved: &Curved,
        path: &ErrorPath,
        pick: fn(&ToothValues) -> f64,
    ) -> Option<Self> {
        let (own, answer) = (curved.own, curved.answer.as_ref()?);
        let by_source = reader
            .moves
            .iter()
            .map(|each| each.change[reader.index].as_ref().map_or(0.0, pick))
            .map(|change| if change.is_finite() { change } else { 0.0 });
        Some(Self {
            value: curved.value,
            families: curved.families.clone(),
            chance: if own > 0.0 { answer.chance / own } else { 0.0 },
            by_source: by_source.collect(),
            errors: path.gathered(answer.land.iter().copied()),
            edge: answer.edge,
            by_arc: answer.by_arc,
        })
    }

    fn drawn(&self, fitted: f64, drawn: &Drawn, room: &Room) -> f64 {
        let by_source = self.by_source.iter().zip(&room.sources);
        let moved: f64 = by_source.map(|(change, size)| change * size).sum();
        let errors = self.errors.iter();
        let error: f64 = errors.map(|(at, weight)| weight * room.errors[*at]).sum();
        self.value
            + self.families.shift()
            + self.families.drawn(drawn.family)
            + self.chance * (fitted - self.value)
            + moved
            + self.edge * (drawn.indicator_mm + drawn.edge_step_mm)
            + error
            + self.by_arc * drawn.turned()
    }
}
