//! Text with a number at the end of many lines, such as indented JSON: the numbers out of it, in a
//! column for each name that stands before them, and the text that is left.
//!
//! A place among hundreds is some digits that differ little from those of the place before it, and
//! a name that is the same; kept apart, both take less.

use super::columns::{Column, put_column, take_column};
use super::numbers::{put_varint, take_varint};
use memchr::{memchr, memchr_iter};
use std::collections::HashMap;

/// Stands where a number was taken out: JSON holds none but between its words, and what does is left
/// as it is.
const HERE: u8 = b'\t';

/// The text's columns; `None` where it holds what cannot be told from them.
pub(super) fn encode(text: &[u8]) -> Option<Vec<u8>> {
    if memchr(HERE, text).is_some() {
        return None;
    }
    let mut left = Vec::with_capacity(text.len());
    let mut keys = Keys::default();
    let mut columns: Vec<Vec<&[u8]>> = Vec::new();
    for line in text.split_inclusive(|byte| *byte == b'\n') {
        let Some((name, number, rest)) = apart(line) else {
            keys.pass(line);
            left.extend_from_slice(line);
            continue;
        };
        let column = keys.column(name);
        if column == columns.len() {
            columns.push(Vec::new());
        }
        columns.get_mut(column)?.push(number);
        left.extend_from_slice(name);
        left.push(HERE);
        left.extend_from_slice(rest);
    }
    let mut out = Vec::with_capacity(left.len() + 4 * columns.iter().map(Vec::len).sum::<usize>());
    put_varint(&mut out, left.len() as u64);
    out.extend_from_slice(&left);
    for column in &columns {
        put_column(&mut out, column);
    }
    Some(out)
}

/// The text of so many bytes again; `None` where the bytes are none of such a text.
pub(super) fn decode(mut input: &[u8], length: u64) -> Option<Vec<u8>> {
    let length = usize::try_from(length).ok()?;
    let left = usize::try_from(take_varint(&mut input)?).ok()?;
    let (left, mut input) = input.split_at_checked(left)?;
    // The first pass counts what the second one puts back.
    let mut keys = Keys::default();
    let marks: Vec<usize> = memchr_iter(HERE, left).collect();
    let mut places = Vec::with_capacity(marks.len());
    let mut counts: Vec<usize> = Vec::new();
    let mut start = 0;
    for &at in &marks {
        // The lines up to the one that this number stands in.
        while let Some(end) = memchr(b'\n', left.get(start..at)?) {
            keys.pass(&left[start..start + end]);
            start += end + 1;
        }
        let column = keys.column(&left[start..at]);
        if column == counts.len() {
            counts.push(0);
        }
        let count = counts.get_mut(column)?;
        places.push((column, *count));
        *count += 1;
        start = at + memchr(b'\n', &left[at..]).map_or(left.len() - at, |end| end + 1);
    }
    let columns: Vec<Column> = counts
        .iter()
        .map(|count| take_column(&mut input, *count))
        .collect::<Option<_>>()?;
    if !input.is_empty() {
        return None;
    }
    let mut out = Vec::with_capacity((left.len() + 12 * places.len()).min(length));
    let mut done = 0;
    for (at, (column, row)) in marks.into_iter().zip(places) {
        out.extend_from_slice(&left[done..at]);
        columns.get(column)?.write(&mut out, row)?;
        if out.len() > length {
            return None;
        }
        done = at + 1;
    }
    out.extend_from_slice(&left[done..]);
    Some(out)
}

/// A line before its number, the number, and what stands behind it.
fn apart(line: &[u8]) -> Option<(&[u8], &[u8], &[u8])> {
    let text = line.trim_ascii_end();
    let text = text.strip_suffix(b",").unwrap_or(text);
    let of_a_number = |byte: &u8| byte.is_ascii_digit() || b"+-.eE".contains(byte);
    let behind = text.iter().rev().take_while(|byte| of_a_number(byte));
    let start = text.len() - behind.count();
    let (name, number) = text.split_at(start);
    let stands_alone = name.last().is_none_or(|byte| *byte == b' ');
    let is_one = number.iter().any(u8::is_ascii_digit);
    (stands_alone && is_one).then_some((name, number, &line[text.len()..]))
}

