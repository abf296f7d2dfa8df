//! A match as a picture: each land before and after, what comes off, where it is touched first.

use super::canvas::{Canvas, FILL, LINE, Pen, undrawn};
use super::page::{FOOT, MARGIN, TOP, WIDTH};
use super::setup_text::{shown, will};
use super::sheet::{Anchor, Area, BODY, Face, HEAD, LEADING, SMALL, STRONG, Sheet};
use super::typeface;
use super::{page, scale};
use crate::error::Result;
use crate::quantity::Units;
use crate::record::{CutSetup, GroundLand, Setup, SpotFacts};
use plotters::prelude::{ChartBuilder, Circle, IntoDrawingArea, PathElement, Polygon};

/// The picture of a match on one page of A4.
///
/// # Errors
/// `internal` when the plots cannot be drawn.
pub fn match_svg(setup: &Setup, units: Units) -> Result<String> {
    let mut sheet = Sheet::new();
    let y = heading(&mut sheet, setup, "match");
    let lands: Vec<(&CutSetup, &GroundLand)> = setup
        .cuts
        .iter()
        .flat_map(|cut| cut.lands.iter().map(move |land| (cut, land)))
        .collect();
    let columns = if lands.len() > 4 { 2 } else { 1 };
    let rows = lands.len().div_ceil(columns).max(1) as i32;
    let top = legend(&mut sheet, y, setup, units);
    // A plot much higher than this says no more, and leaves the page's end to the notes.
    let height = ((FOOT - top) / rows).min(5200);
    let gap = 700;
    let width = (WIDTH - gap * (columns as i32 - 1)) / columns as i32;
    for (at, (cut, land)) in lands.iter().enumerate() {
        let (row, column) = ((at / columns) as i32, (at % columns) as i32);
        let area = Area {
            x: MARGIN + column * (width + gap),
            y: top + row * height,
            w: width,
            h: height,
        };
        plot(&mut sheet, area, cut, land, units)?;
    }
    let title = format!("{} {}: match", setup.tool, setup.tool_name);
    let said = super::setup_text(setup, units).join(" ");
    Ok(sheet.finish(&title, &said))
}

/// Tool, grinder, goal and what is to be expected; gives where the page goes on.
pub(super) fn heading(sheet: &mut Sheet, setup: &Setup, what: &str) -> i32 {
    // Of a long number enough is left for the name behind it.
    let number = typeface::fit(&setup.tool, HEAD.size, HEAD.weight, WIDTH * 3 / 5);
    let head = format!("{number} {}", setup.tool_name);
    let head = typeface::fit(&head, HEAD.size, HEAD.weight, WIDTH);
    sheet.text((MARGIN, TOP + 300), Anchor::Start, HEAD, &head);
    let goal = match setup.goal.as_str() {
        "as-it-was" => "relief as it was",
        _ => "relief as the card wants",
    };
    let day = page::day(&setup.taken);
    let under = match &setup.wheel {
        Some(wheel) => named(
            BODY,
            WIDTH,
            [&setup.grinder, &wheel.name],
            |[grinder, wheel]| {
                format!("{what} for {grinder}, wheel {wheel}: {goal}; measured {day}")
            },
        ),
        None => named(BODY, WIDTH, [&setup.grinder], |[grinder]| {
            format!("{what} for {grinder}: {goal}; measured {day}")
        }),
    };
    sheet.text((MARGIN, TOP + 760), Anchor::Start, BODY, &under);
    let expected = format!("predicted: {}", will(setup.verdict));
    sheet.text((MARGIN, TOP + 1160), Anchor::Start, STRONG, &expected);
    sheet.rule(MARGIN, TOP + 1320, WIDTH);
    TOP + 1320
}

