//! What finished grinds teach of the errors of settings: generalised least squares over records.

use crate::numeric::linear;
use nalgebra::{DMatrix, DVector};

/// The settings whose errors are told, in this order.
pub const TAUGHT: [crate::card::Setting; SETTINGS] = [
    crate::card::Setting::ThrowGain,
    crate::card::Setting::CamAngle,
    crate::card::Setting::Feed,
    crate::card::Setting::WheelWear,
];

/// How many they are.
const SETTINGS: usize = 4;
/// Where among them the in-feed is, and what the wheel loses.
const FEED: usize = 2;
const WEAR: usize = 3;

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
    /// angle, by 1 of the stock over the feed, by a mm of the wheel's radius.
    pub by: [f64; SETTINGS],
}

/// How far settings stray from their scales in one grind, and how far a scale may be off at all, as
/// standard uncertainties in the units of [`TAUGHT`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scales {
    /// By graduation and play, anew in each grind.
    pub set: [f64; SETTINGS],
    /// Before anything was learnt.
    pub before: [f64; SETTINGS],
}

/// What is likely before anything was learnt: scales of throws are good to 5 %, indices to 2°, a
/// wheel takes off a tenth more or less than is fed in, and loses a hundredth of a millimetre in a
/// grind (common practice, no source).
pub const BEFORE: [f64; SETTINGS] = [0.05, 2.0, 0.1, 0.01];

/// Farther than this many times what is likely no scale is off: something else is (common practice, no
/// source).
const BEYOND_BELIEF: f64 = 3.0;

/// The errors that finished grinds tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Learnt {
    /// Each of [`TAUGHT`]: its error and the standard uncertainty of it.
    pub each: [(f64, f64); SETTINGS],
    /// Which of them are told from zero by themselves, with 95 % probability.
    pub told: [bool; SETTINGS],
    /// Whether in-feed and wear are told from zero together and neither is by itself: too little or too
    /// much stock came off, and which of them did it is not known.
    pub stock_together: bool,
    /// Whether all of them together are, though none may be by itself: then their sum is known, and
    /// which of them it is is not.
    pub together: bool,
    /// Whether one of them is farther off than scales are: the tool was not ground from this set-up, or
    /// something moved. Nothing is told then.
    pub strange: bool,
}

/// Settings of which only the sum is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// What is fed in, and what the wheel loses.
    Stock,
    /// All that a fixture is set to.
    All,
}

impl Learnt {
    /// With which others the one at this place of [`TAUGHT`] is told from zero together, where it is not by
    /// itself.
    pub fn part(&self, of: usize) -> Option<Part> {
        use crate::card::Setting::{Feed, WheelWear};
        let none_alone = !self.told.contains(&true);
        match self.told[of] {
            true => None,
            false if self.stock_together && matches!(TAUGHT[of], Feed | WheelWear) => {
                Some(Part::Stock)
            }
            false if none_alone && self.together => Some(Part::All),
            false => None,
        }
    }

    /// Which of them a next set-up is corrected by: those that are told from zero, or all where only
    /// their sum is.
    pub fn corrects(&self) -> [bool; SETTINGS] {
        // A wheel that loses nothing is no correction.
        let none =
            |of: usize| TAUGHT[of] == crate::card::Setting::WheelWear && self.each[of].0 <= 0.0;
        std::array::from_fn(|of| (self.told[of] || self.part(of).is_some()) && !none(of))
    }
}

/// Errors of settings from what was predicted and what came out; `None` without rows, or where a number
/// is not finite.
///
/// Each scale's error is taken as likely as [`Scales::before`] says, so that one grind, which cannot tell
/// them apart, is laid to all of them by how likely each is. Rows of one record share what its settings
/// strayed: their covariance is full, not diagonal. No wheel grows: where it would have to, it is taken
/// to lose nothing.
pub fn learn(rows: &[Taught], scales: &Scales) -> Option<Learnt> {
    let mut rows = rows.to_vec();
    loop {
        let learnt = wearing(&rows, scales)?;
        match farthest(&rows, &learnt, scales) {
            Some(at) if rows.len() > 2 => {
                rows.remove(at);
            }
            _ => return Some(learnt),
        }
    }
}

fn wearing(rows: &[Taught], scales: &Scales) -> Option<Learnt> {
    let learnt = fitted(rows, scales)?;
    if learnt.each[WEAR].0 >= 0.0 {
        return Some(learnt);
    }
    let whole: Vec<Taught> = rows.to_vec();
    let whole = whole.into_iter().map(|mut row| {
        row.by[WEAR] = 0.0;
        row
    });
    let whole: Vec<Taught> = whole.collect();
    fitted(&whole, scales)
}

/// What stands farther off than this many of its standard uncertainties is no chance: a risk of 1 in
/// 1000.
const STANDS_OFF: f64 = 3.29;

