//! The verdict drawn large: letters and signs of our own, the same size whatever fonts there are.

use super::sheet::{self, Sheet};
use super::words;
use crate::record::Verdict;

/// Height of the capitals: read from two metres, also by a person without their glasses on.
pub(super) const CAPITALS: i32 = 2200;
/// Half the thickness of a stroke, which is how far its middle stays inside the letter.
const HALF: i32 = 195;
const LETTER: i32 = 1420;
const BETWEEN: i32 = 265;

/// Writes the verdict with its sign, its top left corner here.
pub(super) fn verdict(sheet: &mut Sheet, (x, y): (i32, i32), verdict: Option<Verdict>) {
    let word = words::shout(verdict);
    sheet.open(sheet::class(verdict), Some(word));
    let half = CAPITALS / 2;
    sign(sheet, (x + half, y + half), half, verdict);
    let mut x = x + CAPITALS + 2 * BETWEEN;
    for letter in word.chars() {
        sheet.path("letter", &strokes(letter, x, y));
        x += width(letter) + BETWEEN;
    }
    sheet.close();
}

/// A sign that tells verdicts apart without colour: a disc with a tick, an octagon with a cross, a
/// diamond half full, a ring with a bar. The class of the verdict is set around it.
pub(super) fn sign(sheet: &mut Sheet, (x, y): (i32, i32), radius: i32, verdict: Option<Verdict>) {
    let r = f64::from(radius);
    let at = |dx: f64, dy: f64| {
        format!(
            "{} {}",
            x + (dx * r).round() as i32,
            y + (dy * r).round() as i32
        )
    };
    let thickness = radius * 26 / 100;
    match verdict {
        Some(Verdict::Pass) => {
            sheet.circle("solid", (x, y), radius);
            let tick = format!(
                "M{}L{} {}",
                at(-0.5, 0.05),
                at(-0.14, 0.42),
                at(0.52, -0.36)
            );
            sheet.stroke("cut", thickness, &tick);
        }
        Some(Verdict::Fail) => {
            let c = 0.414; // tan 22.5°: the half side of an octagon about a unit circle
            let corners = [
                (-c, -1.0),
                (c, -1.0),
                (1.0, -c),
                (1.0, c),
                (c, 1.0),
                (-c, 1.0),
                (-1.0, c),
                (-1.0, -c),
            ];
            let corners: Vec<String> = corners.iter().map(|&(dx, dy)| at(dx, dy)).collect();
            sheet.path("solid", &format!("M{}Z", corners.join("L")));
            let cross = format!(
                "M{}L{}M{}L{}",
                at(-0.42, -0.42),
                at(0.42, 0.42),
                at(-0.42, 0.42),
                at(0.42, -0.42)
            );
            sheet.stroke("cut", thickness, &cross);
        }
        Some(Verdict::Undecided) => {
            let half = format!("M{}L{}L{}Z", at(0.0, -1.08), at(-1.08, 0.0), at(0.0, 1.08));
            sheet.path("solid", &half);
            let inset = 1.08 - 0.26 * 0.5f64.sqrt(); // so that the stroke ends at the corners
            let whole = [(0.0, -inset), (inset, 0.0), (0.0, inset), (-inset, 0.0)];
            let corners: Vec<String> = whole.iter().map(|&(dx, dy)| at(dx, dy)).collect();
            sheet.stroke("outline", thickness, &format!("M{}Z", corners.join("L")));
        }
        None => {
            sheet.stroke("outline", thickness, &ring((x, y), radius - thickness / 2));
            sheet.stroke(
                "outline",
                thickness,
                &format!("M{}L{}", at(-0.4, 0.0), at(0.4, 0.0)),
            );
        }
    }
}

fn ring((x, y): (i32, i32), r: i32) -> String {
    format!(
        "M{} {y}A{r} {r} 0 1 1 {} {y}A{r} {r} 0 1 1 {} {y}Z",
        x - r,
        x + r,
        x - r
    )
}

fn width(letter: char) -> i32 {
    match letter {
        'I' => 2 * HALF,
        ' ' => 240,
        _ => LETTER,
    }
}

