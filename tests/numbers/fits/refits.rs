//! A refit answers small changes of the land in proportion.

use super::lands::*;
use heelclear::card::Surface;
use heelclear::fit::{Curve, Family, FitSettings, fit, refit};
use heelclear::quantity::Length;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

#[test]
fn the_same_land_refitted_gives_the_same_curve() {
    let mut random = Pcg64Mcg::seed_from_u64(31);
    for (truth, end) in examples(Surface::Radial) {
        let errors = noise(200, um(1.0), 0.3, &mut random);
        let land = Sampled::of(&truth, end, 200, um(1.0)).with(&errors);
        let first = fit_as(&truth, &land.land()).unwrap();
        let again = refit(&land.land(), &first).unwrap();
        same_figures(&again, &first.curve, 1e-9);
        assert!(
            (again.relief_behind_margin().standard_uncertainty
                / first.relief_behind_margin().standard_uncertainty
                - 1.0)
                .abs()
                < 0.2
        );
    }
}

#[test]
fn small_changes_of_the_land_change_the_curve_in_proportion() {
    let mut random = Pcg64Mcg::seed_from_u64(32);
    for (truth, end) in examples(Surface::Radial) {
        let errors = noise(200, um(1.0), 0.0, &mut random);
        let wave = noise(200, um(1.0), 0.9, &mut random);
        let land = Sampled::of(&truth, end, 200, um(1.0)).with(&errors);
        let first = fit_as(&truth, &land.land()).unwrap();
        let moved = |size: f64| {
            let scaled: Vec<Length> = wave.iter().map(|change| *change * size).collect();
            let changed = Sampled::of(&truth, end, 200, um(1.0))
                .with(&errors)
                .with(&scaled);
            refit(&changed.land(), &first)
                .unwrap()
                .curve
                .relief_behind_margin()
                .deg()
        };
        let (coarse, fine) = (
            (moved(0.1) - moved(-0.1)) / 0.2,
            (moved(0.001) - moved(-0.001)) / 0.002,
        );
        // A place at a break changes sides when the break passes it, and no place of the primary
        // weighs more in its slope.
        let broken = truth.family() == Family::Facets || truth.margin().is_some();
        let alike = if broken { 0.25 } else { 0.02 };
        assert!(
            (coarse - fine).abs() < alike * fine.abs() + 1e-6,
            "{truth:?}: {coarse} and {fine}"
        );
    }
}

#[test]
fn a_refit_takes_another_number_of_points() {
    let truth = Curve::arc(Surface::Radial, RADIUS, deg(6.0), 0.7);
    let first = Sampled::of(&truth, deg(30.0), 120, um(1.0));
    let first = fit(&first.land(), Family::Arc, &FitSettings::default()).unwrap();
    let fewer = Sampled::of(&truth, deg(28.0), 90, um(1.0));
    same_figures(&refit(&fewer.land(), &first).unwrap(), &truth, 1e-7);
}

#[test]
fn a_warm_start_leads_to_the_same_curve() {
    let mut random = Pcg64Mcg::seed_from_u64(33);
    for (truth, end) in examples(Surface::Axial) {
        let land =
            Sampled::of(&truth, end, 200, um(1.0)).with(&noise(200, um(1.0), 0.0, &mut random));
        let cold = fit_as(&truth, &land.land()).unwrap();
        let settings = FitSettings {
            start: Some(truth),
            ..FitSettings::default()
        };
        let warm = fit(&land.land(), truth.family(), &settings).unwrap();
        let u = cold.relief_behind_margin().standard_uncertainty;
        let apart = warm.relief_behind_margin().value - cold.relief_behind_margin().value;
        assert!(
            apart.abs() < u * 0.05,
            "{truth:?}: {} of {}",
            apart.deg(),
            u.deg()
        );
    }
}
