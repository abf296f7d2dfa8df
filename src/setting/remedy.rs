//! What would mend a figure that fails, in the settings of the trade, with the numbers.

use super::{Worn, cam_rise, least_skim, relief_offset, table_swing, widest_flat};
use crate::card::{Feature, Limit, Name, SharpenedOn, Surface};
use crate::fit::relief::{axial_flat_equivalent_relief, feed_rise, flat_equivalent_relief};
use crate::fit::{Curve, Family};
use crate::judge::{FeatureJudgement, Figure};
use crate::quantity::{
    Angle, Length,
    told::{self, Told},
};

/// What a figure was read from.
#[derive(Clone, Copy)]
pub struct Measured<'a> {
    /// As the card has it.
    pub feature: &'a Feature,
    /// The number of teeth.
    pub flutes: u32,
    /// What the trace told; nothing where the figure is from several traces, or from none.
    pub judgement: Option<&'a FeatureJudgement>,
}

/// A swing is told over this length too, for those who set the table by an indicator.
const SWING_OVER: Length = Length::from_mm(100.0);
/// Less than this cannot be set on a grinder, and is not asked for.
pub(super) const SETTABLE: Length = Length::from_mm(0.0005);

/// What mends a failing figure; `None` where nothing can be said in general.
pub fn remedy(figure: &Figure, limit: Limit, of: Measured) -> Option<String> {
    let value = figure.value?;
    let doubts = of.judgement.map_or(&[][..], |judged| &judged.doubts);
    // A grind on a doubtful figure may take off what was right: what settles the doubt comes first.
    if doubts.iter().any(|doubt| doubt.is_about(figure)) {
        return None;
    }
    if of.feature.sharpened_on == SharpenedOn::Face
        && let Some(on_the_face) = of.on_the_face(figure, value, limit)
    {
        return Some(on_the_face);
    }
    if of.is_mended_by_skim(figure, value, limit) {
        return Some(of.one_skim());
    }
    let low = limit.min.filter(|min| value < *min);
    let high = limit.max.filter(|max| value > *max);
    let target = middle(limit)?;
    match figure.name {
        Name::HeelClearance => low.map(|min| of.clear_the_heel(figure, value, min)),
        Name::ReliefAngle => of.right_relief(figure.tooth, Angle::from_deg(value), limit),
        Name::Drop => Some(
            of.relief_behind_wear(figure.tooth)
                .unwrap_or_else(|| of.change_drop(figure.tooth, value, target)),
        ),
        Name::TotalRelief => Some(format!(
            "set the relieving cam for {} {} fall{}",
            of_mm((target - value).abs()),
            more_or_less(target > value),
            flute(figure.tooth)
        )),
        Name::WearLand => match (high, low) {
            (Some(max), _) => Some(of.clear_the_wear(figure.tooth, value, max)),
            (None, Some(min)) => Some(format!(
                "grind {} less off the land{} next time: {} of margin must be left behind the edge",
                of_mm(min - value),
                flute(figure.tooth),
                of_mm(min)
            )),
            (None, None) => None,
        },
        Name::PrimaryWidth | Name::SecondaryAngle | Name::EdgeRadius => {
            of_its_edge(figure, value, target, high.is_some())
        }
        Name::EdgeSpread => high.and_then(|max| of.even_edges(Length::from_mm(max))),
        Name::FluteSpacing => high.map(|max| of.index_again(Angle::from_deg(max))),
        Name::BackTaper => Some(swing(Angle::from_deg(value), Angle::from_deg(target))),
        Name::FaceAngle => Some(format!(
            "set the work head or the wheel {:.2}° over, so that the face stands at {target:.2}° to the axis instead of {value:.2}°",
            (target - value).abs()
        )),
        Name::FlatEquivalentRelief | Name::Runout => None,
    }
}

