//! The throw and the cam angle that grind the relief that a tool has, or that its card asks for.
//!
//! Heights of the old lands stand on one scale over the whole turn, and so does the new surface, the
//! envelope of the wheel (`envelope.rs`). What must come off after the wheel first touches is
//! then the greatest less the least of what the old lands stand above the new surface. For one cam
//! angle that is convex in the gain of the throw, but for the wheel's own correction; the cam angle is
//! scanned over the turn.

mod draws;
mod predict;
mod search;

pub use draws::{Doubts, Sure};
pub use predict::Predicted;

use super::envelope::{Drawn, Section};
use super::motion::Motion;
use crate::card::{Feature, Fixture, Name};
use crate::quantity::{Angle, Estimate, Length};
use search::{At, Search};

/// A place of an old land, on the scale that all lands of a set-up share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OldPlace {
    /// Behind its edge.
    pub behind: Angle,
    /// From the level of its face: outwards (radial) or along the axis (axial).
    pub height: Length,
    /// Standard uncertainty from scatter.
    pub scatter: Length,
    /// Worn, nicked or rounded: it must come clean, and tells nothing of how the tool was relieved.
    pub damaged: bool,
    /// Behind the land that is to come clean: the wheel may touch it.
    pub beyond: bool,
}

/// One old land.
#[derive(Clone, Debug, PartialEq)]
pub struct OldLand {
    /// Where its edge is on the encoder.
    pub edge: Angle,
    /// From the edge on, the edge itself first.
    pub places: Vec<OldPlace>,
    /// Where it ends behind its edge.
    pub end: Angle,
    /// Radius of the rounding of its edge, as far as the ride of the ball tells it.
    pub rounding: Option<Estimate<Length>>,
}

/// A feature's lands, and how the wheel meets them.
#[derive(Clone, Debug)]
pub struct Face<'a> {
    /// The feature, with the radius that it was traced at.
    pub feature: &'a Feature,
    /// Radius of the circle that arcs lie on.
    pub radius: Length,
    /// Where heights count from: the radius of the step of the wheel that meets it (radial). Along the
    /// axis each trace has a zero of its own.
    pub level: Length,
    /// What of the wheel meets them.
    pub section: Section,
    /// In which plane they are drawn.
    pub drawn: Drawn,
    /// In the order of growing angle.
    pub lands: Vec<OldLand>,
    /// Standard uncertainties that figures of it are measured with, in the unit of results: what is
    /// ground is to be proven afterwards.
    pub measured: Vec<(Name, f64)>,
    /// Whether figures are told of it. A further section of a feature must come clean, and that is all.
    pub predicts: bool,
}

/// One direction of a set-up: what is ground by one throw, one index and one in-feed.
#[derive(Clone, Debug)]
pub struct Cut<'a> {
    /// Everything that is ground.
    pub faces: Vec<Face<'a>>,
    /// What the cam does.
    pub motion: &'a Motion,
    /// The fixture with the range and graduation of its throw.
    pub fixture: &'a Fixture,
    /// Throw that the fixture makes over the throw that its scale shows.
    pub throw_gain: f64,
    /// What the cam stands ahead of what its scale shows.
    pub cam_lead: Angle,
    /// Stock that comes off over what is fed in.
    pub feed: f64,
    /// What the wheel loses of its radius meanwhile.
    pub wear: Length,
    /// The least in-feed that can be set.
    pub step: Length,
    /// What is not known exactly.
    pub doubts: Doubts,
    /// Probability of conformity that the card asks for.
    pub confidence: f64,
}

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Goal {
    /// The drop of each land as it was, within this share of it, by the least skim.
    AsItWas {
        /// The share that it may differ by.
        band: f64,
    },
    /// Inside the card's limits, by the least skim.
    AsTheCardWants,
}

/// The settings found.
#[derive(Clone, Debug, PartialEq)]
pub struct Match {
    /// Throw to set over the throw at which the motion was taken, scale corrected.
    pub gain: f64,
    /// Throw to set, on the scale of the fixture.
    pub throw: Length,
    /// How far the tool is turned in the fixture against the cam's beginning.
    pub cam_angle: Angle,
    /// From and to where any cam angle does as well.
    pub free: Option<(Angle, Angle)>,
    /// Greatest less least of old land against new surface where neither is damaged.
    pub mismatch: Length,
    /// Gain and cam angle that come nearest to the old lands, whatever has to come off.
    pub nearest: (f64, Angle),
    /// In-feed after first touch until everything is new, as computed.
    pub skim: Length,
    /// The same with what is not known: its standard uncertainty, and what is enough 95 times in 100.
    pub sure: Sure,
    /// Where the wheel touches first.
    pub first_touch: Spot,
    /// What comes clean last.
    pub last_clean: Spot,
    /// Figures of the new surface.
    pub predicted: Vec<Predicted>,
    /// For drawing: old and new of each land.
    pub drawn: Vec<DrawnLand>,
}

