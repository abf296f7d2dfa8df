//! The pictures of the manual: each is used, drawn as it is kept, and keeps to its sheet.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::manual::{self, PAGES};
use heelclear::report::{PICTURES, Weight, picture, text_width};
use std::collections::BTreeSet;
use std::path::PathBuf;

fn kept(name: &str) -> PathBuf {
    PathBuf::from(format!("src/manual/pictures/{name}.svg"))
}

/// With `HEELCLEAR_DRAW=1` what is kept for the documentation is drawn anew.
#[test]
fn the_documentation_has_what_the_program_draws() {
    let anew = std::env::var_os("HEELCLEAR_DRAW").is_some();
    for (name, _) in PICTURES {
        let drawn = picture(name).unwrap();
        if anew {
            std::fs::write(kept(name), &drawn).unwrap();
        }
        let there = std::fs::read_to_string(kept(name)).unwrap();
        assert!(there == drawn, "{name}: draw it anew with HEELCLEAR_DRAW=1");
        // An empty line would end it in the midst of a page of Markdown.
        assert!(drawn.lines().all(|line| !line.trim().is_empty()), "{name}");
    }
    assert_eq!(picture("nothing"), None);
}

#[test]
fn every_picture_stands_on_a_page_and_every_page_names_pictures_that_there_are() {
    let mut used = BTreeSet::new();
    for page in PAGES {
        used.extend(page.text.lines().filter_map(manual::picture));
    }
    let known: BTreeSet<&str> = PICTURES.iter().map(|(name, _)| *name).collect();
    assert_eq!(used, known);
}

#[test]
fn no_word_of_a_picture_is_clipped() {
    let text = regex::Regex::new(
        r#"<text x="(-?\d+)" y="(-?\d+)" font-size="(\d+)"( font-weight="bold")?(?: text-anchor="(\w+)")?[^>]*>([^<]*)<"#,
    )
    .unwrap();
    let size = regex::Regex::new(r#"viewBox="0 0 (\d+) (\d+)""#).unwrap();
    for (name, _) in PICTURES {
        let drawn = picture(name).unwrap();
        let size = size.captures(&drawn).unwrap();
        let number = |text: &str| text.parse::<i32>().unwrap();
        let (w, h) = (number(&size[1]), number(&size[2]));
        let mut words = 0;
        for found in text.captures_iter(&drawn) {
            let (x, y, high) = (number(&found[1]), number(&found[2]), number(&found[3]));
            let weight = match found.get(4) {
                Some(_) => Weight::Bold,
                None => Weight::Regular,
            };
            let wide = text_width(&found[6], high, weight);
            let from = match found.get(5).map(|anchor| anchor.as_str()) {
                Some("middle") => x - wide / 2,
                Some("end") => x - wide,
                _ => x,
            };
            assert!(
                from >= 0 && from + wide <= w && y >= high && y <= h,
                "{name}: `{}` from {from} to {} of {w}, at {y} of {h}",
                &found[6],
                from + wide
            );
            words += 1;
        }
        assert!(words > 3, "{name}");
    }
}
