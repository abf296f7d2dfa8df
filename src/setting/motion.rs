//! What a relieving fixture does to a tool over its turn.

use crate::card::{CamLaw, RiseLaw, Turns};
use crate::quantity::{Angle, Estimate, Length};

/// Places of a turn at which a motion and a ground surface are known: a quarter of a degree apart.
///
/// Between two of them a wheel of 150 mm leaves a cusp of a few hundredths of a micrometre on a tool
/// of 20 mm (`R (R + W) / (2 W)` times the square of half a step).
pub(super) const PLACES: usize = 1440;

/// How far a fixture moves the tool towards the wheel, over the tool's turn, at one throw.
///
/// Inside `setting` heights are bare millimetres and places of the turn whole numbers: an envelope is
/// plain plane geometry, done some hundred times for one match.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// Towards the wheel, mm, its least 0.
    pub(super) towards: Vec<f64>,
    /// Throw at which it is so.
    pub throw: Length,
    /// Standard uncertainty of a place from scatter, at that throw.
    pub scatter: Length,
    /// Whether it was traced in the fixture, or worked out from figures.
    pub traced: bool,
}

/// Arcs without readings wider than this make a motion unknown: a cam's step fits into less than ten
/// degrees (common practice, no source), of which a tenth may be guessed.
const HOLE: Angle = Angle::from_rad(1.0 / 180.0 * std::f64::consts::PI);

/// Why there is no motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoMotion {
    /// Nothing was read over so wide an arc, from there.
    Hole {
        /// Where it begins, on the encoder.
        from: Angle,
        /// How wide it is.
        width: Angle,
    },
    /// The round hardly moved: this is all of its swing.
    Still(Length),
}

/// Less than this is no motion: it is what play and runout of a fixture that is locked leave
/// (common practice, no source).
const STILL: Length = Length::from_mm(0.02);

impl Motion {
    /// A motion from places of a turn, `(angle, height towards the wheel)`, by growing angle.
    ///
    /// # Errors
    /// [`NoMotion`] where an arc was not read, or nothing moved.
    pub fn traced(
        places: &[(Angle, Estimate<Length>)],
        throw: Length,
    ) -> std::result::Result<Self, NoMotion> {
        let first = places.first().map_or(Angle::ZERO, |place| place.0);
        let next = places.iter().skip(1).map(|place| place.0);
        let next = next.chain(std::iter::once(first + Angle::TURN));
        for ((from, _), to) in places.iter().zip(next) {
            if to - *from > HOLE {
                let (from, width) = (*from, to - *from);
                return Err(NoMotion::Hole { from, width });
            }
        }
        let read: Vec<(f64, f64)> = places
            .iter()
            .map(|(angle, height)| (angle.turns() * PLACES as f64, height.value.mm()))
            .collect();
        let towards: Vec<f64> = (0..PLACES).map(|at| between(&read, at as f64)).collect();
        let squares = places
            .iter()
            .map(|place| place.1.standard_uncertainty.mm().powi(2));
        let scatter = (squares.sum::<f64>() / places.len().max(1) as f64).sqrt();
        let (towards, scatter) = smoothed(&towards, scatter);
        let motion = Self::from_least(towards, throw, Length::from_mm(scatter), true);
        match motion.swing() {
            swing if swing < STILL => Err(NoMotion::Still(swing)),
            _ => Ok(motion),
        }
    }

    /// A motion by its law, whose lobes begin at angle 0 of the cam.
    pub fn of_law(law: &CamLaw, throw: Length, turns: Turns) -> Self {
        let lobes = f64::from(law.lobes.max(1));
        let place = |at: usize| {
            let turn = match turns {
                Turns::Cutting => at,
                Turns::Backing => (PLACES - at) % PLACES,
            };
            let within = (turn as f64 / PLACES as f64 * lobes).fract() / lobes;
            law.rise.mm() * risen(law, Angle::from_turns(within))
        };
        let towards = (0..PLACES).map(place).collect();
        Self::from_least(towards, throw, Length::ZERO, false)
    }

    fn from_least(towards: Vec<f64>, throw: Length, scatter: Length, traced: bool) -> Self {
        let least = towards.iter().copied().fold(f64::INFINITY, f64::min);
        Self {
            towards: towards.into_iter().map(|height| height - least).collect(),
            throw,
            scatter,
            traced,
        }
    }

