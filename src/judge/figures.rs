//! The measurement model: from a profile and its fitted curves to the figures of a feature.

use super::least::{Extreme, Measured};
use super::{Budget, Draws};
use crate::card::{Feature, Name, Surface};
use crate::fit::{Curve, Fit, Laid, relief};
use crate::quantity::{Angle, Length};
use crate::shape::{Clamping, LandPlace, Profile, Tooth};

/// One figure of a feature.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Which characteristic.
    pub name: Name,
    /// Index of the tooth, in the order of growing angle; `None` for the whole feature.
    pub tooth: Option<usize>,
    /// In the unit of `name`; `None` when it could not be had.
    pub value: Option<f64>,
    /// In the unit of `name`; `None` when nothing can be said about the uncertainty.
    pub budget: Option<Budget>,
    /// Where on the encoder it lies, where it lies anywhere.
    pub at: Option<Angle>,
    /// Whether the tool has such a thing at all: one with a single edge has neither spread nor spacing.
    pub applies: bool,
    /// Why there is no value, or why it proves nothing; the verdict can then only be undecided.
    pub unproven: Option<String>,
    /// What may hide something worse; a pass can then only be undecided, a fail stands.
    pub blind: Option<String>,
    /// Where the truth may lie on one side of it without bound, since not all was seen: the side.
    pub bound: Option<Bound>,
    /// What it came out as in many trials, where they were made.
    pub draws: Option<Draws>,
    /// What trials draw it about, where that is not its value.
    pub(super) drawn_about: Option<f64>,
    /// Whether the ends of its interval still moved after the most trials that are made.
    pub unsettled: bool,
}

/// Which side of a value the truth lies on, but for its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// It is no more than the value.
    AtMost,
    /// It is no less than the value.
    AtLeast,
}

impl Figure {
    /// A figure with its value and budget, in the unit of `name`.
    pub fn of(name: Name, tooth: Option<usize>, value: f64, budget: Budget) -> Self {
        Self {
            name,
            tooth,
            value: Some(value),
            budget: Some(budget),
            applies: true,
            at: None,
            unproven: None,
            blind: None,
            bound: None,
            draws: None,
            drawn_about: None,
            unsettled: false,
        }
    }

    /// The least that it can be: a width and a difference of extremes are never
    /// below 0, and no land is nowhere as low as its edge.
    pub fn floor(&self) -> f64 {
        match self.name {
            Name::TotalRelief
            | Name::WearLand
            | Name::PrimaryWidth
            | Name::EdgeRadius
            | Name::EdgeSpread
            | Name::FluteSpacing => 0.0,
            _ => f64::NEG_INFINITY,
        }
    }

    /// A figure of something that the tool does not have.
    pub(super) fn of_nothing(name: Name, why: &str) -> Self {
        Self {
            applies: false,
            ..Self::missing(name, None, why.to_owned())
        }
    }

    /// A figure that could not be had, and why.
    pub fn missing(name: Name, tooth: Option<usize>, why: String) -> Self {
        Self {
            name,
            tooth,
            value: None,
            budget: None,
            applies: true,
            at: None,
            unproven: Some(why),
            blind: None,
            bound: None,
            draws: None,
            drawn_about: None,
            unsettled: false,
        }
    }
}

/// Where on each tooth and between which teeth the figures are read.
///
/// The places are chosen once; while inputs are moved they stay, since at an extreme a small shift
/// of its place changes nothing to first order.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Plan {
    pub teeth: Vec<Option<ToothPlan>>,
    /// Highest and lowest edge.
    pub spread: Option<(usize, usize)>,
    /// The tooth whose distance to the next one deviates most.
    pub spacing: Option<usize>,
}

/// The places on one tooth.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ToothPlan {
    pub check: Angle,
    /// Radius of the circle on which its arcs are measured.
    pub circle: Length,
    /// How far the land is judged.
    pub end: Angle,
    pub least: Option<Extreme>,
    pub greatest: Option<Extreme>,
    /// Within this of where its curve begins, an edge is where the curve says; `None` where the edge
    /// was not measured by itself.
    pub trust: Option<Length>,
    /// How far a margin reaches behind the edge, where the curve begins with one.
    pub margin: Option<Angle>,
    /// Places over all of the land, among which trials look for the extremes anew: those of the
    /// smooth by growing arc, then those that are read otherwise.
    pub nodes: Vec<Extreme>,
}

