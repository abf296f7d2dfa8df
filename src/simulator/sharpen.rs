//! A grind on the face by brute force: points of the lands, and a wheel that goes into each gap in turn.
//!
//! Shares no geometry with the stages that work out how far the faces go back.

use super::grind::{Touched, leave};
use super::land::LandPoint;
use super::outline::{self, TrueTooth};
use super::scenario::{Scenario, Surface};
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

/// What a grind on the faces left.
#[derive(Clone, Debug)]
pub struct FacesGround {
    /// The edges that are worn still, and how far behind them their wear goes on.
    pub unclean: Vec<Touched>,
    /// The tool as it is now, to be measured again.
    pub tool: Scenario,
    /// The least turn after the first touch that would have left every edge new.
    pub least: Angle,
    /// How far each face went back.
    pub off: Vec<Angle>,
}

/// Points of a land, in radians.
const APART: f64 = 0.002 / 180.0 * std::f64::consts::PI;
/// Less than this that comes off a face is not seen.
const SEEN_MM: f64 = 0.001;

impl Scenario {
    /// Grinds the faces of a feature, indexed from tooth to tooth: all of them back by this turn after the
    /// first touch, which is looked for in steps of the index.
    ///
    /// # Errors
    /// Where the recipe has no such feature, or nothing would be left of a tooth.
    pub fn grind_faces(&self, feature: usize, turn: Angle, step: Angle) -> Result<FacesGround> {
        let none = || {
            Error::new(
                Code::Usage,
                "the recipe has no such feature, or no such lands",
            )
        };
        let of = self.feature.get(feature).ok_or_else(none)?;
        let teeth = outline::teeth(of, self.tool.flutes, of.true_z_mm(0));
        let pitch = TAU / f64::from(self.tool.flutes);
        // Where each face stands behind its place in the indexing.
        let behind: Vec<f64> = teeth
            .iter()
            .enumerate()
            .map(|(at, it)| it.edge - pitch * at as f64)
            .collect();
        let foremost = (0..teeth.len()).min_by(|a, b| behind[*a].total_cmp(&behind[*b]));
        let first = foremost.ok_or_else(none)?;
        let mut hand = Pcg64::seed_from_u64(self.seed.wrapping_mul(1000).wrapping_add(700));
        let seen = SEEN_MM / teeth[first].seat.radius_mm;
        let touch = behind[first] + seen + step.rad() * hand.random::<f64>();
        let stop = touch + turn.rad();
        let mut lands = Vec::new();
        let mut unclean = Vec::new();
        let mut clean_at = f64::MIN;
        for (at, tooth) in teeth.iter().enumerate() {
            let worn = tooth.profile.worn_to();
            clean_at = clean_at.max(behind[at] + worn);
            let gone = (stop - behind[at]).max(0.0);
            if gone < worn {
                unclean.push(Touched {
                    feature,
                    tooth: at,
                    behind: Angle::from_rad(gone),
                    depth: Length::from_mm((worn - gone) * tooth.seat.radius_mm),
                });
            }
            lands.push(shortened(tooth, gone).ok_or_else(none)?);
        }
        let mut tool = self.clone();
        leave(&mut tool.feature[feature], &teeth, &lands);
        for (at, tooth) in tool.feature[feature].tooth.iter_mut().enumerate() {
            tooth.angle_deg = behind[at].max(stop).to_degrees();
        }
        "after-grind".clone_into(&mut tool.stage);
        tool.seed = tool.seed.wrapping_add(1);
        Ok(FacesGround {
            least: Angle::from_rad((clean_at - touch).max(0.0)),
            off: behind
                .iter()
                .map(|it| Angle::from_rad((stop - it).max(0.0)))
                .collect(),
            unclean,
            tool,
        })
    }

    /// The recipe's first feature whose card says that it is ground on the face.
    pub fn ground_on_the_face(&self) -> Option<usize> {
        let mut features = self.feature.iter();
        features.position(|it| it.on_the_face && it.surface == Surface::Radial)
    }
}

/// The heights of a land whose first arc is gone, by the arc from its new edge on; nothing where none is
/// left.
fn shortened(tooth: &TrueTooth, gone: f64) -> Option<Vec<LandPoint>> {
    let points = tooth.profile.points(APART * tooth.seat.radius_mm);
    let left = points.iter().filter(|point| point.phi >= gone);
    let left: Vec<LandPoint> = left
        .map(|point| LandPoint {
            phi: point.phi - gone,
            drop: tooth.height - point.drop,
        })
        .collect();
    (left.len() >= 2).then_some(left)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::scenario::Tooth;
    use super::*;

    fn cutter() -> Scenario {
        let text = "about = \"a bench\"\n[tool]\nid = \"VB-1\"\nname = \"cutter\"\nflutes = 4\n\
            [[feature]]\nname = \"form\"\ndiameter_mm = 50.0\ncheck_distance_mm = 0.5\non_the_face = true\n\
            land = { arc_deg = 40.0, relief = { family = \"spiral\", relief_deg = 10.0 } }\n";
        Scenario::from_toml(text, "bench.toml").unwrap()
    }

    /// First principles: an edge stands where the spiral was, `R tan a` lower for each radian, and its
    /// slope is that of the spiral on a smaller radius.
    #[test]
    fn a_new_edge_is_a_place_of_the_old_land() {
        let mut tool = cutter();
        tool.feature[0].tooth = vec![
            Tooth {
                wear_land_mm: 0.2,
                ..Tooth::default()
            };
            4
        ];
        let lost = 0.2 * 10f64.to_radians().tan();
        let ground = tool
            .grind_faces(0, Angle::from_deg(1.0), Angle::ZERO)
            .unwrap();
        assert!(ground.unclean.is_empty());
        assert!(
            (ground.least.rad() - (0.2 - SEEN_MM) / 25.0).abs() < 1e-4,
            "{:?}",
            ground.least
        );
        let truth = ground.tool.truth(0).unwrap();
        let fall = 25.0 * 10f64.to_radians().tan();
        let expected = 25.0 + lost - fall * ground.off[0].rad();
        for tooth in &truth.teeth {
            // The circle of the unworn edges lies so much above that of the worn ones, 25 mm.
            assert!(
                (tooth.edge_height.mm() - expected).abs() < 2e-3,
                "{tooth:?} {expected}"
            );
            let relief = (fall / expected).atan().to_degrees();
            assert!(
                (tooth.relief_angle.deg() - relief).abs() < 0.02,
                "{tooth:?} {relief}"
            );
            assert!((tooth.land.deg() - (40.0 - ground.off[0].deg())).abs() < 0.01);
        }
        let short = tool
            .grind_faces(0, Angle::from_deg(0.2), Angle::ZERO)
            .unwrap();
        assert_eq!(short.unclean.len(), 4);
    }
}
