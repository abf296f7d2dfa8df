//! How steeply a face under an indicator along the axis falls away outwards.

use crate::card::{Feature, Name, Surface};
use crate::quantity::Angle;

/// The fall of a face outwards, and how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FaceFall {
    /// Fall per length outwards: 0 for a square face, positive where the rim stands back.
    pub fall: f64,
    /// Half-width of what it may be off by.
    pub within: f64,
    /// Whether the tool card tells the angle.
    pub told: bool,
}

/// A face is ground to its angle within this (common practice, no source).
const GROUND_WITHIN: Angle = Angle::from_rad(1.0 / 180.0 * std::f64::consts::PI);

/// A face that an indicator along the axis is put on lies within 45° of square, to either side: a
/// steeper one is touched along a radius (common practice, no source).
const STEEPEST: f64 = 1.0;

impl FaceFall {
    /// What the tool card says of the face that a feature is: its angle, else the limits of that, which
    /// do not say whether the rim stands back or forward; else nothing.
    pub fn of(feature: &Feature) -> Self {
        if feature.surface == Surface::Radial {
            return Self {
                fall: 0.0,
                within: 0.0,
                told: true,
            };
        }
        if let Some(face) = feature.face {
            let sine = face.rad().sin();
            return Self {
                fall: face.rad().tan().recip(),
                within: GROUND_WITHIN.rad() / (sine * sine),
                told: true,
            };
        }
        let least = feature.limits.get(Name::FaceAngle);
        let least = least.and_then(|limit| limit.min).filter(|min| *min > 0.0);
        let within = least.map(|min| min.to_radians().tan().recip().max(0.0));
        Self {
            fall: 0.0,
            within: within.unwrap_or(STEEPEST).min(STEEPEST),
            told: within.is_some(),
        }
    }
}
