//! The families of curves that a land may belong to.

use crate::card::{CurveChoice, Surface};
use crate::error::{Code, Error, Result};
use std::fmt;
use std::str::FromStr;

/// A family of curves, in order of growing freedom.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Family {
    /// A plane through the edge.
    Flat,
    /// Drop in proportion to the arc.
    Spiral,
    /// The same relief angle everywhere; on an axial surface that is a spiral.
    LogSpiral,
    /// A circle through the edge, convex or hollow.
    Arc,
    /// A flat primary, then a flat secondary.
    Facets,
    /// Fall, dwell, return.
    Cam,
    /// A smoothing spline, where no other family is to be trusted.
    Free,
}

impl Family {
    /// Every family, in order of growing freedom.
    pub const ALL: [Family; 7] = [
        Family::Flat,
        Family::Spiral,
        Family::LogSpiral,
        Family::Arc,
        Family::Facets,
        Family::Cam,
        Family::Free,
    ];

    /// Its name in cards and results.
    pub const fn as_str(self) -> &'static str {
        match self {
            Family::Flat => "flat",
            Family::Spiral => "spiral",
            Family::LogSpiral => "log-spiral",
            Family::Arc => "arc",
            Family::Facets => "facets",
            Family::Cam => "cam",
            Family::Free => "free",
        }
    }

    /// The families that a card allows on a surface.
    ///
    /// On an axial surface `log-spiral` is the same curve as `spiral`, and is fitted as that.
    pub fn allowed(choice: CurveChoice, surface: Surface) -> Vec<Family> {
        let one = match choice {
            CurveChoice::Auto => {
                return Self::ALL
                    .into_iter()
                    .filter(|family| family.on(surface) == *family)
                    .collect();
            }
            CurveChoice::Flat => Family::Flat,
            CurveChoice::Arc => Family::Arc,
            CurveChoice::Spiral => Family::Spiral,
            CurveChoice::LogSpiral => Family::LogSpiral,
            CurveChoice::Cam => Family::Cam,
            CurveChoice::Facets => Family::Facets,
            CurveChoice::Free => Family::Free,
        };
        vec![one.on(surface)]
    }

    /// The family that stands for this one on a surface.
    pub(super) fn on(self, surface: Surface) -> Family {
        match (self, surface) {
            (Family::LogSpiral, Surface::Axial) => Family::Spiral,
            _ => self,
        }
    }
}

impl fmt::Display for Family {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl FromStr for Family {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        Self::ALL
            .into_iter()
            .find(|family| family.as_str() == text)
            .ok_or_else(|| {
                let known = Self::ALL.map(Family::as_str).join(", ");
                Error::new(
                    Code::Curve,
                    format!("`{text}` is no family of curves, expected one of {known}"),
                )
            })
    }
}
