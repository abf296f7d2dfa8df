//! What a quantity came out as in many trials: its mean, its spread, its intervals.

use crate::numeric::moments;

/// The values of one quantity in all trials.
#[derive(Clone, Debug, PartialEq)]
pub struct Draws {
    /// Growing.
    sorted: Vec<f64>,
    mean: f64,
    standard_uncertainty: f64,
    failed: usize,
}

impl Draws {
    /// Sorts the values. What is not finite counts as a trial that failed; `None` when fewer than
    /// two are left.
    pub fn new(mut values: Vec<f64>) -> Option<Self> {
        let trials = values.len();
        values.retain(|value| value.is_finite());
        sort(&mut values);
        Some(Self {
            mean: moments::mean(&values)?,
            standard_uncertainty: moments::standard_deviation(&values)?,
            failed: trials - values.len(),
            sorted: values,
        })
    }

    /// Growing.
    pub fn sorted(&self) -> &[f64] {
        &self.sorted
    }

    /// The estimate (JCGM 101, 7.6).
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// The standard deviation of the values (JCGM 101, 7.6).
    pub fn standard_uncertainty(&self) -> f64 {
        self.standard_uncertainty
    }

    /// Trials in which the quantity could not be had.
    pub fn failed(&self) -> usize {
        self.failed
    }

    /// The interval that leaves out as many values below as above (JCGM 101, 7.7.2).
    pub fn symmetric_interval(&self, coverage: f64) -> [f64; 2] {
        let (low, high) = symmetric_ends(self.sorted.len(), coverage);
        [self.sorted[low], self.sorted[high]]
    }

    /// What these draws tell of a greatest deviation that was found as `found`, never below
    /// `floor`.
    ///
    /// Errors can only set the ends of equal ones further apart: they do so in what was found, and
    /// again in each draw. The draws tell how large the true one may be; how small, their mirror
    /// image about what was found does, which takes out as much as the errors put in. So the upper
    /// half is that of the draws and the lower half that of the mirror image.
    pub fn open_to(&self, found: f64, floor: f64) -> Self {
        let mirrored = |value: &f64| (2.0 * found - value).max(floor);
        let half = self.sorted.len() / 2;
        let lower = self.sorted.iter().rev().take(half).map(mirrored);
        let upper = self.sorted[half..].iter().copied();
        let mut sorted: Vec<f64> = lower.chain(upper).collect();
        // Where both halves meet they may overlap by chance.
        sort(&mut sorted);
        let (mean, deviation) = (moments::mean(&sorted), moments::standard_deviation(&sorted));
        Self {
            mean: mean.unwrap_or(self.mean),
            standard_uncertainty: deviation.unwrap_or(self.standard_uncertainty),
            failed: self.failed,
            sorted,
        }
    }

    /// The value that this share of all lies at or below; the nearest one that was drawn.
    pub fn quantile(&self, share: f64) -> f64 {
        let count = self.sorted.len();
        let at = (share.clamp(0.0, 1.0) * count as f64).ceil() as usize;
        self.sorted[at.clamp(1, count) - 1]
    }

    /// The share of values below a bound.
    pub fn share_below(&self, bound: f64) -> f64 {
        let count = self.sorted.partition_point(|value| *value < bound);
        count as f64 / self.sorted.len() as f64
    }

    /// The share of values at or below a bound: the probability that the quantity lies there.
    pub fn share_up_to(&self, bound: f64) -> f64 {
        let count = self.sorted.partition_point(|value| *value <= bound);
        count as f64 / self.sorted.len() as f64
    }
}

/// As `f64::total_cmp` orders them. Compared as whole numbers, whose bits are turned once and not
/// with each comparison, they sort in half the time.
fn sort(values: &mut [f64]) {
    // What turns a negative number's bits leaves its sign, so that it turns them back as well.
    let turned = |bits: i64| bits ^ (((bits >> 63) as u64) >> 1) as i64;
    let mut keys: Vec<i64> = values
        .iter()
        .map(|value| turned(value.to_bits() as i64))
        .collect();
    keys.sort_unstable();
    for (value, key) in values.iter_mut().zip(keys) {
        *value = f64::from_bits(turned(key) as u64);
    }
}

/// How many values further the upper end of an interval lies than its lower one (JCGM 101, 7.7.1).
fn held(count: usize, coverage: f64) -> usize {
    let wanted = (coverage.clamp(0.0, 1.0) * count as f64 + 0.5).floor() as usize;
    wanted.min(count - 1)
}

/// The places of both ends of the symmetric interval among sorted values, counted from 0.
pub(super) fn symmetric_ends(count: usize, coverage: f64) -> (usize, usize) {
    let held = held(count, coverage);
    // The standard counts from 1 and takes `(M - q) / 2`, rounded up.
    let low = (count - held).div_ceil(2).saturating_sub(1);
    (low, low + held)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn up_to(last: u32) -> Draws {
        Draws::new((1..=last).rev().map(f64::from).collect()).unwrap()
    }

    #[test]
    fn the_ends_of_an_interval_are_those_of_the_standard() {
        // JCGM 101, 7.7.2: M = 10,000, q = 9500, r = 250.
        assert_eq!(up_to(10_000).symmetric_interval(0.95), [250.0, 9750.0]);
        // q is rounded where 0.95 M is no whole number, and so is r.
        assert_eq!(up_to(101).symmetric_interval(0.95), [3.0, 99.0]);
        assert_eq!(up_to(2).symmetric_interval(0.95), [1.0, 2.0]);
    }

    #[test]
    fn values_grow_as_their_total_order_has_them() {
        let mut values = vec![
            1.5,
            -0.0,
            0.0,
            -2.0,
            f64::MAX,
            -1e-300,
            f64::MIN,
            1e-300,
            -2.5,
        ];
        let mut wanted = values.clone();
        sort(&mut values);
        wanted.sort_by(f64::total_cmp);
        let bits = |values: &[f64]| values.iter().map(|it| it.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&values), bits(&wanted));
    }

    #[test]
    fn a_greatest_deviation_is_open_downwards_by_the_mirror_image() {
        // Found as 3, drawn from 2 to 11: at most 3 by chance, at least nothing.
        let draws = Draws::new((2..=11).map(f64::from).collect()).unwrap();
        let open = draws.open_to(3.0, 0.0);
        assert_eq!(
            open.sorted(),
            [0.0, 0.0, 0.0, 0.0, 0.0, 7.0, 8.0, 9.0, 10.0, 11.0]
        );
        assert_eq!(open.mean(), 4.5);
    }

    #[test]
    fn what_could_not_be_had_is_counted_and_left_out() {
        let draws = Draws::new(vec![2.0, f64::NAN, 1.0, f64::INFINITY]).unwrap();
        assert_eq!((draws.failed(), draws.mean()), (2, 1.5));
        assert_eq!(draws.share_up_to(1.0), 0.5);
        assert_eq!((draws.share_below(1.0), draws.share_below(1.5)), (0.0, 0.5));
        assert_eq!((draws.quantile(0.5), draws.quantile(0.51)), (1.0, 2.0));
        assert!(Draws::new(vec![1.0, f64::NAN]).is_none());
    }
}
