//! The whole chain, from an inspection folder to its verdict, on simulated tools whose truth is
//! known. The simulator rests a ball on a cloud of points and shares no geometry with the judge.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use crate::truth::Truths;
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record, Verdict};
use heelclear::simulator::{Scenario, Tip, Turning, built_in};
use std::path::Path;

/// A figure may be off its truth by this many of its standard uncertainties; with some thousand
/// figures looked at, more than four would not be chance.
const FURTHEST: f64 = 4.0;

fn judged(scenario: &Scenario) -> Record {
    judged_after(scenario, |_| {})
}

/// Judges a simulated inspection whose folder was changed before.
fn judged_after(scenario: &Scenario, change: impl Fn(&Path)) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    change(dir.path());
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

fn recipe(name: &str) -> Scenario {
    built_in(name).unwrap()
}

#[track_caller]
fn check(name: &str, expected: Verdict) {
    let record = judged(&recipe(name));
    assert_eq!(
        record.verdict,
        Some(expected),
        "{name}: {:#?}",
        undone(&record)
    );
}

/// What does not pass, for a message.
fn undone(record: &Record) -> Vec<(&str, Option<u32>, Option<f64>, &str)> {
    let not_passed = |c: &&Characteristic| c.verdict.is_some_and(|v| v != Verdict::Pass);
    let all = record.characteristics.iter().filter(not_passed);
    all.map(|c| (c.name.as_str(), c.flute, c.value, c.why.as_str()))
        .collect()
}

fn figure<'a>(record: &'a Record, name: &str, flute: Option<u32>) -> &'a Characteristic {
    let mut found = record.characteristics.iter();
    found
        .find(|c| c.name == name && c.flute == flute)
        .unwrap_or_else(|| panic!("there is no {name} of flute {flute:?}"))
}

#[test]
fn each_recipe_gets_the_verdict_that_its_truth_deserves() {
    check("counterbore-pass", Verdict::Pass);
    check("counterbore-heel-drag", Verdict::Fail);
    check("counterbore-no-reference", Verdict::Undecided);
    check("reamer-cam-rise", Verdict::Fail);
    check("chamfer-uneven-edges", Verdict::Fail);
    check("runout-as-relief", Verdict::Undecided);
    check("runout-with-reference", Verdict::Fail);
    check("shank-with-flats", Verdict::Pass);
    check("end-face-feed", Verdict::Pass);
    check("inch-counterbore", Verdict::Pass);
    check("single-flute-long-land", Verdict::Pass);
    check("twelve-flute-cutter", Verdict::Fail);
    check("two-clocks", Verdict::Pass);
    check("six-flute-reamer", Verdict::Pass);
    check("counterbore-two-facets", Verdict::Pass);
}

#[track_caller]
fn check_truth(name: &str, seed: u64) {
    check_truth_of(
        name,
        &Scenario {
            seed,
            ..recipe(name)
        },
    );
}

#[track_caller]
fn check_truth_of(name: &str, scenario: &Scenario) {
    let seed = scenario.seed;
    let record = judged(scenario);
    let truths = Truths::of(scenario);
    let mut looked_at = 0;
    for c in &record.characteristics {
        let (Some(value), Some(u)) = (c.value, c.standard_uncertainty) else {
            continue;
        };
        if let Some(expected) = truths.value(c, &record) {
            looked_at += 1;
            assert!(
                (value - expected).abs() <= FURTHEST * u,
                "{name}, seed {seed}, {} of flute {:?}: {value} ± {u}, true is {expected}",
                c.name,
                c.flute
            );
        }
    }
    assert!(
        looked_at > 4,
        "{name}: only {looked_at} figures had a truth"
    );
}

#[test]
fn the_truth_lies_where_the_uncertainty_says() {
    for name in [
        "counterbore-pass",
        "counterbore-heel-drag",
        "reamer-cam-rise",
        "chamfer-uneven-edges",
        "runout-with-reference",
        "shank-with-flats",
        "end-face-feed",
        "inch-counterbore",
        "single-flute-long-land",
        "twelve-flute-cutter",
        "two-clocks",
        "six-flute-reamer",
        "counterbore-two-facets",
    ] {
        for seed in [1, 2, 3] {
            check_truth(name, seed);
        }
    }
}

