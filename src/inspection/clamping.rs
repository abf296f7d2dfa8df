//! All traces of one clamping, in the order in which the indicator moves least along the tool.

use super::capture::{Wanted, base_name};
use crate::card::{Feature, Name, Role, Source, Surface, ToolCard, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length, stated};
use std::collections::BTreeSet;

/// One trace for each feature of the card, in its order, their distances unknown.
pub fn of_card(tool: &ToolCard) -> Vec<Wanted> {
    let features = tool.features.iter();
    features.map(|feature| at(feature, None)).collect()
}

/// The same for a step tool whose features stand on the card from the front on, each shoulder before
/// its diameter: `lengths` has that of each step, its shoulder in it, or one for all. A trace lies in
/// the middle of its face; a diameter whose back taper has a limit has two.
///
/// # Errors
/// `usage` where the lengths are not as many as the diameters, or a shoulder is longer than its step.
pub fn of_steps(tool: &ToolCard, lengths: &[Length]) -> Result<Vec<Wanted>> {
    let radial = |feature: &&Feature| feature.surface == Surface::Radial;
    let steps = tool.features.iter().filter(radial).count();
    if lengths.len() != 1 && lengths.len() != steps {
        let message = format!(
            "read {} lengths of steps, expected one for all or {steps}, one for each diameter of the tool card",
            lengths.len()
        );
        return Err(Error::new(Code::Usage, message).help(
            "the features of the card stand from the front on, each shoulder before its diameter",
        ));
    }
    let mut lengths = lengths.iter().copied().cycle();
    let mut wanted = Vec::new();
    let mut front = Length::ZERO;
    let mut shoulder: Option<&Feature> = None;
    for feature in &tool.features {
        if feature.surface == Surface::Axial {
            // A second one before the same diameter, or one behind the last.
            wanted.extend(shoulder.replace(feature).map(|it| at(it, Some(front))));
            continue;
        }
        let length = lengths.next().unwrap_or_default();
        let slope = shoulder.map_or(Length::ZERO, |it| along(it, feature.diameter));
        if slope >= length {
            let message = format!(
                "read a step of {} mm at `{}`, expected more than the {:.3} mm that its shoulder takes along the axis",
                stated(length.mm()),
                feature.name,
                slope.mm()
            );
            return Err(Error::new(Code::Usage, message)
                .help("the length of a step has its shoulder in it; each may have its own"));
        }
        wanted.extend(shoulder.take().map(|it| at(it, Some(front + slope / 2.0))));
        let places: &[f64] = match feature.limits.get(Name::BackTaper) {
            Some(_) => &[0.25, 0.75],
            None => &[0.5],
        };
        let on = |place: &f64| front + slope + (length - slope) * *place;
        wanted.extend(places.iter().map(|place| at(feature, Some(on(place)))));
        front += length;
    }
    wanted.extend(shoulder.map(|it| at(it, Some(front))));
    Ok(wanted)
}

/// How much of the axis a shoulder takes up to this diameter: the probe follows the middle of it.
fn along(shoulder: &Feature, to: Length) -> Length {
    let square = Angle::from_turns(0.25);
    let face = shoulder.face.unwrap_or(square);
    let high = to - shoulder.diameter;
    match face < square {
        true => (high / face.rad().tan()).max(Length::ZERO),
        false => Length::ZERO,
    }
}

fn at(feature: &Feature, z: Option<Length>) -> Wanted {
    Wanted {
        role: Role::Feature(feature.name.clone()),
        z: z.map(|z| Length::from_mm(stated(z.mm()))),
        diameter: None,
        rezeroed: false,
    }
}

/// The traces in the order of least moving along the axis, references first: from the last of them to
/// the nearer end of the features, and from there to the other. Traces of one feature stay together,
/// so that their heights can be compared; what has no distance comes last, and behind it what is traced
/// with a relieving fixture engaged, on the shortest way too.
///
/// The indicator is set anew wherever it is turned between radius and axis or meets another diameter,
/// and between traces of one feature only where that was asked for.
///
/// # Errors
/// `usage` where a trace is of no feature of the card, or a feature cannot be told from a reference.
pub fn ordered(tool: &ToolCard, wanted: Vec<Wanted>) -> Result<Vec<Wanted>> {
    for each in &wanted {
        known(tool, each)?;
    }
    let (locked, engaged): (Vec<Wanted>, Vec<Wanted>) =
        wanted.into_iter().partition(|it| it.role.is_judged());
    let is_reference = |it: &Wanted| it.role == Role::Reference;
    let (mut order, features): (Vec<Wanted>, Vec<Wanted>) =
        locked.into_iter().partition(is_reference);
    for others in [features, engaged] {
        let from = order.iter().rev().find_map(|it| it.z);
        let mut route = route(from, others);
        while !route.is_empty() {
            let first = route.remove(0);
            let (same, others): (Vec<Wanted>, Vec<Wanted>) =
                route.into_iter().partition(|it| it.role == first.role);
            order.push(first);
            order.extend(same);
            route = others;
        }
    }
    for at in 1..order.len() {
        let (before, from_here) = order.split_at_mut(at);
        if let (Some(before), Some(here)) = (before.last(), from_here.first_mut()) {
            here.rezeroed |= set_anew(tool, before, here);
        }
    }
    Ok(order)
}

