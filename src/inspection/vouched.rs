//! Whether a verdict follows from the cards and traces beside it.
//!
//! A digest within the file tells that a trace was exchanged, and nothing of a verdict that was
//! edited: whoever changes the words can work the digest out anew. Judging again cannot be fooled.

use super::rejudge::{judge_laid_out, same};
use crate::error::{Code, Error, Result};
use crate::record::archive::{StoredFile, standing};
use crate::record::{Characteristic, Noted, Pair, Record, Standing, Verdict, pairs};
use serde_json::Value;
use std::path::Path;

/// Numbers differ from one machine's mathematics to another's by less than this share of
/// themselves, and by less than a nanometre.
const ROUNDING: f64 = 1e-6;
const LEAST: f64 = 1e-9;

/// What came of holding a verdict against its evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct Vouched {
    /// The verdict as it lies there.
    pub record: Record,
    /// How it stands to the cards and traces beside it.
    pub standing: Standing,
    /// What does not follow from them, a sentence each; empty where all of it does.
    pub against: Vec<String>,
    /// Whether this very program judged it, so that its words have to be the same too.
    pub same_program: bool,
}

impl Vouched {
    /// The verdict, if it is one on what lies beside it.
    ///
    /// # Errors
    /// `evidence` where it is not; `place` names it in messages.
    pub fn or_refused(self, place: &str) -> Result<Self> {
        let message = match (self.standing, self.against.as_slice()) {
            (Standing::Other, _) => {
                "its verdict was judged from other cards or traces than lie here".to_owned()
            }
            (_, [first, rest @ ..]) => {
                let more = match rest.len() {
                    0 => String::new(),
                    more => format!(", and {more} more"),
                };
                format!("its verdict does not follow from its cards and traces: {first}{more}")
            }
            (_, []) => return Ok(self),
        };
        Err(Error::new(Code::Evidence, message).in_file(place))
    }
}

/// Holds the verdict among these files against the cards and traces among them: judges those again
/// and compares. Nothing where they were not judged.
///
/// # Errors
/// Those of reading a verdict and of judging. What does not follow is no error, but in the answer.
pub fn vouched(files: &[StoredFile]) -> Result<Option<Vouched>> {
    let Some(standing) = standing(files) else {
        return Ok(None);
    };
    let text = files.iter().find(|file| file.path == VERDICT);
    let text = text.map_or("".into(), |file| String::from_utf8_lossy(&file.bytes));
    let record = Record::from_json(&text, VERDICT)?;
    let mut against = Vec::new();
    let mut same_program = false;
    // A verdict on something else need not be held against this.
    if standing != Standing::Other {
        let now = judge_laid_out(files, Some(&record))?;
        same_program = record.about.program == now.about.program;
        against = differences(&record, &now, same_program)?;
    }
    Ok(Some(Vouched {
        record,
        standing,
        against,
        same_program,
    }))
}

/// How the verdict in a folder stands to the cards and traces in it; nothing where it was not
/// judged, or cannot be read.
pub fn standing_in(folder: &Path) -> Option<Standing> {
    standing(&StoredFile::judged_of(folder).ok()?)
}

const VERDICT: &str = "verdict.json";

fn differences(then: &Record, now: &Record, same_program: bool) -> Result<Vec<String>> {
    let mut against = Vec::new();
    if then.verdict != now.verdict {
        against.push(format!(
            "it says {}, they say {}",
            word(then.verdict),
            word(now.verdict)
        ));
    }
    for Pair { before, after } in pairs(then, now) {
        match (before, after) {
            (Some(before), Some(after)) if same(before, after) => {}
            (Some(before), Some(after)) => against.push(format!(
                "{}: it says {}, they say {}",
                named(before),
                figure(before),
                figure(after)
            )),
            (Some(only), None) => {
                against.push(format!("{}: they give no such figure", named(only)))
            }
            (None, Some(only)) => against.push(format!("{}: it lacks this figure", named(only))),
            (None, None) => {}
        }
    }
    if !still_there(then.noted.as_ref(), now.noted.as_ref()) {
        against.push("it lists notes or photographs that do not lie beside it".to_owned());
    }
    // What came to be there later changes nothing of it.
    let now = &Record {
        noted: then.noted.clone(),
        ..now.clone()
    };
    // Another version may put the same into other words; this one may not.
    if against.is_empty() && same_program {
        against.extend(
            first_difference(&tree(then)?, &tree(now)?)
                .map(|place| format!("`{place}` is not what this program writes there")),
        );
    }
    Ok(against)
}

