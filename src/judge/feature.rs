//! Judges one feature from one merged trace.

use super::again::stand_again;
use super::behind::lands_longer;
use super::bench::Bench;
use super::checks;
use super::contrary::turns_contrary;
use super::disagree::disagreements;
use super::doubt::{Doubt, DoubtKind};
use super::few::few_readings;
use super::figures::{Figure, Plan, ToothValues, edge_height};
use super::guard::{self, Guard};
use super::judgement::{FeatureJudgement, ToothJudgement};
use super::lean::NOT_KNOWN;
use super::part::{Move, Part, highest_edge};
use super::reader::Reader;
use super::studied::no_better_than_studied;
use super::trial::{Chain, Effort};
use super::unproven::lean_doubt;
use super::visible::Visible;
use crate::card::{Feature, Name, ToolCard};
use crate::error::Result;
use crate::trace::{DelaySource, Merged};

/// Judges the feature's figures from its merged trace, with trials as `effort` says.
///
/// # Errors
/// `teeth` and `trace-short` when the trace does not show the card's teeth.
pub fn judge(
    merged: &Merged,
    tool: &ToolCard,
    feature: &Feature,
    bench: &Bench,
    effort: Effort,
) -> Result<FeatureJudgement> {
    let part = Part::find(merged, tool, feature, bench)?;
    let plan = Plan::new(
        &part.profile,
        &part.curves(),
        feature,
        &part.clamping,
        &tool.spacing,
        |tooth| part.edge_trust(tooth),
    );
    let base = part.values(&plan);
    let moves = part.moves(bench, &plan, &base);
    let mut figures = Vec::new();
    let readers: Vec<Option<Reader>> = (0..plan.teeth.len())
        .map(|index| Reader::of(&part, bench, &moves, &plan, index))
        .collect();
    for (index, reader) in readers.iter().enumerate() {
        match (reader, &base[index]) {
            (Some(reader), Some(values)) => figures.extend(reader.figures(values)),
            _ => figures.push(Figure::missing(
                Name::HeelClearance,
                Some(index),
                "no land was found behind this edge".to_owned(),
            )),
        }
    }
    figures.push(part.spread(bench, &plan, &base, &moves));
    figures.push(part.spacing(bench, &plan, &moves));
    no_better_than_studied(&mut figures, &bench.gauge.studies);
    let lean = lean_doubt(&figures, bench, is_lost(&moves, &base));
    if !bench.knows_runout() {
        for figure in &mut figures {
            leave_open(figure);
        }
    }
    let chain = Chain::of(&part, bench, &plan, &base, &moves, &readers);
    chain.draw(&mut figures, effort, &feature.limits);
    let guard = Guard::of(&part, bench);
    let visible = Visible::of(&part, &plan, &guard);
    let above = guard::stands_above(&guard, &part, &plan, &figures);
    let mut doubts = above.doubts;
    doubts.extend(lean);
    doubts.extend(of_readings(&part, &guard, &plan, &figures));
    let mut judgement = finish(part, figures, &plan);
    judgement.visible = visible;
    judgement.warnings.extend(above.notes);
    for doubt in doubts {
        judgement.doubt(doubt);
    }
    Ok(judgement)
}

/// What the readings themselves say against the figures.
fn of_readings(part: &Part, guard: &Guard, plan: &Plan, figures: &[Figure]) -> Vec<Doubt> {
    [
        turns_contrary(part),
        few_readings(part, figures),
        unknown_delay(part.merged).into_iter().collect(),
        disagreements(figures),
        lands_longer(part, &plan.teeth, figures),
        stand_again(guard, part, plan, figures),
    ]
    .concat()
}

/// Two clocks that nothing sets against each other put every reading anywhere.
fn unknown_delay(merged: &Merged) -> Option<Doubt> {
    (merged.delay.source == DelaySource::Unknown).then(|| {
        Doubt::about(
            DoubtKind::DelayUnknown,
            "indicator and encoder have clocks of their own, and the trace does not show how far they stand apart: a reading may belong to another place",
            "turn the tool forwards and back in one trace, or at two speeds, or state `delay_ms` in the gauge card",
        )
    })
}

pub(super) const RUNOUT_UNKNOWN: &str = "the runout of the tool in the spindle is not known, and it can look just like relief: take a reference trace on the shank, or state `runout_mm` in the gauge card";

/// Without any knowledge of the runout no figure that it touches has an uncertainty.
fn leave_open(figure: &mut Figure) {
    figure.budget = None;
    if figure.unproven.is_none() {
        figure.unproven = Some(RUNOUT_UNKNOWN.to_owned());
    }
}

/// Whether an unproven lean may be so large that the part is not found any more: what it does to a
/// figure then is not known to be nothing.
fn is_lost(moves: &[Move], base: &[Option<ToothValues>]) -> bool {
    let known = |values: &Option<ToothValues>| {
        let values = values.filter(|values| values.edge_height_mm.is_finite());
        values.map(|values| values.clearance_mm.is_finite() || values.drop_mm.is_finite())
    };
    let leaning = |each: &&Move| NOT_KNOWN.contains(&each.source.input);
    let lost = |each: &Move| {
        let mut pairs = each.change.iter().zip(base);
        pairs.any(|(moved, base)| known(base) > known(moved))
    };
    moves.iter().filter(leaning).any(lost)
}

fn finish(part: Part, figures: Vec<Figure>, plan: &Plan) -> FeatureJudgement {
    let highest_edge = highest_edge(&part.profile);
    let spacing = part.spacing_deviations();
    let curves = part.curves();
    let teeth: Vec<ToothJudgement> = part
        .profile
        .teeth
        .into_iter()
        .zip(curves)
        .zip(part.fitted)
        .zip(&plan.teeth)
        .map(|(((tooth, curve), fitted), tooth_plan)| {
            let height = tooth
                .as_ref()
                .map(|tooth| edge_height(tooth, curve.as_ref()));
            ToothJudgement {
                tooth,
                edge_height: height,
                choice: fitted.and_then(|fitted| fitted.choice.ok()),
                judged_to: tooth_plan.as_ref().map(|plan| plan.end),
            }
        })
        .collect();
    let warnings = checks::warnings(part.feature, &teeth, &figures);
    FeatureJudgement {
        teeth,
        figures,
        datum: part.datum,
        highest_edge,
        clamping: part.clamping,
        spacing,
        walls: part.walls,
        visible: None,
        warnings,
        doubts: Vec::new(),
    }
}
