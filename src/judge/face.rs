//! The angle of a face, from a trace over table travel.

use super::bench::Bench;
use super::drift::drift_line;
use super::feature::RUNOUT_UNKNOWN;
use super::lean::Proof;
use super::lines::indicator_lines;
use super::source::LEVER_TOLERANCE;
use super::standard::{indicator_error, rectangular, resolution_step};
use super::taper::{TABLE_TOLERANCE, table_shown};
use super::trial::Effort;
use super::{Budget, Figure, Input, Line, Spread};
use crate::card::{Feature, Name, Surface};
use crate::quantity::{Angle, Length, Time};
use crate::trace::csv::Slide;
use crate::trace::slide::{Straight, straight};

/// A table's scale or dial is right within this part of the travel (common practice, no source).
const SCALE_TOLERANCE: f64 = 0.002;
/// A probe set with a square stands square to the travel within 0.25° (common practice, no source).
const SQUARE_TOLERANCE: Angle = Angle::from_rad(0.25 / 180.0 * std::f64::consts::PI);
/// When less than this part of the trace lies on one line, it holds more than the face (chosen, no
/// source).
const ON_LINE_LEAST: f64 = 0.75;

/// What a face angle takes for granted, a sentence each.
pub fn face_assumptions() -> [String; 3] {
    [
        format!(
            "for `face-angle`, the scale of the table travel is taken as right within ± {:.1} %",
            SCALE_TOLERANCE * 100.0
        ),
        format!(
            "for `face-angle`, the probe is taken as square to the travel within ± {:.2}°",
            SQUARE_TOLERANCE.deg()
        ),
        format!(
            "for `face-angle`, the table is taken to run parallel or square to the spindle's axis within {}",
            table_shown()
        ),
    ]
}

/// The angle between a face and the tool's axis, 0 to 90°, whichever way the scale counts.
///
/// On a radial surface the probe stands along a radius and the table moves along the axis, so the
/// angle is that of the slope; on an axial one the probe stands along the axis and the table moves
/// along a radius, so it is what is missing to 90°. A ball's radius drops out on a straight face.
pub fn face_angle(slides: &[Slide], feature: &Feature, bench: &Bench, effort: Effort) -> Figure {
    let mut figure = of_slides(slides, feature, bench);
    effort.of_lines(std::slice::from_mut(&mut figure), &feature.limits);
    figure
}

fn of_slides(slides: &[Slide], feature: &Feature, bench: &Bench) -> Figure {
    let line = match straight(slides, bench.gauge.indicator.resolution) {
        Ok(line) => line,
        Err(error) => return Figure::missing(Name::FaceAngle, None, error.message().to_owned()),
    };
    let lever = bench.gauge.indicator.lever_angle.rad();
    let slope = line.slope * lever.cos();
    let tilt = slope.abs().atan();
    let value = match feature.surface {
        Surface::Radial => tilt.to_degrees(),
        Surface::Axial => 90.0 - tilt.to_degrees(),
    };
    let (budget, runout_known) = budget(&line, slope, bench);
    let unproven = if line.on_line < ON_LINE_LEAST {
        Some(format!(
            "only {:.0} % of the trace lies on one straight line: trace the face alone, without the corners and what lies beside it",
            line.on_line * 100.0
        ))
    } else if runout_known {
        None
    } else {
        Some(RUNOUT_UNKNOWN.to_owned())
    };
    Figure {
        budget: runout_known.then_some(budget),
        unproven,
        ..Figure::of(Name::FaceAngle, None, value, Budget::default())
    }
}

/// The figure where a card sets a limit and nothing was traced for it.
pub fn no_face_trace() -> Figure {
    Figure::missing(
        Name::FaceAngle,
        None,
        "no trace of the face over table travel (`travel_mm`) was taken".to_owned(),
    )
}

/// The budget, and whether the runout, which lets the tool lean, is known at all.
fn budget(line: &Straight, slope: f64, bench: &Bench) -> (Budget, bool) {
    let indicator = &bench.gauge.indicator;
    let lever = indicator.lever_angle.rad();
    // From a change of slope to one of the angle, and from a share of the slope.
    let per_slope = (1.0 / (1.0 + slope * slope)).to_degrees();
    let per_share = (slope / (1.0 + slope * slope)).abs().to_degrees();
    let per_mm = per_slope * lever.cos() / line.span.mm();
    let mut budget = Budget::default();
    let scatter = line.slope_uncertainty * lever.cos() * per_slope;
    budget.add(Line::departure(Input::ReadingsAndFit, scatter));
    let readings: Vec<(Length, f64)> = line
        .places
        .iter()
        .map(|place| (place.reading, place.weight * lever.cos() * per_slope))
        .collect();
    let error = indicator_error(indicator, &readings);
    let times: Vec<(Time, f64)> = line
        .places
        .iter()
        .map(|place| (place.time, place.weight * lever.cos() * per_slope))
        .collect();
    if let Some(drift) = drift_line(&bench.gauge, &times) {
        budget.add(drift);
    }
    let play = if line.both_ways {
        indicator.hysteresis / 2.0
    } else {
        indicator.hysteresis
    };
    let step = resolution_step(indicator.resolution) * 2f64.sqrt();
    for line in indicator_lines(bench, error, step, per_mm) {
        budget.add(line);
    }
    let rectangular_line = |input, within: f64, sensitivity: f64| {
        Line::of(input, rectangular(within), sensitivity).spread(Spread::Rectangular)
    };
    budget.add(rectangular_line(Input::Hysteresis, play.mm(), per_mm).at(0.0));
    budget.add(rectangular_line(Input::TravelScale, SCALE_TOLERANCE, per_share).at(1.0));
    // A probe that leans by a small angle reads sin(a) / cos(a + lean) instead of tan(a).
    let square = slope * slope / (1.0 + slope * slope);
    budget.add(rectangular_line(Input::Square, SQUARE_TOLERANCE.deg(), square).at(0.0));
    budget.add(rectangular_line(Input::Table, TABLE_TOLERANCE.deg(), 1.0).at(0.0));
    let per_deg = (per_share * lever.tan().abs()).to_radians();
    let tilt = rectangular_line(Input::LeverAngle, LEVER_TOLERANCE.to_degrees(), per_deg);
    budget.add(tilt.at(lever.to_degrees()));
    let leaning = leaning(bench);
    let known = leaning.is_some();
    if let Some(line) = leaning {
        budget.add(line);
    }
    (budget, known)
}

/// What the lean of the tool's axis in the plane of the trace leaves open. A trace over travel does not say how the tool stood, so any direction is as
/// likely.
fn leaning(bench: &Bench) -> Option<Line> {
    let lean = bench.lean();
    if lean.proof == Proof::Nothing && !bench.knows_runout() {
        return None;
    }
    let in_plane = lean.angle() / 2f64.sqrt();
    let all = in_plane.rad().hypot(lean.angle_uncertainty().rad());
    Some(lean.line(Angle::from_rad(all)))
}