/// The ordinary counterbore on another bench.
#[track_caller]
fn check_bench(change: impl Fn(&mut Scenario)) {
    for seed in [1, 2] {
        let mut scenario = Scenario {
            seed,
            ..recipe("counterbore-pass")
        };
        change(&mut scenario);
        check_truth_of("counterbore-pass, changed", &scenario);
    }
}

#[test]
fn the_truth_is_found_under_a_small_ball() {
    check_bench(|scenario| {
        scenario.gauge.radius_mm = 0.25;
        scenario.hand.speed_deg_per_s = 6.0;
    });
}

#[test]
fn the_truth_is_found_under_a_large_ball() {
    check_bench(|scenario| scenario.gauge.radius_mm = 2.0);
}

#[test]
fn the_truth_is_found_under_a_small_ball_turned_too_fast_to_see_it_roll() {
    check_bench(|scenario| {
        scenario.gauge.radius_mm = 0.2;
        scenario.hand.speed_deg_per_s = 30.0;
    });
}

#[test]
fn the_truth_is_found_under_a_point() {
    check_bench(|scenario| {
        scenario.gauge.stylus = Tip::Point;
        scenario.gauge.radius_mm = 0.0;
        scenario.hand.speed_deg_per_s = 8.0;
    });
}

#[test]
fn the_truth_is_found_under_a_flat() {
    check_bench(|scenario| {
        scenario.gauge.stylus = Tip::Flat;
        scenario.gauge.radius_mm = 0.4;
        scenario.hand.speed_deg_per_s = 8.0;
    });
}

#[test]
fn the_truth_is_found_in_noise() {
    check_bench(|scenario| scenario.bench.noise_mm = 0.004);
}

#[test]
fn the_truth_is_found_with_a_coarse_indicator() {
    check_bench(|scenario| {
        scenario.gauge.resolution_mm = 0.01;
        scenario.gauge.max_error_mm = 0.01;
    });
}

#[test]
fn the_truth_is_found_with_a_coarse_encoder() {
    check_bench(|scenario| scenario.gauge.counts_per_rev = 720);
}

#[test]
fn the_truth_is_found_through_spikes_pauses_and_nudges() {
    check_bench(|scenario| {
        scenario.bench.spikes_per_1000 = 4.0;
        scenario.hand.pauses_per_turn = 3.0;
        scenario.hand.nudges_per_turn = 3.0;
        scenario.hand.unevenness = 0.5;
    });
}

#[test]
fn the_truth_is_found_turning_backwards_and_both_ways() {
    check_bench(|scenario| scenario.hand.turning = Turning::Backing);
    check_bench(|scenario| scenario.hand.turning = Turning::Both);
}

#[test]
fn the_truth_is_found_with_a_probe_beside_the_axis() {
    check_bench(|scenario| {
        scenario.gauge.probe_offset_mm = 0.4;
        scenario.gauge.probe_offset_tolerance_mm = 0.05;
    });
}

#[test]
fn the_truth_is_found_with_a_lever() {
    check_bench(|scenario| scenario.gauge.lever_angle_deg = 12.0);
}

#[test]
fn the_truth_is_found_far_off_centre() {
    check_bench(|scenario| scenario.clamping.eccentricity_mm = 0.15);
}

#[test]
fn a_tool_without_relief_clamped_off_centre_never_passes() {
    for name in ["runout-as-relief", "runout-with-reference"] {
        for seed in 1..6 {
            let record = judged(&Scenario {
                seed,
                ..recipe(name)
            });
            assert_ne!(record.verdict, Some(Verdict::Pass), "{name}, seed {seed}");
        }
    }
}

