//! The text of a starter card as it grows: each key of a table with what it means, in use or left out.

use super::Starter;
use super::examples::example;
use crate::card::key::Unit;
use crate::card::{Key, Kind, Limit, Section};
use crate::quantity::{Angle, Length, Units, stated};

/// A comment is wrapped here, so that it can be read beside other windows.
const COLUMNS: usize = 100;

/// What stands behind a key.
#[derive(Clone, Debug)]
pub(super) enum Value {
    Text(String),
    Whole(u32),
    Number(f64),
    Length(Length),
    Angle(Angle),
    /// In degrees or mm, as its characteristic has it.
    Limit(Limit),
    /// What is the same in TOML: a date and time.
    Plain(String),
}

/// How far a value can be trusted.
#[derive(Clone, Debug)]
enum Standing {
    /// A person or another card stated it.
    Stated,
    /// It is there because the card needs one.
    ToFillIn,
    /// A source or a habit of the trade has it, which the line names.
    From { source: String, published: bool },
    /// It is left out, with what is known of it.
    LeftOut(String),
}

/// A key that has something of its own to say.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    key: &'static str,
    value: Option<Value>,
    standing: Standing,
}

impl Entry {
    /// What a person stated; where nobody did, the key is offered like any other.
    pub(super) fn stated(key: &'static str, value: Option<Value>) -> Self {
        let standing = match value {
            Some(_) => Standing::Stated,
            None => Standing::LeftOut(String::new()),
        };
        Self {
            key,
            value,
            standing,
        }
    }

    /// What a person stated, or an example that the card cannot do without.
    pub(super) fn needed(key: &'static str, value: Option<Value>) -> Self {
        let standing = match value {
            Some(_) => Standing::Stated,
            None => Standing::ToFillIn,
        };
        Self {
            key,
            value,
            standing,
        }
    }

    /// What a person stated, or a value with where it comes from, published or not.
    pub(super) fn or_from(
        key: &'static str,
        value: Option<Value>,
        otherwise: Value,
        (source, published): (impl Into<String>, bool),
    ) -> Self {
        let source = source.into();
        match value {
            Some(value) => Self::stated(key, Some(value)),
            None => Self {
                key,
                value: Some(otherwise),
                standing: Standing::From { source, published },
            },
        }
    }

    /// A value that is left out, with what is known of it.
    pub(super) fn left_out(
        key: &'static str,
        value: Option<Value>,
        known: impl Into<String>,
    ) -> Self {
        Self {
            key,
            value,
            standing: Standing::LeftOut(known.into()),
        }
    }

    fn is_used(&self) -> bool {
        !matches!(self.standing, Standing::LeftOut(_))
    }
}

/// The text of a starter card as it grows.
pub(super) struct Draft {
    unit: Unit,
    made: Starter,
    /// Sections whose keys are explained already: a second table of a kind has its values alone.
    explained: Vec<&'static str>,
}

impl Draft {
    /// `kind` is what people call the card, `A tool card`; `page` the page of the manual about it.
    pub(super) fn new(kind: &str, page: &str, units: Units) -> Self {
        let mut draft = Self {
            unit: match units {
                Units::Metric => Unit::Mm,
                Units::Inch => Unit::In,
            },
            made: Starter {
                text: String::new(),
                to_fill_in: Vec::new(),
                from_sources: Vec::new(),
            },
            explained: Vec::new(),
        };
        draft.prose(&format!(
            "{kind} to start from, with every key that it may have."
        ));
        draft.prose("A `#` right before a key leaves it out: take it away to use the key, and that before the heading over it.");
        draft.prose("What is marked TO FILL IN is an example and holds for nothing: put your own in its place.");
        draft.prose(&format!("`heelclear manual {page}` says more of each key."));
        draft
    }

    pub(super) fn finish(self) -> Starter {
        self.made
    }

    /// A sentence for the person, as a comment.
    pub(super) fn prose(&mut self, sentence: &str) {
        let options = textwrap::Options::new(COLUMNS)
            .initial_indent("# ")
            .subsequent_indent("# ")
            // A word of a card stays whole.
            .word_splitter(textwrap::WordSplitter::NoHyphenation);
        self.push(&textwrap::fill(sentence, options));
    }

