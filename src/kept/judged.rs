//! A record with its verdict, as far as it may be believed.

use crate::error::{Code, Error, Result};
use crate::record::archive::{Archive, Stored, Wanted};
use crate::record::{Record, Standing};

/// A record with its verdict.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The record with its files.
    pub stored: Stored,
    /// Its verdict in full.
    pub record: Record,
    /// What is to be said of the verdict: that it is not tied to its evidence.
    pub remark: Option<String>,
}

/// A record with its verdict; one that was never judged has nothing to show, and one that is
/// damaged, or whose verdict is of other cards or traces, nothing that may be shown.
///
/// # Errors
/// `no-record`, `archive-broken`, `evidence`, and `card-syntax` where its verdict is of a form that
/// is not read any more.
pub fn judged(archive: &mut Archive, wanted: &Wanted) -> Result<Judged> {
    let summary = archive.wanted(wanted)?;
    let stored = archive.load(&summary.id)?;
    let standing = stored.standing();
    if standing == Some(Standing::Other) {
        let message = format!(
            "the verdict of record {wanted} was judged from other cards or traces than it has: it is no verdict on them"
        );
        return Err(Error::new(Code::Evidence, message).help(
            "`heelclear archive export` takes it out; judge it anew with `heelclear verify`, and add it: it goes in place of this one",
        ));
    }
    let remark = standing.and_then(Standing::remark);
    let remark = remark.map(|remark| format!("the verdict of record {wanted} is {remark}"));
    match stored.record()? {
        Some(record) => Ok(Judged {
            stored,
            record,
            remark,
        }),
        None => Err(
            Error::new(Code::NoRecord, format!("record {wanted} was not judged"))
                .help("`heelclear archive export` takes it out; judge it with `heelclear verify`"),
        ),
    }
}
