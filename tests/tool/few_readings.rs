//! What comes of traces with too few readings, of clocks that stand apart, and of a scale that is off.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::card::GaugeCard;
use heelclear::inspection::{Folder, verify_with};
use heelclear::judge::{Effort, Outcome};
use heelclear::quantity::{Length, Time};
use heelclear::record::{Record, Verdict};
use heelclear::study::{KnownHeight, step};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-data")
        .join(name)
}

/// A copy of a sample whose traces `line` has changed: it gets the file's name, the number of the line
/// and its text, and gives the line or nothing.
fn changed(
    name: &str,
    mut line: impl FnMut(&str, usize, &str) -> Option<String>,
) -> (TempDir, PathBuf) {
    let bench = tempfile::tempdir().unwrap();
    let folder = bench.path().join(name);
    fs::create_dir_all(folder.join("traces")).unwrap();
    for card in ["tool.toml", "gauge.toml", "inspection.toml"] {
        fs::copy(sample(name).join(card), folder.join(card)).unwrap();
    }
    for file in fs::read_dir(sample(name).join("traces")).unwrap() {
        let file = file.unwrap();
        let title = file.file_name().to_string_lossy().into_owned();
        let text = fs::read_to_string(file.path()).unwrap();
        let mut lines = text.lines();
        let mut kept = format!("{}\n", lines.next().unwrap());
        for (number, text) in lines.enumerate() {
            if let Some(text) = line(&title, number, text) {
                kept += &format!("{text}\n");
            }
        }
        fs::write(folder.join("traces").join(title), kept).unwrap();
    }
    (bench, folder)
}

/// Judged to first order, which is quick; `None` where the trace shows no such tool.
fn judged(folder: &Path) -> Option<Record> {
    let effort = Effort {
        trials: Some(0),
        ..Effort::default()
    };
    verify_with(&Folder::open(folder).unwrap(), effort).ok()
}

/// Every so manyth line of all traces but the references.
fn thinned(name: &str, by: usize, from: usize) -> Option<Record> {
    let (_bench, folder) = changed(name, |file, number, line| {
        (file.starts_with("shank") || number % by == from).then(|| line.to_owned())
    });
    judged(&folder)
}

/// The sample judged without the readings of these degrees of the turn, in every turn.
fn with_hole(name: &str, from: f64, to: f64) -> Option<Record> {
    let (_bench, folder) = changed(name, |file, _, line| {
        let angle: f64 = line.split(',').nth(1).unwrap().parse().unwrap();
        let inside = (angle - from).rem_euclid(360.0) < to - from;
        (file.starts_with("shank") || !inside).then(|| line.to_owned())
    });
    judged(&folder)
}

#[test]
fn an_edge_that_nothing_was_read_at_is_neither_good_nor_bad() {
    #[track_caller]
    fn check(name: &str, from: f64, to: f64) {
        let Some(record) = with_hole(name, from, to) else {
            return;
        };
        speaks_in_numbers(&record);
        assert_eq!(record.verdict, Some(Verdict::Undecided), "{from}° to {to}°");
    }
    check("single-flute-long-land", -0.1, 15.9);
    let whole = judged(&sample("counterbore-pass")).unwrap();
    for flute in &whole.flutes {
        let edge = flute.edge_deg;
        for (before, behind) in [(8.0, 8.0), (12.0, 6.0), (6.0, 6.0)] {
            check("counterbore-pass", edge - before, edge + behind);
        }
    }
}

#[track_caller]
fn speaks_in_numbers(record: &Record) {
    let text = serde_json::to_string(record).unwrap();
    let mut words = text.split(|letter: char| !letter.is_alphanumeric());
    assert!(!words.any(|word| matches!(word, "NaN" | "inf")), "{text}");
    assert!(!text.contains("-0.0 ") && !text.contains("± -"), "{text}");
    for one in &record.characteristics {
        if matches!(one.verdict, Some(Verdict::Pass | Verdict::Fail)) {
            assert!(one.standard_uncertainty.unwrap() > 0.0, "{one:?}");
        }
    }
    // What is written is read back whole.
    let back: Record = serde_json::from_str(&text).unwrap();
    assert_eq!(back.characteristics.len(), record.characteristics.len());
}

