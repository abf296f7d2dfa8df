//! Checking an archive: every file, every digest, every link of every chain.

use super::add::head;
use super::contents::{Said, content, evidence, said};
use super::digest::Digest;
use super::drawing::Drawing;
use super::entry::{FORM, RecordId, Summary, beginning};
use super::find::{benches, one};
use super::load::{Kept, ListedFile, Opened, listed};
use super::open::Archive;
use super::standing::standing;
use super::store::{Store, Value};
use super::stored_file::StoredFile;
use crate::error::{Code, Result};
use crate::record::Standing;
use rayon::prelude::*;
use serde::Serialize;
use std::ops::RangeInclusive;

/// Something that is broken, missing or out of order.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fault {
    /// The bench whose chain it is in; nothing for what belongs to the file as a whole.
    pub bench: Option<String>,
    /// The record's number, where it is of one.
    pub number: Option<i64>,
    /// What was found.
    pub found: String,
}

/// What a check came to.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Checked {
    /// Records that were looked at.
    pub records: u64,
    /// Their files.
    pub files: u64,
    /// The end of each chain, to be compared with what was written down elsewhere.
    pub heads: Vec<Head>,
    /// Everything that was found.
    pub faults: Vec<Fault>,
    /// Records whose verdict does not say what it was judged from: earlier programs kept them so.
    pub not_tied: Vec<RecordId>,
    /// Records whose verdict was kept as it was judged: nobody held it against its evidence.
    pub as_judged: Vec<RecordId>,
}

/// The end of a bench's chain.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Head {
    /// Its last record.
    #[serde(flatten)]
    pub id: RecordId,
    /// The digest that everything before is tied into.
    pub chain: Digest,
}

impl Archive {
    /// Checks everything; `seen` hears the number of records done and of all.
    ///
    /// # Errors
    /// When the archive cannot be read at all. What is broken in it is no error, but in the
    /// answer.
    pub fn check(&mut self, seen: &mut dyn FnMut(u64, u64)) -> Result<Checked> {
        let mut store = self.store.as_mut();
        let mut checked = Checked::default();
        let mut rebuilt;
        // A page that cannot be read must not hide what the rest shows.
        let examined = store.examine();
        let said = examined.unwrap_or_else(|error| vec![error.message().to_owned()]);
        checked.faults.extend(said.into_iter().map(|found| Fault {
            bench: None,
            number: None,
            found,
        }));
        // Damage to an index alone must not be laid on every record that is found through it.
        if !checked.faults.is_empty() {
            rebuilt = store.rebuilt();
            if let Some(rebuilt) = rebuilt.as_deref_mut() {
                store = rebuilt;
            }
        }
        let benches = benches(store)?;
        let all = benches
            .iter()
            .map(|bench| bench.number.unsigned_abs())
            .sum();
        for bench in &benches {
            check_bench(store, &bench.bench, &mut checked, &mut |done| {
                seen(done, all)
            })?;
        }
        if let Err(error) = check_strays(store, &mut checked) {
            checked.faults.push(Fault {
                bench: None,
                number: None,
                found: error.message().to_owned(),
            });
        }
        Ok(checked)
    }
}

/// What is said of a record that does not fit into its chain.
pub(super) const NOT_TIED_TO_THE_ONE_BEFORE: &str = "it is not tied to the record before it: that one was changed, or others were put between or taken out";
pub(super) const STANDS_BEYOND: &str = "it stands beyond the end of its chain";
pub(super) const CHAIN_ENDS_ELSEWHERE: &str =
    "the chain of this bench ends in another digest than is written down for it";

/// A batch of records is read while the one before it is looked at; it ends with so many records,
/// or so many bytes as they are kept.
const BATCH: usize = 64;
const BATCH_BYTES: usize = 32 * 1024 * 1024;

