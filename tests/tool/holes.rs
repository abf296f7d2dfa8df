//! An arc in which nothing was read, wherever it lies, proves nothing that is not so.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record, Verdict};
use heelclear::simulator::built_in;
use std::path::Path;

/// Takes all rows of a trace away whose angle lies so far from `from`.
fn without(trace: &Path, from: f64, width: f64) {
    let text = std::fs::read_to_string(trace).unwrap();
    let (head, rows) = text.split_once('\n').unwrap();
    let column = head.split(',').position(|name| name == "angle_deg");
    let angle = |row: &str| -> f64 {
        let field = row.split(',').nth(column.unwrap()).unwrap();
        field.parse().unwrap()
    };
    let kept = rows
        .lines()
        .filter(|row| (angle(row) - from).rem_euclid(360.0) >= width);
    let kept: Vec<&str> = std::iter::once(head).chain(kept).collect();
    std::fs::write(trace, kept.join("\n") + "\n").unwrap();
}

fn same<'a>(record: &'a Record, of: &Characteristic) -> &'a Characteristic {
    let mut all = record.characteristics.iter();
    all.find(|it| (it.flute, &it.name) == (of.flute, &of.name))
        .unwrap()
}

/// Judges a built-in tool whole, and with a hole of each width at each place of these.
#[track_caller]
fn check(scenario: &str, trace: &str, widths: &[f64], from: impl Fn() -> std::ops::Range<u32>) {
    let whole = tempfile::tempdir().unwrap();
    write_folder(&built_in(scenario).unwrap(), whole.path()).unwrap();
    let truth = verify(&Folder::open(whole.path()).unwrap()).unwrap();
    for &width in widths {
        for at in from().step_by(4) {
            let folder = tempfile::tempdir().unwrap();
            write_folder(&built_in(scenario).unwrap(), folder.path()).unwrap();
            without(&folder.path().join(trace), f64::from(at), width);
            let record = verify(&Folder::open(folder.path()).unwrap()).unwrap();
            let decided = record.characteristics.iter();
            let decided =
                decided.filter(|it| matches!(it.verdict, Some(Verdict::Pass | Verdict::Fail)));
            for figure in decided {
                let true_one = same(&truth, figure);
                let place = format!("{scenario}, {width}° from {at}°: {figure:?}");
                assert_eq!(figure.verdict, true_one.verdict, "{place}");
                // What stands lower than was read, if anything, is in the hole.
                let bound = figure.why.contains("besides");
                let off = figure.value.unwrap() - true_one.value.unwrap();
                let both = [figure, true_one].map(|it| it.standard_uncertainty.unwrap());
                let allowed = 4.0 * both[0].hypot(both[1]);
                assert!(off.abs() < allowed || (bound && off > 0.0), "{place}");
            }
        }
    }
}

#[test]
fn a_good_tool_with_a_hole_in_its_trace_never_fails() {
    check("counterbore-pass", "traces/seat.csv", &[6.0, 14.0], || {
        12..56
    });
}

#[test]
fn a_heel_that_drags_never_passes_for_a_hole() {
    check(
        "counterbore-heel-drag",
        "traces/seat.csv",
        &[3.0, 14.0],
        || 12..56,
    );
}

#[test]
fn a_cam_that_rises_keeps_its_heel_in_a_hole_or_beside_it() {
    check("reamer-cam-rise", "traces/lead.csv", &[6.0], || 60..110);
}