#[test]
fn no_thinned_trace_turns_a_verdict_into_the_other() {
    #[track_caller]
    fn check(name: &str, wrong: Verdict) {
        for by in [2, 4, 8, 13] {
            if let Some(record) = thinned(name, by, by / 2) {
                assert_ne!(record.verdict, Some(wrong), "{name}, every {by}th line");
                speaks_in_numbers(&record);
            }
        }
    }
    check("counterbore-pass", Verdict::Fail);
    check("counterbore-two-facets", Verdict::Fail);
    check("six-flute-reamer", Verdict::Fail);
    check("chamfer-face", Verdict::Fail);
    check("shank-with-flats", Verdict::Fail);
    check("single-flute-long-land", Verdict::Fail);
    check("counterbore-heel-drag", Verdict::Pass);
    check("reamer-cam-rise", Verdict::Pass);
    check("chamfer-uneven-edges", Verdict::Pass);
    check("runout-with-reference", Verdict::Pass);
}

#[test]
fn a_trace_that_is_thinned_and_still_shows_its_lands_is_decided() {
    let record = thinned("counterbore-two-facets", 2, 1).unwrap();
    assert_eq!(record.verdict, Some(Verdict::Pass), "{:?}", record.doubts);
    let record = thinned("runout-with-reference", 4, 1).unwrap();
    assert_eq!(record.verdict, Some(Verdict::Fail), "{:?}", record.doubts);
}

#[test]
fn too_few_readings_are_undecided_with_the_pace_that_would_do() {
    for from in [0, 3, 5] {
        let record = thinned("counterbore-pass", 8, from).unwrap();
        assert_eq!(record.verdict, Some(Verdict::Undecided));
        let doubt = &record.doubts[0];
        assert_eq!(
            (doubt.kind.as_str(), doubt.fail_stands),
            ("few-readings", false)
        );
        // 50 readings a second at 18° a second, of which every eighth was left.
        assert!(doubt.cure.starts_with("turn slower: "), "{doubt:?}");
        assert!(doubt.cure.contains("at the 6.250 a second"), "{doubt:?}");
        let remedies = record
            .characteristics
            .iter()
            .filter(|one| one.remedy.is_some());
        assert_eq!(remedies.count(), 0);
    }
}

#[test]
fn clocks_that_stand_seconds_apart_are_set_against_each_other() {
    #[track_caller]
    fn check(apart_s: f64) {
        let (_bench, folder) = changed("two-clocks", |file, _, line| {
            let (time, rest) = line.split_once(',').unwrap();
            let later = if file.ends_with("reading.csv") {
                apart_s
            } else {
                0.0
            };
            Some(format!(
                "{:.6},{rest}",
                time.parse::<f64>().unwrap() + later
            ))
        });
        let record = judged(&folder).unwrap();
        assert_eq!(
            record.verdict,
            Some(Verdict::Pass),
            "{apart_s} s: {:?}",
            record.doubts
        );
    }
    for apart_s in [-9.9, -4.0, -0.7, 0.9, 3.3, 9.5] {
        check(apart_s);
    }
}

fn gauge(study: &str) -> GaugeCard {
    let text = fs::read_to_string(sample("counterbore-pass").join("gauge.toml")).unwrap();
    GaugeCard::parse(&format!("{text}\n{study}"), "gauge.toml").unwrap()
}

