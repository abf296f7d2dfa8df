//! A tool through its regrinds as a page of four plots, with the line through its diameters.

use super::page::{MARGIN, TOP, WIDTH};
use super::sheet::{Anchor, Area, BODY, HEAD, PAGE_HEIGHT, SMALL, STRONG, Sheet};
use super::trend::left;
use super::trend_plot::{Line, Over, Plot, Point, draw};
use super::{figures, typeface, words};
use crate::error::Result;
use crate::quantity::Units;
use crate::record::{Bounds, FOLLOWED, Outlook, Trend};
use jiff::Timestamp;

/// Places of the line in a regrind.
const FINE: u32 = 8;

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
    let foot = notes(&mut sheet, of);
    let over = Over::of(of);
    let plots = plots(of, over, units);
    let h = (foot - y - DATES) / plots.len().max(1) as i32;
    for plot in &plots {
        let area = Area {
            x: MARGIN + LABELS,
            y: y + NAME,
            w: WIDTH - LABELS,
            h: h - NAME - GAP / 2,
        };
        sheet.text((MARGIN, y + 290), Anchor::Start, STRONG, &plot.title);
        if let Some(line) = &plot.line {
            let end = (MARGIN + WIDTH, y + 290);
            sheet.text(end, Anchor::End, STRONG, &line.said);
        }
        draw(&mut sheet, area, plot, over)?;
        y += h;
    }
    dates(&mut sheet, y + 130, of, over);
    Ok(sheet.finish(&title, &left))
}

/// What the marks mean and what was taken for granted, at the foot; gives where that begins.
fn notes(sheet: &mut Sheet, of: &Trend) -> i32 {
    let mut notes = vec![
        "Dots are single flutes, with their numbers, bars their 95 % intervals; what is hatched is not allowed. Between the dates stand the days that passed."
            .to_owned(),
    ];
    if let Some(outlook) = &of.outlook {
        let band = match outlook.scatter_mm {
            Some(_) => ", the band is where one more would lie with 95 % probability",
            None => "; with three or more it would have a band",
        };
        let rings = match outlook.left {
            Some(_) => "; rings on it are regrinds that are left",
            None => "",
        };
        notes.push(format!(
            "The line is laid through the diameters (least squares){band}{rings}."
        ));
    }
    let assumed = of.assumptions.iter();
    notes.extend(assumed.map(|it| format!("Taken for granted: {it}.")));
    notes.extend(words::CAUTIONS.map(str::to_owned));
    let notes: Vec<String> = notes
        .iter()
        .flat_map(|it| typeface::wrap(it, SMALL.size, SMALL.weight, WIDTH, 2))
        .collect();
    let mut foot = PAGE_HEIGHT - 1000;
    for line in notes.iter().rev() {
        sheet.text((MARGIN, foot), Anchor::Start, SMALL, line);
        foot -= 300;
    }
    foot
}

/// The days of the regrinds below the plots, as many as there is room for, and those ahead counted.
fn dates(sheet: &mut Sheet, y: i32, of: &Trend, over: Over) {
    let slot = (WIDTH - LABELS) / over.slots().max(1);
    let x = |index: i32| MARGIN + LABELS + index * slot + slot / 2;
    let wide = typeface::width("0000-00-00 ", SMALL.size, SMALL.weight);
    let every = ((wide + slot - 1) / slot.max(1)).max(1);
    for (index, regrind) in (0..).zip(&of.regrinds) {
        if index % every == 0 {
            let day = regrind.taken.get(..10).unwrap_or(&regrind.taken);
            sheet.text((x(index), y), Anchor::Middle, SMALL, day);
        }
    }
    if every == 1 {
        passed(sheet, y, of, (x(0), slot));
    }
    let first = over.slots() - i32::try_from(over.ahead).unwrap_or_default();
    let wide = typeface::width("+00 ", SMALL.size, SMALL.weight);
    let every = ((wide + slot - 1) / slot.max(1)).max(1);
    // The last day may reach over its place.
    let day = typeface::width("0000-00-00", SMALL.size, SMALL.weight) / 2 + wide / 2;
    let shown = (first - 1) / every.max(1) * every.max(1);
    for (ahead, index) in (1..).zip(first..over.slots()) {
        if (ahead - 1) % every == 0 && x(index) - x(shown) > day {
            sheet.text((x(index), y), Anchor::Middle, SMALL, &format!("+{ahead}"));
        }
    }
}

/// The days from each regrind to the next, between their dates where there is room.
fn passed(sheet: &mut Sheet, y: i32, of: &Trend, (first, slot): (i32, i32)) {
    let date = typeface::width("0000-00-00", SMALL.size, SMALL.weight);
    for (index, pair) in (0..).zip(of.regrinds.windows(2)) {
        let [Ok(one), Ok(next)] = [&pair[0], &pair[1]].map(|it| it.taken.parse::<Timestamp>())
        else {
            continue;
        };
        let days = (next.duration_since(one).as_hours() as f64 / 24.0).round();
        let said = format!("{days:+} d");
        if typeface::width(&said, SMALL.size, SMALL.weight) + date + 200 < slot {
            let x = first + index * slot + slot / 2;
            sheet.text((x, y), Anchor::Middle, SMALL, &said);
        }
    }
}

fn plots(of: &Trend, over: Over, units: Units) -> Vec<Plot> {
    let diameters = (0u32..).zip(&of.regrinds).map(|(at, regrind)| Point {
        at: f64::from(at),
        value: units.shown(regrind.diameter_mm, "mm"),
        interval: None,
        flute: None,
    });
    let least = of.least_diameter_mm.map(|mm| Bounds {
        min: Some(units.shown(mm, "mm")),
        max: None,
    });
    let mut all = vec![Plot {
        title: format!("diameter as stated, {}", units.sign("mm")),
        points: diameters.collect(),
        limits: vec![least; over.slots().unsigned_abs() as usize],
        line: of
            .outlook
            .as_ref()
            .map(|outlook| line(outlook, over, units)),
        changes: true,
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
                flute: it.flute,
            }));
            let limit = its().find_map(|it| it.limit);
            let shown = |bound: Option<f64>| bound.map(|bound| units.shown(bound, unit));
            limits.push(limit.map(|it| Bounds {
                min: shown(it.min),
                max: shown(it.max),
            }));
        }
        // A tool with one flute has no spread: the others have its room.
        if points.is_empty() {
            continue;
        }
        all.push(Plot {
            title: format!("{}, {}", figures::name(name), units.sign(unit)),
            points,
            limits,
            line: None,
            changes: false,
        });
    }
    all
}

fn line(outlook: &Outlook, over: Over, units: Units) -> Line {
    let shown = |mm: f64| units.shown(mm, "mm");
    let steps = (over.regrinds + over.ahead).saturating_sub(1) * FINE;
    let places = (0..=steps).map(|step| {
        let at = f64::from(step) / f64::from(FINE);
        let band = outlook.band_mm(at).map(|band| band.map(shown));
        (at, shown(outlook.line_mm(at)), band)
    });
    let left = (1..=outlook.left.unwrap_or_default().min(over.ahead)).map(|ahead| {
        let at = f64::from(over.regrinds - 1 + ahead);
        (at, shown(outlook.line_mm(at)))
    });
    let said = match (outlook.left, outlook.left_interval) {
        (Some(left), Some([low, high])) => format!("{left} left, 95 %: {low} to {high}"),
        (Some(left), None) => format!("{left} left, no interval from two"),
        (None, _) => String::new(),
    };
    Line {
        places: places.collect(),
        left: left.collect(),
        said,
    }
}
