//! The swing of the table for a back taper, tapers a foot, and where a swivel or a sine bar stands.

use crate::card::SwivelZero;
use crate::quantity::{Angle, Length};

/// How far to swing the table, as an angle and as what an indicator shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swing {
    /// From where the table stands, positive towards a tool that is smaller at the shank.
    pub angle: Angle,
    /// What an indicator that is moved along the table, over `length`, then shows from end to end
    /// beyond what it showed before.
    pub over_length: Length,
    /// The length that it is moved over.
    pub length: Length,
}

/// From one taper to another: the table swings by the difference, since it carries the tool's side
/// under the wheel; over a length `L` that is `L (tan wanted - tan now)`.
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::table_swing;
/// let swing = table_swing(Angle::ZERO, Angle::from_deg(0.5), Length::from_mm(100.0));
/// assert_eq!(format!("{:.3}", swing.over_length.mm()), "0.873");
/// ```
pub fn table_swing(now: Angle, wanted: Angle, length: Length) -> Swing {
    Swing {
        angle: wanted - now,
        over_length: length * (wanted.rad().tan() - now.rad().tan()),
        length,
    }
}

/// By how much the diameter changes over this length: `2 L tan a` for a side at `a` to the axis, so
/// 2 × 12 in × tan a for the taper a foot (table "Equivalent Tapers of Degrees in Inches" in Turning
/// and Boring Tapers, Derry Collard Co., 1902).
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::taper_over;
/// let a_foot = taper_over(Angle::from_deg(0.5), Length::from_in(12.0));
/// assert_eq!(format!("{:.4}", a_foot.inches()), "0.2094");
/// ```
pub fn taper_over(side: Angle, length: Length) -> Length {
    length * (2.0 * side.rad().tan())
}

/// What a swivel is set to for a face at this angle to the axis: the angle itself where its zero lies
/// along the axis (US Army subcourse OD1645, p. 67), and 90° less it where that lies across (F. D.
/// Jones, Turning and Boring, Industrial Press, 1914, pp. 95 and 96).
///
/// ```
/// use heelclear::card::SwivelZero;
/// use heelclear::quantity::Angle;
/// use heelclear::setting::swivel_setting;
/// let set = swivel_setting(Angle::from_deg(30.0), SwivelZero::Across);
/// assert!((set.deg() - 60.0).abs() < 1e-12);
/// ```
pub fn swivel_setting(to_axis: Angle, zero: SwivelZero) -> Angle {
    match zero {
        SwivelZero::Along => to_axis,
        SwivelZero::Across => Angle::from_turns(0.25) - to_axis,
    }
}

/// Height of the gauge blocks under a sine bar of this length: `L sin a` (US Army subcourse OD1642,
/// at fig. 25).
pub fn sine_bar_height(angle: Angle, bar: Length) -> Length {
    bar * angle.rad().sin()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A cone of 1 in 20 of its diameter has half its angle at 1° 25' 56" (ISO 1119; from memory):
    /// 1 mm in 40 on the side.
    #[test]
    fn a_cone_of_1_in_20_swings_by_its_standard_half_angle() {
        let standard = Angle::from_deg(1.0 + 25.0 / 60.0 + 56.0 / 3600.0);
        let swing = table_swing(Angle::ZERO, standard, Length::from_mm(40.0));
        assert!((swing.over_length.mm() - 1.0).abs() < 2e-4, "{swing:?}");
    }

    #[test]
    fn there_and_back_is_nothing() {
        let (a, b) = (Angle::from_deg(0.1), Angle::from_deg(0.6));
        let length = Length::from_mm(100.0);
        let (there, back) = (table_swing(a, b, length), table_swing(b, a, length));
        assert_eq!(there.angle + back.angle, Angle::ZERO);
        assert!((there.over_length + back.over_length).abs() < Length::from_mm(1e-12));
    }
}
