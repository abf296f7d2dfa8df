//! Which way it turns: a sense that is stated wrongly, or was never proven, judges nothing.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Record, Verdict};
use heelclear::simulator::{Scenario, built_in};

/// How the walls of the gaps lean.
#[derive(Clone, Copy)]
enum Gap {
    /// Both straight down: a trace that can be read either way.
    Straight,
    /// The back of each tooth leans.
    Leans,
}

const RIGHT: &str = "grows = \"clockwise\"\n";
const RIGHT_PROVEN: &str =
    "grows = \"clockwise\"\nsense_proven = { grows = \"clockwise\", on = 2026-03-01 }\n";
const WRONG: &str = "grows = \"counter-clockwise\"\n";
const WRONG_PROVEN: &str = "grows = \"counter-clockwise\"\nsense_proven = { grows = \"counter-clockwise\", on = 2026-03-01 }\n";
const OLD_RIGHT: &str = "positive = \"cutting\"\n";
const OLD_WRONG: &str = "positive = \"backing\"\n";

fn scenario(name: &str, gap: Gap) -> Scenario {
    let mut scenario = built_in(name).unwrap();
    if let Gap::Leans = gap {
        for feature in &mut scenario.feature {
            feature.heel_wall_deg = 40.0;
        }
    }
    scenario
}

/// Judges a simulated inspection with this said of the encoder's sense.
fn judged(scenario: &Scenario, said: &str) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    let card = dir.path().join("gauge.toml");
    let text = std::fs::read_to_string(&card).unwrap();
    let lines = text.lines();
    let kept: Vec<&str> = lines
        .filter(|line| !line.starts_with("grows") && !line.starts_with("sense_proven"))
        .collect();
    let text = kept.join("\n");
    let text = text.replace("\n[setup]", &format!("{said}\n[setup]"));
    std::fs::write(card, text).unwrap();
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

#[track_caller]
fn check(name: &str, gap: Gap, said: &str, expected: Verdict, doubt: Option<&str>) -> Record {
    let record = judged(&scenario(name, gap), said);
    let kinds: Vec<&str> = (record.doubts.iter())
        .map(|doubt| doubt.kind.as_str())
        .filter(|kind| kind.starts_with("sense"))
        .collect();
    let told = (record.verdict, kinds.first().copied());
    assert_eq!(told, (Some(expected), doubt), "{name} with {said}");
    record
}

#[test]
fn a_sense_that_was_proven_is_judged_as_stated() {
    check(
        "counterbore-pass",
        Gap::Straight,
        RIGHT_PROVEN,
        Verdict::Pass,
        None,
    );
    check(
        "counterbore-heel-drag",
        Gap::Straight,
        RIGHT_PROVEN,
        Verdict::Fail,
        None,
    );
    check(
        "counterbore-pass",
        Gap::Leans,
        RIGHT_PROVEN,
        Verdict::Pass,
        None,
    );
    check(
        "counterbore-heel-drag",
        Gap::Leans,
        RIGHT_PROVEN,
        Verdict::Fail,
        None,
    );
}

#[test]
fn a_sense_that_was_never_proven_judges_nothing_where_the_trace_fits_both() {
    let kind = Some("sense-unproven");
    for said in [RIGHT, WRONG, OLD_RIGHT, OLD_WRONG] {
        let name = "counterbore-heel-drag";
        check(name, Gap::Straight, said, Verdict::Undecided, kind);
    }
    check(
        "counterbore-pass",
        Gap::Straight,
        WRONG,
        Verdict::Undecided,
        kind,
    );
    check(
        "reamer-cam-rise",
        Gap::Straight,
        WRONG,
        Verdict::Undecided,
        kind,
    );
    let record = check(
        "end-face-feed",
        Gap::Straight,
        RIGHT,
        Verdict::Undecided,
        kind,
    );
    let cure = &record.doubts[0].cure;
    assert!(cure.contains("heelclear ready --prove-sense"), "{cure}");
}

#[test]
fn the_walls_of_the_gaps_tell_a_sense_that_was_never_proven() {
    let name = "counterbore-pass";
    for said in [RIGHT, OLD_RIGHT] {
        let record = check(name, Gap::Leans, said, Verdict::Pass, None);
        let taken = record.about.assumptions.join("\n");
        assert!(taken.contains("never proven on this bench"), "{taken}");
        assert!(taken.contains("walls of the gaps agree"), "{taken}");
    }
    check(
        "counterbore-heel-drag",
        Gap::Leans,
        OLD_RIGHT,
        Verdict::Fail,
        None,
    );
    check("end-face-feed", Gap::Leans, RIGHT, Verdict::Pass, None);
    // Not decided, for reasons that have nothing to do with the sense.
    let reamer = judged(&scenario("six-flute-reamer", Gap::Leans), RIGHT);
    let of_sense = |kind: &str| kind.starts_with("sense-");
    assert!(!reamer.doubts.iter().any(|doubt| of_sense(&doubt.kind)));
}

#[test]
fn walls_that_fit_the_other_sense_are_believed_more_than_a_card() {
    let kind = Some("sense-reversed");
    for said in [WRONG, WRONG_PROVEN, OLD_WRONG] {
        check(
            "counterbore-heel-drag",
            Gap::Leans,
            said,
            Verdict::Undecided,
            kind,
        );
    }
    for name in [
        "counterbore-pass",
        "six-flute-reamer",
        "reamer-cam-rise",
        "end-face-feed",
    ] {
        check(name, Gap::Leans, WRONG_PROVEN, Verdict::Undecided, kind);
    }
}

#[test]
fn a_tool_of_the_other_hand_is_right_on_the_same_card() {
    let mut scenario = scenario("counterbore-heel-drag", Gap::Straight);
    scenario.tool.hand = "left".to_owned();
    let record = judged(&scenario, RIGHT_PROVEN);
    assert_eq!(record.verdict, Some(Verdict::Fail));
    assert!(record.doubts.is_empty(), "{:?}", record.doubts);
    // An older card is written for a right-hand tool, and says the opposite of a left-hand one.
    let record = judged(&scenario, OLD_RIGHT);
    assert_eq!(record.verdict, Some(Verdict::Undecided));
}

#[track_caller]
fn hinted(hand: &str, said: &str, expected: &str) {
    let mut scenario = scenario("counterbore-pass", Gap::Straight);
    scenario.tool.hand = hand.to_owned();
    let warnings = judged(&scenario, said).warnings.join("\n");
    assert!(warnings.contains(expected), "{warnings}");
}

#[test]
fn an_older_card_is_told_what_to_write_instead() {
    hinted(
        "right",
        OLD_RIGHT,
        "for this right-hand tool it means `grows = \"clockwise\"`",
    );
    hinted(
        "right",
        OLD_WRONG,
        "it means `grows = \"counter-clockwise\"`",
    );
    hinted(
        "left",
        OLD_RIGHT,
        "for this left-hand tool it means `grows = \"counter-clockwise\"`",
    );
}

#[test]
fn an_older_card_that_was_seen_to_be_wrong_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    write_folder(&scenario("counterbore-pass", Gap::Straight), dir.path()).unwrap();
    let card = dir.path().join("gauge.toml");
    let text = std::fs::read_to_string(&card).unwrap();
    let text = text.replacen("grows = \"clockwise\"", "positive = \"backing\"", 1);
    std::fs::write(card, text).unwrap();
    let error = Folder::open(dir.path()).unwrap_err().to_string();
    assert!(
        error.contains("expected clockwise: so it was seen on 2026-03-02"),
        "{error}"
    );
    assert!(error.contains("write `grows = \"clockwise\"`"), "{error}");
}
