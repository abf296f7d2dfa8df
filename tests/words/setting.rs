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

/// Rows of `tests/reference/setting_offset.csv`, computed: `tests/numbers/setting.rs` has them all.
#[test]
fn the_offset_is_that_of_the_diameter_that_counts() {
    let cup = "relief --diameter 2in --angle 7";
    check(cup, "offset_mm", 0.12187 * 25.4, 0.000005 * 25.4);
    let rim = "relief --diameter 20 --angle 7 --wheel-diameter 6in";
    check(rim, "offset_mm", 0.36561 * 25.4, 0.000005 * 25.4);
    check(rim, "governing_diameter_mm", 152.4, 1e-9);
}

#[test]
fn one_answer_says_what_is_moved() {
    #[track_caller]
    fn check(arguments: &str, moves: &str, words: &str) {
        let line = format!("setting relief --diameter 20 --angle 8 {arguments}");
        let (status, stdout, _) = run(line.trim());
        assert_eq!(status, 0);
        assert_eq!(stdout.matches("counts").count(), 1, "{stdout}");
        assert!(stdout.contains(words), "`{words}` is not in {stdout}");
        let (_, json, _) = run(&format!("{} --json", line.trim()));
        let answer: Value = serde_json::from_str(&json).unwrap();
        assert_eq!(answer["moves"], moves);
    }
    check(
        "",
        "tooth-rest",
        "1.392 mm (0.0548 in) down from the tool's centre",
    );
    check(
        "--rest head",
        "wheel-head-with-rest",
        "the wheel head with its rest",
    );
    check(
        "--wheel-diameter 150",
        "wheel-head",
        "10.438 mm (0.4109 in) up from the tool's centre",
    );
    check(
        "--wheel-diameter 150 --rest head",
        "wheel-head-then-rest",
        "then set the rest on the head back",
    );
}

#[test]
fn the_widest_flat_keeps_a_clearance() {
    let tool = "relief --diameter 20 --angle 8";
    // 1.39173 + sqrt(9.98² - 9.90268²) by hand; without clearance D sin a.
    check(tool, "widest_flat_mm", 2.63162, 5e-6);
    check(tool, "clearance_mm", 0.02, 0.0);
    let none = format!("{tool} --clearance 0");
    check(&none, "widest_flat_mm", 20.0 * 0.139_173_1, 1e-6);
    let (status, stdout, _) = run("setting relief --diameter 3 --angle 5");
    assert_eq!(status, 0);
    assert!(
        stdout.contains("no flat land of this relief lies 0.02 mm under"),
        "{stdout}"
    );
    assert!(stdout.contains("0.0057 mm at the deepest"), "{stdout}");
}

/// Rows of `tests/reference/height_error.csv`, computed.
#[test]
fn an_error_of_the_height_of_centre_is_told() {
    for (diameter, error) in [(10, 0.1), (20, 0.2), (50, 0.5)] {
        let tool = format!("relief --diameter {diameter} --angle 8 --height-error {error}");
        check(&tool, "height_error_deg", 1.145_992, 1e-6);
        let rim = format!("{tool} --wheel-diameter 150");
        check(&rim, "least_relief_deg", 8.0 - 1.145_992, 1e-6);
        check(&rim, "greatest_relief_deg", 8.0 + 1.145_992, 1e-6);
        // asin(sin 8° + 0.02)
        check(&tool, "greatest_relief_deg", 9.158_903, 1e-6);
    }
}