/// What mends facets and roundings, which are set or ground by themselves. `more` is whether there is too
/// much of it.
fn of_its_edge(figure: &Figure, value: f64, target: f64, more: bool) -> Option<String> {
    let flute = flute(figure.tooth);
    match (figure.name, more) {
        // Stock off the second facet moves where it begins to the edge, off the first away from it.
        (Name::PrimaryWidth, true) => Some(format!(
            "grind the secondary{flute} until the primary is {} wide",
            of_mm(target)
        )),
        (Name::PrimaryWidth, false) => Some(format!(
            "grind the primary{flute} until it is {} wide",
            of_mm(target)
        )),
        (Name::SecondaryAngle, _) => Some(format!(
            "set the secondary{flute} for {target:.2}° instead of {value:.2}°"
        )),
        // A rounding reaches about its radius down both the land and the face.
        (Name::EdgeRadius, true) => Some(format!(
            "take {} off the land{flute}, or off its face: its edge is then sharp again",
            of_mm(value)
        )),
        (Name::EdgeRadius, false) => Some(format!(
            "hone the edge{flute} until its radius is {}",
            of_mm(target)
        )),
        _ => None,
    }
}

/// What to aim for: the middle of two limits, or the only one.
fn middle(limit: Limit) -> Option<f64> {
    match (limit.min, limit.max) {
        (Some(min), Some(max)) => Some(f64::midpoint(min, max)),
        (Some(only), None) | (None, Some(only)) => Some(only),
        (None, None) => None,
    }
}

/// A setting in mm.
fn of_mm(value: f64) -> Told {
    told::mm(Length::from_mm(value), 3)
}

fn more_or_less(more: bool) -> &'static str {
    if more { "more" } else { "less" }
}

/// ` on flute 2`, as people count.
fn flute(tooth: Option<usize>) -> String {
    tooth.map_or(String::new(), |tooth| format!(" on flute {}", tooth + 1))
}

