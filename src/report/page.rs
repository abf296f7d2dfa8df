//! The whole page: what stands where on one sheet of A4.

use super::figures;
use super::sheet::{
    Anchor, Area, BODY, HEAD, LEADING, PAGE_HEIGHT, PAGE_WIDTH, SMALL, STRONG, Sheet,
};
use super::{lettering, noted, notes, plots, section, table, typeface, words, would_show};
use crate::error::Result;
use crate::quantity::Units;
use crate::record::{Flute, Record};

pub(super) const MARGIN: i32 = 1400;
pub(super) const WIDTH: i32 = PAGE_WIDTH - 2 * MARGIN;
pub(super) const TOP: i32 = 1300;
/// The lowest line of text.
pub(super) const FOOT: i32 = PAGE_HEIGHT - 1000;
pub(super) const BETWEEN: i32 = 280;
/// What drawings never need more height than.
const DRAWINGS: i32 = 12_400;
/// Lines for what would have shown.
const SHOWN: usize = 2;
/// Distance between the lines of the legend.
const LEGEND_LINE: i32 = 350;
/// Width of the column with the sections, and of one with two of them side by side.
const SECTIONS: [i32; 2] = [6400, 7400];

/// A record as one A4 page in SVG, lengths in millimetres.
///
/// The same record gives the same bytes.
///
/// # Errors
/// None that a record can cause; one with the code `internal` if a plot cannot be drawn.
pub fn svg(record: &Record) -> Result<String> {
    svg_in(record, Units::Metric)
}

/// The same with lengths in the unit that a person chose.
///
/// # Errors
/// As [`svg`].
pub fn svg_in(record: &Record, units: Units) -> Result<String> {
    let record = &*units.told(record);
    let mut sheet = Sheet::new();
    let y = heading(&mut sheet, record, units);
    let foot = footing(&mut sheet, record, units);

    let notes = notes::plan(record, WIDTH, units);
    let drawn = !record.features.is_empty();
    let shown = plots::shown(record).len();
    let least = match shown {
        _ if !drawn => 0,
        0 | 1 => 8000 + BETWEEN,
        _ => 9100 + BETWEEN,
    };
    let noted = noted::plan(record, WIDTH);
    let beside = match noted.height() {
        0 => 0,
        height => height + BETWEEN,
    };
    let room = foot - y - notes.height() - BETWEEN - beside;
    let table = table::plan(record, room - least, units);
    let drawings = (room - table.height() - BETWEEN).min(DRAWINGS);

    let full = |y: i32, h: i32| Area {
        x: MARGIN,
        y,
        w: WIDTH,
        h,
    };
    let mut y = y;
    if drawn {
        draw(&mut sheet, full(y, drawings), record, units)?;
        y += drawings + BETWEEN;
    }
    if !record.characteristics.is_empty() {
        table.draw(&mut sheet, full(y, table.height()), units);
        y += table.height() + BETWEEN;
    }
    notes.draw(&mut sheet, full(y, notes.height()));
    noted.draw(
        &mut sheet,
        full(y + notes.height() + BETWEEN, noted.height()),
    );

    let title = format!(
        "{}: {} {}",
        words::shouted(record),
        record.tool,
        record.about.tool_name
    );
    Ok(sheet.finish(&title, &description(record, units)))
}

/// Whether a page is the one of a record, in whichever unit a person chose.
///
/// # Errors
/// As [`svg`].
pub fn is_drawn_from(page: &[u8], record: &Record) -> Result<bool> {
    for units in WAYS {
        if svg_in(record, units)?.as_bytes() == page {
            return Ok(true);
        }
    }
    Ok(false)
}

/// The ways of drawing a record. An archive counts them, so that one more goes behind the others.
const WAYS: [Units; 2] = [Units::Metric, Units::Inch];

/// The page of a record in the way of this number; nothing beyond the last way.
pub fn svg_by(record: &Record, way: usize) -> Option<Result<String>> {
    let units = *WAYS.get(way)?;
    Some(svg_in(record, units))
}

