//! Finding records without opening their files.

use super::digest::Digest;
use super::entry::{AS_JUDGED, ASK_CHECK, RecordId, Summary, Wanted};
use super::open::{Archive, at};
use super::store::{Row, Store, Value};
use super::subject::changed;
use crate::error::{Code, Error, Result};
use jiff::Timestamp;

/// Which records are wanted; what is not said does not matter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Filter {
    /// The tool's id.
    pub tool: Option<String>,
    /// A feature of the tool card.
    pub feature: Option<String>,
    /// Measured then or later.
    pub since: Option<Timestamp>,
    /// Measured before then.
    pub before: Option<Timestamp>,
    /// Who measured.
    pub operator: Option<String>,
    /// `pass`, `fail`, `undecided`, or `none` for what has no verdict.
    pub verdict: Option<String>,
    /// A part of the gauge's line, in any case.
    pub gauge: Option<String>,
    /// Words or parts of them that are said of it, each of them, in any case.
    pub text: Option<String>,
    /// The bench that made it.
    pub bench: Option<String>,
    /// Those too that a later one replaces.
    pub replaced: bool,
    /// At most so many.
    pub limit: Option<usize>,
}

/// A record and when it was measured: what is read where nothing else is needed of many.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dated {
    /// Which record it is.
    pub id: RecordId,
    /// When the tool was measured.
    pub taken: Timestamp,
}

/// So many doubtful records are named.
const NAMED: usize = 5;

impl Archive {
    /// The records that are wanted, the last measured first.
    ///
    /// # Errors
    /// `disk` or `archive-broken` where the archive cannot be read.
    pub fn find(&mut self, filter: &Filter) -> Result<Vec<Summary>> {
        let place = self.place().clone();
        find(self.store.as_mut(), filter).map_err(|error| at(error, &place))
    }

    /// The same one after the other, for as long as `take` wants more: however many there are, one
    /// is in memory.
    ///
    /// # Errors
    /// Those of [`Archive::find`] and of `take`.
    pub fn find_each(
        &mut self,
        filter: &Filter,
        take: &mut dyn FnMut(Summary) -> Result<bool>,
    ) -> Result<()> {
        let place = self.place().clone();
        find_each(self.store.as_mut(), filter, take).map_err(|error| at(error, &place))
    }

    /// The names of the records that are wanted, in the order of benches and numbers.
    ///
    /// # Errors
    /// `disk` or `archive-broken` where the archive cannot be read.
    pub fn names(&mut self, filter: &Filter) -> Result<Vec<Dated>> {
        let place = self.place().clone();
        names(self.store.as_mut(), filter).map_err(|error| at(error, &place))
    }

    /// The record that a person named.
    ///
    /// # Errors
    /// `no-record` where there is none, or more than one.
    pub fn wanted(&mut self, wanted: &Wanted) -> Result<Summary> {
        let place = self.place().clone();
        named(self.store.as_mut(), wanted).map_err(|error| at(error, &place))
    }

    /// Records of which something was changed, and those that are missing: some of them, up to so
    /// many. A search goes by what is said of records, so that one of these may belong among those
    /// that it finds, or replace one of them.
    ///
    /// # Errors
    /// `disk` or `archive-broken` where the archive cannot be read.
    pub fn doubtful(&mut self, most: usize) -> Result<Vec<RecordId>> {
        let mut doubtful = self.missing(most)?;
        // What replaces a record and whether it is simulated is worked out of others.
        let said = COLUMNS.split("(select").next().unwrap_or_default();
        // Each database is told of what kind they are.
        let text = format!(
            "select {said} cast(null as text), cast(null as bigint), cast(0 as bigint) {FROM}"
        );
        let place = self.place().clone();
        let read = self.store.each(&text, &[], &mut |row| {
            let id = (row.text(0).ok().map(str::to_owned), row.int(1).ok());
            // A line that cannot be read is as doubtful as one that was changed.
            if !summary(row).is_ok_and(|it| it.is_as_made())
                && let (Some(bench), Some(number)) = id
            {
                doubtful.push(RecordId { bench, number });
            }
            Ok(doubtful.len() < most)
        });
        read.map_err(|error| at(error, &place))?;
        for subject in changed(self.store.as_mut()).map_err(|error| at(error, &place))? {
            let text = "select bench, number from record where subject = $1";
            let rows = self.store.rows(text, &[Value::Int(subject)])?;
            for row in rows.iter().take(most.saturating_sub(doubtful.len())) {
                let (bench, number) = (row.text(0)?.to_owned(), row.int(1)?);
                doubtful.push(RecordId { bench, number });
            }
        }
        Ok(doubtful)
    }

