//! One step of the solver: which way is downhill, and how far to go.

use nalgebra::{DMatrix, DVector};

/// Which way is downhill, and who may go there.
pub(super) struct Slope {
    pub gradient: DVector<f64>,
    /// Parameters on a bound that going downhill would cross.
    pub pressed: Vec<usize>,
    /// The others.
    pub free: Vec<usize>,
}

impl Slope {
    pub fn at(
        bounds: impl Fn(usize) -> (f64, f64),
        parameters: &DVector<f64>,
        (residuals, jacobian): (&DVector<f64>, &DMatrix<f64>),
    ) -> Self {
        let gradient = jacobian.tr_mul(residuals);
        let (pressed, free) = (0..gradient.len()).partition(|&j| {
            let (least, greatest) = bounds(j);
            let value = parameters[j];
            (value <= least && gradient[j] >= 0.0) || (value >= greatest && gradient[j] <= 0.0)
        });
        Self {
            gradient,
            pressed,
            free,
        }
    }

    /// Greatest cosine of the angle between the residuals and a free column.
    pub fn steepest(&self, scales: &DVector<f64>, size: f64) -> f64 {
        self.free
            .iter()
            .map(|&j| self.gradient[j].abs() / (scales[j] * size))
            .fold(0.0, f64::max)
    }
}

/// The Jacobian of the free parameters as `Q R`, with the residuals turned by `Q`.
pub(super) struct Factored {
    r: DMatrix<f64>,
    turned: DVector<f64>,
    columns: usize,
}

impl Factored {
    pub fn of(residuals: &DVector<f64>, jacobian: &DMatrix<f64>, free: &[usize]) -> Self {
        let qr = jacobian.select_columns(free).qr();
        let mut turned = -residuals;
        qr.q_tr_mul(&mut turned);
        let r = qr.unpack_r();
        Self {
            turned: turned.rows(0, r.nrows()).into_owned(),
            r,
            columns: jacobian.ncols(),
        }
    }

    /// The step that minimises `|r + J step|² + damping |scales step|²` over the free parameters;
    /// none where that is not one step.
    pub fn step(&self, free: &[usize], scales: &DVector<f64>, damping: f64) -> DVector<f64> {
        let (height, width) = self.r.shape();
        let mut stacked = DMatrix::zeros(height + width, width);
        stacked.view_mut((0, 0), (height, width)).copy_from(&self.r);
        for (a, &j) in free.iter().enumerate() {
            stacked[(height + a, a)] = damping.sqrt() * scales[j];
        }
        let mut right = DVector::zeros(height + width);
        right.rows_mut(0, height).copy_from(&self.turned);
        let qr = stacked.qr();
        qr.q_tr_mul(&mut right);
        let right = right.rows(0, width).into_owned();
        let mut step = DVector::zeros(self.columns);
        if let Some(short) = qr.unpack_r().solve_upper_triangular(&right) {
            for (a, &j) in free.iter().enumerate() {
                step[j] = short[a];
            }
        }
        step
    }
}
