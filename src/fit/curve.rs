//! One curve of a family: drop, slope and relief angle anywhere behind the edge.

use super::Family;
use super::cam::{Cam, Law};
use super::facets::Facets;
use super::lines::{self, Point};
use super::spline;
use crate::card::Surface;
use crate::quantity::{Angle, Length};

/// The most parameters that any curve has; unused ones stay 0.
pub(super) const MOST_PARAMETERS: usize = spline::COEFFICIENTS;
/// The most that a curve has which is not free: a cam behind a margin.
const MOST_SHAPED: usize = 6;

/// A curve through the edge, by its family and figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    family: Family,
    surface: Surface,
    radius_mm: f64,
    /// Only a cam and a free curve depend on where the land ends.
    end_rad: f64,
    law: Law,
    /// Whether a cam's land returns before it ends.
    returns: bool,
    /// Whether a margin comes before the family; its width is then the last parameter.
    margined: bool,
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
        curve.theta[..5].copy_from_slice(&[
            figures.depth.mm(),
            fall,
            // Without any fall there is no lead either, rather than 0 / 0.
            figures.lead.rad() / (fall + figures.lead.rad()).max(f64::MIN_POSITIVE),
            dwell,
            heel,
        ]);
        curve
    }

    /// A flat primary to `width` of arc behind the edge, then a flat secondary; each relief angle
    /// is that to the motion where its flat begins.
    pub fn facets(
        surface: Surface,
        radius: Length,
        primary: Angle,
        width: Angle,
        secondary: Angle,
    ) -> Self {
        let mut curve = Self::line(Family::Facets, surface, radius, primary, 0.0);
        curve.theta[1] = width.rad();
        curve.theta[2] = secondary.rad();
        curve
    }

    /// A spline that ends with its land, straight until its coefficients are given.
    pub(super) fn free(surface: Surface, radius: Length, end: Angle) -> Self {
        let mut curve = Self::line(Family::Free, surface, radius, Angle::ZERO, 0.0);
        curve.end_rad = end.rad();
        curve
    }

    /// The same curve behind a margin: a cylinder about the axis, `width` of arc wide.
    ///
    /// A spline already follows a margin, and stays as it is.
    pub fn behind_margin(&self, width: Angle) -> Self {
        let mut changed = *self;
        if self.family != Family::Free {
            changed.theta[self.own_freedom()] = width.rad();
            changed.margined = true;
        }
        changed
    }

    fn line(family: Family, surface: Surface, radius: Length, relief: Angle, bend: f64) -> Self {
        let mut theta = [0.0; MOST_PARAMETERS];
        (theta[0], theta[1]) = (relief.rad(), bend);
        Self {
            family,
            surface,
            radius_mm: radius.mm(),
            end_rad: 0.0,
            law: Law::Cycloidal,
            returns: false,
            margined: false,
            theta,
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

    /// Angle between the land and the direction of motion, at the edge: none where a margin comes
    /// first.
    pub fn relief_angle(&self) -> Angle {
        Angle::from_rad((self.at(0.0).1 / self.radius_mm).atan())
    }

    /// The relief angle where the family itself begins: behind the margin, if there is one, else at
    /// the edge.
    pub fn relief_behind_margin(&self) -> Angle {
        let width = self.margin_rad();
        let (_, slope, _, _) = self.own_at(0.0, self.end_rad - width);
        Angle::from_rad((slope / self.radius_mm).atan())
    }

    /// Width of the margin behind the edge, `None` where the family begins at the edge.
    pub fn margin(&self) -> Option<Angle> {
        self.margined.then(|| Angle::from_rad(self.margin_rad()))
    }

    /// Arc behind the edge until which the curve does not lie below it: the margin, and where the
    /// curve rises, on to where it falls below the edge again, at the latest to `end`.
    pub fn without_relief(&self, end: Angle) -> Angle {
        const STEPS: u32 = 200;
        const HALVINGS: u32 = 40;
        let (start, end) = (self.margin_rad(), end.rad());
        if self.relief_behind_margin() > Angle::ZERO {
            return Angle::from_rad(start.min(end));
        }
        let below = |phi: f64| self.at(phi).0 > 0.0;
        let place = |step: u32| start + (end - start) * f64::from(step) / f64::from(STEPS);
        let Some(step) = (1..=STEPS).find(|step| below(place(*step))) else {
            return Angle::from_rad(end);
        };
        let (mut above, mut under) = (place(step - 1), place(step));
        for _ in 0..HALVINGS {
            let middle = 0.5 * (above + under);
            if below(middle) {
                under = middle;
            } else {
                above = middle;
            }
        }
        Angle::from_rad(under)
    }

    /// Arc of the primary of a land of two facets.
    pub fn primary(&self) -> Option<Angle> {
        (self.family == Family::Facets).then(|| Angle::from_rad(self.margin_rad() + self.theta[1]))
    }

    /// What people call it: its family, and that a margin comes first.
    pub(super) fn described(&self) -> String {
        match self.margin() {
            Some(_) => format!("`{}` behind a margin", self.family),
            None => format!("`{}`", self.family),
        }
    }

    /// Its figures by name with unit, for records.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        let mut list = vec![("relief_angle_deg", self.relief_angle().deg())];
        if let Some(width) = self.margin() {
            list.push(("margin_mm", self.radius_mm * width.rad()));
            let behind = self.relief_behind_margin().deg();
            list.push(("relief_behind_margin_deg", behind));
        }
        match self.family {
            Family::Flat | Family::Spiral | Family::LogSpiral | Family::Free => {}
            Family::Arc => {
                let curvature = self.theta[1] / self.radius_mm;
                list.push(("curvature_per_mm", curvature));
                // A circle flatter than this is a plane on any land, and its radius says nothing.
                if curvature.abs() > 1e-6 {
                    list.push(("radius_mm", 1.0 / curvature));
                }
            }
            Family::Cam => {
                let cam = self.as_cam(self.end_rad - self.margin_rad());
                list.push(("depth_mm", cam.depth));
                list.push(("fall_deg", cam.fall.to_degrees()));
                let lead = cam.fall * cam.lead / (1.0 - cam.lead);
                list.push(("lead_deg", lead.to_degrees()));
                if self.returns {
                    list.push(("return_start_deg", cam.return_start().to_degrees()));
                    list.push(("heel_drop_mm", cam.heel));
                }
            }
            Family::Facets => {
                list.push(("primary_mm", self.radius_mm * self.theta[1]));
                list.push(("secondary_relief_deg", self.theta[2].to_degrees()));
            }
        }
        list
    }

    /// Whether it is a cam whose land returns before it ends.
    pub(super) fn returns(&self) -> bool {
        self.returns
    }

    /// How many of the parameters are used.
    pub(super) fn freedom(&self) -> usize {
        self.own_freedom() + usize::from(self.margined)
    }

    /// How many the family uses, the margin left out.
    fn own_freedom(&self) -> usize {
        match self.family {
            Family::Flat | Family::Spiral | Family::LogSpiral => 1,
            Family::Arc => 2,
            Family::Facets => 3,
            Family::Cam if self.returns => 5,
            Family::Cam => 3,
            Family::Free => spline::COEFFICIENTS,
        }
    }

    fn margin_rad(&self) -> f64 {
        if self.margined {
            self.theta[self.own_freedom()]
        } else {
            0.0
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
        if self.margined && parameter == self.own_freedom() {
            return ("margin", 0.0, 0.9 * self.end_rad);
        }
        match (self.family, parameter) {
            (Family::Free, _) => ("spline", f64::NEG_INFINITY, f64::INFINITY),
            (Family::Facets, 1) => ("width of the primary", 0.0, self.end_rad),
            (Family::Facets, 2) => ("secondary relief angle", -STEEPEST, STEEPEST),
            (Family::Arc, 1) => ("curvature", -50.0, 50.0),
            (Family::Cam, 0) => ("depth", -self.radius_mm, self.radius_mm),
            (Family::Cam, 1) => ("fall", 0.01 * self.end_rad, self.end_rad),
            (Family::Cam, 2) => ("lead", 0.0, self.law.most_lead()),
            (Family::Cam, 3) => ("return start", 0.0, 0.95),
            (Family::Cam, 4) => ("heel drop", -self.radius_mm, self.radius_mm),
            _ => ("relief angle", -STEEPEST, STEEPEST),
        }
    }

    /// Change in mm per unit of each parameter, as many as [`Self::freedom`].
    pub(super) fn change(&self, phi: f64, row: &mut [f64]) {
        if self.family == Family::Free {
            let mut change = [0.0; MOST_PARAMETERS];
            let _ = spline::at(&self.theta, self.end_rad, phi, &mut change);
            row.copy_from_slice(&change[..row.len()]);
        } else {
            row.copy_from_slice(&self.at(phi).2[..row.len()]);
        }
    }

    /// Drop in mm, slope in mm per radian, change in mm per unit of each parameter; a free curve's
    /// changes are too many, and left to [`Self::change`].
    pub(super) fn at(&self, phi: f64) -> (f64, f64, [f64; MOST_SHAPED]) {
        if !self.margined {
            let (drop, slope, change, _) = self.own_at(phi, self.end_rad);
            return (drop, slope, change);
        }
        let width = self.margin_rad();
        if phi <= width {
            return (0.0, 0.0, [0.0; MOST_SHAPED]);
        }
        let (drop, slope, mut change, with_end) = self.own_at(phi - width, self.end_rad - width);
        // A wider margin moves the family on, and leaves it less land.
        change[self.own_freedom()] = -slope - with_end;
        (drop, slope, change)
    }

    /// The family itself, `phi` from where it begins, on a land that ends at `end` from there; last
    /// the change of the drop with `end`.
    fn own_at(&self, phi: f64, end: f64) -> (f64, f64, [f64; MOST_SHAPED], f64) {
        let (radius, a, bend) = (self.radius_mm, self.theta[0], self.theta[1]);
        let mut change = [0.0; MOST_SHAPED];
        let point = match (self.family, self.surface) {
            (Family::Flat, Surface::Radial) => lines::radial_flat(radius, a, phi),
            (Family::Flat, Surface::Axial) => lines::axial_flat(radius, a, phi),
            (Family::Spiral, _) | (Family::LogSpiral, Surface::Axial) => {
                lines::spiral(radius, a, phi)
            }
            (Family::LogSpiral, Surface::Radial) => lines::log_spiral(radius, a, phi),
            (Family::Arc, Surface::Radial) => lines::radial_arc(radius, a, bend, phi),
            (Family::Arc, Surface::Axial) => lines::axial_arc(radius, a, bend, phi),
            (Family::Facets, surface) => {
                let facets = Facets {
                    surface,
                    radius,
                    primary: a,
                    width: self.theta[1],
                    secondary: self.theta[2],
                };
                let (drop, slope, own) = facets.at(phi);
                change[..3].copy_from_slice(&own);
                return (drop, slope, change, 0.0);
            }
            (Family::Cam, _) => {
                let cam = self.as_cam(end);
                let (drop, slope, own) = cam.at(phi);
                change[..5].copy_from_slice(&own);
                return (drop, slope, change, cam.with_end(phi));
            }
            (Family::Free, _) => {
                let all = &mut [0.0; MOST_PARAMETERS];
                let (drop, slope) = spline::at(&self.theta, end, phi, all);
                return (drop, slope, change, 0.0);
            }
        };
        let Point {
            drop,
            slope,
            change: two,
        } = point;
        change[..2].copy_from_slice(&two);
        (drop, slope, change, 0.0)
    }

    fn as_cam(&self, end: f64) -> Cam {
        let [depth, fall, lead, dwell, heel] = std::array::from_fn(|i| self.theta[i]);
        // Without a return these two slots are not the cam's.
        let (dwell, heel) = if self.returns {
            (dwell, heel)
        } else {
            (1.0, depth)
        };
        Cam {
            law: self.law,
            end,
            depth,
            fall,
            lead,
            dwell,
            heel,
        }
    }
}