/// The row that stands off what all of them tell by more than chance lets it, farthest first: a figure of
/// a land that was left old in part, or of another tool. (Data snooping as surveyors do it, W. Baarda
/// 1968, at a risk of 1 in 1000; from memory.)
fn farthest(rows: &[Taught], learnt: &Learnt, scales: &Scales) -> Option<usize> {
    let off = rows.iter().map(|row| {
        let told: f64 = (0..SETTINGS).map(|of| row.by[of] * learnt.each[of].0).sum();
        let set = (0..SETTINGS).map(|of| (row.by[of] * scales.set[of]).powi(2));
        let u = (row.uncertainty.powi(2) + set.sum::<f64>()).sqrt();
        ((row.difference - told) / u).abs()
    });
    let (at, off) = off
        .enumerate()
        .max_by(|one, other| one.1.total_cmp(&other.1))?;
    (off > STANDS_OFF).then_some(at)
}

fn fitted(rows: &[Taught], scales: &Scales) -> Option<Learnt> {
    if rows.is_empty() {
        return None;
    }
    let count = rows.len() + SETTINGS;
    let mut covariance = DMatrix::<f64>::zeros(count, count);
    let mut design = DMatrix::<f64>::zeros(count, SETTINGS);
    let mut observed = DVector::<f64>::zeros(count);
    for (at, row) in rows.iter().enumerate() {
        observed[at] = row.difference;
        for (with, other) in rows.iter().enumerate() {
            if row.record == other.record {
                let each =
                    (0..SETTINGS).map(|of| row.by[of] * other.by[of] * scales.set[of].powi(2));
                covariance[(at, with)] = each.sum();
            }
        }
        covariance[(at, at)] += row.uncertainty.powi(2);
        for of in 0..SETTINGS {
            design[(at, of)] = row.by[of];
        }
    }
    for of in 0..SETTINGS {
        let at = rows.len() + of;
        design[(at, of)] = 1.0;
        covariance[(at, at)] = scales.before[of].powi(2);
    }
    let (values, covariance) = generalised(&design, &observed, &covariance)?;
    Some(judged(&values, &covariance, scales))
}

fn judged(values: &DVector<f64>, covariance: &DMatrix<f64>, scales: &Scales) -> Learnt {
    let all: [usize; SETTINGS] = std::array::from_fn(|of| of);
    let each = all.map(|of| (values[of], covariance[(of, of)].max(0.0).sqrt()));
    let strange = all.map(|of| each[of].0.abs() > BEYOND_BELIEF * scales.before[of]);
    let strange = strange.contains(&true);
    let told = all.map(|of| each[of].0.abs() > 1.96 * each[of].1 && !strange);
    // Chi-square, upper 5 % (any table of it): 9.488 of four degrees of freedom, 5.991 of two.
    let from_zero = |of: &[usize], limit: f64| {
        let part = DVector::from_iterator(of.len(), of.iter().map(|at| values[*at]));
        let own = covariance.select_rows(of).select_columns(of);
        let chi = own
            .try_inverse()
            .map(|own| (part.transpose() * own * &part)[(0, 0)]);
        let likely: f64 = of
            .iter()
            .map(|at| (values[*at] / scales.before[*at]).powi(2))
            .sum();
        chi.is_some_and(|chi| chi - likely > limit) && !strange
    };
    let stock = !told[FEED] && !told[WEAR] && from_zero(&[FEED, WEAR], 5.991);
    Learnt {
        stock_together: stock,
        together: from_zero(&all, 9.488),
        strange,
        told,
        each,
    }
}

/// A swivel's zero is likely to be this good before anything was learnt, in degrees (common practice, no
/// source).
pub const SWIVEL_BEFORE: f64 = 1.0;

/// What one setting stands over its scale, from grinds that show it each by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LearntZero {
    /// How far.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// Whether it is told from zero, with 95 % probability.
    pub told: bool,
    /// Whether it is farther off than scales are.
    pub strange: bool,
}

