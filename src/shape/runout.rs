//! How far the tool's axis runs out, from a reference trace on a round.

use super::lobes::{self, Lobes};
use super::round_arcs::{self, Found, Place, Round};
use super::stopped::{Stopped, stopped};
use super::{Covariance, Eccentricity};
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Estimate, Length};
use crate::trace::{Cell, Merged};
use nalgebra::{Matrix3, Vector3};
use std::f64::consts::TAU;

/// A ground round that scatters by more than this is none: a shank is round to a few micrometres
/// (common practice, no source).
const SCATTER_MOST: Length = Length::from_mm(0.02);
/// Less than half a turn on one round might as well be a land (chosen, no source).
const ROUND_ARC_LEAST: Angle = Angle::from_rad(TAU / 2.0);
/// By how much more than on a whole turn the centre may be uncertain because of missing arcs
/// (chosen, no source).
const SPREAD_MOST: f64 = 5.0;

/// An eccentricity in the tool's own frame, with its uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Runout {
    /// What it adds to readings.
    pub axis: Eccentricity,
    /// How well that is known.
    pub covariance: Covariance,
    /// What the indicator reads on the round on average.
    pub mean: Length,
    /// Root mean square of what is left on the round arcs.
    pub rms: Length,
    /// Highest minus lowest of what is left on the round arcs: roundness, noise included.
    pub form: Length,
    /// Waves on the round arcs beside the eccentricity, as the indicator read them; none where they
    /// show none beyond chance.
    pub lobes: Lobes,
    /// What stood still at one level, as with the plunger at an end of its travel.
    pub stopped: Option<Stopped>,
    /// Highest minus lowest of all that was read.
    pub swing: Length,
    /// How much of the turn lies on the round.
    pub round_arc: Angle,
    /// Arcs that do not lie on the round and were left out: flats, keyways, nicks.
    pub left_out: Vec<LeftOut>,
    /// The readings that it was fitted to, neighbours together.
    pub readings: Vec<RoundReading>,
    /// Reference planes that it rests on: with one the tilt of the axis is not known.
    pub planes: usize,
}

/// Readings beside each other on a round, and what a common error of theirs does to the runout.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundReading {
    /// Where the indicator stands.
    pub travel: Length,
    /// Change of the axis towards angle 0 with it, mm per mm.
    pub x: f64,
    /// Change of the axis towards a quarter turn with it, mm per mm.
    pub y: f64,
}

/// An arc that was left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftOut {
    /// Where it begins.
    pub from: Angle,
    /// How far it goes, growing.
    pub width: Angle,
    /// The furthest that it lies from the round, negative below.
    pub furthest: Length,
}

impl Runout {
    /// What it adds to a reading at an angle of the encoder. `path_radius` is the distance of the
    /// stylus' centre from the tool's axis; without it the first order is given, which is off by
    /// at most `e² / 2R`.
    pub fn added(&self, angle: Angle, path_radius: Option<Length>) -> Length {
        let round = Round {
            mean: 0.0,
            x: self.axis.x.mm(),
            y: self.axis.y.mm(),
        };
        Length::from_mm(round.read(angle.rad(), path_radius.map(Length::mm)))
    }

    /// Standard uncertainty of what it adds at an angle.
    pub fn added_uncertainty(&self, angle: Angle) -> Length {
        let (sin, cos) = angle.rad().sin_cos();
        self.covariance.along(cos, sin)
    }

    /// How far the axis is off: half of the total indicator reading.
    ///
    /// Where it is no greater than its uncertainty, its direction means nothing, and the
    /// uncertainty is that of the direction that is known least.
    pub fn eccentricity(&self) -> Estimate<Length> {
        let (size, largest) = (self.axis.size(), self.covariance.largest());
        let uncertainty = if size > largest {
            self.added_uncertainty(self.direction())
        } else {
            largest
        };
        Estimate::new(size, uncertainty)
    }