#[test]
fn without_knowledge_of_the_runout_every_judged_figure_is_undecided() {
    let record = judged(&recipe("counterbore-no-reference"));
    for c in &record.characteristics {
        assert!(
            matches!(c.verdict, None | Some(Verdict::Undecided)),
            "{} is {:?}",
            c.name,
            c.verdict
        );
        assert_eq!(c.standard_uncertainty, None, "{}", c.name);
    }
}

/// Rewrites one trace of a folder, line by line; `None` drops the line.
fn rewrite(dir: &Path, trace: &str, line: impl Fn(f64, f64, f64) -> Option<(f64, f64, f64)>) {
    let file = dir.join("traces").join(trace);
    let text = std::fs::read_to_string(&file).unwrap();
    let mut lines = text.lines();
    let mut changed = format!("{}\n", lines.next().unwrap());
    for row in lines {
        let numbers: Vec<f64> = row.split(',').map(|field| field.parse().unwrap()).collect();
        if let Some((time, angle, reading)) = line(numbers[0], numbers[1], numbers[2]) {
            changed += &format!("{time:.6},{angle:.4},{reading:.6}\n");
        }
    }
    std::fs::write(file, changed).unwrap();
}

#[test]
fn a_hole_where_the_heel_could_stand_leaves_the_clearance_undecided() {
    let scenario = recipe("counterbore-pass");
    let whole = judged(&scenario);
    let heel = whole.flutes[0].edge_deg + whole.flutes[0].land_deg;
    let holed = judged_after(&scenario, |dir| {
        rewrite(dir, "seat.csv", |time, angle, reading| {
            let behind = (angle - heel + 3.0).rem_euclid(360.0);
            (behind > 6.0).then_some((time, angle, reading))
        });
    });
    let figure = figure(&holed, "heel-clearance", Some(1));
    assert_eq!(figure.verdict, Some(Verdict::Undecided), "{}", figure.why);
}

#[test]
fn a_hole_does_not_turn_a_fail_into_undecided() {
    let scenario = recipe("counterbore-heel-drag");
    let whole = judged(&scenario);
    let hole = whole.flutes[0].edge_deg + 6.0;
    let holed = judged_after(&scenario, |dir| {
        rewrite(dir, "seat.csv", |time, angle, reading| {
            let behind = (angle - hole).rem_euclid(360.0);
            (behind > 2.5).then_some((time, angle, reading))
        });
    });
    let figure = figure(&holed, "heel-clearance", Some(1));
    assert_eq!(figure.verdict, Some(Verdict::Fail), "{}", figure.why);
}

/// All values of a record, for comparing two ways of saying the same.
type Figure = (String, Option<u32>, Option<f64>, Option<Verdict>);

fn values(record: &Record) -> Vec<Figure> {
    let each = record.characteristics.iter();
    each.map(|c| (c.name.clone(), c.flute, c.value, c.verdict))
        .collect()
}

#[track_caller]
fn check_same(one: &Record, other: &Record, tolerance: f64) {
    for (a, b) in values(one).iter().zip(&values(other)) {
        assert_eq!((&a.0, a.1, a.3), (&b.0, b.1, b.3));
        match (a.2, b.2) {
            (Some(x), Some(y)) => assert!((x - y).abs() <= tolerance, "{}: {x} and {y}", a.0),
            (x, y) => assert_eq!(x, y),
        }
    }
}

#[test]
fn wrapped_angles_tell_the_same_as_continuous_ones() {
    let scenario = recipe("counterbore-pass");
    let wrapped = judged_after(&scenario, |dir| {
        for trace in ["seat.csv", "shank.csv"] {
            rewrite(dir, trace, |time, angle, reading| {
                Some((time, angle.rem_euclid(360.0), reading))
            });
        }
    });
    check_same(&judged(&scenario), &wrapped, 1e-7);
}

