//! `archive compare`, `trend` and `certificate`: what is drawn from records.

use super::super::style::Units;
use super::super::{Out, Status, names, typed};
use super::replace::may_replace;
use super::vouch;
use crate::error::{Code, Error, Result};
use crate::inspection::write_whole;
use crate::kept::{self, Issue};
use crate::quantity::Length;
use crate::record::archive::{Place, Wanted};
use crate::report::{self, Issuer};
use clap::Args;
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
    let both = kept::compare(&mut archive, &arguments.before, &arguments.after)?;
    [&both.before, &both.after]
        .iter()
        .filter_map(|judged| judged.remark.as_deref())
        .for_each(|remark| out.note(remark));
    let units = arguments.units.into();
    if let Some(file) = &arguments.out {
        write(file, &both.svg(units)?)?;
    }
    if out.json() {
        out.object(&serde_json::json!({
            "before": both.before.stored.summary,
            "after": both.after.stored.summary,
            "compared": both.compared,
        }))?;
    } else {
        out.text(&both.text(units))?;
    }
    Ok(super::tell_doubtful(&mut archive, out))
}

pub(super) fn trend(arguments: &TrendArguments, place: &Place, out: &mut Out) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    let found = kept::regrinds(&mut archive, &arguments.tool, arguments.least_diameter)?;
    found.notes.iter().for_each(|note| out.note(note));
    // A line through some of the regrinds would be followed as one through all of them.
    if let Some(error) = found.unread.into_iter().next() {
        return Err(error);
    }
    let mut trends = found.trends;
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
    Ok(super::tell_doubtful(&mut archive, out))
}

pub(super) fn certificate(
    arguments: &CertificateArguments,
    place: &Place,
    out: &mut Out,
) -> Result<Status> {
    let mut archive = super::open(place, out)?;
    // Paper that goes to a customer must not hide that it holds no more.
    archive.certain()?;
    let judged = kept::judged(&mut archive, &arguments.record)?;
    if let Some(remark) = &judged.remark {
        out.note(remark);
    }
    let judged_again = !arguments.judging.as_judged;
    if judged_again {
        let place = format!("record {}", judged.stored.summary.id);
        vouch::vouch(&judged.stored.files, &place)?;
    }
    let issue = Issue {
        issuer: issuer(arguments.shop.as_deref(), out)?,
        issued: today(),
        judged_again,
    };
    let pages = kept::certificate(&judged, issue, arguments.units.into())?;
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
            "record": judged.stored.summary,
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
    kept::issuer(&text, &file.display().to_string()).map(Some)
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

fn write(file: &Path, text: &str) -> Result<()> {
    may_replace(file)?;
    write_whole(file, text.as_bytes())
}

/// The day, in UTC as all times of a record.
fn today() -> String {
    let now = jiff::Timestamp::now().to_string();
    now.get(..10).unwrap_or(&now).to_owned()
}
