//! What the plunger's play leaves in readings, by the way that the plunger was moving.

use super::place::PathPoint;
use crate::quantity::Length;
use crate::trace::{Cell, Merged, Turning};
use std::f64::consts::TAU;

/// A direction in which less than this part of all turning was done counts as nudges (chosen, no
/// source).
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
/// Turned the cutting way the plunger was pushed in by the edge and comes out where the land falls; turned the backing way
/// it is pushed in all the way from a land's lowest place up to its edge and lacks nothing there,
/// but behind the lowest place, if the land stands up again at its heel.
pub(super) fn without_play(path: &mut [PathPoint], merged: &Merged, lag: Lag) {
    if lag.0 <= 0.0 {
        return;
    }
    let cutting = cutting_share(merged);
    // The plunger goes with the readings, whatever the clamping is taken to be.
    let look = |point: &PathPoint| Looked {
        at: point.place.arc,
        ..looked(&merged.cells[point.cell])
    };
    let forth = lag.along(path.iter().map(look));
    let back = lag.along(path.iter().rev().map(look));
    let both = forth.into_iter().zip(back.into_iter().rev());
    for (point, (forth, back)) in path.iter_mut().zip(both) {
        point.place.height -= cutting * forth.lag + (1.0 - cutting) * back.lag;
        // Of the two or three places that hang on one turn the corner takes each by itself.
        let doubt = (cutting * forth.doubt).hypot((1.0 - cutting) * back.doubt);
        point.scatter = point.scatter.hypot(doubt);
    }
}

/// A reference trace without the play that its readings have on average: `play` is what they lack of
/// coming down while the plunger comes out.
///
/// Turned one way only, play shifts where a round seems to stand highest, and takes a little off its
/// swing.
pub fn round_without_play(reference: &Merged, play: Length) -> Merged {
    let cells = &reference.cells;
    let cutting = cutting_share(reference);
    // How the plunger was moving at the first place shows by the end of the turn before, and what
    // the last one lacks may show in the turn after.
    let turn = |number: f64| {
        cells.iter().map(move |cell| Looked {
            at: cell.angle.rad() + number * TAU,
            ..looked(cell)
        })
    };
    let thrice: Vec<Looked> = [0.0, 1.0, 2.0].into_iter().flat_map(turn).collect();
    let lag = Lag::of(play);
    let middle = cells.len()..2 * cells.len();
    let forth = &lag.along(thrice.iter().copied())[middle.clone()];
    let back = &lag.along(thrice.iter().rev().copied())[middle];
    let both = forth.iter().zip(back.iter().rev());
    let without = cells.iter().zip(both).map(|(cell, (forth, back))| Cell {
        reading: cell.reading - Length::from_mm(cutting * forth.lag + (1.0 - cutting) * back.lag),
        ..*cell
    });
    Merged {
        cells: without.collect(),
        ..reference.clone()
    }
}

/// What was read at a place.
#[derive(Clone, Copy)]
struct Looked {
    /// On the encoder, growing or falling; radians.
    at: f64,
    /// In mm.
    reading: f64,
    /// By how much a reading must go the other way before the plunger is taken to have turned
    /// round; mm.
    turned: f64,
}

fn looked(cell: &Cell) -> Looked {
    Looked {
        at: cell.angle.rad(),
        reading: cell.reading.mm(),
        turned: (cell.standard_error.mm() * TURNED_ROUND).max(LEAST_TURN),
    }
}

/// A reading must go this many of its scatters the other way before the plunger is taken to have
/// turned round (chosen, no source).
const TURNED_ROUND: f64 = 4.0;
/// The least that it must go, in mm; ideal data have no scatter.
const LEAST_TURN: f64 = 1e-6;

/// A plateau of no more places than this says too little of itself: where the surface turned is told
/// by the places after it.
const SHORT: usize = 3;

/// How far readings stay behind a plunger that comes out: all of this, in mm.
#[derive(Clone, Copy)]
pub(super) struct Lag(f64);

/// What a reading lacks of coming down, and its standard uncertainty from where the plunger turned
/// round; mm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Lacks {
    lag: f64,
    doubt: f64,
}

impl Lag {
    pub fn of(play: Length) -> Self {
        Self(play.mm())
    }

