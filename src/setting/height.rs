//! What an error of the height of centre does to an angle that is ground.

use crate::quantity::{Angle, Length};

/// How far an edge that stands so far above or below the height of its tool's axis is turned:
/// `asin(2h/D)`, with the sign of the height. An edge that is meant to stand at that height gets so
/// much more relief on one side of it, and so much less on the other (first principles). It is also
/// the relief that an offset `h` of the tooth rest gives, and with the diameter of a straight wheel
/// that of its head.
///
/// `None` where the tool does not reach so high.
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::turned_by_height;
/// let turned = turned_by_height(Length::from_mm(20.0), Length::from_mm(0.2));
/// assert_eq!(turned.map(|it| format!("{:.6}", it.deg())), Some("1.145992".to_owned()));
/// ```
pub fn turned_by_height(diameter: Length, height: Length) -> Option<Angle> {
    let sine = height * 2.0 / diameter;
    let within = diameter > Length::ZERO && sine.abs() < 1.0;
    within.then(|| Angle::from_rad(sine.asin()))
}

/// A cone that was ground or turned off the height of its axis: a hyperboloid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ConeOffHeight {
    /// Radius at the small end.
    pub small: Length,
    /// Radius in the middle.
    pub middle: Length,
    /// Radius at the large end.
    pub large: Length,
    /// How far the surface lies under the straight line between the ends, in the middle.
    pub hollow: Length,
    /// Angle of that line to the axis.
    pub mean_angle: Angle,
}

/// What a straight path at `angle` to the axis leaves, `height` off the axis: at every place the
/// radius `sqrt(r^2 + h^2)` (first principles). It is no true cone, and its taper changes with each
/// cut, as F. W. Turner's Machine Shop Work (American Technical Society) says of turning.
///
/// `None` for a cone without length or with a radius below nothing.
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::cone_off_height;
/// let mm = Length::from_mm;
/// let cone = cone_off_height(mm(5.0), Angle::from_deg(5.0), mm(10.0), mm(0.2));
/// assert_eq!(cone.map(|it| format!("{:.4}", it.mean_angle.deg())), Some("4.9966".to_owned()));
/// ```
pub fn cone_off_height(
    small: Length,
    angle: Angle,
    length: Length,
    height: Length,
) -> Option<ConeOffHeight> {
    let slope = angle.rad().tan();
    let radius = |along: Length| {
        let set = small + along * slope;
        Length::from_mm(set.mm().hypot(height.mm()))
    };
    let usable = small >= Length::ZERO
        && length > Length::ZERO
        && angle.abs() < Angle::from_turns(0.25)
        && small + length * slope >= Length::ZERO
        && height.is_finite();
    usable.then(|| {
        let (start, middle, end) = (radius(Length::ZERO), radius(length / 2.0), radius(length));
        ConeOffHeight {
            small: start,
            middle,
            large: end,
            hollow: (start + end) / 2.0 - middle,
            mean_angle: Angle::from_rad(((end - start) / length).atan()),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setting::relief_offset;

    #[test]
    fn an_offset_turns_back_into_its_relief() {
        let (diameter, relief) = (Length::from_mm(16.0), Angle::from_deg(9.0));
        let back = turned_by_height(diameter, relief_offset(diameter, relief));
        assert!(back.is_some_and(|back| (back - relief).abs().deg() < 1e-12));
        let below = turned_by_height(diameter, Length::from_mm(-0.1));
        assert!(below.is_some_and(|turned| turned < Angle::ZERO));
    }

    #[test]
    fn a_height_beyond_the_tool_turns_nothing() {
        let diameter = Length::from_mm(6.0);
        for height in [3.0, -3.5, f64::NAN, f64::INFINITY] {
            assert_eq!(turned_by_height(diameter, Length::from_mm(height)), None);
        }
        assert_eq!(turned_by_height(Length::ZERO, Length::from_mm(0.1)), None);
    }

    #[test]
    fn at_the_height_of_centre_a_cone_is_a_cone() {
        let mm = Length::from_mm;
        let cone = cone_off_height(mm(3.0), Angle::from_deg(45.0), mm(4.0), Length::ZERO);
        assert!(cone.is_some_and(|cone| {
            (cone.large - mm(7.0)).abs() < mm(1e-12)
                && cone.hollow.abs() < mm(1e-12)
                && (cone.mean_angle.deg() - 45.0).abs() < 1e-12
        }));
        assert_eq!(
            cone_off_height(mm(3.0), Angle::from_deg(-45.0), mm(4.0), Length::ZERO),
            None
        );
    }
}
