//! A tool through its regrinds: as text, and as a page of four plots over the regrinds.

use super::canvas::{Canvas, Pen, undrawn};
use super::figures::{Units, allowed, trimmed};
use super::page::{MARGIN, TOP, WIDTH};
use super::sheet::{Anchor, Area, BODY, HEAD, PAGE_HEIGHT, SMALL, STRONG, Sheet};
use super::{scale, typeface, words};
use crate::error::Result;
use crate::record::{Bounds, FOLLOWED, Followed, Outlook, Trend};
use plotters::prelude::{ChartBuilder, Circle, IntoDrawingArea, PathElement, Rectangle};

/// What is left of a feature in a sentence.
fn left(of: &Trend, units: Units) -> String {
    let Some(outlook) = &of.outlook else {
        return "One regrind tells no trend: two give an estimate, three an interval.".to_owned();
    };
    let Outlook {
        loss_mm,
        left,
        left_interval,
        ..
    } = *outlook;
    if loss_mm <= 1e-9 {
        return "The stated diameters do not fall: what is left cannot be told from them. Write each regrind's diameter on its tool card.".to_owned();
    }
    let rounded = (loss_mm * 1e4).round() / 1e4;
    let loss = format!(
        "A regrind takes {} off the diameter.",
        units.length(rounded)
    );
    let (Some(least), Some(left)) = (of.least_diameter_mm, left) else {
        return format!("{loss} Name the smallest allowed diameter to learn how many are left.");
    };
    let least = units.length(least);
    let left = match left {
        1 => "1 regrind is left".to_owned(),
        left => format!("{left} regrinds are left"),
    };
    let sure = match left_interval {
        Some([low, high]) => format!("95 % prediction interval {low} to {high}"),
        None => "too few regrinds for an interval: three are needed".to_owned(),
    };
    format!("{loss} {left} until Ø {least} by the line, {sure}.")
}

/// The trends of a tool as text.
pub fn trend_text(trends: &[Trend], units: Units) -> String {
    let mut text = String::new();
    for of in trends {
        text += &format!("{}  {}\n", of.tool, of.feature);
        for regrind in &of.regrinds {
            text += &format!(
                "  {:<10}  record {}  Ø {}  {}\n",
                regrind.taken.get(..10).unwrap_or(&regrind.taken),
                regrind.record,
                units.length(regrind.diameter_mm),
                words::word(regrind.verdict)
            );
            for name in FOLLOWED {
                let its = regrind.figures.iter().filter(|it| it.name == name);
                let worst = its.min_by(|a, b| inside(a).total_cmp(&inside(b)));
                if let Some(worst) = worst {
                    text += &format!("      {name:<15} {}\n", told(worst, units));
                }
            }
        }
        text += &format!("  {}\n", left(of, units));
    }
    if let Some(of) = trends.first() {
        text += "taken for granted\n";
        for assumption in &of.assumptions {
            text += &format!("  {assumption}\n");
        }
    }
    text
}

/// How far inside its nearer limit; its value where it has none.
fn inside(of: &Followed) -> f64 {
    let bounds = of.limit.unwrap_or(Bounds {
        min: Some(0.0),
        max: None,
    });
    let above = bounds.min.map_or(f64::INFINITY, |min| of.value - min);
    above.min(bounds.max.map_or(f64::INFINITY, |max| max - of.value))
}

fn told(of: &Followed, units: Units) -> String {
    let decimals = match (of.unit.as_str(), units) {
        ("deg", _) => 3,
        (_, Units::Inch) => 5,
        _ => 4,
    };
    let number = |value: f64| format!("{:.decimals$}", units.shown(value, &of.unit));
    let mut text = number(of.value);
    if let Some([low, high]) = of.interval {
        text += &format!(" ({} … {})", number(low), number(high));
    }
    text += &format!(" {}", units.sign(&of.unit));
    if of.limit.is_some() {
        text += &format!(", allowed {}", allowed(of.limit, &of.unit, units));
    }
    if let Some(flute) = of.flute {
        text += &format!(", worst on flute {flute}");
    }
    text
}

