//! Least squares within places: what later visits of the same places show otherwise than earlier ones.

use nalgebra::{SMatrix, SVector};

/// Things that may move a visit's value beside its place.
pub(super) const CAUSES: usize = 3;
const UNKNOWNS: usize = CAUSES + 1;

/// More moments than this are not tried for a step: neighbours say the same.
const MOMENTS: usize = 80;

/// Visits must be more by this than what they are spent on (chosen, no source).
const FREE: f64 = 3.0;

/// A step is told where chance shows one so clear, at any moment of a trace, in one of so many good
/// traces.
const FALSE_ALARM: f64 = 1.0 / 500.0;

/// A place seen once.
#[derive(Clone, Copy, Debug)]
pub(super) struct Visit {
    pub place: usize,
    /// In seconds.
    pub time: f64,
    pub value: f64,
    /// About the variance of the value; its size is seen from all visits.
    pub variance: f64,
    pub causes: [f64; CAUSES],
}

/// What moves the values of all places together, with standard uncertainties.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moved {
    pub causes: [(f64, f64); CAUSES],
    pub step: Option<Step>,
}

/// From some moment on all values are others.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub time: f64,
    pub size: f64,
    pub uncertainty: f64,
}

/// Fits the causes, and the clearest step beside them. `usual` is how large each cause may be where
/// the visits do not tell. Nothing where too few places were visited twice.
pub(super) fn moved(mut visits: Vec<Visit>, places: usize, usual: [f64; CAUSES]) -> Option<Moved> {
    visits.sort_by(|a, b| a.time.total_cmp(&b.time));
    let mut seen = vec![0_u32; places];
    for visit in &visits {
        seen[visit.place] += 1;
    }
    visits.retain(|visit| seen[visit.place] > 1 && visit.value.is_finite());
    let distinct = seen.iter().filter(|seen| **seen > 1).count();
    let free = visits.len() as f64 - distinct as f64;
    if free < FREE + 1.0 {
        return None;
    }
    let rows = Rows::new(&visits, places, usual);
    let (causes, spent) = rows.solve(None)?;
    // A step is one number more.
    let free = free - spent - 1.0;
    if free < FREE {
        return None;
    }
    let bound = bound(free, visits.len().min(MOMENTS));
    let stride = visits.len().div_ceil(MOMENTS).max(1);
    let clearness = |at: usize| {
        let (fit, _) = rows.solve(Some(at))?;
        let (size, own) = (fit[CAUSES].0, fit[CAUSES].1);
        let clear = size.abs() / own;
        clear.is_finite().then_some((at, size, own, clear))
    };
    let clearest = (1..visits.len())
        .step_by(stride)
        .filter_map(clearness)
        .max_by(|a, b| a.3.total_cmp(&b.3));
    let step = clearest.filter(|(.., clear)| *clear > bound);
    let step = step.map(|(at, size, uncertainty, _)| Step {
        time: visits[at].time,
        size,
        uncertainty,
    });
    Some(Moved {
        causes: [causes[0], causes[1], causes[2]],
        step,
    })
}

/// The size in standard uncertainties that chance exceeds at one of some moments in one good trace of
/// many, where the scatter was seen with `free` degrees of freedom.
///
/// Of a normal variable no more than `exp(-z²/2)` lies beyond z to either side; the quantile of
/// Student's distribution is that of Gaver and Kafadar (The American Statistician 38, 1984, from
/// memory).
fn bound(free: f64, moments: usize) -> f64 {
    let z_squared = 2.0 * (moments.max(1) as f64 / FALSE_ALARM).ln();
    let share = (free - 1.5) / (free - 1.0).powi(2);
    (free * ((z_squared * share).exp() - 1.0)).sqrt()
}

/// Values and causes from their means in each place.
struct Rows<'v> {
    visits: &'v [Visit],
    values: Vec<f64>,
    causes: Vec<[f64; CAUSES]>,
    weights: Vec<f64>,
    /// All weights of each place.
    totals: Vec<f64>,
    usual: [f64; CAUSES],
    free: f64,
}

type Fit = [(f64, f64); UNKNOWNS];

impl<'v> Rows<'v> {
    fn new(visits: &'v [Visit], places: usize, usual: [f64; CAUSES]) -> Self {
        let weights: Vec<f64> = visits.iter().map(|v| 1.0 / v.variance.max(1e-18)).collect();
        let mut totals = vec![0.0; places];
        let mut values = vec![0.0; places];
        let mut causes = vec![[0.0; CAUSES]; places];
        for (visit, weight) in visits.iter().zip(&weights) {
            totals[visit.place] += weight;
            values[visit.place] += weight * visit.value;
            for (sum, cause) in causes[visit.place].iter_mut().zip(visit.causes) {
                *sum += weight * cause;
            }
        }
        let distinct = totals.iter().filter(|total| **total > 0.0).count();
        let about = |visit: &Visit| {
            let total = totals[visit.place];
            let of = causes[visit.place];
            let from_mean = std::array::from_fn(|i| visit.causes[i] - of[i] / total);
            (visit.value - values[visit.place] / total, from_mean)
        };
        let (values, causes) = visits.iter().map(about).unzip();
        Self {
            visits,
            values,
            causes,
            weights,
            totals,
            usual,
            free: visits.len() as f64 - distinct as f64,
        }
    }

    /// The causes, and a step before visit `at` where one is given, with standard uncertainties; and
    /// how many numbers the visits were spent on. A cause that is known beforehand, or moves all
    /// visits of a place alike, takes none.
    fn solve(&self, at: Option<usize>) -> Option<(Fit, f64)> {
        let mut after = vec![0.0; self.totals.len()];
        if let Some(at) = at {
            for (visit, weight) in self.visits[at..].iter().zip(&self.weights[at..]) {
                after[visit.place] += weight / self.totals[visit.place];
            }
        }
        let row = |i: usize| {
            let cause = self.causes[i];
            let step = at.map_or(0.0, |at| {
                f64::from(u8::from(i >= at)) - after[self.visits[i].place]
            });
            SVector::<f64, UNKNOWNS>::from([cause[0], cause[1], cause[2], step])
        };
        let mut normal = SMatrix::<f64, UNKNOWNS, UNKNOWNS>::zeros();
        let mut right = SVector::<f64, UNKNOWNS>::zeros();
        for (i, weight) in self.weights.iter().enumerate() {
            let row = row(i);
            normal += row * row.transpose() * *weight;
            right += row * (self.values[i] * weight);
        }
        for (i, usual) in self.usual.iter().enumerate() {
            normal[(i, i)] += usual.powi(-2);
        }
        if at.is_none() {
            normal[(CAUSES, CAUSES)] = 1.0;
        }
        let inverse = normal.try_inverse()?;
        let found = inverse * right;
        let squares: f64 = (0..self.values.len())
            .map(|i| self.weights[i] * (self.values[i] - row(i).dot(&found)).powi(2))
            .sum();
        let informed = self.usual.iter().enumerate();
        let informed = informed.map(|(i, usual)| 1.0 - inverse[(i, i)] / (usual * usual));
        let spent = informed.sum::<f64>() + f64::from(u8::from(at.is_some()));
        let left = squares / (self.free - spent).max(1.0);
        let own = |i: usize| (inverse[(i, i)] * left).max(0.0).sqrt();
        Some((std::array::from_fn(|i| (found[i], own(i))), spent))
    }
}
