//! Quantiles against published tables.
#![allow(missing_docs, clippy::unwrap_used)]

use heelclear::numeric::quantile::{chi_square, normal, student_t};

/// Rounded to as many decimals as the table prints, the value must be the table's.
#[track_caller]
fn check(value: Option<f64>, printed: &str) {
    let decimals = printed
        .split_once('.')
        .map_or(0, |(_, digits)| digits.len());
    assert_eq!(format!("{:.decimals$}", value.unwrap()), printed);
}

#[test]
fn student_as_in_the_table_of_the_guide() {
    // JCGM 100:2008 (GUM), table G.2: t for a probability of 95 %, 95,45 % and 99,73 % two-sided;
    // values from memory.
    for (freedom, t95, t9545, t9973) in [
        (1.0, "12.71", "13.97", "235.78"),
        (2.0, "4.30", "4.53", "19.21"),
        (3.0, "3.18", "3.31", "9.22"),
        (4.0, "2.78", "2.87", "6.62"),
        (5.0, "2.57", "2.65", "5.51"),
        (10.0, "2.23", "2.28", "3.96"),
        (20.0, "2.09", "2.13", "3.42"),
        (50.0, "2.01", "2.05", "3.16"),
        (100.0, "1.984", "2.025", "3.077"),
    ] {
        check(student_t(0.975, freedom), t95);
        check(student_t(0.5 + 0.9545 / 2.0, freedom), t9545);
        // The table's heading stands for three standard deviations, 99.7300 %.
        check(student_t(0.5 + 0.9973 / 2.0, freedom), t9973);
    }
}

#[test]
fn student_as_in_the_engineering_handbook() {
    // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of Student's t;
    // values from memory.
    for (freedom, t90, t95, t975, t99, t995, t999) in [
        (
            1.0, "3.078", "6.314", "12.706", "31.821", "63.657", "318.309",
        ),
        (2.0, "1.886", "2.920", "4.303", "6.965", "9.925", "22.327"),
        (3.0, "1.638", "2.353", "3.182", "4.541", "5.841", "10.215"),
        (5.0, "1.476", "2.015", "2.571", "3.365", "4.032", "5.893"),
        (10.0, "1.372", "1.812", "2.228", "2.764", "3.169", "4.144"),
        (30.0, "1.310", "1.697", "2.042", "2.457", "2.750", "3.385"),
        (100.0, "1.290", "1.660", "1.984", "2.364", "2.626", "3.174"),
        (
            f64::INFINITY,
            "1.282",
            "1.645",
            "1.960",
            "2.326",
            "2.576",
            "3.090",
        ),
    ] {
        check(student_t(0.90, freedom), t90);
        check(student_t(0.95, freedom), t95);
        check(student_t(0.975, freedom), t975);
        check(student_t(0.99, freedom), t99);
        check(student_t(0.995, freedom), t995);
        check(student_t(0.999, freedom), t999);
    }
}

#[test]
fn chi_square_as_in_the_engineering_handbook() {
    // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, critical values of the
    // chi-square distribution, lower and upper tails; values from memory.
    for (freedom, c025, c05, c90, c95, c975, c99) in [
        (1.0, "0.001", "0.004", "2.706", "3.841", "5.024", "6.635"),
        (2.0, "0.051", "0.103", "4.605", "5.991", "7.378", "9.210"),
        (5.0, "0.831", "1.145", "9.236", "11.070", "12.833", "15.086"),
        (
            10.0, "3.247", "3.940", "15.987", "18.307", "20.483", "23.209",
        ),
        (
            30.0, "16.791", "18.493", "40.256", "43.773", "46.979", "50.892",
        ),
        (
            100.0, "74.222", "77.929", "118.498", "124.342", "129.561", "135.807",
        ),
    ] {
        check(chi_square(0.025, freedom), c025);
        check(chi_square(0.05, freedom), c05);
        check(chi_square(0.90, freedom), c90);
        check(chi_square(0.95, freedom), c95);
        check(chi_square(0.975, freedom), c975);
        check(chi_square(0.99, freedom), c99);
    }
}

#[test]
fn the_normal_as_in_any_table() {
    // Values from memory; the guard band's 1.645 is that of ISO 14253-1 and JCGM 106.
    check(normal(0.95), "1.644854");
    check(normal(0.975), "1.959964");
    check(normal(0.995), "2.575829");
    check(normal(0.5), "0.000000");
    check(normal(0.84134474606854), "1.000000");
    check(normal(0.00134989803163), "-3.000000");
}

#[test]
fn closed_forms_hold_to_ten_digits_in_both_tails() {
    for p in [1e-6, 1e-4, 0.01, 0.2, 0.4, 0.6, 0.9, 0.999, 1.0 - 1e-6] {
        // Cauchy, and the closed form for two degrees of freedom.
        let one = (std::f64::consts::PI * (p - 0.5)).tan();
        let two = (2.0 * p - 1.0) * (2.0 / (4.0 * p * (1.0 - p))).sqrt();
        // The exponential distribution, for chi-square.
        let chi = -2.0 * f64::ln_1p(-p);
        for (value, truth) in [
            (student_t(p, 1.0), one),
            (student_t(p, 2.0), two),
            (chi_square(p, 2.0), chi),
        ] {
            let error = (value.unwrap() / truth - 1.0).abs();
            assert!(
                error < 1e-9,
                "p = {p}: {value:?} differs from {truth} by {error:e}"
            );
        }
    }
}

#[test]
fn many_degrees_of_freedom_join_the_normal_without_a_step() {
    for p in [0.01, 0.3, 0.975] {
        let (below, above) = (
            student_t(p, 99_999.0).unwrap(),
            student_t(p, 100_001.0).unwrap(),
        );
        assert!((below - above).abs() < 1e-4, "{below} and {above}");
    }
}

#[test]
fn what_has_no_quantile_is_refused() {
    for p in [0.0, 1.0, -0.1, 1.1, f64::NAN, f64::INFINITY] {
        assert_eq!(normal(p), None);
        assert_eq!(student_t(p, 5.0), None);
        assert_eq!(student_t(p, f64::INFINITY), None);
        assert_eq!(chi_square(p, 5.0), None);
    }
    for freedom in [0.0, -1.0, f64::NAN, f64::NEG_INFINITY] {
        assert_eq!(student_t(0.9, freedom), None);
        assert_eq!(chi_square(0.9, freedom), None);
    }
    assert_eq!(chi_square(0.9, f64::INFINITY), None);
}
