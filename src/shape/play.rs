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
/// `play` is what the reading then lacks of coming down, on average, in mm; it is taken up over
/// twice as much travel. Turned the cutting way the plunger was pushed in by the edge and comes out
/// where the land falls; turned the backing way it is pushed in all the way from a land's lowest
/// place up to its edge and lacks nothing there, but behind the lowest place, if the land stands up
/// again at its heel.
pub(super) fn without_play(path: &mut [PathPoint], merged: &Merged, play: f64) {
    if play <= 0.0 {
        return;
    }
    let cutting = cutting_share(merged);
    let forth = coming_out(path.iter(), play);
    let back = coming_out(path.iter().rev(), play);
    let both = forth.into_iter().zip(back.into_iter().rev());
    for (point, (forth, back)) in path.iter_mut().zip(both) {
        point.place.height -= play * (cutting * lacks(forth) + (1.0 - cutting) * lacks(back));
    }
}

/// What a reading is too high on average, in `play`, where this share of the whole hysteresis is
/// taken up outwards.
///
/// The play may be anything up to the whole hysteresis `H`. After a travel `t` out of its turning
/// point one of `h` has left `min(t, h)`, which is `t - t² / 2H` on average over all `h` from 0 to
/// `H`; `play` is half of `H`.
fn lacks(taken_up: f64) -> f64 {
    taken_up * (2.0 - taken_up)
}

/// How far the play is taken up outwards at each point: 0 going in, 1 coming out.
///
/// A tooth begins, from either side, with the way up out of a gap.
fn coming_out<'p>(path: impl Iterator<Item = &'p PathPoint>, play: f64) -> Vec<f64> {
    let mut before: Option<f64> = None;
    let mut out = 0.0;
    path.map(|point| {
        let height = point.place.height;
        if let Some(before) = before {
            out = (out + (before - height) / (2.0 * play)).clamp(0.0, 1.0);
        }
        before = Some(height);
        out
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::super::path::Place;
    use super::*;

    #[track_caller]
    fn check(heights: [f64; 6], forth: [f64; 6], back: [f64; 6]) {
        let path = heights.map(|height| PathPoint {
            place: Place { arc: 0.0, height },
            scatter: 0.0,
            cell: 0,
        });
        assert_eq!(coming_out(path.iter(), 0.5), forth);
        let mut found = coming_out(path.iter().rev(), 0.5);
        found.reverse();
        assert_eq!(found, back);
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
