//! What is known of the gauge and of the clamping where a trace was taken.

use crate::card::{Feature, GaugeCard, Surface};
use crate::inspection::folder::Folder;
use crate::judge::{Axis, Bench, axis_from_references};
use crate::quantity::{Length, told};
use crate::record::Reference;
use crate::shape::{Lobes, Runout};

/// What is known of the gauge and of the clamping at a place of the tool, and what of it was taken
/// for granted.
pub(super) fn bench(
    folder: &Folder,
    feature: &Feature,
    z: Option<Length>,
    references: &[Reference],
) -> (Bench, Vec<String>) {
    let known: Vec<(Option<Length>, Runout)> = references
        .iter()
        .map(|reference| (reference.z, reference.runout.clone()))
        .collect();
    let axis = axis_from_references(&known, &folder.gauge.setup, z)
        .or(folder.gauge.setup.runout.map(Axis::Stated))
        .unwrap_or(Axis::Unknown);
    let mut assumptions = match &axis {
        Axis::Measured { assumptions, .. } => assumptions.clone(),
        Axis::Stated(bound) => vec![format!(
            "the runout is taken as at most {}, as the gauge card states",
            told::um(*bound, 1)
        )],
        Axis::Unknown => Vec::new(),
    };
    let bench = Bench {
        gauge: folder.gauge.clone(),
        axis,
        lobes: widest_lobes(references),
    };
    assumptions.extend(still(references, &folder.gauge));
    if feature.surface == Surface::Axial {
        assumptions.extend(bench.stated_swash());
    }
    (bench, assumptions)
}

/// What a reference that hardly moves cannot show: whether it runs true, or the plunger stood still.
fn still(references: &[Reference], gauge: &GaugeCard) -> Option<String> {
    /// Swings over less than so many steps of the indicator show no round that goes up and down.
    const STEPS: f64 = 4.0;
    let swing = |reference: &Reference| reference.runout.axis.size() * 2.0;
    let least = references.iter().map(swing).reduce(Length::min)?;
    (least < gauge.indicator.resolution * STEPS).then(|| {
        format!(
            "a reference moves by no more than {}: that it runs true, and the plunger was free and touched it, is taken for granted; with the indicator set a little deeper the trace would read as much more",
            told::um(least, 1)
        )
    })
}

/// The widest waves of all references.
fn widest_lobes(references: &[Reference]) -> Lobes {
    let lobes = references.iter().map(|reference| reference.runout.lobes);
    let widest = lobes.max_by(|a, b| a.swing().total_cmp(&b.swing()));
    widest.unwrap_or_default()
}
