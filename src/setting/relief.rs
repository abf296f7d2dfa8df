//! The offset of tooth rest or wheel head that grinds a relief angle, and the flat land it leaves.

use super::turned_by_height;
use crate::quantity::{Angle, Length};

/// How far the tooth rest stands below centre, or the wheel's centre above it, to grind this relief:
/// `(D/2) sin a`. `D` is the diameter of the tool under the face of a cup wheel, and of the wheel
/// where the rim of a straight one grinds.
///
/// First principles. The rule of the trade, `0.0087 D a` with `a` in degrees, is this for small
/// angles: `0.0087` is `pi / 360`, rounded.
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::relief_offset;
/// let offset = relief_offset(Length::from_mm(20.0), Angle::from_deg(8.0));
/// assert_eq!(format!("{:.4}", offset.mm()), "1.3917");
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

/// The least and the greatest relief that comes out where all heights are set from a height of centre
/// that is off by `error`, up or down (first principles).
///
/// Under a cup wheel the offset itself is off, so that it is `asin(sin a ± 2h/D)`. With the rim of a
/// straight wheel the rest and the wheel are off together: the wheel stands to the edge as it should,
/// and the edge alone is turned, by `asin(2h/D)`. `D` is the diameter of the tool in both.
///
/// `None` where the tool does not reach so far.
pub fn relief_within(
    diameter: Length,
    relief: Angle,
    rim: bool,
    error: Length,
) -> Option<[Angle; 2]> {
    if rim {
        let turned = turned_by_height(diameter, error.abs())?;
        return Some([relief - turned, relief + turned]);
    }
    let offset = relief_offset(diameter, relief);
    let less = turned_by_height(diameter, offset - error.abs())?;
    Some([less, turned_by_height(diameter, offset + error.abs())?])
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::relief::{flat_drop, flat_limit};

    /// The rule is `pi / 360` rounded, for the sine of a small angle: `tests/numbers/setting.rs` has
    /// the rows of `setting_offset.csv`, which say by how much it is off.
    #[test]
    fn the_rule_of_the_trade_is_the_offset_of_small_angles() {
        for relief in [3.0, 5.0, 7.0, 10.0] {
            let rule = 0.0087 * 100.0 * relief;
            let offset = relief_offset(Length::from_mm(100.0), Angle::from_deg(relief));
            assert!((offset.mm() - rule).abs() < rule * 0.01, "{offset:?}");
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

    /// The edge and the wheel in coordinates: the tool's axis at the origin, the land above the edge.
    #[test]
    fn a_wrong_height_of_centre_turns_the_edge() {
        let (diameter, relief) = (Length::from_mm(20.0), Angle::from_deg(8.0));
        let error = Length::from_mm(0.2);
        let edge_turned = |height: f64| (height / 10.0).asin();
        let [least, greatest] = relief_within(diameter, relief, true, error).unwrap();
        for (error, expected) in [(0.2, least), (-0.2, greatest)] {
            // Rest and wheel both stand higher by the error; the normal at the edge points to the
            // wheel's centre, and relief is what that turns against the radius.
            let wheel = 75.0 * relief.rad().sin() + error;
            let normal = ((wheel - error) / 75.0).asin();
            let found = Angle::from_rad(normal - edge_turned(error));
            assert!((found - expected).abs().deg() < 1e-12, "{found:?}");
        }
        let [least, greatest] = relief_within(diameter, relief, false, error).unwrap();
        let offset = relief_offset(diameter, relief).mm();
        // The face of a cup stands upright: relief is what the edge is turned below centre.
        assert!((least.rad() - edge_turned(offset - 0.2)).abs() < 1e-12);
        assert!((greatest.rad() - edge_turned(offset + 0.2)).abs() < 1e-12);
        assert_eq!(relief_within(diameter, relief, false, diameter), None);
        assert_eq!(relief_within(diameter, relief, true, diameter), None);
    }
}
