//! Cards through the front door: what is read, and what is refused with which words.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::card::*;
use heelclear::error::{Code, Error};
use heelclear::quantity::{Angle, Length, Time};

mod print;

const TOOL: &str = r#"schema = 1
id = "VB-07"
name = "seat counterbore"
hand = "right"
flutes = 2

[decision]
confidence = 0.95

[[feature]]
name = "seat"
surface = "radial"
diameter_mm = 20.0
check_distance_mm = 0.5
land_deg = 60
curve = "auto"

[feature.limits]
relief_angle_deg = { min = 6.0, max = 9.0 }
drop_mm = { min = 0.045, max = 0.075 }
"#;

const GAUGE: &str = r#"schema = 1
[indicator]
resolution_mm = 0.001
max_error_mm = 0.003
hysteresis_mm = 0.001
lever_angle_deg = 0.0
[stylus]
shape = "ball"
radius_mm = 1.0
[encoder]
counts_per_rev = 4000
grows = "clockwise"
[setup]
probe_offset_mm = 0.0
probe_offset_tolerance_mm = 0.05
runout_mm = 0.002
delay_ms = 0.0
"#;

const INSPECTION: &str = r#"schema = 1
tool = "tool.toml"
gauge = "gauge.toml"
taken = 2026-03-02T09:14:00Z
operator = "bench 2"
stage = "after-grind"

[[trace]]
file = "traces/shank.csv"
role = "reference"
z_mm = 40.0

[[trace]]
file = "traces/seat.csv"
role = "feature"
feature = "seat"
z_mm = 2.0
"#;

/// Every error of a card in one list.
fn errors(error: &Error) -> Vec<&Error> {
    let mut all = vec![error];
    all.extend(error.others());
    all
}

/// Replaces a line of a good card, and expects one error whose code, line and words are these.
#[track_caller]
fn check<T: std::fmt::Debug>(
    parse: fn(&str, &str) -> heelclear::error::Result<T>,
    card: &str,
    (from, to): (&str, &str),
    (code, line): (Code, u64),
    words: &[&str],
) {
    assert!(card.contains(from), "the card has no `{from}`");
    let error = parse(&card.replacen(from, to, 1), "card.toml").unwrap_err();
    let text = error.to_string();
    assert_eq!(errors(&error).len(), 1, "{text}");
    assert_eq!(error.code(), code, "{text}");
    assert_eq!(error.place().file.as_deref(), Some("card.toml"));
    assert_eq!(error.place().line.unwrap_or(0), line, "{text}");
    for word in words {
        assert!(text.contains(word), "`{word}` is not in\n{text}");
    }
}

#[track_caller]
fn tool(edit: (&str, &str), at: (Code, u64), words: &[&str]) {
    check(ToolCard::parse, TOOL, edit, at, words);
}

#[track_caller]
fn gauge(edit: (&str, &str), at: (Code, u64), words: &[&str]) {
    check(GaugeCard::parse, GAUGE, edit, at, words);
}

#[track_caller]
fn inspection(edit: (&str, &str), at: (Code, u64), words: &[&str]) {
    check(InspectionCard::parse, INSPECTION, edit, at, words);
}

#[test]
fn the_cards_of_the_contract_are_read() {
    let card = ToolCard::parse(TOOL, "tool.toml").unwrap();
    let seat = &card.features[0];
    assert_eq!(
        (card.id.as_str(), card.flutes, card.hand),
        ("VB-07", 2, Hand::Right)
    );
    assert_eq!(seat.diameter, Length::from_mm(20.0));
    assert_eq!(seat.land, Some(Angle::from_deg(60.0)));
    let drop = seat.limits.get(Name::Drop).unwrap();
    assert_eq!((drop.min, drop.max), (Some(0.045), Some(0.075)));

    let card = GaugeCard::parse(GAUGE, "gauge.toml").unwrap();
    assert_eq!(card.encoder.counts_per_turn, 4000);
    assert_eq!(card.setup.delay, Some(Time::ZERO));
    assert_eq!(card.link, None);

    let card = InspectionCard::parse(INSPECTION, "inspection.toml").unwrap();
    assert_eq!(card.traces[1].role, Role::Feature("seat".to_owned()));
    assert_eq!(card.taken.to_string(), "2026-03-02T09:14:00Z");
    assert!(!card.interrupted && !card.traces[0].rezeroed);
}

