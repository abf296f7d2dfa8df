//! Adding to an archive: records are only ever added, each tied to the one before it.

use super::contents::Contents;
use super::digest::Digest;
use super::drawing::program;
use super::entry::{AS_JUDGED, FORM, RecordId, Summary};
use super::find::by_content;
use super::open::{Archive, at};
use super::store::{Store, Value, within};
use super::stored_file::SIMULATED_FILE;
use super::subject::{keep_subject, words};
use crate::error::{Code, Error, Result};
use jiff::Timestamp;

/// What became of an inspection that was to be added.
#[derive(Clone, Debug, PartialEq)]
pub enum Added {
    /// It is a record now.
    New(Box<Summary>),
    /// The same files were there already.
    Already(RecordId),
}

impl Added {
    /// The record that holds the inspection.
    pub fn id(&self) -> &RecordId {
        match self {
            Added::New(summary) => &summary.id,
            Added::Already(id) => id,
        }
    }
}

impl Archive {
    /// Adds inspections, all of them in one transaction: when this returns they are on the disk,
    /// or, with an error, none is.
    ///
    /// Files that are there already are not kept again. An inspection whose cards and traces are
    /// there under another verdict replaces that record, as one that was judged again; not where
    /// nobody judged it again.
    ///
    /// # Errors
    /// `disk`, `archive-busy`, `archive-broken`.
    pub fn add(&mut self, inspections: &[Contents]) -> Result<Vec<Added>> {
        let place = self.place().clone();
        let host = gethostname::gethostname().to_string_lossy().into_owned();
        let added = within(self.store.as_mut(), |store| {
            let bench = Archive::bench(store, &host)?;
            let each = inspections.iter();
            each.map(|contents| add_one(store, &bench, &host, contents))
                .collect()
        });
        added.map_err(|error| at(error, &place))
    }
}

fn add_one(store: &mut dyn Store, bench: &str, host: &str, contents: &Contents) -> Result<Added> {
    if let Some(there) = by_content(store, contents.content)? {
        return Ok(Added::Already(there));
    }
    let (replaces, why) = match &contents.correction {
        Some(correction) => (Some(correction.replaces), Some(correction.why.clone())),
        // Only a verdict that follows from its evidence may take another's place unasked.
        None if contents.judged() && !contents.as_judged => {
            let judged_before = last_of_same_evidence(store, contents.evidence)?;
            (judged_before, judged_before.map(|_| judged_again()))
        }
        None => (None, None),
    };
    let (head, previous) = head(store, bench)?;
    let said = contents.said.clone();
    let mut summary = Summary {
        id: RecordId {
            bench: bench.to_owned(),
            number: head + 1,
        },
        form: FORM,
        archived: now(),
        program: match contents.as_judged {
            true => program() + AS_JUDGED,
            false => program(),
        },
        host: host.to_owned(),
        taken: said.taken,
        operator: said.operator,
        stage: said.stage,
        tool: said.tool,
        tool_name: said.tool_name,
        gauge: said.gauge,
        features: said.features,
        verdict: said.verdict,
        replaces,
        why,
        origin: contents.origin.clone(),
        replaced_by: None,
        as_judged: contents.as_judged,
        simulated: contents
            .files
            .iter()
            .any(|file| file.path == SIMULATED_FILE),
        content: contents.content,
        evidence: contents.evidence,
        previous,
        chain: previous,
    };
    summary.chain = summary.chained();
    insert(store, &summary, &words(&summary, said.customer.as_deref()))?;
    for file in &contents.files {
        keep(store, file.digest, &file.packed)?;
        list(store, &summary.id, &file.path, file.size, file.digest)?;
    }
    Ok(Added::New(Box::new(summary)))
}

fn judged_again() -> String {
    format!("judged again by {}", program())
}

/// Now, as precisely as the archive keeps it.
fn now() -> Timestamp {
    let now = Timestamp::now();
    Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now)
}

