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
        let mut sums = std::collections::BTreeMap::new();
        for (travel, weight) in readings {
            *sums.entry(self.index(travel)).or_insert(0.0) += weight;
        }
        sums.into_iter().collect()
    }

    /// Fills in an error for each place, in mm.
    pub fn draw(&self, random: &mut Random, errors: &mut [f64]) {
        let mut normal = 0.0;
        for (error, (carried, fresh)) in errors.iter_mut().zip(&self.steps) {
            normal = carried * normal + fresh * unit_normal(random);
            *error = self.limit_mm * erf(normal * std::f64::consts::FRAC_1_SQRT_2);
        }
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
