//! What a figure can hang on: a name, a unit and a cure each.

use super::cure::Cure;

/// An input of the measurement model (JCGM 200, 2.50): one line of a budget is of one of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Input {
    /// What differs from reading to reading and from pass to pass, at one place of a land.
    Readings,
    /// The same through a fit.
    ReadingsAndFit,
    /// The same of where a land begins and ends.
    LandEnds,
    /// The same of the two edges that a figure of the whole feature is the difference of.
    TwoEdges,
    /// The same of the edges of one flute at several distances.
    Edges,
    /// By how much more than they should those edges lie off a straight line.
    OffLine,
    /// Which of several edges are the highest and the lowest.
    ExtremeEdges,
    /// What hands and trials of a crossed study left open beside all else.
    Study,
    /// The indicator's error within its limits.
    IndicatorError,
    /// The indicator's least count.
    Resolution,
    /// The indicator's play.
    Hysteresis,
    /// The indicator's scale, as a study of known steps left it.
    Scale,
    /// The indicator's drift.
    Drift,
    /// The angle of a lever to the surface.
    LeverAngle,
    /// The size of the stylus.
    Stylus,
    /// The rounding of the edges, where a ball's ride over them does not tell it.
    Rounding,
    /// By how much the probe's line misses the axis.
    ProbeOffset,
    /// The encoder's steps.
    Encoder,
    /// By how much the indicator is later than the encoder.
    Delay,
    /// The diameter of the feature.
    Diameter,
    /// The axis' place at the feature, the way in which it is known least.
    Runout,
    /// The same across that way.
    RunoutAcross,
    /// The axis' place at each distance, where only a bound is stated.
    RunoutEach,
    /// The axis' lean as references or the gauge card tell it, one way.
    Lean,
    /// The same across that way.
    LeanAcross,
    /// A lean that nothing tells, one way.
    UnknownLean,
    /// The same across that way.
    UnknownLeanAcross,
    /// The swash of a face, the way in which it is known least.
    Swash,
    /// The same across that way.
    SwashAcross,
    /// How far a face falls along a radius.
    FaceAngle,
    /// Waves of a reference beside its eccentricity.
    Lobes,
    /// Which family a land is of.
    Family,
    /// How far an edge stands off the beginning of its curve.
    EdgeApart,
    /// Waves of a land about its curve.
    OffCurve,
    /// A margin that could be there and does not show.
    HiddenMargin,
    /// The land before its first readings.
    Unread,
    /// A relief that is not told from none.
    NoRelief,
    /// The distances of the traces from the tool's front.
    Distance,
    /// How straight and parallel the table travels.
    Table,
    /// The scale of the table's travel.
    TravelScale,
    /// How square the probe stands to the travel.
    Square,
}

/// The unit of an input.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InputUnit {
    /// That of the figure.
    Figure,
    /// Millimetres.
    Length,
    /// Degrees.
    Angle,
    /// Milliseconds.
    Time,
    /// Micrometres a minute.
    Drift,
    /// Micrometres a metre.
    Lean,
    /// A plain number.
    One,
}

impl InputUnit {
    /// Its sign in results; that of the figure is `figure`.
    pub const fn as_str(self, figure: &str) -> &str {
        match self {
            InputUnit::Figure => figure,
            InputUnit::Length => "mm",
            InputUnit::Angle => "deg",
            InputUnit::Time => "ms",
            InputUnit::Drift => "um/min",
            InputUnit::Lean => "um/m",
            InputUnit::One => "1",
        }
    }
}

impl Input {
    /// Every one of them.
    pub const ALL: [Input; 41] = [
        Input::Readings,
        Input::ReadingsAndFit,
        Input::LandEnds,
        Input::TwoEdges,
        Input::Edges,
        Input::OffLine,
        Input::ExtremeEdges,
        Input::Study,
        Input::IndicatorError,
        Input::Resolution,
        Input::Hysteresis,
        Input::Scale,
        Input::Drift,
        Input::LeverAngle,
        Input::Stylus,
        Input::Rounding,
        Input::ProbeOffset,
        Input::Encoder,
        Input::Delay,
        Input::Diameter,
        Input::Runout,
        Input::RunoutAcross,
        Input::RunoutEach,
        Input::Lean,
        Input::LeanAcross,
        Input::UnknownLean,
        Input::UnknownLeanAcross,
        Input::Swash,
        Input::SwashAcross,
        Input::FaceAngle,
        Input::Lobes,
        Input::Family,
        Input::EdgeApart,
        Input::OffCurve,
        Input::HiddenMargin,
        Input::Unread,
        Input::NoRelief,
        Input::Distance,
        Input::Table,
        Input::TravelScale,
        Input::Square,
    ];

