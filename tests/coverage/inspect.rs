//! One simulated inspection, judged with its limits put exactly at the truth.

use super::kinds::Kind;
use super::truth::Truths;
use super::world::{Input, drawn, lose_rows};
use heelclear::card::{Limit, Name};
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::judge::{Guard, Outcome, decide_guarded};
use heelclear::record::{BudgetLine, Characteristic, Record, Verdict};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// One figure with a truth.
pub struct Seen {
    pub name: String,
    pub unit: String,
    pub truth: f64,
    /// `None` where the figure gave no interval, or one from a curve that is not trusted.
    pub found: Option<Found>,
    /// `None` where the limit was not at this figure's own truth.
    pub at_truth: Option<AtTruth>,
}

pub struct Found {
    pub value: f64,
    pub u: f64,
    pub interval: [f64; 2],
    pub budget: Vec<BudgetLine>,
}

impl Found {
    /// Whether it is off by more than chance ever puts it.
    pub fn is_far(&self, truth: f64) -> bool {
        /// Standard uncertainties.
        const FAR: f64 = 6.0;
        (self.value - truth).abs() > FAR * self.u
    }
}

/// What was decided with the limit at the truth.
pub struct AtTruth {
    /// With the truth as the least allowed.
    pub least: Verdict,
    /// With the truth as the most allowed.
    pub most: Verdict,
    /// With the least allowed two guard bands under the truth.
    pub away: Verdict,
}

/// A 95 % guard band on one side (ISO 14253-1).
const GUARD: f64 = 1.645;
/// Teeth whose truths differ by less than this have one truth, in mm or degrees.
const ALIKE: f64 = 1e-6;

/// All figures of one inspection; the message where it ended in an error or a panic.
pub fn inspect(kind: &Kind, seed: u64, left_out: &[Input]) -> Result<Vec<Seen>, String> {
    let world = drawn(&kind.stated(seed), left_out);
    let dir = tempfile::tempdir().unwrap();
    let kept = std::env::var_os("HEELCLEAR_COVERAGE_KEEP");
    let path = kept.map_or_else(
        || dir.path().to_owned(),
        |kept| Path::new(&kept).join(kind.name).join(seed.to_string()),
    );
    write_folder(&world, &path).unwrap();
    if kind.holes {
        lose_rows(&path, seed);
    }
    let folder = allowing_anything(Folder::open(&path).unwrap());
    let record = match catch_unwind(AssertUnwindSafe(|| verify(&folder))) {
        Ok(Ok(record)) => record,
        Ok(Err(error)) => return Err(error.message().to_owned()),
        Err(_) => return Err("it panicked".to_owned()),
    };
    let known = Truths::of(&world);
    let truths: Vec<Option<f64>> = record
        .characteristics
        .iter()
        .map(|figure| known.value(figure, &record))
        .collect();
    let limits = limits(&record, &truths);
    let each = record.characteristics.iter().zip(&truths);
    Ok(each
        .filter_map(|(figure, truth)| {
            let truth = (*truth).filter(|truth| worth_it(figure, *truth))?;
            let at_limit = limits.iter().find(|at| at.is_of(figure))?;
            let tries =
                (at_limit.truth - truth).abs() < ALIKE && !(never_below_0(figure) && truth < ALIKE);
            Some(Seen {
                name: figure.name.clone(),
                unit: figure.unit.clone(),
                truth,
                found: found(figure),
                at_truth: tries.then(|| at_truth(figure, at_limit)).flatten(),
            })
        })
        .collect())
}

/// What would be decided with the limit at the truth.
fn at_truth(figure: &Characteristic, at: &AtLimit) -> Option<AtTruth> {
    let (value, band) = figure.value.zip(figure.guard_band)?;
    let guard = Guard {
        below: band.below,
        above: band.above,
    };
    let verdict = |min: Option<f64>, max: Option<f64>| {
        match decide_guarded(value, guard, Limit { min, max }) {
            // What could not pass where anything is allowed passes nowhere.
            Outcome::Pass if figure.verdict != Some(Verdict::Pass) => Verdict::Undecided,
            outcome => Verdict::from(outcome),
        }
    };
    Some(AtTruth {
        least: verdict(Some(at.truth), None),
        most: verdict(None, Some(at.truth)),
        away: verdict(Some(at.truth - 2.0 * GUARD * at.u), None),
    })
}

/// A sharp edge has no wear land at all, and nothing lies below none: no trial of an interval.
fn worth_it(figure: &Characteristic, truth: f64) -> bool {
    figure.name != Name::WearLand.as_str() || truth > 0.0
}

/// A size has 0 as its natural bound: that it is at least 0 is known without measuring.
fn never_below_0(figure: &Characteristic) -> bool {
    let sizes = [
        Name::EdgeSpread,
        Name::FluteSpacing,
        Name::TotalRelief,
        Name::WearLand,
    ];
    sizes.iter().any(|size| size.as_str() == figure.name)
}

/// The figure where its interval is meant to be relied on.
fn found(figure: &Characteristic) -> Option<Found> {
    // A curve that is not trusted proves nothing, whatever its interval.
    let proven = !figure.why.contains("not to be trusted");
    Some(Found {
        value: figure.value.filter(|_| proven)?,
        u: figure.standard_uncertainty?,
        interval: figure.interval?,
        budget: figure.budget.clone(),
    })
}

/// A limit of a feature, at the truth of the first figure of its name.
struct AtLimit {
    feature: Option<String>,
    name: String,
    truth: f64,
    u: f64,
}

impl AtLimit {
    fn is_of(&self, figure: &Characteristic) -> bool {
        self.feature == figure.feature && self.name == figure.name
    }
}

fn limits(record: &Record, truths: &[Option<f64>]) -> Vec<AtLimit> {
    let mut limits: Vec<AtLimit> = Vec::new();
    for (figure, truth) in record.characteristics.iter().zip(truths) {
        let Some(truth) = *truth else { continue };
        let u = figure.standard_uncertainty.unwrap_or(0.0);
        match limits.iter_mut().find(|at| at.is_of(figure)) {
            Some(at) => at.u = at.u.max(u),
            None => limits.push(AtLimit {
                feature: figure.feature.clone(),
                name: figure.name.clone(),
                truth,
                u,
            }),
        }
    }
    limits
}

/// The folder with a limit on everything that allows anything.
fn allowing_anything(mut folder: Folder) -> Folder {
    let anything = Limit {
        min: Some(f64::MIN),
        max: None,
    };
    for feature in &mut folder.tool.features {
        for name in Name::ALL.iter().copied() {
            feature.limits.set(name, anything);
        }
    }
    folder
}
