//! What a search goes by: the features and words of records, once for all that share them.
//!
//! A subject's number is made of what it says, and so is the same in every archive.

use super::digest::Sum;
use super::entry::{RecordId, Summary};
use super::store::{Store, Value};
use crate::error::{Code, Error, Result};

/// Keeps the subject of these features and words, unless it is there; gives its number.
pub(super) fn keep_subject(store: &mut dyn Store, features: &[String], words: &str) -> Result<i64> {
    let features = lines(features);
    let subject = number(&features, words);
    let text = "insert into subject (id, features, words) values ($1, $2, $3)
        on conflict (id) do nothing";
    let values = [
        Value::Int(subject),
        Value::Text(&features),
        Value::Text(words),
    ];
    if store.run(text, &values)? == 0 {
        same(store, subject, [&features, words])?;
    }
    Ok(subject)
}

/// What is there under the number of a subject is this one: on a server, others put theirs there.
fn same(store: &mut dyn Store, number: i64, expected: [&str; 2]) -> Result<()> {
    let text = "select features, words from subject where id = $1";
    let rows = store.rows(text, &[Value::Int(number)])?;
    let row = rows.first();
    let same = row.map(|row| Ok([row.text(0)?, row.text(1)?] == expected));
    match same.transpose()? {
        Some(true) => Ok(()),
        _ => Err(Error::new(
            Code::ArchiveBroken,
            format!("subject {number}, which the record has with others, was changed there"),
        )
        .help("`heelclear archive check` there names the records that it spoiled")),
    }
}

/// What a person may search for, in lower case.
pub(super) fn words(summary: &Summary, customer: Option<&str>) -> String {
    let mut words = of_the_card(summary);
    words.extend(summary.why.as_deref());
    words.extend(customer);
    words.join("\n").to_lowercase()
}

fn of_the_card(summary: &Summary) -> Vec<&str> {
    let said = [
        &summary.tool,
        &summary.tool_name,
        &summary.operator,
        &summary.gauge,
        &summary.host,
        &summary.stage,
    ];
    let said = said.into_iter().chain(&summary.features);
    said.map(String::as_str).collect()
}

/// The words that a record is found by.
pub(super) fn words_of(store: &mut dyn Store, id: &RecordId) -> Result<String> {
    Ok(found_by(store, id)?.words)
}

/// What a record is found by, as it lies there.
struct FoundBy {
    number: i64,
    features: String,
    words: String,
}

fn found_by(store: &mut dyn Store, id: &RecordId) -> Result<FoundBy> {
    let text = "select subject.id, subject.features, subject.words
        from record join subject on subject.id = record.subject
        where record.bench = $1 and record.number = $2";
    let rows = store.rows(text, &[Value::Text(&id.bench), Value::Int(id.number)])?;
    let row = rows.first().ok_or_else(|| {
        let message = format!("record {id} has no subject: no search finds it");
        Error::new(Code::ArchiveBroken, message)
    })?;
    Ok(FoundBy {
        number: row.int(0)?,
        features: row.text(1)?.to_owned(),
        words: row.text(2)?.to_owned(),
    })
}

/// What is wrong with the words that a record is found by: a search would miss it.
pub(super) fn misleading(store: &mut dyn Store, summary: &Summary) -> Option<String> {
    let wrong = "the words that a search finds it by are not those that were said of it";
    let found = match found_by(store, &summary.id) {
        Ok(found) => found,
        Err(error) => return Some(error.message().to_owned()),
    };
    let as_made = number(&found.features, &found.words) == found.number;
    // What else is among them, earlier programs did not all put there.
    let lines: Vec<&str> = found.words.split('\n').collect();
    let mut said = of_the_card(summary)
        .into_iter()
        .map(str::to_lowercase)
        .flat_map(|said| said.split('\n').map(str::to_owned).collect::<Vec<_>>());
    let all = said.all(|said| lines.contains(&said.as_str()));
    (!as_made || !all).then(|| wrong.to_owned())
}

/// The subjects that do not say what their numbers are made of.
pub(super) fn changed(store: &mut dyn Store) -> Result<Vec<i64>> {
    let mut changed = Vec::new();
    let text = "select id, features, words from subject";
    store.each(text, &[], &mut |row| {
        let as_made = number(row.text(1)?, row.text(2)?);
        let id = row.int(0)?;
        if id != as_made {
            changed.push(id);
        }
        Ok(true)
    })?;
    Ok(changed)
}

/// Lines with an end before and behind each, so that a whole one can be looked for.
fn lines(all: &[String]) -> String {
    all.iter()
        .fold("\n".to_owned(), |text, line| text + line + "\n")
}

fn number(features: &str, words: &str) -> i64 {
    let sum = Sum::of("heelclear subject")
        .text(features)
        .text(words)
        .finish();
    let first = sum.as_bytes().iter().take(8);
    first.fold(0, |number, byte| number << 8 | i64::from(*byte))
}
