//! Whether the cards of a folder go together: the turning sense, and whether the probe's line meets
//! the tool at all.

use crate::card::{GaugeCard, InspectionCard, Role, Surface, ToolCard, drawn};
use crate::error::{Code, Error, Result};
use crate::quantity::Length;

/// Refuses cards whose statement is not what was seen, told for the hand of this tool.
///
/// # Errors
/// `card-value` when the encoder was seen to grow the other way.
pub(super) fn agree(tool: &ToolCard, gauge: &GaugeCard, file: &str) -> Result<()> {
    let Some(seen) = gauge.encoder.contradicted(tool.hand) else {
        return Ok(());
    };
    let stated = gauge.encoder.sense.grows(tool.hand);
    let relative = gauge.encoder.sense.relative().unwrap_or_default();
    Err(Error::new(
        Code::CardValue,
        format!(
            "read `positive = \"{relative}\"`, which for a {}-hand tool is an angle that grows {stated}, expected {}: so it was seen on {}",
            tool.hand.as_str(),
            seen.grows,
            seen.on
        ),
    )
    .in_file(file)
    .help(format!(
        "write `grows = \"{}\"` in place of `positive`, or prove it again with `heelclear ready --prove-sense`",
        seen.grows
    )))
}

/// Refuses a line that misses the axis by more than the radius of a round that it is to measure.
/// `text` is that of the gauge card, and `file` names it.
///
/// # Errors
/// `card-value`.
pub(super) fn reaches(
    (tool, gauge, inspection): (&ToolCard, &GaugeCard, &InspectionCard),
    text: &str,
    file: &str,
) -> Result<()> {
    let offset = gauge.setup.probe_offset.abs();
    // Along the axis, a probe beside it follows its circle all the same.
    let radial = tool
        .features
        .iter()
        .filter(|it| it.surface == Surface::Radial);
    let features = radial.map(|it| (format!("`{}`", it.name), it.diameter));
    let rounds = inspection
        .traces
        .iter()
        .filter(|it| it.role == Role::Reference);
    let rounds = rounds.filter_map(|it| Some(("a reference".to_owned(), it.diameter?)));
    let missed = features
        .chain(rounds)
        .find(|(_, diameter)| offset >= *diameter / 2.0);
    let Some((what, diameter)) = missed else {
        return Ok(());
    };
    let radius: Length = diameter / 2.0;
    let message = format!(
        "read a probe offset of {} mm, expected less than {} mm, the radius of {what}: such a line passes it by",
        gauge.setup.probe_offset.mm(),
        radius.mm()
    );
    let error = Error::new(Code::CardValue, message).in_file(file).help(
        "`probe_offset_mm` is how far the probe's line misses the axis, not where the stylus stands: measure it, or set the probe on centre",
    );
    let keys = ["probe_offset_mm", "probe_offset_in", "probe_offset_um"];
    let place = keys
        .iter()
        .find_map(|key| Some((text.find(key)?, key.len())));
    Err(match place {
        Some((at, length)) => drawn(error, text, at..at + length),
        None => error,
    })
}
