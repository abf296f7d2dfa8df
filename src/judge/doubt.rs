//! What was seen that the cards do not say, and what it leaves undecided.

use super::figures::Figure;
use crate::card::Name;
use crate::quantity::Length;

/// What a doubt is about: one stable word each, which results carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum DoubtKind {
    /// A surface stands above an edge behind the land that the card asks to judge.
    LandLonger,
    /// Readings stand still where the plunger was at an end of its travel.
    PlungerStop,
    /// The same edges stand at other angles in other turns.
    CountsLost,
    /// The same places read otherwise in other turns.
    TurnsDisagree,
    /// The two ways of turning read further apart than the card's play.
    MorePlay,
    /// The reference is not round, or the spindle not true.
    NotRound,
    /// The ball is smaller than on the card.
    BallSmaller,
    /// A known step reads otherwise.
    Scale,
    /// How far the tool leans between its reference and the feature is not known.
    LeanUnknown,
    /// Two figures of a tooth cannot both be true.
    FiguresDisagree,
    /// Two clocks, and nothing tells how far they stand apart.
    DelayUnknown,
    /// The readings shrink where the plunger is pushed in.
    SignReversed,
    /// All readings are whole multiples of more than the indicator's least count.
    LeastCount,
    /// Too few readings lie on an edge or on a land to show it.
    FewReadings,
    /// A reading behind an edge stands above it, and no other turn shows that nothing is there.
    StandsAboveEdge,
    /// Something stands up again behind the end of a land.
    StandsAgain,
    /// The walls of the gaps fit the other turning sense better.
    SenseReversed,
    /// The trace fits both turning senses alike, and the encoder's was never proven.
    SenseUnproven,
}

impl DoubtKind {
    /// The word for it in results.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::LandLonger => "land-longer",
            Self::PlungerStop => "plunger-stop",
            Self::CountsLost => "counts-lost",
            Self::TurnsDisagree => "turns-disagree",
            Self::MorePlay => "more-play",
            Self::NotRound => "not-round",
            Self::BallSmaller => "ball-smaller",
            Self::Scale => "scale",
            Self::LeanUnknown => "lean-unknown",
            Self::FiguresDisagree => "figures-disagree",
            Self::DelayUnknown => "delay-unknown",
            Self::SignReversed => "sign-reversed",
            Self::LeastCount => "least-count",
            Self::FewReadings => "few-readings",
            Self::StandsAboveEdge => "stands-above-edge",
            Self::StandsAgain => "stands-again",
            Self::SenseReversed => "sense-reversed",
            Self::SenseUnproven => "sense-unproven",
        }
    }
}

/// Which verdicts a doubt takes away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leaves {
    /// No pass; a fail stands, since what was seen can only make it worse.
    NoPass,
    /// Neither: what was seen makes the figure itself doubtful.
    Undecided,
}

/// Something seen in the readings that the cards do not say.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// What it is about.
    pub kind: DoubtKind,
    /// The tooth that it touches; `None` for all of them.
    pub tooth: Option<usize>,
    /// The characteristics that it touches; empty for all of them.
    pub touches: Vec<Name>,
    /// How far the same places were read apart, where it is about that.
    pub apart: Option<Length>,
    /// Which verdicts it takes away.
    pub leaves: Leaves,
    /// What was seen and what that makes doubtful: a clause, lower case, no full stop.
    pub seen: String,
    /// What settles it: a clause that begins with a verb.
    pub cure: String,
}

impl Doubt {
    /// What makes every figure of every tooth undecided: what was seen, and what settles it.
    pub fn about(kind: DoubtKind, seen: impl Into<String>, cure: impl Into<String>) -> Self {
        Self {
            kind,
            tooth: None,
            touches: Vec::new(),
            apart: None,
            leaves: Leaves::Undecided,
            seen: seen.into(),
            cure: cure.into(),
        }
    }

    /// Reason and cure in one clause.
    pub fn clause(&self) -> String {
        format!("{}; {}", self.seen, self.cure)
    }

    /// Takes its verdicts from the figures that it touches. Of several doubts about one figure the
    /// first is told with it.
    pub fn apply(&self, figures: &mut [Figure]) {
        for figure in figures.iter_mut().filter(|figure| self.is_about(figure)) {
            let place = match self.leaves {
                Leaves::NoPass => &mut figure.blind,
                Leaves::Undecided => &mut figure.unproven,
            };
            place.get_or_insert_with(|| self.clause());
        }
    }

    /// Takes its verdicts from the back taper of a feature where this was said of one of the traces
    /// that it hangs on: what leaves a whole trace in doubt, or its edges, leaves the taper so.
    pub fn apply_to_taper(&self, figures: &mut [Figure]) {
        let of_edges = self.touches.contains(&Name::EdgeSpread);
        if self.touches.is_empty() || of_edges {
            let widened = Self {
                touches: Vec::new(),
                ..self.clone()
            };
            widened.apply(figures);
        }
    }

    /// Whether it touches a figure.
    pub fn is_about(&self, figure: &Figure) -> bool {
        let of_tooth = match (self.tooth, figure.tooth) {
            (Some(doubted), Some(tooth)) => doubted == tooth,
            _ => true,
        };
        of_tooth && (self.touches.is_empty() || self.touches.contains(&figure.name))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::Budget;

    fn about(tooth: Option<usize>, touches: &[Name]) -> Doubt {
        Doubt {
            tooth,
            touches: touches.to_vec(),
            leaves: Leaves::NoPass,
            ..Doubt::about(DoubtKind::LandLonger, "it stands", "look")
        }
    }

    #[track_caller]
    fn check(doubt: &Doubt, name: Name, tooth: Option<usize>, expected: Option<&str>) {
        let mut figures = [Figure::of(name, tooth, 1.0, Budget::default())];
        doubt.apply(&mut figures);
        assert_eq!(figures[0].blind.as_deref(), expected);
        assert_eq!(figures[0].unproven, None);
    }

    #[test]
    fn a_doubt_touches_what_it_is_about_and_nothing_else() {
        let drop = about(Some(1), &[Name::Drop]);
        check(&drop, Name::Drop, Some(1), Some("it stands; look"));
        check(&drop, Name::Drop, Some(0), None);
        check(&drop, Name::HeelClearance, Some(1), None);
        // What belongs to all teeth hangs on each of them.
        check(
            &about(Some(1), &[]),
            Name::EdgeSpread,
            None,
            Some("it stands; look"),
        );
        check(
            &about(None, &[]),
            Name::Drop,
            Some(0),
            Some("it stands; look"),
        );
    }

    #[test]
    fn of_two_doubts_about_a_figure_the_first_is_told() {
        let mut figures = [Figure::of(Name::Drop, Some(0), 1.0, Budget::default())];
        about(None, &[]).apply(&mut figures);
        let second = Doubt {
            seen: "it moves".to_owned(),
            ..about(None, &[])
        };
        second.apply(&mut figures);
        assert_eq!(figures[0].blind.as_deref(), Some("it stands; look"));
    }
}
