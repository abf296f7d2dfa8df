//! A page to print for one record, with the digests that paper is held against the archive by.

use super::figures;
use super::page::{BETWEEN, FOOT, MARGIN, TOP, WIDTH};
use super::sheet::{Anchor, Area, BODY, HEAD, SMALL, STRONG, Sheet};
use super::table::{self, Table};
use super::{page, typeface, words};
use crate::error::Result;
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
    /// Who issues it, where the shop has a card.
    pub issuer: Option<Issuer>,
    /// The day of issue.
    pub issued: String,
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

/// Who issues a certificate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Issuer {
    /// The shop's name.
    pub name: String,
    /// Where it is, in one line.
    pub address: Option<String>,
    /// Who authorises it.
    pub authorised_by: Option<String>,
}

const ROW: i32 = 330;
const LABEL: i32 = 3300;

/// The certificate as A4 pages in SVG, one text each: the verdict with its drawings and what is said of
/// tool, gauge and issuer on the first, then the figures, and what ties them to the archive.
///
/// What a report of a measurement says follows ISO/IEC 17025:2017, 7.8.2 and 7.8.6.
///
/// # Errors
/// As [`page::svg`].
pub fn certificate(record: &Record, kept: &Kept, units: Units) -> Result<Vec<String>> {
    let record = &*units.told(record);
    let seals = seals(kept, record);
    let tables = tables(record, seals.len() as i32 * ROW + 700, units);
    let pages = 1 + tables.len();
    let named = |page: usize| {
        format!(
            "certificate of inspection, record {}, page {page} of {pages}",
            kept.record
        )
    };
    let mut all = vec![first(record, kept, &named(1), units)?];
    let last = tables.len();
    for (number, table) in (1..).zip(&tables) {
        let seals = if number == last { &seals[..] } else { &[] };
        all.push(further(
            record,
            kept,
            table,
            seals,
            &named(number + 1),
            units,
        ));
    }
    Ok(all)
}

fn first(record: &Record, kept: &Kept, title: &str, units: Units) -> Result<String> {
    let mut sheet = Sheet::new();
    head(&mut sheet, kept, title);
    let y = page::heading(&mut sheet, record, units);
    // Paper that goes to a customer says all that was taken for granted.
    let foot = page::footing_of(&mut sheet, record, units, 20);
    let rows = rows(kept, record, units);
    let lower = foot - rows.len() as i32 * ROW - 300;
    let drawings = (lower - y).min(DRAWINGS);
    if drawings > LEAST_DRAWING && !record.features.is_empty() {
        page::draw(&mut sheet, area(y, drawings - BETWEEN), record, units)?;
    }
    sheet.rule(MARGIN, lower, WIDTH);
    for (index, (label, text)) in (0..).zip(&rows) {
        line(&mut sheet, lower + (index + 1) * ROW, label, text);
    }
    let verdict = words::shouted(record);
    let description = format!(
        "{} {}: {verdict}. Content {}, chain {}.",
        record.tool, record.about.tool_name, kept.content, kept.chain
    );
    Ok(sheet.finish(&format!("{title}: {verdict}"), &description))
}

/// What drawings never need more height than, and what they need at the least.
const DRAWINGS: i32 = 11_000;
const LEAST_DRAWING: i32 = 5_500;

/// The figures, a page each; the last one leaves room for what ties them to the archive.
fn tables(record: &Record, sealed: i32, units: Units) -> Vec<Table<'_>> {
    let room = FOOT - FURTHER - ROW;
    let mut tables = vec![table::every(record, units)];
    while let Some(rest) = tables.last_mut().and_then(|table| table.split(room)) {
        tables.push(rest);
    }
    // What does not fit above the seals goes on, and a page of seals alone is one all the same.
    if let Some(rest) = tables
        .last_mut()
        .and_then(|table| table.split(room - sealed))
    {
        tables.push(rest);
    }
    tables
}

/// Who issues it, and which it is, over the verdict; and where nobody vouches for that, so much.
fn head(sheet: &mut Sheet, kept: &Kept, title: &str) {
    let issuer = kept.issuer.as_ref().map_or("", |it| it.name.as_str());
    let issuer = typeface::fit(issuer, STRONG.size, STRONG.weight, WIDTH / 2 - 200);
    sheet.text((MARGIN, TOP - 350), Anchor::Start, STRONG, &issuer);
    let room = match issuer.is_empty() {
        true => WIDTH,
        false => WIDTH / 2,
    };
    let title = typeface::fit(title, BODY.size, BODY.weight, room);
    sheet.text((MARGIN + WIDTH, TOP - 350), Anchor::End, BODY, &title);
    if let Some(mark) = &kept.mark {
        let mark = typeface::fit(mark, STRONG.size, STRONG.weight, WIDTH);
        sheet.text((MARGIN, TOP - 90), Anchor::Start, STRONG, &mark);
    }
}

