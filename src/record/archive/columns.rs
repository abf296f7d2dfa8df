//! A CSV file as columns of numbers, from which its very bytes come back.
//!
//! Four ways of writing a number are known: with as many decimals in every row, as the shortest
//! decimal that gives the number back, the same as JSON has it, and any other, which stays text.
//! Capture writes the second: an encoder's 27 counts of 0.09° are `2.4299999999999997` there, which
//! is a step of a whole number of hundredths and how far the binary number lies beside it.

use super::numbers::{put, put_varint, take, take_varint};
use memchr::{memchr, memchr_iter};
use std::io::Write;

/// More decimals than any instrument has.
const MOST_DECIMALS: u8 = 9;

/// A number lies at most so many binary steps beside its decimal; rounding leaves one or two.
const MOST_BESIDE: u64 = 8;

/// How one column's numbers are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Text = 0,
    Fixed = 1,
    Shortest = 2,
    Json = 3,
}

/// The columns of a CSV file; `None` for what has not as many fields in every line.
pub(super) fn encode(csv: &[u8]) -> Option<Vec<u8>> {
    let lines = Lines::of(csv)?;
    let mut columns: Vec<Vec<&[u8]>> = vec![Vec::with_capacity(lines.rows.len()); lines.width];
    for row in &lines.rows {
        let mut fields = row.split(|byte| *byte == b',');
        for column in &mut columns {
            column.push(fields.next()?);
        }
        if fields.next().is_some() {
            return None;
        }
    }
    let mut out = Vec::new();
    out.push(u8::from(lines.returns) | u8::from(lines.ended) << 1);
    put_text(&mut out, lines.header);
    put_varint(&mut out, lines.rows.len() as u64);
    put_varint(&mut out, lines.width as u64);
    for column in &columns {
        put_column(&mut out, column);
    }
    Some(out)
}

/// The CSV file of so many bytes that these columns were made of; `None` where they are damaged.
pub(super) fn decode(mut input: &[u8], length: u64) -> Option<Vec<u8>> {
    let length = usize::try_from(length).ok()?;
    let input = &mut input;
    let (&flags, rest) = input.split_first()?;
    *input = rest;
    let end: &[u8] = if flags & 1 == 0 { b"\n" } else { b"\r\n" };
    let header = take_text(input)?;
    let rows = usize::try_from(take_varint(input)?).ok()?;
    let width = usize::try_from(take_varint(input)?).ok()?;
    // Whatever the numbers say: no line is shorter than its end.
    if width > header.len() + 1 || rows > length {
        return None;
    }
    let columns: Vec<Column> = (0..width)
        .map(|_| take_column(input, rows))
        .collect::<Option<_>>()?;
    if !input.is_empty() {
        return None;
    }
    let usually = header.len() + rows.saturating_mul(24);
    let mut out = Vec::with_capacity(usually.min(length));
    out.extend_from_slice(header);
    for row in 0..rows {
        if out.len() > length {
            return None;
        }
        out.extend_from_slice(end);
        for (at, column) in columns.iter().enumerate() {
            if at > 0 {
                out.push(b',');
            }
            column.write(&mut out, row)?;
        }
    }
    if flags & 2 != 0 {
        out.extend_from_slice(end);
    }
    Some(out)
}

/// A file taken apart at its line ends.
struct Lines<'a> {
    header: &'a [u8],
    rows: Vec<&'a [u8]>,
    width: usize,
    returns: bool,
    ended: bool,
}

impl<'a> Lines<'a> {
    fn of(csv: &'a [u8]) -> Option<Self> {
        let first = memchr(b'\n', csv)?;
        let returns = csv[..first].ends_with(b"\r");
        let ended = csv.ends_with(b"\n");
        let mut rows = Vec::new();
        let mut start = 0;
        let last = (!ended).then_some(csv.len());
        for end in memchr_iter(b'\n', csv).chain(last) {
            let line = &csv[start..end];
            start = end + 1;
            let ends_here = end < csv.len() && returns;
            rows.push(if ends_here {
                line.strip_suffix(b"\r")?
            } else {
                line
            });
        }
        let header = rows.remove(0);
        let width = 1 + memchr_iter(b',', header).count();
        Some(Self {
            header,
            rows,
            width,
            returns,
            ended,
        })
    }
}

fn put_text(out: &mut Vec<u8>, text: &[u8]) {
    put_varint(out, text.len() as u64);
    out.extend_from_slice(text);
}

