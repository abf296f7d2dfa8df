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
}