impl Measured<'_> {
    /// Whether a figure fails for the wear of its edge, or beside it, and one skim mends all of it.
    fn is_mended_by_skim(&self, figure: &Figure, value: f64, limit: Limit) -> bool {
        let tooth = figure.tooth;
        match figure.name {
            Name::EdgeSpread => limit.max.is_some_and(|max| value > max) && self.any_worn(),
            Name::WearLand => {
                limit.max.is_some_and(|max| value > max) && self.worn(tooth).is_some()
            }
            Name::ReliefAngle => self.worn(tooth).is_some() && self.relief_is_right(tooth),
            Name::Drop | Name::HeelClearance | Name::TotalRelief => {
                self.worn(tooth).is_some() && self.skim_mends(tooth, value, limit)
            }
            _ => false,
        }
    }

    /// The curve of a tooth's land, where there is one that may be relied on.
    pub(super) fn curve(&self, tooth: Option<usize>) -> Option<&Curve> {
        let judged = self.judgement?.teeth.get(tooth?)?;
        let fit = &judged.choice.as_ref()?.best;
        fit.trust.is_full().then_some(&fit.curve)
    }

    /// How much to lower where; and for a flat land how wide it may be, or how much relief it needs.
    fn clear_the_heel(&self, figure: &Figure, value: f64, min: f64) -> String {
        let short = Length::from_mm(min - value);
        let mut text = format!(
            "lower the land{} by {} or more",
            flute(figure.tooth),
            told::mm(short, 3)
        );
        let behind = self.behind_edge(figure);
        let radius = self.feature.diameter / 2.0;
        if let Some(arc) = behind {
            text += &format!(
                " where it stands highest, {:.1}° ({}) behind the edge",
                arc.deg(),
                told::mm(radius * arc.rad(), 2)
            );
        }
        let curve = self.curve(figure.tooth);
        match (curve, behind) {
            (Some(curve), Some(arc))
                if curve.family() == Family::Flat && curve.margin().is_none() =>
            {
                text += &self.for_a_flat(curve.relief_angle(), arc, Length::from_mm(min));
            }
            (Some(curve), _) if curve.family() == Family::Cam => {
                text += ": that much more fall on the relieving cam, or grind the heel away there";
            }
            _ => text += ": grind the heel away there, or more relief on the whole land",
        }
        text
    }

    /// What a flat land may and must be to lie `min` under the edge at `arc`.
    fn for_a_flat(&self, relief: Angle, arc: Angle, min: Length) -> String {
        let diameter = self.feature.diameter;
        let mut text = String::new();
        if self.feature.surface == Surface::Radial {
            if let Some(widest) = widest_flat(diameter, relief, min) {
                let why = if min <= Length::ZERO {
                    " (`D sin a`)"
                } else {
                    ""
                };
                text += &format!(
                    "; a flat of {:.2}° may be {} wide{why}: grind a secondary from there to the heel",
                    relief.deg(),
                    told::mm(widest, 2)
                );
            }
            if let Some(needed) = flat_equivalent_relief(min, arc, diameter / 2.0) {
                text += &format!(
                    "; or grind the whole land with {:.2}° or more",
                    needed.deg()
                );
            }
        } else {
            let fed = feed_rise(self.feature.feed.unwrap_or(Length::ZERO), arc);
            let needed = axial_flat_equivalent_relief(min + fed, arc, diameter / 2.0);
            if let Some(needed) = needed {
                text += &format!(
                    "; or grind the whole land with {:.2}° or more, the feed counted in",
                    needed.deg()
                );
            }
        }
        text
    }

    /// How far behind its edge a figure lies.
    fn behind_edge(&self, figure: &Figure) -> Option<Angle> {
        let tooth = self.judgement?.teeth.get(figure.tooth?)?.tooth.as_ref()?;
        Some((figure.at? - tooth.edge.angle.value).in_turn())
    }

    /// What brings a relief angle inside its limits: behind a margin the land has the relief that is
    /// set on the grinder, whatever its edge has.
    fn right_relief(&self, tooth: Option<usize>, found: Angle, limit: Limit) -> Option<String> {
        let wanted = Angle::from_deg(middle(limit)?);
        let margined = self.curve(tooth).filter(|curve| curve.margin().is_some());
        let Some(curve) = margined else {
            return Some(self.change_relief(tooth, found, wanted));
        };
        let behind = curve.relief_behind_margin();
        let clean = "grind on until the land is clean to its edge";
        if self.relief_is_right(tooth) {
            return Some(format!(
                "behind what is worn the land{} has {:.2}° of relief, as it should: {clean}",
                flute(tooth),
                behind.deg()
            ));
        }
        let change = self.change_relief(tooth, behind, wanted);
        // The way of the change does not show in a relief that was read on the wear.
        let crossed = (found < wanted) != (behind < wanted);
        Some(if crossed {
            format!(
                "behind what is worn the land{} has {:.2}° of relief: {change}; and {clean}",
                flute(tooth),
                behind.deg()
            )
        } else {
            change
        })
    }

    /// The move of tooth rest or wheel head for a change of relief angle: `(D/2) sin a` each.
    fn change_relief(&self, tooth: Option<usize>, now: Angle, wanted: Angle) -> String {
        let turn = more_or_less(wanted > now);
        let change = format!(
            "{:.2}° {turn} relief{}",
            (wanted - now).abs().deg(),
            flute(tooth)
        );
        if self.feature.surface == Surface::Axial {
            return format!("{change}: tilt the tool or the wheel by as much");
        }
        if self.curve(tooth).map(Curve::family) == Some(Family::Spiral) {
            let land = Angle::TURN / f64::from(self.flutes.max(1));
            let rise = |relief| {
                let rise = cam_rise(self.feature.diameter, self.flutes, relief, land);
                of_mm(rise.map_or(f64::NAN, |rise| rise.per_pitch.mm()))
            };
            return format!(
                "{change}: a relieving cam with {} rise a tooth pitch in place of {}",
                rise(wanted),
                rise(now)
            );
        }
        let offset = |diameter| relief_offset(diameter, wanted) - relief_offset(diameter, now);
        format!(
            "{change}: under a cup wheel move the tooth rest or the wheel head by {}; with the rim of a straight wheel, its head by {} for every {} of its diameter",
            told::mm(offset(self.feature.diameter).abs(), 3),
            told::mm(offset(Length::from_mm(100.0)).abs(), 3),
            told::exact_mm(Length::from_mm(100.0))
        )
    }

    /// The change of relief of a worn land whose relief behind the wear is wrong: its drop lacks what
    /// the wear took as well, which no relief brings back.
    fn relief_behind_wear(&self, tooth: Option<usize>) -> Option<String> {
        self.worn(tooth)?;
        let limit = self.feature.limits.get(Name::ReliefAngle);
        let wanted = middle(limit?)?;
        let now = self.curve(tooth)?.relief_behind_margin();
        (!self.relief_is_right(tooth)).then(|| {
            let change = self.change_relief(tooth, now, Angle::from_deg(wanted));
            format!("{change}; and grind on until the land is clean to its edge")
        })
    }

    fn change_drop(&self, tooth: Option<usize>, value: f64, target: f64) -> String {
        let mut text = format!(
            "{} {} fall over the {} behind the edge{}, on the cam or by the relief angle",
            of_mm((target - value).abs()),
            more_or_less(target > value),
            told::mm(self.feature.check_distance, 2),
            flute(tooth)
        );
        let radius = self.feature.diameter / 2.0;
        let arc = Angle::from_rad(self.feature.check_distance / radius);
        let angle = |drop| match self.feature.surface {
            Surface::Radial => flat_equivalent_relief(Length::from_mm(drop), arc, radius),
            Surface::Axial => axial_flat_equivalent_relief(Length::from_mm(drop), arc, radius),
        };
        if let (Some(now), Some(wanted)) = (angle(value), angle(target)) {
            text += &format!(
                "; for a flat land that is {:.2}° {}",
                (wanted - now).abs().deg(),
                more_or_less(wanted > now)
            );
        }
        text
    }

    /// Until where the land comes down where its curve does not tell how far that is.
    fn clear_the_wear(&self, tooth: Option<usize>, width_mm: f64, max_mm: f64) -> String {
        let behind = match max_mm > 0.0 {
            true => format!("no more than {} behind the edge", of_mm(max_mm)),
            false => "at the edge".to_owned(),
        };
        format!(
            "grind the land{} until its relief begins {behind}, {} less than now",
            flute(tooth),
            of_mm(width_mm - max_mm)
        )
    }

    /// Which flutes stand high, what to take off each, and what that leaves.
    fn even_edges(&self, allowed: Length) -> Option<String> {
        let teeth: Option<Vec<Worn>> = self
            .judgement?
            .teeth
            .iter()
            .map(|tooth| {
                Some(Worn {
                    height: tooth.edge_height?,
                    wear_land: Length::ZERO,
                })
            })
            .collect();
        let teeth = teeth?;
        let skim = least_skim(self.feature.diameter, &teeth, Angle::ZERO)?;
        let lowest = skim.stock.iter().position(|stock| *stock == Length::ZERO)?;
        let mut tall = skim.stock.iter().copied().enumerate();
        if tall.any(|(at, stock)| !self.can_come_off(Some(at), stock)) {
            return None;
        }
        let leaves = self.left_after(skim.highest_comes_down)?;
        let off = |left: Length| {
            let stock = skim.stock.iter().map(move |stock| *stock - left);
            let high = stock.enumerate().filter(|(_, stock)| *stock > SETTABLE);
            let each: Vec<String> = high
                .map(|(at, stock)| format!("{} off flute {}", told::mm(stock, 3), at + 1))
                .collect();
            and(&each)
        };
        Some(format!(
            "take {} or more to keep the limit; to make all even with flute {}, take {}, which leaves {leaves}",
            off(allowed),
            lowest + 1,
            off(Length::ZERO)
        ))
    }

    /// Which steps from flute to flute are off.
    fn index_again(&self, allowed: Angle) -> String {
        let advice = "check the indexing of the work head before the next pass";
        let Some(spacing) = self.judgement.and_then(|j| j.spacing.as_ref()) else {
            return advice.to_owned();
        };
        let count = spacing.deviations.len();
        let steps: Vec<String> = spacing
            .deviations
            .iter()
            .enumerate()
            .filter(|(_, off)| off.abs() > allowed)
            .map(|(at, off)| {
                format!(
                    "from flute {} to {} by {:.2}° too {}",
                    at + 1,
                    (at + 1) % count + 1,
                    off.abs().deg(),
                    if *off > Angle::ZERO { "wide" } else { "narrow" }
                )
            })
            .collect();
        if steps.is_empty() {
            return advice.to_owned();
        }
        format!("the step is {}: {advice}", and(&steps))
    }
}

fn swing(now: Angle, wanted: Angle) -> String {
    let swing = table_swing(now, wanted, SWING_OVER);
    let towards = if swing.angle > Angle::ZERO {
        "smaller"
    } else {
        "larger"
    };
    format!(
        "swing the table by {:.2}° ({} over {}), so that the tool gets {towards} towards the shank",
        swing.angle.abs().deg(),
        told::mm(swing.over_length.abs(), 3),
        told::mm(swing.length, 0)
    )
}

/// Some things in a row, with "and" before the last.
pub(super) fn and(each: &[String]) -> String {
    match each.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => each.concat(),
    }
}
