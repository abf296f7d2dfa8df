//! Whether a printed skim cleans up, and what it leaves is what was predicted, over simulated grinds.
//!
//! `cargo test --release --test grind -- --nocapture` prints the table. A quick round runs always;
//! `HEELCLEAR_GRINDS=200` grinds so many tools of each kind, `HEELCLEAR_GRINDS_KIND=four` only those
//! with that in their name, `HEELCLEAR_GRINDS_KEEP=DIR` leaves the folders behind.
//! The bench is one of brute force and shares no geometry with `setting`; a seed is the same tool for
//! ever.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::panic
)]

mod bench;
mod kept;
mod refusals;
mod world;

use heelclear::inspection::Folder;
use heelclear::inspection::grind::{Asked, set_up};
use heelclear::record::Setup;
use heelclear::setting::matching::Goal;
use rayon::prelude::*;
use statrs::distribution::{Beta, ContinuousCDF};
use world::{FEED_STEP, KINDS, Kind, World};

/// Tools of each kind in the quick round.
const QUICK: u64 = 4;

/// What came of one tool.
#[derive(Default)]
struct Came {
    ground: u64,
    refused: u64,
    clean: u64,
    /// Printed skims beyond 1.3 times the least, twice its uncertainty and a step.
    too_much: u64,
    held: u64,
    figures: u64,
    /// Skim printed over the least that would have done.
    over: f64,
    why: Vec<String>,
}

impl Came {
    fn and(mut self, other: Self) -> Self {
        self.ground += other.ground;
        self.refused += other.refused;
        self.clean += other.clean;
        self.too_much += other.too_much;
        self.held += other.held;
        self.figures += other.figures;
        self.over += other.over;
        self.why.extend(other.why);
        self
    }
}

fn setting(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

fn one(kind: Kind, seed: u64) -> Came {
    let mut world = World::new(kind, seed);
    let scratch = tempfile::tempdir().unwrap();
    let dir = match setting("HEELCLEAR_GRINDS_KEEP") {
        Some(keep) => {
            std::path::Path::new(&keep).join(format!("{}-{seed}", kind.name.replace(' ', "-")))
        }
        None => scratch.path().to_owned(),
    };
    world.write(&dir);
    let folder = Folder::open(&dir).unwrap();
    let grinder = folder.grinder(None).unwrap();
    let goal = if seed.is_multiple_of(2) {
        Goal::AsTheCardWants
    } else {
        Goal::AsItWas { band: 0.1 }
    };
    let asked = Asked {
        goal,
        ..Asked::default()
    };
    let setup = set_up(&folder, &grinder, &asked).unwrap();
    match setup.cuts.first() {
        None => Came {
            refused: 1,
            why: vec![format!("{} {seed}: {}", kind.name, setup.why.join("; "))],
            ..Came::default()
        },
        Some(cut) => {
            let ground = world.grind(cut.throw_mm, cut.cam_angle_deg, cut.skim_sure_mm);
            let most = 1.3 * ground.least_mm + 2.0 * cut.skim_uncertainty_mm + FEED_STEP;
            let (held, figures, missed) = held(&setup, &world, &ground);
            let mut why = missed;
            if !ground.clean {
                why.push(format!(
                    "{} {seed}: {:.4} printed, {:.4} needed",
                    kind.name, cut.skim_sure_mm, ground.least_mm
                ));
            }
            Came {
                ground: 1,
                clean: u64::from(ground.clean),
                too_much: u64::from(cut.skim_sure_mm > most),
                over: cut.skim_sure_mm / ground.least_mm,
                held,
                figures,
                why,
                ..Came::default()
            }
        }
    }
}

/// How many predicted figures hold the truth, of how many, and those that do not.
fn held(setup: &Setup, world: &World, ground: &world::Ground) -> (u64, u64, Vec<String>) {
    let (mut held, mut all, mut missed) = (0, 0, Vec::new());
    for figure in &setup.predicted {
        let Some(flute) = figure.flute else { continue };
        let Some(truth) = ground.truth(world, &figure.name, flute as usize - 1) else {
            continue;
        };
        let [low, high] = figure.interval;
        // The bench knows a height to the place: half a micrometre.
        let inside = (low - 0.0005..=high + 0.0005).contains(&truth);
        held += u64::from(inside);
        all += 1;
        if !inside {
            missed.push(format!(
                "{} {} is {truth:.4}, not {low:.4} to {high:.4}",
                world.kind.name, figure.name
            ));
        }
    }
    (held, all, missed)
}

/// The exact interval of a share that was seen `seen` of `of` times (Clopper and Pearson 1934).
fn exact(seen: u64, of: u64, confidence: f64) -> [f64; 2] {
    let tail = (1.0 - confidence) / 2.0;
    let (seen, of) = (seen as f64, of as f64);
    let low = if seen > 0.0 {
        Beta::new(seen, of - seen + 1.0).unwrap().inverse_cdf(tail)
    } else {
        0.0
    };
    let high = if seen < of {
        Beta::new(seen + 1.0, of - seen)
            .unwrap()
            .inverse_cdf(1.0 - tail)
    } else {
        1.0
    };
    [low, high]
}

#[test]
fn a_printed_skim_cleans_up_and_leaves_what_was_predicted() {
    let count = setting("HEELCLEAR_GRINDS").map_or(QUICK, |count| count.parse().unwrap());
    let only = setting("HEELCLEAR_GRINDS_KIND").unwrap_or_default();
    println!(
        "| kind | ground | clean | printed over least | too much | figures held | no set-up |"
    );
    println!("|---|---|---|---|---|---|---|");
    let mut faults = Vec::new();
    for kind in KINDS.iter().filter(|kind| kind.name.contains(&only)) {
        let came = (0..count)
            .into_par_iter()
            .map(|seed| one(*kind, seed))
            .reduce(Came::default, Came::and);
        println!(
            "| {} | {} | {} | {:.2} | {} | {} of {} | {} |",
            kind.name,
            came.ground,
            came.clean,
            came.over / came.ground.max(1) as f64,
            came.too_much,
            came.held,
            came.figures,
            came.refused
        );
        if setting("HEELCLEAR_GRINDS_ALL").is_some() {
            came.why.iter().for_each(|why| println!("  {why}"));
        }
        if came.ground > 0 {
            let [low, high] = exact(came.clean, came.ground, 0.99);
            if high < 0.95 || low > 1.0 {
                faults.push(format!(
                    "{}: clean {} of {}",
                    kind.name, came.clean, came.ground
                ));
            }
        }
        if kind.matches && came.ground < came.refused {
            faults.push(format!(
                "{}: {} of {count} without a set-up",
                kind.name, came.refused
            ));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
