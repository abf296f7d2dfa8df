//! A plane angle, kept in radians, and how fast one changes.

use super::{Time, linear_quantity};
use std::f64::consts::TAU;

/// A plane angle; radians inside. It does not wrap by itself.
///
/// ```
/// use heelclear::quantity::Angle;
/// assert_eq!(Angle::from_turns(2.0).deg(), 720.0);
/// assert!((Angle::from_deg(-10.0).in_turn().deg() - 350.0).abs() < 1e-12);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Angle(pub(super) f64);

linear_quantity!(Angle);

impl Angle {
    /// One whole turn.
    pub const TURN: Self = Self(TAU);

    /// From radians.
    pub const fn from_rad(rad: f64) -> Self {
        Self(rad)
    }

    /// From degrees.
    pub fn from_deg(deg: f64) -> Self {
        Self(deg.to_radians())
    }

    /// From whole turns.
    pub fn from_turns(turns: f64) -> Self {
        Self(turns * TAU)
    }

    /// In radians.
    pub const fn rad(self) -> f64 {
        self.0
    }

    /// In degrees.
    pub fn deg(self) -> f64 {
        self.0.to_degrees()
    }

    /// In whole turns.
    pub fn turns(self) -> f64 {
        self.0 / TAU
    }

    /// The same direction within one turn, from 0 up to but not including a whole turn.
    pub fn in_turn(self) -> Self {
        let wrapped = self.0.rem_euclid(TAU);
        // A tiny negative angle rounds up to a whole turn, which is the same direction as 0.
        Self(if wrapped >= TAU { 0.0 } else { wrapped })
    }

    /// The same direction as the shortest way there, from minus half a turn to half a turn.
    pub fn shortest(self) -> Self {
        let turned = Self(self.0 + TAU / 2.0).in_turn();
        Self(turned.0 - TAU / 2.0)
    }
}

/// How fast an angle changes; radians a second inside, positive where the angle grows.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct AngularSpeed(pub(super) f64);

linear_quantity!(AngularSpeed);

impl AngularSpeed {
    /// From radians a second.
    pub const fn from_rad_per_s(rad_per_s: f64) -> Self {
        Self(rad_per_s)
    }

    /// From turns a minute.
    pub fn from_rpm(rpm: f64) -> Self {
        Self(rpm * (TAU / 60.0))
    }

    /// In turns a minute.
    pub fn rpm(self) -> f64 {
        self.0 / (TAU / 60.0)
    }

    /// In radians a second.
    pub const fn rad_per_s(self) -> f64 {
        self.0
    }

    /// In degrees a second.
    pub fn deg_per_s(self) -> f64 {
        self.0.to_degrees()
    }
}

impl std::ops::Div<Time> for Angle {
    type Output = AngularSpeed;
    fn div(self, time: Time) -> AngularSpeed {
        AngularSpeed(self.0 / time.s())
    }
}

impl std::ops::Mul<Time> for AngularSpeed {
    type Output = Angle;
    fn mul(self, time: Time) -> Angle {
        Angle(self.0 * time.s())
    }
}
