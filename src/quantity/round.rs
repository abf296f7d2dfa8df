//! Rounding for people: uncertainty to two digits and the value to match; all digits stay stored.

use super::Angle;

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

/// What makes an expanded uncertainty of a standard one where no interval is known: about 95 % of a
/// normal distribution (JCGM 100, 6.3.3).
pub const COVERAGE_FACTOR: f64 = 2.0;

/// The expanded uncertainty of a value, as it stands behind ±: how far the farther end of its coverage
/// interval lies from it (JCGM 100, 6.2.1). Where the interval is not symmetric, it holds more than the
/// interval does.
///
/// ```
/// use heelclear::quantity::expanded;
/// assert_eq!(expanded(3.0, [2.5, 4.0]), 1.0);
/// ```
pub fn expanded(value: f64, interval: [f64; 2]) -> f64 {
    let [from, to] = interval.map(|end| (end - value).abs());
    from.max(to)
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

/// The same, rounded to the lower side.
pub fn rounded_down(value: f64, uncertainty: f64) -> String {
    let unit = 10f64.powi(-(decimals_for(uncertainty) as i32));
    // What arithmetic in binary leaves is no step down.
    rounded((value / unit + 1e-6).floor() * unit, uncertainty)
}

/// The same, rounded to the upper side.
///
/// ```
/// use heelclear::quantity::{rounded_down, rounded_up};
/// assert_eq!(rounded_down(0.05799, 0.0011), "0.0579");
/// assert_eq!(rounded_up(0.05791, 0.0011), "0.0580");
/// assert_eq!(rounded_up(0.0580, 0.0011), "0.0580");
/// ```
pub fn rounded_up(value: f64, uncertainty: f64) -> String {
    let unit = 10f64.powi(-(decimals_for(uncertainty) as i32));
    rounded((value / unit - 1e-6).ceil() * unit, uncertainty)
}

/// A number without what arithmetic in binary left behind its ninth decimal: a nanometre is the
/// sixth, and nobody states more.
///
/// ```
/// use heelclear::quantity::{Angle, stated};
/// assert_eq!(Angle::from_deg(30.0).deg().to_string(), "29.999999999999996");
/// assert_eq!(stated(Angle::from_deg(30.0).deg()).to_string(), "30");
/// ```
pub fn stated(value: f64) -> f64 {
    const PLACES: f64 = 1e9;
    let rounded = (value * PLACES).round() / PLACES;
    // Adding nothing takes the minus from a rounded nothing; a number too large for nine decimals
    // has none.
    if rounded.is_finite() {
        rounded + 0.0
    } else {
        value
    }
}

/// An angle in degrees and minutes of arc, to a tenth of a minute.
///
/// ```
/// use heelclear::quantity::{Angle, deg_min};
/// assert_eq!(deg_min(Angle::from_deg(1.789911)), "1° 47.4′");
/// assert_eq!(deg_min(Angle::from_deg(-0.99999)), "-1° 00.0′");
/// ```
pub fn deg_min(angle: Angle) -> String {
    let tenths = (angle.deg().abs() * 600.0).round();
    let sign = if angle < Angle::ZERO && tenths > 0.0 {
        "-"
    } else {
        ""
    };
    let (degrees, minutes) = ((tenths / 600.0).floor(), (tenths % 600.0) / 10.0);
    format!("{sign}{degrees:.0}° {minutes:04.1}′")
}
