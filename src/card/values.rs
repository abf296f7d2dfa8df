//! Takes typed values out of a card's table: each is checked against what its key allows.

use super::choices::Words;
use super::inside::{INSIDE, objection};
use super::key::Unit;
use super::reader::{Reader, whole_number};
use super::{Kind, Limit};
use crate::error::Code;
use crate::quantity::{Angle, Length, Time};
use jiff::Timestamp;
use jiff::civil::Date;
use std::ops::Range;
use toml::de::DeValue;

impl Reader<'_> {
    /// Words that are not empty.
    pub(super) fn text(&self, name: &str) -> Option<String> {
        let (key, found) = self.find(name)?;
        match found.value {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.to_string()),
            _ => self.refuse(key, &found),
        }
    }

    /// A file inside the folder: an inspection that reaches outside could not be copied whole.
    /// `cards` are the others, where this is none.
    pub(super) fn file(&self, name: &str, cards: &[&str]) -> Option<String> {
        let path = self.text(name)?;
        if let Some(objection) = objection(&path, cards) {
            let (key, found) = self.find(name)?;
            return self.refuse_because(key, &found, format!("{objection}: {INSIDE}"));
        }
        Some(path)
    }

    /// The meaning of one of a few words.
    pub(super) fn choice<T: Words>(&self, name: &str) -> Option<T> {
        let (key, found) = self.find(name)?;
        let word = match found.value {
            DeValue::String(word) => word.as_ref(),
            _ => return self.refuse(key, &found),
        };
        match T::WORDS.iter().position(|known| *known == word) {
            Some(at) => T::MEANINGS.get(at).copied(),
            None => self.refuse(key, &found),
        }
    }

    /// One of the key's own words, as it stands.
    pub(super) fn any_choice(&self, name: &str) -> Option<String> {
        let (key, found) = self.find(name)?;
        let word = match (found.value, key.kind) {
            (DeValue::String(word), Kind::Choice(words)) if words.contains(&word.as_ref()) => word,
            _ => return self.refuse(key, &found),
        };
        Some(word.to_string())
    }

    /// `true` or `false`.
    pub(super) fn switch(&self, name: &str) -> Option<bool> {
        let (key, found) = self.find(name)?;
        match found.value {
            DeValue::Boolean(on) => Some(*on),
            _ => self.refuse(key, &found),
        }
    }

    /// A date and time with its offset.
    pub(super) fn moment(&self, name: &str) -> Option<Timestamp> {
        let (key, found) = self.find(name)?;
        let moment = match found.value {
            DeValue::Datetime(written) => written.to_string().parse().ok(),
            _ => None,
        };
        moment.or_else(|| self.refuse(key, &found))
    }

    /// A date; of a date and time, the date as it stands there.
    pub(super) fn day(&self, name: &str) -> Option<Date> {
        let (key, found) = self.find(name)?;
        let day = match found.value {
            DeValue::Datetime(written) => {
                let written = written.to_string();
                written.get(..10).and_then(|day| day.parse().ok())
            }
            _ => None,
        };
        day.or_else(|| self.refuse(key, &found))
    }

    /// A whole number within the key's range, which has no sign.
    pub(super) fn whole(&self, name: &str) -> Option<u32> {
        u32::try_from(self.integer(name)?).ok()
    }

    /// A whole number of either sign within the key's range.
    pub(super) fn integer(&self, name: &str) -> Option<i64> {
        let (key, found) = self.find(name)?;
        let Kind::Whole(range) = key.kind else {
            return self.refuse(key, &found);
        };
        let number = whole_number(found.value).filter(|number| range.holds(*number as f64));
        number.or_else(|| self.refuse(key, &found))
    }

    /// A number within the key's range, as it stands.
    pub(super) fn number(&self, name: &str) -> Option<f64> {
        let (key, found) = self.find(name)?;
        let range = key.kind.in_unit(found.unit).range()?;
        let number = number(found.value).filter(|number| range.holds(*number));
        number.or_else(|| self.refuse(key, &found))
    }

    /// A length in the unit that the key's name says.
    pub(super) fn length(&self, name: &str) -> Option<Length> {
        let number = self.number(name)?;
        let (_, found) = self.find(name)?;
        Some(length(number, found.unit))
    }

    /// An angle from degrees.
    pub(super) fn angle(&self, name: &str) -> Option<Angle> {
        self.number(name).map(Angle::from_deg)
    }

    /// Angles from degrees, each within the key's range.
    pub(super) fn angles(&self, name: &str) -> Option<Vec<Angle>> {
        let (key, found) = self.find(name)?;
        let range = key.kind.range()?;
        let DeValue::Array(items) = found.value else {
            return self.refuse(key, &found);
        };
        let read = items.iter().map(|item| {
            let number = number(item.get_ref()).filter(|number| range.holds(*number));
            number.map(Angle::from_deg)
        });
        let angles: Option<Vec<Angle>> = read.collect();
        angles.or_else(|| self.refuse(key, &found))
    }

    /// A span of time from milliseconds.
    pub(super) fn time(&self, name: &str) -> Option<Time> {
        self.number(name).map(Time::from_ms)
    }

    /// A pattern that compiles and has the groups that are needed, and no others.
    pub(super) fn pattern(&self, name: &str) -> Option<String> {
        let (key, found) = self.find(name)?;
        let (DeValue::String(text), Kind::Pattern(needed, allowed)) = (found.value, key.kind)
        else {
            return self.refuse(key, &found);
        };
        let pattern = match regex::Regex::new(text) {
            Ok(pattern) => pattern,
            Err(fault) => {
                let fault = fault.to_string();
                let reason = fault.lines().last().unwrap_or_default();
                let reason = reason.trim_start_matches("error: ");
                return self.refuse_because(key, &found, format!("the pattern: {reason}"));
            }
        };
        let groups: Vec<&str> = pattern.capture_names().flatten().collect();
        let known = |group: &&str| needed.contains(group) || allowed.contains(group);
        if let Some(group) = groups.iter().find(|group| !known(group)) {
            let all = [needed, allowed].concat().join("`, `");
            let help = format!("no reading has a `{group}`: the groups are `{all}`");
            return self.refuse_because(key, &found, help);
        }
        if !groups.iter().any(|group| needed.contains(group)) {
            return self.refuse(key, &found);
        }
        Some(text.to_string())
    }

    /// A limit in the unit of its characteristic: mm or degrees.
    pub(super) fn limit(&self, name: &str) -> Option<Limit> {
        let (key, found) = self.find(name)?;
        let DeValue::Table(ends) = found.value else {
            return self.refuse(key, &found);
        };
        let range = key.kind.in_unit(found.unit).range()?;
        let mut limit = Limit::default();
        for (end, value) in ends.iter() {
            let side = match end.get_ref().as_ref() {
                "min" => &mut limit.min,
                "max" => &mut limit.max,
                _ => return self.object_to(Code::UnknownKey, end.span(), "`min` or `max`"),
            };
            let read = number(value.get_ref()).filter(|number| range.holds(*number));
            let Some(read) = read else {
                let expected = format!("a number {range}: {}", key.meaning);
                return self.object_to(Code::CardValue, value.span(), &expected);
            };
            *side = Some(match key.kind {
                Kind::LengthLimit(_) => length(read, found.unit).mm(),
                _ => read,
            });
        }
        match (limit.min, limit.max) {
            (None, None) => self.refuse(key, &found),
            (Some(min), Some(max)) if min > max => self.object_to(
                Code::CardValue,
                found.span,
                "a `min` that is not above `max`",
            ),
            _ => Some(limit),
        }
    }

    /// Notes what was expected instead of what stands at a place.
    fn object_to<T>(&self, code: Code, span: Range<usize>, expected: &str) -> Option<T> {
        let message = format!("read {}, expected {expected}", self.page.quote(&span));
        self.page.report(code, span, message, None);
        None
    }
}

fn length(number: f64, unit: Unit) -> Length {
    match unit {
        Unit::Mm => Length::from_mm(number),
        Unit::In => Length::from_in(number),
        Unit::Um => Length::from_um(number),
    }
}

/// A finite number, with or without a decimal point.
fn number(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        DeValue::Float(digits) => digits.as_str().parse().ok()?,
        other => whole_number(other)? as f64,
    };
    f64::is_finite(number).then_some(number)
}
