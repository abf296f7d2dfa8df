//! A finished grind: the set-up that a tool was ground from, beside what was measured of it afterwards.

use super::folder::Folder;
use super::whole_file::unreadable;
use crate::card::Stage;
use crate::error::{Code, Error, Result};
use crate::quantity::Length;
use crate::record::archive::regular;
use crate::record::{CutSetup, PredictedFigure, Record, Setup};
use crate::setting::{self, BEFORE, Learnt, Scales, Taught};

/// A finished grind.
pub(super) struct Finished {
    /// Its place in a list of folders.
    pub place: usize,
    pub setup: Setup,
    pub record: Record,
    /// Diameters on the card after the grind, by feature.
    diameters: Vec<(String, Length)>,
}

impl Finished {
    pub(super) fn of(folder: &Folder, setup: Setup, record: Record) -> Self {
        let features = folder.tool.features.iter();
        Self {
            place: 0,
            setup,
            record,
            diameters: features.map(|it| (it.name.clone(), it.diameter)).collect(),
        }
    }
}

/// The set-up that the tool of an inspection was ground from; nothing where its card names none.
///
/// # Errors
/// Where it cannot be read, or is that of another tool or grind.
pub(super) fn setup_of(folder: &Folder) -> Result<Option<Setup>> {
    let Some(file) = &folder.inspection.setup else {
        return Ok(None);
    };
    let path = folder.beside(file)?;
    let bytes = regular::contents(&path).map_err(|error| unreadable(&path, error))?;
    let setup = Setup::parse(&bytes, &path.display().to_string(), &folder.tool.id)?;
    is_of(&setup, folder)?;
    Ok(Some(setup))
}

/// A wheel loses more in one grind than in another, by so much (common practice, no source): mm,
/// standard.
const WEARS_WITHIN: f64 = 0.002;

/// What figures of these cuts, of one fixture along one direction, tell of its scales.
pub(super) fn learnt(rows: &[Taught], cuts: &[&CutSetup]) -> Option<Learnt> {
    let count = cuts.len() as f64;
    let mean = |of: fn(&CutSetup) -> f64| cuts.iter().map(|cut| of(cut)).sum::<f64>() / count;
    let scales = Scales {
        set: [
            mean(|cut| cut.strays[0] / cut.throw_mm.max(1e-6)),
            mean(|cut| cut.strays[1]),
            // Within one step of the in-feed, evenly.
            mean(|cut| cut.step_mm.unwrap_or(0.0) / 12f64.sqrt() / cut.skim_sure_mm.max(1e-6)),
            WEARS_WITHIN,
        ],
        before: BEFORE,
    };
    setting::learn(rows, &scales)
}

/// Refuses a set-up that the tool of this inspection was not ground from.
fn is_of(setup: &Setup, folder: &Folder) -> Result<()> {
    let card = folder.dir.join("inspection.toml").display().to_string();
    let refuse = |what: String, help: &str| {
        Err(Error::new(Code::CardValue, what)
            .in_file(card.clone())
            .help(help))
    };
    let inspection = &folder.inspection;
    if inspection.stage != Stage::AfterGrind {
        return refuse(
            "read the stage `before-grind`, expected an inspection of the ground tool".to_owned(),
            "name the folder that was taken after the grind",
        );
    }
    let (hand, flutes) = (folder.tool.hand.as_str(), folder.tool.flutes);
    if setup.hand != hand || setup.flutes != flutes {
        return refuse(
            format!(
                "read a set-up of a {}-hand tool with {} flutes, expected {hand}-hand with {flutes}",
                setup.hand, setup.flutes
            ),
            "it is the set-up of another tool",
        );
    }
    let set = setup.taken.parse::<jiff::Timestamp>();
    if set.is_ok_and(|set| set >= inspection.taken) {
        return refuse(
            format!(
                "read a set-up worked out from traces of {}, expected one from before this inspection",
                setup.taken
            ),
            "name the set-up that the tool was ground from",
        );
    }
    if setup.cuts.is_empty() || setup.predicted.is_empty() {
        return refuse(
            "read a set-up that sets nothing".to_owned(),
            "`setting sheet` writes one where a set-up was found",
        );
    }
    for it in setup.predicted.iter().filter(|it| it.name == "diameter") {
        let known = folder.tool.features.iter();
        let now = known.filter(|feature| feature.name == it.feature);
        let grew = |now: f64| it.before.is_some_and(|before| now > before + 1e-6);
        if let Some(feature) = now.into_iter().find(|feature| grew(feature.diameter.mm())) {
            return refuse(
                format!(
                    "read a diameter of {:.3} mm of `{}`, which was {:.3} mm before the grind",
                    feature.diameter.mm(),
                    it.feature,
                    it.before.unwrap_or_default()
                ),
                "write on the tool's card what a micrometer shows after the grind",
            );
        }
    }
    Ok(())
}