/// Which column a name's numbers go into. The same name in another list is another one: places on a
/// land and on the curve through it have angles of their own.
#[derive(Default)]
struct Keys<'a> {
    /// The list that was begun last, by its line.
    list: &'a [u8],
    known: HashMap<Key<'a>, usize>,
    /// Each column's key, and the column of the number that came after it: in a list the same ones
    /// follow each other, which is seen sooner than looked up.
    columns: Vec<(Key<'a>, usize)>,
    last: usize,
}

/// A list, and a name in it.
type Key<'a> = (&'a [u8], &'a [u8]);

impl<'a> Keys<'a> {
    /// A line without a number.
    fn pass(&mut self, line: &'a [u8]) {
        let text = line.trim_ascii();
        if text.ends_with(b": [") {
            self.list = text;
        }
    }

    fn column(&mut self, name: &'a [u8]) -> usize {
        let key = (self.list, name.trim_ascii());
        let followed = self.columns.get(self.last).map(|(_, next)| *next);
        let is_it = |at: &usize| self.columns.get(*at).is_some_and(|(it, _)| *it == key);
        let column = followed.filter(is_it).unwrap_or_else(|| {
            let next = self.columns.len();
            *self.known.entry(key).or_insert(next)
        });
        if column == self.columns.len() {
            self.columns.push((key, column));
        }
        if let Some((_, next)) = self.columns.get_mut(self.last) {
            *next = column;
        }
        self.last = column;
        column
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn check(text: &str) -> Vec<u8> {
        let encoded = encode(text.as_bytes()).unwrap();
        let decoded = decode(&encoded, text.len() as u64).unwrap();
        assert_eq!(String::from_utf8(decoded).unwrap(), text);
        encoded
    }

    #[test]
    fn every_text_comes_back_whatever_stands_at_its_ends() {
        for text in [
            "",
            "\n",
            "1",
            "1,\n2",
            "\"a\": 1\n",
            "\"a\": 1,\r\n\"a\": 2,\r\n",
            "\"a\": [\n  1.5,\n  -0,\n  007\n]\n",
            "\"a\": [\n  [\n    1\n  ]\n]",
            "\"why\": \"none of 4\",\n\"x\": 1e-3\n",
            "no: -\n\"e\": e\n\"dots\": ...\n\"version\": 0.1.0,\n",
            "\"a\": 1,,\n\"b\": 2 ,\n",
            "1 2 3\nlast 4 ",
        ] {
            check(text);
        }
        assert_eq!(encode(b"a\tb"), None);
    }

    #[test]
    fn a_long_list_of_places_takes_few_bytes() {
        let place = |at: u32| {
            let (angle, drop) = (f64::from(at) * 0.045, f64::from(at * at % 1000) / 1e6);
            format!("    {{\n      \"arc_deg\": {angle},\n      \"drop_mm\": {drop}\n    }}")
        };
        let places: Vec<String> = (0..500).map(place).collect();
        let text = format!("{{\n  \"land\": [\n{}\n  ]\n}}\n", places.join(",\n"));
        let encoded = check(&text);
        let numbers = encoded.len() - (1 + text.bytes().filter(|byte| *byte == b'\n').count());
        assert!(numbers < text.len());
        let digits = zstd::bulk::compress(&encoded, 3).unwrap().len();
        assert!(digits < text.len() / 20, "{digits} of {}", text.len());
    }

    #[test]
    fn damaged_columns_give_no_text_and_no_panic() {
        let whole = encode(b"\"a\": [\n  1.25,\n  2.5\n],\n\"b\": x,\n\"c\": 1e5\n").unwrap();
        super::super::damage::damage(&whole, |bytes| decode(bytes, 1 << 20));
    }

    proptest! {
        #[test]
        fn any_text_comes_back(text in "[a-b,: \r\n\\[\\]\"0-9.e-]{0,80}") {
            let encoded = encode(text.as_bytes()).unwrap();
            prop_assert_eq!(decode(&encoded, text.len() as u64), Some(text.into_bytes()));
        }
    }
}
