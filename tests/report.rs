//! The report through its front door: what stands in it, and that it fits the page.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "fixtures/records.rs"]
mod records;

use heelclear::report::{TextStyle, Units, svg, text};

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
