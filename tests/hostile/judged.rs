//! One inspection through the front door, beside what is true of it.

use super::cards;
use super::scenarios::Scenario;
use super::world::Inspection;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Bound, Characteristic, Record, Verdict};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// A figure with a truth.
#[derive(Clone, Debug)]
pub struct Figure {
    pub name: String,
    pub flute: Option<u32>,
    pub truth: f64,
    pub value: Option<f64>,
    pub u: Option<f64>,
    pub interval: Option<[f64; 2]>,
    pub verdict: Option<Verdict>,
    /// How far the truth lies outside its limit; negative inside, `None` without a limit.
    pub outside: Option<f64>,
    /// The result itself says that it is not to be relied on.
    pub doubted: bool,
}

impl Figure {
    /// Standard uncertainties by which the truth lies outside a limit that it passed.
    pub fn wrong_pass(&self) -> Option<f64> {
        let outside = self.outside.filter(|outside| *outside > SAME)?;
        (self.verdict == Some(Verdict::Pass)).then(|| outside / self.u.unwrap_or(0.0).max(SAME))
    }

    pub fn wrong_fail(&self) -> bool {
        self.verdict == Some(Verdict::Fail) && self.outside.is_some_and(|outside| outside < -SAME)
    }

    pub fn held(&self) -> Option<bool> {
        // A sharp edge has no wear land at all, and nothing lies below none.
        let no_wear = self.name == "wear-land" && self.truth <= 0.0;
        let trial = !self.doubted && !no_wear;
        let [low, high] = self.interval.filter(|_| trial)?;
        Some((low..=high).contains(&self.truth))
    }
}

/// Nearer than this is the same, in mm or degrees.
const SAME: f64 = 1e-6;

/// What came of one inspection.
pub struct Seen {
    pub seed: u64,
    /// The message where it ended in an error.
    pub refused: Option<String>,
    pub verdict: Option<Verdict>,
    /// Whether every judged truth lies inside its limit.
    pub good: bool,
    /// Readings that show what stands above an edge, where anything does.
    pub shown: Option<usize>,
    pub noticed: bool,
    pub figures: Vec<Figure>,
}

impl Seen {
    /// A pass of a bad tool that the readings could have prevented.
    pub fn wrong_pass(&self) -> bool {
        self.verdict == Some(Verdict::Pass) && !self.good && self.shown != Some(0)
    }

    /// A pass of a tool whose burr no reading touched.
    pub fn unseen(&self) -> bool {
        self.verdict == Some(Verdict::Pass) && !self.good && self.shown == Some(0)
    }

    pub fn wrong_fail(&self) -> bool {
        self.verdict == Some(Verdict::Fail) && self.good
    }

    /// The farthest outside a limit that a figure passed, in standard uncertainties.
    pub fn farthest(&self) -> f64 {
        self.figures
            .iter()
            .filter_map(Figure::wrong_pass)
            .fold(0.0, f64::max)
    }
}

/// The inspection of this seed of a scenario.
pub fn built(scenario: &Scenario, seed: u64) -> Inspection {
    // No scenario shares its chance with another (FNV-1a, Fowler, Noll, Vo).
    (scenario.build)(&mut Pcg64::seed_from_u64(own_seed(scenario, seed)))
}

fn own_seed(scenario: &Scenario, seed: u64) -> u64 {
    let own = scenario.name.bytes().fold(0x811c_9dc5, |hash: u32, byte| {
        (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193)
    });
    u64::from(own) * 100_000 + seed
}

pub fn judge(scenario: &Scenario, seed: u64, keep: Option<&Path>) -> Seen {
    let inspection = built(scenario, seed);
    let dir = tempfile::tempdir().unwrap();
    let path = keep.map_or_else(
        || dir.path().to_owned(),
        |keep| {
            keep.join(scenario.name.replace([' ', '/'], "-"))
                .join(seed.to_string())
        },
    );
    let traces = inspection.traces(own_seed(scenario, seed));
    cards::write(&inspection, &traces, &path);
    let mut seen = Seen {
        seed,
        refused: None,
        verdict: None,
        good: is_good(&inspection),
        shown: inspection.shown(&traces),
        noticed: false,
        figures: Vec::new(),
    };
    let judged = catch_unwind(AssertUnwindSafe(|| {
        Folder::open(&path).and_then(|folder| verify(&folder))
    }));
    match judged {
        Ok(Ok(record)) => {
            seen.verdict = record.verdict;
            seen.noticed = noticed(&record, scenario.signs);
            seen.figures = figures(&record, &inspection);
            if keep.is_some() {
                let text = serde_json::to_string_pretty(&record).unwrap();
                std::fs::write(path.join("verdict.json"), text).unwrap();
                std::fs::write(path.join("truth.txt"), format!("{:#?}", seen.figures)).unwrap();
            }
        }
        Ok(Err(error)) => {
            let said = error.message().to_owned();
            seen.noticed = says(&said, scenario.signs);
            seen.refused = Some(said);
        }
        Err(_) => seen.refused = Some("it panicked".to_owned()),
    }
    seen
}

