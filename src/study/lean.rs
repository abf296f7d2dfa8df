//! How far a holder lets a tool lean: a test bar read at two distances along it.

use super::finding::{about, within};
use super::{Finding, Study};
use crate::card::{GaugeCard, LeanBound};
use crate::error::{Code, Error, Result};
use crate::judge;
use crate::quantity::Length;
use crate::shape::{self, Eccentricity, Runout};
use crate::trace::Merged;

/// How the test bar was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bar {
    /// From one trace to the other along it.
    pub apart: Length,
    /// Distance of the stylus' centre from its axis, where its diameter is known.
    pub path_radius: Option<Length>,
}

/// Traces nearer to each other than this say little of a lean.
const APART_LEAST: Length = Length::from_mm(10.0);

/// The growth of the eccentricity from one trace on a test bar to the other, both of one clamping, held
/// to the card's bound where it states one. What is kept is the most that the growth may be.
///
/// # Errors
/// `reference` when a trace shows no round, `study` when the traces lie too near together.
pub fn lean(near: &Merged, far: &Merged, bar: &Bar, gauge: &GaugeCard) -> Result<Study> {
    if bar.apart < APART_LEAST {
        return Err(Error::new(
            Code::Study,
            format!(
                "read traces {} mm apart, expected {} mm or more",
                bar.apart.mm(),
                APART_LEAST.mm()
            ),
        )
        .help("read the bar next to the holder and as far out as the tools reach"));
    }
    let (near, far) = (off_centre(near, bar, gauge)?, off_centre(far, bar, gauge)?);
    let growth = Eccentricity {
        x: far.axis.x - near.axis.x,
        y: far.axis.y - near.axis.y,
    };
    // Of a growth no larger than its uncertainty the direction means nothing.
    let left = near.covariance.and(far.covariance);
    let size = growth.size();
    let (sin, cos) = growth.direction().rad().sin_cos();
    let u = if size > left.largest() {
        left.along(cos, sin)
    } else {
        left.largest()
    };
    let interval = about(size, u);
    let most = interval[1];
    let stated = gauge.setup.lean;
    let allowed = stated.map(|bound| bar.apart * bound.slope());
    let interval_mm = interval.map(Length::mm);
    Ok(Study {
        name: "lean",
        findings: vec![Finding {
            quantity: "growth of the eccentricity",
            value: size.mm(),
            interval: Some(interval_mm),
            unit: "mm",
            allowed: allowed.map(Length::mm),
            outcome: allowed.map(|allowed| within(interval_mm, allowed.mm())),
            advice: "clean holder, collet and bar and clamp again; if it stays, state a larger \
                     `lean_mm` in the gauge card or keep this study with `--keep`, or take two \
                     reference traces with every inspection",
        }],
        kept: Some(most),
        lasted: None,
        notes: vec![
            format!(
                "over {} mm the bar is off centre by {:.2} µm near the holder's side of the two and {:.2} µm at the other; at most {:.2} µm over 100 mm",
                bar.apart.mm(),
                near.axis.size().um(),
                far.axis.size().um(),
                most.um() * (LeanBound::OVER / bar.apart)
            ),
            "both traces are taken to be of one clamping, on a bar that is straight".to_owned(),
            "this proves the holder as it was clamped now, and no tool: one that is bent, or clamped \
             less well, leans more"
                .to_owned(),
        ],
    })
}

/// Where the bar's axis lies at one of its places.
fn off_centre(merged: &Merged, bar: &Bar, gauge: &GaugeCard) -> Result<Runout> {
    let indicator = &gauge.indicator;
    let round = shape::round_without_play(merged, indicator.play());
    let found = shape::runout(&round, bar.path_radius, indicator.resolution)?;
    Ok(judge::as_read(found, indicator).scaled(indicator.lever_angle.rad().cos()))
}