    /// How far it moves the tool in all.
    pub fn swing(&self) -> Length {
        Length::from_mm(self.towards.iter().copied().fold(0.0, f64::max))
    }

    /// Towards the wheel at this angle of the cam.
    pub fn at(&self, angle: Angle) -> Length {
        Length::from_mm(read_at(
            &self.towards,
            angle.in_turn().turns() * PLACES as f64,
        ))
    }

    /// The motion of the same cam in a fixture that turns the tool the other way.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let mut towards = self.towards.clone();
        if let Some(behind_first) = towards.get_mut(1..) {
            behind_first.reverse();
        }
        Self {
            towards,
            ..self.clone()
        }
    }
}

/// The motion without what scatters, and what still does: at each place the parabola through as many
/// neighbours as it passes within their scatter, so that a kink of the cam stays where it is. A wheel
/// would otherwise meet every reading that stands out, and leave a surface below all of them.
fn smoothed(towards: &[f64], scatter: f64) -> (Vec<f64>, f64) {
    /// Half-widths that are tried, in places of a quarter of a degree.
    const HALVES: [usize; 6] = [16, 12, 8, 5, 3, 2];
    /// By so much a parabola may miss more than scatter does: what 33 places by chance do once in a
    /// hundred (chi-square with 30 degrees of freedom, upper 1 %: 50.9, so 1.3 times).
    const MISS: f64 = 1.3;
    let turn = towards.len();
    let mut left = 0.0;
    let smooth = (0..turn).map(|at| {
        let near = |by: i64| {
            let there = (at as i64 + by).rem_euclid(turn as i64) as usize;
            towards.get(there).copied().unwrap_or(0.0)
        };
        for half in HALVES {
            let (height, miss) = parabola(half, near);
            if miss <= MISS * scatter.max(1e-6) {
                // The variance of the middle of a parabola through so many.
                left += 2.25 / (2 * half + 1) as f64;
                return height;
            }
        }
        left += 1.0;
        near(0)
    });
    let smooth: Vec<f64> = smooth.collect();
    (smooth, scatter * (left / turn.max(1) as f64).sqrt())
}

/// The parabola through the places from `-half` to `half`: its middle, and its root mean square miss.
fn parabola(half: usize, near: impl Fn(i64) -> f64) -> (f64, f64) {
    let span = -(half as i64)..=half as i64;
    let count = (2 * half + 1) as f64;
    let power = |n: i32| span.clone().map(|by| (by as f64).powi(n)).sum::<f64>();
    let (second, fourth) = (power(2), power(4));
    let sum = |n: i32| {
        span.clone()
            .map(|by| near(by) * (by as f64).powi(n))
            .sum::<f64>()
    };
    let (level, slope, bow) = (sum(0), sum(1), sum(2));
    let bent = (count * bow - second * level) / (count * fourth - second * second);
    let middle = (level - bent * second) / count;
    let steep = slope / second;
    let misses = span.map(|by| {
        let x = by as f64;
        near(by) - middle - steep * x - bent * x * x
    });
    let squares: f64 = misses.map(|miss| miss * miss).sum();
    (middle, (squares / (count - 3.0)).sqrt())
}

/// The share of its rise that a lobe has made at an angle behind its beginning.
fn risen(law: &CamLaw, at: Angle) -> f64 {
    let behind_rise = at - law.rise_arc;
    let behind_dwell = behind_rise - law.dwell_arc;
    if at < law.rise_arc {
        rise(law.law, at / law.rise_arc)
    } else if behind_rise <= law.dwell_arc {
        1.0
    } else if behind_dwell < law.return_arc {
        1.0 - rise(law.law, behind_dwell / law.return_arc)
    } else {
        0.0
    }
}

/// The laws of motion of a cam, for a rise of 1 over an arc of 1 (as every text on machine kinematics
/// has them; from memory).
fn rise(law: RiseLaw, at: f64) -> f64 {
    use std::f64::consts::{PI, TAU};
    match law {
        RiseLaw::Constant => at,
        RiseLaw::Harmonic => (1.0 - (PI * at).cos()) / 2.0,
        RiseLaw::Cycloidal => at - (TAU * at).sin() / TAU,
        RiseLaw::Parabolic if at < 0.5 => 2.0 * at * at,
        RiseLaw::Parabolic => 1.0 - 2.0 * (1.0 - at).powi(2),
    }
}

