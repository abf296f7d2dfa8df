//! Figures as people read them, in the unit they chose.

use crate::quantity::{
    COVERAGE_FACTOR, Units, expanded, rounded, rounded_down, rounded_up, with_uncertainty,
};
use crate::record::{Bound, Bounds, Characteristic, FeatureFacts, Verdict};

/// What stands where there is no value.
pub(super) const NOTHING: &str = "—";

impl Units {
    /// A plain length: `20 mm`.
    pub(super) fn length(self, mm: f64) -> String {
        format!("{} {}", trimmed(self.shown(mm, "mm")), self.sign("mm"))
    }
}

/// A figure in its parts, so that a table can align them.
pub(super) struct Figure {
    /// Rounded to match its uncertainty, with its sign where it is a bound.
    pub value: String,
    /// `± 0.0022`, the expanded uncertainty, where it is known.
    pub spread: Option<String>,
}

/// The least step of a value whose uncertainty is not known.
const UNKNOWN: f64 = 1e-3;

/// The value of a characteristic; `None` when it could not be had.
pub(super) fn figure(of: &Characteristic, units: Units) -> Option<Figure> {
    let value = of.value.filter(|value| value.is_finite())?;
    let shown = units.shown(value, &of.unit);
    let uncertainty = uncertainty(of);
    let side = match of.bound {
        Some(Bound::AtMost) => "≤ ",
        Some(Bound::AtLeast) => "≥ ",
        None => "",
    };
    Some(match uncertainty.map(|u| units.shown(u, &of.unit)) {
        Some(u) => {
            let both = with_uncertainty(shown, u);
            let (value, spread) = both.split_once(' ').unwrap_or((&both, ""));
            Figure {
                value: format!("{side}{value}"),
                spread: Some(spread.to_owned()),
            }
        }
        None => Figure {
            // Nobody knows how well it is known: two digits claim little, and no more is drawn from it.
            value: format!("{side}{}", rounded(shown, shown.abs().max(UNKNOWN))),
            spread: None,
        },
    })
}

/// The expanded uncertainty of a characteristic, in its unit.
pub(super) fn uncertainty(of: &Characteristic) -> Option<f64> {
    let by_interval = of.value.zip(of.interval);
    let by_interval = by_interval.map(|(value, interval)| expanded(value, interval));
    let doubled = of.standard_uncertainty.map(|u| u * COVERAGE_FACTOR);
    let known = by_interval.filter(|u| u.is_finite()).or(doubled);
    known.filter(|u| u.is_finite() && *u > 0.0)
}

/// What is proven of a judged characteristic, beside what its limit asks for: `≥ 0.0579`,
/// `≤ 0.0141`, or what it lies between. Rounded to the side that claims less.
pub fn proven(of: &Characteristic, units: Units) -> Option<String> {
    let (value, limit, guard) = (of.value?, of.limit?, of.guard_band?);
    let least = units.shown(value - guard.below, &of.unit);
    let most = units.shown(value + guard.above, &of.unit);
    // One digit of the uncertainty is enough beside a limit.
    let digits = units.shown(uncertainty(of)?, &of.unit) * 10.0;
    if ![least, most, digits].into_iter().all(f64::is_finite) {
        return None;
    }
    let (least, most) = (rounded_down(least, digits), rounded_up(most, digits));
    // What proves a fail lies on the other side.
    let fails = of.verdict == Some(Verdict::Fail);
    match (limit.min.is_some(), limit.max.is_some()) {
        (true, true) => Some(format!("{least} … {most}")),
        (true, false) if fails => Some(format!("≤ {most}")),
        (false, true) if fails => Some(format!("≥ {least}")),
        (true, false) => Some(format!("≥ {least}")),
        (false, true) => Some(format!("≤ {most}")),
        (false, false) => None,
    }
}

/// The name of a characteristic as people say it: `heel clearance`.
pub(super) fn name(name: &str) -> String {
    match name {
        "flat-equivalent-relief" => "flat-equivalent relief".to_owned(),
        name => name.replace('-', " "),
    }
}

/// A characteristic's value in one line: `0.0123 ± 0.0011 mm`, or a dash.
pub fn in_words(of: &Characteristic, units: Units) -> String {
    match figure(of, units) {
        None => NOTHING.to_owned(),
        Some(figure) => {
            let mut parts = vec![figure.value];
            parts.extend(figure.spread);
            parts.push(units.sign(&of.unit).to_owned());
            parts.join(" ")
        }
    }
}

/// What a limit allows: `≥ 0.02`, `≤ 0.01`, `6 … 9`, or a dash.
pub fn allowed(limit: Option<Bounds>, unit: &str, units: Units) -> String {
    let number = |bound: f64| trimmed(units.shown(bound, unit));
    match limit.map(|limit| (limit.min, limit.max)) {
        Some((Some(min), Some(max))) => format!("{} … {}", number(min), number(max)),
        Some((Some(min), None)) => format!("≥ {}", number(min)),
        Some((None, Some(max))) => format!("≤ {}", number(max)),
        _ => NOTHING.to_owned(),
    }
}

/// A number with no more decimals than it needs, at most six.
pub(super) fn trimmed(value: f64) -> String {
    if !value.is_finite() {
        return NOTHING.to_owned();
    }
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A probability as a percentage: `95 %`.
pub(super) fn percent(probability: f64) -> String {
    // Two decimals of a percent are more than any card asks for.
    format!("{} %", trimmed((probability * 1e4).round() / 1e2))
}

/// Which flute: its number, or all of them.
pub(super) fn flute(flute: Option<u32>) -> String {
    flute.map_or_else(|| "all".to_owned(), |flute| flute.to_string())
}

/// A count with its noun: `1 flute`, `12 flutes`.
pub(super) fn count(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}

/// What was measured of a feature: `radial, Ø 20 mm, drop read 0.5 mm behind the edge`.
pub(super) fn feature_in_words(feature: &FeatureFacts, units: Units) -> String {
    let least = feature.least_diameter_mm;
    let least = least.map(|least| format!(" (least allowed {})", units.length(least)));
    let mut words = format!(
        "{}, Ø {}{}, drop read {} behind the edge",
        feature.surface,
        units.length(feature.diameter_mm),
        least.unwrap_or_default(),
        units.length(feature.check_distance_mm),
    );
    if let Some(feed) = feature.feed_mm_per_rev {
        words.push_str(&format!(", feed {} a turn", units.length(feed)));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(limit: (Option<f64>, Option<f64>), unit: &str, units: Units, expected: &str) {
        let limit = Bounds {
            min: limit.0,
            max: limit.1,
        };
        assert_eq!(allowed(Some(limit), unit, units), expected);
    }

    #[test]
    fn limits_read_as_a_person_would_say_them() {
        check((Some(0.02), None), "mm", Units::Metric, "≥ 0.02");
        check((None, Some(0.01)), "mm", Units::Metric, "≤ 0.01");
        check((Some(6.0), Some(9.0)), "deg", Units::Metric, "6 … 9");
        check((Some(6.0), Some(9.0)), "deg", Units::Inch, "6 … 9");
        check((Some(0.0254), None), "mm", Units::Inch, "≥ 0.001");
        check((Some(-0.0), None), "mm", Units::Metric, "≥ 0");
        check((None, None), "mm", Units::Metric, "—");
        assert_eq!(allowed(None, "mm", Units::Metric), "—");
    }

    #[test]
    fn probabilities_keep_the_digits_a_card_gives() {
        assert_eq!(percent(0.95), "95 %");
        assert_eq!(percent(0.9973), "99.73 %");
    }
}
