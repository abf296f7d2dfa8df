//! The old lands as a match takes them.

use crate::card::{Cuts, Feature, Name, SharpenedOn, Surface, Wheel};
use crate::inspection::folder::Folder;
use crate::inspection::verify::{Before, Moved, Seen};
use crate::judge::{Doubt, DoubtKind, ToothJudgement};
use crate::quantity::{Angle, Estimate, Length};
use crate::setting::matching::{Face, OldLand, OldPlace};
use crate::setting::{Drawn, Section};
use crate::shape::{LandPlace, averaged};

/// Why what was measured does not bear a set-up, a sentence each.
pub(super) fn unfit(folder: &Folder, before: &Before) -> Vec<String> {
    let mut why = Vec::new();
    for (at, seen) in before.features.iter().enumerate() {
        let name = &seen.feature.name;
        let others = before.features.iter().take(at);
        let again = others.into_iter().any(|other| other.feature.name == *name);
        if again && set_anew(folder, name) {
            why.push(format!(
                "`{name}`: it was traced at several places along the tool and the indicator set anew between them, so that nothing tells how they stand to each other; take them with one setting"
            ));
        }
        why.extend(other_hand(seen));
        if seen.axis.is_none() {
            why.push(format!(
                "`{name}`: nothing tells how the tool ran out while it was measured; take a reference trace of a round of the same clamping"
            ));
        }
        for doubt in &seen.judgement.doubts {
            if blocks(doubt.kind) && !is_not_felt(doubt) {
                why.push(format!("`{name}`: {}", doubt.clause()));
            }
        }
        for (at, tooth) in seen.judgement.teeth.iter().enumerate() {
            let flute = at + 1;
            match &tooth.tooth {
                None => why.push(format!("`{name}`: no land was found on flute {flute}")),
                Some(land) if !land.holes.is_empty() => why.push(format!(
                    "`{name}`: part of the land of flute {flute} was not read; what must come off there is not known"
                )),
                Some(_) if at_the_bottom(seen, tooth) => why.push(format!(
                    "`{name}`: on the land of flute {flute} the plunger stood at the lowest reading of the trace, as at the end of its travel: what is below was not read; set the indicator so that it has travel left there"
                )),
                Some(_) => {}
            }
        }
    }
    // While a land is ridden on, the throw is changed by hand.
    let rounds = before.engaged.iter();
    for each in rounds.filter(|each| matches!(each.moved, Moved::Round(_))) {
        let way = each.stands.direction.as_str();
        let said = each.contradictions.iter();
        why.extend(said.map(|said| format!("the {way} motion: {said}; take its trace again")));
    }
    if before.features.is_empty() {
        why.push("no trace of a land was taken with the fixture locked".to_owned());
    }
    why.dedup();
    why
}

/// Why a land may not be ground, a sentence for each feature that is ground on its face.
pub(super) fn on_their_faces(before: &Before) -> Vec<String> {
    let on_face = before.features.iter().enumerate().filter(|(at, seen)| {
        let others = &before.features[..*at];
        seen.feature.sharpened_on == SharpenedOn::Face
            && others.iter().all(|it| it.feature.name != seen.feature.name)
    });
    let each = on_face.map(|(_, seen)| {
        format!(
            "`{}`: its card says that it is ground on the face, and a grind on its land would spoil its form: `setting face DIR` tells how far the faces go back",
            seen.feature.name
        )
    });
    each.collect()
}

/// Whether a piece of a land stands at the lowest reading of its trace.
fn at_the_bottom(seen: &Seen, judged: &ToothJudgement) -> bool {
    /// Steps that a land is looked through in, and how many of them are no chance.
    const STEP: f64 = 0.5;
    const MOST: usize = 6;
    let Some(tooth) = &judged.tooth else {
        return false;
    };
    let end = seen.end_of(tooth);
    let steps = (end.deg() / STEP).floor() as usize;
    // At its very end a land goes over into the gap.
    let inside = (2..steps.saturating_sub(4)).filter(|at| {
        let behind = Angle::from_deg(*at as f64 * STEP);
        is_bottom(seen, tooth.edge.angle.value + behind)
    });
    inside.count() > MOST
}

/// Whether a place stands at the lowest reading of the trace, together with those about it.
fn is_bottom(seen: &Seen, angle: Angle) -> bool {
    let mut bottoms = seen.bottoms.iter();
    bottoms.any(|(from, width)| (angle - *from).in_turn() <= *width)
}

