//! Grinders whose scales are off: what one grind teaches, the next one is corrected by.

use super::kinds::{KINDS, Kind};
use super::setting;
use super::tally::interval;
use super::whole::{ground, measured};
use heelclear::card::GrinderCard;
use heelclear::inspection::Folder;
use heelclear::inspection::grind::{Asked, learn, set_up, with_corrections};
use heelclear::inspection::simulated::write_folder;
use heelclear::record::{SETUP_FILE, Setup, Verdict};
use heelclear::simulator::Scenario;
use jiff::civil::date;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;
use std::path::Path;

/// Grinders of the quick round.
const QUICK: u64 = 2;

/// How the two grinds of one tool came out; nothing where the grinder's ranges reach no set-up.
struct Both {
    seed: u64,
    /// What keeps the second grind from passing.
    short: String,
    first: Option<Verdict>,
    second: Option<Verdict>,
    clean: bool,
}

/// The card states the cam, so that nothing but finished grinds can tell how far its scales are off.
fn off_its_scales(kind: &Kind, seed: u64) -> Scenario {
    let mut tool = kind.worn(seed).diameters_read();
    let mut rng = Pcg64::seed_from_u64(seed ^ 0x6869_6464);
    let grinder = tool.grinder.as_mut().unwrap();
    grinder.wheel.diameter_error_mm = rng.random_range(-5.0..0.0);
    for fixture in &mut grinder.fixture {
        fixture.trace_motion = false;
        fixture.state_cam = true;
        fixture.throw_error = rng.random_range(-0.08..0.08);
        fixture.cam_error_deg = rng.random_range(-2.0..2.0);
    }
    tool
}

/// What the program would set for a tool with what a card says and knows.
fn set_up_for(tool: &Scenario, grinder: &GrinderCard) -> Setup {
    let dir = tempfile::tempdir().unwrap();
    write_folder(tool, dir.path()).unwrap();
    let folder = Folder::open(dir.path()).unwrap();
    set_up(&folder, grinder, &Asked::default()).unwrap()
}

/// The inspection of a ground tool, with the set-up that it was ground from.
fn finished(tool: &mut Scenario, setup: &Setup, taken: &str, dir: &Path) {
    tool.setup = Some(SETUP_FILE.to_owned());
    taken.clone_into(&mut tool.taken);
    write_folder(tool, dir).unwrap();
    let text = serde_json::to_string(setup).unwrap();
    std::fs::write(dir.join(SETUP_FILE), text).unwrap();
}

fn both(kind: &Kind, seed: u64) -> Option<Both> {
    let worn = off_its_scales(kind, seed);
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    if setup.cuts.is_empty() {
        return None;
    }
    let (mut tool, _) = ground(worn, &setup, seed);
    let dir = tempfile::tempdir().unwrap();
    finished(&mut tool, &setup, "2026-03-02T13:20:00Z", dir.path());
    let folder = Folder::open(dir.path()).unwrap();
    let first = heelclear::inspection::verify(&folder).unwrap().verdict;
    let lessons = learn(&[folder], date(2026, 3, 2)).unwrap();
    let learnt: Vec<_> = lessons.into_iter().flat_map(|it| it.corrections).collect();
    let card = with_corrections(card, &learnt);

    let worn = tool.worked(&mut Pcg64::seed_from_u64(seed ^ 0x776f_726b));
    let setup = set_up_for(&worn, &card);
    if setup.verdict != Some(Verdict::Pass) {
        return None;
    }
    let (tool, cuts) = ground(worn, &setup, seed + 1_000_000);
    let record = measured(&tool);
    let short = record
        .characteristics
        .iter()
        .filter(|it| it.limit.is_some() && it.verdict != Some(Verdict::Pass));
    let short = short.map(|it| format!("{} {:?}", it.name, it.value));
    let learnt = card.corrections.iter();
    let learnt = learnt.map(|it| format!("{} {:.3}", it.of.as_str(), it.value));
    Some(Both {
        seed,
        short: format!(
            "{}; learnt {}",
            short.collect::<Vec<_>>().join(", "),
            learnt.collect::<Vec<_>>().join(", ")
        ),
        first,
        second: record.verdict,
        clean: cuts.iter().all(|cut| cut.unclean.is_empty()),
    })
}

