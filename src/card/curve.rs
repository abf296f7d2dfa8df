//! The families of curves that a card may name.

use super::writer::word;

macro_rules! choices {
    ($($(#[$what:meta])* $name:ident = $word:literal,)+) => {
        /// Which family of curves a card asks for.
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
        pub enum CurveChoice {
            $($(#[$what])* $name,)+
        }

        impl CurveChoice {
            /// Every one, in the order of the manual.
            pub const ALL: &'static [CurveChoice] = &[$(CurveChoice::$name),+];
        }

        /// Each by its word in a card.
        pub(super) const CURVES: &[(&str, CurveChoice)] = &[$(($word, CurveChoice::$name)),+];
        /// Those words alone.
        pub(super) const WORDS: &[&str] = &[$($word),+];
    };
}

choices! {
    /// Let the data choose.
    #[default]
    Auto = "auto",
    /// A flat land.
    Flat = "flat",
    /// A circular arc, convex or hollow.
    Arc = "arc",
    /// Constant-rise cam relief.
    Spiral = "spiral",
    /// The same relief angle everywhere.
    LogSpiral = "log-spiral",
    /// Fall, dwell, return.
    Cam = "cam",
    /// A flat primary and a flat secondary.
    Facets = "facets",
    /// A smoothing spline.
    Free = "free",
}

impl CurveChoice {
    /// The word in a card.
    pub fn as_str(self) -> &'static str {
        word(CURVES, self)
    }
}
