//! The section of a feature drawn round, as seen from the cutting end, relief exaggerated.

use super::canvas::{Canvas, Pen, undrawn};
use super::clip::{self, Window};
use super::figures::{Units, trimmed};
use super::sheet::{Anchor, Area, SMALL, STRONG, Sheet};
use super::{lettering, plots, rank, scale, sheet, typeface};
use crate::error::Result;
use crate::record::{FeatureFacts, Flute, Record};
use plotters::coord::CoordTranslate;
use plotters::prelude::{IntoDrawingArea, PathElement};

/// The part of the drawn radius below which nothing is drawn: gaps are deeper than relief.
const FLOOR: f64 = 0.48;
/// The parts of the drawn radius that lands may fall and may stand above the highest edge.
const FALL: f64 = 0.36;
const RISE: f64 = 0.12;
/// How far outside the circle the numbers of the edges stand; every second one twice as far where
/// they would touch.
const NUMBER: f64 = 230.0;
/// Room around the circle for the numbers and the signs beyond them.
const AROUND: i32 = 620;
const CAPTION: i32 = 1100;

/// Angle on the encoder in degrees and height over the highest edge in mm, drawn about a centre.
struct Polar {
    centre: i32,
    radius: f64,
    per_mm: f64,
    /// 1 where the encoder's angle runs clockwise on the page.
    sense: f64,
}

impl CoordTranslate for Polar {
    type From = (f64, f64);

    fn translate(&self, &(angle_deg, height_mm): &(f64, f64)) -> (i32, i32) {
        let r = self.radius + height_mm * self.per_mm;
        let angle = self.sense * angle_deg.to_radians();
        let (x, y) = (r * angle.sin(), -r * angle.cos());
        (
            self.centre + x.round() as i32,
            self.centre + y.round() as i32,
        )
    }
}

/// Draws the sections, one under the other, three or four of them two by two.
pub(super) fn draw(sheet: &mut Sheet, area: Area, record: &Record, units: Units) -> Result<()> {
    let features = plots::shown(record);
    let columns = if features.len() > 2 { 2 } else { 1 };
    let rows = features.len().div_ceil(columns).max(1) as i32;
    let (w, h) = (area.w / columns as i32, area.h / rows);
    for (index, facts) in features.iter().enumerate() {
        let (row, column) = ((index / columns) as i32, (index % columns) as i32);
        let cell = Area {
            x: area.x + column * w,
            y: area.y + row * h,
            w: w - 120,
            h,
        };
        section(sheet, cell, record, facts, units)?;
    }
    Ok(())
}

/// A land as heights over the highest edge of its feature.
struct Land<'a> {
    flute: &'a Flute,
    heights: Vec<(f64, f64)>,
}

fn lands<'a>(record: &'a Record, facts: &FeatureFacts) -> Vec<Land<'a>> {
    let its = || record.flutes.iter().filter(|f| f.feature == facts.feature);
    let highest = its()
        .map(|f| f.edge_mm)
        .filter(|e| e.is_finite())
        .fold(f64::NEG_INFINITY, f64::max);
    let mut lands: Vec<Land> = Vec::new();
    for flute in its() {
        // A feature traced at two places has each flute twice; one section shows one of them.
        if lands.iter().all(|land| land.flute.flute != flute.flute) {
            let below = flute.edge_mm - highest;
            let heights = flute
                .land
                .iter()
                .map(|s| (flute.edge_deg + s.arc_deg, below - s.drop_mm));
            lands.push(Land {
                flute,
                heights: heights.collect(),
            });
        }
    }
    lands
}

