//! Which points of a path rode over one corner.

use super::corner::{Corner, Rounding};
use super::view::{CORNER_ROUNDNESS, View};
use std::ops::Range;

/// A run shorter than this is not shortened any more (chosen, no source).
pub(super) const FEWEST_ON_CORNER: usize = 4;
/// A radius that fewer points ask for is not told (chosen, no source).
pub(super) const FEWEST_ON_ROUNDING: usize = 8;
/// Points that stand off by more than this part of the ball's radius on average are on no corner
/// (chosen, no source).
const CORNER_MISFIT: f64 = 0.02;

/// Fits a corner to a run of points, takes in those beside it that may belong and lie on the path
/// over the same corner, gives up those that do not, and again until the run stays.
pub(super) fn settle_on_corner(
    view: &View,
    mut low: usize,
    mut high: usize,
    rounding: Rounding,
    may_belong: impl Fn(&Corner, usize) -> bool,
) -> Option<(Range<usize>, Corner)> {
    let fewest = match rounding {
        Rounding::Known(_) => FEWEST_ON_CORNER,
        Rounding::Fitted => FEWEST_ON_CORNER + 1,
    };
    let mut corner = view.corner(low..high, rounding)?;
    let ball = view.clamping.tip.size().mm();
    for _ in 0..8 {
        let before = (low, high);
        let belongs =
            |corner: &Corner, i: usize| may_belong(corner, i) && view.fits_corner(i, corner);
        while high < view.path.len() && belongs(&corner, high) {
            high += 1;
        }
        while low > 0 && belongs(&corner, low - 1) {
            low -= 1;
        }
        while high - low > fewest && !view.fits_corner(high - 1, &corner) {
            high -= 1;
        }
        while high - low > fewest && !view.fits_corner(low, &corner) {
            low += 1;
        }
        corner = view.corner(low..high, rounding)?;
        if before == (low, high) {
            break;
        }
    }
    let mean_off = (low..high)
        .map(|i| view.stands_off(i, &corner).abs())
        .sum::<f64>()
        / (high - low) as f64;
    // A run that does not close up on one point is no ride over a corner.
    (mean_off < CORNER_MISFIT * ball + CORNER_ROUNDNESS).then_some((low..high, corner))
}