/// Sections on the left, plots on the right. The legend stands under a single section, or below
/// everything where several sections fill their column.
pub(super) fn draw(sheet: &mut Sheet, area: Area, record: &Record, units: Units) -> Result<()> {
    let shown = plots::shown(record).len();
    let alone = shown == 1;
    let undrawn = plots::left_out(record);
    let under = match alone {
        true => legend_marks(record).len() as i32 * LEGEND_LINE,
        false => (2 + i32::from(undrawn.is_some())) * LEGEND_LINE,
    };
    let h = area.h - under;
    let side = SECTIONS[usize::from(shown > 2)];
    let sections = Area { w: side, h, ..area };
    section::draw(sheet, sections, record, units)?;
    let plots = Area {
        x: area.x + side,
        w: area.w - side,
        h: if alone { area.h } else { h },
        ..area
    };
    plots::draw(sheet, plots, record, None, units)?;
    let foot = Area {
        y: area.y + h,
        h: under,
        ..area
    };
    match alone {
        true => legend(
            sheet,
            Area {
                w: side,
                x: area.x + 900,
                ..foot
            },
            record,
            1,
        ),
        false => legend(sheet, foot, record, 4),
    }
    if let Some(undrawn) = undrawn {
        let undrawn = typeface::fit(&undrawn, SMALL.size, SMALL.weight, area.w);
        let y = area.y + area.h - LEGEND_LINE + 248;
        sheet.text((area.x, y), Anchor::Start, SMALL, &undrawn);
    }
    Ok(())
}

/// What the page says to those who cannot see it.
fn description(record: &Record, units: Units) -> String {
    let mut text = words::headline(record, units);
    for finding in words::findings(record, units).iter().take(6) {
        text.push_str(&format!(
            " {}: {}.",
            finding.subject,
            finding.why.trim_end_matches('.')
        ));
        if let Some(remedy) = finding.remedy {
            text.push_str(&format!(" {}.", remedy.trim_end_matches('.')));
        }
    }
    text.push_str(" Below stand the section of the tool drawn round, the drop behind each edge, and the table of characteristics.");
    text
}

/// A band over the page, inside what any printer prints, where one of the records is of no tool.
pub(super) fn simulated(sheet: &mut Sheet, records: &[&Record]) {
    const BAND: Area = Area {
        x: MARGIN,
        y: 400,
        w: WIDTH,
        h: 340,
    };
    const SAID: &str = "SIMULATED: no tool was measured";
    if records.iter().any(|record| record.about.simulated) {
        sheet.open("made-up", None);
        sheet.rect("solid", BAND);
        sheet.text((PAGE_WIDTH / 2, 705), Anchor::Middle, HEAD, SAID);
        sheet.close();
    }
}

/// The verdict, what it hangs on, and what was measured; gives where the rest begins.
pub(super) fn heading(sheet: &mut Sheet, record: &Record, units: Units) -> i32 {
    simulated(sheet, &[record]);
    lettering::verdict(sheet, (MARGIN, TOP), record.verdict);
    let mut y = TOP + lettering::CAPITALS + 560;
    for line in typeface::wrap(
        &words::printed(&words::headline(record, units)),
        HEAD.size,
        HEAD.weight,
        WIDTH,
        if record.about.interrupted { 3 } else { 2 },
    ) {
        sheet.text((MARGIN, y), Anchor::Start, HEAD, &line);
        y += 480;
    }
    y -= 250;
    sheet.rule(MARGIN, y, WIDTH);
    y += facts(sheet, y + 60, record);
    sheet.rule(MARGIN, y, WIDTH);
    y + BETWEEN
}

