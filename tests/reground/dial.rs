//! A hand that follows the dial, on a land ridden on in the fixture of the simulated bench.

use heelclear::inspection::Folder;
use heelclear::inspection::grind::{self, Aim, ToDo, WantedBy};
use heelclear::inspection::live::Dial;
use heelclear::inspection::simulated::write_folder;
use heelclear::quantity::{Angle, Length};
use heelclear::simulator::{Scenario, built_in};
use std::path::Path;
use std::sync::Arc;

/// The readings of a trace file of one clock.
fn readings(file: &Path) -> Vec<(Angle, Length)> {
    let mut rows = csv::Reader::from_path(file).unwrap();
    let rows = rows.deserialize::<(f64, f64, f64)>();
    rows.map(|row| {
        let (_, deg, mm) = row.unwrap();
        (Angle::from_deg(deg), Length::from_mm(mm))
    })
    .collect()
}

/// The fixture with its scales at a throw and a cam angle while the land is ridden on.
fn standing_at(seed: u64, throw_mm: f64, cam_deg: f64) -> Scenario {
    let mut bench = built_in("worn-in-fixture").unwrap();
    bench.seed = seed;
    let fixture = &mut bench.grinder.as_mut().unwrap().fixture[0];
    fixture.residual_throw_mm = Some(throw_mm);
    fixture.residual_cam_deg = cam_deg;
    bench
}

fn ridden(bench: &Scenario) -> (tempfile::TempDir, Vec<(Angle, Length)>) {
    let dir = tempfile::tempdir().unwrap();
    write_folder(bench, dir.path()).unwrap();
    let read = readings(&dir.path().join("traces/bore-residual.csv"));
    (dir, read)
}

fn aim(dir: &Path) -> (Aim, WantedBy) {
    let folder = Folder::open(dir).unwrap();
    let entry = folder
        .inspection
        .traces
        .iter()
        .find_map(|entry| match entry.role {
            heelclear::card::Role::Residual(_, stands) => Some((entry.z, stands)),
            _ => None,
        });
    let (z, stands) = entry.unwrap();
    grind::aim(&folder, "bore", z, stands).unwrap()
}

/// Rides on the land until the dial says that all is right, and gives where the scales stand then.
fn follow(seed: u64, mut throw_mm: f64, mut cam_deg: f64) -> (Arc<Aim>, f64, f64) {
    let (dir, mut read) = ridden(&standing_at(seed, throw_mm, cam_deg));
    let (aim, by) = aim(dir.path());
    let aim = Arc::new(aim);
    let mut dial = Dial::new(Arc::clone(&aim), by);
    for _ in 0..8 {
        for (angle, reading) in &read {
            dial.take(*angle, *reading);
        }
        let standing = dial
            .standing
            .clone()
            .unwrap_or_else(|| panic!("seed {seed} at {throw_mm} {cam_deg}: {dial:?}"));
        assert!(!standing.strange, "{standing:?}");
        if standing.is_right() {
            return (aim, throw_mm, cam_deg);
        }
        if let ToDo::By(by) = standing.throw_to_do {
            throw_mm += (by.mm() / 0.02).round() * 0.02;
        }
        if let ToDo::By(by) = standing.cam_to_do {
            cam_deg += (by.deg() / 0.5).round() * 0.5;
        }
        read = ridden(&standing_at(seed, throw_mm, cam_deg)).1;
    }
    panic!("the dial never stood still: {throw_mm} {cam_deg} {dial:?}");
}

#[track_caller]
fn check(seed: u64, throw_mm: f64, cam_deg: f64) {
    let (aim, throw, cam) = follow(seed, throw_mm, cam_deg);
    assert!((throw - aim.throw.mm()).abs() <= 0.021, "{throw} {aim:?}");
    // Of three lobes any will do.
    let off = (cam - aim.cam_angle.deg() + 60.0).rem_euclid(120.0) - 60.0;
    assert!(off.abs() <= 1.3, "{cam} {aim:?}");
}

#[test]
fn a_hand_that_follows_the_dial_comes_to_where_the_fixture_is_to_stand() {
    check(1, 0.8, 0.0);
    check(2, 1.6, -20.0);
    check(3, 0.5, 12.0);
    check(4, 1.9, -7.5);
}