/// Whether the indicator was set anew before a trace of a feature.
fn set_anew(folder: &Folder, name: &str) -> bool {
    let mut traces = folder.inspection.traces.iter();
    traces.any(|entry| entry.rezeroed && entry.role.feature() == Some(name))
}

/// That a tool was looked at from behind, where its lands show that.
pub(super) fn other_hand(seen: &Seen) -> Option<String> {
    let rise = rises(seen)?;
    Some(format!(
        "`{}`: behind each edge its land stands up to {:.2} mm above it: the hand on the tool's card, or the sense of the encoder, is the other one",
        seen.feature.name,
        rise.mm()
    ))
}

/// How far every land of a feature stands above its edge, where that is more than any heel drags by: the
/// tool was looked at from behind.
fn rises(seen: &Seen) -> Option<Length> {
    /// What drags by so much was never relieved (common practice, no source).
    const NEVER: Length = Length::from_mm(0.2);
    let teeth = seen.judgement.teeth.iter();
    let mut least: Option<Length> = None;
    for tooth in teeth.filter_map(|judged| judged.tooth.as_ref()) {
        let highest = tooth.land.iter().map(|place| -place.drop);
        let highest = highest.reduce(Length::max)?;
        least = Some(least.map_or(highest, |least| least.min(highest)));
    }
    least.filter(|least| *least > NEVER)
}

/// Whether places were read apart by so little that a skim does not feel it; it then counts as an error of
/// the indicator.
fn is_not_felt(doubt: &Doubt) -> bool {
    /// The least that is fed in on a tool grinder (common practice, no source).
    const NOT_FELT: Length = Length::from_mm(0.006);
    doubt.apart.is_some_and(|apart| apart < NOT_FELT)
}

/// Limit of the indicator's error over these traces: that of its card, and the most that the same places
/// of one of them were read apart.
pub(super) fn indicator(folder: &Folder, seen: &[&Seen]) -> Length {
    let doubts = seen.iter().flat_map(|seen| &seen.judgement.doubts);
    let apart = doubts.filter_map(|doubt| doubt.apart);
    folder.gauge.indicator.max_error + apart.reduce(Length::max).unwrap_or(Length::ZERO)
}

/// Whether a doubt leaves the shape of the lands open. What stands up on one of them, or behind it, is
/// ground away with the rest.
fn blocks(kind: DoubtKind) -> bool {
    !matches!(
        kind,
        DoubtKind::StandsAboveEdge | DoubtKind::StandsAgain | DoubtKind::FiguresDisagree
    )
}

/// The features that are fed in along a direction, every section that was traced of each.
pub(super) fn along(before: &Before, direction: Surface) -> Vec<&Seen> {
    let all = before.features.iter();
    all.filter(|seen| seen.feature.surface == direction)
        .collect()
}

/// Whether a section is the first of its feature: what is predicted is told of that one.
pub(super) fn is_first(all: &[&Seen], at: usize) -> bool {
    let name = |at: usize| all.get(at).map(|seen| &seen.feature.name);
    (0..at).all(|before| name(before) != name(at))
}

/// The lands of a feature under a wheel. `highest` is the radius of the largest of those that are ground
/// with it, at which the wheel has the radius that its card says.
pub(super) fn face<'a>(seen: &'a Seen, wheel: &Wheel, highest: Length, predicts: bool) -> Face<'a> {
    let feature = &seen.feature;
    let radius = feature.diameter / 2.0;
    let at_face = wheel.diameter / 2.0 + (highest - radius);
    let (section, drawn) = match (feature.surface, wheel.cuts) {
        (Surface::Radial, Cuts::Side) => (Section::Straight, Drawn::Across(radius)),
        (Surface::Radial, Cuts::Rim | Cuts::Corner) => {
            (Section::Round(at_face), Drawn::Across(radius))
        }
        (Surface::Axial, Cuts::Rim) => (
            Section::Round(wheel.diameter / 2.0),
            Drawn::Unrolled(radius),
        ),
        (Surface::Axial, Cuts::Corner | Cuts::Side) => (Section::Point, Drawn::Unrolled(radius)),
    };
    let level = match feature.surface {
        Surface::Radial => radius,
        Surface::Axial => Length::ZERO,
    };
    let lands = seen.judgement.teeth.iter();
    Face {
        feature,
        radius,
        level,
        section,
        drawn,
        lands: lands
            .enumerate()
            .filter_map(|(at, tooth)| land(seen, at, tooth, level))
            .collect(),
        measured: measured(seen),
        predicts,
    }
}

