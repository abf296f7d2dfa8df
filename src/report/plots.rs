//! Drop against arc, one small plot a flute, all of a feature on the same scales.

use super::clip::Window;
use super::panel::{COVERAGE, Panel, TITLE, rise};
use super::sheet::{Anchor, Area, SMALL, STRONG, Sheet};
use super::{rank, typeface};
use crate::error::Result;
use crate::quantity::Units;
use crate::record::{FeatureFacts, Flute, Record, same_tooth};

/// No tool that is ground on a spindle is wider.
const WIDEST_MM: f64 = 10_000.0;
/// Features that there is room to draw.
const MOST_DRAWN: usize = 4;
const HEADER: i32 = 380;
const AXIS: i32 = 330;
const LABELS: i32 = 900;
const GUTTER: i32 = 260;

/// The flutes of a feature that have a plot.
struct Group<'a> {
    facts: &'a FeatureFacts,
    flutes: Vec<&'a Flute>,
    /// How many there are with those left out.
    all: usize,
    /// Whether they were traced at more than one distance from the tool's front.
    places: bool,
}

/// Draws the plots of at most four features; when a feature has too many flutes, those of its worst.
pub(super) fn draw(
    sheet: &mut Sheet,
    area: Area,
    record: &Record,
    before: Option<&Record>,
    units: Units,
) -> Result<()> {
    let features = shown(record);
    let most = match features.len() {
        0 | 1 => 6,
        2 => 3,
        3 => 2,
        _ => 1,
    };
    let counts = features.iter().map(|facts| flutes(record, facts).count());
    let columns = columns(&counts.collect::<Vec<_>>(), most, area);
    let groups = features.into_iter();
    let groups: Vec<Group> = groups.map(|f| group(record, f, columns * most)).collect();

    let rows = |group: &Group| group.flutes.len().div_ceil(columns).max(1) as i32;
    let all_rows: i32 = groups.iter().map(rows).sum();
    let fixed = groups.len() as i32 * (HEADER + AXIS);
    let h = (area.h - fixed) / all_rows.max(1);
    let w = (area.w - LABELS) / columns as i32;
    let mut y = area.y;
    for group in &groups {
        header(sheet, Area { y, ..area }, group, units);
        y += HEADER;
        let window = window(group, before, units);
        for (index, flute) in group.flutes.iter().enumerate() {
            let (row, column) = ((index / columns) as i32, (index % columns) as i32);
            let cell = Area {
                x: area.x + LABELS + column * w,
                y: y + row * h,
                w: w - GUTTER,
                h,
            };
            let panel = Panel {
                facts: group.facts,
                flute,
                before: before.and_then(|before| same_tooth(before, flute)),
                verdict: rank::of_flute(record, flute),
                least: least(record, flute),
                window,
                units,
                place: group.places.then_some(flute.z_mm).flatten(),
                numbered_left: column == 0,
                numbered_below: index + columns >= group.flutes.len(),
            };
            panel.draw(sheet, cell)?;
        }
        y += rows(group) * h + AXIS;
    }
    Ok(())
}

/// Which features have no drawing for want of room, in a sentence.
pub(super) fn left_out(record: &Record) -> Option<String> {
    let missing = by_need(record).into_iter().skip(MOST_DRAWN);
    let names: Vec<&str> = missing.map(|facts| facts.feature.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "Not drawn, for want of room, since others are worse: {}.",
            names.join(", ")
        )
    })
}

/// The features that are drawn: all, or the worst four.
pub(super) fn shown(record: &Record) -> Vec<&FeatureFacts> {
    let mut features = by_need(record);
    features.truncate(MOST_DRAWN);
    features
}

/// Every feature once, though it may have been traced at several distances from the front; the
/// worst first where not all can be drawn.
fn by_need(record: &Record) -> Vec<&FeatureFacts> {
    let mut features: Vec<&FeatureFacts> = Vec::new();
    for facts in &record.features {
        if !features.iter().any(|known| known.feature == facts.feature) {
            features.push(facts);
        }
    }
    if features.len() > MOST_DRAWN {
        features.sort_by_key(|facts| {
            let named = Some(&facts.feature);
            let all = record.characteristics.iter();
            let its = all.filter(|c| c.feature.as_ref() == named);
            let worst = its.map(|c| rank::severity(c.verdict)).min();
            worst.unwrap_or(rank::severity(None))
        });
    }
    features
}

fn flutes<'a>(record: &'a Record, facts: &'a FeatureFacts) -> impl Iterator<Item = &'a Flute> {
    let all = record.flutes.iter();
    all.filter(|flute| flute.feature == facts.feature)
}