/// What was read before the throw was moved must not be mixed with what is read behind it.
#[test]
fn the_dial_forgets_what_it_read_before_the_throw_was_moved() {
    let (dir, closed) = ridden(&standing_at(5, 0.7, -7.5));
    let (_, open) = ridden(&standing_at(5, 1.3, -7.5));
    let (aim, by) = aim(dir.path());
    let mut dial = Dial::new(Arc::new(aim), by);
    let half = closed.len() / 2;
    for (angle, reading) in &closed[..half] {
        dial.take(*angle, *reading);
    }
    let before = dial.standing.clone().unwrap().throw;
    assert!(
        (before.value.mm() - 0.7).abs() < 2.5 * before.standard_uncertainty.mm(),
        "{before:?}"
    );
    for (angle, reading) in &open[half..] {
        dial.take(*angle, *reading);
    }
    let after = dial.standing.clone().unwrap().throw;
    assert!(
        (after.value.mm() - 1.3).abs() < 2.5 * after.standard_uncertainty.mm(),
        "{after:?}"
    );
}

#[test]
fn the_dial_of_another_tool_says_so() {
    let (dir, _) = ridden(&standing_at(6, 1.0, -7.5));
    let mut other = standing_at(7, 1.0, -7.5);
    other.clamping.first_edge_deg += 17.0;
    let (_, read) = ridden(&other);
    let (aim, by) = aim(dir.path());
    let mut dial = Dial::new(Arc::new(aim), by);
    for (angle, reading) in &read {
        dial.take(*angle, *reading);
    }
    assert!(
        dial.standing
            .as_ref()
            .is_none_or(|standing| standing.strange),
        "{:?}",
        dial.standing
    );
}

/// A trace file with its readings changed.
fn change(file: &Path, to: impl Fn(f64) -> f64) {
    let mut rows = csv::Reader::from_path(file).unwrap();
    let rows: Vec<(f64, f64, f64)> = rows.deserialize().map(|row| row.unwrap()).collect();
    let mut text = "time_s,angle_deg,reading_mm\n".to_owned();
    for (time, angle, reading) in rows {
        text += &format!("{time:.6},{angle:.4},{:.6}\n", to(reading));
    }
    std::fs::write(file, text).unwrap();
}

#[test]
fn what_a_trace_in_the_fixture_cannot_show_is_no_set_up() {
    let (land, residual) = ("traces/bore.csv", "traces/bore-residual.csv");
    let set_up = |dir: &Path| {
        let folder = Folder::open(dir).unwrap();
        let grinder = folder.grinder(None).unwrap();
        grind::set_up(&folder, &grinder, &grind::Asked::default()).unwrap()
    };
    let refused = |dir: &Path, what: &str| {
        let setup = set_up(dir);
        assert!(setup.cuts.is_empty(), "{what}: {:?}", setup.cuts);
        assert!(
            setup.why.iter().any(|why| why.contains(what)),
            "{:?}",
            setup.why
        );
    };
    let bench = standing_at(46, 1.08, -7.0);
    let (honest, _) = ridden(&bench);
    assert!(set_up(honest.path()).cuts[0].stands[0].steady);
    // The tool was turned in its chuck between the traces.
    let mut slipped = bench.clone();
    slipped.clamping.first_edge_deg += 3.0;
    let (slipped, _) = ridden(&slipped);
    std::fs::copy(slipped.path().join(residual), honest.path().join(residual)).unwrap();
    refused(honest.path(), "turned in its chuck");
    // The plunger stuck: as still as a fixture that stands right.
    let (stuck, _) = ridden(&bench);
    change(&stuck.path().join(residual), |_| 0.25);
    refused(stuck.path(), "did not follow");
    // The plunger came to the end of its travel on the lands.
    let (clipped, _) = ridden(&bench);
    change(&clipped.path().join(land), |reading| reading.max(-0.5));
    refused(clipped.path(), "lowest reading");
}

#[test]
fn how_far_a_throw_could_open_changes_nothing_of_what_is_set() {
    let skim = |greatest_mm: f64| {
        let mut bench = standing_at(46, 0.8, 0.0);
        bench.grinder.as_mut().unwrap().fixture[0].greatest_throw_mm = greatest_mm;
        let (dir, _) = ridden(&bench);
        let folder = Folder::open(dir.path()).unwrap();
        let grinder = folder.grinder(None).unwrap();
        let setup = grind::set_up(&folder, &grinder, &grind::Asked::default()).unwrap();
        (setup.cuts[0].throw_mm, setup.cuts[0].skim_sure_mm)
    };
    let usual = skim(2.0);
    for greatest_mm in [5.0, 20.0, 99.0] {
        let wide = skim(greatest_mm);
        assert!((wide.0 - usual.0).abs() < 0.05, "{usual:?} {wide:?}");
        assert!((wide.1 - usual.1).abs() < 0.015, "{usual:?} {wide:?}");
    }
}