/// Every figure of a cut that was predicted and measured. Flutes of one grind err alike, since the same
/// ball and indicator read them, and one that was left old in part tells nothing: all of them count as
/// their middle one.
pub(super) fn of_cut(of: &Finished, cut: &CutSetup, record: usize) -> Vec<Taught> {
    let strays = [cut.strays[0] / cut.throw_mm.max(1e-6), cut.strays[1], 0.0];
    let unknown = [cut.unknown[0], cut.unknown[1], 0.0];
    let mut figures: Vec<((&str, &str), Vec<Taught>)> = Vec::new();
    for it in &of.setup.predicted {
        let Some((measured, u)) = measured(of, it).filter(|_| cut.features.contains(&it.feature))
        else {
            continue;
        };
        // What the scales bring to a prediction is what is to be learnt.
        let brought = (0..3).map(|at| (it.by[at] * strays[at].hypot(unknown[at])).powi(2));
        let own = (it.standard_uncertainty.powi(2) - brought.sum::<f64>()).max(0.0);
        let taught = from_the_scales(cut, it, measured, (u * u + own).sqrt(), record);
        let key = (it.feature.as_str(), it.name.as_str());
        match figures.iter_mut().find(|(known, _)| *known == key) {
            Some((_, flutes)) => flutes.push(taught),
            None => figures.push((key, vec![taught])),
        }
    }
    figures
        .into_iter()
        .filter_map(|(_, flutes)| middle(flutes))
        .collect()
}

/// A figure beside what the bare scales would have left: a prediction has the corrections in it that its
/// set-up was worked out with, which differ from grind to grind.
fn from_the_scales(
    cut: &CutSetup,
    predicted: &PredictedFigure,
    measured: f64,
    uncertainty: f64,
    record: usize,
) -> Taught {
    let by = by_the_scales(cut, predicted);
    let had = by.iter().zip(had(cut)).map(|(by, had)| by * had);
    Taught {
        record,
        difference: measured - predicted.value + had.sum::<f64>(),
        uncertainty,
        by,
    }
}

/// What a predicted figure does for each error of the bare scales, as [`setting::TAUGHT`] has them.
pub(super) fn by_the_scales(cut: &CutSetup, predicted: &PredictedFigure) -> [f64; 4] {
    let [gain, _, feed] = cut.corrected;
    // What a mm of stock does.
    let stock = cut.skim_sure_mm * feed - cut.wear_mm;
    let by_stock = predicted.by[2] / stock.max(1e-6);
    [
        predicted.by[0] / gain,
        predicted.by[1],
        by_stock * cut.skim_sure_mm,
        -by_stock,
    ]
}

/// The errors of the bare scales that a set-up was worked out with.
pub(super) fn had(cut: &CutSetup) -> [f64; 4] {
    let [gain, cam, feed] = cut.corrected;
    [gain - 1.0, cam, feed - 1.0, cut.wear_mm]
}

/// The flute whose difference is in the middle of all.
fn middle(mut flutes: Vec<Taught>) -> Option<Taught> {
    flutes.sort_by(|one, other| one.difference.total_cmp(&other.difference));
    let at = flutes.len() / 2;
    flutes.into_iter().nth(at)
}

/// What was measured of a predicted figure, with its standard uncertainty.
fn measured(of: &Finished, predicted: &PredictedFigure) -> Option<(f64, f64)> {
    /// A diameter is read by a micrometer to this (common practice, no source).
    const READ_TO: f64 = 0.003;
    // What is only a bound, or hangs on a place that moves, teaches nothing of a setting.
    const TEACH: [&str; 3] = ["drop", "total-relief", "relief-angle"];
    if predicted.name == "diameter" {
        let known = of
            .diameters
            .iter()
            .find(|(name, _)| *name == predicted.feature);
        let diameter = known?.1.mm();
        // A card that still has the diameter from before the grind was not read again.
        let unread = predicted
            .before
            .is_some_and(|before| (before - diameter).abs() < 1e-6);
        return (!unread).then_some((diameter, READ_TO));
    }
    if !TEACH.contains(&predicted.name.as_str()) {
        return None;
    }
    let found = of.record.characteristics.iter().find(|it| {
        it.feature.as_deref() == Some(predicted.feature.as_str())
            && it.flute == predicted.flute
            && it.name == predicted.name
            && it.bound.is_none()
    })?;
    Some((found.value?, found.standard_uncertainty?))
}