    /// Refuses an archive of which a record was changed or is missing: it may belong to what was
    /// asked, or replace it.
    ///
    /// # Errors
    /// `archive-broken` with some of their names, and those of [`Archive::doubtful`].
    pub fn certain(&mut self) -> Result<()> {
        let doubtful = self.doubtful(NAMED)?;
        if doubtful.is_empty() {
            return Ok(());
        }
        let names: Vec<String> = doubtful.iter().map(ToString::to_string).collect();
        let message = format!(
            "records were changed or are missing: {}; whether one of them belongs here, or replaces one that does, is not known",
            names.join(", ")
        );
        let error = Error::new(Code::ArchiveBroken, message).help(ASK_CHECK);
        Err(error.in_file(self.place().to_string()))
    }

    /// Whether a record has these cards and traces, whatever was judged of them.
    ///
    /// # Errors
    /// `disk` or `archive-broken` where the archive cannot be read.
    pub fn has_evidence(&mut self, evidence: Digest) -> Result<bool> {
        let text = "select bench from record where evidence = $1 limit 1";
        let rows = self
            .store
            .rows(text, &[Value::Bytes(evidence.as_bytes())])?;
        Ok(!rows.is_empty())
    }

    /// The benches with records here, each with the number of its last.
    ///
    /// # Errors
    /// `disk` or `archive-broken` where the archive cannot be read.
    pub fn benches(&mut self) -> Result<Vec<RecordId>> {
        benches(self.store.as_mut())
    }
}

pub(super) fn benches(store: &mut dyn Store) -> Result<Vec<RecordId>> {
    let rows = store.rows("select id, head from bench order by id", &[])?;
    let bench = |row: &Row| {
        let (bench, number) = (row.text(0)?.to_owned(), row.int(1)?);
        Ok(RecordId { bench, number })
    };
    rows.iter().map(bench).collect()
}

/// What is read of a record, in the order in which [`summary`] takes it apart. The record that
/// replaces it is the last one that says so.
pub(super) const COLUMNS: &str =
    "record.bench, record.number, record.form, record.archived, record.program,
    record.host, record.taken, record.operator, record.stage, record.tool, record.tool_name,
    record.gauge, record.verdict, record.replaces, record.why, record.content, record.evidence,
    record.previous, record.chain, record.origin, subject.features,
    (select max(later.bench) from record later where later.replaces = record.content),
    (select max(later.number) from record later where later.replaces = record.content),
    (select count(*) from file where file.bench = record.bench and file.number = record.number
        and file.path = 'simulated.txt')";

/// From the record's side alone: to begin with the subjects would sort all records of each.
pub(super) const FROM: &str = "from record left join subject on subject.id = record.subject";

/// Grows a query's conditions with the values at their places.
#[derive(Default)]
pub(super) struct Conditions<'a> {
    texts: Vec<String>,
    pub values: Vec<Value<'a>>,
}

impl<'a> Conditions<'a> {
    /// Adds a condition; `{}` in it stands for the value.
    fn add(&mut self, text: &str, value: Value<'a>) {
        self.values.push(value);
        let place = format!("${}", self.values.len());
        self.texts.push(text.replace("{}", &place));
    }

    pub(super) fn text(&self) -> String {
        match self.texts.is_empty() {
            true => String::new(),
            false => format!("where {}", self.texts.join(" and ")),
        }
    }
}

/// A record that no later one replaces.
const HOLDS: &str = "not exists (select 1 from record later where later.replaces = record.content)";

/// What is looked for in texts, as patterns.
pub(super) struct Patterns {
    feature: Option<String>,
    gauge: Option<String>,
    words: Vec<String>,
}

