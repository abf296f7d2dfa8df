//! Today's judgement of a record that is in the archive, beside the one it has.

use super::folder::Folder;
use super::verify::verify_with;
use crate::error::{Code, Error, Result, unwritable};
use crate::judge::Effort;
use crate::record::archive::{RecordId, Stored, StoredFile};
use crate::record::{Characteristic, FigureOf, Flute, Pair, Record, Verdict, pairs, tooth};
use serde::Serialize;
use std::fs;
use std::path::{Component, Path};

/// A value has moved when it did so by this part of its standard uncertainty, or when that changed
/// by this part of itself. Less is the noise of drawing distributions, and decides nothing.
const MOVED: f64 = 0.1;

/// What today's program says of an old record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rejudged {
    /// Which record it is.
    #[serde(flatten)]
    pub id: RecordId,
    /// The tool's id.
    pub tool: String,
    /// The program that judged it then; nothing where none did.
    pub then_by: Option<String>,
    /// What it said.
    pub then: Option<Verdict>,
    /// What today's program says.
    pub now: Option<Verdict>,
    /// The figures that moved.
    pub moved: Vec<Moved>,
    /// Figures that stayed.
    pub stayed: usize,
}

/// A figure that is not what it was.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moved {
    /// Which one.
    #[serde(flatten)]
    pub of: FigureOf,
    /// What it was; nothing where it was not among the figures.
    pub then: Option<Read>,
    /// What it is.
    pub now: Option<Read>,
    /// What is known of the cause, a sentence each.
    pub why: Vec<String>,
}

/// A figure as it was read once.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Read {
    /// In the figure's unit.
    pub value: Option<f64>,
    /// In the figure's unit.
    pub standard_uncertainty: Option<f64>,
    /// Nothing without a limit.
    pub verdict: Option<Verdict>,
}

/// Judges a record's cards and traces with today's program. The record is not touched.
///
/// # Errors
/// Those of [`verify`](fn@super::verify), and `disk` where there is no room to lay its files out.
pub fn rejudge(stored: &Stored) -> Result<Rejudged> {
    let then = stored.record().ok().flatten();
    let now = judge_laid_out(&stored.files, then.as_ref())?;
    Ok(compare(stored, then.as_ref(), &now))
}

/// Judges cards and traces with today's program, as often and from where a verdict says that its
/// trials began.
pub(super) fn judge_laid_out(files: &[StoredFile], as_then: Option<&Record>) -> Result<Record> {
    let usual = Effort::default();
    let about = as_then.map(|then| &then.about);
    let effort = Effort {
        seed: about.and_then(|about| about.seed).unwrap_or(usual.seed),
        trials: about.and_then(|about| about.trials.map(|trials| trials as usize)),
        ..usual
    };
    judge_files(files, effort)
}

/// Judges the cards and traces among these files.
pub(super) fn judge_files(files: &[StoredFile], effort: Effort<'_>) -> Result<Record> {
    let folder = tempfile::tempdir().map_err(|fault| unwritable(&std::env::temp_dir(), fault))?;
    lay_out(files, folder.path())?;
    let judged = Folder::open(folder.path()).and_then(|it| verify_with(&it, effort));
    // The files lie in a folder for the moment, whose name says nothing to anybody.
    judged.map_err(|error| {
        let file = error.place().file.clone().unwrap_or_default();
        match Path::new(&file).strip_prefix(folder.path()) {
            Ok(inside) => error.in_path(inside),
            Err(_) => error,
        }
    })
}

/// Writes what was measured: the cards, the traces, the logs.
fn lay_out(files: &[StoredFile], folder: &Path) -> Result<()> {
    for file in files {
        let path = folder.join(&file.path);
        let mut parts = Path::new(&file.path).components();
        if file.path.is_empty() || !parts.all(|part| matches!(part, Component::Normal(_))) {
            let message = format!("its file `{}` leads out of its folder", file.path);
            return Err(Error::new(Code::ArchiveBroken, message));
        }
        let parent = path.parent().unwrap_or(folder);
        let written = fs::create_dir_all(parent).and_then(|()| fs::write(&path, &file.bytes));
        written.map_err(|fault| unwritable(&path, fault))?;
    }
    Ok(())
}

