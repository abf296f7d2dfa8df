//! What readings show that no card says, each with a neighbour that says nothing.
//!
//! The readings of ordinary tools are changed as a fault of gauge, encoder or clamping changes them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Record, Verdict};
use heelclear::simulator::{Scenario, built_in};
use std::path::Path;

/// A row of a trace: time, angle, reading.
type Row = [f64; 3];

/// A turn of the tool.
const TURN_DEG: f64 = 360.0;

fn rows(file: &Path, change: impl Fn(&mut Vec<Row>)) {
    let text = std::fs::read_to_string(file).unwrap();
    let is_row = |line: &&str| line.starts_with(|c: char| c.is_ascii_digit() || c == '-');
    let head: Vec<&str> = text.lines().filter(|line| !is_row(line)).collect();
    let read = |line: &str| {
        let mut fields = line.split(',').map(|field| field.parse().unwrap());
        std::array::from_fn(|_| fields.next().unwrap())
    };
    let mut rows: Vec<Row> = text.lines().filter(is_row).map(read).collect();
    change(&mut rows);
    let lines = rows
        .iter()
        .map(|[time, angle, reading]| format!("{time:.6},{angle:.4},{reading:.6}"));
    let all: Vec<String> = head.iter().map(ToString::to_string).chain(lines).collect();
    std::fs::write(file, all.join("\n") + "\n").unwrap();
}

/// Judges a tool after the traces whose file's name holds `which` were changed.
fn judged(scenario: &Scenario, which: &str, change: &dyn Fn(&mut Vec<Row>)) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    for entry in std::fs::read_dir(dir.path().join("traces")).unwrap() {
        let file = entry.unwrap().path();
        if file.display().to_string().contains(which) {
            rows(&file, change);
        }
    }
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

fn counterbore() -> Scenario {
    built_in("counterbore-pass").unwrap()
}

fn kinds(record: &Record) -> Vec<&str> {
    record.doubts.iter().map(|d| d.kind.as_str()).collect()
}

/// Checks that a change of the traces is noticed, and leaves the tool undecided.
#[track_caller]
fn check(which: &str, change: &dyn Fn(&mut Vec<Row>), kind: &str) {
    let record = judged(&counterbore(), which, change);
    assert!(kinds(&record).contains(&kind), "{:?}", record.doubts);
    assert_eq!(record.verdict, Some(Verdict::Undecided));
}

/// Checks that a change of the traces raises no doubt.
#[track_caller]
fn check_silent(which: &str, change: &dyn Fn(&mut Vec<Row>)) {
    let record = judged(&counterbore(), which, change);
    assert!(record.doubts.is_empty(), "{:?}", record.doubts);
    assert_eq!(record.verdict, Some(Verdict::Pass));
}

fn each(change: impl Fn(&mut Row)) -> impl Fn(&mut Vec<Row>) {
    move |rows| rows.iter_mut().for_each(&change)
}

/// The change from the middle of a trace on.
fn later(change: impl Fn(&mut Row)) -> impl Fn(&mut Vec<Row>) {
    move |rows| {
        let middle = rows.len() / 2;
        rows[middle..].iter_mut().for_each(&change);
    }
}

mod sign {
    use super::*;

    #[test]
    fn readings_that_shrink_where_the_plunger_goes_in_are_told() {
        check("", &each(|row| row[2] = -row[2]), "sign-reversed");
        check("seat", &each(|row| row[2] = 1.2 - row[2]), "sign-reversed");
    }

    #[track_caller]
    fn check_tool(name: &str) {
        let scenario = built_in(name).unwrap();
        let good = judged(&scenario, "", &|_| ());
        assert!(!kinds(&good).contains(&"sign-reversed"), "{name}");
        let reversed = judged(&scenario, "", &each(|row| row[2] = -row[2]));
        assert!(kinds(&reversed).contains(&"sign-reversed"), "{name}");
        assert_eq!(reversed.verdict, Some(Verdict::Undecided), "{name}");
    }

    #[test]
    fn lands_of_any_length_and_number_have_one_sign() {
        for name in [
            "single-flute-long-land",
            "twelve-flute-cutter",
            "six-flute-reamer",
            "reamer-cam-rise",
        ] {
            check_tool(name);
        }
    }
}