/// The middle line of a letter's strokes, with square ends on the base line and the cap line.
fn strokes(letter: char, x: i32, y: i32) -> String {
    let (left, right) = (x + HALF, x + LETTER - HALF);
    let (top, foot) = (y + HALF, y + CAPITALS - HALF);
    let (cap, base) = (y, y + CAPITALS); // where strokes that end there are cut
    let (x0, x1) = (x, x + LETTER);
    let centre = (left + right) / 2;
    let middle = y + CAPITALS / 2;
    let r = 420;
    match letter {
        'A' => format!(
            "M{left} {base}V{}A{r} {r} 0 0 1 {} {top}H{}A{r} {r} 0 0 1 {right} {}V{base}M{left} {}H{right}",
            top + r,
            left + r,
            right - r,
            top + r,
            middle + 160
        ),
        'C' => format!(
            "M{right} {}V{}A{r} {r} 0 0 0 {} {top}H{}A{r} {r} 0 0 0 {left} {}V{}A{r} {r} 0 0 0 {} {foot}H{}A{r} {r} 0 0 0 {right} {}V{}",
            middle - 330,
            top + r,
            right - r,
            left + r,
            top + r,
            foot - r,
            left + r,
            right - r,
            foot - r,
            middle + 330
        ),
        'D' => format!(
            "M{left} {top}H{}A{r} {r} 0 0 1 {right} {}V{}A{r} {r} 0 0 1 {} {foot}H{left}Z",
            right - r,
            top + r,
            foot - r,
            right - r
        ),
        'E' => format!(
            "M{x1} {top}H{left}V{foot}H{x1}M{left} {middle}H{}",
            x1 - 180
        ),
        'F' => format!(
            "M{x1} {top}H{left}V{base}M{left} {}H{}",
            middle + 60,
            x1 - 180
        ),
        'G' => format!(
            "M{right} {}V{}A{r} {r} 0 0 0 {} {top}H{}A{r} {r} 0 0 0 {left} {}V{}A{r} {r} 0 0 0 {} {foot}H{}A{r} {r} 0 0 0 {right} {}V{}H{}",
            middle - 330,
            top + r,
            right - r,
            left + r,
            top + r,
            foot - r,
            left + r,
            right - r,
            foot - r,
            middle + 130,
            centre
        ),
        'I' => format!("M{left} {cap}V{base}"),
        'J' => format!(
            "M{right} {cap}V{}A{r} {r} 0 0 1 {} {foot}H{}A{r} {r} 0 0 1 {left} {}V{}",
            foot - r,
            right - r,
            left + r,
            foot - r,
            middle + 330
        ),
        'L' => format!("M{left} {cap}V{foot}H{x1}"),
        'N' => format!(
            "M{left} {base}V{cap}M{right} {base}V{cap}M{left} {}L{right} {}",
            y + 330,
            base - 330
        ),
        'O' => format!(
            "M{left} {}A{r} {r} 0 0 1 {} {top}H{}A{r} {r} 0 0 1 {right} {}V{}A{r} {r} 0 0 1 {} {foot}H{}A{r} {r} 0 0 1 {left} {}Z",
            top + r,
            left + r,
            right - r,
            top + r,
            foot - r,
            right - r,
            left + r,
            foot - r
        ),
        'P' => format!(
            "M{left} {base}V{top}H{}A{r} {r} 0 0 1 {right} {}V{}A{r} {r} 0 0 1 {} {}H{left}",
            right - r,
            top + r,
            middle + 130 - r,
            right - r,
            middle + 130
        ),
        'S' => format!(
            "M{right} {}V{}A{r} {r} 0 0 0 {} {top}H{}A{r} {r} 0 0 0 {left} {}V{}A{r} {r} 0 0 0 {} {middle}H{}A{r} {r} 0 0 1 {right} {}V{}A{r} {r} 0 0 1 {} {foot}H{}A{r} {r} 0 0 1 {left} {}V{}",
            middle - 480,
            top + r,
            right - r,
            left + r,
            top + r,
            middle - r,
            left + r,
            right - r,
            middle + r,
            foot - r,
            right - r,
            left + r,
            foot - r,
            middle + 480
        ),
        'T' => format!("M{x0} {top}H{x1}M{centre} {top}V{base}"),
        'U' => format!(
            "M{left} {cap}V{}A{r} {r} 0 0 0 {} {foot}H{}A{r} {r} 0 0 0 {right} {}V{cap}",
            foot - r,
            left + r,
            right - r,
            foot - r
        ),
        _ => String::new(),
    }
}

/// How wide a verdict is with its sign.
#[cfg(test)]
fn total(verdict: Option<Verdict>) -> i32 {
    let letters: i32 = words::shout(verdict)
        .chars()
        .map(|c| width(c) + BETWEEN)
        .sum();
    CAPITALS + 2 * BETWEEN + letters - BETWEEN
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_verdict_has_its_letters_and_fits_the_page() {
        for verdict in [
            None,
            Some(Verdict::Pass),
            Some(Verdict::Fail),
            Some(Verdict::Undecided),
        ] {
            for letter in words::shout(verdict).chars().filter(|c| *c != ' ') {
                assert!(!strokes(letter, 0, 0).is_empty(), "{letter}");
            }
            assert!(total(verdict) <= 18_200, "{verdict:?}: {}", total(verdict));
        }
    }
}