/// Rows of `tests/reference/relief_angles.csv` (computed) and of `indicator_drop_peripheral.csv`
/// (computed beside a handbook's, from memory), there and back.
#[test]
fn drops_are_those_of_the_tables_there_and_back() {
    #[track_caller]
    fn both(diameter: &str, distance: &str, angle: f64, drop_in: f64) {
        let tool = format!("drop --diameter {diameter} --distance {distance}in");
        let there = format!("{tool} --angle {angle}deg");
        check(&there, "drop_mm", drop_in * 25.4, 0.51e-6 * 25.4);
        let back = format!("{tool} --drop {drop_in}in");
        // What the last printed digit is worth over the distance.
        let distance: f64 = distance.parse().unwrap();
        check(&back, "angle_deg", angle, (0.6e-6 / distance).to_degrees());
    }
    both("1/4in", "0.015", 10.0, 0.001_716);
    both("1in", "0.020", 7.0, 0.002_047);
    both("2in", "0.025", 5.0, 0.001_871);
    both("4in", "0.025", 3.0, 0.001_153);
    both("3/4in", "0.030", 8.0, 0.002_988);
    both("0.5in", "0.020", 12.0, 0.003_400);
    // A handbook's digits, and a tenth of a micrometre.
    let (_, stdout, _) = run("setting drop --diameter 1in --distance 0.020in --angle 7:00");
    assert!(stdout.contains("0.0520 mm (0.00205 in) drop"), "{stdout}");
    assert!(
        stdout.contains("over 0.508 mm (0.02 in) behind"),
        "{stdout}"
    );
    assert!(stdout.contains("flat land"), "{stdout}");
    // R sin t tan a, at the end of an end face's land.
    let axial = "drop --axial --diameter 20 --distance 1 --angle 6";
    check(
        axial,
        "drop_mm",
        10.0 * 0.1_f64.sin() * 6_f64.to_radians().tan(),
        1e-9,
    );
    let back = "drop --axial --diameter 20 --distance 1 --drop 0.104929149";
    check(back, "angle_deg", 6.0, 1e-6);
}

