//! Whether the readings grow where the plunger is pushed in, as a ball's path shows it.

use super::doubt::{Doubt, DoubtKind};
use crate::card::{Feature, GaugeCard, StylusShape};
use crate::quantity::{Angle, Length, told};
use crate::shape::{Track, sharp_crests};
use crate::trace::Merged;

/// Of as many arcs as the tool has flutes so many must show a crest that is too sharp: one alone may
/// be dirt or a reading gone astray (chosen, no source).
const SOME: f64 = 0.3;
/// With the other sign no more than this part as many places may be too sharp (chosen, no source).
const OTHERWISE: f64 = 0.2;
/// So few places are dirt, also on a tool of one flute (chosen, no source).
const FEWEST: usize = 3;

/// The doubt that the sign of the readings is the wrong way round.
pub fn doubt_of_sign(
    merged: &Merged,
    feature: &Feature,
    gauge: &GaugeCard,
    flutes: u32,
) -> Option<Doubt> {
    let ball = gauge.stylus.radius;
    if gauge.stylus.shape != StylusShape::Ball || ball <= Length::ZERO {
        return None;
    }
    let count = Angle::TURN / f64::from(gauge.encoder.counts_per_turn.max(1));
    let track = Track {
        surface: feature.surface,
        radius: feature.diameter / 2.0,
        ball,
        lever: gauge.indicator.lever_angle.rad().cos(),
        open: count,
    };
    let sharp = sharp_crests(merged, track, 1.0);
    let sectors = flutes.max(1) as usize;
    let sector = |angle: &Angle| {
        (angle.in_turn().rad() / Angle::TURN.rad() * sectors as f64) as usize % sectors
    };
    let mut shown: Vec<usize> = sharp.iter().map(sector).collect();
    shown.dedup();
    let everywhere = shown.len() as f64 >= SOME * sectors as f64;
    if sharp.len() < FEWEST || !everywhere {
        return None;
    }
    let reversed = sharp_crests(merged, track, -1.0);
    let otherwise = reversed.len() as f64 <= OTHERWISE * sharp.len() as f64;
    otherwise.then(|| {
        Doubt::about(
            DoubtKind::SignReversed,
            format!(
                "the path turns more sharply over its crests than a ball of {} radius lets it, and would not with the sign of the readings reversed: gaps stand up as hills and lands lie low",
                told::mm(ball, 3)
            ),
            "set the indicator so that its reading grows as the plunger is pushed in, and take the traces again",
        )
    })
}
