//! What the judgement of a feature comes to.

use super::doubt::Doubt;
use super::figures::{Figure, FluteSpacing};
use super::visible::Visible;
use crate::fit::Choice;
use crate::quantity::{Angle, Length};
use crate::shape::{Clamping, Tooth, Walls};

/// What one trace of a feature tells.
#[derive(Clone, Debug)]
pub struct FeatureJudgement {
    /// In the order of growing angle, the first being the one nearest angle 0.
    pub teeth: Vec<ToothJudgement>,
    /// Every figure that the feature has, also those that could not be had.
    pub figures: Vec<Figure>,
    /// The reading that stands for the highest edge.
    pub datum: Length,
    /// Height of the highest edge on the profile's scale.
    pub highest_edge: Option<Length>,
    /// The clamping that was taken out.
    pub clamping: Clamping,
    /// How the flutes stand to the design; nothing where an edge is missing or there is but one.
    pub spacing: Option<FluteSpacing>,
    /// How the walls of its gaps lean; nothing where too little was read of them.
    pub walls: Option<Walls>,
    /// The narrowest burr and land that would have shown; nothing where no edge was found.
    pub visible: Option<Visible>,
    /// What was seen that a person should know.
    pub warnings: Vec<String>,
    /// What was seen that the cards do not say; what they take away is taken from the figures.
    pub doubts: Vec<Doubt>,
}

impl FeatureJudgement {
    /// Takes from the figures what a doubt found elsewhere takes away.
    pub fn doubt(&mut self, doubt: Doubt) {
        doubt.apply(&mut self.figures);
        self.doubts.push(doubt);
    }
}

/// One tooth with its curve.
#[derive(Clone, Debug)]
pub struct ToothJudgement {
    /// As the part has it; `None` where no land was found.
    pub tooth: Option<Tooth>,
    /// Height of the edge with what the curve adds to it.
    pub edge_height: Option<Length>,
    /// The curve of its land.
    pub choice: Option<Choice>,
    /// How far the land is judged.
    pub judged_to: Option<Angle>,
}
