//! Traces of an engaged fixture: what it does to a round, and to a land.

use super::Seen;
use super::lands::JudgedTrace;
use super::merged::{MergedTrace, merge_all, placed};
use super::read::Turned;
use super::references::references;
use crate::card::{Role, Surface};
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::judge::Axis;
use crate::quantity::{Angle, Estimate, Length, told};
use crate::record::JudgedFeature;
use crate::setting::{Motion, NoMotion};
use crate::shape::Eccentricity;

/// A trace of an engaged fixture.
pub(in crate::inspection) struct Engaged {
    /// As the card has it.
    pub stands: crate::card::Engaged,
    pub moved: Moved,
}

/// What was moved.
pub(in crate::inspection) enum Moved {
    /// A round.
    Round(Motion),
    /// The lands of a feature.
    Lands,
}

/// What is kept of each feature that has a trace.
pub(super) fn seen(features: &[JudgedFeature], axes: &[Option<Length>]) -> Vec<Seen> {
    let each = features.iter().zip(axes);
    let seen = each.filter_map(|(judged, axis)| {
        Some(Seen {
            feature: judged.feature.clone(),
            judgement: judged.judgement.clone()?,
            axis: *axis,
        })
    });
    seen.collect()
}

/// How well the tool's axis is known where a trace was taken, as a standard uncertainty of each of its
/// coordinates; nothing where it is not known at all.
pub(super) fn axis_known_to(each: &JudgedTrace) -> Option<Length> {
    let (_, bench) = each.from.as_ref()?;
    match &bench.axis {
        Axis::Measured {
            uncertainty,
            apart,
            lean,
            ..
        } => {
            let apart = apart.unwrap_or(Length::ZERO).mm();
            let of_lean = lean.uncertainty.scaled(apart);
            Some(uncertainty.and(of_lean).largest())
        }
        // Anywhere within the bound, in any direction: each coordinate has half the bound.
        Axis::Stated(bound) => Some(*bound / 2.0),
        Axis::Unknown => None,
    }
}

/// Every trace of an engaged fixture, runout taken off.
pub(super) fn engaged(
    folder: &Folder,
    traces: Vec<Turned>,
    features: &[Seen],
) -> Result<Vec<Engaged>> {
    let merged = merge_all(folder, traces)?;
    let locked = locked_reference(folder)?;
    merged
        .iter()
        .map(|each| one(folder, each, locked, features))
        .collect()
}

/// Runout of a round with the fixture locked: that of the folder's first reference.
fn locked_reference(folder: &Folder) -> Result<Option<Eccentricity>> {
    let rounds = folder.inspection.traces.iter();
    let Some(entry) = rounds
        .into_iter()
        .find(|entry| entry.role == Role::Reference)
    else {
        return Ok(None);
    };
    let unsaid = &mut Vec::new();
    let crate::inspection::folder::Taken::Turning(trace) = folder.trace(entry, unsaid)? else {
        return Ok(None);
    };
    let merged = merge_all(folder, vec![(entry, trace)])?;
    let found = references(folder, &merged, unsaid);
    Ok(found.first().map(|reference| reference.runout.axis))
}

