//! Mean, standard deviation and correlation of neighbours against the NIST Statistical Reference
//! Datasets, univariate: certified values in `tests/reference/strd_univariate_certified.csv`.
#![allow(clippy::unwrap_used)]

use heelclear::numeric::moments::{lag_1, mean, standard_deviation};

/// Correct digits: minus the logarithm of the relative error, 15 at most.
fn digits(found: f64, certified: f64) -> f64 {
    let off = ((found - certified) / certified).abs();
    if off == 0.0 {
        15.0
    } else {
        (-off.log10()).min(15.0)
    }
}

#[track_caller]
fn check(file: &str, name: &str, least: [f64; 3]) {
    let table = include_str!("../reference/strd_univariate_certified.csv");
    let row = table.lines().find(|line| line.starts_with(name)).unwrap();
    let row: Vec<&str> = row.split(',').collect();
    // The data follow the header's dashed line, one a line.
    let (_, data) = file.rsplit_once("---\n").unwrap_or(("", file));
    let values: Vec<f64> = data
        .lines()
        .filter_map(|line| line.trim().parse().ok())
        .collect();
    assert_eq!(values.len().to_string(), row[1]);
    let found = [mean(&values), standard_deviation(&values), lag_1(&values)];
    for (at, found) in found.into_iter().enumerate() {
        let reached = digits(found.unwrap(), row[2 + at].parse().unwrap());
        assert!(
            reached >= least[at],
            "{name}, figure {at}: {reached} digits"
        );
    }
}

#[test]
fn the_accuracy_sets_keep_every_digit_that_their_data_have() {
    // 1,000,000.2 and its like are not whole multiples of a power of two, so the data themselves, once
    // read, carry the deviation to fewer digits as the mean grows: 9.46 and 8.25 of them.
    check(
        include_str!("../reference/strd/NumAcc1.dat"),
        "NumAcc1",
        [15.0; 3],
    );
    check(
        include_str!("../reference/strd/NumAcc2.dat"),
        "NumAcc2",
        [14.9, 14.1, 14.1],
    );
    check(
        include_str!("../reference/strd/NumAcc3.dat"),
        "NumAcc3",
        [14.9, 9.4, 9.4],
    );
    check(
        include_str!("../reference/strd/NumAcc4.dat"),
        "NumAcc4",
        [14.9, 8.2, 8.2],
    );
}

#[test]
fn the_speed_of_light_has_its_certified_scatter() {
    check(
        include_str!("../reference/strd/Michelso.dat"),
        "Michelso",
        [14.9, 13.1, 13.4],
    );
}

#[test]
fn too_few_values_say_nothing() {
    assert_eq!(mean(&[]), None);
    assert_eq!(standard_deviation(&[1.0]), None);
    assert_eq!(lag_1(&[2.0, 2.0]), None);
}