#[test]
fn an_encoder_that_counts_the_other_way_tells_the_same() {
    let scenario = recipe("counterbore-pass");
    let backing = judged_after(&scenario, |dir| {
        for trace in ["seat.csv", "shank.csv"] {
            rewrite(dir, trace, |time, angle, reading| {
                Some((time, -angle, reading))
            });
        }
        let card = dir.join("gauge.toml");
        let text = std::fs::read_to_string(&card).unwrap();
        let turned = text.replace("\"clockwise\"", "\"counter-clockwise\"");
        assert_ne!(text, turned);
        std::fs::write(card, turned).unwrap();
    });
    check_same(&judged(&scenario), &backing, 1e-6);
}

#[test]
fn readings_in_micrometres_tell_the_same() {
    let scenario = recipe("counterbore-pass");
    let micrometres = judged_after(&scenario, |dir| {
        rewrite(dir, "seat.csv", |time, angle, reading| {
            Some((time, angle, reading * 1000.0))
        });
        let file = dir.join("traces/seat.csv");
        let text = std::fs::read_to_string(&file).unwrap();
        std::fs::write(file, text.replace("reading_mm", "reading_um")).unwrap();
    });
    check_same(&judged(&scenario), &micrometres, 1e-9);
}

#[test]
fn a_worse_indicator_never_turns_anything_into_a_pass() {
    for name in ["counterbore-pass", "reamer-cam-rise", "twelve-flute-cutter"] {
        let scenario = recipe(name);
        let before = judged(&scenario);
        for limit_of_error in ["0.008", "0.030", "0.200"] {
            let after = judged_after(&scenario, |dir| {
                let card = dir.join("gauge.toml");
                let text = std::fs::read_to_string(&card).unwrap();
                let worse = text.replace(
                    "max_error_mm = 0.002",
                    &format!("max_error_mm = {limit_of_error}"),
                );
                assert_ne!(text, worse);
                std::fs::write(card, worse).unwrap();
            });
            for (a, b) in before.characteristics.iter().zip(&after.characteristics) {
                assert!(
                    b.verdict != Some(Verdict::Pass) || a.verdict == Some(Verdict::Pass),
                    "{name}, {} of flute {:?} became a pass at {limit_of_error}",
                    a.name,
                    a.flute
                );
                if let (Some(u), Some(wider)) = (a.standard_uncertainty, b.standard_uncertainty) {
                    // What is never below 0 is drawn from a part of a distribution, and trials
                    // leave some chance.
                    assert!(
                        wider >= u * 0.9,
                        "{name}, {}: {u} shrank to {wider}",
                        a.name
                    );
                }
            }
        }
    }
}

#[test]
fn a_record_saved_and_read_back_is_the_same() {
    let record = judged(&recipe("counterbore-pass"));
    let text = record.to_json().unwrap();
    let again = Record::from_json(&text, "verdict.json").unwrap();
    assert_eq!(again, record);
    assert_eq!(again.to_json().unwrap(), text);
}

#[test]
fn a_burr_on_the_land_is_told_beside_its_clearance() {
    let scenario = recipe("shank-with-flats");
    let whole = judged(&scenario);
    let burr = whole.flutes[0].edge_deg + 20.0;
    let record = judged_after(&scenario, |dir| {
        rewrite(dir, "seat.csv", |time, angle, reading| {
            let from_top = (angle - burr + 180.0).rem_euclid(360.0) - 180.0;
            // A ball over a burr draws an arc, not a spike.
            let raised = 0.45 * (1.0 - (from_top / 3.0).powi(2)).max(0.0);
            Some((time, angle, reading + raised))
        });
    });
    let told = record.warnings.iter().any(|w| w.contains("burr"));
    let clearance = figure(&record, "heel-clearance", Some(1));
    assert!(
        told || clearance.verdict == Some(Verdict::Fail),
        "{:?} {clearance:?}",
        record.warnings
    );
    let before = figure(&whole, "heel-clearance", Some(1)).value.unwrap();
    assert!(clearance.value.unwrap() < before - 0.03, "{clearance:?}");
}

