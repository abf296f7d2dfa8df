//! Text for a terminal: nothing in it that a tool, a file or a server put there to move the cursor, hide
//! words or turn them round; and where no colour is wanted, bold and turned-over letters stay.

use crate::report::harmless;
use std::borrow::Cow;

/// Text with nothing in it that a terminal would take for a command, line by line.
pub(super) fn harmless_lines(text: &str) -> Cow<'_, str> {
    let plain = |c: char| c == '\n' || c == '\t' || (' '..='~').contains(&c);
    if text.chars().all(plain) {
        return text.into();
    }
    let cell = |line: &str| {
        line.split('\t')
            .map(harmless)
            .collect::<Vec<_>>()
            .join("\t")
    };
    let lines: Vec<String> = text.split('\n').map(cell).collect();
    lines.join("\n").into()
}

/// JSON with what a terminal would take for a command written as `\u009b`: to a parser it is the same.
pub(super) fn harmless_json(json: &str) -> Cow<'_, str> {
    if json.is_ascii() {
        return json.into();
    }
    let mut safe = String::with_capacity(json.len());
    for c in json.chars() {
        let mut bytes = [0; 4];
        let one = &*c.encode_utf8(&mut bytes);
        match c.is_ascii() || harmless(one) == one {
            true => safe.push(c),
            false => safe.push_str(&format!("\\u{:04x}", u32::from(c))),
        }
    }
    safe.into()
}

/// The text without its colours. What stands on a ground of its own is turned over instead.
pub(super) fn without_colour(text: &str) -> Cow<'_, str> {
    const START: &str = "\x1b[";
    if !text.contains(START) {
        return text.into();
    }
    let mut plain = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(START) {
        plain.push_str(&rest[..at]);
        let behind = &rest[at + START.len()..];
        let end = behind.find(|c: char| !(c.is_ascii_digit() || c == ';'));
        let Some(end) = end.filter(|end| behind[*end..].starts_with('m')) else {
            plain.push_str(START);
            rest = behind;
            continue;
        };
        let kept = kept(&behind[..end]);
        if !kept.is_empty() || end == 0 {
            plain.push_str(&format!("{START}{}m", kept.join(";")));
        }
        rest = &behind[end + 1..];
    }
    plain.push_str(rest);
    plain.into()
}

/// The attributes of ECMA-48, "select graphic rendition", but those that colour.
fn kept(attributes: &str) -> Vec<&str> {
    let mut kept = Vec::new();
    let mut rest = attributes.split(';').filter(|one| !one.is_empty());
    while let Some(attribute) = rest.next() {
        match attribute.parse::<u8>() {
            Ok(38 | 48) => {
                // A colour by number or by its parts follows.
                let follow = if rest.next() == Some("5") { 1 } else { 3 };
                rest.by_ref().take(follow).for_each(drop);
                if attribute == "48" {
                    kept.push("7");
                }
            }
            Ok(30..=37 | 39 | 49 | 90..=97) => {}
            Ok(40..=47 | 100..=107) => kept.push("7"),
            _ => kept.push(attribute),
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::{harmless_json, harmless_lines, without_colour};

    #[test]
    fn what_a_name_holds_is_shown_and_never_obeyed() {
        for (read, shown) in [
            ("VB-07\tpass\n", "VB-07\tpass\n"),
            ("Ø 20 mm ± 1 µm\n", "Ø 20 mm ± 1 µm\n"),
            ("\x1b[8mVB\x1b[2J", "\u{fffd}[8mVB\u{fffd}[2J"),
            ("a\rb\u{9b}31m\u{202e}c", "a b\u{fffd}31m\u{fffd}c"),
        ] {
            assert_eq!(harmless_lines(read), shown);
        }
        let safe = harmless_json("\"Ø\u{9b}31m \u{202e}x\"");
        assert_eq!(safe, "\"Ø\\u009b31m \\u202ex\"");
        let read: Option<String> = serde_json::from_str(&safe).ok();
        assert_eq!(read.as_deref(), Some("Ø\u{9b}31m \u{202e}x"));
    }

    #[test]
    fn colours_go_and_emphasis_stays() {
        for (dressed, plain) in [
            ("plain", "plain"),
            ("\x1b[1m\x1b[31mFAIL\x1b[0m x", "\x1b[1mFAIL\x1b[0m x"),
            ("\x1b[1;31mFAIL\x1b[m", "\x1b[1mFAIL\x1b[m"),
            ("\x1b[97m\x1b[41mFAIL\x1b[0m", "\x1b[7mFAIL\x1b[0m"),
            ("\x1b[38;5;9;4mx\x1b[38;2;1;2;3m", "\x1b[4mx"),
            ("\x1b[48;2;1;2;3;1mx", "\x1b[7;1mx"),
            ("\x1b[2K\x1b[31", "\x1b[2K\x1b[31"),
        ] {
            assert_eq!(without_colour(dressed), plain, "{dressed:?}");
        }
    }
}
