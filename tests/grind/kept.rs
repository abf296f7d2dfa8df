//! A motion that one inspection traced, kept on the grinder's card for another.

use crate::refusals::{edit, rows};
use crate::world::{KINDS, World};
use heelclear::card::{GrinderCard, MotionIs};
use heelclear::error::{Code, Error};
use heelclear::inspection::grind::{
    Asked, KeptMotion, motions_to_keep, read_grinder, set_up, with_motions, without_motions,
};
use heelclear::inspection::{Folder, GrinderFiles};
use std::cell::Cell;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The card of the shop has this cam by its figures.
const LAW: &str = "[[motion]]\nfixture = \"relieving head\"\ncam = \"four lobes\"\ndirection = \"radial\"\nthrow_mm = 1.0\nlaw = \"harmonic\"\nrise_mm = 0.4\nrise_deg = 55.0\nreturn_deg = 20.0\nlobes = 4\n";

const BARE: &str = "schema = 1\nname = \"bare\"\n";
const LEARNT: &str = "[[correction]]\nof = \"cam-angle\"\nfixture = \"relieving head\"\ndirection = \"radial\"\nvalue = 0.5\nstandard_uncertainty = 0.01\nrecords = 9\non = 2026-03-02\n";

/// An inspection of a worn tool with its fixture's motion, and the shop's own card beside it.
struct Shop {
    dir: TempDir,
    card: PathBuf,
}

impl Shop {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let worn = dir.path().join("VB-40");
        World::new(KINDS[1], 2).write(&worn);
        let card = dir.path().join("window.toml");
        let text = fs::read_to_string(worn.join("grinder.toml")).unwrap();
        fs::write(&card, text + LAW).unwrap();
        Self { dir, card }
    }

    fn worn(&self) -> PathBuf {
        self.dir.path().join("VB-40")
    }

    fn asked(&self, cam: Option<&str>) -> Asked {
        Asked {
            cam: cam.map(str::to_owned),
            beside: Some(self.dir.path().to_owned()),
            ..Asked::default()
        }
    }

    fn to_keep(&self, asked: &Asked) -> Result<Vec<KeptMotion>, Error> {
        let folder = Folder::open(&self.worn())?;
        motions_to_keep(&folder, &read_grinder(&self.card)?, asked, &self.card)
    }

    /// As the command does: the file first, and then the card.
    fn keep(&self) -> Vec<KeptMotion> {
        let kept = self.to_keep(&self.asked(None)).unwrap();
        for each in &kept {
            fs::write(self.dir.path().join(&each.file), &each.text).unwrap();
        }
        let card = with_motions(read_grinder(&self.card).unwrap(), &kept);
        fs::write(&self.card, card.to_toml()).unwrap();
        kept
    }
}

fn without_its_motion(dir: &Path) {
    edit(dir, "inspection.toml", |text| {
        let at = text.rfind("[[trace]]").unwrap();
        assert!(text[at..].contains("motion"));
        text[..at].to_owned()
    });
}

#[test]
fn another_tool_is_set_up_from_it_as_from_the_trace_itself() {
    let shop = Shop::new();
    let folder = Folder::open(&shop.worn()).unwrap();
    let traced = shop.asked(Some("as traced"));
    // Where finished grinds taught how the cam angle's scale stands, both are known alike.
    let taught = |mut card: GrinderCard| {
        let learnt = format!("{BARE}{LEARNT}");
        card.corrections = GrinderCard::parse(&learnt, "").unwrap().corrections;
        card
    };
    let card = taught(read_grinder(&shop.card).unwrap());
    let from_trace = set_up(&folder, &card, &traced).unwrap();
    let kept = shop.keep();
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].file, "window-relieving-head-four-lobes-radial.csv");
    without_its_motion(&shop.worn());
    let folder = Folder::open(&shop.worn()).unwrap();
    let card = read_grinder(&shop.card).unwrap();
    let from_card = set_up(&folder, &taught(card.clone()), &shop.asked(None)).unwrap();
    let (one, other) = (&from_trace.cuts[0], &from_card.cuts[0]);
    assert!(
        other.motion_traced && other.cam == "four lobes",
        "{other:?}"
    );
    assert!((one.throw_mm - other.throw_mm).abs() < 1e-9);
    assert!((one.cam_angle_deg - other.cam_angle_deg).abs() < 1e-9);
    assert!(
        (one.skim_mm - other.skim_mm).abs() < 2e-4,
        "{} {}",
        one.skim_mm,
        other.skim_mm
    );
    // Else where its angle 0 lies now is not as sure as while it was traced.
    let untaught = set_up(&folder, &card, &shop.asked(None)).unwrap();
    assert_eq!(untaught.cuts[0].unknown, [0.0, 2.0]);
    let said = untaught.assumptions.iter();
    assert!(
        said.clone().any(|it| it.contains("zero of the encoder")),
        "{said:?}"
    );
}

