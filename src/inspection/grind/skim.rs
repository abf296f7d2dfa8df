//! The least skim of a worn tool whose lands keep the relief they have.

use super::{faces, passes, setup};
use crate::card::{GrinderCard, Surface};
use crate::error::Result;
use crate::inspection::folder::Folder;
use crate::inspection::verify::{self, Seen};
use crate::judge::Effort;
use crate::quantity::{Angle, Length};
use crate::setting::{MeasuredSkim, Relieved, Unsure, measured_skim};

/// What a worn tool needs, or why nothing can be said.
#[derive(Clone, Debug)]
pub struct SkimPlan {
    /// Why nothing is set; empty where something is.
    pub why: Vec<String>,
    /// Each feature, with what is fed in at one stop.
    pub features: Vec<FeatureSkim>,
}

/// The skim of one feature.
#[derive(Clone, Debug)]
pub struct FeatureSkim {
    /// Its name.
    pub feature: String,
    /// The direction of in-feed.
    pub surface: Surface,
    /// What comes off.
    pub skim: MeasuredSkim,
    /// In-feeds one after the other.
    pub passes: Vec<Length>,
    /// Diameter of the edges afterwards; nothing along the axis.
    pub diameter_left: Option<Length>,
    /// How many such grinds are left after it; nothing where the card does not say how small the tool
    /// may get.
    pub grinds_left: Option<u32>,
}

/// The least skim of each feature. Without a grinder's card it is told in no steps.
///
/// # Errors
/// When cards or traces cannot be read.
pub fn skim(folder: &Folder, grinder: Option<&GrinderCard>) -> Result<SkimPlan> {
    let before = verify::before_grind(folder, Effort::default())?;
    let mut plan = SkimPlan {
        why: setup::in_words(&faces::unfit(folder, &before)),
        features: Vec::new(),
    };
    plan.why.extend(faces::on_their_faces(&before));
    if !plan.why.is_empty() {
        return Ok(plan);
    }
    for surface in [Surface::Radial, Surface::Axial] {
        let slides = grinder.iter().flat_map(|grinder| &grinder.slides);
        let slide = slides.into_iter().find(|slide| slide.direction == surface);
        let step = slide.map(|slide| slide.graduation);
        let all = faces::along(&before, surface);
        for at in (0..all.len()).filter(|at| faces::is_first(&all, *at)) {
            let same = |seen: &&&Seen| seen.feature.name == all[at].feature.name;
            let sections: Vec<&Seen> = all.iter().filter(same).copied().collect();
            let seen = all[at];
            match of_feature(folder, &sections, step) {
                Some(found) => plan.features.push(found),
                None => plan.why.push(format!(
                    "`{}`: no curve describes every land well enough to say what relief it keeps",
                    seen.feature.name
                )),
            }
        }
    }
    Ok(plan)
}

/// Of a feature with every section that was traced of it.
fn of_feature(folder: &Folder, sections: &[&Seen], step: Option<Length>) -> Option<FeatureSkim> {
    let feature = &sections.first()?.feature;
    let mut lands = Vec::new();
    let teeth = sections.iter().flat_map(|seen| {
        let teeth = seen.judgement.teeth.iter().enumerate();
        teeth.map(move |(at, tooth)| (*seen, at, tooth))
    });
    for (seen, at, tooth) in teeth {
        let old = faces::land(seen, at, tooth, Length::ZERO)?;
        let curve = tooth.choice.as_ref()?.best.curve.behind_margin(Angle::ZERO);
        let new_drop = old.places.iter().map(|place| curve.drop(place.behind));
        lands.push(Relieved {
            edge: old.edge,
            new_drop: new_drop.collect(),
            places: old.places,
            rounding: old.rounding,
        });
    }
    let unsure = Unsure {
        indicator: faces::indicator(folder, sections),
        axis: sections
            .iter()
            .filter_map(|seen| seen.axis)
            .reduce(Length::max)?,
        rounding: setup::ROUNDING,
    };
    let skim = measured_skim(&lands, &unsure, step.unwrap_or(Length::ZERO))?;
    let radial = feature.surface == Surface::Radial;
    let diameter_left = radial.then(|| skim.edges_left * 2.0);
    let grinds_left = diameter_left
        .zip(feature.least_diameter)
        .and_then(|(left, least)| {
            let each = feature.diameter - left;
            (each > Length::ZERO).then(|| ((left - least) / each).floor().max(0.0) as u32)
        });
    Some(FeatureSkim {
        feature: feature.name.clone(),
        surface: feature.surface,
        passes: passes::passes(skim.sure, step),
        skim,
        diameter_left,
        grinds_left,
    })
}
