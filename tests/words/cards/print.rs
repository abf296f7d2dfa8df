//! Printing a card and reading it again changes nothing, and no text makes the reader fall over.

use super::{TOOL, errors};
use heelclear::card::*;
use heelclear::quantity::{Angle, Length, Time};
use proptest::prelude::*;

/// A number that a person may write: finite, with a few decimals.
fn decimal(range: std::ops::Range<i32>, places: i32) -> impl Strategy<Value = f64> {
    range.prop_map(move |n| f64::from(n) / 10f64.powi(places))
}

fn words() -> impl Strategy<Value = String> {
    // Quotes, backslashes, other scripts and control characters must all survive.
    prop_oneof![
        "[a-z0-9 \"'\\\\#=\\[\\]-]{0,12}[a-z]",
        "\\PC{0,8}x",
        "[\\n\\t\\r\\x07]{1,3}end"
    ]
}

prop_compose! {
    fn limits()(picks in proptest::collection::vec((0..40i32, 0..40i32, 0..3u8), Name::ALL.len())) -> Limits {
        let mut limits = Limits::default();
        for (&name, (low, step, ends)) in Name::ALL.iter().zip(picks) {
            if name.limit_key().is_none() { continue; }
            let min = f64::from(low) / 1000.0;
            let max = min + f64::from(step) / 1000.0;
            match ends {
                0 => limits.set(name, Limit { min: Some(min), max: Some(max) }),
                1 => limits.set(name, Limit { min: Some(min), max: None }),
                _ => {}
            }
        }
        limits
    }
}

prop_compose! {
    fn feature(name: String)(
        axial in any::<bool>(),
        diameter in decimal(1000..1_999_999, 3),
        // Short of the next of 24 edges.
        check in decimal(1..130, 3),
        least in proptest::option::of(decimal(1..1_999_999, 3)),
        land in proptest::option::of(decimal(1..3599, 1)),
        least_land in proptest::option::of(decimal(1..3599, 1)),
        on_the_face in any::<bool>(),
        feed in proptest::option::of(decimal(0..9999, 4)),
        face in proptest::option::of(decimal(200..1600, 1)),
        curve in prop::sample::select(vec![CurveChoice::Auto, CurveChoice::LogSpiral, CurveChoice::Cam, CurveChoice::Free]),
        limits in limits(),
    ) -> Feature {
        Feature {
            name: name.clone(),
            surface: if axial { Surface::Axial } else { Surface::Radial },
            diameter: Length::from_mm(diameter),
            least_diameter: least.filter(|_| !axial).map(Length::from_mm),
            check_distance: Length::from_mm(check),
            land: land.map(Angle::from_deg),
            least_land: least_land.map(Angle::from_deg),
            sharpened_on: if on_the_face { SharpenedOn::Face } else { SharpenedOn::Land },
            feed: feed.filter(|_| axial).map(Length::from_mm),
            face: face.filter(|_| axial).map(Angle::from_deg),
            curve,
            limits,
        }
    }
}

/// All flutes a whole number of degrees apart but the last, which takes the rest.
fn spacing(flutes: u32) -> Vec<Angle> {
    let each = 360 / flutes;
    let last = 360 - each * (flutes - 1);
    let mut all = vec![Angle::from_deg(each.into()); flutes as usize - 1];
    all.push(Angle::from_deg(last.into()));
    all
}

prop_compose! {
    fn tool_card()(
        id in words(), name in words(), left in any::<bool>(), flutes in 1..=24u32,
        confidence in decimal(5000..9999, 4), uneven in any::<bool>(),
        features in (feature("seat".to_owned()), feature("a \"b\"".to_owned())),
    ) -> ToolCard {
        ToolCard {
            id, name, flutes, confidence,
            spacing: if uneven && flutes > 1 { spacing(flutes) } else { Vec::new() },
            hand: if left { Hand::Left } else { Hand::Right },
            features: vec![features.0, features.1],
        }
    }
}

