//! Writes a card so that reading it gives the same card back.

use super::Limit;
use crate::quantity::{Angle, Length, Time};
use toml::Value;

/// The text of a card as it grows.
pub(super) struct Writer {
    text: String,
}

impl Writer {
    /// A card starts with the version of its form.
    pub(super) fn new() -> Self {
        Self {
            text: "schema = 1\n".to_owned(),
        }
    }

    /// A part of a card, to be put into one that a person wrote.
    pub(super) fn bare() -> Self {
        Self {
            text: String::new(),
        }
    }

    pub(super) fn finish(self) -> String {
        self.text
    }

    /// A new table, with a line of air before it.
    pub(super) fn heading(&mut self, brackets: &str) {
        self.text.push_str(&format!("\n{brackets}\n"));
    }

    pub(super) fn text(&mut self, key: &str, text: &str) {
        self.value(key, Value::String(text.to_owned()));
    }

    pub(super) fn whole(&mut self, key: &str, number: u32) {
        self.value(key, Value::Integer(number.into()));
    }

    pub(super) fn integer(&mut self, key: &str, number: i64) {
        self.value(key, Value::Integer(number));
    }

    pub(super) fn switch(&mut self, key: &str, on: bool) {
        self.value(key, Value::Boolean(on));
    }

    pub(super) fn number(&mut self, key: &str, number: f64) {
        self.value(key, Value::Float(number));
    }

    /// A value whose text is the same in TOML: a date and time.
    pub(super) fn plain(&mut self, key: &str, text: impl std::fmt::Display) {
        self.text.push_str(&format!("{key} = {text}\n"));
    }

    pub(super) fn length(&mut self, key: &str, length: Option<Length>) {
        if let Some(length) = length {
            self.number(key, length.mm());
        }
    }

    pub(super) fn angle(&mut self, key: &str, angle: Option<Angle>) {
        if let Some(angle) = angle {
            let same = |deg: f64| Angle::from_deg(deg) == angle;
            self.number(key, as_written(angle.deg(), same));
        }
    }

    /// Angles in brackets; nothing for none.
    pub(super) fn angles(&mut self, key: &str, angles: &[Angle]) {
        let written = angles.iter().map(|angle| {
            let same = |deg: f64| Angle::from_deg(deg) == *angle;
            Value::Float(as_written(angle.deg(), same))
        });
        if !angles.is_empty() {
            self.value(key, Value::Array(written.collect()));
        }
    }

    pub(super) fn time(&mut self, key: &str, time: Option<Time>) {
        if let Some(time) = time {
            let same = |ms: f64| Time::from_ms(ms) == time;
            self.number(key, as_written(time.ms(), same));
        }
    }

    pub(super) fn limit(&mut self, key: &str, limit: Limit) {
        let end =
            |name: &str, end: Option<f64>| end.map(|end| format!("{name} = {}", Value::Float(end)));
        let ends: Vec<String> = [end("min", limit.min), end("max", limit.max)]
            .into_iter()
            .flatten()
            .collect();
        self.plain(key, format_args!("{{ {} }}", ends.join(", ")));
    }

    fn value(&mut self, key: &str, value: Value) {
        self.plain(key, value);
    }
}

/// The number that a person wrote, out of one that a unit's conversion may have moved by a last
/// digit: the shortest that converts to the same, or the number itself when none nearby does.
fn as_written(number: f64, same: impl Fn(f64) -> bool) -> f64 {
    let rounded = format!("{number:.12e}").parse().unwrap_or(number);
    let near = [rounded, number, number.next_up(), number.next_down()];
    let found = near.into_iter().find(|near| same(*near));
    found.unwrap_or(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_angle_is_written_as_it_was_read() {
        for deg in [0.1, 0.3, 7.4, 33.3, 58.7, 60.0, 359.99] {
            let mut out = Writer::new();
            out.angle("land_deg", Some(Angle::from_deg(deg)));
            let text = out.finish();
            let wanted = format!("land_deg = {}\n", Value::Float(deg));
            assert!(text.ends_with(&wanted), "{text}");
        }
    }
}
