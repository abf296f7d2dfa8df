//! What must never become a sheet.

use crate::world::{KINDS, World};
use heelclear::card::GrinderCard;
use heelclear::error::{Code, Error};
use heelclear::inspection::Folder;
use heelclear::inspection::grind::{Asked, set_up};
use heelclear::record::{Setup, Verdict};
use std::fs;
use std::path::Path;

/// A set-up for a worn tool of four flutes, after something was done to its folder.
fn after(change: impl Fn(&Path)) -> Result<Setup, Error> {
    let dir = tempfile::tempdir().unwrap();
    World::new(KINDS[1], 2).write(dir.path());
    change(dir.path());
    let folder = Folder::open(dir.path())?;
    let grinder = folder.grinder(None)?;
    set_up(&folder, &grinder, &Asked::default())
}

pub fn edit(dir: &Path, file: &str, change: impl Fn(String) -> String) {
    let path = dir.join(file);
    let text = fs::read_to_string(&path).unwrap();
    fs::write(path, change(text)).unwrap();
}

/// The rows of a motion, each as `(time, angle, reading)`.
pub fn rows(text: &str, change: impl Fn(f64, f64) -> Option<(f64, f64)>) -> String {
    let mut kept = "time_s,angle_deg,reading_mm\n".to_owned();
    for line in text.lines().skip(1) {
        let numbers: Vec<f64> = line.split(',').map(|it| it.parse().unwrap()).collect();
        if let Some((angle, reading)) = change(numbers[1], numbers[2]) {
            kept += &format!("{},{angle:.4},{reading}\n", numbers[0]);
        }
    }
    kept
}

#[test]
fn an_untouched_folder_gives_a_set_up() {
    let setup = after(|_| {}).unwrap();
    assert!(setup.why.is_empty(), "{:?}", setup.why);
    assert_eq!(setup.cuts.len(), 1);
}

#[test]
fn a_motion_with_a_hole_is_refused() {
    let torn = |angle: f64, reading| {
        let hole = (100.0..104.0).contains(&angle.rem_euclid(360.0));
        (!hole).then_some((angle, reading))
    };
    let refused = after(|dir| edit(dir, "traces/motion.csv", |text| rows(&text, torn)));
    let error = refused.unwrap_err();
    assert_eq!(error.code(), Code::TraceShort);
    assert!(error.message().contains("nothing was read over"), "{error}");
}

#[test]
fn a_motion_taken_with_the_fixture_locked_is_refused() {
    let refused = after(|dir| {
        let shank = dir.join("traces/shank.csv");
        fs::copy(shank, dir.join("traces/motion.csv")).unwrap();
    });
    let error = refused.unwrap_err();
    assert_eq!(error.code(), Code::TraceShort);
    assert!(error.message().contains("in all"), "{error}");
}

#[test]
fn a_residual_taken_with_the_fixture_locked_is_refused() {
    let refused = after(|dir| {
        let seat = dir.join("traces/seat.csv");
        fs::copy(seat, dir.join("traces/residual.csv")).unwrap();
        edit(dir, "inspection.toml", |text| {
            text + "[[trace]]\nfile = \"traces/residual.csv\"\nrole = \"residual\"\nfeature = \"seat\"\nthrow_mm = 1.0\n"
        });
    });
    let error = refused.unwrap_err();
    assert!(
        error.message().contains("with the fixture locked"),
        "{error}"
    );
}

#[test]
fn a_cam_of_the_other_hand_is_named_and_sets_nothing() {
    let mirrored = |angle: f64, reading| Some((400.0 - angle, reading));
    let setup = after(|dir| edit(dir, "traces/motion.csv", |text| rows(&text, mirrored))).unwrap();
    assert_eq!(setup.verdict, Some(Verdict::Fail));
    assert!(setup.cuts.is_empty() && setup.lines.is_empty());
    assert!(setup.why[0].contains("the other way"), "{:?}", setup.why);
}

#[test]
fn a_throw_beyond_its_range_is_refused() {
    let refused = after(|dir| {
        edit(dir, "grinder.toml", |text| {
            text.replace("greatest_throw_mm = 4.0", "greatest_throw_mm = 0.5")
        });
    });
    let error = refused.unwrap_err();
    assert_eq!(error.code(), Code::CardValue);
    assert!(error.message().contains("opens from"), "{error}");
}