/// The values of one tooth, in their characteristics' units.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct ToothValues {
    pub relief_deg: f64,
    /// Lean of a margin to the motion as it was read; its curve has none.
    pub margin_lean_deg: f64,
    /// Width behind the edge without relief.
    pub bare_mm: f64,
    /// Width of the first of two facets; not a number where there is one curve.
    pub primary_mm: f64,
    /// Relief of the second of two facets; not a number where there is one curve.
    pub secondary_deg: f64,
    pub drop_mm: f64,
    pub flat_equivalent_deg: f64,
    pub clearance_mm: f64,
    pub total_mm: f64,
    /// Of the edge's rounding; below 0 where the ball is smaller than stated, 0 where it is not told.
    pub edge_radius_mm: f64,
    pub edge_height_mm: f64,
    pub edge_arc_rad: f64,
}

/// How far the work stands up behind the edge, per radian, for a tool that is fed along its axis.
pub(super) fn standing(feature: &Feature) -> Length {
    match feature.surface {
        Surface::Radial => Length::ZERO,
        Surface::Axial => feature.feed.unwrap_or(Length::ZERO) / Angle::TURN.rad(),
    }
}

/// Radius of the circle on which a tooth's arcs are measured: its own edge's, or the one that the
/// probe follows over an end.
pub(super) fn edge_circle(tooth: &Tooth, clamping: &Clamping) -> Length {
    match clamping.surface {
        Surface::Radial => tooth.edge.height,
        Surface::Axial => clamping.radius,
    }
}

/// The arc behind the edge at which the drop is read.
fn check_arc(tooth: &Tooth, feature: &Feature, clamping: &Clamping) -> Angle {
    Angle::from_rad(feature.check_distance / edge_circle(tooth, clamping))
}

impl Plan {
    /// Chooses the places from the profile as measured.
    pub fn new(
        profile: &Profile,
        curves: &[Option<Laid>],
        feature: &Feature,
        clamping: &Clamping,
        design: &[Angle],
        edge_trust: impl Fn(&Tooth) -> Option<Length>,
    ) -> Self {
        let radius = feature.diameter / 2.0;
        let teeth: Vec<Option<ToothPlan>> = profile
            .teeth
            .iter()
            .zip(curves)
            .map(|(tooth, curve)| {
                let tooth = tooth.as_ref()?;
                let check = check_arc(tooth, feature, clamping);
                let end = feature.land.map_or(tooth.end, |land| land.min(tooth.end));
                let measured = Measured::new(&tooth.land, radius, tooth.end);
                let heel = tooth.heel.filter(|heel| heel.arc <= end);
                let least = measured.least(check, end, standing(feature), heel);
                let greatest = measured.greatest(end, heel);
                Some(ToothPlan {
                    check,
                    circle: edge_circle(tooth, clamping),
                    end,
                    least,
                    greatest,
                    trust: edge_trust(tooth),
                    nodes: measured.nodes(&[check, end], &[least, greatest], end, heel),
                    margin: curve.as_ref().and_then(|laid| laid.curve.margin()),
                })
            })
            .collect();
        let heights = edge_heights(profile, curves);
        let highest = extreme(&heights, |a, b| a.total_cmp(&b));
        let lowest = extreme(&heights, |a, b| b.total_cmp(&a));
        let spacing = spacing_deviations(profile, design).and_then(|spacing| {
            let deviations = spacing.deviations.iter().map(|off| Some(off.rad()));
            extreme(&deviations.collect::<Vec<_>>(), |a, b| {
                a.abs().total_cmp(&b.abs())
            })
        });
        let whole = heights.iter().all(Option::is_some) && heights.len() > 1;
        Self {
            teeth,
            spread: highest.zip(lowest).filter(|_| whole),
            spacing,
        }
    }
}

/// Index of the extreme of the values that are there.
fn extreme(values: &[Option<f64>], by: impl Fn(f64, f64) -> std::cmp::Ordering) -> Option<usize> {
    let there = values
        .iter()
        .enumerate()
        .filter_map(|(i, v)| Some((i, (*v)?)));
    there.max_by(|a, b| by(a.1, b.1)).map(|(i, _)| i)
}

/// The edge's height with what the fit of the land adds to it; mm.
pub(super) fn edge_height(tooth: &Tooth, curve: Option<&Laid>) -> Length {
    match (tooth.edge.height_uncertainty, curve) {
        // The edge was not measured by itself: the land's curve says where it is.
        (None, Some(curve)) => tooth.edge.height - curve.edge_offset,
        _ => tooth.edge.height,
    }
}

