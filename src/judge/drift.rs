//! What an indicator that drifts brings to a figure.

use super::source::Source;
use super::standard::rectangular;
use super::{Input, Line, Spread};
use crate::card::{GaugeCard, Studies};
use crate::quantity::{Speed, Time, told};
use crate::shape::Clamping;

/// Standard uncertainty of how fast the indicator drifts; `None` where no study at rest was kept.
///
/// The drift is taken as steady during an inspection and rectangular up to the fastest that the
/// study allows, up or down: what it was then says how large it may get here, not which way a
/// gauge goes that warms up or cools down today.
pub fn drift(gauge: &GaugeCard) -> Option<Speed> {
    Some(rectangular(gauge.studies.rest?.fastest()))
}

/// What every verdict takes for granted of the drift, as a sentence.
pub fn drift_assumption(studies: &Studies) -> String {
    match studies.rest {
        Some(study) => format!(
            "the indicator is taken to drift steadily during an inspection, up or down, by no more than the {} a minute that the study of {} allows",
            told::um(study.fastest() * Time::from_s(60.0), 2),
            study.taken
        ),
        None => {
            "no drift of the indicator is taken into account: the gauge card keeps no `study rest`"
                .to_owned()
        }
    }
}

/// The drift as an input that is moved: what was read at one time moves against what was read at
/// another.
pub(super) fn drift_source(gauge: &GaugeCard, stated: &Clamping) -> Option<Source> {
    let step = drift(gauge).filter(|step| *step > Speed::ZERO)?;
    Some(Source {
        input: Input::Drift,
        estimate: Some(0.0),
        standard_uncertainty: step.um_per_min(),
        spread: Spread::Rectangular,
        moved: Clamping {
            drift: stated.drift + step,
            ..*stated
        },
    })
}

/// What the drift brings to an angle which takes each reading with a weight: `(time, weight)`,
/// weights in degrees per mm.
pub(super) fn drift_line(gauge: &GaugeCard, readings: &[(Time, f64)]) -> Option<Line> {
    let step = drift(gauge)?;
    let weighed = readings
        .iter()
        .map(|(time, weight)| (step * *time).mm() * weight);
    let change: f64 = weighed.sum();
    let line = Line::bringing(Input::Drift, step.um_per_min(), change);
    Some(line.at(0.0).spread(Spread::Rectangular))
}
