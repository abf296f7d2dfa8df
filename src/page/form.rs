//! Cards as forms: a form is written as the card's own text, and read by the card's own reader.

use crate::card::{Key, Kind, Section};
use serde_json::{Map, Value, json};
use std::fmt::Write;

/// The unit in which a person fills in lengths.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum FormUnit {
    Mm,
    In,
}

/// A form as its card's text, with the field that each line came from.
#[derive(Debug)]
pub(super) struct Written {
    pub text: String,
    /// `feature.0.diameter_mm`, for the lines of the text from the first on.
    pub(super) fields: Vec<String>,
}

/// What a form has to ask: every key of a card with its meaning and range.
pub(super) fn described(card: &[Section]) -> Value {
    let key = |key: &Key| {
        let range = key.kind.range();
        json!({
            "name": key.name,
            "meaning": key.meaning,
            "required": key.required,
            "kind": kind(key.kind),
            "choices": match key.kind { Kind::Choice(words) => words, _ => &[] },
            "range": range.map(|range| range.to_string()),
            "within": range.map(|range| json!({ "least": range.least, "most": range.most, "open": range.open })),
            "whole": matches!(key.kind, Kind::Whole(_)),
        })
    };
    let sections = card.iter().map(|section| {
        let keys: Vec<Value> = section.keys.iter().map(key).collect();
        json!({ "heading": section.heading, "keys": keys })
    });
    sections.collect()
}

const fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Text | Kind::File | Kind::Pattern(..) | Kind::Moment | Kind::Day => "text",
        Kind::Choice(_) => "choice",
        Kind::Switch => "switch",
        Kind::Whole(_) | Kind::Number(_) | Kind::Time(_) => "number",
        Kind::Length(_) => "length",
        Kind::Angle(_) => "angle",
        Kind::Angles(_) => "angles",
        Kind::LengthLimit(_) => "length-limit",
        Kind::AngleLimit(_) => "angle-limit",
        Kind::Table => "table",
        Kind::Tables => "tables",
    }
}

/// Writes a form as a card. What is left empty is left out, and what is no number is written as
/// text, so that the card's reader objects to it in its own words.
pub(super) fn write(card: &[Section], form: &Map<String, Value>, unit: FormUnit) -> Written {
    let mut out = Written {
        text: String::new(),
        fields: Vec::new(),
    };
    out.line("schema = 1", "");
    table(card, "", form, "", unit, &mut out);
    out
}

impl Written {
    fn line(&mut self, line: &str, field: &str) {
        // A field holds one line, or complaints would go astray.
        let line = line.replace(['\n', '\r'], " ");
        let _ = writeln!(self.text, "{line}");
        self.fields.push(field.to_owned());
    }
}

pub(super) fn below(name: &str, with: &str) -> String {
    match with {
        "" => name.to_owned(),
        with => format!("{with}.{name}"),
    }
}

/// Writes one table: its own keys first, then the tables below it.
fn table(
    card: &[Section],
    path: &str,
    form: &Map<String, Value>,
    field: &str,
    unit: FormUnit,
    out: &mut Written,
) {
    let Some(section) = card
        .iter()
        .find(|section| section.heading.trim_matches(['[', ']']) == path)
    else {
        return;
    };
    for key in section.keys.iter().filter(|key| key.name != "schema") {
        if let Some(value) = form.get(key.name).and_then(|value| written(key, value)) {
            let name = match (unit, key.kind) {
                (FormUnit::In, Kind::Length(_) | Kind::LengthLimit(_)) => {
                    key.name.replacen("_mm", "_in", 1)
                }
                _ => key.name.to_owned(),
            };
            out.line(&format!("{name} = {value}"), &below(key.name, field));
        }
    }
    for key in section.keys {
        let path = below(key.name, path);
        match (key.kind, form.get(key.name)) {
            (Kind::Table, Some(Value::Object(inner))) => {
                let field = below(key.name, field);
                // A table that a card may leave out, and that has nothing in it, is left out.
                if key.required || !is_empty(inner) {
                    out.line(&format!("[{path}]"), &field);
                    table(card, &path, inner, &field, unit, out);
                }
            }
            (Kind::Tables, Some(Value::Array(items))) => {
                for (at, item) in items.iter().enumerate() {
                    let Value::Object(inner) = item else { continue };
                    let field = format!("{}.{at}", below(key.name, field));
                    out.line(&format!("[[{path}]]"), &field);
                    table(card, &path, inner, &field, unit, out);
                }
            }
            _ => {}
        }
    }
}

