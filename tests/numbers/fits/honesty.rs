//! What a fit reports of its uncertainty is what repeats scatter.

use super::lands::*;
use heelclear::card::Surface;
use heelclear::fit::{Curve, Family, FitSettings, Law, fit};
use heelclear::quantity::{Angle, Length};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

/// Scatter of a figure over repeats beside what was reported of it.
struct Repeats {
    values: Vec<f64>,
    reported: Vec<f64>,
}

impl Repeats {
    fn new() -> Self {
        Self {
            values: Vec::new(),
            reported: Vec::new(),
        }
    }

    fn add(&mut self, value: f64, reported: f64) {
        self.values.push(value);
        self.reported.push(reported);
    }

    /// Reported standard uncertainty over the standard deviation found.
    fn ratio(&self) -> f64 {
        let n = self.values.len() as f64;
        let mean = self.values.iter().sum::<f64>() / n;
        let variance = self
            .values
            .iter()
            .map(|value| (value - mean).powi(2))
            .sum::<f64>()
            / (n - 1.0);
        let reported = self.reported.iter().map(|u| u * u).sum::<f64>() / n;
        (reported / variance).sqrt()
    }
}

/// Reported over real uncertainty of relief angle and of drop a third of the way, over repeats.
fn honesty(
    truth: &Curve,
    end: Angle,
    count: usize,
    edge: bool,
    correlation: f64,
    stated: Length,
    seed: u64,
) -> [f64; 2] {
    const REPEATS: usize = 200;
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let check = end / 3.0;
    let (mut relief, mut drop) = (Repeats::new(), Repeats::new());
    let mut far = 0;
    for _ in 0..REPEATS {
        let sigma = um(1.0);
        let errors = noise(count + 1, sigma, correlation, &mut random);
        let mut land = Sampled::of(truth, end, count, stated).with(&errors);
        land.edge = None;
        if edge {
            // An error of the edge's height adds to every drop.
            land.edge = Some(sigma);
            let zero = noise(1, sigma, 0.0, &mut random)[0];
            land.points.iter_mut().for_each(|point| point.drop += zero);
        }
        let found = fit_as(truth, &land.land()).unwrap();
        let (angle, depth) = (found.relief_behind_margin(), found.drop(check));
        relief.add(angle.value.deg(), angle.standard_uncertainty.deg());
        drop.add(depth.value.um(), depth.standard_uncertainty.um());
        far += usize::from(
            (angle.value - truth.relief_behind_margin()).abs() > angle.standard_uncertainty * 4.0,
        );
        far +=
            usize::from((depth.value - truth.drop(check)).abs() > depth.standard_uncertainty * 4.0);
    }
    // Of the 400 figures of each of a dozen such runs, one may lie so far out by chance.
    let allowed = if correlation > 0.0 { 4 } else { 1 };
    assert!(far <= allowed, "{far} of {REPEATS} beyond four sigma");
    [relief.ratio(), drop.ratio()]
}

/// One curve of every kind: repeats take their time.
fn kinds() -> Vec<(Curve, Angle)> {
    let all = examples(Surface::Radial);
    [0, 2, 5, 7, 8, 11, 14, 15, 16, 18].map(|i| all[i]).to_vec()
}

#[test]
fn what_is_reported_is_what_repeats_scatter() {
    for (seed, (truth, end)) in kinds().into_iter().enumerate() {
        for edge in [false, true] {
            for ratio in honesty(&truth, end, 150, edge, 0.0, um(1.0), seed as u64) {
                assert!(
                    (0.8..1.2).contains(&ratio),
                    "{truth:?}: reported is {ratio:.2} of the scatter"
                );
            }
        }
    }
}

#[test]
fn scatter_larger_than_stated_is_reported() {
    let truth = Curve::arc(Surface::Radial, RADIUS, deg(6.0), 0.9);
    for ratio in honesty(&truth, deg(40.0), 150, false, 0.0, um(0.1), 77) {
        assert!(
            (0.8..1.2).contains(&ratio),
            "reported is {ratio:.2} of the scatter"
        );
    }
}

#[test]
fn errors_that_go_together_are_not_taken_for_independent() {
    for (seed, (truth, end)) in kinds().into_iter().enumerate() {
        for correlation in [0.5, 0.8] {
            for ratio in honesty(
                &truth,
                end,
                250,
                false,
                correlation,
                um(1.0),
                100 + seed as u64,
            ) {
                assert!(
                    (0.9..2.0).contains(&ratio),
                    "{truth:?}: reported is {ratio:.2} of the scatter"
                );
            }
        }
    }
}

#[test]
fn chips_on_one_side_do_not_move_a_curve() {
    let mut random = Pcg64Mcg::seed_from_u64(3);
    for (truth, end) in examples(Surface::Radial) {
        let errors = noise(250, um(1.0), 0.0, &mut random);
        let clean = Sampled::of(&truth, end, 250, um(1.0)).with(&errors);
        let mut chipped = Sampled::of(&truth, end, 250, um(1.0)).with(&errors);
        for point in chipped.points.iter_mut().skip(7).step_by(25) {
            point.drop -= um(80.0);
        }
        let clean = fit_as(&truth, &clean.land()).unwrap();
        let found = fit_as(&truth, &chipped.land()).unwrap();
        let u = clean.relief_behind_margin().standard_uncertainty;
        let moved = found.relief_behind_margin().value - clean.relief_behind_margin().value;
        assert!(
            moved.abs() < u,
            "{truth:?} moved by {} of {}",
            moved.deg(),
            u.deg()
        );
        assert!(
            (0.035..0.06).contains(&found.outlying),
            "{}",
            found.outlying
        );
        assert!(found.relief_behind_margin().standard_uncertainty < u * 1.3);
        assert_eq!(found.trust.doubts, []);
    }
}

#[test]
fn more_stated_uncertainty_never_makes_surer() {
    let mut random = Pcg64Mcg::seed_from_u64(9);
    for (truth, end) in examples(Surface::Radial) {
        let errors = noise(120, um(1.0), 0.3, &mut random);
        let mut before = (Angle::ZERO, Length::ZERO);
        for stated in [0.0, 0.01, 0.3, 0.7, 1.0, 1.5, 4.0, 20.0] {
            let mut land = Sampled::of(&truth, end, 120, um(stated)).with(&errors);
            land.edge = Some(um(stated.max(0.5)));
            let found = fit_as(&truth, &land.land()).unwrap();
            let now = (
                found.relief_behind_margin().standard_uncertainty,
                found.drop(end / 3.0).standard_uncertainty,
            );
            // Weights of points stop moving within a hundredth, which leaves this much play.
            assert!(
                now.0 >= before.0 * 0.98 && now.1 >= before.1 * 0.98,
                "{truth:?} at {stated}"
            );
            before = now;
        }
    }
}

#[test]
fn a_cam_that_starts_to_fall_at_its_edge_is_not_sure_of_its_relief() {
    let truth = cam(Surface::Radial, Law::Cycloidal, 0.0, deg(60.0));
    let mut random = Pcg64Mcg::seed_from_u64(41);
    let land =
        Sampled::of(&truth, deg(60.0), 200, um(1.0)).with(&noise(200, um(1.0), 0.0, &mut random));
    let found = fit(&land.land(), Family::Cam, &FitSettings::default()).unwrap();
    let relief = found.relief_angle();
    assert!(
        relief.value.abs() < relief.standard_uncertainty * 4.0 + deg(0.1),
        "{relief:?}"
    );
    assert!(relief.standard_uncertainty > deg(1e-4), "{relief:?}");
    assert_eq!(found.trust.doubts, []);
}