fn known(tool: &ToolCard, wanted: &Wanted) -> Result<()> {
    let (Role::Feature(name) | Role::Residual(name, _)) = &wanted.role else {
        return Ok(());
    };
    let means_more = ["reference", "motion"].contains(&name.as_str());
    if means_more || name.contains([':', '@']) {
        let message = format!("read a feature `{name}`, which no `--trace` can name");
        return Err(Error::new(Code::Usage, message)
            .help("call it otherwise on the tool card: not `reference` or `motion`, and without `:` and `@`"));
    }
    if tool.features.iter().any(|feature| feature.name == *name) {
        return Ok(());
    }
    let names: Vec<&str> = tool.features.iter().map(|it| it.name.as_str()).collect();
    let message = format!("read the trace `{name}`, which is no feature of the tool card");
    Err(Error::new(Code::Usage, message).help(format!("the card has `{}`", names.join("`, `"))))
}

/// Traces in the order of the shortest way along the axis that begins at `from`, or behind all of them
/// where nobody knows where it begins.
fn route(from: Option<Length>, wanted: Vec<Wanted>) -> Vec<Wanted> {
    let (placed, unknown): (Vec<Wanted>, Vec<Wanted>) =
        wanted.into_iter().partition(|it| it.z.is_some());
    let z = |it: &Wanted| it.z.unwrap_or_default();
    let places = || placed.iter().map(z);
    let (Some(low), Some(high)) = (places().reduce(Length::min), places().reduce(Length::max))
    else {
        return unknown;
    };
    let from = from.unwrap_or(high);
    let low_first = (from - low).abs() < (high - from).abs();
    // Within the features, those up to the nearer end are met before the way turns round.
    let (mut first, mut then): (Vec<Wanted>, Vec<Wanted>) =
        placed.into_iter().partition(|it| match low_first {
            true => z(it) <= from,
            false => z(it) >= from,
        });
    let up = |list: &mut Vec<Wanted>| list.sort_by(|a, b| z(a).total_cmp(&z(b)));
    let down = |list: &mut Vec<Wanted>| list.sort_by(|a, b| z(b).total_cmp(&z(a)));
    match low_first {
        true => {
            down(&mut first);
            up(&mut then);
        }
        false => {
            up(&mut first);
            down(&mut then);
        }
    }
    first.into_iter().chain(then).chain(unknown).collect()
}

/// Whether the indicator cannot stay as it was set for the trace before.
fn set_anew(tool: &ToolCard, before: &Wanted, here: &Wanted) -> bool {
    let round = |it: &Wanted| match &it.role {
        Role::Feature(name) => {
            let feature = tool.features.iter().find(|feature| feature.name == *name);
            feature.map(|feature| (feature.surface, feature.diameter))
        }
        _ => it.diameter.map(|diameter| (Surface::Radial, diameter)),
    };
    // What has no diameter may have any: a zero that is taken as new loses a comparison and no more.
    let same = matches!((round(before), round(here)), (Some(a), Some(b)) if a == b);
    before.role != here.role && !same
}

/// The traces as an inspection card has them, with files of their own.
pub fn entries(order: &[Wanted]) -> Vec<TraceEntry> {
    let mut taken = BTreeSet::new();
    let named = |wanted: &Wanted| {
        let base = base_name(&wanted.role);
        let mut name = base.clone();
        let mut number = 1;
        // Capitals make no other file on some systems.
        while !taken.insert(name.to_lowercase()) {
            number += 1;
            name = format!("{base}-{number}");
        }
        TraceEntry {
            source: Source::One(format!("traces/{name}.csv")),
            role: wanted.role.clone(),
            z: wanted.z,
            diameter: wanted.diameter,
            rezeroed: wanted.rezeroed,
            count_shift: 0,
        }
    };
    order.iter().map(named).collect()
}
