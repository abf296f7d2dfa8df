//! The part without the stylus and the clamping.
//!
//! A merged trace is the path of the stylus' centre over the turning tool. [`profile`] takes the
//! clamping out (exactly, by moving the whole path), goes back along the path's normal by the
//! stylus' radius, finds each edge as the corner that the ball rolls over, and returns each land
//! as drop behind its edge.

mod anatomy;
mod between;
mod contact;
mod corner;
mod covariance;
mod crests;
mod edge;
mod face;
mod heel;
mod held;
mod land;
mod likely;
mod lobes;
mod path;
mod place;
mod play;
mod ride;
mod round_arcs;
mod runout;
mod scatter;
mod single;
mod slope;
mod stopped;
mod view;
mod walls;

pub use anatomy::Anatomy;
pub use covariance::Covariance;
pub use crests::{Track, sharp_crests};
pub use face::FaceFall;
pub(crate) use land::CARRIED_FROM;
pub use land::{
    CornerReading, Edge, OutlinePlace, Profile, RoundingReading, Tooth, anatomies, averaged,
    profile,
};
pub(crate) use likely::EdgeRounding;
pub use lobes::Lobes;
pub use place::LandPlace;
pub use play::round_without_play;
pub use runout::{LeftOut, RoundReading, Runout, along_axis, runout};
pub use single::{Standing, below_point, standing};
pub use stopped::Stopped;
pub use walls::{Facing, Walls, walls};

use crate::card::{Feature, GaugeCard, StylusShape, Surface};
use crate::quantity::{Angle, Length, Speed, Time};

/// Everything between the readings and the part: what touches it, and how both are held.
///
/// The uncertainty of a figure is found by moving one of these at a time and looking at what the
/// figure does, so everything that is not known exactly is a field here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clamping {
    /// Whether the probe moves along a radius or along the axis.
    pub surface: Surface,
    /// Radius of the edge circle; for an axial surface, of the circle that the probe follows.
    pub radius: Length,
    /// What touches the tool.
    pub tip: Tip,
    /// How far the probe's line passes from the axis, positive towards where the surface moves.
    pub probe_offset: Length,
    /// Angle between the probe's travel and the surface's normal.
    pub lever_angle: Angle,
    /// Where the tool's axis lies in the frame that turns with the spindle.
    pub eccentricity: Eccentricity,
    /// Waves that the spindle adds to what is read along a radius, beside the eccentricity.
    pub lobes: Lobes,
    /// Height that a square face would show over one turn, for axial surfaces.
    pub swash: Eccentricity,
    /// How much a face falls away outwards, per length, for axial surfaces: the tool that is off
    /// centre brings another part of it under the probe.
    pub face_fall: f64,
    /// The same as the tool card tells it: what a ball does over an edge does not go with the doubt
    /// about it.
    pub face_told: f64,
    /// Delay of the indicator beyond what the merge has taken out.
    pub delay: Time,
    /// How fast the indicator drifts: what it reads more for every second of the trace.
    pub drift: Speed,
    /// What a reading lacks on average while the plunger comes out, against going in: anything from
    /// nothing to the whole of the indicator's hysteresis, so half of it.
    pub play: Length,
    /// How much rounder than is likeliest every edge is, in what its readings leave open of it.
    pub rounder: f64,
}

/// What touches the tool, with the size that matters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tip {
    /// A sphere of this radius.
    Ball(Length),
    /// A flat of this half-width.
    Flat(Length),
    /// A point.
    Point,
}

/// A once-per-turn displacement: a round reads `x cos(angle) + y sin(angle)` more.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Eccentricity {
    /// Towards angle 0.
    pub x: Length,
    /// Towards a quarter of a turn.
    pub y: Length,
}

impl Eccentricity {
    /// With every length multiplied.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            x: self.x * factor,
            y: self.y * factor,
        }
    }

    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            x: self.x + other.x,
            y: self.y + other.y,
        }
    }

    /// How far off it is, whichever way.
    pub fn size(self) -> Length {
        Length::from_mm(self.x.mm().hypot(self.y.mm()))
    }

    /// Where on the encoder it stands highest.
    pub fn direction(self) -> Angle {
        Angle::from_rad(self.y.mm().atan2(self.x.mm())).in_turn()
    }
}

impl Clamping {
    /// The clamping as the cards state it, with no eccentricity.
    pub fn stated(feature: &Feature, gauge: &GaugeCard) -> Self {
        let radius = gauge.stylus.radius;
        Self {
            surface: feature.surface,
            radius: feature.diameter / 2.0,
            tip: match gauge.stylus.shape {
                StylusShape::Ball if radius > Length::ZERO => Tip::Ball(radius),
                StylusShape::Flat if radius > Length::ZERO => Tip::Flat(radius),
                StylusShape::Ball | StylusShape::Flat | StylusShape::Point => Tip::Point,
            },
            probe_offset: gauge.setup.probe_offset,
            lever_angle: gauge.indicator.lever_angle,
            eccentricity: Eccentricity::default(),
            lobes: Lobes::default(),
            swash: Eccentricity::default(),
            face_fall: FaceFall::of(feature).fall,
            face_told: FaceFall::of(feature).fall,
            delay: Time::ZERO,
            drift: Speed::ZERO,
            play: gauge.indicator.play(),
            rounder: 0.0,
        }
    }
}

impl Clamping {
    /// What one unit of height along the axis is in the section across an edge of a face that falls
    /// away outwards: a surface goes on along its edge, so that a ball touches it in that section.
    pub(crate) fn across_edge(&self) -> f64 {
        match self.surface {
            Surface::Radial => 1.0,
            Surface::Axial => self.face_told.hypot(1.0).recip(),
        }
    }
}

impl Tip {
    /// Radius of the ball, half-width of the flat, 0 for a point.
    pub fn size(self) -> Length {
        match self {
            Tip::Ball(size) | Tip::Flat(size) => size,
            Tip::Point => Length::ZERO,
        }
    }
}
