//! Figures of one tooth that cannot both be true.

use super::doubt::{Doubt, DoubtKind};
use super::figures::Figure;
use crate::card::Name;
use crate::quantity::{Length, told};

/// Two figures contradict each other when they do by this many standard uncertainties of both
/// (common practice, no source).
const CLEARLY: f64 = 3.0;
/// Less than this is what a smooth and a curve differ by on any land, in mm (chosen, no source).
const LEAST: f64 = 0.002;

/// A doubt for each tooth whose heel clearance is clearly greater than its drop.
///
/// The clearance is the least drop from the check distance on, so it is never above the drop there.
/// One is read from the land as measured and the other from its curve: where they disagree, the edge
/// or the curve is not where the metal is.
pub(super) fn disagreements(figures: &[Figure]) -> Vec<Doubt> {
    let of = |name: Name, tooth: Option<usize>| {
        let figure = figures
            .iter()
            .find(|figure| figure.name == name && figure.tooth == tooth)?;
        Some((figure.value?, figure.budget.as_ref()?.combined()))
    };
    let clearances = figures
        .iter()
        .filter(|figure| figure.name == Name::HeelClearance && figure.tooth.is_some());
    clearances
        .filter_map(|figure| {
            let (clearance, clearance_u) = of(Name::HeelClearance, figure.tooth)?;
            let (drop, drop_u) = of(Name::Drop, figure.tooth)?;
            let above = clearance - drop;
            let allowed = (CLEARLY * clearance_u.hypot(drop_u)).max(LEAST);
            (above > allowed).then(|| Doubt {
                tooth: figure.tooth,
                touches: vec![
                    Name::HeelClearance,
                    Name::Drop,
                    Name::FlatEquivalentRelief,
                    Name::ReliefAngle,
                    Name::WearLand,
                    // An edge that is not where the metal is stands so among the others, too.
                    Name::EdgeSpread,
                    Name::FluteSpacing,
                ],
                ..Doubt::about(
                    DoubtKind::FiguresDisagree,
                    format!(
                        "the least drop behind the edge was read as {} and the drop at the check distance as {}, which is not more: its edge or its curve is not where the metal is",
                        told::um(Length::from_mm(clearance), 1),
                        told::um(Length::from_mm(drop), 1)
                    ),
                    "turn slower past this edge, so that more readings are taken on it",
                )
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::{Budget, Input, Line};

    #[track_caller]
    fn check(clearance_um: f64, drop_um: f64, u_um: f64, doubts: usize) {
        let figure = |name, um: f64| {
            let mut budget = Budget::default();
            budget.add(Line::departure(Input::Readings, u_um / 1000.0));
            Figure::of(name, Some(0), um / 1000.0, budget)
        };
        let figures = [
            figure(Name::HeelClearance, clearance_um),
            figure(Name::Drop, drop_um),
        ];
        assert_eq!(disagreements(&figures).len(), doubts);
    }

    #[test]
    fn a_clearance_above_the_drop_is_not_trusted() {
        check(60.0, 50.0, 1.0, 1);
        check(40.0, 50.0, 1.0, 0);
        check(53.0, 50.0, 1.0, 0);
        check(51.5, 50.0, 0.1, 0);
    }
}
