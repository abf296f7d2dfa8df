//! A traced motion on its way from an inspection to the grinder's card, and off it again.

use super::cams::OF_HAND;
use super::{Asked, cams, faces, setup};
use crate::card::{GrinderCard, MotionEntry, MotionIs, Role, Surface};
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::inspection::grinder_files::{folder_of, motion};
use crate::inspection::verify::{self, Before, Moved};
use crate::judge::Effort;
use crate::quantity::{Angle, Length};
use crate::setting::Motion;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// A motion as it goes on the grinder's card.
#[derive(Clone, Debug)]
pub struct KeptMotion {
    /// What the card has of it.
    pub entry: MotionEntry,
    /// What the card had of this cam before.
    pub replaced: Option<MotionEntry>,
    /// The name of its file, beside the card.
    pub file: String,
    /// What is in the file.
    pub text: String,
    /// How far the cam moves the tool in all.
    pub swing: Length,
    /// Standard uncertainty of a place from scatter.
    pub scatter: Length,
}

/// A motion that was taken off the grinder's card.
#[derive(Clone, Debug)]
pub struct ForgottenMotion {
    /// What the card had of it.
    pub entry: MotionEntry,
    /// What stands in its place again.
    pub restored: Option<MotionEntry>,
    /// Its file, which nothing names any more.
    pub file: PathBuf,
}

/// How a file begins that was written here: no other is taken away again.
const MARK: &str = "# a traced motion, kept by `setting keep-motion`";
/// What stands before each line of what the card had before.
const BEFORE: &str = "#: ";
/// A quarter of a degree: as fine as a motion is known.
const PLACES: u32 = 1440;

/// The motions of a folder's traces as they go on this card: `file` is where it lies. The fixture and
/// the cam are those asked for, or the only ones that the card has.
///
/// # Errors
/// All that `setting match` would refuse of a motion: `trace-short` where an arc was not read, nothing
/// moved or turns contradict each other, `reference` where its runout is not known, `card-value` where
/// it is of another fixture, throw or hand; `usage` where it is not known of what it is.
pub fn motions_to_keep(
    folder: &Folder,
    grinder: &GrinderCard,
    asked: &Asked,
    file: &Path,
) -> Result<Vec<KeptMotion>> {
    let before = verify::before_grind(folder, Effort::default())?;
    let mut kept: Vec<KeptMotion> = Vec::new();
    for direction in [Surface::Radial, Surface::Axial] {
        let rounds = before.engaged.iter();
        let mut rounds = rounds.filter(|it| matches!(it.moved, Moved::Round(_)));
        if rounds.any(|it| it.stands.direction == direction) {
            bears(folder, &before, direction)?;
            kept.push(of_direction(
                folder, grinder, asked, &before, direction, file,
            )?);
        }
    }
    if kept.is_empty() {
        let message = "read no trace with the role `motion`, expected the motion of the fixture";
        return Err(Error::new(Code::MissingKey, message)
            .in_path(folder.dir.join("inspection.toml"))
            .help(
                "trace a true round with the fixture engaged: `heelclear manual before-the-grind`",
            ));
    }
    Ok(kept)
}

/// The card with these motions in place of those of the same cams.
#[must_use]
pub fn with_motions(mut card: GrinderCard, kept: &[KeptMotion]) -> GrinderCard {
    for each in kept {
        let same = card.motions.iter_mut().find(|it| same_cam(it, &each.entry));
        match same {
            Some(there) => *there = each.entry.clone(),
            None => card.motions.push(each.entry.clone()),
        }
    }
    card
}

/// The card without the motions that were kept on it, of this fixture and cam where they are named; what
/// it had before stands in their place.
///
/// # Errors
/// The card errors, where what a file says of the card before cannot be read.
pub fn without_motions(
    mut card: GrinderCard,
    asked: &Asked,
    file: &Path,
) -> Result<(GrinderCard, Vec<ForgottenMotion>)> {
    let dir = folder_of(file);
    let named = |wanted: &Option<String>, name: &str| wanted.as_ref().is_none_or(|it| it == name);
    let mut forgotten = Vec::new();
    let mut left = Vec::new();
    for entry in card.motions {
        let wanted = named(&asked.fixture, &entry.fixture) && named(&asked.cam, &entry.cam);
        let MotionIs::Traced(name) = &entry.is else {
            left.push(entry);
            continue;
        };
        let text = motion(&dir, name).ok().map(String::from_utf8);
        let text = text.and_then(std::result::Result::ok).unwrap_or_default();
        if !wanted || !text.starts_with(MARK) {
            left.push(entry);
            continue;
        }
        // The cam may be called otherwise by now.
        let restored = had_before(&text, name)?.map(|it| MotionEntry {
            fixture: entry.fixture.clone(),
            cam: entry.cam.clone(),
            direction: entry.direction,
            ..it
        });
        left.extend(restored.clone());
        forgotten.push(ForgottenMotion {
            file: dir.join(name),
            entry,
            restored,
        });
    }
    card.motions = left;
    Ok((card, forgotten))
}

