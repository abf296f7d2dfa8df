//! Errors of a smooth at places close together, which go along with each other.

/// A lower factor of a covariance that reaches over few neighbours.
pub(super) struct Band {
    /// How many neighbours before it a place goes along with.
    reach: usize,
    /// Row by row, `reach + 1` entries each, the last one on the diagonal.
    entries: Vec<f64>,
}

impl Band {
    /// Factors the covariance of `size` places; those farther apart than `reach` are independent.
    pub fn of(size: usize, reach: usize, covariance: impl Fn(usize, usize) -> f64) -> Self {
        let wide = reach + 1;
        let mut entries = vec![0.0; size * wide];
        let at = |row: usize, column: usize| row * wide + (column + reach - row);
        for row in 0..size {
            let first = row.saturating_sub(reach);
            for column in first..=row {
                let explained: f64 = (first.max(column.saturating_sub(reach))..column)
                    .map(|k| entries[at(row, k)] * entries[at(column, k)])
                    .sum();
                let left = covariance(row, column) - explained;
                entries[at(row, column)] = if column == row {
                    // Places that say the same leave nothing but rounding.
                    left.max(0.0).sqrt()
                } else {
                    let root = entries[at(column, column)];
                    if root > 0.0 { left / root } else { 0.0 }
                };
            }
        }
        Self { reach, entries }
    }

    /// Adds an error to each place, from as many independent normal numbers.
    pub fn add(&self, normals: &[f64], values: &mut [f64]) {
        let rows = self.entries.chunks_exact(self.reach + 1);
        for (row, (factors, value)) in rows.zip(values).enumerate() {
            let short = self.reach.saturating_sub(row);
            let first = row.saturating_sub(self.reach);
            let pairs = factors[short..].iter().zip(&normals[first..=row]);
            *value += pairs.map(|(factor, normal)| factor * normal).sum::<f64>();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_factor_gives_its_covariance_back() {
        let covariance = |i: usize, j: usize| [2.0, 1.2, 0.3, 0.0][i.abs_diff(j).min(3)];
        let band = Band::of(6, 2, covariance);
        let column = |at: usize| {
            let normals: Vec<f64> = (0..6).map(|i| f64::from(u8::from(i == at))).collect();
            let mut values = vec![0.0; 6];
            band.add(&normals, &mut values);
            values
        };
        let columns: Vec<Vec<f64>> = (0..6).map(column).collect();
        for i in 0..6 {
            for j in 0..6 {
                let again: f64 = columns.iter().map(|column| column[i] * column[j]).sum();
                assert!((again - covariance(i, j)).abs() < 1e-12, "{i} {j}: {again}");
            }
        }
    }
}
