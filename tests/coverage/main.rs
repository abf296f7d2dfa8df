//! How often a 95 % interval holds the truth, over many simulated inspections.
//!
//! `cargo test --release --test coverage -- --nocapture` prints the table. A quick round runs
//! always; `HEELCLEAR_COVERAGE=200` makes so many inspections of each kind, and
//! `HEELCLEAR_COVERAGE_KIND=ball` only those with that in their name. With
//! `HEELCLEAR_COVERAGE_LINES=1` a second table sets each line of the budgets beside what its input
//! really does; with `HEELCLEAR_COVERAGE_ONLY=Play,Noise` every other input is at its best estimate;
//! `HEELCLEAR_COVERAGE_KEEP=DIR` leaves the folders behind.
//! The truths are the simulator's, which shares no geometry with the judge. A round
//! repeats: inspection `n` of a kind is always the same one.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

mod inspect;
mod kinds;
mod lines;
mod tally;
#[path = "../fixtures/truth.rs"]
mod truth;
mod world;

use inspect::{Seen, inspect};
use kinds::{KINDS, Kind};
use rayon::prelude::*;
use std::collections::BTreeMap;
use tally::{Tally, percent};
use world::Input;

/// Inspections of each kind in the quick round.
const QUICK: u64 = 2;

fn setting(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

/// All inputs but those that `HEELCLEAR_COVERAGE_ONLY` names, where it names any.
fn left_out() -> Vec<Input> {
    let Some(only) = setting("HEELCLEAR_COVERAGE_ONLY") else {
        return Vec::new();
    };
    let named = |input: &Input| only.split(',').any(|name| name == format!("{input:?}"));
    Input::ALL
        .into_iter()
        .filter(|input| !named(input))
        .collect()
}

/// Makes so many inspections of a kind, on all cores.
fn round(kind: &Kind, inspections: u64) -> Vec<Result<Vec<Seen>, String>> {
    let seeds = (1..=inspections).into_par_iter();
    let left_out = left_out();
    seeds.map(|seed| inspect(kind, seed, &left_out)).collect()
}

/// The figures said to be trusted that no chance puts where they are.
fn far<'r>(
    kind: &'r Kind,
    round: &'r [Result<Vec<Seen>, String>],
) -> impl Iterator<Item = String> + 'r {
    let each = round.iter().enumerate();
    each.flat_map(move |(at, seen)| {
        seen.iter().flatten().filter_map(move |figure| {
            let found = figure.found.as_ref().filter(|f| f.is_far(figure.truth))?;
            Some(format!(
                "{}, inspection {}, {}: {:.5} ± {:.5}, true is {:.5}",
                kind.name,
                at + 1,
                figure.name,
                found.value,
                found.u,
                figure.truth
            ))
        })
    })
}

/// A tally for each characteristic.
fn tallies(round: &[Result<Vec<Seen>, String>]) -> BTreeMap<String, Tally> {
    let mut tallies: BTreeMap<String, Tally> = BTreeMap::new();
    for seen in round.iter().flatten() {
        let mut names: Vec<&String> = seen.iter().map(|figure| &figure.name).collect();
        names.sort();
        names.dedup();
        for name in names {
            let of_name = seen.iter().filter(|figure| figure.name == *name);
            tallies.entry(name.clone()).or_default().add(of_name);
        }
    }
    tallies
}

#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    let inspections = setting("HEELCLEAR_COVERAGE")
        .map_or(QUICK, |text| text.parse().expect("a number of inspections"));
    let wanted = setting("HEELCLEAR_COVERAGE_KIND").unwrap_or_default();
    let with_lines = setting("HEELCLEAR_COVERAGE_LINES").is_some();
    let mut all = BTreeMap::<String, Tally>::new();
    let (mut ended, mut far_off, mut wrong) = (Vec::new(), Vec::new(), Vec::new());
    println!("{}", Tally::HEAD);
    for kind in KINDS.iter().filter(|kind| kind.name.contains(&wanted)) {
        let round = round(kind, inspections);
        far_off.extend(far(kind, &round));
        let failed = round.iter().filter_map(|seen| seen.as_ref().err());
        ended.extend(failed.map(|why| format!("{}: {why}", kind.name)));
        for (name, tally) in tallies(&round) {
            println!("{}", tally.row(kind.name, &name, kind.note(&name)));
            if tally.strays() || tally.far > 0 {
                wrong.push(format!("{}, {name}", kind.name));
            }
            all.entry(name).or_default().join(&tally);
        }
        if with_lines {
            lines::print(kind, inspections, &round);
        }
    }
    println!();
    let mut whole = Tally::default();
    for (name, tally) in &all {
        println!(
            "{name}: {} figures, {} % held, wrong passes {} % at a least and {} % at a most",
            tally.figures,
            percent(tally.held, tally.figures),
            percent(tally.passed_least, tally.judged),
            percent(tally.passed_most, tally.judged),
        );
        whole.join(tally);
    }
    println!(
        "all: {} figures, {} % held, wrong passes {} % at a least and {} % at a most; {} without an interval, {} far off though trusted, {} inspections ended in an error",
        whole.figures,
        percent(whole.held, whole.figures),
        percent(whole.passed_least, whole.judged),
        percent(whole.passed_most, whole.judged),
        whole.open,
        whole.far,
        ended.len(),
    );
    for figure in &far_off {
        println!("far off though trusted: {figure}");
    }
    assert!(ended.is_empty(), "ended in an error: {ended:#?}");
    assert!(wrong.is_empty(), "beyond chance: {wrong:#?}");
    for (name, tally) in &all {
        assert!(
            !tally.strays(),
            "{name}: beyond chance over all kinds together"
        );
    }
}
