//! The families of curves that a land may belong to: a file each, and here the list of them.

mod arc;
mod cam;
mod facets;
mod flat;
pub(super) mod free;
pub(super) mod lines;
mod shape;
mod spiral;

pub(super) use arc::Arc;
pub(super) use cam::Cam;
pub use cam::{CamFigures, Law};
pub(super) use facets::Facets;
pub(super) use flat::Flat;
pub(super) use free::Free;
pub(super) use shape::{Base, Bound, Point, Search};
pub(super) use spiral::{LogSpiral, Spiral};

use super::land::Data;
use crate::card::{CurveChoice, Surface};
use crate::error::{Code, Error, Result};
use shape::Shape;
use std::fmt;
use std::str::FromStr;

macro_rules! families {
    ($($name:ident: $what:literal,)+) => {
        /// A family of curves, in order of growing freedom.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Family {
            $(#[doc = $what] $name,)+
        }

        /// A family's own part of a curve.
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub(super) enum Form {
            $($name($name),)+
        }

        $(impl From<$name> for Form {
            fn from(shape: $name) -> Self {
                Form::$name(shape)
            }
        })+

        impl Family {
            /// Every family, in order of growing freedom.
            pub const ALL: [Family; [$(Family::$name),+].len()] = [$(Family::$name),+];

            /// What a card asks for it with.
            fn choice(self) -> CurveChoice {
                match self {
                    $(Family::$name => CurveChoice::$name,)+
                }
            }

            /// The one that a card asks for; `None` where it leaves the choice to the data.
            fn chosen(choice: CurveChoice) -> Option<Family> {
                match choice {
                    CurveChoice::Auto => None,
                    $(CurveChoice::$name => Some(Family::$name),)+
                }
            }

            /// How its first guesses become a fit.
            pub(super) fn search(self) -> Search {
                match self {
                    $(Family::$name => $name::SEARCH,)+
                }
            }

            /// Places below which it is not fitted.
            pub(super) fn fewest(self) -> usize {
                match self {
                    $(Family::$name => $name::FEWEST,)+
                }
            }

            /// First guesses on a land, best first.
            pub(super) fn guesses(self, data: &Data, surface: Surface) -> Vec<Form> {
                fn forms<S: Shape + Into<Form>>(data: &Data, surface: Surface) -> Vec<Form> {
                    S::guesses(data, surface).into_iter().map(S::into).collect()
                }
                match self {
                    $(Family::$name => forms::<$name>(data, surface),)+
                }
            }
        }

        // As `Shape` says.
        impl Form {
            pub fn family(&self) -> Family {
                match self {
                    $(Form::$name(_) => Family::$name,)+
                }
            }

            pub fn map(&self, base: &Base, next: impl FnMut(f64, Bound) -> f64) -> Self {
                match self {
                    $(Form::$name(shape) => Form::$name(shape.map(base, next)),)+
                }
            }

            pub fn at(&self, base: &Base, phi: f64) -> Point {
                match self {
                    $(Form::$name(shape) => shape.at(base, phi),)+
                }
            }

            pub fn figures(&self, base: &Base) -> Vec<(&'static str, f64)> {
                match self {
                    $(Form::$name(shape) => shape.figures(base),)+
                }
            }

            pub fn bends_at(&self) -> Option<f64> {
                match self {
                    $(Form::$name(shape) => shape.bends_at(),)+
                }
            }

            pub fn kin(&self) -> Vec<Form> {
                match self {
                    $(Form::$name(shape) => shape.kin().into_iter().map(Form::$name).collect(),)+
                }
            }
        }
    };
}

families! {
    Flat: "A plane through the edge.",
    Spiral: "Drop in proportion to the arc.",
    LogSpiral: "The same relief angle everywhere; on an axial surface that is a spiral.",
    Arc: "A circle through the edge, convex or hollow.",
    Facets: "A flat primary, then a flat secondary.",
    Cam: "Fall, dwell, return.",
    Free: "A smoothing spline, where no other family is to be trusted.",
}

impl Family {
    /// Its name in cards and results.
    pub fn as_str(self) -> &'static str {
        self.choice().as_str()
    }

    /// The families that a card allows on a surface.
    ///
    /// On an axial surface `log-spiral` is the same curve as `spiral`, and is fitted as that.
    pub fn allowed(choice: CurveChoice, surface: Surface) -> Vec<Family> {
        match Self::chosen(choice) {
            Some(family) => vec![family.on(surface)],
            None => Self::ALL
                .into_iter()
                .filter(|family| family.on(surface) == *family)
                .collect(),
        }
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
