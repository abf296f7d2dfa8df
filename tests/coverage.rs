//! How often a 95 % interval holds the truth, over many simulated inspections.
//!
//! `cargo test --release --test coverage -- --nocapture` prints the table. A quick round runs
//! always; `HEELCLEAR_COVERAGE=200` runs so many inspections of each kind. The truths are the
//! simulator's, which shares no geometry with the judge.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

#[path = "fixtures/truth.rs"]
mod truth;

use heelclear::gauge::simulated::{Scenario, Tip, Turning, built_in};
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use rayon::prelude::*;
use std::collections::BTreeMap;
use truth::true_value;

/// Inspections of each kind in the quick round.
const QUICK: u64 = 6;

/// Two-sided 95 % of a normal distribution.
const COVER: f64 = 1.96;
/// One-sided 95 %: the guard band.
const GUARD: f64 = 1.645;

/// A kind of inspection: a recipe and what is changed in it.
struct Kind {
    name: &'static str,
    recipe: &'static str,
    change: fn(&mut Scenario),
}

const KINDS: &[Kind] = &[
    kind("flat land", "counterbore-pass", |_| {}),
    kind("flat land, heel drags", "counterbore-heel-drag", |_| {}),
    kind("cam land", "reamer-cam-rise", |_| {}),
    kind("spiral land", "chamfer-uneven-edges", |_| {}),
    kind("twelve flutes", "twelve-flute-cutter", |_| {}),
    kind("one long land", "single-flute-long-land", |_| {}),
    kind("end face with feed", "end-face-feed", |_| {}),
    kind("shank with flats", "shank-with-flats", |_| {}),
    kind("two clocks", "two-clocks", |_| {}),
    kind("no relief, off centre", "runout-with-reference", |_| {}),
    kind("ball of 0.25 mm", "counterbore-pass", |s| {
        s.gauge.radius_mm = 0.25;
        s.hand.speed_deg_per_s = 6.0;
    }),
    kind("ball of 2 mm", "counterbore-pass", |s| {
        s.gauge.radius_mm = 2.0
    }),
    kind("point", "counterbore-pass", |s| {
        s.gauge.stylus = Tip::Point;
        s.gauge.radius_mm = 0.0;
        s.hand.speed_deg_per_s = 8.0;
    }),
    kind("noise 0.2 µm", "counterbore-pass", |s| {
        s.bench.noise_mm = 0.000_2
    }),
    kind("noise 5 µm", "counterbore-pass", |s| {
        s.bench.noise_mm = 0.005
    }),
    kind("steps of 10 µm", "counterbore-pass", |s| {
        s.gauge.resolution_mm = 0.01;
        s.gauge.max_error_mm = 0.01;
    }),
    kind("400 counts a turn", "counterbore-pass", |s| {
        s.gauge.counts_per_rev = 400;
    }),
    kind("20,000 counts a turn", "counterbore-pass", |s| {
        s.gauge.counts_per_rev = 20_000;
    }),
    kind("runout 0.3 mm", "counterbore-pass", |s| {
        s.clamping.eccentricity_mm = 0.3;
    }),
    kind("hysteresis 4 µm", "counterbore-pass", |s| {
        s.gauge.hysteresis_mm = 0.004;
    }),
    kind("spikes, pauses, nudges", "counterbore-pass", |s| {
        s.bench.spikes_per_1000 = 4.0;
        s.hand.pauses_per_turn = 3.0;
        s.hand.nudges_per_turn = 3.0;
        s.hand.unevenness = 0.5;
    }),
    kind("both ways", "counterbore-pass", |s| {
        s.hand.turning = Turning::Both
    }),
];

const fn kind(name: &'static str, recipe: &'static str, change: fn(&mut Scenario)) -> Kind {
    Kind {
        name,
        recipe,
        change,
    }
}

/// What was seen of one characteristic in one kind of inspection.
#[derive(Default)]
struct Tally {
    /// Off the truth, in standard uncertainties.
    off: Vec<f64>,
    /// Widths of the 95 % interval.
    width: Vec<f64>,
    /// Figures that gave no interval.
    open: u64,
    unit: String,
}