fn is_empty(form: &Map<String, Value>) -> bool {
    form.values().all(|value| match value {
        Value::Null => true,
        Value::String(text) => text.trim().is_empty(),
        Value::Object(inner) => is_empty(inner),
        Value::Array(items) => items.is_empty(),
        _ => false,
    })
}

/// A value as it stands in a card; nothing where the field was left empty.
fn written(key: &Key, value: &Value) -> Option<String> {
    match key.kind {
        Kind::Table | Kind::Tables => None,
        Kind::Text | Kind::File | Kind::Choice(_) | Kind::Pattern(..) => {
            let text = value.as_str()?;
            (!text.trim().is_empty()).then(|| quoted(text.trim()))
        }
        Kind::Switch => value.as_bool().map(|on| on.to_string()),
        Kind::Moment | Kind::Day => plain(value).map(|text| date(&text)),
        Kind::Angles(_) => {
            let text = value.as_str()?;
            let parts = text.split([' ', ';']).map(|part| part.trim_matches(','));
            let parts: Vec<String> = parts.filter(|part| !part.is_empty()).map(number).collect();
            (!parts.is_empty()).then(|| format!("[{}]", parts.join(", ")))
        }
        Kind::LengthLimit(_) | Kind::AngleLimit(_) => {
            let ends = ["min", "max"].into_iter().filter_map(|end| {
                let text = plain(value.get(end)?)?;
                Some(format!("{end} = {}", number(&text)))
            });
            let ends: Vec<String> = ends.collect();
            (!ends.is_empty()).then(|| format!("{{ {} }}", ends.join(", ")))
        }
        Kind::Whole(_) | Kind::Number(_) | Kind::Length(_) | Kind::Angle(_) | Kind::Time(_) => {
            plain(value).map(|text| number(&text))
        }
    }
}

/// What a person typed; nothing where that is nothing.
fn plain(value: &Value) -> Option<String> {
    let text = match value {
        Value::String(text) => text.trim().to_owned(),
        Value::Number(number) => number.to_string(),
        _ => return None,
    };
    (!text.is_empty()).then_some(text)
}

/// A number as TOML has it, with a decimal comma too; anything else as text.
fn number(typed: &str) -> String {
    let dotted = typed.replacen(',', ".", 1);
    let digits = dotted.strip_prefix('+').unwrap_or(&dotted);
    match digits.parse::<f64>() {
        Ok(number) if number.is_finite() && number.fract() == 0.0 && number.abs() < 1e15 => {
            // A count must not have a decimal point, and a length may do without.
            format!("{number:.0}")
        }
        Ok(number) if number.is_finite() => format!("{number:?}"),
        _ => quoted(typed),
    }
}

/// A date, with or without a time, as TOML has it; anything else as text.
fn date(typed: &str) -> String {
    match typed.parse::<toml::value::Datetime>() {
        Ok(date) => date.to_string(),
        Err(_) => quoted(typed),
    }
}

/// Text as a basic string of TOML.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A card's text as the values of a form, lengths in the units that it was written in by
/// [`to_toml`](crate::card::ToolCard::to_toml): mm.
pub(super) fn values(card: &str) -> Option<Value> {
    let table: toml::Table = toml::from_str(card).ok()?;
    let mut value = in_json(toml::Value::Table(table));
    if let Value::Object(top) = &mut value {
        top.remove("schema");
    }
    Some(value)
}