impl Patterns {
    pub(super) fn of(filter: &Filter) -> Self {
        let part =
            |text: &Option<String>| text.as_deref().map(|text| containing(&text.to_lowercase()));
        let line = |feature: &String| containing(&format!("\n{feature}\n"));
        Self {
            feature: filter.feature.as_ref().map(line),
            gauge: part(&filter.gauge),
            words: filter
                .text
                .iter()
                .flat_map(|text| text.split_whitespace())
                .map(|word| containing(&word.to_lowercase()))
                .collect(),
        }
    }
}

impl<'a> Conditions<'a> {
    pub(super) fn of(filter: &'a Filter, patterns: &'a Patterns) -> Self {
        let mut conditions = Conditions::default();
        conditions.want(filter, patterns);
        conditions
    }

    fn want(&mut self, filter: &'a Filter, patterns: &'a Patterns) {
        let conditions = self;
        let exact = [
            ("record.tool = {}", &filter.tool),
            ("record.operator = {}", &filter.operator),
            ("record.bench = {}", &filter.bench),
        ];
        for (text, value) in exact {
            if let Some(value) = value {
                conditions.add(text, Value::Text(value));
            }
        }
        match filter.verdict.as_deref() {
            Some("none") => conditions.texts.push("record.verdict is null".to_owned()),
            Some(verdict) => conditions.add("record.verdict = {}", Value::Text(verdict)),
            None => {}
        }
        for (text, moment) in [
            ("record.taken >= {}", filter.since),
            ("record.taken < {}", filter.before),
        ] {
            if let Some(moment) = moment {
                conditions.add(text, Value::Int(moment.as_microsecond()));
            }
        }
        // Subjects are few where records are many, so they are searched first. The `+` keeps the
        // index of subjects out of it: the last records are wanted, and the index of times holds
        // subjects too.
        let words = "words like {} escape '!'";
        let parts = [
            ("features like {} escape '!'", &patterns.feature),
            (words, &patterns.gauge),
        ];
        let parts = parts.into_iter();
        let parts = parts.filter_map(|(text, value)| Some((text, value.as_ref()?)));
        for (text, value) in parts.chain(patterns.words.iter().map(|word| (words, word))) {
            let text = format!("+record.subject in (select id from subject where {text})");
            conditions.add(&text, Value::Text(value));
        }
        if !filter.replaced {
            conditions.texts.push(HOLDS.to_owned());
        }
    }

    /// Of the tools alone with a record like this.
    pub(super) fn of_tools_with(&mut self, filter: &'a Filter, patterns: &'a Patterns) {
        let mut inner = Conditions {
            texts: Vec::new(),
            values: std::mem::take(&mut self.values),
        };
        inner.want(filter, patterns);
        let text = inner.text();
        self.values = inner.values;
        let tools = format!("record.tool in (select record.tool from record {text})");
        self.texts.push(tools);
    }

    /// Those alone that no later record of their tool follows, of those that hold.
    pub(super) fn last_of_each_tool(&mut self) {
        let holds = HOLDS.replace("record.content", "newer.content");
        self.texts.push(format!(
            "not exists (select 1 from record newer
                where newer.tool = record.tool and newer.taken > record.taken and {holds})"
        ));
    }
}

fn find(store: &mut dyn Store, filter: &Filter) -> Result<Vec<Summary>> {
    let mut found = Vec::new();
    find_each(store, filter, &mut |summary| {
        found.push(summary);
        Ok(true)
    })?;
    Ok(found)
}

fn find_each(
    store: &mut dyn Store,
    filter: &Filter,
    take: &mut dyn FnMut(Summary) -> Result<bool>,
) -> Result<()> {
    let patterns = Patterns::of(filter);
    let conditions = Conditions::of(filter, &patterns);
    let wanted = conditions.text();
    let limit = filter.limit.and_then(|limit| i64::try_from(limit).ok());
    let mut values = conditions.values;
    values.push(Value::Int(limit.unwrap_or(i64::MAX)));
    let place = values.len();
    let text = format!(
        "select {COLUMNS} {FROM} {wanted}
        order by record.taken desc, record.bench, record.number desc limit ${place}"
    );
    store.each(&text, &values, &mut |row| take(summary(row)?))
}