    /// The keys at the top of a card, or a table that is in use.
    pub(super) fn table(&mut self, section: &Section, entries: &[Entry]) {
        self.section(section, entries, true);
    }

    /// A table that is left out as a whole.
    pub(super) fn left_out(&mut self, section: &Section) {
        self.section(section, &[], false);
    }

    fn section(&mut self, section: &Section, entries: &[Entry], used: bool) {
        let explain = !self.explained.contains(&section.heading);
        self.explained.push(section.heading);
        self.push("");
        if !section.heading.is_empty() {
            let mark = if used { "" } else { "#" };
            self.push(&format!("{mark}{}", section.heading));
        }
        for key in section.keys {
            // A table of its own has a heading of its own.
            if matches!(key.kind, Kind::Table | Kind::Tables) {
                continue;
            }
            let entry = entries.iter().find(|entry| entry.key == key.name);
            if explain {
                self.explain(key);
            } else if !entry.is_some_and(Entry::is_used) && !has_more_to_say(entry) {
                continue;
            }
            self.line(section, key, entry);
        }
    }

    fn explain(&mut self, key: &Key) {
        let required = if key.required { ", required" } else { "" };
        let kind = key.kind.in_unit(self.unit);
        let meaning = self.unit.rename(key.meaning);
        self.prose(&format!("{meaning}: {kind}{required}"));
    }

    fn line(&mut self, section: &Section, key: &Key, entry: Option<&Entry>) {
        let name = match key.kind {
            Kind::Length(_) | Kind::LengthLimit(_) => self.unit.rename(key.name),
            _ => key.name.to_owned(),
        };
        let value = entry.and_then(|entry| entry.value.as_ref());
        let value = match value {
            Some(value) => self.written(key, value),
            None => example(section, key, self.unit),
        };
        let (mark, behind) = match entry.map(|entry| &entry.standing) {
            Some(Standing::Stated) => ("", String::new()),
            Some(Standing::ToFillIn) => {
                self.made.to_fill_in.push(in_section(section, &name));
                ("", "TO FILL IN: an example".to_owned())
            }
            Some(Standing::From { source, published }) => {
                if *published {
                    self.made.from_sources.push(in_section(section, &name));
                }
                ("", source.clone())
            }
            Some(Standing::LeftOut(known)) => ("#", known.clone()),
            None => ("#", String::new()),
        };
        let behind = match behind.as_str() {
            "" => behind,
            _ => format!(" # {behind}"),
        };
        self.push(&format!("{mark}{name} = {value}{behind}"));
    }

    fn written(&self, key: &Key, value: &Value) -> String {
        let float = |number: f64| toml::Value::Float(number).to_string();
        let length = |length: Length| match self.unit {
            Unit::In => float(stated(length.inches())),
            _ => float(stated(length.mm())),
        };
        match value {
            Value::Text(text) => toml::Value::String(text.clone()).to_string(),
            Value::Whole(number) => number.to_string(),
            Value::Number(number) => float(stated(*number)),
            Value::Length(it) => length(*it),
            Value::Angle(angle) => float(stated(angle.deg())),
            Value::Plain(text) => text.clone(),
            Value::Limit(limit) => {
                let end = |name: &str, end: Option<f64>| {
                    let written = end.map(|end| match key.kind {
                        Kind::LengthLimit(_) => length(Length::from_mm(end)),
                        _ => float(stated(end)),
                    });
                    written.map(|end| format!("{name} = {end}"))
                };
                let ends = [end("min", limit.min), end("max", limit.max)];
                let ends: Vec<String> = ends.into_iter().flatten().collect();
                format!("{{ {} }}", ends.join(", "))
            }
        }
    }

    fn push(&mut self, line: &str) {
        self.made.text.push_str(line);
        self.made.text.push('\n');
    }
}

/// Whether a key that is left out has a figure of its own, and not that of every card.
fn has_more_to_say(entry: Option<&Entry>) -> bool {
    entry.is_some_and(|entry| match &entry.standing {
        Standing::LeftOut(known) => !known.is_empty(),
        _ => false,
    })
}

/// A key with its table, as a person looks for it: `[stylus] radius_mm`.
fn in_section(section: &Section, name: &str) -> String {
    match section.heading {
        "" => name.to_owned(),
        heading => format!("{heading} {name}"),
    }
}