    /// The same with every length multiplied: a lever's readings by the cosine of its angle.
    #[must_use]
    pub fn scaled(mut self, factor: f64) -> Self {
        self.covariance = self.covariance.scaled(factor);
        self.lobes = self.lobes.scaled(factor);
        for length in [
            &mut self.axis.x,
            &mut self.axis.y,
            &mut self.mean,
            &mut self.rms,
            &mut self.form,
        ] {
            *length = *length * factor;
        }
        self
    }

    /// Where on the encoder the tool stands highest.
    pub fn direction(&self) -> Angle {
        self.axis.direction()
    }

    /// The same with one more thing that is not known: `moved` is what one standard uncertainty of
    /// it makes of the runout.
    #[must_use]
    pub fn less_known_by(mut self, moved: &Runout) -> Self {
        let change = Eccentricity {
            x: moved.axis.x - self.axis.x,
            y: moved.axis.y - self.axis.y,
        };
        self.covariance = self.covariance.and(Covariance::one_way(change));
        self
    }
}

/// Fits the round arcs of a reference trace. `path_radius` is the distance of the stylus' centre
/// from the tool's axis, where the round's diameter is known. `resolution` is the indicator's step:
/// places that stand on two of them lie on one round nevertheless.
///
/// Fails with code `reference` where less than half a turn lies on one round, where that is not
/// round enough, or where its arcs do not tell the centre.
pub fn runout(
    reference: &Merged,
    path_radius: Option<Length>,
    resolution: Length,
) -> Result<Runout> {
    let cells = &reference.cells;
    let places: Vec<Place> = cells.iter().map(place).collect();
    let resolved = |cell: &Cell| cell.standard_error.mm();
    let mut errors: Vec<f64> = cells.iter().map(resolved).collect();
    let usual = crate::numeric::robust::median(&mut errors).unwrap_or(0.0);
    // Below a nanometre only the rounding of numbers stands out.
    let floor = usual.max(1e-6);
    let radius = path_radius.map(Length::mm);
    let told_apart = floor.max((resolution / 2.0).mm());
    let found = round_arcs::find(&places, radius, told_apart).ok_or_else(|| {
        refused(format!(
            "read {} places, expected a turn of them",
            cells.len()
        ))
    })?;
    let round_arc = reference.cell_width * found.kept.iter().filter(|kept| **kept).count() as f64;
    if found.scatter > SCATTER_MOST.mm() {
        return Err(refused(format!(
            "what is nearest to a round scatters by {:.3} mm, expected {:.3} mm or less",
            found.scatter,
            SCATTER_MOST.mm()
        )));
    }
    if round_arc < ROUND_ARC_LEAST {
        return Err(refused(format!(
            "only {:.0}° of the turn lie on one round, expected {:.0}° or more",
            round_arc.deg(),
            ROUND_ARC_LEAST.deg()
        )));
    }
    let off: Vec<Option<f64>> = places
        .iter()
        .zip(&found.kept)
        .map(|((angle, reading), kept)| kept.then(|| reading - found.round.read(*angle, radius)))
        .collect();
    let kept: Vec<f64> = off.iter().flatten().copied().collect();
    let squares: f64 = kept.iter().map(|off| off * off).sum();
    let count = kept.len() as f64;
    let information = round_arcs::normal_matrix(&places, &found.kept) / count;
    let spread = information.try_inverse().filter(|spread| {
        // A whole turn gives 2 for each of the components.
        spread[(1, 1)].max(spread[(2, 2)]) <= 2.0 * SPREAD_MOST * SPREAD_MOST
    });
    let spread = spread.ok_or_else(|| {
        refused("the round arcs lie too close together to tell the centre".to_owned())
    })?;
    // The mean of so many places is no worse known than one of them: the floor of the readings.
    let variance = (squares / (count - 3.0).max(1.0)).max(floor * floor);
    let independent = (count / correlation_length(&off)).max(4.0);
    let covariance: Matrix3<f64> = spread * (variance / independent);
    let covariance = Covariance::of(covariance[(1, 1)], covariance[(1, 2)], covariance[(2, 2)]);
    let waved = lobes::lobes(&places, &off, &found.round, resolution, correlation_length);
    // Where arcs are missing, waves shift the centre: by what the two fits differ.
    let shifted = waved.as_ref().map_or(Covariance::default(), |waved| {
        Covariance::one_way(Eccentricity {
            x: Length::from_mm(waved.round.x - found.round.x),
            y: Length::from_mm(waved.round.y - found.round.y),
        })
    });
    let round = waved.as_ref().map_or(found.round, |waved| waved.round);
    let (low, high) = kept.iter().fold((0.0_f64, 0.0_f64), |(low, high), off| {
        (low.min(*off), high.max(*off))
    });
    Ok(Runout {
        axis: Eccentricity {
            x: Length::from_mm(round.x),
            y: Length::from_mm(round.y),
        },
        covariance: covariance.and(shifted),
        mean: Length::from_mm(round.mean),
        rms: Length::from_mm((squares / count).sqrt()),
        form: Length::from_mm(high - low),
        lobes: waved.map_or(Lobes::default(), |waved| waved.lobes),
        stopped: stopped(&places, floor, resolution.mm()),
        swing: swing(cells),
        round_arc,
        left_out: left_out(reference, &found, radius),
        readings: readings(&places, &found.kept, spread / count),
        planes: 1,
    })
}

