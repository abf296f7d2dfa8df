//! The sheet to take to the machine: every line with its number, how near is near enough, and a box.

use super::match_page::heading;
use super::page::{FOOT, MARGIN, WIDTH};
use super::setup_text::shown;
use super::sheet::{Anchor, Area, BODY, LEADING, SMALL, STRONG, Sheet};
use super::typeface;
use crate::quantity::Units;
use crate::record::{Setup, SheetLine};

/// Where the numbers end.
const NUMBER: i32 = MARGIN + WIDTH - 3300;
/// Where a box stands.
const BOX: i32 = MARGIN + WIDTH - 320;
const BOX_SIZE: i32 = 300;
/// Lines of one setting: names may be long, and what is said behind them is what counts.
const LONGEST: usize = 12;
/// Above a part of the work, and below a line of it.
const PART: i32 = 560;
const AIR: i32 = 130;

/// The parts of the work with their titles, in its order.
const PARTS: &[(&str, &str)] = &[
    ("safety", "Before anything"),
    ("tool", "Tool and fixture"),
    ("height", "Height of centre"),
    ("throw", "Throw and cam angle"),
    ("swivel", "Swivels"),
    ("wheel", "Wheel"),
    ("touch", "First touch"),
    ("feed", "In-feed"),
    ("leaves", "What it will leave"),
    ("measure", "Afterwards"),
];

/// The sheet as A4 pages in SVG, one text each.
pub fn sheet_svg(setup: &Setup, units: Units) -> Vec<String> {
    let mut pages = Vec::new();
    let mut sheet = Sheet::new();
    let mut y = heading(&mut sheet, setup, "set-up sheet") + 100;
    for (part, title) in PARTS {
        let lines: Vec<&SheetLine> = setup.lines.iter().filter(|it| it.part == *part).collect();
        let Some(first) = lines.first() else { continue };
        if y + PART + height(first) > FOOT - 500 {
            y = turned(&mut pages, &mut sheet, setup);
        }
        y += PART;
        sheet.text((MARGIN, y), Anchor::Start, STRONG, title);
        y += 120;
        for line in lines {
            if y + height(line) > FOOT - 500 {
                y = turned(&mut pages, &mut sheet, setup);
            }
            y = draw(&mut sheet, y, line, units);
        }
    }
    finish(&mut pages, sheet, setup);
    pages
}

/// A new page; gives where it goes on.
fn turned(pages: &mut Vec<String>, sheet: &mut Sheet, setup: &Setup) -> i32 {
    let full = std::mem::replace(sheet, Sheet::new());
    finish(pages, full, setup);
    heading(sheet, setup, "set-up sheet") + 100
}

fn finish(pages: &mut Vec<String>, mut sheet: Sheet, setup: &Setup) {
    let number = pages.len() + 1;
    let digest = setup.worked_out_from.get(..12).unwrap_or("");
    let foot = format!(
        "page {number}; worked out from {digest}; predicted, not measured: measure after the grind"
    );
    sheet.text((MARGIN, FOOT), Anchor::Start, SMALL, &foot);
    let title = format!(
        "{} {}: set-up sheet, page {number}",
        setup.tool, setup.tool_name
    );
    pages.push(sheet.finish(&title, &foot));
}

fn wrapped(line: &SheetLine) -> Vec<String> {
    let room = match line.value {
        Some(_) => NUMBER - 2400 - MARGIN,
        None => BOX - 500 - MARGIN,
    };
    typeface::wrap(&line.what, BODY.size, BODY.weight, room, LONGEST)
}

fn height(line: &SheetLine) -> i32 {
    wrapped(line).len().max(1) as i32 * LEADING + AIR
}

fn draw(sheet: &mut Sheet, y: i32, line: &SheetLine, units: Units) -> i32 {
    let mut base = y;
    for text in wrapped(line) {
        base += LEADING;
        sheet.text((MARGIN, base), Anchor::Start, BODY, &text);
    }
    let first = y + LEADING;
    if let Some(value) = line.value {
        let number = shown(value, &line.unit, units);
        sheet.text((NUMBER, first), Anchor::End, STRONG, &number);
        if let Some(within) = line.within {
            let within = format!("± {}", shown(within, &line.unit, units));
            sheet.text((NUMBER + 250, first), Anchor::Start, SMALL, &within);
        }
    }
    let area = Area {
        x: BOX,
        y: first - BOX_SIZE + 50,
        w: BOX_SIZE,
        h: BOX_SIZE,
    };
    sheet.rect("axis", area);
    sheet.rule(MARGIN, base + AIR - 40, WIDTH);
    base + AIR
}