/// Every row of `tests/reference/form_relief_cam.csv`.
#[test]
fn the_cam_rises_as_computed() {
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

/// Rows of `tests/reference/taper_angle.csv`: `tests/numbers/setting.rs` has them all.
#[test]
fn tapers_are_told_as_people_use_them() {
    // Turning and Boring Tapers (1902): 1° included is 0.20952 in a foot, within 0.0002.
    check("taper --angle 30min", "taper_in_per_ft", 0.20952, 0.0002);
    // F. D. Jones (1914): 3/4 in a foot has a half angle of 1° 47.4′.
    check(
        "taper --angle 3/4in/ft",
        "angle_deg",
        1.0 + 47.4 / 60.0,
        0.05 / 60.0,
    );
    let (_, stdout, _) = run("setting taper --angle 3/4in/ft");
    assert!(stdout.contains("1° 47.4′"), "{stdout}");
    assert!(
        stdout.contains("0.7500 in/ft of the diameter, 1:16.000"),
        "{stdout}"
    );
    check(
        "taper --angle 30 --swivel-zero across",
        "swivel_deg",
        60.0,
        1e-9,
    );
    check(
        "taper --angle 30 --swivel-zero along",
        "swivel_deg",
        30.0,
        1e-9,
    );
    check(
        "taper --angle 30 --bar 5in",
        "bar_height_mm",
        2.5 * 25.4,
        1e-9,
    );
    check("taper --angle -1:20", "swing_deg", -1.432_096, 1e-6);
}

/// `tests/reference/wheel_speed.csv`: P. Lobben (1910), p. 321, and A. S. Milton and O. K. Wohlers
/// (1919), on pulleys.
#[test]
fn wheels_run_as_fast_as_their_pulleys_turn_them() {
    let wheel = "speed --wheel-diameter 6in";
    check(&format!("{wheel} --rpm 3183.1"), "m_per_s", 25.4, 1e-3);
    check(&format!("{wheel} --want 5000ft/min"), "rpm", 3183.1, 0.05);
    let driver = "--motor 150 --want 400rpm --spindle-pulley 9in";
    check(
        &format!("{wheel} {driver}"),
        "motor_pulley_mm",
        24.0 * 25.4,
        1e-6,
    );
    let driven = "--motor 1500 --want 300rpm --motor-pulley 4in";
    check(
        &format!("{wheel} {driven}"),
        "spindle_pulley_mm",
        20.0 * 25.4,
        1e-6,
    );
    let worn = "speed --wheel-diameter 100 --full-diameter 150 --marked 4000rpm";
    check(worn, "allowed_rpm", 6000.0, 1e-9);
    check(
        &format!("{worn} --marked 30m/s"),
        "allowed_rpm",
        5729.578,
        1e-3,
    );
    let (_, stdout, _) = run("setting speed --wheel-diameter 150 --rpm 2850");
    assert!(stdout.contains("not held to what is marked"), "{stdout}");
}

#[test]
fn a_wheel_is_not_run_faster_than_it_is_marked() {
    #[track_caller]
    fn refused(arguments: &str, words: &str) {
        let line = format!("setting speed --wheel-diameter 150 {arguments}");
        let (status, stdout, stderr) = run(&line);
        assert_eq!((status, stdout.as_str()), (2, ""), "{stderr}");
        assert!(stderr.contains("error[wheel-speed]"), "{stderr}");
        assert!(stderr.contains("do not run it"), "{stderr}");
        assert!(stderr.contains(words), "`{words}` is not in {stderr}");
    }
    refused("--rpm 4500 --marked 35m/s", "at most 4456 rpm, 35.0 m/s");
    refused("--rpm 3001 --marked 3000rpm", "at most 3000 rpm");
    // 34.95 m/s are 4449.97 rpm: what is printed may be set.
    refused("--rpm 4450 --marked 34.95m/s", "at most 4449 rpm, 34.9 m/s");
    check(
        "speed --wheel-diameter 150 --rpm 4449 --marked 34.95m/s",
        "rpm",
        4449.0,
        1e-9,
    );
    refused("--want 36m/s --marked 35m/s", "36.0 m/s");
    refused("--want 6900ft/min --marked 35m/s", "6900 ft/min");
    refused(
        "--motor 2850 --pulleys 100:50 --marked 35m/s",
        "may be 1.563 times that on the spindle at most",
    );
    // Of several pairs those that do are told, and that one of them does not.
    let pairs = "setting speed --wheel-diameter 150 --motor 2850 --pulleys 100:50 --pulleys 75:75 --marked 35m/s";
    let (status, stdout, _) = run(pairs);
    assert_eq!(status, 1);
    let both = "--motor 2850 --pulleys 70:75 --pulleys 75:75 --marked 35m/s";
    assert_eq!(
        run(&format!("setting speed --wheel-diameter 150 {both}")).0,
        0
    );
    let too_fast = |line: &str| line.contains("TOO FAST");
    let lines: Vec<&str> = stdout.lines().collect();
    assert!(too_fast(lines[0]) && !too_fast(lines[1]), "{stdout}");
    let (_, json, _) = run(&format!("{pairs} --json"));
    let answer: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(answer["pulleys"][0]["allowed"], false);
    assert_eq!(answer["pulleys"][1]["allowed"], true);
}

#[test]
fn a_relief_that_may_be_lost_is_said_to_rub() {
    // asin(2 h / D) is 2.29° for 0.2 mm on 10 mm.
    let rubs = "setting relief --diameter 10 --angle 1 --height-error 0.2";
    let (status, stdout, _) = run(rubs);
    assert!(status == 0 && stdout.contains("RUBS"), "{stdout}");
    let (_, json, _) = run(&format!("{rubs} --json"));
    let answer: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(answer["may_rub"], true);
    let (_, stdout, _) = run("setting relief --diameter 10 --angle 8 --height-error 0.2");
    assert!(!stdout.contains("RUBS"), "{stdout}");
}

/// A grinder's card with two cams.
const CAMS: &str = r#"schema = 1
name = "grinder by the window"
[[fixture]]
name = "head"
direction = "radial"
least_throw_mm = 0.0
greatest_throw_mm = 2.0
graduation_mm = 0.02
[[motion]]
fixture = "head"
cam = "spiral"
direction = "radial"
throw_mm = 1.0
law = "constant"
rise_mm = 0.8
rise_deg = 60.0
return_deg = 20.0
lobes = 4
[[motion]]
fixture = "head"
cam = "soft"
direction = "radial"
throw_mm = 1.0
law = "harmonic"
rise_mm = 0.8
rise_deg = 40.0
return_deg = 15.0
lobes = 6
"#;

/// By hand: 0.8 mm over 60° on 6 mm of radius is atan(0.8 / 1.0471976 / 6) = 7.256°.
#[test]
fn the_cams_of_a_grinder_are_told_for_a_tool() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("grinder.toml");
    std::fs::write(&file, CAMS).unwrap();
    let all = format!(
        "setting cam --diameter 12 --flutes 4 --grinder {}",
        file.display()
    );
    let (status, stdout, stderr) = run(&all);
    assert_eq!(status, 0, "{stderr}");
    assert!(
        stdout.contains("7.26° of relief") && stdout.contains("6 lobes a turn are not for 4 teeth"),
        "{stdout}"
    );
    let (_, json, _) = run(&format!("{all} --angle 8 --json"));
    let answer: Value = serde_json::from_str(&json).unwrap();
    let cams = answer["cams"].as_array().unwrap();
    assert_eq!(cams.len(), 2);
    // tan 8° / tan 7.2560°, by hand.
    let throw = cams[0]["throw_mm"].as_f64().unwrap();
    assert!((throw - 1.10381).abs() < 1e-4, "{throw}");
    assert_eq!(
        (&cams[0]["fits"], &cams[1]["fits"]),
        (&true.into(), &false.into())
    );
    let (_, stdout, _) = run(&format!("{all} --angle 20 --fixture head --cam spiral"));
    assert!(stdout.contains("OUTSIDE the range"), "{stdout}");
    let (status, _, stderr) = run(&format!("{all} --cam hard"));
    assert!(
        status == 2 && stderr.contains("`soft` in `head`"),
        "{stderr}"
    );
}