/// Where the table of a further page begins.
const FURTHER: i32 = TOP + 1300;

/// A page of figures, and what ties it to the first.
fn further(
    record: &Record,
    kept: &Kept,
    table: &Table,
    seals: &[(String, String)],
    title: &str,
    units: Units,
) -> String {
    let mut sheet = Sheet::new();
    page::simulated(&mut sheet, &[record]);
    head(&mut sheet, kept, title);
    let about = &record.about;
    let head = format!("{} {}", record.tool, about.tool_name);
    let head = typeface::fit(&head, HEAD.size, HEAD.weight, WIDTH);
    sheet.text((MARGIN, TOP + 300), Anchor::Start, HEAD, &head);
    let taken = format!("measured {}", page::day(&about.taken));
    sheet.text((MARGIN, TOP + 760), Anchor::Start, BODY, &taken);
    table.draw(&mut sheet, area(FURTHER, table.height()), units);
    let tie = [("this with that before".to_owned(), kept.chain.clone())];
    let seals = if seals.is_empty() { &tie[..] } else { seals };
    let top = FOOT - seals.len() as i32 * ROW;
    sheet.rule(MARGIN, top - 60, WIDTH);
    for (index, (label, text)) in (1..).zip(seals) {
        line(&mut sheet, top + index * ROW, label, text);
    }
    let verdict = words::shouted(record);
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

/// What is said of issuer, customer, measurement and decision, beside what stands under the verdict.
fn rows(kept: &Kept, record: &Record, units: Units) -> Vec<(String, String)> {
    let about = &record.about;
    let issuer = kept.issuer.as_ref();
    let mut rows: Vec<(String, String)> = Vec::new();
    let mut row = |label: &str, text: String| rows.push((label.to_owned(), text));
    if let Some(issuer) = issuer {
        let parts = [Some(&issuer.name), issuer.address.as_ref()];
        let parts: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
        row("issued by", parts.join(", "));
    }
    if let Some(customer) = &about.customer {
        row("customer", customer.clone());
    }
    row(
        "measured, issued",
        format!("{}, {}", page::day(&about.taken), kept.issued),
    );
    row(
        "conditions",
        match about.temperature_c {
            Some(celsius) => format!("{} °C at the bench", figures::trimmed(celsius)),
            None => "the temperature at the bench was not recorded".to_owned(),
        },
    );
    row(
        "method",
        format!(
            "an indicator against a rotary encoder; uncertainty by JCGM 100 and 101, by {}",
            about.program
        ),
    );
    row(
        "decision rule",
        format!(
            "ISO 14253-1, by a guard band: {} probability of conformity",
            figures::percent(about.confidence)
        ),
    );
    row("left out", left_out(record));
    row("verdict", kept.standing.clone());
    if let Some(correction) = &kept.correction {
        row("correction", correction.clone());
    }
    let mut seen: Vec<String> = Vec::new();
    for facts in &record.features {
        let words = figures::feature_in_words(facts, units);
        // A feature traced at several places stands there once for each.
        if !seen.contains(&facts.feature) {
            seen.push(facts.feature.clone());
            row(&facts.feature, words);
        }
    }
    let name = issuer.and_then(|it| it.authorised_by.clone());
    row("authorised by", name.unwrap_or_default());
    rows
}

/// What was planned or seen and is not in the figures.
fn left_out(record: &Record) -> String {
    let cut = record.about.interrupted;
    let cut = cut.then(|| "the capture was cut short".to_owned());
    let warned = match words::warnings(record).len() {
        0 => None,
        1 => Some("one warning, in the report".to_owned()),
        more => Some(format!("{more} warnings, in the report")),
    };
    let parts: Vec<String> = cut.into_iter().chain(warned).collect();
    match parts.is_empty() {
        true => "nothing".to_owned(),
        false => parts.join("; "),
    }
}

/// What ties paper to the archive.
fn seals(kept: &Kept, record: &Record) -> Vec<(String, String)> {
    let mut rows: Vec<(String, String)> = Vec::new();
    let mut row = |label: &str, text: String| rows.push((label.to_owned(), text));
    row("archived", kept.archived.clone());
    if let Some(from) = &record.judged_from {
        row("judged from", from.clone());
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
