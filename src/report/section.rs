//! The section of a feature drawn round, as seen from the cutting end, relief exaggerated.

use super::canvas::{Canvas, LINE, Pen, undrawn};
use super::clip::{self, Window};
use super::figures::trimmed;
use super::sheet::{Anchor, Area, SMALL, STRONG, Sheet};
use super::{lettering, plots, rank, scale, sheet, typeface};
use crate::error::Result;
use crate::quantity::Units;
use crate::record::{FeatureFacts, Flute, LandSample, Record, Verdict};
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
/// Room for the signs beyond the numbers.
const SIGN: f64 = 260.0;
/// Room around the outermost of them.
const AROUND: f64 = 130.0;
const CAPTION: i32 = 850;
/// What the numbers of a plot beside it take.
const BESIDE: i32 = 700;
/// Nearer than this to the edge, what stands higher is the edge's own scatter.
const CLEAR_OF_EDGE_DEG: f64 = 1.0;

/// Angle on the encoder in degrees and height over the highest edge in mm, drawn about a centre.
#[derive(Clone, Copy)]
struct Polar {
    centre: (i32, i32),
    radius: f64,
    per_mm: f64,
    /// 1 where the encoder's angle runs clockwise on the page.
    sense: f64,
}

impl Polar {
    fn at(&self, radius: f64, angle_deg: f64) -> (i32, i32) {
        let angle = self.sense * angle_deg.to_radians();
        let (x, y) = (radius * angle.sin(), -radius * angle.cos());
        (
            self.centre.0 + x.round() as i32,
            self.centre.1 + y.round() as i32,
        )
    }
}

impl CoordTranslate for Polar {
    type From = (f64, f64);

    fn translate(&self, &(angle_deg, height_mm): &(f64, f64)) -> (i32, i32) {
        // Lines are cut before they come here; this only keeps a senseless scale on the page.
        let radius = (self.radius + height_mm * self.per_mm).clamp(0.0, 2.0 * self.radius);
        self.at(radius, angle_deg)
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
        Section::of(record, facts, cell).draw(sheet, cell, units)?;
    }
    Ok(())
}

/// A land as heights over the highest edge of its feature.
struct Land<'a> {
    flute: &'a Flute,
    heights: Vec<(f64, f64)>,
    verdict: Option<Verdict>,
}

fn lands<'a>(record: &'a Record, facts: &FeatureFacts) -> Vec<Land<'a>> {
    let its = || record.flutes.iter().filter(|f| f.feature == facts.feature);
    let edges = its().map(|f| f.edge_mm).filter(|e| e.is_finite());
    let highest = edges.fold(f64::NEG_INFINITY, f64::max);
    let mut lands: Vec<Land> = Vec::new();
    for flute in its() {
        // A feature traced at two places has each flute twice; one section shows one of them.
        if lands.iter().any(|land| land.flute.flute == flute.flute) {
            continue;
        }
        let below = flute.edge_mm - highest;
        // Nothing real stands further out than the tool is wide; what does breaks the line.
        let real = |height: f64| (height.abs() <= facts.diameter_mm.abs()).then_some(height);
        let height = |s: &LandSample| {
            let height = real(below - s.drop_mm).unwrap_or(f64::NAN);
            (flute.edge_deg + s.arc_deg, height)
        };
        lands.push(Land {
            flute,
            heights: flute.land.iter().map(height).collect(),
            // One section stands for all places, so it carries the worst sign of them.
            verdict: its()
                .filter(|other| other.flute == flute.flute)
                .filter_map(|other| rank::of_flute(record, other))
                .min_by_key(|verdict| rank::severity(Some(*verdict))),
        });
    }
    lands
}

impl Land<'_> {
    /// What of a land that fails stands higher than its own edge.
    fn above_edge(&self) -> Vec<(f64, f64)> {
        let fails = self.verdict == Some(Verdict::Fail);
        let edge = self.heights.first().map_or(f64::NAN, |(_, height)| *height);
        let behind = |angle: f64| angle - self.flute.edge_deg > CLEAR_OF_EDGE_DEG;
        let above = |&(angle, height): &(f64, f64)| match behind(angle) && height > edge && fails {
            true => (angle, height),
            false => (angle, f64::NAN),
        };
        self.heights.iter().map(above).collect()
    }

    fn stands_out(&self) -> bool {
        matches!(self.verdict, Some(Verdict::Fail | Verdict::Undecided))
    }
}

