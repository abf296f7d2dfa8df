//! What finished grinds teach: each inspection after a grind beside the set-up that it was ground from.

use super::super::verify;
use crate::card::{Correction, GrinderCard, Setting, Surface};
use crate::error::{Code, Error, Result};
use crate::inspection::finished::{self, Finished};
use crate::inspection::folder::Folder;
use crate::record::CutSetup;
use crate::setting::{Learnt, TAUGHT};
use jiff::civil::Date;

/// What the grinds of one fixture along one direction teach.
#[derive(Clone, Debug)]
pub struct Lesson {
    /// The fixture.
    pub fixture: String,
    /// Along which direction.
    pub direction: Surface,
    /// Finished grinds that it comes from.
    pub records: u32,
    /// What was told of the bare scales, whatever corrections were in their set-ups.
    pub learnt: Learnt,
    /// What the grinder's card would have: those that are told from zero, or all where only their sum
    /// is.
    pub corrections: Vec<Correction>,
}

/// Compares finished grinds with their set-ups. `today` is written with what is kept.
///
/// # Errors
/// `missing-key` where an inspection does not name its set-up, and all that `verify` may say.
pub fn learn(folders: &[Folder], today: Date) -> Result<Vec<Lesson>> {
    let finished = folders.iter().map(finished).collect::<Result<Vec<_>>>()?;
    each_once(&finished)?;
    let mut groups: Vec<(String, Surface)> = Vec::new();
    for cut in finished.iter().flat_map(|it| &it.setup.cuts) {
        let key = (cut.fixture.clone(), cut.along());
        if !groups.contains(&key) {
            groups.push(key);
        }
    }
    let lessons = groups
        .into_iter()
        .filter_map(|(fixture, direction)| lesson(&finished, fixture, direction, today));
    Ok(lessons.collect())
}

/// The card with these corrections in place of those of the same settings.
#[must_use]
pub fn with_corrections(mut card: GrinderCard, corrections: &[Correction]) -> GrinderCard {
    let same = |one: &Correction, other: &Correction| {
        (one.of, &one.fixture, one.direction) == (other.of, &other.fixture, other.direction)
    };
    card.corrections
        .retain(|old| !corrections.iter().any(|new| same(old, new)));
    card.corrections.extend(corrections.iter().cloned());
    card
}

/// Refuses one grind that was named twice: it would count twice.
fn each_once(finished: &[Finished]) -> Result<()> {
    for (at, one) in finished.iter().enumerate() {
        let same = |other: &Finished| {
            other.record.judged_from.is_some() && other.record.judged_from == one.record.judged_from
        };
        if finished.get(..at).unwrap_or_default().iter().any(same) {
            let message = format!(
                "read the same inspection of `{}` twice, expected each grind once",
                one.setup.tool
            );
            return Err(Error::new(Code::Usage, message));
        }
    }
    Ok(())
}

fn finished(folder: &Folder) -> Result<Finished> {
    let Some(setup) = finished::setup_of(folder)? else {
        return Err(Error::new(
            Code::MissingKey,
            "read no `setup`, expected the set-up that the tool was ground from",
        )
        .in_file(folder.dir.join("inspection.toml").display().to_string())
        .help("copy `setup.json` of the inspection before the grind into this folder and add `setup = \"setup.json\"`"));
    };
    Ok(Finished::of(folder, setup, verify::verify(folder)?))
}

fn lesson(finished: &[Finished], fixture: String, along: Surface, today: Date) -> Option<Lesson> {
    let cuts = finished.iter().flat_map(|each| {
        let cuts = each.setup.cuts.iter().map(move |cut| (each, cut));
        cuts.filter(|(_, cut)| cut.fixture == fixture && cut.along() == along)
    });
    let cuts: Vec<(&Finished, &CutSetup)> = cuts.collect();
    let learnt = finished::learnt(&cuts)?;
    let records = cuts.len() as u32;
    let corrections = TAUGHT.iter().zip(learnt.each).zip(learnt.corrects());
    let corrections = corrections
        .filter(|(_, corrects)| *corrects)
        .map(|((of, (error, u)), _)| Correction {
            of: *of,
            fixture: Some(fixture.clone()),
            direction: Some(along),
            value: match of {
                Setting::CamAngle => error,
                _ => 1.0 + error,
            },
            standard_uncertainty: u.max(1e-9),
            records,
            on: today,
        });
    Some(Lesson {
        corrections: corrections.collect(),
        fixture,
        direction: along,
        records,
        learnt,
    })
}