fn take_text<'a>(input: &mut &'a [u8]) -> Option<&'a [u8]> {
    let length = usize::try_from(take_varint(input)?).ok()?;
    let (text, rest) = input.split_at_checked(length)?;
    *input = rest;
    Some(text)
}

/// Appends a column; how many fields it has is not kept.
pub(super) fn put_column(out: &mut Vec<u8>, fields: &[&[u8]]) {
    if let Some((decimals, numbers)) = fixed(fields) {
        out.extend([Form::Fixed as u8, decimals]);
        put(out, &numbers);
    } else if let Some((decimals, numbers, beside)) = shortest(fields) {
        out.extend([Form::Shortest as u8, decimals]);
        put(out, &numbers);
        put(out, &beside);
    } else if let Some((decimals, numbers, beside)) = json(fields) {
        out.extend([Form::Json as u8, decimals]);
        put(out, &numbers);
        put(out, &beside);
    } else {
        out.push(Form::Text as u8);
        // A field holds no line end, so one can stand between two.
        put_text(out, &fields.join(&b'\n'));
    }
}

/// A column as it comes out of the bytes.
pub(super) enum Column<'a> {
    Text(Vec<&'a [u8]>),
    Fixed {
        decimals: u8,
        numbers: Vec<i64>,
    },
    Shortest {
        decimals: u8,
        numbers: Vec<i64>,
        beside: Vec<i64>,
    },
    Json {
        decimals: u8,
        numbers: Vec<i64>,
        beside: Vec<i64>,
    },
}

/// Takes a column of so many fields off the front; `None` where the bytes do not hold it.
pub(super) fn take_column<'a>(input: &mut &'a [u8], rows: usize) -> Option<Column<'a>> {
    let (&form, rest) = input.split_first()?;
    *input = rest;
    if form == Form::Text as u8 {
        let text = take_text(input)?;
        let fields: Vec<&[u8]> = text.split(|byte| *byte == b'\n').collect();
        // No row and one empty row are the same text.
        return (fields.len() == rows.max(1)).then_some(Column::Text(fields));
    }
    let (&decimals, rest) = input.split_first()?;
    *input = rest;
    if decimals > MOST_DECIMALS {
        return None;
    }
    let numbers = take(input, rows)?;
    if form == Form::Fixed as u8 {
        return Some(Column::Fixed { decimals, numbers });
    }
    let beside = take(input, rows)?;
    if form == Form::Shortest as u8 {
        return Some(Column::Shortest {
            decimals,
            numbers,
            beside,
        });
    }
    (form == Form::Json as u8).then_some(Column::Json {
        decimals,
        numbers,
        beside,
    })
}

impl Column<'_> {
    /// Appends the field of a row.
    pub(super) fn write(&self, out: &mut Vec<u8>, row: usize) -> Option<()> {
        match self {
            Column::Text(fields) => out.extend_from_slice(fields.get(row)?),
            Column::Fixed { decimals, numbers } => {
                write_fixed(out, *numbers.get(row)?, *decimals);
            }
            Column::Shortest {
                decimals,
                numbers,
                beside,
            } => {
                let (number, beside) = (*numbers.get(row)?, *beside.get(row)?);
                if beside == 0 && number.unsigned_abs() < MOST_PLAIN {
                    write_plain(out, number, *decimals);
                } else {
                    write!(out, "{}", beside_decimal(number, *decimals, beside)).ok()?;
                }
            }
            Column::Json {
                decimals,
                numbers,
                beside,
            } => {
                let (number, beside) = (*numbers.get(row)?, *beside.get(row)?);
                if beside == 0 && plain_in_json(number, *decimals) {
                    let start = out.len();
                    write_plain(out, number, *decimals);
                    if memchr(b'.', &out[start..]).is_none() {
                        out.extend_from_slice(b".0");
                    }
                } else {
                    write_json(out, beside_decimal(number, *decimals, beside))?;
                }
            }
        }
        Some(())
    }
}

/// The numbers of a column whose rows all have as many decimals as the first.
fn fixed(fields: &[&[u8]]) -> Option<(u8, Vec<i64>)> {
    let first = fields.first()?;
    let decimals = memchr(b'.', first).map_or(0, |point| first.len() - point - 1);
    let decimals = u8::try_from(decimals)
        .ok()
        .filter(|d| *d <= MOST_DECIMALS)?;
    let numbers = fields.iter().map(|field| parse_fixed(field, decimals));
    Some((decimals, numbers.collect::<Option<_>>()?))
}