/// Whether the notes that a verdict lists are those of the folder, and each photograph is among them.
fn still_there(then: Option<&Noted>, now: Option<&Noted>) -> bool {
    let Some(then) = then else { return true };
    let nothing = Noted {
        text: None,
        photographs: Vec::new(),
    };
    let now = now.unwrap_or(&nothing);
    let same_text = then.text.is_none() || then.text == now.text;
    let mut each = then.photographs.iter();
    same_text && each.all(|one| now.photographs.contains(one))
}

fn word(verdict: Option<Verdict>) -> &'static str {
    verdict.map_or("no verdict", Verdict::as_str)
}

/// `seat, flute 2: heel-clearance`
fn named(of: &Characteristic) -> String {
    let mut name = of.feature.clone().unwrap_or_else(|| "tool".to_owned());
    if let Some(flute) = of.flute {
        name += &format!(", flute {flute}");
    }
    format!("{name}: {}", of.name)
}

fn figure(of: &Characteristic) -> String {
    let value = match of.value {
        Some(value) => format!("{value:.4} {}", of.unit),
        None => "no value".to_owned(),
    };
    match of.verdict {
        Some(verdict) => format!("{value}, {}", verdict.as_str()),
        None => value,
    }
}

fn tree(record: &Record) -> Result<Value> {
    serde_json::to_value(record)
        .map_err(|fault| Error::internal("cannot write the record as JSON", fault))
}

/// The first place where two values differ by more than rounding.
fn first_difference(then: &Value, now: &Value) -> Option<String> {
    let below = |key: String, then: Option<&Value>, now: Option<&Value>| match (then, now) {
        (Some(then), Some(now)) => first_difference(then, now).map(|rest| match rest.is_empty() {
            true => key,
            false => format!("{key}.{rest}"),
        }),
        _ => Some(key),
    };
    match (then, now) {
        (Value::Object(then), Value::Object(now)) => {
            let more = now.keys().filter(|key| !then.contains_key(*key));
            let mut keys = then.keys().chain(more);
            keys.find_map(|key| below(key.clone(), then.get(key), now.get(key)))
        }
        (Value::Array(then), Value::Array(now)) => (0..then.len().max(now.len()))
            .find_map(|at| below(at.to_string(), then.get(at), now.get(at))),
        (Value::Number(then), Value::Number(now)) => {
            let (then, now) = (then.as_f64()?, now.as_f64()?);
            let most = LEAST + ROUNDING * then.abs().max(now.abs());
            ((then - now).abs() > most).then(String::new)
        }
        (then, now) => (then != now).then(String::new),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    #[test]
    fn the_first_difference_is_named_and_rounding_is_none() {
        #[track_caller]
        fn check(then: Value, now: Value, place: Option<&str>) {
            assert_eq!(first_difference(&then, &now).as_deref(), place);
        }
        check(json!({"a": [1.0, 2.0]}), json!({"a": [1.0, 2.0]}), None);
        check(json!({"a": 1.0}), json!({"a": 1.000_000_000_5}), None);
        check(json!({"a": 1.0}), json!({"a": 1.000_1}), Some("a"));
        check(
            json!({"a": [1, {"b": "x"}]}),
            json!({"a": [1, {"b": "y"}]}),
            Some("a.1.b"),
        );
        check(json!({"a": [1]}), json!({"a": [1, 2]}), Some("a.1"));
        check(json!({}), json!({"a": null}), Some("a"));
        check(json!({"a": 1}), json!({"a": "1"}), Some("a"));
    }
}