/// A value over the regrinds: which regrind (counted from 0), beside the others there, and value.
struct Point {
    at: f64,
    value: f64,
    interval: Option<[f64; 2]>,
}

/// One plot.
struct Plot {
    title: String,
    points: Vec<Point>,
    /// Lowest and highest allowed, as they were at each regrind.
    limits: Vec<Option<Bounds>>,
}

const GAP: i32 = 420;
const LABELS: i32 = 1100;
const DATES: i32 = 400;
const NAME: i32 = 420;

/// The trend of one feature as one A4 page in SVG.
///
/// # Errors
/// As [`super::svg`].
pub fn trend_svg(of: &Trend, units: Units) -> Result<String> {
    let mut sheet = Sheet::new();
    let title = format!("{}, {}: through its regrinds", of.tool, of.feature);
    let mut y = TOP + 300;
    let shown = typeface::fit(&title, HEAD.size, HEAD.weight, WIDTH);
    sheet.text((MARGIN, y), Anchor::Start, HEAD, &shown);
    let left = left(of, units);
    for line in typeface::wrap(&words::printed(&left), BODY.size, BODY.weight, WIDTH, 3) {
        y += 400;
        sheet.text((MARGIN, y), Anchor::Start, BODY, &line);
    }
    y += 180;
    let mut foot = PAGE_HEIGHT - 1000;
    let about =
        "Dots are single flutes, bars their 95 % intervals; what is hatched is not allowed.";
    let notes = [about.to_owned()].into_iter();
    let notes = notes.chain(
        of.assumptions
            .iter()
            .map(|it| format!("Taken for granted: {it}.")),
    );
    let notes = notes.chain(words::CAUTIONS.map(str::to_owned));
    let notes: Vec<String> = notes
        .flat_map(|it| typeface::wrap(&it, SMALL.size, SMALL.weight, WIDTH, 2))
        .collect();
    for line in notes.iter().rev() {
        sheet.text((MARGIN, foot), Anchor::Start, SMALL, line);
        foot -= 300;
    }
    let plots = plots(of, units);
    let h = (foot - y - DATES) / plots.len().max(1) as i32;
    for plot in &plots {
        let area = Area {
            x: MARGIN + LABELS,
            y: y + NAME,
            w: WIDTH - LABELS,
            h: h - NAME - GAP / 2,
        };
        sheet.text((MARGIN, y + 290), Anchor::Start, STRONG, &plot.title);
        draw(&mut sheet, area, plot, of.regrinds.len())?;
        y += h;
    }
    dates(&mut sheet, y + 130, of);
    Ok(sheet.finish(&title, &left))
}

/// The days of the regrinds below the plots, as many as there is room for.
fn dates(sheet: &mut Sheet, y: i32, of: &Trend) {
    let n = of.regrinds.len().max(1) as i32;
    let slot = (WIDTH - LABELS) / n;
    let wide = typeface::width("0000-00-00 ", SMALL.size, SMALL.weight);
    let every = (wide + slot - 1) / slot.max(1);
    for (index, regrind) in (0..).zip(&of.regrinds) {
        if index % every.max(1) == 0 {
            let day = regrind.taken.get(..10).unwrap_or(&regrind.taken);
            let x = MARGIN + LABELS + index * slot + slot / 2;
            sheet.text((x, y), Anchor::Middle, SMALL, day);
        }
    }
}

