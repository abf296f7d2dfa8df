//! The part as found under the clamping as stated, and what its values become under others.

use super::bench::{Bench, encoder_step};
use super::figures::{
    FluteSpacing, Plan, ToothValues, edge_circle, node_drops, spacing_deviations, values,
};
use super::rounding::common_share;
use super::source::Source;
use super::sources::sources;
use super::standard::{play, rectangular, resolution_step};
use crate::card::{Feature, Surface, ToolCard};
use crate::error::Result;
use crate::fit::{self, Choice, Fit, FitSettings, Laid, Land, LandPoint, Response};
use crate::quantity::{Angle, Length};
use crate::shape::{self, Anatomy, Clamping, LandPlace, Profile, Tooth, Walls};
use crate::trace::{Merged, ToothSpan, teeth};

/// A fit needs no more points than this: neighbours are averaged until there are no more.
const MOST_FIT_POINTS: usize = 240;

/// One input moved by its standard uncertainty, and the values that this gives.
pub(super) struct Move {
    pub source: Source,
    /// Change of each tooth's values.
    pub change: Vec<Option<ToothValues>>,
    /// The drops that this gives at the nodes of each tooth's plan, in mm.
    pub drops: Vec<Vec<f64>>,
}

/// What a tool's teeth come to under some clamping.
struct Moved {
    values: Vec<Option<ToothValues>>,
    drops: Vec<Vec<f64>>,
}

/// The part as found, with its curves.
pub(super) struct Part<'a> {
    pub merged: &'a Merged,
    pub feature: &'a Feature,
    /// Spacing by design; empty where equal.
    pub design: &'a [Angle],
    anatomies: Vec<Option<Anatomy>>,
    /// How the walls beside the teeth lean.
    pub walls: Option<Walls>,
    pub datum: Length,
    pub clamping: Clamping,
    pub step_uncertainty: Angle,
    /// What the fit may not trust any edge's height against the land's below.
    edge_prior: Length,
    /// What the indicator's error may differ by between an edge and the land beside it.
    error_beside: Length,
    pub profile: Profile,
    /// What was fitted to each tooth's land.
    pub fitted: Vec<Option<Fitted>>,
}

/// A reading that an edge hangs on.
#[derive(Clone, Copy, Debug)]
pub(super) struct EdgeReading {
    /// Where the indicator stands.
    pub travel: Length,
    /// Change of the edge's height with it, mm per mm.
    pub height: f64,
    /// Change of the edge's arc with it, radians per mm.
    pub angle: f64,
}

/// The land of one tooth as it was fitted.
pub(super) struct Fitted {
    pub points: Vec<LandPoint>,
    /// Its curve, or why there is none.
    pub choice: std::result::Result<Choice, String>,
    /// How the fit answers small changes; missing where the fit is.
    pub response: Option<Response>,
    /// The same with a margin that is free to grow.
    pub margin: Option<Response>,
}

impl Fitted {
    pub fn fit(&self) -> Option<&Fit> {
        self.choice.as_ref().ok().map(|choice| &choice.best)
    }

    /// Whether the curve falls away from the edge on.
    pub fn is_bare_of_margin(&self) -> bool {
        self.fit().is_some_and(|fit| {
            fit.curve.margin().is_none() && fit.curve.relief_angle() > Angle::ZERO
        })
    }
}

impl<'a> Part<'a> {
    pub fn find(
        merged: &'a Merged,
        tool: &'a ToolCard,
        feature: &'a Feature,
        bench: &Bench,
    ) -> Result<Self> {
        let mut spans = teeth(merged, tool.flutes)?;
        let clamping = bench.clamping(feature);
        let step_uncertainty = encoder_step(bench.gauge.encoder);
        let mut datum = merged
            .cells
            .iter()
            .map(|cell| cell.reading)
            .fold(Length::from_mm(f64::NEG_INFINITY), Length::max);
        let find = |spans: &[ToothSpan], datum: Length| {
            let anatomies = shape::anatomies(merged, spans, datum, &clamping, step_uncertainty);
            let profile = shape::profile(merged, &anatomies, datum, &clamping, step_uncertainty);
            (anatomies, profile)
        };
        let (_, first) = find(&spans, datum);
        if let Some(highest) = highest_edge(&first) {
            // The datum is the reading at the highest edge, which is not the highest reading when
            // a land rises above its edge.
            datum += match feature.surface {
                Surface::Radial => highest - clamping.radius,
                Surface::Axial => highest,
            };
        }
        start_nearest_zero(&mut spans, &first);
        let (anatomies, profile) = find(&spans, datum);
        let mut part = Self {
            merged,
            feature,
            design: &tool.spacing,
            anatomies,
            walls: shape::walls(merged, &spans, datum, &clamping, step_uncertainty),
            datum,
            clamping,
            step_uncertainty,
            edge_prior: edge_prior(bench),
            // Half of it over the few hundredths of a millimetre that a land falls there.
            error_beside: rectangular(bench.gauge.indicator.max_error) / 2.0,
            profile,
            fitted: Vec::new(),
        };
        part.fit(bench);
        Ok(part)
    }

