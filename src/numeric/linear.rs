//! Linear least squares by scaled columns and QR, and covariance from a Jacobian.

use nalgebra::{DMatrix, DVector};

/// A column counts as dependent on those before it when what is left of it is below this share.
const DEPENDENT: f64 = 1e-13;

/// What a linear fit gives.
#[derive(Clone, Debug)]
pub struct LinearFit {
    /// One a column.
    pub values: DVector<f64>,
    /// Standard uncertainty of each value, from the scatter about the fit.
    pub standard_uncertainties: DVector<f64>,
    /// Covariance of the values, from the scatter about the fit.
    pub covariance: DMatrix<f64>,
    /// Residual standard deviation.
    pub residual_sd: f64,
    /// Rows less columns.
    pub degrees_of_freedom: usize,
}

/// Finds the values that bring `design * values` closest to `observed`.
///
/// `None` where there are fewer rows than columns, columns depend on each other to within
/// rounding, or a number is not finite. Normal equations are avoided, since they square the
/// condition number: a polynomial of degree 10 would keep no digit.
pub fn least_squares(design: &DMatrix<f64>, observed: &DVector<f64>) -> Option<LinearFit> {
    let (rows, columns) = design.shape();
    if rows < columns || columns == 0 || observed.len() != rows {
        return None;
    }
    let scales = column_norms(design);
    let qr = scaled(design, &scales).qr();
    let r = qr.r();
    if (0..columns)
        .any(|j| r[(j, j)].abs().partial_cmp(&DEPENDENT) != Some(std::cmp::Ordering::Greater))
    {
        return None;
    }
    let solve = |right: &DVector<f64>| {
        let mut projected = right.clone();
        qr.q_tr_mul(&mut projected);
        r.solve_upper_triangular(&projected.rows(0, columns).into_owned())
            .map(|values| values.component_div(&scales))
    };
    let mut values = solve(observed)?;
    // One round of refinement takes back what rounding in the factors lost.
    values += solve(&(observed - design * &values))?;

    let residual = (observed - design * &values).norm();
    let degrees_of_freedom = rows - columns;
    let residual_sd = if degrees_of_freedom == 0 {
        0.0
    } else {
        residual / (degrees_of_freedom as f64).sqrt()
    };
    let inverse = r.solve_upper_triangular(&DMatrix::identity(columns, columns))?;
    let mut covariance = &inverse * inverse.transpose() * (residual_sd * residual_sd);
    for i in 0..columns {
        for j in 0..columns {
            covariance[(i, j)] /= scales[i] * scales[j];
        }
    }
    let standard_uncertainties = DVector::from_fn(columns, |j, _| {
        residual_sd * inverse.row(j).norm() / scales[j]
    });
    values
        .iter()
        .all(|value| value.is_finite())
        .then_some(LinearFit {
            values,
            standard_uncertainties,
            covariance,
            residual_sd,
            degrees_of_freedom,
        })
}

/// The covariance that a Jacobian of whitened residuals implies, `(JᵀJ)⁻¹`.
#[derive(Clone, Debug, PartialEq)]
pub struct Covariance {
    /// Zero in the rows and columns of parameters without influence.
    pub matrix: DMatrix<f64>,
    /// Ratio of the largest to the smallest singular value after scaling the columns to length 1.
    pub condition: f64,
    /// Parameters that the data say nothing about: their column is nothing, or the sum of others.
    pub without_influence: Vec<usize>,
}

/// Inverts a Jacobian of whitened residuals into a covariance: scaled columns, QR, inverse of R.
pub fn covariance(jacobian: &DMatrix<f64>) -> Covariance {
    let columns = jacobian.ncols();
    let norms = column_norms(jacobian);
    let mut used: Vec<usize> = (0..columns)
        .filter(|&j| jacobian.column(j).norm() > f64::MIN_POSITIVE)
        .collect();
    // A dependent column is taken out and the rest factored again; there are at most a handful.
    let r = loop {
        let chosen = jacobian.select_columns(&used);
        let r = scaled(&chosen, &norms.select_rows(&used)).qr().unpack_r();
        match (0..used.len()).find(|&j| r[(j, j)].abs() <= DEPENDENT.sqrt()) {
            Some(dependent) => {
                used.remove(dependent);
            }
            None => break r,
        }
    };
    let mut matrix = DMatrix::zeros(columns, columns);
    if let Some(inverse) = r.solve_upper_triangular(&DMatrix::identity(used.len(), used.len())) {
        for (a, &i) in used.iter().enumerate() {
            for (b, &j) in used.iter().enumerate() {
                matrix[(i, j)] = inverse.row(a).dot(&inverse.row(b)) / (norms[i] * norms[j]);
            }
        }
    }
    let condition = if used.is_empty() {
        1.0
    } else {
        let singular = r.singular_values();
        singular.max() / singular.min()
    };
    Covariance {
        matrix,
        condition,
        without_influence: (0..columns).filter(|j| !used.contains(j)).collect(),
    }
}

