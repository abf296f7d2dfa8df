//! Where a fixture is to stand for a feature, and how it does: from the feature as it reads with the
//! fixture locked, and with it engaged.

use super::cams::Candidate;
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::inspection::verify::{Before, Read, Seen};
use crate::quantity::{Angle, Estimate, Length};
use crate::record::CutSetup;
use crate::setting::{Motion, Stands, between, is_misplaced};
use std::ops::{Div, Mul, Neg};

/// What a fixture is set by while an indicator rides on a land in it.
#[derive(Clone, Debug)]
pub struct Aim {
    /// The feature that is ridden on.
    pub feature: String,
    /// The fixture.
    pub fixture: String,
    /// Its cam.
    pub cam: String,
    /// Throw to set, on the fixture's scale.
    pub throw: Length,
    /// The least change of it that can be set.
    pub throw_graduation: Length,
    /// Cam angle to set, on the fixture's scale.
    pub cam_angle: Angle,
    /// Greatest less least of old land against new surface: what this cam cannot match.
    pub mismatch: Length,
    /// From one tooth to the next.
    pub pitch: Angle,
    /// From and to where any cam angle does as well.
    free: Option<(Angle, Angle)>,
    cam_graduation: Angle,
    motion: Motion,
    /// Gain of the throw wanted, over that of the motion, and change of the scale for one of it.
    gain: f64,
    per_gain: Length,
    /// What the cam stands ahead of what its scale shows.
    lead: Angle,
    lever: f64,
    /// The most that the motion rises or falls in a radian.
    steepest: Length,
    floor: Length,
    /// Limit of the indicator's error.
    error: Length,
    /// What the lands read with the fixture locked, by growing angle.
    lands: Vec<(Angle, Length)>,
    /// The same of the whole turn.
    whole: Vec<(Angle, Length)>,
}

/// Where the settings that are wanted come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WantedBy {
    /// The sheet in the inspection's folder.
    Sheet,
    /// The match that keeps the tool card's limits.
    Card,
    /// The match that leaves the relief as it was.
    Old,
}

/// How a fixture stands, and what is to be changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Throw, on the scale.
    pub throw: Estimate<Length>,
    /// What to do about it.
    pub throw_to_do: ToDo<Length>,
    /// Cam angle, on the scale; nothing where any does, or it is not known yet.
    pub cam_angle: Option<Estimate<Angle>>,
    /// What to do about it.
    pub cam_to_do: ToDo<Angle>,
    /// What of the readings no throw and no cam angle explains, root mean square.
    pub misfit: Length,
    /// Whether that is no more than readings scatter by. More is a chip, a lock that gave way, or runout
    /// that the tool did not have with the fixture locked.
    pub steady: bool,
    /// Whether it is so much that these are not the lands that were traced with the fixture locked.
    pub strange: bool,
}

/// What to do about a setting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ToDo<Q> {
    /// It stands as it should.
    Leave,
    /// It is to be changed by so much: up where it is above zero.
    By(Q),
    /// More of the land has to be turned past before anything can be said.
    MoreLand,
}

impl Standing {
    /// Whether everything stands as it should.
    pub fn is_right(&self) -> bool {
        !self.strange
            && self.steady
            && self.throw_to_do == ToDo::Leave
            && self.cam_to_do == ToDo::Leave
    }
}

/// Wider than this two readings of a land tell nothing of what is between them.
const APART: Angle = Angle::from_rad(1.5 / 180.0 * std::f64::consts::PI);
/// Behind an edge the ball still rides over it, and before the heel it meets what is there.
const KEPT_OFF: Angle = Angle::from_rad(1.0 / 180.0 * std::f64::consts::PI);
/// A cam is set to this by eye where no scale says otherwise (common practice, no source).
const BY_EYE: Angle = Angle::from_rad(1.0 / 180.0 * std::f64::consts::PI);

