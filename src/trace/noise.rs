//! How much one reading scatters about its neighbours in time.

use crate::numeric::robust;
use crate::quantity::Length;
use crate::sample::{Marks, Sample};

/// So many places suffice to know a standard deviation to half a per cent.
const PLACES: usize = 40_000;

/// Within five samples no interval may be longer than the shortest by this factor: further apart
/// they are no neighbours (chosen, no source).
const EVEN: f64 = 4.0;

/// Robust standard deviation of one reading about the cubic through its four neighbours in time.
///
/// The cubic follows a land, and an edge is too rare to matter to the median. White noise is taken
/// for granted: what is common to neighbours, such as a table that trembles slowly, shows only
/// between passes. A reading so coarse that it rarely changes gives 0.
pub(super) fn noise(samples: &[Sample], marks: &[Marks], resolution: Length) -> Length {
    let usable: Vec<usize> = (0..samples.len())
        .filter(|at| marks[*at].usable())
        .collect();
    let stride = 1 + usable.len() / PLACES;
    let mut residuals: Vec<f64> = usable
        .windows(5)
        .step_by(stride)
        .filter_map(|five| residual(five, samples))
        .collect();
    let mut noise = robust::scale(&mut residuals).unwrap_or(0.0);
    if noise < resolution.mm() {
        noise = noise.max(robust::trimmed_scale(&mut residuals).unwrap_or(0.0));
    }
    Length::from_mm(noise)
}

/// What the middle of five samples differs from the cubic through the others, over the factor by
/// which that difference scatters more than one reading.
fn residual(five: &[usize], samples: &[Sample]) -> Option<f64> {
    let time = |at: usize| samples[five[at]].time.s();
    let steps = [1, 2, 3, 4].map(|at| time(at) - time(at - 1));
    let (least, most) = steps
        .iter()
        .fold((f64::MAX, 0.0_f64), |(least, most), step| {
            (least.min(*step), most.max(*step))
        });
    if least <= 0.0 || most > least * EVEN {
        return None;
    }
    let others = [0, 1, 3, 4];
    let reading = |at: usize| samples[five[at]].reading.mm();
    let (mut off, mut variance) = (0.0, 1.0);
    for node in others {
        let lagrange: f64 = others
            .iter()
            .filter(|other| **other != node)
            .map(|other| (time(2) - time(*other)) / (time(node) - time(*other)))
            .product();
        // The weights add up to one, so differences do, and equal readings give exactly nothing.
        off += lagrange * (reading(2) - reading(node));
        variance += lagrange * lagrange;
    }
    Some(off / variance.sqrt())
}