/// `-12.340` with three decimals as -12340; only as [`write_fixed`] would write it.
fn parse_fixed(field: &[u8], decimals: u8) -> Option<i64> {
    let (negative, digits) = match field.strip_prefix(b"-") {
        Some(rest) => (true, rest),
        None => (false, field),
    };
    let whole = match decimals {
        0 => digits.len(),
        // At least a digit, the point, and the decimals.
        _ => digits.len().checked_sub(usize::from(decimals) + 1)?,
    };
    let plain = whole == 1 || (whole > 1 && digits[0] != b'0');
    // 18 digits always fit; 0.5 has one before its point.
    if !plain || digits.len() > 18 {
        return None;
    }
    let mut number = 0_i64;
    for (at, byte) in digits.iter().enumerate() {
        if at == whole {
            if *byte != b'.' {
                return None;
            }
        } else {
            number = number * 10 + i64::from(byte.checked_sub(b'0').filter(|d| *d < 10)?);
        }
    }
    match (negative, number) {
        // A nought below zero has no number of its own.
        (true, 0) => None,
        (true, number) => Some(-number),
        (false, number) => Some(number),
    }
}

fn write_fixed(out: &mut Vec<u8>, number: i64, decimals: u8) {
    // From the last digit to the first, and a place for the sign.
    let mut text = [b'0'; 24];
    let mut left = number.unsigned_abs();
    let mut start = text.len();
    let point = text.len() - usize::from(decimals);
    while left > 0 || start >= point {
        if start == point && decimals > 0 {
            start -= 1;
            text[start] = b'.';
        }
        start -= 1;
        text[start] = b'0' + (left % 10) as u8;
        left /= 10;
    }
    if number < 0 {
        start -= 1;
        text[start] = b'-';
    }
    out.extend_from_slice(&text[start..]);
}

/// Decimals, the numbers in units of the last, and how far each lies beside its decimal.
type Shortest = (u8, Vec<i64>, Vec<i64>);

/// A decimal below this, whatever its point, is the shortest that gives its binary number back:
/// 15 digits always are (IEEE 754 binary64).
const MOST_PLAIN: u64 = 1_000_000_000_000_000;

/// The numbers of a column that are written with as few digits as give them back.
fn shortest(fields: &[&[u8]]) -> Option<Shortest> {
    let read: Vec<Written> = fields
        .iter()
        .map(|field| Written::of(field))
        .collect::<Option<_>>()?;
    together(&read)
}

/// Numbers in units of the last decimal that any of them has.
fn together(read: &[Written]) -> Option<Shortest> {
    let decimals = read.iter().map(Written::decimals).max()?;
    if decimals > MOST_DECIMALS {
        return None;
    }
    let near = read.iter().map(|written| written.near(decimals));
    let (numbers, beside) = near
        .collect::<Option<Vec<(i64, i64)>>>()?
        .into_iter()
        .unzip();
    Some((decimals, numbers, beside))
}

/// One number as it is written.
enum Written {
    /// Few digits, which need no arithmetic that rounds.
    Plain { number: i64, decimals: u8 },
    /// Many: a binary number beside the decimal that was meant.
    Beside { value: f64, decimals: u8 },
}

impl Written {
    fn of(field: &[u8]) -> Option<Self> {
        if let Some(plain) = Self::plain(field) {
            return Some(plain);
        }
        let value: f64 = std::str::from_utf8(field).ok()?.parse().ok()?;
        let mut written = Vec::with_capacity(24);
        write!(written, "{value}").ok()?;
        Self::beside(value, &written, field)
    }

    /// As JSON has it.
    fn of_json(field: &[u8]) -> Option<Self> {
        let whole = field.strip_suffix(b".0");
        let plain = whole.or_else(|| memchr(b'.', field).map(|_| field));
        if let Some(Written::Plain { number, decimals }) = plain.and_then(Self::plain)
            && (whole.is_none() || decimals == 0)
            && plain_in_json(number, decimals)
        {
            return Some(Written::Plain { number, decimals });
        }
        let value: f64 = std::str::from_utf8(field).ok()?.parse().ok()?;
        let mut written = Vec::with_capacity(24);
        write_json(&mut written, value)?;
        Self::beside(value, &written, field)
    }