mod least_count {
    use super::*;

    fn in_steps(step: f64) -> impl Fn(&mut Vec<Row>) {
        each(move |row| row[2] = (row[2] / step).round() * step)
    }

    #[test]
    fn readings_in_coarser_steps_than_the_card_has_are_told() {
        for step in [0.01, 0.02, 0.05] {
            check("", &in_steps(step), "least-count");
        }
        check("seat", &in_steps(0.01), "least-count");
        check("", &in_steps(0.00254), "least-count");
    }

    #[test]
    fn the_budget_takes_the_steps_that_are_there() {
        let record = judged(&counterbore(), "", &in_steps(0.01));
        let line = record
            .characteristics
            .iter()
            .flat_map(|figure| &figure.budget)
            .filter(|line| line.quantity.contains("resolution"));
        let widest = line.map(|line| line.contribution.abs()).fold(0.0, f64::max);
        // A step of 10 µm is a rectangular distribution of 2.9 µm.
        assert!(widest > 0.0005, "{widest}");
    }

    #[test]
    fn readings_in_steps_of_the_card_are_no_doubt() {
        check_silent("", &in_steps(0.001));
    }
}

mod turns {
    use super::*;

    #[test]
    fn counts_that_were_lost_are_told() {
        check("seat", &later(|row| row[1] += 0.5), "counts-lost");
    }

    #[test]
    fn a_stand_that_moved_is_told() {
        check("seat", &later(|row| row[2] += 0.012), "turns-disagree");
    }

    #[test]
    fn a_drift_is_told() {
        check(
            "seat",
            &each(|row| row[2] += 0.001 * row[0]),
            "turns-disagree",
        );
    }

    #[test]
    fn what_the_indicator_hides_is_no_doubt() {
        check_silent("seat", &later(|row| row[2] += 0.001));
    }
}

mod play {
    use super::*;

    /// The same turns again the other way, with so much more read while the plunger comes out.
    fn both_ways(play_mm: f64) -> impl Fn(&mut Vec<Row>) {
        move |rows| {
            let surface = rows.clone();
            let last = surface.len() - 1;
            let rises = |at: usize| {
                let (before, after) = (at.saturating_sub(3), (at + 3).min(last));
                surface[after][2] - surface[before][2]
            };
            let ended = surface[last][0];
            for (at, row) in rows.iter_mut().enumerate() {
                if rises(at) < 0.0 {
                    row[2] += play_mm;
                }
            }
            let back = surface.iter().enumerate().rev().map(|(at, row)| {
                let out = rises(at) > 0.0;
                let reading = row[2] + if out { play_mm } else { 0.0 };
                [2.0 * ended - row[0] + 0.02, row[1], reading]
            });
            rows.extend(back);
        }
    }

    #[test]
    fn play_within_the_card_is_no_doubt() {
        let record = judged(&counterbore(), "seat", &both_ways(0.0005));
        assert!(
            !kinds(&record).contains(&"more-play"),
            "{:?}",
            record.doubts
        );
    }
}

mod stop {
    use super::*;

    #[test]
    fn a_reference_that_breaks_off_is_told() {
        check("shank", &clipped(0.5), "plunger-stop");
        check("shank", &clipped(0.3), "plunger-stop");
    }

    /// All readings above this share of their range stand still.
    fn clipped(share: f64) -> impl Fn(&mut Vec<Row>) {
        move |rows| {
            let of = |pick: fn(f64, f64) -> f64, from| rows.iter().map(|r| r[2]).fold(from, pick);
            let (low, high) = (of(f64::min, f64::MAX), of(f64::max, f64::MIN));
            let level = low + share * (high - low);
            rows.iter_mut().for_each(|row| row[2] = row[2].min(level));
        }
    }

    #[test]
    fn edges_that_break_off_are_told() {
        let cut = |rows: &mut Vec<Row>| {
            let high = rows.iter().map(|row| row[2]).fold(f64::MIN, f64::max);
            rows.iter_mut()
                .for_each(|row| row[2] = row[2].min(high - 0.03));
        };
        check("seat", &cut, "plunger-stop");
    }