    /// What each reading lacks of coming down, in mm: nothing going in, all of the play coming out.
    ///
    /// Where the plunger turns round, the reading stands still until all of its play is taken up,
    /// and as soon as it moves it lacks all of it, whatever that is. In between a surface that turns
    /// as a parabola does takes it up with the square of the way. A tooth begins, from either side,
    /// with the way up out of a gap.
    fn along(self, readings: impl Iterator<Item = Looked>) -> Vec<Lacks> {
        let Self(play) = self;
        let path: Vec<Looked> = readings.collect();
        let mut lags = vec![Lacks::default(); path.len()];
        let mut coming_out = false;
        // How far in, or out, the plunger has been since it last turned round.
        let mut farthest = f64::NEG_INFINITY;
        let mut since = 0;
        for at in 0..path.len() {
            let onwards = |reading: f64| if coming_out { -reading } else { reading };
            let Looked {
                reading, turned, ..
            } = path[at];
            farthest = farthest.max(onwards(reading));
            lags[at].lag = if coming_out { play } else { 0.0 };
            if onwards(reading) < farthest - turned {
                let stands = |look: &Looked| onwards(look.reading) >= farthest - turned / 2.0;
                let plateau = &path[since..at];
                let first = since + plateau.iter().position(stands).unwrap_or(0);
                let last = since + plateau.iter().rposition(stands).unwrap_or(0);
                let turn = Turn::found(&path, first..=last, onwards(farthest), play);
                for (look, lacks) in path[first..=at].iter().zip(&mut lags[first..=at]) {
                    let taken_up = turn.way(look.at);
                    *lacks = Lacks {
                        lag: if coming_out {
                            play - taken_up.min(play)
                        } else {
                            taken_up.min(play)
                        },
                        doubt: turn.doubt(look.at, play),
                    };
                }
                since = at;
                coming_out = !coming_out;
                farthest = if coming_out { -reading } else { reading };
            }
        }
        lags
    }
}

/// Where a surface turned round under the plunger, and how fast it went from there.
#[derive(Clone, Copy)]
struct Turn {
    at: f64,
    /// In mm for the square of a radian; infinite for a surface that went at once.
    bend: f64,
    forward: f64,
    /// How far its place may be off, as a standard uncertainty.
    blurred: f64,
}

impl Turn {
    /// From the plateau that was read at `level` while the play was taken up.
    fn found(
        path: &[Looked],
        plateau: std::ops::RangeInclusive<usize>,
        level: f64,
        play: f64,
    ) -> Self {
        let (first, last) = (*plateau.start(), *plateau.end());
        let after = |by: usize| path.get(last + by);
        let beyond = after(1).unwrap_or(&path[last]).at;
        let short = last - first < SHORT;
        let places = (last + 1 - first) as f64;
        let apart = (beyond - path[first].at).abs() / places;
        let of = |at: f64, until: f64| Self {
            at,
            bend: play / (until - at).powi(2),
            forward: (until - at).signum(),
            // Anywhere between two places.
            blurred: if short { apart / 12f64.sqrt() } else { 0.0 },
        };
        let plain = of(path[first].at, beyond);
        let (Some(one), Some(two)) = (after(1), after(2)) else {
            return plain;
        };
        if !short {
            return plain;
        }
        // The root of the way down grows with the way along.
        let root = |look: &Looked| ((level - look.reading).abs() + play).sqrt();
        let rate = (root(two) - root(one)) / (two.at - one.at);
        let at = one.at - root(one) / rate;
        let until = at + play.sqrt() / rate;
        // No sooner than the place before the plateau, no later than its end.
        let before = path[first.saturating_sub(1)].at;
        let inside =
            |at: f64| (at - before) * plain.forward >= 0.0 && (beyond - at) * plain.forward >= 0.0;
        if inside(at) && inside(until) {
            of(at, until)
        } else {
            plain
        }
    }

    /// How far the surface has gone at a place, in mm.
    fn way(self, at: f64) -> f64 {
        let since = ((at - self.at) * self.forward).max(0.0);
        if since == 0.0 {
            0.0
        } else {
            self.bend * since * since
        }
    }

    /// Standard uncertainty of what is taken up at a place, of a whole `play`.
    fn doubt(self, at: f64, play: f64) -> f64 {
        // To either side of the turn, and of where all of it is taken up, as far as it may be off.
        let either = |by: f64| self.way(at + by).min(play);
        (either(self.blurred) - either(-self.blurred)).abs() / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(heights: [f64; 6], forth: [f64; 6], back: [f64; 6]) {
        let looks = std::array::from_fn::<_, 6, _>(|at| Looked {
            at: at as f64,
            reading: heights[at],
            turned: LEAST_TURN,
        });
        let lags = |looks: &mut dyn Iterator<Item = Looked>| -> Vec<f64> {
            let lacks = Lag(1.0).along(looks);
            lacks.into_iter().map(|lacks| lacks.lag).collect()
        };
        assert_eq!(lags(&mut looks.into_iter()), forth);
        let mut found = lags(&mut looks.into_iter().rev());
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

    #[test]
    fn a_surface_that_turned_between_two_readings_is_told_by_those_after_it() {
        let (play, bend, top) = (2.0, 0.9, 2.3);
        let way = |at: f64| bend * (at - top).powi(2);
        let lacks = |at: f64| if at > top { way(at).min(play) } else { 0.0 };
        let looks = (0..8).map(f64::from).map(|at| Looked {
            at,
            reading: lacks(at) - way(at),
            turned: LEAST_TURN,
        });
        for (at, found) in (0..8).map(f64::from).zip(Lag(play).along(looks)) {
            assert!((found.lag - lacks(at)).abs() < 0.03, "{at}: {found:?}");
            // Only while it is taken up, or nearly, does the place of the turn matter.
            let near = (3.0..=4.0).contains(&at);
            assert_eq!(found.doubt > 0.0, near, "{at}: {found:?}");
        }
    }
}