/// Tool, date, operator, stage and gauge, each under its label; gives the height they take.
fn facts(sheet: &mut Sheet, y: i32, record: &Record) -> i32 {
    let about = &record.about;
    let shown = |text: &str| {
        if text.trim().is_empty() {
            figures::NOTHING.to_owned()
        } else {
            text.to_owned()
        }
    };
    let stage = if about.interrupted {
        format!("{}, capture cut short", words::stage(record))
    } else {
        words::stage(record)
    };
    let gauge = about.gauge.join("; ");
    let wide = 8600;
    let cells = [
        [
            (
                0,
                wide,
                "tool",
                format!("{}  {}", record.tool, about.tool_name),
                2,
            ),
            (wide, 4900, "made", words::build(record), 1),
            (
                wide + 4900,
                WIDTH - wide - 4900,
                "taken",
                day(&about.taken),
                1,
            ),
        ],
        [
            (0, wide, "gauge", gauge, 4),
            (wide, 4900, "stage", stage, 2),
            (
                wide + 4900,
                WIDTH - wide - 4900,
                "operator",
                about.operator.clone(),
                2,
            ),
        ],
    ];
    let mut below = y;
    for row in cells {
        let mut lines = 1;
        for (x, w, label, text, most) in row {
            let face = if label == "tool" { STRONG } else { BODY };
            sheet.text((MARGIN + x, below + 250), Anchor::Start, SMALL, label);
            let text = typeface::wrap(&shown(&text), face.size, face.weight, w - 250, most);
            for (line, text) in text.iter().enumerate() {
                sheet.text(
                    (MARGIN + x, below + 570 + line as i32 * LEADING),
                    Anchor::Start,
                    face,
                    text,
                );
            }
            lines = lines.max(text.len() as i32);
        }
        below += 320 + lines * LEADING + 60;
    }
    below - y + 120
}

/// `2026-03-02T09:14:00Z` as `2026-03-02 09:14 UTC`; anything else as it is.
pub(super) fn day(taken: &str) -> String {
    match taken.strip_suffix('Z').and_then(|t| t.split_once('T')) {
        Some((date, time)) if time.is_ascii() && time.len() >= 5 => {
            format!("{date} {} UTC", &time[..5])
        }
        _ => taken.to_owned(),
    }
}

/// The marks that are in the plots, and what they mean.
fn legend_marks(record: &Record) -> Vec<(&'static str, &'static str)> {
    let fed = record.features.iter().any(|f| f.feed_mm_per_rev.is_some());
    let below = match fed {
        true => "stay below, feed included",
        false => "stay below this line",
    };
    let mut marks = vec![
        ("measured", "measured, 95 % band"),
        ("fitted", "fitted curve"),
    ];
    let doubted = |f: &Flute| f.curve.as_ref().is_some_and(|curve| !curve.trusted);
    if record.flutes.iter().any(doubted) {
        marks.push(("doubted", "fitted, not trusted"));
    }
    marks.extend([("limit", below), ("least", "least clearance")]);
    if record
        .features
        .iter()
        .any(|f| f.limits.contains_key("drop"))
    {
        marks.push(("window", "drop allowed"));
    }
    if record
        .flutes
        .iter()
        .any(|flute| !flute.holes_deg.is_empty())
    {
        marks.push(("hole", "nothing was read"));
    }
    marks.push(("arrow", "the tool cuts this way"));
    marks
}

/// What the marks in the plots mean, in this many columns.
fn legend(sheet: &mut Sheet, area: Area, record: &Record, columns: i32) {
    let marks = legend_marks(record);
    let step = area.w / columns;
    for (index, (mark, text)) in (0..).zip(marks) {
        let x = area.x + index % columns * step;
        let y = area.y + index / columns * LEGEND_LINE + 170;
        key(sheet, mark, x, y);
        let text = typeface::fit(text, SMALL.size, SMALL.weight, step - 640);
        sheet.text((x + 520, y + 78), Anchor::Start, SMALL, &text);
    }
}

/// One mark of the legend, 4.2 mm wide, its middle at this height.
fn key(sheet: &mut Sheet, mark: &str, x: i32, y: i32) {
    let w = 420;
    match mark {
        "measured" => {
            let (y, h) = (y - 60, 120);
            sheet.rect("band", Area { x, y, w, h });
            for dot in 1..4 {
                sheet.circle("measured", (x + dot * 105, y + 60), 14);
            }
        }
        "limit" => {
            let (y, h) = (y - 110, 160);
            sheet.rect("barred", Area { x, y, w, h });
            sheet.path("limit", &format!("M{x} {}h{w}", y + h));
        }
        "least" => sheet.path("least", &format!("M{} {}l-75 130h150Z", x + 210, y - 75)),
        "window" => {
            let (x, top, foot) = (x + 130, y - 100, y + 100);
            sheet.path(
                "window",
                &format!("M{x} {top}h160M{x} {foot}h160M{} {top}V{foot}", x + 80),
            );
        }
        "hole" => {
            let (y, h) = (y - 100, 200);
            sheet.rect("hole", Area { x, y, w, h });
        }
        "arrow" => sheet.path(
            "axis",
            &format!("M{} {y}H{}m120 -90l-120 90l120 90", x + w, x + 40),
        ),
        line => sheet.path(line, &format!("M{x} {y}h{w}")),
    }
}