fn names(store: &mut dyn Store, filter: &Filter) -> Result<Vec<Dated>> {
    let patterns = Patterns::of(filter);
    let conditions = Conditions::of(filter, &patterns);
    let wanted = conditions.text();
    let text = format!("select record.bench, record.number, record.taken from record {wanted}");
    let dated = |row: &Row| {
        let (bench, number) = (row.text(0)?.to_owned(), row.int(1)?);
        let (id, taken) = (RecordId { bench, number }, moment(row.int(2)?)?);
        Ok(Dated { id, taken })
    };
    let rows = store.rows(&text, &conditions.values)?;
    let mut names: Vec<Dated> = rows.iter().map(dated).collect::<Result<_>>()?;
    // Databases differ in how they order text.
    names.sort_by(|one, other| one.id.cmp(&other.id));
    Ok(names)
}

/// A day in UTC from its start to its end, as `2026-03-02`; of a month, `2026-03`, its first to its
/// last. Nothing for a text that is neither.
pub fn day(text: &str) -> Option<(Timestamp, Timestamp)> {
    let plain = text.as_bytes().get(4) == Some(&b'-');
    let (from, month) = match text.len() {
        7 if plain => (format!("{text}-01"), true),
        10 if plain => (text.to_owned(), false),
        _ => return None,
    };
    let from: jiff::civil::Date = from.parse().ok()?;
    let days = if month {
        i64::from(from.days_in_month())
    } else {
        1
    };
    let start: Timestamp = format!("{from}T00:00:00Z").parse().ok()?;
    let end = start.checked_add(jiff::SignedDuration::from_hours(24 * days));
    Some((start, end.ok()?))
}

/// What a person who types into one field looks for: a day or a month, a verdict, and words of
/// anything else that is said of a record.
pub fn searched(text: &str) -> Filter {
    let mut filter = Filter::default();
    let mut words = Vec::new();
    for word in text.split_whitespace() {
        if let Some((since, before)) = day(word) {
            (filter.since, filter.before) = (Some(since), Some(before));
        } else if ["pass", "fail", "undecided"].contains(&word.to_lowercase().as_str()) {
            filter.verdict = Some(word.to_lowercase());
        } else {
            words.push(word);
        }
    }
    filter.text = (!words.is_empty()).then(|| words.join(" "));
    filter
}

/// A pattern for whatever holds this text.
fn containing(text: &str) -> String {
    let plain = text
        .replace('!', "!!")
        .replace('%', "!%")
        .replace('_', "!_");
    format!("%{plain}%")
}

fn named(store: &mut dyn Store, wanted: &Wanted) -> Result<Summary> {
    match wanted {
        Wanted::Id(id) => one(store, id),
        Wanted::Number(number) => {
            let benches = benches(store)?;
            match benches.as_slice() {
                [bench] => one(
                    store,
                    &RecordId {
                        bench: bench.bench.clone(),
                        number: *number,
                    },
                ),
                [] => Err(none(wanted)),
                several => {
                    let names: Vec<&str> = several.iter().map(|it| it.bench.as_str()).collect();
                    let message =
                        format!("records of several benches are in it, so `{number}` names none");
                    Err(Error::new(Code::NoRecord, message)
                        .help(format!("put the bench before it: {}", names.join(", "))))
                }
            }
        }
        Wanted::Digits(digits) => {
            let (least, most) = Digest::range(digits).ok_or_else(|| none(wanted))?;
            let text = format!(
                "select {COLUMNS} {FROM} where record.content between $1 and $2
                order by record.content, record.bench limit 2"
            );
            let values = [
                Value::Bytes(least.as_bytes()),
                Value::Bytes(most.as_bytes()),
            ];
            let rows = store.rows(&text, &values)?;
            let found: Vec<Summary> = rows.into_iter().map(summary).collect::<Result<_>>()?;
            match found.as_slice() {
                [] => Err(none(wanted)),
                // One content that several benches kept is the same inspection.
                [first, rest @ ..] if rest.iter().all(|it| it.content == first.content) => {
                    Ok(first.clone())
                }
                _ => Err(Error::new(
                    Code::NoRecord,
                    format!("the digests of several records begin with `{digits}`"),
                )
                .help("give more digits")),
            }
        }
    }
}

fn none(wanted: impl std::fmt::Display) -> Error {
    Error::new(Code::NoRecord, format!("found no record `{wanted}`"))
        .help("`heelclear archive list` shows those there are")
}