impl Tally {
    fn share(&self, is: impl Fn(f64) -> bool) -> f64 {
        let hits = self.off.iter().filter(|off| is(**off)).count();
        100.0 * hits as f64 / self.off.len().max(1) as f64
    }

    fn covered(&self) -> f64 {
        self.share(|off| off.abs() <= COVER)
    }

    fn mean_width(&self) -> f64 {
        self.width.iter().sum::<f64>() / self.width.len().max(1) as f64
    }
}

/// One figure with a truth.
struct Seen {
    name: String,
    unit: String,
    /// Off the truth in standard uncertainties, and the width of the interval; `None` where the
    /// figure gave no interval that is to be trusted.
    off_and_width: Option<(f64, f64)>,
}

/// One simulated inspection, judged.
fn one(kind: &Kind, seed: u64) -> Vec<Seen> {
    let mut scenario = Scenario {
        seed,
        ..built_in(kind.recipe).unwrap()
    };
    (kind.change)(&mut scenario);
    let dir = tempfile::tempdir().unwrap();
    write_folder(&scenario, dir.path()).unwrap();
    let record = verify(&Folder::open(dir.path()).unwrap()).unwrap();
    let mut seen = Vec::new();
    // A sharp edge has no wear land at all, and nothing lies below none: no trial of an interval.
    let tried = record
        .characteristics
        .iter()
        .filter(|c| c.name != "wear-land");
    for figure in tried {
        let place = scenario
            .feature
            .iter()
            .position(|feature| Some(&feature.name) == figure.feature.as_ref());
        let truth = scenario.truth(place.unwrap_or(0)).unwrap();
        let Some(expected) = true_value(figure, &record, &truth) else {
            continue;
        };
        // A curve that is not trusted proves nothing, whatever its interval.
        let proven = !figure.why.contains("not to be trusted");
        let off = figure
            .value
            .zip(figure.standard_uncertainty)
            .filter(|_| proven)
            .map(|(value, u)| ((value - expected) / u, 2.0 * COVER * u));
        seen.push(Seen {
            name: figure.name.clone(),
            unit: figure.unit.clone(),
            off_and_width: off,
        });
    }
    seen
}

#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    let rounds = std::env::var("HEELCLEAR_COVERAGE")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(QUICK);
    let mut all = Tally::default();
    println!(
        "| inspection | characteristic | figures | 95 % interval holds | mean width | wrong pass at a least | wrong pass at a most | open |"
    );
    println!("|---|---|---:|---:|---:|---:|---:|---:|");
    for kind in KINDS {
        let seen: Vec<_> = (1..=rounds)
            .into_par_iter()
            .flat_map(|seed| one(kind, seed))
            .collect();
        let mut tallies: BTreeMap<String, Tally> = BTreeMap::new();
        for figure in seen {
            let tally = tallies.entry(figure.name).or_default();
            tally.unit = figure.unit;
            match figure.off_and_width {
                Some((off, width)) => {
                    tally.off.push(off);
                    tally.width.push(width);
                }
                None => tally.open += 1,
            }
        }
        for (name, tally) in &tallies {
            let (scale, unit) = match tally.unit.as_str() {
                "mm" => (1000.0, "µm"),
                _ => (1.0, "°"),
            };
            println!(
                "| {} | {name} | {} | {:.1} % | {:.3} {unit} | {:.1} % | {:.1} % | {} |",
                kind.name,
                tally.off.len(),
                tally.covered(),
                tally.mean_width() * scale,
                tally.share(|off| off >= GUARD),
                tally.share(|off| off <= -GUARD),
                tally.open
            );
            all.off.extend(&tally.off);
        }
    }
    println!(
        "all: {} figures, {:.1} % held, wrong passes {:.1} % at a least, {:.1} % at a most",
        all.off.len(),
        all.covered(),
        all.share(|off| off >= GUARD),
        all.share(|off| off <= -GUARD)
    );
    // The quick round is small: the bounds leave room for its chance, the full table does not.
    assert!(all.off.len() > 500);
    assert!(all.covered() > 93.0, "{:.1} % held", all.covered());
    assert!(all.share(|off| off >= GUARD) < 6.0);
    assert!(all.share(|off| off <= -GUARD) < 6.0);
}
