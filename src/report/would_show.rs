//! The narrowest burr and land that the readings would have shown, in a line a feature.

use super::figures::trimmed;
use crate::quantity::Units;
use crate::record::{FeatureFacts, Record, WouldShow};

/// How each line begins.
pub(super) const LEAD: &str = "would have shown";

/// What would have shown behind the edges of a feature, at all distances at which it was traced:
/// `a burr of 0.12 mm, 6.1 µm high; any of 9.8 µm; a land of 0.9 mm`.
pub(super) fn would_show(record: &Record, feature: &str, units: Units) -> Option<String> {
    let traces = record.features.iter();
    let told = traces.filter(|facts| facts.feature == feature);
    let each = told.filter_map(|facts: &FeatureFacts| facts.would_show);
    // What shows in every trace is what the worst of them shows.
    let all = each.reduce(|one, other| WouldShow {
        apart_mm: one.apart_mm.max(other.apart_mm),
        burr_mm: one.burr_mm.max(other.burr_mm),
        burr_height_mm: one.burr_height_mm.max(other.burr_height_mm),
        any_burr_height_mm: one
            .any_burr_height_mm
            .zip(other.any_burr_height_mm)
            .map(|(one, other)| one.max(other)),
        land_mm: one.land_mm.max(other.land_mm),
    })?;
    Some(in_words(&all, units))
}

/// The same for all features in a sentence; nothing where none is known.
pub(super) fn sentence(record: &Record, units: Units) -> Option<String> {
    let mut features: Vec<&str> = Vec::new();
    for facts in &record.features {
        if !features.contains(&facts.feature.as_str()) {
            features.push(&facts.feature);
        }
    }
    let each = features.iter().filter_map(|feature| {
        let shown = would_show(record, feature, units)?;
        Some(match features.len() {
            1 => shown,
            _ => format!("{feature}, {shown}"),
        })
    });
    let each: Vec<String> = each.collect();
    (!each.is_empty()).then(|| format!("These readings {LEAD}: {}.", each.join(" – ")))
}

fn in_words(all: &WouldShow, units: Units) -> String {
    let lowest = height(all.burr_height_mm, units);
    let any = all.any_burr_height_mm.map(|any| height(any, units));
    let land = width(all.land_mm, units);
    let burr = match any {
        Some(any) if any == lowest => format!("any burr {any} high"),
        Some(any) => format!(
            "a burr of {}, {lowest} high; any burr {any} high",
            width(all.burr_mm, units)
        ),
        None => format!("a burr of {}, {lowest} high", width(all.burr_mm, units)),
    };
    format!("{burr}; a land of {land}")
}

fn width(mm: f64, units: Units) -> String {
    format!("{} {}", upwards(units.shown(mm, "mm")), units.sign("mm"))
}

/// Heights in micrometres, where lengths are in millimetres.
fn height(mm: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} µm", upwards(mm * 1e3)),
        Units::Inch => width(mm, units),
    }
}

/// Two digits, and never less than it is.
fn upwards(value: f64) -> String {
    if value <= 0.0 || !value.is_finite() {
        return trimmed(value);
    }
    let place = 10f64.powf(value.log10().floor() - 1.0);
    trimmed((value / place - 1e-9).ceil() * place)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(any: Option<f64>, units: Units, expected: &str) {
        let all = WouldShow {
            apart_mm: 0.1201,
            burr_mm: 0.1201,
            burr_height_mm: 0.006_01,
            any_burr_height_mm: any,
            land_mm: 0.96,
        };
        assert_eq!(in_words(&all, units), expected);
    }

    #[test]
    fn what_would_have_shown_is_never_told_smaller_than_it_is() {
        let metric = Units::Metric;
        check(
            Some(0.0098),
            metric,
            "a burr of 0.13 mm, 6.1 µm high; any burr 9.8 µm high; a land of 0.96 mm",
        );
        check(
            None,
            metric,
            "a burr of 0.13 mm, 6.1 µm high; a land of 0.96 mm",
        );
        check(
            Some(0.006_02),
            metric,
            "any burr 6.1 µm high; a land of 0.96 mm",
        );
        check(
            Some(0.0098),
            Units::Inch,
            "a burr of 0.0048 in, 0.00024 in high; any burr 0.00039 in high; a land of 0.038 in",
        );
    }
}
