//! What comes off the faces of a form-relieved tool until all of its edges are new, from what was measured.

use crate::judge::Draws;
use crate::numeric::random::gauss;
use crate::quantity::{Angle, Estimate};
use rand::SeedableRng;
use rand_pcg::Pcg64;

/// A tooth before its face is ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FacedTooth {
    /// How far its edge stands behind its place in the indexing of the tool.
    pub behind_index: Estimate<Angle>,
    /// Width behind the edge that is worn or rounded: it is gone once the face stands behind it.
    pub worn: Estimate<Angle>,
}

/// How far the faces go back, and what that takes off each land.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredFace {
    /// From the first tooth that is touched until all edges are new, as computed.
    pub turn: Angle,
    /// Its standard uncertainty.
    pub standard_uncertainty: Angle,
    /// What is enough in 95 of 100 cases, in whole steps.
    pub sure: Angle,
    /// What that takes off each land.
    pub off: Vec<Angle>,
}

/// How far the faces of a tool that is indexed from tooth to tooth go back until the wear of every edge is
/// gone; `None` without teeth, or where a number is none.
///
/// With `g` how far an edge stands behind its place in the indexing and `w` the width of its wear, the
/// wheel meets the first face at the least `g`, and the last edge is new at the greatest `g + w`.
pub fn measured_face(teeth: &[FacedTooth], step: Angle) -> Option<MeasuredFace> {
    const TRIALS: usize = 2000;
    const SEED: u64 = 23;
    let needs = |each: &[(f64, f64)]| {
        let first = each.iter().map(|(g, _)| *g).fold(f64::INFINITY, f64::min);
        let last = each.iter().map(|(g, w)| g + w);
        last.fold(f64::NEG_INFINITY, f64::max) - first
    };
    let read: Vec<(f64, f64)> = teeth
        .iter()
        .map(|it| (it.behind_index.value.rad(), it.worn.value.rad()))
        .collect();
    let turn = needs(&read);
    let mut rng = Pcg64::seed_from_u64(SEED);
    let trial = |_| {
        let drawn: Vec<(f64, f64)> = teeth
            .iter()
            .map(|it| {
                let mut draw = |of: Estimate<Angle>| {
                    of.value.rad() + of.standard_uncertainty.rad() * gauss(&mut rng)
                };
                let behind = draw(it.behind_index);
                (behind, draw(it.worn).max(0.0))
            })
            .collect();
        needs(&drawn)
    };
    let draws = Draws::new((0..TRIALS).map(trial).collect())?;
    let sorted = draws.sorted();
    let at = (sorted.len() * 95).div_ceil(100).min(sorted.len() - 1);
    let enough = sorted.get(at)?.max(turn);
    let sure = match step > Angle::ZERO {
        true => (enough / step.rad() - 1e-6).ceil() * step.rad(),
        false => enough,
    };
    let first = read.iter().map(|(g, _)| *g).fold(f64::INFINITY, f64::min);
    let off = read
        .iter()
        .map(|(g, _)| Angle::from_rad((sure - (g - first)).max(0.0)));
    turn.is_finite().then(|| MeasuredFace {
        turn: Angle::from_rad(turn),
        standard_uncertainty: Angle::from_rad(draws.standard_uncertainty()),
        sure: Angle::from_rad(sure),
        off: off.collect(),
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn tooth(behind: f64, worn: f64, u: f64) -> FacedTooth {
        let deg = |value| Estimate::new(Angle::from_deg(value), Angle::from_deg(u));
        FacedTooth {
            behind_index: deg(behind),
            worn: deg(worn),
        }
    }

    #[test]
    fn the_last_edge_is_new_where_the_most_worn_one_stands_farthest_back() {
        let teeth = [
            tooth(0.1, 0.3, 0.0),
            tooth(-0.05, 0.2, 0.0),
            tooth(0.0, 0.35, 0.0),
        ];
        let found = measured_face(&teeth, Angle::ZERO).unwrap();
        assert!((found.turn.deg() - 0.45).abs() < 1e-9, "{found:?}");
        assert!((found.off[1].deg() - 0.45).abs() < 1e-9);
        assert!((found.off[0].deg() - 0.30).abs() < 1e-9);
        let found = measured_face(&teeth, Angle::from_deg(0.1)).unwrap();
        assert!((found.sure.deg() - 0.5).abs() < 1e-9, "{found:?}");
        assert_eq!(measured_face(&[], Angle::ZERO), None);
    }

    /// One tooth: what is enough in 95 of 100 cases lies 1.645 standard uncertainties above.
    #[test]
    fn what_is_not_known_is_ground_off_too() {
        let found = measured_face(&[tooth(0.0, 0.5, 0.04)], Angle::ZERO).unwrap();
        assert!(
            (found.sure.deg() - (0.5 + 1.645 * 0.04)).abs() < 0.006,
            "{found:?}"
        );
        assert!((found.standard_uncertainty.deg() - 0.04).abs() < 0.003);
    }
}
