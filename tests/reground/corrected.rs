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

fn both(kind: &Kind, seed: u64) -> Option<Both> {
    let worn = off_its_scales(kind, seed);
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    if setup.cuts.is_empty() {
        return None;
    }
    let (mut tool, _) = ground(worn, &setup, seed);
    tool.setup = Some(SETUP_FILE.to_owned());
    // Some hours after the worn tool was measured.
    "2026-03-02T13:20:00Z".clone_into(&mut tool.taken);
    let dir = tempfile::tempdir().unwrap();
    write_folder(&tool, dir.path()).unwrap();
    let text = serde_json::to_string(&setup).unwrap();
    std::fs::write(dir.path().join(SETUP_FILE), text).unwrap();
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
