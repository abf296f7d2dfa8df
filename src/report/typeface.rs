//! How wide text will be, so that a page can be laid out without asking for a font.

/// How heavy a face is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// For reading.
    Regular,
    /// For what counts.
    Bold,
}

/// Advance widths in thousandths of the size, for the characters from space to tilde: DejaVu Sans
/// 2.37, Book. Of the faces that the page asks for it is the widest, so another only leaves room.
#[rustfmt::skip]
const REGULAR: [u16; 95] = [
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337,
    637, 637, 637, 637, 637, 637, 637, 637, 637, 637, 337, 337, 838, 838, 838, 531,
    1000, 685, 687, 699, 771, 632, 576, 775, 752, 295, 295, 656, 558, 863, 749, 788,
    604, 788, 695, 635, 611, 732, 685, 989, 686, 611, 686, 391, 337, 391, 838, 500,
    500, 613, 635, 550, 635, 616, 353, 635, 634, 278, 278, 580, 278, 975, 634, 612,
    635, 635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838,
];

/// The same for its bold cut.
#[rustfmt::skip]
const BOLD: [u16; 95] = [
    349, 457, 521, 838, 696, 1002, 873, 307, 458, 458, 523, 838, 380, 416, 380, 366,
    696, 696, 696, 696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 581,
    1000, 774, 763, 734, 831, 684, 684, 821, 837, 373, 373, 775, 638, 996, 837, 851,
    733, 851, 771, 721, 683, 813, 774, 1104, 771, 725, 726, 458, 366, 458, 838, 500,
    500, 675, 716, 593, 716, 679, 436, 716, 712, 343, 343, 666, 343, 1042, 712, 688,
    716, 716, 494, 596, 479, 712, 652, 924, 646, 652, 583, 712, 366, 712, 838,
];

/// What ends a text that was cut short.
const ELLIPSIS: char = '…';

/// The width of a line of text, in the unit of `size`, rounded up.
pub fn width(text: &str, size: i32, weight: Weight) -> i32 {
    let thousandths: i64 = text.chars().map(|c| i64::from(advance(c, weight))).sum();
    let width = (thousandths * i64::from(size) + 999) / 1000;
    i32::try_from(width).unwrap_or(i32::MAX)
}

/// Thousandths of the size that a character moves on. Beyond the table it is a bound, not a value:
/// the face that draws it is not known.
fn advance(character: char, weight: Weight) -> u16 {
    let (table, heavier) = match weight {
        Weight::Regular => (&REGULAR, 100),
        Weight::Bold => (&BOLD, 112),
    };
    let code = character as u32;
    if let Some(known) = code.checked_sub(32).and_then(|i| table.get(i as usize)) {
        return *known;
    }
    let bound: u16 = match character {
        '°' | '–' => 500,
        '·' | '’' => 340,
        '\u{a0}' => return table[0],
        '\u{300}'..='\u{36f}' => 0, // marks set over the letter before
        '\u{a0}'..='\u{17f}' => 850,
        '\u{180}'..='\u{1fff}' => 1050,
        '\u{2000}'..='\u{206f}' => 1000,
        '−' | '≤' | '≥' | '≈' | '→' => 838,
        '\u{1f000}'.. => 1400,
        _ => 1050,
    };
    (u32::from(bound) * heavier / 100) as u16
}

/// The text if it fits, else as much of it as fits with an ellipsis.
pub(super) fn fit(text: &str, size: i32, weight: Weight, room: i32) -> String {
    if width(text, size, weight) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    for character in text.chars() {
        let mut longer = kept.clone();
        longer.push(character);
        if width(&longer, size, weight) + width("…", size, weight) > room {
            break;
        }
        kept = longer;
    }
    let mut kept = kept.trim_end().to_owned();
    kept.push(ELLIPSIS);
    kept
}

/// The text in lines no wider than `room`, at most `most` of them; what is left over becomes an
/// ellipsis. A word wider than the room is broken.
pub(super) fn wrap(text: &str, size: i32, weight: Weight, room: i32, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let space = width(" ", size, weight);
    for word in pieces(text, size, weight, room) {
        let full = lines.len() == most;
        match lines.last_mut() {
            Some(line)
                if width(line, size, weight) + space + width(&word, size, weight) <= room =>
            {
                line.push(' ');
                line.push_str(&word);
            }
            Some(line) if full => {
                *line = fit(&format!("{line} {word}"), size, weight, room);
                break;
            }
            None if full => break,
            _ => lines.push(word),
        }
    }
    lines
}

/// Words, those wider than the room in pieces.
fn pieces(text: &str, size: i32, weight: Weight, room: i32) -> Vec<String> {
    let mut pieces = Vec::new();
    // A no-break space keeps what it joins in one word.
    let breaks = |c: char| c.is_whitespace() && c != '\u{a0}';
    for word in text.split(breaks).filter(|word| !word.is_empty()) {
        let mut piece = String::new();
        for character in word.chars() {
            piece.push(character);
            if width(&piece, size, weight) > room && piece.chars().count() > 1 {
                piece.pop();
                pieces.push(std::mem::replace(&mut piece, character.to_string()));
            }
        }
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_widest_face_asked_for_gives_the_widths() {
        // DejaVu Sans 2.37, Book: horizontal metrics of `H`, `i`, `1` are 0.752, 0.278, 0.637 em.
        assert_eq!(width("Hi1", 1000, Weight::Regular), 752 + 278 + 637);
        assert!(width("Hi1", 1000, Weight::Bold) > width("Hi1", 1000, Weight::Regular));
    }

    #[track_caller]
    fn check(text: &str, room: i32, most: usize, expected: &[&str]) {
        let lines = wrap(text, 100, Weight::Regular, room, most);
        assert_eq!(lines, expected);
        for line in &lines {
            assert!(width(line, 100, Weight::Regular) <= room, "{line}");
        }
    }

    #[test]
    fn text_is_wrapped_at_words_and_cut_with_an_ellipsis() {
        check("", 500, 3, &[]);
        check("one two three", 10_000, 3, &["one two three"]);
        check("one two three", 500, 3, &["one two", "three"]);
        check("one two three", 450, 2, &["one two", "three"]);
        check("one two three four", 450, 2, &["one two", "three f…"]);
        check("one\u{a0}two three", 450, 3, &["one\u{a0}two", "three"]);
        check("  one \n two ", 10_000, 1, &["one two"]);
        check("iiiiiiiiii", 140, 9, &["iiiii", "iiiii"]);
        check("iiiiiiiiii", 140, 1, &["i…"]);
    }
}
