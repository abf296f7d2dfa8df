//! Propagation of distributions: the whole model, many times, with inputs drawn anew.
//!
//! Trials are made in blocks. Each block has random numbers of its own, which follow from the seed
//! and the block's number alone, so that the result does not depend on how many threads work.

use super::draw::Random;
use super::draws::{Draws, symmetric_ends};
use crate::numeric::moments;
use rand::SeedableRng;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// How many trials to make.
#[derive(Clone, Copy, Debug)]
pub struct Trials<'w> {
    /// Where the random numbers start; kept with the result, it can be had again.
    pub seed: u64,
    /// Trials between two looks at how much the result still moves.
    pub block: usize,
    /// No fewer than these; rounded up to whole blocks, and to two of them.
    pub fewest: usize,
    /// Where to stop although it still moves; rounded up to whole blocks.
    pub most: usize,
    /// The share of values that an interval holds.
    pub coverage: f64,
    /// Who wants to know how far they are.
    pub watch: Option<&'w Watch>,
}

/// How far trials are, for one who waits for them on another thread.
#[derive(Debug, Default)]
pub struct Watch {
    made: AtomicUsize,
    most: AtomicUsize,
}

impl Watch {
    /// Trials made, and how many will be at the most.
    pub fn seen(&self) -> (usize, usize) {
        let seen = |number: &AtomicUsize| number.load(Ordering::Relaxed);
        (seen(&self.made), seen(&self.most))
    }

    fn tell(&self, made: usize, most: usize) {
        self.made.store(made, Ordering::Relaxed);
        self.most.store(most, Ordering::Relaxed);
    }
}

impl Default for Trials<'_> {
    /// Blocks of 10,000 for intervals of 95 % (JCGM 101, 7.9.4 b).
    fn default() -> Self {
        Self {
            seed: 1,
            block: 10_000,
            fewest: 0,
            most: 1_000_000,
            coverage: 0.95,
            watch: None,
        }
    }
}

/// How much the mean, the standard uncertainty and both ends of the interval of one quantity may
/// still move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// A share of its standard uncertainty.
    Share(f64),
    /// In the unit of the quantity.
    Absolute(f64),
    /// As much as it likes: it decides nothing.
    Any,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Propagated {
    /// One a quantity; `None` where it could hardly ever be had.
    pub quantities: Vec<Option<Draws>>,
    /// How many trials were made.
    pub trials: usize,
    /// Whether every quantity moved less than its tolerance at the end.
    pub settled: bool,
    /// Which of them still moved.
    pub moving: Vec<bool>,
}

/// Makes trials until every quantity is known to its tolerance (JCGM 101, 7.9.4).
///
/// There are as many quantities as tolerances. A trial fills one value a quantity into its last
/// argument, NaN where one cannot be had; it may use the room that `room` makes once a block, so
/// that no trial allocates.
///
/// ```
/// # let example = || {
/// use heelclear::judge::{Tolerance, Trials, propagate, unit_normal};
/// let square = |_: &mut (), random: &mut _, out: &mut [f64]| {
///     out[0] = (3.0 + 0.1 * unit_normal(random)).powi(2);
/// };
/// let result = propagate(&[Tolerance::Share(0.05)], Trials::default(), || (), square);
/// let area = result.quantities[0].as_ref()?;
/// assert!((area.mean() - 9.01).abs() < 0.02);
/// assert!((area.standard_uncertainty() - 0.6).abs() < 0.02);
/// # Some(())
/// # };
/// # example().unwrap();
/// ```
pub fn propagate<R>(
    tolerances: &[Tolerance],
    trials: Trials,
    room: impl Fn() -> R + Sync,
    trial: impl Fn(&mut R, &mut Random, &mut [f64]) + Sync,
) -> Propagated {
    let size = trials.block.max(2);
    let most = trials.most.div_ceil(size).max(1);
    let fewest = trials.fewest.div_ceil(size).max(2);
    let mut blocks: Vec<Block> = Vec::new();
    let mut used = None;
    while used.is_none() && blocks.len() < most {
        // As many blocks at once as there are threads. Those behind the one at which the result
        // has settled are thrown away, so that their number does not matter.
        let first = blocks.len();
        let last = (first + rayon::current_num_threads().max(2)).min(most);
        let made: Vec<Block> = (first..last)
            .into_par_iter()
            .map(|number| {
                let mut random = random_of_block(trials.seed, number as u64);
                let mut room = room();
                Block::make(size, tolerances.len(), trials.coverage, |out| {
                    trial(&mut room, &mut random, out);
                })
            })
            .collect();
        blocks.extend(made);
        if let Some(watch) = trials.watch {
            watch.tell(size * blocks.len(), size * most);
        }
        used = (first + 1..=blocks.len())
            .filter(|&count| count >= fewest)
            .find(|&count| has_settled(&blocks[..count], tolerances));
    }
    blocks.truncate(used.unwrap_or(blocks.len()));
    let moves = |(quantity, tolerance): (usize, &Tolerance)| moves(&blocks, quantity, *tolerance);
    let moving: Vec<bool> = tolerances.iter().enumerate().map(moves).collect();
    let quantities = (0..tolerances.len())
        .into_par_iter()
        .map(|quantity| {
            let values = blocks.iter().flat_map(|block| &block.values[quantity]);
            Draws::new(values.copied().collect())
        })
        .collect();
    Propagated {
        quantities,
        trials: size * blocks.len(),
        settled: used.is_some(),
        moving,
    }
}

