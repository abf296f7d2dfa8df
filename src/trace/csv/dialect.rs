//! Files as other programs write them: semicolons or tabs between fields, fields in quotes, decimal
//! commas.

use crate::error::{Code, Error, Result};
use std::borrow::Cow;

/// Between the fields of a [`Plain`] file: the unit separator, which no field holds.
const BETWEEN: u8 = 0x1f;

/// A file of another program, set as the program's own are: fields without quotes, decimals with a point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plain {
    /// Line by line as the file was, so that a line has the number it had.
    pub text: Vec<u8>,
    /// What stands between its fields.
    pub delimiter: u8,
    /// How the file was read, in words, where it is not written as the program's own are.
    pub said: Option<String>,
}

/// Whether a file that begins like this is anything but fields between commas.
pub fn is_foreign(beginning: &[u8]) -> bool {
    beginning
        .iter()
        .any(|byte| matches!(byte, b';' | b'\t' | b'"'))
}

/// Sets a file of another program plainly. Quotes end with their line, so that a stray one swallows
/// nothing.
///
/// # Errors
/// `trace-line` where a comma may part decimals or thousands, and no number of the file tells which.
pub fn plain(text: &[u8], file: &str) -> Result<Plain> {
    let mut header = text.split(|byte| *byte == b'\n');
    let header = header.find(|line| !line.starts_with(b"#"));
    let header = header.unwrap_or_default();
    // What some programs write over a table: `sep=;`. The line stays, empty, so that others keep theirs.
    if let [b's', b'e', b'p', b'=', sign, rest @ ..] = header
        && rest.trim_ascii().is_empty()
    {
        return set(&text[header.len()..], *sign, file);
    }
    set(text, delimiter(header), file)
}

fn set(text: &[u8], delimiter: u8, file: &str) -> Result<Plain> {
    let lines = || {
        let lines = text.split(|byte| *byte == b'\n');
        lines.map(|line| fields(line.strip_suffix(b"\r").unwrap_or(line), delimiter))
    };
    let comma = Commas::in_lines(lines().skip(1)).part(file)?;
    let mut plain = Vec::with_capacity(text.len());
    for (at, line) in lines().enumerate() {
        if at > 0 {
            plain.push(b'\n');
        }
        for (at, field) in line.iter().enumerate() {
            if at > 0 {
                plain.push(BETWEEN);
            }
            let number = comma && at_comma(field).is_some();
            plain.extend(field.iter().map(|byte| match byte {
                b',' if number => b'.',
                other => *other,
            }));
        }
    }
    let between = match delimiter {
        b';' => "semicolons",
        b'\t' => "tabs",
        _ => "commas",
    };
    let decimals = match comma {
        true => ", decimals with a comma",
        false => "",
    };
    Ok(Plain {
        text: plain,
        delimiter: BETWEEN,
        said: (comma || delimiter != b',')
            .then(|| format!("{file}: read as fields between {between}{decimals}")),
    })
}

/// What stands between the fields of a header: what is there most often, a comma where that is no less.
fn delimiter(header: &[u8]) -> u8 {
    let mut quoted = false;
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    for byte in header {
        quoted ^= *byte == b'"';
        let count = counts.iter_mut().find(|(sign, _)| sign == byte);
        if let Some((_, count)) = count.filter(|_| !quoted) {
            *count += 1;
        }
    }
    let mut most = counts[0];
    for count in counts {
        if count.1 > most.1 {
            most = count;
        }
    }
    most.0
}

/// The fields of a line without their quotes; one field where a quote is never closed.
fn fields(line: &[u8], delimiter: u8) -> Vec<Cow<'_, [u8]>> {
    let mut fields = Vec::new();
    let (mut from, mut quoted) = (0, false);
    for (at, byte) in line.iter().enumerate() {
        match *byte {
            b'"' => quoted = !quoted,
            other if other == delimiter && !quoted => {
                fields.push(unquoted(&line[from..at]));
                from = at + 1;
            }
            _ => {}
        }
    }
    if quoted {
        return vec![line.into()];
    }
    fields.push(unquoted(&line[from..]));
    fields
}

fn unquoted(field: &[u8]) -> Cow<'_, [u8]> {
    let inner = field.trim_ascii();
    let inner = inner
        .strip_prefix(b"\"")
        .and_then(|rest| rest.strip_suffix(b"\""));
    match inner {
        None => field.into(),
        Some(inner) if !inner.contains(&b'"') => inner.into(),
        // Two quotes stand for one.
        Some(inner) => {
            let twice = |pair: &&[u8]| *pair == b"\"\"";
            let mut text = Vec::with_capacity(inner.len());
            let mut rest = inner;
            while let Some((first, behind)) = rest.split_first() {
                let skip = rest.get(..2).filter(twice).is_some();
                text.push(*first);
                rest = if skip { &rest[2..] } else { behind };
            }
            text.into()
        }
    }
}

/// Where the one comma of a number stands; `None` for what is no number with a comma in it.
fn at_comma(field: &[u8]) -> Option<usize> {
    let field = field.trim_ascii();
    let comma = field.iter().position(|byte| *byte == b',')?;
    let mut with_point = field.to_vec();
    with_point[comma] = b'.';
    let number = std::str::from_utf8(&with_point).ok()?;
    number.parse::<f64>().ok()?;
    Some(comma)
}

/// What the numbers of a file say about its commas.
#[derive(Default)]
struct Commas {
    /// A number has a point.
    points: bool,
    /// A comma that can only part decimals: `0,125`, `12,5`.
    decimal: bool,
    /// A comma that could part thousands: `1,234`, with its line.
    open: Option<(u64, String)>,
}

impl Commas {
    fn in_lines<'a>(lines: impl Iterator<Item = Vec<Cow<'a, [u8]>>>) -> Self {
        let mut seen = Self::default();
        for (line, number) in lines.zip(2..) {
            for field in &line {
                seen.take(field, number);
            }
        }
        seen
    }

    fn take(&mut self, field: &[u8], line: u64) {
        let Some(comma) = at_comma(field) else {
            let text = std::str::from_utf8(field.trim_ascii());
            let number = text.is_ok_and(|text| text.parse::<f64>().is_ok());
            self.points |= number && field.contains(&b'.');
            return;
        };
        let field = field.trim_ascii();
        let before = field[..comma].trim_ascii_start();
        let before = before.strip_prefix(b"-").unwrap_or(before);
        let behind = &field[comma + 1..];
        let thousands = behind.len() == 3
            && behind.iter().all(u8::is_ascii_digit)
            && (1..=3).contains(&before.len())
            && before[0] != b'0';
        match thousands {
            false => self.decimal = true,
            true if self.open.is_none() => {
                let shown = String::from_utf8_lossy(field).into_owned();
                self.open = Some((line, shown));
            }
            true => {}
        }
    }

    /// Whether commas part decimals. Beside points they are left as they stand, and no number.
    fn part(self, file: &str) -> Result<bool> {
        match self.open {
            Some((line, shown)) if !self.decimal && !self.points => {
                let message = format!(
                    "read `{shown}`, which is a number with decimals or with thousands, and nothing in the file tells which"
                );
                Err(Error::new(Code::TraceLine, message)
                    .in_file(file)
                    .at_line(line)
                    .help("write decimals with a point, or all numbers with more or fewer than three decimals"))
            }
            _ => Ok(self.decimal && !self.points),
        }
    }
}