/// Rows of `tests/reference/relieving.csv`, computed.
#[test]
fn a_grind_on_the_face_is_told() {
    let tool = "face --diameter 50 --angle 10 --off 0.3";
    check(tool, "comes_down_mm", 0.052898, 1e-6);
    check(tool, "diameter_mm", 50.0 - 0.105796, 1e-6);
    let turned = "face --diameter 50 --angle 10 --turn 1deg --land 30 --least-land 10";
    check(turned, "grinds_left", 20.0, 0.0);
}

#[test]
fn the_least_stock_is_told_flute_by_flute() {
    for edges in [
        "0,-0.032,-4um",
        "0 -0.032 -0.004",
        "0;-0.032;-0.004",
        "0 -0.032 -4 um",
    ] {
        let line = format!("setting skim --diameter 16 --angle 9 --edges {edges}");
        let (status, stdout, stderr) = run(&line);
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
    }
    check(
        "skim --diameter 16 --angle 9 --edges 0 -0.032 -0.004 --wear 0,0,0",
        "diameter_mm",
        15.936,
        1e-9,
    );
}

/// What people type is read the same by every calculator, and no number has a tail of nines.
#[test]
fn numbers_come_out_as_they_were_stated() {
    for arguments in [
        "cam --diameter 50 --flutes 8 --angle 10 --land 30",
        "taper --angle 30 --now 0.1",
        "relief --diameter 0.75in --angle 30",
        "relief --diameter 3/4in --angle 29deg20sec",
        "drop --diameter 3/4in --distance 0.03in --angle 30",
        "skim --diameter 0.75in --angle 9 --edges 0;-0.0012in",
        "face --diameter 0.75in --angle 10 --off 0.3",
        "speed --wheel-diameter 0.75in --rpm 30000 --marked 30m/s",
    ] {
        for way in ["", " --json"] {
            let (status, stdout, stderr) = run(&format!("setting {arguments}{way}"));
            assert_eq!(status, 0, "{stderr}");
            let decimals = |number: &str| number.split_once('.').map_or(0, |it| it.1.len());
            let numbers = stdout.split(|c: char| !c.is_ascii_digit() && c != '.');
            let longest = numbers.map(decimals).max();
            assert!(longest <= Some(9), "{stdout}");
        }
    }
}