#[test]
fn a_spacing_goes_once_round_and_has_an_angle_for_every_flute() {
    let with = |list: &str| format!("flutes = 2\nspacing_deg = {list}");
    let card = TOOL.replace("flutes = 2", &with("[178.0, 182]"));
    let card = ToolCard::parse(&card, "tool.toml").unwrap();
    assert_eq!(card.spacing, [178.0, 182.0].map(Angle::from_deg));
    let card = TOOL.replace("flutes = 2", &with("[178.004, 182.005]"));
    assert!(ToolCard::parse(&card, "tool.toml").is_ok());
    for (list, words) in [
        ("[178, 181]", "add up to 359.000°"),
        ("[178.0, 182.02]", "add up to 360.020°"),
        ("[120, 120, 120]", "3 angles for 2 flutes"),
        (
            "[180, \"180\"]",
            "`[…, …]`, numbers above 0 and below 360 deg",
        ),
        ("[0, 360]", "above 0 and below 360 deg"),
        ("180", "`[…, …]`"),
    ] {
        tool(("flutes = 2", &with(list)), (Code::CardValue, 6), &[words]);
    }
}

#[test]
fn what_is_absent_has_the_meaning_that_the_manual_says() {
    let text = TOOL.replace("[decision]\nconfidence = 0.95\n", "");
    let text = text.replace("land_deg = 60\ncurve = \"auto\"\n", "");
    let (text, _) = text.split_once("[feature.limits]").unwrap();
    let card = ToolCard::parse(text, "tool.toml").unwrap();
    assert_eq!(card.confidence, 0.95);
    assert_eq!(card.features[0].curve, CurveChoice::Auto);
    assert_eq!(card.features[0].land, None);
    let rule = card.features[0].limits.get(Name::HeelClearance).unwrap();
    assert_eq!((rule.min, rule.max), (Some(0.0), None));
}

#[test]
fn an_upper_limit_does_not_switch_the_rule_against_heel_drag_off() {
    let text = TOOL.replace(
        "drop_mm = { min = 0.045, max = 0.075 }",
        "heel_clearance_mm = { max = 0.5 }",
    );
    let card = ToolCard::parse(&text, "tool.toml").unwrap();
    let rule = card.features[0].limits.get(Name::HeelClearance).unwrap();
    assert_eq!((rule.min, rule.max), (Some(0.0), Some(0.5)));
}

/// The inch is 25.4 mm by definition (international yard and pound agreement, 1959).
#[test]
fn every_length_may_be_in_inches_or_micrometres() {
    let text = TOOL.replace("diameter_mm = 20.0", "diameter_in = 0.5");
    let text = text.replace("check_distance_mm = 0.5", "check_distance_um = 500");
    let text = text.replace(
        "drop_mm = { min = 0.045, max = 0.075 }",
        "drop_in = { max = 0.003 }",
    );
    let text = text.replace(
        "surface = \"radial\"",
        "surface = \"axial\"\nfeed_in_per_rev = 0.004",
    );
    let card = ToolCard::parse(&text, "tool.toml").unwrap();
    let seat = &card.features[0];
    assert_eq!(seat.diameter.mm(), 12.7);
    assert_eq!(seat.check_distance, Length::from_mm(0.5));
    assert!((seat.feed.unwrap().mm() - 0.1016).abs() < 1e-15);
    assert!((seat.limits.get(Name::Drop).unwrap().max.unwrap() - 0.0762).abs() < 1e-15);
}

