//! The least stock that cleans a tool up: what to take off which land, and what that leaves.

use crate::quantity::{Angle, Length};

/// A tooth before the grind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worn {
    /// Height of its edge above any common level.
    pub height: Length,
    /// Width behind the edge without relief, along the arc.
    pub wear_land: Length,
}

/// What to take off.
#[derive(Clone, Debug, PartialEq)]
pub struct Skim {
    /// How far each land comes down, along the radius at the edge.
    pub stock: Vec<Length>,
    /// By how much the highest edge comes down.
    pub highest_comes_down: Length,
    /// Diameter of the edges afterwards.
    pub diameter: Length,
}

/// How far a flat land of this relief comes down until its wear land is gone.
///
/// Wear took the corner off: the land, drawn on to the face, would end `R (cos(w/R - a)/cos a - 1)`
/// above the worn edge, nearly `w tan a`. By so much the whole land comes down until it meets the
/// worn edge itself, which stays where it is. `None` without relief, or where the wear land is as
/// wide as such a flat can be at all.
pub fn stock_for_wear(diameter: Length, wear_land: Length, relief: Angle) -> Option<Length> {
    if wear_land <= Length::ZERO {
        return Some(Length::ZERO);
    }
    let radius = diameter / 2.0;
    let arc = wear_land / radius;
    let a = relief.rad();
    let possible = a > 0.0 && a < std::f64::consts::FRAC_PI_2 && arc < a;
    possible.then(|| radius * ((arc - a).cos() / a.cos() - 1.0))
}

/// The least stock that leaves all edges even, on the level of the lowest, and every wear land
/// cleared. `diameter` is that of the highest edge, `relief` the angle that the lands are ground to.
///
/// `None` without teeth, and where a wear land cannot be cleared at this relief.
pub fn least_skim(diameter: Length, teeth: &[Worn], relief: Angle) -> Option<Skim> {
    let heights = teeth.iter().map(|tooth| tooth.height);
    let highest = heights.clone().reduce(Length::max)?;
    let level = heights.reduce(Length::min)?;
    let stock = teeth.iter().map(|tooth| {
        let wear = stock_for_wear(diameter, tooth.wear_land, relief)?;
        Some(tooth.height - level + wear)
    });
    Some(Skim {
        stock: stock.collect::<Option<_>>()?,
        highest_comes_down: highest - level,
        diameter: diameter - (highest - level) * 2.0,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::relief::flat_drop;

    fn worn(height_mm: f64, wear_mm: f64) -> Worn {
        Worn {
            height: Length::from_mm(height_mm),
            wear_land: Length::from_mm(wear_mm),
        }
    }

    /// The same flat from the unworn edge falls to the worn circle just where the wear land ends.
    #[test]
    fn the_land_comes_down_by_what_the_wear_took_off_the_edge() {
        let (diameter, relief) = (Length::from_mm(16.0), Angle::from_deg(9.0));
        let wear = Length::from_mm(0.4);
        let stock = stock_for_wear(diameter, wear, relief).unwrap();
        let arc = Angle::from_rad(wear / (diameter / 2.0));
        let drop = flat_drop(relief, arc, diameter / 2.0 + stock);
        assert!((drop - stock).abs() < Length::from_mm(1e-12), "{drop:?}");
        let rule = wear * relief.rad().tan();
        assert!(
            stock < rule && stock > rule * 0.8,
            "{stock:?} against {rule:?}"
        );
    }

    #[track_caller]
    fn check(teeth: &[Worn], stock_mm: &[f64], diameter_mm: f64) {
        let skim = least_skim(Length::from_mm(16.0), teeth, Angle::from_deg(9.0)).unwrap();
        for (got, wanted) in skim.stock.iter().zip(stock_mm) {
            assert!((got.mm() - wanted).abs() < 1e-12, "{:?}", skim.stock);
        }
        assert!((skim.diameter.mm() - diameter_mm).abs() < 1e-12);
    }

    #[test]
    fn all_edges_come_down_to_the_lowest() {
        let teeth = [worn(0.0, 0.0), worn(-0.032, 0.0), worn(-0.004, 0.0)];
        check(&teeth, &[0.032, 0.0, 0.028], 15.936);
        check(&[worn(0.5, 0.0), worn(0.5, 0.0)], &[0.0, 0.0], 16.0);
    }

    #[test]
    fn a_wear_land_costs_stock_on_its_own_land_and_no_diameter() {
        let wear = stock_for_wear(
            Length::from_mm(16.0),
            Length::from_mm(0.3),
            Angle::from_deg(9.0),
        );
        let wear = wear.unwrap().mm();
        check(&[worn(0.0, 0.3), worn(0.0, 0.0)], &[wear, 0.0], 16.0);
        check(
            &[worn(0.01, 0.3), worn(0.0, 0.3)],
            &[0.01 + wear, wear],
            15.98,
        );
    }

    #[test]
    fn what_cannot_be_cleared_is_not_promised() {
        let wide = [worn(0.0, 6.0)];
        let (diameter, relief) = (Length::from_mm(20.0), Angle::from_deg(8.0));
        assert_eq!(least_skim(diameter, &wide, relief), None);
        assert_eq!(least_skim(diameter, &[], relief), None);
        assert_eq!(
            stock_for_wear(diameter, Length::from_mm(0.1), Angle::ZERO),
            None
        );
    }
}
