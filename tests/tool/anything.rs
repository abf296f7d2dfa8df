//! Anything at all through every door that bytes come in by: no panic, and nothing that is no number.
#![allow(clippy::unwrap_used)]

use crate::traces;
use heelclear::card::{GaugeCard, InspectionCard, Link, Positive, ToolCard};
use heelclear::gauge::raw_log::arrivals;
use heelclear::gauge::text::TextPattern;
use heelclear::quantity::{Length, Time};
use heelclear::sample::{Bench, FromBridge, FromText, Sample};
use heelclear::simulator::built_in;
use heelclear::trace::csv::{self, Rows};
use heelclear::trace::{Trace, align, merge};
use proptest::prelude::*;

fn bench() -> Bench {
    Bench::new(Length::from_um(1.0), 4000, false)
}

fn finite(sample: &Sample) -> bool {
    sample.time.is_finite() && sample.angle.is_finite() && sample.reading.is_finite()
}

/// A bridge line of any numbers with the right checksum, so that it is not refused for that alone.
fn line() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        any::<i64>().prop_map(|number| number.to_string()),
        any::<u16>().prop_map(|number| number.to_string()),
        Just(String::new()),
        "[0-9A-Fa-f=.-]{0,12}",
    ];
    let fields = proptest::collection::vec(number, 0..9);
    ("[SHTAQ]", fields).prop_map(|(letter, fields)| {
        let body = std::iter::once(letter).chain(fields).collect::<Vec<_>>();
        let body = body.join(",");
        let sum = crc::Crc::<u16>::new(&crc::CRC_16_IBM_3740).checksum(body.as_bytes());
        format!("{body}*{sum:04X}\n")
    })
}

/// A number as a trace may hold it, most of them small, some absurd.
fn number() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => (-1000i32..1000).prop_map(|number| (f64::from(number) / 100.0).to_string()),
        1 => any::<f64>().prop_map(|number| number.to_string()),
        1 => "[-+0-9.eEnNaAiIfF ]{0,8}",
    ]
}

/// A card with one stretch of it replaced by anything.
fn spoiled(card: String) -> impl Strategy<Value = String> {
    let anything = prop_oneof![".{0,12}", "[-0-9.eE\\[\\]\"=#\n]{0,12}"];
    let place = any::<prop::sample::Index>();
    (place, 0usize..20, anything).prop_map(move |(place, length, put)| {
        let from = place.index(card.len());
        let (to, from) = (from + length, from);
        let mut spoiled = String::new();
        for (at, c) in card.char_indices() {
            if at == from {
                spoiled.push_str(&put);
            }
            if !(from..to).contains(&at) {
                spoiled.push(c);
            }
        }
        spoiled
    })
}

proptest! {
    #[test]
    fn what_the_bridge_says_becomes_numbers(
        lines in proptest::collection::vec(line(), 0..60),
        noise in proptest::collection::vec(any::<u8>(), 0..60),
    ) {
        let mut samples = FromBridge::new(bench());
        samples.feed(lines.concat().as_bytes());
        samples.replugged();
        samples.feed(&noise);
        samples.feed(lines.concat().as_bytes());
        prop_assert!(samples.since(0).all(|sample| finite(&sample)));
    }

    #[test]
    fn what_a_text_instrument_says_becomes_numbers(
        lines in proptest::collection::vec("[-+0-9.,eEinaf µ\"m@]{0,20}\r?\n", 0..40),
        noise in proptest::collection::vec(any::<u8>(), 0..60),
    ) {
        let link = Link {
            pattern: Some(r"(?<reading>[^@ ]*) ?(?<unit>in|mm|µm)?@(?<count>.*)".to_owned()),
            unit: Some("in".to_owned()),
            ..Link::default()
        };
        let mut samples = FromText::new(TextPattern::of_indicator(&link).unwrap(), bench());
        samples.feed(lines.concat().as_bytes(), Time::ZERO);
        samples.feed(&noise, Time::from_s(1.0));
        let found = samples.since(0, None);
        prop_assert!(found.samples.iter().all(finite));
        prop_assert!(found.heights.iter().all(|height| height.reading.is_finite()));
    }

    #[test]
    fn the_times_of_a_raw_log_are_numbers(bytes in proptest::collection::vec(any::<u8>(), 0..200), text in "[-0-9.,einfagobckstr\n]{0,200}") {
        arrivals(&bytes);
        prop_assert!(arrivals(text.as_bytes()).iter().all(|arrival| arrival.time_s.is_finite()));
    }

    #[test]
    fn a_file_of_anything_is_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = csv::read(&bytes[..], "trace");
        let with_header = [b"time_s,angle_deg,reading_mm\n", &bytes[..]].concat();
        if let Ok(table) = csv::read(&with_header[..], "trace") {
            prop_assert!(!table.rows.is_empty());
        }
    }

    #[test]
    fn any_numbers_merge_to_numbers_or_are_refused(
        rows in proptest::collection::vec((number(), number(), number()), 0..120),
        wide in any::<bool>(),
    ) {
        let mut text = "time_s,angle_deg,reading_mm\n".to_owned();
        for (at, (time, angle, reading)) in rows.iter().enumerate() {
            // In order for most, so that there is something to merge.
            let time = if at % 9 == 0 { time.clone() } else { format!("{}", at as f64 * 0.01) };
            let angle = if wide { format!("{}", at * 7) } else { angle.clone() };
            text += &format!("{time},{angle},{reading}\n");
        }
        let Ok(table) = csv::read(text.as_bytes(), "trace") else { return Ok(()) };
        let Rows::Turning(samples) = table.rows else { unreachable!() };
        prop_assert!(samples.iter().all(finite));
        let samples = align::one_clock(samples, Positive::Backing);
        let trace = Trace {
            two_clocks: true,
            ..traces::bare(samples)
        };
        let settings = traces::steps(Length::from_um(1.0), 4000);
        if let Ok(merged) = merge(&trace, &settings) {
            for cell in &merged.cells {
                prop_assert!(cell.angle.is_finite() && cell.reading.is_finite());
                prop_assert!(cell.standard_error.mm() >= 0.0);
            }
        }
    }

    #[test]
    fn a_spoiled_card_is_read_or_refused(
        tool in spoiled(built_in("counterbore-pass").unwrap().tool_card()),
        gauge in spoiled(built_in("counterbore-pass").unwrap().gauge_card(None)),
        inspection in spoiled(built_in("counterbore-pass").unwrap().inspection_card()),
        anything in ".{0,80}",
    ) {
        let _ = ToolCard::parse(&tool, "tool.toml");
        let _ = GaugeCard::parse(&gauge, "gauge.toml");
        let _ = InspectionCard::parse(&inspection, "inspection.toml");
        let _ = ToolCard::parse(&anything, "tool.toml");
    }
}
