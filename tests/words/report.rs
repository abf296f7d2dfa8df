//! The report through its front door: what stands in it, and that it fits the page.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "../fixtures/records.rs"]
mod records;

use heelclear::report::{TextStyle, Units, Weight, svg, svg_in, text, text_width};
use proptest::prelude::*;

#[test]
fn a_failing_tool_reads_so_as_text() {
    insta::assert_snapshot!(text(&records::named("fail-2"), TextStyle::default()));
}

#[test]
fn an_undecided_tool_says_what_would_decide_it() {
    let style = TextStyle {
        budget: true,
        ..TextStyle::default()
    };
    insta::assert_snapshot!(text(&records::named("holes-null-warnings"), style));
}

#[test]
fn a_passing_tool_reads_in_inches_too() {
    let style = TextStyle {
        units: Units::Inch,
        ..TextStyle::default()
    };
    insta::assert_snapshot!(text(&records::named("pass-2"), style));
}

#[test]
fn an_inch_report_speaks_of_no_millimetre() {
    let style = TextStyle {
        units: Units::Inch,
        budget: true,
        ..TextStyle::default()
    };
    // A ratio of two lengths is the same in any unit.
    let metric = |text: &str| text.replace("µm/µm", "").contains(" µm");
    for (name, record) in records::all() {
        let text = text(&record, style);
        assert!(!metric(&text), "{name}: {text}");
        let svg = svg_in(&record, Units::Inch).unwrap();
        assert!(!metric(&svg.replace('\u{a0}', " ")), "{name}: {svg}");
    }
}

#[test]
fn the_first_word_of_every_text_is_the_verdict() {
    for (name, record) in records::all() {
        let text = text(&record, TextStyle::default());
        let word = match record.verdict {
            Some(verdict) => verdict.as_str().to_uppercase(),
            None => "NOT JUDGED".to_owned(),
        };
        assert!(text.starts_with(&word), "{name}: {text}");
        assert!(
            !text.contains("NaN") && !text.contains("inf "),
            "{name}: {text}"
        );
    }
}

#[test]
fn colour_adds_only_colour() {
    let record = records::named("fail-2");
    let coloured = text(
        &record,
        TextStyle {
            colour: true,
            ..TextStyle::default()
        },
    );
    let bare = anstream::adapter::strip_str(&coloured).to_string();
    assert!(coloured.len() > bare.len());
    for line in text(&record, TextStyle::default()).lines().skip(1) {
        assert!(bare.contains(line), "{line}");
    }
}

#[test]
fn no_name_reaches_the_terminal_as_a_command() {
    let mut record = records::named("pass-2");
    record.about.tool_name = "seat\u{1b}[2J\u{7}".to_owned();
    record.warnings = vec!["\u{1b}]0;x\u{7}".to_owned()];
    assert!(!text(&record, TextStyle::default()).contains(['\u{1b}', '\u{7}']));
}

/// Leaves every fixture as a picture under `target/tmp`, to be looked at.
#[test]
fn every_fixture_becomes_a_page() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("report");
    std::fs::create_dir_all(&folder).unwrap();
    for (name, record) in records::all() {
        let page = svg(&record).unwrap();
        std::fs::write(folder.join(format!("{name}.svg")), &page).unwrap();
        assert_eq!(page, svg(&record).unwrap(), "{name} is not the same twice");
    }
}

/// A box on the page in hundredths of a millimetre: left, top, right, bottom, and what is in it.
pub type Boxed = ([i32; 4], String);

/// The attributes of a tag, their entities undone.
fn attribute(tag: &str, name: &str) -> Option<String> {
    let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
    Some(plain(rest.split_once('"')?.0))
}

fn number(tag: &str, name: &str) -> i32 {
    attribute(tag, name).map_or(0, |value| value.parse().unwrap())
}

fn plain(xml: &str) -> String {
    let text = xml
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"");
    text.replace("&amp;", "&")
}

/// The texts of a page, each in the box that its face takes up.
pub fn texts(page: &str) -> Vec<Boxed> {
    let text = |piece: &str| {
        let (tag, rest) = piece.split_once('>').unwrap();
        let text = plain(rest.split_once("</text>").unwrap().0);
        let size = number(tag, "font-size");
        let weight = match attribute(tag, "font-weight") {
            Some(_) => Weight::Bold,
            None => Weight::Regular,
        };
        let (x, y, w) = (
            number(tag, "x"),
            number(tag, "y"),
            text_width(&text, size, weight),
        );
        let left = match attribute(tag, "text-anchor").as_deref() {
            Some("middle") => x - w / 2,
            Some("end") => x - w,
            _ => x,
        };
        // Capitals reach 0.73 of the size above the base line, tails 0.24 below it.
        (
            [left, y - size * 73 / 100, left + w, y + size * 24 / 100],
            text,
        )
    };
    page.split("<text").skip(1).map(text).collect()
}

