//! What is worst comes first: the order in which a reader needs the figures.

use crate::record::{Characteristic, Flute, Record, Verdict};
use std::cmp::Ordering;

/// How bad a verdict is; less is worse.
pub(super) fn severity(verdict: Option<Verdict>) -> u8 {
    match verdict {
        Some(Verdict::Fail) => 0,
        Some(Verdict::Undecided) => 1,
        Some(Verdict::Pass) => 2,
        None => 3,
    }
}

/// How far a value is inside its nearer limit; negative outside. What fails is compared by how many
/// millimetres it lies outside, which is what has to be ground; what does not, by its standard
/// uncertainties where they are known, which is how nearly it would have been decided otherwise.
fn margin(record: &Record, of: &Characteristic) -> Option<f64> {
    let (value, limit) = (of.value?, of.limit?);
    let above = limit.min.map(|min| value - min);
    let below = limit.max.map(|max| max - value);
    let inside = match (above, below) {
        (Some(a), Some(b)) => a.min(b),
        (one, other) => one.or(other)?,
    };
    if of.verdict == Some(Verdict::Fail) {
        return Some(in_mm(record, of, inside));
    }
    let scale = of.standard_uncertainty.filter(|u| *u > 0.0).unwrap_or(1.0);
    Some(inside / scale)
}

/// A difference in the figure's unit as millimetres on the tool: a relief angle over the distance at
/// which the drop is read, any other angle over the edge circle's radius.
fn in_mm(record: &Record, of: &Characteristic, difference: f64) -> f64 {
    if of.unit != "deg" {
        return difference;
    }
    let mut features = record.features.iter();
    let facts = features.find(|facts| Some(&facts.feature) == of.feature.as_ref());
    let over_mm = facts.map_or(1.0, |facts| match of.name.as_str() {
        "relief-angle" => facts.check_distance_mm,
        _ => facts.diameter_mm / 2.0,
    });
    difference.to_radians() * over_mm
}

/// Worse first: by verdict, then by what is nearest to its limit or furthest outside it.
/// A figure that could not be had goes before those of its verdict that could.
pub(super) fn worse(record: &Record, one: &Characteristic, other: &Characteristic) -> Ordering {
    let key = |c: &Characteristic| margin(record, c).unwrap_or(f64::NEG_INFINITY);
    severity(one.verdict)
        .cmp(&severity(other.verdict))
        .then_with(|| key(one).total_cmp(&key(other)))
}

/// The characteristic that the verdict on the tool hangs on, if any has a verdict.
pub fn deciding(record: &Record) -> Option<&Characteristic> {
    let judged = record
        .characteristics
        .iter()
        .filter(|c| c.verdict.is_some());
    judged.min_by(|a, b| worse(record, a, b))
}

/// The worst verdict among those of one flute, at the place where it was traced.
pub fn of_flute(record: &Record, flute: &Flute) -> Option<Verdict> {
    let its = record.characteristics.iter().filter(|c| {
        c.feature.as_ref() == Some(&flute.feature)
            && c.flute == Some(flute.flute)
            && (c.z_mm == flute.z_mm || c.z_mm.is_none())
    });
    its.filter_map(|c| c.verdict)
        .min_by_key(|v| severity(Some(*v)))
}

/// The characteristics but those that this tool cannot have: how far one edge is from itself.
pub(super) fn applying(record: &Record) -> impl Iterator<Item = &Characteristic> {
    let single = record.about.flutes == 1;
    let of_several = |of: &Characteristic| ["edge-spread", "flute-spacing"].contains(&&*of.name);
    let all = record.characteristics.iter();
    all.filter(move |of| !(single && of_several(of) && of.value.is_none() && of.limit.is_none()))
}

/// Every characteristic, those of one flute together: the worst flute first, and on it what is worst.
pub fn by_flute(record: &Record) -> Vec<&Characteristic> {
    let mut groups = groups(applying(record), |one, other| {
        one.feature == other.feature && one.flute == other.flute && one.z_mm == other.z_mm
    });
    for group in &mut groups {
        group.sort_by_key(|c| severity(c.verdict));
    }
    groups.sort_by(|a, b| worst(record, a, b));
    groups.into_iter().flatten().collect()
}

/// A characteristic of a feature, seen over all its flutes.
pub(super) struct Summary<'a> {
    /// The worst of them.
    pub worst: &'a Characteristic,
    /// How many there are.
    pub of: usize,
    /// How many have the verdict of the worst.
    pub alike: usize,
    /// The verdicts of the others, worse ones first, and how many have each.
    pub others: Vec<(Verdict, usize)>,
}

/// One line for each characteristic of each feature, the worst first.
pub(super) fn summaries(record: &Record) -> Vec<Summary<'_>> {
    let mut groups = groups(applying(record), |one, other| {
        one.feature == other.feature && one.name == other.name
    });
    groups.sort_by(|a, b| worst(record, a, b));
    let lines = groups.into_iter().filter_map(|group| {
        let worst = group.iter().copied().min_by(|a, b| worse(record, a, b))?;
        let having = |verdict| group.iter().filter(|c| c.verdict == Some(verdict)).count();
        let others = [Verdict::Fail, Verdict::Undecided, Verdict::Pass]
            .into_iter()
            .filter(|verdict| Some(*verdict) != worst.verdict)
            .map(|verdict| (verdict, having(verdict)))
            .filter(|(_, count)| *count > 0);
        Some(Summary {
            worst,
            of: group.len(),
            alike: group.iter().filter(|c| c.verdict == worst.verdict).count(),
            others: others.collect(),
        })
    });
    lines.collect()
}

/// Compares two groups by the worst in each.
fn worst(record: &Record, one: &[&Characteristic], other: &[&Characteristic]) -> Ordering {
    let least = |group: &[&Characteristic]| group.iter().map(|c| severity(c.verdict)).min();
    let by_verdict = least(one).cmp(&least(other));
    by_verdict.then_with(|| {
        let worst = |group: &[&'_ Characteristic]| -> f64 {
            let level = least(group);
            let at_level = group.iter().filter(|c| Some(severity(c.verdict)) == level);
            at_level
                .map(|c| margin(record, c).unwrap_or(f64::NEG_INFINITY))
                .fold(f64::INFINITY, f64::min)
        };
        worst(one).total_cmp(&worst(other))
    })
}

/// Things in groups of those that belong together, in the order of the first of each.
pub(super) fn groups<T: Copy>(
    all: impl IntoIterator<Item = T>,
    together: impl Fn(T, T) -> bool,
) -> Vec<Vec<T>> {
    let mut groups: Vec<Vec<T>> = Vec::new();
    for one in all {
        let known = groups
            .iter_mut()
            .find(|group| group.first().is_some_and(|first| together(*first, one)));
        match known {
            Some(group) => group.push(one),
            None => groups.push(vec![one]),
        }
    }
    groups
}
