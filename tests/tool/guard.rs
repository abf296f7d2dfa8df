//! What stands above an edge forbids a pass, however narrow it is and wherever it lies.
//!
//! Burrs are laid into the readings of an ordinary tool: a ball of radius `p` that passes a point
//! stands `x^2 / 2p` lower at a distance `x` from it (to second order; plane geometry).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Record, Verdict, WouldShow};
use heelclear::simulator::built_in;
use std::path::Path;

const RADIUS_MM: f64 = 10.0;
const BALL_MM: f64 = 1.0;

/// A row of a trace: time, angle, reading.
type Row = [f64; 3];

/// Judges the ordinary counterbore after its readings and its tool card were changed.
fn judged(change: impl Fn(&mut Vec<Row>, &Record), land: Option<f64>) -> Record {
    judged_by(change, land, 4000)
}

/// The same with an encoder of so many counts a turn.
fn judged_by(
    change: impl Fn(&mut Vec<Row>, &Record),
    land: Option<f64>,
    counts_per_rev: u32,
) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(&built_in("counterbore-pass").unwrap(), dir.path()).unwrap();
    let good = verify(&Folder::open(dir.path()).unwrap()).unwrap();
    change_rows(&dir.path().join("traces/seat.csv"), |rows| {
        change(rows, &good);
    });
    let gauge = dir.path().join("gauge.toml");
    let text = std::fs::read_to_string(&gauge).unwrap();
    let stated = format!("counts_per_rev = {counts_per_rev}");
    std::fs::write(&gauge, text.replace("counts_per_rev = 4000", &stated)).unwrap();
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

/// Lays a burr into the readings, `high` above the highest near the first edge and `behind` it.
fn burr_on_edge(rows: &mut [Row], good: &Record, behind_deg: f64, high_mm: f64) {
    let edge = good.flutes[0].edge_deg;
    let near = rows.iter().filter(|row| {
        let apart = (row[1] - edge + 180.0).rem_euclid(360.0) - 180.0;
        apart.abs() < 5.0
    });
    let top = near.map(|row| row[2]).fold(f64::MIN, f64::max) + high_mm;
    burr_up_to(rows, edge + behind_deg, top);
}

/// Lays a burr into the readings, `high` above the highest of them and `behind` the first edge.
fn burr(rows: &mut [Row], good: &Record, behind_deg: f64, high_mm: f64) {
    let at = good.flutes[0].edge_deg + behind_deg;
    let top = rows.iter().map(|row| row[2]).fold(f64::MIN, f64::max) + high_mm;
    burr_up_to(rows, at, top);
}

/// A point whose reading is `top`, and what the ball reads beside it.
fn burr_up_to(rows: &mut [Row], at: f64, top: f64) {
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
fn a_burr_under_an_encoder_of_few_counts_does_not_pass() {
    // On a land of 8° a count of 0.9° is 20 µm, which is no scatter of heights.
    const COUNTS: u32 = 400;
    let by_counts = |rows: &mut Vec<Row>| {
        let count = 360.0 / f64::from(COUNTS);
        for row in rows {
            row[1] = (row[1] / count).floor() * count;
        }
    };
    let good = judged_by(|rows, _| by_counts(rows), None, COUNTS);
    assert!(!is_doubted(&good), "{:?}", good.doubts);
    let record = judged_by(
        |rows, good| {
            burr_on_edge(rows, good, 7.1, 0.012);
            by_counts(rows);
        },
        None,
        COUNTS,
    );
    assert_ne!(clearance(&record), Some(Verdict::Pass), "{record:?}");
}

#[test]
fn a_burr_behind_the_land_of_the_card_does_not_pass() {
    check_burr(1.0, 10.5, Some(8.0));
}

/// Reads the same surface anew in so many turns, `step_deg` from reading to reading: each turn begins
/// later than the one before by an equal part of a step.
fn turned(rows: &mut Vec<Row>, turns: u32, step_deg: f64) {
    let mut known: Vec<(f64, f64)> = rows
        .iter()
        .map(|r| (r[1].rem_euclid(360.0), r[2]))
        .collect();
    known.sort_by(|a, b| a.0.total_cmp(&b.0));
    let read = |angle: f64| {
        let at = known.partition_point(|known| known.0 < angle.rem_euclid(360.0));
        known[at % known.len()].1
    };
    // The last reading of a turn and the first of the next lie a step and its part apart.
    let along = step_deg + step_deg / f64::from(turns) / (360.0 / step_deg);
    let count = (360.0 / step_deg).round() as u32 * turns;
    *rows = (0..count)
        .map(|number| {
            let angle = f64::from(number) * along;
            [f64::from(number) * 0.02, angle, read(angle)]
        })
        .collect();
}

fn would_show(turns: u32, step_deg: f64) -> WouldShow {
    let record = judged(|rows, _| turned(rows, turns, step_deg), None);
    record.features[0].would_show.unwrap()
}

/// An encoder of 4000 counts: two readings are uncertain by one of them.
const COUNT_DEG: f64 = 0.09;

#[track_caller]
fn check_would_show(turns: u32, step_deg: f64) {
    let shown = would_show(turns, step_deg);
    let apart = (step_deg / f64::from(turns) + COUNT_DEG).to_radians() * RADIUS_MM;
    // The surface is turned about the tool's axis, and each turn is drawn out by its part of a step.
    assert!(
        (shown.apart_mm / apart - 1.0).abs() < 0.01,
        "{shown:?}, not {apart}"
    );
    assert_eq!(shown.burr_mm, shown.apart_mm);
    // Between two readings a ball hides the sagitta of their chord, and what the round falls by.
    let (half, ball) = (apart / 2.0, BALL_MM);
    let hidden = half * half / (2.0 * ball) + half * half / (2.0 * RADIUS_MM);
    let any = shown.any_burr_height_mm.unwrap() - shown.burr_height_mm;
    assert!((any / hidden - 1.0).abs() < 0.05, "{shown:?}, not {hidden}");
}

#[test]
fn a_burr_shows_that_is_as_wide_as_readings_of_all_turns_lie_apart() {
    check_would_show(1, 1.0);
    check_would_show(2, 1.0);
    check_would_show(4, 1.0);
    check_would_show(4, 2.0);
}

#[test]
fn of_a_feature_it_is_told_in_a_line() {
    let record = judged(|_, _| (), None);
    let told = "would have shown: a burr of ";
    let text = heelclear::report::text(&record, heelclear::report::TextStyle::default());
    assert!(text.contains(told), "{text}");
    let page = heelclear::report::svg(&record).unwrap();
    assert!(page.contains(told), "{page}");
    // A record of an earlier program does not say it.
    let mut earlier = record;
    earlier.features[0].would_show = None;
    let text = heelclear::report::text(&earlier, heelclear::report::TextStyle::default());
    assert!(!text.contains("would have shown"), "{text}");
}

#[test]
fn a_burr_that_would_have_shown_does_not_pass() {
    for (turns, step) in [(1, 1.0), (2, 1.4), (4, 2.0)] {
        let high = would_show(turns, step).any_burr_height_mm.unwrap();
        for behind in [5.0, 7.1, 7.2, 7.3] {
            let record = judged(
                |rows, good| {
                    turned(rows, turns, step);
                    burr_on_edge(rows, good, behind, high);
                },
                None,
            );
            assert_ne!(clearance(&record), Some(Verdict::Pass), "{turns}, {behind}");
        }
    }
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
