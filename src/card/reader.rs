//! Finds keys in a card's tables, and notes those that are unknown, missing or given twice.

use super::key::{Unit, listed};
use super::page::Page;
use super::{Key, Kind, Section};
use crate::error::Code;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// A key more different from the one read than this is no help; 1 is the same.
const NEAR: f64 = 0.75;

/// One table of a card.
pub(super) struct Reader<'t> {
    pub(super) page: &'t Page<'t>,
    card: &'static [Section],
    section: &'static Section,
    entries: &'t DeTable<'t>,
    /// Where its heading stands; nothing for the top of the card.
    heading: Option<Range<usize>>,
}

/// What was found behind a key.
pub(super) struct Found<'t> {
    pub(super) value: &'t DeValue<'t>,
    pub(super) span: Range<usize>,
    /// The unit of a length, from the key's name.
    pub(super) unit: Unit,
}

impl<'t> Reader<'t> {
    /// The top of a card. Refuses a card of a newer form before anything else is read.
    pub(super) fn top(
        page: &'t Page<'t>,
        card: &'static [Section],
        entries: &'t DeTable<'t>,
    ) -> Option<Self> {
        let reader = Self {
            page,
            card,
            section: card.first()?,
            entries,
            heading: None,
        };
        if let Some(newer) = reader.newer_schema() {
            let message = format!("read schema {}, expected `1`", page.quote(&newer));
            let help = "this card has the form of a newer heelclear: use that one to read it";
            page.report(Code::CardValue, newer, message, Some(help.to_owned()));
            return None;
        }
        reader.whole("schema");
        reader.refuse_unknown();
        Some(reader)
    }

    fn newer_schema(&self) -> Option<Range<usize>> {
        let value = self.entries.get("schema")?;
        let number = whole_number(value.get_ref())?;
        (number > 1).then(|| value.span())
    }

