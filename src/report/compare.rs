//! Before and after a grind: as text, and drawn over each other on one page.

use super::figures::{self, NOTHING, trimmed};
use super::page::{BETWEEN, MARGIN, TOP, WIDTH, footing};
use super::sheet::{Anchor, Area, BODY, HEAD, LEADING, SMALL, Sheet};
use super::{lettering, page, plots, sheet, typeface, words};
use crate::error::Result;
use crate::quantity::Units;
use crate::quantity::{COVERAGE_FACTOR, expanded, with_uncertainty};
use crate::record::{Compared, FaceGround, Moved, Record, Side, Stock, lined_up};

/// What is compared: two records, by the names that the archive gives them.
type Named<'a> = (&'a str, &'a Record);

/// Before and after a grind as text.
pub fn compare_text(before: Named, after: Named, compared: &Compared, units: Units) -> String {
    let mut text = format!("{}  {}\n", compared.tool, after.1.about.tool_name);
    for (word, (name, record)) in [("before", before), ("after", after)] {
        text += &format!(
            "  {word:<7}record {name}, taken {}: {}\n",
            page::day(&record.about.taken),
            words::shouted(record)
        );
    }
    if !compared.stock.is_empty() {
        text += "\nstock removed at the edge\n";
        let rows = compared.stock.iter().map(|of| stock_row(of, units));
        let head = ["feature", "flute", "beyond the mean", "off the radius"].map(str::to_owned);
        text += &set(&[vec![head], rows.collect()].concat());
    }
    if !compared.face.is_empty() {
        text += "\nground on the face\n";
        let rows = compared.face.iter().map(|of| face_row(of, units));
        let head = [
            "feature",
            "flute",
            "land before",
            "after",
            "came off",
            "the land behind",
        ];
        text += &set(&[vec![head.map(str::to_owned)], rows.collect()].concat());
    }
    text += "\nwhat moved\n";
    let head = [
        "feature",
        "flute",
        "characteristic",
        "before",
        "after",
        "unit",
        "95 % before",
        "95 % after",
        "verdict",
    ];
    let rows = compared.moved.iter().map(|of| moved_row(of, units));
    text += &set(&[vec![head.map(str::to_owned)], rows.collect()].concat());
    text += "\ntaken for granted\n";
    for assumption in &compared.assumptions {
        text += &format!("  {assumption}\n");
    }
    text
}

/// The feature with the place where it was traced, so that no two rows read alike.
fn where_(feature: &str, z_mm: Option<f64>, units: Units) -> String {
    match z_mm {
        Some(z) => format!("{feature} at {}", units.length(z)),
        None => feature.to_owned(),
    }
}

fn stock_row(of: &Stock, units: Units) -> [String; 4] {
    let beyond = units.shown(of.beyond_mean_mm, "mm");
    let beyond = match of.standard_uncertainty_mm {
        Some(u) => with_uncertainty(beyond, units.shown(u * COVERAGE_FACTOR, "mm")),
        None => trimmed(beyond),
    };
    let sign = units.sign("mm");
    let by_cards = of.by_cards_mm.map(|mm| {
        let shown = units.shown(mm, "mm");
        format!(
            "{} {sign}, by the cards",
            match units {
                Units::Metric => format!("{shown:.4}"),
                Units::Inch => format!("{shown:.5}"),
            }
        )
    });
    [
        where_(&of.feature, of.z_mm, units),
        of.flute.to_string(),
        format!("{beyond} {sign}"),
        by_cards.unwrap_or_else(|| "not known".to_owned()),
    ]
}