    /// What it is called, in the trade's words.
    pub const fn name(self) -> &'static str {
        match self {
            Input::Readings => "scatter of the readings",
            Input::ReadingsAndFit => "scatter of the readings and fit",
            Input::LandEnds => "scatter of the land's ends",
            Input::TwoEdges => "scatter of the two edges",
            Input::Edges => "scatter of the edges",
            Input::OffLine => "edges off a straight line",
            Input::ExtremeEdges => "choice of the extreme edges",
            Input::Study => "operators and trials, by study",
            Input::IndicatorError => "indicator error",
            Input::Resolution => "resolution",
            Input::Hysteresis => "hysteresis",
            Input::Scale => "scale of the indicator",
            Input::Drift => "drift of the indicator",
            Input::LeverAngle => "lever angle",
            Input::Stylus => "stylus radius",
            Input::Rounding => "rounding of the edges",
            Input::ProbeOffset => "probe offset",
            Input::Encoder => "encoder resolution",
            Input::Delay => "delay",
            Input::Diameter => "diameter",
            Input::Runout => "runout left, least known way",
            Input::RunoutAcross => "runout left, across it",
            Input::RunoutEach => "runout left at each z",
            Input::Lean => "lean of the tool, one way",
            Input::LeanAcross => "lean of the tool, across it",
            Input::UnknownLean => "lean not known, one way",
            Input::UnknownLeanAcross => "lean not known, across it",
            Input::Swash => "swash, least known way",
            Input::SwashAcross => "swash, across it",
            Input::FaceAngle => "angle of the face",
            Input::Lobes => "waves of the reference",
            Input::Family => "choice of curve",
            Input::EdgeApart => "edge apart from its curve",
            Input::OffCurve => "waves of the land",
            Input::HiddenMargin => "margin too narrow to be told",
            Input::Unread => "land before the first readings",
            Input::NoRelief => "relief not told from none",
            Input::Distance => "distance z",
            Input::Table => "table travel",
            Input::TravelScale => "scale of the travel",
            Input::Square => "probe square to the travel",
        }
    }

    /// What its estimate and its uncertainty are in.
    pub const fn unit(self) -> InputUnit {
        match self {
            Input::Readings
            | Input::ReadingsAndFit
            | Input::LandEnds
            | Input::TwoEdges
            | Input::Edges
            | Input::OffLine
            | Input::ExtremeEdges
            | Input::Study
            | Input::Family
            | Input::EdgeApart
            | Input::OffCurve
            | Input::HiddenMargin
            | Input::Unread
            | Input::NoRelief => InputUnit::Figure,
            Input::IndicatorError
            | Input::Resolution
            | Input::Hysteresis
            | Input::Stylus
            | Input::Rounding
            | Input::ProbeOffset
            | Input::Diameter
            | Input::Runout
            | Input::RunoutAcross
            | Input::RunoutEach
            | Input::Swash
            | Input::SwashAcross
            | Input::Lobes
            | Input::Distance => InputUnit::Length,
            Input::LeverAngle | Input::Encoder | Input::Table | Input::Square => InputUnit::Angle,
            Input::Delay => InputUnit::Time,
            Input::Drift => InputUnit::Drift,
            Input::Lean | Input::LeanAcross | Input::UnknownLean | Input::UnknownLeanAcross => {
                InputUnit::Lean
            }
            Input::Scale | Input::FaceAngle | Input::TravelScale => InputUnit::One,
        }
    }

    /// What at the bench makes its contribution smaller; `None` where nothing does.
    pub const fn cure(self) -> Option<Cure> {
        match self {
            // What chance leaves goes down with the number of turns.
            Input::Readings
            | Input::ReadingsAndFit
            | Input::LandEnds
            | Input::TwoEdges
            | Input::Edges
            | Input::ExtremeEdges => Some(Cure::MoreTurns),
            Input::Delay | Input::Unread | Input::HiddenMargin | Input::Rounding => {
                Some(Cure::Slower)
            }
            Input::IndicatorError => Some(Cure::BetterIndicator),
            Input::Resolution => Some(Cure::FinerIndicator),
            Input::Hysteresis => Some(Cure::TighterIndicator),
            Input::Scale => Some(Cure::HigherStep),
            Input::Drift => Some(Cure::WarmedUp),
            Input::LeverAngle => Some(Cure::SquareLever),
            Input::Stylus => Some(Cure::SmallerBall),
            Input::ProbeOffset => Some(Cure::CentredProbe),
            Input::Encoder => Some(Cure::FinerEncoder),
            Input::Runout
            | Input::RunoutAcross
            | Input::RunoutEach
            | Input::Swash
            | Input::SwashAcross => Some(Cure::Reference),
            Input::Lean | Input::LeanAcross | Input::UnknownLean | Input::UnknownLeanAcross => {
                Some(Cure::TwoReferences)
            }
            Input::FaceAngle => Some(Cure::StatedFace),
            Input::Family => Some(Cure::StatedFamily),
            Input::Distance => Some(Cure::FartherApart),
            Input::TravelScale => Some(Cure::LongerFace),
            // A study saw what hands do; the round, the part and the machine are as they are.
            Input::Study
            | Input::Diameter
            | Input::Lobes
            | Input::OffLine
            | Input::EdgeApart
            | Input::OffCurve
            | Input::NoRelief
            | Input::Table
            | Input::Square => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn each_input_is_listed_once_and_has_a_name_of_its_own() {
        let listed: BTreeSet<Input> = Input::ALL.into_iter().collect();
        assert_eq!(listed.len(), Input::ALL.len());
        let names: BTreeSet<&str> = Input::ALL.into_iter().map(Input::name).collect();
        assert_eq!(names.len(), Input::ALL.len());
    }
}
