//! Judges one feature from one merged trace.

use super::bench::{Bench, encoder_step};
use super::figures::{
    Figure, Plan, ToothValues, edge_height, edge_scatter, spacing_deviations, values,
};
use super::lines::{
    encoder_line, error_of_difference, indicator_lines, moved_line, play, range_line,
    resolution_step, scatter_line,
};
use super::source::{Source, sources};
use super::studied::no_better_than_studied;
use super::tooth::Reader;
use super::{Budget, checks};
use crate::card::{Feature, Name, Surface, ToolCard};
use crate::error::Result;
use crate::fit::{self, Choice, Fit, FitSettings, Laid, Land, LandPoint, Response};
use crate::quantity::{Angle, Length};
use crate::shape::{self, Anatomy, Clamping, Profile, Tooth};
use crate::trace::{Merged, teeth};

/// What one trace of a feature tells.
#[derive(Clone, Debug)]
pub struct FeatureJudgement {
    /// In the order of growing angle, the first being the one nearest angle 0.
    pub teeth: Vec<ToothJudgement>,
    /// Every figure that the feature has, also those that could not be had.
    pub figures: Vec<Figure>,
    /// The reading that stands for the highest edge.
    pub datum: Length,
    /// Height of the highest edge on the profile's scale.
    pub highest_edge: Option<Length>,
    /// The clamping that was taken out.
    pub clamping: Clamping,
    /// How the flutes stand to the design; nothing where an edge is missing or there is but one.
    pub spacing: Option<FluteSpacing>,
    /// What was seen that a person should know.
    pub warnings: Vec<String>,
}

/// How the angles between neighbouring edges differ from the design's.
#[derive(Clone, Debug, PartialEq)]
pub struct FluteSpacing {
    /// By how much the angle to the next edge is too wide, a tooth each.
    pub deviations: Vec<Angle>,
    /// The tooth that the list of a card fits best from.
    pub from: usize,
}

/// One tooth with its curve.
#[derive(Clone, Debug)]
pub struct ToothJudgement {
    /// As the part has it; `None` where no land was found.
    pub tooth: Option<Tooth>,
    /// Height of the edge with what the curve adds to it.
    pub edge_height: Option<Length>,
    /// The curve of its land.
    pub choice: Option<Choice>,
    /// Why there is no curve.
    pub without_curve: Option<String>,
    /// How far the land is judged.
    pub judged_to: Option<Angle>,
}

/// A fit needs no more points than this: neighbours are averaged until there are no more.
const MOST_FIT_POINTS: usize = 240;

/// Judges the feature's figures from its merged trace.
///
/// # Errors
/// `teeth` and `trace-short` when the trace does not show the card's teeth.
pub fn judge(
    merged: &Merged,
    tool: &ToolCard,
    feature: &Feature,
    bench: &Bench,
) -> Result<FeatureJudgement> {
    let part = Part::find(merged, tool, feature, bench)?;
    let plan = Plan::new(&part.profile, &part.curves, feature, &tool.spacing);
    let base = part.values(&plan);
    let moves = part.moves(bench, &plan, &base);
    let mut figures = Vec::new();
    for (index, tooth_plan) in plan.teeth.iter().enumerate() {
        let reader = part.reader(bench, &moves, index);
        match (reader, tooth_plan, &base[index]) {
            (Some(reader), Some(tooth_plan), Some(values)) => {
                figures.extend(reader.figures(tooth_plan, values));
            }
            _ => figures.push(missing(
                Name::HeelClearance,
                Some(index),
                "no land was found behind this edge".to_owned(),
            )),
        }
    }
    figures.push(part.spread(bench, &plan, &base, &moves));
    figures.push(part.spacing(bench, &plan, &moves));
    no_better_than_studied(&mut figures, &bench.gauge.studies);
    if bench.runout_left(feature.surface).is_none() {
        for figure in &mut figures {
            leave_open(figure);
        }
    }
    Ok(part.finish(figures, &plan))
}

