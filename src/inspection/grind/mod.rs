//! Before a grind: from a worn tool and a grinder's card to settings.

mod cams;
mod face;
mod faces;
mod learn;
mod passes;
mod setup;
mod sheet;
mod skim;

pub use face::{FacePlan, FeatureFace, Predicted, face};
pub use learn::{Lesson, learn, with_corrections};
pub use skim::{FeatureSkim, SkimPlan, skim};

use super::folder::Folder;
use super::verify;
use super::whole_file::{contents, unreadable};
use crate::card::GrinderCard;
use crate::error::{Code, Error, Result};
use crate::judge::Effort;
use crate::record::{Setup, Verdict};
use crate::setting::matching::Goal;
use std::path::Path;

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
}

impl Default for Asked {
    fn default() -> Self {
        Self {
            goal: Goal::AsTheCardWants,
            fixture: None,
            cam: None,
            wheel: None,
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
    let mut setup = setup::begun(folder, grinder, asked, &before);
    let mut why = faces::unfit(folder, &before);
    why.extend(faces::on_their_faces(&before));
    if !why.is_empty() {
        return Ok(setup::refused(setup, why));
    }
    let still = before
        .engaged
        .iter()
        .filter_map(|it| it.stands_still.clone());
    setup.assumptions.extend(still);
    let wheel = cams::wheel(grinder, asked)?;
    setup.wheel = Some(setup::wheel_facts(wheel));
    setup::fill(&mut setup, folder, grinder, asked, &before, wheel)?;
    Ok(setup)
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
        let file = match (named, &self.inspection.grinder) {
            (Some(named), _) => named.to_owned(),
            (None, Some(inside)) => self.beside(inside)?,
            (None, None) => {
                let message = "read no `grinder`, expected the card of the grinder";
                return Err(Error::new(Code::MissingKey, message)
                    .in_file(self.dir.join("inspection.toml").display().to_string())
                    .help("name it with `--grinder FILE`, or as `grinder = \"grinder.toml\"` in the inspection card; `heelclear manual grinder-card` shows one"));
            }
        };
        read_grinder(&file)
    }
}

/// Reads a grinder's card.
///
/// # Errors
/// `missing-file`, `disk` and the card errors.
pub fn read_grinder(file: &Path) -> Result<GrinderCard> {
    let name = file.display().to_string();
    if !file.exists() {
        return Err(Error::new(
            Code::Missing,
            "found no such file, expected the card of a grinder",
        )
        .in_file(name)
        .help("`heelclear manual grinder-card` shows one"));
    }
    let bytes = contents(file).map_err(|error| unreadable(file, error))?;
    let text = String::from_utf8(bytes).map_err(|_| {
        Error::new(
            Code::CardSyntax,
            "read bytes that are not text, expected UTF-8",
        )
        .in_file(name.clone())
        .help("save the file as UTF-8 text")
    })?;
    GrinderCard::parse(&text, &name)
}