    /// The table under a key; absent when the key is.
    pub(super) fn table(&self, name: &str) -> Option<Reader<'t>> {
        let (key, found) = self.find(name)?;
        let DeValue::Table(entries) = found.value else {
            self.note(key, &found, None);
            return None;
        };
        self.below(name, entries, found.span)
    }

    /// The tables under a key, in the order of the card.
    pub(super) fn tables(&self, name: &str) -> Vec<Reader<'t>> {
        let Some((key, found)) = self.find(name) else {
            return Vec::new();
        };
        let DeValue::Array(items) = found.value else {
            self.note(key, &found, None);
            return Vec::new();
        };
        let mut readers = Vec::new();
        for item in items.iter() {
            match item.get_ref() {
                DeValue::Table(entries) => {
                    readers.extend(self.below(name, entries, item.span()));
                }
                value => self.note(key, &Found::plain(value, item.span()), None),
            }
        }
        if readers.is_empty() && key.required {
            self.note(key, &found, None);
        }
        readers
    }

    fn below(
        &self,
        name: &str,
        entries: &'t DeTable<'t>,
        heading: Range<usize>,
    ) -> Option<Reader<'t>> {
        let path = match self.section.path() {
            "" => name.to_owned(),
            above => format!("{above}.{name}"),
        };
        let section = self.card.iter().find(|section| section.path() == path)?;
        let reader = Reader {
            page: self.page,
            card: self.card,
            section,
            entries,
            heading: Some(heading),
        };
        reader.refuse_unknown();
        Some(reader)
    }

    /// Whether the key is in the card, under any of its names.
    pub(super) fn has(&self, name: &str) -> bool {
        self.place(name).is_some()
    }

    /// Notes that a key does not fit the others.
    pub(super) fn object(&self, name: &str, message: impl Into<String>, help: &str) {
        let span = self.place(name).or_else(|| self.heading.clone());
        let span = span.unwrap_or(0..0);
        self.page
            .report(Code::CardValue, span, message, Some(help.to_owned()));
    }

    /// Notes that a key is missing which only this card needs.
    pub(super) fn demand(&self, name: &str, message: impl Into<String>, help: &str) {
        if !self.has(name) {
            let span = self.heading.clone().unwrap_or(0..0);
            self.page
                .report(Code::MissingKey, span, message, Some(help.to_owned()));
        }
    }

    /// Where the value of a key stands.
    fn place(&self, name: &str) -> Option<Range<usize>> {
        let key = self.section.keys.iter().find(|key| key.name == name)?;
        let mut names = key.names().into_iter();
        names.find_map(|name| Some(self.entries.get(name.as_str())?.span()))
    }

    /// The value of a key, and the key; notes when it is needed and missing, or given twice.
    pub(super) fn find(&self, name: &str) -> Option<(&'static Key, Found<'t>)> {
        let key = self.section.keys.iter().find(|key| key.name == name)?;
        for unit in Unit::ALL {
            let written = match key.kind {
                Kind::Length(_) | Kind::LengthLimit(_) => unit.rename(key.name),
                _ => key.name.to_owned(),
            };
            if let Some(value) = self.entries.get(written.as_str()) {
                let found = Found {
                    value: value.get_ref(),
                    span: value.span(),
                    unit,
                };
                return Some((key, found));
            }
        }
        None
    }

    /// Notes that a value is not what its key wants, and gives none.
    pub(super) fn refuse<T>(&self, key: &Key, found: &Found<'_>) -> Option<T> {
        self.note(key, found, None);
        None
    }

    /// The same, with what is wrong where the value's form alone does not tell.
    pub(super) fn refuse_because<T>(
        &self,
        key: &Key,
        found: &Found<'_>,
        help: String,
    ) -> Option<T> {
        self.note(key, found, Some(help));
        None
    }

    fn note(&self, key: &Key, found: &Found<'_>, help: Option<String>) {
        let read = self.page.quote(&found.span);
        let expected = key.kind.in_unit(found.unit);
        let message = format!("read {read}, expected {expected}: {}", key.meaning);
        self.page
            .report(Code::CardValue, found.span.clone(), message, help);
    }

    /// Notes every key that does not belong here, that is needed and missing, or that is given
    /// in two units.
    fn refuse_unknown(&self) {
        for (written, _) in self.entries.iter() {
            let known = self
                .section
                .keys
                .iter()
                .any(|key| key.names().iter().any(|name| name == written.get_ref()));
            if !known {
                let place = self.section.place();
                let message = format!(
                    "read the key {}, which is not one {place}",
                    self.page.quote(&written.span())
                );
                let help = self.nearest(written.get_ref());
                self.page
                    .report(Code::UnknownKey, written.span(), message, Some(help));
            }
        }
        let mut missing = Vec::new();
        for key in self.section.keys {
            let names = key.names();
            let given: Vec<_> = names
                .iter()
                .filter_map(|name| self.entries.get_key_value(name.as_str()))
                .collect();
            if let [_, second, ..] = given.as_slice() {
                let message = format!(
                    "read {} beside another unit of the same, expected one of them",
                    self.page.quote(&second.0.span())
                );
                let help = format!("keep one of `{}`", names.join("`, `"));
                self.page
                    .report(Code::CardValue, second.0.span(), message, Some(help));
            }
            if given.is_empty() && key.required {
                missing.push(key);
            }
        }
        if !missing.is_empty() {
            self.note_missing(&missing);
        }
    }

    fn note_missing(&self, missing: &[&Key]) {
        let place = self.section.place();
        let names: Vec<String> = missing.iter().map(|key| key.as_written()).collect();
        let message = format!("read no {} {place}", listed(&names));
        let wanted: Vec<String> = missing
            .iter()
            .map(|key| format!("{}, {}: {}", key.as_written(), key.meaning, key.kind))
            .collect();
        let help = format!("add {}", wanted.join("; "));
        match &self.heading {
            Some(heading) => {
                self.page
                    .report(Code::MissingKey, heading.clone(), message, Some(help));
            }
            None => self.page.report_missing(message, help),
        }
    }

    /// What the writer of an unknown key may have meant.
    fn nearest(&self, written: &str) -> String {
        // The right key with another unit comes first: a unit is easily mistaken, a name is not.
        let stem = written.rsplit_once('_').map_or(written, |(stem, _)| stem);
        let same = |key: &&Key| key.stem() == written || key.stem() == stem;
        if let Some(key) = self.section.keys.iter().find(same) {
            return format!("it is written `{}`", key.names().join("`, `"));
        }
        let elsewhere = self.card.iter().find(|section| {
            let mut keys = section.keys.iter();
            keys.any(|key| key.names().iter().any(|name| name == written))
        });
        if let Some(section) = elsewhere {
            return format!("`{written}` belongs {}", section.place());
        }
        let names: Vec<String> = self.section.keys.iter().flat_map(Key::names).collect();
        let closeness = |name: &String| strsim::jaro_winkler(written, name);
        let nearest = names
            .iter()
            .max_by(|a, b| closeness(a).total_cmp(&closeness(b)));
        match nearest {
            Some(name) if closeness(name) >= NEAR => format!("the nearest known key is `{name}`"),
            _ => format!(
                "known keys {}: `{}`",
                self.section.place(),
                self.section.names().join("`, `")
            ),
        }
    }
}

impl<'t> Found<'t> {
    pub(super) fn plain(value: &'t DeValue<'t>, span: Range<usize>) -> Self {
        Self {
            value,
            span,
            unit: Unit::Mm,
        }
    }
}

/// An integer of any radix, where one stands.
pub(super) fn whole_number(value: &DeValue<'_>) -> Option<i64> {
    match value {
        DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix()).ok(),
        _ => None,
    }
}