#[test]
fn what_cannot_be_is_refused_with_2() {
    #[track_caller]
    fn check(arguments: &str, words: &str) {
        let (status, stdout, stderr) = run(&format!("setting {arguments}"));
        assert_eq!((status, stdout.as_str()), (2, ""), "{stderr}");
        assert!(stderr.contains(words), "`{words}` is not in {stderr}");
    }
    check(
        "relief --diameter 20cm --angle 8",
        "`cm` is none of the units mm, in and um",
    );
    check(
        "relief --diameter -20 --angle 8",
        "expected a length above 0",
    );
    check("relief --diameter 0 --angle 8", "expected a length above 0");
    check("relief --diameter 1e-4 --angle 8", "from 0.01 mm");
    check("relief --diameter 20 --angle 89", "0.01 to 60");
    check(
        "relief --diameter 20 --angle 8deg30",
        "its last number has no unit",
    );
    check("relief --diameter 20 --angle nan", "8deg30min");
    check("relief --diameter nan --angle 8", "500um");
    check("relief --diameter inf --angle 8", "500um");
    check("relief --diameter 1e400 --angle 8", "too large");
    check("relief --diameter 5000 --angle 8", "less than 2000 mm");
    check("relief --diameter 3/4 --angle 8", "`3/4in`");
    check("relief --diameter 20,5 --angle 8", "a point and no comma");
    check("relief --diameter 20 --angle 8 --clearance -1", "from 0");
    check(
        "relief --diameter 20 --angle 8 --rest wheel",
        "[possible values: table, head]",
    );
    check("cam --diameter 20 --flutes 0 --angle 8", "1..=24");
    check(
        "cam --diameter 50 --flutes 8 --angle 10 --land 46",
        "a land of 46°, expected at most 45.0000°, the pitch of 8 teeth",
    );
    check("drop --diameter 20 --distance 1", "--angle");
    check("drop --diameter 20 --distance 1 --drop 0", "above 0");
    check(
        "drop --diameter 20 --distance 1 --angle 8 --drop 1",
        "cannot be used with",
    );
    check(
        "drop --diameter 20 --distance 3 --angle 8",
        "expected less than 2.793 mm, where a flat of 8° is back at the height of its edge",
    );
    check(
        "drop --diameter 20 --distance 16 --angle 8",
        "a quarter of the turn",
    );
    check(
        "drop --diameter 20 --distance 0.5 --drop 9",
        "a relief up to 60°",
    );
    check("taper --angle 5mm/ft", "5/8in/ft or 1:20");
    check("speed --wheel-diameter 150", "neither how fast");
    check("speed --wheel-diameter 150 --marked 35", "with its unit");
    check("speed --wheel-diameter 150 --rpm 0", "above 0");
    check(
        "speed --wheel-diameter 150 --full-diameter 100 --rpm 10",
        "its size when new",
    );
    check(
        "speed --wheel-diameter 150 --motor 2850 --pulleys 100",
        "90:75",
    );
    check("speed --wheel-diameter 150 --pulleys 100:50", "--motor");
    check("face --diameter 50 --angle 10", "--off");
    check(
        "face --diameter 50 --angle 10 --off 100",
        "more stock than there is",
    );
    check(
        "face --diameter 50 --angle 10 --turn 30 --land 20",
        "less than the land",
    );
}