/// Standard uncertainty of an edge's height from what it was read with.
pub(super) fn own_edge_scatter(tooth: &Tooth, fit: Option<&Fit>) -> Length {
    match (tooth.edge.height_uncertainty, fit) {
        (Some(own), _) => own,
        (None, Some(fit)) => fit.edge_offset.standard_uncertainty,
        (None, None) => Length::ZERO,
    }
}

/// Fall of the land at an edge that was only carried back to: placed too far back, such an edge is
/// placed too low as well, by this much per radian. Nothing for a measured edge.
pub(super) fn slope_of_carried_edge(tooth: &Tooth, fit: Option<&Fit>) -> Length {
    match (tooth.edge.height_uncertainty, fit) {
        (None, Some(fit)) => fit.curve.slope(Angle::ZERO),
        _ => Length::ZERO,
    }
}

/// Standard uncertainty of an edge's height against other edges', from scatter and from where along
/// its land it was placed.
pub(super) fn edge_scatter(tooth: &Tooth, fit: Option<&Fit>) -> Length {
    let placed = slope_of_carried_edge(tooth, fit) * tooth.edge.angle.standard_uncertainty.rad();
    Length::from_mm(own_edge_scatter(tooth, fit).mm().hypot(placed.mm()))
}

/// Uncertainty of an edge's angle but for the encoder's steps, which have a line of their own.
pub(super) fn beyond_steps(tooth: &Tooth) -> Angle {
    let edge = &tooth.edge;
    let (own, step) = (edge.angle.standard_uncertainty.rad(), edge.steps.rad());
    Angle::from_rad((own * own - step * step).max(0.0).sqrt())
}

fn edge_heights(profile: &Profile, curves: &[Option<Laid>]) -> Vec<Option<f64>> {
    profile
        .teeth
        .iter()
        .zip(curves)
        .map(|(tooth, curve)| Some(edge_height(tooth.as_ref()?, curve.as_ref()).mm()))
        .collect()
}

/// How the angles between neighbouring edges differ from the design's.
#[derive(Clone, Debug, PartialEq)]
pub struct FluteSpacing {
    /// By how much the angle to the next edge is too wide, a tooth each.
    pub deviations: Vec<Angle>,
    /// The tooth that the list of a card fits best from.
    pub from: usize,
}

/// The deviations from equal spacing, or from the angles of a card's list, taken from whichever
/// tooth makes the greatest of them least. `None` when an edge is missing or there is but one.
pub(super) fn spacing_deviations(profile: &Profile, design: &[Angle]) -> Option<FluteSpacing> {
    let edges: Vec<Angle> = profile
        .teeth
        .iter()
        .map(|tooth| Some(tooth.as_ref()?.edge.angle.value))
        .collect::<Option<_>>()?;
    let count = edges.len();
    if count < 2 {
        return None;
    }
    let next = edges.iter().cycle().skip(1);
    let apart: Vec<Angle> = edges
        .iter()
        .zip(next)
        .map(|(here, next)| (*next - *here).in_turn())
        .collect();
    let from_tooth = |from: usize| -> Vec<Angle> {
        let wanted = |at: usize| {
            let listed = design.get((at + count - from) % count);
            listed.copied().unwrap_or(Angle::TURN / count as f64)
        };
        let off = apart.iter().enumerate();
        off.map(|(at, apart)| (*apart - wanted(at)).shortest())
            .collect()
    };
    let greatest = |deviations: &[Angle]| {
        let sizes = deviations.iter().map(|deviation| deviation.abs());
        sizes.fold(Angle::ZERO, Angle::max)
    };
    let starts = if design.is_empty() { 1 } else { count };
    let (from, deviations) = (0..starts)
        .map(|from| (from, from_tooth(from)))
        .min_by(|a, b| greatest(&a.1).total_cmp(&greatest(&b.1)))?;
    Some(FluteSpacing { deviations, from })
}

impl ToothPlan {
    /// An extreme of this plan on another edge circle: the check distance then takes another arc,
    /// and what was read there goes with it.
    fn on_circle(&self, extreme: Extreme, check: Angle) -> Extreme {
        let arc = if extreme.arc == self.check {
            check
        } else {
            extreme.arc
        };
        Extreme { arc, ..extreme }
    }
}

