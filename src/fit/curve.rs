//! One curve of a family: drop, slope and relief angle anywhere behind the edge.

use super::family::{
    Arc, Base, Bound, Cam, CamFigures, Facets, Family, Flat, Form, Law, LogSpiral, Point, Spiral,
};
use crate::card::Surface;
use crate::quantity::{Angle, Length};

/// A curve through the edge, by its family and figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    base: Base,
    form: Form,
    /// Width of a margin that comes before the family, as an arc; it is then the last parameter.
    margin: Option<f64>,
}

impl Curve {
    /// A plane through the edge.
    pub fn flat(surface: Surface, radius: Length, relief: Angle) -> Self {
        let relief = relief.rad();
        Self::endless(surface, radius, Flat { relief })
    }

    /// Constant-rise relief.
    pub fn spiral(surface: Surface, radius: Length, relief: Angle) -> Self {
        let relief = relief.rad();
        Self::endless(surface, radius, Spiral { relief })
    }

    /// Constant relief angle; on an axial surface that is a spiral.
    pub fn log_spiral(surface: Surface, radius: Length, relief: Angle) -> Self {
        match surface {
            Surface::Axial => Self::spiral(surface, radius, relief),
            Surface::Radial => {
                let relief = relief.rad();
                Self::endless(surface, radius, LogSpiral { relief })
            }
        }
    }

    /// A circle through the edge; `bend` is the edge radius over the circle's: 1 where they are
    /// equal, 0 for none, negative where the land is hollow.
    pub fn arc(surface: Surface, radius: Length, relief: Angle, bend: f64) -> Self {
        let relief = relief.rad();
        Self::endless(surface, radius, Arc { relief, bend })
    }

    /// Fall, dwell, return.
    pub fn cam(surface: Surface, radius: Length, figures: CamFigures) -> Self {
        Self::endless(surface, radius, Cam::of(figures)).moved_to(radius, figures.end)
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
        let facets = Facets {
            primary: primary.rad(),
            width: width.rad(),
            secondary: secondary.rad(),
        };
        Self::endless(surface, radius, facets)
    }

    /// The same curve behind a margin: a cylinder about the axis, `width` of arc wide.
    ///
    /// A spline already follows a margin, and stays as it is.
    pub fn behind_margin(&self, width: Angle) -> Self {
        Self {
            margin: (self.family() != Family::Free).then(|| width.rad()),
            ..*self
        }
    }

    /// A curve whose family does not ask where the land ends.
    fn endless(surface: Surface, radius: Length, form: impl Into<Form>) -> Self {
        let base = Base {
            surface,
            radius: radius.mm(),
            end: 0.0,
        };
        Self::new(base, form)
    }

    pub(super) fn new(base: Base, form: impl Into<Form>) -> Self {
        Self {
            base,
            form: form.into(),
            margin: None,
        }
    }

    /// Its family.
    pub fn family(&self) -> Family {
        self.form.family()
    }

    /// The direction in which its drop is measured.
    pub fn surface(&self) -> Surface {
        self.base.surface
    }

    /// The edge radius; on an axial surface that of the circle that the probe follows.
    pub fn radius(&self) -> Length {
        Length::from_mm(self.base.radius)
    }

    /// The law of a cam.
    pub fn law(&self) -> Option<Law> {
        match self.form {
            Form::Cam(cam) => Some(cam.law),
            _ => None,
        }
    }

    /// How far the surface lies below the edge, `arc` behind it; not a number where this curve does
    /// not reach so far round.
    pub fn drop(&self, arc: Angle) -> Length {
        Length::from_mm(self.at(arc.rad()).drop)
    }

    /// Growth of the drop per radian of arc.
    pub fn slope(&self, arc: Angle) -> Length {
        Length::from_mm(self.at(arc.rad()).slope)
    }

    /// Angle between the land and the direction of motion, at the edge: none where a margin comes
    /// first.
    pub fn relief_angle(&self) -> Angle {
        Angle::from_rad((self.at(0.0).slope / self.base.radius).atan())
    }

    /// The relief angle where the family itself begins: behind the margin, if there is one, else at
    /// the edge.
    pub fn relief_behind_margin(&self) -> Angle {
        let width = self.margin.unwrap_or(0.0);
        let slope = self.form.at(&self.behind(width), 0.0).slope;
        Angle::from_rad((slope / self.base.radius).atan())
    }

    /// Width of the margin behind the edge, `None` where the family begins at the edge.
    pub fn margin(&self) -> Option<Angle> {
        self.margin.map(Angle::from_rad)
    }

