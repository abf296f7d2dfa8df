//! A tool through its regrinds, from the records that count as one each.

use crate::error::{Code, Error, Result};
use crate::quantity::{Length, stated};
use crate::record::archive::{Archive, Digest, Filter, KEPT_AS_JUDGED, Summary};
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
    let found = counted(archive, tool, &mut regrinds)?;
    let several = archive.benches()?.len() > 1;
    let records = read_all(archive, &found, several, &mut regrinds);
    regrinds.trends = Trend::of(&records, least.map(|it| stated(it.mm())));
    let as_judged = found.iter().filter(|it| it.as_judged);
    let as_judged: Vec<String> = as_judged.map(|it| it.id.short(several)).collect();
    let damaged = regrinds.unread.len();
    for trend in &mut regrinds.trends {
        mark(trend, &as_judged);
        if damaged > 0 {
            (trend.outlook, trend.face) = (None, None);
            trend.incomplete = Some(match damaged {
                1 => "a record of this tool is damaged and left out".to_owned(),
                more => format!("{more} records of this tool are damaged and left out"),
            });
        }
    }
    let missing = archive.missing(MISSING)?;
    if !missing.is_empty() {
        let names: Vec<String> = missing.iter().map(ToString::to_string).collect();
        let names = names.join(", ");
        regrinds.notes.push(format!(
            "the archive lacks records that a bench counted, and they may be of this tool: {names}"
        ));
    }
    Ok(regrinds)
}

/// So many missing records are named.
const MISSING: usize = 5;

/// The verdicts of those records that can be believed, each with its name.
fn read_all(
    archive: &mut Archive,
    found: &[Summary],
    several: bool,
    regrinds: &mut Regrinds,
) -> Vec<(String, Record)> {
    let mut records = Vec::with_capacity(found.len());
    let mut not_tied = 0;
    for summary in found {
        let name = summary.id.short(several);
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
    records
}

/// The records that are a regrind each, the first measured first.
fn counted(archive: &mut Archive, tool: &str, regrinds: &mut Regrinds) -> Result<Vec<Summary>> {
    let mut found = archive.find(&Filter {
        tool: Some(tool.to_owned()),
        ..Filter::default()
    })?;
    found.reverse();
    let mut all = found.len();
    found.retain(|it| {
        let counts = it.stage == "after-grind" && it.verdict.is_some();
        if !counts {
            // A damaged one may say so only since it was changed; a verdict that is none on its own
            // cards and traces is no regrind either way.
            let other = archive.look_at(it).standing == Some(Standing::Other);
            let sound = if other { Ok(()) } else { archive.sound(it) };
            regrinds.unread.extend(sound.err());
        }
        counts
    });
    let real = found.iter().filter(|it| !it.simulated).count();
    if real > 0 && real < found.len() {
        let made_up = found.len() - real;
        regrinds
            .notes
            .push(format!("{made_up} simulated records are left out"));
        found.retain(|it| !it.simulated);
        all -= made_up;
    } else if real == 0 && !found.is_empty() {
        let said = "every record of it is simulated: no tool was measured";
        regrinds.notes.push(said.to_owned());
    }
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
        regrinds.notes.push(format!(
            "{} of {all} records are left out: before a grind, not judged, or as judged beside one that was judged again",
            all - found.len()
        ));
    }
    Ok(found)
}

/// How a record's verdict stands, and the verdict; the report is not wanted.
fn read(archive: &mut Archive, summary: &Summary) -> Result<(Option<Standing>, Option<Record>)> {
    let stored = archive.load_undrawn(&summary.id)?;
    let standing = stored.standing();
    if standing == Some(Standing::Other) {
        return Ok((standing, None));
    }
    Ok((standing, stored.record()?))
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
