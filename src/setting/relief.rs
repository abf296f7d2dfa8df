//! The offset of tooth rest or wheel head that grinds a relief angle, and the flat land it leaves.

use crate::quantity::{Angle, Length};

/// How far the tooth rest stands below centre, or the wheel's centre above it, to grind this relief:
/// `(D/2) sin a`. `D` is the diameter of the tool under the face of a cup wheel, and of the wheel
/// where the rim of a straight one grinds.
///
/// The rule of the trade, `0.0087 D a` with `a` in degrees, is this for small angles, since
/// `0.0087 = pi / 360`.
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::relief_offset;
/// // The worked example of a public grinder instruction manual: 7° on 6 in is 0.365 in.
/// let offset = relief_offset(Length::from_in(6.0), Angle::from_deg(7.0));
/// assert_eq!(format!("{:.4}", offset.inches()), "0.3656");
/// ```
pub fn relief_offset(diameter: Length, relief: Angle) -> Length {
    diameter / 2.0 * relief.rad().sin()
}

/// Widest flat land of this relief that still lies `clearance` under the edge where it ends; with
/// no clearance it is `D sin a`, the width at which the heel touches.
///
/// A flat that ends `c` under the edge circle ends on a circle of radius `R - c`; its line passes
/// the axis at `R cos a`, and the edge lies `R sin a` from that foot. `None` where a flat of this
/// relief nowhere lies so deep.
pub fn widest_flat(diameter: Length, relief: Angle, clearance: Length) -> Option<Length> {
    let radius = diameter.mm() / 2.0;
    let (sin, cos) = relief.rad().sin_cos();
    let behind = (radius - clearance.mm()).powi(2) - (radius * cos).powi(2);
    let within =
        relief > Angle::ZERO && relief < Angle::from_turns(0.25) && clearance < diameter / 2.0;
    (within && behind >= 0.0).then(|| Length::from_mm(radius * sin + behind.sqrt()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::relief::{flat_drop, flat_limit};

    #[track_caller]
    fn check(diameter_mm: f64, relief_deg: f64, expected_mm: f64, tolerance_mm: f64) {
        let offset = relief_offset(Length::from_mm(diameter_mm), Angle::from_deg(relief_deg));
        let off = (offset.mm() - expected_mm).abs();
        assert!(off <= tolerance_mm, "{offset:?}, expected {expected_mm}");
    }

    /// `offset = 0.0087 D a` and its worked example, 7° on 6 in for 0.365 in: from a public grinder
    /// instruction manual, as listed in `tests/reference/relief_recommendations.csv`.
    #[test]
    fn the_offset_is_that_of_the_published_example_and_of_its_rule() {
        check(6.0 * 25.4, 7.0, 0.365 * 25.4, 0.001 * 25.4);
        for relief in [3.0, 5.0, 7.0, 10.0] {
            let rule = 0.0087 * 100.0 * relief;
            check(100.0, relief, rule, rule * 0.01);
        }
    }

    #[test]
    fn a_flat_without_clearance_may_be_as_wide_as_the_diameter_times_the_sine() {
        let (diameter, relief) = (Length::from_mm(20.0), Angle::from_deg(8.0));
        let widest = widest_flat(diameter, relief, Length::ZERO).unwrap();
        assert!((widest.mm() - 20.0 * 8f64.to_radians().sin()).abs() < 1e-12);
        let limit = flat_limit(relief, diameter / 2.0).unwrap();
        assert!((widest - limit.widest).abs() < Length::from_mm(1e-12));
    }

    #[test]
    fn where_a_flat_ends_it_has_the_clearance_that_was_asked_for() {
        let (diameter, relief) = (Length::from_mm(20.0), Angle::from_deg(8.0));
        let clearance = Length::from_mm(0.03);
        let width = widest_flat(diameter, relief, clearance).unwrap();
        // The straight width seen from the axis: both ends against the foot of the flat's line.
        let foot = 10.0 * relief.rad().cos();
        let before = 10.0 * relief.rad().sin();
        let arc = (before / foot).atan() + ((width.mm() - before) / foot).atan();
        let drop = flat_drop(relief, Angle::from_rad(arc), diameter / 2.0);
        assert!(
            (drop - clearance).abs() < Length::from_mm(1e-12),
            "{drop:?}"
        );
    }

    #[test]
    fn no_flat_has_more_clearance_than_its_depth() {
        let deepest = flat_limit(Angle::from_deg(4.0), Length::from_mm(10.0)).unwrap();
        let asked = deepest.greatest_drop + Length::from_mm(0.001);
        let diameter = Length::from_mm(20.0);
        assert_eq!(widest_flat(diameter, Angle::from_deg(4.0), asked), None);
        assert_eq!(widest_flat(diameter, Angle::ZERO, Length::ZERO), None);
    }
}