prop_compose! {
    fn link()(
        baud in proptest::option::of(300..4_000_000u32),
        text in any::<bool>(),
        request in proptest::option::of(words()),
        every in proptest::option::of(decimal(10..99999, 1)),
        angle in any::<bool>(),
    ) -> Link {
        Link {
            protocol: Some(if text { "text" } else { "bridge" }.to_owned()),
            baud,
            pattern: text.then(|| r"(?<reading>[+-]?\d+\.\d+)\s*(?<unit>mm|in)?".to_owned()),
            line_ending: Some("crlf".to_owned()),
            request,
            request_every: every.map(Time::from_ms),
            unit: None,
            angle_pattern: angle.then(|| r"A(?<angle>[0-9.]+)".to_owned()),
            angle_baud: baud,
            readings_per_s: baud.map(|baud| baud % 100_000 + 1).filter(|_| angle),
            positions_per_s: baud.map(|baud| baud % 100_000 + 1).filter(|_| text),
        }
    }
}

fn studies((found, second, all): (i32, i64, bool)) -> Studies {
    let taken = jiff::Timestamp::from_second(second).unwrap();
    let one = Studied {
        taken,
        found: Length::from_mm(f64::from(found) / 1000.0),
    };
    Studies {
        valid_days: all.then_some(90),
        rest: all.then_some(StudiedDrift {
            taken,
            drift: one.found,
            lasted: Time::from_ms(f64::from(found) + 1.5),
        }),
        repeat: Some(one),
        reversal: all.then_some(one),
        round: all.then_some(one),
        lean: all.then_some(StudiedLean {
            taken,
            bound: LeanBound {
                growth: one.found,
                over: Length::from_mm(80.0),
            },
        }),
        step: all.then_some(StudiedGain {
            taken,
            gain: 0.95 + f64::from(found) / 10_000.0,
            standard_uncertainty: one.found.mm() / 100.0,
            over: Length::from_mm(one.found.mm() + 0.5),
        }),
        crossed: all.then(|| StudiedSpread {
            taken,
            found: vec![
                (Name::ReliefAngle, f64::from(found) / 100.0),
                (Name::Drop, one.found.mm()),
            ],
        }),
    }
}

/// What a card says of its encoder's sense, and what was seen of it.
fn sense() -> impl Strategy<Value = (Sense, Option<SenseProven>)> {
    let day = (2000..2100i16, 1..=12i8, 1..=28i8);
    (any::<[bool; 2]>(), proptest::option::of(day)).prop_map(|([other, physical], day)| {
        let grows = if other {
            Rotation::CounterClockwise
        } else {
            Rotation::Clockwise
        };
        let relative = if other {
            Positive::Backing
        } else {
            Positive::Cutting
        };
        let on = day.map(|(year, month, day)| jiff::civil::date(year, month, day));
        let sense = if physical {
            Sense::Grows(grows)
        } else {
            Sense::Relative(relative)
        };
        (sense, on.map(|on| SenseProven { grows, on }))
    })
}

prop_compose! {
    fn gauge_card()(
        small in [decimal(1..999, 3), decimal(0..999, 3), decimal(0..999, 3)],
        travel in proptest::option::of(decimal(1..999_999, 3)),
        lever in decimal(-750..750, 1),
        shape in prop::sample::select(vec![StylusShape::Ball, StylusShape::Flat, StylusShape::Point]),
        radius in decimal(1..49_999, 3),
        counts in 4..100_000_000u32,
        (sense, proven) in sense(),
        offset in decimal(-49_999..49_999, 3),
        runout in proptest::option::of(decimal(0..9999, 3)),
        lean in proptest::option::of((decimal(0..9999, 3), decimal(1..999, 0))),
        swash in proptest::option::of(decimal(0..9999, 3)),
        delay in proptest::option::of(decimal(-9999..9999, 2)),
        link in proptest::option::of(link()),
        studied in proptest::option::of((0..999i32, 0..2_000_000_000i64, any::<bool>())),
    ) -> GaugeCard {
        let [resolution, max_error, hysteresis] = small.map(Length::from_mm);
        let radius = if shape == StylusShape::Point { 0.0 } else { radius };
        GaugeCard {
            indicator: Indicator { resolution, travel: travel.map(Length::from_mm), count: runout.map(|_| max_error.max(resolution)), max_error, hysteresis, lever_angle: Angle::from_deg(lever) },
            stylus: Stylus { shape, radius: Length::from_mm(radius) },
            encoder: Encoder {
                counts_per_turn: counts,
                sense,
                sense_proven: proven,
            },
            setup: Setup {
                probe_offset: Length::from_mm(offset),
                probe_offset_tolerance: max_error,
                runout: runout.map(Length::from_mm),
                lean: lean.map(|(growth, over)| LeanBound {
                    growth: Length::from_mm(growth),
                    over: Length::from_mm(over),
                }),
                swash: swash.map(Length::from_mm),
                delay: delay.map(Time::from_ms),
            },
            link,
            identity: Identity::default(),
            studies: studied.map_or_else(Studies::default, studies),
        }
    }
}

