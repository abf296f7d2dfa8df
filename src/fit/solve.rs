//! Nonlinear least squares within bounds, for families of curves and for published test problems.
//!
//! Levenberg and Marquardt's method: each step comes from a QR of the Jacobian stacked on the
//! damping, never from normal equations, and damping is scaled by the longest that each column has
//! been (J. J. Moré, *The Levenberg-Marquardt algorithm*, 1978). Damping follows the gain of the
//! last step (H. B. Nielsen, IMM-REP-1999-05). A parameter at a bound that the gradient presses
//! against is held for that step, and steps are cut at the bounds.
//!
//! It stands here, rather than the `levenberg-marquardt` crate, for two needs which that crate
//! does not meet: bounds with the name of the parameter that stuck (a transform hides which, and
//! makes a Jacobian of the wrong thing), and a model that may say "there is no such curve" for some
//! parameters. The crate is the second opinion in the tests.

use super::step::{Factored, Slope};
use crate::numeric::linear::column_norms;
use nalgebra::{DMatrix, DVector};

/// A problem to be solved: residuals that shall become small, and how they change.
pub trait Problem {
    /// How many residuals there are.
    fn residuals(&self) -> usize;

    /// How many parameters there are.
    fn parameters(&self) -> usize;

    /// Least and greatest value of a parameter.
    fn bounds(&self, _parameter: usize) -> (f64, f64) {
        (f64::NEG_INFINITY, f64::INFINITY)
    }

    /// Fills in the residuals, and in column `j` of the Jacobian their change with parameter `j`.
    ///
    /// Returns whether the model exists for these parameters; a step to where it does not is
    /// taken back.
    fn evaluate(
        &self,
        parameters: &DVector<f64>,
        residuals: &mut DVector<f64>,
        jacobian: &mut DMatrix<f64>,
    ) -> bool;
}

/// When to stop.
#[derive(Clone, Copy, Debug)]
pub struct SolveSettings {
    /// Relative change of the sum of squares, and of the parameters, that counts as none.
    pub tolerance: f64,
    /// Evaluations allowed.
    pub evaluations: usize,
    /// Whether to go on from there until the gradient is level to within rounding.
    pub polish: bool,
}

impl Default for SolveSettings {
    fn default() -> Self {
        Self {
            // MINPACK's own; a tighter one chases rounding and loses digits on Thurber.
            tolerance: 30.0 * f64::EPSILON,
            evaluations: 2000,
            polish: true,
        }
    }
}

/// How the solver stopped. Whether its answer can be trusted is another matter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// The sum of squares no longer falls.
    Settled,
    /// The parameters no longer move.
    Still,
    /// The residuals stand at right angles to every way the parameters could move.
    Level,
    /// The residuals vanished.
    Exact,
    /// No step in any direction makes it better, though the gradient asks for one.
    NoStepHelps,
    /// It took as many steps as were allowed.
    OutOfSteps,
    /// The model does not exist at the start.
    NoStart,
}

impl Stop {
    /// Whether it stopped because it had arrived.
    pub const fn arrived(self) -> bool {
        matches!(
            self,
            Stop::Settled | Stop::Still | Stop::Level | Stop::Exact
        )
    }

    /// In words, for records.
    pub const fn as_str(self) -> &'static str {
        match self {
            Stop::Settled => "the sum of squares no longer falls",
            Stop::Still => "the parameters no longer move",
            Stop::Level => "the gradient vanished",
            Stop::Exact => "the residuals vanished",
            Stop::NoStepHelps => "no step makes it better",
            Stop::OutOfSteps => "out of steps",
            Stop::NoStart => "the model does not exist at the start",
        }
    }
}

/// Where the solver ended.
#[derive(Clone, Debug)]
pub struct Solution {
    /// The best parameters seen.
    pub parameters: DVector<f64>,
    /// Residuals there.
    pub residuals: DVector<f64>,
    /// Jacobian there.
    pub jacobian: DMatrix<f64>,
    /// Why it ended.
    pub stop: Stop,
    /// How often the model was evaluated.
    pub evaluations: usize,
    /// Parameters that lie on a bound and are pressed against it.
    pub at_bound: Vec<usize>,
}

fn slope_at<P: Problem>(problem: &P, here: &Solution) -> Slope {
    let linear = (&here.residuals, &here.jacobian);
    Slope::at(|j| problem.bounds(j), &here.parameters, linear)
}

/// Damping of the first step, relative to the columns.
const FIRST_DAMPING: f64 = 1e-3;
/// Damping beyond which a step is smaller than rounding.
const MOST_DAMPING: f64 = 1e20;
/// Share of the promised gain that a step must bring to be kept.
const LEAST_GAIN: f64 = 1e-4;
/// Steps of polish, which end by themselves long before where residuals are small.
const MOST_POLISH: usize = 40;

