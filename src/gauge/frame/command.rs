//! What the host may ask of the bridge.

use super::decode::checked;
use super::encode::Encoded;
use super::fields::number;
use super::refusal::Refusal;
use core::fmt::{self, Write};

/// A command to the bridge. Its checksum may be left out, so that a person can type it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// `?`: say hello.
    Identify,
    /// `G`: start to send.
    Start,
    /// `X`: stop sending.
    Stop,
    /// `R,n`: send so many position lines a second.
    Rate(u32),
    /// `Z`: count from 0 again; the answer holds the old count.
    Zero,
    /// `C`: clear the counters.
    Clear,
}

impl Command {
    /// The letter, as its answer repeats it.
    pub const fn letter(self) -> u8 {
        match self {
            Command::Identify => b'?',
            Command::Start => b'G',
            Command::Stop => b'X',
            Command::Rate(_) => b'R',
            Command::Zero => b'Z',
            Command::Clear => b'C',
        }
    }

    /// The line to send, checksum and line feed included.
    pub fn encode(self) -> Result<Encoded, fmt::Error> {
        let mut out = Encoded::empty();
        out.write_char(char::from(self.letter()))?;
        if let Command::Rate(rate) = self {
            write!(out, ",{rate}")?;
        }
        out.close()
    }

    /// Reads a command, with a checksum or without.
    pub fn decode(line: &[u8]) -> Result<Self, Refusal> {
        let line = line.strip_suffix(b"\n").unwrap_or(line);
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let body = if line.contains(&b'*') {
            checked(line)?
        } else {
            line
        };
        match body {
            b"?" => Ok(Command::Identify),
            b"G" => Ok(Command::Start),
            b"X" => Ok(Command::Stop),
            b"Z" => Ok(Command::Zero),
            b"C" => Ok(Command::Clear),
            [b'R', b',', rate @ ..] => number(rate).map(Command::Rate).ok_or(Refusal::Form),
            _ => Err(Refusal::Form),
        }
    }
}
