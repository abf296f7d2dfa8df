//! Drop against arc, one small plot a flute, all of a feature on the same scales.

use super::canvas::{Canvas, Pen, undrawn};
use super::clip::{self, Window};
use super::figures::{self, Units};
use super::sheet::{Anchor, Area, SMALL, STRONG, Sheet};
use super::{lettering, rank, scale, sheet, typeface};
use crate::error::Result;
use crate::record::{Characteristic, FeatureFacts, Flute, Record};
use plotters::prelude::{
    ChartBuilder, Circle, IntoDrawingArea, PathElement, Polygon, Rectangle, TriangleMarker,
};

/// Standard uncertainties to either side of what holds 95 % (JCGM 100, table G.1, normal).
const COVERAGE: f64 = 1.96;

const HEADER: i32 = 380;
const AXIS: i32 = 330;
const TITLE: i32 = 310;
const LABELS: i32 = 900;
const GUTTER: i32 = 260;

/// The flutes of a feature that have a plot.
struct Group<'a> {
    facts: &'a FeatureFacts,
    flutes: Vec<&'a Flute>,
    all: usize,
}

/// Draws the plots of at most four features; when a feature has too many flutes, those of its worst.
pub(super) fn draw(sheet: &mut Sheet, area: Area, record: &Record, units: Units) -> Result<()> {
    let features: Vec<&FeatureFacts> = shown(record);
    let most = match features.len() {
        0 => return Ok(()),
        1 => 6,
        2 => 3,
        3 => 2,
        _ => 1,
    };
    let counts: Vec<usize> = features
        .iter()
        .map(|facts| {
            record
                .flutes
                .iter()
                .filter(|f| f.feature == facts.feature)
                .count()
        })
        .collect();
    let columns = columns(&counts, most, area);
    let groups: Vec<Group> = features
        .into_iter()
        .map(|facts| group(record, facts, columns * most))
        .collect();
    let rows = |group: &Group| group.flutes.len().div_ceil(columns).max(1) as i32;
    let all_rows: i32 = groups.iter().map(rows).sum();
    let fixed = groups.len() as i32 * (HEADER + AXIS);
    let cell_h = (area.h - fixed) / all_rows.max(1);
    let cell_w = (area.w - LABELS) / columns as i32;
    let mut y = area.y;
    for group in &groups {
        header(sheet, Area { y, ..area }, group, units);
        y += HEADER;
        let axes = Axes::of(group, units);
        for (index, flute) in group.flutes.iter().enumerate() {
            let (row, column) = (index / columns, (index % columns) as i32);
            let cell = Area {
                x: area.x + LABELS + column * cell_w,
                y: y + row as i32 * cell_h,
                w: cell_w - GUTTER,
                h: cell_h,
            };
            let below = index + columns < group.flutes.len();
            let outer = Outer {
                left: column == 0,
                bottom: !below,
            };
            panel(sheet, cell, record, group.facts, flute, &axes, outer, units)?;
        }
        y += rows(group) * cell_h + AXIS;
    }
    Ok(())
}

/// The features that are drawn: all, or the worst four.
pub(super) fn shown(record: &Record) -> Vec<&FeatureFacts> {
    let mut features: Vec<&FeatureFacts> = record.features.iter().collect();
    if features.len() > 4 {
        features.sort_by_key(|facts| {
            let its = record
                .characteristics
                .iter()
                .filter(|c| c.feature.as_ref() == Some(&facts.feature));
            its.map(|c| rank::severity(c.verdict)).min()
        });
        features.truncate(4);
    }
    features
}

/// How many plots stand beside each other, so that they come nearest to twice as wide as high.
fn columns(counts: &[usize], most: usize, area: Area) -> usize {
    let fixed = counts.len() as i32 * (HEADER + AXIS);
    let misfit = |columns: usize| {
        let rows: usize = counts
            .iter()
            .map(|n| n.div_ceil(columns).clamp(1, most))
            .sum();
        let w = f64::from(area.w - LABELS) / columns as f64;
        let h = f64::from(area.h - fixed) / rows as f64;
        let left_out: usize = counts
            .iter()
            .map(|n| n.saturating_sub(columns * most))
            .sum();
        (left_out, ((w / h / 2.2).ln().abs() * 1e3) as u64)
    };
    (1..=4).min_by_key(|&columns| misfit(columns)).unwrap_or(1)
}

fn group<'a>(record: &'a Record, facts: &'a FeatureFacts, room: usize) -> Group<'a> {
    let mut flutes: Vec<&Flute> = record
        .flutes
        .iter()
        .filter(|f| f.feature == facts.feature)
        .collect();
    let all = flutes.len();
    if all > room {
        flutes.sort_by_key(|f| rank::severity(rank::of_flute(record, &f.feature, f.flute)));
        flutes.truncate(room);
        flutes.sort_by_key(|f| f.flute);
    }
    Group { facts, flutes, all }
}

