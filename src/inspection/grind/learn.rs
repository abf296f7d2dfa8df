//! What finished grinds teach: each inspection after a grind beside the set-up that it was ground from.

use super::super::verify;
use super::{read_grinder, write_grinder};
use crate::card::{Correction, GrinderCard, Setting, Surface};
use crate::error::{Code, Error, Result};
use crate::inspection::finished::{self, Finished};
use crate::inspection::folder::Folder;
use crate::record::{CutSetup, Setup, SwivelSetup};
use crate::setting::{self, Learnt, Part, SWIVEL_BEFORE, TAUGHT};
use jiff::civil::Date;
use rayon::prelude::*;
use std::path::Path;

/// What the grinds of one fixture along one direction teach, or those that one swivel was set for.
#[derive(Clone, Debug)]
pub struct Lesson {
    /// The fixture, or the swivel.
    pub fixture: String,
    /// Along which direction.
    pub direction: Surface,
    /// Finished grinds that it comes from, as places in the list of folders.
    pub grinds: Vec<usize>,
    /// What was told of the bare scales, whatever corrections were in their set-ups.
    pub errors: Vec<LearntError>,
    /// Whether one of them is farther off than scales are: nothing is told then.
    pub strange: bool,
    /// What the grinder's card would have: those that are told from zero, or all where only their sum
    /// is.
    pub corrections: Vec<Correction>,
}

/// What was told of one setting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LearntError {
    /// Of which.
    pub of: Setting,
    /// How far it is off: a share, degrees or mm.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// Whether it is told from zero by itself.
    pub told: bool,
    /// With which others it is told from zero together, where it is not by itself.
    pub part: Option<Part>,
}

/// What the finished grinds of one grinder teach, and which of them teach nothing.
#[derive(Debug)]
pub struct Lessons {
    /// Of each fixture along each direction.
    pub lessons: Vec<Lesson>,
    /// Which are left out, as places in the list of folders, and why.
    pub left_out: Vec<(usize, Error)>,
}

/// Compares finished grinds with their set-ups. `today` is written with what is kept.
///
/// # Errors
/// `missing-key` where an inspection does not name its set-up, and all that `verify` may say.
pub fn learn(folders: &[Folder], today: Date) -> Result<Vec<Lesson>> {
    let finished = folders.iter().enumerate();
    let finished = finished.map(|(place, folder)| finished_as(folder, set_up_of(folder)?, place));
    let finished = finished.collect::<Result<Vec<_>>>()?;
    let twice = (0..finished.len()).find_map(|at| named_before(&finished, at));
    twice.map_or(Ok(()), Err)?;
    Ok(lessons(&finished, today))
}

/// The same of all finished grinds of the grinder that is called so. One that teaches nothing is left
/// out, and the others teach all the same.
#[must_use]
pub fn learn_of(grinder: &str, folders: &[Folder], today: Date) -> Lessons {
    let each = folders.par_iter().enumerate().map(|(place, folder)| {
        let setup = set_up_of(folder)?;
        if setup.grinder != grinder {
            return Err(Error::new(
                Code::CardValue,
                format!("was ground on `{}`, by its set-up", setup.grinder),
            )
            .help("a set-up names the grinder as its card did then"));
        }
        finished_as(folder, setup, place)
    });
    let each: Vec<Result<Finished>> = each.collect();
    let mut left_out = Vec::new();
    let mut finished = Vec::new();
    for (place, one) in each.into_iter().enumerate() {
        match one {
            Ok(one) => finished.push(one),
            Err(why) => left_out.push((place, why)),
        }
    }
    let twice = (0..finished.len()).filter_map(|at| Some((at, named_before(&finished, at)?)));
    for (at, why) in twice.collect::<Vec<_>>().into_iter().rev() {
        left_out.push((finished.remove(at).place, why));
    }
    let lessons = lessons(&finished, today);
    let silent = finished.iter().map(|it| it.place);
    let silent = silent.filter(|place| !lessons.iter().any(|it| it.grinds.contains(place)));
    left_out.extend(silent.map(|place| (place, nothing_measured())));
    left_out.sort_by_key(|(place, _)| *place);
    Lessons { lessons, left_out }
}

fn nothing_measured() -> Error {
    Error::new(
        Code::Evidence,
        "nothing that its set-up predicted was measured afterwards",
    )
    .help("measure the features that were ground, and write the diameter of a micrometer on the tool's card")
}