#[test]
fn a_burr_of_a_few_tenths_lowers_the_clearance_to_where_it_stands() {
    // 0.3 mm wide and 9 µm below the edge, half way along a land that lies deep there.
    const HALF_WIDTH_MM: f64 = 0.15;
    const BELOW_EDGE_MM: f64 = 0.009;
    const BALL_MM: f64 = 0.25;
    const RADIUS_MM: f64 = 10.0;
    let mut scenario = recipe("counterbore-pass");
    scenario.gauge.radius_mm = BALL_MM;
    // Slowly enough for a ball this small to be seen rolling over the edge.
    scenario.hand.speed_deg_per_s = 6.0;
    scenario.clamping.eccentricity_mm = 0.0;
    let whole = judged(&scenario);
    let clear = figure(&whole, "heel-clearance", Some(1)).value.unwrap();
    assert!(clear > 0.03, "{clear}");
    let burr = whole.flutes[0].edge_deg + whole.flutes[0].land_deg / 2.0;
    let record = judged_after(&scenario, |dir| {
        // Flute 1 has the highest edge, and nothing swings: the highest reading is its edge's.
        let edge = std::cell::Cell::new(f64::MIN);
        rewrite(dir, "seat.csv", |time, angle, reading| {
            edge.set(edge.get().max(reading));
            Some((time, angle, reading))
        });
        rewrite(dir, "seat.csv", |time, angle, reading| {
            let from_top = (angle - burr + 180.0).rem_euclid(360.0) - 180.0;
            // The ball rides along the top and rolls over its corners.
            let beside = from_top.to_radians().abs() * RADIUS_MM - HALF_WIDTH_MM;
            let under = BALL_MM - (BALL_MM.powi(2) - beside.max(0.0).powi(2)).sqrt();
            let on_burr = edge.get() - BELOW_EDGE_MM - under;
            // Too far off, the root is not a number and the land stays as it was.
            Some((time, angle, reading.max(on_burr)))
        });
    });
    let burred = figure(&record, "heel-clearance", Some(1));
    let (value, u) = (burred.value.unwrap(), burred.standard_uncertainty.unwrap());
    // The sides of the burr, seen by a few readings each, may make it look some µm higher.
    let off = value - BELOW_EDGE_MM;
    assert!(off < 2.0 * u && off > -0.005, "{burred:?}");
    let land = record.flutes[0].land_deg;
    assert!((land - whole.flutes[0].land_deg).abs() < 0.2, "{land}");
    assert!(u < 0.003, "{burred:?}");
    assert_ne!(burred.verdict, Some(Verdict::Pass), "{burred:?}");
}

#[test]
fn an_undecided_gets_the_width_it_was_promised() {
    let mut scenario = recipe("counterbore-pass");
    scenario.bench.noise_mm = 0.006;
    // With more turns another family could be told from this one, and bring its own uncertainty.
    scenario.feature[0].curve = Some("flat".to_owned());
    let relief = |scenario: &Scenario| {
        let record = judged(scenario);
        figure(&record, "relief-angle", Some(1)).clone()
    };
    let open = relief(&scenario);
    let least = open.value.unwrap() - open.standard_uncertainty.unwrap();
    let limit = toml::Table::from_iter([("min".to_owned(), least.into())]);
    let limits = &mut scenario.feature[0].limits;
    limits.insert("relief_angle_deg".to_owned(), limit.into());
    let open = relief(&scenario);
    assert_eq!(open.verdict, Some(Verdict::Undecided), "{open:?}");
    assert!(open.why.contains("four times the turns"), "{}", open.why);
    let (_, promised) = open.why.split_once("° to ± ").unwrap();
    let promised: f64 = promised.split_once('°').unwrap().0.parse().unwrap();
    scenario.hand.turns *= 4.0;
    let [low, high] = relief(&scenario).interval.unwrap();
    let got = (high - low) / 2.0;
    // Chance moves what chance is estimated to be.
    assert!((got / promised - 1.0).abs() < 0.3, "{got}, {}", open.why);
}
