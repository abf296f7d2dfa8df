//! A line of bytes to its meaning, or the reason why it is refused.

use super::LONGEST;
use super::checksum::{crc, written};
use super::fields::{Fields, number};
use super::line::{Answer, Counters, Hello, Line, SampleLine};
use super::refusal::Refusal;

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
        return match fields.rest() {
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
    if *stated == written(crc(body)) {
        return Ok(body);
    }
    let digits = stated
        .iter()
        .all(|digit| matches!(digit, b'0'..=b'9' | b'A'..=b'F'));
    if digits && printable(body) {
        Err(Refusal::Crc)
    } else {
        Err(Refusal::Character)
    }
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
    let pairs = fields.rest().ok_or(Refusal::Fields)?;
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
