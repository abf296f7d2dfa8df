//! Trials of the whole chain, from a folder to its record.
#![allow(clippy::unwrap_used)]

use heelclear::inspection::{Folder, simulated::write_folder, verify_with};
use heelclear::judge::Effort;
use heelclear::record::{Characteristic, Record};
use heelclear::simulator::{Relief, Scenario, built_in};
use tempfile::TempDir;

fn folder(scenario: &Scenario) -> (TempDir, Folder) {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    let folder = Folder::open(dir.path()).unwrap();
    (dir, folder)
}

fn judged(folder: &Folder, seed: u64, trials: Option<usize>) -> Record {
    let effort = Effort {
        seed,
        trials,
        ..Effort::default()
    };
    verify_with(folder, effort).unwrap()
}

fn drawn(record: &Record) -> impl Iterator<Item = &Characteristic> {
    let all = record.characteristics.iter();
    all.filter(|one| one.propagation.is_some())
}

#[test]
fn the_seed_in_the_record_makes_the_same_record_again() {
    let (_dir, folder) = folder(&built_in("counterbore-pass").unwrap());
    let first = judged(&folder, 7, None);
    assert_eq!(first.about.seed, Some(7));
    assert_eq!(judged(&folder, first.about.seed.unwrap(), None), first);
    let other = judged(&folder, 8, None);
    assert_ne!(other.characteristics, first.characteristics);
    for (one, other) in drawn(&first).zip(drawn(&other)) {
        assert_eq!(one.verdict, other.verdict);
    }
}

#[test]
fn as_many_trials_are_made_as_were_asked_for() {
    let (_dir, folder) = folder(&built_in("counterbore-pass").unwrap());
    let record = judged(&folder, 1, Some(20_000));
    assert!(drawn(&record).count() > 10);
    for one in drawn(&record) {
        let propagation = one.propagation.as_ref().unwrap();
        assert_eq!(propagation.trials, 20_000, "{}", one.name);
    }
}

#[test]
fn the_answer_is_the_one_that_the_record_says_was_used() {
    let mut used = std::collections::BTreeSet::new();
    for name in ["counterbore-pass", "chamfer-face"] {
        let (_dir, folder) = folder(&built_in(name).unwrap());
        for one in drawn(&judged(&folder, 1, None)) {
            let propagation = one.propagation.as_ref().unwrap();
            let way = match propagation.used.as_str() {
                "first-order" => &propagation.first_order,
                _ => &propagation.distributions,
            };
            assert_eq!(one.interval, Some(way.interval), "{}", one.name);
            assert_eq!(one.value, Some(way.value), "{}", one.name);
            used.insert(propagation.used.clone());
        }
    }
    assert_eq!(used.len(), 2, "{used:?}");
}

#[test]
fn both_ways_agree_where_nothing_is_bent() {
    // A flat land well over its limit: no extreme to choose, no bound near.
    let (_dir, folder) = folder(&built_in("counterbore-pass").unwrap());
    let record = judged(&folder, 1, Some(40_000));
    for one in drawn(&record).filter(|one| one.name == "drop" || one.name == "heel-clearance") {
        let propagation = one.propagation.as_ref().unwrap();
        let [first, trials] = [&propagation.first_order, &propagation.distributions]
            .map(|way| way.standard_uncertainty);
        assert!(
            (first / trials - 1.0).abs() < 0.1,
            "{}: {first} {trials}",
            one.name
        );
    }
}

#[test]
fn what_cannot_be_below_nothing_has_no_interval_below_it() {
    let (_dir, folder) = folder(&built_in("counterbore-pass").unwrap());
    let record = judged(&folder, 1, None);
    for name in ["wear-land", "edge-spread", "flute-spacing", "total-relief"] {
        for one in record.characteristics.iter().filter(|one| one.name == name) {
            let [low, high] = one.interval.unwrap();
            assert!(0.0 <= low && low <= one.value.unwrap(), "{name}: {low}");
            assert!(one.value.unwrap() <= high, "{name}: {high}");
        }
    }
}

#[test]
fn the_chance_to_conform_goes_with_the_verdict() {
    for name in [
        "counterbore-pass",
        "counterbore-heel-drag",
        "reamer-cam-rise",
    ] {
        let (_dir, folder) = folder(&built_in(name).unwrap());
        let record = judged(&folder, 1, None);
        for one in drawn(&record).filter(|one| one.verdict.is_some()) {
            let chance = one.conformity.unwrap();
            match one.verdict.unwrap().as_str() {
                "pass" => assert!(chance >= 0.9, "{name}, {}: {chance}", one.name),
                "fail" => assert!(chance <= 0.05, "{name}, {}: {chance}", one.name),
                _ => assert!((0.0..=1.0).contains(&chance)),
            }
        }
    }
}

/// The edge belongs to its land, and lies at no drop.
#[test]
fn the_greatest_relief_of_a_land_that_only_rises_is_none_and_never_less() {
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.feature[0].land.relief = Relief::Spiral { relief_deg: -3.0 };
    let (_dir, folder) = folder(&scenario);
    let record = judged(&folder, 1, None);
    let all = record.characteristics.iter();
    let totals: Vec<_> = all.filter(|one| one.name == "total-relief").collect();
    assert_eq!(totals.len(), 2);
    for total in totals {
        assert!((0.0..0.001).contains(&total.value.unwrap()), "{total:?}");
        let [low, high] = total.interval.unwrap();
        assert!(low == 0.0 && high > 0.0, "{total:?}");
    }
}
