//! Every trace of a folder as its files have it.

use crate::card::{Role, TraceEntry};
use crate::error::{Error, Result};
use crate::inspection::folder::{Folder, Taken};
use crate::record::JudgedFrom;
use crate::trace::Trace;
use crate::trace::csv::Slide;

/// A trace of a feature over table travel.
pub(super) struct Slid<'a> {
    pub entry: &'a TraceEntry,
    pub feature: &'a str,
    pub rows: Vec<Slide>,
}

/// A trace over the turning tool, with its line of the card.
pub(super) type Turned<'a> = (&'a TraceEntry, Trace);

/// Every trace of a folder, by what it shows.
pub(super) struct Traces<'a> {
    /// The turning tool, or a round of its clamping.
    pub turned: Vec<Turned<'a>>,
    /// Table travel.
    pub slid: Vec<Slid<'a>>,
    /// The tool or a round in an engaged fixture, which is no part of what is judged.
    pub engaged: Vec<Turned<'a>>,
}

/// Reads every trace, the growing one from its raw log; all that cannot be read are told together.
/// The files that were read go to `from`.
pub(super) fn read<'a>(
    folder: &'a Folder,
    growing: Option<&TraceEntry>,
    from: &mut JudgedFrom,
    warnings: &mut Vec<String>,
) -> Result<Traces<'a>> {
    let mut turned = Vec::new();
    let mut engaged = Vec::new();
    let mut slid = Vec::new();
    let mut errors = Vec::new();
    for (entry, taken, seen) in take(folder, growing, from) {
        warnings.extend(seen);
        match taken {
            Ok(Taken::Turning(trace)) if entry.role.is_judged() => turned.push((entry, trace)),
            Ok(Taken::Turning(trace)) => engaged.push((entry, trace)),
            Ok(Taken::Sliding(rows)) => match &entry.role {
                Role::Feature(feature) => slid.push(Slid {
                    entry,
                    feature,
                    rows,
                }),
                Role::Reference | Role::Motion(_) | Role::Residual(..) => warnings.push(
                    "a reference over table travel was read: it tells nothing of the runout, and was left out; take the reference over the turning tool"
                        .to_owned(),
                ),
            },
            Err(error) => errors.push(error),
        }
    }
    match Error::all(errors) {
        Some(error) => Err(error),
        None => Ok(Traces {
            turned,
            slid,
            engaged,
        }),
    }
}

/// Every trace as its files have it, in the order of the card, with what was seen in them. Those of
/// features are read first: they show how far two clocks stand apart, which a round hardly does.
fn take<'a>(
    folder: &'a Folder,
    growing: Option<&TraceEntry>,
    from: &mut JudgedFrom,
) -> Vec<(&'a TraceEntry, Result<Taken>, Vec<String>)> {
    let mut shown = None;
    let mut taken = Vec::new();
    let mut entries: Vec<(usize, &TraceEntry)> =
        folder.inspection.traces.iter().enumerate().collect();
    entries.sort_by_key(|(_, entry)| entry.role == Role::Reference);
    for (place, entry) in entries {
        let (mut files, mut seen) = (JudgedFrom::default(), Vec::new());
        let known = shown.filter(|_| entry.role == Role::Reference);
        let trace = match growing {
            Some(growing) if growing == entry => folder.growing(entry, &mut seen),
            _ => folder.take(entry, known, &mut files, &mut seen),
        };
        if let Ok(Taken::Turning(trace)) = &trace
            && trace.two_clocks
        {
            shown = shown.or(Some(trace.apart));
        }
        taken.push((place, files, (entry, trace, seen)));
    }
    taken.sort_by_key(|(place, ..)| *place);
    taken
        .into_iter()
        .map(|(_, files, each)| {
            from.and(&files);
            each
        })
        .collect()
}