/// All values of a tooth under a clamping, at the places of its plan.
pub(super) fn values(
    tooth: &Tooth,
    curve: Option<&Laid>,
    plan: &ToothPlan,
    feature: &Feature,
    clamping: &Clamping,
) -> ToothValues {
    let radius = feature.diameter / 2.0;
    let measured = Measured::new(&tooth.land, radius, tooth.end);
    let lower = lower(tooth, curve);
    let check = check_arc(tooth, feature, clamping);
    let read = |extreme: Option<Extreme>| {
        let drop = measured.read(&plan.on_circle(extreme?, check), tooth.heel)?;
        Some(drop - lower)
    };
    let clearance = read(plan.least)
        .zip(plan.least)
        .map(|(drop, least)| drop - standing(feature) * least.arc.rad());
    let (relief, drop) = match curve {
        Some(laid) => (
            laid.curve.relief_angle().deg(),
            laid.drop_below_edge(check, plan.trust).mm(),
        ),
        None => (f64::NAN, f64::NAN),
    };
    let bare = curve.map_or(f64::NAN, |Laid { curve, .. }| {
        (curve.radius() * curve.without_relief(plan.end).rad()).mm()
    });
    let lean = plan.margin.map_or(0.0, |margin| {
        margin_lean(&tooth.land, margin, lower, radius)
    });
    let facet = |of: fn(&Curve) -> Option<Angle>| curve.and_then(|laid| of(&laid.curve));
    let primary = facet(Curve::primary).filter(|_| facet(Curve::secondary).is_some());
    ToothValues {
        primary_mm: primary.map_or(f64::NAN, |arc| (radius * arc.rad()).mm()),
        secondary_deg: facet(Curve::secondary).map_or(f64::NAN, Angle::deg),
        relief_deg: relief,
        margin_lean_deg: lean,
        bare_mm: bare,
        drop_mm: drop,
        flat_equivalent_deg: flat_equivalent(
            Length::from_mm(drop),
            check,
            edge_circle(tooth, clamping),
            feature.surface,
        ),
        clearance_mm: clearance.map_or(f64::NAN, Length::mm),
        total_mm: read(plan.greatest).map_or(f64::NAN, Length::mm),
        edge_radius_mm: tooth.edge.rounding.map_or(0.0, |found| found.value.mm()),
        edge_height_mm: (tooth.edge.height - lower).mm(),
        edge_arc_rad: tooth.edge.angle.value.rad(),
    }
}

/// What the edge lies lower than the land's drops are counted from: what the curve says of the edge
/// counts where the edge was not measured by itself.
fn lower(tooth: &Tooth, curve: Option<&Laid>) -> Length {
    tooth.edge.height - edge_height(tooth, curve)
}

/// The drops at all nodes of a tooth's plan, in mm.
pub(super) fn node_drops(
    tooth: &Tooth,
    curve: Option<&Laid>,
    plan: &ToothPlan,
    feature: &Feature,
    clamping: &Clamping,
) -> Vec<f64> {
    let check = check_arc(tooth, feature, clamping);
    let measured = Measured::new(&tooth.land, feature.diameter / 2.0, tooth.end);
    let lower = lower(tooth, curve);
    let each = plan.nodes.iter();
    each.map(
        |node| match measured.read(&plan.on_circle(*node, check), tooth.heel) {
            Some(drop) => (drop - lower).mm(),
            None => f64::NAN,
        },
    )
    .collect()
}

/// Lean in degrees of the line from the edge through what was read of a margin; `lower` is what the
/// edge lies lower than drops are counted from.
fn margin_lean(land: &[LandPlace], margin: Angle, lower: Length, radius: Length) -> f64 {
    let on_it = land.iter().take_while(|place| place.arc <= margin);
    let (mut along, mut squares) = (0.0, 0.0);
    for place in on_it {
        along += place.arc.rad() * (place.drop - lower).mm();
        squares += place.arc.rad().powi(2);
    }
    (along / squares / radius.mm()).atan().to_degrees()
}

/// Relief in degrees of the flat land that would give this drop; not a number where none does.
pub(super) fn flat_equivalent(drop: Length, arc: Angle, radius: Length, surface: Surface) -> f64 {
    let relief = match surface {
        Surface::Radial => relief::flat_equivalent_relief(drop, arc, radius),
        Surface::Axial => relief::axial_flat_equivalent_relief(drop, arc, radius),
    };
    relief.map_or(f64::NAN, Angle::deg)
}
