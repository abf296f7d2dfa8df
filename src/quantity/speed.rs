//! Lengths per time.

use super::{Length, Time, linear_quantity};

/// How fast a length changes, in millimetres a second inside.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Speed(f64);

linear_quantity!(Speed);

impl Speed {
    /// From millimetres a second.
    pub const fn from_mm_per_s(mm_per_s: f64) -> Self {
        Self(mm_per_s)
    }

    /// In millimetres a second.
    pub const fn mm_per_s(self) -> f64 {
        self.0
    }

    /// From metres a second.
    pub fn from_m_per_s(m_per_s: f64) -> Self {
        Self(m_per_s * 1000.0)
    }

    /// From feet a minute; a foot is 12 inches.
    pub fn from_ft_per_min(ft_per_min: f64) -> Self {
        Self(ft_per_min * Length::from_in(12.0).mm() / 60.0)
    }

    /// In metres a second.
    pub fn m_per_s(self) -> f64 {
        self.0 / 1000.0
    }

    /// In feet a minute.
    pub fn ft_per_min(self) -> f64 {
        self.0 * 60.0 / Length::from_in(12.0).mm()
    }

    /// In micrometres a minute, as people read a drift.
    pub fn um_per_min(self) -> f64 {
        self.0 * 60_000.0
    }
}

impl std::ops::Div<Time> for Length {
    type Output = Speed;
    fn div(self, time: Time) -> Speed {
        Speed(self.mm() / time.s())
    }
}

impl std::ops::Mul<Time> for Speed {
    type Output = Length;
    fn mul(self, time: Time) -> Length {
        Length::from_mm(self.0 * time.s())
    }
}
