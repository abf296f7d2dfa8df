//! The simulated gauge against exact geometry, and its folders against their own truth.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::inspection::Folder;
use heelclear::inspection::simulated::write_folder;
use heelclear::simulator::{
    Bench, Clamping, Gauge, Hand, Land, Relief, Scenario, Tip, Turning, built_in, names,
};
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A bench without any fault, so that only geometry is left.
fn perfect(name: &str) -> Scenario {
    let mut scenario = built_in(name).unwrap();
    scenario.gauge = Gauge {
        resolution_mm: 1e-6,
        max_error_mm: 0.0,
        hysteresis_mm: 0.0,
        counts_per_rev: 36_000_000,
        ..scenario.gauge
    };
    scenario.bench = Bench {
        noise_mm: 0.0,
        ..Bench::default()
    };
    scenario.clamping = Clamping::default();
    scenario.hand = Hand {
        turns: 1.02,
        turning: Turning::Cutting,
        speed_deg_per_s: 5.0,
        unevenness: 0.0,
        pauses_per_turn: 0.0,
        nudges_per_turn: 0.0,
        start_deg: -1.0,
        ..Hand::default()
    };
    scenario
}

/// One tooth with this relief under this tip, on a perfect bench.
fn one_tooth(diameter_mm: f64, relief: Relief, tip: Tip, radius_mm: f64) -> Scenario {
    let mut scenario = perfect("single-flute-long-land");
    scenario.reference.clear();
    let feature = &mut scenario.feature[0];
    feature.diameter_mm = diameter_mm;
    feature.land = Land {
        arc_deg: 60.0,
        margin_mm: 0.0,
        relief,
    };
    feature.gap_depth_mm = diameter_mm / 4.0;
    scenario.gauge.stylus = tip;
    scenario.gauge.radius_mm = radius_mm;
    scenario.hand.turns = 0.2;
    scenario
}

/// Angle in degrees and height over the axis (axial: over the edge) in mm.
fn trace(scenario: &Scenario, number: usize) -> Vec<(f64, f64)> {
    let pose = &scenario.poses()[number];
    let count = f64::from(scenario.gauge.counts_per_rev);
    let height = |steps: i64| steps as f64 * scenario.gauge.resolution_mm + pose.zero_mm;
    scenario
        .run(pose, number)
        .filter_map(|r| Some((r.count as f64 / count * 360.0, height(r.steps?))))
        .collect()
}

/// The height at an angle, on a straight line between the readings beside it.
fn at(trace: &[(f64, f64)], deg: f64) -> f64 {
    let i = trace.partition_point(|(angle, _)| *angle < deg);
    let ((a0, h0), (a1, h1)) = (trace[i - 1], trace[i]);
    h0 + (h1 - h0) * (deg - a0) / (a1 - a0)
}

#[track_caller]
fn close(value: f64, expected: f64, within: f64) {
    assert!(
        (value - expected).abs() < within,
        "{value}, expected {expected}"
    );
}

/// The rows of a file of `tests/reference`, its first line (the source) left out.
fn reference(file: &str) -> Vec<HashMap<String, f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(file);
    let text = std::fs::read_to_string(path).unwrap();
    let mut rows = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let parse = |row: HashMap<String, String>| {
        let number = |(key, value): (String, String)| Some((key, value.parse().ok()?));
        row.into_iter().filter_map(number).collect()
    };
    rows.deserialize().map(|row| parse(row.unwrap())).collect()
}

/// Source: `relief_geometry.csv`, computed from first principles with 40 digits.
#[test]
fn a_point_reads_the_drops_of_the_relief_table() {
    for row in reference("relief_geometry.csv") {
        let (d, relief_deg, deg) = (row["D_mm"], row["relief_deg"], row["theta_deg"]);
        let arc = |radius_mm| Relief::Arc {
            relief_deg,
            radius_mm,
        };
        let families = [
            ("drop_flat", Relief::Flat { relief_deg }),
            ("drop_ecc_R", arc(d / 2.0)),
            ("drop_ecc_0.8R", arc(0.4 * d)),
            ("drop_concave_75", arc(-75.0)),
            ("drop_archimedean", Relief::Spiral { relief_deg }),
            ("drop_logspiral", Relief::LogSpiral { relief_deg }),
        ];
        for (column, relief) in families {
            let trace = trace(&one_tooth(d, relief, Tip::Point, 0.0), 0);
            let drop = d / 2.0 - at(&trace, deg);
            assert!(
                (drop - row[column]).abs() < 4e-6,
                "{column}, D {d}, {relief_deg} deg at {deg}: {drop}, expected {}",
                row[column]
            );
        }
    }
}

/// Source: `ball_tip.csv`, derived in closed form and checked by a search for the contact.
#[test]
fn a_ball_reads_the_drops_of_the_ball_table() {
    for row in reference("ball_tip.csv") {
        let (d, relief_deg) = (row["D_mm"], row["relief_deg"]);
        let flat = Relief::Flat { relief_deg };
        let scenario = one_tooth(d, flat, Tip::Ball, row["tip_radius_mm"]);
        let drop = d / 2.0 - at(&trace(&scenario, 0), row["theta_deg"]);
        close(drop, row["drop_ball_mm"], 3e-6);
    }
}

