//! What finished grinds teach of the errors of settings: generalised least squares over records.

use crate::numeric::linear;
use nalgebra::{DMatrix, DVector};

/// The settings whose errors are told, in this order.
pub const TAUGHT: [crate::card::Setting; 3] = [
    crate::card::Setting::ThrowGain,
    crate::card::Setting::CamAngle,
    crate::card::Setting::Feed,
];

/// One figure of a finished grind beside what was predicted for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Taught {
    /// Which record it is from: settings of one grind were read off once.
    pub record: usize,
    /// Measured less predicted, in the figure's unit.
    pub difference: f64,
    /// Standard uncertainty of that, but for what the settings bring.
    pub uncertainty: f64,
    /// What the figure does for each of [`TAUGHT`]: by 1 of the throw's gain, by a degree of the cam
    /// angle, by 1 of the stock over the feed.
    pub by: [f64; 3],
}

/// How far settings stray from their scales in one grind, and how far a scale may be off at all, as
/// standard uncertainties in the units of [`TAUGHT`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scales {
    /// By graduation and play, anew in each grind.
    pub set: [f64; 3],
    /// Before anything was learnt.
    pub before: [f64; 3],
}

/// What is likely before anything was learnt: scales of throws are good to 5 %, indices to 2°, and a
/// wheel takes off a tenth more or less than is fed in (common practice, no source).
pub const BEFORE: [f64; 3] = [0.05, 2.0, 0.1];

/// Farther than this many times what is likely no scale is off: something else is (common practice, no
/// source).
const BEYOND_BELIEF: f64 = 3.0;

/// The errors that finished grinds tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Learnt {
    /// Each of [`TAUGHT`]: its error and the standard uncertainty of it.
    pub each: [(f64, f64); 3],
    /// Which of them are told from zero by themselves, with 95 % probability.
    pub told: [bool; 3],
    /// Whether all of them together are, though none may be by itself: then their sum is known, and
    /// which of them it is is not.
    pub together: bool,
    /// Whether one of them is farther off than scales are: the tool was not ground from this set-up, or
    /// something moved. Nothing is told then.
    pub strange: bool,
}

impl Learnt {
    /// Which of them a next set-up is corrected by: those that are told from zero, or all where only
    /// their sum is.
    pub fn corrects(&self) -> [bool; 3] {
        match self.told.contains(&true) {
            true => self.told,
            false => [self.together; 3],
        }
    }
}

/// Errors of settings from what was predicted and what came out; `None` without rows, or where a number
/// is not finite.
///
/// Each scale's error is taken as likely as [`Scales::before`] says, so that one grind, which cannot tell
/// them apart, is laid to all of them by how likely each is. Rows of one record share what its settings
/// strayed: their covariance is full, not diagonal.
pub fn learn(rows: &[Taught], scales: &Scales) -> Option<Learnt> {
    let mut rows = rows.to_vec();
    loop {
        let learnt = fitted(&rows, scales)?;
        match farthest(&rows, &learnt, scales) {
            Some(at) if rows.len() > 2 => {
                rows.remove(at);
            }
            _ => return Some(learnt),
        }
    }
}

/// The row that stands off what all of them tell by more than chance lets it, farthest first: a figure of
/// a land that was left old in part, or of another tool. (Data snooping as surveyors do it, W. Baarda
/// 1968, at a risk of 1 in 1000; from memory.)
fn farthest(rows: &[Taught], learnt: &Learnt, scales: &Scales) -> Option<usize> {
    const BEYOND: f64 = 3.29;
    let off = rows.iter().map(|row| {
        let told: f64 = (0..3).map(|of| row.by[of] * learnt.each[of].0).sum();
        let set = (0..3).map(|of| (row.by[of] * scales.set[of]).powi(2));
        let u = (row.uncertainty.powi(2) + set.sum::<f64>()).sqrt();
        ((row.difference - told) / u).abs()
    });
    let (at, off) = off
        .enumerate()
        .max_by(|one, other| one.1.total_cmp(&other.1))?;
    (off > BEYOND).then_some(at)
}

