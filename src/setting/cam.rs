//! The rise of a relieving cam.

use crate::fit::relief::spiral_rise_per_pitch;
use crate::quantity::{Angle, Length};

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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

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