/// Source: `limacon.csv`, the exact radius of a circle with its centre off by 0.1 mm.
#[test]
fn an_eccentric_round_reads_the_exact_circle_not_its_first_order() {
    let mut scenario = perfect("shank-with-flats");
    scenario.reference[0].flats = 0;
    scenario.reference[0].keyway_width_mm = 0.0;
    scenario.reference[0].turns = Some(1.02);
    scenario.gauge.stylus = Tip::Point;
    scenario.clamping.eccentricity_mm = 0.1;
    let trace = trace(&scenario, 0);
    for row in reference("limacon.csv") {
        close(at(&trace, row["theta_deg"]), row["r_exact"], 2e-6);
    }
}

#[test]
fn a_flat_tip_reads_the_greatest_height_in_its_width() {
    let flat = Relief::Flat { relief_deg: 12.0 };
    let trace = trace(&one_tooth(12.0, flat, Tip::Flat, 0.5), 0);
    // While the edge is within the half width of 0.5 mm, it alone is touched: R cos t.
    close(at(&trace, 4.0), 6.0 * 4f64.to_radians().cos(), 3e-6);
    // Behind that the highest place lies at the side towards the edge.
    let (a, t) = (12f64.to_radians(), 8f64.to_radians());
    let highest = 6.0 * a.cos() / (t - a).cos() + 0.5 * (a - t).tan();
    // The side of the tip falls between two points of the cloud, 0.25 um apart on a slope.
    close(at(&trace, 8.0), highest, 5e-5);
}

#[test]
fn a_probe_past_the_axis_meets_the_edge_later() {
    let mut scenario = one_tooth(20.0, Relief::Spiral { relief_deg: 8.0 }, Tip::Point, 0.0);
    let edge = |scenario: &Scenario| {
        let trace = trace(scenario, 0);
        trace.iter().find(|(_, h)| *h > 9.9).unwrap().0
    };
    let centred = edge(&scenario);
    scenario.gauge.probe_offset_mm = 0.5;
    let later = edge(&scenario) - centred;
    close(later, (0.5f64 / 10.0).asin().to_degrees(), 0.12);
}

#[test]
fn an_end_face_falls_along_the_axis_with_the_arc() {
    let mut scenario = perfect("end-face-feed");
    scenario.gauge.stylus = Tip::Point;
    let trace = trace(&scenario, 0);
    for deg in [1.0f64, 20.0, 50.0] {
        let drop = 8.0 * deg.to_radians() * 7f64.to_radians().tan();
        close(at(&trace, deg), -drop, 2e-6);
    }
}

#[test]
fn play_shows_as_a_difference_between_the_directions() {
    let mut scenario = one_tooth(14.0, Relief::Spiral { relief_deg: 4.0 }, Tip::Ball, 1.0);
    scenario.gauge.hysteresis_mm = 0.004;
    scenario.hand.turning = Turning::Both;
    let trace = trace(&scenario, 0);
    let far = |a: &(f64, f64), b: &(f64, f64)| a.0.total_cmp(&b.0);
    let furthest = trace.iter().copied().max_by(far).unwrap();
    let turn = trace.iter().position(|row| *row == furthest).unwrap();
    let (out, back) = trace.split_at(turn);
    let back: Vec<_> = back.iter().rev().copied().collect();
    // Turned to cut, a land falls and the plunger comes out: the needle hangs high by half the play.
    close(at(out, 40.0) - at(&back, 40.0), 0.004, 1e-5);
}

#[test]
fn a_low_tooth_and_a_late_one_show_in_trace_and_truth_alike() {
    let mut scenario = perfect("chamfer-uneven-edges");
    scenario.reference.clear();
    let truth = scenario.truth(0).unwrap();
    close(truth.edge_spread.mm(), 0.032, 1e-12);
    close(truth.flute_spacing.deg(), 0.15, 1e-9);
    let trace = trace(&scenario, 0);
    for tooth in truth.teeth {
        // A ball rides on the edge a moment before and after it, so the highest place is the edge.
        let near = trace
            .iter()
            .filter(|(deg, _)| (deg - tooth.edge.deg()).abs() < 1.0)
            .map(|(_, height)| *height)
            .fold(f64::MIN, f64::max);
        close(near, tooth.edge_height.mm(), 1e-4);
    }
}

#[test]
fn the_truth_of_a_flat_agrees_with_the_formula_for_it() {
    let truth = built_in("counterbore-heel-drag").unwrap().truth(0).unwrap();
    let tooth = truth.teeth[0];
    let a = 8f64.to_radians();
    let drop = |phi: f64| 10.0 * (1.0 - a.cos() / (phi - a).cos());
    // Back at edge height at an arc of 2a: a land of 17 degrees with 8 of relief drags.
    close(
        tooth.heel_clearance.unwrap().mm(),
        drop(17f64.to_radians()),
        1e-4,
    );
    close(tooth.drop.unwrap().mm(), drop(0.05), 1e-4);
    close(tooth.relief_angle.deg(), 8.0, 1e-9);
    close(tooth.least_at.unwrap().deg(), 17.0, 0.01);
    close(truth.runout.mm(), 0.008, 1e-12);
}

