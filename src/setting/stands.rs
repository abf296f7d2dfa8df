//! How an engaged fixture stands, told by what it adds to the readings of a land.
//!
//! The fixture moves the tool along the line of the indicator, so that whatever the tip is, a reading
//! with the fixture engaged is the one with it locked and `g m(phi - theta_0)` on top, but for where the
//! zero stands. What is added therefore shows throw and cam angle, however worn the land is.

use super::motion::{Motion, PLACES, read_at};
use crate::numeric::linear::least_squares;
use crate::numeric::{golden, robust};
use crate::quantity::{Angle, Estimate, Length};
use nalgebra::{DMatrix, DVector};
use std::f64::consts::TAU;

/// A fixture as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Stands {
    /// Its throw over that at which the motion was taken.
    pub gain: Estimate<f64>,
    /// How far the tool is turned in it against the cam's beginning; nothing where the places do not
    /// tell.
    pub cam: Option<Estimate<Angle>>,
    /// Whether they would show the same at any cam angle, so that the gain is told without it.
    pub any_cam: bool,
    /// Where the indicator's zero stood against that of the trace with the fixture locked.
    pub zero: Length,
    /// What of the readings throw and cam angle do not explain, root mean square.
    pub misfit: Length,
}

/// Readings nearer than this share what they scatter by (common practice, no source).
const SHARED: f64 = 5.0;
/// An indicator's error goes up and down about so often over the travel of a land, alike on each land
/// (chosen, no source; the simulated bench's does).
const PIECES: f64 = 3.0;
/// A smaller motion over the places shows nothing.
const LEAST: f64 = 0.01;
/// Fewer places than this show nothing.
const FEWEST: usize = 12;
/// Less surely than this a cam angle is not known.
const UNKNOWN: Angle = Angle::from_rad(8.0 / 180.0 * std::f64::consts::PI);
/// Cam angles that are tried, a degree apart.
const TRIED: usize = 360;

impl Stands {
    /// From what the engaged fixture adds at places of the tool, `(angle, engaged less locked)`. Where
    /// several lobes would explain it as well, the one that stands nearest to `near` is meant. `floor` is
    /// what readings scatter by, whatever they say of themselves; `error` the limit of the indicator's.
    ///
    /// Nothing where the places are too few, or the fixture hardly moves over them.
    pub fn seen(
        motion: &Motion,
        added: &[(Angle, Length)],
        floor: Length,
        error: Length,
        near: Angle,
    ) -> Option<Self> {
        let read: Vec<(f64, f64)> = added.iter().map(|(at, by)| (at.rad(), by.mm())).collect();
        let floor = floor.mm().max(1e-4);
        let mut fit = Fit { motion, read };
        if fit.read.len() < FEWEST {
            return None;
        }
        let mut cam = fit.cam(floor, near.rad())?;
        // A chip on one land, or a tooth's flank in the way, is no motion.
        for _ in 0..2 {
            fit.drop_stray(cam, floor);
            cam = fit.refined(cam);
        }
        fit.told(cam, floor, error.mm(), near.rad())
    }
}

/// Height and slope at an angle between the readings about it, `series` by growing angle in one turn;
/// nothing where they lie farther apart than `widest`.
pub fn between(series: &[(Angle, Length)], angle: Angle, widest: Angle) -> Option<(Length, f64)> {
    let turn = angle.in_turn();
    let at = series.partition_point(|(there, _)| *there <= turn);
    let (before, after) = (series.get(at.checked_sub(1)?)?, series.get(at)?);
    let width = after.0 - before.0;
    let slope = (after.1 - before.1).mm() / width.rad();
    let height = before.1 + (after.1 - before.1) * ((turn - before.0) / width);
    (width <= widest).then_some((height, slope))
}

