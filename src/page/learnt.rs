//! What finished grinds teach of a grinder, from the inspections of the page's folder, and keeping it on
//! the grinder's card or taking it off again.

use super::asked::Bench;
use super::disk::Errand;
use super::problem::for_page;
use super::reads::{apart, each};
use super::reply::Answer;
use super::work::{CardKind, Work, plain};
use crate::card::{Correction, GrinderCard, InspectionCard, Stage};
use crate::error::{Code, Error, Result};
use crate::inspection::Folder;
use crate::inspection::grind::{self, Lesson, Lessons};
use crate::record::archive::SIMULATED_FILE;
use axum::Json;
use axum::extract::{Path, State};
use jiff::civil::Date;
use serde::Deserialize;
use serde_json::{Value, json};
use std::path::PathBuf;

/// What is waited for, in words.
const COMPARED: &str = "the grinder's card and the inspections of the folder";

/// What the inspections of the folder teach of a grinder.
struct Compared {
    file: PathBuf,
    card: GrinderCard,
    /// Those whose cards could be read.
    folders: Vec<(String, Folder)>,
    taught: Lessons,
    /// Those that teach nothing, each with the reason.
    left_out: Vec<(String, Error)>,
}

pub(super) async fn learnt(State(bench): State<Bench>, Path(file): Path<String>) -> Answer {
    let work = bench.session.work;
    let look = move |errand: &Errand| Ok(Compared::of(&work, &file, errand)?.told());
    Ok(Json(bench.disk.ask(COMPARED, look).await?))
}

/// What the page said would change, and is to be changed now.
#[derive(Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub(super) enum Change {
    Keep { changes: Vec<String> },
    Forget { changes: Vec<String> },
}

pub(super) async fn change(
    State(bench): State<Bench>,
    Path(file): Path<String>,
    Json(change): Json<Change>,
) -> Answer {
    let work = bench.session.work;
    let changing = move |errand: &Errand| match change {
        Change::Keep { changes } => keep(&work, &file, &changes, errand),
        Change::Forget { changes } => forget(&work, &file, &changes),
    };
    let count = bench.disk.ask(COMPARED, changing).await?;
    Ok(Json(json!({ "count": count })))
}

fn keep(work: &Work, file: &str, said: &[String], errand: &Errand) -> Result<usize> {
    let compared = Compared::of(work, file, errand)?;
    if compared.changes() != said {
        return Err(changed_meanwhile());
    }
    grind::keep_lessons(&compared.file, &compared.taught.lessons)
}

fn forget(work: &Work, file: &str, said: &[String]) -> Result<usize> {
    let (path, card) = card_of(work, file)?;
    if on_card(&card) != said {
        return Err(changed_meanwhile());
    }
    grind::forget_lessons(&path)
}

fn changed_meanwhile() -> Error {
    Error::new(
        Code::Usage,
        "the card or the inspections were changed meanwhile, so that something else would be changed than was said",
    )
    .help("look at what the grinds teach now, and say it again")
}

fn card_of(work: &Work, file: &str) -> Result<(PathBuf, GrinderCard)> {
    let folder = work.dir().join(CardKind::Grinder.folder());
    let path = folder.join(plain(file)?);
    let card = grind::read_grinder(&path)?;
    Ok((path, card))
}

/// What finished grinds taught a card earlier, in words.
fn on_card(card: &GrinderCard) -> Vec<String> {
    card.corrections.iter().map(grind::corrected).collect()
}

impl Compared {
    fn of(work: &Work, file: &str, errand: &Errand) -> Result<Self> {
        let (file, card) = card_of(work, file)?;
        // What is late from here on is left out by itself.
        errand.answered();
        let taken = work.taken()?;
        let ground = taken.listed.into_iter().filter(is_after_a_grind);
        let names: Vec<String> = ground.map(|(name, _)| name).collect();
        let opened = each(&names, |name| open(work, name));
        let mut folders = Vec::new();
        let mut left_out = taken.late;
        for (name, folder) in names.into_iter().zip(opened) {
            match folder {
                Ok(folder) => folders.push((name, folder)),
                Err(why) => left_out.push((name, why)),
            }
        }
        let only: Vec<Folder> = folders.iter().map(|(_, folder)| folder.clone()).collect();
        let today = today()?;
        let mut taught = apart(|| grind::learn_of(&card.name, &only, today))?;
        let told = std::mem::take(&mut taught.left_out).into_iter();
        let named = told.filter_map(|(at, why)| Some((folders.get(at)?.0.clone(), why)));
        left_out.extend(named);
        Ok(Self {
            file,
            card,
            folders,
            taught,
            left_out,
        })
    }