fn header(sheet: &mut Sheet, area: Area, group: &Group, units: Units) {
    let y = area.y + 265;
    let mut rest = format!("drop behind the edge, {}, against arc, °", units.sign("mm"));
    if group.flutes.len() < group.all {
        rest = format!(
            "the worst {} of {} flutes: drop, {}, against arc, °",
            group.flutes.len(),
            group.all,
            units.sign("mm")
        );
    }
    let taken = typeface::width(&rest, SMALL.size, SMALL.weight);
    let name = typeface::fit(
        &group.facts.feature,
        STRONG.size,
        STRONG.weight,
        area.w - taken - 200 - GUTTER,
    );
    sheet.text((area.x, y), Anchor::Start, STRONG, &name);
    sheet.text((area.x + area.w - GUTTER, y), Anchor::End, SMALL, &rest);
}

/// What all plots of a feature share.
struct Axes {
    window: Window,
}

impl Axes {
    fn of(group: &Group, units: Units) -> Self {
        let facts = group.facts;
        // Nothing real stands further out than the tool is wide.
        let sane = |v: &f64| v.is_finite() && v.abs() <= facts.diameter_mm.abs();
        let lands = group.flutes.iter().flat_map(|f| {
            let spread = f
                .land
                .iter()
                .flat_map(|s| [s.drop_mm - COVERAGE * s.u_mm, s.drop_mm + COVERAGE * s.u_mm]);
            spread.chain(f.fitted.iter().map(|s| s.drop_mm))
        });
        let limits = ["drop", "heel-clearance"]
            .into_iter()
            .filter_map(|name| facts.limits.get(name));
        let limits = limits.flat_map(|l| [l.min, l.max]).flatten();
        let rise = rise(
            facts,
            group.flutes.iter().map(|f| f.land_deg).fold(0.0, f64::max),
        );
        let all = lands.chain(limits).chain([rise]).filter(sane);
        let (low, high) = all.fold((0.0f64, 0.0f64), |(low, high), v| (low.min(v), high.max(v)));
        let span = if high > low { high - low } else { 0.1 };
        let (low, high) = (low - 0.1 * span, high + 0.06 * span);
        let land = group
            .flutes
            .iter()
            .map(|f| f.land_deg)
            .filter(|d| d.is_finite());
        let land = land.fold(0.0, f64::max);
        let land = if land > 0.0 { land } else { 10.0 };
        Self {
            window: Window {
                x: [0.0, land * 1.02],
                y: [low, high].map(|mm| units.shown(mm, "mm")),
            },
        }
    }
}

/// How much higher the work stands at an arc behind the edge because the tool is fed; 0 for a
/// radial surface (`s = f phi / 2 pi`).
fn rise(facts: &FeatureFacts, arc_deg: f64) -> f64 {
    facts.feed_mm_per_rev.unwrap_or(0.0) * arc_deg / 360.0
}

/// Whether a plot stands at the left and at the bottom of its group, where the numbers are.
#[derive(Clone, Copy)]
struct Outer {
    left: bool,
    bottom: bool,
}

#[allow(clippy::too_many_arguments)]
fn panel(
    sheet: &mut Sheet,
    cell: Area,
    record: &Record,
    facts: &FeatureFacts,
    flute: &Flute,
    axes: &Axes,
    outer: Outer,
    units: Units,
) -> Result<()> {
    let verdict = rank::of_flute(record, &flute.feature, flute.flute);
    let least = record.characteristics.iter().find(|c| {
        c.name == "heel-clearance"
            && c.flute == Some(flute.flute)
            && c.feature.as_ref() == Some(&flute.feature)
    });
    title(sheet, cell, flute, verdict, least, units);
    let plot = Area {
        y: cell.y + TITLE,
        h: cell.h - TITLE - 120,
        ..cell
    };
    let window = axes.window;
    let x_ticks = scale::ticks(window.x, (plot.w / 900).clamp(2, 8) as usize);
    let y_ticks = scale::ticks(window.y, (plot.h / 480).clamp(2, 6) as usize);
    let marks = curves(
        sheet,
        plot,
        facts,
        flute,
        window,
        [&x_ticks, &y_ticks],
        least,
        units,
    )?;
    if flute.land.is_empty() && flute.fitted.is_empty() {
        let middle = (plot.x + plot.w / 2, plot.y + plot.h / 2 + 80);
        sheet.text(
            middle,
            Anchor::Middle,
            SMALL,
            &typeface::fit("no land was found", SMALL.size, SMALL.weight, plot.w),
        );
    }
    if outer.left {
        for (y, label) in &marks.y {
            sheet.text((plot.x - 80, plot.y + y + 80), Anchor::End, SMALL, label);
        }
    }
    if outer.bottom {
        for (x, label) in &marks.x {
            sheet.text(
                (plot.x + x, plot.y + plot.h + 260),
                Anchor::Middle,
                SMALL,
                label,
            );
        }
    }
    Ok(())
}