#[test]
fn an_unknown_key_shows_its_line_and_the_nearest_known_one() {
    use Code::UnknownKey;
    tool(
        ("[decision]", "flute = 2\n[decision]"),
        (UnknownKey, 7),
        &["`flute`", "`flutes`", "^^^^^"],
    );
    tool(
        ("land_deg", "land_rad"),
        (UnknownKey, 15),
        &["written `land_deg`"],
    );
    tool(
        ("land_deg", "land"),
        (UnknownKey, 15),
        &["written `land_deg`"],
    );
    tool(
        ("curve =", "resolution_mm ="),
        (UnknownKey, 16),
        &["known keys under `[[feature]]`"],
    );
    tool(
        ("curve =", "hand ="),
        (UnknownKey, 16),
        &["belongs at the top of the card"],
    );
    tool(
        ("{ min = 6.0", "{ least = 6.0"),
        (UnknownKey, 19),
        &["`min` or `max`"],
    );
    gauge(
        ("runout_mm", "runout"),
        (UnknownKey, 16),
        &["`runout_mm`, `runout_in`, `runout_um`"],
    );
    gauge(
        ("delay_ms", "delay_s"),
        (UnknownKey, 17),
        &["written `delay_ms`"],
    );
    inspection(
        ("z_mm = 2.0", "hight_mm = 2"),
        (UnknownKey, 17),
        &["known keys"],
    );
    inspection(
        ("z_mm = 2.0", "rezerod = true"),
        (UnknownKey, 17),
        &["`rezeroed`"],
    );
}

#[test]
fn a_missing_key_is_named_with_its_meaning() {
    use Code::MissingKey;
    tool(
        ("flutes = 2", ""),
        (MissingKey, 0),
        &["no `flutes` at the top", "number of teeth", "from 1 to 24"],
    );
    tool(
        ("diameter_mm = 20.0", ""),
        (MissingKey, 10),
        &["`diameter_mm` under `[[feature]]`"],
    );
    gauge(
        ("radius_mm = 1.0", ""),
        (MissingKey, 7),
        &["`radius_mm`", "radius of the ball"],
    );
    gauge(
        ("hysteresis_mm = 0.001", ""),
        (MissingKey, 2),
        &["`hysteresis_mm`"],
    );
    inspection(
        ("feature = \"seat\"", ""),
        (MissingKey, 13),
        &["`feature`", "tool card"],
    );
    inspection(
        ("file = \"traces/seat.csv\"", ""),
        (MissingKey, 13),
        &["`angle_file`"],
    );
    inspection(
        ("file = \"traces/seat.csv\"", "angle_file = \"a.csv\""),
        (MissingKey, 13),
        &["`reading_file`"],
    );
}

