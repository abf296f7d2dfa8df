//! A line of bytes to its meaning, or the reason why it is refused.

use super::line::{Answer, Counters, Flags, Hello, Line, SampleLine};
use super::{LONGEST, crc};

/// Why a line was refused. It stays in the raw log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// More than 95 bytes before the line feed.
    Length,
    /// A byte that no line may hold, or no `*` where the checksum begins.
    Character,
    /// The checksum is not that of the body.
    Crc,
    /// Too few fields.
    Fields,
    /// A field has not the form that it should.
    Form,
}

/// Digits of the greatest 32-bit number.
const MOST_DIGITS: usize = 10;

/// Bytes from the `*` on.
const TAIL: usize = 5;

/// Decodes one line, its line feed (and a carriage return before that) already taken off or not.
pub fn decode(line: &[u8]) -> Result<Line<'_>, Refusal> {
    let line = line.strip_suffix(b"\n").unwrap_or(line);
    let line = line.strip_suffix(b"\r").unwrap_or(line);
    let body = summed(line)?;
    if let [b'S', b',', rest @ ..] = body {
        // Every byte of a sample's own fields is looked at for its form, so that only what a
        // later version may have added is left to check. Samples are nearly all there is.
        let mut fields = Fields::new(rest);
        let sample = sample(&mut fields)?;
        return match fields.rest {
            Some(more) if !printable(more) => Err(Refusal::Character),
            _ => Ok(Line::Sample(sample)),
        };
    }
    if !printable(body) {
        return Err(Refusal::Character);
    }
    let (letter, rest) = match body {
        [letter @ (b'A'..=b'Z' | b'a'..=b'z'), b',', rest @ ..] => (*letter, rest),
        [b'A'..=b'Z' | b'a'..=b'z'] => return Err(Refusal::Fields),
        _ => return Err(Refusal::Form),
    };
    let mut fields = Fields::new(rest);
    match letter {
        b'H' => hello(&mut fields).map(Line::Hello),
        b'T' => counters(&mut fields).map(Line::Counters),
        b'A' => answer(&mut fields).map(Line::Answer),
        letter => Ok(Line::Unknown {
            seq: fields.u16()?,
            letter,
        }),
    }
}

/// The body of a line whose length, characters and checksum are right.
pub(super) fn checked(line: &[u8]) -> Result<&[u8], Refusal> {
    let body = summed(line)?;
    if printable(body) {
        Ok(body)
    } else {
        Err(Refusal::Character)
    }
}

/// Whether a body has only bytes that it may have.
fn printable(body: &[u8]) -> bool {
    // Without an early way out the compiler can look at many bytes at once.
    body.iter().fold(true, |fine, byte| {
        fine & matches!(byte, b' '..=b'~') & (*byte != b'*')
    })
}

/// The body of a line whose length and checksum are right.
fn summed(line: &[u8]) -> Result<&[u8], Refusal> {
    if line.len() > LONGEST {
        return Err(Refusal::Length);
    }
    let Some((body, [b'*', stated @ ..])) = line.split_last_chunk::<TAIL>() else {
        return Err(Refusal::Character);
    };
    let mut sum = 0u16;
    for digit in stated {
        let value = match digit {
            b'0'..=b'9' => digit - b'0',
            b'A'..=b'F' => digit - b'A' + 10,
            _ => return Err(Refusal::Character),
        };
        sum = sum << 4 | u16::from(value);
    }
    if sum == crc(body) {
        Ok(body)
    } else if printable(body) {
        Err(Refusal::Crc)
    } else {
        Err(Refusal::Character)
    }
}

/// A whole number without sign or needless zeros.
pub(super) fn number(digits: &[u8]) -> Option<u32> {
    let mut fields = Fields::new(digits);
    let number = fields.u32().ok()?;
    fields.rest.is_none().then_some(number)
}

fn sample(fields: &mut Fields<'_>) -> Result<SampleLine, Refusal> {
    Ok(SampleLine {
        seq: fields.u16()?,
        t: fields.u32()?,
        count: fields.i32()?,
        reading: fields.maybe_i32()?,
        index_edges: fields.u16()?,
        index_count: fields.i32()?,
        flags: fields.flags()?,
    })
}

fn hello<'a>(fields: &mut Fields<'a>) -> Result<Hello<'a>, Refusal> {
    let seq = fields.u16()?;
    let pairs = fields.rest.ok_or(Refusal::Fields)?;
    let hello = Hello { seq, pairs };
    let whole = |pair: &[u8]| matches!(pair.iter().position(|b| *b == b'='), Some(1..));
    if !pairs.split(|byte| *byte == b',').all(whole) {
        return Err(Refusal::Form);
    }
    // Without its number nobody can tell which protocol this is.
    match hello.get("proto") {
        None => Err(Refusal::Fields),
        Some(proto) if number(proto).is_none() => Err(Refusal::Form),
        Some(_) => Ok(hello),
    }
}

