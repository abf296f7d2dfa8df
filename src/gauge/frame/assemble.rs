//! Lines out of chunks of bytes that end anywhere.

use super::LONGEST;
use super::decode::decode;
use super::line::Line;
use super::refusal::Refusal;

/// Room for the longest line and the carriage return that may follow it.
const ROOM: usize = LONGEST + 1;

/// Puts lines together over chunks. A line that lies whole in a chunk is not copied.
#[derive(Clone, Debug)]
pub struct Assembler {
    begun: [u8; ROOM],
    length: usize,
    too_long: bool,
}

impl Default for Assembler {
    fn default() -> Self {
        Self::new()
    }
}

impl Assembler {
    /// Nothing begun.
    pub const fn new() -> Self {
        Self {
            begun: [0; ROOM],
            length: 0,
            too_long: false,
        }
    }

    /// Takes the next bytes and hands on each line that ends in them, raw and decoded.
    /// An empty line is passed over: it says nothing and harms nothing.
    pub fn feed(&mut self, chunk: &[u8], mut each: impl FnMut(&[u8], Result<Line<'_>, Refusal>)) {
        let mut start = 0;
        for end in memchr::memchr_iter(b'\n', chunk) {
            let line = &chunk[start..end];
            start = end + 1;
            if self.length == 0 && !self.too_long {
                hand_on(line, &mut each);
                continue;
            }
            self.keep(line);
            if self.too_long {
                each(&self.begun[..self.length], Err(Refusal::Length));
            } else {
                hand_on(&self.begun[..self.length], &mut each);
            }
            self.forget();
        }
        self.keep(&chunk[start..]);
    }

    /// Whether a line is begun and not ended.
    pub fn is_torn(&self) -> bool {
        self.length > 0 || self.too_long
    }

    /// Drops what is begun, as after the device went away.
    pub fn forget(&mut self) {
        self.length = 0;
        self.too_long = false;
    }

    fn keep(&mut self, bytes: &[u8]) {
        let room = ROOM - self.length;
        let kept = bytes.len().min(room);
        self.begun[self.length..self.length + kept].copy_from_slice(&bytes[..kept]);
        self.length += kept;
        self.too_long |= bytes.len() > room;
    }
}

fn hand_on(line: &[u8], each: &mut impl FnMut(&[u8], Result<Line<'_>, Refusal>)) {
    if !matches!(line, b"" | b"\r") {
        each(line, decode(line));
    }
}