#[test]
fn a_value_outside_its_range_is_refused_with_the_range() {
    use Code::CardValue;
    tool(
        ("flutes = 2", "flutes = 0"),
        (CardValue, 5),
        &["read `0`", "from 1 to 24"],
    );
    tool(
        ("flutes = 2", "flutes = 25"),
        (CardValue, 5),
        &["from 1 to 24"],
    );
    tool(
        ("flutes = 2", "flutes = 2.5"),
        (CardValue, 5),
        &["a whole number"],
    );
    tool(
        ("flutes = 2", "flutes = 9223372036854775807"),
        (CardValue, 5),
        &["from 1 to 24"],
    );
    tool(
        ("flutes = 2", "flutes = \"two\""),
        (CardValue, 5),
        &["`\"two\"`"],
    );
    tool(
        ("diameter_mm = 20.0", "diameter_mm = -20.0"),
        (CardValue, 13),
        &["above 0 and below 2000 mm"],
    );
    tool(
        ("diameter_mm = 20.0", "diameter_mm = nan"),
        (CardValue, 13),
        &["`nan`"],
    );
    tool(
        ("diameter_mm = 20.0", "diameter_mm = inf"),
        (CardValue, 13),
        &["`inf`"],
    );
    tool(
        ("diameter_mm = 20.0", "diameter_mm = 1e300"),
        (CardValue, 13),
        &["below 2000 mm"],
    );
    tool(
        ("diameter_mm = 20.0", "diameter_mm = 1e999"),
        (CardValue, 13),
        &["`1e999`"],
    );
    tool(
        ("diameter_mm = 20.0", "diameter_in = 100"),
        (CardValue, 13),
        &["below 78.7402 in"],
    );
    tool(
        ("land_deg = 60", "land_deg = 360"),
        (CardValue, 15),
        &["below 360 deg"],
    );
    tool(
        ("confidence = 0.95", "confidence = 95"),
        (CardValue, 8),
        &["from 0.5 to 0.9999"],
    );
    tool(("max = 9.0", "max = nan"), (CardValue, 19), &["`nan`"]);
    tool(
        ("max = 9.0", "max = 5.0"),
        (CardValue, 19),
        &["a `min` that is not above `max`"],
    );
    tool(
        ("{ min = 6.0, max = 9.0 }", "{}"),
        (CardValue, 19),
        &["one or both"],
    );
    tool(
        ("{ min = 6.0, max = 9.0 }", "7.5"),
        (CardValue, 19),
        &["`7.5`", "min = …"],
    );
    tool(
        ("curve = \"auto\"", "curve = \"round\""),
        (CardValue, 16),
        &["`log-spiral`"],
    );
    tool(
        (
            "drop_mm = { min = 0.045",
            "heel_clearance_mm = { min = -0.1",
        ),
        (CardValue, 20),
        &["from 0"],
    );
    gauge(
        ("counts_per_rev = 4000", "counts_per_rev = 0"),
        (CardValue, 11),
        &["from 4 to"],
    );
    gauge(
        ("resolution_mm = 0.001", "resolution_mm = 0"),
        (CardValue, 3),
        &["above 0"],
    );
    inspection(
        ("2026-03-02T09:14:00Z", "\"yesterday\""),
        (CardValue, 4),
        &["2026-03-02T09:14:00Z"],
    );
    inspection(
        ("2026-03-02T09:14:00Z", "2026-03-02T09:14:00"),
        (CardValue, 4),
        &["with its offset"],
    );
}

#[test]
fn values_that_do_not_go_together_are_refused() {
    use Code::CardValue;
    tool(
        ("land_deg = 60", "face_deg = 90"),
        (CardValue, 15),
        &["radial", "expected it on an axial one"],
    );
    gauge(
        ("runout_mm = 0.002", "lean_over_mm = 80.0"),
        (CardValue, 16),
        &["without `lean_mm`"],
    );
    tool(
        ("land_deg = 60", "feed_mm_per_rev = 0.1"),
        (CardValue, 15),
        &["radial", "`axial`"],
    );
    tool(
        (
            "surface = \"radial\"",
            "surface = \"axial\"\nleast_diameter_um = 19_200",
        ),
        (CardValue, 13),
        &["axial", "does not get smaller"],
    );
    tool(
        ("land_deg = 60", "diameter_in = 0.8"),
        (CardValue, 15),
        &["another unit", "keep one of"],
    );
    tool(
        ("check_distance_mm = 0.5", "check_distance_mm = 32"),
        (CardValue, 14),
        &["183.3°", "the next edge", "180.0°"],
    );
    gauge(
        ("shape = \"ball\"", "shape = \"point\""),
        (CardValue, 9),
        &["radius on a point"],
    );
    gauge(
        ("radius_mm = 1.0", "radius_mm = 0"),
        (CardValue, 9),
        &["above 0"],
    );
    inspection(
        (
            "role = \"reference\"",
            "role = \"reference\"\nfeature = \"seat\"",
        ),
        (CardValue, 11),
        &["reference trace"],
    );
    inspection(
        ("z_mm = 2.0", "diameter_mm = 20"),
        (CardValue, 17),
        &["tool card"],
    );
    inspection(
        ("z_mm = 2.0", "angle_file = \"a.csv\""),
        (CardValue, 14),
        &["beside"],
    );
}

