//! The characteristics that can be judged, their names, and the limits a card sets on them.

/// Declares every characteristic once: its name in results, its unit there, its key in a card.
macro_rules! names {
    ($($(#[doc = $doc:literal])+ $variant:ident = $name:literal, $unit:literal, $key:expr;)+) => {
        /// A characteristic, as named in results.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Name { $($(#[doc = $doc])+ $variant,)+ }

        impl Name {
            /// Every characteristic there is, in the order in which people read them.
            pub const ALL: &'static [Name] = &[$(Name::$variant),+];

            /// The name in results: `heel-clearance`.
            pub const fn as_str(self) -> &'static str {
                match self { $(Name::$variant => $name),+ }
            }

            /// The unit in results, `mm` or `deg`.
            pub const fn unit(self) -> &'static str {
                match self { $(Name::$variant => $unit),+ }
            }

            /// The key under `[feature.limits]` without its unit, where it can have a limit.
            pub const fn limit_key(self) -> Option<&'static str> {
                match self { $(Name::$variant => $key),+ }
            }
        }
    };
}

names! {
    /// Least height of the edge above what follows it on the land.
    HeelClearance = "heel-clearance", "mm", Some("heel_clearance");
    /// Angle between the land and the direction of motion, at the edge.
    ReliefAngle = "relief-angle", "deg", Some("relief_angle");
    /// How far the land has fallen at the check distance.
    Drop = "drop", "mm", Some("drop");
    /// Angle of the flat land that would give the same drop.
    FlatEquivalentRelief = "flat-equivalent-relief", "deg", None;
    /// Greatest fall on the land.
    TotalRelief = "total-relief", "mm", Some("total_relief");
    /// Width behind the edge without relief.
    WearLand = "wear-land", "mm", Some("wear_land");
    /// Width of the first of two facets.
    PrimaryWidth = "primary-width", "mm", Some("primary_width");
    /// Angle between the second of two facets and the direction of motion, where it begins.
    SecondaryAngle = "secondary-angle", "deg", Some("secondary_angle");
    /// Radius of the rounding of an edge.
    EdgeRadius = "edge-radius", "mm", Some("edge_radius");
    /// Highest edge minus lowest.
    EdgeSpread = "edge-spread", "mm", Some("edge_spread");
    /// Greatest deviation of the edges from their spacing.
    FluteSpacing = "flute-spacing", "deg", Some("flute_spacing");
    /// Angle by which the feature gets smaller towards the shank.
    BackTaper = "back-taper", "deg", Some("back_taper");
    /// Angle between a surface and the tool's axis.
    FaceAngle = "face-angle", "deg", Some("face_angle");
    /// Eccentricity of the tool in the spindle.
    Runout = "runout", "mm", None;
}

impl Name {
    /// The key under `[feature.limits]` with its unit, where it can have a limit.
    pub fn card_key(self) -> Option<String> {
        let stem = self.limit_key()?;
        Some(format!("{stem}_{}", self.unit()))
    }
}

/// One or two bounds on a value, in the unit of its characteristic (mm or degrees).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limit {
    /// The least that is allowed.
    pub min: Option<f64>,
    /// The most that is allowed.
    pub max: Option<f64>,
}

/// The limits of one feature.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    set: Vec<(Name, Limit)>,
}

impl Default for Limits {
    /// The no-heel-drag rule holds for every feature, whatever the card says.
    fn default() -> Self {
        let rule = Limit {
            min: Some(0.0),
            max: None,
        };
        Self {
            set: vec![(Name::HeelClearance, rule)],
        }
    }
}

impl Limits {
    /// Sets or replaces one limit.
    pub fn set(&mut self, name: Name, limit: Limit) {
        match self.set.iter_mut().find(|(known, _)| *known == name) {
            Some(entry) => entry.1 = limit,
            None => self.set.push((name, limit)),
        }
    }

    /// The limit on a characteristic, if there is one.
    pub fn get(&self, name: Name) -> Option<Limit> {
        let found = self.set.iter().find(|(known, _)| *known == name);
        found.map(|(_, limit)| *limit)
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = (Name, Limit)> + '_ {
        self.set.iter().copied()
    }
}
