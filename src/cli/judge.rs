//! `judge`: a filter that judges rows of inspections, for engines that hand out many.

use super::{Out, Status};
use crate::error::{Code, Error, Result, reason};
use crate::inspection::{JudgedRow, Row};
use clap::Args;
use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};
use serde_json::Value;
use std::io::{BufRead, Read};

/// Judge inspections that come as JSON lines, one row each: a filter for `xargs`, Spark and the like
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear judge --stdin < rows.jsonl > judged.jsonl
  split -l 1000 rows.jsonl part- && ls part-* | xargs -P 8 -I{} sh -c 'heelclear judge --stdin < {} > {}.out'

A row has `id`, `inspection_card`, `tool_card`, `gauge_card`, `traces` with `file` and `blob` (base64)
and, where the readings have a file of their own, `reading_file` and `reading_blob`; `content`, `seed` and
`trials` where they are known. Each is answered by one line, in order, of schema heelclear.judged/1. The
same row gives the same bytes, whatever was judged before it. A row that cannot be judged is answered
with `error`, and stops none of the others: the exit status says only whether all rows were answered.")]
pub(super) struct Arguments {
    /// Read rows from stdin
    #[arg(long, required = true)]
    stdin: bool,

    /// So many rows at a time, on as many cores
    #[arg(long, value_name = "COUNT", default_value_t = 1, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: u16,
}

/// A line may be as long as the longest traces make it, and not endless.
const LONGEST_LINE: u64 = 1 << 31;

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    debug_assert!(arguments.stdin);
    let threads = usize::from(arguments.threads);
    let pool = ThreadPoolBuilder::new().num_threads(threads).build();
    let pool = pool.map_err(|fault| Error::internal("no thread", fault))?;
    let (answered, refused) = judge(&mut std::io::stdin().lock(), threads, &pool, out)?;
    if refused > 0 {
        out.note(&format!("{refused} of {answered} rows could not be judged"));
    }
    Ok(Status::Clear)
}

fn judge(
    input: &mut impl BufRead,
    threads: usize,
    pool: &ThreadPool,
    out: &mut Out,
) -> Result<(u64, u64)> {
    let (mut answered, mut refused, mut number) = (0, 0, 0);
    loop {
        // As many are in memory as are judged at a time.
        let mut lines = Vec::with_capacity(threads);
        while lines.len() < threads
            && let Some(line) = next(input)?
        {
            number += 1;
            if !line.trim_ascii().is_empty() {
                lines.push((number, line));
            }
        }
        if lines.is_empty() || out.closed() {
            return Ok((answered, refused));
        }
        let judged: Vec<JudgedRow> = pool.install(|| {
            let lines = lines.into_par_iter();
            lines.map(|(number, line)| answer(number, &line)).collect()
        });
        for row in judged {
            answered += 1;
            refused += u64::from(row.error.is_some());
            let line = serde_json::to_string(&row)
                .map_err(|fault| Error::internal("cannot write an answer as JSON", fault))?;
            out.bytes(line.as_bytes())?;
            out.bytes(b"\n")?;
        }
    }
}

/// The next line without its end; nothing where there is none.
fn next(input: &mut impl BufRead) -> Result<Option<Vec<u8>>> {
    let mut line = Vec::new();
    let read = input.take(LONGEST_LINE).read_until(b'\n', &mut line);
    let read = read.map_err(|fault| {
        let message = format!("stdin cannot be read on: {}", reason(&fault));
        Error::new(Code::Disk, message)
    })?;
    if read as u64 == LONGEST_LINE {
        let message = format!("read a row of more than {LONGEST_LINE} bytes");
        return Err(
            Error::new(Code::Usage, message).help("a row is one inspection, ended by a line feed")
        );
    }
    Ok((read > 0).then_some(line))
}

fn answer(number: u64, line: &[u8]) -> JudgedRow {
    serde_json::from_slice::<Row>(line)
        .map(Row::judged)
        .unwrap_or_else(|fault| {
            // What it is called may be there although the rest is not.
            let read = serde_json::from_slice::<Value>(line).ok();
            let part = |key: &str| read.as_ref().and_then(|row| row.get(key)).cloned();
            let content = part("content").and_then(|it| serde_json::from_value(it).ok());
            let whole = read.is_some();
            let message = match whole {
                true => format!("no row of an inspection: {fault}"),
                false => format!("line {number} is no JSON: {fault}"),
            };
            let error = Error::new(Code::CardSyntax, message);
            JudgedRow::refused(part("id").unwrap_or_default(), content, &error)
        })
}