fn one(
    folder: &Folder,
    each: &MergedTrace,
    locked: Option<Eccentricity>,
    features: &[Seen],
) -> Result<Engaged> {
    let lever = folder.gauge.indicator.lever_angle.rad().cos();
    let cells = each.merged.cells.iter();
    let read: Vec<(Angle, Estimate<Length>)> = cells
        .map(|cell| {
            let height = Estimate::new(cell.reading * lever, cell.standard_error * lever);
            (cell.angle, height)
        })
        .collect();
    let moved = match &each.entry.role {
        Role::Residual(feature, stands) => {
            moves(folder, each, feature, &read, features)?;
            return Ok(Engaged {
                stands: *stands,
                moved: Moved::Lands,
            });
        }
        Role::Motion(stands) => {
            let runout = match stands.direction {
                Surface::Radial => locked.unwrap_or_default(),
                // Along the axis a round that is off centre reads the same.
                Surface::Axial => Eccentricity::default(),
            };
            let true_round = read.into_iter().map(|(angle, height)| {
                let (sin, cos) = angle.rad().sin_cos();
                let off = runout.x * cos + runout.y * sin;
                let value = height.value - off;
                (angle, Estimate::new(value, height.standard_uncertainty))
            });
            let motion = Motion::traced(&true_round.collect::<Vec<_>>(), stands.throw);
            let motion = motion.map_err(|why| placed(folder, no_motion(why), &each.trace))?;
            Engaged {
                stands: *stands,
                moved: Moved::Round(motion),
            }
        }
        Role::Reference | Role::Feature(_) => {
            let message = "a trace of a locked fixture was taken for one of an engaged fixture";
            return Err(Error::new(Code::Internal, message));
        }
    };
    Ok(moved)
}

fn no_motion(why: NoMotion) -> Error {
    match why {
        NoMotion::Hole { from, width } => Error::new(
            Code::TraceShort,
            format!(
                "nothing was read over {:.1}° from {:.1}° on, expected the motion of the whole turn",
                width.deg(),
                from.deg()
            ),
        )
        .help("turn slower there, or once more round: what a cam does where nobody looked is not guessed"),
        NoMotion::Still(swing) => Error::new(
            Code::TraceShort,
            format!(
                "the round moves by {} in all, expected the motion of an engaged fixture",
                told::mm(swing, 3)
            ),
        )
        .help("engage the fixture and open its throw; a trace with the fixture locked is a `reference`"),
    }
}

/// Refuses a residual that is the land as it was read with the fixture locked.
fn moves(
    folder: &Folder,
    each: &MergedTrace,
    feature: &str,
    read: &[(Angle, Estimate<Length>)],
    features: &[Seen],
) -> Result<()> {
    /// Traces of the same land repeat far better than this; the least motion worth a cam differs by far
    /// more (common practice, no source).
    const SAME: Length = Length::from_mm(0.005);
    if let Some(error) = super::lands::unknown(folder, feature) {
        return Err(error);
    }
    let alike = features.iter().filter(|seen| seen.feature.name == feature);
    let locked: Vec<(Angle, Length)> = alike
        .flat_map(|seen| {
            let lands = seen
                .judgement
                .teeth
                .iter()
                .filter_map(|it| it.tooth.as_ref());
            lands.flat_map(|tooth| {
                let edge = tooth.edge;
                let off = seen.judgement.clamping.eccentricity;
                let places = tooth.land.iter();
                places.map(move |place| {
                    let angle = edge.angle.value + place.arc;
                    let (sin, cos) = angle.rad().sin_cos();
                    let height = edge.height - place.drop;
                    (angle, height + off.x * cos + off.y * sin)
                })
            })
        })
        .collect();
    let mut apart: Vec<f64> = locked
        .iter()
        .filter_map(|(angle, height)| Some((beside(read, *angle)? - *height).mm()))
        .collect();
    apart.sort_by(f64::total_cmp);
    let (Some(least), Some(most)) = (
        apart.get(apart.len() / 10),
        apart.get(apart.len() - 1 - apart.len() / 10),
    ) else {
        return Ok(());
    };
    if Length::from_mm(most - least) < SAME {
        let message = format!(
            "the lands of `{feature}` read as they do with the fixture locked, expected its motion on top of them"
        );
        return Err(placed(
            folder,
            Error::new(Code::TraceShort, message)
                .help("engage the fixture, or name the trace's role `feature`"),
            &each.trace,
        ));
    }
    Ok(())
}

/// What was read last before an angle.
fn beside(read: &[(Angle, Estimate<Length>)], angle: Angle) -> Option<Length> {
    let turn = angle.in_turn();
    let at = read.partition_point(|(there, _)| *there <= turn);
    let (_, height) = read.get(at.saturating_sub(1))?;
    Some(height.value)
}
