//! `capture` as a person meets it: what it says, what it refuses, and that its folder can be judged.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::fs;
use std::path::Path;

/// Runs `heelclear` in this folder; gives its status, stdout and stderr.
fn run(place: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = command.args(arguments).current_dir(place).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap(),
        text(output.stdout),
        text(output.stderr),
    )
}

/// A bench that runs as fast as it can, and a place for its folder.
const SIMULATED: [&str; 4] = ["--simulate", "counterbore-pass", "--faster", "100"];

/// Refuses a trace in these words, and leaves no folder behind.
#[track_caller]
fn check(trace: &str, words: &[&str]) {
    let place = tempfile::tempdir().unwrap();
    let arguments = [
        ["capture", "made"].as_slice(),
        &SIMULATED,
        &["--trace", trace],
    ]
    .concat();
    let (status, _, stderr) = run(place.path(), &arguments);
    assert_eq!(status, 2, "{stderr}");
    for word in words {
        assert!(stderr.contains(word), "`{word}` is not in {stderr}");
    }
    assert!(!place.path().join("made").exists());
}

#[test]
fn a_trace_after_a_new_zero_says_so_on_the_card() {
    let place = tempfile::tempdir().unwrap();
    let traces = ["--trace", "reference:40", "--trace", "seat:2:rezeroed"];
    let arguments = [["capture", "made"].as_slice(), &SIMULATED, &traces].concat();
    let (status, stdout, stderr) = run(place.path(), &arguments);
    assert_eq!((status, stdout.as_str()), (0, "made\n"), "{stderr}");
    let card = fs::read_to_string(place.path().join("made/inspection.toml")).unwrap();
    let (_, seat) = card.split_once("\"seat\"").unwrap();
    assert!(seat.contains("rezeroed = true"), "{card}");
    assert_eq!(card.matches("rezeroed").count(), 1, "{card}");
    // To the second: nobody starts a measurement to the nanosecond.
    let taken = card.lines().find(|line| line.starts_with("taken")).unwrap();
    assert!(taken.ends_with("Z") && !taken.contains('.'), "{taken}");
    assert!(stderr.contains("the tool turns, recording"), "{stderr}");
    assert!(
        !stderr.contains("Ground edges cut"),
        "no edge is near a simulated probe"
    );
}

#[test]
fn distances_are_read_in_any_unit() {
    let place = tempfile::tempdir().unwrap();
    let traces = ["--trace", "reference:1 1/2in:20mm", "--trace", "seat:0.1in"];
    let spacing = ["--spacing", "1deg"];
    let arguments = [
        ["capture", "made"].as_slice(),
        &SIMULATED,
        &traces,
        &spacing,
    ]
    .concat();
    let (status, stdout, stderr) = run(place.path(), &arguments);
    assert_eq!((status, stdout.as_str()), (0, "made\n"), "{stderr}");
    let card = fs::read_to_string(place.path().join("made/inspection.toml")).unwrap();
    for line in ["z_mm = 38.1\n", "diameter_mm = 20.0\n", "z_mm = 2.54\n"] {
        assert!(card.contains(line), "{card}");
    }
}

#[test]
fn the_motion_of_a_fixture_is_taken_with_the_cards_beside_it() {
    let place = tempfile::tempdir().unwrap();
    let (status, _, stderr) = run(
        place.path(),
        &["simulate", "worn-four-flutes", "--out", "worn"],
    );
    assert_eq!(status, 0, "{stderr}");
    let arguments = [
        "capture",
        "made",
        "--simulate",
        "worn-four-flutes",
        "--faster",
        "100",
        "--stage",
        "before-grind",
        "--grinder",
        "worn/grinder.toml",
        "--trace",
        "reference:55",
        "--trace",
        "lead:2",
        "--trace",
        "motion@1.0:55",
    ];
    let (status, _, stderr) = run(place.path(), &arguments);
    assert_eq!(status, 0, "{stderr}");
    let card = fs::read_to_string(place.path().join("made/inspection.toml")).unwrap();
    assert!(card.contains("grinder = \"grinder.toml\""), "{card}");
    let (_, motion) = card.split_once("role = \"motion\"").unwrap();
    assert!(motion.contains("throw_mm = 1.0\n"), "{card}");
    let (status, told, stderr) = run(place.path(), &["setting", "match", "made"]);
    // Whether all of it is surely inside the limits is the bench's chance.
    assert!([0, 3].contains(&status), "{told}{stderr}");
    assert!(told.contains("throw ") && told.contains("skim "), "{told}");
}

#[test]
fn a_trace_in_an_engaged_fixture_says_its_throw_and_its_direction() {
    check("motion:40", &["no throw", "motion@1.0:40"]);
    check("motion@-1:40", &["`-1`"]);
    check("seat@1.0@up:2", &["`@up`", "`@radial` or `@axial`"]);
    check("seet@1.0:2", &["`seet`", "`seat`"]);
    check("reference@1:40", &["locked"]);
}

#[test]
fn an_inspection_that_is_there_is_told_before_a_port_is_opened() {
    let place = tempfile::tempdir().unwrap();
    fs::create_dir(place.path().join("made")).unwrap();
    fs::write(place.path().join("made/inspection.toml"), "").unwrap();
    let arguments = [["capture", "made"].as_slice(), &SIMULATED].concat();
    let (status, _, stderr) = run(place.path(), &arguments);
    assert_eq!(status, 2);
    assert!(stderr.starts_with("error[usage]: made: "), "{stderr}");
}

