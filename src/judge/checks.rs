//! What a person should look at beside the verdict.

use super::{Figure, ToothJudgement};
use crate::card::{Feature, Name, Surface};
use crate::quantity::{Angle, Length, told};

/// A land counts as shorter than its card when it ends before this part of it (chosen, no source).
const SHORT_LAND: f64 = 0.95;
/// A measured land stands off its curve when it does by this many standard uncertainties (chosen,
/// no source) …
const CLEARLY_OFF: f64 = 4.0;
/// … and by more than a stylus or a speck of dust brings (common practice, no source).
const LEAST_OFF: Length = Length::from_mm(0.003);

/// Warnings about the lands of a feature, a sentence each.
pub(super) fn warnings(
    feature: &Feature,
    teeth: &[ToothJudgement],
    figures: &[Figure],
) -> Vec<String> {
    let each = teeth.iter().enumerate();
    each.flat_map(|(i, tooth)| {
        [
            ends_early(feature, i, tooth),
            off_its_curve(feature, i, tooth, figures),
        ]
    })
    .flatten()
    .collect()
}

fn ends_early(feature: &Feature, index: usize, tooth: &ToothJudgement) -> Option<String> {
    let (land, found) = (feature.land?, tooth.tooth.as_ref()?);
    (found.heel_seen && found.end < land * SHORT_LAND).then(|| {
        format!(
            "feature `{}`, flute {}: the land ends at {:.1}°, before the {:.1}° of `land_deg`; it was judged to where it ends",
            feature.name,
            index + 1,
            found.end.deg(),
            land.deg()
        )
    })
}

/// The heel clearance comes from the land as measured; the curve is its check.
fn off_its_curve(
    feature: &Feature,
    index: usize,
    tooth: &ToothJudgement,
    figures: &[Figure],
) -> Option<String> {
    let fit = &tooth.choice.as_ref()?.best;
    let figure = figures
        .iter()
        .find(|figure| figure.name == Name::HeelClearance && figure.tooth == Some(index))?;
    let (value, u) = (figure.value?, figure.budget.as_ref()?.combined());
    let arc = (figure.at? - tooth.tooth.as_ref()?.edge.angle.value).in_turn();
    let standing = match feature.surface {
        Surface::Radial => Length::ZERO,
        Surface::Axial => feature.feed.unwrap_or(Length::ZERO) * (arc / Angle::TURN),
    };
    let higher = (fit.curve.drop(arc) - standing).mm() - value;
    let off = higher > (CLEARLY_OFF * u).max(LEAST_OFF.mm());
    (fit.trust.is_full() && off).then(|| {
        format!(
            "feature `{}`, flute {}: {:.1}° behind the edge the land stands {} higher than its `{}` curve says; the clearance counts it as it was measured; look there for a burr, a nick or dirt",
            feature.name,
            index + 1,
            arc.deg(),
            told::um(Length::from_mm(higher), 1),
            fit.family().as_str()
        )
    })
}
