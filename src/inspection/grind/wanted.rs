//! How a fixture is to stand: as the sheet in the folder has it, or else as the best match does.

use super::aim::{Aim, WantedBy};
use super::{Asked, cams, setup};
use crate::card::{Engaged, GrinderCard, Role};
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::inspection::verify::{self, Before};
use crate::judge::Effort;
use crate::quantity::Length;
use crate::record::archive::regular;
use crate::record::{CutSetup, SETUP_FILE, Setup};
use crate::setting::matching::Goal;

/// For a trace of a feature in an engaged fixture, which need not have been taken yet. What is wanted
/// is that of the sheet in the folder; without one the best match, as the card wants or as it was.
///
/// # Errors
/// As [`set_up`](super::set_up); and where nothing tells how the fixture is to stand.
pub fn aim(
    folder: &Folder,
    feature: &str,
    z: Option<Length>,
    engaged: Engaged,
) -> Result<(Aim, WantedBy)> {
    let surface = folder.tool.features.iter().find(|it| it.name == feature);
    if surface.is_some_and(|it| it.surface != engaged.direction) {
        let message = format!(
            "`{feature}` is not read along the {} direction that the fixture moves in",
            engaged.direction.as_str()
        );
        return Err(Error::new(Code::Usage, message)
            .help("set the indicator so that it reads the way the wheel is fed in"));
    }
    let mut locked = folder.clone();
    let traces = &mut locked.inspection.traces;
    // What is being taken, or was, says how the fixture stands and not how it should.
    traces.retain(|entry| !matches!(entry.role, Role::Residual(..)));
    let grinder = locked.grinder(None)?;
    let before = verify::before_grind(&locked, Effort::default())?;
    let (cut, asked, wanted) = wanted(&locked, &grinder, &before, engaged)?;
    let candidates = cams::candidates(&locked, &grinder, &asked, &before, engaged.direction)?;
    let candidate = candidates
        .iter()
        .find(|it| it.fixture.name == cut.fixture && it.cam == cut.cam);
    let candidate = candidate.ok_or_else(|| {
        let message = format!(
            "the sheet is for cam `{}` in `{}`, expected one whose motion is known here",
            cut.cam, cut.fixture
        );
        Error::new(Code::Usage, message).help("write the sheet again: `heelclear setting sheet`")
    })?;
    let aim = Aim::at(&locked, &before, candidate, &cut, (feature, z))?;
    Ok((aim, wanted))
}

/// What is wanted of a direction: of the sheet that is there, or else of the best match.
fn wanted(
    folder: &Folder,
    grinder: &GrinderCard,
    before: &Before,
    engaged: Engaged,
) -> Result<(CutSetup, Asked, WantedBy)> {
    let along = |setup: &Setup| {
        let mut cuts = setup.cuts.iter();
        cuts.find(|cut| cut.along() == engaged.direction).cloned()
    };
    if let Ok(bytes) = regular::contents(&folder.dir.join(SETUP_FILE))
        && let Some(cut) = along(&Setup::parse(&bytes, SETUP_FILE, &folder.tool.id)?)
    {
        return Ok((cut, Asked::default(), WantedBy::Sheet));
    }
    let mut why = Vec::new();
    for (goal, by) in [
        (Goal::AsTheCardWants, WantedBy::Card),
        (Goal::AsItWas { band: 0.1 }, WantedBy::Old),
    ] {
        let asked = Asked {
            goal,
            ..Asked::default()
        };
        let setup = setup::worked_out(folder, grinder, &asked, before)?;
        if let Some(cut) = along(&setup) {
            return Ok((cut, asked, by));
        }
        if why.is_empty() {
            why = setup.why;
        }
    }
    let message = format!(
        "nothing tells how the fixture is to stand: {}",
        why.first().map_or("no setting was found", String::as_str)
    );
    Err(Error::new(Code::Usage, message).help("`heelclear setting match` says more"))
}