    /// Chooses a curve for every land.
    fn fit(&mut self, bench: &Bench) {
        let indicator = &bench.gauge.indicator;
        let usual = FitSettings::default();
        let settings = FitSettings {
            curve: self.feature.curve,
            // The indicator itself bends a straight land by its error and play; both are in the
            // budget, and no reason to doubt the curve.
            systematic: usual
                .systematic
                .max(indicator.max_error + indicator.hysteresis),
            // A bow as large as the indicator's own error says nothing about the family.
            immaterial: usual.immaterial.max(rectangular(indicator.max_error)),
            ..usual
        };
        let teeth = self.profile.teeth.iter();
        self.fitted = teeth
            .map(|tooth| Some(self.fitted(tooth.as_ref()?, &settings)))
            .collect();
    }

    fn fitted(&self, tooth: &Tooth, settings: &FitSettings) -> Fitted {
        let points = self.fit_points(tooth);
        let land = self.land(tooth, &points, &self.clamping);
        let choice = fit::choose(&land, settings).map_err(|error| error.message().to_owned());
        let best = choice.as_ref().ok().map(|choice| &choice.best);
        Fitted {
            response: best.and_then(|fit| fit.response(&land).ok()),
            margin: best.and_then(|fit| fit.margin_response(&land).ok()),
            choice,
            points,
        }
    }

    /// The curve of every land.
    pub fn curves(&self) -> Vec<Option<Laid>> {
        let each = self.fitted.iter();
        each.map(|fitted| Some(fitted.as_ref()?.fit()?.laid()))
            .collect()
    }

    /// How the flutes stand to the design.
    pub fn spacing_deviations(&self) -> Option<FluteSpacing> {
        spacing_deviations(&self.profile, self.design)
    }

    pub fn fit_of(&self, index: usize) -> Option<&Fit> {
        self.fitted[index].as_ref()?.fit()
    }

