//! The pictures of the manual: what its words mean, drawn to a scale that shows it.

mod ball;
mod drawing;
mod offset;
mod reference;
mod runout;
mod tooth;

use super::sheet::Sheet;
use drawing::Drawing;

/// The pictures there are: a name, and what each shows.
pub const PICTURES: &[(&str, &str)] = &[
    (
        "tooth",
        "A tooth in section, relief drawn larger than it is",
    ),
    ("ball", "A ball on the corner of an edge, and what it reads"),
    ("reference", "A tool askew in its clamping, from the side"),
    (
        "offset",
        "The sign of the probe offset, from the cutting end",
    ),
    ("runout", "Relief and runout over the same land"),
];

/// A picture of the manual as SVG; nothing where it has none of this name.
pub fn picture(name: &str) -> Option<String> {
    let (_, title) = PICTURES.iter().find(|(known, _)| *known == name)?;
    let draw: fn(&mut Drawing<'_>) -> (i32, i32) = match name {
        "tooth" => tooth::draw,
        "ball" => ball::draw,
        "reference" => reference::draw,
        "offset" => offset::draw,
        _ => runout::draw,
    };
    let mut sheet = Sheet::new();
    let size = draw(&mut Drawing::new(&mut sheet));
    Some(sheet.finish_as_picture(size, title))
}