/// Minimises the sum of squared residuals from `start`, which is moved inside the bounds first.
pub fn solve<P: Problem>(problem: &P, start: &DVector<f64>, settings: SolveSettings) -> Solution {
    let (rows, columns) = (problem.residuals(), problem.parameters());
    let clamp = |values: DVector<f64>| -> DVector<f64> {
        DVector::from_iterator(
            columns,
            values.iter().enumerate().map(|(j, value)| {
                let (least, greatest) = problem.bounds(j);
                // Not `clamp`, which would panic on bounds that cross.
                value.max(least).min(greatest)
            }),
        )
    };
    let mut here = Solution {
        parameters: clamp(start.clone()),
        residuals: DVector::zeros(rows),
        jacobian: DMatrix::zeros(rows, columns),
        stop: Stop::OutOfSteps,
        evaluations: 1,
        at_bound: Vec::new(),
    };
    if !evaluate(problem, &mut here) {
        here.stop = Stop::NoStart;
        return here;
    }
    let mut there = here.clone();
    let mut scales = column_norms(&here.jacobian);
    let (mut damping, mut growth) = (FIRST_DAMPING, 2.0);

    loop {
        let size = here.residuals.norm();
        if size <= f64::MIN_POSITIVE {
            here.stop = Stop::Exact;
            return here;
        }
        let slope = slope_at(problem, &here);
        scales = scales.sup(&column_norms(&here.jacobian));
        here.at_bound.clone_from(&slope.pressed);
        if slope.steepest(&scales, size) <= f64::EPSILON {
            here.stop = Stop::Level;
            return here;
        }
        let factored = Factored::of(&here.residuals, &here.jacobian, &slope.free);
        // Shorter steps are tried until one helps.
        loop {
            if here.evaluations >= settings.evaluations {
                here.stop = Stop::OutOfSteps;
                return here;
            }
            let step = factored.step(&slope.free, &scales, damping);
            there.parameters = clamp(&here.parameters + step);
            // Differences, so that what was cut at a bound or lost to rounding is not promised.
            let moved = &there.parameters - &here.parameters;
            let bent = (&here.jacobian * &moved).norm_squared();
            let promised = -2.0 * slope.gradient.dot(&moved) - bent;
            let still = moved.component_mul(&scales).norm()
                <= settings.tolerance * here.parameters.component_mul(&scales).norm();
            here.evaluations += 1;
            let exists = evaluate(problem, &mut there);
            let after = there.residuals.norm();
            let gained = (size - after) * (size + after);
            let gain = if exists && promised > 0.0 {
                gained / promised
            } else {
                f64::NEG_INFINITY
            };
            let helps = gain > LEAST_GAIN;
            if helps {
                here.move_to(&mut there);
                damping *= (1.0 - (2.0 * gain - 1.0).powi(3)).max(1.0 / 3.0);
                growth = 2.0;
            } else {
                damping *= growth;
                growth *= 2.0;
            }
            let flat = settings.tolerance * size * size;
            let settled = exists && promised.abs() <= flat && gained.abs() <= flat;
            if settled || still {
                here.stop = if settled { Stop::Settled } else { Stop::Still };
                let steps = if settings.polish { MOST_POLISH } else { 0 };
                polish(problem, &mut here, &mut there, clamp, steps);
                return here;
            }
            if helps {
                break;
            }
            if damping > MOST_DAMPING {
                here.stop = Stop::NoStepHelps;
                return here;
            }
        }
    }
}

/// Undamped steps at the end, kept while they level the gradient.
///
/// A sum of squares tells parameters apart only to the square root of rounding; the gradient tells
/// them apart to rounding itself. Sensitivities taken from small changes of the data need that.
fn polish<P: Problem>(
    problem: &P,
    here: &mut Solution,
    there: &mut Solution,
    clamp: impl Fn(DVector<f64>) -> DVector<f64>,
    steps: usize,
) {
    let size = here.residuals.norm();
    // Columns as they are here: those on the way may have been longer, and would hide a slope.
    let scales = &column_norms(&here.jacobian);
    let mut slope = slope_at(problem, here);
    for _ in 0..steps {
        let steepest = slope.steepest(scales, size);
        if steepest <= f64::EPSILON || size <= f64::MIN_POSITIVE {
            break;
        }
        let step = Factored::of(&here.residuals, &here.jacobian, &slope.free).step(
            &slope.free,
            scales,
            0.0,
        );
        there.parameters = clamp(&here.parameters + step);
        here.evaluations += 1;
        if !evaluate(problem, there) || there.residuals.norm() > size * (1.0 + 1e-12) {
            break;
        }
        let next = slope_at(problem, there);
        if next.steepest(scales, size) > 0.8 * steepest {
            break;
        }
        here.move_to(there);
        slope = next;
    }
    here.at_bound = slope.pressed;
}