/// The surfaces of a page that text must keep out of: bars, hatchings, bands; not what is laid behind a
/// text to hide those.
fn surfaces(page: &str) -> Vec<Boxed> {
    let rect = |piece: &str| {
        let tag = piece.split_once("/>").unwrap().0;
        let [x, y, w, h] = ["x", "y", "width", "height"].map(|name| number(tag, name));
        ([x, y, x + w, y + h], attribute(tag, "class").unwrap())
    };
    let all = page.split("<rect").skip(1).map(rect);
    all.filter(|(_, class)| !["paper", "behind"].contains(&class.as_str()))
        .collect()
}

pub fn overlap(one: &[i32; 4], other: &[i32; 4]) -> bool {
    one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3]
}

/// However much was noted, it has a place of its own on the page, and names each photograph.
#[test]
fn notes_and_photographs_have_their_place() {
    use heelclear::record::{Noted, Photograph};
    let photograph = |number: u32| Photograph {
        file: format!("photographs/photograph-{number:02}.jpg"),
        bytes: 2_000_000,
        sha256: "0123456789abcdef".repeat(4),
    };
    let names = ["pass-2", "fail-2", "undecided-2", "six", "two-features"];
    for (name, mut record) in records::all() {
        if !names.contains(&name) {
            continue;
        }
        let before = svg_in(&record, Units::Metric).unwrap();
        assert!(!before.contains("Notes and photographs"));
        record.noted = Some(Noted {
            text: Some("the heel came in blue\n".repeat(60)),
            photographs: (1..=12).map(photograph).collect(),
        });
        let page = svg_in(&record, Units::Metric).unwrap();
        for word in [
            "Notes and photographs",
            "came in blue / the heel",
            "12 photographs, by SHA-256",
        ] {
            assert!(page.contains(word), "{name}: {word} is not in it");
        }
        let texts = texts(&page);
        for (index, (one, text)) in texts.iter().enumerate() {
            assert!(one[3] <= 28_900 && one[2] <= 20_000, "{name}: {text}");
            for (other, beside) in &texts[index + 1..] {
                assert!(!overlap(one, other), "{name}: `{text}` lies on `{beside}`");
            }
        }
        let told = text(&record, TextStyle::default());
        assert!(told.contains("notes and photographs"), "{told}");
    }
}

