//! Each line of a budget beside what its input really does to the figures.
//!
//! Every inspection is made again with one input at its best estimate and all else as it was: what
//! a figure then differs by is what that input did to it.

use super::inspect::{Found, Seen, inspect};
use super::kinds::Kind;
use super::world::Input;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What one input did to one characteristic.
#[derive(Default)]
struct Effect {
    figures: f64,
    /// Sum of what it did, of its square, and of the square of the line for it.
    did: f64,
    did_squared: f64,
    stated_squared: f64,
}

/// Prints a row for each characteristic and input.
pub fn print(kind: &Kind, inspections: u64, round: &[Result<Vec<Seen>, String>]) {
    println!();
    for input in Input::ALL {
        let again: Vec<_> = (1..=inspections)
            .into_par_iter()
            .map(|seed| inspect(kind, seed, &[input]))
            .collect();
        let mut effects: BTreeMap<&str, Effect> = BTreeMap::new();
        for (with, without) in round.iter().zip(&again) {
            let (Ok(with), Ok(without)) = (with, without) else {
                continue;
            };
            if with.len() != without.len() {
                continue;
            }
            for (with, without) in with.iter().zip(without) {
                if let (Some(found), Some(other)) = (&with.found, &without.found) {
                    let off = (found.value - with.truth) - (other.value - without.truth);
                    let effect = effects.entry(&with.name).or_default();
                    effect.figures += 1.0;
                    effect.did += off;
                    effect.did_squared += off * off;
                    effect.stated_squared += stated(found, input).powi(2);
                }
            }
        }
        for (name, effect) in effects {
            let mean = |sum: f64| sum / effect.figures;
            println!(
                "lines: {}; {name}; {input:?}; did {:.6} (mean {:+.6}); stated {:.6}",
                kind.name,
                mean(effect.did_squared).sqrt(),
                mean(effect.did),
                mean(effect.stated_squared).sqrt(),
            );
        }
    }
    println!();
}

/// What the budget has for an input.
fn stated(found: &Found, input: Input) -> f64 {
    let lines = found.budget.iter().filter(|line| {
        let mut begins = input.lines().iter();
        begins.any(|begin| line.quantity.starts_with(begin))
    });
    lines
        .map(|line| line.contribution.powi(2))
        .sum::<f64>()
        .sqrt()
}
