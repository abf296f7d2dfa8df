//! JCGM 100:2008, annex H: end gauge, impedance, thermometer. Published figures in
//! `tests/reference/gum_*.csv`.

use super::printed;
use heelclear::card::Name;
use heelclear::judge::{
    Budget, Contribution, Figure, Input, Line, combined, combined_correlated,
    covariance_of_results, effective_degrees_of_freedom,
};
use heelclear::numeric::linear::least_squares;
use heelclear::numeric::{moments, quantile};
use nalgebra::{DMatrix, DVector};

/// The end gauge's budget, in nm: rows of `gum_h1_end_gauge.csv`.
fn end_gauge() -> Vec<(String, Contribution)> {
    let text = include_str!("../../reference/gum_h1_end_gauge.csv");
    let mut table = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let rows = table.records().map(Result::unwrap);
    rows.map(|row| {
        let contribution = Contribution {
            standard_uncertainty: row[5].parse().unwrap(),
            degrees_of_freedom: row[3].parse().ok().filter(|free: &f64| free.is_finite()),
        };
        (row[0].to_owned(), contribution)
    })
    .collect()
}

#[test]
fn the_end_gauge_has_the_published_uncertainty() {
    // GUM H.1.4 to H.1.6: 32 nm on 16 degrees of freedom, and 93 nm for 99 %.
    let budget: Vec<Contribution> = end_gauge().into_iter().map(|(_, one)| one).collect();
    assert_eq!(budget.len(), 9);
    let whole = combined(budget.iter().map(|one| one.standard_uncertainty));
    printed(whole, 32.0, 0.5);
    printed(whole, 31.664, 0.05);
    let free = effective_degrees_of_freedom(&budget).unwrap();
    // 16.7 from rounded contributions, 16.75 from unrounded ones: 16 either way.
    printed(free, 16.7, 0.1);
    assert_eq!(free.floor(), 16.0);
    let factor = quantile::student_t(0.995, free.floor()).unwrap();
    printed(factor, 2.92, 0.005);
    // The document multiplies the rounded 32 nm.
    printed(factor * whole.round(), 93.0, 0.5);
}

#[test]
fn the_difference_of_the_end_gauges_has_the_published_uncertainty() {
    // GUM H.1.3.2: u(d) = 9.7 nm on 25.6 degrees of freedom, from s = 13 nm over 5 readings on 24,
    // 3.9 nm on 5 and 6.7 nm on 8.
    let of = |standard_uncertainty: f64, free: f64| Contribution {
        standard_uncertainty,
        degrees_of_freedom: Some(free),
    };
    let parts = [of(5.8, 24.0), of(3.9, 5.0), of(6.7, 8.0)];
    let whole = combined(parts.iter().map(|one| one.standard_uncertainty));
    printed(whole, 9.7, 0.05);
    printed(effective_degrees_of_freedom(&parts).unwrap(), 25.6, 0.2);
}

#[test]
fn a_budget_adds_up_as_the_end_gauge_does() {
    let mut budget = Budget::default();
    for (_, one) in end_gauge() {
        // Sensitivities are in what was multiplied already.
        let line = Line::departure(Input::Study, one.standard_uncertainty);
        budget.add(match one.degrees_of_freedom {
            Some(free) => line.resting_on(free),
            None => line,
        });
    }
    printed(budget.combined(), 31.664, 0.05);
    // Four inputs have no influence to first order.
    let lines: Vec<f64> = budget.lines().iter().map(Line::contribution).collect();
    assert_eq!(lines, [25.0, 16.6, 6.7, 5.8, 3.9, 2.9]);
    // 2.12 for 95 % on its 16 degrees of freedom (table G.2), as every figure is told.
    let figure = Figure::of(Name::EdgeSpread, None, 838.0, budget);
    let known = figure.known(0.95).unwrap().unwrap();
    let half_width = (known.interval[1] - known.interval[0]) / 2.0;
    printed(half_width / known.standard_uncertainty, 2.12, 0.005);
    // Its one-sided guard band by Student's distribution there: 1.746.
    printed(
        known.guard.below / known.standard_uncertainty,
        1.746,
        0.0005,
    );
}

#[test]
fn infinitely_many_degrees_of_freedom_are_the_normal() {
    let sure = Contribution {
        standard_uncertainty: 1.0,
        degrees_of_freedom: None,
    };
    assert_eq!(effective_degrees_of_freedom(&[sure]), None);
    let mut budget = Budget::default();
    budget.add(Line::departure(Input::Study, 1.0).resting_on(f64::INFINITY));
    printed(budget.quantile(0.975).unwrap(), 1.960, 0.0005);
    assert_eq!(budget.quantile(1.0), None);
}