#[test]
fn no_text_leaves_the_page_or_lies_on_another() {
    for (name, record) in records::all() {
        for units in [Units::Metric, Units::Inch] {
            let page = svg_in(&record, units).unwrap();
            let texts = texts(&page);
            assert!(
                texts.len() > 15,
                "{name}: only {} texts were found",
                texts.len()
            );
            for (index, (one, text)) in texts.iter().enumerate() {
                let inside =
                    one[0] >= 1000 && one[2] <= 20_000 && one[1] >= 1000 && one[3] <= 28_900;
                assert!(inside, "{name}: `{text}` at {one:?} leaves the page");
                for (other, beside) in &texts[index + 1..] {
                    assert!(
                        !overlap(one, other),
                        "{name}: `{text}` {one:?} lies on `{beside}` {other:?}"
                    );
                }
                for (other, surface) in surfaces(&page) {
                    assert!(
                        !overlap(one, &other),
                        "{name}: `{text}` {one:?} lies on a {surface} {other:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn every_page_is_well_formed_whatever_names_hold() {
    for (name, record) in records::all() {
        let page = svg(&record).unwrap();
        let mut open: Vec<&str> = Vec::new();
        let mut rest = page.as_str();
        while let Some(start) = rest.find('<') {
            let text = &rest[..start];
            assert!(!text.contains('>'), "{name}: a bare > in {text:?}");
            let end = start + rest[start..].find('>').expect("a tag that ends");
            let tag = &rest[start + 1..end];
            match tag.strip_prefix('/') {
                Some(closed) => assert_eq!(open.pop(), Some(closed), "{name}"),
                None if tag.ends_with('/') => {}
                None => open.push(tag.split(' ').next().unwrap()),
            }
            assert_eq!(tag.matches('"').count() % 2, 0, "{name}: {tag}");
            rest = &rest[end + 1..];
        }
        assert!(open.is_empty(), "{name}: {open:?}");
        for piece in page.split('&').skip(1) {
            let known = ["amp;", "lt;", "gt;", "quot;"]
                .iter()
                .any(|entity| piece.starts_with(entity));
            assert!(known, "{name}: &{}", &piece[..10.min(piece.len())]);
        }
        let forbidden = |c: char| c.is_control() && c != '\n';
        assert!(!page.contains(forbidden), "{name}");
        assert!(!page.contains("NaN") && !page.contains("inf\""), "{name}");
    }
}

#[test]
fn a_page_is_one_sheet_of_a4_that_says_what_it_shows() {
    for (name, record) in records::all() {
        let page = svg(&record).unwrap();
        let head = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"210mm\" height=\"297mm\" viewBox=\"0 0 21000 29700\" role=\"img\"";
        assert!(page.starts_with(head), "{name}");
        let word = record
            .verdict
            .map_or("NOT JUDGED".to_owned(), |v| v.as_str().to_uppercase());
        assert!(
            page.contains(&format!("<title id=\"title\">{word}: ")),
            "{name}"
        );
        assert_eq!(page.matches("<desc").count(), 1, "{name}");
        for part in [
            "Stop the wheel",
            "lock the spindle",
            "not of fitness for any use",
            "licensed practice",
        ] {
            assert!(
                texts(&page).iter().any(|(_, text)| text.contains(part)),
                "{name}: {part}"
            );
        }
    }
}

#[test]
fn the_page_of_a_failing_tool_shows_who_when_what_and_why() {
    let page = svg(&records::named("fail-2")).unwrap();
    let words: Vec<String> = texts(&page).into_iter().map(|(_, text)| text).collect();
    let all = words.join("\n");
    for part in [
        "VB-07",
        "seat counterbore",
        "2026-03-02 09:14 UTC",
        "bench 2",
        "after grind",
        "indicator 1 µm",
        "relief × 2",
        "−0.3257",
        "≥ 0.02",
        "What weighs most in heel clearance",
        "indicator error",
        "→ take",
    ] {
        assert!(all.contains(part), "{part} is not in\n{all}");
    }
    for flute in ["1", "2"] {
        assert!(
            words.iter().any(|word| word == flute),
            "edge {flute} has no number"
        );
        assert!(
            words
                .iter()
                .any(|word| *word == format!("flute {flute}, spiral"))
        );
    }
}

#[test]
fn every_edge_of_every_tool_is_numbered() {
    let page = svg(&records::named("twenty-four")).unwrap();
    let words: Vec<String> = texts(&page).into_iter().map(|(_, text)| text).collect();
    for flute in 1..=24 {
        assert!(
            words.iter().any(|word| *word == flute.to_string()),
            "{flute}"
        );
    }
}

#[test]
fn a_curve_that_is_not_trusted_is_drawn_otherwise() {
    let mut record = records::named("pass-2");
    assert!(!svg(&record).unwrap().contains("class=\"doubted\""));
    for flute in &mut record.flutes {
        flute.curve.as_mut().unwrap().trusted = false;
    }
    let page = svg(&record).unwrap();
    assert!(page.contains("class=\"doubted\"") && page.contains("not trusted"));
}

#[test]
fn a_flute_left_out_is_said_to_be() {
    let page = svg(&records::named("four-features-24")).unwrap();
    assert!(page.contains("the worst 4 of 24 flutes"));
    assert!(page.contains("Every figure is in verdict.json"));
}

#[test]
fn a_line_that_stands_for_many_flutes_hides_no_other_verdict() {
    use heelclear::record::Verdict;
    let mut record = records::named("four-features-24");
    let named = record.features[0].feature.clone();
    let its = |c: &&mut heelclear::record::Characteristic| {
        c.feature.as_ref() == Some(&named) && c.name == "heel-clearance"
    };
    let flutes = record.characteristics.iter_mut().filter(its);
    let verdicts = [Verdict::Fail, Verdict::Fail, Verdict::Undecided].into_iter();
    let verdicts = verdicts.chain(std::iter::repeat(Verdict::Pass));
    for (one, verdict) in flutes.zip(verdicts) {
        one.verdict = Some(verdict);
    }
    let page = svg(&record).unwrap();
    assert!(page.contains("fail × 2"));
    assert!(page.contains("others: 1 undecided, 21 pass"));
}

#[test]
fn a_feature_without_a_drawing_is_named() {
    let mut record = records::named("four-features-24");
    assert!(!svg(&record).unwrap().contains("Not drawn"));
    let mut fifth = record.features[0].clone();
    fifth.feature = "rear pilot".to_owned();
    record.features.push(fifth);
    let page = svg(&record).unwrap();
    assert!(page.contains("Not drawn, for want of room, since others are worse: rear pilot."));
}

#[test]
fn a_feature_traced_at_several_places_is_drawn_once_and_says_where() {
    let mut record = records::named("pass-2");
    let (facts, flutes) = (record.features.clone(), record.flutes.clone());
    let figures = record.characteristics.clone();
    record.flutes.clear();
    record.characteristics.clear();
    for z_mm in [2.0, 5.0, 8.0, 11.0, 14.0] {
        record
            .flutes
            .extend(flutes.iter().cloned().map(|mut flute| {
                flute.z_mm = Some(z_mm);
                flute
            }));
        let of_place = figures.iter().filter(|c| c.feature.is_some()).cloned();
        record.characteristics.extend(of_place.map(|mut one| {
            one.z_mm = Some(z_mm);
            one
        }));
    }
    record.features = std::iter::repeat_n(facts[0].clone(), 5).collect();
    let page = svg(&record).unwrap();
    assert!(!page.contains("Not drawn"));
    assert!(page.contains("flute 1 at 14 mm"));
    let text = text(&record, TextStyle::default());
    assert_eq!(
        text.matches("  1 at 11 mm  heel clearance").count(),
        1,
        "{text}"
    );
    assert_eq!(text.matches("seat: radial").count(), 1, "{text}");
}

#[test]
fn a_limit_from_another_unit_is_shown_whole() {
    let mut record = records::named("pass-2");
    for one in &mut record.characteristics {
        if let Some(limit) = one.limit.as_mut().filter(|_| one.unit == "mm") {
            *limit = heelclear::record::Bounds {
                min: Some(0.04572),
                max: Some(0.0889),
            };
        }
    }
    assert!(svg(&record).unwrap().contains(">0.04572 … 0.0889<"));
}

#[test]
fn the_legend_explains_what_is_drawn_and_no_more() {
    let mut record = records::named("pass-2");
    assert!(!svg(&record).unwrap().contains("nothing was read"));
    record.flutes[0].holes_deg = vec![[20.0, 30.0]];
    assert!(svg(&record).unwrap().contains("nothing was read"));
}

/// Every number of a record that a measurement or a card gives.
fn numbers(record: &mut heelclear::record::Record) -> Vec<&mut f64> {
    let mut all = Vec::new();
    for one in &mut record.characteristics {
        all.extend(one.value.as_mut());
        all.extend(one.standard_uncertainty.as_mut());
        all.extend(one.at_deg.as_mut());
        all.extend(one.interval.iter_mut().flatten());
        all.extend(one.budget.iter_mut().map(|line| &mut line.contribution));
        if let Some(limit) = &mut one.limit {
            all.extend(limit.min.as_mut());
            all.extend(limit.max.as_mut());
        }
    }
    for flute in &mut record.flutes {
        all.extend([&mut flute.edge_deg, &mut flute.land_deg, &mut flute.edge_mm]);
        all.extend(flute.holes_deg.iter_mut().flatten());
        for sample in flute.land.iter_mut().take(3) {
            all.extend([&mut sample.arc_deg, &mut sample.drop_mm, &mut sample.u_mm]);
        }
        for sample in flute.fitted.iter_mut().take(3) {
            all.extend([&mut sample.arc_deg, &mut sample.drop_mm]);
        }
    }
    for facts in &mut record.features {
        all.extend([
            &mut facts.diameter_mm,
            &mut facts.check_distance_mm,
            &mut facts.check_deg,
        ]);
        all.extend(facts.feed_mm_per_rev.as_mut());
        for limit in facts.limits.values_mut() {
            all.extend(limit.min.as_mut());
            all.extend(limit.max.as_mut());
        }
        for sample in facts.section.iter_mut().flatten().take(3) {
            all.extend([&mut sample.angle_deg, &mut sample.height_mm]);
        }
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_number_breaks_a_report(
        fixture in 0..records::all().len(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<f64>()), 1..12),
        special in prop::collection::vec(
            (any::<prop::sample::Index>(), prop::sample::select(vec![
                0.0, -0.0, -1.0, 1e9, f64::MIN_POSITIVE, f64::MAX, f64::MIN,
                f64::NAN, f64::INFINITY, f64::NEG_INFINITY,
            ])), 0..12),
    ) {
        let (_, mut record) = records::all().swap_remove(fixture);
        let mut all = numbers(&mut record);
        for (index, value) in changes.into_iter().chain(special) {
            if !all.is_empty() {
                let index = index.index(all.len());
                *all[index] = value;
            }
        }
        let page = svg(&record).unwrap();
        prop_assert!(page.ends_with("</svg>\n"));
        prop_assert!(!page.contains("NaN") && !page.contains("inf\""));
        prop_assert_eq!(page, svg(&record).unwrap());
        for (place, text) in texts(&svg_in(&record, Units::Inch).unwrap()) {
            let inside = place[0] >= 0 && place[2] <= 21_000 && place[1] >= 0 && place[3] <= 29_700;
            prop_assert!(inside, "`{}` at {:?}", text, place);
        }
        text(&record, TextStyle { budget: true, ..TextStyle::default() });
    }
}
