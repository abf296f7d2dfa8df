//! Traces of an engaged fixture: what it does to a round, and to a land.

use super::Seen;
use super::lands::JudgedTrace;
use super::merged::{MergedTrace, merge_all, placed};
use super::read::Turned;
use crate::card::{Role, Surface};
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::judge::Axis;
use crate::quantity::{Angle, Estimate, Length, Time};
use crate::record::JudgedFeature;
use crate::setting::{Motion, NoMotion};
use crate::shape::Eccentricity;
use crate::trace::{self, Trace, Turning};

/// A trace of an engaged fixture.
pub(in crate::inspection) struct Engaged {
    /// As the card has it.
    pub stands: crate::card::Engaged,
    /// The file of its trace.
    pub file: String,
    pub moved: Moved,
    /// What its turns say otherwise than each other, a sentence each.
    pub contradictions: Vec<String>,
    /// Where it stands still at an end of its swing, for longer than a cam turns round.
    pub stands_still: Option<String>,
}

/// What was moved.
pub(in crate::inspection) enum Moved {
    /// A round.
    Round(Motion),
    /// The lands of a feature.
    Lands {
        feature: String,
        z: Option<Length>,
        read: Vec<Read>,
    },
}

/// A place of the turn and what was read there, growing outwards.
pub(in crate::inspection) type Read = (Angle, Estimate<Length>);

/// What is kept of a feature's trace besides its judgement.
pub(super) struct Beside {
    axis: Option<Length>,
    read: Vec<Read>,
    bottoms: Vec<(Angle, Angle)>,
}

impl Beside {
    pub fn of(folder: &Folder, each: &JudgedTrace) -> Self {
        let from = each.from.as_ref().map(|(merged, _)| merged);
        Self {
            axis: axis_known_to(each),
            read: from.map_or_else(Vec::new, |merged| read(folder, merged)),
            bottoms: from.map_or_else(Vec::new, |merged| bottoms(folder, merged)),
        }
    }
}

/// Where a trace stands still at its lowest reading, for longer than a surface turns round.
fn bottoms(folder: &Folder, each: &MergedTrace) -> Vec<(Angle, Angle)> {
    /// As far as a cam or the floor of a gap turns round.
    const WIDE: Angle = Angle::from_rad(3.0 / 180.0 * std::f64::consts::PI);
    let standing = trace::standing(&each.merged, folder.gauge.indicator.resolution);
    let lowest = standing
        .into_iter()
        .filter(|it| !it.highest && it.width > WIDE);
    lowest.map(|it| (it.from, it.width)).collect()
}

/// What is kept of each feature that has a trace.
pub(super) fn seen(features: &[JudgedFeature], beside: Vec<Beside>) -> Vec<Seen> {
    let each = features.iter().zip(beside);
    let seen = each.filter_map(|(judged, beside)| {
        Some(Seen {
            feature: judged.feature.clone(),
            judgement: judged.judgement.clone()?,
            axis: beside.axis,
            z: judged.z,
            read: beside.read,
            bottoms: beside.bottoms,
        })
    });
    seen.collect()
}