/// The record of this bench and number.
pub(super) fn one(store: &mut dyn Store, id: &RecordId) -> Result<Summary> {
    let text = format!("select {COLUMNS} {FROM} where record.bench = $1 and record.number = $2");
    let values = [Value::Text(&id.bench), Value::Int(id.number)];
    let rows = store.rows(&text, &values)?;
    let first = rows.into_iter().next();
    first.map(summary).unwrap_or_else(|| Err(none(id)))
}

/// A record of this content.
pub(super) fn by_content(store: &mut dyn Store, content: Digest) -> Result<Option<RecordId>> {
    let text = "select bench, number from record where content = $1 order by bench limit 1";
    let rows = store.rows(text, &[Value::Bytes(content.as_bytes())])?;
    let id = rows.first().map(|row| {
        let (bench, number) = (row.text(0)?.to_owned(), row.int(1)?);
        Ok(RecordId { bench, number })
    });
    id.transpose()
}

pub(super) fn summary(mut row: Row) -> Result<Summary> {
    let digest = |row: &Row, at| {
        let digest = Digest::from_bytes(row.bytes(at)?);
        digest.ok_or_else(|| Error::new(Code::ArchiveBroken, "read a digest of a wrong length"))
    };
    let maybe_text = |row: &mut Row, at| match row.is_null(at) {
        true => Ok(None),
        false => row.take_text(at).map(Some),
    };
    let replaced_by = match (maybe_text(&mut row, 21)?, row.is_null(22)) {
        (Some(bench), false) => Some(RecordId {
            bench,
            number: row.int(22)?,
        }),
        _ => None,
    };
    Ok(Summary {
        id: RecordId {
            bench: row.take_text(0)?,
            number: row.int(1)?,
        },
        form: row.int(2)?,
        archived: moment(row.int(3)?)?,
        as_judged: row.text(4)?.ends_with(AS_JUDGED),
        program: row.take_text(4)?,
        host: row.take_text(5)?,
        taken: moment(row.int(6)?)?,
        operator: row.take_text(7)?,
        stage: row.take_text(8)?,
        tool: row.take_text(9)?,
        tool_name: row.take_text(10)?,
        gauge: row.take_text(11)?,
        verdict: maybe_text(&mut row, 12)?,
        replaces: match row.is_null(13) {
            true => None,
            false => Some(digest(&row, 13)?),
        },
        why: maybe_text(&mut row, 14)?,
        content: digest(&row, 15)?,
        evidence: digest(&row, 16)?,
        previous: digest(&row, 17)?,
        chain: digest(&row, 18)?,
        origin: maybe_text(&mut row, 19)?,
        simulated: row.int(23)? > 0,
        features: row.text(20)?.lines().skip(1).map(str::to_owned).collect(),
        replaced_by,
    })
}

fn moment(microseconds: i64) -> Result<Timestamp> {
    Timestamp::from_microsecond(microseconds).map_err(|_| {
        Error::new(
            Code::ArchiveBroken,
            format!("read the time {microseconds}, which is none"),
        )
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn one_field_takes_a_day_a_verdict_and_words() {
        #[track_caller]
        fn check(
            typed: &str,
            day: Option<(&str, &str)>,
            verdict: Option<&str>,
            text: Option<&str>,
        ) {
            let found = searched(typed);
            let moment = |text: &str| text.parse::<Timestamp>().unwrap();
            assert_eq!(found.since, day.map(|(since, _)| moment(since)), "{typed}");
            assert_eq!(found.before, day.map(|(_, end)| moment(end)), "{typed}");
            assert_eq!(found.verdict.as_deref(), verdict, "{typed}");
            assert_eq!(found.text.as_deref(), text, "{typed}");
        }
        check("", None, None, None);
        check("VB-07", None, None, Some("VB-07"));
        check("VB-2026-03-02", None, None, Some("VB-2026-03-02"));
        check(
            "2026-03-02",
            Some(("2026-03-02T00:00:00Z", "2026-03-03T00:00:00Z")),
            None,
            None,
        );
        check(
            " ada  2024-02 FAIL reamer ",
            Some(("2024-02-01T00:00:00Z", "2024-03-01T00:00:00Z")),
            Some("fail"),
            Some("ada reamer"),
        );
        check("2026-02-30", None, None, Some("2026-02-30"));
    }
}