fn fitted(rows: &[Taught], scales: &Scales) -> Option<Learnt> {
    if rows.is_empty() {
        return None;
    }
    let count = rows.len() + 3;
    let mut covariance = DMatrix::<f64>::zeros(count, count);
    let mut design = DMatrix::<f64>::zeros(count, 3);
    let mut observed = DVector::<f64>::zeros(count);
    for (at, row) in rows.iter().enumerate() {
        observed[at] = row.difference;
        for (with, other) in rows.iter().enumerate() {
            if row.record == other.record {
                let each = (0..3).map(|of| row.by[of] * other.by[of] * scales.set[of].powi(2));
                covariance[(at, with)] = each.sum();
            }
        }
        covariance[(at, at)] += row.uncertainty.powi(2);
        for of in 0..3 {
            design[(at, of)] = row.by[of];
        }
    }
    for of in 0..3 {
        let at = rows.len() + of;
        design[(at, of)] = 1.0;
        covariance[(at, at)] = scales.before[of].powi(2);
    }
    let (values, covariance) = generalised(&design, &observed, &covariance)?;
    // Chi-square of three degrees of freedom, upper 5 % (any table of it: 7.815).
    let weighed = covariance.clone().try_inverse()?;
    let chi = (values.transpose() * weighed * &values)[(0, 0)];
    let prior: f64 = (0..3)
        .map(|of| (values[of] / scales.before[of]).powi(2))
        .sum();
    let each = [0, 1, 2].map(|of| (values[of], covariance[(of, of)].max(0.0).sqrt()));
    let strange = [0, 1, 2].map(|of| each[of].0.abs() > BEYOND_BELIEF * scales.before[of]);
    Some(Learnt {
        told: [0, 1, 2].map(|of| each[of].0.abs() > 1.96 * each[of].1 && !strange.contains(&true)),
        strange: strange.contains(&true),
        together: chi - prior > 7.815 && !strange.contains(&true),
        each,
    })
}

/// Generalised least squares: the values that bring `design * values` closest to `observed`, weighed by
/// the inverse of its covariance, and their own covariance. `None` where columns depend on each other
/// or the covariance is none.
pub fn generalised(
    design: &DMatrix<f64>,
    observed: &DVector<f64>,
    covariance: &DMatrix<f64>,
) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let factor = linear::lower_factor(covariance);
    let white = factor.solve_lower_triangular(design)?;
    let seen = factor.solve_lower_triangular(observed)?;
    let fit = linear::least_squares(&white, &seen)?;
    let own = (white.transpose() * &white).try_inverse()?;
    let finite = fit.values.iter().chain(own.iter()).all(|it| it.is_finite());
    finite.then_some((fit.values, own))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Published (status `published` in `fits.csv`): general numerical library, documentation pages,
    /// example f08zbc: weights as standard deviations .5, 1, 2, 5.
    #[test]
    fn the_printed_example_of_a_weighed_fit_comes_out() {
        let design = DMatrix::from_row_slice(
            4,
            3,
            &[
                -0.57, -1.28, -0.39, -1.93, 1.08, -0.31, 2.30, 0.24, -0.40, -0.02, 1.03, -1.43,
            ],
        );
        let observed = DVector::from_row_slice(&[1.32, -4.00, 5.52, 3.24]);
        let spread: [f64; 4] = [0.5, 1.0, 2.0, 5.0];
        let covariance =
            DMatrix::from_diagonal(&DVector::from_iterator(4, spread.iter().map(|it| it * it)));
        let (values, _) = generalised(&design, &observed, &covariance).unwrap();
        for (found, printed) in values.iter().zip([1.9889, -1.0058, -2.9911]) {
            assert!((found - printed).abs() < 5e-5, "{values}");
        }
    }

    fn scales() -> Scales {
        Scales {
            set: [0.003, 0.2, 0.02],
            before: BEFORE,
        }
    }

    /// Drop, total relief and diameter of a grind with these errors.
    fn grind(record: usize, errors: [f64; 3]) -> Vec<Taught> {
        let by = [[0.06, 0.004, 0.0], [0.4, 0.002, 0.0], [0.0, 0.0, -0.12]];
        let row = |by: [f64; 3]| Taught {
            record,
            difference: (0..3).map(|of| by[of] * errors[of]).sum(),
            uncertainty: 0.001,
            by,
        };
        by.map(row).to_vec()
    }

    #[test]
    fn several_grinds_tell_errors_apart_and_one_tells_their_sum() {
        let errors = [0.04, 1.5, 0.0];
        let many: Vec<Taught> = (0..8).flat_map(|record| grind(record, errors)).collect();
        let learnt = learn(&many, &scales()).unwrap();
        assert!(
            learnt.told[0] && learnt.told[1] && !learnt.told[2],
            "{learnt:?}"
        );
        assert!((learnt.each[0].0 - 0.04).abs() < 0.005, "{learnt:?}");
        assert!((learnt.each[1].0 - 1.5).abs() < 0.3, "{learnt:?}");
        let one = learn(&grind(0, errors), &scales()).unwrap();
        assert!(one.together, "{one:?}");
        let drop = 0.06 * one.each[0].0 + 0.004 * one.each[1].0;
        assert!(
            (drop - (0.06 * 0.04 + 0.004 * 1.5)).abs() < 0.002,
            "{one:?}"
        );
    }

    #[test]
    fn grinds_that_came_out_as_predicted_teach_nothing() {
        let rows: Vec<Taught> = (0..5).flat_map(|record| grind(record, [0.0; 3])).collect();
        let learnt = learn(&rows, &scales()).unwrap();
        assert_eq!((learnt.told, learnt.together), ([false; 3], false));
        assert_eq!(learn(&[], &scales()), None);
    }
}