impl Aim {
    /// For a cut that is set up.
    pub(super) fn at(
        folder: &Folder,
        before: &Before,
        candidate: &Candidate,
        cut: &CutSetup,
        (feature, z): (&str, Option<Length>),
    ) -> Result<Self> {
        let seen = seen_at(before, feature, z).ok_or_else(|| {
            let message = format!(
                "`{feature}` was not traced with the fixture locked: what the fixture adds to it is not known"
            );
            Error::new(Code::TraceShort, message)
                .help("lock the fixture, and take the feature's trace first")
        })?;
        let [throw_gain, lead, _] = cut.corrected;
        let graduation = candidate.fixture.cam_graduation;
        let free = cut.cam_free_deg;
        Ok(Self {
            feature: feature.to_owned(),
            fixture: cut.fixture.clone(),
            cam: cut.cam.clone(),
            throw: Length::from_mm(cut.throw_mm),
            throw_graduation: candidate.fixture.graduation,
            cam_angle: Angle::from_deg(cut.cam_angle_deg),
            mismatch: Length::from_mm(cut.mismatch_mm),
            pitch: Angle::TURN / f64::from(folder.tool.flutes.max(1)),
            free: free.map(|[from, to]| (Angle::from_deg(from), Angle::from_deg(to))),
            cam_graduation: graduation.unwrap_or(BY_EYE).max(BY_EYE),
            motion: candidate.motion.clone(),
            gain: cut.throw_gain,
            per_gain: candidate.motion.throw / throw_gain,
            lead: Angle::from_deg(lead),
            lever: folder.gauge.indicator.lever_angle.rad().cos(),
            steepest: steepest(&candidate.motion),
            floor: floor(folder),
            error: folder.gauge.indicator.max_error,
            lands: lands(seen),
            whole: by_angle(seen.read.iter()),
        })
    }

    /// What the fixture adds at an angle of the tool where the indicator shows this; nothing off the
    /// lands, where a fraction of a degree is a flank.
    pub fn added(&self, angle: Angle, shown: Length) -> Option<Length> {
        Some(shown * self.lever - self.locked(angle)?)
    }

    /// How the fixture stood while a whole trace was taken in it.
    pub(super) fn over(&self, read: &[Read]) -> Option<Standing> {
        let added = read.iter().filter_map(|(angle, height)| {
            let locked = self.locked(*angle)?;
            Some((angle.in_turn(), height.value - locked))
        });
        let added: Vec<_> = added.collect();
        let stands = self.stands(&added)?;
        let near = self.cam_angle + self.lead;
        let read = by_angle(read.iter());
        let on_land = |angle| self.locked(angle).is_some();
        let misplaced = is_misplaced(&self.motion, &stands, near, &self.whole, &read, on_land);
        let standing = self.told(stands);
        // A fixture that moves nothing is locked.
        let locked = standing.throw.value
            < (self.throw * 0.03).max(standing.throw.standard_uncertainty * 2.0);
        Some(Standing {
            strange: standing.strange || misplaced || locked,
            ..standing
        })
    }

    /// What the land reads there with the fixture locked.
    fn locked(&self, angle: Angle) -> Option<Length> {
        Some(between(&self.lands, angle, APART)?.0)
    }

    /// What stands still once throw and cam angle are as wanted, but for where its zero is: what the
    /// fixture adds less what it should.
    pub fn dial(&self, angle: Angle, added: Length) -> Length {
        let cam = self.cam_angle + self.lead;
        added - self.motion.at(angle - cam) * self.gain
    }

    /// How far the dial may move over a land when throw and cam angle are as near as they can be set.
    pub fn still_enough(&self) -> Length {
        let step = self.throw_graduation / self.throw.abs().max(Length::from_mm(0.01));
        self.motion.swing() * (self.gain * step / 2.0) + self.floor * 4.0
    }

    /// By how much readings so far apart may differ on the dial, as long as nothing was changed.
    pub fn same_again(&self, apart: Angle) -> Length {
        self.floor * 6.0 + self.steepest * (self.gain * apart.abs().rad())
    }

    /// How the fixture stands, from what it added at places of the tool.
    pub fn standing(&self, added: &[(Angle, Length)]) -> Option<Standing> {
        Some(self.told(self.stands(added)?))
    }

    fn stands(&self, added: &[(Angle, Length)]) -> Option<Stands> {
        let wanted = self.cam_angle + self.lead;
        Stands::seen(&self.motion, added, self.floor, self.error, wanted)
    }

    fn told(&self, stands: Stands) -> Standing {
        let of_scale = |gain: f64| self.per_gain * gain;
        let throw = Estimate::new(
            of_scale(stands.gain.value),
            of_scale(stands.gain.standard_uncertainty),
        );
        let cam_angle = stands
            .cam
            .map(|cam| Estimate::new(cam.value - self.lead, cam.standard_uncertainty));
        // Lands that were worn, chipped or exchanged since show far more than readings scatter by.
        let swing = self.motion.swing() * self.gain;
        let strange = stands.misfit > (self.floor * 8.0).max(swing * 0.02);
        let steady = stands.misfit <= (self.floor * 6.0).max(self.error * 1.2);
        Standing {
            throw_to_do: to_do(
                self.throw - throw.value,
                throw.standard_uncertainty,
                self.throw_graduation,
                (self.throw * 0.04).max(self.throw_graduation * 2.0),
            ),
            cam_to_do: match cam_angle {
                None if stands.any_cam => ToDo::Leave,
                None => ToDo::MoreLand,
                Some(cam) => self.cam_to_do(cam),
            },
            throw,
            cam_angle,
            misfit: stands.misfit,
            steady,
            strange,
        }
    }

