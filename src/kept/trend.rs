//! A tool through its regrinds, from the records that count as one each.

use crate::error::{Code, Error, Result};
use crate::quantity::{Length, stated};
use crate::record::archive::{Archive, Digest, Filter, KEPT_AS_JUDGED, RecordId, Summary};
use crate::record::{Record, Standing, Trend};
use std::collections::HashSet;

/// A tool through its regrinds.
#[derive(Debug, Default)]
pub struct Regrinds {
    /// One for each feature.
    pub trends: Vec<Trend>,
    /// What is to be known of the records that they are drawn from, a sentence each.
    pub notes: Vec<String>,
    /// Records that are left out since they are damaged, or cannot be read.
    pub unread: Vec<Error>,
}

/// The regrinds of a tool, the first measured first. A least diameter asked for takes the place of
/// the one on its last card.
///
/// # Errors
/// `no-record` where the tool has no judged regrind, and those of reading the archive.
pub fn regrinds(archive: &mut Archive, tool: &str, least: Option<Length>) -> Result<Regrinds> {
    let mut regrinds = Regrinds::default();
    let found = counted(archive, tool, &mut regrinds.notes)?;
    let several = archive.benches()?.len() > 1;
    let mut records = Vec::with_capacity(found.len());
    let mut not_tied = 0;
    for summary in &found {
        let name = name(&summary.id, several);
        match read(archive, summary) {
            Ok((Some(Standing::Other), _)) => {
                let remark = Standing::Other.remark().unwrap_or_default();
                let said = format!("record {name} is left out: its verdict is {remark}");
                regrinds.notes.push(said);
            }
            Ok((standing, Some(record))) => {
                not_tied += usize::from(standing == Some(Standing::NotTied));
                records.push((name, record));
            }
            Ok((_, None)) => {}
            Err(error) => regrinds.unread.push(error),
        }
    }
    if not_tied > 0 {
        let remark = Standing::NotTied.remark().unwrap_or_default();
        let said = format!("{not_tied} of the verdicts are {remark}");
        regrinds.notes.push(said);
    }
    regrinds.trends = Trend::of(&records, least.map(|it| stated(it.mm())));
    let as_judged = found.iter().filter(|it| it.as_judged);
    let as_judged: Vec<String> = as_judged.map(|it| name(&it.id, several)).collect();
    let trends = regrinds.trends.iter_mut();
    trends.for_each(|it| mark(it, &as_judged));
    Ok(regrinds)
}

/// The records that are a regrind each, the first measured first.
fn counted(archive: &mut Archive, tool: &str, notes: &mut Vec<String>) -> Result<Vec<Summary>> {
    let mut found = archive.find(&Filter {
        tool: Some(tool.to_owned()),
        ..Filter::default()
    })?;
    found.reverse();
    let all = found.len();
    found.retain(|it| it.stage == "after-grind" && it.verdict.is_some());
    // One measurement is one regrind: that which was held against its evidence counts.
    let held = found.iter().filter(|it| !it.as_judged);
    let held: HashSet<Digest> = held.map(|it| it.evidence).collect();
    found.retain(|it| !it.as_judged || !held.contains(&it.evidence));
    if found.is_empty() {
        let message = format!("found no judged regrind of `{tool}`");
        return Err(Error::new(Code::NoRecord, message)
            .help("`heelclear archive list` lists the tools; only records after a grind count"));
    }
    if found.len() < all {
        notes.push(format!(
            "{} of {all} records are left out: before a grind, not judged, or as judged beside one that was judged again",
            all - found.len()
        ));
    }
    Ok(found)
}

/// How a record's verdict stands, and the verdict; the report is not wanted.
fn read(archive: &mut Archive, summary: &Summary) -> Result<(Option<Standing>, Option<Record>)> {
    let stored = archive.load_evidence(&summary.id)?;
    let standing = stored.standing();
    if standing == Some(Standing::Other) {
        return Ok((standing, None));
    }
    archive.sound(summary)?;
    Ok((standing, stored.record()?))
}

/// A record's name as short as it can be told: the bench only where there are several.
fn name(id: &RecordId, several: bool) -> String {
    match several {
        true => id.to_string(),
        false => id.number.to_string(),
    }
}

/// Marks the regrinds whose verdicts nobody judged again.
fn mark(trend: &mut Trend, as_judged: &[String]) {
    let mut told = Vec::new();
    for regrind in &mut trend.regrinds {
        regrind.as_judged = as_judged.contains(&regrind.record);
        if regrind.as_judged {
            let day = regrind.taken.get(..10).unwrap_or(&regrind.taken);
            told.push(format!("record {} of {day}", regrind.record));
        }
    }
    if !told.is_empty() {
        let told = told.join(", ");
        let said = format!("the verdict of {told} was {KEPT_AS_JUDGED}");
        trend.assumptions.push(said);
    }
}
