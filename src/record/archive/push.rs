//! Copying what is new from one archive into another, as often as wanted and from where it stopped.

use super::add::{head, insert, keep, list};
use super::digest::Digest;
use super::entry::{RecordId, beginning};
use super::find::{benches, one};
use super::look::Proven;
use super::open::{Archive, at};
use super::schema;
use super::sqlite::Sqlite;
use super::store::{Store, Value, within};
use crate::error::{Code, Error, Result};
use crate::record::Standing;
use std::path::Path;

/// So many records are there, or none of them: what is lost with a connection is little.
const BATCH: i64 = 50;

/// What a push came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pushed {
    /// Records that were copied.
    pub new: u64,
    /// Records that were there already.
    pub there: u64,
    /// Of those copied, the ones whose verdict is not known to be one on their cards and traces. A
    /// chain has no gaps, so they go along, and everyone who draws from them is told.
    pub unsure: Vec<(RecordId, Standing)>,
}

impl Archive {
    /// Copies the whole archive into a new file, while others may go on using it.
    ///
    /// # Errors
    /// `disk` where the file is there already or cannot be written.
    pub fn back_up(&mut self, path: &Path) -> Result<()> {
        match self.store.copy_to(path)? {
            true => Ok(()),
            false => into_file(self.store.as_mut(), path),
        }
    }

    /// Copies every record that the other archive does not have; `seen` hears how many it has of
    /// how many. Broken off at any moment, it goes on from there the next time.
    ///
    /// # Errors
    /// `archive-server`, `archive-broken` where a record here is damaged, which is not copied, or
    /// where the other archive has other records under the same numbers.
    pub fn push(&mut self, to: &mut Archive, seen: &mut dyn FnMut(u64, u64)) -> Result<Pushed> {
        let here = self.place().clone();
        copy_all(self.store.as_mut(), to.store.as_mut(), seen).map_err(|error| at(error, &here))
    }
}

/// Copies a whole archive into a new file.
fn into_file(from: &mut dyn Store, path: &Path) -> Result<()> {
    if path.exists() {
        return Err(Error::new(Code::Disk, "found it there already")
            .in_path(path)
            .help("it was left alone; name a new file"));
    }
    let mut to = Sqlite::create(path)?;
    schema::bring_up(&mut to)?;
    copy_all(from, &mut to, &mut |_, _| {}).map(drop)
}

fn copy_all(
    from: &mut dyn Store,
    to: &mut dyn Store,
    seen: &mut dyn FnMut(u64, u64),
) -> Result<Pushed> {
    let benches = benches(from)?;
    let all = benches.iter().map(|bench| bench.number.unsigned_abs());
    let all = all.fold(0, u64::saturating_add);
    let mut pushed = Pushed::default();
    for bench in &benches {
        let before = pushed.there + pushed.new;
        let there = copy_bench(from, to, bench, &mut pushed.unsure, &mut |done| {
            seen(before + done, all)
        })?;
        pushed.there += there;
        pushed.new += bench.number.unsigned_abs().saturating_sub(there);
    }
    Ok(pushed)
}

/// Copies a bench's records behind those that are there; says how many were.
fn copy_bench(
    from: &mut dyn Store,
    to: &mut dyn Store,
    bench: &RecordId,
    unsure: &mut Vec<(RecordId, Standing)>,
    seen: &mut dyn FnMut(u64),
) -> Result<u64> {
    let name = bench.bench.as_str();
    let mut there = None;
    loop {
        let mut in_batch = Vec::new();
        let end = within(to, |to| {
            let (last, chain) = hold(to, name)?;
            there.get_or_insert(last.min(bench.number).unsigned_abs());
            if last >= bench.number {
                same_line(to, from, bench)?;
                return Ok(bench.number);
            }
            if last > 0 && chain != one(from, &id(name, last))?.chain {
                return Err(forked(name, last));
            }
            let end = last.saturating_add(BATCH).min(bench.number);
            for number in last + 1..=end {
                let id = id(name, number);
                let standing = copy_one(from, to, &id)?;
                in_batch.extend(standing.map(|standing| (id, standing)));
            }
            Ok(end)
        })?;
        in_batch.retain(|(_, standing)| *standing != Standing::Tied);
        unsure.append(&mut in_batch);
        seen(end.unsigned_abs());
        if end >= bench.number {
            return Ok(there.unwrap_or_default());
        }
    }
}

fn id(bench: &str, number: i64) -> RecordId {
    RecordId {
        bench: bench.to_owned(),
        number,
    }
}

/// Where a bench's chain ends there; until the transaction does, nobody else moves that end.
fn hold(to: &mut dyn Store, bench: &str) -> Result<(i64, Digest)> {
    let start = beginning(bench);
    let text = "insert into bench (id, head, chain) values ($1, 0, $2) on conflict (id) do nothing";
    to.run(text, &[Value::Text(bench), Value::Bytes(start.as_bytes())])?;
    to.run(
        "update bench set head = head where id = $1",
        &[Value::Text(bench)],
    )?;
    head(to, bench)
}

/// The last record here is the one of its number there.
fn same_line(to: &mut dyn Store, from: &mut dyn Store, bench: &RecordId) -> Result<()> {
    if bench.number == 0 || one(to, bench)?.chain == one(from, bench)?.chain {
        return Ok(());
    }
    Err(forked(&bench.bench, bench.number))
}

fn forked(bench: &str, number: i64) -> Error {
    let message = format!(
        "record {bench}/{number} there is another than the one here: the archive was copied, and both copies went on"
    );
    Error::new(Code::ArchiveBroken, message)
        .help("export what is only here, import it into a new archive, and push that one")
}

/// Copies a record as it is, once it is proven to be whole; says how its verdict stands.
fn copy_one(from: &mut dyn Store, to: &mut dyn Store, id: &RecordId) -> Result<Option<Standing>> {
    let proven = Proven::of(from, id).map_err(|error| match error.code() {
        Code::ArchiveBroken => {
            let message = format!("{}; it was not copied", error.message());
            Error::new(Code::ArchiveBroken, message)
                .help("`heelclear archive check` names all that is broken; a backup brings it back")
        }
        _ => error,
    })?;
    insert(to, &proven.summary, &words_of(from, id)?)?;
    for file in &proven.listed {
        let drawn = proven.drawn.iter().find(|(it, _)| it.path == file.path);
        // A verdict that a report is drawn from need not be among the files.
        let needed = drawn.map(|(_, drawing)| drawing.verdict);
        for digest in needed.into_iter().chain([file.digest]) {
            let there = "select size from file where digest = $1 limit 1";
            // Cards are the same from record to record, and go over the wire once.
            if to
                .rows(there, &[Value::Bytes(digest.as_bytes())])?
                .is_empty()
            {
                let packed = proven.kept.packed(digest).map_err(|fault| {
                    Error::new(Code::ArchiveBroken, format!("record {id}: {fault}"))
                })?;
                keep(to, digest, packed)?;
            }
        }
        list(to, id, &file.path, file.size, file.digest)?;
    }
    Ok(proven.standing)
}

/// The words that a record is found by.
fn words_of(from: &mut dyn Store, id: &RecordId) -> Result<String> {
    let text = "select subject.words from record join subject on subject.id = record.subject
        where record.bench = $1 and record.number = $2";
    let rows = from.rows(text, &[Value::Text(&id.bench), Value::Int(id.number)])?;
    let words = rows.first().map(|row| row.text(0).map(str::to_owned));
    words.unwrap_or_else(|| Ok(String::new()))
}