#[test]
fn two_features_may_not_share_a_name() {
    let (_, feature) = TOOL.split_once("[[feature]]").unwrap();
    let text = format!("{TOOL}\n[[feature]]{feature}");
    let error = ToolCard::parse(&text, "tool.toml").unwrap_err();
    assert!(error.message().contains("second feature `seat`"), "{error}");
}

#[test]
fn a_path_that_leaves_the_folder_is_refused() {
    for path in [
        "/etc/passwd",
        "../other/seat.csv",
        "a/../../b.csv",
        "C:\\seat.csv",
        "verdict.json",
        "./Tool.toml",
    ] {
        let to = format!("file = '{path}'");
        inspection(
            ("file = \"traces/seat.csv\"", &to),
            (Code::CardValue, 14),
            &["inside the folder"],
        );
    }
}

#[test]
fn a_newer_card_is_refused_by_saying_so_and_nothing_else() {
    tool(
        ("schema = 1", "schema = 2\nfoo = 3"),
        (Code::CardValue, 1),
        &["newer heelclear"],
    );
    gauge(
        ("schema = 1", "schema = 0"),
        (Code::CardValue, 1),
        &["that is 1"],
    );
}

#[test]
fn the_pattern_of_a_text_indicator_is_checked_when_the_card_is_read() {
    #[track_caller]
    fn check(pattern: &str, words: &[&str]) {
        let text = format!("{GAUGE}\n[link]\nprotocol = \"text\"\npattern = '{pattern}'\n");
        let error = GaugeCard::parse(&text, "gauge.toml").unwrap_err();
        for word in words {
            assert!(
                error.to_string().contains(word),
                "`{word}` is not in\n{error}"
            );
        }
    }
    check("(?<reading>[0-9", &["the pattern: ", "unclosed"]);
    check("([0-9.]+)", &["`reading`"]);
    check("(?<reading>.*)(?<weight>x)", &["`weight`", "`unit`"]);
    let text = format!("{GAUGE}\n[link]\nprotocol = \"text\"\n");
    let error = GaugeCard::parse(&text, "gauge.toml").unwrap_err();
    assert_eq!(error.code(), Code::MissingKey);
}

#[test]
fn all_that_is_wrong_is_told_at_once_in_the_order_of_the_text() {
    let text = TOOL
        .replace("flutes = 2", "flutes = 0")
        .replace("20.0", "-1")
        .replace("land_deg", "land")
        .replace("max = 9.0", "max = 1.0");
    let error = ToolCard::parse(&text, "tool.toml").unwrap_err();
    let lines: Vec<_> = errors(&error).iter().map(|e| e.place().line).collect();
    assert_eq!(lines, [Some(5), Some(13), Some(15), Some(19)]);
}

#[test]
fn an_error_looks_like_this() {
    let text = TOOL.replace("flutes = 2", "flutes = 0");
    let error = ToolCard::parse(&text, "tool.toml").unwrap_err();
    assert_eq!(
        error.to_string(),
        "tool.toml, line 5: read `0`, expected a whole number from 1 to 24: number of teeth\n  \
         |\n5 | flutes = 0\n  |          ^"
    );
}

#[test]
fn what_is_not_toml_is_told_with_its_line() {
    let text = TOOL.replace("id = \"VB-07\"", "id = \"VB-07");
    let error = ToolCard::parse(&text, "tool.toml").unwrap_err();
    assert_eq!(
        (error.code(), error.place().line),
        (Code::CardSyntax, Some(2))
    );
    let text = TOOL.replace("flutes = 2", "flutes = 2\nflutes = 3");
    let error = ToolCard::parse(&text, "tool.toml").unwrap_err();
    assert_eq!(
        (error.code(), error.place().line),
        (Code::CardSyntax, Some(6))
    );
}