fn section(
    sheet: &mut Sheet,
    cell: Area,
    record: &Record,
    facts: &FeatureFacts,
    units: Units,
) -> Result<()> {
    let lands = lands(record, facts);
    let side = cell.w.min(cell.h - CAPTION);
    let radius = side / 2 - AROUND;
    let staggered = close(&lands, f64::from(radius) + NUMBER);
    let radius = radius - if staggered { NUMBER as i32 } else { 0 };
    let sane = |h: &f64| h.is_finite() && h.abs() <= facts.diameter_mm.abs();
    let heights = || {
        lands
            .iter()
            .flat_map(|land| land.heights.iter().map(|p| p.1))
            .filter(sane)
    };
    let fall = -heights().fold(0.0, f64::min);
    let rise = heights().fold(0.0, f64::max);
    // The share of the radius that a height takes at true scale.
    let share = |mm: f64| mm / (facts.diameter_mm / 2.0);
    let most = (FALL / share(fall).max(1e-9)).min(RISE / share(rise).max(1e-9));
    let factor = scale::exaggeration(most);
    let per_mm = factor * f64::from(radius) / (facts.diameter_mm / 2.0).max(1e-9);
    let polar = |centre| Polar {
        centre,
        radius: f64::from(radius),
        per_mm,
        sense: if record.about.hand == "left" {
            -1.0
        } else {
            1.0
        },
    };
    let square = Area {
        x: cell.x + (cell.w - side) / 2,
        y: cell.y,
        w: side,
        h: side,
    };
    let name = format!(
        "{}: section drawn round, relief {} times as large",
        facts.feature,
        trimmed(factor)
    );
    sheet.open("", Some(&name));
    rounds(sheet, square, facts, &lands, polar(side / 2), per_mm)?;
    let outside = f64::from(radius) + (rise * per_mm).min(RISE * f64::from(radius));
    let centre = (square.x + side / 2, square.y + side / 2);
    numbers(sheet, centre, outside, record, &lands, polar(0).sense);
    arrow(sheet, centre, f64::from(radius) * 0.3, polar(0).sense);
    sheet.close();
    caption(
        sheet,
        Area {
            y: cell.y + side,
            h: CAPTION,
            ..cell
        },
        facts,
        factor,
        units,
    );
    Ok(())
}

fn rounds(
    sheet: &mut Sheet,
    square: Area,
    facts: &FeatureFacts,
    lands: &[Land],
    polar: Polar,
    per_mm: f64,
) -> Result<()> {
    let radius = polar.radius;
    let window = Window {
        x: [f64::NEG_INFINITY, f64::INFINITY],
        y: [-(1.0 - FLOOR) * radius / per_mm, RISE * radius / per_mm],
    };
    let root = Canvas::new(sheet, square)
        .into_drawing_area()
        .apply_coord_spec(polar);
    let circle: Vec<(f64, f64)> = (0..=180).map(|step| (f64::from(step) * 2.0, 0.0)).collect();
    root.draw(&PathElement::new(circle, Pen::Round.line()))
        .map_err(undrawn)?;
    for run in &facts.section {
        // Places further apart than this are not neighbours: the thinning left nothing so wide.
        let apart = |a: (f64, f64), b: (f64, f64)| (b.0 - a.0).abs() > 30.0;
        let points = run.iter().map(|s| (s.angle_deg, s.height_mm));
        for part in clip::runs(points, window, apart) {
            root.draw(&PathElement::new(part, Pen::Gap.line()))
                .map_err(undrawn)?;
        }
    }
    for land in lands {
        let edge = land.flute.edge_deg;
        let hole = |a: (f64, f64), b: (f64, f64)| {
            land.flute
                .holes_deg
                .iter()
                .any(|h| a.0 - edge <= h[0] + 1e-9 && b.0 - edge >= h[1] - 1e-9)
        };
        for part in clip::runs(land.heights.iter().copied(), window, hole) {
            root.draw(&PathElement::new(part, Pen::Land.line()))
                .map_err(undrawn)?;
        }
    }
    Ok(())
}

