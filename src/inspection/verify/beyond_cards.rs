//! What all traces of an inspection together show that its cards do not say.

use super::lands::JudgedTrace;
use super::merged::{MergedTrace, zero_of};
use crate::card::{Role, Surface};
use crate::inspection::folder::Folder;
use crate::judge::{self, Doubt, DoubtKind, KnownSize};
use crate::quantity::{Angle, Length, told};
use crate::record::Reference;
use crate::trace::{self, Standing};

/// A ground round is as large as its card says within so much (common practice, no source).
const ROUND_TOLERANCE: Length = Length::from_mm(0.03);

/// Takes from the figures what the traces show against the cards.
pub(super) fn doubt(
    folder: &Folder,
    merged: &[MergedTrace],
    references: &[Reference],
    judged: &mut [JudgedTrace],
    graduated: Option<&Doubt>,
) {
    let mut shared: Vec<Doubt> = graduated.cloned().into_iter().collect();
    shared.extend(of_references(folder, merged, references));
    shared.extend(judge::doubt_of_scale(
        &sizes(folder, references, judged),
        &folder.gauge,
    ));
    let span = Span::of(folder, merged);
    shared.extend(span.as_ref().and_then(|span| span.too_wide(folder)));
    let at_end = |arc: &Standing| span.as_ref().is_some_and(|span| span.ends_at(arc.level));
    shared.extend(stopped_reference(folder, merged, &at_end));
    let resolution = folder.gauge.indicator.resolution;
    for each in judged {
        let (Some((trace, _)), Some(judgement)) = (&each.from, &mut each.judged.judgement) else {
            continue;
        };
        let standing = trace::standing(&trace.merged, resolution);
        let stands = judge::doubt_of_standing(
            &trace.merged,
            &standing,
            each.judged.feature,
            &folder.gauge,
            &at_end,
        );
        let still = still_reference(folder, merged, trace, &standing);
        let turns = of_turns(folder, trace, "the trace");
        let feature = each.judged.feature;
        let ball = judge::doubt_of_ball(&trace.merged, judgement, feature, &folder.gauge);
        let sign = judge::doubt_of_sign(&trace.merged, feature, &folder.gauge, folder.tool.flutes);
        let own = sign
            .into_iter()
            .chain(stands)
            .chain(still)
            .chain(turns)
            .chain(ball);
        for doubt in own.chain(shared.iter().cloned()) {
            judgement.doubt(doubt);
        }
    }
}

/// From the lowest reading of the traces on one zero to the highest, where that is all of the
/// plunger's travel.
struct Span {
    low: Length,
    high: Length,
    travel: Length,
    /// What two readings at one end may differ by.
    alike: Length,
}

/// The ends of a travel are about where the indicator's maker says (common practice, no source).
const NEARLY_ALL: f64 = 0.98;
const MORE_THAN_ALL: f64 = 1.05;

impl Span {
    fn of(folder: &Folder, merged: &[MergedTrace]) -> Option<Self> {
        let indicator = &folder.gauge.indicator;
        let travel = indicator.travel?;
        let first = merged
            .iter()
            .filter(|each| zero_of(folder, each.entry) == 0);
        let readings = first
            .flat_map(|each| &each.merged.cells)
            .map(|cell| cell.reading);
        let ends = readings.fold(None, |ends: Option<(Length, Length)>, reading| {
            let (low, high) = ends.unwrap_or((reading, reading));
            Some((low.min(reading), high.max(reading)))
        });
        let (low, high) = ends?;
        (high - low >= travel * NEARLY_ALL).then_some(Self {
            low,
            high,
            travel,
            alike: indicator.resolution * 1.5,
        })
    }

    fn ends_at(&self, level: Length) -> bool {
        level - self.low <= self.alike || self.high - level <= self.alike
    }

    fn too_wide(&self, folder: &Folder) -> Option<Doubt> {
        let span = self.high - self.low;
        (span > self.travel * MORE_THAN_ALL)
            .then(|| judge::beyond_travel(span, self.travel, folder.gauge.indicator.resolution))
    }
}

/// A reference that stands still somewhere at an end of the plunger's travel.
fn stopped_reference(
    folder: &Folder,
    merged: &[MergedTrace],
    at_end: &dyn Fn(&Standing) -> bool,
) -> Option<Doubt> {
    let resolution = folder.gauge.indicator.resolution;
    let references = merged.iter().filter(|each| is_reference(each));
    let mut stopped = references.filter(|each| {
        let standing = trace::standing(&each.merged, resolution);
        standing.iter().any(at_end)
    });
    let each = stopped.next()?;
    Some(judge::stopped(format!(
        "{} stands still at an end of the plunger's travel",
        named(each.entry.z)
    )))
}