fn same_cam(one: &MotionEntry, other: &MotionEntry) -> bool {
    (&one.fixture, &one.cam, one.direction) == (&other.fixture, &other.cam, other.direction)
}

/// Refuses a motion that is not that of the fixture alone, or is seen from the wrong side.
fn bears(folder: &Folder, before: &Before, direction: Surface) -> Result<()> {
    let way = direction.as_str();
    let card = || folder.dir.join("inspection.toml").display().to_string();
    let of_way = before.engaged.iter();
    let of_way = of_way.filter(|it| it.stands.direction == direction);
    let said = of_way.flat_map(|it| &it.contradictions).map(|said| {
        Error::new(Code::TraceShort, format!("the {way} motion: {said}"))
            .in_file(card())
            .help("take its trace again: what is kept counts for every tool after this one")
    });
    if let Some(error) = Error::all(said) {
        return Err(error);
    }
    let mut traces = folder.inspection.traces.iter();
    let round_known = traces.any(|entry| entry.role == Role::Reference)
        || folder.gauge.setup.runout.is_some()
        || direction == Surface::Axial;
    if !round_known {
        let message = "read no reference trace with the fixture locked, expected one: the runout of the round is in the motion";
        return Err(Error::new(Code::Reference, message).in_file(card()).help(
            "take a reference of the same round in the same clamping, and the motion again",
        ));
    }
    let upside_down = before.features.iter().find_map(faces::other_hand);
    match upside_down {
        Some(said) => Err(Error::new(Code::CardValue, said)
            .in_file(card())
            .help("mend it first: a motion is kept as the tool of this hand turns")),
        None => Ok(()),
    }
}

fn of_direction(
    folder: &Folder,
    grinder: &GrinderCard,
    asked: &Asked,
    before: &Before,
    direction: Surface,
    file: &Path,
) -> Result<KeptMotion> {
    let traced = Asked {
        cam: Some(cams::TRACED.to_owned()),
        ..asked.clone()
    };
    // A trace of the folder goes before what a card may call by the same words.
    let candidates = cams::candidates(folder, grinder, &traced, before, direction)?;
    let Some(candidate) = candidates.first() else {
        let message = "a motion was traced, and no cam came of it";
        return Err(Error::new(Code::Internal, message));
    };
    let fixture = &candidate.fixture.name;
    let cam = cam(grinder, asked, fixture, direction)?;
    if setup::runs_the_other_way(folder, grinder, before, direction, candidate) {
        let message = format!(
            "the {} motion moves the tool to the wheel where its lands rise, expected a cam of its hand",
            direction.as_str()
        );
        return Err(Error::new(Code::CardValue, message)
            .in_path(folder.dir.join("inspection.toml"))
            .help("it is of the other hand, or the fixture turns the tool the other way (`turns` on the grinder's card)"));
    }
    let entry = MotionEntry {
        fixture: fixture.clone(),
        cam,
        direction,
        throw: candidate.motion.throw,
        is: MotionIs::Traced(String::new()),
    };
    let name = free_name(file, &entry);
    let entry = MotionEntry {
        is: MotionIs::Traced(name.clone()),
        ..entry
    };
    let replaced = grinder.motions.iter().find(|it| same_cam(it, &entry));
    Ok(KeptMotion {
        text: text(folder, grinder, &entry, replaced, &candidate.motion),
        replaced: replaced.cloned(),
        file: name,
        swing: candidate.motion.swing(),
        scatter: candidate.motion.scatter,
        entry,
    })
}