/// A table over the turn, read between its places.
pub(super) fn read_at(table: &[f64], place: f64) -> f64 {
    let count = table.len();
    if count == 0 {
        return 0.0;
    }
    let below = place.floor();
    let share = place - below;
    let at = (below as i64).rem_euclid(count as i64) as usize;
    let next = (at + 1) % count;
    match (table.get(at), table.get(next)) {
        (Some(at), Some(next)) => at + (next - at) * share,
        _ => 0.0,
    }
}

/// The height at a place from those read, by growing place over one turn.
fn between(read: &[(f64, f64)], place: f64) -> f64 {
    let (Some(first), Some(last)) = (read.first(), read.last()) else {
        return 0.0;
    };
    let turn = PLACES as f64;
    let at = read.partition_point(|(there, _)| *there <= place);
    let before = match at.checked_sub(1).and_then(|at| read.get(at)) {
        Some(before) => *before,
        None => (last.0 - turn, last.1),
    };
    let behind = match read.get(at) {
        Some(behind) => *behind,
        None => (first.0 + turn, first.1),
    };
    let wide = behind.0 - before.0;
    if wide <= 0.0 {
        return before.1;
    }
    before.1 + (behind.1 - before.1) * (place - before.0) / wide
}

#[cfg(test)]
mod tests {
    use super::*;

    fn law(law: RiseLaw) -> CamLaw {
        CamLaw {
            law,
            rise: Length::from_mm(0.6),
            rise_arc: Angle::from_deg(60.0),
            dwell_arc: Angle::from_deg(10.0),
            return_arc: Angle::from_deg(20.0),
            lobes: 4,
        }
    }

    #[test]
    fn each_law_rises_stands_and_goes_back_in_each_lobe() {
        for kind in [
            RiseLaw::Constant,
            RiseLaw::Harmonic,
            RiseLaw::Cycloidal,
            RiseLaw::Parabolic,
        ] {
            let motion = Motion::of_law(&law(kind), Length::from_mm(0.6), Turns::Cutting);
            for lobe in 0..4 {
                let at = |deg: f64| {
                    motion
                        .at(Angle::from_deg(90.0 * f64::from(lobe) + deg))
                        .mm()
                };
                assert!((at(30.0) - 0.3).abs() < 1e-9, "{kind:?} {}", at(30.0));
                assert!((at(65.0) - 0.6).abs() < 1e-9);
                assert!((at(80.0) - 0.3).abs() < 1e-9);
                assert!(at(0.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_mirrored_motion_is_that_of_the_law_turned_the_other_way() {
        let forth = Motion::of_law(
            &law(RiseLaw::Harmonic),
            Length::from_mm(0.6),
            Turns::Cutting,
        );
        let back = Motion::of_law(
            &law(RiseLaw::Harmonic),
            Length::from_mm(0.6),
            Turns::Backing,
        );
        let mirrored = forth.mirrored();
        for (one, other) in mirrored.towards.iter().zip(&back.towards) {
            assert!((one - other).abs() < 1e-12);
        }
    }

    #[test]
    fn a_hole_and_a_locked_fixture_are_no_motion() {
        let read = |deg: usize, height: f64| {
            let height = Estimate::new(Length::from_mm(height), Length::from_um(0.5));
            (Angle::from_deg(deg as f64 / 2.0), height)
        };
        let wave = |at: usize| 0.3 - 0.3 * (at as f64 / 2.0).to_radians().cos();
        let whole: Vec<_> = (0..720).map(|at| read(at, wave(at))).collect();
        let throw = Length::from_mm(1.0);
        let motion = Motion::traced(&whole, throw).ok();
        assert!(motion.is_some_and(|it| (it.swing().mm() - 0.6).abs() < 1e-4));
        let torn: Vec<_> = whole
            .iter()
            .copied()
            .filter(|(angle, _)| !(100.0..103.0).contains(&angle.deg()))
            .collect();
        assert!(matches!(
            Motion::traced(&torn, throw),
            Err(NoMotion::Hole { .. })
        ));
        let still: Vec<_> = (0..720).map(|at| read(at, 0.003)).collect();
        assert!(matches!(
            Motion::traced(&still, throw),
            Err(NoMotion::Still(_))
        ));
    }
}