fn face_row(of: &FaceGround, units: Units) -> [String; 6] {
    let off = of.off_deg.map(|off| match of.standard_uncertainty_deg {
        Some(u) => format!("{}°", with_uncertainty(off, u * COVERAGE_FACTOR)),
        None => format!("{off:.2}°"),
    });
    let apart = of.apart_mm.zip(of.apart_uncertainty_mm);
    let apart = apart.map_or(String::new(), |(mm, u)| {
        let shown = |mm: f64| units.shown(mm, "mm");
        format!(
            ", {} {} apart at most",
            with_uncertainty(shown(mm), shown(u * COVERAGE_FACTOR)),
            units.sign("mm")
        )
    });
    [
        where_(&of.feature, of.z_mm, units),
        of.flute.to_string(),
        format!("{:.2}°", of.land_deg[0]),
        format!("{:.2}°", of.land_deg[1]),
        off.unwrap_or_else(|| "not known".to_owned()),
        format!("{}{apart}", of.why),
    ]
}

fn moved_row(moved: &Moved, units: Units) -> [String; 9] {
    let of = &moved.of;
    let value = |side: Option<Side>| {
        side.and_then(|side| {
            let value = units.shown(side.value?, &of.unit);
            let doubled = side.standard_uncertainty.map(|u| u * COVERAGE_FACTOR);
            let by_interval = side.value.zip(side.interval);
            let u = by_interval.map(|(value, interval)| expanded(value, interval));
            Some(match u.or(doubled).filter(|u| *u > 0.0) {
                Some(u) => with_uncertainty(value, units.shown(u, &of.unit)),
                None => trimmed(value),
            })
        })
        .unwrap_or_else(|| NOTHING.to_owned())
    };
    let interval = |side: Option<Side>| {
        side.and_then(|side| {
            let [low, high] = side.interval?.map(|end| units.shown(end, &of.unit));
            let decimals = match (units.sign(&of.unit), units) {
                ("°", _) => 3,
                (_, Units::Inch) => 5,
                _ => 4,
            };
            Some(format!("{low:.decimals$} … {high:.decimals$}"))
        })
        .unwrap_or_else(|| NOTHING.to_owned())
    };
    let verdict = |side: Option<Side>| words::word(side.and_then(|side| side.verdict));
    let (old, new) = (verdict(moved.before), verdict(moved.after));
    [
        where_(of.feature.as_deref().unwrap_or("tool"), of.z_mm, units),
        figures::flute(of.flute),
        figures::name(&of.name),
        value(moved.before),
        value(moved.after),
        units.sign(&of.unit).to_owned(),
        interval(moved.before),
        interval(moved.after),
        match old == new {
            true => new.to_owned(),
            false => format!("{old} → {new}"),
        },
    ]
}

/// Rows in columns as wide as they need, two characters in from the left.
fn set<const N: usize>(rows: &[[String; N]]) -> String {
    let width = |at: usize| rows.iter().map(|row| row[at].chars().count()).max();
    let widths: [usize; N] = std::array::from_fn(|at| width(at).unwrap_or(0));
    let line = |row: &[String; N]| {
        let cells = row.iter().zip(widths);
        let cells: Vec<String> = cells
            .map(|(cell, width)| format!("{cell:<width$}"))
            .collect();
        format!("  {}\n", cells.join("  ").trim_end())
    };
    rows.iter().map(line).collect()
}

/// Rows of stock that there is room for in each of two columns.
const STOCK_ROWS: usize = 6;