/// Follows one chain from its beginning.
fn check_bench(
    store: &mut dyn Store,
    bench: &str,
    checked: &mut Checked,
    seen: &mut dyn FnMut(u64),
) -> Result<()> {
    let (last, chain) = head(store, bench)?;
    let mut before = Some(beginning(bench));
    let mut numbers = 1..=last;
    let mut batch = next_batch(store, bench, &mut numbers);
    while !batch.is_empty() {
        let look_at = |(number, read): (i64, Result<Read>)| (number, read.map(Read::looked_at));
        let (looked, following): (Vec<_>, _) = rayon::join(
            || batch.into_par_iter().map(look_at).collect(),
            || next_batch(store, bench, &mut numbers),
        );
        for (number, looked) in looked {
            before = link(bench, number, looked, before, checked);
        }
        seen(checked.records);
        batch = following;
    }
    if before.is_some_and(|before| before != chain) {
        checked.faults.push(Fault {
            bench: Some(bench.to_owned()),
            number: Some(last),
            found: CHAIN_ENDS_ELSEWHERE.to_owned(),
        });
    }
    let id = RecordId {
        bench: bench.to_owned(),
        number: last,
    };
    checked.heads.push(Head { id, chain });
    Ok(())
}

fn next_batch(
    store: &mut dyn Store,
    bench: &str,
    numbers: &mut RangeInclusive<i64>,
) -> Vec<(i64, Result<Read>)> {
    let mut batch = Vec::with_capacity(BATCH);
    let mut bytes = 0;
    while batch.len() < BATCH && bytes < BATCH_BYTES {
        let Some(number) = numbers.next() else {
            break;
        };
        let id = RecordId {
            bench: bench.to_owned(),
            number,
        };
        let read = one(store, &id).map(|summary| Read::of(store, summary));
        bytes += read.as_ref().map_or(0, |read| read.kept.bytes());
        batch.push((number, read));
    }
    batch
}

/// Holds a record against the one before it; gives its own end of the chain, where it is known.
fn link(
    bench: &str,
    number: i64,
    looked: Result<Looked>,
    before: Option<Digest>,
    checked: &mut Checked,
) -> Option<Digest> {
    let mut faults = Vec::new();
    let mut end = None;
    match looked {
        Ok(looked) => {
            let summary = looked.summary;
            if looked.standing == Some(Standing::NotTied) {
                checked.not_tied.push(summary.id.clone());
            }
            if summary.as_judged {
                checked.as_judged.push(summary.id.clone());
            }
            faults = looked.faults;
            // After a record that is missing, only the ones behind it can be compared.
            if before.is_some_and(|before| before != summary.previous) {
                faults.push(NOT_TIED_TO_THE_ONE_BEFORE.to_owned());
            }
            end = Some(summary.chain);
            checked.records += 1;
            checked.files += looked.files;
        }
        Err(error) if error.code() == Code::NoRecord => faults.push("it is missing".to_owned()),
        Err(error) => faults.push(error.message().to_owned()),
    }
    checked.faults.extend(faults.into_iter().map(|found| Fault {
        bench: Some(bench.to_owned()),
        number: Some(number),
        found,
    }));
    end
}

/// A record with its files as they are kept.
pub(super) struct Read {
    summary: Summary,
    listed: Result<Vec<ListedFile>>,
    kept: Kept,
}

/// What was found in a record by itself.
pub(super) struct Looked {
    pub summary: Summary,
    pub faults: Vec<String>,
    /// Its files that were opened.
    files: u64,
    /// How its verdict stands to its cards and traces, where it was judged and all its files are
    /// whole.
    pub standing: Option<Standing>,
}

impl Read {
    pub(super) fn of(store: &mut dyn Store, summary: Summary) -> Self {
        let listed = listed(store, &summary.id);
        let files = listed.as_deref().unwrap_or_default();
        Self {
            kept: Kept::of(store, files),
            summary,
            listed,
        }
    }

    /// Opens every file of the record, and holds what the archive says of it against them.
    pub(super) fn looked_at(self) -> Looked {
        let (mut faults, mut files) = (Vec::new(), 0);
        let standing = self.look(&mut faults, &mut files);
        Looked {
            summary: self.summary,
            faults,
            files,
            standing,
        }
    }

