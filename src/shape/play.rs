//! What the plunger's play leaves in readings, by the way that the plunger was moving.

use super::path::PathPoint;
use crate::trace::{Merged, Turning};

/// A direction in which less than this part of all turning was done counts as nudges.
const NUDGES: f64 = 0.1;

/// The share of the readings that were taken while the tool turned the cutting way: where both ways
/// were gone, they weigh the same.
fn cutting_share(merged: &Merged) -> f64 {
    let turned = |way: Turning| -> f64 {
        let passes = merged.passes.iter().filter(|pass| pass.turning == way);
        passes.map(|pass| pass.arc.rad()).sum()
    };
    let (cutting, backing) = (turned(Turning::Cutting), turned(Turning::Backing));
    let all = cutting + backing;
    if backing <= NUDGES * all {
        1.0
    } else if cutting <= NUDGES * all {
        0.0
    } else {
        0.5
    }
}

/// Takes the play out of a path over one tooth: what reads too high while the plunger comes out.
///
/// `play` is what the reading then lacks of coming down, on average, in mm. Turned the cutting way
/// the plunger was pushed in by the edge and comes out where the land falls; turned the backing way
/// it is pushed in all the way from a land's lowest place up to its edge and lacks nothing there,
/// but behind the lowest place, if the land stands up again at its heel.
pub(super) fn without_play(path: &mut [PathPoint], merged: &Merged, play: f64) {
    if play <= 0.0 {
        return;
    }
    let cutting = cutting_share(merged);
    // The plunger goes with the readings, whatever the clamping is taken to be.
    let read = |point: &PathPoint| {
        let cell = &merged.cells[point.cell];
        (cell.reading.mm(), cell.standard_error.mm())
    };
    let forth = coming_out(path.iter().map(read));
    let back = coming_out(path.iter().rev().map(read));
    let both = forth.into_iter().zip(back.into_iter().rev());
    for (point, (forth, back)) in path.iter_mut().zip(both) {
        point.place.height -= play * (cutting * forth + (1.0 - cutting) * back);
    }
}

/// A reading must go this many of its scatters the other way before the plunger is taken to have
/// turned round.
const TURNED_ROUND: f64 = 4.0;
/// The least that it must go, in mm; ideal data have no scatter.
const LEAST_TURN: f64 = 1e-6;

/// What share of its play each point's reading lacks of coming down: none going in, all coming out.
///
/// Where the plunger turns round, the reading stands still until all of its play is taken up, and as
/// soon as it moves it lacks all of it, whatever that is. In between a surface that turns as a parabola
/// does takes it up with the square of the way. A tooth begins, from either side, with the way up out
/// of a gap.
///
/// `readings` come with their scatter, in mm.
fn coming_out(readings: impl Iterator<Item = (f64, f64)>) -> Vec<f64> {
    let path: Vec<(f64, f64)> = readings
        .map(|(reading, scatter)| (reading, (scatter * TURNED_ROUND).max(LEAST_TURN)))
        .collect();
    let mut shares = vec![0.0; path.len()];
    let mut coming_out = false;
    // How far in, or out, the plunger has been since it last turned round.
    let mut farthest = f64::NEG_INFINITY;
    let mut since = 0;
    for at in 0..path.len() {
        let onwards = |reading: f64| if coming_out { -reading } else { reading };
        let (reading, turned) = path[at];
        farthest = farthest.max(onwards(reading));
        shares[at] = if coming_out { 1.0 } else { 0.0 };
        if onwards(reading) < farthest - turned {
            let stands = |&(reading, _): &(f64, f64)| onwards(reading) >= farthest - turned / 2.0;
            let first = since + path[since..at].iter().position(stands).unwrap_or(0);
            let steps = (at - first) as f64;
            for (step, share) in shares[first..=at].iter_mut().enumerate() {
                let taken_up = (step as f64 / steps).powi(2);
                *share = if coming_out { 1.0 - taken_up } else { taken_up };
            }
            since = at;
            coming_out = !coming_out;
            farthest = if coming_out { -reading } else { reading };
        }
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(heights: [f64; 6], forth: [f64; 6], back: [f64; 6]) {
        let readings = heights.map(|height| (height, 0.0));
        assert_eq!(coming_out(readings.into_iter()), forth);
        let mut found = coming_out(readings.into_iter().rev());
        found.reverse();
        assert_eq!(found, back);
    }

    #[test]
    fn a_reading_that_stands_still_takes_up_the_play_with_the_square_of_the_way() {
        check(
            [0.0, 9.0, 9.0, 9.0, 9.0, 5.0],
            [0.0, 0.0, 1.0 / 16.0, 4.0 / 16.0, 9.0 / 16.0, 1.0],
            [1.0, 9.0 / 16.0, 4.0 / 16.0, 1.0 / 16.0, 0.0, 0.0],
        );
    }

    #[test]
    fn a_falling_land_lacks_only_when_it_is_met_edge_first() {
        check(
            [0.0, 9.0, 8.0, 7.0, 6.0, 0.0],
            [0.0, 0.0, 1.0, 1.0, 1.0, 1.0],
            [1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        );
    }

    #[test]
    fn a_land_that_rises_again_lacks_before_its_heel_when_it_is_met_heel_first() {
        check(
            [0.0, 9.0, 6.0, 7.0, 8.0, 0.0],
            [0.0, 0.0, 1.0, 0.0, 0.0, 1.0],
            [1.0, 0.0, 1.0, 1.0, 0.0, 0.0],
        );
    }
}