/// The same in JSON, which has no dates: they are what a person types.
fn in_json(value: toml::Value) -> Value {
    match value {
        toml::Value::Datetime(date) => Value::String(date.to_string()),
        toml::Value::Table(table) => {
            let pairs = table.into_iter();
            Value::Object(pairs.map(|(key, value)| (key, in_json(value))).collect())
        }
        toml::Value::Array(items) => items.into_iter().map(in_json).collect(),
        toml::Value::String(text) => Value::String(text),
        toml::Value::Integer(number) => json!(number),
        toml::Value::Float(number) => json!(number),
        toml::Value::Boolean(on) => Value::Bool(on),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::{ToolCard, keys};

    fn form(text: &str) -> Map<String, Value> {
        match serde_json::from_str(text) {
            Ok(Value::Object(form)) => form,
            _ => Map::new(),
        }
    }

    const GOOD: &str = r#"{"id":"VB-07","name":"seat \"counterbore\"","hand":"right","flutes":"2",
        "decision":{"confidence":""},
        "feature":[{"name":"seat","surface":"radial","diameter_mm":"20,5","check_distance_mm":0.5,
                    "limits":{"drop_mm":{"min":"0.045","max":"0.075"}}}]}"#;

    /// The fields that are complained of, in order.
    #[track_caller]
    fn check(change: impl Fn(&mut Map<String, Value>), expected: &[&str]) {
        let mut form = form(GOOD);
        change(&mut form);
        let written = write(keys::TOOL, &form, FormUnit::Mm);
        let found = match ToolCard::parse(&written.text, "tool.toml") {
            Ok(_) => Vec::new(),
            Err(error) => written.objections(keys::TOOL, &error),
        };
        let fields: Vec<&str> = found.iter().map(|one| one.field.as_str()).collect();
        assert_eq!(fields, expected, "{}\n{found:#?}", written.text);
    }

    #[test]
    fn a_form_gives_the_card_that_a_person_would_write() {
        let written = write(keys::TOOL, &form(GOOD), FormUnit::Mm);
        let card = ToolCard::parse(&written.text, "tool.toml");
        let card = card.map(|card| (card.name, card.features[0].diameter.mm()));
        assert_eq!(card, Ok(("seat \"counterbore\"".to_owned(), 20.5)));
    }

    #[test]
    fn inches_are_written_as_inches() {
        let written = write(keys::TOOL, &form(GOOD), FormUnit::In);
        assert!(
            written.text.contains("diameter_in = 20.5"),
            "{}",
            written.text
        );
        assert!(
            written
                .text
                .contains("drop_in = { min = 0.045, max = 0.075 }")
        );
    }

    #[test]
    fn each_complaint_stands_beside_its_field() {
        check(|_| {}, &[]);
        check(|form| form["flutes"] = json!("99"), &["flutes"]);
        check(|form| form["flutes"] = json!("two"), &["flutes"]);
        check(|form| drop(form.remove("id")), &["id"]);
        check(|form| form["id"] = json!(" "), &["id"]);
        check(|form| form["hand"] = json!("up"), &["hand"]);
        check(|form| form["feature"] = json!([]), &["feature"]);
        let of_feature = |key: &'static str, value: Value| {
            move |form: &mut Map<String, Value>| form["feature"][0][key] = value.clone()
        };
        check(
            of_feature("diameter_mm", json!("-3")),
            &["feature.0.diameter_mm"],
        );
        check(
            of_feature("diameter_mm", json!("")),
            &["feature.0.diameter_mm"],
        );
        check(
            of_feature("feed_mm_per_rev", json!("0.1")),
            &["feature.0.feed_mm_per_rev"],
        );
        let limits = json!({ "drop_mm": { "min": "2", "max": "1" } });
        check(of_feature("limits", limits), &["feature.0.limits.drop_mm"]);
    }

    #[test]
    fn nothing_that_is_typed_escapes_its_field() {
        let odd = "a\"\nflutes = 7\n[decision]\nconfidence = 0.6 # \\";
        let mut form = form(GOOD);
        form["id"] = json!(odd);
        let written = write(keys::TOOL, &form, FormUnit::Mm);
        let card = ToolCard::parse(&written.text, "tool.toml");
        let card = card.map(|card| (card.flutes, card.confidence));
        assert_eq!(card, Ok((2, 0.95)), "{}", written.text);
    }
}
