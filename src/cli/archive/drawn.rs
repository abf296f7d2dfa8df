//! `archive compare`, `trend` and `certificate`: what is drawn from records.

use super::super::style::Units;
use super::super::{Out, Status, names, typed};
use super::list::name;
use super::replace::may_replace;
use super::vouch;
use crate::card::ShopCard;
use crate::error::{Code, Error, Result, unwritable};
use crate::quantity::{Length, stated};
use crate::record::archive::{
    Archive, Digest, Filter, KEPT_AS_JUDGED, Place, Stored, Summary, Wanted,
};
use crate::record::{Compared, Record, Standing, Trend};
use crate::report::{self, Issuer, Kept};
use clap::Args;
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// Hold two records of a tool against each other: before and after a grind
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive compare 11 12                     what moved, and what came off each tooth
  heelclear archive compare 11 12 --out grind.svg     the lands drawn over each other
  heelclear archive compare 11 12 --json              one object, for scripts")]
pub(super) struct CompareArguments {
    /// The record before the grind
    #[arg(add = names::records())]
    before: Wanted,

    /// The record after it
    #[arg(add = names::records())]
    after: Wanted,

    /// Draw both into this file, as SVG
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// The unit that lengths are shown in
    #[arg(long, value_enum, default_value = "mm")]
    units: Units,
}

/// Follow a tool through its regrinds, and tell how many are left
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive trend VB-07                          every regrind with its figures
  heelclear archive trend VB-07 --least-diameter 19.2    with another limit than its card has
  heelclear archive trend VB-07 --out trend.svg          drawn, with intervals and limits
  heelclear archive trend VB-07 --json                   one object a feature, for scripts")]
pub(super) struct TrendArguments {
    /// The tool's id
    #[arg(add = names::tools())]
    tool: String,

    /// The feature; needed with --out where the tool has several
    #[arg(long, value_name = "NAME")]
    feature: Option<String>,

    /// The smallest diameter that is allowed, in mm or with its unit [default: least_diameter_mm of the
    /// last card]
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    least_diameter: Option<Length>,

    /// Draw it into this file, as SVG
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// The unit that lengths are shown in
    #[arg(long, value_enum, default_value = "mm")]
    units: Units,
}

/// Make a page to print for a record, with its digests
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear archive certificate 12 --out 12.svg        A4, to print
  heelclear archive certificate 12 --out 12.svg --units in

The first page has verdict and drawings; figures and digests follow in 12-2.svg and so on.")]
pub(super) struct CertificateArguments {
    /// Its number, `bench/number`, or eight or more digits of its digest
    #[arg(add = names::records())]
    record: Wanted,

    /// The file to write, as SVG
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

    /// The card of the shop that issues it [default: shop.toml, where there is one]
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,

    #[command(flatten)]
    judging: vouch::Judging,

    /// The unit that lengths are shown in
    #[arg(long, value_enum, default_value = "mm")]
    units: Units,
}

pub(super) fn compare(
    arguments: &CompareArguments,
    place: &Place,
    out: &mut Out,
) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let (old, before) = judged(&mut archive, &arguments.before, out)?;
    let (new, after) = judged(&mut archive, &arguments.after, out)?;
    let names = [&old, &new].map(|stored| marked(&stored.summary, stored.summary.id.to_string()));
    let mut compared = Compared::of(&before, &after);
    let sides = [&old, &new].into_iter();
    let as_judged = sides.filter(|stored| stored.summary.as_judged);
    compared.assumptions.extend(as_judged.map(|stored| {
        let id = &stored.summary.id;
        format!("the verdict of record {id} was {KEPT_AS_JUDGED}")
    }));
    let units = arguments.units.into();
    let (one, other) = ((names[0].as_str(), &before), (names[1].as_str(), &after));
    if let Some(file) = &arguments.out {
        write(file, &report::compare_svg(one, other, &compared, units)?)?;
    }
    if out.json() {
        out.object(&serde_json::json!({
            "before": old.summary,
            "after": new.summary,
            "compared": compared,
        }))?;
    } else {
        out.text(&report::compare_text(one, other, &compared, units))?;
    }
    Ok(Status::Clear)
}

