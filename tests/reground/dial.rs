//! A hand that follows the dial, on a land ridden on in the fixture of the simulated bench.

use heelclear::inspection::Folder;
use heelclear::inspection::grind::{self, Aim, ToDo};
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

fn aim(dir: &Path) -> Aim {
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
    let aim = Arc::new(aim(dir.path()));
    let mut dial = Dial::new(Arc::clone(&aim));
    for _ in 0..8 {
        for (angle, reading) in &read {
            dial.take(*angle, *reading);
        }
        let standing = dial
            .standing
            .clone()
            .unwrap_or_else(|| panic!("seed {seed} at {throw_mm} {cam_deg}: {dial:?}"));
        assert!(!standing.strange, "{standing:?}");
        if dial.is_right() {
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
    let mut dial = Dial::new(Arc::new(aim(dir.path())));
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
    let mut dial = Dial::new(Arc::new(aim(dir.path())));
    for (angle, reading) in &read {
        dial.take(*angle, *reading);
    }
    assert!(!dial.is_right());
    assert!(
        dial.standing
            .as_ref()
            .is_none_or(|standing| standing.strange),
        "{:?}",
        dial.standing
    );
}