fn swing(cells: &[Cell]) -> Length {
    let readings = || cells.iter().map(|cell| cell.reading);
    let ends = readings()
        .reduce(Length::max)
        .zip(readings().reduce(Length::min));
    ends.map_or(Length::ZERO, |(high, low)| high - low)
}

fn place(cell: &Cell) -> Place {
    (cell.angle.rad(), cell.reading.mm())
}

/// The kept places in groups, with the weights of least squares, by the inverse of its matrix.
fn readings(places: &[Place], kept: &[bool], inverse: Matrix3<f64>) -> Vec<RoundReading> {
    /// More groups than this say the same.
    const GROUPS: usize = 128;
    let size = places.len().div_ceil(GROUPS).max(1);
    let group = |(places, kept): (&[Place], &[bool])| {
        let on_round = || {
            let both = places.iter().zip(kept);
            both.filter_map(|(place, kept)| kept.then_some(place))
        };
        let count = on_round().count();
        let weights =
            on_round().map(|(angle, _)| inverse * Vector3::new(1.0, angle.cos(), angle.sin()));
        let weight = weights.sum::<Vector3<f64>>();
        let travel: f64 = on_round().map(|(_, reading)| reading).sum();
        (count > 0).then(|| RoundReading {
            travel: Length::from_mm(travel / count as f64),
            x: weight.y,
            y: weight.z,
        })
    };
    let groups = places.chunks(size).zip(kept.chunks(size));
    groups.filter_map(group).collect()
}

fn refused(message: String) -> Error {
    let help = "take the reference on a ground round of the same clamping, the shank or a pilot, \
                over a whole turn; or state a bound as `runout_mm` in the gauge card";
    Error::new(Code::Reference, message).help(help)
}

/// Over how many neighbouring places what is left hangs together: a round that is slightly oval or
/// lobed leaves long waves, of which each is one piece of evidence.
fn correlation_length(off: &[Option<f64>]) -> f64 {
    let product = |lag: usize| {
        let pairs = (0..off.len()).filter_map(|at| Some(off[at]? * off[(at + lag) % off.len()]?));
        let (sum, count) = pairs.fold((0.0, 0.0), |(sum, count), pair| (sum + pair, count + 1.0));
        sum / f64::max(count, 1.0)
    };
    let alone = product(0);
    if alone <= 0.0 {
        return 1.0;
    }
    let shares = (1..off.len() / 4).map(|lag| product(lag) / alone);
    1.0 + 2.0 * shares.take_while(|share| *share > 0.05).sum::<f64>()
}