    #[test]
    fn the_bottom_of_a_gap_may_stand_still() {
        let cut = |rows: &mut Vec<Row>| {
            let high = rows.iter().map(|row| row[2]).fold(f64::MIN, f64::max);
            rows.iter_mut()
                .for_each(|row| row[2] = row[2].max(high - 1.2));
        };
        check_silent("seat", &cut);
    }
}

mod specks {
    use super::*;

    /// Lifts the readings of one turn between two angles behind the first edge.
    fn speck(rows: &mut [Row], edge: f64, turn: f64, from: f64, to: f64) {
        let began = rows[0][1];
        let first = edge + ((began - edge) / TURN_DEG).ceil() * TURN_DEG;
        let at = first + turn * TURN_DEG;
        let top = rows.iter().map(|row| row[2]).fold(f64::MIN, f64::max);
        for row in rows.iter_mut() {
            if (at + from..at + to).contains(&row[1]) {
                row[2] = top + 0.03;
            }
        }
    }

    fn with(specks: &'static [(f64, f64, f64)]) -> Record {
        let edge = judged(&counterbore(), "", &|_| ()).flutes[0].edge_deg;
        judged(&counterbore(), "seat", &move |rows: &mut Vec<Row>| {
            for (turn, from, to) in specks {
                speck(rows, edge, *turn, *from, *to);
            }
        })
    }

    #[test]
    fn what_is_let_off_is_named() {
        let record = with(&[(0.0, 6.0, 7.2)]);
        assert_eq!(record.verdict, Some(Verdict::Pass), "{:?}", record.doubts);
        let told = record.warnings.join("\n");
        assert!(told.contains("readings of turn 1 up to "), "{told}");
        assert!(told.contains("flute 1"), "{told}");
    }

    #[test]
    fn a_good_trace_names_none() {
        let record = judged(&counterbore(), "", &|_| ());
        let told = record.warnings.join("\n");
        assert!(!told.contains("speck"), "{told}");
    }

    #[test]
    fn specks_of_two_turns_behind_one_edge_may_be_one_burr_that_bends() {
        let record = with(&[(0.0, 6.0, 7.2), (1.0, 9.0, 10.2)]);
        assert!(kinds(&record).contains(&"stands-above-edge"));
        assert_eq!(
            record.verdict,
            Some(Verdict::Undecided),
            "{:?}",
            record.doubts
        );
    }
}

mod taken_for_granted {
    use super::*;

    #[test]
    fn what_one_way_of_turning_cannot_show_is_listed() {
        let record = judged(&counterbore(), "", &|_| ());
        let listed = record.about.assumptions.join("\n");
        assert!(listed.contains("neither hops nor hangs"), "{listed}");
    }
}

mod back_taper {
    use super::*;

    fn tapered() -> Scenario {
        let mut scenario = counterbore();
        scenario.feature[0].z_mm = vec![2.0, 14.0];
        scenario.feature[0].back_taper_deg = 0.5;
        let limit = toml::toml! { min = 0.25 max = 0.75 };
        let limits = &mut scenario.feature[0].limits;
        limits.insert("back_taper_deg".to_owned(), limit.into());
        scenario
    }

    #[track_caller]
    fn check(change: &dyn Fn(&mut Vec<Row>), expected: Verdict) {
        // The second trace alone: what is said of it holds for the taper.
        let record = judged(&tapered(), "seat-2", change);
        let figures = record.characteristics.iter();
        let tapers: Vec<_> = figures.filter(|c| c.name == "back-taper").collect();
        assert!(!tapers.is_empty());
        for taper in tapers {
            assert_eq!(taper.verdict, Some(expected), "{}", taper.why);
        }
    }

    #[test]
    fn a_doubt_about_one_of_its_traces_is_one_about_the_taper() {
        check(&later(|row| row[1] += 0.5), Verdict::Undecided);
        check(&each(|row| row[2] = -row[2]), Verdict::Undecided);
    }

    #[test]
    fn without_a_doubt_it_is_judged() {
        check(&|_| (), Verdict::Pass);
    }
}
