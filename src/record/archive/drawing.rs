//! A report that is not kept, since drawing the verdict beside it gives its very bytes.

use super::digest::Digest;
use super::numbers::{put_varint, take_varint};
use crate::error::Result;
use crate::record::Record;
use serde::{Deserialize, Serialize};

/// Draws the report of a verdict in the way of this number, such as in one of the units; nothing
/// beyond the last way. It comes from outside: a record knows no later stage.
pub type Draw = fn(&Record, usize) -> Option<Result<String>>;

/// What is kept of a report in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Drawing {
    /// The way that it was drawn in.
    pub way: usize,
    /// The digest of the verdict's file that it was drawn from.
    pub verdict: Digest,
    /// The program that drew it.
    pub program: String,
}

/// A report that was not kept, and that this program draws otherwise than the one that made it. Its
/// verdict is the same, and so is what a drawing of it says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Redrawn {
    /// Digest of the report as it was.
    pub digest: Digest,
    /// Bytes that it had.
    pub size: i64,
    /// The way that it was drawn in.
    pub way: usize,
    /// The program that drew it.
    pub program: String,
}

impl Drawing {
    /// How this report comes out of this verdict; nothing where its very bytes do not.
    pub(super) fn of(report: &[u8], verdict: &[u8], draw: Draw) -> Option<Self> {
        let record = read(verdict).ok()?;
        let mut ways = (0..).map_while(|way| draw(&record, way));
        let same = |drawn: Result<String>| drawn.is_ok_and(|it| it.as_bytes() == report);
        Some(Self {
            way: ways.position(same)?,
            verdict: Digest::of(verdict),
            program: program(),
        })
    }

    /// Draws it from the file of its verdict; what is wrong otherwise, as the end of a sentence.
    pub(super) fn again(&self, verdict: &[u8], draw: Draw) -> std::result::Result<Vec<u8>, String> {
        let drawn = read(verdict).and_then(|record| draw(&record, self.way).transpose());
        match drawn {
            Ok(Some(drawn)) => Ok(drawn.into_bytes()),
            Ok(None) => Err(format!("read way {} of drawing it", self.way)),
            Err(error) => Err(format!("it cannot be drawn again: {}", error.message())),
        }
    }

    pub(super) fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = self.verdict.as_bytes().to_vec();
        put_varint(&mut bytes, self.way as u64);
        bytes.extend_from_slice(self.program.as_bytes());
        bytes
    }

    pub(super) fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (verdict, mut rest) = bytes.split_at_checked(32)?;
        let way = usize::try_from(take_varint(&mut rest)?).ok()?;
        Some(Self {
            way,
            verdict: Digest::from_bytes(verdict)?,
            program: String::from_utf8(rest.to_vec()).ok()?,
        })
    }
}

fn read(verdict: &[u8]) -> Result<Record> {
    Record::from_json(&String::from_utf8_lossy(verdict), "verdict.json")
}

/// Name and version of this program.
pub(super) fn program() -> String {
    concat!("heelclear ", env!("CARGO_PKG_VERSION")).to_owned()
}
