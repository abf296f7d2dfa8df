//! Whether the probe's line meets the tool at all: one that passes it by measures nothing.

use crate::card::{GaugeCard, InspectionCard, Role, Surface, ToolCard, drawn};
use crate::error::{Code, Error, Result};
use crate::quantity::Length;

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
