//! One curve of a family: drop, slope and relief angle anywhere behind the edge.

use super::Family;
use super::cam::{Cam, Law};
use super::lines::{self, Point};
use crate::card::Surface;
use crate::quantity::{Angle, Length};

/// The most parameters that any family has; unused ones stay 0.
pub(super) const MOST_PARAMETERS: usize = 5;

/// A curve through the edge, by its family and figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    family: Family,
    surface: Surface,
    radius_mm: f64,
    /// Only a cam depends on where its land ends.
    end_rad: f64,
    law: Law,
    /// Whether a cam's land returns before it ends.
    returns: bool,
    theta: [f64; MOST_PARAMETERS],
}

/// The figures of a cam as people measure them, all from the edge backwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CamFigures {
    /// How it moves from one height to the next.
    pub law: Law,
    /// Drop in the dwell.
    pub depth: Length,
    /// Arc behind the edge where the fall ends.
    pub fall: Angle,
    /// Arc of the same fall that lies before the edge: 0 where the fall begins at the edge.
    pub lead: Angle,
    /// Arc where the return starts and drop where the land ends; `None` where the land ends in its
    /// dwell.
    pub heel: Option<(Angle, Length)>,
    /// Arc where the land ends.
    pub end: Angle,
}

impl Curve {
    /// A plane through the edge.
    pub fn flat(surface: Surface, radius: Length, relief: Angle) -> Self {
        Self::line(Family::Flat, surface, radius, relief, 0.0)
    }

    /// Constant-rise relief.
    pub fn spiral(surface: Surface, radius: Length, relief: Angle) -> Self {
        Self::line(Family::Spiral, surface, radius, relief, 0.0)
    }

    /// Constant relief angle.
    pub fn log_spiral(surface: Surface, radius: Length, relief: Angle) -> Self {
        Self::line(Family::LogSpiral.on(surface), surface, radius, relief, 0.0)
    }

    /// A circle through the edge; `bend` is the edge radius over the circle's: 1 where they are
    /// equal, 0 for none, negative where the land is hollow.
    pub fn arc(surface: Surface, radius: Length, relief: Angle, bend: f64) -> Self {
        Self::line(Family::Arc, surface, radius, relief, bend)
    }

    /// Fall, dwell, return.
    pub fn cam(surface: Surface, radius: Length, figures: CamFigures) -> Self {
        let fall = figures.fall.rad();
        let rest = figures.end.rad() - fall;
        let (dwell, heel) = match figures.heel {
            Some((start, drop)) if rest > 0.0 => ((start.rad() - fall) / rest, drop.mm()),
            Some((_, drop)) => (0.0, drop.mm()),
            None => (1.0, figures.depth.mm()),
        };
        let mut curve = Self::line(Family::Cam, surface, radius, Angle::ZERO, 0.0);
        curve.end_rad = figures.end.rad();
        curve.law = figures.law;
        curve.returns = figures.heel.is_some();
        curve.theta = [
            figures.depth.mm(),
            fall,
            // Without any fall there is no lead either, rather than 0 / 0.
            figures.lead.rad() / (fall + figures.lead.rad()).max(f64::MIN_POSITIVE),
            dwell,
            heel,
        ];
        curve
    }

    fn line(family: Family, surface: Surface, radius: Length, relief: Angle, bend: f64) -> Self {
        Self {
            family,
            surface,
            radius_mm: radius.mm(),
            end_rad: 0.0,
            law: Law::Cycloidal,
            returns: false,
            theta: [relief.rad(), bend, 0.0, 0.0, 0.0],
        }
    }

    /// Its family.
    pub fn family(&self) -> Family {
        self.family
    }

    /// The direction in which its drop is measured.
    pub fn surface(&self) -> Surface {
        self.surface
    }

    /// The edge radius; on an axial surface that of the circle that the probe follows.
    pub fn radius(&self) -> Length {
        Length::from_mm(self.radius_mm)
    }

    /// The law of a cam.
    pub fn law(&self) -> Option<Law> {
        (self.family == Family::Cam).then_some(self.law)
    }

    /// How far the surface lies below the edge, `arc` behind it; not a number where this curve does
    /// not reach so far round.
    pub fn drop(&self, arc: Angle) -> Length {
        Length::from_mm(self.at(arc.rad()).0)
    }

    /// Growth of the drop per radian of arc.
    pub fn slope(&self, arc: Angle) -> Length {
        Length::from_mm(self.at(arc.rad()).1)
    }

    /// Angle between the land and the direction of motion, at the edge.
    pub fn relief_angle(&self) -> Angle {
        Angle::from_rad((self.at(0.0).1 / self.radius_mm).atan())
    }