/// How many neighbours are averaged into one point of a fit.
fn groups_of(count: usize) -> usize {
    count.div_ceil(MOST_FIT_POINTS).max(1)
}

fn averaged(land: &[shape::LandPlace], group: usize) -> Vec<LandPoint> {
    land.chunks(group)
        .map(|chunk| {
            let count = chunk.len() as f64;
            let variance: f64 = chunk.iter().map(|place| place.scatter.mm().powi(2)).sum();
            LandPoint {
                arc: chunk.iter().map(|place| place.arc).sum::<Angle>() / count,
                drop: chunk.iter().map(|place| place.drop).sum::<Length>() / count,
                standard_uncertainty: Length::from_mm(variance.sqrt() / count),
            }
        })
        .collect()
}

pub(super) fn missing(name: Name, tooth: Option<usize>, why: String) -> Figure {
    Figure {
        name,
        tooth,
        value: None,
        budget: None,
        at: None,
        unproven: Some(why),
        blind: None,
    }
}

pub(super) const RUNOUT_UNKNOWN: &str = "the runout of the tool in the spindle is not known, and it can look just like relief: take a reference trace on the shank, or state `runout_mm` in the gauge card";

/// Without any knowledge of the runout no figure that it touches has an uncertainty.
fn leave_open(figure: &mut Figure) {
    figure.budget = None;
    if figure.unproven.is_none() {
        figure.unproven = Some(RUNOUT_UNKNOWN.to_owned());
    }
}

/// One input moved by its standard uncertainty, and the values that this gives.
pub(super) struct Move {
    pub source: Source,
    /// Change of each tooth's values.
    pub change: Vec<Option<ToothValues>>,
}

/// The part as found, with its curves.
pub(super) struct Part<'a> {
    pub merged: &'a Merged,
    pub feature: &'a Feature,
    /// Spacing by design; empty where equal.
    design: &'a [Angle],
    anatomies: Vec<Option<Anatomy>>,
    datum: Length,
    pub clamping: Clamping,
    angle_uncertainty: Angle,
    /// What the fit may not trust the edge's height against the land's below.
    pub edge_prior: Length,
    profile: Profile,
    choices: Vec<Option<std::result::Result<Choice, String>>>,
    fits: Vec<Option<Fit>>,
    /// How each fit answers small changes; missing where a fit is.
    responses: Vec<Option<Response>>,
    /// The same with a margin that is free to grow.
    margins: Vec<Option<Response>>,
    curves: Vec<Option<Laid>>,
}

impl<'a> Part<'a> {
    fn find(
        merged: &'a Merged,
        tool: &'a ToolCard,
        feature: &'a Feature,
        bench: &Bench,
    ) -> Result<Self> {
        let mut spans = teeth(merged, tool.flutes)?;
        let clamping = bench.clamping(feature);
        let angle_uncertainty = encoder_step(bench.gauge.encoder);
        let mut datum = merged
            .cells
            .iter()
            .map(|cell| cell.reading)
            .fold(Length::from_mm(f64::NEG_INFINITY), Length::max);
        let find = |spans: &[crate::trace::ToothSpan], datum: Length| {
            let anatomies = shape::anatomies(merged, spans, datum, &clamping, angle_uncertainty);
            let profile = shape::profile(merged, &anatomies, datum, &clamping, angle_uncertainty);
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
            datum,
            clamping,
            angle_uncertainty,
            edge_prior: edge_prior(bench),
            profile,
            choices: Vec::new(),
            fits: Vec::new(),
            responses: Vec::new(),
            margins: Vec::new(),
            curves: Vec::new(),
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
            immaterial: usual.immaterial.max(indicator.max_error / 3f64.sqrt()),
            ..usual
        };
        self.choices = self
            .profile
            .teeth
            .iter()
            .map(|tooth| {
                let tooth = tooth.as_ref()?;
                let points = self.fit_points(tooth);
                let chosen = fit::choose(&self.land(tooth, &points), &settings);
                Some(chosen.map_err(|error| error.message().to_owned()))
            })
            .collect();
        self.fits = self
            .choices
            .iter()
            .map(|choice| Some(choice.as_ref()?.as_ref().ok()?.best.clone()))
            .collect();
        let answers = |answer: fn(&Fit, &Land) -> Result<Response>| {
            let fitted = self.profile.teeth.iter().zip(&self.fits);
            let each = fitted.map(|(tooth, fit)| {
                let (tooth, fit) = (tooth.as_ref()?, fit.as_ref()?);
                answer(fit, &self.land(tooth, &self.fit_points(tooth))).ok()
            });
            each.collect()
        };
        (self.responses, self.margins) = (answers(Fit::response), answers(Fit::margin_response));
        self.curves = self
            .fits
            .iter()
            .map(|fit| {
                fit.as_ref().map(|fit| Laid {
                    curve: fit.curve,
                    edge_offset: fit.edge_offset.value,
                })
            })
            .collect();
    }