/// A line with names in it, cut short where they are too long for the room: what is said of them counts.
fn named<const N: usize>(
    face: Face,
    room: i32,
    names: [&str; N],
    line: impl Fn([&str; N]) -> String,
) -> String {
    let wide = |text: &str| typeface::width(text, face.size, face.weight);
    let even = (room - wide(&line([""; N]))).max(0) / N as i32;
    // A short name leaves what it does not need to the others.
    let spare: i32 = names.iter().map(|name| (even - wide(name)).max(0)).sum();
    let long = names.iter().filter(|name| wide(name) > even).count().max(1);
    let share = even + spare / long as i32;
    let cut = names.map(|name| typeface::fit(name, face.size, face.weight, share));
    let whole = line(cut.each_ref().map(String::as_str));
    typeface::fit(&whole, face.size, face.weight, room)
}

/// The settings of each cut, and what the lines of the plots are.
fn legend(sheet: &mut Sheet, y: i32, setup: &Setup, units: Units) -> i32 {
    let mut y = y + 150;
    let mm = |value: f64| shown(value, "mm", units);
    for cut in &setup.cuts {
        y += LEADING;
        let features = cut.features.join(", ");
        let line = named(BODY, WIDTH, [&features], |[features]| {
            format!(
                "{} in-feed, {features}: throw {}, cam angle {:.1}°, skim {} after first touch",
                cut.direction,
                mm(cut.throw_mm),
                cut.cam_angle_deg,
                mm(cut.skim_sure_mm)
            )
        });
        sheet.text((MARGIN, y), Anchor::Start, BODY, &line);
    }
    y += LEADING + 100;
    let mut x = MARGIN;
    for (class, name) in [
        ("measured", "old land, as measured"),
        ("fitted", "new land"),
        ("band", "what comes off"),
    ] {
        match class {
            "fitted" => sheet.path(class, &format!("M{x} {}h500", y - 80)),
            "band" => {
                let area = Area {
                    x,
                    y: y - 200,
                    w: 500,
                    h: 220,
                };
                sheet.rect(class, area);
            }
            _ => {
                for at in 0..4 {
                    sheet.circle(class, (x + 60 + at * 130, y - 80), 32);
                }
            }
        }
        sheet.text((x + 620, y), Anchor::Start, SMALL, name);
        let wide = typeface::width(name, SMALL.size, SMALL.weight);
        x += 620 + wide + 500;
    }
    y + 250
}

/// One land: old and new height over the arc behind the edge.
fn plot(
    sheet: &mut Sheet,
    area: Area,
    cut: &CutSetup,
    land: &GroundLand,
    units: Units,
) -> Result<()> {
    let title = named(STRONG, area.w, [&land.feature], |[feature]| {
        format!(
            "{feature} flute {}: {} off at the edge",
            land.flute,
            shown(land.stock_at_edge_mm, "mm", units)
        )
    });
    sheet.text((area.x, area.y + 320), Anchor::Start, STRONG, &title);
    let inner = Area {
        x: area.x + 1300,
        y: area.y + 520,
        w: area.w - 1500,
        h: area.h - 520 - 800,
    };
    let scaled = |value: f64| units.shown(value, "mm");
    let heights = land.places.iter().flat_map(|[_, old, new]| [*old, *new]);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), it| {
        (low.min(scaled(it)), high.max(scaled(it)))
    });
    let end = land.places.last().map_or(1.0, |place| place[0]);
    if low >= high || end <= 0.0 {
        return Ok(());
    }
    let span = high - low;
    let (low, high) = (low - 0.08 * span, high + 0.08 * span);
    let ticks = scale::ticks([low, high], (inner.h / 500).clamp(3, 6) as usize);
    let on = On {
        inner,
        end,
        low,
        high,
    };
    lines(sheet, &on, land, &ticks, units)?;
    numbers(sheet, &on, &ticks, units);
    for (spot, word) in [
        (&cut.first_touch, "touched first"),
        (&cut.last_clean, "clean last"),
    ] {
        if is_here(spot, land) {
            mark(sheet, land, spot, word, &on, units);
        }
    }
    Ok(())
}

