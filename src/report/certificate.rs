//! A page to print for one record, with the digests that paper is held against the archive by.

use super::figures;
use super::page::{BETWEEN, FOOT, MARGIN, TOP, WIDTH};
use super::sheet::{Anchor, Area, BODY, HEAD, SMALL, STRONG, Sheet};
use super::table::{self, Table};
use super::{page, typeface, words};
use crate::quantity::Units;
use crate::record::Record;

/// What the archive says of a record, as it is printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// The archive's name of it.
    pub record: String,
    /// When it came into the archive, where, and by which program.
    pub archived: String,
    /// Whether its verdict was held against its cards and traces, and how it stands to them.
    pub standing: String,
    /// What stands over the verdict where nobody vouches for it: a sentence.
    pub mark: Option<String>,
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

/// The certificate as A4 pages in SVG, one text each: as many as its figures need.
pub fn certificate(record: &Record, kept: &Kept, units: Units) -> Vec<String> {
    let record = &*units.told(record);
    let mut sheet = Sheet::new();
    let y = page::heading(&mut sheet, record, units);
    mark(&mut sheet, kept);
    // Paper that goes to a customer says all that was taken for granted.
    let foot = page::footing_of(&mut sheet, record, units, 20);
    let rows = rows(kept, record, units);
    let sealed = rows.len() as i32 * ROW + 700;
    let lower = foot - sealed;
    let tables = tables(record, lower - y - BETWEEN, units);
    let pages = tables.len();
    let named = |page: usize| match pages {
        0 | 1 => format!("certificate of record {}", kept.record),
        pages => format!(
            "certificate of record {}, page {page} of {pages}",
            kept.record
        ),
    };

    let mut below = y;
    if let Some(table) = tables.first() {
        table.draw(&mut sheet, area(y, table.height()), units);
        below = y + table.height() + BETWEEN;
    }
    let y = below.min(lower);
    let title = named(1);
    sheet.text((MARGIN, y + 260), Anchor::Start, STRONG, &title);
    sheet.rule(MARGIN, y + 380, WIDTH);
    for (index, (label, text)) in (0..).zip(&rows) {
        let base = y + 380 + (index + 1) * ROW - 60;
        line(&mut sheet, base, label, text);
    }
    let verdict = words::shout(record.verdict);
    let description = format!(
        "{} {}: {verdict}. Content {}, chain {}.",
        record.tool, record.about.tool_name, kept.content, kept.chain
    );
    let first = sheet.finish(&format!("{title}: {verdict}"), &description);
    let rest = (2..).zip(tables.iter().skip(1));
    let rest = rest.map(|(page, table)| further(record, kept, table, &named(page), units));
    std::iter::once(first).chain(rest).collect()
}

/// Every figure, the first of the tables in this room and the others a page each.
fn tables(record: &Record, room: i32, units: Units) -> Vec<Table<'_>> {
    if record.characteristics.is_empty() {
        return Vec::new();
    }
    let mut tables = vec![table::every(record, units)];
    let mut room = room;
    while let Some(rest) = tables.last_mut().and_then(|table| table.split(room)) {
        tables.push(rest);
        room = FOOT - 3 * ROW - FURTHER;
    }
    tables
}

/// Where the table of a further page begins.
const FURTHER: i32 = TOP + 1300;

/// Over the verdict, where nobody reads past it.
fn mark(sheet: &mut Sheet, kept: &Kept) {
    if let Some(mark) = &kept.mark {
        let mark = typeface::fit(mark, STRONG.size, STRONG.weight, WIDTH);
        sheet.text((MARGIN, TOP - 300), Anchor::Start, STRONG, &mark);
    }
}

/// A page with nothing but figures, and what ties it to the first.
fn further(record: &Record, kept: &Kept, table: &Table, title: &str, units: Units) -> String {
    let mut sheet = Sheet::new();
    mark(&mut sheet, kept);
    let about = &record.about;
    let head = format!("{} {}", record.tool, about.tool_name);
    let head = typeface::fit(&head, HEAD.size, HEAD.weight, WIDTH);
    sheet.text((MARGIN, TOP + 300), Anchor::Start, HEAD, &head);
    let taken = format!("{title}; taken {}", page::day(&about.taken));
    let taken = typeface::fit(&taken, BODY.size, BODY.weight, WIDTH);
    sheet.text((MARGIN, TOP + 760), Anchor::Start, BODY, &taken);
    table.draw(&mut sheet, area(FURTHER, table.height()), units);
    sheet.rule(MARGIN, FOOT - 2 * ROW, WIDTH);
    line(&mut sheet, FOOT - ROW, "digest of its files", &kept.content);
    line(&mut sheet, FOOT, "this with that before", &kept.chain);
    let verdict = words::shout(record.verdict);
    let description = format!("{head}. Content {}, chain {}.", kept.content, kept.chain);
    sheet.finish(&format!("{title}: {verdict}"), &description)
}

fn area(y: i32, h: i32) -> Area {
    let (x, w) = (MARGIN, WIDTH);
    Area { x, y, w, h }
}

fn line(sheet: &mut Sheet, base: i32, label: &str, text: &str) {
    let label = typeface::fit(label, SMALL.size, SMALL.weight, LABEL - 100);
    sheet.text((MARGIN, base), Anchor::Start, SMALL, &label);
    let text = typeface::fit(text, BODY.size, BODY.weight, WIDTH - LABEL);
    sheet.text((MARGIN + LABEL, base), Anchor::Start, BODY, &text);
}

/// What is said of the record: what was measured, by what, and the digests.
fn rows(kept: &Kept, record: &Record, units: Units) -> Vec<(String, String)> {
    let mut rows: Vec<(String, String)> = Vec::new();
    for facts in &record.features {
        let row = (
            facts.feature.clone(),
            figures::feature_in_words(facts, units),
        );
        // A feature traced at several places stands there once for each.
        if !rows.contains(&row) {
            rows.push(row);
        }
    }
    let mut row = |label: &str, text: String| rows.push((label.to_owned(), text));
    row("judged by", record.about.program.clone());
    row("archived", kept.archived.clone());
    if let Some(from) = &record.judged_from {
        row("judged from", from.clone());
    }
    row("verdict", kept.standing.clone());
    if let Some(correction) = &kept.correction {
        row("correction", correction.clone());
    }
    row("digest of its files", kept.content.clone());
    row("the record before", kept.previous.clone());
    row("this with that before", kept.chain.clone());
    let shown = &kept.record;
    row(
        "hold it against",
        format!("heelclear archive show {shown}  and  heelclear archive check"),
    );
    rows
}
