//! What was noted and photographed: a few lines across the page.

use super::sheet::{Anchor, Area, BODY, LEADING, SMALL, STRONG, Sheet};
use super::{typeface, words};
use crate::record::{Noted, Record};

/// Lines of the notes, and of the list of photographs, that a page has.
const MOST: [usize; 2] = [4, 2];
/// Signs of a digest that tell one photograph from another at a look; all are in the record.
const SIGNS: usize = 12;

/// The lines, ready to be drawn; none where nothing was noted.
pub(super) struct Lines {
    notes: Vec<String>,
    photographs: Vec<String>,
}

/// What this record lists, for a page of this width.
pub(super) fn plan(record: &Record, width: i32) -> Lines {
    let none = Lines {
        notes: Vec::new(),
        photographs: Vec::new(),
    };
    let Some(noted) = &record.noted else {
        return none;
    };
    let text = noted.text.as_deref().unwrap_or_default();
    let notes = text.lines().map(str::trim).filter(|line| !line.is_empty());
    let notes = notes.collect::<Vec<_>>().join(" / ");
    let wrap = |text: &str, face: super::sheet::Face, most| {
        typeface::wrap(&words::printed(text), face.size, face.weight, width, most)
    };
    Lines {
        notes: match notes.is_empty() {
            true => Vec::new(),
            false => wrap(&notes, BODY, MOST[0]),
        },
        photographs: match photographs(noted) {
            None => Vec::new(),
            Some(list) => wrap(&list, SMALL, MOST[1]),
        },
    }
}

/// `2 photographs, by SHA-256: photographs/photograph-01.jpg 0123456789ab…, …`
pub(super) fn photographs(noted: &Noted) -> Option<String> {
    let each = noted.photographs.iter().map(|one| {
        let digest: String = one.sha256.chars().take(SIGNS).collect();
        format!("{} {digest}…", one.file)
    });
    let each: Vec<String> = each.collect();
    let count = match each.len() {
        0 => return None,
        1 => "1 photograph".to_owned(),
        count => format!("{count} photographs"),
    };
    Some(format!("{count}, by SHA-256: {}", each.join(", ")))
}

impl Lines {
    /// How high they are; 0 where there are none.
    pub(super) fn height(&self) -> i32 {
        match self.notes.len() + self.photographs.len() {
            0 => 0,
            lines => (lines as i32 + 1) * LEADING + 110,
        }
    }

    /// Draws them.
    pub(super) fn draw(&self, sheet: &mut Sheet, area: Area) {
        if self.height() == 0 {
            return;
        }
        let mut base = area.y + LEADING + 10;
        sheet.text(
            (area.x, base),
            Anchor::Start,
            STRONG,
            "Notes and photographs",
        );
        for (lines, face) in [(&self.notes, BODY), (&self.photographs, SMALL)] {
            for line in lines {
                base += LEADING;
                sheet.text((area.x, base), Anchor::Start, face, line);
            }
        }
    }
}