/// The cam that was traced: the one asked for, or the only one that the card has there.
fn cam(grinder: &GrinderCard, asked: &Asked, fixture: &str, direction: Surface) -> Result<String> {
    let known = grinder.motions.iter();
    let known = known.filter(|it| it.fixture == fixture && it.direction == direction);
    let known: Vec<&str> = known.map(|it| it.cam.as_str()).collect();
    let usage = |message: String| {
        let help = match known.as_slice() {
            [] => "name it with `--cam NAME`".to_owned(),
            some => format!("name it with `--cam`: `{}`, or another", some.join("`, `")),
        };
        Err(Error::new(Code::Usage, message).help(help))
    };
    match (&asked.cam, known.as_slice()) {
        (Some(name), _) if name.trim().is_empty() || name == cams::TRACED => usage(format!(
            "read the cam `{name}`, expected what people call it"
        )),
        (Some(name), _) => Ok(name.clone()),
        (None, [only]) => Ok((*only).to_owned()),
        (None, several) => usage(format!(
            "read no cam, where the card has {} of `{fixture}` in the {} direction, expected to know which was traced",
            several.len(),
            direction.as_str()
        )),
    }
}

/// A name that no file beside the card has: `relieving-head-four-lobes-radial.csv`.
fn free_name(file: &Path, entry: &MotionEntry) -> String {
    let safe = |name: &str| {
        let kept = name.chars().take(40);
        let kept = kept.map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
        kept.collect::<String>().trim_matches('-').to_lowercase()
    };
    let stem = file.file_stem().map(|stem| stem.to_string_lossy());
    // Several cards in one folder keep their motions apart.
    let stem = stem.filter(|stem| stem != "grinder");
    let parts = [
        stem.map(|stem| safe(&stem)).unwrap_or_default(),
        safe(&entry.fixture),
        safe(&entry.cam),
        entry.direction.as_str().to_owned(),
    ];
    let parts: Vec<String> = parts.into_iter().filter(|it| !it.is_empty()).collect();
    let base = parts.join("-");
    let dir = folder_of(file);
    let numbered = (2..).map(|n| format!("{base}-{n}.csv"));
    let mut names = std::iter::once(format!("{base}.csv")).chain(numbered);
    let free = names.find(|name| !dir.join(name).exists());
    free.unwrap_or(base)
}

/// The file of a motion: what it is of, what the card had before, and its places.
fn text(
    folder: &Folder,
    grinder: &GrinderCard,
    entry: &MotionEntry,
    replaced: Option<&MotionEntry>,
    motion: &Motion,
) -> String {
    let hand = folder.tool.hand.as_str();
    let mut out = format!("{MARK}\n{OF_HAND}{hand}\n");
    let of = format!(
        "{} in {}, {}, at a throw of {} mm; traced {} with {}",
        entry.cam,
        entry.fixture,
        entry.direction.as_str(),
        entry.throw.mm(),
        folder.inspection.taken,
        folder.tool.id
    );
    // Names may hold anything, and a comment is one line.
    let _ = writeln!(out, "# {}", of.replace(char::is_control, " "));
    if let Some(replaced) = replaced {
        for line in alone(grinder, replaced).to_toml().lines() {
            let _ = writeln!(out, "{BEFORE}{line}");
        }
    }
    out.push_str("angle_deg,motion_mm,standard_uncertainty_mm\n");
    for at in 0..PLACES {
        let deg = f64::from(at) * 360.0 / f64::from(PLACES);
        let height = motion.at(Angle::from_deg(deg)).mm();
        let _ = writeln!(out, "{deg:.2},{height:.6},{:.6}", motion.scatter.mm());
    }
    out
}

/// A card of one cam: what its entry needs to be read again.
fn alone(grinder: &GrinderCard, entry: &MotionEntry) -> GrinderCard {
    let mut card = grinder.clone();
    card.corrections.clear();
    card.wheels.clear();
    card.slides.clear();
    card.swivels.clear();
    card.spindle = crate::card::Spindle::default();
    card.motions = vec![entry.clone()];
    card.fixtures
        .retain(|it| it.name == entry.fixture && it.direction == entry.direction);
    card
}

/// What the card had of a cam before, as the file of its motion says.
fn had_before(text: &str, file: &str) -> Result<Option<MotionEntry>> {
    let lines = text.lines().filter_map(|line| line.strip_prefix(BEFORE));
    let lines: Vec<&str> = lines.collect();
    if lines.is_empty() {
        return Ok(None);
    }
    let card = GrinderCard::parse(&lines.join("\n"), file)?;
    Ok(card.motions.into_iter().next())
}