/// Whether a whole trace in a fixture is not of the tool as it was traced with it locked, whatever its
/// lands show. Flanks that stand elsewhere show that it was turned in its chuck; gaps that are far
/// shallower or deeper, that the indicator did not follow. `locked` is by growing angle in one turn.
pub fn is_misplaced(
    motion: &Motion,
    stands: &Stands,
    near: Angle,
    locked: &[(Angle, Length)],
    read: &[(Angle, Length)],
    on_land: impl Fn(Angle) -> bool,
) -> bool {
    /// No relieved land falls so steeply, in mm a radian: 0.06 mm a degree.
    const STEEP: f64 = 3.4;
    /// Flanks stand where they stood to the encoder's steps and the delay of a reading.
    const STOOD: Angle = Angle::from_rad(0.8 / 180.0 * std::f64::consts::PI);
    /// Shallower gaps tell nothing.
    const DEEP: f64 = 0.2;
    let cam = stands.cam.map_or(near, |cam| cam.value);
    // Where the lands do not tell the cam angle, nothing tells how the fixture moves between them.
    let alike = match stands.cam {
        Some(_) => 0.6..=1.6,
        None => 0.3..=3.0,
    };
    let (mut turned, mut expected, mut seen) = (Vec::new(), [vec![], vec![]], [vec![], vec![]]);
    for (angle, height) in read {
        let Some((there, slope)) = between(locked, *angle, STOOD * 2.0) else {
            continue;
        };
        let moved = motion.at(*angle - cam).mm() * stands.gain.value;
        let should = (there + stands.zero).mm() + moved;
        if slope.abs() > STEEP {
            turned.push((should - height.mm()) / slope);
            continue;
        }
        let place = usize::from(on_land(*angle));
        if let (Some(expected), Some(seen)) = (expected.get_mut(place), seen.get_mut(place)) {
            expected.push(should);
            seen.push(height.mm());
        }
    }
    let depth =
        |[gap, land]: &mut [Vec<f64>; 2]| Some(robust::median(land)? - robust::median(gap)?);
    if let (Some(should), Some(shown)) = (depth(&mut expected), depth(&mut seen))
        && should > DEEP
        && !alike.contains(&(shown / should))
    {
        return true;
    }
    let seen = stands.cam.is_some() && turned.len() >= FEWEST / 2;
    seen && robust::median(&mut turned).is_some_and(|by| by.abs() > STOOD.rad())
}

/// The middle of what a dial showed over a land, and how far it moved: without the fiftieth at either
/// end, which a chip may have been.
pub fn swept(shown: &[Length]) -> Option<(Length, Length)> {
    let mut shown: Vec<f64> = shown.iter().map(|shown| shown.mm()).collect();
    let middle = robust::median(&mut shown)?;
    let (least, most) = (
        robust::quantile(&mut shown, 0.02)?,
        robust::quantile(&mut shown, 0.98)?,
    );
    Some((Length::from_mm(middle), Length::from_mm(most - least)))
}

struct Fit<'m> {
    motion: &'m Motion,
    read: Vec<(f64, f64)>,
}

/// Zero and gain at a cam angle, and the sum of squares that is left.
#[derive(Clone, Copy)]
struct Line {
    zero: f64,
    gain: f64,
    left: f64,
}