    pub fn land<'p>(&self, tooth: &Tooth, points: &'p [LandPoint]) -> Land<'p> {
        Land {
            points,
            radius: self.clamping.radius,
            surface: self.feature.surface,
            edge: tooth
                .edge
                .height_uncertainty
                .map(|own| Length::from_mm(own.mm().hypot(self.edge_prior.mm()))),
            end: self.judged_end(tooth),
        }
    }

    fn judged_end(&self, tooth: &Tooth) -> Angle {
        self.feature
            .land
            .map_or(tooth.end, |land| land.min(tooth.end))
    }

    /// The land up to where it is judged, neighbours averaged to a number that a fit needs.
    pub fn fit_points(&self, tooth: &Tooth) -> Vec<LandPoint> {
        let end = self.judged_end(tooth);
        let count = tooth.land.partition_point(|place| place.arc <= end);
        let mut points = averaged(&tooth.land[..count], groups_of(count));
        points.dedup_by(|next, kept| next.arc <= kept.arc);
        points
    }

    /// The same places of a tooth under another clamping, as many and as grouped as were fitted.
    fn points_as_fitted(&self, index: usize, tooth: &Tooth) -> Vec<LandPoint> {
        let count = self.profile.teeth[index].as_ref().map_or(0, |base| {
            let end = self.judged_end(base);
            base.land.partition_point(|place| place.arc <= end)
        });
        averaged(&tooth.land[..count.min(tooth.land.len())], groups_of(count))
    }

    fn values(&self, plan: &Plan) -> Vec<Option<ToothValues>> {
        tooth_values(&self.profile, &self.curves, plan, self.feature)
    }

    /// The values under another clamping, everything computed anew.
    fn values_under(&self, clamping: &Clamping, plan: &Plan) -> Vec<Option<ToothValues>> {
        let profile = shape::profile(
            self.merged,
            &self.anatomies,
            self.datum,
            clamping,
            self.angle_uncertainty,
        );
        let mut margins = vec![None; profile.teeth.len()];
        let mut curves: Vec<Option<Laid>> = vec![None; profile.teeth.len()];
        for (index, tooth) in profile.teeth.iter().enumerate() {
            let (Some(tooth), Some(response)) = (tooth, &self.responses[index]) else {
                continue;
            };
            let points = self.points_as_fitted(index, tooth);
            let land = Land {
                radius: clamping.radius,
                ..self.land(tooth, &points)
            };
            curves[index] = response.moved(&land);
            margins[index] = self.margins[index]
                .as_ref()
                .filter(|_| self.is_bare_of_margin(index))
                .and_then(|margin| margin.margin_moved(&land));
        }
        let mut values = tooth_values(&profile, &curves, plan, self.feature);
        for (values, moved) in values.iter_mut().zip(margins) {
            if let (Some(values), Some(moved)) = (values, moved) {
                // A margin that is not there would grow by this, or shrink below none: a curve that
                // stays at none would hide what the input does.
                values.bare_mm = (clamping.radius * moved.rad()).mm();
            }
        }
        values
    }

    /// Whether a tooth's curve falls away from the edge on.
    pub fn is_bare_of_margin(&self, index: usize) -> bool {
        self.curves[index].is_some_and(|laid| {
            laid.curve.margin().is_none() && laid.curve.relief_angle() > Angle::ZERO
        })
    }

    /// Moves every uncertain input once.
    fn moves(&self, bench: &Bench, plan: &Plan, base: &[Option<ToothValues>]) -> Vec<Move> {
        sources(bench, self.feature, &self.clamping, &self.merged.delay)
            .into_iter()
            .map(|source| {
                let moved = self.values_under(&source.moved, plan);
                let change = moved
                    .iter()
                    .zip(base)
                    .map(|(moved, base)| Some(difference(moved.as_ref()?, base.as_ref()?)))
                    .collect();
                Move { source, change }
            })
            .collect()
    }

    /// What reads one tooth's figures; nothing where no land was found.
    fn reader<'r>(
        &'r self,
        bench: &'r Bench,
        moves: &'r [Move],
        index: usize,
    ) -> Option<Reader<'r>> {
        Some(Reader {
            part: self,
            bench,
            moves,
            index,
            tooth: self.profile.teeth[index].as_ref()?,
            choice: self.choices[index]
                .as_ref()
                .and_then(|chosen| chosen.as_ref().ok()),
            response: self.responses[index].as_ref(),
            margin: self.margins[index].as_ref(),
        })
    }

    /// What the eccentricity adds to a reading at an angle of the encoder: with it, a height is
    /// turned back into the travel at which the indicator read it.
    pub fn swing(&self, angle: Angle) -> Length {
        let motion = match self.feature.surface {
            Surface::Radial => self.clamping.eccentricity,
            Surface::Axial => self.clamping.swash,
        };
        let (sin, cos) = angle.rad().sin_cos();
        motion.x * cos + motion.y * sin
    }

    /// Why a tooth has no curve.
    pub fn without_curve(&self, index: usize) -> String {
        match &self.choices[index] {
            Some(Err(why)) => why.clone(),
            _ => "the land shows too little".to_owned(),
        }
    }

    fn spread(
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
            let why = if plan.teeth.len() < 2 {
                "a tool with one flute has one edge"
            } else {
                "not every edge was found"
            };
            return missing(name, None, why.to_owned());
        };
        let value = top.edge_height_mm - bottom.edge_height_mm;
        let mut budget = Budget::default();
        let own = |i: usize| {
            self.profile.teeth[i]
                .as_ref()
                .map_or(0.0, |tooth| edge_scatter(tooth, self.fits[i].as_ref()).mm())
        };
        let scatter = own(high).hypot(own(low));
        budget.add(scatter_line("scatter of the two edges", scatter, "mm"));
        let step = resolution_step(bench.gauge.indicator.resolution).mm();
        budget.add(range_line(
            plan.teeth.len(),
            (scatter / 2f64.sqrt()).hypot(step),
            value,
        ));
        let read = |i: usize| {
            self.profile.teeth[i]
                .as_ref()
                .map_or(Length::ZERO, |tooth| {
                    tooth.edge.height + self.swing(tooth.edge.angle.value)
                })
        };
        let error = error_of_difference(&bench.gauge.indicator, read(high) - read(low));
        for line in indicator_lines(bench, error.mm(), 1.0, "mm") {
            budget.add(line);
        }
        for each in moves {
            let change = each.change[high]
                .zip(each.change[low])
                .map(|(a, b)| a.edge_height_mm - b.edge_height_mm);
            budget.add(moved_line(&each.source, change, "mm"));
        }
        Figure {
            name,
            tooth: None,
            value: Some(value),
            budget: Some(budget),
            at: None,
            unproven: None,
            blind: None,
        }
    }

    fn spacing(&self, bench: &Bench, plan: &Plan, moves: &[Move]) -> Figure {
        let name = Name::FluteSpacing;
        let found = spacing_deviations(&self.profile, self.design);
        let worst = plan.spacing.zip(found);
        let Some((worst, found)) = worst else {
            let why = if plan.teeth.len() < 2 {
                "a tool with one flute has no spacing"
            } else {
                "not every edge was found"
            };
            return missing(name, None, why.to_owned());
        };
        let next = (worst + 1) % plan.teeth.len();
        let value = found.deviations[worst].deg();
        let mut budget = Budget::default();
        let step = self.angle_uncertainty.deg();
        // The edge's own uncertainty already holds one encoder step; it is shown by itself.
        let own = |i: usize| {
            let u = self.profile.teeth[i]
                .as_ref()
                .map_or(0.0, |tooth| tooth.edge.angle.standard_uncertainty.deg());
            (u * u - step * step).max(0.0)
        };
        budget.add(scatter_line(
            "scatter of the two edges",
            (own(worst) + own(next)).sqrt(),
            "deg",
        ));
        budget.add(encoder_line(bench, 2f64.sqrt(), step, "deg"));
        for each in moves {
            let change = each.change[next].zip(each.change[worst]).map(|(a, b)| {
                Angle::from_rad(a.edge_arc_rad - b.edge_arc_rad)
                    .shortest()
                    .deg()
            });
            budget.add(moved_line(&each.source, change, "deg"));
        }
        Figure {
            name,
            tooth: None,
            value: Some(value.abs()),
            budget: Some(budget),
            at: None,
            unproven: None,
            blind: None,
        }
    }

    fn finish(self, figures: Vec<Figure>, plan: &Plan) -> FeatureJudgement {
        let highest_edge = highest_edge(&self.profile);
        let spacing = spacing_deviations(&self.profile, self.design);
        let teeth: Vec<ToothJudgement> = self
            .profile
            .teeth
            .into_iter()
            .zip(self.curves)
            .zip(self.choices)
            .zip(&plan.teeth)
            .map(|(((tooth, curve), choice), tooth_plan)| {
                let height = tooth
                    .as_ref()
                    .map(|tooth| edge_height(tooth, curve.as_ref()));
                let (choice, without_curve) = match choice {
                    Some(Ok(choice)) => (Some(choice), None),
                    Some(Err(why)) => (None, Some(why)),
                    None => (None, None),
                };
                ToothJudgement {
                    tooth,
                    edge_height: height,
                    choice,
                    without_curve,
                    judged_to: tooth_plan.map(|plan| plan.end),
                }
            })
            .collect();
        let warnings = checks::warnings(self.feature, &teeth, &figures);
        FeatureJudgement {
            teeth,
            figures,
            datum: self.datum,
            highest_edge,
            clamping: self.clamping,
            spacing,
            warnings,
        }
    }
}

fn highest_edge(profile: &Profile) -> Option<Length> {
    let heights = profile
        .teeth
        .iter()
        .flatten()
        .map(|tooth| tooth.edge.height);
    heights.reduce(Length::max)
}

/// Turns the order of the teeth so that the first is the one whose edge is nearest angle 0.
fn start_nearest_zero(spans: &mut [crate::trace::ToothSpan], profile: &Profile) {
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
            ))
        })
        .collect()
}

fn difference(moved: &ToothValues, base: &ToothValues) -> ToothValues {
    ToothValues {
        relief_deg: moved.relief_deg - base.relief_deg,
        margin_lean_deg: moved.margin_lean_deg - base.margin_lean_deg,
        bare_mm: moved.bare_mm - base.bare_mm,
        drop_mm: moved.drop_mm - base.drop_mm,
        flat_equivalent_deg: moved.flat_equivalent_deg - base.flat_equivalent_deg,
        clearance_mm: moved.clearance_mm - base.clearance_mm,
        total_mm: moved.total_mm - base.total_mm,
        edge_height_mm: moved.edge_height_mm - base.edge_height_mm,
        edge_arc_rad: moved.edge_arc_rad - base.edge_arc_rad,
    }
}
