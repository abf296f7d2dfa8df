//! Words upon a plot, where they cover neither a curve nor each other.

use super::sheet::{Anchor, Area, SMALL, Sheet};
use super::typeface;

/// Distance between lines.
const LINE: i32 = 270;
/// What a line stands over its base, and under it.
const ASCENT: i32 = 190;
const DESCENT: i32 = 60;
/// Between words and a curve.
const FREE: i32 = 70;

/// A line of words at a place of the plot's own, on paper that hides what is under them. Gives what it
/// covers.
pub(super) fn beside(
    sheet: &mut Sheet,
    plot: Area,
    (x, base): (i32, i32),
    anchor: Anchor,
    words: &str,
) -> Area {
    let w = typeface::width(words, SMALL.size, SMALL.weight);
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - w / 2,
        Anchor::End => x - w,
    };
    let covered = Area {
        x: left - 30,
        y: base - ASCENT,
        w: w + 60,
        h: ASCENT + DESCENT,
    };
    let behind = Area {
        x: plot.x + covered.x,
        y: plot.y + covered.y,
        ..covered
    };
    sheet.rect("behind", behind);
    sheet.text((plot.x + x, plot.y + base), anchor, SMALL, words);
    covered
}

/// Words over a line that begins at a place, or under it where there is no room over it; none where they
/// are too long. Gives what they cover.
pub(super) fn on_line(
    sheet: &mut Sheet,
    plot: Area,
    (x, y): (i32, i32),
    words: &str,
) -> Option<Area> {
    let over = y - FREE;
    let base = match over - ASCENT > 0 {
        true => over,
        false => y + FREE + ASCENT,
    };
    let fits = x + typeface::width(words, SMALL.size, SMALL.weight) < plot.w;
    fits.then(|| beside(sheet, plot, (x, base), Anchor::Start, words))
}

/// Lines of words where nothing is, as near as can be to the end of a curve: neither on the curve nor on
/// what else is `taken`; none where there is no room.
pub(super) fn block(
    sheet: &mut Sheet,
    plot: Area,
    curve: &[(i32, i32)],
    taken: &[Area],
    lines: &[String],
) {
    const STEP: usize = 120;
    let widths = lines
        .iter()
        .map(|line| typeface::width(line, SMALL.size, SMALL.weight));
    let (Some(w), Some(&(end_x, end_y))) = (widths.max(), curve.last()) else {
        return;
    };
    let h = lines.len() as i32 * LINE;
    let dense = dense(curve);
    let is_free = |area: &Area| {
        let right = area.x + area.w;
        let foot = area.y + area.h;
        let meets = |other: &Area| {
            other.x < right
                && area.x < other.x + other.w
                && other.y < foot
                && area.y < other.y + other.h
        };
        let holds = |&(x, y): &(i32, i32)| {
            (area.x - FREE..=right + FREE).contains(&x)
                && (area.y - FREE..=foot + FREE).contains(&y)
        };
        !taken.iter().any(meets) && !dense.iter().any(holds)
    };
    let tried = (0..plot.w - w).step_by(STEP).flat_map(|x| {
        let rows = (0..plot.h - h).step_by(STEP);
        rows.map(move |y| Area { x, y, w, h })
    });
    let away = |area: &Area| {
        let off = |from: i32, to: i32, at: i32| i64::from((from - at).max(at - to).max(0));
        let across = off(area.x, area.x + w, end_x);
        across.pow(2) + off(area.y, area.y + h, end_y).pow(2)
    };
    let Some(free) = tried.filter(is_free).min_by_key(away) else {
        return;
    };
    for (line, at) in lines.iter().zip(1..) {
        let base = free.y + at * LINE - DESCENT;
        beside(sheet, plot, (free.x + w, base), Anchor::End, line);
    }
}

/// A curve with no two points far apart.
fn dense(curve: &[(i32, i32)]) -> Vec<(i32, i32)> {
    let between = curve.windows(2).flat_map(|pair| {
        let ((x, y), (dx, dy)) = (pair[0], (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1));
        let steps = dx.abs().max(dy.abs()) / FREE + 1;
        (0..steps).map(move |step| (x + dx * step / steps, y + dy * step / steps))
    });
    between.chain(curve.last().copied()).collect()
}