    fn land<'p>(&self, tooth: &Tooth, points: &'p [LandPoint], clamping: &Clamping) -> Land<'p> {
        Land {
            points,
            radius: edge_circle(tooth, clamping),
            surface: self.feature.surface,
            edge: tooth
                .edge
                .height_uncertainty
                .map(|own| Length::from_mm(own.mm().hypot(self.edge_prior(tooth).mm()))),
            end: self.judged_end(tooth),
        }
    }

    fn judged_end(&self, tooth: &Tooth) -> Angle {
        self.feature
            .land
            .map_or(tooth.end, |land| land.min(tooth.end))
    }

    /// The land up to where it is judged, neighbours averaged to a number that a fit needs.
    fn fit_points(&self, tooth: &Tooth) -> Vec<LandPoint> {
        let mut points = fit_points(&tooth.land[..self.judged_places(tooth)]);
        points.dedup_by(|next, kept| next.arc <= kept.arc);
        points
    }

    /// The same places of a tooth under another clamping, as many and as grouped as were fitted.
    fn points_as_fitted(&self, index: usize, tooth: &Tooth) -> Vec<LandPoint> {
        let base = self.profile.teeth[index].as_ref();
        let count = base.map_or(0, |base| self.judged_places(base));
        fit_points(&tooth.land[..count.min(tooth.land.len())])
    }

    /// How many places of a land lie where it is judged.
    fn judged_places(&self, tooth: &Tooth) -> usize {
        let end = self.judged_end(tooth);
        tooth.land.partition_point(|place| place.arc <= end)
    }

    pub fn values(&self, plan: &Plan) -> Vec<Option<ToothValues>> {
        let curves = self.curves();
        tooth_values(&self.profile, &curves, plan, self.feature, &self.clamping)
    }

    /// The values under another clamping, everything computed anew.
    fn values_under(&self, clamping: &Clamping, plan: &Plan) -> Moved {
        let profile = shape::profile(
            self.merged,
            &self.anatomies,
            self.datum,
            clamping,
            self.step_uncertainty,
        );
        let mut margins = vec![None; profile.teeth.len()];
        let mut curves: Vec<Option<Laid>> = vec![None; profile.teeth.len()];
        for (index, tooth) in profile.teeth.iter().enumerate() {
            let (Some(tooth), Some(fitted)) = (tooth, &self.fitted[index]) else {
                continue;
            };
            let Some(response) = &fitted.response else {
                continue;
            };
            let points = self.points_as_fitted(index, tooth);
            let land = self.land(tooth, &points, clamping);
            curves[index] = response.moved(&land);
            margins[index] = fitted
                .margin
                .as_ref()
                .filter(|_| fitted.is_bare_of_margin())
                .and_then(|margin| margin.margin_moved(&land));
        }
        let mut values = tooth_values(&profile, &curves, plan, self.feature, clamping);
        for (values, moved) in values.iter_mut().zip(margins) {
            if let (Some(values), Some(moved)) = (values, moved) {
                // A margin that is not there would grow by this, or shrink below none: a curve that
                // stays at none would hide what the input does.
                values.bare_mm = (clamping.radius * moved.rad()).mm();
            }
        }
        Moved {
            values,
            drops: tooth_drops(&profile, &curves, plan, self.feature, clamping),
        }
    }

    /// The drops at the nodes of each tooth's plan, in mm.
    pub fn drops(&self, plan: &Plan) -> Vec<Vec<f64>> {
        let curves = self.curves();
        tooth_drops(&self.profile, &curves, plan, self.feature, &self.clamping)
    }

    /// Moves every uncertain input once.
    pub fn moves(&self, bench: &Bench, plan: &Plan, base: &[Option<ToothValues>]) -> Vec<Move> {
        sources(bench, self.feature, &self.clamping, &self.merged.delay)
            .into_iter()
            .map(|source| {
                let moved = self.values_under(&source.moved, plan);
                let change = moved
                    .values
                    .iter()
                    .zip(base)
                    .map(|(moved, base)| Some(difference(moved.as_ref()?, base.as_ref()?)))
                    .collect();
                Move {
                    source,
                    change,
                    drops: moved.drops,
                }
            })
            .collect()
    }

    /// What the fit may not trust an edge's height against the land's below, beside its scatter.
    pub fn edge_prior(&self, tooth: &Tooth) -> Length {
        let rounding = tooth.edge.height_by_rounding;
        Length::from_mm(self.edge_prior.mm().hypot(rounding.mm()))
    }

    /// How far an edge may stand off the beginning of its curve by chance, where it was measured by
    /// itself: its scatter, the indicator's steps and play, and of the indicator's error what may lie
    /// between an edge and the land beside it.
    pub fn edge_trust(&self, tooth: &Tooth) -> Option<Length> {
        /// In standard uncertainties (chosen, no source).
        const BY_CHANCE: f64 = 1.5;
        let own = tooth.edge.height_uncertainty?;
        let apart = own.mm().hypot(self.edge_prior(tooth).mm());
        Some(Length::from_mm(apart.hypot(self.error_beside.mm())) * BY_CHANCE)
    }

    /// Where the indicator stands on an edge.
    pub fn edge_travel(&self, tooth: &Tooth) -> Length {
        tooth.edge.height + self.swing(tooth.edge.angle.value)
    }

    /// The readings that an edge hangs on: those of its corner, or where there is none, one at its
    /// height.
    pub fn edge_readings<'t>(
        &self,
        tooth: &'t Tooth,
    ) -> impl Iterator<Item = EdgeReading> + use<'t> {
        let travel = self.edge_travel(tooth);
        let alone = tooth.corner.is_empty().then_some(EdgeReading {
            travel,
            height: 1.0,
            angle: 0.0,
        });
        let of_corner = tooth.corner.iter().map(move |reading| EdgeReading {
            travel: travel - reading.below,
            height: reading.height,
            angle: reading.angle,
        });
        of_corner.chain(alone)
    }

    /// What the indicator's steps leave open of an edge's height.
    pub fn edge_rounding(&self, tooth: &Tooth, bench: &Bench) -> Length {
        let sweep = if tooth.corner.is_empty() {
            let places = tooth.land.iter().take(shape::CARRIED_FROM);
            let drops = places.map(|place| place.drop.mm());
            spread(drops.map(|drop| (drop, 1.0)))
        } else {
            let readings = tooth.corner.iter();
            spread(readings.map(|reading| (reading.below.mm(), reading.height.abs())))
        };
        self.rounding(Length::from_mm(sweep), bench.gauge.indicator.resolution)
    }

    /// What the indicator's steps leave open of a mean of readings that sweep over so much, beside
    /// what differs from reading to reading.
    pub fn rounding(&self, sweep: Length, resolution: Length) -> Length {
        if resolution <= Length::ZERO {
            return Length::ZERO;
        }
        let share = common_share(self.merged.noise / resolution, sweep / resolution);
        resolution_step(resolution) * share
    }

    /// What the eccentricity adds to a reading at an angle of the encoder: with it, a height is
    /// turned back into the travel at which the indicator read it.
    pub fn swing(&self, angle: Angle) -> Length {
        let clamping = &self.clamping;
        let motion = match self.feature.surface {
            Surface::Radial => clamping.eccentricity,
            Surface::Axial => {
                let of_face = clamping.eccentricity.scaled(clamping.face_fall);
                clamping.swash.and(of_face)
            }
        };
        let (sin, cos) = angle.rad().sin_cos();
        motion.x * cos + motion.y * sin
    }
}

