//! Lines, arrows, dimensions and words on a sheet, in hundredths of a millimetre.

use super::super::sheet::{Anchor, BODY, Face, SMALL, STRONG, Sheet};
use std::fmt::Write;

/// A place on the sheet.
pub(super) type At = (f64, f64);

const HEAD: f64 = 190.0;

/// What a picture is drawn with.
pub(super) struct Drawing<'a> {
    sheet: &'a mut Sheet,
}

impl<'a> Drawing<'a> {
    pub(super) fn new(sheet: &'a mut Sheet) -> Self {
        Self { sheet }
    }

    /// A line through these places.
    pub(super) fn line(&mut self, class: &str, places: impl IntoIterator<Item = At>) {
        let d = track(places);
        self.sheet.path(class, &d);
    }

    /// A surface with this outline.
    pub(super) fn surface(&mut self, class: &str, places: impl IntoIterator<Item = At>) {
        let d = track(places);
        self.sheet.path(class, &format!("{d}Z"));
    }

    /// A circle that is drawn as a line.
    pub(super) fn circle(&mut self, class: &str, centre: At, radius: f64) {
        let turn = (0..=120).map(|step| f64::from(step).to_radians() * 3.0);
        self.line(class, turn.map(|t| along(centre, radius, t)));
    }

    /// A filled dot.
    pub(super) fn dot(&mut self, class: &str, (x, y): At, radius: i32) {
        let centre = (x.round() as i32, y.round() as i32);
        self.sheet.circle(class, centre, radius);
    }

    /// A line that ends in the head of an arrow.
    pub(super) fn arrow(&mut self, places: impl IntoIterator<Item = At>) {
        let places: Vec<At> = places.into_iter().collect();
        if let [.., before, tip] = places[..] {
            self.head(before, tip);
        }
        self.line("axis", places);
    }

    /// A dimension: a line with a head at both ends.
    pub(super) fn between(&mut self, places: impl IntoIterator<Item = At>) {
        let places: Vec<At> = places.into_iter().collect();
        if let [first, second, ..] = places[..] {
            self.head(second, first);
        }
        self.arrow(places);
    }

    fn head(&mut self, (x0, y0): At, (x, y): At) {
        let long = (x - x0).hypot(y - y0).max(1e-9);
        let (dx, dy) = ((x - x0) / long * HEAD, (y - y0) / long * HEAD);
        let barb = |side: f64| (x - dx + side * dy * 0.4, y - dy - side * dx * 0.4);
        self.line("axis", [barb(1.0), (x, y), barb(-1.0)]);
    }

    /// A word that names something.
    pub(super) fn name(&mut self, at: At, anchor: Anchor, text: &str) {
        self.text(at, anchor, STRONG, text);
    }

    /// What is said besides.
    pub(super) fn say(&mut self, at: At, anchor: Anchor, text: &str) {
        self.text(at, anchor, BODY, text);
    }

    /// A number or a unit.
    pub(super) fn small(&mut self, at: At, anchor: Anchor, text: &str) {
        self.text(at, anchor, SMALL, text);
    }

    fn text(&mut self, (x, y): At, anchor: Anchor, face: Face, text: &str) {
        let at = (x.round() as i32, y.round() as i32);
        self.sheet.text(at, anchor, face, text);
    }

    /// A thin line from a word to what it names.
    pub(super) fn leader(&mut self, from: At, to: At) {
        self.line("axis", [from, to]);
        self.dot("measured", to, 55);
    }
}

/// The place at this distance from a centre; the angle grows clockwise from straight up.
pub(super) fn along((x, y): At, radius: f64, angle: f64) -> At {
    (x + radius * angle.sin(), y - radius * angle.cos())
}

/// Equal steps from `from` to `to`, both ends among them.
pub(super) fn steps(from: f64, to: f64, count: u32) -> impl Iterator<Item = f64> {
    (0..=count).map(move |step| from + (to - from) * f64::from(step) / f64::from(count))
}

fn track(places: impl IntoIterator<Item = At>) -> String {
    let mut d = String::new();
    for (number, (x, y)) in places.into_iter().enumerate() {
        let sign = if number == 0 { "M" } else { "L" };
        let _ = write!(d, "{sign}{} {}", x.round(), y.round());
    }
    d
}
