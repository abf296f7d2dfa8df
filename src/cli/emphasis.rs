//! Text on a terminal that wants no colour: bold and turned-over letters stay.

use std::borrow::Cow;

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
    use super::without_colour;

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
