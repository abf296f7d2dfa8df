//! A skim in passes of the in-feed.

use crate::quantity::Length;

/// In-feeds one after the other that come to the skim: rough ones first, the last two fine.
///
/// Roughing 0.02 mm a pass, finishing 0.005 mm, as small edges are ground (common practice, no
/// source). With a coarser slide no pass is smaller than its step.
pub(super) fn passes(skim: Length, step: Option<Length>) -> Vec<Length> {
    const ROUGH: f64 = 0.02;
    const FINE: f64 = 0.005;
    let step = step.map_or(0.001, Length::mm).max(1e-4);
    let in_steps = |wanted: f64| (wanted / step).round().max(1.0);
    let all = (skim.mm() / step).round() as i64;
    let (rough, fine) = (in_steps(ROUGH) as i64, in_steps(FINE) as i64);
    let mut left = all;
    let mut passes = Vec::new();
    // A skim of tenths of a millimetre is no skim: its roughing is told as one line of the sheet.
    while left > 2 * fine {
        let pass = rough.min(left - 2 * fine);
        passes.push(pass);
        left -= pass;
    }
    while left > 0 {
        let pass = fine.min(left);
        passes.push(pass);
        left -= pass;
    }
    let passes = passes.into_iter();
    passes
        .map(|pass| Length::from_mm(pass as f64 * step))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(skim_mm: f64, step_mm: Option<f64>, expected: &[f64]) {
        let passes = passes(Length::from_mm(skim_mm), step_mm.map(Length::from_mm));
        let found: Vec<i64> = passes
            .iter()
            .map(|it| (it.mm() * 1e4).round() as i64)
            .collect();
        let expected: Vec<i64> = expected
            .iter()
            .map(|mm| (mm * 1e4).round() as i64)
            .collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn the_last_passes_are_fine_and_all_come_to_the_skim() {
        check(0.055, Some(0.005), &[0.02, 0.02, 0.005, 0.005, 0.005]);
        check(0.010, Some(0.005), &[0.005, 0.005]);
        check(0.05, Some(0.01), &[0.02, 0.01, 0.01, 0.01]);
        check(0.0, Some(0.01), &[]);
    }
}
