//! What a calculator answers, for people and for scripts.

use crate::cli::care::CARE;
use crate::cli::{Out, Status};
use crate::error::Result;
use crate::quantity::{Angle, Length, stated};
use serde_json::{Map, Value};

/// The same for people and for scripts.
pub(super) struct Answer {
    pub lines: Vec<String>,
    json: Map<String, Value>,
    status: Status,
}

impl Answer {
    /// An empty answer of this calculator.
    pub(super) fn of(setting: &str) -> Self {
        let mut json = Map::new();
        json.insert("setting".to_owned(), setting.into());
        Self {
            lines: Vec::new(),
            json,
            status: Status::Clear,
        }
    }

    /// Adds a line for people.
    pub(super) fn line(mut self, line: impl Into<String>) -> Self {
        self.lines.push(line.into());
        self
    }

    /// Adds a value for scripts. A number loses what arithmetic left behind its ninth decimal.
    pub(super) fn with(mut self, key: &str, value: impl Into<Value>) -> Self {
        self.json.insert(key.to_owned(), value.into());
        self
    }

    /// Says that something of what was asked for will not do.
    pub(super) fn fails(mut self) -> Self {
        self.status = Status::Fail;
        self
    }

    /// Adds a length; `key` ends in `_mm`.
    pub(super) fn mm(self, key: &str, length: impl Into<Option<Length>>) -> Self {
        let length: Option<Length> = length.into();
        self.with(key, length.map(|length| stated(length.mm())))
    }

    /// Adds an angle; `key` ends in `_deg`.
    pub(super) fn deg(self, key: &str, angle: impl Into<Option<Angle>>) -> Self {
        let angle: Option<Angle> = angle.into();
        self.with(key, angle.map(|angle| stated(angle.deg())))
    }

    /// Tells it, to people or to scripts.
    pub(super) fn tell(&self, out: &mut Out) -> Result<Status> {
        if out.json() {
            out.object(self.object())?;
        } else {
            for line in &self.lines {
                out.line(line)?;
            }
            out.note(CARE);
        }
        Ok(self.status)
    }

    /// The object for scripts.
    fn object(&self) -> &Map<String, Value> {
        &self.json
    }
}

/// A length to a micrometre and to a tenth of a thousandth, numbers below each other.
pub(super) fn shown(length: Length) -> String {
    // Adding nothing takes the minus from a rounded nothing.
    let mm = (length.mm() * 1000.0).round() / 1000.0 + 0.0;
    let inches = (length.inches() * 1e4).round() / 1e4 + 0.0;
    format!("{mm:9.3} mm ({inches:.4} in) ")
}

/// A length as it was stated, in both units.
pub(super) fn both(length: Length) -> String {
    // A hundredth of a thousandth is a quarter of a micrometre.
    let inches = (length.inches() * 1e5).round() / 1e5 + 0.0;
    format!("{} ({inches} in)", exact(length))
}

/// A length as it was stated.
pub(super) fn exact(length: Length) -> String {
    format!("{} mm", stated(length.mm()))
}
