//! A meaning to its line of bytes, checksum and line feed included.

use super::LONGEST;
use super::checksum::{crc, written};
use super::line::{Answer, Counters, Line, SampleLine};
use core::fmt::{self, Write};

/// A line as it goes out.
#[derive(Clone, Copy)]
pub struct Encoded {
    bytes: [u8; LONGEST + 1],
    length: usize,
}

impl Encoded {
    /// Its bytes, line feed included.
    pub fn as_bytes(&self) -> &[u8] {
        &self.bytes[..self.length]
    }

    pub(super) const fn empty() -> Self {
        Self {
            bytes: [0; LONGEST + 1],
            length: 0,
        }
    }

    /// Closes the body with its checksum and a line feed.
    pub(super) fn close(mut self) -> Result<Self, fmt::Error> {
        let sum = written(crc(self.as_bytes()));
        self.write_char('*')?;
        for digit in sum {
            self.write_char(char::from(digit))?;
        }
        self.write_char('\n')?;
        Ok(self)
    }
}

impl fmt::Write for Encoded {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        let end = self.length + text.len();
        let room = self.bytes.get_mut(self.length..end).ok_or(fmt::Error)?;
        room.copy_from_slice(text.as_bytes());
        self.length = end;
        Ok(())
    }
}

/// Encodes a line. Fails where it would be longer than 95 bytes, or would hold a byte that no line
/// may hold: only a hello can.
pub fn encode(line: &Line<'_>) -> Result<Encoded, fmt::Error> {
    let mut out = Encoded::empty();
    match line {
        Line::Sample(line) => sample(&mut out, line)?,
        Line::Counters(line) => counters(&mut out, line)?,
        Line::Answer(line) => answer(&mut out, line)?,
        Line::Hello(line) => {
            let pairs = core::str::from_utf8(line.pairs).map_err(|_| fmt::Error)?;
            write!(out, "H,{},{pairs}", line.seq)?;
        }
        Line::Unknown { seq, letter } => write!(out, "{},{seq}", char::from(*letter))?,
    }
    out.close()
}

/// Encodes a hello from its pairs.
pub fn encode_hello(seq: u16, pairs: &[(&str, &str)]) -> Result<Encoded, fmt::Error> {
    let mut out = Encoded::empty();
    write!(out, "H,{seq}")?;
    for (key, value) in pairs {
        write!(out, ",{key}={value}")?;
    }
    out.close()
}

fn sample(out: &mut Encoded, line: &SampleLine) -> fmt::Result {
    write!(out, "S,{},{},{},", line.seq, line.t, line.count)?;
    if let Some(reading) = line.reading {
        write!(out, "{reading}")?;
    }
    let (edges, count, flags) = (line.index_edges, line.index_count, line.flags.0);
    write!(out, ",{edges},{count},{flags:02X}")
}

fn counters(out: &mut Encoded, line: &Counters) -> fmt::Result {
    write!(
        out,
        "T,{},{},{},{},{},{},{}",
        line.seq,
        line.t,
        line.frames_ok,
        line.frames_bad,
        line.frames_lost,
        line.illegal_steps,
        line.lines_dropped
    )
}

fn answer(out: &mut Encoded, line: &Answer) -> fmt::Result {
    let (command, ok) = (char::from(line.command), u8::from(line.ok));
    write!(out, "A,{},{command},{ok},", line.seq)?;
    match line.value {
        Some(value) => write!(out, "{value}"),
        None => Ok(()),
    }
}
