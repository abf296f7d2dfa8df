//! The golden section.

/// Narrows in on the least of a cost that falls and then rises between two ends (J. Kiefer 1953), in so
/// many steps: the better of the last two places, and its cost.
pub fn least(
    (mut low, mut high): (f64, f64),
    steps: usize,
    cost: impl Fn(f64) -> f64,
) -> (f64, f64) {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut one, mut other) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut at_one, mut at_other) = (cost(one), cost(other));
    for _ in 0..steps {
        if at_one < at_other {
            (high, other, at_other) = (other, one, at_one);
            one = high - GOLDEN * (high - low);
            at_one = cost(one);
        } else {
            (low, one, at_one) = (one, other, at_other);
            other = low + GOLDEN * (high - low);
            at_other = cost(other);
        }
    }
    match at_one < at_other {
        true => (one, at_one),
        false => (other, at_other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_of_a_parabola_and_of_a_corner_is_found() {
        let (at, cost) = least((-1.0, 4.0), 60, |x| (x - 0.7).powi(2) + 2.0);
        assert!((at - 0.7).abs() < 1e-7 && (cost - 2.0).abs() < 1e-12);
        let (at, _) = least((0.0, 1.0), 60, |x| (x - 0.25).abs());
        assert!((at - 0.25).abs() < 1e-9);
    }
}