fn lessons(finished: &[Finished], today: Date) -> Vec<Lesson> {
    let mut groups: Vec<(String, Surface)> = Vec::new();
    for cut in finished.iter().flat_map(|it| &it.setup.cuts) {
        let key = (cut.fixture.clone(), cut.along());
        if !groups.contains(&key) {
            groups.push(key);
        }
    }
    let each = groups.into_iter();
    let of_fixtures =
        each.filter_map(|(fixture, direction)| lesson(finished, fixture, direction, today));
    let mut all: Vec<Lesson> = of_fixtures.collect();
    all.extend(swivels(finished, today));
    all
}

/// Keeps what was learnt on a grinder's card; gives how many corrections that is.
///
/// # Errors
/// `card-value` where the card has no such fixture, and what keeps it from being read or written.
pub fn keep_lessons(file: &Path, lessons: &[Lesson]) -> Result<usize> {
    let corrections: Vec<Correction> = corrections(lessons).cloned().collect();
    let card = read_grinder(file)?;
    has_fixtures(&card, &corrections, file)?;
    write_grinder(file, &with_corrections(card, &corrections))?;
    Ok(corrections.len())
}

/// Takes everything that was learnt off a grinder's card; gives how many corrections that was.
///
/// # Errors
/// What keeps the card from being read or written.
pub fn forget_lessons(file: &Path) -> Result<usize> {
    let mut card = read_grinder(file)?;
    let count = card.corrections.len();
    card.corrections.clear();
    write_grinder(file, &card)?;
    Ok(count)
}

/// What a grinder's card would have of these.
pub fn corrections(lessons: &[Lesson]) -> impl Iterator<Item = &Correction> {
    lessons.iter().flat_map(|it| &it.corrections)
}