    /// What keeping would change on the card, in words.
    fn changes(&self) -> Vec<String> {
        let all = grind::corrections(&self.taught.lessons);
        all.map(|it| grind::kept_as(&self.card, it)).collect()
    }

    /// Whether the card has all of it already, but for the day.
    fn is_kept(&self) -> bool {
        let has = |new: &Correction| {
            let same = |old: &Correction| {
                Correction {
                    on: new.on,
                    ..old.clone()
                } == *new
            };
            self.card.corrections.iter().any(same)
        };
        grind::corrections(&self.taught.lessons).all(has)
    }

    fn told(&self) -> Value {
        let corrections: Vec<_> = grind::corrections(&self.taught.lessons).cloned().collect();
        let refused = grind::has_fixtures(&self.card, &corrections, &self.file).err();
        json!({
            "name": self.card.name,
            "lessons": self.taught.lessons.iter().map(|it| self.lesson(it)).collect::<Vec<_>>(),
            "left_out": self.left_out(),
            "keep": self.changes(),
            "is_kept": self.is_kept(),
            "refused": refused.as_ref().map(for_page),
            "forget": on_card(&self.card),
        })
    }

    fn lesson(&self, lesson: &Lesson) -> Value {
        let rows = lesson.told().into_iter().map(|it| {
            json!({
                "of": it.of.as_str(),
                "error": it.error,
                "uncertainty": it.uncertainty,
                "known": it.known,
                "kept": it.kept,
            })
        });
        let grinds = lesson.grinds.iter().filter_map(|at| {
            let (name, folder) = self.folders.get(*at)?;
            Some(json!({
                "folder": name,
                "tool": folder.tool.id,
                "taken": folder.inspection.taken.to_string(),
            }))
        });
        json!({
            "whose": lesson.whose(),
            "rows": rows.collect::<Vec<_>>(),
            "grinds": grinds.collect::<Vec<_>>(),
            "strange": lesson.strange(),
        })
    }

    /// Those that are left out for the same reason are told together.
    fn left_out(&self) -> Vec<Value> {
        let mut reasons: Vec<(&Error, Vec<&str>)> = Vec::new();
        for (name, why) in &self.left_out {
            let same =
                |known: &&Error| (known.message(), known.advice()) == (why.message(), why.advice());
            match reasons.iter_mut().find(|(known, _)| same(known)) {
                Some((_, names)) => names.push(name),
                None => reasons.push((why, vec![name])),
            }
        }
        let told = reasons.into_iter().map(
            |(why, names)| json!({ "folders": names, "why": why.message(), "help": why.advice() }),
        );
        told.collect()
    }
}

/// Whether somebody says of an inspection that its tool was ground.
fn is_after_a_grind((_, card): &(String, InspectionCard)) -> bool {
    card.stage == Stage::AfterGrind || card.setup.is_some()
}

fn open(work: &Work, name: &str) -> Result<Folder> {
    let dir = work.inspection(name)?;
    if dir.join(SIMULATED_FILE).exists() {
        return Err(
            Error::new(Code::Evidence, "its readings come from a simulated gauge")
                .help("a grinder learns from real tools alone"),
        );
    }
    work.reads.of(&dir, Folder::open)?
}

/// The day that it is, as UTC has it.
fn today() -> Result<Date> {
    let now = jiff::Timestamp::now().to_string();
    let day = now.get(..10).and_then(|day| day.parse().ok());
    day.ok_or_else(|| Error::new(Code::Internal, "the clock gave no date"))
}