/// Lower factor `L` of a covariance, `L Lᵀ = C`; a parameter with no variance gets a zero column.
pub fn lower_factor(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    let n = covariance.nrows();
    let mut lower = DMatrix::zeros(n, n);
    for j in 0..n {
        let explained: f64 = (0..j).map(|k| lower[(j, k)] * lower[(j, k)]).sum();
        let pivot = covariance[(j, j)] - explained;
        if pivot.partial_cmp(&0.0) != Some(std::cmp::Ordering::Greater) {
            continue;
        }
        let root = pivot.sqrt();
        lower[(j, j)] = root;
        for i in j + 1..n {
            let dot: f64 = (0..j).map(|k| lower[(i, k)] * lower[(j, k)]).sum();
            lower[(i, j)] = (covariance[(i, j)] - dot) / root;
        }
    }
    lower
}

/// Length of each column; 1 for one that is nothing, so that it can be divided by.
pub fn column_norms(matrix: &DMatrix<f64>) -> DVector<f64> {
    DVector::from_fn(matrix.ncols(), |j, _| {
        let norm = matrix.column(j).norm();
        if norm > f64::MIN_POSITIVE { norm } else { 1.0 }
    })
}

fn scaled(matrix: &DMatrix<f64>, scales: &DVector<f64>) -> DMatrix<f64> {
    let mut scaled = matrix.clone();
    for (mut column, scale) in scaled.column_iter_mut().zip(scales.iter()) {
        column /= *scale;
    }
    scaled
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn columns_that_say_the_same_are_refused() {
        let twice = DMatrix::from_row_slice(3, 2, &[1.0, 2.0, 2.0, 4.0, 3.0, 6.0]);
        assert!(least_squares(&twice, &DVector::zeros(3)).is_none());
        let nothing = DMatrix::zeros(3, 1);
        assert!(least_squares(&nothing, &DVector::zeros(3)).is_none());
        let few = DMatrix::from_row_slice(1, 2, &[1.0, 2.0]);
        assert!(least_squares(&few, &DVector::zeros(1)).is_none());
        let broken = DMatrix::from_row_slice(2, 1, &[1.0, f64::NAN]);
        assert!(least_squares(&broken, &DVector::zeros(2)).is_none());
    }

    #[test]
    fn a_covariance_names_what_the_data_say_nothing_about() {
        let jacobian =
            DMatrix::from_row_slice(3, 3, &[1.0, 0.0, 2.0, 1.0, 0.0, 2.0, 1.0, 0.0, 2.0]);
        let known = covariance(&jacobian);
        assert_eq!(known.without_influence, [1, 2]);
        assert!((known.matrix[(0, 0)] - 1.0 / 3.0).abs() < 1e-15);
        assert_eq!(known.matrix[(2, 2)], 0.0);
        assert!((known.condition - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_covariance_is_the_inverse_of_the_information() {
        let jacobian = DMatrix::from_row_slice(4, 2, &[1.0, 1e-6, 1.0, 2e-6, 1.0, 4e-6, 1.0, 7e-6]);
        let known = covariance(&jacobian);
        let back = jacobian.tr_mul(&jacobian) * &known.matrix;
        assert!((back - DMatrix::identity(2, 2)).map(f64::abs).max() < 1e-9);
        let lower = lower_factor(&known.matrix);
        let again = &lower * lower.transpose();
        let scale = known.matrix.map(f64::abs).max();
        assert!((again - &known.matrix).map(f64::abs).max() < 1e-12 * scale);
    }
}