/// The zero of a scale from what each grind shows of it, with the standard uncertainty of that;
/// `before` is how good it is likely to be. `None` without grinds, or where a number is not finite.
pub fn learn_zero(shown: &[(f64, f64)], before: f64) -> Option<LearntZero> {
    let mut shown = shown.to_vec();
    loop {
        let weights: f64 = shown.iter().map(|(_, u)| u.powi(-2)).sum();
        let sum: f64 = shown.iter().map(|(value, u)| value * u.powi(-2)).sum();
        let weight = weights + before.powi(-2);
        let (value, u) = (sum / weight, weight.sqrt().recip());
        if shown.is_empty() || !(value.is_finite() && u.is_finite() && u > 0.0) {
            return None;
        }
        let off = shown.iter().map(|(one, u)| ((one - value) / u).abs());
        let farthest = off
            .enumerate()
            .max_by(|one, other| one.1.total_cmp(&other.1));
        match farthest {
            Some((at, off)) if off > STANDS_OFF && shown.len() > 2 => {
                shown.remove(at);
            }
            _ => {
                let strange = value.abs() > BEYOND_BELIEF * before;
                return Some(LearntZero {
                    value,
                    standard_uncertainty: u,
                    told: value.abs() > 1.96 * u && !strange,
                    strange,
                });
            }
        }
    }
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
            set: [0.003, 0.2, 0.02, 0.0],
            before: BEFORE,
        }
    }

    /// Drop, total relief and diameter of a grind with these errors, after an in-feed.
    fn fed(record: usize, in_feed: f64, errors: [f64; SETTINGS]) -> Vec<Taught> {
        let by = [
            [0.06, 0.004, 0.0, 0.0],
            [0.4, 0.002, 0.0, 0.0],
            [0.0, 0.0, -2.0 * in_feed, 2.0],
        ];
        let row = |by: [f64; SETTINGS]| Taught {
            record,
            difference: (0..SETTINGS).map(|of| by[of] * errors[of]).sum(),
            uncertainty: 0.001,
            by,
        };
        by.map(row).to_vec()
    }

    fn grind(record: usize, errors: [f64; SETTINGS]) -> Vec<Taught> {
        fed(record, 0.06, errors)
    }

    #[test]
    fn several_grinds_tell_errors_apart_and_one_tells_their_sum() {
        let errors = [0.04, 1.5, 0.0, 0.0];
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
        let rows: Vec<Taught> = (0..5)
            .flat_map(|record| grind(record, [0.0; SETTINGS]))
            .collect();
        let learnt = learn(&rows, &scales()).unwrap();
        assert_eq!((learnt.told, learnt.together), ([false; SETTINGS], false));
        assert_eq!(learn(&[], &scales()), None);
    }

    #[test]
    fn wear_and_feed_are_told_apart_by_grinds_of_different_depth_and_one_tells_their_sum() {
        let errors = [0.0, 0.0, 0.08, 0.02];
        let depths = [0.04, 0.06, 0.09, 0.12, 0.2, 0.3, 0.4, 0.5];
        let many = depths.iter().enumerate();
        let many: Vec<Taught> = many.flat_map(|(at, mm)| fed(at, *mm, errors)).collect();
        let learnt = learn(&many, &scales()).unwrap();
        assert_eq!(learnt.told, [false, false, true, true], "{learnt:?}");
        assert!((learnt.each[FEED].0 - 0.08).abs() < 0.02, "{learnt:?}");
        assert!((learnt.each[WEAR].0 - 0.02).abs() < 0.003, "{learnt:?}");
        let short = [0.0, 0.0, -0.05, 0.008];
        let one = learn(&fed(0, 0.06, short), &scales()).unwrap();
        assert!(one.stock_together && !one.told.contains(&true), "{one:?}");
        let stock = 0.06 * one.each[FEED].0 - one.each[WEAR].0;
        assert!((stock - (0.06 * -0.05 - 0.008)).abs() < 0.002, "{one:?}");
    }

    #[test]
    fn no_wheel_grows() {
        // More came off than was fed in, in each grind alike.
        let grew = [0.0, 0.0, 0.0, -0.008];
        let many: Vec<Taught> = (0..8).flat_map(|at| grind(at, grew)).collect();
        let learnt = learn(&many, &scales()).unwrap();
        assert!(
            learnt.each[WEAR].0.abs() < 1e-9 && !learnt.told[WEAR],
            "{learnt:?}"
        );
        assert!(learnt.each[FEED].0 > 0.1, "{learnt:?}");
    }

    #[test]
    fn the_zero_of_a_swivel_is_the_weighed_mean_and_one_that_stands_off_is_left_out() {
        let shown = [(0.40, 0.1), (0.44, 0.1), (0.36, 0.1), (0.40, 0.05)];
        let learnt = learn_zero(&shown, SWIVEL_BEFORE).unwrap();
        // 100 + 100 + 100 + 400 as weights of 0.4 in the mean, beside 1 of what was likely before.
        assert!(
            (learnt.value - 0.4 * 700.0 / 701.0).abs() < 1e-12,
            "{learnt:?}"
        );
        assert!((learnt.standard_uncertainty - 701f64.sqrt().recip()).abs() < 1e-12);
        assert!(learnt.told && !learnt.strange);
        let other: Vec<_> = shown.into_iter().chain([(2.0, 0.1)]).collect();
        assert_eq!(learn_zero(&other, SWIVEL_BEFORE), Some(learnt));
        let little = learn_zero(&[(0.1, 0.1)], SWIVEL_BEFORE).unwrap();
        assert!(!little.told);
        let far = learn_zero(&[(8.0, 0.1)], SWIVEL_BEFORE).unwrap();
        assert!(far.strange && !far.told);
        assert_eq!(learn_zero(&[], SWIVEL_BEFORE), None);
    }
}