    fn look(&self, faults: &mut Vec<String>, seen: &mut u64) -> Option<Standing> {
        let summary = &self.summary;
        if !(1..=FORM).contains(&summary.form) {
            faults.push(format!("read form {}, expected 1 to {FORM}", summary.form));
            return None;
        }
        if !summary.is_as_made() {
            faults.push(
                "what is said of it does not belong to its digest: it was changed".to_owned(),
            );
        }
        let listed = match &self.listed {
            Ok(listed) => listed,
            Err(error) => {
                faults.push(format!("its files: {}", error.message()));
                return None;
            }
        };
        let digests = || listed.iter().map(|file| (file.path.as_str(), file.digest));
        if content(digests()) != summary.content {
            faults.push("its files are not those that it was made with".to_owned());
        }
        if evidence(digests(), summary.form) != summary.evidence {
            faults.push("its cards and traces are not those that it was made with".to_owned());
        }
        let whole = faults.is_empty();
        let opened = self.open_all(listed, faults);
        *seen += listed.len() as u64;
        // Only whole files can speak for themselves.
        let files = opened.filter(|_| whole)?;
        match said(&files, "") {
            Ok(said) if says_the_same(&said, summary) => {}
            Ok(_) => {
                faults.push("its files say something else than the archive says of it".to_owned());
            }
            // Cards are read by today's rules, which may be stricter than those of their time.
            Err(_) => {}
        }
        let standing = standing(&files);
        if standing == Some(Standing::Other) {
            faults.push("its verdict was judged from other cards or traces than it has: it is no verdict on this record".to_owned());
        }
        standing
    }

    /// Every file that is kept; nothing where one of them, or a verdict to draw from, is broken.
    fn open_all(&self, listed: &[ListedFile], faults: &mut Vec<String>) -> Option<Vec<StoredFile>> {
        let mut files = Vec::new();
        let before = faults.len();
        for file in listed {
            let opened = self.kept.open(file).and_then(|opened| match opened {
                Opened::File(bytes) => Ok(Some(bytes)),
                Opened::Drawing(drawing) => self.source_of(&drawing, listed).map(|()| None),
            });
            match opened {
                Ok(Some(bytes)) => files.push(StoredFile {
                    path: file.path.clone(),
                    bytes,
                }),
                Ok(None) => {}
                Err(fault) => faults.push(format!("file `{}`: {fault}", file.path)),
            }
        }
        (faults.len() == before).then_some(files)
    }

    /// A report that is not kept is whole where the verdict is that it is drawn from. Drawing it
    /// would take longer than all else, and show only whether this program draws as an earlier one.
    fn source_of(
        &self,
        drawing: &Drawing,
        listed: &[ListedFile],
    ) -> std::result::Result<(), String> {
        // Its own verdict is opened among its files.
        match listed.iter().any(|file| file.digest == drawing.verdict) {
            true => Ok(()),
            false => self.kept.verdict(drawing).map(drop),
        }
    }
}

fn says_the_same(said: &Said, summary: &Summary) -> bool {
    said.taken.as_microsecond() == summary.taken.as_microsecond()
        && said.operator == summary.operator
        && said.stage == summary.stage
        && said.tool == summary.tool
        && said.tool_name == summary.tool_name
        && said.features == summary.features
        && said.verdict == summary.verdict
}

/// Records beyond the end of their chain, and files of no record.
fn check_strays(store: &mut dyn Store, checked: &mut Checked) -> Result<()> {
    let text = "select record.bench, record.number from record
        left join bench on bench.id = record.bench
        where bench.id is null or record.number > bench.head or record.number < 1
        order by record.bench, record.number";
    for row in store.rows(text, &[])? {
        checked.faults.push(Fault {
            bench: Some(row.text(0)?.to_owned()),
            number: Some(row.int(1)?),
            found: STANDS_BEYOND.to_owned(),
        });
    }
    let text = "select file.bench, file.number, file.path from file
        left join record on record.bench = file.bench and record.number = file.number
        where record.number is null order by file.bench, file.number, file.path";
    for row in store.rows(text, &[] as &[Value<'_>])? {
        checked.faults.push(Fault {
            bench: Some(row.text(0)?.to_owned()),
            number: Some(row.int(1)?),
            found: format!("file `{}` belongs to no record", row.text(2)?),
        });
    }
    Ok(())
}
