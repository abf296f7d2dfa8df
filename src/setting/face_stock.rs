//! What comes off the faces of a form-relieved tool until all of its edges are new, from what was measured.

use crate::judge::Draws;
use crate::numeric::linear::{self, LinearFit};
use crate::numeric::random::gauss;
use crate::quantity::{Angle, Estimate, Length};
use nalgebra::{DMatrix, DVector};
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

/// A land where an edge would stand on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NewEdge {
    /// How far it lies under what the drops are counted from.
    pub drop: Estimate<Length>,
    /// Growth of the drop per radian of arc.
    pub slope: Estimate<Length>,
}

/// The land at an arc, from its own readings behind it: a parabola through all of them, or, where a land
/// bends otherwise, through those of its next third, so that no family of curves decides what relief a new
/// edge has. `places` are arcs and drops by growing arc. `indicator` is the limit of its error, which is
/// alike over a quarter of a millimetre of travel. `None` where too few lie there.
pub fn new_edge(
    places: &[(Angle, Length)],
    behind: Angle,
    end: Angle,
    indicator: Length,
) -> Option<NewEdge> {
    /// A parabola that leaves so much more than that of a third, and more than the indicator errs by, is
    /// not the land (chosen, no source).
    const MORE: f64 = 1.5;
    let third = Window::of(places, behind, end / 3.0, end)?;
    let whole = Window::of(places, behind, end - behind, end);
    let fits = |whole: &Window| {
        whole.fit.residual_sd <= MORE * third.fit.residual_sd.max(1e-9) + indicator.mm()
    };
    Some(whole.filter(fits).unwrap_or(third).edge(indicator))
}

/// Readings of a land and the parabola through them.
struct Window {
    over: Angle,
    /// Drops, in mm.
    drops: Vec<f64>,
    design: DMatrix<f64>,
    fit: LinearFit,
}

impl Window {
    fn of(places: &[(Angle, Length)], behind: Angle, over: Angle, end: Angle) -> Option<Self> {
        const LEAST: usize = 8;
        // Near the end of a land what lies before it tells too.
        let from = behind.min(end - over);
        let within = |place: &&(Angle, Length)| place.0 >= from && place.0 <= from + over;
        let near: Vec<&(Angle, Length)> = places.iter().filter(within).collect();
        if near.len() < LEAST || over <= Angle::ZERO {
            return None;
        }
        let at: Vec<f64> = near
            .iter()
            .map(|(arc, _)| (*arc - behind).rad() / over.rad())
            .collect();
        let drops: Vec<f64> = near.iter().map(|(_, drop)| drop.mm()).collect();
        let design = DMatrix::from_fn(at.len(), 3, |row, column| at[row].powi(column as i32));
        let fit = linear::least_squares(&design, &DVector::from_column_slice(&drops))?;
        Some(Self {
            over,
            drops,
            design,
            fit,
        })
    }

    fn edge(&self, indicator: Length) -> NewEdge {
        let of = |at: usize, scale: f64| {
            let read = self.of_indicator(at, indicator);
            let u = self.fit.standard_uncertainties[at].hypot(read);
            Estimate::new(
                Length::from_mm(self.fit.values[at] / scale),
                Length::from_mm(u / scale),
            )
        };
        NewEdge {
            drop: of(0, 1.0),
            slope: of(1, self.over.rad()),
        }
    }

    /// What an indicator brings to a parameter that errs anywhere within its limit at each travel, and alike
    /// at two of them as `exp(-travel / 0.25 mm)`, as it is drawn where a land is judged.
    fn of_indicator(&self, parameter: usize, indicator: Length) -> f64 {
        const ALIKE: f64 = 0.25;
        if indicator <= Length::ZERO {
            return 0.0;
        }
        let normal = self.design.transpose() * &self.design;
        let Some(inverse) = normal.try_inverse() else {
            return f64::INFINITY;
        };
        let weights = &self.design * inverse.column(parameter);
        let mut order: Vec<usize> = (0..self.drops.len()).collect();
        order.sort_by(|one, other| self.drops[*one].total_cmp(&self.drops[*other]));
        // Of a process without memory but for its last value: sums run along once.
        let (mut square, mut carried, mut last) = (0.0, 0.0, f64::NEG_INFINITY);
        for at in order {
            carried *= (-(self.drops[at] - last) / ALIKE).exp();
            square += weights[at] * weights[at] + 2.0 * weights[at] * carried;
            carried += weights[at];
            last = self.drops[at];
        }
        // One that errs in proportion or by a bow over all of the fall tilts its end by once and by four
        // times its limit.
        let fall = self.drops.iter().copied().fold(f64::MIN, f64::max)
            - self.drops.iter().copied().fold(f64::MAX, f64::min);
        let bow = match parameter {
            1 => 17f64.sqrt() * (self.fit.values[1] / fall.max(1e-6)).abs(),
            _ => 0.0,
        };
        indicator.mm() / 3f64.sqrt() * square.max(0.0).sqrt().hypot(bow)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// First principles: a spiral falls by the same for each radian, a parabola by twice its arc more.
    #[test]
    fn an_edge_is_found_on_a_land_of_any_curve() {
        for bend in [0.0, 1.5] {
            let places: Vec<(Angle, Length)> = (1..=280)
                .map(|tenth| Angle::from_deg(0.1 * f64::from(tenth)))
                .map(|arc| {
                    (
                        arc,
                        Length::from_mm(4.4 * arc.rad() + bend * arc.rad().powi(2)),
                    )
                })
                .collect();
            for at in [0.6, 5.0, 26.0] {
                let at = Angle::from_deg(at);
                let edge = new_edge(&places, at, Angle::from_deg(28.0), Length::ZERO).unwrap();
                let drop = 4.4 * at.rad() + bend * at.rad().powi(2);
                assert!((edge.drop.value.mm() - drop).abs() < 1e-9, "{edge:?}");
                let slope = 4.4 + 2.0 * bend * at.rad();
                assert!((edge.slope.value.mm() - slope).abs() < 1e-7, "{edge:?}");
            }
        }
        assert_eq!(
            new_edge(&[], Angle::ZERO, Angle::from_deg(28.0), Length::ZERO),
            None
        );
    }

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
