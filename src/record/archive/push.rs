//! Copying what is new from one archive into another, as often as wanted and from where it stopped.

use super::add::{head, insert, keep, list};
use super::digest::Digest;
use super::drawing::Draw;
use super::entry::{ASK_CHECK, RecordId, beginning};
use super::find::{benches, one};
use super::kept_files::{packed_bytes, whole};
use super::look::Proven;
use super::open::{Archive, at};
use super::packed;
use super::schema;
use super::sqlite::Sqlite;
use super::store::{Store, Value, within};
use super::stored_file::VERDICT;
use super::subject::words_of;
use crate::error::{Code, Error, Result};
use crate::record::Standing;
use std::collections::HashSet;
use std::path::Path;

/// So many records are there, or none of them: what is lost with a connection is little.
const BATCH: i64 = 50;

/// So often a batch is begun anew that crossed another bench's, which wanted the same contents in
/// another order.
const TRIES: usize = 10;

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
            false => into_file(self.store.as_mut(), path, self.draw),
        }
    }

    /// Copies every record that the other archive does not have; `seen` hears how many it has of
    /// how many. Broken off at any moment, it goes on from there the next time.
    ///
    /// # Errors
    /// `archive-server`, `archive-broken` where a record here is damaged, which is not copied, or
    /// where the other archive has other records under the same numbers.
    pub fn push(&mut self, to: &mut Archive, seen: &mut dyn FnMut(u64, u64)) -> Result<Pushed> {
        let (here, draw) = (self.place().clone(), self.draw);
        let copied = copy_all(self.store.as_mut(), to.store.as_mut(), draw, seen);
        copied.map_err(|error| at(error, &here))
    }
}

/// Copies a whole archive into a new file.
fn into_file(from: &mut dyn Store, path: &Path, draw: Draw) -> Result<()> {
    if path.exists() {
        return Err(Error::new(Code::Disk, "found it there already")
            .in_path(path)
            .help("it was left alone; name a new file"));
    }
    let mut to = Sqlite::create(path)?;
    schema::bring_up(&mut to)?;
    copy_all(from, &mut to, draw, &mut |_, _| {}).map(drop)
}

fn copy_all(
    from: &mut dyn Store,
    to: &mut dyn Store,
    draw: Draw,
    seen: &mut dyn FnMut(u64, u64),
) -> Result<Pushed> {
    let benches = benches(from)?;
    let all = benches.iter().map(|bench| bench.number.unsigned_abs());
    let all = all.fold(0, u64::saturating_add);
    let mut pushed = Pushed::default();
    let mut sound = HashSet::new();
    for bench in &benches {
        let before = pushed.there + pushed.new;
        let mut copied = Copied {
            draw,
            sound: &mut sound,
            unsure: &mut pushed.unsure,
        };
        let there = copy_bench(from, to, bench, &mut copied, &mut |done| {
            seen(before + done, all)
        })?;
        pushed.there += there;
        pushed.new += bench.number.unsigned_abs().saturating_sub(there);
    }
    Ok(pushed)
}

/// What is known of what was copied.
struct Copied<'a> {
    draw: Draw,
    /// Contents that are there as they should be.
    sound: &'a mut HashSet<Digest>,
    unsure: &'a mut Vec<(RecordId, Standing)>,
}

/// Copies a bench's records behind those that are there; says how many were.
fn copy_bench(
    from: &mut dyn Store,
    to: &mut dyn Store,
    bench: &RecordId,
    copied: &mut Copied<'_>,
    seen: &mut dyn FnMut(u64),
) -> Result<u64> {
    let mut there = None;
    let mut tries = 1;
    loop {
        let batch = match within(to, |to| copy_batch(from, to, bench, copied)) {
            Err(_) if to.crossed() && tries < TRIES => {
                tries += 1;
                continue;
            }
            done => done?,
        };
        tries = 1;
        there.get_or_insert(batch.there);
        copied.sound.extend(batch.sound);
        let unsure = batch.standing.into_iter();
        let unsure = unsure.filter(|(_, standing)| *standing != Standing::Tied);
        copied.unsure.extend(unsure);
        seen(batch.end.unsigned_abs());
        if batch.end >= bench.number {
            return Ok(there.unwrap_or_default());
        }
    }
}

/// Records that were copied in one transaction.
struct Batch {
    /// The number of the last.
    end: i64,
    /// How many of those that are here were there before it.
    there: u64,
    sound: HashSet<Digest>,
    standing: Vec<(RecordId, Standing)>,
}

fn copy_batch(
    from: &mut dyn Store,
    to: &mut dyn Store,
    bench: &RecordId,
    copied: &Copied<'_>,
) -> Result<Batch> {
    let name = bench.bench.as_str();
    let (ours, (last, chain)) = hold(to, name)?;
    let mut batch = Batch {
        end: bench.number,
        there: last.min(bench.number).unsigned_abs(),
        sound: HashSet::new(),
        standing: Vec::new(),
    };
    if last >= bench.number {
        same_line(to, from, bench)?;
        return Ok(batch);
    }
    if !ours {
        return Err(of_another(name));
    }
    if last > 0 && chain != one(from, &id(name, last))?.chain {
        return Err(forked(name, last));
    }
    batch.end = last.saturating_add(BATCH).min(bench.number);
    for number in last + 1..=batch.end {
        let id = id(name, number);
        let standing = copy_one(from, to, &id, copied, &mut batch.sound)?;
        batch
            .standing
            .extend(standing.map(|standing| (id, standing)));
    }
    Ok(batch)
}