#[test]
fn a_list_that_may_be_read_in_two_ways_is_refused() {
    #[track_caller]
    fn check(lists: &str, words: &str) {
        let line = format!("setting skim --diameter 16 --angle 9 {lists}");
        let (status, stdout, stderr) = run(&line);
        assert_eq!((status, stdout.as_str()), (2, ""), "{stderr}");
        assert!(stderr.contains(words), "`{words}` is not in {stderr}");
    }
    check(
        "--edges=-0,032,-0,004",
        "`0 -0.032 -0.004` or `0;-0.032;-0.004`",
    );
    check("--edges -0,032 -0,004", "decimals with a point");
    check("--edges 0,1 --wear 0.1", "decimals with a point");
    check(
        "--edges 0 -32 -4",
        "32.000 mm off flute 1, expected at most 1.6 mm",
    );
    check("--edges 0 -8 -4", "expected at most 1.6 mm");
    check("--edges 0 -0.1 --wear 0.1", "expected as many");
    check(
        "--edges 0 -0.1 --wear 0.1 -0.1",
        "a wear land of -0.1 mm, expected a width from 0",
    );
    check("--edges 0 --wear 3", "no flat of this relief");
    check("--edges 0 nan", "nan");
    check("--edges 0 3000", "less than 2000 mm");
}

#[test]
fn every_setting_has_help_with_an_example() {
    for name in ["relief", "drop", "cam", "taper", "speed", "skim", "face"] {
        let (status, stdout, _) = run(&format!("setting {name} --help"));
        assert_eq!(status, 0);
        assert!(
            stdout.contains(&format!("heelclear setting {name} --")),
            "{stdout}"
        );
    }
}

/// What one inspection traced of a cam serves another that has no trace of it.
#[test]
fn a_motion_is_kept_on_the_grinders_card_and_taken_back() {
    use heelclear::card::{GrinderCard, InspectionCard, Role};
    use std::fs;
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).display().to_string();
    let said = |arguments: &str| {
        let (status, stdout, stderr) = run(arguments);
        (status, stdout + &stderr)
    };
    let (worn, card) = (path("worn"), path("grinder.toml"));
    assert_eq!(
        said(&format!("simulate worn-four-flutes --out {worn}")).0,
        0
    );
    fs::copy(format!("{worn}/grinder.toml"), &card).unwrap();
    let read = || GrinderCard::parse(&fs::read_to_string(&card).unwrap(), "grinder.toml").unwrap();
    let before = read();
    let keep = format!("setting keep-motion {worn} --grinder {card} --cam four-lobes");
    let (status, told) = said(&keep);
    assert_eq!(status, 0, "{told}");
    assert!(
        told.contains("cam `four-lobes`") && told.contains("kept in "),
        "{told}"
    );
    let kept = read();
    let entry = kept
        .motions
        .iter()
        .find(|it| it.cam == "four-lobes")
        .unwrap();
    // Without the trace itself the card is all there is.
    let inspection = format!("{worn}/inspection.toml");
    let text = fs::read_to_string(&inspection).unwrap();
    let mut taken = InspectionCard::parse(&text, "inspection.toml").unwrap();
    taken
        .traces
        .retain(|it| !matches!(it.role, Role::Motion(_)));
    fs::write(&inspection, taken.to_toml()).unwrap();
    let of_card = format!("setting match {worn} --grinder {card} --cam four-lobes --json");
    let (status, stdout, stderr) = run(&of_card);
    assert!([0, 3].contains(&status), "{stdout}{stderr}");
    let setup: Value = serde_json::from_str(&stdout).unwrap();
    assert_eq!(setup["cuts"][0]["cam"], "four-lobes", "{setup}");
    assert_eq!(setup["cuts"][0]["motion_traced"], true, "{setup}");
    let (status, told) = said(&keep);
    assert_eq!(status, 2, "{told}");
    assert!(told.contains("role `motion`"), "{told}");
    let (_, told) = said(&format!("setting keep-motion --forget {card}"));
    assert!(told.contains("took cam `four-lobes`"), "{told}");
    assert_eq!(read(), before);
    let left = fs::read_dir(dir.path()).unwrap().count();
    assert_eq!(left, 2, "{entry:?} is still there");
    let (status, told) = said(&format!("setting keep-motion --forget {card}"));
    assert_eq!(status, 0);
    assert!(told.contains("no kept motion"), "{told}");
}