fn counters(fields: &mut Fields<'_>) -> Result<Counters, Refusal> {
    Ok(Counters {
        seq: fields.u16()?,
        t: fields.u32()?,
        frames_ok: fields.u16()?,
        frames_bad: fields.u16()?,
        frames_lost: fields.u16()?,
        illegal_steps: fields.u16()?,
        lines_dropped: fields.u16()?,
    })
}

fn answer(fields: &mut Fields<'_>) -> Result<Answer, Refusal> {
    let seq = fields.u16()?;
    let command = match fields.next()? {
        [letter] => *letter,
        _ => return Err(Refusal::Form),
    };
    let ok = match fields.next()? {
        b"1" => true,
        b"0" => false,
        _ => return Err(Refusal::Form),
    };
    Ok(Answer {
        seq,
        command,
        ok,
        value: fields.maybe_i32()?,
    })
}

/// The fields of a body, from the second on.
pub(super) struct Fields<'a> {
    /// What is not read yet; `None` after the last field.
    rest: Option<&'a [u8]>,
}

impl<'a> Fields<'a> {
    pub(super) fn new(rest: &'a [u8]) -> Self {
        Self { rest: Some(rest) }
    }

    fn next(&mut self) -> Result<&'a [u8], Refusal> {
        let rest = self.rest.ok_or(Refusal::Fields)?;
        // Fields are a few bytes long: looking at each is faster than a search with a set-up.
        match rest.iter().position(|byte| *byte == b',') {
            Some(comma) => {
                self.rest = Some(&rest[comma + 1..]);
                Ok(&rest[..comma])
            }
            None => {
                self.rest = None;
                Ok(rest)
            }
        }
    }

    /// Digits up to the next comma, as a number and how many there were.
    #[inline]
    fn digits(&mut self) -> Result<(u64, usize), Refusal> {
        let rest = self.rest.ok_or(Refusal::Fields)?;
        let mut value = 0u64;
        let mut count = 0;
        while let Some(byte) = rest.get(count) {
            let digit = byte.wrapping_sub(b'0');
            if digit > 9 {
                break;
            }
            // Too many digits wrap here and are refused below.
            value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
            count += 1;
        }
        let ended = matches!(rest.get(count), None | Some(b','));
        if !ended || count > MOST_DIGITS {
            return Err(Refusal::Form);
        }
        // One way to write a number: a needless zero is a sign of damage.
        if count > 1 && rest[0] == b'0' {
            return Err(Refusal::Form);
        }
        self.rest = rest.get(count + 1..);
        Ok((value, count))
    }

    fn unsigned(&mut self, most: u64) -> Result<u64, Refusal> {
        match self.digits()? {
            (value, 1..) if value <= most => Ok(value),
            _ => Err(Refusal::Form),
        }
    }

    fn u16(&mut self) -> Result<u16, Refusal> {
        self.unsigned(u64::from(u16::MAX)).map(|value| value as u16)
    }

    pub(super) fn u32(&mut self) -> Result<u32, Refusal> {
        self.unsigned(u64::from(u32::MAX)).map(|value| value as u32)
    }

    fn i32(&mut self) -> Result<i32, Refusal> {
        self.maybe_i32()?.ok_or(Refusal::Form)
    }

    /// A signed number, or nothing.
    fn maybe_i32(&mut self) -> Result<Option<i32>, Refusal> {
        let negative = match self.rest {
            Some([b'-', digits @ ..]) => {
                self.rest = Some(digits);
                true
            }
            _ => false,
        };
        let (value, count) = self.digits()?;
        match (count, negative) {
            (0, false) => Ok(None),
            (0, true) => Err(Refusal::Form),
            (_, true) if value == 0 || value > 1 << 31 => Err(Refusal::Form),
            (_, true) => Ok(Some((-(value as i64)) as i32)),
            (_, false) if value >= 1 << 31 => Err(Refusal::Form),
            (_, false) => Ok(Some(value as i32)),
        }
    }

    fn flags(&mut self) -> Result<Flags, Refusal> {
        let digit = |byte: u8| match byte {
            b'0'..=b'9' => Ok(byte - b'0'),
            b'A'..=b'F' => Ok(byte - b'A' + 10),
            b'a'..=b'f' => Ok(byte - b'a' + 10),
            _ => Err(Refusal::Form),
        };
        match self.next()? {
            [high, low] => Ok(Flags(digit(*high)? << 4 | digit(*low)?)),
            _ => Err(Refusal::Form),
        }
    }

    /// Whether all fields were read.
    pub(super) fn done(&self) -> bool {
        self.rest.is_none()
    }
}