/// Assumptions, cautions and the maker's line at the foot; gives where the room above them ends.
pub(super) fn footing(sheet: &mut Sheet, record: &Record, units: Units) -> i32 {
    footing_of(sheet, record, units, 4)
}

/// The same with at most so many lines of terms and assumptions.
pub(super) fn footing_of(sheet: &mut Sheet, record: &Record, units: Units, most: usize) -> i32 {
    let about = &record.about;
    sheet.text(
        (MARGIN, FOOT),
        Anchor::Start,
        SMALL,
        &typeface::fit(&about.program, SMALL.size, SMALL.weight, 2800),
    );
    let source = match &record.judged_from {
        Some(from) => format!("drawn from {} alone; judged from {from}", record.schema),
        None => format!(
            "drawn from {} alone; not tied to its cards and traces",
            record.schema
        ),
    };
    sheet.text(
        (MARGIN + WIDTH, FOOT),
        Anchor::End,
        SMALL,
        &typeface::fit(&source, SMALL.size, SMALL.weight, WIDTH - 3000),
    );

    let text_room = WIDTH - 1500;
    let cautions = words::CAUTIONS
        .iter()
        .flat_map(|text| typeface::wrap(text, BODY.size, BODY.weight, text_room, 2));
    let cautions: Vec<String> = cautions.collect();
    let h = cautions.len() as i32 * LEADING + 240;
    let y = FOOT - 400 - h;
    sheet.stroke(
        "outline caution",
        30,
        &format!("M{MARGIN} {y}h{WIDTH}v{h}h-{WIDTH}Z"),
    );
    let (x, middle) = (MARGIN + 620, y + h / 2);
    sheet.stroke(
        "outline caution",
        70,
        &format!("M{x} {}l420 720h-840Z", middle - 400),
    );
    sheet.stroke(
        "outline caution",
        80,
        &format!("M{x} {}v300m0 90v80", middle - 180),
    );
    for (line, text) in cautions.iter().enumerate() {
        let base = y + 120 + (line as i32 + 1) * LEADING - 95;
        sheet.text((MARGIN + 1300, base), Anchor::Start, BODY, text);
    }

    let sure = figures::percent(about.confidence);
    let terms = format!(
        "± is U, the expanded uncertainty with a coverage of 95 % (k = 2 where it is normal); what is proven, and pass and fail, are {sure} certain, by a guard band (ISO 14253-1)."
    );
    let mut terms = with_assumptions(&terms, &about.assumptions, most);
    let shown = would_show::sentence(record, units).unwrap_or_default();
    let shown = typeface::wrap(&shown, SMALL.size, SMALL.weight, WIDTH, SHOWN);
    terms.splice(..0, shown);
    let above = y - 150 - terms.len() as i32 * 300;
    for (line, text) in terms.iter().enumerate() {
        sheet.text(
            (MARGIN, above + (line as i32 + 1) * 300 - 60),
            Anchor::Start,
            SMALL,
            text,
        );
    }
    above - 220
}

/// The terms and what is taken for granted in so many lines: of a long list whole items, and how many
/// more the record holds.
fn with_assumptions(terms: &str, assumptions: &[String], most: usize) -> Vec<String> {
    let wrapped = |text: &str| typeface::wrap(text, SMALL.size, SMALL.weight, WIDTH, most);
    let items: Vec<&str> = assumptions
        .iter()
        .map(|item| item.trim_end_matches('.'))
        .collect();
    let told = (1..=items.len()).rev().map(|count| {
        let left = items.len() - count;
        let more = match left {
            0 => String::new(),
            _ => format!("; {left} more in verdict.json"),
        };
        let items = items[..count].join("; ");
        wrapped(&format!("{terms} Taken for granted: {items}{more}."))
    });
    let whole = |lines: &Vec<String>| lines.last().is_some_and(|last| last.ends_with('.'));
    told.into_iter()
        .find(whole)
        .unwrap_or_else(|| match items.len() {
            0 => wrapped(terms),
            count => wrapped(&format!(
                "{terms} {count} things are taken for granted: see verdict.json."
            )),
        })
}