/// Before and after a grind as one A4 page in SVG: the lands over each other, flute by flute.
///
/// # Errors
/// As [`super::svg`].
pub fn compare_svg(
    before: Named,
    after: Named,
    compared: &Compared,
    units: Units,
) -> Result<String> {
    let mut sheet = Sheet::new();
    page::simulated(&mut sheet, &[before.1, after.1]);
    let title = format!("{}: before and after the grind", compared.tool);
    let mut y = TOP + 300;
    let shown = typeface::fit(&title, HEAD.size, HEAD.weight, WIDTH);
    sheet.text((MARGIN, y), Anchor::Start, HEAD, &shown);
    for (class, word, (name, record)) in [("before", "before", before), ("fitted", "after", after)]
    {
        y += 460;
        sheet.path(class, &format!("M{MARGIN} {}h700", y - 90));
        sheet.open(sheet::class(record.verdict), None);
        lettering::sign(&mut sheet, (MARGIN + 1000, y - 90), 120, record.verdict);
        sheet.close();
        let line = format!(
            "{word}: record {name}, {}, {}",
            page::day(&record.about.taken),
            words::word(record.verdict)
        );
        let line = typeface::fit(&line, BODY.size, BODY.weight, WIDTH - 1300);
        sheet.text((MARGIN + 1300, y), Anchor::Start, BODY, &line);
    }
    y += 200;
    sheet.rule(MARGIN, y, WIDTH);

    let foot = footing(&mut sheet, after.1, units);
    let notes: Vec<String> = compared
        .assumptions
        .iter()
        .flat_map(|it| typeface::wrap(it, SMALL.size, SMALL.weight, WIDTH, 2))
        .collect();
    let listed = compared.stock.len().div_ceil(2).min(STOCK_ROWS);
    let stock = (listed as i32 + 2) * LEADING;
    let notes_at = foot - notes.len() as i32 * 300;
    for (index, line) in (1..).zip(&notes) {
        sheet.text(
            (MARGIN, notes_at + index * 300 - 60),
            Anchor::Start,
            SMALL,
            line,
        );
    }
    let stock_at = notes_at - stock;
    draw_stock(&mut sheet, stock_at, listed, compared, units);
    let area = Area {
        x: MARGIN,
        y: y + BETWEEN,
        w: WIDTH,
        h: stock_at - y - 2 * BETWEEN,
    };
    let lined = lined_up(before.1, &compared.face);
    plots::draw(&mut sheet, area, after.1, Some(&lined), units)?;
    let description = described(before, after, compared);
    Ok(sheet.finish(&title, &description))
}

/// What the drawing shows, for those who cannot see it.
fn described(before: Named, after: Named, compared: &Compared) -> String {
    let on_face = match compared.face.is_empty() {
        true => "",
        false => " Lands that were ground on the face are lined up by what came off them.",
    };
    format!(
        "Record {} dashed and record {} drawn whole, each land below its own edge.{on_face}",
        before.0, after.0
    )
}

/// What came off each tooth, in two columns.
fn draw_stock(sheet: &mut Sheet, y: i32, rows: usize, compared: &Compared, units: Units) {
    let head = "stock removed at each edge: more or less than the mean of the teeth";
    sheet.text((MARGIN, y + 260), Anchor::Start, SMALL, head);
    sheet.rule(MARGIN, y + 340, WIDTH);
    let column = WIDTH / 2;
    for (index, of) in compared.stock.iter().take(2 * rows).enumerate() {
        let x = MARGIN + (index / rows.max(1)) as i32 * column;
        let base = y + 340 + (index % rows.max(1)) as i32 * LEADING + 290;
        let [feature, flute, beyond, by_cards] = stock_row(of, units);
        let mut line = format!("{feature}, flute {flute}: {beyond}");
        if of.by_cards_mm.is_some() {
            let radius = by_cards.split(',').next().unwrap_or_default();
            line += &format!("; radius {radius}");
        }
        let of_it = |it: &&FaceGround| {
            it.feature == of.feature && it.flute == of.flute && it.z_mm == of.z_mm
        };
        let face = compared.face.iter().find(of_it);
        if let Some((face, off)) = face.and_then(|it| Some((it, it.off_deg?))) {
            line = format!(
                "{feature}, flute {flute}: {off:.2}° off the land, {}",
                match face.same_surface {
                    Some(true) => "the same surface behind",
                    Some(false) => "ANOTHER SURFACE behind",
                    None => "not compared behind",
                }
            );
        }
        let line = typeface::fit(
            &words::printed(&line),
            SMALL.size,
            SMALL.weight,
            column - 150,
        );
        sheet.text((x, base), Anchor::Start, SMALL, &line);
    }
    let more = compared.stock.len().saturating_sub(2 * rows);
    if more > 0 {
        let text = format!("{more} more stand in the text");
        sheet.text((MARGIN + WIDTH, y + 260), Anchor::End, SMALL, &text);
    }
}