/// Width of the even spread that has the same variance as weighted values.
fn spread(weighted: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut all, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for (value, weight) in weighted {
        all += weight;
        sum += weight * value;
        squares += weight * value * value;
    }
    if all <= 0.0 {
        return 0.0;
    }
    let mean = sum / all;
    (12.0 * (squares / all - mean * mean).max(0.0)).sqrt()
}

fn fit_points(land: &[LandPlace]) -> Vec<LandPoint> {
    let averaged = shape::averaged(land, MOST_FIT_POINTS);
    let each = averaged.into_iter();
    each.map(|place| LandPoint {
        arc: place.arc,
        drop: place.drop,
        standard_uncertainty: place.scatter,
    })
    .collect()
}

pub(super) fn highest_edge(profile: &Profile) -> Option<Length> {
    let heights = profile
        .teeth
        .iter()
        .flatten()
        .map(|tooth| tooth.edge.height);
    heights.reduce(Length::max)
}

/// Turns the order of the teeth so that the first is the one whose edge is nearest angle 0.
fn start_nearest_zero(spans: &mut [ToothSpan], profile: &Profile) {
    let nearest = (0..spans.len()).min_by(|&a, &b| {
        let far = |i: usize| match &profile.teeth[i] {
            Some(tooth) => tooth.edge.angle.value.shortest().abs(),
            None => Angle::TURN,
        };
        far(a).total_cmp(&far(b))
    });
    if let Some(first) = nearest {
        spans.rotate_left(first);
    }
}

/// What sets an edge and a land read by the same indicator apart, beside scatter: its steps and its
/// play. The fit may trust the edge's height against the land's no better than this.
fn edge_prior(bench: &Bench) -> Length {
    let indicator = &bench.gauge.indicator;
    let step = resolution_step(indicator.resolution);
    Length::from_mm(step.mm().hypot(play(indicator.hysteresis).mm()))
}

fn tooth_values(
    profile: &Profile,
    curves: &[Option<Laid>],
    plan: &Plan,
    feature: &Feature,
    clamping: &Clamping,
) -> Vec<Option<ToothValues>> {
    profile
        .teeth
        .iter()
        .zip(curves)
        .zip(&plan.teeth)
        .map(|((tooth, curve), plan)| {
            Some(values(
                tooth.as_ref()?,
                curve.as_ref(),
                plan.as_ref()?,
                feature,
                clamping,
            ))
        })
        .collect()
}

fn tooth_drops(
    profile: &Profile,
    curves: &[Option<Laid>],
    plan: &Plan,
    feature: &Feature,
    clamping: &Clamping,
) -> Vec<Vec<f64>> {
    let each = profile.teeth.iter().zip(curves).zip(&plan.teeth);
    each.map(|((tooth, curve), plan)| match (tooth, plan) {
        (Some(tooth), Some(plan)) => node_drops(tooth, curve.as_ref(), plan, feature, clamping),
        _ => Vec::new(),
    })
    .collect()
}

fn difference(moved: &ToothValues, base: &ToothValues) -> ToothValues {
    ToothValues {
        relief_deg: moved.relief_deg - base.relief_deg,
        margin_lean_deg: moved.margin_lean_deg - base.margin_lean_deg,
        bare_mm: moved.bare_mm - base.bare_mm,
        primary_mm: moved.primary_mm - base.primary_mm,
        secondary_deg: moved.secondary_deg - base.secondary_deg,
        drop_mm: moved.drop_mm - base.drop_mm,
        flat_equivalent_deg: moved.flat_equivalent_deg - base.flat_equivalent_deg,
        clearance_mm: moved.clearance_mm - base.clearance_mm,
        total_mm: moved.total_mm - base.total_mm,
        edge_radius_mm: moved.edge_radius_mm - base.edge_radius_mm,
        edge_height_mm: moved.edge_height_mm - base.edge_height_mm,
        edge_arc_rad: moved.edge_arc_rad - base.edge_arc_rad,
    }
}