    /// Arc behind the edge until which the curve does not lie below it: the margin, and where the
    /// curve rises, on to where it falls below the edge again, at the latest to `end`.
    pub fn without_relief(&self, end: Angle) -> Angle {
        const STEPS: u32 = 200;
        const HALVINGS: u32 = 40;
        let (start, end) = (self.margin.unwrap_or(0.0), end.rad());
        if self.relief_behind_margin() > Angle::ZERO {
            return Angle::from_rad(start.min(end));
        }
        let below = |phi: f64| self.at(phi).drop > 0.0;
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
        let arc = self.form.bends_at()? + self.margin.unwrap_or(0.0);
        Some(Angle::from_rad(arc))
    }

    /// Relief angle of the second of two facets, to the motion where it begins.
    pub fn secondary(&self) -> Option<Angle> {
        match self.form {
            Form::Facets(facets) => Some(Angle::from_rad(facets.secondary)),
            _ => None,
        }
    }

    /// Its figures by name with unit, for records.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        let mut list = vec![("relief_angle_deg", self.relief_angle().deg())];
        if let Some(width) = self.margin {
            list.push(("margin_mm", self.base.radius * width));
            let behind = self.relief_behind_margin().deg();
            list.push(("relief_behind_margin_deg", behind));
        }
        list.extend(self.form.figures(&self.behind(self.margin.unwrap_or(0.0))));
        list
    }

    /// How many parameters it has.
    pub(super) fn freedom(&self) -> usize {
        self.own_freedom() + usize::from(self.margin.is_some())
    }

    /// How many the family has, the margin left out.
    fn own_freedom(&self) -> usize {
        let mut count = 0;
        self.form.map(&self.base, |value, _| {
            count += 1;
            value
        });
        count
    }

    /// The parameters in the form that the solver varies.
    pub(super) fn theta(&self) -> Vec<f64> {
        let mut theta = Vec::new();
        self.map(|_, value, _| {
            theta.push(value);
            value
        });
        theta
    }

    /// The same curve with other parameters, as many as [`Self::freedom`].
    pub(super) fn with_theta(&self, mut theta: impl Iterator<Item = f64>) -> Self {
        self.map(|_, old, _| theta.next().unwrap_or(old))
    }

    /// The same curve with each parameter changed by so much, as far as it may.
    pub(super) fn changed_by(&self, mut change: impl FnMut(usize) -> f64) -> Self {
        self.map(|i, value, bound| (value + change(i)).clamp(bound.least, bound.greatest))
    }

    /// The same curve with each parameter replaced, by its index, value and bound.
    pub(super) fn map(&self, mut next: impl FnMut(usize, f64, Bound) -> f64) -> Self {
        let mut index = 0;
        let mut counted = |value, bound| {
            let new = next(index, value, bound);
            index += 1;
            new
        };
        let form = self.form.map(&self.base, &mut counted);
        let margin = self.margin.map(|width| {
            let bound = Bound::new("margin", 0.0, 0.9 * self.base.end);
            // That a land has no margin is no fault.
            let none = width <= 0.0;
            counted(width, if none { bound.harmless() } else { bound })
        });
        Self {
            form,
            margin,
            ..*self
        }
    }

    /// Name, least and greatest value of a parameter.
    pub(super) fn bound(&self, parameter: usize) -> Option<Bound> {
        let mut found = None;
        self.map(|i, value, bound| {
            if i == parameter {
                found = Some(bound);
            }
            value
        });
        found
    }

    /// The others of its family that have the same parameters, such as the same cam by other laws.
    pub(super) fn kin(&self) -> impl Iterator<Item = Self> {
        let forms = self.form.kin().into_iter();
        forms.map(|form| Self { form, ..*self })
    }

    /// The same figures about an edge circle of another radius, and a land of another length.
    pub(super) fn moved_to(&self, radius: Length, end: Angle) -> Self {
        let base = Base {
            radius: radius.mm(),
            end: end.rad(),
            ..self.base
        };
        Self { base, ..*self }
    }

    /// Change in mm per unit of each parameter, as many as [`Self::freedom`].
    pub(super) fn change(&self, phi: f64, row: &mut [f64]) {
        match &self.form {
            Form::Free(free) => {
                row.copy_from_slice(&free.change(self.base.end, phi)[..row.len()]);
            }
            _ => row.copy_from_slice(&self.at(phi).change[..row.len()]),
        }
    }

    /// Drop, slope, and change with each parameter; a free curve's changes are too many, and left to
    /// [`Self::change`].
    pub(super) fn at(&self, phi: f64) -> Point {
        let Some(width) = self.margin else {
            return self.form.at(&self.base, phi);
        };
        if phi <= width {
            return Point::new(0.0, 0.0, []);
        }
        let mut point = self.form.at(&self.behind(width), phi - width);
        // A wider margin moves the family on, and leaves it less land.
        point.change[self.own_freedom()] = -point.slope - point.with_end;
        point
    }

    /// What the family is laid on where `width` of margin comes before it.
    fn behind(&self, width: f64) -> Base {
        Base {
            end: self.base.end - width,
            ..self.base
        }
    }
}