#[test]
fn a_second_grind_passes_where_the_first_one_taught_what_was_off() {
    /// Of the second grinds that the ranges can reach, so many are to pass.
    const PASS: f64 = 0.9;
    let count = setting("HEELCLEAR_GRINDS").map_or(QUICK, |text| text.parse().unwrap());
    println!(
        "| kind | grinders | reached | first passes | second passes, % (99 % interval) | second clean |"
    );
    println!("|---|---:|---:|---:|---:|---:|");
    let mut wrong = Vec::new();
    for kind in KINDS.iter().filter(|kind| !kind.hopeless && kind.learns) {
        let seeds: Vec<u64> = (1..=count).collect();
        let came: Vec<Both> = seeds
            .into_par_iter()
            .filter_map(|seed| both(kind, seed))
            .collect();
        let passed = |of: &dyn Fn(&Both) -> Option<Verdict>| {
            came.iter()
                .filter(|it| of(it) == Some(Verdict::Pass))
                .count() as u64
        };
        let (first, second) = (passed(&|it| it.first), passed(&|it| it.second));
        let reached = came.len() as u64;
        let [low, high] = interval(second, reached);
        println!(
            "| {} | {count} | {reached} | {first} | {:.1} ({:.1} to {:.1}) | {} |",
            kind.name,
            100.0 * second as f64 / reached.max(1) as f64,
            100.0 * low,
            100.0 * high,
            came.iter().filter(|it| it.clean).count(),
        );
        for each in came.iter().filter(|it| it.second != Some(Verdict::Pass)) {
            println!(
                "    {}, grinder {}: {:?}: {}",
                kind.name, each.seed, each.second, each.short
            );
        }
        if high < PASS {
            wrong.push(format!("{}: {second} of {reached} pass", kind.name));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

fn day() -> jiff::civil::Date {
    date(2026, 9, 14)
}

/// Gain of the throw as grinds teach it, with its uncertainty.
fn gain(folders: &[Folder]) -> (f64, f64) {
    let lessons = learn(folders, day()).unwrap();
    lessons[0].learnt.each[0]
}

#[test]
fn a_grind_made_with_a_correction_teaches_the_same_scale() {
    let kind = KINDS
        .iter()
        .find(|kind| kind.name == "four flutes")
        .unwrap();
    let worn = off_its_scales(kind, 5);
    let truth = worn.grinder.as_ref().unwrap().fixture[0].throw_error;
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    let dirs = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let (mut tool, _) = ground(worn, &setup, 5);
    finished(&mut tool, &setup, "2026-03-02T13:20:00Z", dirs[0].path());
    let open = |at: usize| Folder::open(dirs[at].path()).unwrap();
    let lessons = learn(&[open(0)], day()).unwrap();
    let learnt: Vec<_> = lessons.into_iter().flat_map(|it| it.corrections).collect();
    let card = with_corrections(card, &learnt);
    let mut worn = tool.worked(&mut Pcg64::seed_from_u64(5));
    "2026-09-14T08:05:00Z".clone_into(&mut worn.taken);
    let setup = set_up_for(&worn, &card);
    assert_ne!(setup.cuts[0].corrected, [1.0, 0.0, 1.0]);
    let (mut tool, _) = ground(worn, &setup, 6);
    finished(&mut tool, &setup, "2026-09-14T10:55:00Z", dirs[1].path());

    let each = [gain(&[open(0)]), gain(&[open(1)])];
    let both = gain(&[open(0), open(1)]);
    let turned = gain(&[open(1), open(0)]);
    assert!((both.0 - turned.0).abs() < 1e-9, "{both:?} {turned:?}");
    for (value, u) in each.into_iter().chain([both]) {
        assert!(
            (value - truth).abs() < 4.0 * u,
            "{value} ± {u}, true is {truth}"
        );
    }
    assert!(
        both.1 < each[0].1 && both.1 < each[1].1,
        "{each:?} {both:?}"
    );
    // One grind is one, however often it is named.
    assert!(learn(&[open(0), open(0)], day()).is_err());
}

#[test]
fn what_is_no_finished_grind_of_its_set_up_teaches_nothing() {
    let kind = KINDS
        .iter()
        .find(|kind| kind.name == "four flutes")
        .unwrap();
    let worn = off_its_scales(kind, 3);
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    let (mut tool, _) = ground(worn, &setup, 3);
    let dir = tempfile::tempdir().unwrap();
    let taught = |tool: &mut Scenario, setup: &Setup, taken: &str| {
        finished(tool, setup, taken, dir.path());
        learn(&[Folder::open(dir.path()).unwrap()], day())
    };
    let later = "2026-03-02T13:20:00Z";
    assert!(taught(&mut tool, &setup, later).is_ok());
    assert!(taught(&mut tool, &setup, "2026-03-01T13:20:00Z").is_err());
    let mut before = tool.clone();
    "before-grind".clone_into(&mut before.stage);
    assert!(taught(&mut before, &setup, later).is_err());
    let mut grown = tool.clone();
    grown.feature[0].diameter_mm += 0.5;
    grown.feature[0].diameter_error_mm -= 0.5;
    assert!(taught(&mut grown, &setup, later).is_err());
    let other = Setup {
        flutes: setup.flutes + 1,
        ..setup.clone()
    };
    assert!(taught(&mut tool, &other, later).is_err());
    let empty = Setup {
        cuts: Vec::new(),
        ..setup
    };
    assert!(taught(&mut tool, &empty, later).is_err());
}
