//! The pages of a set-up, with names as long as anybody gives them.
#![allow(clippy::unwrap_used, clippy::panic)]

use crate::report::{overlap, texts};
use heelclear::inspection::Folder;
use heelclear::inspection::grind::{Asked, set_up_sheet};
use heelclear::inspection::simulated::write_folder;
use heelclear::record::Setup;
use heelclear::report::{Units, match_svg, sheet_svg};
use heelclear::simulator::built_in;

/// The set-up of a worn tool that does not exist.
fn set_up(recipe: &str) -> Setup {
    let dir = tempfile::tempdir().unwrap();
    write_folder(&built_in(recipe).unwrap(), dir.path()).unwrap();
    let folder = Folder::open(dir.path()).unwrap();
    let grinder = folder.grinder(None).unwrap();
    let setup = set_up_sheet(&folder, &grinder, &Asked::default()).unwrap();
    assert!(!setup.lines.is_empty(), "{:?}", setup.why);
    setup
}

/// The same with every name in it replaced, wherever it stands.
fn renamed(setup: &Setup, long: impl Fn(usize) -> String) -> Setup {
    let mut names = vec![
        setup.tool_name.clone(),
        setup.tool.clone(),
        setup.grinder.clone(),
    ];
    names.extend(setup.wheel.iter().map(|wheel| wheel.name.clone()));
    for cut in &setup.cuts {
        names.extend([cut.fixture.clone(), cut.cam.clone()]);
        names.extend(cut.features.clone());
    }
    names.sort_by_key(|name| std::cmp::Reverse(name.len()));
    names.dedup();
    let mut text = setup.to_json().unwrap();
    // By way of marks that no name holds, or a name would be found in another's.
    for (at, name) in names.iter().enumerate() {
        text = text.replace(name, &format!("⟦{at}⟧"));
    }
    for at in 0..names.len() {
        text = text.replace(&format!("⟦{at}⟧"), &long(at));
    }
    let at = names.iter().position(|name| *name == setup.tool).unwrap();
    Setup::parse(text.as_bytes(), "setup.json", &long(at)).unwrap()
}

#[track_caller]
fn check(page: &str, of: &str) {
    let texts = texts(page);
    assert!(texts.len() > 15, "{of}: {}", texts.len());
    for (index, (one, text)) in texts.iter().enumerate() {
        let inside = one[0] >= 1400 && one[2] <= 19_600 && one[1] >= 1000 && one[3] <= 28_900;
        assert!(inside, "{of}: `{text}` at {one:?} leaves the page");
        for (other, beside) in &texts[index + 1..] {
            assert!(
                !overlap(one, other),
                "{of}: `{text}` {one:?} lies on `{beside}` {other:?}"
            );
        }
    }
}

#[test]
fn names_of_sixty_characters_stay_inside_and_hide_nothing_that_counts() {
    for recipe in ["worn-six-flutes", "worn-stepped"] {
        let setup = set_up(recipe);
        let wide = renamed(&setup, |at| format!("{at:W<60}"));
        let words = renamed(&setup, |at| {
            format!("{at:02} the long name that a shop gave it, 20 mm x 8° & more, old one")
        });
        assert!(words.tool.chars().count() >= 60);
        for (of, setup) in [("wide", &wide), ("words", &words)] {
            for units in [Units::Metric, Units::Inch] {
                let page = match_svg(setup, units).unwrap();
                keep(&format!("{recipe}-{of}-match"), &page);
                check(&page, &format!("{recipe} {of} match"));
                let says = |what: &str| texts(&page).iter().any(|(_, text)| text.contains(what));
                for what in [
                    "flute 2: ",
                    "off at the edge",
                    "after first touch",
                    "measured ",
                ] {
                    assert!(says(what), "{recipe} {of}: {what}");
                }
                let pages = sheet_svg(setup, units);
                for (at, page) in pages.iter().enumerate() {
                    keep(&format!("{recipe}-{of}-setup-{at}"), page);
                    check(page, &format!("{recipe} {of} sheet {at}"));
                }
                let all = pages.concat();
                for what in [
                    "first, as it cuts",
                    "on its scale",
                    "diameter as dressed",
                    "check cam angle, throw and clamping",
                ] {
                    let spoken: String = texts(&all)
                        .into_iter()
                        .map(|(_, text)| text + " ")
                        .collect();
                    assert!(spoken.contains(what), "{recipe} {of}: {what}");
                }
            }
        }
    }
}

/// Leaves a page under `target/tmp`, to be looked at.
fn keep(name: &str, page: &str) {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("set-up");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(format!("{name}.svg")), page).unwrap();
}