#[test]
fn it_stands_in_place_of_the_law_and_is_taken_back() {
    let shop = Shop::new();
    let before = read_grinder(&shop.card).unwrap();
    let first = shop.keep();
    assert_eq!(first[0].replaced, Some(before.motions[0].clone()));
    let with = read_grinder(&shop.card).unwrap();
    assert_eq!(with.motions.len(), 1);
    assert_eq!(with.motions[0].is, MotionIs::Traced(first[0].file.clone()));
    // Kept once more it has a file of its own, so that each is taken back by itself.
    let second = shop.keep();
    assert_ne!(first[0].file, second[0].file);
    let back = |card: GrinderCard| without_motions(card, &Asked::default(), &shop.card).unwrap();
    let (once, forgotten) = back(read_grinder(&shop.card).unwrap());
    assert_eq!(once, with);
    assert_eq!(
        forgotten[0].file.file_name().unwrap().to_str(),
        Some(second[0].file.as_str())
    );
    let (twice, forgotten) = back(once);
    assert_eq!(twice, before);
    assert_eq!(forgotten[0].restored, Some(before.motions[0].clone()));
    // What is not named, and what no trace was kept of, stays.
    assert!(back(before).1.is_empty());
    let other = shop.asked(Some("another"));
    assert!(
        without_motions(with, &other, &shop.card)
            .unwrap()
            .1
            .is_empty()
    );
}

#[test]
fn it_goes_with_the_card_into_an_inspection() {
    let shop = Shop::new();
    let kept = shop.keep();
    let files = GrinderFiles::read(&shop.card).unwrap();
    assert_eq!(
        files.motions,
        [(kept[0].file.clone(), kept[0].text.clone().into_bytes())]
    );
    let other = tempfile::tempdir().unwrap();
    files.write_motions(other.path()).unwrap();
    files.write_motions(other.path()).unwrap();
    fs::write(other.path().join(&kept[0].file), "another").unwrap();
    let error = files.write_motions(other.path()).unwrap_err();
    assert_eq!(error.code(), Code::CardValue);
    fs::remove_file(shop.dir.path().join(&kept[0].file)).unwrap();
    let error = GrinderFiles::read(&shop.card).unwrap_err();
    assert_eq!(error.code(), Code::Missing);
    let named_as_a_trace = fs::read_to_string(&shop.card).unwrap();
    let named_as_a_trace = named_as_a_trace.replace(&kept[0].file, "traces/motion.csv");
    fs::write(&shop.card, named_as_a_trace).unwrap();
    let error = GrinderFiles::read(&shop.card).unwrap_err();
    assert_eq!(error.code(), Code::CardValue, "{error}");
}

#[test]
fn what_a_match_would_refuse_is_not_kept() {
    #[track_caller]
    fn check(change: impl Fn(&Shop), cam: Option<&str>, code: Code, word: &str) {
        let shop = Shop::new();
        change(&shop);
        let error = shop.to_keep(&shop.asked(cam)).unwrap_err();
        assert_eq!(error.code(), code, "{error}");
        assert!(error.to_string().contains(word), "{error}");
    }
    let motion = |change: fn(f64, f64) -> Option<(f64, f64)>| {
        move |shop: &Shop| {
            edit(&shop.worn(), "traces/motion.csv", |text| {
                rows(&text, change)
            })
        }
    };
    let torn = motion(|angle, reading| {
        let hole = (100.0..104.0).contains(&angle.rem_euclid(360.0));
        (!hole).then_some((angle, reading))
    });
    check(torn, None, Code::TraceShort, "nothing was read over");
    let mirrored = motion(|angle, reading| Some((400.0 - angle, reading)));
    check(mirrored, None, Code::CardValue, "where its lands rise");
    let slid = |shop: &Shop| {
        edit(&shop.worn(), "traces/motion.csv", |text| {
            let all = text.lines().count() as f64;
            let read = Cell::new(0.0);
            rows(&text, |angle, reading| {
                read.set(read.get() + 1.0);
                Some((angle, reading + 0.05 * read.get() / all))
            })
        });
    };
    check(slid, None, Code::TraceShort, "the radial motion");
    let locked = |shop: &Shop| {
        let traces = shop.worn().join("traces");
        fs::copy(traces.join("shank.csv"), traces.join("motion.csv")).unwrap();
    };
    check(locked, None, Code::TraceShort, "in all");
    let narrow = |shop: &Shop| {
        edit(shop.dir.path(), "window.toml", |text| {
            text.replace("greatest_throw_mm = 4.0", "greatest_throw_mm = 0.5")
        });
    };
    check(narrow, None, Code::CardValue, "opens from");
    let left = |shop: &Shop| {
        edit(&shop.worn(), "tool.toml", |text| {
            text.replace("\"right\"", "\"left\"")
        });
    };
    check(left, None, Code::CardValue, "the hand on the tool's card");
    let no_motion = |shop: &Shop| without_its_motion(&shop.worn());
    check(no_motion, None, Code::MissingKey, "`motion`");
    let no_round = |shop: &Shop| {
        edit(&shop.worn(), "inspection.toml", |text| {
            let at = text.find("[[trace]]").unwrap();
            let next = at + 1 + text[at + 1..].find("[[trace]]").unwrap();
            text[..at].to_owned() + &text[next..].replace("rezeroed = true\n", "")
        });
    };
    check(no_round, None, Code::Reference, "runout");
    let no_cam = |shop: &Shop| {
        edit(shop.dir.path(), "window.toml", |text| text.replace(LAW, ""));
    };
    check(no_cam, None, Code::Usage, "--cam");
    check(
        |_| {},
        Some("as traced"),
        Code::Usage,
        "what people call it",
    );
}

#[test]
fn another_fixture_than_the_cards_is_refused() {
    let shop = Shop::new();
    let asked = Asked {
        fixture: Some("another".to_owned()),
        ..shop.asked(None)
    };
    let error = shop.to_keep(&asked).unwrap_err();
    assert!(error.to_string().contains("relieving head"), "{error}");
}