/// A section with all that decides how large it is drawn.
struct Section<'a> {
    facts: &'a FeatureFacts,
    lands: Vec<Land<'a>>,
    square: Area,
    polar: Polar,
    /// How many times as large relief is drawn.
    factor: f64,
    /// The radius outside which nothing of the tool is drawn.
    outside: f64,
    /// Whether the numbers of the edges stand by turns nearer and further out.
    staggered: bool,
}

impl<'a> Section<'a> {
    fn of(record: &'a Record, facts: &'a FeatureFacts, cell: Area) -> Self {
        let lands = lands(record, facts);
        let tool_radius = (facts.diameter_mm / 2.0).max(1e-9);
        let heights = lands.iter().flat_map(|land| land.heights.iter());
        let shares = heights.map(|(_, height)| height / tool_radius);
        let (fall, rise) = shares.fold((0.0f64, 0.0f64), |(fall, rise), share| {
            (fall.max(-share), rise.max(share))
        });
        let factor = scale::exaggeration((FALL / fall.max(1e-9)).min(RISE / rise.max(1e-9)));
        let above = 1.0 + (rise * factor).min(RISE);

        let side = cell.w.min(cell.h - CAPTION);
        let signs = if lands.iter().any(Land::stands_out) {
            SIGN
        } else {
            0.0
        };
        let radius = |rings: f64| {
            let around = rings * NUMBER + signs + AROUND;
            ((f64::from(side) / 2.0 - around) / above).max(1.0)
        };
        let staggered = close(&lands, radius(1.0) * above + NUMBER);
        let radius = radius(if staggered { 2.0 } else { 1.0 });
        Self {
            facts,
            lands,
            square: Area {
                x: cell.x + (cell.w - side) / 2,
                y: cell.y,
                w: side,
                h: side,
            },
            polar: Polar {
                centre: (side / 2, side / 2),
                radius,
                per_mm: factor * radius / tool_radius,
                sense: match record.about.hand.as_str() {
                    "left" => -1.0,
                    _ => 1.0,
                },
            },
            factor,
            outside: radius * above,
            staggered,
        }
    }

    fn draw(&self, sheet: &mut Sheet, cell: Area, units: Units) -> Result<()> {
        let (feature, factor) = (&self.facts.feature, trimmed(self.factor));
        let name = format!("{feature}: section drawn round, relief {factor} times as large");
        sheet.open("", Some(&name));
        self.lines(sheet)?;
        let on_page = Polar {
            centre: (
                self.square.x + self.square.w / 2,
                self.square.y + self.square.h / 2,
            ),
            ..self.polar
        };
        self.numbers(sheet, on_page);
        arrow(sheet, on_page);
        sheet.close();
        self.caption(sheet, cell, units);
        Ok(())
    }

    fn lines(&self, sheet: &mut Sheet) -> Result<()> {
        let Polar { radius, per_mm, .. } = self.polar;
        let window = Window {
            x: [f64::NEG_INFINITY, f64::INFINITY],
            y: [-(1.0 - FLOOR) * radius / per_mm, RISE * radius / per_mm],
        };
        let canvas = Canvas::new(sheet, self.square).into_drawing_area();
        let root = canvas.apply_coord_spec(self.polar);
        let circle: Vec<(f64, f64)> = (0..=180).map(|step| (f64::from(step) * 2.0, 0.0)).collect();
        root.draw(&Pen::Round.on(PathElement::new(circle, LINE)))
            .map_err(undrawn)?;
        for run in &self.facts.section {
            // Where the turn ends a run jumps back to its start, which is not a line of the tool.
            let apart = |a: (f64, f64), b: (f64, f64)| (b.0 - a.0).abs() > 180.0;
            let points = run.iter().map(|s| (s.angle_deg, s.height_mm));
            for part in clip::runs(points, window, apart) {
                root.draw(&Pen::Gap.on(PathElement::new(part, LINE)))
                    .map_err(undrawn)?;
            }
        }
        for land in &self.lands {
            let arc = |point: (f64, f64)| point.0 - land.flute.edge_deg;
            let hole = |a, b| clip::in_hole(land.flute, arc(a), arc(b));
            for part in clip::runs(land.heights.iter().copied(), window, hole) {
                root.draw(&Pen::Land.on(PathElement::new(part, LINE)))
                    .map_err(undrawn)?;
            }
            for part in clip::runs(land.above_edge(), window, hole) {
                root.draw(&Pen::Over.on(PathElement::new(part, LINE)))
                    .map_err(undrawn)?;
            }
        }
        Ok(())
    }

