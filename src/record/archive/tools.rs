//! The tools of an archive, each by its last record, and the records of one.
//!
//! A line that cannot be read is told and hides none of the others.

use super::entry::{ASK_CHECK, RecordId, Summary};
use super::find::{COLUMNS, Conditions, FROM, Filter, Patterns, benches, summary};
use super::open::{Archive, at};
use super::store::{Row, Store, Value};
use super::stored_file::SIMULATED_FILE;
use crate::error::{Error, Result};
use std::collections::{HashMap, HashSet};

/// A tool with records.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolLine {
    /// The last measured of its records that hold.
    pub last: Summary,
    /// All of its records, those too that later ones replace.
    pub records: i64,
    /// How many of them come from a simulated gauge.
    pub simulated: i64,
    /// Why it is due for a grind, where it is, by the last record that settles it.
    pub due: Option<Due>,
}

/// What was found of tools.
#[derive(Debug, Default)]
pub struct Tools {
    /// Those that were asked for, the last measured first.
    pub lines: Vec<ToolLine>,
    /// How many there are in all.
    pub all: usize,
    /// Lines of the archive that cannot be read.
    pub unread: Vec<Error>,
}

/// Which tools are wanted.
#[derive(Clone, Debug, Default)]
pub struct ToolsWanted {
    /// Those with a record like this.
    pub with: Filter,
    /// Those alone that are due for a grind.
    pub due: bool,
    /// So many are left out at the beginning.
    pub from: usize,
    /// At most so many; nothing for all.
    pub most: Option<usize>,
}

/// Why a tool is due for a grind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    /// It fails as it was ground last.
    FailsAsGround,
    /// It failed before a grind, and no record after one follows.
    Fails,
    /// It was not proven to clear before a grind, and no record after one follows.
    NotProven,
    /// A record of it is not as it was made, and nobody knows what it said.
    Damaged,
}

impl Due {
    /// The reason, as it is told to a person.
    pub const fn why(self) -> &'static str {
        match self {
            Due::FailsAsGround => "its last record fails, after a grind",
            Due::Fails => "it failed before a grind, and no record after one follows",
            Due::NotProven => {
                "measured before a grind and not proven to clear, and no record after one follows"
            }
            Due::Damaged => "its record is not as it was made: nobody knows how it stands",
        }
    }
}

impl Summary {
    /// What this record alone says of a grind that is due; nothing where it settles neither that one is
    /// nor that none is: it was simulated, or nobody judged it again, or it is undecided after a grind,
    /// which wants a better measurement first. A pass before a grind still cuts.
    fn settles(&self) -> Option<Option<Due>> {
        let after = self.stage == "after-grind";
        if !self.is_as_made() {
            return Some(Some(Due::Damaged));
        }
        match (self.verdict.as_deref(), after) {
            _ if self.simulated => None,
            (Some("pass"), _) if self.as_judged => None,
            (Some("pass"), _) => Some(None),
            (Some("fail"), true) => Some(Some(Due::FailsAsGround)),
            (Some("fail"), false) => Some(Some(Due::Fails)),
            (_, true) => None,
            (_, false) => Some(Some(Due::NotProven)),
        }
    }
}

impl Archive {
    /// The tools that are wanted, each by the last of its records that no later one replaces.
    ///
    /// # Errors
    /// `disk`, `archive-broken` or `archive-server` where the archive cannot be read.
    pub fn tools(&mut self, wanted: &ToolsWanted) -> Result<Tools> {
        let place = self.place().clone();
        tools(self.store.as_mut(), wanted).map_err(|error| at(error, &place))
    }

    /// The last measured records of a tool, those too that later ones replace; at most so many. One
    /// that cannot be read is an error among the others.
    ///
    /// # Errors
    /// As [`Archive::tools`].
    pub fn of_tool(&mut self, tool: &str, most: usize) -> Result<Vec<Result<Summary>>> {
        let place = self.place().clone();
        let filter = Filter {
            tool: Some(tool.to_owned()),
            replaced: true,
            limit: Some(most),
            ..Filter::default()
        };
        lines(self.store.as_mut(), &filter, None).map_err(|error| at(error, &place))
    }

    /// How many records there are of a tool, and how many of them come from a simulated gauge.
    ///
    /// # Errors
    /// As [`Archive::tools`].
    pub fn count(&mut self, tool: &str) -> Result<(i64, i64)> {
        count(self.store.as_mut(), tool)
    }

