//! A record as a certificate: the pages, and what stands on them besides its figures.

use super::AS_JUDGED;
use super::judged::Judged;
use crate::card::ShopCard;
use crate::error::Result;
use crate::quantity::Units;
use crate::record::Standing;
use crate::report::{self, Issuer, Kept};

/// How a certificate is issued.
#[derive(Clone, Debug)]
pub struct Issue {
    /// Who issues it, where the shop has a card.
    pub issuer: Option<Issuer>,
    /// The day, in UTC as all times of a record.
    pub issued: String,
    /// Whether its cards and traces were judged again for it, and its verdict was [`held`](super::held)
    /// against them.
    pub judged_again: bool,
}

/// The pages of a record's certificate, A4, as SVG.
///
/// # Errors
/// Those of the drawing.
pub fn certificate(judged: &Judged, issue: Issue, units: Units) -> Result<Vec<String>> {
    let it = &judged.stored.summary;
    let again = match issue.judged_again {
        false => "its cards and traces were not judged again for this page",
        true => "its cards and traces were judged again for this page, and it follows from them",
    };
    let standing = match judged.stored.standing().and_then(Standing::remark) {
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
        issuer: issue.issuer,
        issued: issue.issued,
        mark: (!issue.judged_again).then(|| AS_JUDGED.to_owned()),
        content: it.content.to_string(),
        previous: it.previous.to_string(),
        chain: it.chain.to_string(),
        correction: replaced
            .map(|later| format!("NO LONGER HOLDS: replaced by record {later}"))
            .or(replaces),
    };
    report::certificate(&judged.record, &kept, units)
}

/// Who issues, by the text of the shop's card; `file` names it in messages.
///
/// # Errors
/// Those of the card.
pub fn issuer(text: &str, file: &str) -> Result<Issuer> {
    let card = ShopCard::parse(text, file)?;
    Ok(Issuer {
        name: card.name,
        address: card.address,
        authorised_by: card.authorised_by,
    })
}