fn title(
    sheet: &mut Sheet,
    cell: Area,
    flute: &Flute,
    verdict: Option<crate::record::Verdict>,
    least: Option<&Characteristic>,
    units: Units,
) {
    let base = cell.y + TITLE - 90;
    sheet.open(sheet::class(verdict), None);
    lettering::sign(sheet, (cell.x + 100, base - 80), 100, verdict);
    sheet.close();
    let mut name = format!("flute {}", flute.flute);
    if let Some(z) = flute.z_mm {
        name.push_str(&format!(" at {}", units.length(z)));
    }
    let least = least
        .and_then(|c| figures::figure(c, units))
        .map(|f| f.value);
    let full = least.as_ref().map(|v| format!("least clearance {v}"));
    let room = cell.w - 260;
    let needed = |right: &str| {
        let right = typeface::width(right, SMALL.size, SMALL.weight);
        typeface::width(&name, SMALL.size, SMALL.weight) + right + 200
    };
    let right = [full, least]
        .into_iter()
        .flatten()
        .find(|text| needed(text) <= room);
    let name = typeface::fit(&name, SMALL.size, SMALL.weight, room);
    sheet.text((cell.x + 260, base), Anchor::Start, SMALL, &name);
    if let Some(right) = right {
        sheet.text(
            (cell.x + cell.w, base),
            Anchor::End,
            SMALL,
            &super::words::minus(&right),
        );
    }
}

/// Where the numbers of the axes go, from the plot's own corner.
struct Marks {
    x: Vec<(i32, String)>,
    y: Vec<(i32, String)>,
}

#[allow(clippy::too_many_arguments)]
fn curves(
    sheet: &mut Sheet,
    plot: Area,
    facts: &FeatureFacts,
    flute: &Flute,
    window: Window,
    ticks: [&[(f64, String)]; 2],
    least: Option<&Characteristic>,
    units: Units,
) -> Result<Marks> {
    let root = Canvas::new(sheet, plot).into_drawing_area();
    // The edge is on top and the land falls away below it, as it does on the tool.
    let chart = ChartBuilder::on(&root)
        .build_cartesian_2d(window.x[0]..window.x[1], window.y[1]..window.y[0])
        .map_err(undrawn)?;
    let area = chart.plotting_area();
    let mm = |value: f64| units.shown(value, "mm");
    let [left, right] = window.x;
    let [top, bottom] = window.y;

    for (y, _) in ticks[1] {
        area.draw(&PathElement::new(
            vec![(left, *y), (right, *y)],
            Pen::Grid.line(),
        ))
        .map_err(undrawn)?;
    }
    for [from, to] in &flute.holes_deg {
        let (from, to) = (from.clamp(left, right), to.clamp(left, right));
        if from < to {
            area.draw(&Rectangle::new(
                [(from, top), (to, bottom)],
                Pen::Hole.fill(),
            ))
            .map_err(undrawn)?;
        }
    }

    // What the heel must stay below, from the check distance to the end of the land.
    let check = facts.check_deg;
    let clearance = facts.limits.get("heel-clearance").and_then(|l| l.min);
    let allowed = |arc: f64| clearance.map(|c| (arc, mm(c + rise(facts, arc))));
    if let (Some(from), Some(to)) = (allowed(check), allowed(flute.land_deg)) {
        for run in clip::runs([from, to], window, |_, _| false) {
            let (Some(first), Some(last)) = (run.first(), run.last()) else {
                continue;
            };
            let mut corners = run.clone();
            corners.extend([(last.0, top), (first.0, top)]);
            area.draw(&Polygon::new(corners, Pen::Barred.fill()))
                .map_err(undrawn)?;
            area.draw(&PathElement::new(run, Pen::Limit.line()))
                .map_err(undrawn)?;
        }
    }

    let bridged = |a: (f64, f64), b: (f64, f64)| {
        flute
            .holes_deg
            .iter()
            .any(|h| a.0 <= h[0] + 1e-9 && b.0 >= h[1] - 1e-9)
    };
    let side = |sign: f64| {
        let points = flute.land.iter().map(move |s| {
            let spread = if s.u_mm.is_finite() {
                COVERAGE * s.u_mm
            } else {
                0.0
            };
            (s.arc_deg, mm(s.drop_mm + sign * spread))
        });
        points.collect::<Vec<_>>()
    };
    for corners in bands(&side(-1.0), &side(1.0), window, bridged) {
        area.draw(&Polygon::new(corners, Pen::Band.fill()))
            .map_err(undrawn)?;
    }
    // Dots a third of a millimetre apart still read as dots.
    let apart = (right - left) * 33.0 / f64::from(plot.w.max(1));
    let mut last = f64::NEG_INFINITY;
    for sample in &flute.land {
        let (x, y) = (sample.arc_deg, mm(sample.drop_mm));
        if x.is_finite() && x >= last + apart && x <= right && y >= top && y <= bottom {
            area.draw(&Circle::new((x, y), 11, Pen::Measured.fill()))
                .map_err(undrawn)?;
            last = x;
        }
    }
    let fitted = flute.fitted.iter().map(|s| (s.arc_deg, mm(s.drop_mm)));
    for run in clip::runs(fitted, window, |_, _| false) {
        area.draw(&PathElement::new(run, Pen::Fitted.line()))
            .map_err(undrawn)?;
    }

    if let Some(limit) = facts.limits.get("drop") {
        let low = limit.min.map_or(top, mm).clamp(top, bottom);
        let high = limit.max.map_or(bottom, mm).clamp(top, bottom);
        area.draw(&PathElement::new(
            vec![(check, low), (check, high)],
            Pen::Window.line(),
        ))
        .map_err(undrawn)?;
        let reach = (right - left) * 90.0 / f64::from(plot.w.max(1));
        for (end, there) in [(low, limit.min), (high, limit.max)] {
            if there.is_some() {
                let bar = vec![((check - reach).max(left), end), (check + reach, end)];
                area.draw(&PathElement::new(bar, Pen::Window.line()))
                    .map_err(undrawn)?;
            }
        }
    }
    if let Some((arc, drop)) = place(least, flute).map(|(arc, drop)| (arc, mm(drop)))
        && (left..=right).contains(&arc)
        && (top..=bottom).contains(&drop)
    {
        area.draw(&TriangleMarker::new((arc, drop), 85, Pen::Least.fill()))
            .map_err(undrawn)?;
    }
    let frame = vec![(left, top), (left, bottom), (right, bottom)];
    area.draw(&PathElement::new(frame, Pen::Axis.line()))
        .map_err(undrawn)?;
    let x = ticks[0]
        .iter()
        .map(|(x, label)| (area.map_coordinate(&(*x, bottom)).0, label.clone()));
    let y = ticks[1].iter().map(|(y, label)| {
        (
            area.map_coordinate(&(left, *y)).1,
            super::words::minus(label),
        )
    });
    Ok(Marks {
        x: x.collect(),
        y: y.collect(),
    })
}