/// A height at which an indicator of this gain rests for 40 readings.
fn rested(nominal_mm: f64, gain: f64) -> KnownHeight {
    let at = |number: u32| {
        let trembles = 0.0004 * f64::from(number * 7 % 5) - 0.0008;
        let reading = 3.0 + gain * nominal_mm + trembles;
        (
            Time::from_s(0.02 * f64::from(number)),
            Length::from_mm(reading),
        )
    };
    KnownHeight {
        nominal: Length::from_mm(nominal_mm),
        readings: (0..40).map(at).collect(),
    }
}

#[test]
fn a_known_step_shows_the_gain_of_an_indicator() {
    #[track_caller]
    fn check(gain: f64, heights: &[f64], outcome: Outcome) {
        let heights: Vec<KnownHeight> = heights.iter().map(|at| rested(*at, gain)).collect();
        let found = step(&heights, Length::from_um(0.2), &gauge("")).unwrap();
        let off = (found.gain - gain).abs();
        assert!(off < 3.0 * found.standard_uncertainty, "{found:?}");
        assert_eq!(found.study.outcome(), Some(outcome), "{found:?}");
    }
    check(1.0, &[1.0, 2.0], Outcome::Pass);
    check(1.0, &[1.0, 1.5, 2.0], Outcome::Pass);
    check(1.27, &[1.0, 2.0], Outcome::Fail);
    check(0.98, &[1.0, 3.0], Outcome::Fail);
    // A tenth of a millimetre tells little of a millimetre.
    check(1.0, &[1.0, 1.1], Outcome::Undecided);
    let one = [rested(1.0, 1.0)];
    assert!(step(&one, Length::ZERO, &gauge("")).is_err());
}

/// The same numbers as an indicator of another gain would have read them.
fn read_with(gain: f64) -> impl FnMut(&str, usize, &str) -> Option<String> {
    move |_, _, line| {
        let (before, reading) = line.rsplit_once(',').unwrap();
        let reading: f64 = reading.parse().unwrap();
        Some(format!("{before},{:.6}", reading * gain))
    }
}

#[test]
fn a_gain_that_was_proven_is_taken_out_and_stands_in_the_budget() {
    let drop_of = |record: &Record| {
        let mut all = record.characteristics.iter();
        let drop = all.find(|one| one.name == "drop").unwrap().clone();
        (drop.value.unwrap(), drop.budget)
    };
    let (_bench, plain) = changed("counterbore-pass", read_with(1.0));
    let (_bench, wrong) = changed("counterbore-pass", read_with(0.93));
    let (truth, _) = drop_of(&judged(&plain).unwrap());
    let study = "[study.step]\ntaken = 2026-03-01T08:00:00Z\ngain = 0.93\ngain_uncertainty = 0.0004\nover_mm = 2.0\n";
    let card = wrong.join("gauge.toml");
    let text = fs::read_to_string(&card).unwrap();
    fs::write(&card, format!("{text}\n{study}")).unwrap();
    let record = judged(&wrong).unwrap();
    let (found, budget) = drop_of(&record);
    assert!((found / truth - 1.0).abs() < 0.01, "{found}, {truth}");
    assert!(
        budget
            .iter()
            .any(|line| line.quantity == "scale of the indicator")
    );
    let told = |step: &String| step.contains("divided every reading by 0.9300");
    assert!(
        record.about.history.iter().any(told),
        "{:?}",
        record.about.history
    );
    // Never proven, it is said to be taken for granted.
    let never = judged(&plain).unwrap().about.assumptions;
    assert!(
        never
            .iter()
            .any(|one| one.contains("no known step has proven it")),
        "{never:?}"
    );
}

#[test]
fn a_gain_within_the_limit_of_error_changes_no_reading() {
    let card = gauge(
        "[study.step]\ntaken = 2026-03-01T08:00:00Z\ngain = 0.9995\ngain_uncertainty = 0.0002\nover_mm = 2.0\n",
    );
    let study = card.studies.step.unwrap();
    assert_eq!(study.correction(card.indicator.max_error), None);
    assert_eq!(study.correction(Length::ZERO), Some(0.9995));
}
