//! The indicator's error along its travel, drawn as one path.

use super::super::Random;
use super::super::draw::unit_normal;
use super::super::standard::ERROR_TRAVEL;
use crate::card::Indicator;
use crate::quantity::Length;
use statrs::function::erf::erf;

/// Readings nearer to each other than this share an error: a twenty-fifth of the travel over which
/// errors are alike.
const STEP: Length = Length::from_mm(0.01);

/// Draws errors at the travels of all readings that a feature's figures use.
///
/// At each travel the error is rectangular within the indicator's limits, and what it is at two
/// travels is correlated as `exp(-travel / 0.25 mm)`: a normal Markov process along the travel, each
/// value of which is then carried over to the rectangular distribution.
pub(super) struct ErrorPath {
    /// In steps of travel, growing.
    places: Vec<i64>,
    /// From each place to the next: what is carried on, and what is new.
    steps: Vec<(f64, f64)>,
    limit_mm: f64,
    rectangular: Carried,
}

impl ErrorPath {
    pub fn over(indicator: &Indicator, travels: impl IntoIterator<Item = Length>) -> Self {
        let mut places: Vec<i64> = travels.into_iter().map(place).collect();
        places.sort_unstable();
        places.dedup();
        let carried = |pair: &[i64]| (-((pair[1] - pair[0]) as f64 * (STEP / ERROR_TRAVEL))).exp();
        let onwards = places
            .windows(2)
            .map(carried)
            .map(|carried| (carried, (1.0 - carried * carried).sqrt()));
        Self {
            steps: std::iter::once((0.0, 1.0)).chain(onwards).collect(),
            places,
            limit_mm: indicator.max_error.mm(),
            rectangular: Carried::new(),
        }
    }

    /// How many errors a draw gives.
    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// Which of the errors a reading at this travel has.
    pub fn index(&self, travel: Length) -> usize {
        let wanted = place(travel);
        let after = self.places.partition_point(|place| *place < wanted);
        after.min(self.places.len().saturating_sub(1))
    }

    /// The errors that readings with weights have, weights that belong to the same one together.
    pub fn gathered(&self, readings: impl IntoIterator<Item = (Length, f64)>) -> Vec<(usize, f64)> {
        summed(
            readings
                .into_iter()
                .map(|(travel, weight)| (self.index(travel), weight)),
        )
    }

    /// Fills in an error for each place, in mm.
    pub fn draw(&self, random: &mut Random, errors: &mut [f64]) {
        let mut normal = 0.0;
        for (error, (carried, fresh)) in errors.iter_mut().zip(&self.steps) {
            normal = carried * normal + fresh * unit_normal(random);
            *error = self.limit_mm * self.rectangular.at(normal);
        }
    }
}

/// The weights of readings by the place of travel whose error they share, places growing.
pub(super) fn by_place(readings: Vec<(Length, f64)>) -> Vec<(i64, f64)> {
    let placed = readings.into_iter();
    summed(placed.map(|(travel, weight)| (place(travel), weight)))
}

fn summed<K: Ord>(weights: impl Iterator<Item = (K, f64)>) -> Vec<(K, f64)> {
    let mut sums = std::collections::BTreeMap::new();
    for (key, weight) in weights {
        *sums.entry(key).or_insert(0.0) += weight;
    }
    sums.into_iter().collect()
}

/// Carries a normal number over to the rectangular distribution from -1 to 1: `erf(x / sqrt 2)`,
/// interpolated in a table.
struct Carried {
    /// At 0, `STEP`, ... up to `END`.
    values: Vec<f64>,
}

impl Carried {
    /// Straight lines over such steps are off by 1e-6 at most, a millionth of the limit.
    const STEP: f64 = 1.0 / 256.0;
    /// Beyond it less than 1e-8 is left.
    const END: f64 = 6.0;

    fn new() -> Self {
        let count = (Self::END / Self::STEP) as usize;
        let value = |at: usize| erf(at as f64 * Self::STEP * std::f64::consts::FRAC_1_SQRT_2);
        Self {
            values: (0..=count).map(value).collect(),
        }
    }

    fn at(&self, normal: f64) -> f64 {
        let place = normal.abs() / Self::STEP;
        let before = place as usize;
        let size = match self.values.get(before..before + 2) {
            Some(ends) => ends[0] + (ends[1] - ends[0]) * (place - before as f64),
            None => 1.0,
        };
        size.copysign(normal)
    }
}

fn place(travel: Length) -> i64 {
    (travel / STEP).round() as i64
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::numeric::moments;
    use rand::SeedableRng;

    #[test]
    fn what_is_carried_over_is_the_error_function() {
        let carried = Carried::new();
        for step in -7000..=7000 {
            let normal = f64::from(step) * 1e-3;
            let wanted = erf(normal * std::f64::consts::FRAC_1_SQRT_2);
            let off = (carried.at(normal) - wanted).abs();
            assert!(off < 1e-6, "{normal}: {off}");
        }
        assert_eq!(carried.at(f64::INFINITY), 1.0);
    }

    #[test]
    fn errors_are_rectangular_and_alike_nearby() {
        let indicator = Indicator {
            max_error: Length::from_um(3.0),
            resolution: Length::from_um(1.0),
            travel: None,
            count: None,
            hysteresis: Length::ZERO,
            lever_angle: crate::quantity::Angle::ZERO,
        };
        let travels = [0.0, 0.004, 0.25, 5.0].map(Length::from_mm);
        let path = ErrorPath::over(&indicator, travels);
        // The first two lie within one step.
        assert_eq!(
            (path.len(), path.index(travels[1])),
            (3, path.index(travels[0]))
        );
        let mut random = Random::seed_from_u64(3);
        let mut columns = vec![Vec::new(); path.len()];
        let mut errors = vec![0.0; path.len()];
        for _ in 0..40_000 {
            path.draw(&mut random, &mut errors);
            for (column, error) in columns.iter_mut().zip(&errors) {
                column.push(*error);
            }
        }
        let deviation = |values: &[f64]| moments::standard_deviation(values).unwrap();
        for column in &columns {
            let rectangular = 0.003 / 3f64.sqrt();
            assert!((deviation(column) / rectangular - 1.0).abs() < 0.01);
            assert!(column.iter().all(|error| error.abs() <= 0.003));
        }
        let correlation = |a: usize, b: usize| {
            let pairs = columns[a].iter().zip(&columns[b]);
            let product: f64 = pairs.map(|(a, b)| a * b).sum::<f64>() / 40_000.0;
            product / (deviation(&columns[a]) * deviation(&columns[b]))
        };
        // Carried over to the rectangular distribution a correlation r is 6/pi asin(r/2).
        let expected = 6.0 / std::f64::consts::PI * ((-1f64).exp() / 2.0).asin();
        assert!(
            (correlation(0, 1) - expected).abs() < 0.02,
            "{}",
            correlation(0, 1)
        );
        assert!(correlation(0, 2).abs() < 0.02);
    }
}
