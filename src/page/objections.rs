//! What a card's reader objects to, put beside the fields of a form and in the words of a form.

use super::form::{Written, below};
use crate::card::{Kind, Section};
use crate::error::{Code, Error};
use serde::Serialize;

/// A complaint beside the field that it is about; an empty field is the form as a whole.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct FieldError {
    pub field: String,
    pub message: String,
    pub help: Option<String>,
}

/// That a new card would take the place of another.
pub(super) fn taken(by_name: bool) -> FieldError {
    FieldError {
        field: if by_name { "name" } else { "" }.to_owned(),
        message: "there is a card of this name already".to_owned(),
        help: Some("change that one, or give this one another name".to_owned()),
    }
}

impl Written {
    /// What a card's reader objects to, each beside its field.
    pub(super) fn objections(&self, card: &[Section], error: &Error) -> Vec<FieldError> {
        let all = std::iter::once(error).chain(error.others());
        all.flat_map(|one| self.objection(card, one)).collect()
    }

    fn objection(&self, card: &[Section], error: &Error) -> Vec<FieldError> {
        let line = error.place().line.unwrap_or(1).saturating_sub(1) as usize;
        let field = self.fields.get(line).cloned().unwrap_or_default();
        if let Some(name) = demanded(error) {
            let table = if self.is_heading(line) { &field } else { "" };
            return vec![FieldError {
                field: below(name, table),
                message: "nothing is filled in".to_owned(),
                help: error.advice().map(without_toml),
            }];
        }
        let missing = missing(error.message());
        if missing.is_empty() {
            return vec![FieldError {
                field,
                message: without_toml(error.message()),
                help: error.advice().map(str::to_owned),
            }];
        }
        // Keys that are missing are complained of together, where their table begins.
        let table = if self.is_heading(line) {
            field
        } else {
            String::new()
        };
        let keys = || card.iter().flat_map(|section| section.keys);
        let each = missing.into_iter().map(|name| {
            let key = keys().find(|key| key.name == name);
            let expected = key.map_or_else(String::new, |key| match key.kind {
                Kind::Text => ": some words are needed".to_owned(),
                kind => format!(", expected {kind}"),
            });
            FieldError {
                field: below(name, &table),
                message: format!("nothing is filled in{expected}"),
                help: None,
            }
        });
        each.collect()
    }

    fn is_heading(&self, line: usize) -> bool {
        let text = self.text.lines().nth(line);
        text.is_some_and(|text| text.starts_with('['))
    }
}

/// A message about a card's text, in the words of the form: no quotes, braces or names of keys.
fn without_toml(message: &str) -> String {
    let words = [
        ("`\"", "`"),
        ("\"`", "`"),
        ("`{ min = ", "`least "),
        ("`{ max = ", "`most "),
        (", max = ", ", most "),
        (" }`", "`"),
        (
            "a `min` that is not above `max`",
            "the least not above the most",
        ),
    ];
    let start = message.to_owned();
    let plain = words
        .into_iter()
        .fold(start, |text, (toml, plain)| text.replace(toml, plain));
    let parts = plain.split('`').enumerate();
    let mut text = String::new();
    for (number, part) in parts {
        text += match number {
            0 => "",
            opens if opens % 2 == 1 => "“",
            _ => "”",
        };
        text += part;
    }
    text
}

/// The key that is needed because of what else is filled in: that of ``read a law and no `rise_mm` ``.
fn demanded(error: &Error) -> Option<&str> {
    let message = error.message();
    let plainly = [" at the top", " under "]
        .iter()
        .any(|end| message.contains(end));
    let (_, rest) = message.split_once("no `")?;
    let (name, _) = rest.split_once('`')?;
    (error.code() == Code::MissingKey && !plainly).then_some(name)
}

/// The keys that a message says are missing: those of ``read no `id` or `name` under …``.
fn missing(message: &str) -> Vec<&str> {
    let Some(rest) = message.strip_prefix("read no ") else {
        return Vec::new();
    };
    let end = [" at the top", " under "]
        .iter()
        .filter_map(|end| rest.find(end))
        .min();
    let names = rest.get(..end.unwrap_or(rest.len())).unwrap_or_default();
    let quoted = names.split('`').skip(1).step_by(2);
    quoted.map(|name| name.trim_matches(['[', ']'])).collect()
}

#[cfg(test)]
mod tests {
    use super::without_toml;

    #[test]
    fn a_message_is_told_without_the_signs_of_a_card() {
        #[track_caller]
        fn check(message: &str, expected: &str) {
            assert_eq!(without_toml(message), expected);
        }
        check(
            "read `\"two\"`, expected a whole number",
            "read “two”, expected a whole number",
        );
        check(
            "read `{ min = 9, max = 6 }`, expected a `min` that is not above `max`",
            "read “least 9, most 6”, expected the least not above the most",
        );
        check("read `-3`, expected more", "read “-3”, expected more");
    }
}