impl Fit<'_> {
    fn moved(&self, angle: f64, cam: f64) -> f64 {
        read_at(
            &self.motion.towards,
            (angle - cam).rem_euclid(TAU) / TAU * PLACES as f64,
        )
    }

    /// The best zero and gain, a gain never below 0.
    fn line(&self, cam: f64) -> Line {
        let n = self.read.len() as f64;
        let (mut m1, mut m2, mut y1, mut y2, mut my) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for &(angle, by) in &self.read {
            let moved = self.moved(angle, cam);
            m1 += moved;
            m2 += moved * moved;
            y1 += by;
            y2 += by * by;
            my += moved * by;
        }
        let (of_m, of_y, both) = (m2 - m1 * m1 / n, y2 - y1 * y1 / n, my - m1 * y1 / n);
        let gain = if of_m > 1e-9 {
            (both / of_m).max(0.0)
        } else {
            0.0
        };
        Line {
            zero: (y1 - gain * m1) / n,
            gain,
            left: (of_y - gain * (2.0 * both - gain * of_m)).max(0.0),
        }
    }

    /// The cam angle that leaves least; of several that leave as little, the nearest to where it should
    /// stand.
    fn cam(&self, floor: f64, near: f64) -> Option<f64> {
        let step = TAU / TRIED as f64;
        let left: Vec<f64> = (0..TRIED)
            .map(|at| self.line(near + step * at as f64).left)
            .collect();
        let at = |place: usize| left.get(place % TRIED).copied().unwrap_or(f64::INFINITY);
        let valleys = (0..TRIED)
            .filter(|place| at(*place) <= at(place + 1) && at(*place) <= at(place + TRIED - 1));
        let refined: Vec<(f64, f64)> = valleys
            .map(|place| self.refined(near + step * place as f64))
            .map(|cam| (cam, self.line(cam).left))
            .collect();
        let least = refined.iter().map(|(_, left)| *left).reduce(f64::min)?;
        // Lobes of one cam are told apart by nothing that readings scatter by.
        let alike = least * 1.5 + self.read.len() as f64 * floor * floor;
        let alike = refined.iter().filter(|(_, left)| *left <= alike);
        alike
            .map(|(cam, _)| *cam)
            .min_by(|one, other| away(*one, near).total_cmp(&away(*other, near)))
    }

    /// The least near a cam angle.
    fn refined(&self, cam: f64) -> f64 {
        let reach = TAU / TRIED as f64 * 1.5;
        golden::least((cam - reach, cam + reach), 24, |cam| self.line(cam).left).0
    }

    /// Leaves out what lies off by more than scatter.
    fn drop_stray(&mut self, cam: f64, floor: f64) {
        let line = self.line(cam);
        let off = |read: &(f64, f64)| read.1 - line.zero - line.gain * self.moved(read.0, cam);
        let offs: Vec<f64> = self.read.iter().map(off).collect();
        let scale = robust::scale(&mut offs.clone()).unwrap_or(0.0).max(floor);
        let kept = self.read.iter().zip(&offs);
        let kept: Vec<(f64, f64)> = kept
            .filter(|(_, off)| off.abs() <= 4.0 * scale)
            .map(|(read, _)| *read)
            .collect();
        if kept.len() >= FEWEST && kept.len() * 2 > self.read.len() {
            self.read = kept;
        }
    }

    fn told(&self, cam: f64, floor: f64, error: f64, near: f64) -> Option<Stands> {
        let line = self.line(cam);
        let n = self.read.len() as f64;
        let moved = self.read.iter().map(|(angle, _)| self.moved(*angle, cam));
        let (least, most) = moved.fold((f64::INFINITY, f64::NEG_INFINITY), |ends, at| {
            (ends.0.min(at), ends.1.max(at))
        });
        if most - least < LEAST {
            return None;
        }
        let misfit = (line.left / (n - 3.0).max(1.0)).sqrt();
        // Evenly within its limit, at two places of its travel.
        let error = error * (2f64 / 3.0).sqrt();
        let (scattered, erred) = (self.places_per_piece(), n / PIECES);
        let scatter = (misfit.max(floor).powi(2) * scattered + error.powi(2) * erred).sqrt();
        let with_cam = self.uncertainties(cam, line.gain, scatter, true);
        let alone = self.uncertainties(near, line.gain, scatter, false)?.0;
        // Along an even rise the valley is flat, and its least place is anywhere in it.
        let (low, high) = (
            self.as_well(cam, scatter, -1.0),
            self.as_well(cam, scatter, 1.0),
        );
        let across = (high - low) / 4.0;
        let apart = self.gains_apart(low, high);
        let told = with_cam.map(|(gain, of_cam)| (gain.max(apart), of_cam.max(across)));
        let known = told.filter(|(_, of_cam)| *of_cam < UNKNOWN.rad());
        // Where the gain is as well known whatever the cam does, as on an even rise, any angle does.
        let any_cam = known.is_none() && apart <= alone;
        let middle = (low + high) / 2.0;
        let (value, gain, zero) = match (known, told) {
            (Some((gain, _)), _) => (line.gain, gain, line.zero),
            (None, Some((gain, _))) if !any_cam => (line.gain, gain, line.zero),
            _ => {
                let there = self.line(near);
                (there.gain, alone.max(apart), there.zero)
            }
        };
        let cam = known.map(|(_, of_cam)| (middle, of_cam));
        Some(Stands {
            gain: Estimate::new(value, gain),
            cam: cam.map(|(cam, u)| {
                let turn = Angle::from_rad(near + away_signed(cam, near));
                Estimate::new(turn, Angle::from_rad(u))
            }),
            any_cam,
            zero: Length::from_mm(zero),
            misfit: Length::from_mm(misfit),
        })
    }

    /// How far the cam angle can go one way and explain the places as well: to twice its standard
    /// uncertainty, by the sum of squares itself (D. A. Ratkowsky 1983, from memory).
    fn as_well(&self, cam: f64, scatter: f64, way: f64) -> f64 {
        const STEP: f64 = 0.25 / 180.0 * std::f64::consts::PI;
        let most = self.line(cam).left + 4.0 * scatter * scatter;
        let mut steps = 0;
        while steps < 180 && self.line(cam + way * STEP * f64::from(steps + 1)).left <= most {
            steps += 1;
        }
        cam + way * STEP * f64::from(steps)
    }

    /// A quarter of what the gain differs by between two cam angles.
    fn gains_apart(&self, low: f64, high: f64) -> f64 {
        (self.line(high).gain - self.line(low).gain).abs() / 4.0
    }

    /// Standard uncertainties of gain and cam angle (JCGM 100, H.3) where one place by itself strays by
    /// `scatter`.
    fn uncertainties(&self, cam: f64, gain: f64, scatter: f64, turns: bool) -> Option<(f64, f64)> {
        let step = TAU / PLACES as f64;
        let rows = self.read.len();
        let columns = if turns { 3 } else { 2 };
        let design = DMatrix::from_fn(rows, columns, |row, column| {
            let angle = self.read.get(row).map_or(0.0, |read| read.0);
            let slope =
                || (self.moved(angle + step, cam) - self.moved(angle - step, cam)) / (2.0 * step);
            match column {
                0 => 1.0,
                1 => self.moved(angle, cam),
                _ => -gain * slope(),
            }
        });
        // With a residual of one each the covariance is that of the design alone.
        let ones = DVector::from_fn(rows, |row, _| if row % 2 == 0 { 1.0 } else { -1.0 });
        let fit = least_squares(&design, &ones)?;
        let per = fit.residual_sd.max(1e-12);
        let of = |at: usize| {
            let u = fit.standard_uncertainties.get(at).copied();
            u.map(|u| u / per * scatter)
        };
        Some((of(1)?, of(2).unwrap_or(0.0)))
    }

    /// How many places share an error.
    fn places_per_piece(&self) -> f64 {
        let pieces = (TAU.to_degrees() / SHARED) as usize;
        let mut seen = vec![false; pieces];
        for (angle, _) in &self.read {
            let at = (angle.rem_euclid(TAU) / TAU * pieces as f64) as usize;
            if let Some(piece) = seen.get_mut(at.min(pieces - 1)) {
                *piece = true;
            }
        }
        let count = seen.iter().filter(|seen| **seen).count();
        self.read.len() as f64 / count.max(1) as f64
    }
}