fn compare(stored: &Stored, then: Option<&Record>, now: &Record) -> Rejudged {
    let mut moved = Vec::new();
    let mut stayed = 0;
    // Without an earlier verdict nothing can have moved.
    let pairs = then.map(|then| pairs(then, now)).unwrap_or_default();
    for pair in pairs {
        let Pair { before, after } = pair;
        let Some(of) = pair.either() else {
            continue;
        };
        let both = before.zip(after);
        if both.is_some_and(|(before, after)| same(before, after)) {
            stayed += 1;
        } else {
            moved.push(Moved {
                of: of.into(),
                then: before.map(Read::from),
                now: after.map(Read::from),
                why: causes(then, before, now, after),
            });
        }
    }
    Rejudged {
        id: stored.summary.id.clone(),
        tool: now.tool.clone(),
        then_by: then.map(|then| then.about.program.clone()),
        then: then.and_then(|then| then.verdict),
        now: now.verdict,
        moved,
        stayed,
    }
}

impl From<&Characteristic> for Read {
    fn from(figure: &Characteristic) -> Self {
        Self {
            value: figure.value,
            standard_uncertainty: figure.standard_uncertainty,
            verdict: figure.verdict,
        }
    }
}

pub(super) fn same(then: &Characteristic, now: &Characteristic) -> bool {
    let near = |one: Option<f64>, other: Option<f64>, most: f64| match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() <= most,
        (None, None) => true,
        _ => false,
    };
    let u = then.standard_uncertainty;
    let most = MOVED * u.unwrap_or(0.0);
    then.verdict == now.verdict
        && then.limit == now.limit
        && near(then.value, now.value, most)
        && near(u, now.standard_uncertainty, most)
}

/// What the two records say themselves that could be the cause.
fn causes(
    then: Option<&Record>,
    before: Option<&Characteristic>,
    now: &Record,
    figure: Option<&Characteristic>,
) -> Vec<String> {
    let mut why = Vec::new();
    let (Some(then), Some(of)) = (then, figure.or(before)) else {
        return why;
    };
    if then.about.program != now.about.program {
        why.push(format!(
            "judged by {} then, by {} now",
            then.about.program, now.about.program
        ));
    }
    let (Some(before), Some(figure)) = (before, figure) else {
        let when = if before.is_some() { "now" } else { "then" };
        why.push(format!("there was no such figure {when}"));
        return why;
    };
    if before.limit != figure.limit {
        why.push("its limit is another".to_owned());
    }
    if let (Some(old), Some(new)) = (tooth_of(then, of), tooth_of(now, of)) {
        why.extend(other_curve(old, new));
    }
    why.extend(other_budget(before, figure));
    if before.verdict != figure.verdict || before.value.is_some() != figure.value.is_some() {
        why.push(figure.why.clone());
    }
    if why.is_empty() {
        why.push("neither record tells why".to_owned());
    }
    why
}

/// The tooth that a figure is of.
fn tooth_of<'a>(record: &'a Record, of: &Characteristic) -> Option<&'a Flute> {
    tooth(record, of.feature.as_deref()?, of.flute?, of.z_mm)
}

fn other_curve(then: &Flute, now: &Flute) -> Option<String> {
    let family = |flute: &Flute| {
        let curve = flute.curve.as_ref();
        curve.map_or("no curve".to_owned(), |curve| format!("`{}`", curve.family))
    };
    let (then, now) = (family(then), family(now));
    (then != now).then(|| format!("the land was fitted with {then} then, with {now} now"))
}

/// The line of the budget that changed most, where the uncertainty did.
fn other_budget(then: &Characteristic, now: &Characteristic) -> Option<String> {
    let contribution = |figure: &Characteristic, quantity: &str| {
        let mut lines = figure.budget.iter();
        let line = lines.find(|line| line.quantity == quantity);
        line.map_or(0.0, |line| line.contribution)
    };
    let quantities = then.budget.iter().chain(&now.budget);
    let changes = quantities.map(|line| {
        let (old, new) = (
            contribution(then, &line.quantity),
            contribution(now, &line.quantity),
        );
        (line.quantity.as_str(), old, new)
    });
    let (quantity, old, new) =
        changes.max_by(|one, other| (one.1 - one.2).abs().total_cmp(&(other.1 - other.2).abs()))?;
    let much = MOVED * then.standard_uncertainty?;
    ((old - new).abs() > much).then(|| {
        let unit = &now.unit;
        format!("`{quantity}` brought {old:.2e} {unit} of uncertainty then, {new:.2e} {unit} now")
    })
}