/// How surely each figure was measured at best. Worn lands are measured no better than ground ones.
fn measured(seen: &Seen) -> Vec<(Name, f64)> {
    let mut known: Vec<(Name, f64)> = Vec::new();
    for figure in &seen.judgement.figures {
        let u = figure.value.and(figure.budget.as_ref());
        let Some(u) = u.map(|budget| budget.combined()) else {
            continue;
        };
        match known.iter_mut().find(|(name, _)| *name == figure.name) {
            Some((_, least)) => *least = least.min(u),
            None => known.push((figure.name, u)),
        }
    }
    known
}

/// So many places describe a land: what is narrower than a hundredth of it is no relief.
const PLACES: usize = 100;
/// So many describe it from its edge to the check distance.
const PLACES_NEAR: usize = 20;

/// One land, with its heights from a level.
pub(super) fn land(
    seen: &Seen,
    at: usize,
    judged: &ToothJudgement,
    level: Length,
) -> Option<OldLand> {
    let feature = &seen.feature;
    let tooth = judged.tooth.as_ref()?;
    let edge = judged.edge_height.unwrap_or(tooth.edge.height) - level;
    let end = seen.end_of(tooth);
    let worn = without_relief(judged);
    let read: Vec<LandPlace> = tooth
        .land
        .iter()
        .copied()
        .filter(|place| place.arc > Angle::ZERO)
        .collect();
    let height = |drop: Length| tooth.edge.height - drop - level;
    let mut places = vec![OldPlace {
        behind: Angle::ZERO,
        height: edge,
        scatter: tooth.edge.height_uncertainty.unwrap_or(Length::ZERO),
        damaged: true,
        beyond: false,
    }];
    // A wear land is narrow beside a long land: close to the edge more places tell of it.
    let close = Angle::from_rad(feature.check_distance / (feature.diameter / 2.0));
    let near = read.partition_point(|place| place.arc < close);
    let (near, rest) = read.split_at(near);
    let near = averaged(near, PLACES_NEAR).into_iter();
    let each = near.chain(averaged(rest, PLACES));
    // What the plunger did not reach may lie anywhere below: no wheel is said to touch it.
    let each = each
        .filter(|place| place.arc <= end || !is_bottom(seen, tooth.edge.angle.value + place.arc));
    places.extend(each.map(|place| OldPlace {
        behind: place.arc,
        height: height(place.drop),
        scatter: place.scatter,
        damaged: place.arc < worn || is_nick(judged, &place),
        beyond: place.arc > end,
    }));
    Some(OldLand {
        edge: tooth.edge.angle.value,
        places,
        end,
        rounding: rounding(seen, at),
    })
}

/// How round an edge was judged to be, with all that is not known of it.
fn rounding(seen: &Seen, tooth: usize) -> Option<Estimate<Length>> {
    let figures = seen.judgement.figures.iter();
    let mut of_edge = figures.filter(|it| it.name == Name::EdgeRadius && it.tooth == Some(tooth));
    let figure = of_edge.next()?;
    let u = figure.budget.as_ref()?.combined();
    Some(Estimate::new(
        Length::from_mm(figure.value?),
        Length::from_mm(u),
    ))
}

/// The width behind an edge that tells nothing of how it was relieved: what its curve calls a margin.
fn without_relief(judged: &ToothJudgement) -> Angle {
    let curve = judged.choice.as_ref().map(|choice| &choice.best.curve);
    let margin = curve.and_then(crate::fit::Curve::margin);
    margin.unwrap_or(Angle::ZERO)
}

/// Whether a place lies off the curve of its land by more than scatter: a nick, or a burr.
fn is_nick(judged: &ToothJudgement, place: &LandPlace) -> bool {
    /// What lies off by less shows no damage (common practice, no source).
    const LEAST: Length = Length::from_mm(0.003);
    let Some(choice) = &judged.choice else {
        return false;
    };
    let drop = choice.best.curve.drop(place.arc);
    let off = (place.drop - choice.best.edge_offset.value - drop).abs();
    off > LEAST.max(place.scatter * 4.0)
}

/// Whether the card asks for something that a match cannot give.
pub(super) fn asks_for_margin(feature: &Feature) -> bool {
    let limit = feature.limits.get(Name::WearLand);
    limit.is_some_and(|limit| limit.min > Some(0.0))
}