#[test]
fn a_trace_that_cannot_be_understood_is_told_with_an_example() {
    check(
        "seat:2cm",
        &["`2cm`", "none of the units mm, in and um", "--trace seat:2"],
    );
    check("seat:0,1in", &["`0,1in`", "a point and no comma"]);
    check("seat:nan", &["`nan`", "expected a length such as"]);
    check("seat:1e9", &["less than 2000 mm"]);
    check(
        "seat:2:20:rezero",
        &["`rezero`", "expected nothing or `rezeroed`"],
    );
    check("seet:2", &["`seet`", "`seat`"]);
}

#[test]
fn a_card_that_is_not_there_is_told_in_plain_words() {
    let place = tempfile::tempdir().unwrap();
    let (status, _, stderr) = run(
        place.path(),
        &[
            "capture", "made", "--port", "none", "--tool", "no.toml", "--gauge", "no.toml",
            "--trace", "seat",
        ],
    );
    assert_eq!(status, 2);
    assert!(
        stderr.contains("error[missing-file]: no.toml: "),
        "{stderr}"
    );
    assert!(
        stderr.contains("help: ") && !stderr.contains("os error"),
        "{stderr}"
    );
}

#[cfg(unix)]
#[test]
fn a_folder_whose_traces_lie_elsewhere_is_not_captured_into() {
    let place = tempfile::tempdir().unwrap();
    let path = |name: &str| place.path().join(name);
    fs::create_dir_all(path("made")).unwrap();
    fs::create_dir_all(path("elsewhere")).unwrap();
    std::os::unix::fs::symlink(path("elsewhere"), path("made/traces")).unwrap();
    let arguments = [["capture", "made"].as_slice(), &SIMULATED].concat();
    let (status, _, stderr) = run(place.path(), &arguments);
    assert_eq!(status, 2);
    assert!(
        stderr.contains("a link that leads out of the folder"),
        "{stderr}"
    );
    assert_eq!(fs::read_dir(path("elsewhere")).unwrap().count(), 0);
    // A file in a folder's place is told for what it is.
    fs::remove_file(path("made/traces")).unwrap();
    fs::write(path("made/traces"), "").unwrap();
    let (status, _, stderr) = run(place.path(), &arguments);
    assert_eq!(status, 2);
    assert!(stderr.contains("of that name is there already"), "{stderr}");
    assert!(!stderr.contains("room"), "{stderr}");
}

/// The gauge card of the simulated bench, as a file in this place.
fn gauge_card(place: &Path) {
    let (status, _, stderr) = run(place, &["simulate", "counterbore-pass", "--out", "base"]);
    assert_eq!(status, 0, "{stderr}");
    fs::copy(place.join("base/gauge.toml"), place.join("bench.toml")).unwrap();
}

#[test]
fn a_trace_at_rest_is_taken_without_a_tool_and_can_be_studied() {
    let place = tempfile::tempdir().unwrap();
    gauge_card(place.path());
    let arguments = [
        ["capture", "still", "--rest", "1", "--gauge", "bench.toml"].as_slice(),
        &SIMULATED,
    ]
    .concat();
    let (status, stdout, stderr) = run(place.path(), &arguments);
    assert_eq!((status, stdout.as_str()), (0, "still\n"), "{stderr}");
    assert!(
        stderr.contains("leave tool, stylus and table alone"),
        "{stderr}"
    );
    assert!(stderr.contains("still/traces/rest.csv"), "{stderr}");
    assert!(!place.path().join("still/inspection.toml").exists());
    assert!(place.path().join("still/raw/rest.log").is_file());
    let trace = fs::read_to_string(place.path().join("still/traces/rest.csv")).unwrap();
    let mut angles: Vec<f64> = trace
        .lines()
        .skip(1)
        .map(|line| line.split(',').nth(1).unwrap().parse().unwrap())
        .collect();
    angles.sort_by(f64::total_cmp);
    assert!(angles.len() > 20, "{trace}");
    assert!(
        angles[angles.len() - 1] - angles[0] < 0.2,
        "it turned: {angles:?}"
    );
    let study = [
        "study",
        "rest",
        "still/traces/rest.csv",
        "--gauge",
        "bench.toml",
    ];
    let (status, stdout, stderr) = run(place.path(), &study);
    assert!(matches!(status, 0 | 3), "{stdout}{stderr}");
    // What is there already is not written over.
    let (status, _, stderr) = run(place.path(), &arguments);
    assert_eq!(status, 2);
    assert!(stderr.contains("holds a gauge card already"), "{stderr}");
}

#[test]
fn rounds_need_no_tool_and_features_do() {
    let place = tempfile::tempdir().unwrap();
    gauge_card(place.path());
    let of = |folder, trace| {
        let traced = ["capture", folder, "--gauge", "bench.toml", "--trace", trace];
        let arguments = [traced.as_slice(), &["--until-covered", "1"], &SIMULATED];
        run(place.path(), &arguments.concat())
    };
    let (status, _, stderr) = of("round", "reference");
    assert_eq!(status, 0, "{stderr}");
    assert!(place.path().join("round/traces/reference.csv").is_file());
    assert!(!place.path().join("round/tool.toml").exists());
    // A port that is not there: what is wrong before that is told first.
    let arguments = [
        "capture",
        "made",
        "--port",
        "/dev/none",
        "--gauge",
        "bench.toml",
    ];
    let (status, _, stderr) = run(
        place.path(),
        &[arguments.as_slice(), &["--trace", "seat:2"]].concat(),
    );
    assert_eq!(status, 2);
    assert!(
        stderr.contains("read the trace `seat` and no tool card"),
        "{stderr}"
    );
    assert!(stderr.contains("--tool FILE"), "{stderr}");
    let (status, _, stderr) = run(
        place.path(),
        &[
            arguments.as_slice(),
            &["--rest", "5", "--trace", "reference"],
        ]
        .concat(),
    );
    assert_eq!(status, 2);
    assert!(stderr.contains("--rest"), "{stderr}");
    assert!(!place.path().join("made").exists());
}
