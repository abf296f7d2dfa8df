//! Names that a shell completes: of simulated tools, of what the archive holds, of the manual's pages.

use crate::manual;
use crate::record::archive::{Archive, Filter, Place, Summary};
use crate::report;
use crate::simulator;
use clap_complete::engine::{ArgValueCandidates, CompletionCandidate};

/// So many records are looked at: who presses a key waits for the answer.
const LOOKED_AT: usize = 500;

/// The simulated tools.
pub(super) fn simulated() -> ArgValueCandidates {
    ArgValueCandidates::new(|| simulator::names().map(CompletionCandidate::new).collect())
}

/// The pages of the manual.
pub(super) fn pages() -> ArgValueCandidates {
    let page = |page: &manual::Page| CompletionCandidate::new(page.name);
    ArgValueCandidates::new(move || manual::PAGES.iter().map(page).collect())
}

/// The pictures of the manual.
pub(super) fn pictures() -> ArgValueCandidates {
    let picture = |(name, title): &(&str, &'static str)| told(*name, *title);
    ArgValueCandidates::new(move || report::PICTURES.iter().map(picture).collect())
}

/// The tools of the last records, each once.
pub(super) fn tools() -> ArgValueCandidates {
    ArgValueCandidates::new(|| {
        let mut tools: Vec<Summary> = Vec::new();
        for record in kept() {
            if tools.iter().all(|other| other.tool != record.tool) {
                tools.push(record);
            }
        }
        let named = |of: Summary| told(of.tool, of.tool_name);
        tools.into_iter().map(named).collect()
    })
}

/// The last records by their numbers, each with its tool, day and verdict.
pub(super) fn records() -> ArgValueCandidates {
    let named = |of: Summary| {
        let verdict = of.verdict.as_deref().unwrap_or("not judged");
        let day = of.taken.strftime("%Y-%m-%d");
        let help = format!("{} {day} {verdict}", of.tool);
        told(of.id.number.to_string(), help)
    };
    ArgValueCandidates::new(move || kept().into_iter().map(named).collect())
}

/// A candidate with what it is, without what a terminal would take for a command.
fn told(name: impl Into<String>, help: impl Into<String>) -> CompletionCandidate {
    let help = report::harmless(&help.into());
    CompletionCandidate::new(report::harmless(&name.into())).help(Some(help.into()))
}

/// The last records of the bench's own archive, those measured last first; none where there is no
/// archive yet, or none that can be read.
fn kept() -> Vec<Summary> {
    let usual = Place::usual().and_then(|place| Archive::open(&place, report::svg_by));
    let Ok(mut archive) = usual else {
        return Vec::new();
    };
    let filter = Filter {
        limit: Some(LOOKED_AT),
        ..Filter::default()
    };
    let mut found = Vec::new();
    // What was read before a fault can be completed as well.
    let _ = archive.find_each(&filter, &mut |summary| {
        found.push(summary);
        Ok(true)
    });
    found
}
