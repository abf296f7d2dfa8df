//! Checking an archive: every file, every digest, every link of every chain.

use super::add::head;
use super::digest::Digest;
use super::entry::{RecordId, beginning};
use super::find::one;
use super::look::{CHAIN_ENDS_ELSEWHERE, Looked, NOT_TIED_TO_THE_ONE_BEFORE, Read, STANDS_BEYOND};
use super::open::Archive;
use super::store::{Store, Value};
use crate::error::{Code, Result};
use crate::record::Standing;
use rayon::prelude::*;
use serde::Serialize;

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
        let benches = bench_names(store)?;
        let all = count(store)?;
        for bench in &benches {
            let seen = &mut |done| seen(done, all);
            if let Err(error) = check_bench(store, bench, &mut checked, seen) {
                // What is wrong with one bench hides nothing of the others.
                checked.faults.push(Fault {
                    bench: Some(bench.clone()),
                    number: None,
                    found: error.message().to_owned(),
                });
            }
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

fn bench_names(store: &mut dyn Store) -> Result<Vec<String>> {
    let rows = store.rows("select id from bench order by id", &[])?;
    rows.iter()
        .map(|row| row.text(0).map(str::to_owned))
        .collect()
}

fn count(store: &mut dyn Store) -> Result<u64> {
    let rows = store.rows("select count(*) from record", &[])?;
    let count = rows.first().map_or(Ok(0), |row| row.int(0))?;
    Ok(count.unsigned_abs())
}

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
    let ends = head(store, bench);
    // Where its end cannot be read, what is there is looked at all the same.
    let last = ends.as_ref().map_or(i64::MAX, |(last, _)| *last);
    let mut numbers = numbers(store, bench, last)?.into_iter();
    let mut chain = Chain {
        bench,
        end: Some(beginning(bench)),
        number: 0,
    };
    let mut batch = next_batch(store, bench, &mut numbers);
    while !batch.is_empty() {
        let look_at = |(number, read): (i64, Result<Read>)| {
            let looked = read.map(|read| (read.looked_at(), read));
            (number, looked)
        };
        let (looked, following): (Vec<_>, _) = rayon::join(
            || batch.into_par_iter().map(look_at).collect(),
            || next_batch(store, bench, &mut numbers),
        );
        for (number, looked) in looked {
            chain.link(number, looked, checked);
        }
        seen(checked.records);
        batch = following;
    }
    let (last, end) = ends?;
    chain.lacks_up_to(last.saturating_add(1), checked);
    if chain.end.is_some_and(|before| before != end) {
        chain.fault(Some(last), CHAIN_ENDS_ELSEWHERE.to_owned(), checked);
    }
    let id = RecordId {
        bench: bench.to_owned(),
        number: last,
    };
    checked.heads.push(Head { id, chain: end });
    Ok(())
}

/// The records of a bench that are there, in order.
fn numbers(store: &mut dyn Store, bench: &str, last: i64) -> Result<Vec<i64>> {
    let text = "select number from record where bench = $1 and number between 1 and $2
        order by number";
    let mut numbers = Vec::new();
    let values = [Value::Text(bench), Value::Int(last)];
    store.each(text, &values, &mut |row| {
        numbers.push(row.int(0)?);
        Ok(true)
    })?;
    Ok(numbers)
}

fn next_batch(
    store: &mut dyn Store,
    bench: &str,
    numbers: &mut std::vec::IntoIter<i64>,
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

/// How far a bench's chain was followed.
struct Chain<'a> {
    bench: &'a str,
    /// What the next record is to be tied to; nothing behind one that is missing.
    end: Option<Digest>,
    /// The last record that was looked at.
    number: i64,
}

impl Chain<'_> {
    fn fault(&self, number: Option<i64>, found: String, checked: &mut Checked) {
        checked.faults.push(Fault {
            bench: Some(self.bench.to_owned()),
            number,
            found,
        });
    }

    /// Names what is missing before a record: however much it is, in one line.
    fn lacks_up_to(&mut self, number: i64, checked: &mut Checked) {
        let first = self.number.saturating_add(1);
        if first < number {
            let found = match number - first {
                1 => "it is missing".to_owned(),
                more => format!("it is missing, and {} records after it", more - 1),
            };
            self.fault(Some(first), found, checked);
            self.end = None;
        }
    }

    /// Holds a record against the one before it.
    fn link(&mut self, number: i64, looked: Result<(Looked, Read)>, checked: &mut Checked) {
        self.lacks_up_to(number, checked);
        self.number = number;
        let (faults, end) = match looked {
            Ok((looked, Read { summary, .. })) => {
                if looked.standing == Some(Standing::NotTied) {
                    checked.not_tied.push(summary.id.clone());
                }
                if summary.as_judged {
                    checked.as_judged.push(summary.id.clone());
                }
                let mut faults = looked.all_faults();
                // After a record that is missing, only the ones behind it can be compared.
                if self.end.is_some_and(|before| before != summary.previous) {
                    faults.push(NOT_TIED_TO_THE_ONE_BEFORE.to_owned());
                }
                checked.records += 1;
                checked.files += looked.files;
                (faults, Some(summary.chain))
            }
            Err(error) if error.code() == Code::NoRecord => {
                (vec!["it is missing".to_owned()], None)
            }
            Err(error) => (vec![error.message().to_owned()], None),
        };
        for found in faults {
            self.fault(Some(number), found, checked);
        }
        self.end = end;
    }
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