fn says(text: &str, signs: &[&str]) -> bool {
    let text = text.to_lowercase();
    signs.iter().any(|sign| text.contains(sign))
}

/// Whether the result tells of what is wrong, by one of the words.
fn noticed(record: &Record, signs: &[&str]) -> bool {
    let doubts = record.doubts.iter();
    let mut doubts = doubts.map(|doubt| format!("{} {}", doubt.kind, doubt.seen));
    let open = record
        .characteristics
        .iter()
        .filter(|figure| figure.verdict != Some(Verdict::Pass));
    let mut whys = open.map(|figure| &figure.why);
    doubts.any(|doubt| says(&doubt, signs))
        || whys.any(|why| says(why, signs))
        || record.warnings.iter().any(|warning| says(warning, signs))
}

/// Whether every truth that the card judges lies inside its limit.
fn is_good(inspection: &Inspection) -> bool {
    let truth = inspection.truth();
    let least_clearance = ("", "heel-clearance", Some(0.0), None);
    let limits = &inspection.stated.limits;
    let asked = limits.iter().any(|limit| limit.1 == "heel-clearance");
    let default = (!asked).then_some(least_clearance);
    limits
        .iter()
        .copied()
        .chain(default)
        .all(|(_, name, least, most)| {
            let each = truth
                .teeth
                .iter()
                .filter_map(|tooth| tooth.figures.get(name));
            let mut all = each.chain(truth.whole.get(name));
            all.all(|value| {
                least.is_none_or(|least| *value >= least - SAME)
                    && most.is_none_or(|most| *value <= most + SAME)
            })
        })
}

fn figures(record: &Record, inspection: &Inspection) -> Vec<Figure> {
    let truth = inspection.truth();
    let known = |figure: &Characteristic| -> Option<f64> {
        if figure.name == "runout" {
            let [x, y] = inspection.axis_at(figure.z_mm?);
            return Some(x.hypot(y));
        }
        if let Some(value) = truth.whole.get(figure.name.as_str()) {
            return Some(*value);
        }
        let flute = record.flutes.iter().find(|flute| {
            Some(flute.flute) == figure.flute
                && (figure.z_mm.is_none() || flute.z_mm == figure.z_mm)
        })?;
        let far = |place: f64| {
            let apart = (inspection.shown_deg(place) - flute.edge_deg).rem_euclid(360.0);
            apart.min(360.0 - apart)
        };
        let teeth = truth.teeth.iter();
        let tooth = teeth.min_by(|a, b| far(a.edge_deg).total_cmp(&far(b.edge_deg)))?;
        tooth.figures.get(figure.name.as_str()).copied()
    };
    let all = record.characteristics.iter();
    all.filter_map(|figure| {
        let truth = known(figure).filter(|truth| truth.is_finite())?;
        let doubted = record.doubts.iter().any(|doubt| {
            !doubt.fail_stands
                && (doubt.touches.is_empty() || doubt.touches.contains(&figure.name))
                && (doubt.flute.is_none() || figure.flute.is_none() || doubt.flute == figure.flute)
        });
        let outside = figure.limit.map(|limit| {
            let below = limit.min.map_or(f64::MIN, |min| min - truth);
            let above = limit.max.map_or(f64::MIN, |max| truth - max);
            below.max(above)
        });
        Some(Figure {
            name: figure.name.clone(),
            flute: figure.flute,
            truth,
            value: figure.value,
            u: figure.standard_uncertainty,
            // What hides in a hole bounds nothing on its side.
            interval: figure.interval.map(|[low, high]| match figure.bound {
                Some(Bound::AtMost) => [f64::NEG_INFINITY, high],
                Some(Bound::AtLeast) => [low, f64::INFINITY],
                None => [low, high],
            }),
            verdict: figure.verdict,
            outside,
            doubted: doubted || figure.why.contains("not to be trusted"),
        })
    })
    .collect()
}
