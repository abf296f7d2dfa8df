//! The features of a step tool: a diameter and a shoulder for each step.

use super::NewFeature;
use crate::card::Surface;
use crate::quantity::{Angle, Length, Units, stated};

/// The features of a step tool from its front on, each step with the shoulder before it; `face` is the
/// angle of the shoulders to the axis, a quarter turn where they are square. Diameters grow from the
/// front on.
///
/// The first shoulder is that of the front, taken to be as high as the next: no step says how far in
/// it begins.
pub fn features_of_steps(diameters: &[Length], face: Angle, units: Units) -> Vec<NewFeature> {
    let rise = match diameters {
        [first, second, ..] => *second - *first,
        _ => Length::ZERO,
    };
    let front = diameters
        .first()
        .map(|first| (*first - rise).max(Length::ZERO));
    let before = front.into_iter().chain(diameters.iter().copied());
    let square = (face.deg() - 90.0).abs() < 1e-6;
    let word = if square { "shoulder" } else { "chamfer" };
    let mut features = Vec::new();
    for (from, to) in before.zip(diameters.iter().copied()) {
        let size = match units {
            Units::Metric => stated(to.mm()),
            Units::Inch => stated(to.inches()),
        };
        features.push(NewFeature {
            name: Some(format!("{word}-{size}")),
            surface: Surface::Axial,
            diameter: Some((from + to) / 2.0),
            face: Some(face),
            ..NewFeature::default()
        });
        features.push(NewFeature {
            name: Some(format!("step-{size}")),
            surface: Surface::Radial,
            diameter: Some(to),
            ..NewFeature::default()
        });
    }
    features
}