fn least<'a>(record: &'a Record, flute: &Flute) -> Option<&'a crate::record::Characteristic> {
    record.characteristics.iter().find(|c| {
        c.name == "heel-clearance"
            && c.flute == Some(flute.flute)
            && c.z_mm == flute.z_mm
            && c.feature.as_ref() == Some(&flute.feature)
    })
}

/// How many plots stand beside each other: as few flutes left out as can be, no holes where plots
/// could be, and each about twice as wide as high.
fn columns(counts: &[usize], most: usize, area: Area) -> usize {
    let fixed = counts.len() as i32 * (HEADER + AXIS);
    let misfit = |columns: usize| {
        let rows = |n: &usize| n.div_ceil(columns).clamp(1, most);
        let all_rows: usize = counts.iter().map(rows).sum();
        let out = |n: &usize| n.saturating_sub(columns * most);
        let left_out: usize = counts.iter().map(out).sum();
        let places = (all_rows * columns) as f64;
        let filled = (counts.iter().sum::<usize>() - left_out) as f64;
        let w = f64::from(area.w - LABELS) / columns as f64;
        let h = f64::from(area.h - fixed) / all_rows as f64 - f64::from(TITLE);
        let h = h.max(1.0);
        let shape = (w / h / 2.2).ln().abs() + 3.0 * (1.0 - filled / places);
        (left_out, (shape * 1e3) as u64)
    };
    (1..=4).min_by_key(|&n| misfit(n)).unwrap_or(1)
}

fn group<'a>(record: &'a Record, facts: &'a FeatureFacts, room: usize) -> Group<'a> {
    let mut flutes: Vec<&Flute> = flutes(record, facts).collect();
    let all = flutes.len();
    if all > room {
        flutes.sort_by_key(|flute| rank::severity(rank::of_flute(record, flute)));
        flutes.truncate(room);
        flutes.sort_by_key(|f| f.flute);
    }
    let mut places = flutes.iter().map(|flute| flute.z_mm);
    let first = places.next();
    let places = places.any(|z| Some(z) != first);
    Group {
        facts,
        flutes,
        all,
        places,
    }
}

fn header(sheet: &mut Sheet, area: Area, group: &Group, units: Units) {
    let (y, right) = (area.y + 265, area.x + area.w - GUTTER);
    let (some, all, unit) = (group.flutes.len(), group.all, units.sign("mm"));
    let axes = if some < all {
        format!("the worst {some} of {all} flutes: drop, {unit}, against arc, {unit} (°)")
    } else {
        format!("drop behind the edge, {unit}, against arc, {unit} (°)")
    };
    let taken = typeface::width(&axes, SMALL.size, SMALL.weight);
    let room = right - area.x - taken - 200;
    let name = typeface::fit(&group.facts.feature, STRONG.size, STRONG.weight, room);
    sheet.text((area.x, y), Anchor::Start, STRONG, &name);
    sheet.text((right, y), Anchor::End, SMALL, &axes);
}

/// The window that all plots of a feature share: every land, and the limits on it.
fn window(group: &Group, before: Option<&Record>, units: Units) -> Window {
    let facts = group.facts;
    let earlier = group.flutes.iter();
    let earlier = earlier.filter_map(|flute| same_tooth(before?, flute));
    let flutes: Vec<&Flute> = group.flutes.iter().copied().chain(earlier).collect();
    let lands = flutes.iter().flat_map(|flute| {
        let land = flute.land.iter();
        let band = land.flat_map(|s| [-COVERAGE, COVERAGE].map(|k| s.drop_mm + k * s.u_mm));
        band.chain(flute.fitted.iter().map(|s| s.drop_mm))
    });
    let limits = ["drop", "heel-clearance"].map(|name| facts.limits.get(name));
    let limits = limits.into_iter().flatten();
    let limits = limits.flat_map(|limit| [limit.min, limit.max]).flatten();
    let arcs = flutes.iter().map(|flute| flute.land_deg);
    let arc = arcs.filter(|deg| *deg <= 360.0).fold(0.0, f64::max);
    // Nothing real stands further out than the tool is wide, nor is a tool wider than this.
    let sane = |mm: &f64| mm.abs() <= facts.diameter_mm.abs().min(WIDEST_MM);
    let all = lands.chain(limits).chain([rise(facts, arc)]).filter(sane);
    let (low, high) = all.fold((0.0f64, 0.0f64), |(low, high), v| (low.min(v), high.max(v)));
    // A land that stands far above the edge fails whatever its shape: the rest is worth the room.
    let low = if high > 0.0 { low.max(-high) } else { low };
    let span = if high > low { high - low } else { 0.1 };
    Window {
        x: [0.0, if arc > 0.0 { 1.02 * arc } else { 10.0 }],
        y: [low - 0.1 * span, high + 0.06 * span].map(|mm| units.shown(mm, "mm")),
    }
}
