//! Mean, standard deviation and correlation of neighbours, to the last digit the data have.

/// The mean; nothing of nothing.
///
/// The mean of what is left about a first mean is added to it, which takes back what rounding lost
/// in a long sum of large numbers.
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let count = values.len() as f64;
    let first = values.iter().sum::<f64>() / count;
    let left = values.iter().map(|value| value - first).sum::<f64>() / count;
    Some(first + left)
}

/// The standard deviation of one value about the mean of all, with one value less than there are
/// in the divisor; nothing of fewer than two.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    let free = values.len().checked_sub(2)? + 1;
    Some((squares_about(values, mean(values)?) / free as f64).sqrt())
}

/// The sum of squares about the mean; nothing of nothing.
pub fn sum_of_squares(values: &[f64]) -> Option<f64> {
    Some(squares_about(values, mean(values)?))
}

/// The correlation of each value with the next one; nothing of fewer than two, or of equal ones.
pub fn lag_1(values: &[f64]) -> Option<f64> {
    let middle = mean(values)?;
    let squares = squares_about(values, middle);
    let products: f64 = values
        .windows(2)
        .map(|pair| (pair[0] - middle) * (pair[1] - middle))
        .sum();
    (squares > 0.0).then(|| products / squares)
}

/// The corrected two-pass sum (Chan, Golub, LeVeque: Algorithms for computing the sample variance,
/// The American Statistician 37, 1983): the second term is nothing but for rounding.
fn squares_about(values: &[f64], middle: f64) -> f64 {
    let (mut squares, mut sum) = (0.0, 0.0);
    for value in values {
        let off = value - middle;
        squares += off * off;
        sum += off;
    }
    squares - sum * sum / values.len() as f64
}