/// How well the tool's axis is known where a trace was taken, as a standard uncertainty of each of its
/// coordinates; nothing where it is not known at all.
fn axis_known_to(each: &JudgedTrace) -> Option<Length> {
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

/// Every trace of an engaged fixture, runout of the `locked` one taken off.
pub(super) fn engaged(
    folder: &Folder,
    traces: Vec<Turned>,
    seen: &[Seen],
    locked: Option<Eccentricity>,
) -> Result<Vec<Engaged>> {
    let traces = traces.into_iter().map(|(entry, trace)| match entry.role {
        Role::Residual(..) => (entry, last_turn(trace)),
        _ => (entry, trace),
    });
    let merged = merge_all(folder, traces.collect())?;
    merged
        .iter()
        .map(|each| one(folder, each, seen, locked))
        .collect()
}

/// A trace from its last whole turn on: while a land is ridden on, the fixture is set by hand, and it
/// counts as it was left.
fn last_turn(mut trace: Trace) -> Trace {
    /// With something for its beginning, where a hand lets go of the throw.
    const LAST: Angle = Angle::from_rad(1.05 * std::f64::consts::TAU);
    let angles = || {
        trace
            .samples
            .iter()
            .map(|sample| sample.angle)
            .enumerate()
            .rev()
    };
    let mut turned = Angle::ZERO;
    let begins = angles()
        .zip(angles().skip(1))
        .find(|((_, angle), (_, before))| {
            turned += (*angle - *before).abs();
            turned > LAST
        });
    if let Some(((at, _), _)) = begins {
        trace.samples.drain(..at);
    }
    trace
}

/// What a merged trace read, growing outwards.
fn read(folder: &Folder, each: &MergedTrace) -> Vec<Read> {
    let lever = folder.gauge.indicator.lever_angle.rad().cos();
    let cells = each.merged.cells.iter();
    let read = cells.map(|cell| {
        let height = Estimate::new(cell.reading * lever, cell.standard_error * lever);
        (cell.angle, height)
    });
    read.collect()
}

fn one(
    folder: &Folder,
    each: &MergedTrace,
    seen: &[Seen],
    locked: Option<Eccentricity>,
) -> Result<Engaged> {
    let read = read(folder, each);
    let file = each.trace.name.clone();
    let moved = match &each.entry.role {
        Role::Residual(feature, stands) => {
            moves(folder, each, feature, &read, seen)?;
            return Ok(Engaged {
                stands: *stands,
                file,
                moved: Moved::Lands {
                    feature: feature.clone(),
                    z: each.entry.z,
                    read,
                },
                contradictions: contradictions(folder, each),
                stands_still: None,
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
                file,
                moved: Moved::Round(motion),
                contradictions: contradictions(folder, each),
                stands_still: stands_still(folder, each),
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
                "the round moves by {:.3} mm in all, expected the motion of an engaged fixture",
                swing.mm()
            ),
        )
        .help("engage the fixture and open its throw; a trace with the fixture locked is a `reference`"),
    }
}

/// Refuses a residual that is the land as it was read with the fixture locked: the same readings at the
/// same angles, but for where the indicator's zero stood.
fn moves(
    folder: &Folder,
    each: &MergedTrace,
    feature: &str,
    read: &[Read],
    seen: &[Seen],
) -> Result<()> {
    /// Traces of the same land repeat far better than this; the least motion worth a cam differs by far
    /// more (common practice, no source).
    const SAME: Length = Length::from_mm(0.005);
    if let Some(error) = super::lands::unknown(folder, feature) {
        return Err(error);
    }
    for locked in seen.iter().filter(|seen| seen.feature.name == feature) {
        let apart = locked.read.iter().filter_map(|(angle, height)| {
            let there = beside(read, *angle)?;
            Some((there - height.value).mm())
        });
        let mut apart: Vec<f64> = apart.collect();
        apart.sort_by(f64::total_cmp);
        // Where flanks of gaps stand, a fraction of a degree reads a fraction of a millimetre.
        let tenth = apart.len() / 10;
        let ends = (
            apart.get(tenth),
            apart.get(apart.len().saturating_sub(1 + tenth)),
        );
        if let (Some(least), Some(most)) = ends
            && Length::from_mm(most - least) < SAME
        {
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
    }
    Ok(())
}

/// What the turns of a motion's trace say otherwise than each other, a sentence each.
fn contradictions(folder: &Folder, each: &MergedTrace) -> Vec<String> {
    /// What a skim and a relief do not feel (common practice, no source).
    const NOT_FELT: Length = Length::from_mm(0.005);
    const NOT_FELT_ANGLE: Angle = Angle::from_rad(0.3 / 180.0 * std::f64::consts::PI);
    let counts = folder.gauge.encoder.counts_per_turn.max(1);
    let agreement = trace::agreement(&each.trace, &each.merged, Angle::TURN / f64::from(counts));
    let mut said = Vec::new();
    if let Some(step) = agreement
        .moved
        .filter(|step| step.size.value.abs() > NOT_FELT)
    {
        said.push(format!(
            "from {:.0} s on the same places read {:.3} mm otherwise: something moved",
            step.after.s(),
            step.size.value.abs().mm()
        ));
    }
    let first = each.trace.samples.first().map(|sample| sample.time);
    let last = each.trace.samples.last().map(|sample| sample.time);
    let lasted = first
        .zip(last)
        .map_or(Time::ZERO, |(first, last)| last - first);
    if let Some(drift) = agreement.drift {
        let over = drift.value * lasted;
        let sure = drift.value.abs() > drift.standard_uncertainty * 3.0;
        if sure && over.abs() > NOT_FELT {
            said.push(format!(
                "the readings of the same places drift by {:.3} mm over the trace",
                over.abs().mm()
            ));
        }
    }
    let step = agreement.turned.map(|step| step.size.value);
    let turned = step.or(agreement.walked.map(|walked| walked.value));
    if let Some(turned) = turned.filter(|turned| turned.abs() > NOT_FELT_ANGLE) {
        said.push(format!(
            "the same places stand {:.1}° elsewhere in a later turn: counts were lost, or something slips",
            turned.abs().deg()
        ));
    }
    if let Some(apart) = ways_apart(each).filter(|apart| *apart > NOT_FELT) {
        said.push(format!(
            "turned one way the same places read {:.3} mm otherwise than turned the other way: the fixture has lash, or something slid; turn it only the way that it is turned while it grinds",
            apart.mm()
        ));
    }
    said
}

/// How far the same places read apart, turned one way and the other: the middle of all of them; nothing
/// where it was turned one way alone.
fn ways_apart(each: &MergedTrace) -> Option<Length> {
    /// Places of the turn that are held against each other.
    const PLACES: usize = 720;
    let mut read = [vec![(0.0, 0.0); PLACES], vec![(0.0, 0.0); PLACES]];
    for pass in &each.merged.passes {
        let [cutting, backing] = &mut read;
        let way = match pass.turning {
            Turning::Cutting => cutting,
            Turning::Backing => backing,
        };
        for sample in each
            .trace
            .samples
            .get(pass.samples.clone())
            .unwrap_or_default()
        {
            let place = (sample.angle.in_turn().turns() * PLACES as f64) as usize;
            if let Some((sum, count)) = way.get_mut(place % PLACES) {
                *sum += sample.reading.mm();
                *count += 1.0;
            }
        }
    }
    let [cutting, backing] = read;
    let both = cutting.iter().zip(&backing);
    let both = both.filter(|(one, other)| one.1 > 0.0 && other.1 > 0.0);
    let apart = both.map(|(one, other)| (one.0 / one.1 - other.0 / other.1).abs());
    let mut apart: Vec<f64> = apart.collect();
    apart.sort_by(f64::total_cmp);
    apart.get(apart.len() / 2).copied().map(Length::from_mm)
}

/// Where a motion stands still at its end, which an indicator at the end of its travel shows as well.
fn stands_still(folder: &Folder, each: &MergedTrace) -> Option<String> {
    let standing = trace::standing(&each.merged, folder.gauge.indicator.resolution);
    let widest = standing
        .iter()
        .max_by(|one, other| one.width.rad().total_cmp(&other.width.rad()))?;
    /// A cam turns round within this.
    const WIDE: Angle = Angle::from_rad(5.0 / 180.0 * std::f64::consts::PI);
    (widest.width > WIDE).then(|| {
        format!(
            "the motion stands still over {:.0}° from {:.0}° on at its {} reading: a dwell of the cam, and not the end of the plunger's travel",
            widest.width.deg(),
            widest.from.deg(),
            if widest.highest { "highest" } else { "lowest" }
        )
    })
}

/// What was read last before an angle.
fn beside(read: &[Read], angle: Angle) -> Option<Length> {
    let turn = angle.in_turn();
    let at = read.partition_point(|(there, _)| *there <= turn);
    let (_, height) = read.get(at.saturating_sub(1))?;
    Some(height.value)
}