prop_compose! {
    fn inspection_card()(
        operator in prop_oneof![words(), Just(String::new())],
        second in 0..4_000_000_000i64, nanosecond in 0..1_000_000_000i32,
        before in any::<bool>(), interrupted in any::<bool>(),
        entries in proptest::collection::vec(
            (any::<bool>(), proptest::option::of(words()), proptest::option::of(decimal(0..99_999, 2)), any::<bool>()), 0..5),
    ) -> InspectionCard {
        let entry = |(two, feature, z, rezeroed): (bool, Option<String>, Option<f64>, bool)| TraceEntry {
            source: if two {
                Source::Two { angle: "traces/a b.csv".to_owned(), reading: "r.csv".to_owned() }
            } else {
                Source::One("traces/\"one\".csv".to_owned())
            },
            diameter: z.filter(|z| feature.is_none() && *z > 0.0).map(Length::from_mm),
            role: feature.map_or(Role::Reference, Role::Feature),
            z: z.map(Length::from_mm),
            rezeroed,
            count_shift: if two { -417 } else { 0 },
        };
        InspectionCard {
            customer: entries.len().is_multiple_of(2).then(|| "the valve shop".to_owned()),
            temperature_c: before.then_some(20.5),
            grinder: None,
            setup: None,
            tool: "tool.toml".to_owned(),
            gauge: "cards/gauge.toml".to_owned(),
            taken: jiff::Timestamp::new(second, nanosecond).unwrap(),
            operator,
            stage: if before { Stage::BeforeGrind } else { Stage::AfterGrind },
            interrupted,
            traces: entries.into_iter().map(entry).collect(),
        }
    }
}

proptest! {
    #[test]
    fn a_tool_card_that_is_printed_and_read_is_the_same(card in tool_card()) {
        let text = card.to_toml();
        prop_assert_eq!(ToolCard::parse(&text, "tool.toml").map_err(|e| e.to_string()), Ok(card));
    }

    #[test]
    fn a_gauge_card_that_is_printed_and_read_is_the_same(card in gauge_card()) {
        let text = card.to_toml();
        prop_assert_eq!(GaugeCard::parse(&text, "gauge.toml").map_err(|e| e.to_string()), Ok(card));
    }

    #[test]
    fn an_inspection_card_that_is_printed_and_read_is_the_same(card in inspection_card()) {
        let text = card.to_toml();
        prop_assert_eq!(InspectionCard::parse(&text, "i.toml").map_err(|e| e.to_string()), Ok(card));
    }

    #[test]
    fn no_text_at_all_makes_the_reader_fall_over(text in "\\PC{0,200}") {
        let _ = ToolCard::parse(&text, "tool.toml");
    }

    #[test]
    fn no_damage_to_a_card_makes_the_reader_fall_over(at in 0..400usize, cut in 0..40usize, put in "[\\[\\]{}=\"#\\n.a0-]{0,6}") {
        let mut text = TOOL.to_owned();
        let from = at.min(text.len());
        let to = (from + cut).min(text.len());
        text.replace_range(from..to, &put);
        if let Err(error) = ToolCard::parse(&text, "tool.toml") {
            let lines = text.lines().count() as u64 + 1;
            for error in errors(&error) {
                prop_assert!(error.place().line.is_none_or(|line| (1..=lines).contains(&line)));
            }
        }
    }
}
