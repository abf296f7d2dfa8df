//! A page to print for one record, with the digests that paper is held against the archive by.

use super::figures::Units;
use super::page::{BETWEEN, MARGIN, WIDTH};
use super::sheet::{Anchor, Area, BODY, SMALL, STRONG, Sheet};
use super::{page, table, typeface, words};
use crate::record::Record;

/// What the archive says of a record, as it is printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// The archive's name of it.
    pub record: String,
    /// When it came into the archive, where, and by which program.
    pub archived: String,
    /// Digest of its files.
    pub content: String,
    /// The chain up to the record before it.
    pub previous: String,
    /// Digest of the record with the one before it.
    pub chain: String,
    /// The record that replaces it, or the one that it replaces and why: a sentence.
    pub correction: Option<String>,
}

const ROW: i32 = 330;
const LABEL: i32 = 3300;

/// The certificate as one A4 page in SVG.
pub fn certificate(record: &Record, kept: &Kept, units: Units) -> String {
    let record = &*units.told(record);
    let mut sheet = Sheet::new();
    let y = page::heading(&mut sheet, record, units);
    let foot = page::footing(&mut sheet, record);
    let title = format!("certificate of record {}", kept.record);

    let rows = rows(kept, &record.about.program);
    let sealed = rows.len() as i32 * ROW + 700;
    let lower = foot - sealed;
    let table = table::plan(record, lower - y - BETWEEN, units);
    let area = |y: i32, h: i32| Area {
        x: MARGIN,
        y,
        w: WIDTH,
        h,
    };
    if !record.characteristics.is_empty() {
        table.draw(&mut sheet, area(y, table.height()), units);
    }
    let y = (y + table.height() + BETWEEN).min(lower);
    sheet.text((MARGIN, y + 260), Anchor::Start, STRONG, &title);
    sheet.rule(MARGIN, y + 380, WIDTH);
    for (index, (label, text)) in (0..).zip(&rows) {
        let base = y + 380 + (index + 1) * ROW - 60;
        sheet.text((MARGIN, base), Anchor::Start, SMALL, label);
        let text = typeface::fit(text, BODY.size, BODY.weight, WIDTH - LABEL);
        sheet.text((MARGIN + LABEL, base), Anchor::Start, BODY, &text);
    }
    let verdict = words::shout(record.verdict);
    let description = format!(
        "{} {}: {verdict}. Content {}, chain {}.",
        record.tool, record.about.tool_name, kept.content, kept.chain
    );
    sheet.finish(&format!("{title}: {verdict}"), &description)
}

fn rows(kept: &Kept, program: &str) -> Vec<(&'static str, String)> {
    let mut rows = vec![
        ("judged by", program.to_owned()),
        ("archived", kept.archived.clone()),
        ("digest of its files", kept.content.clone()),
        ("the record before", kept.previous.clone()),
        ("this with that before", kept.chain.clone()),
        (
            "hold it against",
            format!(
                "heelclear archive show {}  and  heelclear archive check",
                kept.record
            ),
        ),
    ];
    if let Some(correction) = &kept.correction {
        rows.insert(2, ("correction", correction.clone()));
    }
    rows
}