pub(super) fn trend(arguments: &TrendArguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let mut found = archive.find(&Filter {
        tool: Some(arguments.tool.clone()),
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
        let message = format!("found no judged regrind of `{}`", arguments.tool);
        return Err(Error::new(Code::NoRecord, message)
            .help("`heelclear archive list` lists the tools; only records after a grind count"));
    }
    if found.len() < all {
        out.note(&format!(
            "{} of {all} records are left out: before a grind, not judged, or as judged beside one that was judged again",
            all - found.len()
        ));
    }
    let several = archive.benches()?.len() > 1;
    let mut records = Vec::with_capacity(found.len());
    let mut not_tied = 0;
    for summary in &found {
        let name = name(&summary.id, several);
        let stored = archive.load(&summary.id)?;
        let remark = stored.standing().and_then(Standing::remark);
        if stored.standing() == Some(Standing::Other) {
            out.note(&format!(
                "record {name} is left out: its verdict is {}",
                remark.unwrap_or_default()
            ));
            continue;
        }
        if let Some(record) = stored.record()? {
            not_tied += usize::from(remark.is_some());
            records.push((name, record));
        }
    }
    if not_tied > 0 {
        let remark = Standing::NotTied.remark().unwrap_or_default();
        out.note(&format!("{not_tied} of the verdicts are {remark}"));
    }
    let least = arguments.least_diameter.map(|it| stated(it.mm()));
    let mut trends = Trend::of(&records, least);
    let as_judged = found.iter().filter(|it| it.as_judged);
    let as_judged: Vec<String> = as_judged.map(|it| name(&it.id, several)).collect();
    trends.iter_mut().for_each(|it| mark(it, &as_judged));
    if let Some(feature) = &arguments.feature {
        trends.retain(|it| it.feature == *feature);
    }
    let units = arguments.units.into();
    if let Some(file) = &arguments.out {
        let [one] = trends.as_slice() else {
            let names: Vec<&str> = trends.iter().map(|it| it.feature.as_str()).collect();
            let message = format!("found {} features, expected one to draw", names.len());
            return Err(Error::new(Code::Usage, message)
                .help(format!("name it with `--feature`: {}", names.join(", "))));
        };
        write(file, &report::trend_svg(one, units)?)?;
    }
    if out.json() {
        trends.iter().try_for_each(|it| out.object(it))?;
    } else {
        out.text(&report::trend_text(&trends, units))?;
    }
    Ok(Status::Clear)
}

pub(super) fn certificate(
    arguments: &CertificateArguments,
    place: &Place,
    out: &mut Out,
) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let (stored, record) = judged(&mut archive, &arguments.record, out)?;
    let it = &stored.summary;
    let again = match arguments.judging.as_judged {
        true => "its cards and traces were not judged again for this page",
        false => {
            let place = format!("record {}", it.id);
            vouch::vouch(&stored.files, &place)?;
            "its cards and traces were judged again for this page, and it follows from them"
        }
    };
    let standing = match stored.standing().and_then(Standing::remark) {
        Some(remark) => format!("{again}; {remark}"),
        None => again.to_owned(),
    };
    let replaces = it.replaces.as_ref().map(|replaced| {
        let why = it.why.as_deref().unwrap_or_default();
        format!("replaces {}: {why}", replaced.short())
    });
    let replaced = it.replaced_by.as_ref();
    let kept = Kept {
        record: it.id.to_string(),
        archived: format!("{} on {} by {}", it.archived, it.host, it.program),
        standing,
        issuer: issuer(arguments.shop.as_deref(), out)?,
        issued: today(),
        mark: arguments
            .judging
            .as_judged
            .then(|| vouch::AS_JUDGED.to_owned()),
        content: it.content.to_string(),
        previous: it.previous.to_string(),
        chain: it.chain.to_string(),
        correction: replaced
            .map(|later| format!("NO LONGER HOLDS: replaced by record {later}"))
            .or(replaces),
    };
    let pages = report::certificate(&record, &kept, arguments.units.into())?;
    let mut files = Vec::with_capacity(pages.len());
    for (number, page) in (1..).zip(&pages) {
        let file = page_file(&arguments.out, number);
        write(&file, page)?;
        files.push(file.display().to_string());
    }
    if out.json() {
        out.object(&serde_json::json!({
            "certificate": files.first(),
            "pages": files,
            "record": stored.summary,
        }))?;
    } else {
        files.iter().try_for_each(|file| out.line(file))?;
    }
    Ok(Status::Clear)
}

