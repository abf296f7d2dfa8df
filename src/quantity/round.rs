//! Rounding for people: uncertainty to two digits and the value to match; all digits stay stored.

/// Decimals that show `uncertainty` to two significant digits, from 0 to 9.
pub(super) fn decimals_for(uncertainty: f64) -> usize {
    if !uncertainty.is_finite() || uncertainty <= 0.0 {
        return 4;
    }
    let exponent = uncertainty.log10().floor();
    // 0.0999 rounds to 0.10, one place fewer than its own exponent asks for.
    let places = 1.0 - exponent;
    let rounded = (uncertainty * 10f64.powf(places)).round();
    let places = if rounded >= 100.0 {
        places - 1.0
    } else {
        places
    };
    places.clamp(0.0, 9.0) as usize
}

/// A value and its uncertainty as people write them: two digits of uncertainty, the value to match.
///
/// ```
/// use heelclear::quantity::with_uncertainty;
/// assert_eq!(with_uncertainty(12.3456, 1.149), "12.3 ± 1.1");
/// assert_eq!(with_uncertainty(0.01234, 0.00099), "0.01234 ± 0.00099");
/// ```
pub fn with_uncertainty(value: f64, uncertainty: f64) -> String {
    let decimals = decimals_for(uncertainty);
    format!("{} ± {uncertainty:.decimals$}", rounded(value, uncertainty))
}

/// The value alone, rounded to match two digits of its uncertainty.
///
/// ```
/// use heelclear::quantity::rounded;
/// assert_eq!(rounded(-0.00001, 0.01), "0.000"); // no minus before a rounded nothing
/// ```
pub fn rounded(value: f64, uncertainty: f64) -> String {
    let decimals = decimals_for(uncertainty);
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_owned(),
        _ => text,
    }
}