#[track_caller]
fn senses(lines: &str, right: Positive, left: Positive) {
    let card = GaugeCard::parse(&GAUGE.replace(GROWS, lines), "gauge.toml").unwrap();
    let encoder = card.encoder;
    assert_eq!(
        (encoder.positive(Hand::Right), encoder.positive(Hand::Left)),
        (right, left)
    );
    assert_eq!(GaugeCard::parse(&card.to_toml(), "gauge.toml"), Ok(card));
}

const GROWS: &str = "grows = \"clockwise\"\n";

#[test]
fn which_way_the_angle_grows_is_a_fact_of_the_bench_and_older_cards_are_read() {
    use Positive::{Backing, Cutting};
    senses("grows = \"clockwise\"\n", Cutting, Backing);
    senses("grows = \"counter-clockwise\"\n", Backing, Cutting);
    senses("positive = \"cutting\"\n", Cutting, Cutting);
    senses("positive = \"backing\"\n", Backing, Backing);
}

#[test]
fn a_card_that_contradicts_itself_about_the_turning_sense_is_refused() {
    let proven = |grows: &str, on: &str| {
        format!("{GROWS}sense_proven = {{ grows = \"{grows}\", on = {on} }}\n")
    };
    gauge(
        (GROWS, &proven("counter-clockwise", "2026-03-01")),
        (Code::CardValue, 13),
        &[
            "seen to grow counter-clockwise on 2026-03-01",
            "expected clockwise",
            "--prove-sense",
        ],
    );
    gauge(
        (GROWS, &proven("clockwise", "\"March\"")),
        (Code::CardValue, 13),
        &["expected a date, such as `2026-03-02`"],
    );
    gauge(
        (GROWS, ""),
        (Code::MissingKey, 10),
        &["read no `grows`", "seen from the driven end"],
    );
    gauge(
        (GROWS, &format!("{GROWS}positive = \"cutting\"\n")),
        (Code::CardValue, 13),
        &["`positive` beside `grows`", "keep `grows`"],
    );
    gauge(
        (GROWS, "grows = \"right\"\n"),
        (Code::CardValue, 12),
        &["`clockwise` or `counter-clockwise`"],
    );
}

#[track_caller]
fn proves(encoder: &str, expected: &str) {
    let stated = format!("counts_per_rev = 4000\n{GROWS}");
    let seen = SenseProven {
        grows: Rotation::CounterClockwise,
        on: jiff::civil::date(2026, 4, 2),
    };
    let text = GaugeCard::with_sense_proven(&GAUGE.replace(&stated, encoder), seen);
    assert_eq!(text, GAUGE.replace(&stated, expected));
    let card = GaugeCard::parse(&text, "gauge.toml").unwrap();
    assert_eq!(card.encoder.sense_proven, Some(seen));
}

#[test]
fn a_proof_is_put_beside_what_a_person_wrote() {
    let seen = "grows = \"counter-clockwise\"\nsense_proven = { grows = \"counter-clockwise\", on = 2026-04-02 }\n";
    proves(
        "positive = \"backing\"\ncounts_per_rev = 4000 # four a line\n",
        &format!("{seen}counts_per_rev = 4000 # four a line\n"),
    );
    let counts = "counts_per_rev = 4000\n";
    let old = "grows = \"counter-clockwise\", on = 2020-01-01";
    proves(
        &format!("{counts}grows = \"counter-clockwise\" # seen\nsense_proven = {{ {old} }}\n"),
        &format!("{counts}{seen}"),
    );
    let old = old.replace(", ", "\n");
    proves(
        &format!("{counts}grows = \"counter-clockwise\"\n[encoder.sense_proven]\n{old}\n"),
        &format!("{counts}{seen}"),
    );
}
