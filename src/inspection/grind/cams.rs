//! The cams that may be used for a cut: those of the folder's traces, and those of the grinder's card.

use super::Asked;
use crate::card::{Fixture, GrinderCard, MotionIs, Surface, Wheel};
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::inspection::grinder_files::motion;
use crate::inspection::verify::{Before, Moved};
use crate::quantity::{Angle, Estimate, Length};
use crate::setting::{Motion, NoMotion};
use std::path::Path;

/// A cam in a fixture with its motion.
pub(super) struct Candidate<'g> {
    pub fixture: &'g Fixture,
    pub cam: String,
    pub motion: Motion,
    /// Whether the motion was traced at another time, and kept on the grinder's card.
    pub kept: bool,
}

/// What a trace of this folder is called where no cam was named.
pub(super) const TRACED: &str = "as traced";

/// The wheel that is named, or the first.
pub(super) fn wheel<'g>(grinder: &'g GrinderCard, asked: &Asked) -> Result<&'g Wheel> {
    let named = |wheel: &&Wheel| asked.wheel.as_ref().is_none_or(|name| wheel.name == *name);
    grinder.wheels.iter().find(named).ok_or_else(|| {
        let names: Vec<_> = grinder.wheels.iter().map(|it| it.name.as_str()).collect();
        let (message, help) = match &asked.wheel {
            Some(name) if !names.is_empty() => (
                format!("read the wheel `{name}`, expected one of `{}`", names.join("`, `")),
                "name it as a `[[wheel]]` of the grinder's card does".to_owned(),
            ),
            _ => (
                "read no `[[wheel]]` on the grinder's card, expected one".to_owned(),
                "a wheel leaves another surface than a point would: add its `name`, `cuts` and `diameter_mm`".to_owned(),
            ),
        };
        Error::new(Code::MissingKey, message).help(help)
    })
}

/// Every cam that may move the tool in this direction. A trace of the folder goes before the cards,
/// since it is what this fixture does now.
///
/// # Errors
/// Where the card has no fixture for it, or a motion's file cannot be read.
pub(super) fn candidates<'g>(
    folder: &Folder,
    grinder: &'g GrinderCard,
    asked: &Asked,
    before: &Before,
    direction: Surface,
) -> Result<Vec<Candidate<'g>>> {
    let wanted = |fixture: &&Fixture| {
        fixture.direction == direction
            && asked
                .fixture
                .as_ref()
                .is_none_or(|name| fixture.name == *name)
    };
    let fixtures: Vec<&Fixture> = grinder.fixtures.iter().filter(wanted).collect();
    let others = grinder.fixtures.iter();
    let others: Vec<_> = others.filter(|it| it.direction == direction).collect();
    if let (Some(asked), true, false) = (&asked.fixture, fixtures.is_empty(), others.is_empty()) {
        return Err(unknown("fixture", asked, others.iter().map(|it| &it.name)));
    }
    if fixtures.is_empty() {
        let message = format!(
            "read no `[[fixture]]` that moves the tool in the {} direction, expected one",
            direction.as_str()
        );
        return Err(Error::new(Code::MissingKey, message)
            .help("add it to the grinder's card with the range and graduation of its throw"));
    }
    let mut found = traced(asked, before, direction, &fixtures)?;
    found.extend(of_card(folder, grinder, asked, direction, &fixtures)?);
    if let (Some(cam), true) = (&asked.cam, found.is_empty()) {
        let traced = TRACED.to_owned();
        let known = grinder
            .motions
            .iter()
            .filter(|it| it.direction == direction);
        let known = known.map(|it| &it.cam).chain(std::iter::once(&traced));
        return Err(unknown("cam", cam, known));
    }
    if found.is_empty() {
        let message = format!(
            "read no motion in the {} direction, expected what the cam does",
            direction.as_str()
        );
        return Err(Error::new(Code::MissingKey, message).help(
            "take a trace of a true round with the fixture engaged (`role = \"motion\"`), or add a `[[motion]]` to the grinder's card",
        ));
    }
    Ok(found)
}

/// A name that the grinder's card does not have.
fn unknown<'n>(what: &str, asked: &str, known: impl Iterator<Item = &'n String>) -> Error {
    let known: Vec<&str> = known.map(String::as_str).collect();
    Error::new(
        Code::Usage,
        format!(
            "read the {what} `{asked}`, expected one of `{}`",
            known.join("`, `")
        ),
    )
    .help("name it as the grinder's card does")
}

