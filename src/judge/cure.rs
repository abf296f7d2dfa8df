//! What at the bench makes contributions smaller.

/// Something to do at the bench that makes contributions smaller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cure {
    /// More turns.
    MoreTurns,
    /// A slower hand.
    Slower,
    /// A reference next to the feature.
    Reference,
    /// References at two distances.
    TwoReferences,
    /// An indicator with smaller errors.
    BetterIndicator,
    /// An indicator with smaller steps.
    FinerIndicator,
    /// An indicator with less play.
    TighterIndicator,
    /// A known step twice as high.
    HigherStep,
    /// An indicator that drifts less.
    WarmedUp,
    /// A lever set square.
    SquareLever,
    /// A smaller ball.
    SmallerBall,
    /// A probe's line on the axis.
    CentredProbe,
    /// An encoder with more counts.
    FinerEncoder,
    /// The face's angle on the card.
    StatedFace,
    /// The family of the land on the card.
    StatedFamily,
    /// Traces farther apart.
    FartherApart,
    /// A longer face.
    LongerFace,
}

impl Cure {
    /// What to do, so that "would narrow" can follow it.
    pub const fn what(self) -> &'static str {
        match self {
            Cure::MoreTurns => "four times the turns, turned no faster,",
            Cure::Slower => "turning at half the speed",
            Cure::Reference => {
                "a reference trace next to the feature, or one on either side of it,"
            }
            Cure::TwoReferences => "reference traces at two distances along the tool",
            Cure::BetterIndicator => "an indicator with half the limit of error over this travel",
            Cure::FinerIndicator => "an indicator with a tenth of the least count",
            Cure::TighterIndicator => "an indicator with half the hysteresis",
            Cure::HigherStep => "`study step --keep` over a step twice as high",
            Cure::WarmedUp => {
                "a gauge left to warm up until `study rest --keep` finds half the drift, or a trace of half the time,"
            }
            Cure::SquareLever => "the lever set square to the surface",
            Cure::SmallerBall => "a ball of half the radius",
            Cure::CentredProbe => {
                "the probe's line set on the axis, and proven, to a third of its tolerance"
            }
            Cure::FinerEncoder => "an encoder with four times the counts",
            Cure::StatedFace => "the angle of the face stated on the tool card (`face_deg`)",
            Cure::StatedFamily => "the family of the land set on the card with `curve`",
            Cure::FartherApart => "traces taken twice as far apart",
            Cure::LongerFace => "a face traced over twice the length",
        }
    }

    /// The part of a contribution that it leaves.
    pub(super) const fn leaves(self) -> f64 {
        match self {
            // What chance leaves goes down with the root of the number of turns.
            Cure::MoreTurns
            | Cure::Slower
            | Cure::BetterIndicator
            | Cure::TighterIndicator
            | Cure::HigherStep
            | Cure::WarmedUp
            | Cure::SmallerBall
            | Cure::FartherApart
            | Cure::LongerFace => 0.5,
            // A centre found on a round repeats to some part of a micrometre; what the rest of the
            // tool's length adds goes down with the distance (common practice, no source).
            Cure::Reference | Cure::TwoReferences => 0.3,
            Cure::CentredProbe => 1.0 / 3.0,
            Cure::FinerEncoder => 0.25,
            Cure::FinerIndicator | Cure::StatedFace => 0.1,
            Cure::SquareLever | Cure::StatedFamily => 0.0,
        }
    }
}
