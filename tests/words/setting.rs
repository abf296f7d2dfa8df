//! The command that says what to set on the grinder.
#![allow(clippy::unwrap_used, clippy::panic)]

use serde_json::Value;

fn run(arguments: &str) -> (i32, String, String) {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = command.args(arguments.split(' ')).output().unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

#[track_caller]
fn check(arguments: &str, key: &str, expected: f64, tolerance: f64) {
    let (status, stdout, _) = run(&format!("setting {arguments} --json"));
    assert_eq!(status, 0, "{stdout}");
    let answer: Value = serde_json::from_str(&stdout).unwrap();
    let value = answer[key].as_f64().unwrap_or_else(|| panic!("{answer}"));
    assert!(
        (value - expected).abs() <= tolerance,
        "{key}: {value}, expected {expected}"
    );
}

/// `tests/reference/relief_recommendations.csv`: 7° on 6 in is 0.365 in by a public grinder
/// instruction manual, by the rule 0.0087 D a; the sine gives 0.3656 in.
#[test]
fn the_offset_is_that_of_the_published_example() {
    check(
        "relief --diameter 6in --angle 7",
        "offset_mm",
        0.365 * 25.4,
        0.001 * 25.4,
    );
    check(
        "relief --diameter 6in --angle 7",
        "offset_mm",
        0.3656 * 25.4,
        0.00005 * 25.4,
    );
    let wheel = "relief --diameter 20 --angle 7 --wheel-diameter 6in";
    check(wheel, "wheel_offset_mm", 0.3656 * 25.4, 0.00005 * 25.4);
}

/// Every row of `tests/reference/form_relief_cam.csv`.
#[test]
fn the_cam_rises_as_the_published_formula_says() {
    let rows = include_str!("../reference/form_relief_cam.csv").lines();
    let rows = rows.filter(|row| row.starts_with(|c: char| c.is_ascii_digit()));
    let mut seen = 0;
    for row in rows {
        let cells: Vec<&str> = row.split(',').collect();
        let [diameter, flutes, angle, rise, drop, ..] = cells.as_slice() else {
            panic!("{row}");
        };
        let cam = format!("cam --diameter {diameter} --flutes {flutes} --angle {angle} --land 1");
        check(&cam, "rise_per_pitch_mm", rise.parse().unwrap(), 1e-7);
        check(&cam, "fall_over_land_mm", drop.parse().unwrap(), 1e-9);
        seen += 1;
    }
    assert!(seen >= 5);
}

#[test]
fn the_table_swings_by_the_difference() {
    check("taper --now 0.05 --angle 0.5", "swing_deg", 0.45, 1e-12);
    check(
        "taper --now 0.5 --angle -0.5 --length 50mm",
        "over_length_mm",
        -0.8727,
        1e-4,
    );
}

#[test]
fn the_least_stock_is_told_flute_by_flute() {
    let (status, stdout, stderr) =
        run("setting skim --diameter 16 --angle 9 --edges 0,-0.032,-4um");
    assert_eq!(status, 0, "{stderr}");
    for words in [
        "0.032 mm",
        "off flute 1",
        "0.028 mm",
        "15.936 mm",
        "diameter left",
    ] {
        assert!(stdout.contains(words), "`{words}` is not in {stdout}");
    }
    assert!(stderr.contains("stop the wheel"), "{stderr}");
    check(
        "skim --diameter 16 --angle 9 --edges 0,-0.032,-0.004",
        "diameter_mm",
        15.936,
        1e-9,
    );
}

#[test]
fn what_cannot_be_is_refused_with_2() {
    #[track_caller]
    fn check(arguments: &str, words: &str) {
        let (status, stdout, stderr) = run(&format!("setting {arguments}"));
        assert_eq!((status, stdout.as_str()), (2, ""), "{stderr}");
        assert!(stderr.contains(words), "`{words}` is not in {stderr}");
    }
    check("relief --diameter 20cm --angle 8", "500um");
    check("relief --diameter -20 --angle 8", "--diameter");
    check("relief --diameter 20 --angle 89", "0.01 to 60");
    check("relief --diameter nan --angle 8", "500um");
    check("cam --diameter 20 --flutes 0 --angle 8", "1..=24");
    check(
        "cam --diameter 50 --flutes 8 --angle 10 --land 46",
        "a land of 46°, expected at most 45.0000°, the pitch of 8 teeth",
    );
    check(
        "skim --diameter 16 --angle 9 --edges 0,1 --wear 0.1",
        "expected as many",
    );
    check(
        "skim --diameter 16 --angle 1 --edges 0 --wear 2",
        "no flat of this relief",
    );
}

#[test]
fn every_setting_has_help_with_an_example() {
    for name in ["relief", "cam", "taper", "skim"] {
        let (status, stdout, _) = run(&format!("setting {name} --help"));
        assert_eq!(status, 0);
        assert!(
            stdout.contains(&format!("heelclear setting {name} --")),
            "{stdout}"
        );
    }
}