    /// Numbers each edge; one that fails or is undecided carries its sign further out.
    fn numbers(&self, sheet: &mut Sheet, polar: Polar) {
        let rings = if self.staggered { 2.0 } else { 1.0 };
        for (index, land) in self.lands.iter().enumerate() {
            let edge = land.flute.edge_deg;
            if !edge.is_finite() {
                continue;
            }
            let ring = if index % 2 == 1 { rings } else { 1.0 };
            let (x, y) = polar.at(self.outside + ring * NUMBER, edge);
            sheet.text(
                (x, y + 80),
                Anchor::Middle,
                SMALL,
                &land.flute.flute.to_string(),
            );
            if land.stands_out() {
                let beyond = polar.at(self.outside + rings * NUMBER + SIGN, edge);
                sheet.open(sheet::class(land.verdict), None);
                lettering::sign(sheet, beyond, 90, land.verdict);
                sheet.close();
            }
        }
    }

    fn caption(&self, sheet: &mut Sheet, cell: Area, units: Units) {
        let (x, y) = (cell.x + cell.w / 2, self.square.y + self.square.h);
        let facts = self.facts;
        let drawn = format!(
            "{} Ø {}, relief × {}",
            facts.surface,
            units.length(facts.diameter_mm),
            trimmed(self.factor)
        );
        for (base, face, text) in [(300, STRONG, &facts.feature), (600, SMALL, &drawn)] {
            let text = typeface::fit(text, face.size, face.weight, cell.w - BESIDE);
            sheet.text((x, y + base), Anchor::Middle, face, &text);
        }
    }
}

/// Whether numbers on a circle of this radius would touch.
fn close(lands: &[Land], radius: f64) -> bool {
    let edges = lands.iter().map(|l| l.flute.edge_deg.rem_euclid(360.0));
    let mut edges: Vec<f64> = edges.collect();
    edges.sort_by(f64::total_cmp);
    let around = edges.first().map(|first| first + 360.0);
    let next: Vec<f64> = edges.iter().copied().skip(1).chain(around).collect();
    let widest = f64::from(typeface::width("00", SMALL.size, SMALL.weight)) + 60.0;
    let touch = |(edge, next): (&f64, &f64)| (next - edge).to_radians() * radius < widest;
    edges.iter().zip(&next).any(touch)
}

/// The axis, and which way the tool cuts: against the way in which edges pass the probe.
fn arrow(sheet: &mut Sheet, polar: Polar) {
    let (x, y) = polar.centre;
    sheet.path("axis", &format!("M{} {y}h200M{x} {}v200", x - 100, y - 100));
    let radius = polar.radius * 0.3;
    let at = |r: f64, deg: f64| {
        let (x, y) = polar.at(r, -deg);
        format!("{x} {y}")
    };
    let (r, tip) = (radius.round(), 50.0);
    let sweep = i32::from(polar.sense < 0.0);
    let barb = tip - 170.0f64.atan2(radius).to_degrees();
    let (tail, head) = (at(radius, -tip), at(radius, tip));
    let (inner, outer) = (at(radius - 100.0, barb), at(radius + 100.0, barb));
    sheet.path("axis", &format!("M{tail}A{r} {r} 0 0 {sweep} {head}"));
    sheet.path("axis", &format!("M{inner}L{head}L{outer}"));
}
