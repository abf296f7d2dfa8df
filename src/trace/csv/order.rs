//! Whether the lines of a trace file stand in the order of their times.

use super::Rows;
use crate::error::{Code, Error, Result};
use crate::quantity::Time;
use crate::sample::{Mark, Marks};
use crate::trace::align::out_of_order;

/// How many lines at which time ran backwards are named; the rest are only counted.
const NAMED: usize = 5;
/// Where more than one line in so many has no time that grows, nobody knows which of them stand
/// where they were taken (chosen, no source) ...
const ONE_IN: usize = 100;
/// ... but so few are no disorder, however short a trace is (chosen, no source).
const FEW: usize = 2;

/// The lines of a file at which time ran backwards.
#[derive(Debug, Default)]
pub(super) struct Order {
    before: Option<Time>,
    backwards: Vec<u64>,
}

impl Order {
    /// Takes the next line. One that is marked as having no time of its own shows no order.
    pub(super) fn take(&mut self, line: u64, time: Time, marks: Marks) {
        if marks.has(Mark::Unusable) {
            return;
        }
        if self.before.is_some_and(|before| time < before) {
            self.backwards.push(line);
        }
        self.before = Some(time);
    }

    /// What is to be said of it, where time ran backwards at all.
    ///
    /// # Errors
    /// `trace-order` where it did so too often to know what stands where it was taken.
    pub(super) fn seen(&self, file: &str, rows: &Rows) -> Result<Option<String>> {
        let Some(first) = self.backwards.first() else {
            return Ok(None);
        };
        let late = late(&times(rows));
        let all = rows.len();
        let lines: Vec<String> = self
            .backwards
            .iter()
            .take(NAMED)
            .map(u64::to_string)
            .collect();
        let lines = match self.backwards.len() {
            1 => format!("line {first}"),
            count if count > NAMED => format!("{count} lines, first at {}", lines.join(", ")),
            _ => format!("lines {}", lines.join(", ")),
        };
        let said = format!("time ran backwards at {lines}");
        if late > FEW && late * ONE_IN > all {
            let message = format!("{said}: {late} of {all} have no time that grows");
            return Err(Error::new(Code::TraceOrder, message)
                .in_file(file)
                .at_line(*first)
                .help("put the lines in the order in which they were taken, oldest first, or take the trace again"));
        }
        Ok(Some(format!(
            "{file}: {said}; {late} of {all} have no time that grows, are marked and not used"
        )))
    }
}

/// So many have a time before one that was there already, or leap ahead of all the rest. The same
/// time twice is no disorder.
fn late(times: &[Time]) -> usize {
    let mut last = None;
    let mut late = 0;
    for (time, doubtful) in times.iter().zip(out_of_order(times.iter().copied())) {
        match doubtful {
            false => last = Some(time),
            true => late += usize::from(last != Some(time)),
        }
    }
    late
}

fn times(rows: &Rows) -> Vec<Time> {
    let kept = |marks: &Marks| !marks.has(Mark::Unusable);
    match rows {
        Rows::Turning(rows) => rows
            .iter()
            .filter(|it| kept(&it.marks))
            .map(|it| it.time)
            .collect(),
        Rows::Sliding(rows) => rows
            .iter()
            .filter(|it| kept(&it.marks))
            .map(|it| it.time)
            .collect(),
        Rows::Positions(rows) => rows
            .iter()
            .filter(|it| kept(&it.marks))
            .map(|it| it.time)
            .collect(),
        Rows::Heights(rows) => rows
            .iter()
            .filter(|it| kept(&it.marks))
            .map(|it| it.time)
            .collect(),
    }
}
