//! Before a grind: from a worn tool and a grinder's card to settings.

mod aim;
mod cams;
mod face;
mod faces;
mod keep;
mod learn;
mod learnt_words;
mod passes;
mod setup;
mod sheet;
mod skim;
mod wanted;

pub use super::grinder_files::folder_of;
pub use aim::{Aim, Standing, ToDo, WantedBy};
pub use face::{FacePlan, FeatureFace, Predicted, face};
pub use keep::{ForgottenMotion, KeptMotion, motions_to_keep, with_motions, without_motions};
pub use learn::{
    LearntError, Lesson, Lessons, corrections, forget_lessons, has_fixtures, keep_lessons, learn,
    learn_of, with_corrections,
};
pub use learnt_words::{ToldSetting, corrected, kept_as};
pub use skim::{FeatureSkim, SkimPlan, skim};
pub use wanted::aim;

use super::folder::Folder;
use super::grinder_files::read_card;
use super::verify;
use super::whole_file::write_whole;
use crate::card::GrinderCard;
use crate::error::{Code, Error, Result};
use crate::judge::Effort;
use crate::record::{Setup, Verdict};
use crate::setting::matching::Goal;
use std::path::{Path, PathBuf};

/// What a person asks of a set-up.
#[derive(Clone, Debug)]
pub struct Asked {
    /// What relief is wanted.
    pub goal: Goal,
    /// The fixture, where not any of the card will do.
    pub fixture: Option<String>,
    /// The cam, where not any of the card will do.
    pub cam: Option<String>,
    /// The wheel; the card's first where nothing is said.
    pub wheel: Option<String>,
    /// The folder of the grinder's card, in which the motions lie that it names; that of the
    /// inspection where nothing is said.
    pub beside: Option<PathBuf>,
}

impl Default for Asked {
    fn default() -> Self {
        Self {
            goal: Goal::AsTheCardWants,
            fixture: None,
            cam: None,
            wheel: None,
            beside: None,
        }
    }
}

/// Works out the set-up for a worn tool. Where what was measured does not bear one, or no setting keeps
/// the limits, the set-up says so and sets nothing.
///
/// # Errors
/// When cards or traces cannot be read, the card lacks what a set-up needs, or a trace of an engaged
/// fixture does not show what its card says.
pub fn set_up(folder: &Folder, grinder: &GrinderCard, asked: &Asked) -> Result<Setup> {
    let before = verify::before_grind(folder, Effort::default())?;
    setup::worked_out(folder, grinder, asked, &before)
}

/// The same with every line of its sheet, where there is a set-up.
///
/// # Errors
/// As [`set_up`]; and `wheel-speed` where the grinder turns the wheel faster than is marked on it.
pub fn set_up_sheet(folder: &Folder, grinder: &GrinderCard, asked: &Asked) -> Result<Setup> {
    let mut setup = set_up(folder, grinder, asked)?;
    if setup.why.is_empty() && setup.verdict == Some(Verdict::Fail) {
        let failing = setup
            .predicted
            .iter()
            .filter(|it| it.verdict == Some(Verdict::Fail));
        let named = failing.map(|it| match it.flute {
            Some(flute) => format!("{} of `{}` flute {flute}", it.name, it.feature),
            None => format!("{} of `{}`", it.name, it.feature),
        });
        let named: Vec<_> = named.collect();
        setup.why.push(format!(
            "the best setting would leave {} outside what the card allows: `setting match` shows by how much",
            named.join(", ")
        ));
    }
    if setup.why.is_empty() {
        sheet::lines(&mut setup, folder, grinder, cams::wheel(grinder, asked)?)?;
    }
    Ok(setup)
}

impl Folder {
    /// The grinder's card: the file named, or the one that the inspection card names.
    ///
    /// # Errors
    /// `missing-key` where neither is named; `missing-file`, `disk` and the card errors.
    pub fn grinder(&self, named: Option<&Path>) -> Result<GrinderCard> {
        read_grinder(&self.grinder_file(named)?)
    }

    /// Where the grinder's card lies: the file named, or the one that the inspection card names.
    ///
    /// # Errors
    /// `missing-key` where neither is named.
    pub fn grinder_file(&self, named: Option<&Path>) -> Result<PathBuf> {
        match (named, &self.inspection.grinder) {
            (Some(named), _) => Ok(named.to_owned()),
            (None, Some(inside)) => self.beside(inside),
            (None, None) => {
                let message = "read no `grinder`, expected the card of the grinder";
                Err(Error::new(Code::MissingKey, message)
                    .in_path(self.dir.join("inspection.toml"))
                    .help("name it with `--grinder FILE`, or as `grinder = \"grinder.toml\"` in the inspection card; `heelclear manual grinder-card` shows one"))
            }
        }
    }
}

/// Reads a grinder's card.
///
/// # Errors
/// `missing-file`, `disk` and the card errors.
pub fn read_grinder(file: &Path) -> Result<GrinderCard> {
    read_card(file).map(|(_, card)| card)
}

/// Writes a grinder's card as it is now.
///
/// # Errors
/// `disk`, and `internal` where the card would not read as it was written.
pub fn write_grinder(file: &Path, card: &GrinderCard) -> Result<()> {
    // A link stays one: what it leads to is the card.
    let file = &std::fs::canonicalize(file).unwrap_or_else(|_| file.to_owned());
    let text = card.to_toml();
    // What was written is read before it takes the place of the card.
    let again = GrinderCard::parse(&text, &file.display().to_string())?;
    if again != *card {
        return Err(Error::new(
            Code::Internal,
            "the card would not read as it was written",
        ));
    }
    write_whole(file, text.as_bytes())
}
