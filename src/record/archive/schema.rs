//! The tables, their version, and how an older archive becomes one of today.

use super::store::{Dialect, Store, Value, within};
use crate::error::{Code, Error, Result};

/// The tables as this program knows them.
pub(super) const VERSION: i64 = 3;

/// Every table, those first that others refer to.
pub(super) const TABLES: [&str; 6] = ["about", "bench", "subject", "record", "content", "file"];

/// How the tables of each version are made from those of the one before; the first from nothing.
///
/// `{int}`, `{bytes}` and `{table}` stand for a database's own words.
const STEPS: [&str; VERSION as usize] = [FIRST, SECOND, THIRD];

/// `about` says what the archive is; `bench` where each chain stands; `record` is a line of the
/// archive; `subject` what many records share, so that a search reads it once; `file` and `content`
/// are the files, each content kept once however many records have it.
const FIRST: &str = "
create table about (
    key text not null primary key,
    value text not null
){table};
create table bench (
    id text not null primary key,
    head {int} not null,
    chain {bytes} not null
){table};
create table subject (
    id {int} not null primary key,
    features text not null,
    words text not null
){table};
create table record (
    bench text not null references bench (id),
    number {int} not null,
    form {int} not null,
    archived {int} not null,
    program text not null,
    host text not null,
    taken {int} not null,
    operator text not null,
    stage text not null,
    tool text not null,
    tool_name text not null,
    gauge text not null,
    verdict text,
    subject {int} not null references subject (id),
    replaces {bytes},
    why text,
    content {bytes} not null,
    evidence {bytes} not null,
    previous {bytes} not null,
    chain {bytes} not null,
    primary key (bench, number)
){table};
create unique index record_by_content on record (content, bench);
create index record_by_evidence on record (evidence);
create index record_by_replaced on record (replaces) where replaces is not null;
create index record_by_taken on record (taken);
create index record_by_tool on record (tool, taken);
create index record_by_operator on record (operator, taken);
create index record_by_verdict on record (verdict, taken);
create index record_by_subject on record (subject, taken);
create table content (
    digest {bytes} not null primary key,
    packed {bytes} not null
){table};
create table file (
    bench text not null,
    number {int} not null,
    path text not null,
    size {int} not null,
    digest {bytes} not null references content (digest),
    primary key (bench, number, path),
    foreign key (bench, number) references record (bench, number)
){table};
";

/// A record that was taken in from an export says which one it was; which files have a content is
/// asked before one is copied elsewhere; a search goes back in time by subjects.
const SECOND: &str = "
alter table record add column origin text;
create index file_by_digest on file (digest);
drop index record_by_taken;
create index record_by_taken on record (taken, subject);
";

/// The tables stay. Files are kept in forms that earlier programs cannot unpack, and these must say
/// so when they open the archive, not when they find one.
const THIRD: &str = "";

/// Makes the tables where there are none, and brings older ones up to today; says where the copy
/// of the older ones lies.
///
/// # Errors
/// `archive-version` where they are newer than this program.
pub(super) fn bring_up(store: &mut dyn Store) -> Result<Option<String>> {
    let found = version(store)?;
    if found == VERSION {
        return Ok(None);
    }
    // Before the change and outside of it: a copy cannot be made within a transaction.
    let copy = match found {
        0 => None,
        _ => store.keep_copy(found)?,
    };
    within(store, |store| {
        store.alone()?;
        // Another program may have done it while this one waited for its turn.
        let found = version(store)?;
        if found == 0 {
            store.prepare()?;
        }
        let steps = steps(&store.dialect());
        for step in steps.iter().skip(found.unsigned_abs() as usize) {
            store.script(step)?;
        }
        remember(store, SCHEMA, &VERSION.to_string())?;
        remember(store, READER, env!("CARGO_PKG_VERSION"))
    })?;
    Ok(copy)
}

/// The steps from nothing to the tables of today, in a database's own words.
pub(super) fn steps(words: &Dialect) -> Vec<String> {
    let said = |step: &&str| {
        step.replace("{int}", words.int)
            .replace("{bytes}", words.bytes)
            .replace("{table}", words.table)
    };
    STEPS.iter().map(said).collect()
}

/// Where the version of the tables stands in `about`.
pub(super) const SCHEMA: &str = "schema";

/// The version of the program that made the tables as they are, and so can read them.
pub(super) const READER: &str = "reader";

/// The version of the tables; 0 where there are none.
pub(super) fn version(store: &mut dyn Store) -> Result<i64> {
    let tables = store.tables()?;
    if !tables.iter().any(|table| table == "about") {
        return Ok(0);
    }
    let found = recall(store, SCHEMA)?;
    let found = found.as_deref().and_then(|version| version.parse().ok());
    let found: i64 = found.ok_or_else(|| {
        Error::new(
            Code::ArchiveBroken,
            "it does not say which version its tables are",
        )
    })?;
    if found > VERSION {
        let reader = recall(store, READER)?;
        let reader = reader.unwrap_or_else(|| "a newer version".to_owned());
        let mine = env!("CARGO_PKG_VERSION");
        let message = format!(
            "read schema {found}, expected at most {VERSION}: it was written by heelclear {reader}, this is {mine}"
        );
        return Err(Error::new(Code::ArchiveVersion, message).help(format!(
            "use heelclear {reader} or newer; nothing was changed"
        )));
    }
    // A view of that name is none: it may have rows without end.
    let missing = TABLES
        .iter()
        .find(|it| !tables.iter().any(|table| table == *it));
    match missing {
        Some(missing) if found == VERSION => {
            let message = format!("its table `{missing}` is missing");
            Err(Error::new(Code::ArchiveBroken, message)
                .help("a backup brings it back; keep the file, something may be had from it yet"))
        }
        _ => Ok(found),
    }
}

/// What the archive says of itself under this key.
pub(super) fn recall(store: &mut dyn Store, key: &str) -> Result<Option<String>> {
    let rows = store.rows(
        "select value from about where key = $1",
        &[Value::Text(key)],
    )?;
    rows.first()
        .map(|row| row.text(0).map(str::to_owned))
        .transpose()
}

/// Has the archive say this of itself under this key.
pub(super) fn remember(store: &mut dyn Store, key: &str, value: &str) -> Result<()> {
    let text = "insert into about (key, value) values ($1, $2)
        on conflict (key) do update set value = excluded.value";
    store
        .run(text, &[Value::Text(key), Value::Text(value)])
        .map(drop)
}
