//! Cards to start from: every key is explained, every example can be used, and nothing is judged by a
//! figure without a source.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::card::starter::{
    Material, NewFeature, NewGauge, NewGrinder, NewInspection, NewTool, NewWheel, Starter, Work,
    features_of_steps,
};
use heelclear::card::{
    Cuts, Engaged, GaugeCard, GrinderCard, InspectionCard, Kind, Limit, Name, Role, Section, Stage,
    Surface, ToolCard, keys,
};
use heelclear::inspection::capture::Wanted;
use heelclear::inspection::clamping;
use heelclear::quantity::{Angle, Length, Speed, Units};
use proptest::prelude::*;

fn tool(units: Units, features: Vec<NewFeature>) -> NewTool {
    NewTool {
        units,
        id: None,
        name: None,
        hand: None,
        flutes: None,
        work: Work::Cutter,
        material: None,
        features,
    }
}

fn inspection(units: Units) -> NewInspection {
    NewInspection {
        units,
        taken: "2026-03-02T09:14:00Z".parse().unwrap(),
        operator: None,
        stage: Stage::AfterGrind,
        grinder: None,
        setup: None,
        traces: Vec::new(),
    }
}

type Read = fn(&str) -> Result<(), String>;

/// Every kind of card with nothing stated, its keys, and its reader.
fn templates(units: Units) -> [(Starter, &'static [Section], Read); 4] {
    let gauge = NewGauge {
        units,
        ..NewGauge::default()
    };
    let grinder = NewGrinder {
        units,
        ..NewGrinder::default()
    };
    [
        (tool(units, Vec::new()).card(), keys::TOOL, |text| {
            let card = ToolCard::parse(text, "tool.toml");
            card.map(drop).map_err(|error| error.to_string())
        }),
        (gauge.card(), keys::GAUGE, |text| {
            let card = GaugeCard::parse(text, "gauge.toml");
            card.map(drop).map_err(|error| error.to_string())
        }),
        (grinder.card(), keys::GRINDER, |text| {
            let card = GrinderCard::parse(text, "grinder.toml");
            card.map(drop).map_err(|error| error.to_string())
        }),
        (inspection(units).card(), keys::INSPECTION, |text| {
            let card = InspectionCard::parse(text, "inspection.toml");
            card.map(drop).map_err(|error| error.to_string())
        }),
    ]
}

/// Whether a line is a key or a heading that is left out, and no sentence.
fn left_out(line: &str) -> Option<&str> {
    let rest = line.strip_prefix('#')?;
    (!rest.starts_with(' ')).then_some(rest)
}

#[test]
fn a_template_is_accepted_as_it_stands_and_has_every_key_with_its_meaning() {
    for units in [Units::Metric, Units::Inch] {
        for (made, sections, read) in templates(units) {
            assert_eq!(read(&made.text), Ok(()), "{}", made.text);
            for section in sections {
                check_section(&made.text, section, units);
            }
        }
    }
}

#[track_caller]
fn check_section(text: &str, section: &Section, units: Units) {
    let lines: Vec<&str> = text.lines().map(|it| left_out(it).unwrap_or(it)).collect();
    let from = match section.heading {
        "" => 0,
        heading => lines.iter().position(|it| *it == heading).unwrap(),
    };
    let lines: Vec<&str> = lines[from..].to_vec();
    let joined = lines.join(" ").replace("# ", "");
    for key in section.keys {
        if matches!(key.kind, Kind::Table | Kind::Tables) {
            continue;
        }
        let is_length = matches!(key.kind, Kind::Length(_) | Kind::LengthLimit(_));
        let inches = is_length && units == Units::Inch;
        let name = if inches {
            key.name.replacen("_mm", "_in", 1)
        } else {
            key.name.to_owned()
        };
        let start = format!("{name} = ");
        assert!(
            lines.iter().any(|it| it.starts_with(&start)),
            "no {name} in {text}"
        );
        let meaning = key
            .meaning
            .replace("_mm`", if units == Units::Inch { "_in`" } else { "_mm`" });
        assert!(joined.contains(&meaning), "{name} is not explained");
    }
}

/// Uses what a table has left out, its required keys with it, and nothing else.
#[test]
fn every_example_that_is_left_out_can_be_used() {
    /// Keys that stand in place of others.
    const INSTEAD: &[&str] = &[
        "positive",
        "angle_file",
        "reading_file",
        "law",
        "throw_",
        "direction",
    ];
    for units in [Units::Metric, Units::Inch] {
        let mut used = 0;
        for (made, _, read) in templates(units) {
            let lines: Vec<&str> = made.text.lines().collect();
            for (at, line) in lines.iter().enumerate() {
                let Some(key) = left_out(line).filter(|it| !it.starts_with('[')) else {
                    continue;
                };
                if INSTEAD.iter().any(|it| key.starts_with(it)) || wants_more(&lines, at) {
                    continue;
                }
                let text = used_at(&lines, at);
                assert_eq!(read(&text), Ok(()), "{key}\n{text}");
                used += 1;
            }
        }
        assert!(used > 80, "{used}");
    }
}

/// Keys that the reader takes only beside others or on another surface, and says so.
fn wants_more(lines: &[&str], at: usize) -> bool {
    const BESIDE: &[&str] = &[
        "feed_",
        "face_deg",
        "lean_over_",
        "rise_",
        "dwell_",
        "return_",
        "lobes",
        "feature =",
        "diameter_",
        "full_diameter",
        "of =",
        "motor_",
        "spindle_",
        "fixture =",
        "cam =",
        "file =",
        "role =",
    ];
    let key = left_out(lines[at]).unwrap_or_default();
    BESIDE.iter().any(|it| key.starts_with(it)) && !key.starts_with("face_angle")
}

/// The card with one more key in use, and what its table needs.
fn used_at(lines: &[&str], at: usize) -> String {
    let is_heading = |line: &str| left_out(line).unwrap_or(line).starts_with('[');
    let from = (0..at).rev().find(|it| is_heading(lines[*it])).unwrap_or(0);
    let whole = left_out(lines[from]).is_some_and(|it| it.starts_with('['));
    let to = (at..lines.len())
        .find(|it| is_heading(lines[*it]))
        .unwrap_or(lines.len());
    let required = |it: usize| {
        let sentence = lines[..it].iter().rev();
        let sentence = sentence.take_while(|line| line.starts_with("# "));
        sentence
            .clone()
            .next()
            .is_some_and(|line| line.ends_with("required"))
    };
    // A motion is a law or a file, and a motion's fixture stands on the card.
    let motion = lines[from].contains("[[motion]]");
    let mut text = String::new();
    for (line_at, line) in lines.iter().enumerate() {
        let here = (from..to).contains(&line_at);
        let file = lines[from].contains("[[trace]]") || motion;
        let use_it = line_at == at
            || whole && here && (line_at == from || required(line_at))
            || whole && here && file && line.starts_with("#file");
        text.push_str(if use_it {
            left_out(line).unwrap_or(line)
        } else {
            line
        });
        text.push('\n');
    }
    if motion {
        text.push_str("[[fixture]]\nname = \"relieving fixture\"\ndirection = \"radial\"\ngreatest_throw_mm = 1.5\ngraduation_mm = 0.02\n");
    }
    text
}

#[test]
fn what_needs_another_key_beside_it_can_be_used_with_it() {
    /// Uses the tables named, with all their keys but those in `not`.
    #[track_caller]
    fn check(made: &Starter, tables: &[&str], not: &[&str], read: Read) {
        let mut text = String::new();
        let mut within = false;
        for line in made.text.lines() {
            let key = left_out(line).unwrap_or(line);
            if key.starts_with('[') {
                within = tables.contains(&key);
            }
            let used = within && !not.iter().any(|it| key.starts_with(it));
            text.push_str(if used { key } else { line });
            text.push('\n');
        }
        assert_ne!(text, made.text);
        assert_eq!(read(&text), Ok(()), "{text}");
    }
    for units in [Units::Metric, Units::Inch] {
        let [
            (_, _, read_tool),
            (gauge, _, read_gauge),
            (grinder, _, read_grinder),
            (inspection, _, read_inspection),
        ] = templates(units);
        let bench = ["[indicator]", "[stylus]", "[setup]", "[link]", "[study]"];
        let studies = [
            "[encoder.sense_proven]",
            "[study.rest]",
            "[study.repeat]",
            "[study.reversal]",
            "[study.round]",
            "[study.lean]",
            "[study.step]",
            "[study.crossed]",
        ];
        let all: Vec<&str> = bench.into_iter().chain(studies).collect();
        check(&gauge, &all, &[], read_gauge);
        let all = [
            "[spindle]",
            "[[spindle.pulleys]]",
            "[[wheel]]",
            "[[slide]]",
            "[[swivel]]",
            "[[fixture]]",
            "[[motion]]",
            "[[correction]]",
        ];
        check(&grinder, &all, &["file"], read_grinder);
        let law = ["law", "rise_", "dwell_", "return_", "lobes"];
        check(&grinder, &all, &law, read_grinder);
        let locked = [
            "angle_file",
            "reading_file",
            "feature",
            "direction",
            "throw_",
        ];
        check(&inspection, &["[[trace]]"], &locked, read_inspection);
        let axial = NewFeature {
            surface: Surface::Axial,
            ..NewFeature::default()
        };
        let axial = tool(units, vec![axial]).card();
        let all = ["[decision]", "[[feature]]", "[feature.limits]"];
        check(&axial, &all, &["least_diameter_"], read_tool);
        let radial = tool(units, Vec::new()).card();
        check(&radial, &all, &["feed_", "face_deg"], read_tool);
    }
}

#[test]
fn what_was_stated_is_read_back_as_it_was_stated() {
    let stated = NewTool {
        id: Some("VB-\"52\"\n# x".to_owned()),
        name: Some("3/4 counterbore".to_owned()),
        flutes: Some(2),
        ..tool(
            Units::Inch,
            vec![NewFeature {
                name: Some("seat".to_owned()),
                diameter: Some(Length::from_in(0.75)),
                relief: Some(Limit {
                    min: Some(6.0),
                    max: Some(9.0),
                }),
                clearance: Some(Length::from_in(0.0008)),
                land: Some(Angle::from_deg(33.3)),
                ..NewFeature::default()
            }],
        )
    };
    let made = stated.card();
    assert!(
        made.text.contains("\ndiameter_in = 0.75\n"),
        "{}",
        made.text
    );
    assert!(!made.text.contains("_mm"), "{}", made.text);
    assert_eq!(made.to_fill_in, ["hand"]);
    let card = ToolCard::parse(&made.text, "tool.toml").unwrap();
    assert_eq!((card.id.as_str(), card.flutes), ("VB-\"52\"\n# x", 2));
    let seat = &card.features[0];
    assert!((seat.diameter.mm() - 19.05).abs() < 1e-9);
    assert!((seat.land.unwrap().deg() - 33.3).abs() < 1e-9);
    assert_eq!(seat.limits.get(Name::ReliefAngle).unwrap().max, Some(9.0));
    let clearance = seat.limits.get(Name::HeelClearance).unwrap().min.unwrap();
    assert!((clearance - 0.0008 * 25.4).abs() < 1e-9);
    let grinder = NewGrinder {
        wheel: Some(NewWheel {
            name: Some("white".to_owned()),
            cuts: Cuts::Corner,
            diameter: Length::from_mm(148.0),
            full_diameter: Some(Length::from_mm(150.0)),
            corner: None,
            greatest: Some(Speed::from_m_per_s(35.0)),
            greatest_turns: None,
        }),
        ..NewGrinder::default()
    };
    let made = grinder.card();
    // A corner cannot be done without, so an example stands there and is named.
    assert_eq!(made.to_fill_in, ["name", "[[wheel]] corner_mm"]);
    let card = GrinderCard::parse(&made.text, "grinder.toml").unwrap();
    assert_eq!(card.wheels[0].greatest_m_per_s, Some(35.0));
}

/// What is proven at the bench is written into a card that was started here.
#[test]
fn a_gauge_card_takes_what_is_proven_later() {
    use heelclear::card::{Rotation, SenseProven};
    let made = NewGauge::default().card();
    let proven = SenseProven {
        grows: Rotation::CounterClockwise,
        on: "2026-03-02".parse().unwrap(),
    };
    let text = GaugeCard::with_sense_proven(&made.text, proven);
    let card = GaugeCard::parse(&text, "gauge.toml").unwrap();
    assert_eq!(card.encoder.sense_proven, Some(proven));
}

/// Rows of `tests/reference/dial_indicator_mpe_jis_b7503_2011.csv` (JIS B 7503:2011).
#[test]
fn the_error_of_a_dial_is_that_of_its_standard_and_no_other_gets_one() {
    #[track_caller]
    fn check(resolution_mm: f64, error: Option<(f64, f64)>) {
        let gauge = NewGauge {
            resolution: Some(Length::from_mm(resolution_mm)),
            ..NewGauge::default()
        };
        let made = gauge.card();
        let card = GaugeCard::parse(&made.text, "gauge.toml").unwrap();
        let indicator = card.indicator;
        match error {
            Some((all, retrace)) => {
                assert!((indicator.max_error.um() - all).abs() < 1e-9);
                assert!((indicator.hysteresis.um() - retrace).abs() < 1e-9);
                assert_eq!(made.from_sources.len(), 2);
            }
            None => assert!(made.from_sources.is_empty()),
        }
    }
    let table = include_str!("../reference/dial_indicator_mpe_jis_b7503_2011.csv");
    for (graduation, range) in [("0.001", "2-5"), ("0.005", "<=5"), ("0.01", "5-10")] {
        let start = format!(">=50,{graduation},{range},");
        let row = table.lines().find(|row| row.starts_with(&start)).unwrap();
        let cells: Vec<f64> = row
            .split(',')
            .skip(3)
            .map(|it| it.parse().unwrap())
            .collect();
        check(graduation.parse().unwrap(), Some((cells[5], cells[0])));
    }
    check(0.002, None);
    check(0.0005, None);
}

/// `tests/reference/trade_figures.csv`, quoted from the sources named there, and none besides.
#[test]
fn a_limit_of_the_trade_is_that_of_its_source_and_what_is_recalled_is_left_out() {
    let table = include_str!("../reference/trade_figures.csv");
    let rows = table.lines().filter(|row| !row.starts_with('#')).skip(1);
    let rows: Vec<Vec<&str>> = rows.map(|row| row.splitn(8, ',').collect()).collect();
    let mut found = 0;
    for work in Work::ALL {
        for material in Material::ALL {
            for surface in [Surface::Radial, Surface::Axial] {
                let place = [work.as_str(), surface.as_str(), material.as_str()];
                let row = rows.iter().find(|row| row[..3] == place);
                let limit = row.map(|row| Limit {
                    min: row[4].parse().ok(),
                    max: row[5].parse().ok(),
                });
                let feature = NewFeature {
                    surface,
                    diameter: Some(Length::from_mm(20.0)),
                    ..NewFeature::default()
                };
                let asked = NewTool {
                    work: *work,
                    material: Some(*material),
                    ..tool(Units::Metric, vec![feature])
                };
                let made = asked.card();
                let card = ToolCard::parse(&made.text, "tool.toml").unwrap();
                let limits = &card.features[0].limits;
                assert_eq!(limits.get(Name::ReliefAngle), limit, "{place:?}");
                // Nothing else is judged but the rule that holds anyway.
                assert_eq!(limits.iter().count(), 1 + usize::from(limit.is_some()));
                let source = row.map(|row| row[7].trim_matches('"').split(',').next().unwrap());
                for line in made.text.lines().filter(|it| it.contains("from memory")) {
                    assert!(left_out(line).is_some(), "{line}");
                }
                let named = source.is_none_or(|source| made.text.contains(source));
                assert!(named, "{}", made.text);
                found += usize::from(row.is_some());
            }
        }
    }
    assert_eq!(found, rows.len());
}

/// 6 to 20 by 2 with chamfers of 45°: arithmetic by hand.
fn step_tool() -> ToolCard {
    let diameters: Vec<Length> = (3..=10)
        .map(|it| Length::from_mm(f64::from(2 * it)))
        .collect();
    let features = features_of_steps(&diameters, Angle::from_deg(45.0), Units::Metric);
    let steps = NewTool {
        flutes: Some(1),
        ..tool(Units::Metric, features)
    };
    ToolCard::parse(&steps.card().text, "tool.toml").unwrap()
}

#[test]
fn a_step_tool_has_a_diameter_and_a_shoulder_for_each_step() {
    let card = step_tool();
    let told: Vec<(String, f64)> = card
        .features
        .iter()
        .map(|it| (it.name.clone(), it.diameter.mm()))
        .collect();
    assert_eq!(told.len(), 16);
    assert_eq!(
        told[..3],
        [
            ("chamfer-6".into(), 5.0),
            ("step-6".into(), 6.0),
            ("chamfer-8".into(), 7.0)
        ]
    );
    assert_eq!(
        told[14..],
        [("chamfer-20".into(), 19.0), ("step-20".into(), 20.0)]
    );
    assert!(
        card.features
            .iter()
            .step_by(2)
            .all(|it| it.surface == Surface::Axial)
    );
    let faces = card.features.iter().filter_map(|it| it.face);
    assert!(faces.clone().all(|face| (face.deg() - 45.0).abs() < 1e-9));
    assert_eq!(faces.count(), 8);
}

fn wanted(role: &str, z: Option<f64>) -> Wanted {
    Wanted {
        role: match role {
            "reference" => Role::Reference,
            feature => Role::Feature(feature.to_owned()),
        },
        z: z.map(Length::from_mm),
        diameter: None,
        rezeroed: false,
    }
}

#[test]
fn the_traces_of_steps_lie_in_the_middle_of_their_faces() {
    let card = step_tool();
    let traces = clamping::of_steps(&card, &[Length::from_mm(8.0)]).unwrap();
    let z: Vec<f64> = traces.iter().map(|it| it.z.unwrap().mm()).collect();
    // A chamfer of 45° from Ø 4 to Ø 6 takes 1 mm of its step of 8 mm, and its middle lies at half.
    assert_eq!(z[..4], [0.5, 4.5, 8.5, 12.5]);
    assert_eq!(z[15], 7.0 * 8.0 + 4.5);
    let lengths = [Length::from_mm(8.0), Length::from_mm(9.0)];
    assert!(clamping::of_steps(&card, &lengths).is_err());
    assert!(clamping::of_steps(&card, &[Length::from_mm(1.0)]).is_err());
}

#[test]
fn traces_go_from_the_reference_along_the_tool_and_say_where_the_indicator_is_set_anew() {
    let card = step_tool();
    let mut traces = clamping::of_steps(&card, &[Length::from_mm(8.0)]).unwrap();
    traces.push(Wanted {
        diameter: Some(Length::from_mm(20.0)),
        ..wanted("reference", Some(90.0))
    });
    let order = clamping::ordered(&card, traces).unwrap();
    assert_eq!(order[0].role, Role::Reference);
    let z: Vec<f64> = order.iter().map(|it| it.z.unwrap().mm()).collect();
    assert!(z.is_sorted_by(|a, b| a > b), "{z:?}");
    // The last step has the diameter of the round; each that follows is another, or turned.
    let anew: Vec<bool> = order.iter().map(|it| it.rezeroed).collect();
    assert_eq!(anew[..2], [false, false]);
    assert!(anew[2..].iter().all(|it| *it));
    // Two distances of one step share a zero, or its back taper could not be told.
    let pair = vec![
        wanted("step-6", Some(2.0)),
        wanted("chamfer-8", Some(4.0)),
        wanted("step-6", Some(6.0)),
    ];
    let order = clamping::ordered(&card, pair).unwrap();
    let told: Vec<(String, bool)> = order
        .iter()
        .map(|it| (it.role.called(), it.rezeroed))
        .collect();
    let at = told.iter().position(|it| it.0 == "step-6").unwrap();
    assert_eq!(told[at + 1], ("step-6".to_owned(), false));
    let files = clamping::entries(&order);
    let files: std::collections::BTreeSet<_> =
        files.iter().map(|it| format!("{:?}", it.source)).collect();
    assert_eq!(files.len(), 3);
    assert!(clamping::ordered(&card, vec![wanted("step-7", None)]).is_err());
}

#[test]
fn what_is_traced_in_an_engaged_fixture_comes_last_and_from_a_zero_of_its_own() {
    let card = step_tool();
    let engaged = Engaged {
        direction: Surface::Radial,
        throw: Length::from_mm(1.0),
    };
    let as_role = |role, z| Wanted {
        role,
        ..wanted("reference", Some(z))
    };
    let traces = vec![
        as_role(Role::Motion(engaged), 40.0),
        as_role(Role::Residual("step-6".to_owned(), engaged), 2.0),
        wanted("step-6", Some(2.0)),
        wanted("reference", Some(40.0)),
    ];
    let order = clamping::ordered(&card, traces).unwrap();
    let told: Vec<(&str, bool)> = order
        .iter()
        .map(|it| (it.role.as_str(), it.rezeroed))
        .collect();
    assert_eq!(
        told,
        [
            ("reference", false),
            ("feature", true),
            ("residual", true),
            ("motion", true)
        ]
    );
    let stated = NewInspection {
        traces: clamping::entries(&order),
        ..inspection(Units::Metric)
    };
    let read = InspectionCard::parse(&stated.card().text, "inspection.toml").unwrap();
    assert_eq!(read.traces, stated.traces);
}

/// T.O. 1-1A-9 / TM 43-0106, p. 2-94 (row ra-1 of `tests/reference/relief_angles.csv`): a width that
/// only a land of two facets has, so nothing is judged by it.
#[test]
fn a_published_width_of_the_land_stands_there_left_out() {
    let feature = NewFeature {
        diameter: Some(Length::from_in(1.0)),
        ..NewFeature::default()
    };
    let asked = NewTool {
        material: Some(Material::StainlessSteel),
        ..tool(Units::Inch, vec![feature])
    };
    let text = asked.card().text;
    let line = "\n#primary_width_in = { min = 0.02, max = 0.025 } # T.O. 1-1A-9";
    assert!(text.contains(line), "{text}");
}

/// The shortest way over all orders, tried one by one.
fn shortest(from: f64, places: &[f64]) -> f64 {
    if places.is_empty() {
        return 0.0;
    }
    let ways = (0..places.len()).map(|first| {
        let mut rest = places.to_vec();
        let next = rest.remove(first);
        (next - from).abs() + shortest(next, &rest)
    });
    ways.fold(f64::INFINITY, f64::min)
}

proptest! {
    #[test]
    fn no_other_order_moves_less(
        from in -50.0..150.0_f64,
        places in prop::collection::vec(-20.0..120.0_f64, 1..7),
    ) {
        let card = step_tool();
        let names = card.features.iter().map(|it| it.name.as_str());
        let mut traces: Vec<Wanted> =
            names.zip(&places).map(|(name, z)| wanted(name, Some(*z))).collect();
        traces.push(wanted("reference", Some(from)));
        let order = clamping::ordered(&card, traces).unwrap();
        let z: Vec<f64> = order.iter().map(|it| it.z.unwrap().mm()).collect();
        prop_assert_eq!(z.len(), places.len() + 1);
        let moved: f64 = z.windows(2).map(|pair| (pair[1] - pair[0]).abs()).sum();
        prop_assert!((moved - shortest(from, &places)).abs() < 1e-9, "{:?}", z);
    }
}
