//! The recipe of a simulated inspection: the tool as it really is, the bench, the hand, the faults.
//!
//! A recipe is TOML, so that sample data can be made again from a file that a person can read.
//! Its lengths and angles are bare numbers with their unit in the name, as in a card.

mod bench;
mod check;
mod fixture;
mod part;

pub use bench::{Bench, Clamping, ErrorCurve, Faults, Gauge, Grows, Hand, Positive, Tip, Turning};
pub use fixture::{Cam, CamRise, Fixture, Grinder, GrindingWheel, WheelPart};
pub use part::{Face, Feature, Land, Law, Nick, Relief, Round, Surface, Tool, Tooth};

use crate::card::drawn;
use crate::error::{Code, Error, Result};
use serde::{Deserialize, Serialize};

/// All that is needed to make an inspection, the seed included.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// What the sample shows, in a sentence.
    pub about: String,
    /// Where the random numbers start.
    #[serde(default = "default_seed")]
    pub seed: u64,
    /// When it is said to be taken.
    #[serde(default = "default_taken")]
    pub taken: String,
    /// Who is said to have taken it.
    #[serde(default = "default_operator")]
    pub operator: String,
    /// `before-grind` or `after-grind`.
    #[serde(default = "default_stage")]
    pub stage: String,
    /// Unit of cards and traces when written.
    #[serde(default)]
    pub unit: Unit,
    /// The tool.
    pub tool: Tool,
    /// Rounds of the same clamping, in the order taken, before the features.
    #[serde(default)]
    pub reference: Vec<Round>,
    /// The surfaces measured, in the order taken.
    #[serde(default)]
    pub feature: Vec<Feature>,
    /// Faces traced over table travel, after the features.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub face: Vec<Face>,
    /// The instruments as their card states them.
    #[serde(default)]
    pub gauge: Gauge,
    /// What the bench really does.
    #[serde(default)]
    pub bench: Bench,
    /// What it is ground on; absent where nobody says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grinder: Option<Grinder>,
    /// File of the set-up that the tool was ground from, beside the cards; absent where there was none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub setup: Option<String>,
    /// How the tool really sits in the spindle.
    #[serde(default)]
    pub clamping: Clamping,
    /// How the tool is turned.
    #[serde(default)]
    pub hand: Hand,
    /// What goes wrong on the wire.
    #[serde(default)]
    pub faults: Faults,
}

/// The unit of a written card.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches.
    In,
}

fn default_seed() -> u64 {
    1
}
fn default_taken() -> String {
    "2026-03-02T09:14:00Z".to_owned()
}
fn default_operator() -> String {
    "bench 2".to_owned()
}
fn default_stage() -> String {
    "after-grind".to_owned()
}

/// What a simulated regrind takes off a diameter.
const TAKEN_OFF_MM: f64 = 0.2;

impl Scenario {
    /// The same tool after so many more regrinds: smaller on every radial surface, with another
    /// hand and another noise.
    pub fn reground(mut self, times: u32) -> Self {
        for feature in &mut self.feature {
            if feature.surface == Surface::Radial {
                feature.diameter_mm -= TAKEN_OFF_MM * f64::from(times);
                // A card has no more decimals than a person would write.
                feature.diameter_mm = (feature.diameter_mm * 1e4).round() / 1e4;
            }
        }
        self.seed = self.seed.wrapping_add(u64::from(times));
        self
    }

    /// Reads a recipe; `file` is its name in messages.
    pub fn from_toml(text: &str, file: &str) -> Result<Self> {
        let scenario: Self = toml::from_str(text).map_err(|error| {
            let message = error.message().replace('\n', ", ");
            let code = if message.starts_with("unknown field") {
                Code::UnknownKey
            } else {
                Code::CardSyntax
            };
            let mistake = Error::new(code, message).in_file(file);
            let mistake = match error.span() {
                Some(span) => drawn(mistake, text, span),
                None => mistake,
            };
            mistake.help("`heelclear simulate NAME --recipe` prints a recipe with every key")
        })?;
        scenario.check().map_err(|error| error.in_file(file))?;
        Ok(scenario)
    }
}