    fn cam_to_do(&self, cam: Estimate<Angle>) -> ToDo<Angle> {
        let missing = match self.free {
            // Both ends, and where it stands, on the way round from the lower end.
            Some((from, to)) => {
                let (width, off) = ((to - from).in_turn(), (cam.value - from).in_turn());
                let beyond = off - width;
                if beyond <= Angle::ZERO {
                    Angle::ZERO
                } else if beyond < Angle::TURN - off {
                    -beyond
                } else {
                    Angle::TURN - off
                }
            }
            None => self.cam_angle - cam.value,
        };
        let coarse = self.cam_graduation * 3.0;
        to_do(
            missing,
            cam.standard_uncertainty,
            self.cam_graduation,
            coarse,
        )
    }
}

/// What to do about a setting that lacks so much: nothing within a graduation, or within what is not
/// known of it; whole graduations else. Nothing is known where that is coarse.
fn to_do<Q>(missing: Q, u: Q, graduation: Q, coarse: Q) -> ToDo<Q>
where
    Q: Copy + PartialOrd + Mul<f64, Output = Q> + Neg<Output = Q> + Div<Output = f64>,
{
    let size = if missing < missing * 0.0 {
        -missing
    } else {
        missing
    };
    // A long way off is known all the same.
    if u * 2.0 > coarse && size <= u * 4.0 {
        return ToDo::MoreLand;
    }
    let marks = (missing / graduation).round();
    // Once the hand is within three fifths of a graduation, the next mark is hardly nearer.
    if size <= graduation * 0.6 || size <= u * 2.0 || marks == 0.0 {
        ToDo::Leave
    } else {
        ToDo::By(graduation * marks)
    }
}

/// How far two readings of a place may differ and mean nothing: the indicator's error over a short way,
/// and the steps that it reads in.
fn floor(folder: &Folder) -> Length {
    let indicator = &folder.gauge.indicator;
    let even = |half: Length| half / 3f64.sqrt();
    let resolution = even(indicator.resolution / 2.0);
    // Both readings have it.
    let error = even(indicator.max_error) / 2.0;
    resolution.max(error).max(Length::from_um(0.5))
}

fn steepest(motion: &Motion) -> Length {
    let degree = Angle::from_deg(1.0);
    let rises = (0..360).map(|deg| {
        let at = Angle::from_deg(f64::from(deg));
        (motion.at(at + degree) - motion.at(at)).abs()
    });
    let most = rises.reduce(Length::max).unwrap_or(Length::ZERO);
    most / degree.rad()
}

fn seen_at<'b>(before: &'b Before, feature: &str, z: Option<Length>) -> Option<&'b Seen> {
    let of_feature = || {
        before
            .features
            .iter()
            .filter(|it| it.feature.name == feature)
    };
    let here = |it: &&Seen| match (it.z, z) {
        (Some(there), Some(here)) => (there - here).abs() < Length::from_mm(0.05),
        _ => false,
    };
    of_feature().find(here).or_else(|| of_feature().next())
}

/// What the lands read, by growing angle in one turn.
fn lands(seen: &Seen) -> Vec<(Angle, Length)> {
    let teeth = seen.judgement.teeth.iter();
    let arcs = teeth.filter_map(|judged| {
        let tooth = judged.tooth.as_ref()?;
        let end = seen.end_of(tooth);
        let from = tooth.edge.angle.value + KEPT_OFF;
        Some((from, end - KEPT_OFF * 2.0))
    });
    let arcs: Vec<(Angle, Angle)> = arcs.collect();
    let on_land = |read: &&Read| {
        let mut arcs = arcs.iter();
        arcs.any(|(from, width)| (read.0 - *from).in_turn() <= *width)
    };
    by_angle(seen.read.iter().filter(on_land))
}

/// Readings by growing angle in one turn.
fn by_angle<'r>(read: impl Iterator<Item = &'r Read>) -> Vec<(Angle, Length)> {
    let mut read: Vec<(Angle, Length)> = read
        .map(|(angle, height)| (angle.in_turn(), height.value))
        .collect();
    read.sort_by(|one, other| one.0.rad().total_cmp(&other.0.rad()));
    read
}