/// The number of a bench's last record, and the chain up to it.
pub(super) fn head(store: &mut dyn Store, bench: &str) -> Result<(i64, Digest)> {
    let rows = store.rows(
        "select head, chain from bench where id = $1",
        &[Value::Text(bench)],
    )?;
    let row = rows
        .first()
        .ok_or_else(|| Error::new(Code::ArchiveBroken, format!("bench `{bench}` is not in it")))?;
    let chain = Digest::from_bytes(row.bytes(1)?).ok_or_else(|| {
        Error::new(
            Code::ArchiveBroken,
            format!("the chain of bench `{bench}` is no digest"),
        )
    })?;
    Ok((row.int(0)?, chain))
}

/// The content of the last record with the same cards, traces and logs: of those that nothing
/// replaces, where there are such, and before one that was kept as it was judged.
fn last_of_same_evidence(store: &mut dyn Store, evidence: Digest) -> Result<Option<Digest>> {
    let text = "select content, program, (
            select count(*) from record later where later.replaces = record.content)
        from record where evidence = $1 order by archived desc, number desc";
    let rows = store.rows(text, &[Value::Bytes(evidence.as_bytes())])?;
    let mut best: Option<((bool, bool), &[u8])> = None;
    for row in &rows {
        let rank = (row.int(2)? == 0, !row.text(1)?.ends_with(AS_JUDGED));
        if best.is_none_or(|(so_far, _)| rank > so_far) {
            best = Some((rank, row.bytes(0)?));
        }
    }
    Ok(best.and_then(|(_, content)| Digest::from_bytes(content)))
}

/// Puts a record's line in with the words that it is found by, and has its bench end there.
pub(super) fn insert(store: &mut dyn Store, summary: &Summary, words: &str) -> Result<()> {
    let subject = keep_subject(store, &summary.features, words)?;
    let text = "insert into record (bench, number, form, archived, program, host, taken, operator,
            stage, tool, tool_name, gauge, verdict, subject, replaces, why, content, evidence,
            previous, chain, origin)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18,
            $19, $20, $21)";
    let replaces = summary.replaces.as_ref();
    let values = [
        Value::Text(&summary.id.bench),
        Value::Int(summary.id.number),
        Value::Int(summary.form),
        Value::Int(summary.archived.as_microsecond()),
        Value::Text(&summary.program),
        Value::Text(&summary.host),
        Value::Int(summary.taken.as_microsecond()),
        Value::Text(&summary.operator),
        Value::Text(&summary.stage),
        Value::Text(&summary.tool),
        Value::Text(&summary.tool_name),
        Value::Text(&summary.gauge),
        Value::text_or_null(summary.verdict.as_deref()),
        Value::Int(subject),
        replaces.map_or(Value::Null, |digest| Value::Bytes(digest.as_bytes())),
        Value::text_or_null(summary.why.as_deref()),
        Value::Bytes(summary.content.as_bytes()),
        Value::Bytes(summary.evidence.as_bytes()),
        Value::Bytes(summary.previous.as_bytes()),
        Value::Bytes(summary.chain.as_bytes()),
        Value::text_or_null(summary.origin.as_deref()),
    ];
    store.run(text, &values)?;
    let text = "update bench set head = $2, chain = $3 where id = $1";
    let values = [
        Value::Text(&summary.id.bench),
        Value::Int(summary.id.number),
        Value::Bytes(summary.chain.as_bytes()),
    ];
    store.run(text, &values).map(drop)
}

/// Keeps a file's contents, unless some are there under their digest; says whether it did.
pub(super) fn keep(store: &mut dyn Store, digest: Digest, packed: &[u8]) -> Result<bool> {
    let text =
        "insert into content (digest, packed) values ($1, $2) on conflict (digest) do nothing";
    let values = [Value::Bytes(digest.as_bytes()), Value::Bytes(packed)];
    Ok(store.run(text, &values)? > 0)
}

/// Lists a file as one of a record's.
pub(super) fn list(
    store: &mut dyn Store,
    id: &RecordId,
    path: &str,
    size: i64,
    digest: Digest,
) -> Result<()> {
    let text = "insert into file (bench, number, path, size, digest) values ($1, $2, $3, $4, $5)";
    let values = [
        Value::Text(&id.bench),
        Value::Int(id.number),
        Value::Text(path),
        Value::Int(size),
        Value::Bytes(digest.as_bytes()),
    ];
    store.run(text, &values).map(drop)
}
