//! What a key of a card is: its name, its meaning, and what may stand behind it.

use super::Range;
use std::fmt;

/// A table of a card and the keys that it may have.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    /// As it stands in a card, `[feature.limits]` or `[[feature]]`; empty for the top of the card.
    pub heading: &'static str,
    /// Every key that may stand in it.
    pub keys: &'static [Key],
}

/// A key that a card may have.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// As in a card; a length has its metric name: `diameter_mm`.
    pub name: &'static str,
    /// What it is, in a few words.
    pub meaning: &'static str,
    /// What may stand behind it.
    pub kind: Kind,
    /// Whether a card without it is refused.
    pub required: bool,
}

/// What may stand behind a key.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// Words.
    Text,
    /// A file inside the folder.
    File,
    /// One of a few words.
    Choice(&'static [&'static str]),
    /// `true` or `false`.
    Switch,
    /// A date and time with its offset from UTC.
    Moment,
    /// A date.
    Day,
    /// A whole number.
    Whole(Range),
    /// A number.
    Number(Range),
    /// A length; `_mm` in the key's name may be `_in` or `_um` instead.
    Length(Range),
    /// An angle in degrees.
    Angle(Range),
    /// Angles in degrees, one after the other in brackets.
    Angles(Range),
    /// A span of time in milliseconds.
    Time(Range),
    /// A limit on a length, in the units that a length may have.
    LengthLimit(Range),
    /// A limit on an angle in degrees.
    AngleLimit(Range),
    /// A pattern with named groups, of which at least one of the first list is needed.
    Pattern(&'static [&'static str], &'static [&'static str]),
    /// A table of its own.
    Table,
    /// Any number of tables.
    Tables,
}

/// The unit in which a person wrote a length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unit {
    Mm,
    In,
    Um,
}

impl Unit {
    pub(super) const ALL: [Unit; 3] = [Unit::Mm, Unit::In, Unit::Um];

    pub(super) const fn name(self) -> &'static str {
        match self {
            Unit::Mm => "mm",
            Unit::In => "in",
            Unit::Um => "um",
        }
    }

    /// Millimetres in one of it; the inch is 25.4 mm by definition.
    pub(super) const fn mm(self) -> f64 {
        match self {
            Unit::Mm => 1.0,
            Unit::In => 25.4,
            Unit::Um => 0.001,
        }
    }

    /// The name of a length's key in this unit.
    pub(super) fn rename(self, metric: &str) -> String {
        metric.replacen("_mm", &format!("_{}", self.name()), 1)
    }
}

impl Section {
    /// The heading without its brackets: `feature.limits`.
    pub(super) fn path(&self) -> &'static str {
        self.heading.trim_matches(['[', ']'])
    }

    /// Where a key of it stands, as it follows "read no `flutes`".
    pub(super) fn place(&self) -> String {
        match self.heading {
            "" => "at the top of the card".to_owned(),
            heading => format!("under `{heading}`"),
        }
    }

    /// The metric names of its keys.
    pub(super) fn names(&self) -> Vec<&'static str> {
        self.keys.iter().map(|key| key.name).collect()
    }
}

impl Key {
    /// A key that every card needs.
    pub(super) const fn need(name: &'static str, meaning: &'static str, kind: Kind) -> Self {
        Self {
            name,
            meaning,
            kind,
            required: true,
        }
    }

    /// A key that a card may leave out.
    pub(super) const fn may(name: &'static str, meaning: &'static str, kind: Kind) -> Self {
        Self {
            name,
            meaning,
            kind,
            required: false,
        }
    }

    /// Every name under which it may stand in a card.
    pub fn names(&self) -> Vec<String> {
        if matches!(self.kind, Kind::Length(_) | Kind::LengthLimit(_)) {
            Unit::ALL.map(|unit| unit.rename(self.name)).to_vec()
        } else {
            vec![self.name.to_owned()]
        }
    }

    /// As it stands in a card: a key, or the heading of a table.
    pub(super) fn as_written(&self) -> String {
        match self.kind {
            Kind::Table => format!("`[{}]`", self.name),
            Kind::Tables => format!("`[[{}]]`", self.name),
            _ => format!("`{}`", self.name),
        }
    }

    /// The name without its unit, to recognise a key with the wrong one.
    pub(super) fn stem(&self) -> &'static str {
        match self.kind {
            Kind::Length(_) | Kind::LengthLimit(_) => before(self.name, "_mm"),
            Kind::Angle(_) | Kind::Angles(_) | Kind::AngleLimit(_) => before(self.name, "_deg"),
            Kind::Time(_) => before(self.name, "_ms"),
            _ => self.name,
        }
    }
}

/// What stands before a suffix, or the whole.
fn before<'n>(name: &'n str, suffix: &str) -> &'n str {
    name.find(suffix).map_or(name, |end| &name[..end])
}

impl Kind {
    /// What a number behind the key may be.
    pub fn range(&self) -> Option<Range> {
        match *self {
            Kind::Whole(range)
            | Kind::Number(range)
            | Kind::Length(range)
            | Kind::Angle(range)
            | Kind::Angles(range)
            | Kind::Time(range)
            | Kind::LengthLimit(range)
            | Kind::AngleLimit(range) => Some(range),
            _ => None,
        }
    }

    /// The same with the ends of a length in the unit that a person wrote.
    pub(super) fn in_unit(self, unit: Unit) -> Kind {
        let convert = |range: Range| range.in_unit(unit.name(), unit.mm());
        match self {
            Kind::Length(range) => Kind::Length(convert(range)),
            Kind::LengthLimit(range) => Kind::LengthLimit(convert(range)),
            other => other,
        }
    }
}

impl fmt::Display for Kind {
    /// What is expected behind the key, as it follows "expected".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Kind::Text => write!(f, "text in quotes"),
            Kind::File => write!(f, "the path of a file inside the folder, in quotes"),
            Kind::Choice(words) => write!(f, "{}", one_of(words)),
            Kind::Switch => write!(f, "`true` or `false`"),
            Kind::Moment => write!(
                f,
                "a date and time with its offset, such as `2026-03-02T09:14:00Z`"
            ),
            Kind::Day => write!(f, "a date, such as `2026-03-02`"),
            Kind::Whole(range) => write!(f, "a whole number {range}"),
            Kind::Number(range) | Kind::Length(range) | Kind::Angle(range) | Kind::Time(range) => {
                write!(f, "a number {range}")
            }
            Kind::Angles(range) => write!(f, "`[…, …]`, numbers {range}"),
            Kind::LengthLimit(range) | Kind::AngleLimit(range) => {
                write!(f, "`{{ min = …, max = … }}`, one or both, {range}")
            }
            Kind::Pattern(needed, _) => {
                write!(
                    f,
                    "a pattern in quotes with a named group {}",
                    one_of(needed)
                )
            }
            Kind::Table => write!(f, "a table"),
            Kind::Tables => write!(f, "one or more tables in double brackets"),
        }
    }
}

/// `a`, `b` or `c`.
fn one_of(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    listed(&quoted)
}

/// Some things in a row, with "or" before the last.
pub(super) fn listed(quoted: &[String]) -> String {
    match quoted.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => quoted.concat(),
    }
}
