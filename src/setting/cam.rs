//! The rise of a relieving cam.

use crate::card::{CamLaw, RiseLaw};
use crate::fit::relief::spiral_rise_per_pitch;
use crate::quantity::{Angle, Length};
use std::f64::consts::FRAC_PI_2;

/// What a relieving cam of constant rise must do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CamRise {
    /// Over one tooth pitch: `K = (pi D / Z) tan a`, first principles.
    pub per_pitch: Length,
    /// Over the land.
    pub over_land: Length,
}

/// The rise that gives this relief angle at the edge; `None` for no teeth.
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::cam_rise;
/// let rise = cam_rise(Length::from_mm(50.0), 8, Angle::from_deg(10.0), Angle::from_deg(30.0));
/// assert_eq!(rise.map(|rise| format!("{:.4}", rise.per_pitch.mm())), Some("3.4622".to_owned()));
/// ```
pub fn cam_rise(diameter: Length, teeth: u32, relief: Angle, land: Angle) -> Option<CamRise> {
    let per_pitch = spiral_rise_per_pitch(relief, diameter / 2.0, teeth)?;
    Some(CamRise {
        per_pitch,
        over_land: per_pitch * (land.turns() * f64::from(teeth)),
    })
}

/// The relief that a cam leaves of a tool at the throw which its figures hold for, as a point would grind
/// it: on the mean of its rise, `tan a = s/(D/2)` with `s` its rise a radian, and at its steepest.
pub fn cam_relief(diameter: Length, law: &CamLaw) -> [Angle; 2] {
    let mean = law.rise / law.rise_arc.rad() / (diameter / 2.0);
    [1.0, steepest(law.law)].map(|times| Angle::from_rad((mean * times).atan()))
}

/// The throw that leaves this relief on the mean of the rise; `None` for a cam that does not rise.
pub fn cam_throw(
    diameter: Length,
    law: &CamLaw,
    at_throw: Length,
    relief: Angle,
) -> Option<Length> {
    let a_radian = law.rise / law.rise_arc.rad();
    let throw = at_throw * (diameter / 2.0 * relief.rad().tan() / a_radian);
    (a_radian > Length::ZERO && throw.is_finite()).then_some(throw)
}

/// How much steeper than on the mean a rise is where it is steepest: the greatest slopes of `(1 - cos
/// pi x)/2`, `x - sin(2 pi x)/(2 pi)` and of two parabolas (first principles).
const fn steepest(law: RiseLaw) -> f64 {
    match law {
        RiseLaw::Constant => 1.0,
        RiseLaw::Harmonic => FRAC_PI_2,
        RiseLaw::Cycloidal | RiseLaw::Parabolic => 2.0,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A cam's own motion, differenced: its steepest place and its mean are those of its law.
    #[test]
    fn the_relief_of_a_cam_is_that_of_its_motion() {
        use crate::card::Turns;
        use crate::setting::Motion;
        let diameter = Length::from_mm(12.0);
        for law in [
            RiseLaw::Constant,
            RiseLaw::Harmonic,
            RiseLaw::Cycloidal,
            RiseLaw::Parabolic,
        ] {
            let law = CamLaw {
                law,
                rise: Length::from_mm(0.8),
                rise_arc: Angle::from_deg(60.0),
                dwell_arc: Angle::ZERO,
                return_arc: Angle::from_deg(20.0),
                lobes: 4,
            };
            let at_throw = Length::from_mm(1.0);
            let motion = Motion::of_law(&law, at_throw, Turns::Cutting);
            let [mean, greatest] = cam_relief(diameter, &law);
            let half = Angle::from_deg(0.5);
            let slopes = (1..59).map(|deg| {
                let at = Angle::from_deg(f64::from(deg) + 0.5);
                let rise = motion.at(at + half) - motion.at(at - half);
                rise / (half * 2.0).rad() / (diameter / 2.0)
            });
            let found = slopes.fold(0.0, f64::max).atan().to_degrees();
            assert!(
                (found - greatest.deg()).abs() < 0.3,
                "{law:?}: {found}, {greatest:?}"
            );
            let throw = cam_throw(diameter, &law, at_throw, mean).unwrap();
            assert!((throw - at_throw).abs() < Length::from_mm(1e-9));
        }
    }

    /// First principles, computed, as in `tests/reference/form_relief_cam.csv`: D, Z, relief, K, and
    /// the drop over one degree.
    const CAMS: [(f64, u32, f64, f64, f64); 5] = [
        (50.0, 8, 10.0, 3.462_172_17, 0.076_937_159_3),
        (80.0, 12, 12.0, 4.451_774_22, 0.148_392_474),
        (100.0, 9, 10.0, 6.154_972_75, 0.153_874_319),
        (70.0, 12, 9.0, 2.902_546_47, 0.096_751_548_9),
        (10.0, 3, 6.0, 1.100_648_98, 0.009_172_074_82),
    ];

    #[test]
    fn the_rise_is_the_computed_one() {
        for (diameter, teeth, relief, per_pitch, per_degree) in CAMS {
            let (diameter, relief) = (Length::from_mm(diameter), Angle::from_deg(relief));
            let rise = cam_rise(diameter, teeth, relief, Angle::from_deg(1.0)).unwrap();
            assert!((rise.per_pitch.mm() - per_pitch).abs() < 5e-9, "{rise:?}");
            assert!((rise.over_land.mm() - per_degree).abs() < 5e-10, "{rise:?}");
        }
    }

    #[test]
    fn a_tool_without_teeth_has_no_cam() {
        let (diameter, angle) = (Length::from_mm(10.0), Angle::from_deg(6.0));
        assert_eq!(cam_rise(diameter, 0, angle, angle), None);
    }
}
