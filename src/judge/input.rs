//! What a figure can hang on: a name, a unit and a cure each.

use super::cure::Cure;

macro_rules! inputs {
    ($($(#[doc = $doc:literal])+ $name:ident = $text:literal, $unit:ident, $cure:expr;)+) => {
        /// An input of the measurement model (JCGM 200, 2.50): one line of a budget is of one of them.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Input { $($(#[doc = $doc])+ $name,)+ }

        impl Input {
            /// Every one of them.
            pub const ALL: [Input; [$(Input::$name),+].len()] = [$(Input::$name),+];

            /// What it is called, in the trade's words.
            pub const fn name(self) -> &'static str {
                match self { $(Input::$name => $text),+ }
            }

            /// What its estimate and its uncertainty are in.
            pub const fn unit(self) -> InputUnit {
                match self { $(Input::$name => InputUnit::$unit),+ }
            }

            /// What at the bench makes its contribution smaller; `None` where nothing does.
            pub const fn cure(self) -> Option<Cure> {
                match self { $(Input::$name => $cure),+ }
            }
        }
    };
}

// Where there is no cure, a study saw what hands do; or the round, the part and the machine are as
// they are.
inputs! {
    /// What differs from reading to reading and from pass to pass, at one place of a land.
    Readings = "scatter of the readings", Figure, Some(Cure::MoreTurns);
    /// The same through a fit.
    ReadingsAndFit = "scatter of the readings and fit", Figure, Some(Cure::MoreTurns);
    /// The same of where a land begins and ends.
    LandEnds = "scatter of the land's ends", Figure, Some(Cure::MoreTurns);
    /// The same of the two edges that a figure of the whole feature is the difference of.
    TwoEdges = "scatter of the two edges", Figure, Some(Cure::MoreTurns);
    /// The same of the edges of one flute at several distances.
    Edges = "scatter of the edges", Figure, Some(Cure::MoreTurns);
    /// By how much more than they should those edges lie off a straight line.
    OffLine = "edges off a straight line", Figure, None;
    /// Which of several edges are the highest and the lowest.
    ExtremeEdges = "choice of the extreme edges", Figure, Some(Cure::MoreTurns);
    /// What hands and trials of a crossed study left open beside all else.
    Study = "operators and trials, by study", Figure, None;
    /// The indicator's error within its limits.
    IndicatorError = "indicator error", Length, Some(Cure::BetterIndicator);
    /// The indicator's least count.
    Resolution = "resolution", Length, Some(Cure::FinerIndicator);
    /// The indicator's play.
    Hysteresis = "hysteresis", Length, Some(Cure::TighterIndicator);
    /// The indicator's scale, as a study of known steps left it.
    Scale = "scale of the indicator", One, Some(Cure::HigherStep);
    /// The indicator's drift.
    Drift = "drift of the indicator", Drift, Some(Cure::WarmedUp);
    /// The angle of a lever to the surface.
    LeverAngle = "lever angle", Angle, Some(Cure::SquareLever);
    /// The size of the stylus.
    Stylus = "stylus radius", Length, Some(Cure::SmallerBall);
    /// The rounding of the edges, where a ball's ride over them does not tell it.
    Rounding = "rounding of the edges", Length, Some(Cure::Slower);
    /// By how much the probe's line misses the axis.
    ProbeOffset = "probe offset", Length, Some(Cure::CentredProbe);
    /// The encoder's steps.
    Encoder = "encoder resolution", Angle, Some(Cure::FinerEncoder);
    /// By how much the indicator is later than the encoder.
    Delay = "delay", Time, Some(Cure::Slower);
    /// The diameter of the feature.
    Diameter = "diameter", Length, None;
    /// The axis' place at the feature, the way in which it is known least.
    Runout = "runout left, least known way", Length, Some(Cure::Reference);
    /// The same across that way.
    RunoutAcross = "runout left, across it", Length, Some(Cure::Reference);
    /// The axis' place at each distance, where only a bound is stated.
    RunoutEach = "runout left at each z", Length, Some(Cure::Reference);
    /// The axis' lean as references or the gauge card tell it, one way.
    Lean = "lean of the tool, one way", Lean, Some(Cure::TwoReferences);
    /// The same across that way.
    LeanAcross = "lean of the tool, across it", Lean, Some(Cure::TwoReferences);
    /// A lean that nothing tells, one way.
    UnknownLean = "lean not known, one way", Lean, Some(Cure::TwoReferences);
    /// The same across that way.
    UnknownLeanAcross = "lean not known, across it", Lean, Some(Cure::TwoReferences);
    /// The swash of a face, the way in which it is known least.
    Swash = "swash, least known way", Length, Some(Cure::Reference);
    /// The same across that way.
    SwashAcross = "swash, across it", Length, Some(Cure::Reference);
    /// How far a face falls along a radius.
    FaceAngle = "angle of the face", One, Some(Cure::StatedFace);
    /// Waves of a reference beside its eccentricity.
    Lobes = "waves of the reference", Length, None;
    /// Which family a land is of.
    Family = "choice of curve", Figure, Some(Cure::StatedFamily);
    /// How far an edge stands off the beginning of its curve.
    EdgeApart = "edge apart from its curve", Figure, None;
    /// Waves of a land about its curve.
    OffCurve = "waves of the land", Figure, None;
    /// A margin that could be there and does not show.
    HiddenMargin = "margin too narrow to be told", Figure, Some(Cure::Slower);
    /// The land before its first readings.
    Unread = "land before the first readings", Figure, Some(Cure::Slower);
    /// A relief that is not told from none.
    NoRelief = "relief not told from none", Figure, None;
    /// The distances of the traces from the tool's front.
    Distance = "distance z", Length, Some(Cure::FartherApart);
    /// How straight and parallel the table travels.
    Table = "table travel", Angle, None;
    /// The scale of the table's travel.
    TravelScale = "scale of the travel", One, Some(Cure::LongerFace);
    /// How square the probe stands to the travel.
    Square = "probe square to the travel", Angle, None;
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn each_input_has_a_name_of_its_own() {
        let names: BTreeSet<&str> = Input::ALL.iter().map(|input| input.name()).collect();
        assert_eq!(names.len(), Input::ALL.len());
    }
}