    /// A binary number beside a decimal, where it is written like that.
    fn beside(value: f64, written: &[u8], field: &[u8]) -> Option<Self> {
        let near = |decimals: &u8| near_decimal(value, *decimals).is_some();
        let decimals = (0..=MOST_DECIMALS).find(near)?;
        (written == field).then_some(Written::Beside { value, decimals })
    }

    fn plain(field: &[u8]) -> Option<Self> {
        let point = memchr(b'.', field);
        let decimals = point.map_or(0, |point| field.len() - point - 1);
        // A last nought or a lone point is not how the shortest is written.
        if point.is_some() && !matches!(field.last(), Some(b'1'..=b'9')) {
            return None;
        }
        let decimals = u8::try_from(decimals)
            .ok()
            .filter(|d| *d <= MOST_DECIMALS)?;
        let number = parse_fixed(field, decimals)?;
        (number.unsigned_abs() < MOST_PLAIN).then_some(Written::Plain { number, decimals })
    }

    fn decimals(&self) -> u8 {
        match self {
            Written::Plain { decimals, .. } | Written::Beside { decimals, .. } => *decimals,
        }
    }

    /// In units of the last of so many decimals, and the binary steps beside that.
    fn near(&self, wanted: u8) -> Option<(i64, i64)> {
        match *self {
            Written::Plain { number, decimals } => {
                let number = number.checked_mul(10_i64.pow(u32::from(wanted - decimals)))?;
                (number.unsigned_abs() < MOST_PLAIN).then_some((number, 0))
            }
            Written::Beside { value, .. } => near_decimal(value, wanted),
        }
    }
}

/// Without the noughts at its end.
fn write_plain(out: &mut Vec<u8>, mut number: i64, mut decimals: u8) {
    while decimals > 0 && number % 10 == 0 {
        number /= 10;
        decimals -= 1;
    }
    write_fixed(out, number, decimals);
}

/// The decimal nearest a number, in units of its last place, and the binary steps between them.
fn near_decimal(value: f64, decimals: u8) -> Option<(i64, i64)> {
    let power = power(decimals);
    let number = (value * power).round();
    // 2^53: up to here every whole number has a float of its own.
    if !number.is_finite() || number.abs() > 9_007_199_254_740_992.0 {
        return None;
    }
    // By way of the whole number, as it comes back: a nought below zero lies far from its decimal.
    let number = number as i64;
    let decimal = number as f64 / power;
    let beside = value.to_bits().wrapping_sub(decimal.to_bits()) as i64;
    (beside.unsigned_abs() <= MOST_BESIDE).then_some((number, beside))
}

/// So many binary steps beside a decimal.
fn beside_decimal(number: i64, decimals: u8, beside: i64) -> f64 {
    let decimal = number as f64 / power(decimals);
    f64::from_bits(decimal.to_bits().wrapping_add_signed(beside))
}

/// The numbers of a column that are written as JSON has those with a point.
fn json(fields: &[&[u8]]) -> Option<Shortest> {
    let read: Vec<Written> = fields
        .iter()
        .map(|field| Written::of_json(field))
        .collect::<Option<_>>()?;
    together(&read)
}

/// Whether JSON has this decimal without powers of ten, and any program the same digits of it.
fn plain_in_json(number: i64, decimals: u8) -> bool {
    let least = 10_u64.pow(u32::from(decimals.saturating_sub(5)));
    number == 0 || (least..MOST_PLAIN).contains(&number.unsigned_abs())
}

/// As JSON is written here: always a point, or powers of ten where a number is small or great. It
/// is spelled out, since what is kept must come back the same from every later program.
fn write_json(out: &mut Vec<u8>, value: f64) -> Option<()> {
    let size = value.abs();
    if !value.is_finite() || (size != 0.0 && !(1e-5..1e16).contains(&size)) {
        write!(out, "{value:e}").ok()
    } else if value.fract() == 0.0 {
        write!(out, "{value}.0").ok()
    } else {
        write!(out, "{value}").ok()
    }
}

