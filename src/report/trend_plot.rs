//! One plot of a value over the regrinds of a tool, with the line through it and its band.

use super::canvas::{Canvas, FILL, LINE, Pen, undrawn};
use super::clip::{Window, bands, runs};
use super::figures::trimmed;
use super::sheet::{Anchor, Area, SMALL, Sheet};
use super::{scale, typeface, words};
use crate::error::Result;
use crate::record::{Bounds, Trend};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::{
    Cartesian2d, ChartBuilder, Circle, DrawingArea, IntoDrawingArea, PathElement, Polygon,
    Rectangle,
};
use std::ops::Range;

/// Room for so many regrinds ahead is there even beside few.
const LEAST_AHEAD: u32 = 6;

/// What a plot shows: how many regrinds there were, and how many ahead there is room for.
#[derive(Clone, Copy)]
pub(super) struct Over {
    pub regrinds: u32,
    pub ahead: u32,
}

impl Over {
    pub(super) fn of(trend: &Trend) -> Self {
        let regrinds = u32::try_from(trend.regrinds.len()).unwrap_or(u32::MAX);
        let outlook = trend.outlook.as_ref();
        let last = outlook.and_then(|it| it.left_interval.map(|[_, high]| high).or(it.left));
        // One more than are left shows that it is one too many; what was measured keeps half.
        let ahead = last.map_or(0, |last| (last + 1).min(regrinds.max(LEAST_AHEAD)));
        Self { regrinds, ahead }
    }

    pub(super) fn slots(self) -> i32 {
        i32::try_from(self.regrinds.saturating_add(self.ahead)).unwrap_or(i32::MAX)
    }

    /// Where the plots end.
    pub(super) fn right(self) -> f64 {
        f64::from(self.regrinds) + f64::from(self.ahead) - 0.5
    }
}

/// A value over the regrinds: which regrind (counted from 0), beside the others there, and value.
pub(super) struct Point {
    pub at: f64,
    pub value: f64,
    pub interval: Option<[f64; 2]>,
    /// The flute that it is of, where there are several.
    pub flute: Option<u32>,
}

/// One plot.
pub(super) struct Plot {
    pub title: String,
    pub points: Vec<Point>,
    /// Lowest and highest allowed, as they were at each regrind.
    pub limits: Vec<Option<Bounds>>,
    /// The line through the points, where one is laid.
    pub line: Option<Line>,
    /// Whether the change from each regrind to the next is said.
    pub changes: bool,
}

/// A line with its band in the unit that is shown, and what is said of it.
pub(super) struct Line {
    /// Place, value, and the band's ends where they are known.
    pub places: Vec<(f64, f64, Option<[f64; 2]>)>,
    /// Regrinds that are left, on the line.
    pub left: Vec<(f64, f64)>,
    pub said: String,
}

/// The values that a plot reaches over; nothing where there is nothing to show.
fn range(plot: &Plot) -> Option<[f64; 2]> {
    let ends = plot.points.iter().flat_map(|it| {
        let [low, high] = it.interval.unwrap_or([it.value; 2]);
        [low, it.value, high]
    });
    let limits = plot.limits.iter().flatten();
    let known = ends.chain(limits.flat_map(|it| [it.min, it.max]).flatten());
    let line = plot.line.iter().flat_map(|line| &line.places);
    let known = known.chain(line.clone().map(|(_, value, _)| *value));
    let known = known.filter(|it| it.is_finite());
    let (low, high) = known.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), it| {
        (low.min(it), high.max(it))
    });
    if plot.points.is_empty() || low > high {
        return None;
    }
    let span = match high - low {
        span if span > 0.0 => span,
        _ => high.abs().max(1.0) * 0.01,
    };
    // A band from three points alone may be wider than everything else on the page.
    let band = line.filter_map(|(_, _, band)| *band);
    let band = band.fold([low, high], |[low, high], [from, to]| {
        [low.min(from), high.max(to)]
    });
    let (least, most) = (low - 0.15 * span, high + 0.15 * span);
    let reach = |end: f64| end.clamp(low - span, high + span);
    Some([reach(band[0]).min(least), reach(band[1]).max(most)])
}

