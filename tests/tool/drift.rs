//! An indicator that drifts: intervals hold the truth as often as they promise, where a study at
//! rest told how fast it may, and the verdict says so where none did.
#![allow(clippy::unwrap_used)]

use crate::truth::Truths;
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record};
use heelclear::simulator::{ErrorCurve, Scenario, built_in};
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use statrs::distribution::{Binomial, DiscreteCDF};

/// A fast drift, so that it outweighs all else: 6 µm a minute, up or down.
const FASTEST_MM_PER_S: f64 = 0.000_1;
const STUDY: &str = "
[study.rest]
taken = 2026-01-01T00:00:00Z
drift_mm = 0.006
lasted_ms = 60000
";
const QUANTITY: &str = "drift of the indicator";

/// A good bench, but for its drift.
fn bench(recipe: &str, seed: u64) -> Scenario {
    let mut scenario = built_in(recipe).unwrap();
    scenario.seed = seed;
    scenario.gauge.max_error_mm = 0.000_1;
    scenario.gauge.resolution_mm = 0.000_1;
    scenario.gauge.hysteresis_mm = 0.0;
    scenario.gauge.probe_offset_tolerance_mm = 0.001;
    scenario.bench.error = ErrorCurve::None;
    scenario.bench.noise_mm = 0.000_1;
    let mut chance = rand_pcg::Pcg64::seed_from_u64(seed);
    scenario.bench.drift_mm_per_s = FASTEST_MM_PER_S * chance.random_range(-1.0..=1.0);
    scenario.clamping.first_edge_deg = chance.random_range(30.0..150.0);
    scenario.clamping.tilt_at_deg = Some(chance.random_range(0.0..360.0));
    scenario
}

fn judged(scenario: &Scenario, study: &str) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    let card = dir.path().join("gauge.toml");
    let text = std::fs::read_to_string(&card).unwrap();
    std::fs::write(&card, format!("{text}{study}")).unwrap();
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

fn line(figure: &Characteristic) -> f64 {
    let mut lines = figure.budget.iter();
    let drift = lines.find(|line| line.quantity == QUANTITY);
    drift.map_or(0.0, |line| line.contribution)
}

/// How many inspections with this number hold the truth of their first figure of this name, since
/// teeth err alike under one drift.
fn held(name: &str, made: &[(Scenario, Record)]) -> u64 {
    let holds = |(scenario, record): &&(Scenario, Record)| {
        let mut figures = record.characteristics.iter();
        let figure = figures.find(|figure| figure.name == name).unwrap();
        let [low, high] = figure.interval.unwrap();
        let truth = Truths::of(scenario).value(figure, record).unwrap();
        (low..=high).contains(&truth)
    };
    made.iter().filter(holds).count() as u64
}

/// Two distances, hardly a turn each: nothing of the drift shows between visits.
fn made(study: &str, inspections: u64) -> Vec<(Scenario, Record)> {
    let seeds = (1..=inspections).into_par_iter();
    let each = seeds.map(|seed| {
        let mut scenario = bench("counterbore-pass", seed);
        scenario.feature[0].z_mm = vec![2.0, 14.0];
        scenario.feature[0].back_taper_deg = 0.5;
        scenario.clamping.eccentricity_mm = 0.000_1;
        scenario.hand.turns = 0.99;
        scenario.hand.speed_deg_per_s = 12.0;
        // A trace of half a minute, and three minutes from its end to the next.
        scenario.bench.trace_every_s = 212.0;
        let record = judged(&scenario, study);
        (scenario, record)
    });
    each.collect()
}

#[test]
fn intervals_hold_under_drift_where_a_study_told_of_it() {
    let inspections = 40;
    let with = made(STUDY, inspections);
    for name in [
        "back-taper",
        "edge-spread",
        "drop",
        "heel-clearance",
        "relief-angle",
    ] {
        let held = held(name, &with);
        let chance = Binomial::new(0.95, inspections).unwrap();
        assert!(chance.cdf(held) > 1e-4, "{name}: {held} held");
    }
    // Without it they do not: the taper is off by what the indicator drifted between the traces.
    let inspections = 12;
    let held = held("back-taper", &made("", inspections));
    assert!(
        held < inspections / 2,
        "{held} of {inspections} held without"
    );
}

#[test]
fn a_face_turns_by_what_the_indicator_drifts_on_the_way() {
    let mut scenario = bench("chamfer-face", 3);
    scenario.face[0].back = false;
    let record = judged(&scenario, STUDY);
    let mut figures = record.characteristics.iter();
    let figure = figures.find(|figure| figure.name == "face-angle").unwrap();
    let face = &scenario.face[0];
    // One way, at 45°, where a change of slope by one part turns the angle by half a radian.
    let seconds = face.travel_mm / face.speed_mm_per_s;
    let most = (0.5 * FASTEST_MM_PER_S * seconds / face.travel_mm).to_degrees();
    let found = line(figure) * 3f64.sqrt();
    assert!(
        !face.back && (found / most - 1.0).abs() < 0.05,
        "{found} of {most}"
    );
}

#[test]
fn a_drop_hardly_notices_a_drift_and_a_taper_does() {
    let mut scenario = bench("counterbore-pass", 1);
    scenario.feature[0].z_mm = vec![2.0, 14.0];
    scenario.hand.turns = 0.99;
    let record = judged(&scenario, STUDY);
    let of = |name: &str| {
        let mut all = record.characteristics.iter();
        line(all.find(|figure| figure.name == name).unwrap())
    };
    // Half a millimetre of arc on 20 mm takes 0.16 s at 18° a second, and longer with a pause.
    let drop = of("drop");
    assert!(drop > 0.0 && drop < 0.000_1, "{drop}");
    // Half a turn takes 10 s: 1 µm at the most, and the hand is not even.
    let edges = of("edge-spread");
    assert!(edges > 0.000_3 && edges < 0.001, "{edges}");
    // Three minutes and a trace of 21 s and more lie between 2 mm and 14 mm.
    let most = (0.0204f64 / 12.0).to_degrees();
    let taper = of("back-taper") * 3f64.sqrt();
    assert!((taper / most - 1.0).abs() < 0.1, "{taper} of {most}");
}

#[test]
fn what_is_known_of_the_drift_is_told() {
    let says = |record: &Record, words: &str| {
        let mut all = record.about.assumptions.iter();
        all.any(|assumption| assumption.contains(words))
    };
    let scenario = bench("counterbore-pass", 1);
    let without = judged(&scenario, "");
    assert!(says(
        &without,
        "no drift of the indicator is taken into account"
    ));
    assert!(
        without
            .characteristics
            .iter()
            .all(|figure| line(figure) == 0.0)
    );
    let with = judged(&scenario, STUDY);
    assert!(says(&with, "by no more than the 6.00 µm a minute"));
    assert!(!says(&with, "no drift of the indicator"));
}