/// The motion that the folder has a trace of, in the fixture that made it.
fn traced<'g>(
    asked: &Asked,
    before: &Before,
    direction: Surface,
    fixtures: &[&'g Fixture],
) -> Result<Vec<Candidate<'g>>> {
    if asked.cam.as_ref().is_some_and(|cam| cam != TRACED) {
        return Ok(Vec::new());
    }
    let of_rounds = before.engaged.iter().filter_map(|each| match &each.moved {
        Moved::Round(motion) if each.stands.direction == direction => Some(motion),
        _ => None,
    });
    let motions: Vec<&Motion> = of_rounds.collect();
    match (motions.as_slice(), fixtures) {
        ([], _) => Ok(Vec::new()),
        ([motion], [fixture]) => {
            within(fixture, motion)?;
            Ok(vec![Candidate {
                fixture,
                cam: TRACED.to_owned(),
                motion: (*motion).clone(),
                kept: false,
            }])
        }
        ([_], several) => {
            let names: Vec<&str> = several.iter().map(|it| it.name.as_str()).collect();
            let message = format!(
                "read a {} motion and fixtures `{}`, expected to know which of them made it",
                direction.as_str(),
                names.join("`, `")
            );
            Err(Error::new(Code::Usage, message).help("name it with `--fixture`"))
        }
        (several, _) => {
            let throws = several.iter().map(|it| format!("{} mm", it.throw.mm()));
            let message = format!(
                "read {} traces of the {} motion, at throws of {}, expected one",
                several.len(),
                direction.as_str(),
                throws.collect::<Vec<_>>().join(" and ")
            );
            Err(Error::new(Code::CardValue, message).help(
                "leave that of the throw which is nearest to what will be set on the inspection card, and take the others off",
            ))
        }
    }
}

/// Every motion that the grinder's card keeps.
fn of_card<'g>(
    folder: &Folder,
    grinder: &GrinderCard,
    asked: &Asked,
    direction: Surface,
    fixtures: &[&'g Fixture],
) -> Result<Vec<Candidate<'g>>> {
    let mut found = Vec::new();
    let of_card = grinder.motions.iter().filter(|motion| {
        motion.direction == direction && asked.cam.as_ref().is_none_or(|cam| motion.cam == *cam)
    });
    for entry in of_card {
        let Some(fixture) = fixtures.iter().find(|it| it.name == entry.fixture) else {
            continue;
        };
        let motion = match &entry.is {
            MotionIs::Law(law) => Motion::of_law(law, entry.throw, fixture.turns),
            MotionIs::Traced(file) => {
                let dir = asked.beside.as_deref().unwrap_or(&folder.dir);
                kept(dir, file, entry.throw)?
            }
        };
        within(fixture, &motion)?;
        found.push(Candidate {
            fixture,
            cam: entry.cam.clone(),
            kept: motion.traced,
            motion,
        });
    }
    Ok(found)
}

/// Refuses a motion that was taken at a throw which the fixture does not have.
fn within(fixture: &Fixture, motion: &Motion) -> Result<()> {
    if motion.throw <= fixture.greatest && motion.throw >= fixture.least {
        return Ok(());
    }
    let message = format!(
        "read a motion at a throw of {} mm, where `{}` opens from {} to {} mm",
        motion.throw.mm(),
        fixture.name,
        fixture.least.mm(),
        fixture.greatest.mm()
    );
    Err(Error::new(Code::CardValue, message).help(
        "`throw_mm` is what the fixture's scale showed while the motion was taken; check it and the range on the grinder's card",
    ))
}

/// A motion kept on the grinder's card: `angle_deg,motion_mm` over one turn, and in a third column how
/// surely each place is known.
fn kept(dir: &Path, file: &str, throw: Length) -> Result<Motion> {
    let name = dir.join(file).display().to_string();
    let bytes = motion(dir, file)?;
    let unread = |message: String| {
        Error::new(Code::TraceHeader, message).in_file(name.clone()).help(
        "a motion kept on a card has the columns `angle_deg,motion_mm`, and may have `standard_uncertainty_mm` behind them, by growing angle over one turn",
    )
    };
    let mut reader = csv::ReaderBuilder::new();
    let mut reader = reader.comment(Some(b'#')).from_reader(bytes.as_slice());
    let mut places = Vec::new();
    let mut squares = 0.0;
    for row in reader.deserialize::<Vec<f64>>() {
        let row = row.map_err(|error| unread(error.to_string()))?;
        let (angle, height, doubt) = match row.as_slice() {
            [angle, height] => (*angle, *height, 0.0),
            [angle, height, doubt] => (*angle, *height, *doubt),
            other => return Err(unread(format!("read {} columns", other.len()))),
        };
        let numbers = row.iter().all(|number| number.is_finite());
        if !numbers || doubt < 0.0 {
            return Err(unread("read a number that is none".to_owned()));
        }
        squares += doubt * doubt;
        places.push((
            Angle::from_deg(angle).in_turn(),
            Estimate::new(Length::from_mm(height), Length::ZERO),
        ));
    }
    places.sort_by(|(one, _), (other, _)| one.rad().total_cmp(&other.rad()));
    // What was kept is without what scattered in its trace: it is smoothed once, and what still is not
    // known of it stands beside it.
    let scatter = Length::from_mm((squares / places.len().max(1) as f64).sqrt());
    let traced = Motion::traced(&places, throw).map(|mut motion| {
        motion.scatter = scatter;
        motion
    });
    traced.map_err(|why| {
        unread(match why {
            NoMotion::Hole { from, width } => format!(
                "found nothing over {:.1}° from {:.1}° on",
                width.deg(),
                from.deg()
            ),
            NoMotion::Still(swing) => format!("found a motion of {:.3} mm in all", swing.mm()),
        })
    })
}