/// Refuses the card of another grinder.
///
/// # Errors
/// `card-value` where it has no fixture that one of the corrections is of.
pub fn has_fixtures(card: &GrinderCard, corrections: &[Correction], file: &Path) -> Result<()> {
    let unknown = corrections.iter().find(|it| {
        let mut swivels = card.swivels.iter();
        !match it.of {
            Setting::SwivelZero => swivels.any(|known| Some(&known.name) == it.fixture.as_ref()),
            _ => {
                let named = it.fixture.as_deref().zip(it.direction);
                named.is_some_and(|(name, along)| card.fixture(name, along).is_some())
            }
        }
    });
    let Some(unknown) = unknown else {
        return Ok(());
    };
    let fixtures = card.fixtures.iter().map(|it| it.name.as_str());
    let swivels = card.swivels.iter().map(|it| it.name.as_str());
    let (what, names): (_, Vec<&str>) = match unknown.of {
        Setting::SwivelZero => ("swivel", swivels.collect()),
        _ => ("fixture", fixtures.collect()),
    };
    let message = format!(
        "read no {what} `{}` on the card, which has `{}`",
        unknown.fixture.as_deref().unwrap_or_default(),
        names.join("`, `")
    );
    Err(Error::new(Code::CardValue, message)
        .in_path(file)
        .help("keep it on the card of the grinder that the tools were ground on"))
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

/// The set-up that a tool was ground from.
fn set_up_of(folder: &Folder) -> Result<Setup> {
    let none = || {
        Error::new(
            Code::MissingKey,
            "read no `setup`, expected the set-up that the tool was ground from",
        )
        .in_path(folder.dir.join("inspection.toml"))
        .help("copy `setup.json` of the inspection before the grind into this folder and add `setup = \"setup.json\"`")
    };
    finished::setup_of(folder)?.ok_or_else(none)
}

fn finished_as(folder: &Folder, setup: Setup, place: usize) -> Result<Finished> {
    let mut finished = Finished::of(folder, setup, verify::verify(folder)?);
    finished.place = place;
    Ok(finished)
}

/// That a grind was named before: it would count twice.
fn named_before(finished: &[Finished], at: usize) -> Option<Error> {
    let one = finished.get(at)?;
    let mut before = finished.get(..at).unwrap_or_default().iter();
    let tool = &one.setup.tool;
    let same = |other: &Finished| {
        other.record.judged_from.is_some() && other.record.judged_from == one.record.judged_from
    };
    // A sheet is for one grind of one tool, however often that was measured.
    let twice = before.find(|other| same(other) || other.setup == one.setup)?;
    Some(match same(twice) {
        true => Error::new(
            Code::Usage,
            format!("read the same inspection of `{tool}` twice, expected each grind once"),
        ),
        false => Error::new(
            Code::Usage,
            format!("read one set-up of `{tool}` in two inspections, expected each grind once"),
        )
        .help("name the inspection that was taken first after that grind"),
    })
}

fn lesson(finished: &[Finished], fixture: String, along: Surface, today: Date) -> Option<Lesson> {
    let mut rows = Vec::new();
    let mut used: Vec<&CutSetup> = Vec::new();
    let mut grinds = Vec::new();
    for each in finished {
        let cuts = each.setup.cuts.iter();
        for cut in cuts.filter(|cut| cut.fixture == fixture && cut.along() == along) {
            let figures = finished::of_cut(each, cut, used.len());
            // Where nothing was measured there is nothing to learn from.
            if figures.is_empty() {
                continue;
            }
            rows.extend(figures);
            used.push(cut);
            grinds.push(each.place);
        }
    }
    let learnt = finished::learnt(&rows, &used)?;
    let errors = each_error(&learnt);
    Some(Lesson {
        corrections: to_keep(
            &errors,
            &learnt.corrects(),
            (&fixture, along),
            used.len(),
            today,
        ),
        fixture,
        direction: along,
        grinds,
        errors,
        strange: learnt.strange,
    })
}

fn each_error(learnt: &Learnt) -> Vec<LearntError> {
    let each = TAUGHT.iter().zip(learnt.each).zip(learnt.told).enumerate();
    let each = each.map(|(at, ((of, (value, u)), told))| LearntError {
        of: *of,
        value,
        standard_uncertainty: u,
        told,
        part: learnt.part(at),
    });
    each.collect()
}

/// What a card would have of those that correct.
fn to_keep(
    errors: &[LearntError],
    corrects: &[bool],
    (fixture, along): (&str, Surface),
    records: usize,
    today: Date,
) -> Vec<Correction> {
    let kept = errors
        .iter()
        .zip(corrects)
        .filter(|(_, corrects)| **corrects);
    let kept = kept.map(|(it, _)| Correction {
        of: it.of,
        fixture: Some(fixture.to_owned()),
        direction: Some(along),
        value: match it.of {
            Setting::ThrowGain | Setting::Feed => 1.0 + it.value,
            Setting::CamAngle | Setting::SwivelZero | Setting::WheelWear => it.value,
        },
        standard_uncertainty: it.standard_uncertainty.max(1e-9),
        records: records as u32,
        on: today,
    });
    kept.collect()
}

/// A grind, what it shows of a swivel in degrees, and the standard uncertainty of that.
type Shown = (usize, f64, f64);

/// What each swivel stands over its scale, for faces and for back tapers: a table may be swung one way for
/// the one and the other way for the other, so that neither tells the zero of the other.
fn swivels(finished: &[Finished], today: Date) -> Vec<Lesson> {
    let mut groups: Vec<(String, Surface, Vec<Shown>)> = Vec::new();
    for of in finished {
        for set in &of.setup.swivels {
            let Some((value, u)) = stood_over(of, set) else {
                continue;
            };
            let (row, direction) = ((of.place, value, u), set.along());
            let same = |it: &&mut (String, Surface, _)| (&it.0, it.1) == (&set.swivel, direction);
            match groups.iter_mut().find(same) {
                Some((_, _, rows)) => rows.push(row),
                None => groups.push((set.swivel.clone(), direction, vec![row])),
            }
        }
    }
    let lessons = groups.into_iter().filter_map(|(swivel, direction, rows)| {
        let shown: Vec<(f64, f64)> = rows.iter().map(|(_, value, u)| (*value, *u)).collect();
        let learnt = setting::learn_zero(&shown, SWIVEL_BEFORE)?;
        let errors = vec![LearntError {
            of: Setting::SwivelZero,
            value: learnt.value,
            standard_uncertainty: learnt.standard_uncertainty,
            told: learnt.told,
            part: None,
        }];
        let mut grinds: Vec<usize> = rows.iter().map(|(place, ..)| *place).collect();
        grinds.dedup();
        Some(Lesson {
            corrections: to_keep(
                &errors,
                &[learnt.told],
                (&swivel, direction),
                grinds.len(),
                today,
            ),
            fixture: swivel,
            direction,
            grinds,
            errors,
            strange: learnt.strange,
        })
    });
    lessons.collect()
}

/// What a swivel stood over its scale, as the figure shows that it was set for: degrees, with the
/// standard uncertainty of that.
fn stood_over(of: &Finished, set: &SwivelSetup) -> Option<(f64, f64)> {
    let figures = of.record.characteristics.iter().filter(|it| {
        it.feature.as_deref() == Some(set.feature.as_str())
            && it.name == set.figure
            && it.bound.is_none()
    });
    let shown = figures.filter_map(|it| Some((it.value?, it.standard_uncertainty?)));
    let mut shown: Vec<(f64, f64)> = shown.collect();
    shown.sort_by(|one, other| one.0.total_cmp(&other.0));
    let (came, u) = *shown.get(shown.len() / 2)?;
    let stands = if set.across { 90.0 - came } else { came };
    // Set within half a graduation, evenly.
    let u = u.hypot(set.graduation_deg / 12f64.sqrt());
    (u > 0.0).then_some((stands - set.set_deg, u))
}