impl Solution {
    /// Takes over a place, leaving the old one to be written over.
    fn move_to(&mut self, there: &mut Solution) {
        std::mem::swap(&mut self.parameters, &mut there.parameters);
        std::mem::swap(&mut self.residuals, &mut there.residuals);
        std::mem::swap(&mut self.jacobian, &mut there.jacobian);
    }
}

fn evaluate<P: Problem>(problem: &P, at: &mut Solution) -> bool {
    problem.evaluate(&at.parameters, &mut at.residuals, &mut at.jacobian)
        && at.residuals.iter().all(|value| value.is_finite())
        && at.jacobian.iter().all(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// A straight line `a + b x` through points, with bounds on `b`; it exists for `a` below 10.
    struct Line {
        points: Vec<(f64, f64)>,
        slope: (f64, f64),
    }

    impl Problem for Line {
        fn residuals(&self) -> usize {
            self.points.len()
        }

        fn parameters(&self) -> usize {
            2
        }

        fn bounds(&self, parameter: usize) -> (f64, f64) {
            if parameter == 1 {
                self.slope
            } else {
                (f64::NEG_INFINITY, f64::INFINITY)
            }
        }

        fn evaluate(
            &self,
            at: &DVector<f64>,
            residuals: &mut DVector<f64>,
            jacobian: &mut DMatrix<f64>,
        ) -> bool {
            for (i, (x, y)) in self.points.iter().enumerate() {
                residuals[i] = at[0] + at[1] * x - y;
                jacobian[(i, 0)] = 1.0;
                jacobian[(i, 1)] = *x;
            }
            at[0] < 10.0
        }
    }

    fn line(slope: (f64, f64)) -> Line {
        Line {
            points: vec![(0.0, 1.0), (1.0, 3.1), (2.0, 4.9), (3.0, 7.0)],
            slope,
        }
    }

    #[track_caller]
    fn check(slope: (f64, f64), expected: [f64; 2], at_bound: &[usize]) {
        for start in [[0.0, 0.0], [5.0, 1.0], [-300.0, 40.0]] {
            let found = solve(
                &line(slope),
                &DVector::from_row_slice(&start),
                SolveSettings::default(),
            );
            assert!(found.stop.arrived(), "{:?}", found.stop);
            assert_eq!(found.at_bound, at_bound);
            for (value, expected) in found.parameters.iter().zip(expected) {
                assert!(
                    (value - expected).abs() < 1e-10,
                    "{value} is not {expected}"
                );
            }
        }
    }

    #[test]
    fn bounds_hold_and_the_rest_is_best_within_them() {
        // Normal equations by hand: free 1.03 + 1.98 x; with the slope held, the mean decides.
        check((-100.0, 100.0), [1.03, 1.98], &[]);
        check((-100.0, 1.5), [1.75, 1.5], &[1]);
        check((3.0, 100.0), [-0.5, 3.0], &[1]);
        check((2.0, 2.0), [1.0, 2.0], &[1]);
    }

    #[test]
    fn a_start_where_there_is_no_model_is_said() {
        let start = DVector::from_row_slice(&[11.0, 0.0]);
        let found = solve(&line((-9.0, 9.0)), &start, SolveSettings::default());
        assert_eq!(found.stop, Stop::NoStart);
        assert!(!found.stop.arrived());
    }

    #[test]
    fn steps_into_nowhere_are_taken_back() {
        let mut far = line((-100.0, 100.0));
        far.points.iter_mut().for_each(|(_, y)| *y += 20.0);
        let start = DVector::zeros(2);
        let found = solve(&far, &start, SolveSettings::default());
        assert!(found.parameters[0] < 10.0 && found.parameters[0] > 9.0);
        assert!(!found.stop.arrived() || found.parameters[0] > 9.99);
    }

    #[test]
    fn running_out_of_steps_is_said() {
        let few = SolveSettings {
            evaluations: 2,
            ..SolveSettings::default()
        };
        let start = DVector::from_row_slice(&[-300.0, 40.0]);
        assert_eq!(
            solve(&line((-9.0, 9.0)), &start, few).stop,
            Stop::OutOfSteps
        );
    }

    #[test]
    fn exact_points_end_without_residuals() {
        let exact = Line {
            points: vec![(0.0, 1.0), (1.0, 2.0), (2.0, 3.0)],
            slope: (-9.0, 9.0),
        };
        let found = solve(&exact, &DVector::zeros(2), SolveSettings::default());
        assert!(found.stop.arrived());
        assert!(found.residuals.norm() < 1e-12);
    }
}
