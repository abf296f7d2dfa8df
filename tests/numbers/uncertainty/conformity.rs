//! JCGM 106:2012: probability of conformity, guard bands, risks. Published figures, and which of
//! them are from memory, in `tests/reference/jcgm106_examples.csv`.

use super::printed;
use crate::distribution::Distribution;
use heelclear::card::Limit;
use heelclear::judge::{
    Guard, Outcome, Random, Tolerance, Trials, conformity_probability, decide_guarded,
    guard_factor, propagate,
};
use heelclear::numeric::quantile;
use rand::Rng;

const fn at_most(max: f64) -> Limit {
    Limit {
        min: None,
        max: Some(max),
    }
}

const fn at_least(min: f64) -> Limit {
    Limit {
        min: Some(min),
        max: None,
    }
}

fn decide(value: f64, u: f64, limit: Limit, factor: f64) -> Outcome {
    decide_guarded(value, Guard::symmetric(factor * u), limit)
}

#[test]
fn the_guard_bands_are_those_of_table_1() {
    // Table 1, from memory; the normal quantile by definition.
    for (confidence, factor) in [
        (0.80, 0.841_62),
        (0.90, 1.281_55),
        (0.95, 1.644_85),
        (0.99, 2.326_35),
        (0.999, 3.090_23),
    ] {
        printed(guard_factor(confidence).unwrap(), factor, 0.000_005);
    }
    // Student's distribution on 4 degrees of freedom and 1 % risk: 3.75.
    printed(quantile::student_t(0.99, 4.0).unwrap(), 3.75, 0.005);
}

#[test]
fn a_value_beyond_a_limit_conforms_with_the_published_probability() {
    // From memory: burst strength 509.7 kPa, u = 8.6 kPa, at least 490 kPa: 0.99.
    let burst = conformity_probability(509.7, 8.6, at_least(490.0)).unwrap();
    printed(burst, 0.99, 0.005);
    printed(burst, 0.989_01, 0.000_005);
    assert_eq!(
        decide(509.7, 8.6, at_least(490.0), guard_factor(0.95).unwrap()),
        Outcome::Pass
    );
    // At 99 % a pass is not proven, by a tenth of a per cent.
    let strict = guard_factor(0.99).unwrap();
    assert_eq!(
        decide(509.7, 8.6, at_least(490.0), strict),
        Outcome::Undecided
    );
    // Inputs from memory: 5.47 V, u = 0.05 V, at least 5.40 V: 0.92, short of 95 %.
    let diode = conformity_probability(5.47, 0.05, at_least(5.40)).unwrap();
    printed(diode, 0.92, 0.005);
    assert_eq!(
        decide(5.47, 0.05, at_least(5.40), guard_factor(0.95).unwrap()),
        Outcome::Undecided
    );
}

#[test]
fn a_decision_turns_exactly_where_the_probability_is_reached() {
    let factor = guard_factor(0.95).unwrap();
    for value in [1.9, 1.95, 1.958, 1.9590, 1.97, 2.0, 2.03, 2.0411, 2.05] {
        let inside = conformity_probability(value, 0.025, at_most(2.0)).unwrap();
        let expected = if inside >= 0.95 {
            Outcome::Pass
        } else if inside <= 0.05 {
            Outcome::Fail
        } else {
            Outcome::Undecided
        };
        assert_eq!(
            decide(value, 0.025, at_most(2.0), factor),
            expected,
            "{value}"
        );
    }
    assert_eq!(conformity_probability(1.0, 0.0, at_most(2.0)), None);
    assert_eq!(conformity_probability(f64::NAN, 0.1, at_most(2.0)), None);
}

/// Shares of all parts whose value `truth` draws and an instrument with normal errors of `u` reads:
/// bad, bad and passed, good and not passed.
fn risks(truth: impl Fn(&mut Random) -> f64 + Sync, u: f64, limit: Limit, guard: f64) -> [f64; 3] {
    let error = Distribution::normal(0.0, u).unwrap();
    let trials = Trials {
        seed: 106,
        most: 4_000_000,
        ..Trials::default()
    };
    let trial = |(): &mut (), random: &mut Random, out: &mut [f64]| {
        let truth = truth(random);
        let reading = truth + error.draw(random);
        let passed = decide(reading, u, limit, guard) == Outcome::Pass;
        let bad = decide(truth, 0.0, limit, guard) != Outcome::Pass;
        let share = |yes: bool| f64::from(u8::from(yes));
        out.copy_from_slice(&[share(bad), share(bad && passed), share(!bad && !passed)]);
    };
    let result = propagate(&[Tolerance::Absolute(0.0); 3], trials, || (), trial);
    let mean = |at: usize| result.quantities[at].as_ref().unwrap().mean();
    [mean(0), mean(1), mean(2)]
}

#[test]
fn ball_bearings_are_passed_with_the_published_risks() {
    // 9.5.4: the error has a gamma distribution of shape 4 and mean 1 µm, the limit is 2 µm, the
    // instrument's u 0.25 µm. A gamma variable of shape 4 is the sum of four exponential ones.
    let truth = |random: &mut Random| {
        let exponential = |_| -(1.0 - random.random::<f64>()).ln() / 4.0;
        (0..4).map(exponential).sum()
    };
    let bearings = |guard| risks(truth, 0.25, at_most(2.0), guard);
    // Published 0.042 and 0.008; computed 0.04238, 0.00802 and 0.01744. The trials scatter by 1e-4.
    let [bad, wrongly_passed, wrongly_refused] = bearings(0.0);
    printed(bad, 0.042_38, 0.000_3);
    printed(wrongly_passed, 0.008_019, 0.000_15);
    printed(wrongly_refused, 0.017_445, 0.000_2);
    // An acceptance limit of 1.672 µm, a guard band of 1.313 u, brings the risk to 0.001.
    let [_, wrongly_passed, wrongly_refused] = bearings(0.328_171_2 / 0.25);
    printed(wrongly_passed, 0.001, 0.000_06);
    printed(wrongly_refused, 0.075_494, 0.000_4);
}

#[test]
fn a_normal_process_within_two_limits_has_the_computed_risks() {
    // Inputs from memory, risks computed by integration: u0 = 0.12, u = 0.04, limits ± 0.2.
    let process = Distribution::normal(0.0, 0.12).unwrap();
    let limit = Limit {
        min: Some(-0.2),
        max: Some(0.2),
    };
    let truth = |random: &mut Random| process.draw(random);
    let [bad, wrongly_passed, wrongly_refused] = risks(truth, 0.04, limit, 0.0);
    printed(1.0 - bad, 0.904_419, 0.000_4);
    printed(wrongly_passed, 0.018_942, 0.000_2);
    printed(wrongly_refused, 0.037_208, 0.000_25);
    let alone = conformity_probability(0.0, 0.12, limit).unwrap();
    printed(alone, 0.904_419, 0.000_000_5);
}