/// What the shop's card says; a certificate without one says nothing of its issuer.
fn issuer(file: Option<&Path>, out: &mut Out) -> Result<Option<Issuer>> {
    const USUAL: &str = "shop.toml";
    let usual = Path::new(USUAL);
    let file = file.or_else(|| usual.is_file().then_some(usual));
    let Some(file) = file else {
        out.note("no `shop.toml` here and no `--shop`: the certificate does not say who issues it");
        return Ok(None);
    };
    let text = crate::cli::capture::read(file)?;
    let card = ShopCard::parse(&text, &file.display().to_string())?;
    Ok(Some(Issuer {
        name: card.name,
        address: card.address,
        authorised_by: card.authorised_by,
    }))
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

/// A record's name, with what is to be known of its verdict where nobody judged it again.
fn marked(summary: &Summary, name: String) -> String {
    match summary.as_judged {
        true => format!("{name} (as judged)"),
        false => name,
    }
}

/// The file of a page: `12.svg`, then `12-2.svg`, `12-3.svg`.
fn page_file(first: &Path, number: usize) -> PathBuf {
    if number == 1 {
        return first.to_owned();
    }
    let stem = first.file_stem().unwrap_or_default().to_string_lossy();
    let ending = first.extension();
    let ending = ending.map(|it| format!(".{}", it.to_string_lossy()));
    first.with_file_name(format!("{stem}-{number}{}", ending.unwrap_or_default()))
}

/// A record with its verdict; one that was never judged has nothing to draw, and one whose verdict
/// is of other cards or traces nothing that may be.
fn judged(archive: &mut Archive, wanted: &Wanted, out: &mut Out) -> Result<(Stored, Record)> {
    let summary = archive.wanted(wanted)?;
    let stored = archive.load(&summary.id)?;
    match stored.standing() {
        Some(Standing::Other) => {
            let message = format!(
                "the verdict of record {wanted} was judged from other cards or traces than it has: it is no verdict on them"
            );
            return Err(Error::new(Code::Evidence, message).help(
                "`heelclear archive export` takes it out; judge it anew with `heelclear verify`, and add it: it goes in place of this one",
            ));
        }
        Some(Standing::NotTied) => out.note(&format!(
            "the verdict of record {wanted} is {}",
            Standing::NotTied.remark().unwrap_or_default()
        )),
        Some(Standing::Tied) | None => {}
    }
    match stored.record()? {
        Some(record) => Ok((stored, record)),
        None => Err(
            Error::new(Code::NoRecord, format!("record {wanted} was not judged"))
                .help("`heelclear archive export` takes it out; judge it with `heelclear verify`"),
        ),
    }
}

fn write(file: &Path, text: &str) -> Result<()> {
    may_replace(file)?;
    std::fs::write(file, text).map_err(|fault| unwritable(file, fault))
}

/// The day, in UTC as all times of a record.
fn today() -> String {
    let now = jiff::Timestamp::now().to_string();
    now.get(..10).unwrap_or(&now).to_owned()
}
