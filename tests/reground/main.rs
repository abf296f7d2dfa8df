//! Worn tools of the simulated bench: matched, ground as the set-up says, and looked at.
//!
//! `cargo test --release --test reground -- --nocapture` prints the table. A quick round runs always;
//! `HEELCLEAR_GRINDS=200` makes so many grinds of each kind, `HEELCLEAR_GRINDS_KIND=six` only those
//! with that in their name, `HEELCLEAR_GRINDS_KEEP=DIR` leaves the folders behind, and with
//! `HEELCLEAR_GRINDS_EXACT=1` every scale stands where it was read. Tools, traces and grinds are those of
//! the program's own simulated bench, which shares no geometry with what works a set-up out; `grind`
//! has a bench of its own for the same. A round repeats: grind `n` of a kind is always the same one.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout
)]

mod corrected;
mod dial;
mod face;
mod kinds;
mod tally;
#[path = "../fixtures/truth.rs"]
mod truth;
mod whole;

use kinds::{KINDS, Kind};
use rayon::prelude::*;
use std::collections::BTreeMap;
use tally::{Figures, Grinds};
use whole::{Done, grind};

/// Grinds of each kind in the quick round.
const QUICK: u64 = 2;

fn setting(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

#[test]
fn grinds_clean_up_and_leave_what_the_set_up_said() {
    let grinds =
        setting("HEELCLEAR_GRINDS").map_or(QUICK, |text| text.parse().expect("a number of grinds"));
    let wanted = setting("HEELCLEAR_GRINDS_KIND").unwrap_or_default();
    let mut wrong = Vec::new();
    let mut figures: BTreeMap<(String, String), Figures> = BTreeMap::new();
    println!("{}", Grinds::HEAD);
    for kind in KINDS.iter().filter(|kind| kind.name.contains(&wanted)) {
        let seeds: Vec<u64> = (1..=grinds).collect();
        let round: Vec<Done> = seeds
            .into_par_iter()
            .map(|seed| grind(kind, seed))
            .collect();
        let tally = Grinds::of(&round);
        println!("{}", tally.row(kind));
        wrong.extend(tally.wrong(kind));
        for done in &round {
            for line in done.told() {
                println!("    {}, {line}", kind.name);
            }
            for (name, figures_of) in done.figures_by_name() {
                let key = (kind.name.to_owned(), name);
                figures.entry(key).or_default().add(&figures_of);
            }
        }
    }
    println!("\n{}", Figures::HEAD);
    for ((kind, name), tally) in &figures {
        println!("{}", tally.row(kind, name));
        if tally.strays() {
            wrong.push(format!(
                "{kind}, {name}: intervals hold the truth less often than said"
            ));
        }
    }
    assert!(wrong.is_empty(), "beyond chance: {wrong:#?}");
}

/// What is measured of a ground tool and is not what is true of it, a sentence each.
fn off_the_truth(kind: &Kind, seed: u64) -> Vec<String> {
    /// Standard uncertainties that chance does not go beyond.
    const FURTHEST: f64 = 5.0;
    let Some(tool) = whole::reground(kind, seed) else {
        return Vec::new();
    };
    let record = whole::measured(&tool);
    let truths = truth::Truths::of(&tool);
    let figures = record.characteristics.iter().filter_map(|figure| {
        let (value, u) = figure.value.zip(figure.standard_uncertainty)?;
        let true_value = truths.value(figure, &record)?;
        // A ground edge has no wear land at all, and nothing lies below none.
        let counts = figure.name != "wear-land" && (value - true_value).abs() > FURTHEST * u;
        let (name, kind) = (&figure.name, kind.name);
        counts.then(|| format!("{kind} {seed}, {name}: {value} ± {u}, true is {true_value}"))
    });
    figures.collect()
}

/// The ground tool is a recipe like any other: what is measured of it is what is true.
#[test]
fn a_ground_tool_is_measured_as_it_is() {
    let kinds = KINDS.iter().filter(|kind| !kind.hopeless);
    let off: Vec<String> = kinds
        .flat_map(|kind| (1..=2).flat_map(|seed| off_the_truth(kind, seed)))
        .collect();
    assert!(off.is_empty(), "{off:#?}");
}