fn plots(of: &Trend, units: Units) -> Vec<Plot> {
    let diameters = (0u32..).zip(&of.regrinds).map(|(at, regrind)| Point {
        at: f64::from(at),
        value: units.shown(regrind.diameter_mm, "mm"),
        interval: None,
    });
    let least = of.least_diameter_mm.map(|mm| Bounds {
        min: Some(units.shown(mm, "mm")),
        max: None,
    });
    let mut all = vec![Plot {
        title: format!("diameter as stated, {}", units.sign("mm")),
        points: diameters.collect(),
        limits: vec![least; of.regrinds.len()],
    }];
    for name in FOLLOWED {
        let unit = if name == "relief-angle" { "deg" } else { "mm" };
        let mut points = Vec::new();
        let mut limits = Vec::new();
        for (at, regrind) in (0u32..).zip(&of.regrinds) {
            let its = || regrind.figures.iter().filter(|it| it.name == name);
            let count = its().count() as f64;
            points.extend((0u32..).zip(its()).map(|(beside, it)| Point {
                at: f64::from(at) + 0.5 * ((f64::from(beside) + 0.5) / count - 0.5),
                value: units.shown(it.value, unit),
                interval: it.interval.map(|it| it.map(|end| units.shown(end, unit))),
            }));
            let limit = its().find_map(|it| it.limit);
            let shown = |bound: Option<f64>| bound.map(|bound| units.shown(bound, unit));
            limits.push(limit.map(|it| Bounds {
                min: shown(it.min),
                max: shown(it.max),
            }));
        }
        all.push(Plot {
            title: format!("{name}, {}", units.sign(unit)),
            points,
            limits,
        });
    }
    all
}

fn draw(sheet: &mut Sheet, area: Area, plot: &Plot, regrinds: usize) -> Result<()> {
    let ends = plot.points.iter().flat_map(|it| {
        let [low, high] = it.interval.unwrap_or([it.value; 2]);
        [low, it.value, high]
    });
    let limits = plot.limits.iter().flatten();
    let known = ends.chain(limits.flat_map(|it| [it.min, it.max]).flatten());
    let known = known.filter(|it| it.is_finite());
    let (low, high) = known.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), it| {
        (low.min(it), high.max(it))
    });
    if plot.points.is_empty() || low > high {
        let middle = (area.x + area.w / 2, area.y + area.h / 2);
        sheet.text(middle, Anchor::Middle, SMALL, "not measured");
        return Ok(());
    }
    let span = match high - low {
        span if span > 0.0 => span,
        _ => high.abs().max(1.0) * 0.01,
    };
    let (low, high) = (low - 0.15 * span, high + 0.15 * span);
    let ticks = scale::ticks([low, high], (area.h / 450).clamp(3, 6) as usize);
    let right = regrinds as f64 - 0.5;
    {
        let root = Canvas::new(sheet, area).into_drawing_area();
        let chart = ChartBuilder::on(&root)
            .build_cartesian_2d(-0.5..right, low..high)
            .map_err(undrawn)?;
        let on = chart.plotting_area();
        let line = |points: Vec<(f64, f64)>, pen: Pen| {
            on.draw(&PathElement::new(points, pen.line()))
                .map_err(undrawn)
        };
        for (value, _) in &ticks {
            line(vec![(-0.5, *value), (right, *value)], Pen::Grid)?;
        }
        for (at, limit) in (0u32..).zip(&plot.limits) {
            let (from, to) = (f64::from(at) - 0.5, f64::from(at) + 0.5);
            let bounds = limit.map_or([None, None], |it| [it.min, it.max]);
            for (bound, end) in bounds.into_iter().zip([low, high]) {
                if let Some(bound) = bound.filter(|bound| bound.is_finite()) {
                    let corners = [(from, bound.max(end)), (to, bound.min(end))];
                    on.draw(&Rectangle::new(corners, Pen::Barred.fill()))
                        .map_err(undrawn)?;
                    line(vec![(from, bound), (to, bound)], Pen::Limit)?;
                }
            }
        }
        for point in &plot.points {
            if let Some([from, to]) = point.interval {
                line(vec![(point.at, from), (point.at, to)], Pen::Fitted)?;
            }
            on.draw(&Circle::new((point.at, point.value), 48, Pen::Least.fill()))
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
    Ok(())
}