#[test]
fn the_impedance_has_the_published_correlations() {
    // GUM H.2, table H.2: five sets of readings, from memory; the correlations of their means, which
    // are published, confirm them.
    let volts = [5.007, 4.994, 5.005, 4.990, 4.999];
    let milliamperes = [19.663, 19.639, 19.640, 19.685, 19.678];
    let phase = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let inputs: [&[f64]; 3] = [&volts, &milliamperes, &phase];
    let readings = DMatrix::from_fn(5, 3, |i, j| {
        inputs[j][i] - moments::mean(inputs[j]).unwrap()
    });
    let of_means = readings.tr_mul(&readings) / (5.0 * 4.0);
    let correlation = |matrix: &DMatrix<f64>, i: usize, j: usize| {
        matrix[(i, j)] / (matrix[(i, i)] * matrix[(j, j)]).sqrt()
    };
    printed(correlation(&of_means, 0, 1), -0.36, 0.005);
    printed(correlation(&of_means, 0, 2), 0.86, 0.005);
    printed(correlation(&of_means, 1, 2), -0.65, 0.005);

    let [v, i, phi] = inputs.map(|input| moments::mean(input).unwrap());
    let i = i / 1000.0;
    let (sin, cos) = phi.sin_cos();
    printed(v * cos / i, 127.732, 0.0005);
    printed(v * sin / i, 219.847, 0.0006);
    printed(v / i, 254.260, 0.0005);
    let per_milliampere = 1.0 / 1000.0;
    #[rustfmt::skip]
    let sensitivities = DMatrix::from_row_slice(3, 3, &[
        cos / i, -v * cos / (i * i) * per_milliampere, -v * sin / i,
        sin / i, -v * sin / (i * i) * per_milliampere, v * cos / i,
        1.0 / i, -v / (i * i) * per_milliampere, 0.0,
    ]);
    let results = covariance_of_results(&sensitivities, &of_means).unwrap();
    printed(results[(0, 0)].sqrt(), 0.071, 0.0005);
    // The document's 0.295 comes from rounded means; unrounded ones give 0.2956.
    printed(results[(1, 1)].sqrt(), 0.295, 0.001);
    printed(results[(2, 2)].sqrt(), 0.236, 0.0005);
    printed(correlation(&results, 0, 1), -0.59, 0.005);
    printed(correlation(&results, 0, 2), -0.49, 0.005);
    printed(correlation(&results, 1, 2), 0.99, 0.005);
    let alone: Vec<f64> = sensitivities.row(2).iter().copied().collect();
    let alone = combined_correlated(&alone, &of_means).unwrap();
    assert!((alone - results[(2, 2)].sqrt()).abs() < 1e-15);
}

#[test]
fn the_thermometer_has_the_published_line() {
    // GUM H.3, through the linear solver of the fits.
    let text = include_str!("../../reference/gum_h3_thermometer.csv");
    let mut table = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let points: Vec<(f64, f64)> = table
        .records()
        .map(Result::unwrap)
        .map(|row| (row[1].parse().unwrap(), row[2].parse().unwrap()))
        .collect();
    assert_eq!(points.len(), 11);
    let design = DMatrix::from_fn(11, 2, |row, column| {
        if column == 0 {
            1.0
        } else {
            points[row].0 - 20.0
        }
    });
    let observed = DVector::from_fn(11, |row, _| points[row].1);
    let line = least_squares(&design, &observed).unwrap();

    printed(line.values[0], -0.171_203_790_131_35, 1e-14);
    printed(line.values[1], 0.002_182_697_739_89, 1e-14);
    printed(line.standard_uncertainties[0], 0.0029, 0.000_05);
    printed(line.standard_uncertainties[1], 0.000_67, 0.000_005);
    printed(line.residual_sd, 0.0035, 0.000_05);
    assert_eq!(line.degrees_of_freedom, 9);
    let squares = line.residual_sd.powi(2) * 9.0;
    printed(squares, 1.100_965_831_09e-4, 1e-14);
    let u = &line.standard_uncertainties;
    let correlation = line.covariance[(0, 1)] / (u[0] * u[1]);
    printed(correlation, -0.930, 0.0005);

    // H.3.4: the correction at 30 °C, whose uncertainty needs the correlation.
    let at_30 = line.values[0] + 10.0 * line.values[1];
    printed(at_30, -0.1494, 0.000_05);
    let u_at_30 = combined_correlated(&[1.0, 10.0], &line.covariance).unwrap();
    printed(u_at_30, 0.0041, 0.000_05);
}
