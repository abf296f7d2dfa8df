//! What a card chooses among: each choice once, with the words that cards and results have for it.

/// What a word of a card may mean.
pub(super) trait Words: Copy + 'static {
    /// The words, in the order of the manual.
    const WORDS: &'static [&'static str];
    /// What each means.
    const MEANINGS: &'static [Self];
}

/// Declares a choice: every meaning with its word.
macro_rules! choices {
    ($(
        $(#[$of:meta])*
        $name:ident { $($(#[$what:meta])* $variant:ident = $word:literal,)+ }
    )+) => { $(
        $(#[$of])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $($(#[$what])* $variant,)+ }

        impl $name {
            /// Every one, in the order of the manual.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word for it in cards and results.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl $crate::card::choices::Words for $name {
            const WORDS: &'static [&'static str] = &[$($word),+];
            const MEANINGS: &'static [Self] = Self::ALL;
        }
    )+ };
}
pub(super) use choices;

choices! {
    /// Which way a tool cuts.
    Hand {
        /// Clockwise seen from the shank.
        Right = "right",
        /// Counter-clockwise seen from the shank.
        Left = "left",
    }

    /// The direction in which the indicator touches.
    Surface {
        /// Along a radius.
        Radial = "radial",
        /// Parallel to the axis.
        Axial = "axial",
    }

    /// What a regrind of a tool is ground on.
    #[derive(Default)]
    SharpenedOn {
        /// The land behind each edge, which is new surface then.
        #[default]
        Land = "land",
        /// The face of each tooth: the land keeps its form and gets shorter.
        Face = "face",
    }

    /// Which family of curves a card asks for.
    #[derive(Default)]
    CurveChoice {
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

    /// The shape of the stylus' end.
    StylusShape {
        /// A sphere.
        Ball = "ball",
        /// A flat face across the direction of motion.
        Flat = "flat",
        /// A point, or a knife edge along the axis.
        Point = "point",
    }

    /// A turning direction, seen from the driven end: from the shank, along the axis towards the work.
    Rotation {
        /// As the hands of a clock.
        Clockwise = "clockwise",
        /// Against them.
        CounterClockwise = "counter-clockwise",
    }

    /// A turning direction, named by what it does to the tool.
    Positive {
        /// The way the tool cuts: edge first.
        Cutting = "cutting",
        /// The other way: heel first.
        Backing = "backing",
    }

    /// Before or after the grind.
    Stage {
        /// The worn tool.
        BeforeGrind = "before-grind",
        /// The reground tool.
        AfterGrind = "after-grind",
    }

    /// Which role a trace has, before what belongs to it is known.
    RoleWord {
        Reference = "reference",
        Feature = "feature",
        Motion = "motion",
        Residual = "residual",
    }

    /// The part of a wheel that grinds.
    Cuts {
        /// The rim of a straight wheel.
        Rim = "rim",
        /// The corner between rim and side.
        Corner = "corner",
        /// A flat side, or the face of a cup.
        Side = "side",
    }

    /// Where the zero of a swivel lies.
    SwivelZero {
        /// Along the tool's axis.
        Along = "along",
        /// Across it: a face of 30° to the axis is set at 60°.
        Across = "across",
    }

    /// How a fixture turns the tool.
    Turns {
        /// Edge first, as it cuts.
        Cutting = "cutting",
        /// Heel first.
        Backing = "backing",
    }

    /// How a cam rises.
    RiseLaw {
        /// By the same for each degree.
        Constant = "constant",
        /// As half a cosine.
        Harmonic = "harmonic",
        /// Without a step of its acceleration.
        Cycloidal = "cycloidal",
        /// With a constant acceleration up to the middle, and as much less from there.
        Parabolic = "parabolic",
    }

    /// A setting whose error shows over many grinds.
    Setting {
        /// Throw that a fixture makes, over the throw that its scale shows.
        ThrowGain = "throw-gain",
        /// What the cam stands ahead of what its scale shows, in degrees.
        CamAngle = "cam-angle",
        /// What a swivel stands over what its scale shows, in degrees.
        SwivelZero = "swivel-zero",
        /// Stock that comes off over what was fed in.
        Feed = "feed",
        /// What the wheel loses of its radius in a grind, in mm.
        WheelWear = "wheel-wear",
    }
}