fn is_reference(each: &MergedTrace) -> bool {
    each.entry.role == Role::Reference
}

fn of_references(folder: &Folder, merged: &[MergedTrace], references: &[Reference]) -> Vec<Doubt> {
    let shown = references
        .iter()
        .flat_map(|each| judge::doubts_of_reference(&each.runout, &named(each.z)));
    let turns = merged.iter().filter(|each| is_reference(each));
    let turns = turns.flat_map(|each| of_turns(folder, each, &named(each.entry.z)));
    // A round is level nearly everywhere: it tells no play from a delay.
    let turns = turns.filter(|doubt| doubt.kind != DoubtKind::MorePlay);
    shown.chain(turns).collect()
}

fn named(z: Option<Length>) -> String {
    z.map_or("the reference".to_owned(), |z| {
        format!("the reference at {}", told::exact_mm(z))
    })
}

fn of_turns(folder: &Folder, each: &MergedTrace, what: &str) -> Vec<Doubt> {
    let counts = folder.gauge.encoder.counts_per_turn.max(1);
    let count = Angle::TURN / f64::from(counts);
    let agreement = trace::agreement(&each.trace, &each.merged, count);
    judge::doubts_of_turns(&agreement, &each.merged, &folder.gauge, what)
}

/// A reference that stands still all the way round, at a level where the feature's trace stands still
/// as well: both may be the end of the plunger's travel.
fn still_reference(
    folder: &Folder,
    merged: &[MergedTrace],
    feature: &MergedTrace,
    standing: &[Standing],
) -> Option<Doubt> {
    let resolution = folder.gauge.indicator.resolution;
    let zero = zero_of(folder, feature.entry);
    let alike = merged
        .iter()
        .filter(|each| is_reference(each) && zero_of(folder, each.entry) == zero);
    let level = |each: &MergedTrace| {
        let readings = || each.merged.cells.iter().map(|cell| cell.reading);
        let (low, high) = readings()
            .reduce(Length::min)
            .zip(readings().reduce(Length::max))?;
        (high - low <= resolution).then_some((low + high) / 2.0)
    };
    let both = |level: &Length| {
        let near = |arc: &Standing| (arc.level - *level).abs() <= resolution;
        standing.iter().any(near)
    };
    let level = alike.filter_map(level).find(both)?;
    Some(judge::stopped(format!(
        "a reference stands still at {} all the way round, and so does the trace over a part of the turn: the plunger may have stood at the end of its travel",
        told::mm(level, 3)
    )))
}

/// Rounds and features of which both a diameter and a reading are known, on the zero of the first of
/// them.
fn sizes(folder: &Folder, references: &[Reference], judged: &[JudgedTrace]) -> Vec<KnownSize> {
    let lever = folder.gauge.indicator.lever_angle.rad().cos();
    let traces = &folder.inspection.traces;
    let first = |entry| zero_of(folder, entry) == 0;
    let rounds = traces
        .iter()
        .filter(|entry| entry.role == Role::Reference && first(entry));
    // A reference that was refused has no runout, so they are found by where they were taken.
    let rounds = rounds.filter_map(|entry| {
        let reference = references.iter().find(|each| each.z == entry.z)?;
        Some(KnownSize {
            name: named(entry.z),
            diameter: entry.diameter?,
            tolerance: ROUND_TOLERANCE,
            read: reference.runout.mean,
        })
    });
    let features = judged.iter().filter_map(|each| {
        let (trace, _) = each.from.as_ref()?;
        let feature = each.judged.feature;
        let judgement = each.judged.judgement.as_ref()?;
        (feature.surface == Surface::Radial && first(trace.entry)).then(|| KnownSize {
            name: format!("feature `{}`", feature.name),
            diameter: feature.diameter,
            tolerance: judge::diameter_tolerance(feature.diameter),
            read: judgement.datum * lever,
        })
    });
    // Of several traces of a feature the highest has the card's diameter.
    let mut highest: Vec<KnownSize> = Vec::new();
    for size in features {
        match highest.iter_mut().find(|known| known.name == size.name) {
            Some(known) if size.read > known.read => *known = size,
            Some(_) => {}
            None => highest.push(size),
        }
    }
    rounds.chain(highest).collect()
}
