//! What stands above an edge forbids a pass, however narrow it is and wherever it lies.
//!
//! Burrs are laid into the readings of an ordinary tool: a ball of radius `p` that passes a point
//! stands `x^2 / 2p` lower at a distance `x` from it (to second order; plane geometry).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::gauge::simulated::built_in;
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Record, Verdict};
use std::path::Path;

const RADIUS_MM: f64 = 10.0;
const BALL_MM: f64 = 1.0;

/// A row of a trace: time, angle, reading.
type Row = [f64; 3];

/// Judges the ordinary counterbore after its readings and its tool card were changed.
fn judged(change: impl Fn(&mut Vec<Row>, &Record), land: Option<f64>) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(&built_in("counterbore-pass").unwrap(), dir.path()).unwrap();
    let good = verify(&Folder::open(dir.path()).unwrap()).unwrap();
    change_rows(&dir.path().join("traces/seat.csv"), |rows| {
        change(rows, &good);
    });
    if let Some(land) = land {
        let card = dir.path().join("tool.toml");
        let text = std::fs::read_to_string(&card).unwrap();
        let stated = format!("check_distance_mm = 0.5\nland_deg = {land}");
        std::fs::write(&card, text.replace("check_distance_mm = 0.5", &stated)).unwrap();
    }
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

fn change_rows(file: &Path, change: impl Fn(&mut Vec<Row>)) {
    let text = std::fs::read_to_string(file).unwrap();
    let is_row = |line: &&str| line.starts_with(|c: char| c.is_ascii_digit() || c == '-');
    let head: Vec<&str> = text.lines().filter(|line| !is_row(line)).collect();
    let mut rows: Vec<Row> = text
        .lines()
        .filter(is_row)
        .map(|line| {
            let mut fields = line.split(',').map(|field| field.parse().unwrap());
            std::array::from_fn(|_| fields.next().unwrap())
        })
        .collect();
    change(&mut rows);
    let lines = rows
        .iter()
        .map(|[time, angle, reading]| format!("{time:.6},{angle:.4},{reading:.6}"));
    let all: Vec<String> = head.iter().map(ToString::to_string).chain(lines).collect();
    std::fs::write(file, all.join("\n") + "\n").unwrap();
}

/// Keeps a row only where the tool turned by so much since the last one.
fn thin(rows: &mut Vec<Row>, step_deg: f64) {
    let mut last = f64::NEG_INFINITY;
    rows.retain(|[_, angle, _]| {
        let kept = angle - last >= step_deg;
        if kept {
            last = *angle;
        }
        kept
    });
}

/// Lays a burr into the readings, `high` above the highest of them and `behind` the first edge.
fn burr(rows: &mut [Row], good: &Record, behind_deg: f64, high_mm: f64) {
    let at = good.flutes[0].edge_deg + behind_deg;
    let top = rows.iter().map(|row| row[2]).fold(f64::MIN, f64::max) + high_mm;
    for [_, angle, reading] in rows {
        let apart = (*angle - at + 180.0).rem_euclid(360.0) - 180.0;
        let across = apart.to_radians() * RADIUS_MM;
        if across.abs() < 0.8 * BALL_MM {
            *reading = reading.max(top - across * across / (2.0 * BALL_MM));
        }
    }
}

fn clearance(record: &Record) -> Option<Verdict> {
    let of_first =
        |c: &&heelclear::record::Characteristic| c.name == "heel-clearance" && c.flute == Some(1);
    record.characteristics.iter().find(of_first)?.verdict
}

fn is_doubted(record: &Record) -> bool {
    let mut doubts = record.doubts.iter();
    doubts.any(|doubt| doubt.kind == "stands-above-edge" && doubt.flute == Some(1))
}

#[track_caller]
fn check_burr(step_deg: f64, behind_deg: f64, land: Option<f64>) {
    let record = judged(
        |rows, good| {
            thin(rows, step_deg);
            burr(rows, good, behind_deg, 0.02);
        },
        land,
    );
    assert_ne!(
        clearance(&record),
        Some(Verdict::Pass),
        "{:?}",
        record.doubts
    );
}

#[test]
fn a_burr_narrower_than_the_steps_of_a_turn_does_not_pass() {
    for step in [0.5, 1.0, 1.4] {
        check_burr(step, 7.0, None);
    }
}

#[test]
fn a_burr_behind_the_land_of_the_card_does_not_pass() {
    check_burr(1.0, 10.5, Some(8.0));
}

/// Lifts one reading 30 µm above all others, 7° behind the first edge, in a trace up to `turns`.
fn speck(turns: f64) -> Record {
    judged(
        |rows, good| {
            let began = rows[0][1];
            rows.retain(|[_, angle, _]| angle - began < turns * 360.0);
            let at = good.flutes[0].edge_deg + 7.0;
            let top = rows.iter().map(|row| row[2]).fold(f64::MIN, f64::max);
            let mut behind = rows.iter_mut().skip_while(|row| row[1] < at);
            behind.next().unwrap()[2] = top + 0.03;
        },
        None,
    )
}

#[test]
fn a_speck_that_other_turns_do_not_show_is_no_burr() {
    let record = speck(10.0);
    assert!(!is_doubted(&record), "{:?}", record.doubts);
    assert_eq!(clearance(&record), Some(Verdict::Pass));
}

#[test]
fn a_speck_in_the_only_turn_may_be_a_burr() {
    let record = speck(1.01);
    assert!(is_doubted(&record), "{:?}", record.doubts);
    assert_ne!(clearance(&record), Some(Verdict::Pass));
}