fn power(decimals: u8) -> f64 {
    // Each of them is a whole number that a float holds exactly.
    10_u64.pow(u32::from(decimals)) as f64
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    /// What goes in comes back; gives the forms of the columns.
    #[track_caller]
    fn check(csv: &str, fits: bool) {
        let encoded = encode(csv.as_bytes());
        assert_eq!(encoded.is_some(), fits, "{csv}");
        if let Some(encoded) = encoded {
            let decoded = decode(&encoded, csv.len() as u64).unwrap();
            assert_eq!(String::from_utf8(decoded).unwrap(), csv);
        }
    }

    #[test]
    fn every_line_end_and_every_last_line_comes_back() {
        check("", false);
        check("a,b", false);
        check("a,b\n", true);
        check("a,b\n1,2", true);
        check("a,b\n1,2\n", true);
        check("a,b\r\n1,2\r\n", true);
        check("a,b\r\n1,2", true);
        check("a,b\r\n1,2\n", false);
        check("a,b\n1,2\r\n", true);
        check("a\n\n\n", true);
        check("a,b\n1\n", false);
        check("a,b\n1,2,3\n", false);
    }

    #[test]
    fn numbers_that_are_written_oddly_come_back_as_they_were() {
        for field in [
            "1",
            "-1",
            "0",
            "-0",
            "00",
            "01.5",
            "0.0",
            "-0.0",
            "-0.001",
            ".5",
            "5.",
            "+1",
            "1e3",
            "nan",
            "inf",
            "",
            " 1",
            "1 ",
            "x",
            "123456789012345678901",
            "0.1234567890123",
            "2.4299999999999997",
            "1,0",
            "0.30000000000000004",
            "9007199254740993.5",
            "1e-320",
        ] {
            check(&format!("a\n{field}\n{field}\n"), !field.contains(','));
            check(&format!("a\n1.5\n{field}\n2\n"), !field.contains(','));
        }
    }

    #[test]
    fn each_way_of_writing_has_its_form() {
        #[track_caller]
        fn check(fields: &[&str], form: Form) {
            let fields: Vec<&[u8]> = fields.iter().map(|field| field.as_bytes()).collect();
            let mut out = Vec::new();
            put_column(&mut out, &fields);
            assert_eq!(out[0], form as u8);
        }
        check(&["0.02", "0.04", "10.00"], Form::Fixed);
        check(&["7", "-8"], Form::Fixed);
        check(&["0", "0.02", "0.1"], Form::Shortest);
        check(
            &["2.07", "2.4299999999999997", "2.7899999999999996"],
            Form::Shortest,
        );
        check(&["0.087890625", "0.17578125"], Form::Shortest);
        check(&["0.0", "0.25", "1.5e-6", "10.0"], Form::Json);
        check(&["", "spike", ""], Form::Text);
    }

    #[test]
    fn damaged_columns_give_no_file_and_no_panic() {
        let whole = encode(b"time_s,marks\n0.01,\n0.02,spike\n").unwrap();
        super::super::damage::damage(&whole, |bytes| decode(bytes, 1 << 20));
    }

    proptest! {
        #[test]
        fn any_text_that_is_taken_comes_back(text in "[a-c,\r\n0-9.-]{0,60}") {
            if let Some(encoded) = encode(text.as_bytes()) {
                prop_assert_eq!(decode(&encoded, text.len() as u64), Some(text.into_bytes()));
            }
        }

        #[test]
        fn any_numbers_of_json_come_back(all in prop::collection::vec((any::<f64>(), any::<i32>(), 0..10_i32), 1..20)) {
            let number = |(wild, plain, decimals): (f64, i32, i32)| match decimals {
                0 => serde_json::to_string(&wild).unwrap(),
                _ => serde_json::to_string(&(f64::from(plain) / 10_f64.powi(decimals))).unwrap(),
            };
            let written: Vec<String> = all.into_iter().map(number).collect();
            for some in [&written[..1], &written[..]] {
                let fields: Vec<&[u8]> = some.iter().map(|field| field.as_bytes()).collect();
                let mut out = Vec::new();
                put_column(&mut out, &fields);
                let column = take_column(&mut out.as_slice(), fields.len()).unwrap();
                for (row, field) in fields.iter().enumerate() {
                    let mut back = Vec::new();
                    column.write(&mut back, row).unwrap();
                    prop_assert_eq!(&back, field);
                }
            }
        }

        #[test]
        fn any_numbers_come_back(rows in prop::collection::vec(any::<(f64, i32)>(), 1..20)) {
            let mut csv = "time_s,reading_mm\n".to_owned();
            for (time, reading) in rows {
                csv += &format!("{time},{:.3}\n", f64::from(reading) / 1000.0);
            }
            let encoded = encode(csv.as_bytes()).unwrap();
            prop_assert_eq!(decode(&encoded, csv.len() as u64), Some(csv.into_bytes()));
        }
    }
}