    /// Its figures by name with unit, for records.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        let mut list = vec![("relief_angle_deg", self.relief_angle().deg())];
        match self.family {
            Family::Flat | Family::Spiral | Family::LogSpiral => {}
            Family::Arc => {
                let curvature = self.theta[1] / self.radius_mm;
                list.push(("curvature_per_mm", curvature));
                // A circle flatter than this is a plane on any land, and its radius says nothing.
                if curvature.abs() > 1e-6 {
                    list.push(("radius_mm", 1.0 / curvature));
                }
            }
            Family::Cam => {
                let cam = self.as_cam();
                list.push(("depth_mm", cam.depth));
                list.push(("fall_deg", cam.fall.to_degrees()));
                let lead = cam.fall * cam.lead / (1.0 - cam.lead);
                list.push(("lead_deg", lead.to_degrees()));
                if self.returns {
                    list.push(("return_start_deg", cam.return_start().to_degrees()));
                    list.push(("heel_drop_mm", cam.heel));
                }
            }
        }
        list
    }

    /// How many of the parameters are used.
    pub(super) fn freedom(&self) -> usize {
        match self.family {
            Family::Flat | Family::Spiral | Family::LogSpiral => 1,
            Family::Arc => 2,
            Family::Cam if self.returns => 5,
            Family::Cam => 3,
        }
    }

    /// The parameters in the form that the solver varies.
    pub(super) fn theta(&self) -> &[f64] {
        &self.theta[..self.freedom()]
    }

    /// The same curve with other parameters, as many as [`Self::freedom`].
    pub(super) fn with_theta(&self, theta: impl Iterator<Item = f64>) -> Self {
        let mut changed = *self;
        for (old, new) in changed.theta.iter_mut().zip(theta) {
            *old = new;
        }
        changed
    }

    /// The same cam by another law.
    pub(super) fn with_law(&self, law: Law) -> Self {
        let mut changed = *self;
        changed.law = law;
        changed.theta[2] = changed.theta[2].min(law.most_lead());
        changed
    }

    /// The same figures about an edge circle of another radius, and a land of another length.
    pub(super) fn moved_to(&self, radius: Length, end: Angle) -> Self {
        Self {
            radius_mm: radius.mm(),
            end_rad: end.rad(),
            ..*self
        }
    }

    /// Name, least and greatest value of a parameter.
    pub(super) fn bounds(&self, parameter: usize) -> (&'static str, f64, f64) {
        // Wide enough for anything a wheel can leave, narrow enough that tangents stay finite.
        const STEEPEST: f64 = 1.2;
        match (self.family, parameter) {
            (Family::Arc, 1) => ("curvature", -50.0, 50.0),
            (Family::Cam, 0) => ("depth", -self.radius_mm, self.radius_mm),
            (Family::Cam, 1) => ("fall", 0.01 * self.end_rad, self.end_rad),
            (Family::Cam, 2) => ("lead", 0.0, self.law.most_lead()),
            (Family::Cam, 3) => ("return start", 0.0, 0.95),
            (Family::Cam, 4) => ("heel drop", -self.radius_mm, self.radius_mm),
            _ => ("relief angle", -STEEPEST, STEEPEST),
        }
    }

    /// Drop in mm, slope in mm per radian, change in mm per unit of each parameter.
    pub(super) fn at(&self, phi: f64) -> (f64, f64, [f64; MOST_PARAMETERS]) {
        let (radius, a, bend) = (self.radius_mm, self.theta[0], self.theta[1]);
        let Point {
            drop,
            slope,
            change: [first, second],
        } = match (self.family, self.surface) {
            (Family::Flat, Surface::Radial) => lines::radial_flat(radius, a, phi),
            (Family::Flat, Surface::Axial) => lines::axial_flat(radius, a, phi),
            (Family::Spiral, _) | (Family::LogSpiral, Surface::Axial) => {
                lines::spiral(radius, a, phi)
            }
            (Family::LogSpiral, Surface::Radial) => lines::log_spiral(radius, a, phi),
            (Family::Arc, Surface::Radial) => lines::radial_arc(radius, a, bend, phi),
            (Family::Arc, Surface::Axial) => lines::axial_arc(radius, a, bend, phi),
            (Family::Cam, _) => return self.as_cam().at(phi),
        };
        (drop, slope, [first, second, 0.0, 0.0, 0.0])
    }

    fn as_cam(&self) -> Cam {
        let [depth, fall, lead, dwell, heel] = self.theta;
        Cam {
            law: self.law,
            end: self.end_rad,
            depth,
            fall,
            lead,
            dwell: if self.returns { dwell } else { 1.0 },
            heel,
        }
    }
}