/// The outlines of the band between two lines, broken at holes and cut at the window's top and foot.
fn bands(
    low: &[(f64, f64)],
    high: &[(f64, f64)],
    window: Window,
    broken: impl Fn((f64, f64), (f64, f64)) -> bool,
) -> Vec<Vec<(f64, f64)>> {
    let inside = |p: (f64, f64)| {
        let known = p.0.is_finite() && p.1.is_finite() && p.0 <= window.x[1] && p.0 >= window.x[0];
        // A band that leaves the window altogether is not drawn along its border.
        known.then_some((p.0, p.1.clamp(window.y[0], window.y[1])))
    };
    let mut outlines = Vec::new();
    let (mut upper, mut lower): (Vec<(f64, f64)>, Vec<(f64, f64)>) = Default::default();
    let mut close = |upper: &mut Vec<(f64, f64)>, lower: &mut Vec<(f64, f64)>| {
        if upper.len() > 1 {
            let mut outline = std::mem::take(upper);
            outline.extend(lower.drain(..).rev());
            outlines.push(outline);
        }
        upper.clear();
        lower.clear();
    };
    for (&l, &h) in low.iter().zip(high) {
        let outside = h.1 < window.y[0] || l.1 > window.y[1];
        match (inside(l), inside(h)) {
            (Some(l), Some(h)) if !outside => {
                if upper.last().is_some_and(|&before| broken(before, l)) {
                    close(&mut upper, &mut lower);
                }
                upper.push(l);
                lower.push(h);
            }
            _ => close(&mut upper, &mut lower),
        }
    }
    close(&mut upper, &mut lower);
    outlines
}

/// Where clearance is least: arc behind the edge in degrees, and the drop there in mm.
fn place(least: Option<&Characteristic>, flute: &Flute) -> Option<(f64, f64)> {
    let least = least?;
    least.value?;
    let arc = (least.at_deg? - flute.edge_deg).rem_euclid(360.0);
    // Rounding may put it a little before the edge, which is almost a turn behind it.
    let arc = if arc > 359.9 { 0.0 } else { arc };
    let nearest = flute
        .land
        .iter()
        .filter(|s| s.drop_mm.is_finite())
        .min_by(|a, b| (a.arc_deg - arc).abs().total_cmp(&(b.arc_deg - arc).abs()))?;
    Some((arc, nearest.drop_mm))
}