fn id(bench: &str, number: i64) -> RecordId {
    RecordId {
        bench: bench.to_owned(),
        number,
    }
}

/// Where a bench's chain ends there, and whether this one may go on with it; until the transaction
/// ends, nobody else moves that end.
fn hold(to: &mut dyn Store, bench: &str) -> Result<(bool, (i64, Digest))> {
    let start = beginning(bench);
    let text = "insert into bench (id, head, chain) values ($1, 0, $2) on conflict (id) do nothing";
    to.run(text, &[Value::Text(bench), Value::Bytes(start.as_bytes())])?;
    let text = "update bench set head = head where id = $1";
    let held = to.run(text, &[Value::Text(bench)])?;
    Ok((held > 0, head(to, bench)?))
}

/// The server lets each bench go on with what is its own, and shows the rest.
fn of_another(bench: &str) -> Error {
    let message =
        format!("bench `{bench}` is another role's there, or nobody's yet: nothing was copied");
    Error::new(Code::ArchiveServer, message).help(format!(
        "connect as the role that it belongs to; whoever looks after the server gives it to one with `heelclear archive server-setup --bench ROLE={bench}`"
    ))
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
fn copy_one(
    from: &mut dyn Store,
    to: &mut dyn Store,
    id: &RecordId,
    copied: &Copied<'_>,
    sound: &mut HashSet<Digest>,
) -> Result<Option<Standing>> {
    let proven = Proven::of(from, id).map_err(|error| match error.code() {
        Code::ArchiveBroken => {
            let message = format!("{}; it was not copied", error.message());
            Error::new(Code::ArchiveBroken, message).help(ASK_CHECK)
        }
        _ => error,
    })?;
    insert(to, &proven.summary, &words_of(from, id)?)?;
    for file in &proven.listed {
        let drawn = proven.drawn.iter().find(|(it, _)| it.path == file.path);
        // A verdict that a report is drawn from need not be among the files.
        let needed = drawn.map(|(_, drawing)| drawing.verdict);
        for digest in needed.into_iter().chain([file.digest]) {
            // Cards are the same from record to record, and go over the wire once.
            if !copied.sound.contains(&digest) && !sound.contains(&digest) {
                let packed = proven.kept.packed(digest).map_err(|fault| {
                    Error::new(Code::ArchiveBroken, format!("record {id}: {fault}"))
                })?;
                deliver(to, &proven, digest, packed, copied.draw)
                    .map_err(|fault| spoiled(&proven, &fault))?;
                sound.insert(digest);
            }
        }
        list(to, id, &file.path, file.size, file.digest)?;
    }
    Ok(proven.standing)
}

/// Why contents did not get there.
enum Undelivered {
    Refused(Error),
    /// Others are there under their digest.
    Spoiled(Digest),
}

impl From<Error> for Undelivered {
    fn from(error: Error) -> Self {
        Undelivered::Refused(error)
    }
}

/// Has contents lie there, and trusts nobody who says that they do: on a server, whoever may add
/// records could have put others under this digest before.
fn deliver(
    to: &mut dyn Store,
    proven: &Proven,
    digest: Digest,
    packed: &[u8],
    draw: Draw,
) -> std::result::Result<(), Undelivered> {
    let mut there = packed_bytes(to, digest)?;
    if there.is_none() {
        if keep(to, digest, packed)? {
            return Ok(());
        }
        // Another bench was faster.
        there = packed_bytes(to, digest)?;
    }
    match there.is_some_and(|there| there == packed || as_good(&there, proven, digest, draw)) {
        true => Ok(()),
        false => Err(Undelivered::Spoiled(digest)),
    }
}

/// Whether the file comes out of these bytes, however an earlier or later program packed them.
fn as_good(there: &[u8], proven: &Proven, digest: Digest, draw: Draw) -> bool {
    match packed::drawing(there) {
        Ok(None) => whole(there, digest).is_ok(),
        Ok(Some(drawing)) => {
            let mut drawn = proven.drawn.iter();
            let like_ours = drawn.any(|(file, ours)| {
                file.digest == digest && (ours.verdict, ours.way) == (drawing.verdict, drawing.way)
            });
            let again = || {
                let mut listed = proven.listed.iter();
                listed.find(|file| file.path == VERDICT && file.digest == drawing.verdict)?;
                let verdict = proven.kept.verdict(&drawing).ok()?;
                drawing.again(&verdict, draw).ok()
            };
            like_ours || again().is_some_and(|report| Digest::of(&report) == digest)
        }
        Err(_) => false,
    }
}

fn spoiled(proven: &Proven, why: &Undelivered) -> Error {
    match why {
        Undelivered::Refused(error) => error.clone(),
        Undelivered::Spoiled(digest) => {
            let mut listed = proven.listed.iter();
            let file = listed.find(|file| file.digest == *digest);
            let what = match file {
                Some(file) => format!("its file `{}`", file.path),
                None => "the verdict that its report is drawn from".to_owned(),
            };
            let message = format!(
                "record {} was not copied: there, something else lies under the digest of {what}",
                proven.summary.id
            );
            Error::new(Code::ArchiveBroken, message).help(format!(
                "whoever looks after the server sees who put it there, and takes it out: `select owner from heelclear.content where digest = '\\x{digest}'`"
            ))
        }
    }
}
