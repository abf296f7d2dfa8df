//! The manual's Markdown set for a terminal; where nobody looks it stays the Markdown that it is.

use crate::manual::{self, Place};
use crate::report::PICTURES;
use anstyle::Style;
use comfy_table::{ContentArrangement, Table, presets};
use textwrap::{Options, WordSplitter};

const BOLD: Style = Style::new().bold();
/// Lines longer than this are hard to follow (common practice, no source).
const LONGEST: usize = 100;
const SHORTEST: usize = 30;

/// A heading of our own.
pub(super) fn heading(text: &str) -> String {
    format!("{BOLD}# {text}{BOLD:#}")
}

/// A piece of a page, in lines that fit `columns`, or as it stands where there are none.
pub(super) fn page(text: &str, columns: Option<usize>) -> String {
    let mut set = String::new();
    let width = columns.map(|columns| columns.clamp(SHORTEST, LONGEST));
    let mut lines = text.lines().peekable();
    let mut fenced = false;
    while let Some(line) = lines.next() {
        let fence = line.trim_start().starts_with("```");
        fenced ^= fence;
        let done = match width {
            _ if manual::picture(line).is_some() => pointer(line, width),
            Some(_) if fence => String::new(),
            Some(_) if fenced => format!("    {line}"),
            Some(width) if line.starts_with('|') => {
                let mut rows = vec![line];
                while let Some(row) = lines.next_if(|next| next.starts_with('|')) {
                    rows.push(row);
                }
                table(&rows, width)
            }
            _ if line.starts_with('#') && !fenced => format!("{BOLD}{line}{BOLD:#}"),
            Some(width) => wrapped(line, width),
            None => line.to_owned(),
        };
        if fence && width.is_some() {
            continue;
        }
        set += &done;
        set.push('\n');
    }
    set
}

/// A place that was found: where, under which heading, what it says.
pub(super) fn place(place: &Place, words: &str, piece: usize, columns: Option<usize>) -> String {
    let at = format!("{}:{}", place.page.name, place.line);
    let mut set = format!("{BOLD}{at}{BOLD:#}  {}\n", place.heading.replace('`', ""));
    let width = columns.unwrap_or(LONGEST).clamp(SHORTEST, LONGEST);
    let said = place.excerpt(words, piece);
    // Where the line found is the heading itself, it stands there already.
    if !place.text.starts_with('#') {
        set += &filled(&said, width, "    ", "    ");
        set.push('\n');
    }
    set
}

/// What stands in a terminal for a picture.
fn pointer(line: &str, width: Option<usize>) -> String {
    let name = manual::picture(line).unwrap_or_default();
    let title = PICTURES.iter().find(|(known, _)| *known == name);
    let title = title.map_or(name, |(_, title)| *title);
    let text = format!(
        "[Picture: {title}. `heelclear manual --picture {name} --out {name}.svg` draws it; \
         `heelclear bench` shows it under Help.]"
    );
    width.map_or(text.clone(), |width| filled(&text, width, "", ""))
}

/// A paragraph or an item of a list, with what follows its sign under itself.
fn wrapped(line: &str, width: usize) -> String {
    let blank = line.len() - line.trim_start().len();
    let rest = &line[blank..];
    let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
    let sign = match rest.as_bytes() {
        [b'-', b' ', ..] => 2,
        _ if digits > 0 && rest[digits..].starts_with(". ") => digits + 2,
        _ => 0,
    };
    let (first, hang) = (" ".repeat(blank), " ".repeat(blank + sign));
    filled(&emphasised(rest), width, &first, &hang)
}

fn filled(text: &str, width: usize, first: &str, hang: &str) -> String {
    let options = Options::new(width)
        .initial_indent(first)
        .subsequent_indent(hang)
        .word_splitter(WordSplitter::NoHyphenation);
    textwrap::fill(text, options)
}

/// Bold where Markdown says so.
fn emphasised(text: &str) -> String {
    let mut set = String::new();
    for (number, piece) in text.split("**").enumerate() {
        match number % 2 {
            1 => set += &format!("{BOLD}{piece}{BOLD:#}"),
            _ => set += piece,
        }
    }
    set
}

fn table(rows: &[&str], width: usize) -> String {
    let cells = |row: &str| -> Vec<String> {
        // A bar between backticks of a cell is written `\|`.
        let row = row.trim().trim_matches('|').replace("\\|", "\u{1}");
        let cells = row.split('|').map(str::trim);
        cells
            .map(|cell| cell.replace('\u{1}', "|").replace("**", ""))
            .collect()
    };
    let mut table = Table::new();
    table
        .load_style(presets::UTF8_HORIZONTAL_ONLY)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(u16::try_from(width).unwrap_or(u16::MAX));
    if let Some(head) = rows.first() {
        table.set_header(cells(head));
    }
    let is_rule = |row: &&&str| row.chars().all(|c| "|-: ".contains(c));
    for row in rows.iter().skip(1).filter(|row| !is_rule(row)) {
        table.add_row(cells(row));
    }
    table.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::manual::PAGES;

    #[test]
    fn every_line_fits_the_terminal_but_those_of_a_block() {
        // Twelve columns of a table have no room in less than sixty.
        for columns in [60, 80, 200] {
            for page in PAGES {
                let set = super::page(page.text, Some(columns));
                let plain = anstream::adapter::strip_str(&set).to_string();
                for line in plain.lines() {
                    let wide = textwrap::core::display_width(line);
                    // A block is copied, and a heading or a long word has no place to break.
                    let whole = line.starts_with("    ") || line.starts_with('#');
                    let word = line.split_whitespace().map(str::len).max().unwrap_or(0);
                    let fits = wide <= columns.min(LONGEST);
                    assert!(fits || whole || word > columns / 2, "{}: {line}", page.name);
                }
            }
        }
    }

    #[test]
    fn what_follows_the_sign_of_a_list_stands_under_itself() {
        assert_eq!(wrapped("- one two three", 9), "- one two\n  three");
        assert_eq!(wrapped("10. one two", 8), "10. one\n    two");
    }

    #[test]
    fn a_pipe_gets_the_markdown() {
        let text = "a **b**\n\n| c | d |\n|---|---|\n| e | f |\n";
        assert_eq!(page(text, None), text);
    }
}
