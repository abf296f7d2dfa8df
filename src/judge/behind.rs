//! What stands up behind the land that the card asks to judge.

use super::doubt::{Doubt, DoubtKind, Leaves};
use super::figures::{Figure, ToothPlan, standing};
use super::least::Measured;
use super::part::Part;
use crate::card::{Feature, Name};
use crate::quantity::{Angle, Length, told};
use crate::shape::Tooth;

/// A surface behind the land is clear of the limit when it is so by this many standard
/// uncertainties of the clearance that was judged (common practice, no source).
const SURELY_CLEAR: f64 = 2.0;
/// So many neighbours in a gap must stand above the edge: one may be a reading gone astray
/// (chosen, no source).
const IN_A_ROW: usize = 3;

/// Doubts about lands that are shorter on the card than on the tool: behind `land_deg`, and before
/// the next tooth, something stands above the edge or nearer to it than the clearance allows.
pub(super) fn lands_longer(
    part: &Part,
    plans: &[Option<ToothPlan>],
    figures: &[Figure],
) -> Vec<Doubt> {
    let Some(asked) = part.feature.land else {
        return Vec::new();
    };
    let each = part.profile.teeth.iter().zip(plans).enumerate();
    each.filter_map(|(index, (tooth, plan))| {
        let (tooth, plan) = (tooth.as_ref()?, plan.as_ref()?);
        let u = uncertainty(figures, index);
        let (arc, clear) = nearest_behind(part.feature, tooth, plan.end, u)?;
        Some(doubt(asked, index, arc, clear))
    })
    .collect()
}

/// Standard uncertainty of the clearance that was judged.
fn uncertainty(figures: &[Figure], tooth: usize) -> Length {
    let mut clearances = figures.iter();
    let judged =
        clearances.find(|figure| figure.name == Name::HeelClearance && figure.tooth == Some(tooth));
    let budget = judged.and_then(|figure| figure.budget.as_ref());
    Length::from_mm(budget.map_or(0.0, super::Budget::combined))
}

/// Where behind the judged land the surface comes nearest to the work, and how clear it stands there;
/// nothing where that is surely clear enough.
fn nearest_behind(
    feature: &Feature,
    tooth: &Tooth,
    end: Angle,
    u: Length,
) -> Option<(Angle, Length)> {
    let limit = feature.limits.get(Name::HeelClearance);
    let limit = Length::from_mm(limit.and_then(|limit| limit.min).unwrap_or(0.0));
    let stands = standing(feature);
    let measured = Measured::new(&tooth.land, feature.diameter / 2.0, tooth.end);
    let on_land = (tooth.end > end)
        .then(|| measured.least(end, tooth.end, stands, tooth.heel))
        .flatten()
        .map(|least| (least.arc, least.drop.value - stands * least.arc.rad()))
        .filter(|(_, clear)| *clear < limit + u * SURELY_CLEAR);
    on_land.or_else(|| in_the_gap(tooth, end.max(tooth.end), stands, u))
}

/// The highest of what stands above the edge behind the end of the land.
fn in_the_gap(tooth: &Tooth, end: Angle, stands: Length, u: Length) -> Option<(Angle, Length)> {
    let edge = tooth.edge.angle.value;
    let first = tooth.outline.first()?.angle;
    // The outline is continuous over its tooth, the edge's angle lies in one turn.
    let edge = first + (edge - first).in_turn();
    let behind = tooth.outline.iter().map(|place| {
        let arc = place.angle - edge;
        let clear = tooth.edge.height - place.height - stands * arc.rad();
        (arc, clear)
    });
    let behind: Vec<(Angle, Length)> = behind.filter(|(arc, _)| *arc > end).collect();
    let above =
        |three: &&[(Angle, Length)]| three.iter().all(|(_, clear)| *clear < -u * SURELY_CLEAR);
    let rows = behind.windows(IN_A_ROW).filter(above).map(|three| three[1]);
    rows.min_by(|a, b| a.1.total_cmp(&b.1))
}

fn doubt(asked: Angle, tooth: usize, arc: Angle, clear: Length) -> Doubt {
    let stands = if clear < Length::ZERO {
        format!("{} above the edge", told::um(-clear, 1))
    } else {
        format!("only {} clear of the work", told::um(clear, 1))
    };
    Doubt {
        tooth: Some(tooth),
        touches: vec![Name::HeelClearance],
        leaves: Leaves::NoPass,
        ..Doubt::about(
            DoubtKind::LandLonger,
            format!(
                "{:.1}° behind the edge, and so behind the {:.1}° of `land_deg`, a surface stands {stands}",
                arc.deg(),
                asked.deg()
            ),
            "state the whole land as `land_deg`, or leave it out, and judge again",
        )
    }
}
