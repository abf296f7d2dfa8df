//! What a trace of the simulated bench shows.

/// What a pose touches, by its place in the recipe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// A round of the same clamping.
    Reference(usize),
    /// A feature.
    Feature(usize),
    /// A round in a fixture that is engaged, by the fixture's place.
    Motion(usize),
    /// A feature in a fixture that is engaged.
    Residual {
        /// The fixture's place.
        fixture: usize,
        /// The feature's place.
        feature: usize,
    },
}

impl Target {
    /// Whether a fixture moves it.
    pub(super) fn is_engaged(self) -> bool {
        matches!(self, Target::Motion(_) | Target::Residual { .. })
    }

    /// The feature that it is, fixture engaged or locked.
    pub fn feature(self) -> Option<usize> {
        match self {
            Target::Feature(feature) | Target::Residual { feature, .. } => Some(feature),
            Target::Reference(_) | Target::Motion(_) => None,
        }
    }
}
