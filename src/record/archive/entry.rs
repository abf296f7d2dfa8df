//! What the archive says of a record without opening its files.

use super::digest::{Digest, Sum};
use crate::error::{Code, Error, Result};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The form of a record's digests that this program writes: the second one covers where a record
/// came from, and by the third notes and photographs are no evidence of what was measured. Those of
/// the earlier ones stay as they are.
pub(super) const FORM: i64 = 3;

/// What helps where something is damaged.
pub(super) const ASK_CHECK: &str =
    "`heelclear archive check` names all that is broken; a backup brings it back";

/// Which record: the bench that made it, and its number there, counted from 1.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct RecordId {
    /// The bench, as the archive names it.
    pub bench: String,
    /// Counted from 1 on that bench, without a gap.
    pub number: i64,
}

impl RecordId {
    /// Its name as short as it can be told: the bench only where there are several.
    pub fn short(&self, several: bool) -> String {
        match several {
            true => self.to_string(),
            false => self.number.to_string(),
        }
    }
}

impl fmt::Display for RecordId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.bench, self.number)
    }
}

/// One line of the archive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Which record it is.
    #[serde(flatten)]
    pub id: RecordId,
    /// The form of its digests.
    pub form: i64,
    /// When it came into the archive.
    #[serde(with = "moment")]
    pub archived: Timestamp,
    /// Name and version of the program that put it there, and `, as judged` behind it where it was
    /// told not to hold the verdict against its evidence.
    pub program: String,
    /// Name of the computer.
    pub host: String,
    /// When the tool was measured.
    #[serde(with = "moment")]
    pub taken: Timestamp,
    /// Who measured it; empty where nobody said.
    pub operator: String,
    /// `before-grind` or `after-grind`.
    pub stage: String,
    /// The tool's id.
    pub tool: String,
    /// What people call the tool.
    pub tool_name: String,
    /// The gauge in a line.
    pub gauge: String,
    /// The features of the tool card.
    pub features: Vec<String>,
    /// `pass`, `fail` or `undecided`; nothing where it was not judged or nothing had a limit.
    pub verdict: Option<String>,
    /// The content of the record that this one replaces.
    pub replaces: Option<Digest>,
    /// Why it does.
    pub why: Option<String>,
    /// The record that it was in the archive that it was taken in from.
    #[serde(default)]
    pub origin: Option<String>,
    /// The record that replaces this one's content, where the archive has one.
    pub replaced_by: Option<RecordId>,
    /// Whether its verdict was kept as it was judged: nobody held it against its cards and traces.
    #[serde(default)]
    pub as_judged: bool,
    /// Whether its readings come from a simulated gauge: no tool was measured.
    #[serde(default)]
    pub simulated: bool,
    /// Digest of all its files.
    pub content: Digest,
    /// Digest of its files but the verdict and the report: of what was measured.
    pub evidence: Digest,
    /// The chain up to the record before it.
    pub previous: Digest,
    /// Digest of everything here and of the record before it.
    pub chain: Digest,
}

/// Stands behind the name of the program that kept a verdict without judging again.
pub(super) const AS_JUDGED: &str = ", as judged";

/// What is said of a verdict that nobody held against its cards and traces, wherever it is shown.
pub const KEPT_AS_JUDGED: &str = "kept as it was judged; not judged again";

impl Summary {
    /// Whether what is said of the record is what was said when it was made. Its files are another matter:
    /// [`super::Archive::sound`] opens them.
    pub fn is_as_made(&self) -> bool {
        self.chained() == self.chain
    }

    /// The digest that ties everything said here to the record before it.
    pub fn chained(&self) -> Digest {
        let features = self.features.iter();
        let sum = Sum::of("heelclear record")
            .number(self.form)
            .text(&self.id.bench)
            .number(self.id.number)
            .number(self.archived.as_microsecond())
            .text(&self.program)
            .text(&self.host)
            .number(self.taken.as_microsecond())
            .text(&self.operator)
            .text(&self.stage)
            .text(&self.tool)
            .text(&self.tool_name)
            .text(&self.gauge)
            .number(features.len() as i64);
        let mut sum = features.fold(sum, |sum, feature| sum.text(feature));
        if self.form >= 2 {
            sum = sum.maybe(self.origin.as_deref().map(str::as_bytes));
        }
        sum.maybe(self.verdict.as_deref().map(str::as_bytes))
            .maybe(self.replaces.as_ref().map(|it| it.as_bytes().as_slice()))
            .maybe(self.why.as_deref().map(str::as_bytes))
            .bytes(self.content.as_bytes())
            .bytes(self.evidence.as_bytes())
            .bytes(self.previous.as_bytes())
            .finish()
    }
}

/// A moment as text, RFC 3339.
mod moment {
    use jiff::Timestamp;
    use serde::{Deserialize, Deserializer, Serializer};

    pub(super) fn serialize<S: Serializer>(moment: &Timestamp, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(moment)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Timestamp, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// What the first record of a bench is tied to.
pub(super) fn beginning(bench: &str) -> Digest {
    Sum::of("heelclear bench").text(bench).finish()
}

/// A record as a person names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// `12`, in an archive of one bench.
    Number(i64),
    /// `bench-2/12`
    Id(RecordId),
    /// The first digits of its content's digest, at least eight.
    Digits(String),
}

/// So many digits of a digest are asked for at least.
const LEAST_DIGITS: usize = 8;

impl std::str::FromStr for Wanted {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        if let Some((bench, number)) = text.rsplit_once('/') {
            if let (false, Ok(number)) = (bench.is_empty(), number.parse()) {
                let bench = bench.to_owned();
                return Ok(Wanted::Id(RecordId { bench, number }));
            }
        } else if text.len() < LEAST_DIGITS
            && let Ok(number) = text.parse()
        {
            return Ok(Wanted::Number(number));
        } else if text.len() >= LEAST_DIGITS && Digest::range(text).is_some() {
            return Ok(Wanted::Digits(text.to_lowercase()));
        }
        let message = format!("read `{text}`, expected a record");
        Err(Error::new(Code::Usage, message).help(format!(
            "name it by its number, as `12`; in an archive of several benches as `bench/12`; or by the first {LEAST_DIGITS} digits of its digest or more"
        )))
    }
}

impl fmt::Display for Wanted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Wanted::Number(number) => write!(f, "{number}"),
            Wanted::Id(id) => write!(f, "{id}"),
            Wanted::Digits(digits) => write!(f, "{digits}"),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_record_is_named_by_number_bench_or_digits() {
        #[track_caller]
        fn check(text: &str, expected: Option<Wanted>) {
            assert_eq!(text.parse().ok(), expected, "{text}");
        }
        let bench = "bench-2".to_owned();
        check("12", Some(Wanted::Number(12)));
        check(
            "bench-2/12",
            Some(Wanted::Id(RecordId { bench, number: 12 })),
        );
        check("12345678", Some(Wanted::Digits("12345678".to_owned())));
        check("BA7816bf", Some(Wanted::Digits("ba7816bf".to_owned())));
        for text in ["", "x", "ba7816b", "/1", "a/", "a/b", "12345678x"] {
            check(text, None);
        }
    }
}