/// The arcs that are not on the round; a lone place is no arc.
fn left_out(reference: &Merged, found: &Found, radius: Option<f64>) -> Vec<LeftOut> {
    let cells = &reference.cells;
    let count = cells.len();
    let starts = (0..count).filter(|at| !found.kept[*at] && found.kept[(at + count - 1) % count]);
    let arc = |first: usize| {
        let length = (1..count)
            .find(|by| found.kept[(first + by) % count])
            .unwrap_or(count);
        let inside = (0..length).map(|by| &cells[(first + by) % count]);
        let off = inside.map(|cell| cell.reading.mm() - found.round.read(cell.angle.rad(), radius));
        let furthest = off.fold(
            0.0_f64,
            |far, off| if off.abs() > far.abs() { off } else { far },
        );
        let from = cells[first].angle;
        let last = cells[(first + length - 1) % count].angle;
        (length > 1).then(|| LeftOut {
            from,
            width: (last - from).in_turn(),
            furthest: Length::from_mm(furthest),
        })
    };
    starts.filter_map(arc).collect()
}

/// The runout at a distance `z` along the tool's axis, from reference traces at other distances.
///
/// A tool clamped askew runs out by a straight line along its axis, so two planes give the tilt
/// and more of them check it. One plane gives its own value everywhere, and says so in `planes`.
/// Nothing when no plane is given.
pub fn along_axis(planes: &[(Length, Runout)], z: Length) -> Option<Runout> {
    let nearest = planes
        .iter()
        .min_by(|a, b| (a.0 - z).abs().total_cmp(&(b.0 - z).abs()))?;
    let first = planes[0].0;
    if planes.iter().all(|(at, _)| *at == first) {
        return Some(nearest.1.clone());
    }
    let (shares, excess) = straight_line(planes, z);
    let shares = || planes.iter().zip(&shares);
    let value = |value: fn(&Runout) -> Length| {
        let values = shares().map(|((_, runout), share)| value(runout) * *share);
        values.sum::<Length>()
    };
    let covariances = shares().map(|((_, runout), share)| runout.covariance.scaled(*share));
    let covariance = covariances.fold(Covariance::default(), Covariance::and);
    Some(Runout {
        axis: Eccentricity {
            x: value(|runout| runout.axis.x),
            y: value(|runout| runout.axis.y),
        },
        covariance: covariance.scaled(excess),
        planes: planes.len(),
        ..nearest.1.clone()
    })
}

/// Weighted least squares of a straight line in space through the planes: with what share each of
/// them makes up its place at `z`, and by how much more they stand off it than they should.
fn straight_line(planes: &[(Length, Runout)], z: Length) -> (Vec<f64>, f64) {
    let points: Vec<(f64, f64)> = planes
        .iter()
        .map(|(at, runout)| ((*at - z).mm(), runout.covariance.largest().mm().max(1e-9)))
        .collect();
    let [mut s, mut sz, mut szz] = [0.0; 3];
    for (z, uncertainty) in &points {
        let weight = uncertainty.powi(-2);
        s += weight;
        sz += weight * z;
        szz += weight * z * z;
    }
    let determinant = s * szz - sz * sz;
    let at_zero =
        |(z, uncertainty): &(f64, f64)| (szz - sz * z) / determinant * uncertainty.powi(-2);
    let slope = |(z, uncertainty): &(f64, f64)| (s * z - sz) / determinant * uncertainty.powi(-2);
    let off = |value: fn(&Runout) -> Length| -> f64 {
        let values = || planes.iter().map(|(_, runout)| value(runout).mm());
        let made = |share: &dyn Fn(&(f64, f64)) -> f64| -> f64 {
            points
                .iter()
                .zip(values())
                .map(|(point, value)| share(point) * value)
                .sum()
        };
        let (start, slope) = (made(&at_zero), made(&slope));
        let squares = points.iter().zip(values());
        squares
            .map(|((z, uncertainty), value)| ((value - start - slope * z) / uncertainty).powi(2))
            .sum()
    };
    // Two components, each with a place and a slope.
    let free = 2.0 * (points.len() as f64 - 2.0);
    let excess = if free > 0.0 {
        let squares = off(|runout| runout.axis.x) + off(|runout| runout.axis.y);
        (squares / free).max(1.0).sqrt()
    } else {
        1.0
    };
    (points.iter().map(at_zero).collect(), excess)
}
