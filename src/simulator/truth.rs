//! What is really true of a simulated tool, worked out from its recipe and its own points.

use super::land::{self, LandPoint};
use super::outline::{self, TrueTooth};
use super::scenario::{Scenario, Surface};
use super::worn::drop_at;
use crate::quantity::{Angle, Length};
use std::f64::consts::TAU;

/// The truth about a feature.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// The teeth by growing angle from the recipe's first edge on.
    pub teeth: Vec<ToothTruth>,
    /// Highest edge minus lowest.
    pub edge_spread: Length,
    /// Greatest deviation of the angle between neighbouring edges from equal spacing.
    pub flute_spacing: Angle,
    /// Eccentricity of the tool at this section.
    pub runout: Length,
}

/// The truth about a tooth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToothTruth {
    /// Angle of the spindle at which its edge passes the axis, in one turn.
    pub edge: Angle,
    /// Arc of its land.
    pub land: Angle,
    /// Distance of its edge from the axis (axial: height against the highest edge).
    pub edge_height: Length,
    /// Angle between the land and the direction of motion at the edge.
    pub relief_angle: Angle,
    /// Drop at the check distance; absent where the land ends before it.
    pub drop: Option<Length>,
    /// Greatest drop on the land.
    pub total_relief: Length,
    /// Least clearance from the check distance to the end of the land, feed taken off.
    pub heel_clearance: Option<Length>,
    /// Arc behind the edge at which that is.
    pub least_at: Option<Angle>,
    /// Width behind the edge without relief.
    pub wear_land: Length,
}

impl Scenario {
    /// The truth about a feature, by its place in the recipe, where it is traced first.
    pub fn truth(&self, feature: usize) -> Option<Truth> {
        self.truth_at(feature, 0)
    }

    /// The truth about a feature where its trace of this number lies, counted from 0.
    pub fn truth_at(&self, feature: usize, trace: usize) -> Option<Truth> {
        let feature = self.feature.get(feature)?;
        let z_mm = feature.true_z_mm(trace);
        let teeth = outline::teeth(feature, self.tool.flutes, z_mm);
        let heights = teeth.iter().map(|tooth| tooth.height);
        let highest = heights.clone().fold(f64::MIN, f64::max);
        let lowest = heights.fold(f64::MAX, f64::min);
        let pitch = TAU / f64::from(self.tool.flutes);
        let next = teeth.iter().skip(1).map(|tooth| tooth.edge);
        let first_again = teeth.first().map(|tooth| tooth.edge + TAU);
        let spacing = teeth
            .iter()
            .zip(next.chain(first_again))
            .map(|(tooth, next)| (next - tooth.edge - pitch).abs())
            .fold(0.0, f64::max);
        let fed_per_radian = match feature.surface {
            Surface::Radial => 0.0,
            Surface::Axial => feature.feed_mm_per_rev.unwrap_or(0.0) / TAU,
        };
        let at = self.clamping.first_edge_deg.to_radians();
        Some(Truth {
            teeth: teeth
                .iter()
                .map(|tooth| tooth_truth(tooth, at, feature.check_distance_mm, fed_per_radian))
                .collect(),
            edge_spread: Length::from_mm(highest - lowest),
            flute_spacing: Angle::from_rad(spacing),
            runout: self.runout(Length::from_mm(z_mm)),
        })
    }

    /// The true eccentricity of the tool in the spindle at a distance from its front.
    pub fn runout(&self, z: Length) -> Length {
        Length::from_mm(self.clamping.eccentricity_at(z.mm()).0).abs()
    }
}

fn tooth_truth(
    tooth: &TrueTooth,
    first_edge: f64,
    check_distance_mm: f64,
    fed_per_radian: f64,
) -> ToothTruth {
    let radius = tooth.seat.radius_mm;
    let points = tooth.profile.points(radius / 20_000.0);
    let check = check_distance_mm / radius;
    let end = points.last().map_or(0.0, |point| point.phi);
    let behind = points.iter().filter(|point| point.phi >= check);
    let drop = behind.clone().next().map(|point| point.drop);
    let least = behind
        .map(|point| (point.drop - fed_per_radian * point.phi, point.phi))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let deepest = points.iter().map(|point| point.drop).fold(0.0, f64::max);
    ToothTruth {
        edge: Angle::from_rad(tooth.edge + first_edge).in_turn(),
        land: Angle::from_rad(end),
        edge_height: Length::from_mm(tooth.height),
        relief_angle: Angle::from_rad(relief_at_edge(tooth, &points)),
        drop: drop.map(Length::from_mm),
        total_relief: Length::from_mm(deepest),
        heel_clearance: least.map(|(clearance, _)| Length::from_mm(clearance)),
        least_at: least.map(|(_, phi)| Angle::from_rad(phi)),
        wear_land: Length::from_mm(wear_land(tooth, &points)),
    }
}

/// Relief angle at the edge, in radians; of lands given by points the slope at their first one.
fn relief_at_edge(tooth: &TrueTooth, points: &[LandPoint]) -> f64 {
    /// Far enough apart that thinned points do not show, near enough that no land bends in between.
    const APART: f64 = 0.5 / 180.0 * std::f64::consts::PI;
    if !tooth.profile.is_ground() {
        return match tooth.profile.wear_land_mm() > 0.0 {
            true => 0.0,
            false => land::relief_at_edge(tooth.profile.land(), tooth.seat),
        };
    }
    let drop = |places: f64| drop_at(points, places * APART);
    // A derivative from one side, right to second order.
    let slope = (4.0 * drop(1.0) - 3.0 * drop(0.0) - drop(2.0)) / (2.0 * APART);
    (slope / tooth.seat.radius_mm).atan()
}

/// Width behind the edge without relief.
fn wear_land(tooth: &TrueTooth, points: &[LandPoint]) -> f64 {
    /// What lies deeper is relieved: of a land given by points, deeper than they are true to.
    const RELIEVED_MM: f64 = 1e-5;
    let profile = &tooth.profile;
    let end = points.last().map_or(0.0, |last| last.phi) * tooth.seat.radius_mm;
    let relieved = points.iter().find(|point| point.drop > RELIEVED_MM);
    match relieved {
        None => end,
        Some(first) if profile.is_ground() => first.phi * tooth.seat.radius_mm,
        Some(_) => profile
            .land()
            .margin_mm
            .max(profile.wear_land_mm())
            .min(end),
    }
}
