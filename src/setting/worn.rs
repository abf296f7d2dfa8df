//! One skim for a feature whose edges are worn: what comes off each flute until wear is gone and
//! the edges are even.

use super::remedy::{Measured, SETTABLE, and};
use super::stock_for_wear;
use crate::card::{Limit, Name, Surface};
use crate::fit::{Curve, Family};
use crate::quantity::{Angle, Length, told};

/// The stock of one flute.
struct Stock {
    /// Down to the lowest edge, and until the wear is gone.
    off: Length,
    /// Of that, what the wear takes.
    wear: Length,
    /// The relief that the land keeps.
    relief: Angle,
}

impl Measured<'_> {
    /// The width without relief of a tooth that should have none, or not so much.
    pub(super) fn worn(&self, tooth: Option<usize>) -> Option<Length> {
        let width = self.width_without_relief(tooth)?;
        let wear = self.feature.limits.get(Name::WearLand);
        let too_wide = match wear.and_then(|limit| limit.max) {
            Some(max) => width.mm() > max,
            // A margin that the card does not speak of is wear where it asks for relief at the edge.
            None => wear.is_none() && self.relief_limit().is_some_and(|it| it.min > Some(0.0)),
        };
        too_wide.then_some(width)
    }

    fn relief_limit(&self) -> Option<Limit> {
        self.feature.limits.get(Name::ReliefAngle)
    }

    fn width_without_relief(&self, tooth: Option<usize>) -> Option<Length> {
        let margin = self.curve(tooth)?.margin()?;
        Some(self.feature.diameter / 2.0 * margin.rad())
    }

    /// Whether any tooth is worn.
    pub(super) fn any_worn(&self) -> bool {
        let teeth = self.judgement.map_or(0, |judgement| judgement.teeth.len());
        (0..teeth).any(|tooth| self.worn(Some(tooth)).is_some())
    }

    /// Whether the relief behind the wear keeps the card's limits, so that nothing of it is to be
    /// changed.
    pub(super) fn relief_is_right(&self, tooth: Option<usize>) -> bool {
        let relief = self.curve(tooth).map(Curve::relief_behind_margin);
        let (Some(relief), Some(limit)) = (relief, self.relief_limit()) else {
            return true;
        };
        let relief = relief.deg();
        limit.min.is_none_or(|min| relief >= min) && limit.max.is_none_or(|max| relief <= max)
    }

    /// Whether a height below the edge keeps its limit once the wear is skimmed off: by so much the
    /// new edge stands higher over the land than the worn one does.
    pub(super) fn skim_mends(&self, tooth: Option<usize>, value: f64, limit: Limit) -> bool {
        let Some(stock) = tooth.and_then(|tooth| self.stock(tooth, Length::ZERO)) else {
            return false;
        };
        let then = value + stock.wear.mm();
        limit.min.is_none_or(|min| then >= min) && limit.max.is_none_or(|max| then <= max)
    }

    /// What comes off the land of a tooth that stands so high above the lowest edge.
    fn stock(&self, tooth: usize, above: Length) -> Option<Stock> {
        let curve = self.curve(Some(tooth))?;
        let relief = curve.relief_behind_margin();
        let wear = match self.worn(Some(tooth)) {
            None => Length::ZERO,
            Some(width) => {
                // A land with a margin that is wanted keeps it; any other is cleaned to its edge.
                let limit = self.feature.limits.get(Name::WearLand);
                let kept = limit.and_then(|limit| Some(f64::midpoint(limit.min?, limit.max?)));
                let down_to = |width: Length| match (curve.family(), self.feature.surface) {
                    (Family::Flat, Surface::Radial) => {
                        stock_for_wear(self.feature.diameter, width, relief)
                    }
                    // Over a width this small any other land falls by its relief at the start.
                    _ => (relief > Angle::ZERO).then(|| width * relief.rad().tan()),
                };
                down_to(width)? - down_to(Length::from_mm(kept.unwrap_or(0.0)))?
            }
        };
        Some(Stock {
            off: above + wear,
            wear,
            relief,
        })
    }

    /// One skim that cleans every worn land and makes all edges even; in words without numbers where
    /// the trace does not give any that can be.
    pub(super) fn one_skim(&self) -> String {
        self.skim_in_numbers().unwrap_or_else(|| {
            "skim every flute until its land is clean to the edge and all edges are even: how much that takes is not told by these traces".to_owned()
        })
    }

    fn skim_in_numbers(&self) -> Option<String> {
        let teeth = &self.judgement?.teeth;
        let heights: Vec<Length> = teeth
            .iter()
            .map(|tooth| tooth.edge_height)
            .collect::<Option<_>>()?;
        let lowest = heights.iter().copied().reduce(Length::min)?;
        let highest = heights.iter().copied().reduce(Length::max)?;
        let mut each = Vec::new();
        let mut reliefs = Vec::new();
        for (tooth, height) in heights.iter().enumerate() {
            let Stock { off, relief, .. } = self.stock(tooth, *height - lowest)?;
            if !self.can_come_off(Some(tooth), off) {
                return None;
            }
            reliefs.push(relief.deg());
            if off > SETTABLE {
                each.push(format!("{} off flute {}", told::mm(off, 3), tooth + 1));
            }
        }
        if each.is_empty() {
            return None;
        }
        let leaves = self.left_after(highest - lowest)?;
        let least = reliefs.iter().copied().fold(f64::INFINITY, f64::min);
        let most = reliefs.iter().copied().fold(0.0, f64::max);
        let right = (0..teeth.len()).all(|tooth| self.relief_is_right(Some(tooth)));
        // Grinders are set to a tenth of a degree or so (common practice, no source).
        let relief = match (right, most - least < 0.1) {
            (true, true) => format!(
                "at the relief that it has, {:.2}°",
                f64::midpoint(least, most)
            ),
            (true, false) => format!("each at the relief that it has, {least:.2}° to {most:.2}°"),
            (false, _) => "once the relief is set right".to_owned(),
        };
        Some(format!(
            "one skim, {relief}: take {}, or on until each land is clean to its edge; with all edges even that leaves {leaves}",
            and(&each)
        ))
    }

    /// Whether so much can come off a land: not more than all of its relief, which is a misreading,
    /// and not more than the tool has.
    pub(super) fn can_come_off(&self, tooth: Option<usize>, stock: Length) -> bool {
        let figures = self.judgement.map_or(&[][..], |judged| &judged.figures);
        let mut figures = figures.iter();
        let total = figures.find(|it| it.name == Name::TotalRelief && it.tooth == tooth);
        let total = total.and_then(|figure| figure.value);
        stock < self.feature.diameter / 2.0 && total.is_none_or(|total| stock.mm() <= total)
    }

    /// What a grind leaves that lowers the highest edge by so much; nothing where that is less than
    /// the tool has.
    pub(super) fn left_after(&self, comes_down: Length) -> Option<String> {
        if self.feature.surface == Surface::Axial {
            return Some(format!("the tool {} shorter", told::mm(comes_down, 3)));
        }
        let diameter = self.feature.diameter - comes_down * 2.0;
        let least = self
            .feature
            .least_diameter
            .filter(|least| diameter < *least);
        let short = least.map_or(String::new(), |least| {
            format!(", below the smallest allowed of {}", told::exact_mm(least))
        });
        (diameter > Length::ZERO).then(|| format!("a diameter of {}{short}", told::mm(diameter, 3)))
    }
}