/// The numbers along both sides.
fn numbers(sheet: &mut Sheet, on: &On, ticks: &[(f64, String)], units: Units) {
    let inner = on.inner;
    let across = scale::ticks([0.0, on.end], 6);
    for (value, text) in ticks {
        sheet.text(
            (inner.x - 120, on.place(*value) + 75),
            Anchor::End,
            SMALL,
            text,
        );
    }
    for (at, text) in &across {
        let below = (on.along(*at), inner.y + inner.h + 280);
        sheet.text(below, Anchor::Middle, SMALL, text);
    }
    let below = inner.y + inner.h + 560;
    let unit = units.sign("mm");
    let axes = format!("{unit} under the highest place, over degrees behind the edge");
    sheet.text((inner.x, below), Anchor::Start, SMALL, &axes);
}

/// The old land, the new one, and what comes off between them.
fn lines(
    sheet: &mut Sheet,
    at: &On,
    land: &GroundLand,
    ticks: &[(f64, String)],
    units: Units,
) -> Result<()> {
    let (end, low, high) = (at.end, at.low, at.high);
    let scaled = |value: f64| units.shown(value, "mm");
    let root = Canvas::new(sheet, at.inner).into_drawing_area();
    let chart = ChartBuilder::on(&root)
        .build_cartesian_2d(0.0..end, low..high)
        .map_err(undrawn)?;
    let on = chart.plotting_area();
    let line = |points: Vec<(f64, f64)>, pen: Pen| {
        on.draw(&pen.on(PathElement::new(points, LINE)))
            .map_err(undrawn)
    };
    for (value, _) in ticks {
        line(vec![(0.0, *value), (end, *value)], Pen::Grid)?;
    }
    let old = land.places.iter().map(|[at, old, _]| (*at, scaled(*old)));
    let new = land.places.iter().map(|[at, _, new]| (*at, scaled(*new)));
    let off: Vec<(f64, f64)> = old.clone().chain(new.clone().rev()).collect();
    on.draw(&Pen::Band.on(Polygon::new(off, FILL)))
        .map_err(undrawn)?;
    for place in old {
        on.draw(&Pen::Measured.on(Circle::new(place, 26, FILL)))
            .map_err(undrawn)?;
    }
    line(new.collect(), Pen::Fitted)?;
    line(vec![(0.0, low), (end, low)], Pen::Axis)
}

fn is_here(spot: &SpotFacts, land: &GroundLand) -> bool {
    spot.feature == land.feature && spot.flute == land.flute
}

/// Where values of a plot lie on the page.
struct On {
    inner: Area,
    end: f64,
    low: f64,
    high: f64,
}

impl On {
    fn along(&self, at: f64) -> i32 {
        self.inner.x + (at / self.end * f64::from(self.inner.w)) as i32
    }

    fn place(&self, value: f64) -> i32 {
        let share = (self.high - value) / (self.high - self.low);
        self.inner.y + (share * f64::from(self.inner.h)) as i32
    }
}

/// A word at a place of the old land.
fn mark(sheet: &mut Sheet, land: &GroundLand, spot: &SpotFacts, word: &str, on: &On, units: Units) {
    let nearest = land.places.iter().min_by(|one, other| {
        let off = |it: &[f64; 3]| (it[0] - spot.behind_deg).abs();
        off(one).total_cmp(&off(other))
    });
    let Some([at, old, _]) = nearest else { return };
    let (x, y) = (on.along(*at), on.place(units.shown(*old, "mm")));
    sheet.circle("least", (x, y), 75);
    let left = x < on.inner.x + on.inner.w / 2;
    let anchor = if left { Anchor::Start } else { Anchor::End };
    let beside = if left { x + 140 } else { x - 140 };
    // Above the old land there is nothing but the frame; at the very top the word goes below it.
    let base = if y - 180 < on.inner.y {
        y + 330
    } else {
        y - 120
    };
    sheet.text((beside, base), anchor, SMALL, word);
}
