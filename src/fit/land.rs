//! The measured land of one tooth, as a fit wants it.

use crate::card::Surface;
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length};

/// A measured place on a land.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LandPoint {
    /// Arc behind the edge, above 0.
    pub arc: Angle,
    /// Height of the edge less height of the surface; negative where the surface stands higher.
    pub drop: Length,
    /// Standard uncertainty of `drop` from what differs from point to point. What all points share,
    /// such as an error of the indicator's zero, does not belong here.
    pub standard_uncertainty: Length,
}

/// The measured land of one tooth.
#[derive(Clone, Copy, Debug)]
pub struct Land<'a> {
    /// By growing arc.
    pub points: &'a [LandPoint],
    /// The edge radius; on an axial surface that of the circle that the probe follows.
    pub radius: Length,
    /// The direction in which drops are measured.
    pub surface: Surface,
    /// Standard uncertainty of the height of the edge, where the edge was measured by itself: it is
    /// the zero of every drop. `None` where it was not; its height is then left free.
    pub edge: Option<Length>,
    /// Arc where the land ends.
    pub end: Angle,
}

/// No drop is believed closer than this, so that a stated uncertainty of 0 stays workable.
const LEAST_UNCERTAINTY_MM: f64 = 1e-9;

/// The numbers of a land, checked: mm and radians.
#[derive(Clone, Debug)]
pub(super) struct Data {
    pub arcs: Vec<f64>,
    pub drops: Vec<f64>,
    pub uncertainties: Vec<f64>,
    pub radius: f64,
    pub end: f64,
    pub edge: Option<f64>,
    /// Usual distance between neighbours.
    pub spacing: f64,
}

impl Data {
    /// Refuses what no curve can be fitted to.
    pub fn check(land: &Land) -> Result<Self> {
        let refuse = |what: String| Error::new(Code::Curve, what);
        let radius = land.radius.mm();
        if !(radius.is_finite() && radius > 0.0) {
            return Err(refuse(format!(
                "the edge radius is `{radius}` mm, expected more than 0"
            )));
        }
        let end = land.end.rad();
        if !(end.is_finite() && end > 0.0 && end <= std::f64::consts::TAU) {
            return Err(refuse(format!(
                "the land ends at `{:.3}` deg, expected more than 0 and at most 360",
                land.end.deg()
            )));
        }
        let mut before = 0.0;
        for point in land.points {
            let (arc, drop, u) = (
                point.arc.rad(),
                point.drop.mm(),
                point.standard_uncertainty.mm(),
            );
            let sound = arc.is_finite() && drop.is_finite() && u.is_finite() && u >= 0.0;
            if !sound || arc <= before || arc > end * (1.0 + 1e-9) {
                return Err(refuse(format!(
                    "a place at `{:.3}` deg with a drop of `{drop:.5}` ± `{u:.5}` mm follows one at `{:.3}` deg, \
                     expected finite values by growing arc up to the end of the land",
                    point.arc.deg(),
                    before.to_degrees()
                )));
            }
            before = arc;
        }
        if let Some(edge) = land.edge
            && !(edge.is_finite() && edge >= Length::ZERO)
        {
            return Err(refuse(format!(
                "the uncertainty of the edge's height is `{}` mm, expected 0 or more",
                edge.mm()
            )));
        }
        let arcs: Vec<f64> = land.points.iter().map(|point| point.arc.rad()).collect();
        let mut gaps: Vec<f64> = arcs.windows(2).map(|pair| pair[1] - pair[0]).collect();
        Ok(Self {
            drops: land.points.iter().map(|point| point.drop.mm()).collect(),
            uncertainties: land
                .points
                .iter()
                .map(|point| point.standard_uncertainty.mm().max(LEAST_UNCERTAINTY_MM))
                .collect(),
            radius,
            end,
            edge: land.edge.map(|edge| edge.mm().max(LEAST_UNCERTAINTY_MM)),
            spacing: crate::numeric::robust::median(&mut gaps).unwrap_or(end),
            arcs,
        })
    }

    /// The land in at most `most` places, each the middle of neighbours.
    pub fn thinned(&self, most: usize) -> Self {
        let length = self.arcs.len().div_ceil(most).max(1);
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let middle = |values: &[f64]| crate::numeric::robust::median(&mut values.to_vec());
        Self {
            arcs: self.arcs.chunks(length).map(mean).collect(),
            drops: self.drops.chunks(length).filter_map(middle).collect(),
            uncertainties: self
                .uncertainties
                .chunks(length)
                .map(|chunk| mean(chunk) / (chunk.len() as f64).sqrt())
                .collect(),
            spacing: self.spacing * length as f64,
            ..*self
        }
    }

    /// The land from `width` behind its edge on, as if that were its edge.
    pub fn behind(&self, width: f64) -> Self {
        let first = self.arcs.partition_point(|arc| *arc <= width);
        Self {
            arcs: self.arcs[first..].iter().map(|arc| arc - width).collect(),
            drops: self.drops[first..].to_vec(),
            uncertainties: self.uncertainties[first..].to_vec(),
            end: self.end - width,
            ..*self
        }
    }

    /// Share of the land that lies near a point.
    pub fn coverage(&self) -> f64 {
        // Beyond this distance from the next point a stretch counts as not seen.
        let wide = (5.0 * self.spacing).max(0.05 * self.end);
        let ends = std::iter::once(0.0)
            .chain(self.arcs.iter().copied())
            .zip(self.arcs.iter().copied().chain(std::iter::once(self.end)));
        let unseen: f64 = ends
            .map(|(from, to)| to - from)
            .filter(|gap| *gap > wide)
            .sum();
        (1.0 - unseen / self.end).clamp(0.0, 1.0)
    }
}