#[test]
fn limits_that_no_throw_keeps_are_named() {
    let setup = after(|dir| {
        edit(dir, "tool.toml", |text| {
            let cards = text.lines().filter(|line| !line.starts_with("drop_mm"));
            let cards: Vec<&str> = cards.collect();
            cards.join("\n") + "\ndrop_mm = { min = 0.5, max = 0.6 }\n"
        });
    });
    let setup = setup.unwrap();
    assert_eq!(setup.verdict, Some(Verdict::Fail));
    assert!(setup.why[0].contains("drop of `seat`"), "{:?}", setup.why);
    assert!(setup.why[0].contains("no other cam"), "{:?}", setup.why);
}

#[test]
fn a_tool_whose_runout_nobody_knows_sets_nothing() {
    let setup = after(|dir| {
        edit(dir, "inspection.toml", |text| {
            let at = text.find("[[trace]]").unwrap();
            let next = at + 1 + text[at + 1..].find("[[trace]]").unwrap();
            text[..at].to_owned() + &text[next..].replace("rezeroed = true\n", "")
        });
    });
    let setup = setup.unwrap();
    assert_eq!(setup.verdict, Some(Verdict::Undecided));
    assert!(setup.cuts.is_empty(), "{:?}", setup.cuts);
    assert!(setup.why[0].contains("reference"), "{:?}", setup.why);
}

#[test]
fn a_motion_whose_turns_disagree_is_taken_again() {
    // Half a tenth of a millimetre comes on over the trace: something slid.
    let setup = after(|dir| {
        edit(dir, "traces/motion.csv", |text| {
            let all = text.lines().count() as f64;
            let read = std::cell::Cell::new(0.0);
            rows(&text, |angle, reading| {
                read.set(read.get() + 1.0);
                Some((angle, reading + 0.05 * read.get() / all))
            })
        });
    });
    let setup = setup.unwrap();
    assert_eq!(setup.verdict, Some(Verdict::Undecided), "{:?}", setup.why);
    assert!(setup.cuts.is_empty());
    assert!(
        setup.why.iter().any(|why| why.contains("motion")),
        "{:?}",
        setup.why
    );
}

#[test]
fn two_motions_of_one_direction_leave_open_which_counts() {
    let refused = after(|dir| {
        let motion = dir.join("traces/motion.csv");
        fs::copy(motion, dir.join("traces/second.csv")).unwrap();
        edit(dir, "inspection.toml", |text| {
            text + "[[trace]]\nfile = \"traces/second.csv\"\nrole = \"motion\"\nthrow_mm = 1.5\n"
        });
    });
    let error = refused.unwrap_err();
    assert_eq!(error.code(), Code::CardValue);
    assert!(error.message().contains("expected one"), "{error}");
}

#[test]
fn a_tool_of_the_other_hand_than_its_card_says_sets_nothing() {
    let setup = after(|dir| {
        edit(dir, "tool.toml", |text| match text.contains("\"right\"") {
            true => text.replace("\"right\"", "\"left\""),
            false => text.replace("\"left\"", "\"right\""),
        });
    });
    let setup = setup.unwrap();
    assert!(setup.cuts.is_empty());
    assert!(
        setup.why.iter().any(|why| why.contains("hand")),
        "{:?}",
        setup.why
    );
}

/// A card with these tables at its end.
fn card(more: &str) -> Result<GrinderCard, Error> {
    let text = "schema = 1\nname = \"grinder\"\n\
        [[fixture]]\nname = \"head\"\ndirection = \"radial\"\ngreatest_throw_mm = 2.0\ngraduation_mm = 0.01\n";
    GrinderCard::parse(&format!("{text}{more}"), "grinder.toml")
}

fn correction(of: &str, value: f64) -> String {
    format!(
        "[[correction]]\nof = \"{of}\"\nfixture = \"head\"\ndirection = \"radial\"\nvalue = {value:?}\n\
         standard_uncertainty = 0.01\nrecords = 1\non = 2026-03-02\n"
    )
}

#[test]
fn a_correction_that_no_machine_needs_is_no_correction() {
    for (of, wrong, right) in [
        ("throw-gain", -1.0, 0.94),
        ("throw-gain", 0.0, 1.06),
        ("feed", 0.0001, 0.9),
        ("feed", 100.0, 1.2),
        ("cam-angle", 90.0, -2.0),
    ] {
        let error = card(&correction(of, wrong)).unwrap_err();
        assert_eq!(error.code(), Code::CardValue, "{error}");
        assert!(card(&correction(of, right)).is_ok(), "{of} {right}");
    }
    let twice = correction("feed", 0.9) + &correction("feed", 1.1);
    assert_eq!(card(&twice).unwrap_err().code(), Code::CardValue);
}