/// A place on a land.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Which of the faces.
    pub face: usize,
    /// Which of its lands.
    pub land: usize,
    /// Behind the edge.
    pub behind: Angle,
}

/// A land before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnLand {
    /// Which of the faces.
    pub face: usize,
    /// Which of its lands.
    pub land: usize,
    /// Behind the edge, old and new height under the highest old edge of the face.
    pub places: Vec<(Angle, Length, Length)>,
}

/// Why no setting will do.
#[derive(Clone, Debug, PartialEq)]
pub struct NoMatch {
    /// The limits that the best of all settings breaks: face, figure, value and its unit as in results.
    pub broken: Vec<(usize, Name, f64)>,
    /// The best of all settings, on the fixture's scale.
    pub throw: Length,
    /// At this cam angle.
    pub cam_angle: Angle,
    /// Whether the throw stands at an end of its range there.
    pub at_end: Option<End>,
    /// Whether the same cam running the other way would match by far better.
    pub other_hand: bool,
}

/// An end of a throw's range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// It cannot be closed further.
    Least,
    /// It cannot be opened further.
    Greatest,
}

impl Cut<'_> {
    /// The best setting.
    ///
    /// # Errors
    /// [`NoMatch`] where no throw and cam angle keep every limit, or the cam runs the other way.
    pub fn find(&self, goal: Goal) -> std::result::Result<Match, NoMatch> {
        let mut search = Search::of(self);
        let nearest = search.nearest();
        let search = search.lifted(nearest);
        let nearest = search.least_range();
        let mismatch = search.range(nearest, |place| !place.damaged && !place.beyond);
        if self.runs_the_other_way(mismatch) {
            return Err(self.none(&search, nearest, Vec::new(), true));
        }
        let mut wanted = search.wanted(goal, nearest);
        let best = search.least_skim(&wanted);
        let Some(best) = best else {
            let (at, broken) = search.least_broken(&wanted);
            return Err(self.none(&search, at, broken, false));
        };
        let search = search.lifted(best);
        let best = search.settled(best, &wanted);
        wanted.wherever_scales_stand(&search, self.confidence);
        let best = search.least_skim(&wanted).unwrap_or(best);
        // Once the doubts are known, the limits are kept by their guard band where that can be had.
        let spread = draws::figures(&search, best);
        wanted.guard(&search, best, &spread, self.confidence);
        let best = search.least_skim(&wanted).unwrap_or(best);
        let best = search.first_lobe(best, &wanted);
        let best = search.on_the_scale(best, &wanted);
        Ok(self.told(&search, best, nearest, mismatch, &wanted))
    }

    fn told(
        &self,
        search: &Search,
        best: At,
        nearest: At,
        mismatch: f64,
        wanted: &predict::Wanted,
    ) -> Match {
        let (touch, clean) = search.ends(best);
        let spread = draws::figures(search, best);
        let sure = draws::skim(search, best, self);
        let stock = sure.enough * self.feed - self.wear;
        Match {
            gain: best.gain,
            throw: self.throw(best.gain),
            cam_angle: self.on_cam_scale(best.cam),
            free: search
                .free(best, wanted)
                .map(|(from, to)| (self.on_cam_scale(from), self.on_cam_scale(to))),
            mismatch: Length::from_mm(mismatch),
            nearest: (nearest.gain, self.on_cam_scale(nearest.cam)),
            skim: Length::from_mm(clean.1 - touch.1),
            first_touch: touch.0,
            last_clean: clean.0,
            predicted: predict::told(search, best, stock, &spread, self.confidence),
            drawn: search.drawn(best, touch.1 + stock.mm()),
            sure,
        }
    }

    /// What the fixture's scale must show for a gain.
    fn throw(&self, gain: f64) -> Length {
        self.motion.throw * (gain / self.throw_gain)
    }

    fn on_cam_scale(&self, cam: f64) -> Angle {
        (Angle::from_rad(cam) - self.cam_lead).in_turn()
    }

    /// Whether the mirrored motion comes nearer to the old lands by far.
    fn runs_the_other_way(&self, mismatch: f64) -> bool {
        /// By so much: a cam that hardly tells its ways apart is not refused.
        const NEARER: f64 = 3.0;
        /// Less than this a worn land differs from any cam (common practice, no source).
        const ALIKE: f64 = 0.015;
        if mismatch < ALIKE {
            return false;
        }
        let mirrored = self.motion.mirrored();
        let other = Cut {
            motion: &mirrored,
            ..self.clone()
        };
        let mut search = Search::of(&other);
        let nearest = search.nearest();
        search.range(nearest, |place| !place.damaged && !place.beyond) * NEARER < mismatch
    }

    fn none(
        &self,
        search: &Search,
        at: At,
        broken: Vec<(usize, Name, f64)>,
        other_hand: bool,
    ) -> NoMatch {
        NoMatch {
            broken,
            throw: self.throw(at.gain),
            cam_angle: self.on_cam_scale(at.cam),
            at_end: search.end_of_range(at.gain),
            other_hand,
        }
    }
}