/// How far two angles stand apart.
fn away(one: f64, other: f64) -> f64 {
    away_signed(one, other).abs()
}

/// From one angle to another on the shorter way.
fn away_signed(to: f64, from: f64) -> f64 {
    (to - from + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::card::{CamLaw, RiseLaw, Turns};
    use rand::SeedableRng;
    use rand_pcg::Pcg64;

    fn motion(law: RiseLaw) -> Motion {
        let law = CamLaw {
            law,
            rise: Length::from_mm(0.6),
            rise_arc: Angle::from_deg(70.0),
            dwell_arc: Angle::from_deg(5.0),
            return_arc: Angle::from_deg(15.0),
            lobes: 4,
        };
        Motion::of_law(&law, Length::from_mm(1.0), Turns::Cutting)
    }

    /// What a fixture at this gain and cam angle adds over an arc, with scatter.
    fn added(law: RiseLaw, gain: f64, cam_deg: f64, arc: (u32, u32)) -> Vec<(Angle, Length)> {
        let motion = motion(law);
        let mut random = Pcg64::seed_from_u64(5);
        let read = (arc.0 * 2..arc.1 * 2).map(|half| {
            let at = Angle::from_deg(f64::from(half) / 2.0);
            let scatter = crate::numeric::random::gauss(&mut random) * 0.0005;
            let by = 0.2 + gain * motion.at(at - Angle::from_deg(cam_deg)).mm() + scatter;
            (at, Length::from_mm(by))
        });
        read.collect()
    }

    fn seen(law: RiseLaw, added: &[(Angle, Length)], near_deg: f64) -> Option<Stands> {
        let floor = Length::from_um(0.5);
        let near = Angle::from_deg(near_deg);
        Stands::seen(&motion(law), added, floor, Length::ZERO, near)
    }

    #[track_caller]
    fn check(law: RiseLaw, gain: f64, cam_deg: f64, arc: (u32, u32), near_deg: f64) {
        let found = seen(law, &added(law, gain, cam_deg, arc), near_deg).unwrap();
        let off = (found.gain.value - gain).abs();
        assert!(off < 3.0 * found.gain.standard_uncertainty, "{found:?}");
        assert!(found.gain.standard_uncertainty < 0.01, "{found:?}");
        if let Some(cam) = found.cam {
            let off = (cam.value.deg() - cam_deg).abs();
            assert!(
                off < 3.0 * cam.standard_uncertainty.deg() + 0.01,
                "{found:?}"
            );
        }
        assert!(found.misfit.um() < 0.8, "{found:?}");
    }

    #[test]
    fn throw_and_cam_angle_are_told_by_what_is_added() {
        for law in [RiseLaw::Harmonic, RiseLaw::Parabolic, RiseLaw::Cycloidal] {
            check(law, 0.83, 12.0, (0, 360), 12.0);
            check(law, 0.83, 12.0, (20, 75), 8.0);
            check(law, 1.4, 31.0, (40, 100), 36.0);
        }
    }

    #[test]
    fn a_lobe_is_taken_for_the_one_that_is_nearest() {
        let read = added(RiseLaw::Harmonic, 1.0, 10.0, (0, 360));
        let found = seen(RiseLaw::Harmonic, &read, 187.0).unwrap();
        assert!((found.cam.unwrap().value.deg() - 190.0).abs() < 0.2);
    }

    #[test]
    fn an_even_rise_tells_its_throw_and_no_cam_angle() {
        let read = added(RiseLaw::Constant, 0.9, 10.0, (20, 70));
        let found = seen(RiseLaw::Constant, &read, 14.0).unwrap();
        assert!(found.cam.is_none() && found.any_cam, "{found:?}");
        assert!((found.gain.value - 0.9).abs() < 0.02, "{found:?}");
    }

    /// A hand that has only begun must not be told a throw that holds at one cam angle alone.
    #[test]
    fn a_short_piece_of_a_land_tells_no_more_than_it_can() {
        for law in [RiseLaw::Harmonic, RiseLaw::Parabolic, RiseLaw::Cycloidal] {
            for to in 28..70 {
                let Some(found) = seen(law, &added(law, 0.8, 12.0, (20, to)), 20.0) else {
                    continue;
                };
                let off = (found.gain.value - 0.8).abs();
                let u = found.gain.standard_uncertainty;
                assert!(off < 3.5 * u || off < 0.01, "{law:?} {to}: {found:?}");
            }
        }
    }

    #[test]
    fn a_chip_on_one_land_is_left_out() {
        let mut read = added(RiseLaw::Harmonic, 1.0, 10.0, (0, 360));
        for (_, by) in read.iter_mut().skip(100).take(12) {
            *by += Length::from_mm(0.08);
        }
        let found = seen(RiseLaw::Harmonic, &read, 10.0).unwrap();
        assert!((found.gain.value - 1.0).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn what_another_tool_adds_is_not_explained() {
        let bumps = (0..720).map(|half| {
            let at = Angle::from_deg(f64::from(half) / 2.0);
            (at, Length::from_mm(0.2 * (at.rad() * 7.0).sin()))
        });
        let found = seen(RiseLaw::Harmonic, &bumps.collect::<Vec<_>>(), 0.0);
        assert!(found.is_none_or(|found| found.misfit.mm() > 0.05));
    }

    #[test]
    fn a_fixture_that_is_locked_shows_nothing() {
        let still = added(RiseLaw::Harmonic, 0.0, 0.0, (0, 360));
        let found = seen(RiseLaw::Harmonic, &still, 0.0);
        assert!(found.is_none_or(|found| found.gain.value < 0.01));
    }
}