    /// Records that a bench counted and that are not there; at most so many.
    ///
    /// # Errors
    /// As [`Archive::tools`].
    pub fn missing(&mut self, most: usize) -> Result<Vec<RecordId>> {
        let store = self.store.as_mut();
        let mut missing = Vec::new();
        for head in benches(store)? {
            let text = "select number from record where bench = $1";
            let rows = store.rows(text, &[Value::Text(&head.bench)])?;
            let there: HashSet<i64> = rows.iter().map(|row| row.int(0)).collect::<Result<_>>()?;
            let left = most.saturating_sub(missing.len());
            let gone = (1..=head.number).filter(|number| !there.contains(number));
            missing.extend(gone.take(left).map(|number| RecordId {
                bench: head.bench.clone(),
                number,
            }));
        }
        Ok(missing)
    }
}

fn tools(store: &mut dyn Store, wanted: &ToolsWanted) -> Result<Tools> {
    let mut found = Tools::default();
    let mut seen = HashSet::new();
    let mut last = Vec::new();
    for line in lines(store, &Filter::default(), Some(&wanted.with))? {
        match line {
            // Two records of one moment are both the last.
            Ok(line) if !seen.insert(line.tool.clone()) => {}
            Ok(line) => last.push(line),
            Err(error) => found.unread.push(error),
        }
    }
    let mut due = HashMap::new();
    if wanted.due {
        for line in &last {
            if let Some(why) = due_of(store, line)? {
                due.insert(line.tool.clone(), why);
            }
        }
        last.retain(|line| due.contains_key(&line.tool));
    }
    found.all = last.len();
    let most = wanted.most.unwrap_or(usize::MAX);
    for last in last.into_iter().skip(wanted.from).take(most) {
        let (records, simulated) = count(store, &last.tool)?;
        let due = match wanted.due {
            true => due.get(&last.tool).copied(),
            false => due_of(store, &last)?,
        };
        found.lines.push(ToolLine {
            last,
            records,
            simulated,
            due,
        });
    }
    Ok(found)
}

/// Whether a tool is due, by the last of its records that settles it: what was simulated, what nobody
/// judged again and what is undecided hides no fail before it.
fn due_of(store: &mut dyn Store, last: &Summary) -> Result<Option<Due>> {
    if let Some(settled) = last.settles() {
        return Ok(settled);
    }
    let filter = Filter {
        tool: Some(last.tool.clone()),
        ..Filter::default()
    };
    let all = lines(store, &filter, None)?;
    let settled = all.iter().find_map(|line| match line {
        Ok(line) => line.settles(),
        Err(_) => Some(Some(Due::Damaged)),
    });
    Ok(settled.flatten())
}

fn count(store: &mut dyn Store, tool: &str) -> Result<(i64, i64)> {
    let text = "select count(*), count(case when exists (select 1 from file
            where file.bench = record.bench and file.number = record.number and file.path = $2)
            then 1 end) from record where record.tool = $1";
    let rows = store.rows(text, &[Value::Text(tool), Value::Text(SIMULATED_FILE)])?;
    let first = rows.first().map(|row| Ok((row.int(0)?, row.int(1)?)));
    first.unwrap_or(Ok((0, 0)))
}

/// The lines of the archive like this, the last measured first; where `tools` are wanted, the last
/// line of each tool with a record like that.
fn lines(
    store: &mut dyn Store,
    filter: &Filter,
    tools: Option<&Filter>,
) -> Result<Vec<Result<Summary>>> {
    let patterns = Patterns::of(filter);
    let mut conditions = Conditions::of(filter, &patterns);
    let none = Filter::default();
    let patterns = Patterns::of(tools.unwrap_or(&none));
    if let Some(tools) = tools {
        conditions.of_tools_with(tools, &patterns);
        conditions.last_of_each_tool();
    }
    let wanted = conditions.text();
    let limit = filter.limit.and_then(|limit| i64::try_from(limit).ok());
    conditions
        .values
        .push(Value::Int(limit.unwrap_or(i64::MAX)));
    let (values, place) = (&conditions.values, conditions.values.len());
    let text = format!(
        "select {COLUMNS} {FROM} {wanted}
        order by record.taken desc, record.bench, record.number desc limit ${place}"
    );
    let mut found = Vec::new();
    store.each(&text, values, &mut |row| {
        let name = name(&row);
        found.push(summary(row).map_err(|error| named(&error, &name)));
        Ok(true)
    })?;
    Ok(found)
}

/// The record that a row is of, as far as it says.
fn name(row: &Row) -> String {
    match (row.text(0), row.int(1)) {
        (Ok(bench), Ok(number)) => format!("record {bench}/{number}"),
        _ => "a record without a name".to_owned(),
    }
}

fn named(error: &Error, name: &str) -> Error {
    Error::new(error.code(), format!("{name}: {}", error.message())).help(ASK_CHECK)
}