/// Whether a first-order interval stands beside the one of many trials: neither end differs by
/// more than the tolerance (JCGM 101, 8.1.3).
pub fn first_order_holds(first_order: [f64; 2], propagated: [f64; 2], tolerance: f64) -> bool {
    let off = |end: usize| (first_order[end] - propagated[end]).abs();
    off(0) <= tolerance && off(1) <= tolerance
}

/// One block of trials.
struct Block {
    /// By quantity, in no order.
    values: Vec<Vec<f64>>,
    figures: Vec<Option<Figures>>,
}

/// What is compared between blocks: mean, standard uncertainty, both ends of the interval.
type Figures = [f64; 4];

impl Block {
    fn make(
        size: usize,
        quantities: usize,
        coverage: f64,
        mut fill: impl FnMut(&mut [f64]),
    ) -> Self {
        let mut values: Vec<Vec<f64>> = (0..quantities).map(|_| Vec::with_capacity(size)).collect();
        let mut row = vec![f64::NAN; quantities];
        for _ in 0..size {
            row.fill(f64::NAN);
            fill(&mut row);
            for (column, value) in values.iter_mut().zip(&row) {
                column.push(*value);
            }
        }
        let figures = values
            .iter_mut()
            .map(|column| figures(column, coverage))
            .collect();
        Self { values, figures }
    }
}

/// Reorders the values.
fn figures(values: &mut [f64], coverage: f64) -> Option<Figures> {
    // What could not be had goes to the end.
    values.sort_unstable_by_key(|value| !value.is_finite());
    let count = values.partition_point(|value| value.is_finite());
    let known = &mut values[..count];
    let (mean, deviation) = (moments::mean(known)?, moments::standard_deviation(known)?);
    let (low, high) = symmetric_ends(count, coverage);
    let (_, &mut low_end, above) = known.select_nth_unstable_by(low, f64::total_cmp);
    let high_end = match (high - low).checked_sub(1) {
        Some(further) => *above.select_nth_unstable_by(further, f64::total_cmp).1,
        None => low_end,
    };
    Some([mean, deviation, low_end, high_end])
}

fn has_settled(blocks: &[Block], tolerances: &[Tolerance]) -> bool {
    let mut quantities = tolerances.iter().enumerate();
    quantities.all(|(quantity, tolerance)| !moves(blocks, quantity, *tolerance))
}

/// Whether a quantity still moves by more than its tolerance.
fn moves(blocks: &[Block], quantity: usize, tolerance: Tolerance) -> bool {
    if tolerance == Tolerance::Any {
        return false;
    }
    let figures: Option<Vec<Figures>> =
        blocks.iter().map(|block| block.figures[quantity]).collect();
    !figures.is_some_and(|figures| moves_less(&figures, tolerance))
}

/// Whether twice the standard uncertainty of each figure's mean over the blocks stays within the
/// tolerance (JCGM 101, 7.9.4 h to k).
fn moves_less(blocks: &[Figures], tolerance: Tolerance) -> bool {
    let over_blocks = |figure: usize| blocks.iter().map(move |figures| figures[figure]);
    let count = blocks.len() as f64;
    let scatter = over_blocks(1).sum::<f64>() / count;
    let allowed = match tolerance {
        Tolerance::Share(share) => share * scatter,
        Tolerance::Absolute(allowed) => allowed,
        Tolerance::Any => return true,
    };
    (0..4).all(|figure| {
        let values: Vec<f64> = over_blocks(figure).collect();
        let deviation = moments::standard_deviation(&values);
        deviation.is_some_and(|deviation| 2.0 * deviation / count.sqrt() <= allowed)
    })
}

/// The random numbers of one block. Its number is stirred into the seed by the finaliser of
/// SplitMix64 (Steele, Lea, Flood: Fast splittable pseudorandom number generators, 2014), so that
/// neighbouring blocks start far apart.
fn random_of_block(seed: u64, number: u64) -> Random {
    let mut mixed = seed.wrapping_add((number + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    Random::seed_from_u64(mixed ^ (mixed >> 31))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::unit_normal;
    use super::*;

    fn sum_of_squares(most: usize, tolerance: Tolerance) -> Propagated {
        let trials = Trials {
            most,
            block: 500,
            ..Trials::default()
        };
        propagate(
            &[tolerance, Tolerance::Any],
            trials,
            || (),
            |(), random, out| {
                let value = unit_normal(random);
                out[0] = value;
                out[1] = if value > 0.0 { value.ln() } else { f64::NAN };
            },
        )
    }

    #[test]
    fn the_same_seed_gives_the_same_result_on_any_number_of_threads() {
        let on = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .unwrap();
            pool.install(|| sum_of_squares(100_000, Tolerance::Share(0.03)))
        };
        let alone = on(1);
        assert!(alone.settled && alone.trials < 100_000);
        for threads in [2, 3, 7] {
            assert_eq!(on(threads), alone);
        }
    }

    #[test]
    fn a_result_that_still_moves_at_the_end_says_so() {
        let short = sum_of_squares(1000, Tolerance::Share(1e-6));
        assert!(!short.settled);
        assert_eq!(short.trials, 1000);
    }

    #[test]
    fn a_quantity_that_cannot_always_be_had_keeps_count() {
        let half = sum_of_squares(1000, Tolerance::Share(0.2));
        let failed = half.quantities[1].as_ref().unwrap().failed();
        assert!(failed > half.trials * 4 / 10 && failed < half.trials * 6 / 10);
    }
}
