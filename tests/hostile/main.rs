//! Hostile inspections: a brute-force bench, and tools and benches made to get a wrong pass.
//!
//! `cargo test --release --test hostile -- --nocapture` prints the table. A quick round runs always;
//! `HEELCLEAR_HOSTILE=20` makes so many inspections of each scenario,
//! `HEELCLEAR_HOSTILE_KIND=burr` only those with that in their name or theme,
//! `HEELCLEAR_HOSTILE_KEEP=DIR` leaves the folders there, with `verdict.json` and `truth.txt`, and
//! `HEELCLEAR_HOSTILE_ALL=1` prints every inspection that went wrong, with its figures.
//! Inspection `n` of a scenario is always the same one, whatever else runs.
//!
//! Nothing here shares geometry with the project. `land` makes the section of a tool from lines and
//! circles as points half a micrometre to two apart, with burrs, nicks, ridges, chatter, margins and
//! rounded edges on it. `brute` lets a ball, a flat or a point rest on whichever point is highest,
//! 72,000 times a turn. `hand` turns the tool; `bench` is the true indicator, encoder and clock;
//! `world` puts them together, with what the cards say kept apart in `Stated`; `cards` writes the
//! folder; `truth` reads the true figures off the points. `judged` takes the folder through
//! `inspection::verify`, and `tally` holds the counts against the bars.
//!
//! To add a scenario, add a line to `ALL` in the file of its theme under `scenarios/`:
//!
//! ```text
//! honest("a burr of 8 µm, two turns", |rng| burr(rng, 0.05, 0.008)),         // must not pass
//! honest("its twin without", |rng| seat(rng, 4)).decided(),                  // must be decided
//! beyond("land told too short", &["land"], |rng| ...),      // noticed by one of these words
//! hidden("a gain of 2 %", |rng| ...),                       // nothing in the readings shows it
//! ```
//!
//! A scenario begins with one of the ordinary tools of `scenarios/base.rs` and changes what it is
//! about: `i.tool` and `i.bench` are what is true, `i.stated` what the cards say. A line in
//! `scenarios/not_yet.rs` keeps a row that is not yet within the bars from stopping the test; its
//! note stands in the table.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

mod bench;
mod brute;
mod cards;
mod hand;
mod judged;
mod land;
mod scenarios;
mod tally;
mod truth;
mod world;

#[path = "../fixtures/traces.rs"]
mod traces;

use judged::{Seen, judge};
use rayon::prelude::*;
use scenarios::{Cards, Scenario, scenarios};
use std::path::PathBuf;
use tally::Tally;

/// Inspections of each scenario in the quick round.
const QUICK: u64 = 1;

fn setting(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

fn tell(scenario: &Scenario, seen: &Seen) {
    println!(
        "  {} {}: {:?}, {}{}",
        scenario.name,
        seen.seed,
        seen.verdict,
        if seen.good {
            "a good tool"
        } else {
            "a bad tool"
        },
        seen.refused
            .as_ref()
            .map_or(String::new(), |why| format!(", refused: {why}")),
    );
    for figure in &seen.figures {
        let missed = figure.held() == Some(false);
        if missed || figure.wrong_pass().is_some() || figure.wrong_fail() {
            println!(
                "    {} {:?}: {:.5?} ± {:.5?}, true {:.5}, {:?}{}",
                figure.name,
                figure.flute,
                figure.value,
                figure.u,
                figure.truth,
                figure.verdict,
                if missed { ", missed" } else { "" },
            );
        }
    }
}

#[test]
fn no_tool_passes_that_the_readings_show_to_be_bad() {
    let inspections = setting("HEELCLEAR_HOSTILE")
        .map_or(QUICK, |text| text.parse().expect("a number of inspections"));
    let wanted = setting("HEELCLEAR_HOSTILE_KIND").unwrap_or_default();
    let keep = setting("HEELCLEAR_HOSTILE_KEEP").map(PathBuf::from);
    let all = setting("HEELCLEAR_HOSTILE_ALL").is_some();
    let wanted =
        |scenario: &&Scenario| scenario.name.contains(&wanted) || scenario.theme.contains(&wanted);
    let chosen: Vec<Scenario> = scenarios();
    let (mut wrong, mut honest, mut beyond) = (Vec::new(), Tally::default(), Tally::default());
    let mut theme = "";
    for scenario in chosen.iter().filter(wanted) {
        if scenario.theme != theme {
            theme = scenario.theme;
            println!("\n{theme}\n\n{}", Tally::HEAD);
        }
        let seen: Vec<Seen> = (1..=inspections)
            .into_par_iter()
            .map(|seed| judge(scenario, seed, keep.as_deref()))
            .collect();
        let tally = Tally::of(&seen);
        println!("{}", tally.row(scenario));
        if all {
            let odd = |one: &&Seen| {
                one.wrong_pass()
                    || one.wrong_fail()
                    || one.refused.is_some()
                    || one
                        .figures
                        .iter()
                        .any(|figure| figure.held() == Some(false))
            };
            seen.iter().filter(odd).for_each(|one| tell(scenario, one));
        }
        let outside = tally.beyond_bars(scenario);
        if !outside.is_empty() && scenario.open.is_none() {
            wrong.push(format!("{}: {}", scenario.name, outside.join(", ")));
        }
        match scenario.cards {
            Cards::Honest => honest.join(&tally),
            Cards::Beyond | Cards::Hidden => beyond.join(&tally),
        }
    }
    println!();
    for (name, tally) in [("honest cards", &honest), ("beyond the cards", &beyond)] {
        println!(
            "{name}: {} inspections, {} of bad tools, {} wrong passes and {} that no reading could prevent, {} wrong fails, {} undecided, {} refused, {} noticed, {} of {} intervals held",
            tally.inspections,
            tally.bad,
            tally.wrong_passes,
            tally.unseen,
            tally.wrong_fails,
            tally.undecided,
            tally.refused,
            tally.noticed,
            tally.held,
            tally.figures,
        );
    }
    assert!(wrong.is_empty(), "beyond the bars: {wrong:#?}");
}
