//! The plot of one flute: the land as measured and as fitted, and the limits it has to keep.

use super::canvas::{Canvas, FILL, LINE, Pen, undrawn};
use super::clip::{self, Window};
use super::figures;
use super::residual::Residual;
use super::sheet::{Anchor, Area, SMALL, Sheet};
use super::{label, lettering, scale, sheet, typeface, words};
use crate::error::Result;
use crate::quantity::{Units, rounded};
use crate::record::{Characteristic, FeatureFacts, Flute, LandSample, Verdict};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::{
    Cartesian2d, ChartBuilder, Circle, DrawingArea, IntoDrawingArea, PathElement, Polygon,
    Rectangle, TriangleMarker,
};

/// Standard uncertainties to either side of what holds 95 % (JCGM 100, table G.1, normal).
pub(super) const COVERAGE: f64 = 1.96;

/// What a plot takes for its title.
pub(super) const TITLE: i32 = 310;
/// Least distance of measured dots, so that they still read as dots.
const DOTS: f64 = 33.0;

/// One flute and what its plot needs to know.
pub(super) struct Panel<'a> {
    pub facts: &'a FeatureFacts,
    pub flute: &'a Flute,
    /// The same tooth before the grind, drawn under it.
    pub before: Option<&'a Flute>,
    pub verdict: Option<Verdict>,
    /// Its heel clearance.
    pub least: Option<&'a Characteristic>,
    /// Arc in degrees, drop in the unit shown.
    pub window: Window,
    pub units: Units,
    /// Distance from the tool's front in mm, where flutes were traced at several.
    pub place: Option<f64>,
    pub numbered_left: bool,
    pub numbered_below: bool,
}

/// `plotters`' drawing area with arc and drop on it.
type Plot<'a> = DrawingArea<Canvas<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Places along an axis from the plot's own corner, with their numbers.
type Numbers = Vec<(i32, String)>;

/// Height of the strip with what the curve leaves, and of a plot that has room for one.
const STRIP: i32 = 430;
const STRIP_FROM: i32 = 2400;
/// Width of a plot that has room for words.
const WORDS_FROM: i32 = 4200;

/// What stands beside and upon the curves.
struct Marks {
    below: Numbers,
    left: Numbers,
    /// The land in the plot's own coordinates.
    land: Vec<(i32, i32)>,
    /// What the land must stay below, in the same.
    limit: Vec<(i32, i32)>,
    /// Where the gate of the drop stands, in the same.
    gate: Option<Area>,
}

/// Whether a figure has a value, and nothing tells how far it is from the truth.
fn unknown(of: &Characteristic) -> bool {
    of.verdict == Some(Verdict::Undecided)
        && of.value.is_some()
        && figures::uncertainty(of).is_none()
}

