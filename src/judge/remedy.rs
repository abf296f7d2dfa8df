//! What would mend a figure that fails, in the settings of the trade.

use super::figures::Figure;
use crate::card::{Feature, Limit, Name, Surface};
use crate::quantity::Angle;

/// What mends a failing figure; `None` where nothing can be said in general.
///
/// `tooth` is the flute's number as people count it.
pub fn remedy(
    figure: &Figure,
    limit: Limit,
    feature: &Feature,
    tooth: Option<u32>,
) -> Option<String> {
    let value = figure.value?;
    let low = limit.min.filter(|min| value < *min);
    let high = limit.max.filter(|max| value > *max);
    let flute = tooth.map_or(String::new(), |tooth| format!(" on flute {tooth}"));
    match figure.name {
        Name::HeelClearance => low.map(|min| {
            format!(
                "lower the land{flute} by {:.3} mm or more where it stands highest: grind the heel away there, or more fall on the relieving cam",
                min - value
            )
        }),
        Name::ReliefAngle => {
            let target = middle(limit)?;
            Some(offset(feature, value, target, &flute))
        }
        Name::Drop => {
            let target = middle(limit)?;
            let turn = if target > value { "more" } else { "less" };
            Some(format!(
                "{:.3} mm {turn} fall over the {:.2} mm behind the edge{flute}, on the cam or by the relief angle",
                (target - value).abs(),
                feature.check_distance.mm()
            ))
        }
        Name::TotalRelief => {
            let target = middle(limit)?;
            let turn = if target > value { "more" } else { "less" };
            Some(format!(
                "set the relieving cam for {:.3} mm {turn} fall{flute}",
                (target - value).abs()
            ))
        }
        Name::EdgeSpread => high.map(|max| {
            format!(
                "take {:.3} mm off the highest edge, or all edges down to the lowest",
                value - max
            )
        }),
        Name::WearLand if high.is_some() => Some(format!(
            "grind the land{flute} until its relief begins at the edge, or no more than {:.3} mm behind it: {:.3} mm less than now",
            high?, value - high?
        )),
        Name::WearLand => low.map(|min| {
            format!(
                "grind {:.3} mm less off the land{flute} next time: {min:.3} mm of margin must be left behind the edge",
                min - value
            )
        }),
        Name::FluteSpacing => {
            high.map(|_| "check the indexing of the work head before the next pass".to_owned())
        }
        _ => None,
    }
}

/// What to aim for: the middle of two limits, or the only one.
fn middle(limit: Limit) -> Option<f64> {
    match (limit.min, limit.max) {
        (Some(min), Some(max)) => Some((min + max) / 2.0),
        (Some(only), None) | (None, Some(only)) => Some(only),
        (None, None) => None,
    }
}

/// The move of tooth rest or wheel head for a change of relief angle: `(D/2) sin a` each.
fn offset(feature: &Feature, now_deg: f64, wanted_deg: f64, flute: &str) -> String {
    let arm = feature.diameter / 2.0;
    let at = |deg: f64| arm * Angle::from_deg(deg).rad().sin();
    let change = at(wanted_deg) - at(now_deg);
    let turn = if wanted_deg > now_deg { "more" } else { "less" };
    match feature.surface {
        Surface::Radial => format!(
            "{:.2}° {turn} relief{flute}: move the tooth rest or the wheel head by {:.3} mm",
            (wanted_deg - now_deg).abs(),
            change.abs().mm()
        ),
        Surface::Axial => format!(
            "{:.2}° {turn} relief{flute}: tilt the tool or the wheel by as much",
            (wanted_deg - now_deg).abs()
        ),
    }
}