/// Numbers each edge, by turns nearer and further out where edges stand close; one that fails or is
/// undecided carries its sign beyond.
fn numbers(
    sheet: &mut Sheet,
    centre: (i32, i32),
    radius: f64,
    record: &Record,
    lands: &[Land],
    sense: f64,
) {
    let staggered = close(lands, radius + NUMBER);
    let beyond = radius + if staggered { 2.0 * NUMBER } else { NUMBER } + 260.0;
    for (index, land) in lands.iter().enumerate() {
        let angle = sense * land.flute.edge_deg.to_radians();
        if !angle.is_finite() {
            continue;
        }
        let at = |r: f64| {
            let (x, y) = (r * angle.sin(), -r * angle.cos());
            (centre.0 + x.round() as i32, centre.1 + y.round() as i32)
        };
        let further = staggered && index % 2 == 1;
        let (x, y) = at(radius + if further { 2.0 * NUMBER } else { NUMBER });
        let number = land.flute.flute.to_string();
        sheet.text((x, y + 80), Anchor::Middle, SMALL, &number);
        let verdict = rank::of_flute(record, &land.flute.feature, land.flute.flute);
        if rank::severity(verdict) < 2 {
            sheet.open(sheet::class(verdict), None);
            lettering::sign(sheet, at(beyond), 90, verdict);
            sheet.close();
        }
    }
}

/// Whether numbers on a circle of this radius would touch.
fn close(lands: &[Land], radius: f64) -> bool {
    let mut edges: Vec<f64> = lands
        .iter()
        .map(|l| l.flute.edge_deg.rem_euclid(360.0))
        .collect();
    edges.sort_by(f64::total_cmp);
    let around = edges.first().map(|first| first + 360.0);
    let next = edges.iter().copied().skip(1).chain(around);
    let widest = f64::from(typeface::width("00", SMALL.size, SMALL.weight)) + 60.0;
    edges
        .iter()
        .zip(next)
        .any(|(edge, next)| (next - edge).to_radians() * radius < widest)
}

/// The axis, and which way the tool cuts: against the way in which edges pass the probe.
fn arrow(sheet: &mut Sheet, (x, y): (i32, i32), radius: f64, sense: f64) {
    sheet.path("axis", &format!("M{} {y}h200M{x} {}v200", x - 100, y - 100));
    let at = |r: f64, deg: f64| {
        let angle = -sense * deg.to_radians();
        format!(
            "{} {}",
            x + (r * angle.sin()).round() as i32,
            y - (r * angle.cos()).round() as i32
        )
    };
    let r = radius.round() as i32;
    let sweep = i32::from(sense < 0.0);
    let head = 170.0f64.atan2(radius).to_degrees();
    sheet.path(
        "axis",
        &format!(
            "M{}A{r} {r} 0 0 {sweep} {}",
            at(radius, -50.0),
            at(radius, 50.0)
        ),
    );
    sheet.path(
        "axis",
        &format!(
            "M{}L{}L{}",
            at(radius - 100.0, 50.0 - head),
            at(radius, 50.0),
            at(radius + 100.0, 50.0 - head)
        ),
    );
}

fn caption(sheet: &mut Sheet, area: Area, facts: &FeatureFacts, factor: f64, units: Units) {
    let x = area.x + area.w / 2;
    let fit = |text: &str, face: sheet::Face| typeface::fit(text, face.size, face.weight, area.w);
    sheet.text(
        (x, area.y + 300),
        Anchor::Middle,
        STRONG,
        &fit(&facts.feature, STRONG),
    );
    let across = format!("{}, Ø {}", facts.surface, units.length(facts.diameter_mm));
    sheet.text(
        (x, area.y + 600),
        Anchor::Middle,
        SMALL,
        &fit(&across, SMALL),
    );
    let drawn = format!("relief drawn × {}", trimmed(factor));
    sheet.text(
        (x, area.y + 880),
        Anchor::Middle,
        SMALL,
        &fit(&drawn, SMALL),
    );
}