type On<'a> = DrawingArea<Canvas<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Draws it.
///
/// # Errors
/// As [`super::svg`].
pub(super) fn draw(sheet: &mut Sheet, area: Area, plot: &Plot, over: Over) -> Result<()> {
    let Some([low, high]) = range(plot) else {
        let middle = (area.x + area.w / 2, area.y + area.h / 2);
        sheet.text(middle, Anchor::Middle, SMALL, "not measured");
        return Ok(());
    };
    let ticks = scale::ticks([low, high], (area.h / 450).clamp(3, 6) as usize);
    let right = over.right();
    {
        let root = Canvas::new(sheet, area).into_drawing_area();
        let chart = ChartBuilder::on(&root)
            .build_cartesian_2d(-0.5..right, low..high)
            .map_err(undrawn)?;
        let on = chart.plotting_area();
        let line = |points: Vec<(f64, f64)>, pen: Pen| {
            on.draw(&pen.on(PathElement::new(points, LINE)))
                .map_err(undrawn)
        };
        let window = Window {
            x: [-0.5, right],
            y: [low, high],
        };
        if let Some(line) = &plot.line {
            band(on, line, window)?;
        }
        for (value, _) in &ticks {
            line(vec![(-0.5, *value), (right, *value)], Pen::Grid)?;
        }
        if over.ahead > 0 {
            let today = f64::from(over.regrinds) - 0.5;
            line(vec![(today, low), (today, high)], Pen::Grid)?;
        }
        for (at, limit) in stretches(&plot.limits) {
            let (from, to) = (f64::from(at.start) - 0.5, f64::from(at.end) - 0.5);
            for (bound, end) in [limit.min, limit.max].into_iter().zip([low, high]) {
                if let Some(bound) = bound.filter(|bound| bound.is_finite()) {
                    let corners = [(from, bound.max(end)), (to, bound.min(end))];
                    on.draw(&Pen::Barred.on(Rectangle::new(corners, FILL)))
                        .map_err(undrawn)?;
                    line(vec![(from, bound), (to, bound)], Pen::Limit)?;
                }
            }
        }
        if let Some(of) = &plot.line {
            let places = of.places.iter().map(|(at, value, _)| (*at, *value));
            for run in runs(places, window, |_, _| false) {
                line(run, Pen::Fitted)?;
            }
            for place in of.left.iter().filter(|place| window.holds(**place)) {
                on.draw(&Pen::Window.on(Circle::new(*place, 62, LINE)))
                    .map_err(undrawn)?;
            }
        }
        for point in &plot.points {
            if let Some([from, to]) = point.interval {
                line(vec![(point.at, from), (point.at, to)], Pen::Fitted)?;
            }
            on.draw(&Pen::Least.on(Circle::new((point.at, point.value), 56, FILL)))
                .map_err(undrawn)?;
        }
        line(vec![(-0.5, high), (-0.5, low), (right, low)], Pen::Axis)?;
    }
    for (value, label) in &ticks {
        let share = (high - value) / (high - low);
        let y = area.y + (share * f64::from(area.h)).round() as i32 + 80;
        let label = match label.contains('e') {
            true => trimmed(*value),
            false => label.clone(),
        };
        sheet.text((area.x - 80, y), Anchor::End, SMALL, &words::minus(&label));
    }
    let place = |at: f64, value: f64| {
        let (x, y) = ((at + 0.5) / (right + 0.5), (high - value) / (high - low));
        let along = |share: f64, length: i32| (share * f64::from(length)).round() as i32;
        (area.x + along(x, area.w), area.y + along(y, area.h))
    };
    numbers(sheet, plot, area.y, place);
    if plot.changes {
        changes(sheet, plot, place);
    }
    Ok(())
}

/// Each flute's number over its bar, where there is room for all beside each other.
fn numbers(sheet: &mut Sheet, plot: &Plot, top: i32, place: impl Fn(f64, f64) -> (i32, i32)) {
    let wide = |point: &Point| {
        let number = point.flute.map(|flute| flute.to_string());
        typeface::width(&number.unwrap_or_default(), SMALL.size, SMALL.weight) + 60
    };
    let numbered: Vec<&Point> = plot.points.iter().filter(|it| it.flute.is_some()).collect();
    let room = |pair: &[&Point]| {
        let [one, next] = [pair[0], pair[1]].map(|point| place(point.at, 0.0).0);
        next - one >= wide(pair[0]).max(wide(pair[1]))
    };
    if !numbered.windows(2).all(room) {
        return;
    }
    for point in numbered {
        let [_, end] = point.interval.unwrap_or([point.value; 2]);
        let (x, y) = place(point.at, end);
        // Over a bar that leaves the plot it stands in the plot.
        let y = (y - 70).max(top + 200);
        let number = point.flute.map_or(String::new(), |flute| flute.to_string());
        sheet.text((x, y), Anchor::Middle, SMALL, &number);
    }
}

/// What a regrind took, at the middle of the way to the next.
fn changes(sheet: &mut Sheet, plot: &Plot, place: impl Fn(f64, f64) -> (i32, i32)) {
    for pair in plot.points.windows(2) {
        let [one, next] = [&pair[0], &pair[1]];
        let change = trimmed(((next.value - one.value) * 1e4).round() / 1e4);
        let sign = if next.value > one.value { "+" } else { "" };
        let said = words::minus(&format!("{sign}{change}"));
        let [(from, _), (to, _)] = [one, next].map(|it| place(it.at, it.value));
        if typeface::width(&said, SMALL.size, SMALL.weight) + 120 > to - from {
            continue;
        }
        let (x, y) = place((one.at + next.at) / 2.0, (one.value + next.value) / 2.0);
        sheet.text((x + 60, y - 110), Anchor::Start, SMALL, &said);
    }
}

/// The same limits beside each other in one, so that no dash begins anew at each regrind.
fn stretches(limits: &[Option<Bounds>]) -> Vec<(Range<u32>, Bounds)> {
    let mut stretches: Vec<(Range<u32>, Bounds)> = Vec::new();
    for (at, limit) in (0..).zip(limits) {
        let Some(limit) = *limit else {
            continue;
        };
        match stretches.last_mut() {
            Some((range, before)) if range.end == at && *before == limit => range.end = at + 1,
            _ => stretches.push((at..at + 1, limit)),
        }
    }
    stretches
}

/// The band about a line, where it is known.
fn band(on: &On<'_>, line: &Line, window: Window) -> Result<()> {
    let side = |end: usize| {
        let places = line.places.iter();
        let at = |(at, _, band): &(f64, f64, Option<[f64; 2]>)| {
            (*at, band.map_or(f64::NAN, |band| band[end]))
        };
        places.map(at).collect::<Vec<_>>()
    };
    for outline in bands(&side(0), &side(1), window, |_, _| false) {
        on.draw(&Pen::Band.on(Polygon::new(outline, FILL)))
            .map_err(undrawn)?;
    }
    Ok(())
}