impl Panel<'_> {
    /// Draws it.
    pub(super) fn draw(&self, sheet: &mut Sheet, cell: Area) -> Result<()> {
        self.title(sheet, cell);
        let h = cell.h - TITLE - 120;
        let residual = Residual::of(self.flute, self.facts.diameter_mm);
        let residual = residual.filter(|_| h > STRIP_FROM);
        let strip = residual.as_ref().map_or(0, |_| STRIP);
        let plot = Area {
            y: cell.y + TITLE,
            h: h - strip,
            ..cell
        };
        let marks = self.curves(sheet, plot)?;
        if plot.w > WORDS_FROM && self.flute.holes_deg.is_empty() {
            self.words(sheet, plot, &marks);
        }
        let Marks { below, left, .. } = marks;
        if let Some(residual) = residual {
            let under = Area {
                y: plot.y + plot.h,
                h: strip,
                ..plot
            };
            residual.draw(sheet, under, self.window.x, self.units, self.numbered_left)?;
        }
        if self.flute.land.is_empty() && self.flute.fitted.is_empty() {
            let middle = (plot.x + plot.w / 2, plot.y + plot.h / 2 + 80);
            let text = typeface::fit("no land was found", SMALL.size, SMALL.weight, plot.w);
            sheet.text(middle, Anchor::Middle, SMALL, &text);
        }
        for (y, number) in left.iter().filter(|_| self.numbered_left) {
            sheet.text((plot.x - 80, plot.y + y + 80), Anchor::End, SMALL, number);
        }
        for (x, number) in below.iter().filter(|_| self.numbered_below) {
            let half = typeface::width(number, SMALL.size, SMALL.weight) / 2;
            let x = plot.x + (*x).min(plot.w - half);
            sheet.text(
                (x, plot.y + plot.h + strip + 260),
                Anchor::Middle,
                SMALL,
                number,
            );
        }
        Ok(())
    }

    /// Which flute it is, its sign, and the least clearance as far as there is room to say so.
    fn title(&self, sheet: &mut Sheet, cell: Area) {
        let base = cell.y + TITLE - 90;
        sheet.open(sheet::class(self.verdict), None);
        lettering::sign(sheet, (cell.x + 100, base - 80), 100, self.verdict);
        sheet.close();
        let mut name = format!("flute {}", self.flute.flute);
        if let Some(z) = self.place {
            name.push_str(&format!(" at {}", self.units.length(z)));
        }
        if let Some(curve) = self.flute.curve.as_ref().filter(|_| cell.w > 4500) {
            name.push_str(&format!(", {}", curve.family));
        }
        let room = cell.w - 260;
        let name = typeface::fit(&name, SMALL.size, SMALL.weight, room);
        sheet.text((cell.x + 260, base), Anchor::Start, SMALL, &name);
        let left = room - 200 - typeface::width(&name, SMALL.size, SMALL.weight);
        let figure = self.least.and_then(|c| figures::figure(c, self.units));
        if let Some(value) = figure.map(|figure| words::minus(&figure.value)) {
            let fits = |text: &String| typeface::width(text, SMALL.size, SMALL.weight) <= left;
            let said = [format!("least clearance {value}"), value];
            if let Some(text) = said.iter().find(|text| fits(text)) {
                sheet.text((cell.x + cell.w, base), Anchor::End, SMALL, text);
            }
        }
    }

    fn curves(&self, sheet: &mut Sheet, area: Area) -> Result<Marks> {
        let Window { x: arcs, y: drops } = self.window;
        let root = Canvas::new(sheet, area).into_drawing_area();
        // The edge is on top and the land falls away below it, as it does on the tool.
        let chart = ChartBuilder::on(&root)
            .build_cartesian_2d(arcs[0]..arcs[1], drops[1]..drops[0])
            .map_err(undrawn)?;
        let plot = chart.plotting_area();
        let x_ticks = self.arcs(area.w);
        let y_ticks = scale::ticks(drops, (area.h / 340).clamp(3, 6) as usize);
        for (y, _) in &y_ticks {
            line(plot, vec![(arcs[0], *y), (arcs[1], *y)], Pen::Grid)?;
        }
        self.holes(plot)?;
        self.clearance(plot)?;
        self.to_come_off(plot)?;
        self.earlier(plot)?;
        self.land(plot, area.w)?;
        self.drop(plot, area.w)?;
        self.nearest(plot)?;
        let corners = [
            (arcs[0], drops[0]),
            (arcs[0], drops[1]),
            (arcs[1], drops[1]),
        ];
        line(plot, corners.to_vec(), Pen::Axis)?;
        let below = x_ticks
            .into_iter()
            .map(|(x, number)| (plot.map_coordinate(&(x, drops[1])).0, number));
        let left = y_ticks
            .into_iter()
            .map(|(y, number)| (plot.map_coordinate(&(arcs[0], y)).1, words::minus(&number)));
        let on_plot = |points: Vec<(f64, f64)>| -> Vec<(i32, i32)> {
            let inside = points.iter().filter(|point| self.window.holds(**point));
            inside.map(|point| plot.map_coordinate(point)).collect()
        };
        Ok(Marks {
            below: below.collect(),
            left: left.collect(),
            land: on_plot(self.outline()),
            limit: on_plot(self.barred_from().map_or(Vec::new(), |ends| ends.to_vec())),
            gate: self.facts.limits.contains_key("drop").then(|| {
                let (x, y) = plot.map_coordinate(&(self.facts.check_deg, drops[0]));
                let (x, w, h) = (x - 150, 300, area.h);
                Area { x, y, w, h }
            }),
        })
    }

    /// Marks along the arc, a round length apart, each with its angle where there is room.
    fn arcs(&self, width: i32) -> Vec<(f64, String)> {
        let mm_per_deg = self.facts.diameter_mm * std::f64::consts::PI / 360.0;
        let shown = self.shown(mm_per_deg);
        if !(shown.is_finite() && shown > 0.0) {
            return Vec::new();
        }
        let ends = self.window.x.map(|deg| deg * shown);
        let most = (width / 1100).clamp(2, 8);
        let ticks = scale::ticks(ends, most as usize);
        let roomy = width > 1450 * ticks.len() as i32;
        let label = |(length, number): (f64, String)| {
            let deg = length / shown;
            match (deg > 0.0, roomy) {
                (false, _) => (deg, "0".to_owned()),
                (true, true) => (deg, format!("{number} ({deg:.1}°)")),
                (true, false) => (deg, number),
            }
        };
        ticks.into_iter().map(label).collect()
    }

    /// The land as fitted where it can be trusted, else as measured: arc in degrees, drop as shown.
    fn outline(&self) -> Vec<(f64, f64)> {
        let trusted = self.flute.curve.as_ref().is_some_and(|curve| curve.trusted);
        let fitted = || self.flute.fitted.iter().map(|s| (s.arc_deg, s.drop_mm));
        let land = || self.flute.land.iter().map(|s| (s.arc_deg, s.drop_mm));
        let points: Vec<(f64, f64)> = match trusted && !self.flute.fitted.is_empty() {
            true => fitted().collect(),
            false => land().collect(),
        };
        let shown = |(arc, drop): (f64, f64)| (arc, self.shown(drop));
        points.into_iter().map(shown).collect()
    }

    /// Both ends of what the land must stay below.
    fn barred_from(&self) -> Option<[(f64, f64); 2]> {
        let limit = self.facts.limits.get("heel-clearance")?.min?;
        let ends = [self.facts.check_deg, self.flute.land_deg];
        Some(ends.map(|arc| (arc, self.shown(limit + rise(self.facts, arc)))))
    }

    /// Where a land that fails stands above what it must stay below: what has to come off.
    fn above_limit(&self) -> Vec<(f64, f64, f64)> {
        let fails = self
            .least
            .is_some_and(|least| least.verdict == Some(Verdict::Fail));
        let Some([from, to]) = self.barred_from().filter(|_| fails) else {
            return Vec::new();
        };
        let slope = (to.1 - from.1) / (to.0 - from.0).max(1e-9);
        let over = self.outline().into_iter().filter_map(|(arc, drop)| {
            let limit = from.1 + slope * (arc - from.0);
            ((from.0..=to.0).contains(&arc) && drop < limit).then_some((arc, drop, limit))
        });
        over.collect()
    }

    fn to_come_off(&self, plot: &Plot) -> Result<()> {
        let [top, foot] = self.window.y;
        let over = self.above_limit();
        let inside = |drop: f64| drop.clamp(top, foot);
        let upper = over.iter().map(|(arc, drop, _)| (*arc, inside(*drop)));
        let lower = over
            .iter()
            .rev()
            .map(|(arc, _, limit)| (*arc, inside(*limit)));
        let corners: Vec<(f64, f64)> = upper.chain(lower).collect();
        if corners.len() < 4 {
            return Ok(());
        }
        plot.draw(&Pen::Off.on(Polygon::new(corners, FILL)))
            .map_err(undrawn)
    }

    /// Names edge, heel and limit where they stand, and says what has to come off.
    fn words(&self, sheet: &mut Sheet, plot: Area, marks: &Marks) {
        let sign = self.units.sign("mm");
        let mut edge_to = 0;
        let mut taken = Vec::new();
        if let Some(&(x, y)) = marks.land.first()
            && y > 260
        {
            let edge = label::beside(sheet, plot, (x + 70, y - 60), Anchor::Start, "edge");
            edge_to = edge.x + edge.w + 40;
            taken.push(edge);
        }
        if let ([(from, y), (to, end)], Some(limit)) = (&marks.limit[..], self.barred_from()) {
            let words = match self.facts.feed_mm_per_rev {
                Some(_) => "stay below, feed included".to_owned(),
                None => format!("stay below {} {sign}", figures::trimmed(limit[0].1)),
            };
            taken.extend(label::on_line(
                sheet,
                plot,
                (edge_to.max(from + 90), *y),
                &words,
            ));
            taken.push(Area {
                x: *from,
                y: 0,
                w: to - from,
                h: *y.max(end),
            });
        }
        taken.extend(marks.gate);
        label::block(sheet, plot, &marks.land, &taken, &self.of_heel());
    }

    /// The drop at the heel as the table has it, where the land is nearest to its limit there: the curve
    /// that is drawn may pass some micrometres beside it.
    fn heel_by_figure(&self) -> Option<f64> {
        let least = self.least?;
        let worst = self.flute.land.iter().min_by(|a, b| {
            let over = |s: &LandSample| s.drop_mm - rise(self.facts, s.arc_deg);
            over(a).total_cmp(&over(b))
        });
        let end = self.flute.land.last()?.arc_deg;
        // A feed has its share in the figure, and none in the height.
        let still = self.facts.feed_mm_per_rev.is_none();
        let at_heel = still
            && self
                .above_limit()
                .last()
                .is_some_and(|(arc, ..)| *arc > 0.97 * end)
            && worst?.arc_deg > 0.9 * end;
        let known = least.value.filter(|mm| at_heel && mm.is_finite());
        known.map(|mm| self.shown(mm))
    }

    /// How the heel stands to the edge, and what has to come off; or that nobody knows.
    fn of_heel(&self) -> Vec<String> {
        let sign = self.units.sign("mm");
        let outline = self.outline();
        let Some(&(_, drop)) = outline.last().filter(|(_, drop)| drop.is_finite()) else {
            return Vec::new();
        };
        let drop = self.heel_by_figure().unwrap_or(drop);
        let side = if drop < 0.0 { "above" } else { "below" };
        let step = self.shown(0.01);
        let mut lines = vec![format!(
            "heel {} {sign} {side} the edge",
            rounded(drop.abs(), step)
        )];
        // A curve without a band looks like one that is known.
        if self.least.is_some_and(unknown) {
            lines = vec![
                "as read, and nothing is proven:".to_owned(),
                "the true land may lie elsewhere".to_owned(),
            ];
        }
        let limit = self.facts.limits.get("heel-clearance");
        let limit = limit.and_then(|limit| limit.min);
        let least = self.least.and_then(|least| least.value);
        if let (Some((first, ..)), Some(limit), Some(least)) =
            (self.above_limit().first(), limit, least)
        {
            let off = self.shown(limit - least);
            let mm = self.shown(first * self.facts.diameter_mm * std::f64::consts::PI / 360.0);
            if off.is_finite() && mm.is_finite() {
                let (off, from) = (rounded(off, step), rounded(mm, self.shown(0.1)));
                lines.push(format!("{off} {sign} to come off there,"));
                lines.push(format!("from {from} {sign} behind the edge on"));
            }
        }
        lines
    }

    fn shown(&self, mm: f64) -> f64 {
        self.units.shown(mm, "mm")
    }

    fn holes(&self, plot: &Plot) -> Result<()> {
        let [left, right] = self.window.x;
        for hole in &self.flute.holes_deg {
            let [from, to] = hole.map(|arc| arc.clamp(left, right));
            if from < to {
                let corners = [(from, self.window.y[0]), (to, self.window.y[1])];
                plot.draw(&Pen::Hole.on(Rectangle::new(corners, FILL)))
                    .map_err(undrawn)?;
            }
        }
        Ok(())
    }

    /// What the land must stay below, from the check distance to its end.
    fn clearance(&self, plot: &Plot) -> Result<()> {
        let Some(ends) = self.barred_from() else {
            return Ok(());
        };
        for run in clip::runs(ends, self.window, |_, _| false) {
            let top = |point: Option<&(f64, f64)>| point.map(|(arc, _)| (*arc, self.window.y[0]));
            let mut corners = run.clone();
            corners.extend(top(run.last()));
            corners.extend(top(run.first()));
            plot.draw(&Pen::Barred.on(Polygon::new(corners, FILL)))
                .map_err(undrawn)?;
            line(plot, run, Pen::Limit)?;
        }
        Ok(())
    }

    /// The land as it was before the grind, where that is compared.
    fn earlier(&self, plot: &Plot) -> Result<()> {
        let Some(before) = self.before else {
            return Ok(());
        };
        let points: Vec<(f64, f64)> = match before.fitted.is_empty() {
            true => before.land.iter().map(|s| (s.arc_deg, s.drop_mm)).collect(),
            false => before
                .fitted
                .iter()
                .map(|s| (s.arc_deg, s.drop_mm))
                .collect(),
        };
        let points = points
            .into_iter()
            .map(|(arc, drop)| (arc, self.shown(drop)));
        let apart = |a: (f64, f64), b: (f64, f64)| clip::in_hole(before, a.0, b.0);
        for run in clip::runs(points, self.window, apart) {
            line(plot, run, Pen::Before)?;
        }
        Ok(())
    }

    /// The land with its band, and the fitted curve over it.
    fn land(&self, plot: &Plot, width: i32) -> Result<()> {
        // Nothing real stands further out than the tool is wide.
        let sane = |s: &&LandSample| {
            let size = s.drop_mm.abs() + s.u_mm.abs();
            s.arc_deg.is_finite() && size <= self.facts.diameter_mm.abs()
        };
        let land: Vec<&LandSample> = self.flute.land.iter().filter(sane).collect();
        let side = |k: f64| {
            let drop = |s: &&LandSample| (s.arc_deg, self.shown(s.drop_mm + k * s.u_mm));
            land.iter().map(drop).collect::<Vec<_>>()
        };
        let apart = |a: (f64, f64), b: (f64, f64)| clip::in_hole(self.flute, a.0, b.0);
        for outline in clip::bands(&side(-COVERAGE), &side(COVERAGE), self.window, apart) {
            plot.draw(&Pen::Band.on(Polygon::new(outline, FILL)))
                .map_err(undrawn)?;
        }
        let apart = self.window.x[1] * DOTS / f64::from(width.max(1));
        let mut next = f64::NEG_INFINITY;
        for (arc, drop) in side(0.0) {
            if arc >= next && self.window.holds((arc, drop)) {
                plot.draw(&Pen::Measured.on(Circle::new((arc, drop), 11, FILL)))
                    .map_err(undrawn)?;
                next = arc + apart;
            }
        }
        let fitted = self.flute.fitted.iter();
        let fitted = fitted.map(|s| (s.arc_deg, self.shown(s.drop_mm)));
        let pen = match &self.flute.curve {
            Some(curve) if !curve.trusted => Pen::Doubted,
            _ => Pen::Fitted,
        };
        for run in clip::runs(fitted, self.window, |_, _| false) {
            line(plot, run, pen)?;
        }
        Ok(())
    }

    /// The drops that are allowed at the check distance, as a gate that the land has to pass.
    fn drop(&self, plot: &Plot, width: i32) -> Result<()> {
        let [left, right] = self.window.x;
        let [top, foot] = self.window.y;
        let check = self.facts.check_deg;
        let limit = self.facts.limits.get("drop");
        let Some(limit) = limit.filter(|_| (left..=right).contains(&check)) else {
            return Ok(());
        };
        let post = |bound: Option<f64>, open: f64| {
            let end = bound.map_or(open, |mm| self.shown(mm));
            (check, end.clamp(top, foot))
        };
        let (low, high) = (post(limit.min, top), post(limit.max, foot));
        line(plot, vec![low, high], Pen::Window)?;
        let reach = (right - left) * 90.0 / f64::from(width.max(1));
        for (end, bound) in [(low.1, limit.min), (high.1, limit.max)] {
            if bound.is_some() {
                let bar = [(check - reach).max(left), (check + reach).min(right)];
                line(plot, bar.map(|arc| (arc, end)).to_vec(), Pen::Window)?;
            }
        }
        Ok(())
    }

    /// Where clearance is least: as far below the work as its figure says.
    fn nearest(&self, plot: &Plot) -> Result<()> {
        let known = self.least.and_then(|least| least.at_deg.zip(least.value));
        let Some((at, clearance)) = known else {
            return Ok(());
        };
        let arc = (at - self.flute.edge_deg).rem_euclid(360.0);
        // Rounding may put it a little before the edge, which is almost a turn behind it.
        let arc = if arc > 359.9 { 0.0 } else { arc };
        // Outside the window it stands on the border, and the title has the figure.
        let [top, foot] = self.window.y;
        let drop = self.shown(clearance + rise(self.facts, arc));
        let place = (arc, drop.clamp(top, foot));
        if !self.window.holds(place) {
            return Ok(());
        }
        plot.draw(&Pen::Least.on(TriangleMarker::new(place, 85, FILL)))
            .map_err(undrawn)
    }
}

fn line(plot: &Plot, points: Vec<(f64, f64)>, pen: Pen) -> Result<()> {
    plot.draw(&pen.on(PathElement::new(points, LINE)))
        .map_err(undrawn)
}

/// How much higher the work stands at an arc behind the edge because the tool is fed, in mm; 0 for
/// a radial surface (`s = f phi / 2 pi`).
pub(super) fn rise(facts: &FeatureFacts, arc_deg: f64) -> f64 {
    facts.feed_mm_per_rev.unwrap_or(0.0) * arc_deg / 360.0
}