#[test]
fn every_recipe_makes_a_folder_and_the_same_seed_the_same_bytes() {
    for name in names() {
        let scenario = built_in(name).unwrap();
        let folders = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
        for folder in &folders {
            write_folder(&scenario, folder.path()).unwrap();
        }
        let folder = Folder::open(folders[0].path()).unwrap();
        for entry in &folder.inspection.traces {
            let mut warnings = Vec::new();
            folder.trace(entry, &mut warnings).unwrap();
            assert_eq!(warnings, [""; 0], "{name}");
        }
        for file in files_under(folders[0].path()) {
            let inside = file.strip_prefix(folders[0].path()).unwrap();
            let text = std::fs::read_to_string(&file).unwrap();
            let again = std::fs::read_to_string(folders[1].path().join(inside)).unwrap();
            assert!(text == again, "{name}: {} differs", inside.display());
            if file.extension().is_some_and(|extension| extension == "csv") {
                let rows = text.lines().count();
                assert!((300..9000).contains(&rows), "{name}: {rows} rows");
            } else if file
                .extension()
                .is_some_and(|extension| extension == "toml")
            {
                text.parse::<toml::Table>().unwrap();
            }
        }
        let mut other = scenario.clone();
        other.seed += 1;
        assert_ne!(trace(&scenario, 0), trace(&other, 0), "{name}");
    }
}

/// Sine and cosine may differ in their last bit elsewhere, so the bytes are pinned on one system.
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
#[test]
fn the_sample_data_are_what_their_recipes_make() {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    let readme = std::fs::read_to_string(samples.join("README.md")).unwrap();
    for name in names() {
        // As the command makes them: heel first where there are several teeth.
        let scenario = built_in(name).unwrap().practised();
        let command = format!("simulate {name} --seed {} --out", scenario.seed);
        assert!(readme.contains(&command), "README.md lacks `{command}`");
        let made = tempfile::tempdir().unwrap();
        write_folder(&scenario, made.path()).unwrap();
        for file in files_under(made.path()) {
            let inside = file.strip_prefix(made.path()).unwrap();
            let kept = std::fs::read(samples.join(name).join(inside)).unwrap();
            let same = kept == std::fs::read(&file).unwrap();
            assert!(same, "sample-data/{name}/{} is another", inside.display());
        }
    }
}

#[test]
fn several_teeth_are_turned_heel_first_unless_a_recipe_says_otherwise() {
    let bench = tempfile::tempdir().unwrap();
    let simulate = |args: &[&str]| {
        let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
        let output = command.arg("simulate").args(args).current_dir(bench.path());
        String::from_utf8(output.output().unwrap().stdout).unwrap()
    };
    // By how much the angle grew over a trace; it grows the way these tools cut.
    let grew = |recipe: &str, name: &str, trace: &str| {
        simulate(&[recipe, "--out", name]);
        let path = bench.path().join(name).join("traces").join(trace);
        let text = std::fs::read_to_string(path).unwrap();
        let angle = |line: &str| line.split(',').nth(1).unwrap().parse::<f64>().unwrap();
        let rows: Vec<f64> = text.lines().skip(1).map(angle).collect();
        rows[rows.len() - 1] - rows[0]
    };
    assert!(grew("counterbore-pass", "practised", "seat.csv") < -700.0);
    assert!(grew("runout-with-reference", "one-tooth", "land.csv") > 700.0);
    let recipe = simulate(&["counterbore-pass", "--recipe"]);
    assert!(recipe.contains("turning = \"backing\"\n"), "{recipe}");
    for (name, says, way) in [
        ("printed", "turning = \"backing\"\n", -1.0),
        ("silent", "", -1.0),
        ("told", "turning = \"cutting\"\n", 1.0),
    ] {
        let text = recipe.replace("turning = \"backing\"\n", says);
        let file = format!("{name}.toml");
        std::fs::write(bench.path().join(&file), text).unwrap();
        assert!(grew(&file, name, "seat.csv") * way > 700.0, "{name}");
    }
}

fn files_under(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(files_under(&path));
        } else {
            files.push(path);
        }
    }
    files
}

#[test]
fn a_mistake_in_a_recipe_is_drawn_like_one_in_a_card() {
    let recipe = "about = \"x\"\nseet = 7\n";
    let error = Scenario::from_toml(recipe, "mine.toml").unwrap_err();
    assert_eq!(error.code().as_str(), "unknown-key");
    assert_eq!(
        (error.place().line, error.place().column),
        (Some(2), Some(1))
    );
    let drawn = error.snippet().unwrap();
    assert!(
        drawn.contains("2 | seet = 7") && drawn.contains("^^^^"),
        "{drawn}"
    );
}
